//! What a test would tell, before it is done.
use bench::{BenchError, Placement, Predict};
use circuit::SetUp;

use crate::{Belief, Outcome, Predictions};

/// What a test, or several together, would tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Information {
    /// Expected bits about which repair is needed.
    pub bits: f64,
    /// What each (joint) outcome would mean, most likely first; at most a handful.
    pub outcomes: Vec<Outcome>,
}

/// What each of these tests would tell, done alone in this set-up, in their order.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn information(
    belief: &Belief<'_>,
    bench: &dyn Predict,
    predictions: &mut Predictions,
    set_up: &SetUp,
    placements: &[Placement],
) -> Result<Vec<Information>, BenchError> {
    let _ = (belief, bench, predictions, set_up, placements);
    todo!("being written")
}

/// What these tests would tell, all done in this set-up: up to 4.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn joint_information(
    belief: &Belief<'_>,
    bench: &dyn Predict,
    predictions: &mut Predictions,
    set_up: &SetUp,
    group: &[Placement],
) -> Result<Information, BenchError> {
    let _ = (belief, bench, predictions, set_up, group);
    todo!("being written")
}
