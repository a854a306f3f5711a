//! Wires and splices: where they end, and how they are fastened there.

use std::collections::BTreeSet;
use std::ops::Range;

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::WireKeys;
use super::super::mistake::suggestion;
use super::super::value::{Text, Value};
use super::harness::cavity_path;
use super::{Builder, Upkeep, words_or};
use crate::branch::{Access, BranchKind, Law, Role};
use crate::colour;
use crate::id::{BranchId, ConnectorId, PointId, WireId};
use crate::model::{PartKind, Splice, Wire};

/// What the end of a wire is at.
#[derive(Clone, Copy)]
enum End {
    Cavity(ConnectorId, u16, usize),
    Splice(usize),
    Point(PointId),
}

impl Builder<'_, '_, '_> {
    pub(super) fn splices(&mut self) {
        for Named { name, is, .. } in self.file.splice.iter() {
            let Some(keys) = is else { continue };
            let words = words_or(keys.name.as_ref(), name);
            let kind = PartKind::Splice(self.circuit.splices.len());
            let part = self.part(name, words.clone(), kind, Upkeep(keys.repair.as_ref(), None, None));
            let point = self.point(name, words, Access::Inside, part);
            self.circuit.splices.push(Splice {
                part,
                point,
                legs: Vec::new(),
            });
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
        let part = self.part(
            id,
            words,
            PartKind::Wire(wire),
            Upkeep(keys.repair.as_ref(), None, None),
        );
        self.positive(keys.length.as_ref());
        if let Some(length) = keys
            .length
            .as_ref()
            .filter(|length| length.value() > d::MOST_WIRE_METRES)
        {
            let message = format!(
                "no wire of a vehicle is longer than {} m: check the unit",
                d::MOST_WIRE_METRES
            );
            self.slips.push("limits", &length.at, message);
        }
        let area = keys.size.as_ref().map_or(d::WIRE_AREA, Value::value);
        let length = keys.length.as_ref().map_or(d::WIRE_METRES, Value::value);
        if keys.from.text == keys.to.text {
            self.slips.push(
                "wire-to-itself",
                at,
                format!("wire `{id}` starts and ends at `{}`", keys.to.text),
            );
        }
        let ends = [self.end(&keys.from), self.end(&keys.to)];
        let [Some(from), Some(to)] = ends else {
            // Keep the numbering of wires; nothing else of it is used, for the mistake has been noted.
            let nowhere = self.circuit.battery_minus;
            let branch = BranchId(0);
            self.circuit.wires.push(Wire {
                part,
                branch,
                ends: [nowhere; 2],
                colour,
                tracer,
                length,
                area,
            });
            return;
        };
        let from = self.attach(from, wire, id, "a", &keys.from.at);
        let to = self.attach(to, wire, id, "b", &keys.to.at);
        let ohms = Law::fixed(quantity::wire_ohms_per_metre(area) * length);
        let rating = Some(keys.rating.as_ref().map_or_else(|| d::wire_amps(area), Value::value));
        let branch = self.branch(
            id.to_owned(),
            part,
            Role::Wire,
            rating,
            BranchKind::Resistor { a: from, b: to, ohms },
        );
        self.circuit.wires.push(Wire {
            part,
            branch,
            ends: [from, to],
            colour,
            tracer,
            length,
            area,
        });
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
        if let Some(splice) = self
            .circuit
            .splices
            .iter()
            .position(|splice| self.part_id(splice.part) == path)
        {
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
                let words = self.circuit.connectors[connector.idx()]
                    .halves
                    .clone()
                    .map(|half| half.words);
                let message = format!("`{id}` joins wires: say at which side this one ends");
                let help = format!(
                    "`{id}.{number}/a` is the {}, `{id}.{number}/b` the {}",
                    words[0], words[1]
                );
                self.slips.push_help("joint", &text.at, message, help);
                return None;
            }
            (false, Some(side)) => {
                let message = format!("`{id}` has one wire side only, so `/{side}` means nothing");
                self.slips
                    .push_help("joint", &text.at, message, format!("write `{id}.{number}`"));
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
            End::Point(point) => point,
            End::Splice(splice) => {
                let Splice { part, point, .. } = self.circuit.splices[splice];
                let keys = self
                    .file
                    .splice
                    .iter()
                    .filter_map(|entry| entry.is.as_ref())
                    .nth(splice);
                let ohms = keys
                    .and_then(|keys| keys.ohms.as_ref())
                    .map_or(d::SPLICE_OHMS, Value::value);
                let words = format!(
                    "{}, end of {}",
                    self.part_words(part),
                    self.circuit.parts[wire_part].name
                );
                let inside = self.point(&path, words, Access::Inside, part);
                let kind = BranchKind::Resistor {
                    a: inside,
                    b: point,
                    ohms: Law::fixed(ohms),
                };
                let leg = self.branch(format!("{}/{id}", self.part_id(part)), part, Role::Splice, None, kind);
                self.circuit.splices[splice].legs.push((leg, wire));
                inside
            }
            End::Cavity(connector, number, half) => {
                let part = self.circuit.connectors[connector.idx()].part;
                let terminal = self.circuit.connectors[connector.idx()].cavities[&number].terminals[half];
                let place = self.circuit.points[terminal.idx()].clone();
                let inside = self.point(&path, format!("{}, in the crimp", place.words), Access::Inside, part);
                let kind = BranchKind::Resistor {
                    a: inside,
                    b: terminal,
                    ohms: Law::fixed(d::CRIMP_OHMS),
                };
                let crimp = self.branch(format!("{}/crimp {id}", place.path), part, Role::Crimp, None, kind);
                let cavity = self.circuit.connectors[connector.idx()].cavities.get_mut(&number);
                let before = cavity.and_then(|cavity| cavity.wires[half].replace((crimp, wire)));
                if let Some((_, other)) = before {
                    let other = self.part_id(self.circuit.wires[other.idx()].part).to_owned();
                    let message = format!("wire `{other}` is in `{}` already", place.path);
                    self.slips
                        .push_help("cavity-used-twice", at, message, "join the wires with a splice");
                }
                inside
            }
        }
    }
}

/// Cavities as a person would list them: "1–14, 20".
fn in_words(rows: &[Vec<u16>]) -> String {
    if rows.iter().all(Vec::is_empty) {
        return "none".to_owned();
    }
    let numbers: BTreeSet<u16> = rows.iter().flatten().copied().collect();
    let mut runs: Vec<(u16, u16)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(number) => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let words = runs
        .iter()
        .map(|(a, b)| if a == b { a.to_string() } else { format!("{a}–{b}") });
    words.collect::<Vec<_>>().join(", ")
}
