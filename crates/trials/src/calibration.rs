//! Whether chances are what they say.
//!
//! The reliability curve sorts searches by the chance stated for what led, in bins of equal count, and compares with how
//! often it was right. One chance a search, read off at a moment fixed before it began: searches are independent, and a
//! moment that does not look at the outcome keeps a right belief right.
//!
//! Ranks: where the true cause in the list of causes, the true severity, and the true values that were learnt, lie within what was thought of them. Drawn as
//! assumed and weighed rightly they are spread evenly (Talts, Betancourt, Simpson, Vehtari, Gelman 2018,
//! doi 10.48550/arXiv.1804.06788). Limits: of the severity only three quantiles are told, so four cells; values of one
//! vehicle are not independent, so their spread is a little wider than the test takes it to be.

use statrs::distribution::{ChiSquared, ContinuousCDF as _};

use crate::search::Record;

/// Bins of the reliability curve, and cells of the values' ranks.
const BINS: usize = 10;
/// Standard deviations either side that hold 95 % of a normal.
const Z: f64 = 1.959_964;
/// Shares of severities between the quantiles that are told.
const SEVERITY_SHARES: [f64; 4] = [0.1, 0.4, 0.4, 0.1];

/// A bin of the reliability curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Searches.
    pub n: usize,
    /// Mean chance stated.
    pub stated: f64,
    /// Share that was right.
    pub right: f64,
    /// 95 % interval of that share.
    pub interval: (f64, f64),
}

/// How well chances are what they say.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// By chance stated, least first.
    pub bins: Vec<Bin>,
    /// Mean distance between chance stated and share right, by count.
    pub expected_error: f64,
    /// What chance alone would make of that error with right chances, on average.
    pub error_by_chance: f64,
    /// True causes by tenth of the belief, in the order of the list.
    pub cause_cells: [usize; BINS],
    /// Chance of a spread as uneven or more, if it is even in truth; `None` with too few.
    pub cause_even: Option<f64>,
    /// Severities by where the true one lay: below a tenth, a half, nine tenths, above.
    pub severity_cells: [usize; 4],
    /// As for the causes.
    pub severity_even: Option<f64>,
    /// Learnt values by tenth.
    pub value_cells: [usize; BINS],
    /// As for the causes.
    pub value_even: Option<f64>,
}

impl Calibration {
    /// Of the records of one strategy.
    pub fn of<'r>(records: impl IntoIterator<Item = &'r Record>) -> Self {
        let records: Vec<&Record> = records.into_iter().collect();
        let bins = bins(records.iter().map(|record| record.look).collect());
        let mut severity_cells = [0; 4];
        let (mut cause_cells, mut value_cells) = ([0; BINS], [0; BINS]);
        let tenth = |rank: f64| ((rank * BINS as f64) as usize).min(BINS - 1);
        for record in &records {
            cause_cells[tenth(record.cause_rank)] += 1;
            if let Some(cell) = record.severity_rank.and_then(|rank| severity_cells.get_mut(rank)) {
                *cell += 1;
            }
            for &rank in &record.value_ranks {
                value_cells[tenth(rank)] += 1;
            }
        }
        let n: usize = bins.iter().map(|bin| bin.n).sum();
        let mean =
            |of: &dyn Fn(&Bin) -> f64| bins.iter().map(|bin| bin.n as f64 * of(bin)).sum::<f64>() / n.max(1) as f64;
        // A normal of this standard deviation is off by √(2/π) of it on average.
        let by_chance =
            |bin: &Bin| (2.0 / std::f64::consts::PI * bin.stated * (1.0 - bin.stated) / bin.n as f64).sqrt();
        Self {
            expected_error: mean(&|bin| (bin.stated - bin.right).abs()),
            error_by_chance: mean(&by_chance),
            cause_even: even(&cause_cells, &[1.0 / BINS as f64; BINS]),
            severity_even: even(&severity_cells, &SEVERITY_SHARES),
            value_even: even(&value_cells, &[1.0 / BINS as f64; BINS]),
            bins,
            cause_cells,
            severity_cells,
            value_cells,
        }
    }
}

/// Bins of equal count (±1), by chance stated; fewer where there are fewer searches than bins.
fn bins(mut looks: Vec<(f64, bool)>) -> Vec<Bin> {
    looks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = looks.len();
    let edges: Vec<usize> = (0..=BINS).map(|bin| bin * n / BINS).collect();
    let parts = edges.windows(2).map(|edge| &looks[edge[0]..edge[1]]);
    parts
        .filter(|part| !part.is_empty())
        .map(|part| {
            let right = part.iter().filter(|look| look.1).count();
            Bin {
                n: part.len(),
                stated: part.iter().map(|look| look.0).sum::<f64>() / part.len() as f64,
                right: right as f64 / part.len() as f64,
                interval: wilson(right, part.len()),
            }
        })
        .collect()
}

/// The 95 % interval of a share of which `hits` of `n` were seen (Wilson 1927). All of it without any.
pub fn wilson(hits: usize, n: usize) -> (f64, f64) {
    if n == 0 {
        return (0.0, 1.0);
    }
    let (n, share) = (n as f64, hits as f64 / n as f64);
    let middle = (share + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (share * (1.0 - share) / n + Z * Z / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// Chance of counts as far from these shares or farther (Pearson's χ²); `None` with fewer than 5 expected in a cell.
fn even(counts: &[usize], shares: &[f64]) -> Option<f64> {
    let n: usize = counts.iter().sum();
    let mut sum = 0.0;
    for (&count, share) in counts.iter().zip(shares) {
        let expected = share * n as f64;
        if expected < 5.0 {
            return None;
        }
        sum += (count as f64 - expected).powi(2) / expected;
    }
    let spread = ChiSquared::new((counts.len() - 1) as f64).ok()?;
    Some(1.0 - spread.cdf(sum))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wilsons_interval_is_the_published_one() {
        // Newcombe, Statistics in Medicine 17 (1998), table I, method 3, from memory: 81 of 263, 15 of 148, 0 of 20, 1 of 29.
        for (hits, n, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let found = wilson(hits, n);
            assert!(
                (found.0 - low).abs() < 6e-5 && (found.1 - high).abs() < 6e-5,
                "{hits} of {n}: {found:?}"
            );
        }
    }

    #[test]
    fn bins_hold_equal_counts_and_an_overconfident_curve_shows() {
        // Stated 0.9, right half of the time.
        let looks: Vec<(f64, bool)> = (0..100).map(|at| (0.9, at % 2 == 0)).collect();
        let bins = bins(looks);
        assert_eq!(bins.len(), 10);
        assert!(bins.iter().all(|bin| bin.n == 10 && bin.interval.1 < bin.stated));
    }

    #[test]
    fn uneven_ranks_are_unlikely_and_even_ones_are_not() {
        assert!(even(&[10, 40, 40, 10], &SEVERITY_SHARES).is_some_and(|chance| chance > 0.99));
        // χ² = 4 · 400/10 · … by hand: (30−10)²/10 · 2 + (20−40)²/40 · 2 = 100.
        assert!(even(&[30, 20, 20, 30], &SEVERITY_SHARES).is_some_and(|chance| chance < 1e-9));
        assert_eq!(even(&[1, 2, 3, 1], &SEVERITY_SHARES), None);
    }
}
