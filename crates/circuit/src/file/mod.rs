//! The circuit file: from text to a [`Circuit`], or to every mistake in it.
//!
//! - [`mistake`]: what is wrong and where; [`decode`], [`value`], [`formula`], [`condition`]: how single things are read;
//! - [`keys`]: every key with its meaning, from which the JSON Schema comes as well;
//! - [`kind`]: kinds of devices, the built-in ones included, which are files themselves; [`catalogue`] lists those;
//! - [`archetype`]: what a ready-made circuit is for and asks; [`crate::archetype`] answers it;
//! - [`build`]: from the keys to points and branches; [`defaults`]: what is assumed where the file says nothing.
//!
//! Mistakes of syntax hide all others: half a file would blame what it lost. The format is in `docs/circuit-file.md`.

pub(crate) mod archetype;
mod build;
mod catalogue;
mod condition;
pub(crate) mod decode;
mod defaults;
mod element;
mod formula;
mod include;
pub(crate) mod keys;
mod kind;
mod kind_keys;
pub(crate) mod mistake;
mod tabulate;
mod unsaid;
pub(crate) mod value;

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use crate::model::Circuit;
use decode::Decode;
use mistake::Slips;

pub use catalogue::{DeviceKind, device_kinds};
pub use include::in_one_text;
pub use mistake::Mistake;
pub(crate) use mistake::{nearest, suggestion};

/// The demo: a refrigerant pressure sensor on an invented delivery van.
pub const DEMO: &str = include_str!("../../../../circuits/van-31.toml");

/// Reads a circuit that includes no other files; [`in_one_text`] makes such a one of any.
///
/// # Errors
/// Every [`Mistake`] of the text, in its order. Mistakes of TOML syntax hide the others.
pub fn parse(text: &str) -> Result<Circuit, Vec<Mistake>> {
    parse_with(text, &mut |name| {
        Err(format!("`{name}` cannot be read here: no files are at hand"))
    })
}

/// Reads a circuit; `read` gives the text of a file of device kinds that it includes, or why that cannot be had.
///
/// # Errors
/// As [`parse`], and the mistakes of the included files.
pub fn parse_with(text: &str, read: &mut dyn FnMut(&str) -> Result<String, String>) -> Result<Circuit, Vec<Mistake>> {
    let mut slips = Slips::new(text, None);
    let Some(file) = decode_text::<keys::CircuitFile>(text, &mut slips) else {
        return Err(slips.into_mistakes());
    };
    let mut kinds = BTreeMap::new();
    let mut elsewhere = Vec::new();
    for (name, text) in kind::BUILT_IN {
        elsewhere.extend(kind::read_file(name, text, &mut kinds));
    }
    for name in file.include.iter().flatten() {
        match read(&name.text) {
            Ok(text) => elsewhere.extend(kind::read_file(&name.text, &text, &mut kinds)),
            Err(why) => slips.push("include", &name.at, why),
        }
    }
    kind::compile_all(file.kind.iter(), &mut kinds, &mut slips);
    let circuit = build::build(&file, &kinds, &mut slips);
    archetype::check(&file, &circuit, &mut slips);
    let mut mistakes = slips.into_mistakes();
    mistakes.extend(elsewhere);
    if mistakes.is_empty() {
        Ok(circuit)
    } else {
        Err(mistakes)
    }
}

/// The JSON Schema of a circuit file.
pub fn schema() -> String {
    let schema = schemars::generate::SchemaSettings::draft2020_12().into_generator();
    let schema = schema.into_root_schema_for::<keys::CircuitFile>();
    format!("{:#}\n", schema.as_value())
}

/// Reads a text as `T`; `None` if its syntax or its outermost keys are wrong, which has been noted.
pub(crate) fn decode_text<T: Decode>(text: &str, slips: &mut Slips) -> Option<T> {
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let at = error.span().unwrap_or(0..0);
        if error.message().contains("must be quoted") {
            slips.push_help(
                "syntax",
                &at,
                error.message(),
                "a value with a unit goes in quotes, e.g. \"10 A\"",
            );
        } else {
            slips.push("syntax", &at, error.message());
        }
    }
    if slips.any() {
        return None;
    }
    let span = document.span();
    T::decode(
        &toml::Spanned::new(span.start..span.start, DeValue::Table(document.into_inner())),
        slips,
    )
}
