//! What a circuit is, its file, and what can break in it.
pub mod archetype;
pub mod branch;
pub mod colour;
pub mod fault;
pub mod file;
pub mod id;
mod lookup;
pub mod model;
pub mod monitor;
pub mod rhythm;
pub mod set_up;
mod unknown;

pub use archetype::{Archetype, ArchetypeError, Asks, Changed, Choice, Question};
pub use branch::{Access, At, Base, Branch, BranchKind, Law, Moved, OPEN_OHMS, Param, Point, Role};
pub use fault::{
    Change, Fault, Mode, Repair, Severity, UnknownFault, fault_by_path, possible_faults, unlisted_bridges,
};
pub use file::{DEMO, DeviceKind, Mistake, device_kinds, in_one_text, parse, parse_with, schema};
pub use id::*;
pub use model::*;
pub use monitor::{Limits, Monitor, Watches};
pub use rhythm::{Passing, Phase, Rhythm};
pub use set_up::{
    Condition, Key, Placed, Provocation, Provoked, SetUp, SetUpError, changes_between, minutes_between,
    neighbouring_set_ups, parse_set_up,
};
pub use unknown::{Alternative, Unknown};
#[cfg(test)]
mod sample;
