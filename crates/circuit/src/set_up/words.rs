//! A set-up in the technician's words, one short phrase an item.

use quantity::Unit;

use super::written::{exact_text, sensed_text};
use super::{Key, Placed, SetUp};
use crate::id::{PartId, RelayId, RhythmId};
use crate::model::Circuit;

impl Key {
    /// What the technician would say.
    pub fn words(self) -> &'static str {
        match self {
            Self::Off => "key off",
            Self::Accessory => "key in accessory",
            Self::On => "key on, engine off",
            Self::Cranking => "cranking",
            Self::Running => "engine running",
            Self::Held => "key just turned off, feeds still held",
            Self::Asleep => "key off, everything asleep",
        }
    }
}

impl SetUp {
    /// Short phrases, the key first: "key on, engine off", "sensor plug apart", "condenser fan on". A set-up that names
    /// what the circuit lacks is a defect of the caller and panics.
    pub fn words(&self, circuit: &Circuit) -> Vec<String> {
        let name = |id: PartId| circuit.parts[id.idx()].called();
        let mut words = vec![self.key.words().to_owned()];
        words.extend(
            self.apart
                .iter()
                .map(|id| format!("{} apart", name(circuit.connectors[id.idx()].part))),
        );
        words.extend(
            self.taken_out
                .iter()
                .map(|id| format!("{} taken out", name(circuit.devices[id.idx()].part))),
        );
        words.extend(
            self.fuses_out
                .iter()
                .map(|id| format!("{} out", name(circuit.fuses[id.idx()].part))),
        );
        let relay = |id: &RelayId| name(circuit.relays[id.idx()].part);
        words.extend(self.relays_out.iter().map(|id| format!("{} out", relay(id))));
        words.extend(self.relays_bridged.iter().map(|id| format!("{} bridged", relay(id))));
        words.extend(self.battery_off.then(|| "battery negative off".to_owned()));
        words.extend(self.sensed.iter().map(|(id, value)| {
            let sensed = &circuit.sensed[id.idx()];
            format!("{} {}", sensed.words, sensed_text(sensed, *value))
        }));
        words.extend(
            self.commanded
                .iter()
                .map(|id| format!("{} on", circuit.loads[id.idx()].words)),
        );
        let rhythm = |id: &RhythmId| &circuit.rhythms[id.idx()];
        let duties = self.duty.iter();
        words.extend(duties.map(|(id, percent)| format!("{} {percent} % of the time", rhythm(id).words)));
        let held = self.held.iter();
        words.extend(held.map(|(id, phase)| format!("{} held in {}", rhythm(id).words, rhythm(id).phase_name(*phase))));
        words.extend(self.placed.iter().map(|placed| placed.words(circuit)));
        words.extend(
            self.provoked
                .map(|provoked| format!("{} {}", name(provoked.at), provoked.how.words())),
        );
        words
    }
}

impl Placed {
    /// "3 A fused jumper, S1.1 to S1.2".
    pub fn words(&self, circuit: &Circuit) -> String {
        let (a, b) = self.ends();
        let what = match *self {
            Self::Jumper { fuse_amps: None, .. } => "jumper".to_owned(),
            Self::Jumper {
                fuse_amps: Some(amps), ..
            } => format!("{} fused jumper", exact_text(amps, Unit::Ampere)),
            Self::Resistor { ohms, .. } => exact_text(ohms, Unit::Ohm),
            Self::Bulb { watts, .. } => format!("{} bulb", exact_text(watts, Unit::Watt)),
            Self::Source { volts, limit_amps, .. } => {
                format!(
                    "{} source of at most {}",
                    exact_text(volts, Unit::Volt),
                    exact_text(limit_amps, Unit::Ampere)
                )
            }
            Self::OverlayWire { .. } => "overlay wire".to_owned(),
        };
        format!(
            "{what}, {} to {}",
            circuit.points[a.idx()].path,
            circuit.points[b.idx()].path
        )
    }
}
