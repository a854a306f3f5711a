//! What may be inside the modules where nobody documented it: every combination, with its chance.

use circuit::{Circuit, Fault};

/// The possible insides; one, as the file has it, where everything is documented.
pub(crate) struct Insides {
    /// Chance of each before any reading.
    pub(crate) chances: Vec<f64>,
    /// What each changes in the circuit.
    pub(crate) changes: Vec<Vec<Fault>>,
}

impl Insides {
    pub(crate) fn of(_circuit: &Circuit) -> Self {
        Self {
            chances: vec![1.0],
            changes: vec![Vec::new()],
        }
    }
}
