//! Tests and readings: an instrument placed at points in a set-up, and what it showed.
//!
//! Both have one text form, used by commands, stored jobs and the page alike:
//! `voltmeter S1.2 battery-`, `clamp W3`, `scan pressure`, `code P0532`; shown as `10.4 V`, `OL`, `dim`, `yes`.

use circuit::{BranchId, ChannelId, MonitorId, PointId, SetUp};
use quantity::Unit;

/// An instrument where it is placed.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "leads are named as on the instrument")]
pub enum Placement {
    /// Voltmeter, 10 MΩ. Across a fuse it is the millivolt drop.
    Voltmeter { red: PointId, black: PointId },
    /// Ohmmeter.
    Ohmmeter { red: PointId, black: PointId },
    /// Diode test: shows volts at its test current.
    DiodeTest { red: PointId, black: PointId },
    /// Continuity beeper: yes or no.
    Continuity { red: PointId, black: PointId },
    /// Ammeter bridging a parted contact, a pulled fuse or any two points.
    Ammeter { red: PointId, black: PointId },
    /// Current clamp around the wire of a branch, positive from its first point to its second.
    Clamp { around: BranchId },
    /// The voltmeter on its alternating range, or counting.
    Alternating {
        shows: Alternating,
        red: PointId,
        black: PointId,
    },
    /// Incandescent test light, clip on `clip` (a battery post, usually), tip on `tip`.
    TestLight { tip: PointId, clip: PointId },
    /// Scan data value.
    Scan { channel: ChannelId },
    /// Trouble code.
    Code { monitor: MonitorId },
}

/// What a meter shows of a voltage that repeats.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Alternating {
    /// The effective value without the mean, volts.
    Volts,
    /// How often it rises in a second, hertz.
    Hertz,
    /// The share of the time in which it is above the middle, percent.
    Duty,
}

impl Alternating {
    /// Unit of what is shown.
    pub fn unit(self) -> Unit {
        match self {
            Self::Volts => Unit::Volt,
            Self::Hertz => Unit::Hertz,
            Self::Duty => Unit::Percent,
        }
    }
}

impl Placement {
    /// Nothing flows because of it, but for a voltmeter's microampere.
    pub fn only_looks(&self) -> bool {
        matches!(
            self,
            Self::Voltmeter { .. }
                | Self::Alternating { .. }
                | Self::Scan { .. }
                | Self::Code { .. }
                | Self::Clamp { .. }
        )
    }
}

/// An instrument, where it is placed, and how the vehicle stands: what could be measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// The instrument and its place.
    pub placement: Placement,
    /// How the vehicle stands.
    pub set_up: SetUp,
}

/// What an instrument showed.
#[derive(Clone, Debug, PartialEq)]
pub enum Shown {
    /// A number in the instrument's unit (V, Ω, A, or the channel's unit), with the displayed resolution.
    Number {
        /// The value.
        value: f64,
        /// One count of the last digit displayed.
        resolution: f64,
    },
    /// `OL`.
    OverRange,
    /// Would not settle.
    Unstable,
    /// Wandered between two values.
    Between {
        /// Least.
        low: f64,
        /// Most.
        high: f64,
        /// One count of the last digit displayed.
        resolution: f64,
    },
    /// A test light.
    Light(Light),
    /// Beeped or not, yes or no.
    YesNo(bool),
    /// A code's state.
    Code(CodeState),
    /// No communication with the module.
    NoCommunication,
    /// Could not be taken.
    NotTaken,
}

/// A test light's answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Light {
    /// Dark.
    Off,
    /// Glows.
    Dim,
    /// Full.
    Bright,
}

/// A code's state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeState {
    /// Set now.
    Present,
    /// Seen once, not confirmed.
    Pending,
    /// Set before, not now.
    History,
    /// Not set though its monitor ran.
    NotSet,
    /// Its monitor has not run: says nothing.
    NotRun,
}

/// A test that was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The test.
    pub test: Test,
    /// What it showed.
    pub shown: Shown,
}
