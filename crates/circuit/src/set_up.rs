//! Set-ups: how the vehicle stands while a reading is taken, and conditions over them.
//!
//! A set-up has one text form, used by files, commands, stored jobs and the page alike:
//! `key on; S1 apart; fan commanded; pressure 8 bar; jumper S1.1 S1.2`.

use std::collections::{BTreeMap, BTreeSet};

use crate::id::*;

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
    /// What is clipped in beside the reading itself.
    pub placed: Vec<Placed>,
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
    /// The sensed value is at least this.
    SensedAtLeast(SensedId, f64),
    /// Not so.
    Not(Box<Condition>),
    /// All of these.
    All(Vec<Condition>),
    /// Any of these.
    Any(Vec<Condition>),
}
