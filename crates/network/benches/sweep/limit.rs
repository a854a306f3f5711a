//! What this machine can do: products and sums of doubles, as many side by side as its vectors hold.

use std::hint::black_box;

use super::seconds;

const ROUNDS: usize = 2_000_000;

/// Products and sums a second of one core, on numbers in registers.
pub(crate) fn flops_per_second() -> f64 {
    // Four chains of eight: enough for both units and their latency.
    let mut sums = [[1.0_f64; 8]; 4];
    let (by, more) = (black_box(0.999_999_9), black_box(1e-7));
    let taken = seconds(|| {
        for _ in 0..ROUNDS {
            for chain in &mut sums {
                for sum in chain {
                    *sum = *sum * by + more;
                }
            }
        }
        black_box(&sums);
    });
    (ROUNDS * 4 * 8 * 2) as f64 / taken
}
