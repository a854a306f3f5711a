//! What nobody documented: alternatives with their chances, of which one is true of the vehicle.

use quantity::{Amount, Unit};

use crate::fault::Fault;

/// One thing that nobody documented. Unknowns of a circuit are independent of each other: a vehicle has one alternative
/// of each.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// Stable name: `M1.3/pull`.
    pub path: String,
    /// Where, in plain words: "sensor signal at M1.3".
    pub place: String,
    /// What it may be. Their chances sum to 1.
    pub alternatives: Vec<Alternative>,
}

/// What an [`Unknown`] may be.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// In plain words: "a pull-up". Those that differ in nothing but their size have the same.
    pub what: String,
    /// Roughly how large, in the unit's base.
    pub size: Option<(f64, Unit)>,
    /// How likely before anything is measured.
    pub chance: f64,
    /// How the circuit differs from the one that was compiled; nothing for the alternative that was. Not something that
    /// fails: without severity, weight or repair.
    pub changes: Fault,
}

impl Alternative {
    /// With its size: "a pull-up of about 10 kΩ".
    pub fn words(&self) -> String {
        match self.size {
            Some((value, unit)) => format!("{} of about {}", self.what, Amount::new(value, unit)),
            None => self.what.clone(),
        }
    }
}
