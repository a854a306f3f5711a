//! What this machine can do: products and sums of doubles, as many side by side as its vectors hold.

use std::hint::black_box;

use fearless_simd::{Level, dispatch};

use super::seconds;

/// Numbers side by side: enough vectors of them for both units and their latency, few enough for the registers.
const CHAINS: usize = 40;
const ROUNDS: usize = 2_000_000;

/// Products and sums a second of one core, on numbers in registers.
pub(crate) fn flops_per_second() -> f64 {
    let level = Level::new();
    let taken = seconds(|| {
        black_box(dispatch!(level, _simd => rounds(black_box(0.999_999_9), black_box(1e-7))));
    });
    (ROUNDS * CHAINS * 2) as f64 / taken
}

#[expect(
    clippy::inline_always,
    reason = "so that it is made for the vectors of the level it is dispatched to"
)]
#[inline(always)]
fn rounds(by: f64, more: f64) -> [f64; CHAINS] {
    let mut sums = [1.0; CHAINS];
    for _ in 0..ROUNDS {
        for sum in &mut sums {
            *sum = *sum * by + more;
        }
    }
    sums
}
