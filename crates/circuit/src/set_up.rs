//! Set-ups: how the vehicle stands while a reading is taken, and conditions over them.
//!
//! A set-up has one text form, used by files, commands, stored jobs and the page alike:
//! `key on; S1 apart; fan commanded; pressure 8 bar; jumper S1.1 S1.2`.

mod change;
mod error;
mod provoked;
mod remarks;
#[cfg(test)]
mod tests;
mod text;
mod words;
mod written;

use std::collections::{BTreeMap, BTreeSet};

use crate::branch::At;
use crate::id::{ConnectorId, DeviceId, FuseId, LoadId, PointId, RelayId, RhythmId, SensedId};
use crate::model::{Circuit, Part, Sensed};

pub use change::{changes_between, minutes, minutes_between, neighbouring_set_ups};
pub use error::SetUpError;
pub use provoked::{Provocation, Provoked};
pub use text::parse_set_up;

/// What the ignition key or start button says, and what follows from it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Key {
    /// Off, bus still awake.
    Off,
    /// Accessory.
    Accessory,
    /// On, engine off.
    #[default]
    On,
    /// Cranking.
    Cranking,
    /// Engine running.
    Running,
    /// Off, feeds still held by a module's own relay.
    Held,
    /// Off long enough that everything sleeps.
    Asleep,
}

impl Key {
    /// Every position.
    pub const ALL: [Self; 7] = [
        Self::Off,
        Self::Accessory,
        Self::On,
        Self::Cranking,
        Self::Running,
        Self::Held,
        Self::Asleep,
    ];

    /// Its word in files and commands.
    pub fn word(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Accessory => "accessory",
            Self::On => "on",
            Self::Cranking => "cranking",
            Self::Running => "running",
            Self::Held => "held",
            Self::Asleep => "asleep",
        }
    }
}

/// How the vehicle stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SetUp {
    /// Key position.
    pub key: Key,
    /// Connectors that are apart.
    pub apart: BTreeSet<ConnectorId>,
    /// Accessories taken out, their connectors joined directly.
    pub taken_out: BTreeSet<DeviceId>,
    /// Fuses pulled.
    pub fuses_out: BTreeSet<FuseId>,
    /// Relays pulled.
    pub relays_out: BTreeSet<RelayId>,
    /// Relays pulled and their contacts bridged.
    pub relays_bridged: BTreeSet<RelayId>,
    /// Battery negative lifted.
    pub battery_off: bool,
    /// Sensed values that differ from their usual one, in the unit of each.
    pub sensed: BTreeMap<SensedId, f64>,
    /// Loads commanded on.
    pub commanded: BTreeSet<LoadId>,
    /// Rhythms whose phases together take another part of the time than the circuit says, percent.
    pub duty: BTreeMap<RhythmId, f64>,
    /// Rhythms that are held in a phase, or at rest (`None`).
    pub held: BTreeMap<RhythmId, Option<usize>>,
    /// What is clipped in beside the reading itself.
    pub placed: Vec<Placed>,
    /// What is done at a place meanwhile, to make a fault show that comes and goes.
    pub provoked: Option<Provoked>,
}

/// Something clipped into the circuit.
#[derive(Clone, Debug, PartialEq)]
pub enum Placed {
    /// A jumper wire (20 mΩ), fused if a rating is given.
    Jumper {
        /// One end.
        a: PointId,
        /// The other end.
        b: PointId,
        /// Rating of its fuse, amperes.
        fuse_amps: Option<f64>,
    },
    /// A resistor, in place of a sensor or as a load.
    Resistor {
        /// One end.
        a: PointId,
        /// The other end.
        b: PointId,
        /// Its resistance.
        ohms: f64,
    },
    /// A 12 V bulb as a load.
    Bulb {
        /// One end.
        a: PointId,
        /// The other end.
        b: PointId,
        /// Rated power at 12 V.
        watts: f64,
    },
    /// A limited source in place of a sensor.
    Source {
        /// Positive end.
        plus: PointId,
        /// Negative end.
        minus: PointId,
        /// Its voltage.
        volts: f64,
        /// Its current limit.
        limit_amps: f64,
    },
    /// A wire laid over a suspected one, end to end (0.1 Ω with its clips).
    OverlayWire {
        /// One end.
        a: PointId,
        /// The other end.
        b: PointId,
    },
}

/// A condition over set-ups.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    /// In every set-up.
    Always,
    /// In none.
    Never,
    /// Key in one of these positions.
    KeyIn(BTreeSet<Key>),
    /// The connector is mated.
    Mated(ConnectorId),
    /// The accessory is plugged in.
    Fitted(DeviceId),
    /// The fuse is in its holder.
    FuseIn(FuseId),
    /// The relay is in its socket.
    RelayIn(RelayId),
    /// The relay is out and its contacts bridged.
    RelayBridged(RelayId),
    /// Battery negative is on.
    BatteryOn,
    /// The load is commanded.
    Commanded(LoadId),
    /// The rhythm runs and is held in this phase.
    InPhase(RhythmId, usize),
    /// The sensed value is at least this.
    SensedAtLeast(SensedId, f64),
    /// Not so.
    Not(Box<Condition>),
    /// All of these.
    All(Vec<Condition>),
    /// Any of these.
    Any(Vec<Condition>),
}

impl SetUp {
    /// Key on, engine off, everything joined, nothing commanded, every sensed value as usual.
    pub fn normal() -> Self {
        Self::default()
    }

    /// The same with nothing wiggled, heated, wetted or kept under load.
    #[must_use]
    pub fn at_rest(&self) -> Self {
        Self {
            provoked: None,
            ..self.clone()
        }
    }
}

impl Part {
    /// Its name, or its id if it has none.
    pub fn called(&self) -> &str {
        if self.name.is_empty() { &self.id } else { &self.name }
    }
}

impl Sensed {
    /// Its value when a set-up with the key in this position does not say.
    pub fn usual_with(&self, key: Key) -> f64 {
        self.at_key.get(&key).copied().unwrap_or(self.usual)
    }

    /// Width of its range.
    pub fn span(&self) -> f64 {
        self.range.1 - self.range.0
    }
}

impl Circuit {
    /// The true value of a sensed quantity in a set-up: that of a rhythm's phase, or the one it names, or the usual one.
    pub fn sensed_value(&self, set_up: &SetUp, sensed: SensedId) -> f64 {
        self.sensed_in_phase(set_up, sensed)
            .or_else(|| set_up.sensed.get(&sensed).copied())
            .unwrap_or(self.sensed[sensed.idx()].usual_with(set_up.key))
    }

    /// The value that a sensed quantity has to be brought to between two set-ups; `None` where it has it already, or takes
    /// it as the key is turned.
    pub fn brought_to(&self, from: &SetUp, to: &SetUp, sensed: SensedId) -> Option<f64> {
        let value = self.sensed_value(to, sensed);
        let usual = |key| self.sensed[sensed.idx()].usual_with(key);
        let with_the_key = usual(from.key) != usual(to.key) && value == usual(to.key);
        (value != self.sensed_value(from, sensed) && !with_the_key).then_some(value)
    }
}

impl Condition {
    /// Whether it holds. A sensed value counts as the device at hand senses it, so a drifted pressure switch opens late.
    ///
    /// `All` of nothing holds, `Any` of nothing does not.
    pub fn holds(&self, at: &At<'_>) -> bool {
        let set_up = at.set_up;
        match self {
            Self::Always => true,
            Self::Never => false,
            Self::KeyIn(keys) => keys.contains(&set_up.key),
            Self::Mated(connector) => !set_up.apart.contains(connector),
            Self::Fitted(device) => !set_up.taken_out.contains(device),
            Self::FuseIn(fuse) => !set_up.fuses_out.contains(fuse),
            Self::RelayIn(relay) => !set_up.relays_out.contains(relay) && !set_up.relays_bridged.contains(relay),
            Self::RelayBridged(relay) => set_up.relays_bridged.contains(relay),
            Self::BatteryOn => !set_up.battery_off,
            Self::Commanded(load) => set_up.commanded.contains(load),
            Self::InPhase(rhythm, phase) => {
                set_up.held.get(rhythm) == Some(&Some(*phase)) && at.circuit.rhythms[rhythm.idx()].runs.holds(at)
            }
            Self::SensedAtLeast(sensed, least) => at.sensed(*sensed) >= *least,
            Self::Not(condition) => !condition.holds(at),
            Self::All(conditions) => conditions.iter().all(|condition| condition.holds(at)),
            Self::Any(conditions) => conditions.iter().any(|condition| condition.holds(at)),
        }
    }
}
