//! Device kinds: read, checked and compiled, before any device is made of them.
//!
//! The built-in ones are files like any other, in `crates/circuit/devices`.

use std::collections::BTreeMap;
use std::ops::Range;

use quantity::{Spread, Unit};

use super::condition::{self, not_understood};
use super::decode::Named;
use super::element::{ElementForm, FORMS, ROLES, default_role};
use super::formula::{Expression, Form, Formula, compile_rows, read_expression};
use super::kind_keys::{ElementKeys, KindFile, KindKeys, KindValueKeys};
use super::mistake::{Mistake, Slips, suggestion};
use super::value::{Doubtful, Text};
use crate::branch::Role;
use crate::id::{LoadId, RhythmId, SensedId};
use crate::set_up::Condition;

/// The built-in kinds: file name and text.
pub(crate) const BUILT_IN: &[(&str, &str)] = &[
    ("bus.toml", include_str!("../../devices/bus.toml")),
    ("engine.toml", include_str!("../../devices/engine.toml")),
    ("passive.toml", include_str!("../../devices/passive.toml")),
    ("position.toml", include_str!("../../devices/position.toml")),
    ("temperature.toml", include_str!("../../devices/temperature.toml")),
    ("three_wire.toml", include_str!("../../devices/three_wire.toml")),
    ("switch.toml", include_str!("../../devices/switch.toml")),
];

/// Stands for what the device senses, and for its load, in the compiled conditions of a kind.
pub(crate) const OWN_SENSED: SensedId = SensedId(u32::MAX);
/// See [`OWN_SENSED`].
pub(crate) const OWN_LOAD: LoadId = LoadId(u32::MAX);
/// Likewise what repeats in the device. The phase in a [`Condition::InPhase`] is then a position in `phases`.
pub(crate) const OWN_RHYTHM: RhythmId = RhythmId(u32::MAX);

/// What a value of a kind is called.
pub(crate) fn value_words(id: &str, keys: &KindValueKeys) -> String {
    keys.name
        .as_ref()
        .map_or_else(|| id.replace('_', " "), |words| words.text.clone())
}

/// A kind of device, checked: every name in it is known.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    /// Names of its pins.
    pub(crate) pins: Vec<String>,
    /// Names of the points inside.
    pub(crate) inner: Vec<String>,
    /// Its values, in order.
    pub(crate) values: Vec<KindValue>,
    /// Names for formulas, in order: each may use the values and those before it.
    pub(crate) locals: Vec<(String, Compiled)>,
    /// Its elements.
    pub(crate) elements: Vec<Element>,
    /// Whether a device must say what it senses.
    pub(crate) needs_sensed: bool,
    /// Whether a device must say what commands it.
    pub(crate) needs_load: bool,
    /// Whether a device must say what repeats in it.
    pub(crate) needs_rhythm: bool,
}

/// A value of a kind.
#[derive(Clone, Debug)]
pub(crate) struct KindValue {
    /// Its name in formulas.
    pub(crate) id: String,
    /// In plain words.
    pub(crate) words: String,
    /// Its unit.
    pub(crate) unit: Unit,
    /// What it is when a device does not say.
    pub(crate) default: Option<Compiled>,
}

/// An element of a kind.
#[derive(Clone, Debug)]
pub(crate) struct Element {
    /// In plain words.
    pub(crate) words: String,
    /// What it is.
    pub(crate) form: ElementForm,
    /// Pins or inner points, in the order of the form.
    pub(crate) between: Vec<String>,
    /// What it is in the device.
    pub(crate) role: Role,
    /// Its values by key; those left out are absent.
    pub(crate) values: BTreeMap<&'static str, Compiled>,
    /// When it is closed or there.
    pub(crate) when: Option<CompiledCondition>,
    /// Points whose voltage closes it beside that.
    pub(crate) driven_by: Option<[String; 2]>,
}

/// A compiled value.
#[derive(Clone, Debug)]
pub(crate) enum Compiled {
    /// A quantity with its doubt.
    Constant(Doubtful),
    /// A formula.
    Formula(Expression),
    /// Rows by the sensed value, sorted.
    Rows(Vec<(f64, Expression)>),
    /// One of two.
    When(CompiledCondition, Expression, Expression),
}

/// A condition of a kind, in which [`OWN_SENSED`] and [`OWN_LOAD`] stand for the device's own, and thresholds of the
/// sensed value are formulas: the number in a [`Condition::SensedAtLeast`] is a position in `thresholds`.
#[derive(Clone, Debug)]
pub(crate) struct CompiledCondition {
    /// The condition.
    pub(crate) condition: Condition,
    /// Formulas of its thresholds.
    pub(crate) thresholds: Vec<Expression>,
    /// Names of phases.
    pub(crate) phases: Vec<String>,
}

/// Names that a formula may use beside those of its kind.
pub(crate) const SENSED_NAMES: [&str; 4] = ["sensed", "least", "most", "usual"];

/// Units by the names a kind may use.
pub(crate) fn unit_by_name(name: &str) -> Option<Unit> {
    match name {
        "" => Some(Unit::One),
        "ohm" => Some(Unit::Ohm),
        _ => Unit::ALL.into_iter().find(|unit| unit.symbol() == name),
    }
}

/// Reads a file of kinds into `kinds`.
pub(crate) fn read_file(name: &str, text: &str, kinds: &mut BTreeMap<String, Kind>) -> Vec<Mistake> {
    let mut slips = Slips::new(text, Some(name.to_owned()));
    if let Some(file) = super::decode_text::<KindFile>(text, &mut slips) {
        compile_all(file.kind.iter(), kinds, &mut slips);
    }
    slips.into_mistakes()
}

/// Compiles kinds into `kinds`.
pub(crate) fn compile_all<'k>(
    named: impl Iterator<Item = &'k Named<KindKeys>>,
    kinds: &mut BTreeMap<String, Kind>,
    slips: &mut Slips,
) {
    for Named { name, at, is } in named {
        if kinds.contains_key(name) {
            let help = "give yours a name of its own";
            slips.push_help(
                "duplicate",
                at,
                format!("there is a kind `{name}` already, built in or included"),
                help,
            );
        }
        if let Some(keys) = is {
            let known = Vec::new();
            kinds.insert(
                name.clone(),
                Compiler {
                    keys,
                    slips,
                    needs_sensed: false,
                    needs_load: false,
                    needs_rhythm: false,
                    known,
                }
                .kind(),
            );
        }
    }
}

struct Compiler<'k, 's, 't> {
    keys: &'k KindKeys,
    slips: &'s mut Slips<'t>,
    needs_sensed: bool,
    needs_load: bool,
    needs_rhythm: bool,
    /// Names that a formula may use by now, and whether each is one of two values. A name is known from its definition
    /// on, so that none can be defined by itself.
    known: Vec<(&'k str, bool)>,
}

impl<'k> Compiler<'k, '_, '_> {
    fn kind(mut self) -> Kind {
        let keys = self.keys;
        let texts = |texts: &[Text]| texts.iter().map(|text| text.text.clone()).collect::<Vec<_>>();
        let mut points: Vec<&Text> = keys.pins.iter().chain(keys.inner.iter().flatten()).collect();
        if keys.pins.is_empty() {
            self.slips.push("kind", &keys.at, "a kind has at least one pin");
        }
        if keys.element.names().next().is_none() {
            let message = "a kind has at least one element: with none its pins are joined to nothing";
            self.slips.push("kind", &keys.at, message);
        }
        points.sort_by(|a, b| (&a.text, a.at.start).cmp(&(&b.text, b.at.start)));
        for pair in points.windows(2) {
            if pair[0].text == pair[1].text {
                self.slips
                    .push("duplicate", &pair[1].at, format!("`{}` is named twice", pair[1].text));
            }
        }
        for name in keys.local.iter() {
            if keys.value.names().any(|value| value == name.name) {
                self.slips
                    .push("duplicate", &name.at, format!("`{}` is a value already", name.name));
            }
        }
        let places = keys.local.iter().map(|entry| (&entry.name, &entry.at));
        for (name, at) in places.chain(keys.value.iter().map(|entry| (&entry.name, &entry.at))) {
            if SENSED_NAMES.contains(&name.as_str()) {
                self.slips.push(
                    "duplicate",
                    at,
                    format!("`{name}` has a meaning of its own in formulas"),
                );
            }
        }
        let mut values = Vec::new();
        for Named { name, is, .. } in keys.value.iter() {
            let Some(value) = is else { continue };
            let unit_name = value.unit.as_ref().map_or("", |unit| unit.text.as_str());
            let unit = unit_by_name(unit_name);
            if unit.is_none() {
                let at = value.unit.as_ref().map_or(&value.at, |unit| &unit.at);
                let known = Unit::ALL
                    .iter()
                    .map(|unit| unit.symbol())
                    .filter(|symbol| !symbol.is_empty());
                self.slips.unknown(
                    "unit",
                    at,
                    format!("`{unit_name}` is no unit known here"),
                    unit_name,
                    known,
                );
            }
            values.push(KindValue {
                id: name.clone(),
                words: value_words(name, value),
                unit: unit.unwrap_or(Unit::One),
                default: value.default.as_ref().and_then(|default| self.formula(default, unit?)),
            });
            self.define(name, value.default.as_ref());
        }
        let mut locals = Vec::new();
        for Named { name, is, .. } in keys.local.iter() {
            if let Some(compiled) = is.as_ref().and_then(|formula| self.formula(formula, Unit::One)) {
                locals.push((name.clone(), compiled));
            }
            self.define(name, is.as_ref());
        }
        let named = keys.element.iter();
        let elements = named
            .filter_map(|element| self.element(&element.name, element.is.as_ref()?))
            .collect();
        Kind {
            pins: texts(&keys.pins),
            inner: texts(keys.inner.as_deref().unwrap_or_default()),
            values,
            locals,
            elements,
            needs_sensed: self.needs_sensed,
            needs_load: self.needs_load,
            needs_rhythm: self.needs_rhythm,
        }
    }

    /// Makes a name known to the formulas that follow.
    fn define(&mut self, name: &'k str, formula: Option<&'k Formula>) {
        let is_one_of_two = match formula.map(|formula| &formula.form) {
            Some(Form::When(_)) => true,
            Some(Form::Text(text)) => self.known.contains(&(text.trim(), true)),
            _ => false,
        };
        self.known.push((name, is_one_of_two));
    }

    fn element(&mut self, id: &str, keys: &ElementKeys) -> Option<Element> {
        let Some((name, form, n_points, needed, allowed)) = FORMS.iter().find(|row| row.0 == keys.is.text) else {
            let message = format!("`{}` is no network element", keys.is.text);
            self.slips.unknown(
                "element",
                &keys.is.at,
                message,
                &keys.is.text,
                FORMS.iter().map(|row| row.0),
            );
            return None;
        };
        let points = || {
            self.keys
                .pins
                .iter()
                .chain(self.keys.inner.iter().flatten())
                .map(|text| text.text.as_str())
        };
        if keys.between.len() != *n_points {
            let message = format!("a {name} is between {n_points} points, not {}", keys.between.len());
            self.slips.push("element", &keys.at, message);
            return None;
        }
        let driven_by = keys.driven_by.iter().flat_map(|pair| [&pair.first, &pair.second]);
        for point in keys.between.iter().chain(driven_by) {
            if !points().any(|known| known == point.text) {
                let message = format!("`{}` is no pin and no inner point of this kind", point.text);
                self.slips
                    .unknown("unknown-point", &point.at, message, &point.text, points());
            }
        }
        let given: [(&'static str, &Option<Formula>, Unit); 18] = [
            ("ohms", &keys.ohms, Unit::Ohm),
            ("volts", &keys.volts, Unit::Volt),
            ("amps", &keys.amps, Unit::Ampere),
            ("watts", &keys.watts, Unit::Watt),
            ("offset", &keys.offset, Unit::Volt),
            ("gain", &keys.gain, Unit::One),
            ("dropout", &keys.dropout, Unit::Volt),
            ("source_limit", &keys.source_limit, Unit::Ampere),
            ("sink_limit", &keys.sink_limit, Unit::Ampere),
            ("knee", &keys.knee, Unit::Volt),
            ("breakdown", &keys.breakdown, Unit::Volt),
            ("series", &keys.series, Unit::Ohm),
            ("saturation", &keys.saturation, Unit::Ampere),
            ("rated_volts", &keys.rated_volts, Unit::Volt),
            ("hot_to_cold", &keys.hot_to_cold, Unit::One),
            ("rating", &keys.rating, Unit::Ampere),
            ("inductance", &keys.inductance, Unit::Henry),
            ("above", &keys.above, Unit::Volt),
        ];
        let mut values = BTreeMap::new();
        for (key, formula, unit) in given {
            let Some(formula) = formula else { continue };
            if !needed.contains(&key) && !allowed.contains(&key) && key != "rating" {
                self.slips
                    .push("element", &formula.at, format!("`{key}` means nothing for a {name}"));
            }
            if let Some(compiled) = self.formula(formula, unit) {
                values.insert(key, compiled);
            }
        }
        if let Some(when) = &keys.when
            && !needed.contains(&"when")
            && !allowed.contains(&"when")
        {
            self.slips
                .push("element", &when.at, format!("`when` means nothing for a {name}"));
        }
        if keys.driven_by.is_some() != keys.above.is_some() {
            let message = "`driven_by` and `above` belong together: two points, and the volts between them";
            self.slips.push("missing-key", &keys.at, message);
        }
        if let Some(pair) = &keys.driven_by
            && !allowed.contains(&"driven_by")
        {
            let message = format!("`driven_by` means nothing for a {name}");
            self.slips.push("element", &pair.at, message);
        }
        for key in *needed {
            let is_there = if *key == "when" {
                keys.when.is_some()
            } else {
                given
                    .iter()
                    .any(|(given, formula, _)| given == key && formula.is_some())
            };
            if !is_there {
                self.slips.push(
                    "missing-key",
                    &keys.at,
                    format!("`{key}` is missing: a {name} needs it"),
                );
            }
        }
        let role = match &keys.role {
            None => default_role(*form),
            Some(role) => ROLES.iter().find(|(known, _)| *known == role.text).map_or_else(
                || {
                    let message = format!("`{}` is no role", role.text);
                    let known = ROLES.iter().map(|(known, _)| *known);
                    self.slips.push_help(
                        "role",
                        &role.at,
                        message,
                        suggestion(&role.text, known).unwrap_or_default(),
                    );
                    Role::Other
                },
                |(_, role)| *role,
            ),
        };
        let when = match &keys.when {
            Some(when) => Some(self.condition(when)?),
            None => None,
        };
        Some(Element {
            words: keys
                .name
                .as_ref()
                .map_or_else(|| id.replace('_', " "), |name| name.text.clone()),
            form: *form,
            between: keys.between.iter().map(|point| point.text.clone()).collect(),
            role,
            values,
            when,
            driven_by: keys
                .driven_by
                .as_ref()
                .map(|pair| [pair.first.text.clone(), pair.second.text.clone()]),
        })
    }

    fn formula(&mut self, formula: &Formula, unit: Unit) -> Option<Compiled> {
        match &formula.form {
            Form::Rows(rows) => {
                self.needs_sensed = true;
                let mut used = Vec::new();
                let rows = compile_rows(rows, unit, self.slips, &mut |text, slips| {
                    let (expression, names) = read_expression(&text.text, &text.at, unit, slips)?;
                    used.push((expression.clone(), names, text.at.clone()));
                    Some(expression)
                });
                for (expression, names, at) in &used {
                    self.check_names(expression, names, at)?;
                }
                rows.map(Compiled::Rows)
            }
            Form::When(when) => {
                let condition = self.condition(&when.when)?;
                let (then, otherwise) = (
                    self.expression(&when.then, unit)?,
                    self.expression(&when.otherwise, unit)?,
                );
                Some(Compiled::When(condition, then, otherwise))
            }
            Form::Number(value) => Some(Compiled::Constant(Doubtful::exact(*value))),
            Form::Text(text) => {
                if let Ok(amount) = quantity::parse(text, unit) {
                    return Some(Compiled::Constant(Doubtful::from_amount(amount, Spread::Exact)));
                }
                self.expression(formula, unit).map(Compiled::Formula)
            }
        }
    }

    /// A formula that is no table, with every name checked.
    fn expression(&mut self, formula: &Formula, unit: Unit) -> Option<Expression> {
        let (text, at) = match &formula.form {
            Form::Number(value) => return Some(Expression::Number(*value)),
            Form::Text(text) => (text, &formula.at),
            Form::Rows(_) | Form::When(_) => {
                self.slips
                    .push("formula", &formula.at, "a single value or formula is expected here");
                return None;
            }
        };
        let (expression, names) = read_expression(text, at, unit, self.slips)?;
        self.check_names(&expression, &names, at)?;
        Some(expression)
    }

    fn check_names(&mut self, expression: &Expression, names: &[String], at: &Range<usize>) -> Option<()> {
        for name in names {
            self.needs_sensed |= SENSED_NAMES.contains(&name.as_str());
            let found = self.known.iter().find(|(known, _)| known == name);
            if found.is_none() && !SENSED_NAMES.contains(&name.as_str()) {
                if self
                    .keys
                    .value
                    .names()
                    .chain(self.keys.local.names())
                    .any(|later| later == name)
                {
                    let help = "values come first, then `local`; each may use those above it";
                    self.slips
                        .push_help("formula", at, format!("`{name}` is not known yet here"), help);
                } else {
                    let known = self.known.iter().map(|(known, _)| *known).chain(SENSED_NAMES);
                    self.slips
                        .unknown("formula", at, format!("`{name}` is no value of this kind"), name, known);
                }
                return None;
            }
            if found.is_some_and(|(_, one_of_two)| *one_of_two) && !matches!(expression, Expression::Name(_)) {
                let message =
                    format!("`{name}` is one of two values, so it can only stand on its own, not in a formula");
                self.slips.push("formula", at, message);
                return None;
            }
        }
        Some(())
    }

    fn condition(&mut self, text: &Text) -> Option<CompiledCondition> {
        let mut thresholds = Vec::new();
        let mut phases = Vec::new();
        let mut used = (false, false, Vec::new());
        let condition = condition::parse(text, self.slips, &mut |term, slips| {
            let words = [term.subject, term.predicate].join(" ");
            if words.trim() == "commanded" {
                used.1 = true;
                return Some(Condition::Commanded(OWN_LOAD));
            }
            if let Some(phase) = words.strip_prefix("in ") {
                let position = phases.len();
                phases.push(phase.trim().to_owned());
                return Some(Condition::InPhase(OWN_RHYTHM, position));
            }
            let at_least = words.strip_prefix("sensed at least ");
            let Some(threshold) = at_least.or_else(|| words.strip_prefix("sensed below ")) else {
                not_understood(term, slips, ["sensed", "commanded", "in", "key", "always"]);
                return None;
            };
            used.0 = true;
            let (expression, names) = read_expression(threshold, &term.at, Unit::One, slips)?;
            used.2.push((expression.clone(), names));
            let position = thresholds.len() as f64;
            thresholds.push(expression);
            let condition = Condition::SensedAtLeast(OWN_SENSED, position);
            Some(if at_least.is_some() {
                condition
            } else {
                Condition::Not(Box::new(condition))
            })
        })?;
        self.needs_sensed |= used.0;
        self.needs_load |= used.1;
        self.needs_rhythm |= !phases.is_empty();
        for (expression, names) in &used.2 {
            self.check_names(expression, names, &text.at)?;
        }
        Some(CompiledCondition {
            condition,
            thresholds,
            phases,
        })
    }
}
