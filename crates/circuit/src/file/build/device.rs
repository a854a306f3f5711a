//! Devices: a kind with its values filled in, as branches between the device's pins.

use std::collections::BTreeMap;
use std::ops::Range;

use quantity::{Spread, Unit};

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::element::ElementForm;
use super::super::formula::{Form, Formula, compile_rows};
use super::super::keys::DeviceKeys;
use super::super::kind::{Compiled, Element, Kind};
use super::super::mistake::suggestion;
use super::super::value::Doubtful;
use super::harness::cavity_path;
use super::values::{Entry, Values};
use super::{Builder, Upkeep, reached_in, when};
use crate::branch::{Base, BranchKind, Law, OPEN_OHMS, Role};
use crate::id::{BranchId, DeviceId, LoadId, PartId, PointId, RhythmId, SensedId};
use crate::model::{Device, PartKind};
use crate::rhythm::Rhythm;
use crate::set_up::Condition;

impl<'f> Builder<'f, '_, '_> {
    /// Devices with their pins; what is inside comes later.
    pub(super) fn device_pins(&mut self) {
        let (file, kinds) = (self.file, self.kinds);
        for Named { name, at, is } in file.device.iter() {
            let Some(keys) = is else { continue };
            let device = DeviceId::from(self.circuit.devices.len());
            let kind = kinds.get(&keys.kind.text);
            if kind.is_none() && !file.kind.names().any(|kind| kind == keys.kind.text) {
                let message = format!("there is no kind of device `{}`", keys.kind.text);
                let known = kinds.keys().map(String::as_str);
                self.slips
                    .unknown("unknown-kind", &keys.kind.at, message, &keys.kind.text, known);
            }
            let words = keys
                .name
                .as_ref()
                .map_or_else(|| name.replace('_', " "), |name| name.text.clone());
            let upkeep = Upkeep(keys.repair.as_ref(), keys.price.as_ref(), keys.new);
            let part = self.part(name, words, PartKind::Device(device), upkeep);
            let names: Vec<String> = match kind {
                Some(kind) => kind.pins.clone(),
                None => keys.pins.names().map(str::to_owned).collect(),
            };
            for pin in keys.pins.iter().filter(|pin| !names.contains(&pin.name)) {
                let message = format!("a {} has no pin `{}`", keys.kind.text, pin.name);
                self.slips.unknown(
                    "unknown-pin",
                    &pin.at,
                    message,
                    &pin.name,
                    names.iter().map(String::as_str),
                );
            }
            let pins = names
                .iter()
                .filter_map(|pin| Some((pin.clone(), self.device_pin(name, part, pin, keys)?)));
            let pins = pins.collect();
            self.circuit.devices.push(Device {
                part,
                kind: keys.kind.text.clone(),
                pins,
                inside: Vec::new(),
                senses: None,
                accessory: keys.between.is_some(),
                acts: keys.acts.as_ref().map(|acts| acts.text.clone()),
            });
            self.check_name(name, at);
        }
    }

    fn device_pin(&mut self, id: &str, part: PartId, pin: &str, keys: &DeviceKeys) -> Option<PointId> {
        let words = format!("{}, {pin}", self.part_words(part));
        let Some(entry) = keys.pins.iter().find(|entry| entry.name == pin) else {
            // A terminal of its own, for a wire that ends at it.
            return Some(self.point(&format!("{id}/{pin}"), words, reached_in(None, d::STUD_MINUTES), part));
        };
        let place = entry.is.as_ref()?;
        let Some((connector, number, side)) = cavity_path(&place.text) else {
            return self.spot(place);
        };
        if self.is_unread(connector) {
            return None;
        }
        let plug = self.plugs.iter().position(|plug| plug.id == connector)?; // noted where owners were gathered
        let cavity = number
            .parse::<u16>()
            .ok()
            .and_then(|number| self.circuit.connectors[plug].cavities.get_mut(&number));
        let Some(cavity) = cavity.filter(|_| side.is_none()) else {
            let message = format!("`{}` is no cavity of connector `{connector}`", place.text);
            self.slips.push("cavity", &place.at, message);
            return None;
        };
        if cavity.words.is_empty() {
            pin.clone_into(&mut cavity.words);
        }
        let point = cavity.terminals[1];
        let place = &mut self.circuit.points[point.idx()];
        place.words = format!("{}, {pin}", place.words);
        Some(point)
    }

    pub(super) fn devices(&mut self) {
        let (file, kinds) = (self.file, self.kinds);
        for (idx, Named { name, is, .. }) in file.device.iter().filter(|device| device.is.is_some()).enumerate() {
            let Some(keys) = is else { continue };
            let first = self.circuit.branches.len();
            if let Some(kind) = kinds.get(&keys.kind.text) {
                self.device(name, DeviceId::from(idx), keys, kind);
            }
            self.pass_through(name, DeviceId::from(idx), keys);
            let inside = (first..self.circuit.branches.len()).map(BranchId::from).collect();
            self.circuit.devices[idx].inside = inside;
        }
    }

    fn device(&mut self, id: &str, device: DeviceId, keys: &'f DeviceKeys, kind: &'f Kind) {
        let Some(values) = self.values(id, device, keys, kind) else {
            return;
        };
        let part = self.circuit.devices[device.idx()].part;
        let of = self.part_words(part).to_owned();
        let mut places: BTreeMap<String, PointId> = self.circuit.devices[device.idx()].pins.iter().cloned().collect();
        for inner in &kind.inner {
            let words = format!("{of}, {inner} inside");
            places.insert(
                inner.clone(),
                self.point(&format!("{id}/{inner}"), words, crate::branch::Access::Inside, part),
            );
        }
        for element in &kind.elements {
            let points: Option<Vec<PointId>> = element.between.iter().map(|name| places.get(name).copied()).collect();
            let Some(points) = points else { continue }; // a pin that has been blamed
            let driven_by = element.driven_by.as_ref().and_then(|pair| {
                let [plus, minus] = pair;
                Some([*places.get(plus)?, *places.get(minus)?])
            });
            let branch = self.element(&values, element, &points, &keys.at);
            let branch = match driven_by {
                Some(by) => branch.and_then(|branch| self.driven(branch, by, &values, element, &keys.at)),
                None => branch,
            };
            if let Some(branch) = branch {
                let rating = self.rating(&values, element, &keys.at);
                let henries = self.henries(&values, element, &keys.at);
                let branch = self.branch(format!("{id}/{}", element.words), part, element.role, rating, branch);
                self.circuit.branches[branch.idx()].henries = henries;
            }
        }
    }

    /// A device's values: what its file says, or else what its kind does.
    fn values(&mut self, id: &str, device: DeviceId, keys: &'f DeviceKeys, kind: &'f Kind) -> Option<Values<'f>> {
        let mut is_whole = true;
        let sensed = keys.senses.as_ref().and_then(|senses| {
            let found = self.circuit.sensed.iter().position(|sensed| sensed.id == senses.text);
            if found.is_none() && !self.is_unread(&senses.text) {
                let message = format!("there is no sensed value `{}`", senses.text);
                let help = suggestion(&senses.text, self.file.sensed.names()).unwrap_or_default();
                self.slips.push_help("unknown-sensed", &senses.at, message, help);
            }
            let sensed = &self.circuit.sensed[found?];
            Some((SensedId::from(found?), sensed.range.0, sensed.range.1, sensed.usual))
        });
        let load = keys.load.as_ref().and_then(|load| {
            let found = self.circuit.loads.iter().position(|known| known.id == load.text);
            if found.is_none() && !self.is_unread(&load.text) {
                let message = format!("there is no load `{}`", load.text);
                let help = suggestion(&load.text, self.file.load.names()).unwrap_or_default();
                self.slips.push_help("unknown-load", &load.at, message, help);
            }
            found.map(LoadId::from)
        });
        let rhythm = self.own_rhythm(keys, kind);
        if kind.needs_rhythm && rhythm.is_none() {
            is_whole = false;
        }
        self.circuit.devices[device.idx()].senses = sensed.map(|(sensed, ..)| sensed);
        let has_rows = keys.values.iter().any(|value| {
            matches!(
                value.is,
                Some(Formula {
                    form: Form::Rows(_),
                    ..
                })
            )
        });
        if (kind.needs_sensed || has_rows) && sensed.is_none() {
            is_whole = false;
            if keys.senses.is_none() {
                let help = "write `senses = \"…\"` with a name of `[sensed]`";
                let message = format!("a {} needs `senses`: what it senses", keys.kind.text);
                self.slips.push_help("missing-key", &keys.at, message, help);
            }
        }
        if kind.needs_load && load.is_none() {
            is_whole = false;
            if keys.load.is_none() {
                let help = "write `load = \"…\"` with a name of `[load]`";
                let message = format!("a {} needs `load`: what commands it", keys.kind.text);
                self.slips.push_help("missing-key", &keys.at, message, help);
            }
        }
        for value in keys
            .values
            .iter()
            .filter(|value| !kind.values.iter().any(|known| known.id == value.name))
        {
            is_whole = false;
            let message = format!("a {} has no value `{}`", keys.kind.text, value.name);
            let known = kind.values.iter().map(|known| known.id.as_str());
            self.slips
                .unknown("unknown-value", &value.at, message, &value.name, known);
        }
        let mut names = Vec::new();
        let of = self.part_words(self.circuit.devices[device.idx()].part).to_owned();
        for known in &kind.values {
            let given = keys.values.iter().find(|value| value.name == known.id);
            let is = match given {
                Some(Named { is: Some(formula), .. }) => self.given_value(formula, known.unit, known.default.as_ref()),
                Some(_) => None,
                None if known.default.is_some() => known.default.clone(),
                None => {
                    let help = format!("write `values = {{ {} = \"{}\" }}`", known.id, known.unit.example());
                    let message = format!("a {} needs the value `{}`: {}", keys.kind.text, known.id, known.words);
                    self.slips.push_help("missing-key", &keys.at, message, help);
                    None
                }
            };
            let Some(is) = is else {
                is_whole = false;
                continue;
            };
            let param = match is {
                Compiled::Constant(Doubtful { centre, factor, shift }) if factor != 0.0 || shift != 0.0 => {
                    Some(self.param(
                        &format!("{id}/{}", known.id),
                        &format!("{of}: {}", known.words),
                        centre,
                        known.unit,
                    ))
                }
                _ => None,
            };
            names.push((known.id.as_str(), Entry { is, param }));
        }
        names.extend(kind.locals.iter().map(|(name, is)| {
            (
                name.as_str(),
                Entry {
                    is: is.clone(),
                    param: None,
                },
            )
        }));
        is_whole.then_some(Values {
            names,
            sensed,
            load,
            rhythm,
        })
    }

    /// What repeats in a device, with every phase that its kind speaks of.
    fn own_rhythm(&mut self, keys: &DeviceKeys, kind: &Kind) -> Option<(RhythmId, Rhythm)> {
        let Some(name) = &keys.rhythm else {
            if kind.needs_rhythm {
                let help = "write `rhythm = \"…\"` with a name of `[rhythm]`";
                let message = format!("a {} needs `rhythm`: what repeats in it", keys.kind.text);
                self.slips.push_help("missing-key", &keys.at, message, help);
            }
            return None;
        };
        let found = self.circuit.rhythms.iter().position(|rhythm| rhythm.id == name.text);
        let Some(found) = found else {
            if !self.is_unread(&name.text) {
                let message = format!("nothing that repeats is named `{}`", name.text);
                let help = suggestion(&name.text, self.file.rhythm.names()).unwrap_or_default();
                self.slips.push_help("unknown-rhythm", &name.at, message, help);
            }
            return None;
        };
        let rhythm = &self.circuit.rhythms[found];
        let conditions = kind.elements.iter().filter_map(|element| element.when.as_ref());
        for phase in conditions.flat_map(|when| &when.phases) {
            if !matches!(rhythm.phase(phase), Some(Some(_))) {
                let message = format!("a {} needs a phase `{phase}` in `{}`", keys.kind.text, name.text);
                let known = rhythm.phases.iter().map(|phase| phase.name.as_str());
                self.slips.unknown("unknown-phase", &name.at, message, phase, known);
            }
        }
        Some((found.into(), rhythm.clone()))
    }

    /// Inductance of an element, henries.
    fn henries(&mut self, values: &Values, element: &Element, at: &Range<usize>) -> f64 {
        match self
            .element_law(values, element, "inductance", 0.0, true, at)
            .map(|law| law.base)
        {
            Some(Base::Fixed(henries)) => henries,
            _ => 0.0,
        }
    }

    /// A value that a device states: a quantity, or rows by what it senses.
    fn given_value(&mut self, formula: &Formula, unit: Unit, default: Option<&Compiled>) -> Option<Compiled> {
        match &formula.form {
            Form::Number(value) => Some(Compiled::Constant(Doubtful::exact(*value))),
            Form::Text(text) => match quantity::parse(text, unit) {
                Ok(amount) => {
                    let spread = match default {
                        Some(Compiled::Constant(default)) if default.factor > 0.0 => {
                            Spread::Relative(default.factor * 2.0)
                        }
                        Some(Compiled::Constant(default)) if default.shift > 0.0 => {
                            Spread::Absolute(default.shift * 2.0)
                        }
                        _ => Spread::Exact,
                    };
                    Some(Compiled::Constant(Doubtful::from_amount(amount, spread)))
                }
                Err(error) => {
                    self.slips.unreadable(&formula.at, text, &error);
                    None
                }
            },
            Form::Rows(rows) => compile_rows(rows, unit, self.slips, &mut |text, slips| {
                let error = quantity::parse(&text.text, unit).err()?;
                slips.unreadable(&text.at, &text.text, &error);
                None
            })
            .map(Compiled::Rows),
            Form::When(_) => {
                self.slips.push(
                    "formula",
                    &formula.at,
                    "a device states one value, or rows by what it senses",
                );
                None
            }
        }
    }

    fn element(
        &mut self,
        values: &Values,
        element: &Element,
        points: &[PointId],
        at: &Range<usize>,
    ) -> Option<BranchKind> {
        let mut law =
            |key: &str, default: f64, positive: bool| self.element_law(values, element, key, default, positive, at);
        let condition = || {
            element
                .when
                .as_ref()
                .map_or(Condition::Always, |when| values.condition(when))
        };
        let [first, second] = points.first_chunk::<2>().copied()?;
        let number = |law: Law| {
            if let Base::Fixed(value) = law.base {
                value
            } else {
                f64::NAN
            }
        };
        let kind = match element.form {
            ElementForm::Resistor => BranchKind::Resistor {
                a: first,
                b: second,
                ohms: law("ohms", 0.0, true)?,
            },
            ElementForm::Switch => BranchKind::Switch {
                a: first,
                b: second,
                closed_ohms: law("ohms", 0.02, true)?,
                closed: condition(),
            },
            ElementForm::Source => BranchKind::Source {
                plus: first,
                minus: second,
                volts: law("volts", 0.0, false)?,
                ohms: law("ohms", 0.1, true)?,
                present: condition(),
            },
            ElementForm::Diode => BranchKind::Diode {
                anode: first,
                cathode: second,
                saturation_amps: number(law("saturation", 1e-14, true)?),
                thermal_volts: d::CLAMP.1,
                series_ohms: number(law("series", 0.05, true)?),
            },
            ElementForm::Clamp => BranchKind::Clamp {
                anode: first,
                cathode: second,
                breakdown_volts: law("breakdown", 0.0, true)?,
                series_ohms: number(law("series", 0.1, true)?),
            },
            ElementForm::Output => BranchKind::Output {
                supply: first,
                ground: second,
                output: *points.get(2)?,
                offset_volts: law("offset", 0.0, false)?,
                gain: law("gain", 0.0, false)?,
                dropout_volts: number(law("dropout", 0.0, true)?),
                ohms: law("ohms", 50.0, true)?,
                source_limit_amps: number(law("source_limit", 0.008, true)?),
                sink_limit_amps: number(law("sink_limit", 0.0, true)?),
            },
            ElementForm::Sink => BranchKind::CurrentSink {
                from: first,
                to: second,
                amps: law("amps", 0.0, true)?,
                knee_volts: number(law("knee", 1.0, true)?),
                drawn: condition(),
            },
            ElementForm::Lamp => BranchKind::Lamp {
                a: first,
                b: second,
                rated_watts: law("watts", 0.0, true)?,
                rated_volts: number(law("rated_volts", 12.0, true)?),
                hot_to_cold: number(law("hot_to_cold", 10.0, true)?),
            },
        };
        Some(kind)
    }

    /// A switch that needs a voltage between two points beside its condition.
    fn driven(
        &mut self,
        switch: BranchKind,
        [plus, minus]: [PointId; 2],
        values: &Values,
        element: &Element,
        at: &Range<usize>,
    ) -> Option<BranchKind> {
        let above = self.element_law(values, element, "above", 0.0, true, at)?;
        let BranchKind::Switch {
            a,
            b,
            closed_ohms,
            closed,
        } = switch
        else {
            return Some(switch);
        };
        let (Base::Fixed(volts), Base::Fixed(ohms)) = (above.base, closed_ohms.base) else {
            let message = format!(
                "`ohms` of {} cannot follow the set-up beside `driven_by`",
                element.words
            );
            self.slips.push("formula", at, message);
            return None;
        };
        let law = Law {
            moved_by: closed_ohms.moved_by,
            ..when(closed, ohms, OPEN_OHMS)
        };
        Some(BranchKind::RelayContact {
            relay: None,
            a,
            b,
            closed_ohms: law,
            coil_plus: plus,
            coil_minus: minus,
            pull_in_volts: volts,
            drop_out_volts: volts * d::LETS_GO,
            normally_closed: false,
        })
    }

    fn rating(&mut self, values: &Values, element: &Element, at: &Range<usize>) -> Option<f64> {
        if element.values.contains_key("rating") {
            let law = self.element_law(values, element, "rating", 0.0, true, at)?;
            return if let Base::Fixed(amps) = law.base {
                Some(amps)
            } else {
                None
            };
        }
        match element.role {
            Role::Wiper | Role::SensorOutput => Some(d::WIPER_AMPS),
            Role::Track | Role::SensingResistor => Some(d::TRACK_AMPS),
            _ => None,
        }
    }

    /// The law of one value of an element. What is `positive` cannot go below zero, and moves by factors.
    fn element_law(
        &mut self,
        values: &Values,
        element: &Element,
        key: &str,
        default: f64,
        positive: bool,
        at: &Range<usize>,
    ) -> Option<Law> {
        let Some(compiled) = element.values.get(key) else {
            return Some(Law::fixed(default));
        };
        let law = values.law(compiled, positive);
        let rows: Vec<f64> = match &law.base {
            Base::Fixed(value) => vec![*value],
            Base::Table { rows, .. } => rows.iter().map(|row| row.1).collect(),
            Base::When { then, otherwise, .. } => vec![*then, *otherwise],
        };
        let bad = rows
            .iter()
            .find(|value| !value.is_finite() || (positive && **value < 0.0));
        if bad.is_some() || rows.is_empty() {
            let shown = bad.map_or("nothing".to_owned(), ToString::to_string);
            let message = format!("with these values, `{key}` of {} comes to {shown}", element.words);
            self.slips.push("formula", at, message);
            return None;
        }
        let must_be_fixed = matches!(
            key,
            "saturation"
                | "series"
                | "dropout"
                | "source_limit"
                | "sink_limit"
                | "knee"
                | "rated_volts"
                | "hot_to_cold"
                | "rating"
                | "inductance"
                | "above"
        );
        if must_be_fixed && !matches!(law.base, Base::Fixed(_)) {
            let message = format!("`{key}` of {} cannot follow the set-up", element.words);
            self.slips.push("formula", at, message);
            return None;
        }
        Some(law)
    }

    /// The cavities of an accessory that go straight through it, because none of its pins is in them.
    fn pass_through(&mut self, id: &str, device: DeviceId, keys: &DeviceKeys) {
        let Some(between) = &keys.between else { return };
        let ends = [&between.first, &between.second].map(|end| self.plugs.iter().position(|plug| plug.id == end.text));
        let [Some(one), Some(other)] = ends else { return };
        let part = self.circuit.devices[device.idx()].part;
        let own: Vec<PointId> = self.circuit.devices[device.idx()]
            .pins
            .iter()
            .map(|(_, point)| *point)
            .collect();
        let numbers: Vec<u16> = self.circuit.connectors[one].cavities.keys().copied().collect();
        for number in numbers {
            let a = self.circuit.connectors[one]
                .cavities
                .get(&number)
                .map(|cavity| cavity.terminals[1]);
            let b = self.circuit.connectors[other]
                .cavities
                .get(&number)
                .map(|cavity| cavity.terminals[1]);
            let (Some(a), Some(b)) = (a, b) else { continue };
            if !own.contains(&a) && !own.contains(&b) {
                let kind = BranchKind::Resistor {
                    a,
                    b,
                    ohms: Law::fixed(d::PASS_THROUGH_OHMS),
                };
                self.branch(format!("{id}/straight through {number}"), part, Role::Other, None, kind);
            }
        }
    }
}
