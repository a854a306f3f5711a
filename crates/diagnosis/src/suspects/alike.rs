//! Findings: suspects with look-alikes folded, and whether the search can stop.
//!
//! Two suspects are look-alikes if every plausible severity of one has a plausible severity of the other at which no test
//! on offer shows a difference that its instrument could tell. They may need different repairs: all are listed.

use bench::{BenchError, Kind, Placement, Predict, Test};
use circuit::{Circuit, FaultId, SetUp};

use super::{Belief, Component, WeighedPair};
use crate::evidence::Sense;
use crate::predictions::{Broken, Predictions, Wanted};
use crate::severity::Scale;
use crate::{Conclusion, Findings, Suspect};

/// Suspects that share a repair and carry this together are enough.
const ENOUGH: f64 = 0.95;
/// So is a cause outside the circuit with this.
const ENOUGH_OUTSIDE: f64 = 0.8;
/// A suspect less likely than this is not compared with others, nor are more than so many.
const COMPARED: f64 = 0.003;
const MOST_COMPARED: usize = 60;
/// A difference is told if it exceeds this many standard deviations of the instrument.
const TOLD: f64 = 2.0;
/// Volts of a test light or at a monitor that make no difference.
const EYE_VOLTS: f64 = 0.7;

impl Belief<'_> {
    /// Suspects with look-alikes folded, readings judged, and the conclusion. `offer`: the tests that could still be
    /// done; with `None` nothing is folded and "cannot tell" is never concluded.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub fn findings(
        &self,
        bench: &dyn Predict,
        predictions: &mut Predictions,
        offer: Option<&[Test]>,
    ) -> Result<Findings, BenchError> {
        let groups = match offer {
            Some(tests) => self.look_alikes(bench, predictions, tests)?,
            None => self.ranked().into_iter().map(|fault| vec![fault]).collect(),
        };
        let mut suspects: Vec<Suspect> = groups.iter().map(|group| self.suspect(group)).collect();
        suspects.extend(self.pairs.iter().filter_map(|pair| self.suspected_pair(pair)));
        suspects.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        let conclusion = self.conclude(&suspects, offer.is_some());
        Ok(Findings {
            suspects,
            outside: self.outside,
            readings: self.standings.clone(),
            learnt: self.learnt.clone(),
            insides: self.insides.clone(),
            unknown_to_file: self.unlisted.clone(),
            pairs: self.n_pairs,
            pairs_left_out: self.pairs_left_out,
            conclusion,
        })
    }

    /// A suspect from its look-alikes, most likely first.
    fn suspect(&self, group: &[usize]) -> Suspect {
        let leader = group[0];
        let of = &self.weighed[leader];
        let scale = Scale::of(&self.faults[leader]);
        let severity = of
            .positions
            .map(|[low, middle, high]| (scale.severity(middle), scale.severity(low), scale.severity(high)));
        // One beside something that the file does not know is that fault all the same.
        let beside: f64 = self
            .pairs
            .iter()
            .filter(|pair| pair.second.is_none() && group.contains(&pair.first.0))
            .map(|pair| pair.chance)
            .sum();
        Suspect {
            fault: FaultId::from(leader),
            also: None,
            look_alikes: group
                .iter()
                .map(|&fault| (FaultId::from(fault), self.weighed[fault].chance))
                .collect(),
            chance: beside + group.iter().map(|&fault| self.weighed[fault].chance).sum::<f64>(),
            chance_before: group.iter().map(|&fault| self.weighed[fault].before).sum(),
            comes_and_goes: of.comes_and_goes,
            mended: of.mended,
            severity,
            bits: of.bits.clone(),
            expects: of.expects.clone(),
        }
    }

    /// Two faults at once.
    fn suspected_pair(&self, pair: &WeighedPair) -> Option<Suspect> {
        let (fault, position) = pair.first;
        let (also, _) = pair.second?;
        let severity = Scale::of(&self.faults[fault]).severity(position);
        Some(Suspect {
            fault: FaultId::from(fault),
            also: Some(FaultId::from(also)),
            look_alikes: vec![(FaultId::from(fault), pair.chance)],
            chance: pair.chance,
            chance_before: pair.before,
            comes_and_goes: 0.0,
            mended: 0.0,
            severity: self.faults[fault].severity.map(|_| (severity, severity, severity)),
            bits: pair.bits.clone(),
            expects: pair.expects.clone(),
        })
    }

    fn conclude(&self, suspects: &[Suspect], offered: bool) -> Conclusion {
        if let Some(&(key, chance)) = self.repairs().first().filter(|repair| repair.1 >= ENOUGH) {
            let is = |fault: FaultId| self.faults[fault.idx()].repair.key == key;
            let needs = |suspect: &Suspect| is(suspect.fault) || suspect.also.is_some_and(is);
            if let Some(suspect) = suspects.iter().position(needs) {
                return Conclusion::Found { suspect, chance };
            }
        }
        if self.outside >= ENOUGH_OUTSIDE {
            return Conclusion::Outside;
        }
        match suspects.first() {
            Some(first) if offered && first.chance >= ENOUGH => Conclusion::CannotTell,
            _ => Conclusion::Open,
        }
    }

    /// Groups of look-alikes, each most likely first.
    fn look_alikes(
        &self,
        bench: &dyn Predict,
        predictions: &mut Predictions,
        tests: &[Test],
    ) -> Result<Vec<Vec<usize>>, BenchError> {
        let ranked = self.ranked();
        let n_compared = ranked
            .iter()
            .take(MOST_COMPARED)
            .take_while(|&&fault| self.weighed[fault].chance >= COMPARED)
            .count();
        let compared = &ranked[..n_compared];
        let points: Vec<Vec<&Component>> = compared
            .iter()
            .map(|&fault| {
                // A fault that comes and goes is compared as it is when it is there.
                let there = |point: &&Component| point.fault == Some(fault) && point.wanted.broken != Broken::Nothing;
                self.components.iter().filter(there).collect()
            })
            .collect();
        let wanted: Vec<Wanted> = points.iter().flatten().map(|point| point.wanted).collect();
        let columns = columns(bench, self, predictions, tests, &wanted)?;
        let shown: Vec<Vec<Vec<Shows>>> = points
            .iter()
            .map(|points| {
                points
                    .iter()
                    .map(|point| shows(self.circuit, predictions, &columns, point))
                    .collect()
            })
            .collect();
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for at in 0..n_compared {
            let alike = |&leader: &usize| covers(&shown[leader], &shown[at]) && covers(&shown[at], &shown[leader]);
            match groups.iter_mut().find(|group| alike(&group[0])) {
                Some(group) => group.push(at),
                None => groups.push(vec![at]),
            }
        }
        let mut groups: Vec<Vec<usize>> = groups
            .into_iter()
            .map(|group| group.into_iter().map(|at| compared[at]).collect())
            .collect();
        groups.extend(ranked[n_compared..].iter().map(|&fault| vec![fault]));
        Ok(groups)
    }
}

/// A test's row, and how it is judged.
struct Column<'t> {
    placement: &'t Placement,
    row: usize,
    sense: Sense,
}

fn columns<'t>(
    bench: &dyn Predict,
    belief: &Belief<'_>,
    predictions: &mut Predictions,
    tests: &'t [Test],
    wanted: &[Wanted],
) -> Result<Vec<Column<'t>>, BenchError> {
    let mut by_set_up: Vec<(&SetUp, Vec<&Placement>)> = Vec::new();
    for test in tests {
        match by_set_up.iter_mut().find(|group| group.0 == &test.set_up) {
            Some(group) => group.1.push(&test.placement),
            None => by_set_up.push((&test.set_up, vec![&test.placement])),
        }
    }
    let mut columns = Vec::with_capacity(tests.len());
    for (set_up, placements) in by_set_up {
        let asked: Vec<Placement> = placements.iter().map(|&placement| placement.clone()).collect();
        let rows = predictions.fill(bench, &belief.possible, set_up, &asked, wanted)?;
        columns.extend(placements.into_iter().zip(rows).map(|(placement, row)| Column {
            placement,
            row,
            sense: Sense::of(belief.circuit, placement),
        }));
    }
    Ok(columns)
}

/// What a test shows under a point: the kind, the value and how far another value may be without being told apart.
#[derive(Clone, Copy)]
struct Shows {
    kind: Kind,
    value: f64,
    room: f64,
}

fn shows(circuit: &Circuit, predictions: &Predictions, columns: &[Column<'_>], point: &Component) -> Vec<Shows> {
    columns
        .iter()
        .map(|column| {
            let cell = predictions.cell(column.row, point.wanted);
            let by_eye = matches!(column.sense, Sense::Light | Sense::Beep | Sense::Code(..));
            let read = if by_eye {
                EYE_VOLTS
            } else {
                TOLD * bench::accuracy(circuit, column.placement, cell.value, None).sd
            };
            let spread = cell.slope.unwrap_or(0.0).abs() * point.spread;
            Shows {
                kind: cell.kind,
                value: cell.value,
                room: read + spread,
            }
        })
        .collect()
}

/// Whether each point of `these` has one among `those` that shows the same everywhere.
fn covers(those: &[Vec<Shows>], these: &[Vec<Shows>]) -> bool {
    let same = |a: &Shows, b: &Shows| {
        let near = (a.value - b.value).abs() <= a.room + b.room;
        a.kind == b.kind && (a.kind != Kind::Number || near)
    };
    these
        .iter()
        .all(|this| those.iter().any(|that| this.iter().zip(that).all(|(a, b)| same(a, b))))
}
