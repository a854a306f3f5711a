//! The reading nearest to the middle of what is still suspected, along the wire: half of the chance before it, half behind.

use bench::{BenchError, Test};
use diagnosis::touched;

use super::fixed::chart;
use super::{Choice, Turn};

pub(super) fn next(turn: &mut Turn<'_, '_>) -> Result<Choice, BenchError> {
    let yard = turn.yard;
    let mut places: Vec<(usize, f64)> = yard
        .faults
        .iter()
        .enumerate()
        .map(|(at, fault)| (yard.wires.of_fault(fault), turn.scene.belief.chance(at.into())))
        .collect();
    places.sort_unstable_by_key(|place| place.0);
    let whole: f64 = places.iter().map(|place| place.1).sum();
    // How far the chance before a test is from half of all; scan data and codes first, since they stand on the screen.
    let off_half = |test: &Test| {
        let Some((red, _)) = touched(&test.placement) else {
            return -1.0;
        };
        let here = yard.wires.of(red);
        let before: f64 = places
            .iter()
            .take_while(|place| place.0 < here)
            .map(|place| place.1)
            .sum();
        (before - 0.5 * whole).abs()
    };
    let mut tests: Vec<(f64, Test)> = chart(yard).into_iter().map(|test| (off_half(&test), test)).collect();
    tests.sort_by(|a, b| a.0.total_cmp(&b.0));
    let next = turn.first_safe(tests.into_iter().map(|(_, test)| test))?;
    Ok(next.map(Choice::one).unwrap_or_default())
}
