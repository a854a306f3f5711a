//! What a test does to a vehicle whose fault is known: the same figures and limits as for one that is only suspected.

use bench::{BenchError, Hypothesis, Predict, Test};
use circuit::Circuit;

use super::{Cause, bare, degrees, draws_nothing};
use crate::{DangerKind, Under};

/// What this test would harm in a circuit broken like this: every limit passed, and voltage that can harm an ohmmeter.
/// What merely moves, or spoils a figure, is no harm. Empty, too, where the bench has no answer.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn harm(
    bench: &dyn Predict,
    circuit: &Circuit,
    broken: &Hypothesis<'_>,
    test: &Test,
) -> Result<Vec<DangerKind>, BenchError> {
    if draws_nothing(test) {
        return Ok(Vec::new());
    }
    let vehicle = Cause {
        under: Under::Healthy,
        chance: 1.0,
        hypothesis: broken.clone(),
    };
    let found = degrees(bench, circuit, &[vehicle], test, &bare(&test.set_up))?;
    let all = found.into_iter().flatten().flatten().map(|(what, _)| what);
    Ok(all
        .filter(|what| {
            !matches!(
                what,
                DangerKind::Acts { .. } | DangerKind::LiveOhms { harms: false, .. }
            )
        })
        .collect())
}
