//! All that is known of a vehicle: what was said, what was read, and what was done to it meanwhile.

use bench::Reading;
use circuit::PartId;

use crate::Intake;

/// What is known of a vehicle.
#[derive(Clone, Copy, Debug)]
pub struct Case<'c> {
    /// Before any reading.
    pub intake: &'c Intake,
    /// Readings, in the order in which they were taken.
    pub readings: &'c [Reading],
    /// What was done between them, in order.
    pub deeds: &'c [Deed],
    /// Readings of a sound vehicle of the same kind, or of the other bank: they teach what is inside the modules, nothing of
    /// what is wrong with this one.
    pub twin: &'c [Reading],
}

/// Something done to the vehicle or looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Deed {
    /// So many readings had been taken before.
    pub after: usize,
    /// What it was.
    pub what: Done,
}

/// What was done.
#[derive(Clone, Debug, PartialEq)]
pub enum Done {
    /// The work with this key: see [`Repair::key`](circuit::Repair).
    Repaired(String),
    /// A part known to be good was put in.
    Swapped(PartId),
    /// A connector was pulled, looked at, and pushed home again.
    Reseated(PartId),
    /// A place was looked at closely.
    LookedAt {
        /// The part.
        at: PartId,
        /// Damage was seen there: corrosion, a pushed-back terminal, chafed insulation, a burnt part.
        damaged: bool,
    },
    /// Codes were cleared.
    Cleared,
}

impl Done {
    /// Whether the circuit may be another than before.
    pub fn changes_circuit(&self) -> bool {
        match self {
            Self::Repaired(_) | Self::Swapped(_) | Self::Reseated(_) => true,
            Self::LookedAt { .. } | Self::Cleared => false,
        }
    }
}

impl<'c> Case<'c> {
    /// With readings only: nothing was done meanwhile.
    pub fn new(intake: &'c Intake, readings: &'c [Reading]) -> Self {
        Self {
            intake,
            readings,
            deeds: &[],
            twin: &[],
        }
    }

    /// All readings, those of a twin after the vehicle's own.
    pub(crate) fn all_readings(&self) -> impl Iterator<Item = &'c Reading> {
        self.readings.iter().chain(self.twin)
    }

    /// The readings taken on the circuit as it now is: those since something was done that may have changed it. What they
    /// rule out is ruled out for the next test, what earlier ones did may be so again.
    pub fn current_readings(&self) -> &'c [Reading] {
        let changed = self.deeds.iter().filter(|deed| deed.what.changes_circuit());
        let since = changed.map(|deed| deed.after).max().unwrap_or(0);
        self.readings.get(since..).unwrap_or_default()
    }
}
