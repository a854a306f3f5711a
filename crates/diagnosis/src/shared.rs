//! What several codes hang on together: the pins, splices, fuses, grounds, connectors and wires on the way of each.
//!
//! The way of a code is the harness between what its module's pin listens to (a sensor, a switch) and wherever that is fed,
//! grounded and heard: branches that end blind there, such as those to other sensors, are left out. Limits: a code whose pin
//! leads to no part of its own has only its own wire for a way.

use std::collections::BTreeSet;

use circuit::{Circuit, ModuleId, PartId, PartKind, PointId};

/// What all of some codes hang on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shared {
    /// Pins of modules: references, sensor grounds, feeds.
    pub pins: BTreeSet<(ModuleId, usize)>,
    /// Parts of the harness, modules and what all of the vehicle hangs on left out.
    pub parts: BTreeSet<PartId>,
}

impl Shared {
    fn and(&self, other: &Self) -> Self {
        Self {
            pins: self.pins.intersection(&other.pins).copied().collect(),
            parts: self.parts.intersection(&other.parts).copied().collect(),
        }
    }

    /// Whether there is nothing.
    pub fn is_empty(&self) -> bool {
        self.pins.is_empty() && self.parts.is_empty()
    }
}

/// What lies on the way of every one of these pins, which codes watch; nothing for fewer than two.
pub fn shared(circuit: &Circuit, pins: &BTreeSet<PointId>) -> Shared {
    if pins.len() < 2 {
        return Shared::default();
    }
    let ways = pins.iter().map(|&pin| way(circuit, pin));
    ways.reduce(|all, one| all.and(&one)).unwrap_or_default()
}

/// A piece of harness: its part and ends.
type Piece = (PartId, [PointId; 2]);

fn way(circuit: &Circuit, pin: PointId) -> Shared {
    let harness: Vec<Piece> = circuit
        .branches
        .iter()
        .filter(|branch| branch.role.is_harness())
        .map(|branch| {
            let (a, b) = branch.kind.ends();
            (branch.part, [a, b])
        })
        .collect();
    let pins: BTreeSet<PointId> = circuit
        .modules
        .iter()
        .flat_map(|module| &module.pins)
        .map(|pin| pin.point)
        .collect();
    let devices: BTreeSet<PointId> = circuit
        .devices
        .iter()
        .flat_map(|device| &device.pins)
        .map(|pin| pin.1)
        .collect();
    let supplies = BTreeSet::from([circuit.battery_plus, circuit.battery_minus, circuit.body]);
    let ends_here = |point: PointId| pins.contains(&point) || devices.contains(&point) || supplies.contains(&point);

    let reached = reach(&harness, &BTreeSet::from([pin]), ends_here);
    let touches = |device: &&circuit::Device| device.pins.iter().any(|(_, point)| reached.contains(point));
    let listens_to = circuit.devices.iter().filter(touches);
    let mut own: BTreeSet<PointId> = listens_to
        .flat_map(|device| device.pins.iter().map(|(_, point)| *point))
        .collect();
    own.insert(pin);

    let reached = reach(&harness, &own, ends_here);
    let mut left: Vec<&Piece> = harness
        .iter()
        .filter(|(_, ends)| ends.iter().all(|end| reached.contains(end)))
        .collect();
    let stays = |point: &PointId| own.contains(point) || pins.contains(point) || supplies.contains(point);
    loop {
        let degree = |point: &PointId| left.iter().filter(|(_, ends)| ends.contains(point)).count();
        let blind: Vec<bool> = left
            .iter()
            .map(|(_, ends)| ends.iter().any(|end| !stays(end) && degree(end) < 2))
            .collect();
        if !blind.contains(&true) {
            break;
        }
        let mut blind = blind.into_iter();
        left.retain(|_| !blind.next().unwrap_or(false));
    }
    let on_way: BTreeSet<PointId> = left.iter().flat_map(|(_, ends)| *ends).collect();
    let all_pins = circuit.modules.iter().enumerate().flat_map(|(module, of)| {
        let each = of.pins.iter().enumerate();
        each.map(move |(at, pin)| (ModuleId::from(module), at, pin.point))
    });
    let counts = |part: &PartId| {
        !matches!(
            circuit.parts[part.idx()].kind,
            PartKind::Battery | PartKind::Charger | PartKind::Module(_) | PartKind::Device(_)
        )
    };
    Shared {
        pins: all_pins
            .filter(|(_, _, point)| on_way.contains(point) && *point != pin)
            .map(|(module, at, _)| (module, at))
            .collect(),
        parts: left.iter().map(|(part, _)| *part).filter(counts).collect(),
    }
}

/// Every point that these lead to, points where the harness ends included but not passed, unless it starts there.
fn reach(harness: &[Piece], from: &BTreeSet<PointId>, ends_here: impl Fn(PointId) -> bool) -> BTreeSet<PointId> {
    let mut reached = from.clone();
    let mut open: Vec<PointId> = from.iter().copied().collect();
    while let Some(point) = open.pop() {
        for (_, [a, b]) in harness {
            let next = match point {
                point if point == *a => *b,
                point if point == *b => *a,
                _ => continue,
            };
            if reached.insert(next) && !ends_here(next) {
                open.push(next);
            }
        }
    }
    reached
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(text: &str, channels: &[&str]) -> (Vec<String>, Vec<String>) {
        let circuit = circuit::parse(text).unwrap();
        let of = |id: &&str| {
            let at = circuit.channels.iter().position(|channel| channel.id == **id).unwrap();
            circuit.pin_of(at.into()).unwrap().point
        };
        let shared = shared(&circuit, &channels.iter().map(of).collect());
        let pin = |&(module, at): &(ModuleId, usize)| {
            let pin = &circuit.modules[module.idx()].pins[at];
            format!("{:?}", pin.kind)
        };
        let part = |part: &PartId| circuit.parts[part.idx()].id.clone();
        (
            shared.pins.iter().map(pin).collect(),
            shared.parts.iter().map(part).collect(),
        )
    }

    #[test]
    fn two_sensors_on_one_reference_share_its_pin_splice_and_wire_but_not_their_own() {
        let text = include_str!("../../../circuits/small/shared-reference.toml");
        let circuit = circuit::parse(text).unwrap();
        let ids: Vec<&str> = circuit.channels.iter().map(|channel| channel.id.as_str()).collect();
        let (pins, parts) = named(text, &ids[..2]);
        assert!(
            pins.contains(&"Reference".to_owned()) && pins.contains(&"SensorGround".to_owned()),
            "{pins:?}"
        );
        assert!(parts.iter().any(|part| part.starts_with("SP")), "{parts:?}");
        assert!(!parts.iter().any(|part| part == "S1" || part == "S2"), "{parts:?}");
    }

    #[test]
    fn one_code_shares_nothing() {
        let (pins, parts) = named(circuit::DEMO, &["pressure"]);
        assert!(pins.is_empty() && parts.is_empty());
    }
}
