//! What a pin has inside where nobody documented it, as a file says it.

use std::borrow::Cow;
use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use toml::de::DeValue;

use super::decode::{Decode, Node, record, wrong_type};
use super::mistake::Slips;
use super::value::{Number, Ohm, Value, Volt};

record! {
    /// What a pin may have inside.
    AlternativeKeys [at] {
        /// How likely it is, against the others. Left out: 1.
        chance: Option<Number>,
        /// input: pull-up. Left out: none.
        pull_up: Option<Value<Ohm>>,
        /// input: pull-down. Left out: none.
        pull_down: Option<Value<Ohm>>,
        /// input: clamp diodes. Left out: yes.
        clamps: Option<bool>,
        /// reference: its voltage.
        volts: Option<Value<Volt>>,
    }
}

/// What a pin has inside where nobody documented it.
#[derive(Clone, Debug)]
pub(crate) enum Unsaid {
    /// Nothing is known: the usual alternatives.
    Usual(Range<usize>),
    /// It is one of these.
    OneOf(Vec<AlternativeKeys>, Range<usize>),
}

impl Unsaid {
    /// Where it stands in the text.
    pub(crate) fn at(&self) -> &Range<usize> {
        match self {
            Self::Usual(at) | Self::OneOf(_, at) => at,
        }
    }
}

impl Decode for Unsaid {
    fn decode(node: &Node, slips: &mut Slips) -> Option<Self> {
        match node.get_ref() {
            DeValue::Array(_) => Some(Self::OneOf(Vec::decode(node, slips)?, node.span())),
            DeValue::String(text) if text.trim() == "unknown" => Some(Self::Usual(node.span())),
            DeValue::String(text) => {
                let help = "write `insides = \"unknown\"`, or a list `[{ chance = 3, pull_up = \"10k\" }, { pull_down = \"47k\" }]`";
                slips.push_help("value", &node.span(), format!("`{text}` says nothing of insides"), help);
                None
            }
            _ => {
                wrong_type(node, "\"unknown\" or a list of alternatives", slips);
                None
            }
        }
    }
}

impl JsonSchema for Unsaid {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Unsaid".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<AlternativeKeys>();
        json_schema!({ "anyOf": [{ "const": "unknown" }, { "type": "array", "items": one, "minItems": 2 }] })
    }
}
