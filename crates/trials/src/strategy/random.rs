//! Any safe test that tells anything, within one change of the set-up at hand.

use bench::BenchError;
use diagnosis::{information, offer};
use rand::seq::SliceRandom as _;

use super::{Choice, Turn};

/// A test that is expected to tell less than this is passed over, bits: as the product does.
const LEAST_BITS: f64 = 0.02;
/// Tests drawn before it is given up.
const MOST_DRAWN: usize = 60;

pub(super) fn next(turn: &mut Turn<'_, '_>) -> Result<Choice, BenchError> {
    let scene = turn.scene;
    let mut tests = offer(scene.circuit, scene.now, 1, turn.yard.cranking);
    tests.retain(|test| !turn.done(test));
    tests.shuffle(&mut turn.luck.of(&format!("random {}", scene.readings.len())));
    for test in tests.into_iter().take(MOST_DRAWN) {
        let placements = std::slice::from_ref(&test.placement);
        let told = information(scene.belief, scene.bench, turn.memory, &test.set_up, placements)?;
        if told.first().is_some_and(|told| told.bits >= LEAST_BITS) && turn.safe(&test)? {
            return Ok(Choice::one(test));
        }
    }
    Ok(Choice::default())
}
