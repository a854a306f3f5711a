//! Every possible cause weighed by the readings.
//!
//! One fault at a time, each over its severities and the ways it may have been there, and a share for a cause outside this
//! circuit. The outside is the healthy circuit of which something unforeseen disturbs a share of the tests, that share being
//! unknown.

mod alike;
#[cfg(test)]
mod calibration;
mod component;
mod findings;
mod insides;
mod integral;
#[cfg(test)]
mod meanwhile;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod vehicles;
mod ways;
mod weighing;

use std::collections::BTreeMap;

use bench::{BenchError, Hypothesis, Predict, Test};
use circuit::{Circuit, Fault, FaultId, ParamId};
use rayon::prelude::*;

use self::insides::Insides;
use self::ways::Way;
use self::weighing::Weighing;
use crate::ahead::all_ends;
use crate::likelihood::Sums;
use crate::model::Field;
use crate::predictions::{Predictions, Wanted};
use crate::severity::Scale;
use crate::{Case, ReadingStanding, prior};
#[cfg(test)]
pub(crate) use component::Known;
pub(crate) use component::{Component, Foreseen};
use integral::{Ground, Integral, log_sum};

/// Share of the tests that a cause outside the circuit may disturb, each with its chance. Common practice, no source.
pub const DISTURBED: [(f64, f64); 4] = [(0.03, 0.4), (0.15, 0.3), (0.4, 0.2), (0.8, 0.1)];

/// All causes weighed, each over its severities, after the readings.
#[derive(Debug)]
pub struct Belief<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) faults: &'a [Fault],
    /// The tests done.
    pub(crate) done: Vec<Test>,
    /// By fault.
    pub(crate) weighed: Vec<Weighed>,
    pub(crate) outside: f64,
    pub(crate) standings: Vec<ReadingStanding>,
    pub(crate) learnt: Vec<(ParamId, f64, f64)>,
    /// By unknown of the circuit and alternative: its chance.
    pub(crate) insides: Vec<Vec<f64>>,
    pub(crate) components: Vec<Component>,
}

/// A fault weighed.
#[derive(Clone, Debug)]
pub(crate) struct Weighed {
    pub(crate) before: f64,
    pub(crate) chance: f64,
    /// Share of that in which it comes and goes.
    pub(crate) comes_and_goes: f64,
    /// Position of its severity and the share of its chance below that, rising; empty without severity.
    pub(crate) below: Vec<(f64, f64)>,
    /// Positions of its severity below which a tenth, half and nine tenths of its chance lie; `None` without severity.
    pub(crate) positions: Option<[f64; 3]>,
    /// By reading as given.
    pub(crate) bits: Vec<f64>,
    /// By reading as given.
    pub(crate) expects: Vec<Option<(f64, f64)>>,
}

/// A cause still possible, at one of its plausible severities.
#[derive(Clone, Debug)]
pub struct Alive<'a> {
    /// The fault.
    pub fault: FaultId,
    /// Its severity here, in its unit (0 where it has none).
    pub severity: f64,
    /// Chance of the fault, all severities together.
    pub chance: f64,
    /// Share of this severity in that chance, roughly; the shares of a fault sum to 1.
    pub share: f64,
    /// As the bench wants it.
    pub hypothesis: Hypothesis<'a>,
}

/// Weighs all causes. `predictions` is kept between calls, so that a reading that is new costs one row of answers.
///
/// Deterministic: equal inputs give equal bits on any number of threads. The order of the readings counts only for how far
/// the battery may have drifted between them, for what comes and goes, and for what was done meanwhile.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn weigh<'a>(
    bench: &dyn Predict,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    case: &Case<'_>,
    predictions: &mut Predictions,
) -> Result<Belief<'a>, BenchError> {
    let insides = Insides::of(circuit);
    predictions.know_insides(insides.changes.clone());
    let before = prior::chances(circuit, faults, case.intake);
    let ends = all_ends(faults, insides.chances.len() as u16);
    let mut weighing = Weighing::new(bench, circuit, faults, case, predictions, ends)?;
    let outside = Outside::new(weighing.ground(), &insides.chances, ways::seen(None, case));
    let rest = outside.log + prior::OUTSIDE.ln();

    let log_before = |ways: &[Way], share: &dyn Fn(&Fault) -> f64| -> Vec<f64> {
        let each = ways.iter();
        each.map(|way| (before[way.fault] * share(&faults[way.fault])).ln() + way.log_share)
            .collect()
    };
    let of_insides = insides.chances.as_slice();
    let staying = ways::ways(circuit, faults, case, of_insides, false);
    let mut weighed = Causes {
        log_before: log_before(&staying, &|_| 1.0),
        ways: staying,
        integrals: Vec::new(),
    };
    weighed.integrals = weighing.integrals(&weighed.ways, &weighed.log_before, rest)?;
    if weighed.may_come_and_go(&weighing, &outside) {
        let comes = |fault: &Fault| ways::share_that_comes(fault, case.intake);
        weighed.log_before = log_before(&weighed.ways, &|fault| 1.0 - comes(fault));
        let coming = ways::ways(circuit, faults, case, of_insides, true);
        let more = log_before(&coming, &comes);
        let integrals = weighing.integrals(&coming, &more, weighed.total_log(&outside))?;
        weighed.ways.extend(coming);
        weighed.log_before.extend(more);
        weighed.integrals.extend(integrals);
    }
    let belief = settle(&weighing, circuit, faults, &before, &weighed, &outside);
    Ok(Belief {
        insides: insides.learnt(circuit, &weighed.of_insides(insides.chances.len(), &outside)),
        ..belief
    })
}

/// Everything weighed but what is outside.
struct Causes {
    ways: Vec<Way>,
    /// Logarithm of the chance of each before any reading.
    log_before: Vec<f64>,
    integrals: Vec<Integral>,
}

/// If a cause outside is at least this likely, or the readings of the likeliest way are wrong with at least this chance, what
/// was weighed first does not explain them.
const BADLY_OUTSIDE: f64 = 0.12;
const BADLY_WRONG: f64 = 0.25;

impl Causes {
    fn total_log(&self, outside: &Outside) -> f64 {
        let each = self.integrals.iter().zip(&self.log_before);
        let weights = each.map(|(integral, before)| integral.log + before);
        log_sum(weights.chain([outside.log + prior::OUTSIDE.ln()]))
    }

    fn chances(&self, outside: &Outside) -> Vec<f64> {
        let total = self.total_log(outside);
        let each = self.integrals.iter().zip(&self.log_before);
        each.map(|(integral, before)| (integral.log + before - total).exp())
            .collect()
    }

    /// Chance of each of so many insides of the modules.
    fn of_insides(&self, n: usize, outside: &Outside) -> Vec<f64> {
        let mut sums = vec![0.0; n];
        for (way, chance) in self.ways.iter().zip(self.chances(outside)) {
            sums[usize::from(way.inside)] += chance;
        }
        let total = self.total_log(outside);
        for one in &outside.shares {
            sums[usize::from(one.inside)] += (one.log + prior::OUTSIDE.ln() - total).exp();
        }
        sums
    }

    /// Whether faults that come and go have to be looked at: somebody said so, tried to make one show, or what stays
    /// explains the readings badly. Else a fault that comes and goes shows as one that stays.
    fn may_come_and_go(&self, weighing: &Weighing<'_, '_>, outside: &Outside) -> bool {
        let provoked = weighing.body.evidence.iter().any(|one| one.at.provoked.is_some());
        let said = weighing.case.intake.comes_and_goes == Some(true);
        !weighing.body.evidence.is_empty() && (provoked || said || self.explains_badly(weighing, outside))
    }

    /// Whether what was weighed so far needs wrong readings, or a cause outside the circuit.
    fn explains_badly(&self, weighing: &Weighing<'_, '_>, outside: &Outside) -> bool {
        let chances = self.chances(outside);
        let inside: f64 = chances.iter().sum();
        if 1.0 - inside > BADLY_OUTSIDE {
            return true;
        }
        let best = chances.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        let Some((best, _)) = best else { return true };
        findings::wrong_at_best(weighing.ground(), &self.ways[best], &self.integrals[best]) > BADLY_WRONG
    }
}

/// A cause outside the circuit, weighed.
struct Outside {
    log: f64,
    /// By share of the tests disturbed and what is inside the modules.
    shares: Vec<Disturbed>,
}

/// The sound circuit with a share of its tests disturbed.
struct Disturbed {
    share: f64,
    inside: u16,
    /// Logarithm of prior times likelihood, all together and by reading.
    log: f64,
    logs: Vec<f64>,
}

impl Outside {
    /// `seen`: logarithm of what close looks say of it.
    fn new(ground: Ground<'_>, insides: &[f64], seen: f64) -> Self {
        let mut shares = Vec::with_capacity(insides.len() * DISTURBED.len());
        let mut room = <(Field, Sums)>::default();
        for (inside, of_inside) in insides.iter().enumerate() {
            let span = ground.healthy(inside as u16);
            ground.params.expect(ground.body, &span, 0.0, 0.0, &mut room.0);
            for &(share, chance) in &DISTURBED {
                let log = room.1.weigh(ground.body, &room.0.expected, ground.order, share, false);
                shares.push(Disturbed {
                    share,
                    inside: inside as u16,
                    log: of_inside.ln() + chance.ln() + seen + log,
                    logs: room.1.steps.iter().map(|step| step.log).collect(),
                });
            }
        }
        Self {
            log: log_sum(shares.iter().map(|share| share.log)),
            shares,
        }
    }

    /// Expected share of the tests disturbed, the modules being so inside, and the chance of that.
    fn disturbed(&self, inside: u16) -> (f64, f64) {
        let here = self.shares.iter().filter(|one| one.inside == inside);
        let (mut sum, mut chance) = (0.0, 0.0);
        for one in here {
            let weight = (one.log - self.log).exp();
            sum += one.share * weight;
            chance += weight;
        }
        (sum / chance.max(f64::MIN_POSITIVE), chance)
    }
}

/// Everything that is told of the causes, from their integrals.
fn settle<'a>(
    weighing: &Weighing<'_, '_>,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    before: &[f64],
    causes: &Causes,
    outside: &Outside,
) -> Belief<'a> {
    let ground = weighing.ground();
    let Case { readings, twin, .. } = *weighing.case;
    let n_readings = readings.len() + twin.len();
    let of_ways = causes.chances(outside);
    let outside_chance = (outside.log + prior::OUTSIDE.ln() - causes.total_log(outside)).exp();
    let (class_of, n_classes) = classes(faults);

    let mut components: Vec<Component> = causes
        .ways
        .par_iter()
        .zip(&causes.integrals)
        .zip(&of_ways)
        .filter(|(_, chance)| **chance >= component::LEAST)
        .flat_map_iter(|((way, integral), chance)| {
            component::points(ground, way, integral, *chance, class_of[way.fault])
        })
        .collect();
    let mut room = <(Field, Sums)>::default();
    let n_insides = outside.shares.iter().map(|one| one.inside + 1).max().unwrap_or(1);
    for inside in 0..n_insides {
        let (elsewhere, chance) = outside.disturbed(inside);
        let rare = chance * outside_chance < component::LEAST;
        if rare && inside > 0 {
            continue;
        }
        components.push(Component {
            class: n_classes - 1,
            fault: None,
            wanted: Wanted::healthy(inside),
            chance: chance * outside_chance,
            spread: 0.0,
            elsewhere,
            known: component::known_between(ground, &ground.healthy(inside), 0.0, 0.0, elsewhere, &mut room),
        });
    }

    let by_fault = by_fault(faults.len(), &causes.ways);
    let told = findings::Told::new(ground, causes, &by_fault, outside);
    let weighed = by_fault
        .par_iter()
        .enumerate()
        .map(|(fault, ways)| {
            let chance = |way: &&usize| of_ways[**way];
            let best = ways.iter().max_by(|a, b| chance(a).total_cmp(&chance(b)));
            let of_best = best.map(|&way| (&causes.ways[way], &causes.integrals[way]));
            let below = of_best.map_or_else(Vec::new, |(_, integral)| findings::below(integral));
            let all: f64 = ways.iter().map(|way| of_ways[*way]).sum();
            let coming = ways.iter().filter(|way| causes.ways[**way].course.comes_and_goes);
            Weighed {
                before: before[fault],
                chance: all,
                comes_and_goes: coming.map(|way| of_ways[*way]).sum::<f64>() / all.max(f64::MIN_POSITIVE),
                positions: findings::positions(&below),
                below,
                bits: findings::as_given(ground, n_readings, 0.0, |k| told.bits(fault, k)),
                expects: of_best.map_or_else(
                    || vec![None; n_readings],
                    |(way, integral)| findings::expects(ground, way, integral, n_readings),
                ),
            }
        })
        .collect();
    let top = findings::Top::new(ground, causes, &of_ways, outside, outside_chance);
    let mut standings = findings::standings(ground, n_readings, &told, &top);
    standings.truncate(readings.len());
    Belief {
        circuit,
        faults,
        done: readings.iter().map(|reading| reading.test.clone()).collect(),
        weighed,
        outside: outside_chance,
        standings,
        learnt: top.learnt(ground),
        insides: Vec::new(),
        components,
    }
}

/// The ways of each fault.
fn by_fault(n: usize, ways: &[Way]) -> Vec<Vec<usize>> {
    let mut by_fault = vec![Vec::new(); n];
    for (at, way) in ways.iter().enumerate() {
        by_fault[way.fault].push(at);
    }
    by_fault
}

/// Class of repair of each fault, and how many there are with the outside as the last.
fn classes(faults: &[Fault]) -> (Vec<usize>, usize) {
    let mut by_key: BTreeMap<&str, usize> = BTreeMap::new();
    let of = faults
        .iter()
        .map(|fault| {
            let next = by_key.len();
            *by_key.entry(fault.repair.key.as_str()).or_insert(next)
        })
        .collect();
    (of, by_key.len() + 1)
}

impl<'a> Belief<'a> {
    /// Chance of a fault, 0 to 1; 0 for one that is not in the list.
    pub fn chance(&self, fault: FaultId) -> f64 {
        self.weighed.get(fault.idx()).map_or(0.0, |weighed| weighed.chance)
    }

    /// Share of a fault's own chance that lies at severities below this one, in its unit; `None` for a fault without
    /// severity or none of the list.
    pub fn below(&self, fault: FaultId, severity: f64) -> Option<f64> {
        let position = Scale::of(self.faults.get(fault.idx())?).position(severity)?;
        let curve = &self.weighed.get(fault.idx())?.below;
        let after = curve.iter().position(|point| point.0 >= position);
        let Some(after) = after else {
            return curve.last().map(|_| 1.0);
        };
        let (to, share) = curve[after];
        let (from, before) = after.checked_sub(1).map_or((0.0, 0.0), |at| curve[at]);
        Some(before + (share - before) * (position - from) / (to - from).max(f64::MIN_POSITIVE))
    }

    /// Share of a fault's chance in which it comes and goes.
    pub fn comes_and_goes(&self, fault: FaultId) -> f64 {
        self.weighed
            .get(fault.idx())
            .map_or(0.0, |weighed| weighed.comes_and_goes)
    }

    /// Chance that the cause is not in this circuit.
    pub fn outside(&self) -> f64 {
        self.outside
    }

    /// The possible faults.
    pub fn faults(&self) -> &'a [Fault] {
        self.faults
    }

    /// The faults with a chance of at least `least`, most likely first, each at the severities still plausible (a tenth,
    /// half and nine tenths of its chance lie below them): one entry a severity.
    pub fn alive(&self, least: f64) -> Vec<Alive<'a>> {
        let mut alive = Vec::new();
        for fault in self
            .ranked()
            .into_iter()
            .take_while(|&fault| self.weighed[fault].chance >= least)
        {
            let Weighed { chance, positions, .. } = self.weighed[fault];
            let scale = Scale::of(&self.faults[fault]);
            let severities: Vec<(f64, f64)> = match positions {
                Some([low, middle, high]) if high - low > 0.5 => {
                    vec![
                        (scale.severity(low), 0.3),
                        (scale.severity(middle), 0.4),
                        (scale.severity(high), 0.3),
                    ]
                }
                Some([_, middle, _]) => vec![(scale.severity(middle), 1.0)],
                None => vec![(scale.severity(0.0), 1.0)],
            };
            alive.extend(severities.into_iter().map(|(severity, share)| Alive {
                fault: FaultId::from(fault),
                severity,
                chance,
                share,
                hypothesis: Hypothesis {
                    faults: vec![(&self.faults[fault], severity)],
                },
            }));
        }
        alive
    }

    /// Chance of each repair: (key, chance), most likely first.
    pub fn repairs(&self) -> Vec<(&'a str, f64)> {
        let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
        for (fault, weighed) in self.faults.iter().zip(&self.weighed) {
            *sums.entry(fault.repair.key.as_str()).or_default() += weighed.chance;
        }
        let mut repairs: Vec<_> = sums.into_iter().collect();
        repairs.sort_by(|a, b| b.1.total_cmp(&a.1));
        repairs
    }

    /// Uncertainty left over causes that need different repairs, bits.
    pub fn bits_left(&self) -> f64 {
        let repairs = self.repairs();
        repairs
            .iter()
            .map(|repair| repair.1)
            .chain([self.outside])
            .map(surprise)
            .sum()
    }

    /// Fault positions, most likely first; ties in the order of the list.
    pub(crate) fn ranked(&self) -> Vec<usize> {
        let mut ranked: Vec<usize> = (0..self.weighed.len()).collect();
        ranked.sort_by(|&a, &b| self.weighed[b].chance.total_cmp(&self.weighed[a].chance));
        ranked
    }
}

/// −p log₂ p.
pub(crate) fn surprise(chance: f64) -> f64 {
    if chance > 0.0 { -chance * chance.log2() } else { 0.0 }
}
