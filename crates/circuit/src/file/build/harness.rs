//! Connectors, wires and splices.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::{ConnectorKeys, WireKeys};
use super::super::mistake::suggestion;
use super::super::value::{CavityRow, Text, Value};
use super::{Builder, Upkeep, not, words_or};
use crate::branch::{Access, BranchKind, Law, Role};
use crate::colour;
use crate::id::*;
use crate::model::{Cavity, Connector, Half, Owner, PartKind, Splice, Wire};
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

/// What the end of a wire is at.
enum End {
    Cavity(ConnectorId, u16, usize),
    Splice(usize),
    Point(PointId),
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
            let half = |words: &str| Half { words: words.to_owned(), owner: Owner::Harness };
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
            self.plugs.push(Plug { id: name.clone(), joint, owner: None, accessory: None, used: BTreeSet::new() });
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
            for plug in module.is.iter().flat_map(|keys| keys.pin.iter()) {
                self.claim(&plug.name, &plug.at, Owner::Module(ModuleId::from(idx)));
                for cavity in plug.is.iter().flat_map(super::super::decode::ByName::iter) {
                    self.use_cavity(&format!("{}.{}", plug.name, cavity.name), &cavity.at);
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
                        self.slips.push("accessory", &between.at, "an accessory plugs in between two different connectors");
                    }
                    self.plugs[one.idx()].accessory = Some((DeviceId::from(idx), other));
                    self.plugs[other.idx()].accessory = Some((DeviceId::from(idx), one));
                }
            }
        }
        for plug in 0..self.plugs.len() {
            let Plug { joint, owner, ref id, .. } = self.plugs[plug];
            let id = id.clone();
            match owner {
                Some(owner) => self.circuit.connectors[plug].halves[1].owner = owner,
                None if joint => {}
                None => {
                    let entry = file.connector.iter().find(|connector| connector.name == id);
                    let at = entry.map_or(0..0, |connector| connector.at.clone());
                    let help = "name its cavities in the pins of a module or device, or, if it joins wires, give it \
                                `sides = [\"…\", \"…\"]`";
                    self.slips.push_help("nothing-plugged-in", &at, format!("nothing is on the far side of connector `{id}`"), help);
                }
            }
        }
    }

    fn connector_id(&self, id: &str) -> Option<ConnectorId> {
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
            self.slips.push("connector-shared", at, format!("another module or device is on connector `{id}` already"));
        } else {
            plug.owner = Some(owner);
        }
    }

    /// Notes that something ends in a cavity, whatever its side.
    fn use_cavity(&mut self, path: &str, at: &Range<usize>) {
        let Some((id, number, _)) = cavity_path(path) else { return };
        let Some(connector) = self.connector_id(id) else { return };
        match number.parse::<u16>() {
            Ok(number) => {
                self.plugs[connector.idx()].used.insert(number);
            }
            Err(_) => self.slips.push("cavity", at, format!("`{number}` is no cavity number of connector `{id}`")),
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
        let Plug { ref id, joint, ref used, owner, .. } = self.plugs[connector.idx()];
        let (id, mut used) = (id.clone(), used.clone());
        let entry = self.file.connector.iter().find(|entry| entry.name == id);
        let Some(keys) = entry.and_then(|entry| entry.is.as_ref()) else { return };
        let rows = match &keys.rows {
            Some(rows) => self.checked_rows(rows),
            None => vec![(1.min(used.first().copied().unwrap_or(1))..=used.last().copied().unwrap_or(1)).collect()],
        };
        if keys.rows.is_some() {
            let known: BTreeSet<u16> = rows.iter().flatten().copied().collect();
            used.retain(|number| known.contains(number));
        }
        self.circuit.connectors[connector.idx()].rows = rows;
        let part = self.circuit.connectors[connector.idx()].part;
        let words = self.part_words(part).to_owned();
        let halves = self.circuit.connectors[connector.idx()].halves.clone().map(|half| half.words);
        for number in used {
            let base = format!("{id}.{number}");
            let place = |half: &str| format!("{words}, cavity {number}, {half}");
            let a = if joint { format!("{base}/a") } else { base.clone() };
            let b = if joint { format!("{base}/b") } else { format!("{base}/pin") };
            let (access, part_b) = match owner {
                Some(_) => (Access::PinSide(connector), part),
                None => (Access::WireSide(connector), part),
            };
            let far = if joint { place(&halves[1]) } else { format!("{words}, pin {number}") };
            let a = self.point(&a, place(&halves[0]), Access::WireSide(connector), part);
            let b = self.point(&b, far, access, part_b);
            let words = keys.cavity.iter().find(|cavity| cavity.name == number.to_string());
            let words = words.and_then(|cavity| cavity.is.as_ref()).map_or(String::new(), |words| words.text.clone());
            let cavity = Cavity { words, contact: BranchId(0), terminals: [a, b], wires: [None, None] };
            self.circuit.connectors[connector.idx()].cavities.insert(number, cavity);
        }
        for cavity in keys.cavity.iter() {
            if !self.circuit.connectors[connector.idx()].rows.iter().flatten().any(|known| known.to_string() == cavity.name) {
                let message = format!("connector `{id}` has no cavity `{}`", cavity.name);
                self.slips.push("cavity", &cavity.at, message);
            }
        }
    }

    fn checked_rows(&mut self, rows: &[CavityRow]) -> Vec<Vec<u16>> {
        let mut seen = BTreeSet::new();
        for row in rows {
            for number in &row.cavities {
                if !seen.insert(*number) {
                    self.slips.push("duplicate", &row.at, format!("cavity {number} is in the rows twice"));
                }
            }
        }
        rows.iter().map(|row| row.cavities.clone()).collect()
    }

    pub(super) fn splices(&mut self) {
        for Named { name, is, .. } in self.file.splice.iter() {
            let Some(keys) = is else { continue };
            let words = words_or(keys.name.as_ref(), name);
            let kind = PartKind::Splice(self.circuit.splices.len());
            let part = self.part(name, words.clone(), kind, Upkeep(keys.repair.as_ref(), None, None));
            let point = self.point(name, words, Access::Inside, part);
            self.circuit.splices.push(Splice { part, point, legs: Vec::new() });
        }
    }

    pub(super) fn wires(&mut self) {
        for Named { name, at, is } in self.file.wire.iter() {
            let Some(keys) = is else { continue };
            self.wire(name, at, keys);
        }
    }

    fn wire(&mut self, id: &str, at: &Range<usize>, keys: &WireKeys) {
        let wire = WireId::from(self.circuit.wires.len());
        let (colour, tracer) = self.colours(keys.colour.as_ref());
        let default = match &tracer {
            Some(tracer) => format!("{colour}/{tracer} wire"),
            None if colour.is_empty() => "wire".to_owned(),
            None => format!("{colour} wire"),
        };
        let words = keys.name.as_ref().map_or(default, |name| name.text.clone());
        let part = self.part(id, words, PartKind::Wire(wire), Upkeep(keys.repair.as_ref(), None, None));
        self.positive(keys.length.as_ref());
        let area = keys.size.as_ref().map_or(d::WIRE_AREA, Value::value);
        let length = keys.length.as_ref().map_or(d::WIRE_METRES, Value::value);
        if keys.from.text == keys.to.text {
            self.slips.push("wire-to-itself", at, format!("wire `{id}` starts and ends at `{}`", keys.to.text));
        }
        let ends = [self.end(&keys.from), self.end(&keys.to)];
        let [Some(from), Some(to)] = ends else {
            // Keep the numbering of wires; nothing else of it is used, for the mistake has been noted.
            let nowhere = self.circuit.battery_minus;
            let branch = BranchId(0);
            self.circuit.wires.push(Wire { part, branch, ends: [nowhere; 2], colour, tracer, length, area });
            return;
        };
        let from = self.attach(from, wire, id, "a", &keys.from.at);
        let to = self.attach(to, wire, id, "b", &keys.to.at);
        let ohms = Law::fixed(quantity::wire_ohms_per_metre(area) * length);
        let rating = Some(keys.rating.as_ref().map_or_else(|| d::wire_amps(area), Value::value));
        let branch = self.branch(id.to_owned(), part, Role::Wire, rating, BranchKind::Resistor { a: from, b: to, ohms });
        self.circuit.wires.push(Wire { part, branch, ends: [from, to], colour, tracer, length, area });
    }

    fn colours(&mut self, text: Option<&Text>) -> (String, Option<String>) {
        let Some(text) = text else { return (String::new(), None) };
        let mut read = |word: &str| {
            let found = colour::plain_name(word);
            if found.is_none() {
                let message = format!("`{word}` is no colour known here");
                let help = suggestion(word, colour::NAMES.iter().map(|(name, _)| *name)).unwrap_or_default();
                self.slips.push_help("colour", &text.at, message, help);
            }
            found.unwrap_or_default().to_owned()
        };
        match text.text.split_once('/') {
            Some((body, tracer)) => {
                let body = read(body.trim());
                (body, Some(read(tracer.trim())))
            }
            None => (read(text.text.trim()), None),
        }
    }

    /// What an end of a wire is at.
    fn end(&mut self, text: &Text) -> Option<End> {
        let path = text.text.as_str();
        if self.is_unread(path) {
            return None;
        }
        if let Some((id, number, side)) = cavity_path(path) {
            return self.cavity_end(text, id, number, side);
        }
        if let Some(splice) = self.circuit.splices.iter().position(|splice| self.part_id(splice.part) == path) {
            return Some(End::Splice(splice));
        }
        if let Some(part) = self.parts.get(path).filter(|_| !self.points.contains_key(path)) {
            let message = format!("`{path}` alone is no place where a wire can end");
            let help = match self.circuit.parts[part.idx()].kind {
                PartKind::Connector(_) => format!("name the cavity, e.g. `{path}.1`"),
                PartKind::Fuse(_) => format!("name the side: `{path}/in` or `{path}/out`"),
                PartKind::Relay(_) => format!("name the terminal, e.g. `{path}/87`"),
                PartKind::Device(_) => format!("name the pin, e.g. `{path}/plus`"),
                PartKind::Battery => "write `battery+` or `battery-`".to_owned(),
                PartKind::Module(_) => "name the connector and cavity of the pin, e.g. `M1.12`".to_owned(),
                _ => "wires end at cavities, splices, studs, fuses, relays, feeds and battery posts".to_owned(),
            };
            self.slips.push_help("unknown-point", &text.at, message, help);
            return None;
        }
        self.spot(text).map(End::Point)
    }

    fn cavity_end(&mut self, text: &Text, id: &str, number: &str, side: Option<&str>) -> Option<End> {
        let Some(connector) = self.connector_id(id) else {
            let message = format!("there is no connector `{id}`");
            let help = suggestion(id, self.file.connector.names()).unwrap_or_default();
            self.slips.push_help("unknown-connector", &text.at, message, help);
            return None;
        };
        let number = number.parse::<u16>().ok()?; // noted where cavities were gathered
        if !self.circuit.connectors[connector.idx()].cavities.contains_key(&number) {
            let rows = &self.circuit.connectors[connector.idx()].rows;
            let message = format!("connector `{id}` has no cavity {number}: it has {}", in_words(rows));
            self.slips.push("cavity", &text.at, message);
            return None;
        }
        let half = match (self.plugs[connector.idx()].joint, side) {
            (false, None) | (true, Some("a")) => 0,
            (true, Some("b")) => 1,
            (true, _) => {
                let words = self.circuit.connectors[connector.idx()].halves.clone().map(|half| half.words);
                let message = format!("`{id}` joins wires: say at which side this one ends");
                let help = format!("`{id}.{number}/a` is the {}, `{id}.{number}/b` the {}", words[0], words[1]);
                self.slips.push_help("joint", &text.at, message, help);
                return None;
            }
            (false, Some(side)) => {
                let message = format!("`{id}` has one wire side only, so `/{side}` means nothing");
                self.slips.push_help("joint", &text.at, message, format!("write `{id}.{number}`"));
                return None;
            }
        };
        Some(End::Cavity(connector, number, half))
    }

    /// Fastens a wire to what it ends at; the point at its end.
    fn attach(&mut self, end: End, wire: WireId, id: &str, letter: &str, at: &Range<usize>) -> PointId {
        let path = format!("{id}/{letter}");
        let wire_part = self.circuit.parts.len() - 1; // the wire's own part is the last one made
        match end {
            End::Point(point) => {
                self.wires_at.entry(point).or_default().push((wire, at.clone()));
                point
            }
            End::Splice(splice) => {
                let Splice { part, point, .. } = self.circuit.splices[splice];
                let keys = self.file.splice.iter().filter_map(|entry| entry.is.as_ref()).nth(splice);
                let ohms = keys.and_then(|keys| keys.ohms.as_ref()).map_or(d::SPLICE_OHMS, Value::value);
                let words = format!("{}, end of {}", self.part_words(part), self.circuit.parts[wire_part].name);
                let inside = self.point(&path, words, Access::Inside, part);
                let kind = BranchKind::Resistor { a: inside, b: point, ohms: Law::fixed(ohms) };
                let leg = self.branch(format!("{}/{id}", self.part_id(part)), part, Role::Splice, None, kind);
                self.circuit.splices[splice].legs.push((leg, wire));
                self.wires_at.entry(point).or_default().push((wire, at.clone()));
                inside
            }
            End::Cavity(connector, number, half) => {
                let part = self.circuit.connectors[connector.idx()].part;
                let terminal = self.circuit.connectors[connector.idx()].cavities[&number].terminals[half];
                let place = self.circuit.points[terminal.idx()].clone();
                let inside = self.point(&path, format!("{}, in the crimp", place.words), Access::Inside, part);
                let kind = BranchKind::Resistor { a: inside, b: terminal, ohms: Law::fixed(d::CRIMP_OHMS) };
                let crimp = self.branch(format!("{}/crimp {id}", place.path), part, Role::Crimp, None, kind);
                let cavity = self.circuit.connectors[connector.idx()].cavities.get_mut(&number);
                let before = cavity.and_then(|cavity| cavity.wires[half].replace((crimp, wire)));
                if let Some((_, other)) = before {
                    let other = self.part_id(self.circuit.wires[other.idx()].part).to_owned();
                    let message = format!("wire `{other}` is in `{}` already", place.path);
                    self.slips.push_help("cavity-used-twice", at, message, "join the wires with a splice");
                }
                self.wires_at.entry(terminal).or_default().push((wire, at.clone()));
                inside
            }
        }
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
            let keys = self.file.connector.iter().find(|entry| entry.name == id).and_then(|entry| entry.is.as_ref());
            let ohms = keys.and_then(|keys| keys.contact.as_ref()).map_or(d::CONTACT_OHMS, Value::value);
            let numbers: Vec<u16> = self.circuit.connectors[idx].cavities.keys().copied().collect();
            for number in numbers {
                let rating = self.contact_rating(connector, number, keys);
                let [a, b] = self.circuit.connectors[idx].cavities[&number].terminals;
                let kind = BranchKind::Switch { a, b, closed_ohms: Law::fixed(ohms), closed: closed.clone() };
                let contact = self.branch(format!("{id}.{number}/contact"), part, Role::Contact, Some(rating), kind);
                if let Some(cavity) = self.circuit.connectors[idx].cavities.get_mut(&number) {
                    cavity.contact = contact;
                }
                let Some((device, other)) = accessory.filter(|(_, other)| connector < *other) else { continue };
                let Some(far) = self.circuit.connectors[other.idx()].cavities.get(&number) else { continue };
                let b = far.terminals[0];
                let both = vec![not(Condition::Fitted(device)), Condition::Mated(connector), Condition::Mated(other)];
                let closed = Condition::All(both);
                let kind = BranchKind::Switch { a, b, closed_ohms: Law::fixed(ohms), closed };
                self.branch(format!("{id}.{number}/direct"), part, Role::Contact, Some(rating), kind);
            }
        }
    }

    fn contact_rating(&self, connector: ConnectorId, number: u16, keys: Option<&ConnectorKeys>) -> f64 {
        if let Some(rating) = keys.and_then(|keys| keys.rating.as_ref()) {
            return rating.value();
        }
        let cavity = &self.circuit.connectors[connector.idx()].cavities[&number];
        let areas = cavity.wires.iter().flatten().map(|(_, wire)| self.circuit.wires[wire.idx()].area);
        d::contact_amps(areas.fold(0.0, f64::max))
    }

    /// Gives a joint's cavity the words of what its wires lead to, where the file gives none.
    pub(super) fn cavity_words(&mut self) {
        // A chain of joints passes its words on once a round; more than this many joints in a row is no harness.
        for _ in 0..8 {
            let mut found = Vec::new();
            for wire in &self.circuit.wires {
                let at = |point: PointId| self.cavity_of(point);
                let [Some(one), Some(other)] = wire.ends.map(at) else { continue };
                let words = |(connector, number): (ConnectorId, u16)| {
                    &self.circuit.connectors[connector.idx()].cavities[&number].words
                };
                match (words(one).is_empty(), words(other).is_empty()) {
                    (true, false) => found.push((one, words(other).clone())),
                    (false, true) => found.push((other, words(one).clone())),
                    _ => {}
                }
            }
            if found.is_empty() {
                return;
            }
            for ((connector, number), words) in found {
                if let Some(cavity) = self.circuit.connectors[connector.idx()].cavities.get_mut(&number) {
                    cavity.words = words;
                }
            }
        }
    }

    /// The cavity whose crimp a wire's end is in.
    fn cavity_of(&self, end: PointId) -> Option<(ConnectorId, u16)> {
        let part = self.circuit.points[end.idx()].part;
        let PartKind::Connector(connector) = self.circuit.parts[part.idx()].kind else { return None };
        let holds = |cavity: &Cavity| {
            cavity.wires.iter().flatten().any(|(_, wire)| self.circuit.wires[wire.idx()].ends.contains(&end))
        };
        let cavities = &self.circuit.connectors[connector.idx()].cavities;
        cavities.iter().find(|(_, cavity)| holds(cavity)).map(|(number, _)| (connector, *number))
    }
}

/// Cavities as a person would list them: "1–14, 20".
fn in_words(rows: &[Vec<u16>]) -> String {
    let numbers: BTreeSet<u16> = rows.iter().flatten().copied().collect();
    let mut runs: Vec<(u16, u16)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(number) => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let words = runs.iter().map(|(a, b)| if a == b { a.to_string() } else { format!("{a}–{b}") });
    words.collect::<Vec<_>>().join(", ")
}
