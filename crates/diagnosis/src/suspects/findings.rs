//! What is told of suspects and readings, from the integrals.

use bench::Kind;
use circuit::ParamId;
use rayon::prelude::*;

use super::causes::{Causes, Chances};
use super::integral::{Ground, Integral, log_sum};
use super::outside::Outside;
use super::pairs::Pair;
use super::setting::Setting;
use super::ways::Way;
use crate::ReadingStanding;
use crate::in_order::in_order;
use crate::likelihood::Sums;
use crate::model::{Field, is_of_twin};

/// As many severities of causes are looked at to judge the readings themselves …
const MOST_TOP: usize = 64;
/// … each with at least this chance.
const LEAST_TOP: f64 = 1e-4;
/// A parameter counts as learnt if its centre moved this far, or its spread fell below this (both of a standard normal).
const MOVED: f64 = 0.25;
const NARROWED: f64 = 0.9;
/// Severities that together have less than this share are told as one piece.
const LEAST_SHARE: f64 = 1e-3;
/// Odds beyond this many bits are told as this many.
const MOST_BITS: f64 = 60.0;

/// By reading, in the order given, from a function of the place among the evidence.
pub(crate) fn as_given<T: Clone>(ground: Ground<'_>, n_readings: usize, none: T, of: impl Fn(usize) -> T) -> Vec<T> {
    let mut given = vec![none; n_readings];
    for (k, evidence) in ground.body.evidence.iter().enumerate() {
        given[evidence.position] = of(k);
    }
    given
}

/// The chances as they grew, evidence by evidence, in the order in which it is weighed: what each reading told, given
/// those before it. The bits of a suspect thus sum to what all readings together did to its odds.
pub(crate) struct Told {
    /// By fault, then the outside, then pairs: logarithms of the chance before any, after the first …
    log_chances: Vec<Vec<f64>>,
}

impl Told {
    pub(crate) fn new(ground: Ground<'_>, causes: &Causes, by_fault: &[Vec<usize>], outside: &Outside) -> Self {
        let n = ground.body.len();
        let of_ways: Vec<Vec<f64>> = causes
            .integrals
            .par_iter()
            .zip(&causes.log_before)
            .map(|(integral, before)| {
                let parts: Vec<(f64, &[f64])> = integral
                    .parts()
                    .map(|(_, _, share, part)| (share, &*part.logs))
                    .collect();
                grown(n, *before, &parts)
            })
            .collect();
        let together = |ways: &Vec<usize>| -> Vec<f64> {
            (0..=n)
                .map(|k| log_sum(ways.iter().map(|&way| of_ways[way][k])))
                .collect()
        };
        let mut log_chances: Vec<Vec<f64>> = by_fault.iter().map(together).collect();
        let shares: Vec<(f64, &[f64])> = outside
            .shares
            .iter()
            .map(|one| (one.log - one.logs.iter().sum::<f64>(), one.logs.as_slice()))
            .collect();
        log_chances.push(grown(n, causes.outside_before, &shares));
        log_chances.extend(causes.pairs.iter().map(|pair| {
            let parts: Vec<(f64, &[f64])> = pair.parts().map(|(share, leaf)| (share, &*leaf.logs)).collect();
            grown(n, pair.log_before, &parts)
        }));
        for k in 0..=n {
            let total = log_sum(log_chances.iter().map(|logs| logs[k]));
            for logs in &mut log_chances {
                logs[k] -= total;
            }
        }
        Self { log_chances }
    }

    /// Bits for a fault against all others, from the `k`-th evidence. Pairs are numbered after the faults and the outside.
    pub(crate) fn bits(&self, fault: usize, k: usize) -> f64 {
        let odds = |log: f64| {
            let log = log.min(-1e-15);
            (log - (-log.exp_m1()).ln()) / std::f64::consts::LN_2
        };
        let logs = &self.log_chances[fault];
        let bits = odds(logs[k + 1]) - odds(logs[k]);
        if bits.is_finite() {
            bits.clamp(-MOST_BITS, MOST_BITS)
        } else {
            0.0
        }
    }

    /// Bits that the `k`-th evidence told about the cause: the divergence of the chances after from those before.
    pub(crate) fn told_bits(&self, k: usize) -> f64 {
        let told = |logs: &Vec<f64>| {
            if logs[k + 1].is_finite() {
                logs[k + 1].exp() * (logs[k + 1] - logs[k])
            } else {
                0.0
            }
        };
        (self.log_chances.iter().map(told).sum::<f64>() / std::f64::consts::LN_2).max(0.0)
    }
}

/// Logarithm of prior times likelihood of the first 0, 1, … n of the evidence.
fn grown(n: usize, log_before: f64, parts: &[(f64, &[f64])]) -> Vec<f64> {
    let mut sums: Vec<f64> = parts.iter().map(|part| part.0).collect();
    let mut grown = vec![log_before];
    for k in 0..n {
        for (sum, part) in sums.iter_mut().zip(parts) {
            *sum += part.1[k];
        }
        grown.push(log_before + log_sum(sums.iter().copied()));
    }
    grown
}

/// Positions of severity with the share of the chance below each, rising; empty without severity.
pub(crate) fn below(integral: &Integral) -> Vec<(f64, f64)> {
    if integral.last == 0 {
        return Vec::new();
    }
    let mut below: Vec<(f64, f64)> = Vec::new();
    let mut so_far = 0.0;
    for (position, width, share, part) in integral.parts() {
        so_far += (part.log + share - integral.log).exp();
        let point = (position + 0.5 * width, so_far);
        // Runs that hold next to nothing are one piece.
        match below.len().checked_sub(2).and_then(|at| below.get(at).copied()) {
            Some(before) if so_far - before.1 < LEAST_SHARE => below.pop(),
            _ => None,
        };
        below.push(point);
    }
    below
}

/// Positions below which a tenth, half and nine tenths lie.
pub(crate) fn positions(below: &[(f64, f64)]) -> Option<[f64; 3]> {
    let last = below.last()?.0;
    Some([0.1, 0.5, 0.9].map(|wanted| {
        let (mut from, mut before) = (0.0, 0.0);
        for &(to, share) in below {
            if share > wanted {
                return from + (to - from) * (wanted - before) / (share - before);
            }
            (from, before) = (to, share);
        }
        last
    }))
}

/// The most plausible severity of a way.
fn most_plausible<'g>(ground: Ground<'g>, way: &Way, integral: &Integral) -> Option<Setting<'g>> {
    let parts = integral.pieces.iter().flat_map(|piece| {
        let each = piece.parts.iter();
        each.map(move |part| (piece, part.t, part.log))
    });
    let (piece, t, _) = parts.reduce(|best, part| if part.2 > best.2 { part } else { best })?;
    Some(Setting::One {
        span: ground.span(way, piece.from, piece.to),
        t,
        width: 0.0,
        elsewhere: 0.0,
    })
}

/// What each reading should show under a fault, at its most plausible severity: value and standard deviation.
pub(crate) fn expects(
    ground: Ground<'_>,
    way: &Way,
    integral: &Integral,
    n_readings: usize,
) -> Vec<Option<(f64, f64)>> {
    match most_plausible(ground, way, integral) {
        Some(setting) => expected_numbers(ground, &setting, n_readings),
        None => vec![None; n_readings],
    }
}

/// What each reading should show under a pair, at its most plausible severities.
pub(crate) fn expects_of_pair(ground: Ground<'_>, pair: &Pair, n_readings: usize) -> Vec<Option<(f64, f64)>> {
    let Some((weighed, leaf)) = pair.best() else {
        return vec![None; n_readings];
    };
    let setting = Setting::Two {
        patch: weighed.patch(ground, pair),
        at: leaf.at,
    };
    expected_numbers(ground, &setting, n_readings)
}

/// How many readings are expected to be wrong at a way's most plausible severity.
pub(crate) fn wrong_at_best(ground: Ground<'_>, way: &Way, integral: &Integral) -> f64 {
    most_plausible(ground, way, integral).map_or(0.0, |setting| setting.wrong(ground).iter().sum())
}

fn expected_numbers<'g>(ground: Ground<'g>, setting: &Setting<'g>, n_readings: usize) -> Vec<Option<(f64, f64)>> {
    let mut field = Field::default();
    setting.expect(ground, &mut field);
    let n = ground.body.len();
    as_given(ground, n_readings, None, |k| {
        let expectation = field.expected.readings[k];
        let own = ground.body.evidence[k].own_sd;
        let sd = (field.expected.covariance[k * n + k] + own * own).max(0.0).sqrt();
        let (least, most) = ground.body.evidence[k].sense.shown_within();
        (expectation.kind == Kind::Number).then_some((expectation.value.clamp(least, most), sd))
    })
}

/// The likeliest severities of the likeliest causes: what the readings themselves are judged by.
pub(crate) struct Top<'g> {
    entries: Vec<Entry<'g>>,
    total: f64,
}

struct Entry<'g> {
    setting: Setting<'g>,
    weight: f64,
}

impl<'g> Top<'g> {
    pub(crate) fn new(ground: Ground<'g>, causes: &'g Causes, chances: &Chances, outside: &Outside) -> Self {
        // (weight, way or none, piece or share, part)
        let mut places: Vec<(f64, Option<usize>, usize, usize)> = Vec::new();
        for (way, integral) in causes
            .integrals
            .iter()
            .enumerate()
            .filter(|(way, _)| chances.ways[*way] > LEAST_TOP)
        {
            let mut parts = integral.parts();
            for (at, piece) in integral.pieces.iter().enumerate() {
                for part_at in 0..piece.parts.len() {
                    let Some((_, _, share, part)) = parts.next() else {
                        continue;
                    };
                    let weight = chances.ways[way] * (part.log + share - integral.log).exp();
                    if weight > LEAST_TOP {
                        places.push((weight, Some(way), at, part_at));
                    }
                }
            }
        }
        for (at, share) in outside.shares.iter().enumerate() {
            let weight = chances.outside * (share.log - outside.log).exp();
            if weight > LEAST_TOP {
                places.push((weight, None, at, 0));
            }
        }
        places.sort_by(|a, b| b.0.total_cmp(&a.0));
        places.truncate(MOST_TOP);
        let mut entries: Vec<Entry<'g>> = places
            .into_iter()
            .map(|(weight, way, at, part)| {
                let setting = match way {
                    Some(way) => {
                        let piece = &causes.integrals[way].pieces[at];
                        Setting::One {
                            span: ground.span(&causes.ways[way], piece.from, piece.to),
                            t: piece.parts[part].t,
                            width: piece.parts[part].width,
                            elsewhere: 0.0,
                        }
                    }
                    None => Setting::disturbed(ground.healthy(outside.shares[at].inside), outside.shares[at].share),
                };
                Entry { setting, weight }
            })
            .collect();
        // Of a pair its best place stands for all.
        let pairs = causes
            .pairs
            .iter()
            .zip(&chances.pairs)
            .filter(|(_, chance)| **chance > LEAST_TOP);
        entries.extend(pairs.filter_map(|(pair, &weight)| {
            let (weighed, leaf) = pair.best()?;
            let setting = Setting::Two {
                patch: weighed.patch(ground, pair),
                at: leaf.at,
            };
            Some(Entry { setting, weight })
        }));
        let total = entries.iter().map(|entry| entry.weight).sum();
        Self { entries, total }
    }

    /// Chance that each evidence is wrong, given all the others.
    fn wrong(&self, ground: Ground<'g>) -> Vec<f64> {
        let n = ground.body.len();
        let by_entry: Vec<Vec<f64>> = self
            .entries
            .par_iter()
            .map(|entry| {
                let mut room = <(Field, Sums)>::default();
                entry.setting.expect(ground, &mut room.0);
                (0..n)
                    .map(|last| {
                        let others = entry.setting.order(ground).iter().copied().filter(|&k| k != last);
                        let order: Vec<usize> = others.chain([last]).collect();
                        room.1
                            .weigh(ground.body, &room.0.expected, &order, entry.setting.elsewhere(), false);
                        room.1.steps[last].wrong * entry.weight / self.total
                    })
                    .collect()
            })
            .collect();
        (0..n).map(|k| by_entry.iter().map(|wrong| wrong[k]).sum()).collect()
    }

    /// Parameters that the readings moved or narrowed: (parameter, centre, standard deviation).
    pub(crate) fn learnt(&self, ground: Ground<'g>) -> Vec<(ParamId, f64, f64)> {
        let ids = &ground.params.ids;
        if ground.body.len() == 0 || self.entries.is_empty() {
            return Vec::new();
        }
        let known: Vec<(f64, super::component::Known)> = self
            .entries
            .par_iter()
            .map(|entry| {
                let mut room = <(Field, Sums)>::default();
                let known = entry.setting.known(ground, &mut room);
                (entry.weight / self.total, known)
            })
            .collect();
        let mut learnt = Vec::new();
        for (at, id) in ids.iter().enumerate().filter(|(_, id)| !is_of_twin(**id)) {
            let mean: f64 = known.iter().map(|(weight, known)| weight * known.mean[at]).sum();
            let square: f64 = known
                .iter()
                .map(|(weight, known)| weight * (known.variance(at) + known.mean[at].powi(2)))
                .sum();
            let sd = (square - mean * mean).max(0.0).sqrt();
            if mean.abs() > MOVED || sd < NARROWED {
                learnt.push((ParamId(*id), mean, sd));
            }
        }
        learnt
    }
}

/// How each reading stands to the rest, the modules being so inside.
pub(crate) fn standings<'g>(
    ground: Ground<'g>,
    inside: u16,
    n_readings: usize,
    told: &Told,
    top: &Top<'g>,
) -> Vec<ReadingStanding> {
    let sound = Setting::disturbed(ground.nominal(inside), 0.0);
    let healthy = expected_numbers(ground, &sound, n_readings);
    let mut field = Field::default();
    sound.expect(ground, &mut field);
    let n = ground.body.len();
    let wrong = top.wrong(ground);
    let none = ReadingStanding {
        healthy: None,
        in_order: None,
        possible: true,
        wrong: 0.0,
        told_bits: 0.0,
    };
    as_given(ground, n_readings, none, |k| ReadingStanding {
        healthy: healthy[ground.body.evidence[k].position],
        in_order: in_order(
            &ground.body.evidence[k],
            &field.expected.readings[k],
            field.expected.covariance[k * n + k],
        ),
        possible: true,
        wrong: wrong[k],
        told_bits: told.told_bits(k),
    })
}
