//! The single values of a circuit file: texts, numbers, quantities with tolerance, ranges.

use std::borrow::Cow;
use std::marker::PhantomData;
use std::ops::Range;

use quantity::{Amount, Span, Spread, Unit};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use toml::de::DeValue;

use super::decode::{Decode, Node, wrong_type};
use super::mistake::Slips;

/// A text.
#[derive(Clone, Debug)]
pub(crate) struct Text {
    /// What it says.
    pub(crate) text: String,
    /// Where.
    pub(crate) at: Range<usize>,
}

impl Decode for Text {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        if let DeValue::String(text) = node.get_ref() {
            return Some(Self {
                text: text.to_string(),
                at: node.span(),
            });
        }
        wrong_type(node, "a text in quotes", slips);
        None
    }
}

impl Decode for bool {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let flag = node.get_ref().as_bool();
        if flag.is_none() {
            wrong_type(node, "true or false", slips);
        }
        flag
    }
}

/// A plain number.
#[derive(Clone, Debug)]
pub(crate) struct Number {
    /// Finite.
    pub(crate) value: f64,
    /// Where.
    pub(crate) at: Range<usize>,
}

/// A TOML number as a finite one; `None` (and nothing noted) if it is none.
pub(crate) fn number(node: &Node) -> Option<f64> {
    match node.get_ref() {
        DeValue::Integer(integer) => i128::from_str_radix(integer.as_str(), integer.radix())
            .ok()
            .map(|integer| integer as f64),
        DeValue::Float(float) => float.as_str().parse().ok().filter(|value: &f64| value.is_finite()),
        _ => None,
    }
}

impl Decode for Number {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        if let Some(value) = number(node) {
            return Some(Self { value, at: node.span() });
        }
        if matches!(node.get_ref(), DeValue::Integer(_) | DeValue::Float(_)) {
            slips.push("value", &node.span(), "this number is too large or not finite");
        } else {
            wrong_type(node, "a number", slips);
        }
        None
    }
}

/// A whole number from 0 to 65535: a cavity, a number of bits.
#[derive(Clone, Debug)]
pub(crate) struct Count {
    /// The number.
    pub(crate) value: u16,
    /// Where.
    pub(crate) at: Range<usize>,
}

impl Decode for Count {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let read = |node: &Node| {
            let integer = node.get_ref().as_integer()?;
            u16::from_str_radix(integer.as_str(), integer.radix()).ok()
        };
        if let Some(value) = read(node) {
            return Some(Self { value, at: node.span() });
        }
        if matches!(node.get_ref(), DeValue::Integer(_) | DeValue::Float(_)) {
            slips.push("value", &node.span(), "a whole number from 0 to 65535 is expected");
        } else {
            wrong_type(node, "a whole number", slips);
        }
        None
    }
}

/// Which kind of quantity a [`Value`] or [`Between`] is.
pub(crate) trait Kind {
    /// The unit of its plain number.
    const UNIT: Unit;
}

macro_rules! kinds {
    ($($name:ident)*) => {$(
        #[doc = concat!("See [`Unit::", stringify!($name), "`].")]
        #[derive(Clone, Copy, Debug)]
        pub(crate) struct $name;
        impl Kind for $name {
            const UNIT: Unit = Unit::$name;
        }
    )*};
}
kinds! { Volt Ampere Ohm Metre SquareMillimetre Minute Second Hertz Percent Currency }

/// A quantity as a technician writes it, or a plain number in the base unit.
#[derive(Clone, Debug)]
pub(crate) struct Value<K> {
    /// What was written.
    pub(crate) amount: Amount,
    /// Where.
    pub(crate) at: Range<usize>,
    kind: PhantomData<K>,
}

/// Reads a quantity from a text or a plain number.
pub(crate) fn amount(node: &Node, unit: Unit, slips: &mut Slips) -> Option<Amount> {
    let (text, is_text) = match node.get_ref() {
        DeValue::String(text) => (text.to_string(), true),
        DeValue::Integer(_) | DeValue::Float(_) => {
            (Number::decode(node, slips)?.value.to_string(), false) // so that the same limits hold
        }
        _ => {
            wrong_type(
                node,
                &format!("{} in quotes, e.g. \"{}\",", unit.noun(), unit.example()),
                slips,
            );
            return None;
        }
    };
    match quantity::parse(&text, unit) {
        Ok(amount) => Some(amount),
        Err(error) if is_text => {
            slips.unreadable(&node.span(), &text, &error);
            None
        }
        Err(error) => {
            slips.push("value", &node.span(), error.to_string());
            None
        }
    }
}

impl<K: Kind> Decode for Value<K> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        amount(node, K::UNIT, slips).map(|amount| Self {
            amount,
            at: node.span(),
            kind: PhantomData,
        })
    }
}

impl<K> Value<K> {
    /// The value without its tolerance.
    pub(crate) fn value(&self) -> f64 {
        self.amount.value
    }
}

/// Two values with `..` between them.
#[derive(Clone, Debug)]
pub(crate) struct Between<K> {
    /// The ends.
    pub(crate) span: Span,
    /// Where.
    pub(crate) at: Range<usize>,
    kind: PhantomData<K>,
}

impl<K: Kind> Decode for Between<K> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let DeValue::String(text) = node.get_ref() else {
            wrong_type(node, "a range in quotes, e.g. \"0..5 V\",", slips);
            return None;
        };
        match quantity::parse_range(text, K::UNIT) {
            Ok(span) => Some(Self {
                span,
                at: node.span(),
                kind: PhantomData,
            }),
            Err(error) => {
                slips.unreadable(&node.span(), text, &error);
                None
            }
        }
    }
}

/// A resistance of which one may know little: a value with tolerance, a range, `"unknown"`, or `"none"`.
#[derive(Clone, Debug)]
pub(crate) enum Strength {
    /// Present, strength not known.
    Unknown,
    /// Not present.
    None,
    /// A value with its tolerance.
    Known(Amount),
    /// Somewhere in this range.
    Within(Span),
}

impl Decode for Strength {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        if let DeValue::String(text) = node.get_ref() {
            match text.trim() {
                "unknown" => return Some(Self::Unknown),
                "none" => return Some(Self::None),
                _ if text.contains("..") || text.contains('…') => {
                    return Between::<Ohm>::decode(node, slips).and_then(|between| {
                        if between.span.low > 0.0 {
                            return Some(Self::Within(between.span));
                        }
                        slips.push("value", &between.at, "the lower end must be above 0 Ω");
                        None
                    });
                }
                _ => {}
            }
        }
        amount(node, Unit::Ohm, slips).map(Self::Known)
    }
}

/// A resistance that the technician may have measured, as a centre with the doubt about it: standard deviation, relative
/// on a logarithmic scale or absolute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Doubtful {
    /// The centre.
    pub(crate) centre: f64,
    /// Relative standard deviation on a logarithmic scale.
    pub(crate) factor: f64,
    /// Absolute standard deviation.
    pub(crate) shift: f64,
}

impl Doubtful {
    /// Exactly this.
    pub(crate) fn exact(centre: f64) -> Self {
        Self {
            centre,
            factor: 0.0,
            shift: 0.0,
        }
    }

    /// A tolerance is where nearly all lie: two standard deviations either way.
    pub(crate) fn from_amount(amount: Amount, default: Spread) -> Self {
        let (factor, shift) = match amount.spread_or(default).spread {
            Spread::Unstated | Spread::Exact => (0.0, 0.0),
            Spread::Relative(part) => (part / 2.0, 0.0),
            Spread::Absolute(half) => (0.0, half / 2.0),
        };
        Self {
            centre: amount.value,
            factor,
            shift,
        }
    }

    /// A range is where nearly all lie, evenly over its logarithm.
    pub(crate) fn from_span(span: Span) -> Self {
        let (low, high) = (span.low.ln(), span.high.ln());
        Self {
            centre: low.midpoint(high).exp(),
            factor: (high - low) / 4.0,
            shift: 0.0,
        }
    }
}

/// A row of a table: two values.
#[derive(Clone, Debug)]
pub(crate) struct Pair<A, B> {
    /// The first.
    pub(crate) first: A,
    /// The second.
    pub(crate) second: B,
    /// Where.
    pub(crate) at: Range<usize>,
}

impl<A: Decode, B: Decode> Decode for Pair<A, B> {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        if let Some(array) = node.get_ref().as_array()
            && let [first, second] = &array[..]
        {
            let (first, second) = (A::decode(first, slips), B::decode(second, slips));
            return Some(Self {
                first: first?,
                second: second?,
                at: node.span(),
            });
        }
        wrong_type(node, "a pair in square brackets, e.g. [\"0.5 V\", 0],", slips);
        None
    }
}

/// One row of cavities: `"1-14"`, `"1 2 5-8"`, `"14-8"`, or a list of numbers. Empty if it could not be read, which has
/// been noted, so that the cavities that it should have had are not missed elsewhere.
#[derive(Clone, Debug)]
pub(crate) struct CavityRow {
    /// In order.
    pub(crate) cavities: Vec<u16>,
    /// Where.
    pub(crate) at: Range<usize>,
}

/// More than any plug has; keeps `"1-65535"` from filling memory.
pub(crate) const MOST_CAVITIES: usize = 400;

impl Decode for CavityRow {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        let at = node.span();
        let unread = |at| Self {
            cavities: Vec::new(),
            at,
        };
        let mut cavities = Vec::new();
        match node.get_ref() {
            DeValue::Array(_) => {
                let counts = Vec::<Count>::decode(node, slips)?;
                let is_whole = node
                    .get_ref()
                    .as_array()
                    .is_some_and(|array| array.len() == counts.len());
                if !is_whole {
                    return Some(unread(at));
                }
                cavities.extend(counts.iter().map(|count| count.value));
            }
            DeValue::String(text) => {
                for piece in text.split([' ', ',']).filter(|piece| !piece.is_empty()) {
                    let (first, last) = piece.split_once(['-', '–']).unwrap_or((piece, piece));
                    let (Ok(first), Ok(last)) = (first.parse::<u16>(), last.parse::<u16>()) else {
                        let message = format!("`{piece}` is no cavity number and no range of them");
                        slips.push_help("value", &at, message, "write a row as \"1-14\" or \"1 2 5-8\"");
                        return Some(unread(at));
                    };
                    let span = first.min(last)..=first.max(last);
                    if span.len() > MOST_CAVITIES {
                        cavities.clear();
                        break;
                    }
                    if first <= last {
                        cavities.extend(span);
                    } else {
                        cavities.extend(span.rev());
                    }
                }
            }
            _ => {
                wrong_type(node, "a row of cavities, e.g. \"1-14\",", slips);
                return Some(unread(at));
            }
        }
        if cavities.is_empty() || cavities.len() > MOST_CAVITIES {
            slips.push("value", &at, format!("a row has 1 to {MOST_CAVITIES} cavities"));
            return Some(unread(at));
        }
        Some(Self { cavities, at })
    }
}

macro_rules! schemas {
    ($([$($generic:ident: $bound:path),*] $type:ty = $schema:expr;)*) => {$(
        impl<$($generic: $bound),*> JsonSchema for $type {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> Cow<'static, str> {
                stringify!($type).into()
            }

            fn json_schema(generator: &mut SchemaGenerator) -> Schema {
                let make: fn(&mut SchemaGenerator) -> Schema = $schema;
                make(generator)
            }
        }
    )*};
}

schemas! {
    [] Text = |_| json_schema!({ "type": "string" });
    [] Number = |_| json_schema!({ "type": "number" });
    [] Count = |_| json_schema!({ "type": "integer", "minimum": 0, "maximum": 65535 });
    [K: Kind] Value<K> = |_| json_schema!({ "type": ["string", "number"], "examples": [K::UNIT.example()] });
    [K: Kind] Between<K> = |_| json_schema!({ "type": "string", "examples": ["0..5 V"] });
    [] Strength = |_| json_schema!({
        "type": ["string", "number"],
        "examples": ["4.7k ± 5 %", "10k..1M", "unknown", "none"]
    });
    [A: JsonSchema, B: JsonSchema] Pair<A, B> = |generator| {
        let (first, second) = (generator.subschema_for::<A>(), generator.subschema_for::<B>());
        json_schema!({ "type": "array", "prefixItems": [first, second], "minItems": 2, "maxItems": 2 })
    };
    [] CavityRow = |_| json_schema!({
        "anyOf": [
            { "type": "string", "examples": ["1-14", "1 2 5-8"] },
            { "type": "array", "items": { "type": "integer", "minimum": 0, "maximum": 65535 }, "minItems": 1 }
        ]
    });
}
