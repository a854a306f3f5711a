//! Random numbers by what they are for: a generator a seed, a job and a purpose.
//!
//! What a vehicle shows at one test is the same whoever asks for it and whatever was asked before, so strategies meet the
//! same luck (common random numbers).

use rand::{Rng, RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;

/// Where a job's random numbers come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Luck {
    pub(crate) seed: u64,
    pub(crate) job: u64,
}

impl Luck {
    /// The generator for one purpose.
    pub(crate) fn of(self, purpose: &str) -> Pcg64 {
        // FNV-1a, 64 bits: Fowler, Noll, Vo; constants from memory. It only has to keep purposes apart.
        let bytes = self.seed.to_le_bytes().into_iter().chain(self.job.to_le_bytes());
        let hash = bytes
            .chain(purpose.bytes())
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
                (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
            });
        Pcg64::seed_from_u64(hash)
    }

    /// A standard normal number for one purpose.
    pub(crate) fn normal(self, purpose: &str) -> f64 {
        normal(&mut self.of(purpose))
    }
}

/// A standard normal number (Box and Muller 1958).
pub(crate) fn normal(rng: &mut impl Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.random(), rng.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// One of several by weight; the last if rounding leaves nothing. `None` if there are none or all weigh nothing.
pub(crate) fn pick(rng: &mut impl Rng, weights: impl Iterator<Item = f64> + Clone) -> Option<usize> {
    let sum: f64 = weights.clone().sum();
    let mut left = rng.random::<f64>() * sum;
    let mut last = None;
    for (at, weight) in weights.enumerate().filter(|(_, weight)| *weight > 0.0) {
        last = Some(at);
        if left < weight {
            break;
        }
        left -= weight;
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_purpose_has_its_own_numbers_and_always_the_same() {
        let luck = |seed, job| Luck { seed, job };
        let first = |luck: Luck, purpose| luck.of(purpose).random::<u64>();
        assert_eq!(first(luck(1, 2), "fault"), first(luck(1, 2), "fault"));
        let others = [
            first(luck(1, 2), "meter"),
            first(luck(1, 3), "fault"),
            first(luck(2, 2), "fault"),
        ];
        assert!(!others.contains(&first(luck(1, 2), "fault")));
    }

    #[test]
    fn what_weighs_three_times_as_much_is_picked_three_times_as_often() {
        let mut rng = Luck { seed: 5, job: 0 }.of("pick");
        let n = 4000;
        let ones = (0..n)
            .filter(|_| pick(&mut rng, [1.0, 3.0, 0.0].into_iter()) == Some(1))
            .count();
        // 0.75 with a standard deviation of 0.0068.
        assert!((ones as f64 / f64::from(n) - 0.75).abs() < 0.03, "{ones} of {n}");
        assert_eq!(pick(&mut rng, [0.0].into_iter()), None);
    }

    #[test]
    fn normal_numbers_have_mean_zero_and_variance_one() {
        let luck = Luck { seed: 9, job: 1 };
        let numbers: Vec<f64> = (0..4000).map(|at| luck.normal(&at.to_string())).collect();
        let mean = numbers.iter().sum::<f64>() / 4000.0;
        let square = numbers.iter().map(|x| x * x).sum::<f64>() / 4000.0;
        // Standard deviations 0.016 and 0.022.
        assert!(mean.abs() < 0.07 && (square - 1.0).abs() < 0.1, "{mean}, {square}");
    }
}
