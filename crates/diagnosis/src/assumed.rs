//! What the weighing takes vehicles, meters and people to be, for whoever draws them at random to try the reasoning on:
//! one place for both, so that a trial cannot drift away from what it tries.
//!
//! Gives chances only; nothing here is drawn.

use bench::{Kind, Placement, Shown};
use circuit::Circuit;

use crate::evidence::Sense;
use crate::likelihood;

pub use crate::evidence::{COMMON, COMMON_SAME_TEST};
pub use crate::likelihood::{ELSEWHERE_AGAIN, GHOST_RESTS, GHOST_VOLTS, SAME_WRONG, WRONG_AGAIN};
pub use crate::model::{SAG_SHARED, SAGS, drifted, wanders};
pub use crate::suspects::DISTURBED;

/// Chance that a reading is plain wrong: lead not touching, wrong cavity, typing.
pub fn wrong(circuit: &Circuit, placement: &Placement) -> f64 {
    Sense::of(circuit, placement).wrong()
}

/// Chance of showing this if the reading is plain wrong; for a number its density, by the instrument's unit.
pub fn if_wrong(circuit: &Circuit, placement: &Placement, shown: &Shown) -> f64 {
    likelihood::slip(&Sense::of(circuit, placement), shown)
}

/// The same if something outside the circuit decides what is shown.
pub fn if_disturbed(circuit: &Circuit, placement: &Placement, shown: &Shown) -> f64 {
    likelihood::elsewhere(&Sense::of(circuit, placement), shown)
}

/// Chance of showing this, which is no number, where a kind and a value are what the instrument should show.
pub fn if_right(circuit: &Circuit, placement: &Placement, shown: &Shown, kind: Kind, value: f64) -> f64 {
    likelihood::category(&Sense::of(circuit, placement), shown, kind, value, 0.0)
}
