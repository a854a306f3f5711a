//! A set-up as text: what [`parse_set_up`](super::parse_set_up) reads back.

use quantity::Unit;

use super::{Placed, SetUp};
use crate::id::{PartId, PointId, RelayId, RhythmId};
use crate::model::{Circuit, Sensed};

/// A sensed value as it is written, with its unit: `8 bar`.
pub(super) fn sensed_text(sensed: &Sensed, value: f64) -> String {
    if sensed.unit.is_empty() {
        value.to_string()
    } else {
        format!("{value} {}", sensed.unit)
    }
}

/// As few digits as give exactly this value when read back.
pub(super) fn exact_text(value: f64, unit: Unit) -> String {
    (1..=17)
        .map(|digits| quantity::with_digits(value, unit, digits))
        .find(|text| quantity::parse(text, unit).is_ok_and(|amount| amount.value == value))
        // A prefix may cost the last bit; without one nothing is lost.
        .unwrap_or_else(|| format!("{value} {}", unit.symbol()))
}

impl SetUp {
    /// The canonical text: equal set-ups give equal texts, and [`parse_set_up`](super::parse_set_up) gives the set-up back, as long as sensed
    /// values are within their range and placed things have two different ends within reach. A set-up that names what
    /// the circuit lacks is a defect of the caller and panics.
    pub fn to_text(&self, circuit: &Circuit) -> String {
        let part = |id: PartId| circuit.parts[id.idx()].id.as_str();
        let mut items = vec![format!("key {}", self.key.word())];
        items.extend(
            self.apart
                .iter()
                .map(|id| format!("{} apart", part(circuit.connectors[id.idx()].part))),
        );
        items.extend(
            self.taken_out
                .iter()
                .map(|id| format!("{} out", part(circuit.devices[id.idx()].part))),
        );
        items.extend(
            self.fuses_out
                .iter()
                .map(|id| format!("fuse {} out", part(circuit.fuses[id.idx()].part))),
        );
        let relay = |id: &RelayId| part(circuit.relays[id.idx()].part);
        items.extend(self.relays_out.iter().map(|id| format!("relay {} out", relay(id))));
        items.extend(
            self.relays_bridged
                .iter()
                .map(|id| format!("relay {} bridged", relay(id))),
        );
        items.extend(self.battery_off.then(|| "battery off".to_owned()));
        items.extend(self.sensed.iter().map(|(id, value)| {
            let sensed = &circuit.sensed[id.idx()];
            format!("{} {}", sensed.id, sensed_text(sensed, *value))
        }));
        items.extend(
            self.commanded
                .iter()
                .map(|id| format!("{} commanded", circuit.loads[id.idx()].id)),
        );
        let rhythm = |id: &RhythmId| &circuit.rhythms[id.idx()];
        let duties = self.duty.iter();
        items.extend(duties.map(|(id, percent)| format!("{} {percent} %", rhythm(id).id)));
        let held = self.held.iter();
        items.extend(held.map(|(id, phase)| format!("{} in {}", rhythm(id).id, rhythm(id).phase_name(*phase))));
        items.extend(self.placed.iter().map(|placed| placed.to_text(circuit)));
        items.extend(
            self.provoked
                .map(|provoked| format!("{} {}", provoked.how.word(), part(provoked.at))),
        );
        items.join("; ")
    }
}

impl Placed {
    /// Its two ends, for a source the positive one first.
    pub fn ends(&self) -> (PointId, PointId) {
        match *self {
            Self::Jumper { a, b, .. }
            | Self::Resistor { a, b, .. }
            | Self::Bulb { a, b, .. }
            | Self::OverlayWire { a, b } => (a, b),
            Self::Source { plus, minus, .. } => (plus, minus),
        }
    }

    fn to_text(&self, circuit: &Circuit) -> String {
        let (a, b) = self.ends();
        let ends = format!("{} {}", circuit.points[a.idx()].path, circuit.points[b.idx()].path);
        match *self {
            Self::Jumper { fuse_amps: None, .. } => format!("jumper {ends}"),
            Self::Jumper {
                fuse_amps: Some(amps), ..
            } => {
                format!("jumper {ends} fused {}", exact_text(amps, Unit::Ampere))
            }
            Self::Resistor { ohms, .. } => format!("resistor {ends} {}", exact_text(ohms, Unit::Ohm)),
            Self::Bulb { watts, .. } => format!("bulb {ends} {}", exact_text(watts, Unit::Watt)),
            Self::Source { volts, limit_amps, .. } => {
                format!(
                    "source {ends} {} {}",
                    exact_text(volts, Unit::Volt),
                    exact_text(limit_amps, Unit::Ampere)
                )
            }
            Self::OverlayWire { .. } => format!("overlay {ends}"),
        }
    }
}
