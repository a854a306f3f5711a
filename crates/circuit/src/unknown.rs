//! What nobody documented: alternatives with their chances, of which one is true of the vehicle.

use crate::fault::Fault;

/// One thing that nobody documented. Unknowns of a circuit are independent of each other: a vehicle has one alternative
/// of each.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// Stable name: `M1.3`.
    pub path: String,
    /// Where, in plain words: "sensor signal, pin 3 of the engine module".
    pub place: String,
    /// What it may be. Their chances sum to 1.
    pub alternatives: Vec<Alternative>,
}

/// What an [`Unknown`] may be.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// In plain words: "a pull-up of about 10 kΩ to the module's 5 V".
    pub words: String,
    /// How likely before anything is measured.
    pub chance: f64,
    /// How the circuit differs from the one that was compiled; nothing for the alternative that was. Not something that
    /// fails: without severity, weight or repair.
    pub changes: Fault,
}
