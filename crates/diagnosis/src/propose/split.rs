//! How the outcomes of a test split what is still possible.
//!
//! Each possibility (a fault at one severity) expects a reading and a spread around it. The readings are cut where
//! possibilities part, at most [`MOST_RANGES`] ranges, and each possibility puts its share into each. Information is that
//! of the range about the kind of repair, in bits (Shannon 1948). Limits: within a range the exact value would tell a
//! little more, so this is a lower bound; readings of one proposal are independent given a possibility.

use std::f64::consts::SQRT_2;

use bench::{Kind, Placement, Prediction, Shown};
use circuit::Circuit;
use statrs::function::erf::erf;

use crate::Expected;
use crate::evidence::Sense;
use crate::suspects::Foreseen;

/// Most ranges that a number is cut into; more would not be read.
pub(crate) const MOST_RANGES: usize = 6;
/// Share of readings that are plain wrong: any outcome then.
const WRONG: f64 = 0.02;
/// Readings closer than this many of their spreads are one to a technician who asks whether they differ at all.
pub(crate) const SURELY_APART: f64 = 4.0;
/// Readings closer than this many of their spreads are not worth a cut: what overlaps is shared out either way.
pub(crate) const APART: f64 = 1.0;
/// The possible outcomes of a test or of a group of tests.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Table {
    /// What each test shows in each outcome.
    pub(crate) labels: Vec<Vec<Expected>>,
    /// Chance of each outcome under each possibility, row-major `n_possibilities × n_outcomes`.
    pub(crate) shares: Vec<f64>,
}

/// What a test shows under one possibility.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    kind: Kind,
    value: f64,
    sd: f64,
    /// Chance that it shows anything at all instead.
    elsewhere: f64,
}

impl Seen {
    /// From the bench itself: only the meter blurs it.
    pub(crate) fn predicted(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> Self {
        let Prediction {
            kind,
            value,
            ghost_volts,
            ..
        } = *prediction;
        let sd = meter_spread(circuit, placement, value, ghost_volts);
        Self {
            kind,
            value,
            sd,
            elsewhere: 0.0,
        }
    }

    /// From a point of the belief: severity and parameters blur it too.
    pub(crate) fn foreseen(circuit: &Circuit, placement: &Placement, foreseen: &Foreseen, elsewhere: f64) -> Self {
        let Foreseen {
            kind,
            mean,
            variance,
            ghost_volts,
        } = *foreseen;
        let (least, most) = Sense::of(circuit, placement).shown_within();
        let value = mean.clamp(least, most);
        let sd = meter_spread(circuit, placement, value, ghost_volts).hypot(variance.max(0.0).sqrt());
        Self {
            kind,
            value,
            sd,
            elsewhere,
        }
    }

    /// What is not shown as a number.
    fn named(&self, circuit: &Circuit, placement: &Placement) -> Option<Shown> {
        match self.kind {
            Kind::OverRange => Some(Shown::OverRange),
            Kind::Live => Some(Shown::Unstable),
            Kind::Unknown => Some(Shown::NotTaken),
            kind => kind.shown(self.value, placement, circuit),
        }
    }
}

/// Standard deviation of what the meter itself adds, the tail of an undriven point included.
fn meter_spread(circuit: &Circuit, placement: &Placement, value: f64, ghost_volts: (f64, f64)) -> f64 {
    let tail = 0.5 * (ghost_volts.0.abs() + ghost_volts.1.abs());
    bench::accuracy(circuit, placement, value, None).sd + tail
}

impl Table {
    /// Cuts what a test shows into outcomes. `weights`: of each possibility; `apart`: how many spreads must lie between the
    /// ends of what is cut.
    pub(crate) fn new(circuit: &Circuit, placement: &Placement, seen: &[Seen], weights: &[f64], apart: f64) -> Self {
        let names: Vec<Option<Shown>> = seen.iter().map(|seen| seen.named(circuit, placement)).collect();
        let mut named: Vec<Shown> = Vec::new();
        let mut numbers: Vec<(f64, f64, f64)> = Vec::new();
        for ((seen, name), &weight) in seen.iter().zip(&names).zip(weights) {
            match name {
                None => numbers.push((seen.value, seen.sd.max(1e-9), weight)),
                Some(shown) if !named.contains(shown) => named.push(shown.clone()),
                Some(_) => {}
            }
        }
        numbers.sort_by(|a, b| a.0.total_cmp(&b.0));
        let edges = cuts(&numbers, apart);
        let n_ranges = if numbers.is_empty() { 0 } else { edges.len() + 1 };
        let mut labels: Vec<Vec<Expected>> = ranges(&numbers, &edges).into_iter().map(|label| vec![label]).collect();
        labels.extend(named.iter().map(|shown| vec![Expected::Is(shown.clone())]));
        let n = labels.len();
        let mut shares = Vec::with_capacity(n * seen.len());
        for (seen, name) in seen.iter().zip(&names) {
            let right = (1.0 - WRONG) * (1.0 - seen.elsewhere);
            let start = shares.len();
            shares.resize(start + n, (1.0 - right) / n as f64);
            let row = &mut shares[start..];
            if let Some(shown) = name {
                let at = named.iter().position(|known| known == shown).map(|idx| idx + n_ranges);
                if let Some(share) = at.and_then(|at| row.get_mut(at)) {
                    *share += right;
                }
            } else {
                let mut below = 0.0;
                for (idx, share) in row.iter_mut().take(n_ranges).enumerate() {
                    let upto = edges
                        .get(idx)
                        .map_or(1.0, |edge| normal_cdf((edge - seen.value) / seen.sd.max(1e-9)));
                    *share += right * (upto - below).max(0.0);
                    below = upto;
                }
            }
        }
        Self { labels, shares }
    }

    /// Makes each two of these possibilities one that shows the first with this chance, and keeps the first `n` of all.
    pub(crate) fn mix(&mut self, pairs: &[(usize, usize, f64)], n: usize) {
        let columns = self.labels.len();
        let mut mixed = self.shares.clone();
        for &(one, other, chance) in pairs {
            for column in 0..columns {
                let (one, other) = (one * columns + column, other * columns + column);
                let share = chance * self.shares[one] + (1.0 - chance) * self.shares[other];
                (mixed[one], mixed[other]) = (share, share);
            }
        }
        mixed.truncate(n * columns);
        self.shares = mixed;
    }

    /// Whether every possibility shows the same.
    pub(crate) fn tells_nothing(&self) -> bool {
        self.labels.len() <= 1
    }

    /// Both tests, one after the other.
    pub(crate) fn and(&self, other: &Self) -> Self {
        let (n, m) = (self.labels.len(), other.labels.len());
        let mut labels = Vec::with_capacity(n * m);
        for a in &self.labels {
            labels.extend(
                other
                    .labels
                    .iter()
                    .map(|b| a.iter().chain(b).cloned().collect::<Vec<_>>()),
            );
        }
        let rows = self.shares.chunks(n.max(1)).zip(other.shares.chunks(m.max(1)));
        let shares = rows
            .flat_map(|(a, b)| a.iter().flat_map(move |x| b.iter().map(move |y| x * y)))
            .collect();
        Self { labels, shares }
    }

    /// Chance of each outcome.
    pub(crate) fn chances(&self, weights: &[f64]) -> Vec<f64> {
        let n = self.labels.len();
        let mut chances = vec![0.0; n];
        for (row, weight) in self.shares.chunks(n.max(1)).zip(weights) {
            chances
                .iter_mut()
                .zip(row)
                .for_each(|(chance, share)| *chance += weight * share);
        }
        chances
    }

    /// Weights of the possibilities and of each outcome together, by outcome.
    pub(crate) fn parts(&self, weights: &[f64]) -> Vec<Vec<f64>> {
        let n = self.labels.len().max(1);
        let part = |outcome: usize| {
            let rows = self.shares.chunks(n).zip(weights);
            rows.map(|(row, weight)| weight * row.get(outcome).copied().unwrap_or(0.0))
                .collect()
        };
        (0..n).map(part).collect()
    }

    /// Bits that the outcome is expected to tell of the kind. `kinds`: of each possibility, below `n_kinds`; `weights`
    /// sum to 1.
    pub(crate) fn bits(&self, weights: &[f64], kinds: &[usize], n_kinds: usize) -> f64 {
        let n = self.labels.len();
        if n <= 1 {
            return 0.0;
        }
        let mut joint = vec![0.0; n * n_kinds];
        for ((row, weight), &kind) in self.shares.chunks(n).zip(weights).zip(kinds) {
            if let Some(into) = joint.get_mut(kind * n..(kind + 1) * n) {
                into.iter_mut().zip(row).for_each(|(x, share)| *x += weight * share);
            }
        }
        let of_outcomes = entropy(&self.chances(weights));
        let given: f64 = joint
            .chunks(n)
            .map(|row| {
                let mass: f64 = row.iter().sum();
                // Entropy of a row that sums to `mass`, weighted by it.
                entropy(row) + plogp(mass)
            })
            .sum();
        (of_outcomes - given).max(0.0)
    }

    /// Whether two tests sort the possibilities that count into the same groups.
    pub(crate) fn same_split(&self, other: &Self, weights: &[f64]) -> bool {
        let main = |table: &Self| -> Vec<usize> {
            let rows = table
                .shares
                .chunks(table.labels.len().max(1))
                .zip(weights)
                .filter(|(_, w)| **w > 1e-3);
            let best = |row: &[f64]| {
                row.iter()
                    .enumerate()
                    .max_by(|a, b| a.1.total_cmp(b.1))
                    .map_or(0, |best| best.0)
            };
            let mut names: Vec<usize> = Vec::new();
            rows.map(|(row, _)| {
                let best = best(row);
                names.iter().position(|&name| name == best).unwrap_or_else(|| {
                    names.push(best);
                    names.len() - 1
                })
            })
            .collect()
        };
        main(self) == main(other)
    }
}

fn plogp(p: f64) -> f64 {
    if p > 0.0 { p * p.log2() } else { 0.0 }
}

/// Bits of a distribution.
pub(crate) fn entropy(chances: &[f64]) -> f64 {
    -chances.iter().map(|&p| plogp(p)).sum::<f64>()
}

fn normal_cdf(x: f64) -> f64 {
    0.5 * (1.0 + erf(x / SQRT_2))
}

/// Where to cut sorted (value, spread, weight): the widest part first, at the gap that best halves its weight.
fn cuts(numbers: &[(f64, f64, f64)], apart: f64) -> Vec<f64> {
    let mut parts = vec![(0, numbers.len())];
    while parts.len() < MOST_RANGES {
        let best = parts.iter().enumerate().filter_map(|(idx, &(from, to))| {
            let (at, gain) = best_cut(numbers.get(from..to)?, apart)?;
            Some((idx, from + at, gain))
        });
        let Some((idx, at, _)) = best.max_by(|a, b| a.2.total_cmp(&b.2)) else {
            break;
        };
        if let Some(part) = parts.get_mut(idx) {
            let end = part.1;
            part.1 = at;
            parts.push((at, end));
        }
    }
    let mut edges: Vec<f64> = parts
        .iter()
        .filter(|&&(from, _)| from > 0)
        .filter_map(|&(from, _)| {
            let (below, above) = (numbers.get(from - 1)?, numbers.get(from)?);
            // Nearer to the one that is known better.
            Some((below.0 * above.1 + above.0 * below.1) / (below.1 + above.1))
        })
        .collect();
    edges.sort_by(f64::total_cmp);
    edges
}

/// The best place to cut a part, and how good it is; `None` if all of it reads the same.
fn best_cut(part: &[(f64, f64, f64)], apart: f64) -> Option<(usize, f64)> {
    let (first, last) = (part.first()?, part.last()?);
    if last.0 - first.0 <= apart * 0.5 * (first.1 + last.1) {
        return None;
    }
    let whole: f64 = part.iter().map(|number| number.2).sum();
    let mut below = 0.0;
    let mut best: Option<(usize, f64)> = None;
    for (idx, pair) in part.windows(2).enumerate() {
        let &[(low, low_spread, weight), (high, high_spread, _)] = pair else {
            continue;
        };
        below += weight;
        let gap = (high - low) / (low_spread + high_spread);
        // A gap of many spreads is as good as one of ten; what counts then is how evenly it splits.
        let gain = gap.min(10.0) * (below * (whole - below)).max(0.0).sqrt();
        if gain > best.map_or(0.0, |(_, gain)| gain) {
            best = Some((idx + 1, gain));
        }
    }
    best
}

/// The range of values that each part covers: its members and two spreads around, within its edges.
fn ranges(numbers: &[(f64, f64, f64)], edges: &[f64]) -> Vec<Expected> {
    if numbers.is_empty() {
        return Vec::new();
    }
    (0..=edges.len())
        .map(|idx| {
            let low = idx
                .checked_sub(1)
                .and_then(|idx| edges.get(idx))
                .copied()
                .unwrap_or(f64::NEG_INFINITY);
            let high = edges.get(idx).copied().unwrap_or(f64::INFINITY);
            let within = numbers.iter().filter(|number| number.0 >= low && number.0 < high);
            let (least, most) = within.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), number| {
                (
                    least.min(number.0 - 2.0 * number.1),
                    most.max(number.0 + 2.0 * number.1),
                )
            });
            Expected::Range(least.max(low), most.min(high))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hazard::fixture::pot;
    use circuit::PointId;

    fn table(values: &[f64], spreads: &[f64], weights: &[f64]) -> Table {
        let placement = Placement::Voltmeter {
            red: PointId(0),
            black: PointId(1),
        };
        let seen: Vec<Seen> = values
            .iter()
            .zip(spreads)
            .map(|(&value, &sd)| {
                let kind = if value.is_infinite() {
                    Kind::OverRange
                } else {
                    Kind::Number
                };
                Seen {
                    kind,
                    value,
                    sd,
                    elsewhere: 0.0,
                }
            })
            .collect();
        Table::new(&pot(0.5), &placement, &seen, weights, SURELY_APART)
    }

    /// Two equal chances told apart for certain but for wrong readings: a binary symmetric channel with half of [`WRONG`]
    /// as its error, 1 − H(0.01) = 0.9192 bits (Shannon 1948).
    #[test]
    fn two_possibilities_that_part_tell_one_bit_less_the_wrong_readings() {
        let table = table(&[0.0, 5.0], &[0.01, 0.01], &[0.5, 0.5]);
        assert_eq!(table.labels.len(), 2);
        assert!((table.bits(&[0.5, 0.5], &[0, 1], 2) - 0.9192).abs() < 1e-3);
        assert_eq!(
            table.bits(&[0.5, 0.5], &[0, 0], 1),
            0.0,
            "the same repair: nothing to tell"
        );
    }

    #[test]
    fn readings_within_the_meters_spread_tell_nothing() {
        assert!(table(&[5.0, 5.02, 5.01], &[0.02; 3], &[1.0; 3]).tells_nothing());
    }

    /// Two normal distributions one spread apart either side of the cut: error Φ(−2.5) = 0.0062 beside wrong readings.
    #[test]
    fn overlapping_readings_tell_as_much_as_their_overlap_leaves() {
        let table = table(&[0.0, 5.0], &[1.0, 1.0], &[0.5, 0.5]);
        let error: f64 = 0.98 * 0.006_210 + 0.01;
        let expected = 1.0 - entropy(&[error, 1.0 - error]);
        assert!((table.bits(&[0.5, 0.5], &[0, 1], 2) - expected).abs() < 1e-4);
    }

    #[test]
    fn over_range_is_an_outcome_of_its_own_and_chances_sum_to_one() {
        let weights = [0.2, 0.3, 0.1, 0.4];
        let table = table(&[0.1, 12.0, f64::INFINITY, 2.0], &[0.05; 4], &weights);
        assert_eq!(table.labels.len(), 4);
        assert_eq!(table.labels[3], [Expected::Is(Shown::OverRange)]);
        assert!((table.chances(&weights).iter().sum::<f64>() - 1.0).abs() < 1e-12);
        let parts = table.parts(&weights);
        assert!(parts[3][2] > 0.9 * parts[3].iter().sum::<f64>());
        assert!((parts.concat().iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn two_tests_that_split_differently_tell_both_splits() {
        let weights = [0.25; 4];
        let kinds = [0, 1, 2, 3];
        let one = table(&[0.0, 0.0, 5.0, 5.0], &[0.01; 4], &weights);
        let other = table(&[0.0, 5.0, 0.0, 5.0], &[0.01; 4], &weights);
        let both = one.and(&other);
        let bits = |table: &Table| table.bits(&weights, &kinds, 4);
        assert!((bits(&both) - bits(&one) - bits(&other)).abs() < 1e-9);
        assert!(!one.same_split(&other, &weights) && one.same_split(&one.clone(), &weights));
        assert!(bits(&one.and(&one)) < bits(&both));
    }

    #[test]
    fn a_continuum_is_cut_into_a_few_ranges_that_follow_each_other() {
        let values: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.3).collect();
        let table = table(&values, &[0.02; 40], &[0.025; 40]);
        assert_eq!(table.labels.len(), MOST_RANGES);
        let ends: Vec<(f64, f64)> = table
            .labels
            .iter()
            .map(|label| {
                if let [Expected::Range(low, high)] = label[..] {
                    (low, high)
                } else {
                    (f64::NAN, f64::NAN)
                }
            })
            .collect();
        assert!(ends.windows(2).all(|pair| pair[0].1 <= pair[1].0), "{ends:?}");
    }
}
