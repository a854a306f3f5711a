//! Connectors: whose they are, their terminals and contacts.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::ConnectorKeys;
use super::super::mistake::suggestion;
use super::super::value::{CavityRow, MOST_CAVITIES, Value};
use super::{Builder, Upkeep, not, words_or};
use crate::branch::{Access, BranchKind, Law, Role};
use crate::id::{BranchId, ConnectorId, DeviceId, ModuleId, PointId};
use crate::model::{Cavity, Connector, Half, Owner, PartKind};
use crate::set_up::Condition;

/// What is known of a connector while the circuit is built.
pub(super) struct Plug {
    /// Its id.
    pub(super) id: String,
    /// Two wire sides, instead of a wire side and pins.
    pub(super) joint: bool,
    /// What a module or device has said of it.
    pub(super) owner: Option<Owner>,
    /// The accessory it is on, and the connector at the accessory's other end.
    pub(super) accessory: Option<(DeviceId, ConnectorId)>,
    /// Cavities that something ends in.
    pub(super) used: BTreeSet<u16>,
}

/// A path such as `S1.2` or `floor.7/a` taken apart.
pub(super) fn cavity_path(path: &str) -> Option<(&str, &str, Option<&str>)> {
    let (connector, rest) = path.split_once('.')?;
    Some(match rest.split_once('/') {
        Some((cavity, side)) => (connector, cavity, Some(side)),
        None => (connector, rest, None),
    })
}

impl Builder<'_, '_, '_> {
    /// Connectors with their terminals.
    pub(super) fn connectors(&mut self) {
        let file = self.file;
        for Named { name, is, .. } in file.connector.iter() {
            let Some(keys) = is else { continue };
            let connector = ConnectorId::from(self.circuit.connectors.len());
            let words = words_or(keys.name.as_ref(), name);
            let upkeep = Upkeep(keys.repair.as_ref(), keys.price.as_ref(), None);
            let part = self.part(name, words, PartKind::Connector(connector), upkeep);
            let joint = keys.sides.is_some();
            let half = |words: &str| Half {
                words: words.to_owned(),
                owner: Owner::Harness,
            };
            let halves = match &keys.sides {
                Some(sides) => [half(&sides.first.text), half(&sides.second.text)],
                None => [half("wire side"), half("pins")],
            };
            self.circuit.connectors.push(Connector {
                part,
                rows: Vec::new(),
                halves,
                cavities: BTreeMap::new(),
                back_probe: keys.back_probe.unwrap_or(true),
                reach_minutes: keys.reach.as_ref().map_or(d::CONNECTOR_MINUTES, Value::value),
                part_minutes: keys.part.as_ref().map_or(d::PART_MINUTES, Value::value),
                wet: keys.wet.unwrap_or(false),
            });
            self.plugs.push(Plug {
                id: name.clone(),
                joint,
                owner: None,
                accessory: None,
                used: BTreeSet::new(),
            });
        }
        self.owners();
        self.used_cavities();
        for idx in 0..self.plugs.len() {
            self.rows_and_terminals(ConnectorId::from(idx));
        }
    }

    /// Who the far half of each connector belongs to, from the pins of modules and devices.
    fn owners(&mut self) {
        let file = self.file;
        let modules = file.module.iter().filter(|module| module.is.is_some());
        for (idx, module) in modules.enumerate() {
            for pin in module.is.iter().flat_map(|keys| keys.pin.iter()) {
                if let Some((connector, _, _)) = cavity_path(&pin.name) {
                    self.claim(connector, &pin.at, Owner::Module(ModuleId::from(idx)));
                    self.use_cavity(&pin.name, &pin.at);
                }
            }
        }
        let devices = file.device.iter().filter(|device| device.is.is_some());
        for (idx, device) in devices.enumerate() {
            let owner = Owner::Device(DeviceId::from(idx));
            let Some(keys) = &device.is else { continue };
            for pin in keys.pins.iter().filter_map(|pin| pin.is.as_ref()) {
                if let Some((connector, _, _)) = cavity_path(&pin.text) {
                    self.claim(connector, &pin.at, owner);
                    self.use_cavity(&pin.text, &pin.at);
                }
            }
            if let Some(between) = &keys.between {
                let ends = [&between.first, &between.second].map(|end| {
                    self.claim(&end.text, &end.at, owner);
                    self.connector_id(&end.text)
                });
                if let [Some(one), Some(other)] = ends {
                    if one == other {
                        self.slips.push(
                            "accessory",
                            &between.at,
                            "an accessory plugs in between two different connectors",
                        );
                    }
                    self.plugs[one.idx()].accessory = Some((DeviceId::from(idx), other));
                    self.plugs[other.idx()].accessory = Some((DeviceId::from(idx), one));
                }
            }
        }
        for plug in 0..self.plugs.len() {
            let Plug {
                joint, owner, ref id, ..
            } = self.plugs[plug];
            let id = id.clone();
            match owner {
                Some(owner) => self.circuit.connectors[plug].halves[1].owner = owner,
                None if joint => {}
                None => {
                    let entry = file.connector.iter().find(|connector| connector.name == id);
                    let at = entry.map_or(0..0, |connector| connector.at.clone());
                    let help = "name its cavities in the pins of a module or device, or, if it joins wires, give it \
                                `sides = [\"…\", \"…\"]`";
                    self.slips.push_help(
                        "nothing-plugged-in",
                        &at,
                        format!("nothing is on the far side of connector `{id}`"),
                        help,
                    );
                }
            }
        }
    }

    pub(super) fn connector_id(&self, id: &str) -> Option<ConnectorId> {
        self.plugs.iter().position(|plug| plug.id == id).map(ConnectorId::from)
    }

    fn claim(&mut self, id: &str, at: &Range<usize>, owner: Owner) {
        let Some(connector) = self.connector_id(id) else {
            if !self.is_unread(id) {
                let known = self.file.connector.names();
                let message = format!("there is no connector `{id}`");
                let help = suggestion(id, known).unwrap_or_default();
                self.slips.push_help("unknown-connector", at, message, help);
            }
            return;
        };
        let plug = &mut self.plugs[connector.idx()];
        if plug.joint {
            let message = format!("`{id}` joins wires to wires (it has `sides`), so no pin can be in it");
            self.slips.push("joint", at, message);
        } else if plug.owner.is_some_and(|other| other != owner) {
            self.slips.push(
                "connector-shared",
                at,
                format!("another module or device is on connector `{id}` already"),
            );
        } else {
            plug.owner = Some(owner);
        }
    }

    /// Notes that something ends in a cavity, whatever its side.
    fn use_cavity(&mut self, path: &str, at: &Range<usize>) {
        let Some((id, number, _)) = cavity_path(path) else {
            return;
        };
        let Some(connector) = self.connector_id(id) else { return };
        match number.parse::<u16>() {
            Ok(number) => {
                self.plugs[connector.idx()].used.insert(number);
            }
            Err(_) => self.slips.push(
                "cavity",
                at,
                format!("`{number}` is no cavity number of connector `{id}`"),
            ),
        }
    }

    fn used_cavities(&mut self) {
        for wire in self.file.wire.iter().filter_map(|wire| wire.is.as_ref()) {
            for end in [&wire.from, &wire.to] {
                self.use_cavity(&end.text, &end.at);
            }
        }
    }

    /// The rows of a connector, and a pair of terminals for each cavity in use.
    fn rows_and_terminals(&mut self, connector: ConnectorId) {
        let Plug {
            ref id,
            joint,
            ref used,
            owner,
            ..
        } = self.plugs[connector.idx()];
        let (id, mut used) = (id.clone(), used.clone());
        let entry = self.file.connector.iter().find(|entry| entry.name == id);
        let Some(keys) = entry.and_then(|entry| entry.is.as_ref()) else {
            return;
        };
        // Of rows that could not be read nobody knows which cavities they have: whatever is used is there.
        let read = keys
            .rows
            .as_ref()
            .filter(|rows| rows.iter().all(|row| !row.cavities.is_empty()));
        let is_known = read.is_some() || keys.rows.is_none();
        let rows = match read {
            Some(rows) => self.checked_rows(rows),
            None => vec![self.one_row(&used, &entry.map_or(0..0, |entry| entry.at.clone()))],
        };
        if read.is_some() {
            let known: BTreeSet<u16> = rows.iter().flatten().copied().collect();
            used.retain(|number| known.contains(number));
        }
        self.circuit.connectors[connector.idx()].rows = rows;
        let part = self.circuit.connectors[connector.idx()].part;
        let words = self.part_words(part).to_owned();
        let halves = self.circuit.connectors[connector.idx()]
            .halves
            .clone()
            .map(|half| half.words);
        for number in used {
            let base = format!("{id}.{number}");
            let place = |half: &str| format!("{words}, cavity {number}, {half}");
            let a = if joint { format!("{base}/a") } else { base.clone() };
            let b = if joint {
                format!("{base}/b")
            } else {
                format!("{base}/pin")
            };
            let (access, part_b) = match owner {
                Some(_) => (Access::PinSide(connector), part),
                None => (Access::WireSide(connector), part),
            };
            let far = if joint {
                place(&halves[1])
            } else {
                format!("{words}, pin {number}")
            };
            let a = self.point(&a, place(&halves[0]), Access::WireSide(connector), part);
            let b = self.point(&b, far, access, part_b);
            let words = keys.cavity.iter().find(|cavity| cavity.name == number.to_string());
            let words = words
                .and_then(|cavity| cavity.is.as_ref())
                .map_or(String::new(), |words| words.text.clone());
            let cavity = Cavity {
                words,
                contact: BranchId(0),
                terminals: [a, b],
                wires: [None, None],
            };
            self.circuit.connectors[connector.idx()].cavities.insert(number, cavity);
        }
        for cavity in keys.cavity.iter().filter(|_| is_known) {
            if !self.circuit.connectors[connector.idx()]
                .rows
                .iter()
                .flatten()
                .any(|known| known.to_string() == cavity.name)
            {
                let message = format!("connector `{id}` has no cavity `{}`", cavity.name);
                self.slips.push("cavity", &cavity.at, message);
            }
        }
    }

    /// The row of a connector of which nothing is said: from 1 to the highest cavity in use.
    fn one_row(&mut self, used: &BTreeSet<u16>, at: &Range<usize>) -> Vec<u16> {
        let last = used.last().copied().unwrap_or(1);
        if usize::from(last) > MOST_CAVITIES {
            let message = format!("cavity {last} is used, but no plug has more than {MOST_CAVITIES} cavities in a row");
            self.slips.push("cavity", at, message);
        }
        (1.min(used.first().copied().unwrap_or(1))..=last).collect()
    }

    fn checked_rows(&mut self, rows: &[CavityRow]) -> Vec<Vec<u16>> {
        let mut seen = BTreeSet::new();
        for row in rows {
            for number in &row.cavities {
                if !seen.insert(*number) {
                    self.slips
                        .push("duplicate", &row.at, format!("cavity {number} is in the rows twice"));
                }
            }
        }
        rows.iter().map(|row| row.cavities.clone()).collect()
    }

    /// The contacts of every cavity, and what joins two connectors while the accessory between them is out.
    pub(super) fn contacts(&mut self) {
        for idx in 0..self.plugs.len() {
            let connector = ConnectorId::from(idx);
            let part = self.circuit.connectors[idx].part;
            let id = self.plugs[idx].id.clone();
            let accessory = self.plugs[idx].accessory;
            let mated = Condition::Mated(connector);
            let closed = match accessory {
                Some((device, _)) => Condition::All(vec![mated, Condition::Fitted(device)]),
                None => mated,
            };
            let keys = self
                .file
                .connector
                .iter()
                .find(|entry| entry.name == id)
                .and_then(|entry| entry.is.as_ref());
            let ohms = keys
                .and_then(|keys| keys.contact.as_ref())
                .map_or(d::CONTACT_OHMS, Value::value);
            let numbers: Vec<u16> = self.circuit.connectors[idx].cavities.keys().copied().collect();
            for number in numbers {
                let rating = self.contact_rating(connector, number, keys);
                let [a, b] = self.circuit.connectors[idx].cavities[&number].terminals;
                let kind = BranchKind::Switch {
                    a,
                    b,
                    closed_ohms: Law::fixed(ohms),
                    closed: closed.clone(),
                };
                let contact = self.branch(
                    format!("{id}.{number}/contact"),
                    part,
                    Role::Contact,
                    Some(rating),
                    kind,
                );
                if let Some(cavity) = self.circuit.connectors[idx].cavities.get_mut(&number) {
                    cavity.contact = contact;
                }
                let Some((device, other)) = accessory.filter(|(_, other)| connector < *other) else {
                    continue;
                };
                let Some(far) = self.circuit.connectors[other.idx()].cavities.get(&number) else {
                    continue;
                };
                let b = far.terminals[0];
                let both = vec![
                    not(Condition::Fitted(device)),
                    Condition::Mated(connector),
                    Condition::Mated(other),
                ];
                let closed = Condition::All(both);
                let kind = BranchKind::Switch {
                    a,
                    b,
                    closed_ohms: Law::fixed(ohms),
                    closed,
                };
                self.branch(format!("{id}.{number}/direct"), part, Role::Contact, Some(rating), kind);
            }
        }
    }

    fn contact_rating(&self, connector: ConnectorId, number: u16, keys: Option<&ConnectorKeys>) -> f64 {
        if let Some(rating) = keys.and_then(|keys| keys.rating.as_ref()) {
            return rating.value();
        }
        let cavity = &self.circuit.connectors[connector.idx()].cavities[&number];
        let areas = cavity
            .wires
            .iter()
            .flatten()
            .map(|(_, wire)| self.circuit.wires[wire.idx()].area);
        d::contact_amps(areas.fold(0.0, f64::max))
    }

    /// Gives a joint's cavity the words of what its wires lead to, where the file gives none.
    pub(super) fn cavity_words(&mut self) {
        // A chain of joints passes its words on once a round; more than this many joints in a row is no harness.
        for _ in 0..8 {
            let mut found = Vec::new();
            for wire in &self.circuit.wires {
                let at = |point: PointId| self.cavity_of(point);
                let [Some(one), Some(other)] = wire.ends.map(at) else {
                    continue;
                };
                let words = |(connector, number): (ConnectorId, u16)| {
                    &self.circuit.connectors[connector.idx()].cavities[&number].words
                };
                match (words(one).is_empty(), words(other).is_empty()) {
                    (true, false) => found.push((one, words(other).clone(), other.0)),
                    (false, true) => found.push((other, words(one).clone(), one.0)),
                    _ => {}
                }
            }
            if found.is_empty() {
                return;
            }
            // A module's pin says more ("pressure signal") than a device's ("signal").
            found.sort_by_key(|(_, _, from)| {
                !matches!(self.circuit.connectors[from.idx()].halves[1].owner, Owner::Module(_))
            });
            for ((connector, number), words, _) in found {
                let cavity = self.circuit.connectors[connector.idx()].cavities.get_mut(&number);
                if let Some(cavity) = cavity.filter(|cavity| cavity.words.is_empty()) {
                    cavity.words = words;
                }
            }
        }
    }

    /// The cavity whose crimp a wire's end is in.
    fn cavity_of(&self, end: PointId) -> Option<(ConnectorId, u16)> {
        let part = self.circuit.points[end.idx()].part;
        let PartKind::Connector(connector) = self.circuit.parts[part.idx()].kind else {
            return None;
        };
        let holds = |cavity: &Cavity| {
            cavity
                .wires
                .iter()
                .flatten()
                .any(|(_, wire)| self.circuit.wires[wire.idx()].ends.contains(&end))
        };
        let cavities = &self.circuit.connectors[connector.idx()].cavities;
        cavities
            .iter()
            .find(|(_, cavity)| holds(cavity))
            .map(|(number, _)| (connector, *number))
    }
}
