//! From the keys of a file to points and branches.
//!
//! Points that wires may end at come first, then everything between them. What refers to something that could not be
//! read is passed over in silence: the thing itself has been blamed.

mod bears;
mod check;
mod device;
mod driver;
mod harness;
mod module;
mod monitor;
mod rhythm;
mod scan;
mod supply;
mod unknown;
mod values;
mod wires;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use quantity::Unit;

use super::condition::{self, not_understood};
use super::decode::{ByName, Named};
use super::defaults as d;
use super::keys::{CircuitFile, SensedKeys};
use super::kind::Kind;
use super::mistake::{Slips, suggestion};
use super::value::{Currency, Doubtful, Kind as Quantity, Minute, Text, Value};
use crate::branch::{Access, Base, Branch, BranchKind, Law, Moved, Param, Point, Role};
use crate::id::{BranchId, DeviceId, LoadId, ParamId, PartId, PointId, SensedId, WireId};
use crate::model::{Chafe, Circuit, Load, Part, PartKind, Sensed};
use crate::set_up::{Condition, Key};

/// Builds the circuit. Its result counts only if `slips` has noted nothing.
pub(crate) fn build(file: &CircuitFile, kinds: &BTreeMap<String, Kind>, slips: &mut Slips) -> Circuit {
    let mut builder = Builder {
        file,
        kinds,
        slips,
        circuit: empty(file),
        points: BTreeMap::new(),
        unread: BTreeSet::new(),
        parts: BTreeMap::new(),
        plugs: Vec::new(),
    };
    builder.names();
    builder.sensed_and_loads();
    builder.supply_points();
    builder.connectors();
    builder.splices();
    builder.device_pins();
    builder.rhythms();
    builder.supply_branches();
    builder.wires();
    builder.contacts();
    builder.modules();
    builder.devices();
    builder.bundles();
    builder.cavity_words();
    builder.check();
    builder.circuit
}

struct Builder<'f, 's, 't> {
    file: &'f CircuitFile,
    kinds: &'f BTreeMap<String, Kind>,
    slips: &'s mut Slips<'t>,
    circuit: Circuit,
    /// Points by path.
    points: BTreeMap<String, PointId>,
    /// Names of things that could not be read.
    unread: BTreeSet<String>,
    /// Parts by id.
    parts: BTreeMap<String, PartId>,
    /// Connectors, as the circuit's.
    plugs: Vec<harness::Plug>,
}

/// Minutes, price and whether it is new: what many parts say of themselves.
#[derive(Clone, Copy)]
struct Upkeep<'f>(Option<&'f Value<Minute>>, Option<&'f Value<Currency>>, Option<bool>);

impl Upkeep<'_> {
    const NONE: Self = Self(None, None, None);
}

/// What is listed in one table: the word for it, and name, place and whether it could be read for each.
type Listed<'f> = (&'static str, Vec<(&'f str, Range<usize>, bool)>);

fn listed<'f, T>(word: &'static str, things: &'f ByName<T>) -> Listed<'f> {
    (
        word,
        things
            .iter()
            .map(|entry| (entry.name.as_str(), entry.at.clone(), entry.is.is_some()))
            .collect(),
    )
}

impl<'f> Builder<'f, '_, '_> {
    /// Notes names that are used twice, are reserved or cannot be told from a point.
    fn names(&mut self) {
        let file = self.file;
        let tables: [Listed<'f>; 9] = [
            listed("feed", &file.feed),
            listed("fuse", &file.fuse),
            listed("relay", &file.relay),
            listed("ground", &file.ground),
            listed("module", &file.module),
            listed("device", &file.device),
            listed("connector", &file.connector),
            listed("wire", &file.wire),
            listed("splice", &file.splice),
        ];
        let mut seen: BTreeMap<&str, &str> = BTreeMap::new();
        for (word, things) in tables {
            for (id, at, is_read) in things {
                if !is_read {
                    self.unread.insert(id.to_owned());
                }
                self.check_name(id, &at);
                if matches!(id, "battery" | "charger") || (id == "body" && word != "ground") {
                    self.slips.push(
                        "duplicate",
                        &at,
                        format!("`{id}` is a name that every circuit has already"),
                    );
                } else if let Some(other) = seen.insert(id, word) {
                    let message = format!("`{id}` is the name of a {other} already");
                    self.slips
                        .push_help("duplicate", &at, message, "give every part a name of its own");
                }
            }
        }
        for (_, things) in [
            listed("sensed value", &file.sensed),
            listed("load", &file.load),
            listed("rhythm", &file.rhythm),
        ] {
            for (id, at, is_read) in things {
                if !is_read {
                    self.unread.insert(id.to_owned());
                }
                self.check_name(id, &at);
            }
        }
    }

    fn check_name(&mut self, id: &str, at: &Range<usize>) {
        let is_name = id.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '_') && !id.starts_with('-');
        if !is_name || id.is_empty() {
            let help = "a name has letters, digits, `-` and `_` only";
            self.slips
                .push_help("name", at, format!("`{id}` cannot be a name"), help);
        }
    }

    fn sensed_and_loads(&mut self) {
        let file = self.file;
        for Named { name, is, .. } in file.sensed.iter() {
            let Some(keys) = is else { continue };
            self.sensed(name, keys);
        }
        for Named { name, is, .. } in file.load.iter() {
            let Some(keys) = is else { continue };
            self.circuit.loads.push(Load {
                id: name.clone(),
                words: words_or(keys.name.as_ref(), name),
                acts: keys.acts.as_ref().map(|acts| acts.text.clone()),
            });
        }
    }

    fn sensed(&mut self, id: &str, keys: &SensedKeys) {
        let (least, most) = (keys.range.first.value, keys.range.second.value);
        if least >= most {
            self.slips.push(
                "limits",
                &keys.range.at,
                "the first value of a range must lie below the second",
            );
            self.unread.insert(id.to_owned());
            return;
        }
        let usual = keys.usual.as_ref().map_or(least.midpoint(most), |usual| usual.value);
        if let Some(at) = keys
            .usual
            .as_ref()
            .filter(|_| usual < least || usual > most)
            .map(|usual| &usual.at)
        {
            self.slips.push(
                "limits",
                at,
                format!("the usual value lies outside the range {least} to {most}"),
            );
        }
        let spread = keys
            .spread
            .as_ref()
            .map_or((most - least) * d::SENSED_SPREAD, |spread| spread.value);
        if let Some(at) = keys.spread.as_ref().filter(|_| spread < 0.0).map(|spread| &spread.at) {
            self.slips.push("limits", at, "a spread cannot be negative");
        }
        let words = words_or(keys.name.as_ref(), id);
        let unit_text = keys.unit.as_ref().map_or("", |unit| unit.text.as_str());
        let unit = super::kind::unit_by_name(unit_text).unwrap_or(Unit::One);
        let param = (spread > 0.0).then(|| self.param(id, &words, usual, unit));
        let at_key = self.at_key(keys);
        self.circuit.sensed.push(Sensed {
            id: id.to_owned(),
            words,
            unit: unit_text.to_owned(),
            range: (least, most),
            usual,
            spread,
            param,
            at_key,
            set_minutes: keys.set.as_ref().map(Value::value),
        });
    }

    /// Usual values of single key positions.
    fn at_key(&mut self, keys: &SensedKeys) -> BTreeMap<Key, f64> {
        let (least, most) = (keys.range.first.value, keys.range.second.value);
        let mut by_key = BTreeMap::new();
        for Named { name, at, is } in keys.at_key.iter() {
            let (Some(key), Some(value)) = (super::condition::key(name, at, self.slips), is) else {
                continue;
            };
            if !(least..=most).contains(&value.value) {
                let message =
                    format!("the usual value with the key in `{name}` lies outside the range {least} to {most}");
                self.slips.push("limits", &value.at, message);
            }
            by_key.insert(key, value.value);
        }
        by_key
    }

    fn part(&mut self, id: &str, name: String, kind: PartKind, upkeep: Upkeep) -> PartId {
        let part = PartId::from(self.circuit.parts.len());
        let Upkeep(repair, price, new) = upkeep;
        self.circuit.parts.push(Part {
            id: id.to_owned(),
            name,
            kind,
            repair_minutes: repair.map(Value::value),
            price: price.map(Value::value),
            is_new: new.unwrap_or(false),
        });
        self.parts.insert(id.to_owned(), part);
        part
    }

    fn part_id(&self, part: PartId) -> &str {
        &self.circuit.parts[part.idx()].id
    }

    fn part_words(&self, part: PartId) -> &str {
        &self.circuit.parts[part.idx()].name
    }

    fn point(&mut self, path: &str, words: String, access: Access, part: PartId) -> PointId {
        let point = PointId::from(self.circuit.points.len());
        self.circuit.points.push(Point {
            path: path.to_owned(),
            words,
            access,
            part,
        });
        self.points.insert(path.to_owned(), point);
        point
    }

    fn branch(
        &mut self,
        path: String,
        part: PartId,
        role: Role,
        rating_amps: Option<f64>,
        kind: BranchKind,
    ) -> BranchId {
        let branch = BranchId::from(self.circuit.branches.len());
        self.circuit.branches.push(Branch {
            path,
            part,
            role,
            kind,
            rating_amps,
            henries: 0.0,
        });
        branch
    }

    fn param(&mut self, path: &str, words: &str, nominal: f64, unit: Unit) -> ParamId {
        let param = ParamId::from(self.circuit.params.len());
        self.circuit.params.push(Param {
            path: path.to_owned(),
            words: words.to_owned(),
            nominal,
            unit,
        });
        param
    }

    /// A value with its doubt as a parameter of its own.
    fn law(&mut self, path: &str, words: &str, value: Doubtful, unit: Unit) -> Law {
        let mut law = Law::fixed(value.centre);
        if value.factor != 0.0 || value.shift != 0.0 {
            let param = self.param(path, words, value.centre, unit);
            law.moved_by.push(Moved {
                param,
                factor: value.factor,
                shift: value.shift,
            });
        }
        law
    }

    /// A value of the file or its default, with the default's tolerance where the file states none.
    fn given<K: Quantity>(&mut self, path: &str, words: &str, value: Option<&Value<K>>, default: d::Default) -> Law {
        let amount = value.map_or(quantity::Amount::new(default.value, K::UNIT), |value| value.amount);
        self.law(path, words, Doubtful::from_amount(amount, default.spread), K::UNIT)
    }

    /// Notes a value that must be above zero and is not.
    fn positive<K>(&mut self, value: Option<&Value<K>>) {
        if let Some(value) = value.filter(|value| value.value() <= 0.0) {
            self.slips.push("limits", &value.at, "this must be above zero");
        }
    }

    /// Whether `name`, or what it is a part of, could not be read.
    fn is_unread(&self, name: &str) -> bool {
        let id = name.split(['.', '/']).next().unwrap_or(name);
        self.unread.contains(id)
    }

    /// The point of a path, for things that are not ends of wires.
    fn spot(&mut self, text: &Text) -> Option<PointId> {
        if let Some(point) = self.points.get(&text.text) {
            return Some(*point);
        }
        if !self.is_unread(&text.text) {
            self.no_such_point(text);
        }
        None
    }

    /// Notes a point that is not there, in the terms of what its name looks like.
    fn no_such_point(&mut self, text: &Text) {
        let name = text.text.as_str();
        let message = match name.split_once(['.', '/']) {
            Some((id, _)) if self.parts.contains_key(id) => {
                format!("there is no point `{name}` at {}", self.part_words(self.parts[id]))
            }
            _ => format!("there is no point `{name}`"),
        };
        let known = self
            .points
            .keys()
            .map(String::as_str)
            .filter(|path| self.is_for_people(path));
        let help = suggestion(name, known).filter(|help| help.starts_with("did you mean"));
        let help =
            help.unwrap_or_else(|| "a point is e.g. `S1.2`, `floor.7/a`, `F1/out`, `K1/87`, `battery+`".to_owned());
        self.slips.push_help("unknown-point", &text.at, message, help);
    }

    fn is_for_people(&self, path: &str) -> bool {
        self.points
            .get(path)
            .is_some_and(|point| self.circuit.points[point.idx()].access != Access::Inside)
            || !path.contains('/')
    }

    /// A condition over the whole circuit.
    fn condition(&mut self, text: &Text) -> Option<Condition> {
        let (circuit, parts, unread) = (&self.circuit, &self.parts, &self.unread);
        let mut passed_over = false;
        let is_accessory = |id: DeviceId| circuit.devices[id.idx()].accessory;
        let condition = condition::parse(text, self.slips, &mut |term, slips| {
            if unread.contains(term.subject) {
                passed_over = true;
                return Some(Condition::Always);
            }
            let load = circuit
                .loads
                .iter()
                .position(|load| load.id == term.subject)
                .map(LoadId::from);
            let sensed = circuit
                .sensed
                .iter()
                .position(|sensed| sensed.id == term.subject)
                .map(SensedId::from);
            let phase = term.predicate.strip_prefix("in ").and_then(|phase| {
                let at = circuit.rhythms.iter().position(|rhythm| rhythm.id == term.subject)?;
                let phase = circuit.rhythms[at].phase(phase.trim())??;
                Some(Condition::InPhase(at.into(), phase))
            });
            let kind = parts.get(term.subject).map(|part| circuit.parts[part.idx()].kind);
            let found = match (kind, load, sensed, term.predicate) {
                (_, Some(load), _, "commanded") => Some(Condition::Commanded(load)),
                (_, Some(load), _, "not commanded") => Some(not(Condition::Commanded(load))),
                (Some(PartKind::Connector(id)), _, _, "mated") => Some(Condition::Mated(id)),
                (Some(PartKind::Connector(id)), _, _, "apart") => Some(not(Condition::Mated(id))),
                (Some(PartKind::Device(id)), _, _, "fitted") if is_accessory(id) => Some(Condition::Fitted(id)),
                (Some(PartKind::Device(id)), _, _, "out") if is_accessory(id) => Some(not(Condition::Fitted(id))),
                (Some(PartKind::Fuse(id)), _, _, "in") => Some(Condition::FuseIn(id)),
                (Some(PartKind::Fuse(id)), _, _, "out") => Some(not(Condition::FuseIn(id))),
                (Some(PartKind::Relay(id)), _, _, "in") => Some(Condition::RelayIn(id)),
                (Some(PartKind::Relay(id)), _, _, "out") => Some(not(Condition::RelayIn(id))),
                (_, _, Some(sensed), threshold) => {
                    let at_least = threshold.strip_prefix("at least ");
                    let number = at_least.or_else(|| threshold.strip_prefix("below "));
                    number
                        .and_then(|number| number.trim().parse::<f64>().ok())
                        .filter(|n| n.is_finite())
                        .map(|number| {
                            let condition = Condition::SensedAtLeast(sensed, number);
                            if at_least.is_some() { condition } else { not(condition) }
                        })
                }
                _ => phase,
            };
            if found.is_none() {
                let loads = circuit.loads.iter().map(|load| load.id.as_str());
                let sensed = circuit.sensed.iter().map(|sensed| sensed.id.as_str());
                let rhythms = circuit.rhythms.iter().map(|rhythm| rhythm.id.as_str());
                let words = ["key", "always", "never", "battery"];
                not_understood(
                    term,
                    slips,
                    loads
                        .chain(sensed)
                        .chain(rhythms)
                        .chain(parts.keys().map(String::as_str))
                        .chain(words),
                );
            }
            found
        });
        condition.filter(|_| !passed_over)
    }

    fn bundles(&mut self) {
        let file = self.file;
        for Named { name, is, .. } in file.bundle.iter() {
            let Some(keys) = is else { continue };
            let wires = self.wire_list(&keys.wires);
            let repair_minutes = keys.repair.as_ref().map_or(d::BUNDLE_MINUTES, Value::value);
            let words = words_or(keys.name.as_ref(), name);
            self.circuit.bundles.push(crate::model::Bundle {
                words,
                wires,
                repair_minutes,
            });
        }
        for Named { name, is, .. } in file.chafe.iter() {
            let Some(keys) = is else { continue };
            let wires = self.wire_list(&keys.wires);
            self.circuit.chafes.push(Chafe {
                words: words_or(keys.name.as_ref(), name),
                wires,
            });
        }
    }

    fn wire_list(&mut self, names: &[Text]) -> Vec<WireId> {
        let mut wires = Vec::new();
        for name in names {
            match self
                .parts
                .get(&name.text)
                .map(|part| self.circuit.parts[part.idx()].kind)
            {
                Some(PartKind::Wire(wire)) if wires.contains(&wire) => {
                    self.slips
                        .push("duplicate", &name.at, format!("`{}` is listed twice", name.text));
                }
                Some(PartKind::Wire(wire)) => wires.push(wire),
                _ if self.is_unread(&name.text) => {}
                _ => {
                    let message = format!("there is no wire `{}`", name.text);
                    let known = self.file.wire.names();
                    self.slips.unknown("unknown-wire", &name.at, message, &name.text, known);
                }
            }
        }
        wires
    }
}

fn not(condition: Condition) -> Condition {
    Condition::Not(Box::new(condition))
}

/// What a thing is called: its name in plain words, or else its id.
fn words_or(name: Option<&Text>, id: &str) -> String {
    name.map_or_else(|| id.replace('_', " "), |name| name.text.clone())
}

/// Minutes as [`Access::Open`] keeps them.
fn reached_in(minutes: Option<&Value<Minute>>, default: f64) -> Access {
    Access::Open {
        tenths: (minutes.map_or(default, Value::value) * 10.0).round().clamp(0.0, 1e6) as u32,
    }
}

/// A value that holds in these set-ups, and else another.
fn when(condition: Condition, then: f64, otherwise: f64) -> Law {
    Law {
        base: Base::When {
            condition,
            then,
            otherwise,
        },
        moved_by: Vec::new(),
    }
}

fn empty(file: &CircuitFile) -> Circuit {
    let nowhere = PointId(0);
    Circuit {
        title: file.title.text.clone(),
        vehicle: file
            .vehicle
            .as_ref()
            .map_or_else(String::new, |vehicle| vehicle.text.clone()),
        points: Vec::new(),
        branches: Vec::new(),
        parts: Vec::new(),
        connectors: Vec::new(),
        wires: Vec::new(),
        splices: Vec::new(),
        modules: Vec::new(),
        devices: Vec::new(),
        fuses: Vec::new(),
        relays: Vec::new(),
        feeds: Vec::new(),
        grounds: Vec::new(),
        bundles: Vec::new(),
        chafes: Vec::new(),
        sensed: Vec::new(),
        loads: Vec::new(),
        rhythms: Vec::new(),
        params: Vec::new(),
        unknowns: Vec::new(),
        channels: Vec::new(),
        monitors: Vec::new(),
        battery_plus: nowhere,
        battery_minus: nowhere,
        body: nowhere,
    }
}
