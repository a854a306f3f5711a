//! The safe test within one change of the set-up at hand that tells most, its minutes not counted.

use bench::{BenchError, Placement, Test};
use diagnosis::{information, offer};

use super::{Choice, Turn};

/// A test that is expected to tell less than this is no reason to go on, bits: as for the product.
const LEAST_BITS: f64 = 0.02;

pub(super) fn next(turn: &mut Turn<'_, '_>) -> Result<Choice, BenchError> {
    let scene = turn.scene;
    let mut tests = offer(scene.circuit, scene.now, 1, turn.yard.cranking);
    tests.retain(|test| !turn.done(test));
    let mut worth: Vec<(f64, Test)> = Vec::with_capacity(tests.len());
    for group in tests.chunk_by(|a, b| a.set_up == b.set_up) {
        let placements: Vec<Placement> = group.iter().map(|test| test.placement.clone()).collect();
        let told = information(scene.belief, scene.bench, turn.memory, &group[0].set_up, &placements)?;
        let bits = told.into_iter().map(|told| told.bits);
        worth.extend(bits.zip(group.iter().cloned()).filter(|(bits, _)| *bits >= LEAST_BITS));
    }
    worth.sort_by(|a, b| b.0.total_cmp(&a.0));
    let next = turn.first_safe(worth.into_iter().map(|(_, test)| test))?;
    Ok(next.map(Choice::one).unwrap_or_default())
}
