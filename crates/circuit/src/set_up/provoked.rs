//! What is done at a place while a reading is taken, so that a fault which comes and goes may show.
//!
//! It changes no circuit: what a reading under it says of a fault that comes and goes is weighed elsewhere.

use crate::id::PartId;

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Provocation {
    /// Moved, bent and tapped by hand.
    Wiggle,
    /// Warmed with a hot-air gun.
    Heat,
    /// Wetted.
    Soak,
    /// Kept under its working current until it is warm.
    Load,
}

/// What is done, and to which part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Provoked {
    /// What is done.
    pub how: Provocation,
    /// The part it is done to.
    pub at: PartId,
}

impl Provocation {
    /// Every one.
    pub const ALL: [Self; 4] = [Self::Wiggle, Self::Heat, Self::Soak, Self::Load];

    /// Its word in files and commands.
    pub fn word(self) -> &'static str {
        match self {
            Self::Wiggle => "wiggle",
            Self::Heat => "heat",
            Self::Soak => "soak",
            Self::Load => "load",
        }
    }

    /// What the technician would say of the part.
    pub fn words(self) -> &'static str {
        match self {
            Self::Wiggle => "wiggled",
            Self::Heat => "warmed up",
            Self::Soak => "wetted",
            Self::Load => "kept under load",
        }
    }
}
