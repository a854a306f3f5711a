//! What the whole job is expected to cost from here: repairing at once in the best order, or measuring first.
//!
//! Over the points and outcomes of the rough look. A cost is of masses (chances that need not sum to 1), so that those of a
//! test's outcomes add up to the cost after it. Two questions, kept apart: *does measuring pay* is answered by repairs alone
//! after at most one further step, so that nothing is promised which no test at hand can keep; *which test* is answered
//! with what the doubt that is left then would cost at the best rate in sight, so that a reading which prepares others is
//! not missed. Limits: two steps (a step may be several readings at one place); outcomes as coarse as the rough look.

use super::split::{Table, entropy};
use crate::Costs;

/// Later readings tell less for their minutes than the best one in sight, by this factor. Common practice, no source.
const LATER: f64 = 1.5;

/// Prices of what may be needed.
#[derive(Clone, Debug)]
pub(crate) struct Outlay {
    pub(crate) costs: Costs,
    /// Of each kind of cure, proof included.
    pub(crate) prices: Vec<f64>,
    /// Which kind each possibility needs.
    pub(crate) kinds: Vec<usize>,
    /// Chance of each possibility; they sum to 1.
    pub(crate) masses: Vec<f64>,
    /// What a bit costs at the best rate in sight; infinite while none is known.
    pub(crate) per_bit: f64,
}

/// What is expected to be spent from here until the vehicle is proven repaired, this and the next step measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Outlook {
    /// With repairs alone after that: it pays if this is less than repairing at once.
    pub(crate) sure: f64,
    /// With what is left in doubt found out later.
    pub(crate) likely: f64,
}

impl Outlay {
    /// Takes the best rate in sight, bits a minute.
    pub(crate) fn at_rate(&mut self, bits_per_minute: f64) {
        self.per_bit = LATER * self.costs.of_minutes(1.0) / bits_per_minute.max(1e-9);
    }

    /// Repairing at once.
    pub(crate) fn now(&self) -> f64 {
        self.repair(&self.by_kind(&self.masses))
    }

    fn by_kind(&self, masses: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.prices.len()];
        for (mass, &kind) in masses.iter().zip(&self.kinds) {
            if let Some(sum) = sums.get_mut(kind) {
                *sum += mass;
            }
        }
        sums
    }

    /// Repairing in the best order.
    fn repair(&self, by_kind: &[f64]) -> f64 {
        let known = by_kind.iter().copied().zip(self.prices.iter().copied());
        let mut of: Vec<(f64, f64)> = known.filter(|one| one.0 > 0.0).collect();
        self.costs.expected(&mut of)
    }

    /// Repairing at once, or finding out first for what a bit costs.
    fn left(&self, by_kind: &[f64]) -> Outlook {
        let sure = self.repair(by_kind);
        let mass: f64 = by_kind.iter().sum();
        let needed: f64 = by_kind.iter().zip(&self.prices).map(|(mass, price)| mass * price).sum();
        // Entropy of masses that sum to less than 1, weighted by their sum.
        let doubt = entropy(by_kind) + if mass > 0.0 { mass * mass.log2() } else { 0.0 };
        let later = if doubt > 0.0 {
            needed + self.per_bit * doubt
        } else {
            needed
        };
        let likely = sure.min(later);
        Outlook { sure, likely }
    }

    /// One test of these masses, and nothing after it.
    pub(crate) fn after(&self, table: &Table, minutes: f64, masses: &[f64]) -> Outlook {
        let whole: f64 = masses.iter().sum();
        let measured = self.costs.of_minutes(minutes) * whole;
        let start = Outlook {
            sure: measured,
            likely: measured,
        };
        table.parts(masses).iter().fold(start, |sum, part| {
            let left = self.left(&self.by_kind(part));
            Outlook {
                sure: sum.sure + left.sure,
                likely: sum.likely + left.likely,
            }
        })
    }

    /// One test, and under each of its outcomes the best of these, or none.
    pub(crate) fn ahead(&self, table: &Table, minutes: f64, seconds: &[(&Table, f64)]) -> Outlook {
        let measured = self.costs.of_minutes(minutes);
        let mut sum = Outlook {
            sure: measured,
            likely: measured,
        };
        for part in table.parts(&self.masses) {
            let mut best = self.left(&self.by_kind(&part));
            for (second, minutes) in seconds {
                let after = self.after(second, *minutes, &part);
                best.sure = best.sure.min(after.sure);
                best.likely = best.likely.min(after.likely);
            }
            sum.sure += best.sure;
            sum.likely += best.likely;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Expected;

    /// Four causes of equal chance, each repair 100 with its proof.
    fn four() -> Outlay {
        Outlay {
            costs: Costs {
                most_in_vain: 10,
                ..Costs::default()
            },
            prices: vec![100.0; 4],
            kinds: vec![0, 1, 2, 3],
            masses: vec![0.25; 4],
            per_bit: f64::INFINITY,
        }
    }

    fn table(outcomes: [usize; 4]) -> Table {
        let n = 2;
        let share = |at: usize| (0..n).map(move |outcome| f64::from(u8::from(outcome == at)));
        Table {
            labels: vec![vec![Expected::Range(0.0, 1.0)]; n],
            shares: outcomes.into_iter().flat_map(share).collect(),
        }
    }

    #[test]
    fn repairs_in_vain_and_halves_are_counted_by_hand() {
        let outlay = four();
        // 100 · (1 + 2 + 3 + 4) / 4.
        assert!((outlay.now() - 250.0).abs() < 1e-9);
        // Ten minutes at 1.5, then 100 · (1 + 2) / 2.
        let halves = outlay.after(&table([0, 0, 1, 1]), 10.0, &outlay.masses);
        assert!(
            (halves.sure - 165.0).abs() < 1e-9 && halves.sure == halves.likely,
            "{halves:?}"
        );
        // Twice halved the cause is known.
        let second = table([0, 1, 0, 1]);
        let both = outlay.ahead(&table([0, 0, 1, 1]), 10.0, &[(&second, 10.0)]);
        assert!((both.sure - 130.0).abs() < 1e-9, "{both:?}");
    }

    #[test]
    fn what_tells_nothing_or_takes_too_long_does_not_pay() {
        let outlay = four();
        let nothing = outlay.ahead(&table([0, 0, 0, 0]), 1.0, &[]);
        assert!(nothing.sure > outlay.now());
        let long = outlay.ahead(&table([0, 0, 1, 1]), 90.0, &[]);
        assert!(long.sure > outlay.now(), "{long:?}");
    }

    #[test]
    fn doubt_that_is_cheap_to_resolve_is_counted_at_the_rate_in_sight_and_never_taken_for_sure() {
        let mut outlay = four();
        outlay.at_rate(1.0);
        // One bit is left in each half, at 1.5 · 1.5.
        let halves = outlay.after(&table([0, 0, 1, 1]), 10.0, &outlay.masses);
        assert!((halves.likely - (15.0 + 100.0 + 2.25)).abs() < 1e-9 && (halves.sure - 165.0).abs() < 1e-9);
    }
}
