//! Every possible cause weighed by the readings.
//!
//! One fault at a time, each over its severities and the ways it may have been there, and a share for a cause outside this
//! circuit. The outside is the healthy circuit of which something unforeseen disturbs a share of the tests, that share being
//! unknown.

mod alike;
#[cfg(test)]
mod calibration;
mod causes;
mod centre;
mod component;
mod findings;
mod insides;
mod integral;
#[cfg(test)]
mod meanwhile;
mod outside;
mod pairs;
mod patch;
mod provoked;
mod setting;
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
use crate::predictions::{Possible, Predictions, Wanted};
use crate::severity::Scale;
use crate::{Case, ReadingStanding, prior};
use causes::Causes;
#[cfg(test)]
pub(crate) use component::Known;
pub(crate) use component::{Component, Foreseen};
pub use outside::DISTURBED;
use outside::Outside;
use pairs::Pair;
use setting::Setting;

/// A connection that the file does not know is told of if it has this chance.
const LEAST_UNLISTED: f64 = 0.01;

/// All causes weighed, each over its severities, after the readings.
#[derive(Debug)]
pub struct Belief<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) faults: &'a [Fault],
    /// What the points of the belief are made of.
    pub(crate) possible: Possible<'a>,
    /// The tests done.
    pub(crate) done: Vec<Test>,
    /// By fault.
    pub(crate) weighed: Vec<Weighed>,
    /// Two faults at once, likeliest first; none where single ones explain the readings.
    pub(crate) pairs: Vec<WeighedPair>,
    /// Most that the pairs left out may weigh together, and how many pairs there are.
    pub(crate) pairs_left_out: f64,
    pub(crate) n_pairs: usize,
    /// Connections that the circuit file does not know, alone or beside a fault, likeliest first.
    pub(crate) unlisted: Vec<(Fault, f64)>,
    pub(crate) outside: f64,
    pub(crate) standings: Vec<ReadingStanding>,
    pub(crate) learnt: Vec<(ParamId, f64, f64)>,
    /// By unknown of the circuit and alternative: its chance.
    pub(crate) insides: Vec<Vec<f64>>,
    pub(crate) components: Vec<Component>,
}

/// Two faults at once, weighed.
#[derive(Clone, Debug)]
pub(crate) struct WeighedPair {
    /// A fault of the list and the position of its most plausible severity, and the other; `None`: a connection that the
    /// circuit file does not know.
    pub(crate) first: (usize, f64),
    pub(crate) second: Option<(usize, f64)>,
    pub(crate) before: f64,
    pub(crate) chance: f64,
    /// By reading as given.
    pub(crate) bits: Vec<f64>,
    /// By reading as given.
    pub(crate) expects: Vec<Option<(f64, f64)>>,
}

/// A fault weighed.
#[derive(Clone, Debug)]
pub(crate) struct Weighed {
    pub(crate) before: f64,
    pub(crate) chance: f64,
    /// Share of that in which it comes and goes.
    pub(crate) comes_and_goes: f64,
    /// Share of that in which what was done has cured it.
    pub(crate) mended: f64,
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
    weigh_with(bench, circuit, faults, case, predictions, true)
}

/// As [`weigh`]; without `further` only single faults of the list that stay, and what is outside.
pub(crate) fn weigh_with<'a>(
    bench: &dyn Predict,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    case: &Case<'_>,
    predictions: &mut Predictions,
    further: bool,
) -> Result<Belief<'a>, BenchError> {
    let insides = Insides::of(circuit);
    let before = prior::chances(circuit, faults, case.intake);
    let ends = all_ends(faults, insides.chances.len() as u16);
    let as_filed = predictions.possible(circuit, faults, insides.changes.as_slice().into());
    let mut possible = as_filed.clone();
    let mut recentred = 0;
    loop {
        let mut weighing = Weighing::new(bench, circuit, &possible, case, predictions, &ends)?;
        let outside = Outside::new(
            weighing.ground(),
            &insides.chances,
            ways::seen(None, case),
            ways::share_outside(case.intake),
        );
        let mut causes = Causes::new(&mut weighing, &before, &insides.chances, &outside)?;
        let centre = centre::learnt(&weighing, &causes, &outside);
        if recentred < centre::TIMES && *centre != *possible.centre {
            possible = as_filed.around(centre);
            recentred += 1;
            continue;
        }
        if further && causes.may_come_and_go(&weighing, &outside) {
            causes.let_come_and_go(&mut weighing, &before, &insides.chances, &outside)?;
        }
        if further && causes.explains_badly(&weighing, &outside) {
            causes.look_further(&mut weighing, &before, &insides.chances, &outside)?;
        }
        let belief = settle(&weighing, circuit, &possible, &before, &causes, &outside);
        return Ok(Belief {
            insides: insides.learnt(circuit, &causes.of_insides(insides.chances.len(), &outside)),
            ..belief
        });
    }
}

/// Everything that is told of the causes, from their integrals.
fn settle<'a>(
    weighing: &Weighing<'_, '_>,
    circuit: &'a Circuit,
    possible: &Possible<'a>,
    before: &[f64],
    causes: &Causes,
    outside: &Outside,
) -> Belief<'a> {
    let ground = weighing.ground();
    let faults = possible.listed;
    let Case { readings, twin, .. } = *weighing.case;
    let n_readings = readings.len() + twin.len();
    let chances = causes.chances(outside);
    let classes = Classes::of(faults);
    let is_listed = |fault: usize| fault < faults.len();

    let mut components: Vec<Component> = causes
        .ways
        .par_iter()
        .zip(&causes.integrals)
        .zip(&chances.ways)
        .filter(|(_, chance)| **chance >= component::LEAST)
        .flat_map_iter(|((way, integral), chance)| {
            component::points(ground, way, integral, *chance, classes.of_fault(way.fault))
        })
        .map(|point| Component {
            fault: point.fault.filter(|fault| is_listed(*fault)),
            ..point
        })
        .collect();
    let listed_of = |pair: &Pair| pair.ways.map(|way| Some(way.fault).filter(|fault| is_listed(*fault)));
    components.extend(causes.pairs.iter().zip(&chances.pairs).filter_map(|(pair, &chance)| {
        let faults = listed_of(pair);
        let fault = faults[0].or(faults[1])?;
        if chance < component::LEAST {
            return None;
        }
        component::of_pair(ground, pair, fault, chance, classes.of_pair(faults))
    }));
    let mut room = <(Field, Sums)>::default();
    let n_insides = outside.shares.iter().map(|one| one.inside + 1).max().unwrap_or(1);
    for inside in 0..n_insides {
        let (elsewhere, share) = outside.disturbed(inside);
        let chance = share * chances.outside;
        if chance < component::LEAST && inside > 0 {
            continue;
        }
        let setting = Setting::disturbed(ground.healthy(inside), elsewhere);
        components.push(Component {
            class: Classes::OUTSIDE,
            fault: None,
            wanted: Wanted::healthy(inside),
            chance,
            spread: 0.0,
            second_spread: 0.0,
            elsewhere,
            coming: None,
            mended: false,
            known: setting.known(ground, &mut room),
        });
    }

    let by_fault = by_fault(ground.faults.len(), &causes.ways);
    let told = findings::Told::new(ground, causes, &by_fault, outside);
    let mut weighed: Vec<Weighed> = by_fault
        .par_iter()
        .enumerate()
        .map(|(fault, ways)| {
            let chance = |way: &&usize| chances.ways[**way];
            let best = ways.iter().max_by(|a, b| chance(a).total_cmp(&chance(b)));
            let of_best = best.map(|&way| (&causes.ways[way], &causes.integrals[way]));
            let below = of_best.map_or_else(Vec::new, |(_, integral)| findings::below(integral));
            let all: f64 = ways.iter().map(|way| chances.ways[*way]).sum();
            let over = ways.iter().filter(|way| causes.ways[**way].course.is_over());
            let coming = ways.iter().filter(|way| causes.ways[**way].course.comes_and_goes);
            Weighed {
                before: before.get(fault).copied().unwrap_or(0.0),
                chance: all,
                comes_and_goes: coming.map(|way| chances.ways[*way]).sum::<f64>() / all.max(f64::MIN_POSITIVE),
                mended: over.map(|way| chances.ways[*way]).sum::<f64>() / all.max(f64::MIN_POSITIVE),
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
    let mut unlisted: Vec<(Fault, f64)> = ground.faults[faults.len()..]
        .iter()
        .zip(&weighed[faults.len()..])
        .map(|(fault, weighed)| ((*fault).clone(), weighed.chance))
        .collect();
    weighed.truncate(faults.len());
    let first_pair = by_fault.len() + 1;
    let mut pairs: Vec<WeighedPair> = Vec::new();
    for (at, (pair, &chance)) in causes.pairs.iter().zip(&chances.pairs).enumerate() {
        for which in pair
            .ways
            .map(|way| way.fault)
            .into_iter()
            .filter(|fault| !is_listed(*fault))
        {
            unlisted[which - faults.len()].1 += chance;
        }
        let listed = listed_of(pair);
        let Some((weighed, leaf)) = pair.best() else { continue };
        let positions = weighed.positions(leaf);
        let (first, second) = match listed {
            [Some(one), other] => ((one, positions[0]), other.map(|other| (other, positions[1]))),
            [None, Some(other)] => ((other, positions[1]), None),
            [None, None] => continue,
        };
        pairs.push(WeighedPair {
            first,
            second,
            before: pair.log_before.exp(),
            chance,
            bits: findings::as_given(ground, n_readings, 0.0, |k| told.bits(first_pair + at, k)),
            expects: findings::expects_of_pair(ground, pair, n_readings),
        });
    }
    unlisted.retain(|one| one.1 >= LEAST_UNLISTED);
    unlisted.sort_by(|a, b| b.1.total_cmp(&a.1));
    pairs.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let of_unlisted: f64 = causes
        .ways
        .iter()
        .zip(&chances.ways)
        .filter(|(way, _)| !is_listed(way.fault))
        .map(|(_, chance)| chance)
        .sum();
    let top = findings::Top::new(ground, causes, &chances, outside);
    let inside = causes.likeliest_inside(usize::from(n_insides), outside);
    let mut standings = findings::standings(ground, inside, n_readings, &told, &top);
    standings.truncate(readings.len());
    for (standing, reading) in standings.iter_mut().zip(readings) {
        if !crate::evidence::is_possible(circuit, reading) {
            (standing.possible, standing.wrong) = (false, 1.0);
        }
    }
    Belief {
        circuit,
        faults,
        possible: possible.clone(),
        done: readings.iter().map(|reading| reading.test.clone()).collect(),
        weighed,
        pairs,
        pairs_left_out: (causes.left_out.0 - causes.total_log(outside)).exp(),
        n_pairs: causes.left_out.1,
        unlisted,
        outside: chances.outside + of_unlisted,
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

/// Classes of repair: causes of one class are repaired by the same work.
struct Classes {
    of_faults: Vec<usize>,
    n: usize,
}

impl Classes {
    /// The class of what is outside the circuit.
    const OUTSIDE: usize = 0;

    fn of(faults: &[Fault]) -> Self {
        let mut by_key: BTreeMap<&str, usize> = BTreeMap::new();
        let of_faults = faults
            .iter()
            .map(|fault| {
                let next = by_key.len() + 1;
                *by_key.entry(fault.repair.key.as_str()).or_insert(next)
            })
            .collect();
        let n = by_key.len() + 1;
        Self { of_faults, n }
    }

    fn of_fault(&self, fault: usize) -> usize {
        self.of_faults.get(fault).copied().unwrap_or(Self::OUTSIDE)
    }

    /// Two faults need both works, if these differ; one of the list beside one that is not needs the first.
    fn of_pair(&self, faults: [Option<usize>; 2]) -> usize {
        match faults.map(|fault| fault.map(|fault| self.of_fault(fault))) {
            [Some(a), Some(b)] if a != b => self.n + a.min(b) * self.n + a.max(b),
            [Some(a), _] | [None, Some(a)] => a,
            [None, None] => Self::OUTSIDE,
        }
    }
}

impl<'a> Belief<'a> {
    /// Chance that a fault is the cause, alone or beside another one, 0 to 1; 0 for one that is not in the list.
    pub fn chance(&self, fault: FaultId) -> f64 {
        let is_it = |pair: &&WeighedPair| {
            pair.first.0 == fault.idx() || pair.second.is_some_and(|second| second.0 == fault.idx())
        };
        let pairs: f64 = self.pairs.iter().filter(is_it).map(|pair| pair.chance).sum();
        self.weighed.get(fault.idx()).map_or(0.0, |weighed| weighed.chance) + pairs
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

    /// Chance that a fault is the cause and still there, whatever was done; 0 for one that is not in the list.
    pub fn still_there(&self, fault: FaultId) -> f64 {
        let of = self.weighed.get(fault.idx());
        (self.chance(fault) - of.map_or(0.0, |weighed| weighed.chance * weighed.mended)).max(0.0)
    }

    /// Chance that what was done has cured the vehicle.
    pub fn mended(&self) -> f64 {
        self.weighed.iter().map(|one| one.chance * one.mended).sum()
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
        let of = |(fault, position): (usize, f64)| {
            let fault = &self.faults[fault];
            (fault, Scale::of(fault).severity(position))
        };
        alive.extend(self.pairs.iter().filter(|pair| pair.chance >= least).map(|pair| Alive {
            fault: FaultId::from(pair.first.0),
            severity: of(pair.first).1,
            chance: pair.chance,
            share: 1.0,
            hypothesis: Hypothesis {
                faults: std::iter::once(pair.first).chain(pair.second).map(of).collect(),
            },
        }));
        alive
    }

    /// Chance that each repair is needed, alone or beside another one: (key, chance), most likely first.
    pub fn repairs(&self) -> Vec<(&'a str, f64)> {
        let mut sums: BTreeMap<&str, f64> = BTreeMap::new();
        for (keys, chance) in self.cures() {
            for key in keys.into_iter().flatten() {
                *sums.entry(key).or_default() += chance;
            }
        }
        let mut repairs: Vec<_> = sums.into_iter().collect();
        repairs.sort_by(|a, b| b.1.total_cmp(&a.1));
        repairs
    }

    /// What may be needed, with its chance: a repair, two different ones, or none of the list for a cause outside.
    pub(crate) fn cures(&self) -> BTreeMap<[Option<&'a str>; 2], f64> {
        let mut cures: BTreeMap<[Option<&str>; 2], f64> = BTreeMap::new();
        let key = |fault: usize| self.faults.get(fault).map(|fault| fault.repair.key.as_str());
        for (fault, weighed) in self.weighed.iter().enumerate() {
            *cures.entry([key(fault), None]).or_default() += weighed.chance;
        }
        for pair in &self.pairs {
            let (one, other) = (key(pair.first.0), pair.second.and_then(|second| key(second.0)));
            let both = match other.filter(|other| Some(*other) != one) {
                None => [one, None],
                other => [one.max(other), one.min(other)],
            };
            *cures.entry(both).or_default() += pair.chance;
        }
        *cures.entry([None, None]).or_default() += self.outside;
        cures
    }

    /// Uncertainty left over causes that need different repairs, bits.
    pub fn bits_left(&self) -> f64 {
        self.cures().into_values().map(surprise).sum()
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
