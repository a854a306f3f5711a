//! How often things fail and what repairing them takes, before this vehicle is known. The one table of such figures.
//!
//! Rates are relative: a dry signal contact that turns resistive is 1. Common practice, no source: that contacts, grounds
//! and wear parts fail far more often than copper in the middle of a run, and modules least, is what technicians say; the
//! figures are round guesses in that spirit, to be replaced by a shop's own solved jobs. Minutes and prices likewise.

use super::Repair;
use super::place::with_id;
use crate::id::{ConnectorId, PartId};
use crate::model::{Circuit, Owner, PartKind};

/// Connectors that lie where water gets: their contacts, crimps and leaks are this much more likely.
pub(super) const WET: f64 = 4.0;

// Contacts and copper.
pub(super) const CONTACT_RESISTANCE: f64 = 1.0;
pub(super) const BAD_TERMINAL: f64 = 0.5;
pub(super) const CRIMP_RESISTANCE: f64 = 0.25;
pub(super) const WIRE_RESISTANCE: f64 = 0.25;
pub(super) const WIRE_BROKEN: f64 = 0.4;
pub(super) const SPLICE_RESISTANCE: f64 = 0.5;
pub(super) const SPLICE_OPEN: f64 = 0.25;
pub(super) const GROUND_RESISTANCE: f64 = 2.0;
pub(super) const GROUND_OFF: f64 = 0.5;

// Leaks.
/// Each half of each pair; where it is wet, most water bridges one pair well before it reaches all.
pub(super) const NEIGHBOUR_LEAK: f64 = 0.1;
pub(super) const WATER: f64 = 0.15;
pub(super) const BUNDLE_SHORT: f64 = 0.04;
pub(super) const CHAFE_TO_BODY: f64 = 1.0;
/// A wire rubbed through where the file names no such place.
pub(super) const ELSEWHERE_TO_BODY: f64 = 0.06;

// Feeds.
pub(super) const BATTERY_WEAK: f64 = 1.0;
pub(super) const BATTERY_FLAT: f64 = 1.0;
pub(super) const BATTERY_OPEN: f64 = 0.1;
pub(super) const CHARGER_DEAD: f64 = 1.0;
pub(super) const CHARGER_HIGH: f64 = 0.2;
pub(super) const FUSE_BLOWN: f64 = 1.0;
pub(super) const HOLDER_RESISTANCE: f64 = 0.4;
pub(super) const HOLDER_OPEN: f64 = 0.2;
pub(super) const SWITCH_RESISTANCE: f64 = 0.6;
pub(super) const SWITCH_STUCK_OPEN: f64 = 0.4;
pub(super) const SWITCH_STUCK_CLOSED: f64 = 0.1;
pub(super) const RELAY_RESISTANCE: f64 = 1.0;
pub(super) const RELAY_STUCK_OPEN: f64 = 0.6;
pub(super) const RELAY_WELDED: f64 = 0.3;
pub(super) const COIL_OPEN: f64 = 0.8;
pub(super) const COIL_SHORTED: f64 = 0.4;

// Devices.
pub(super) const TRACK_WORN: f64 = 1.0;
pub(super) const WIPER_WORN: f64 = 1.5;
pub(super) const SENSOR_DRIFT: f64 = 0.8;
pub(super) const SENSOR_OPEN: f64 = 0.8;
pub(super) const SENSOR_WEAK: f64 = 0.2;
pub(super) const PINS_SHORTED: f64 = 0.2;
pub(super) const RESISTOR_DRIFT: f64 = 0.3;
pub(super) const BRUSHES_WORN: f64 = 1.2;
pub(super) const MOTOR_OPEN: f64 = 0.8;
pub(super) const MOTOR_DRAG: f64 = 1.2;
pub(super) const LAMP_OPEN: f64 = 4.0;
pub(super) const OTHER: f64 = 0.3;
pub(super) const ACCESSORY_LEAK: f64 = 0.3;

// Insides of modules.
pub(super) const REFERENCE: f64 = 0.08;
pub(super) const PULL: f64 = 0.05;
pub(super) const SERIES_OPEN: f64 = 0.02;
pub(super) const QUIESCENT: f64 = 0.05;
pub(super) const INSIDE_GROUND: f64 = 0.1;
pub(super) const DRIVER_OPEN: f64 = 0.2;
pub(super) const DRIVER_SHORTED: f64 = 0.2;
pub(super) const DRIVER_WEAK: f64 = 0.08;
pub(super) const BIAS: f64 = 0.02;
pub(super) const PIN_LEAK: f64 = 0.05;

/// Minutes of work, once reached, and price of the part, by what is replaced.
fn replacement(kind: PartKind) -> (f64, f64) {
    match kind {
        PartKind::Battery => (15.0, 120.0),
        PartKind::Charger => (90.0, 300.0),
        PartKind::Connector(_) => (40.0, 25.0),
        PartKind::Wire(_) => (25.0, 4.0),
        PartKind::Splice(_) => (20.0, 3.0),
        PartKind::Module(_) => (60.0, 400.0),
        PartKind::Device(_) => (20.0, 60.0),
        PartKind::Fuse(_) => (2.0, 1.0),
        PartKind::Relay(_) => (3.0, 12.0),
        PartKind::Feed(_) => (45.0, 80.0),
        PartKind::Ground(_) => (15.0, 2.0),
    }
}

/// Renewing the terminals of one cavity, once the connector is apart.
const TERMINAL: (f64, f64) = (12.0, 4.0);
/// Drying, cleaning and sealing a connector, once apart.
const CLEAN: (f64, f64) = (20.0, 6.0);

/// Replaces a part, or makes it good, as `verb` says: work that mends everything inside it. What the file says of the part
/// goes before the table; reaching it comes on top of the table only.
pub(super) fn renew(circuit: &Circuit, part: PartId, verb: &str) -> Repair {
    let named = &circuit.parts[part.idx()];
    let (minutes, price) = replacement(named.kind);
    Repair {
        words: format!("{verb} {}", with_id(named)),
        key: format!("{}: {verb}", named.id),
        minutes: named.repair_minutes.unwrap_or(minutes + reach(circuit, named.kind)),
        parts_price: named.price.unwrap_or(price),
    }
}

/// Renew the terminals and crimps of one cavity.
pub(super) fn renew_terminals(circuit: &Circuit, connector: ConnectorId, cavity: u16) -> Repair {
    let plug = &circuit.connectors[connector.idx()];
    let part = &circuit.parts[plug.part.idx()];
    Repair {
        words: format!("renew the terminals of cavity {cavity} of {}", part.called()),
        key: format!("{}.{cavity}: renew terminals", part.id),
        minutes: plug.reach_minutes + plug.part_minutes + TERMINAL.0,
        parts_price: TERMINAL.1,
    }
}

/// Dry, clean and seal a connector.
pub(super) fn clean(circuit: &Circuit, connector: ConnectorId) -> Repair {
    let plug = &circuit.connectors[connector.idx()];
    let part = &circuit.parts[plug.part.idx()];
    Repair {
        words: format!("dry, clean and seal {}, renew what is eaten away", part.called()),
        key: format!("{}: clean", part.id),
        minutes: plug.reach_minutes + plug.part_minutes + CLEAN.0,
        parts_price: CLEAN.1,
    }
}

/// Least minutes to reach a part: those of the nearest connector on it.
fn reach(circuit: &Circuit, kind: PartKind) -> f64 {
    let owner = match kind {
        PartKind::Module(id) => Owner::Module(id),
        PartKind::Device(id) => Owner::Device(id),
        _ => return 0.0,
    };
    let on_it = circuit
        .connectors
        .iter()
        .filter(|plug| plug.halves.iter().any(|half| half.owner == owner));
    on_it
        .map(|plug| plug.reach_minutes)
        .min_by(f64::total_cmp)
        .unwrap_or(0.0)
}
