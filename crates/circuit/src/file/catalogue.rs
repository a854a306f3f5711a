//! The built-in kinds of devices, told to a person: for help texts, editors and the documentation.

use super::decode::Named;
use super::formula::Form;
use super::kind::{BUILT_IN, value_words};
use super::kind_keys::{KindFile, KindKeys, KindValueKeys};
use super::mistake::Slips;

/// What a person needs to know of a kind of device to use it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceKind {
    /// Its name, as a device's `kind`.
    pub name: String,
    /// What it is, in a sentence; may be empty.
    pub about: String,
    /// Its pins.
    pub pins: Vec<String>,
    /// Its values: name, meaning, and what it is if a device does not say, as written; `None` if a device must say.
    pub values: Vec<(String, String, Option<String>)>,
}

/// The built-in kinds, by name.
pub fn device_kinds() -> Vec<DeviceKind> {
    let mut kinds = Vec::new();
    for (name, text) in BUILT_IN {
        let mut slips = Slips::new(text, Some((*name).to_owned()));
        let file = super::decode_text::<KindFile>(text, &mut slips);
        let named = file.iter().flat_map(|file| file.kind.iter());
        kinds.extend(named.filter_map(|entry| Some(summary(&entry.name, entry.is.as_ref()?))));
    }
    kinds.sort_by(|a: &DeviceKind, b| a.name.cmp(&b.name));
    kinds
}

fn summary(name: &str, keys: &KindKeys) -> DeviceKind {
    let value = |entry: &Named<KindValueKeys>| {
        let keys = entry.is.as_ref()?;
        let default = keys.default.as_ref().map(|default| match &default.form {
            Form::Number(value) => value.to_string(),
            Form::Text(text) => text.clone(),
            Form::Rows(_) => "a table".to_owned(),
            Form::When(_) => "one of two values".to_owned(),
        });
        Some((entry.name.clone(), value_words(&entry.name, keys), default))
    };
    DeviceKind {
        name: name.to_owned(),
        about: keys.about.as_ref().map_or_else(String::new, |about| about.text.clone()),
        pins: keys.pins.iter().map(|pin| pin.text.clone()).collect(),
        values: keys.value.iter().filter_map(value).collect(),
    }
}
