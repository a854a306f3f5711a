//! The chances by brute force: every severity, every uncertain value that bends a reading, the battery at each reading and
//! every combination of right and wrong readings summed on dense grids, from the bench's own answers.
//!
//! Written apart from the weighing, from what it takes vehicles to be (`diagnosis::assumed`). What the bench answers away from
//! the usual values is taken to second order around them, along and across; severities are solved densely with a cubic through
//! values and slopes between. A meter's error is normal and so is what moves readings
//! straight: these are summed in closed form, which is exact. For voltmeter readings of driven
//! points only, each test done once.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict, Question, Reading, Shown, accuracy, parse_test};
use circuit::{Circuit, Fault, FaultId, possible_faults};
use diagnosis::{Case, Deed, Done, Intake, Predictions, assumed, weigh};
use rayon::prelude::*;

/// Solved severities, and severities summed.
const SOLVED: usize = 160;
const SUMMED: usize = 400;
/// Where the bench is asked for the second order, standard deviations.
const AWAY: f64 = 1.5;
/// A value whose second order is less than this share of the meter's spread moves a reading straight.
const STRAIGHT: f64 = 0.03;
/// So many values are summed on a grid, those that bend the readings most; what the rest bend is left out.
const MOST_BENT: usize = 1;
/// A reading that is so many variances off is not near.
const FAR: f64 = 40.0;
/// A repair cures what it is meant for with this chance: common practice, no source.
const CURES: f64 = 0.95;

pub(crate) struct Shop {
    pub(crate) circuit: Arc<Circuit>,
    pub(crate) faults: Vec<Fault>,
    bench: Bench,
}

/// Chances by fault, and of a cause outside the circuit.
#[derive(Debug)]
pub(crate) struct Chances {
    pub(crate) faults: Vec<f64>,
    pub(crate) outside: f64,
}

/// A reading to second order in the values: constant, by each, and by each two.
#[derive(Clone)]
struct Bowl {
    flat: f64,
    slope: Vec<f64>,
    bend: Vec<f64>,
}

/// Every right-or-wrong pattern of the readings: which are right, the inverse covariance of the meter among these, and the
/// logarithm of everything that does not depend on what they should be.
struct Pattern {
    right: Vec<usize>,
    inverse: Vec<f64>,
    log: f64,
}

impl Shop {
    /// A circuit of which only these faults can happen.
    pub(crate) fn new(text: &str, only: &[&str]) -> Self {
        let circuit = Arc::new(circuit::parse(text).unwrap());
        let all = possible_faults(&circuit);
        let named = |path: &&str| {
            let found = all.iter().find(|fault| fault.path == **path);
            found.unwrap_or_else(|| panic!("no fault {path}")).clone()
        };
        let faults = only.iter().map(named).collect();
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        Self { circuit, faults, bench }
    }

    /// Readings of a vehicle with these faults, each value so many standard deviations off the usual.
    pub(crate) fn read(&self, broken: &[(&str, f64)], off: f64, tests: &[&str]) -> Vec<Reading> {
        let all = possible_faults(&self.circuit);
        let find = |path: &str| all.iter().find(|fault| fault.path == path).unwrap();
        let hypothesis = Hypothesis {
            faults: broken.iter().map(|(path, severity)| (find(path), *severity)).collect(),
        };
        let theta = vec![off; self.circuit.params.len()];
        let one = |text: &&str| {
            let test = parse_test(&self.circuit, text).unwrap();
            let question = Question {
                theta: &theta,
                ..Question::of(std::slice::from_ref(&hypothesis), &test)
            };
            let value = self.bench.predict(question).unwrap().predictions[0].value;
            let resolution = if value.abs() < 6.0 { 0.001 } else { 0.01 };
            let shown = Shown::Number {
                value: (value / resolution).round() * resolution,
                resolution,
            };
            Reading { test, shown }
        };
        tests.iter().map(one).collect()
    }

    /// What the product says.
    pub(crate) fn weighed(&self, readings: &[Reading], deeds: &[Deed]) -> Chances {
        let intake = Intake::default();
        let case = Case {
            deeds,
            ..Case::new(&intake, readings)
        };
        let mut memory = Predictions::default();
        let belief = weigh(&self.bench, &self.circuit, &self.faults, &case, &mut memory).unwrap();
        Chances {
            faults: (0..self.faults.len())
                .map(|at| belief.chance(FaultId::from(at)))
                .collect(),
            outside: belief.outside(),
        }
    }

    /// The same by brute force. `fineness`: 1 for the usual grids, 2 for twice as fine ones.
    pub(crate) fn summed(&self, readings: &[Reading], deeds: &[Deed], fineness: usize) -> Chances {
        let outside_before = self.weighed(&[], &[]).outside;
        let sum: f64 = self.faults.iter().map(|fault| fault.weight).sum();
        let each: Vec<f64> = self
            .faults
            .par_iter()
            .map(|fault| {
                let mut likelihood = 0.0;
                let mut left = 1.0;
                for deed in deeds {
                    if deed.what == Done::Repaired(fault.repair.key.clone()) {
                        likelihood += left * CURES * self.over_severity(fault, readings, deed.after, fineness);
                        left *= 1.0 - CURES;
                    }
                }
                likelihood += left * self.over_severity(fault, readings, readings.len(), fineness);
                (1.0 - outside_before) * fault.weight / sum * likelihood
            })
            .collect();
        let sound = Hypothesis::default();
        let bowls: Vec<Bowl> = readings.iter().map(|reading| self.bowl(&sound, reading).0).collect();
        let outside: f64 = assumed::DISTURBED
            .iter()
            .map(|&(share, chance)| chance * self.over_values(&bowls, readings, share, fineness))
            .sum::<f64>()
            * outside_before;
        let total = each.iter().sum::<f64>() + outside;
        Chances {
            faults: each.iter().map(|one| one / total).collect(),
            outside: outside / total,
        }
    }

    fn patterns(&self, readings: &[Reading], covariance: &[f64], disturbed: f64) -> Vec<Pattern> {
        let n = readings.len();
        let weight = |at: usize, right: bool| {
            let (placement, shown) = (&readings[at].test.placement, &readings[at].shown);
            let wrong = assumed::wrong(&self.circuit, placement);
            if right {
                return (1.0 - wrong) * (1.0 - disturbed);
            }
            wrong * assumed::if_wrong(&self.circuit, placement, shown)
                + (1.0 - wrong) * disturbed * assumed::if_disturbed(&self.circuit, placement, shown)
        };
        (0..1_usize << n)
            .map(|set| {
                let right: Vec<usize> = (0..n).filter(|at| set >> at & 1 == 1).collect();
                let m = right.len();
                let among: Vec<f64> = right
                    .iter()
                    .flat_map(|a| right.iter().map(|b| covariance[a * n + b]).collect::<Vec<_>>())
                    .collect();
                let (inverse, log_determinant) = inverse(&among, m);
                let log_weight: f64 = (0..n).map(|at| weight(at, set >> at & 1 == 1).ln()).sum();
                Pattern {
                    right,
                    inverse,
                    log: log_weight - 0.5 * (m as f64 * std::f64::consts::TAU.ln() + log_determinant),
                }
            })
            .collect()
    }

    /// Covariance of what the meter adds.
    fn meter(&self, readings: &[Reading]) -> Vec<f64> {
        let parts: Vec<(f64, f64)> = readings
            .iter()
            .map(|reading| {
                let Shown::Number { value, resolution } = reading.shown else {
                    panic!("numbers only")
                };
                let sd = accuracy(&self.circuit, &reading.test.placement, value, Some(resolution)).sd;
                let own = (resolution * resolution / 12.0).max((1.0 - assumed::COMMON_SAME_TEST) * sd * sd);
                let own = own.min(sd * sd);
                (own, sd * sd - own)
            })
            .collect();
        let tie = |a: usize, b: usize| match (a == b, readings[a].test == readings[b].test) {
            (true, _) => parts[a].0 + parts[a].1,
            (false, true) => (parts[a].1 * parts[b].1).sqrt(),
            (false, false) => assumed::COMMON * (parts[a].1 * parts[b].1).sqrt(),
        };
        let n = readings.len();
        (0..n * n).map(|at| tie(at / n, at % n)).collect()
    }

    /// A fault that was there for the first `until` readings, all severities alike.
    fn over_severity(&self, fault: &Fault, readings: &[Reading], until: usize, fineness: usize) -> f64 {
        let sound = Hypothesis::default();
        let absent: Vec<Bowl> = readings.iter().map(|reading| self.bowl(&sound, reading).0).collect();
        let Some(range) = fault.severity else {
            let hypothesis = Hypothesis {
                faults: vec![(fault, 0.0)],
            };
            let one = |(at, reading): (usize, &Reading)| {
                if at < until {
                    self.bowl(&hypothesis, reading).0
                } else {
                    absent[at].clone()
                }
            };
            let bowls: Vec<Bowl> = readings.iter().enumerate().map(one).collect();
            return self.over_values(&bowls, readings, 0.0, fineness);
        };
        let (low, high) = if range.logarithmic {
            (range.low.ln(), range.high.ln())
        } else {
            (range.low, range.high)
        };
        let (n_solved, n_summed) = (SOLVED * fineness, SUMMED * fineness);
        let step = (high - low) / n_solved as f64;
        let solved: Vec<Vec<(Bowl, f64)>> = (0..=n_solved)
            .map(|at| {
                let by = low + step * at as f64;
                let severity = if range.logarithmic { by.exp() } else { by };
                let hypothesis = Hypothesis {
                    faults: vec![(fault, severity.clamp(range.low, range.high))],
                };
                readings[..until]
                    .iter()
                    .map(|reading| self.bowl(&hypothesis, reading))
                    .collect()
            })
            .collect();
        let mut sum = 0.0;
        for at in 0..n_summed {
            let place = (at as f64 + 0.5) / n_summed as f64 * n_solved as f64;
            let (from, t) = (place.floor() as usize, place.fract());
            let mut bowls: Vec<Bowl> = (0..until)
                .map(|reading| between(&solved[from][reading], &solved[from + 1][reading], t, step))
                .collect();
            bowls.extend_from_slice(&absent[until..]);
            sum += self.over_values(&bowls, readings, 0.0, fineness);
        }
        sum / n_summed as f64
    }

    /// What a reading should be by the values, and its slope by severity.
    fn bowl(&self, hypothesis: &Hypothesis<'_>, reading: &Reading) -> (Bowl, f64) {
        let n = self.circuit.params.len();
        let at = |moved: &[(usize, f64)]| {
            let mut theta = vec![0.0; n];
            for (which, by) in moved {
                theta[*which] += by;
            }
            let question = Question {
                theta: &theta,
                ..Question::of(std::slice::from_ref(hypothesis), &reading.test)
            };
            let prediction = self.bench.predict(question).unwrap().predictions.remove(0);
            let (down, up) = prediction.ghost_volts;
            assert!(
                prediction.kind == Kind::Number && down + up < 2.0 * assumed::GHOST_VOLTS,
                "driven points only"
            );
            prediction
        };
        let middle = at(&[]);
        let flat = middle.value;
        let mut slope = vec![0.0; n];
        let mut bend = vec![0.0; n * n];
        let moving: Vec<usize> = (0..n).filter(|&at| middle.by_param[at].abs() > 1e-7).collect();
        let mut above = vec![0.0; n];
        for &a in &moving {
            let below = at(&[(a, -AWAY)]).value;
            above[a] = at(&[(a, AWAY)]).value;
            slope[a] = (above[a] - below) / (2.0 * AWAY);
            bend[a * n + a] = (above[a] + below - 2.0 * flat) / (AWAY * AWAY);
        }
        for (nth, &a) in moving.iter().enumerate() {
            for &b in &moving[..nth] {
                let both = at(&[(a, AWAY), (b, AWAY)]).value;
                let mixed = (both - above[a] - above[b] + flat) / (AWAY * AWAY);
                bend[a * n + b] = mixed;
                bend[b * n + a] = mixed;
            }
        }
        let by_severity = middle.by_severity.first().copied().unwrap_or(0.0);
        (Bowl { flat, slope, bend }, by_severity)
    }

    /// The density of all readings over every value: independent standard normals, the battery one for each reading, tied
    /// together and taken to move them straight. A value that moves the readings straight widens them in closed form, one that bends them is summed.
    fn over_values(&self, bowls: &[Bowl], readings: &[Reading], disturbed: f64, fineness: usize) -> f64 {
        let n = readings.len();
        let n_params = self.circuit.params.len();
        let battery = self.circuit.params.iter().position(|param| param.path == assumed::SAGS);
        let meter = self.meter(readings);
        let spreads: Vec<f64> = (0..n).map(|at| meter[at * n + at].sqrt()).collect();
        let most = |of: &dyn Fn(&Bowl) -> f64| {
            let each = bowls.iter().zip(&spreads).map(|(bowl, sd)| of(bowl).abs() / sd);
            each.fold(0.0, f64::max)
        };
        // Where no reading is anywhere near, how it bends does not matter.
        let far = (0..n).all(|at| {
            let slopes: f64 = bowls[at].slope.iter().map(|slope| slope * slope).sum();
            (value(&readings[at]) - bowls[at].flat).powi(2) > FAR * (2.0 * slopes + spreads[at] * spreads[at])
        });
        let bend = |a: usize| {
            (0..n_params)
                .map(|b| most(&|bowl| bowl.bend[a * n_params + b]))
                .fold(0.0, f64::max)
        };
        let mut order: Vec<(f64, usize)> = (0..n_params).map(|a| (bend(a), a)).collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0));
        order.retain(|one| one.0 > STRAIGHT && !far && Some(one.1) != battery);
        order.truncate(MOST_BENT);
        let bent = |a: usize| order.iter().any(|one| one.1 == a);
        let tied = sag(n);
        let mut covariance = meter;
        // Which value, and its grid.
        let mut axes: Vec<(usize, Vec<(f64, f64)>)> = Vec::new();
        for param in 0..n_params {
            let ties = if Some(param) == battery {
                &tied
            } else {
                &vec![1.0; n * n]
            };
            if bent(param) {
                axes.push((param, grid(most(&|bowl| bowl.slope[param]), fineness)));
            } else {
                for at in 0..n * n {
                    covariance[at] += ties[at] * bowls[at / n].slope[param] * bowls[at % n].slope[param];
                }
            }
        }
        let patterns = self.patterns(readings, &covariance, disturbed);
        let mut at = vec![0; axes.len()];
        let (mut total, mut off) = (0.0, vec![0.0; n]);
        loop {
            let weight: f64 = axes.iter().zip(&at).map(|(axis, &at)| axis.1[at].1).product();
            for reading in 0..n {
                let bowl = &bowls[reading];
                let mut expected = bowl.flat;
                for (axis, &at_a) in axes.iter().zip(&at) {
                    let moved = axis.1[at_a].0;
                    let bent = axes
                        .iter()
                        .zip(&at)
                        .map(|(other, &at_b)| bowl.bend[axis.0 * n_params + other.0] * other.1[at_b].0);
                    expected += moved * (bowl.slope[axis.0] + 0.5 * bent.sum::<f64>());
                }
                off[reading] = value(&readings[reading]) - expected;
            }
            for pattern in &patterns {
                let m = pattern.right.len();
                let mut square = 0.0;
                for (i, &a) in pattern.right.iter().enumerate() {
                    for (j, &b) in pattern.right.iter().enumerate() {
                        square += off[a] * pattern.inverse[i * m + j] * off[b];
                    }
                }
                total += weight * (pattern.log - 0.5 * square).exp();
            }
            let Some(axis) = (0..axes.len()).find(|&axis| at[axis] + 1 < axes[axis].1.len()) else {
                return total;
            };
            at[axis] += 1;
            at[..axis].fill(0);
        }
    }
}

fn value(reading: &Reading) -> f64 {
    match reading.shown {
        Shown::Number { value, .. } => value,
        _ => panic!("numbers only"),
    }
}

/// A standard normal on a grid: points and weights, as fine as readings that it moves by `ratio` of their spread are sharp.
fn grid(ratio: f64, fineness: usize) -> Vec<(f64, f64)> {
    let step = 1.3 / (1.0 + ratio * ratio).sqrt() / fineness as f64;
    let most = (4.0 / step).ceil() as i32;
    let points = (-most..=most).map(|at| f64::from(at) * step);
    let raw: Vec<(f64, f64)> = points.map(|point| (point, (-0.5 * point * point).exp())).collect();
    let sum: f64 = raw.iter().map(|point| point.1).sum();
    raw.into_iter().map(|(point, weight)| (point, weight / sum)).collect()
}

/// The battery's voltage at each of `n` readings (covariance, row-major): it recovers between
/// them, drifts in one direction and wanders.
fn sag(n: usize) -> Vec<f64> {
    let (kept, step) = assumed::wanders();
    let mut wandered = vec![0.0; n * n];
    for at in 1..n {
        wandered[at * n + at] = kept * kept * wandered[(at - 1) * n + at - 1] + step * step;
        for before in 0..at {
            wandered[at * n + before] = kept * wandered[(at - 1) * n + before];
            wandered[before * n + at] = wandered[at * n + before];
        }
    }
    let tie = |a: usize, b: usize| {
        let rest = if a == b { 1.0 } else { assumed::SAG_SHARED };
        rest + assumed::drifted(a as f64) * assumed::drifted(b as f64) + wandered[a * n + b]
    };
    (0..n * n).map(|at| tie(at / n, at % n)).collect()
}

fn cholesky(of: &[f64], n: usize) -> Vec<f64> {
    let mut l = vec![0.0; n * n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| l[i * n + k] * l[j * n + k]).sum();
            l[i * n + j] = if i == j {
                (of[i * n + i] - sum).sqrt()
            } else {
                (of[i * n + j] - sum) / l[j * n + j]
            };
        }
    }
    l
}

/// Inverse of a covariance and the logarithm of its determinant.
fn inverse(of: &[f64], n: usize) -> (Vec<f64>, f64) {
    let l = cholesky(of, n);
    let mut inverse = vec![0.0; n * n];
    for column in 0..n {
        let mut y = vec![0.0; n];
        for i in 0..n {
            let sum: f64 = (0..i).map(|k| l[i * n + k] * y[k]).sum();
            y[i] = (f64::from(u8::from(i == column)) - sum) / l[i * n + i];
        }
        for i in (0..n).rev() {
            let sum: f64 = (i + 1..n).map(|k| l[k * n + i] * inverse[k * n + column]).sum();
            inverse[i * n + column] = (y[i] - sum) / l[i * n + i];
        }
    }
    (inverse, (0..n).map(|i| 2.0 * l[i * n + i].ln()).sum())
}

/// Between two solved severities: a cubic for the value, straight lines for what the values do.
fn between(a: &(Bowl, f64), b: &(Bowl, f64), t: f64, step: f64) -> Bowl {
    let line = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a + t * (b - a)).collect();
    let (u, v) = (1.0 - t, t);
    let flat = (1.0 + 2.0 * v) * u * u * a.0.flat
        + (1.0 + 2.0 * u) * v * v * b.0.flat
        + step * (v * u * u * a.1 - v * v * u * b.1);
    Bowl {
        flat,
        slope: line(&a.0.slope, &b.0.slope),
        bend: line(&a.0.bend, &b.0.bend),
    }
}
