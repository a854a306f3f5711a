//! Every possible cause weighed by the readings.
//!
//! One fault at a time, each over its severities, and a share for a cause outside this circuit. The outside is the
//! healthy circuit of which something unforeseen disturbs a share of the tests, that share being unknown. Limits: single
//! faults; faults that come and go are judged as if they stayed through the readings.

mod alike;
#[cfg(test)]
mod calibration;
mod component;
mod findings;
mod integral;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod vehicles;

use std::collections::BTreeMap;

use bench::{BenchError, Hypothesis, Predict, Reading, Test};
use circuit::{Circuit, Fault, FaultId, ParamId};
use rayon::prelude::*;

use crate::ahead::all_ends;
use crate::evidence::Body;
use crate::likelihood::Sums;
use crate::model::{Field, Params};
use crate::predictions::{Predictions, Wanted};
use crate::severity::Scale;
use crate::{Case, ReadingStanding, prior};
#[cfg(test)]
pub(crate) use component::Known;
pub(crate) use component::{Component, Foreseen};
use integral::{Ground, Integral, log_sum};

/// Share of the tests that a cause outside the circuit may disturb, each with its chance. Common practice, no source.
pub const DISTURBED: [(f64, f64); 4] = [(0.03, 0.4), (0.15, 0.3), (0.4, 0.2), (0.8, 0.1)];

/// Times that more severities are solved where a reading is sharper than the answers.
const ROUNDS: usize = 5;

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
    pub(crate) components: Vec<Component>,
}

/// A fault weighed.
#[derive(Clone, Debug)]
pub(crate) struct Weighed {
    pub(crate) before: f64,
    pub(crate) chance: f64,
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
/// the battery may have drifted between them.
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
    let Case { intake, readings, .. } = *case;
    let scales: Vec<Scale> = faults.iter().map(Scale::of).collect();
    let mut wanted = all_ends(faults);
    let body = Body::new(bench, circuit, faults, readings, predictions, &wanted)?;
    let before = prior::chances(circuit, faults, intake);
    let order: Vec<usize> = (0..body.len()).collect();
    let mut params = Params::new(circuit, &body, predictions, &wanted);
    let ground = Ground {
        body: &body,
        params: &params,
        predictions,
        order: &order,
    };
    let outside = Outside::new(ground);
    let mut integrals: Vec<Integral> = scales
        .par_iter()
        .enumerate()
        .map(|(fault, scale)| Integral::coarse(ground, fault, *scale))
        .collect();
    let log_before: Vec<f64> = before.iter().map(|chance| chance.ln()).collect();
    let best = integrals
        .iter()
        .zip(&log_before)
        .map(|(integral, before)| integral.log + before)
        .fold(outside.log + prior::OUTSIDE.ln(), f64::max);
    integrals = integrals
        .into_par_iter()
        .zip(&log_before)
        .enumerate()
        .map(|(fault, (integral, before))| {
            if before.is_finite() {
                integral.finer(ground, fault, best - before)
            } else {
                integral
            }
        })
        .collect();
    for _ in 0..ROUNDS {
        let ground = Ground {
            body: &body,
            params: &params,
            predictions,
            order: &order,
        };
        let total = total_log(&integrals, &log_before, &outside);
        let middles: Vec<Vec<u16>> = integrals
            .par_iter()
            .zip(&log_before)
            .enumerate()
            .map(|(fault, (integral, before))| integral.unsure(ground, fault, before - total))
            .collect();
        let more: Vec<Wanted> = middles
            .iter()
            .enumerate()
            .flat_map(|(fault, middles)| middles.iter().map(move |&middle| Wanted::Fault(fault, middle)))
            .collect();
        if more.is_empty() {
            break;
        }
        body.solve_more(bench, faults, readings, predictions, &more)?;
        wanted.extend(more);
        params = Params::new(circuit, &body, predictions, &wanted);
        let ground = Ground {
            body: &body,
            params: &params,
            predictions,
            order: &order,
        };
        integrals = integrals
            .into_par_iter()
            .zip(&middles)
            .zip(&log_before)
            .enumerate()
            .map(|(fault, ((integral, middles), before))| {
                if middles.is_empty() {
                    integral
                } else {
                    integral.cut(ground, fault, middles, total - before)
                }
            })
            .collect();
    }
    let ground = Ground {
        body: &body,
        params: &params,
        predictions,
        order: &order,
    };
    Ok(settle(ground, circuit, faults, readings, &before, &integrals, &outside))
}

/// A cause outside the circuit, weighed.
struct Outside {
    log: f64,
    /// By share of the tests disturbed: logarithm of prior times likelihood, all together and by reading.
    shares: Vec<(f64, f64, Vec<f64>)>,
}

impl Outside {
    fn new(ground: Ground<'_>) -> Self {
        let span = ground.healthy();
        let mut room = <(Field, Sums)>::default();
        ground.params.expect(ground.body, &span, 0.0, 0.0, &mut room.0);
        let shares: Vec<(f64, f64, Vec<f64>)> = DISTURBED
            .iter()
            .map(|&(share, chance)| {
                let log = room.1.weigh(ground.body, &room.0.expected, ground.order, share, false);
                (
                    share,
                    chance.ln() + log,
                    room.1.steps.iter().map(|step| step.log).collect(),
                )
            })
            .collect();
        Self {
            log: log_sum(shares.iter().map(|share| share.1)),
            shares,
        }
    }

    /// Expected share of the tests disturbed.
    fn disturbed(&self) -> f64 {
        self.shares
            .iter()
            .map(|(share, log, _)| share * (log - self.log).exp())
            .sum()
    }
}

fn total_log(integrals: &[Integral], log_before: &[f64], outside: &Outside) -> f64 {
    let faults = integrals
        .iter()
        .zip(log_before)
        .map(|(integral, before)| integral.log + before);
    log_sum(faults.chain([outside.log + prior::OUTSIDE.ln()]))
}

/// Everything that is told of the causes, from their integrals.
fn settle<'a>(
    ground: Ground<'_>,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    readings: &[Reading],
    before: &[f64],
    integrals: &[Integral],
    outside: &Outside,
) -> Belief<'a> {
    let log_before: Vec<f64> = before.iter().map(|chance| chance.ln()).collect();
    let total = total_log(integrals, &log_before, outside);
    let chances: Vec<f64> = integrals
        .iter()
        .zip(&log_before)
        .map(|(integral, before)| (integral.log + before - total).exp())
        .collect();
    let outside_chance = (outside.log + prior::OUTSIDE.ln() - total).exp();
    let (class_of, n_classes) = classes(faults);

    let mut components: Vec<Component> = integrals
        .par_iter()
        .enumerate()
        .filter(|(fault, _)| chances[*fault] >= component::LEAST)
        .flat_map_iter(|(fault, integral)| component::points(ground, fault, integral, chances[fault], class_of[fault]))
        .collect();
    let mut room = <(Field, Sums)>::default();
    let elsewhere = outside.disturbed();
    components.push(Component {
        class: n_classes - 1,
        wanted: Wanted::Healthy,
        chance: outside_chance,
        spread: 0.0,
        elsewhere,
        known: component::known_between(ground, &ground.healthy(), 0.0, 0.0, elsewhere, &mut room),
    });

    let told = findings::Told::new(ground, integrals, &log_before, outside);
    let weighed = integrals
        .par_iter()
        .enumerate()
        .map(|(fault, integral)| Weighed {
            before: before[fault],
            chance: chances[fault],
            positions: findings::positions(integral),
            bits: findings::as_given(ground, readings.len(), 0.0, |k| told.bits(fault, k)),
            expects: findings::expects(ground, fault, integral, readings.len()),
        })
        .collect();
    let top = findings::Top::new(ground, integrals, &chances, outside, outside_chance);
    Belief {
        circuit,
        faults,
        done: readings.iter().map(|reading| reading.test.clone()).collect(),
        weighed,
        outside: outside_chance,
        standings: findings::standings(ground, readings.len(), &told, &top),
        learnt: top.learnt(ground),
        components,
    }
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
