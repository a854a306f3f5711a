//! The checks by which a module sets codes.

use crate::id::{BranchId, ChannelId, ModuleId, MonitorId, PointId};
use crate::model::{Circuit, Pin};
use crate::set_up::Condition;

/// A check by which a module sets a code.
#[derive(Clone, Debug, PartialEq)]
pub struct Monitor {
    /// The code: `P0532`.
    pub code: String,
    /// In plain words.
    pub words: String,
    /// What it watches.
    pub watches: Watches,
    /// Sets when that lies here …
    pub limits: Limits,
    /// … in a set-up where it runs …
    pub runs: Condition,
    /// … for this long, seconds.
    pub seconds: f64,
    /// What the module does then, in plain words.
    pub then: String,
}

/// What a check watches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watches {
    /// A channel's voltage, or its hertz if it counts.
    Channel(ChannelId),
    /// The voltage of a driver's pin against the ground of its module.
    Volts(ModuleId, PointId),
    /// The current in the driver of a pin.
    Amps(ModuleId, PointId, BranchId),
}

/// Where a value sets a code: volts, amperes, or hertz.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Below this …
    pub below: Option<f64>,
    /// … or above this …
    pub above: Option<f64>,
    /// … or between these.
    pub between: Option<(f64, f64)>,
}

impl Limits {
    /// Whether this value sets the code.
    pub fn fails(&self, value: f64) -> bool {
        self.below.is_some_and(|limit| value < limit)
            || self.above.is_some_and(|limit| value > limit)
            || self.between.is_some_and(|(low, high)| (low..=high).contains(&value))
    }
}

impl Monitor {
    /// The channel, if it watches one.
    pub fn channel(&self) -> Option<ChannelId> {
        match self.watches {
            Watches::Channel(channel) => Some(channel),
            Watches::Volts(..) | Watches::Amps(..) => None,
        }
    }
}

impl Circuit {
    /// The first check of each code: a code is read by its name, whichever of its checks set it.
    pub fn codes(&self) -> impl Iterator<Item = MonitorId> {
        let all = self.monitors.iter().enumerate();
        let is_first = |at: usize, code: &str| !self.monitors[..at].iter().any(|other| other.code == code);
        all.filter(move |(at, one)| is_first(*at, &one.code))
            .map(|(at, _)| MonitorId::from(at))
    }

    /// The module that sets a monitor's code.
    pub fn module_of(&self, monitor: &Monitor) -> ModuleId {
        match monitor.watches {
            Watches::Channel(channel) => self.channels[channel.idx()].module,
            Watches::Volts(module, _) | Watches::Amps(module, ..) => module,
        }
    }

    /// The pin that a monitor watches.
    pub fn watched(&self, monitor: &Monitor) -> Option<&Pin> {
        match monitor.watches {
            Watches::Channel(channel) => self.pin_of(channel),
            Watches::Volts(module, point) | Watches::Amps(module, point, _) => {
                let pins = &self.modules[module.idx()].pins;
                pins.iter().find(|pin| pin.point == point)
            }
        }
    }
}
