//! What the bench has answered so far, kept between readings: a new reading costs one row of answers.

/// A memory of the bench's answers for one circuit and its list of faults. Make a new one when either changes.
#[derive(Debug, Default)]
pub struct Predictions {}
