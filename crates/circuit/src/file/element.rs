//! The network elements that a kind of device may be made of, and the keys that each takes.

use crate::branch::Role;

/// The forms of an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ElementForm {
    Resistor,
    Switch,
    Source,
    Diode,
    Clamp,
    Output,
    Sink,
    Lamp,
}

/// Name, form, number of points, keys that must be there, keys that may be.
pub(crate) type FormRow = (
    &'static str,
    ElementForm,
    usize,
    &'static [&'static str],
    &'static [&'static str],
);

/// Every form.
pub(crate) const FORMS: &[FormRow] = &[
    ("resistor", ElementForm::Resistor, 2, &["ohms"], &["inductance"]),
    (
        "switch",
        ElementForm::Switch,
        2,
        &["when"],
        &["ohms", "driven_by", "above"],
    ),
    ("source", ElementForm::Source, 2, &["volts"], &["ohms", "when"]),
    ("diode", ElementForm::Diode, 2, &[], &["series", "saturation"]),
    ("clamp", ElementForm::Clamp, 2, &["breakdown"], &["series"]),
    (
        "output",
        ElementForm::Output,
        3,
        &[],
        &["offset", "gain", "dropout", "ohms", "source_limit", "sink_limit"],
    ),
    ("sink", ElementForm::Sink, 2, &["amps"], &["knee", "when"]),
    (
        "lamp",
        ElementForm::Lamp,
        2,
        &["watts"],
        &["rated_volts", "hot_to_cold"],
    ),
];

/// What an element may be in a device, by name.
pub(crate) const ROLES: &[(&str, Role)] = &[
    ("track", Role::Track),
    ("wiper", Role::Wiper),
    ("sensing resistor", Role::SensingResistor),
    ("sensor output", Role::SensorOutput),
    ("fixed resistor", Role::FixedResistor),
    ("coil", Role::Coil),
    ("motor", Role::Motor),
    ("lamp", Role::Lamp),
    ("switch contact", Role::SwitchContact),
    ("other", Role::Other),
];

/// What an element is if its kind does not say.
pub(crate) fn default_role(form: ElementForm) -> Role {
    match form {
        ElementForm::Resistor => Role::FixedResistor,
        ElementForm::Switch => Role::SwitchContact,
        ElementForm::Output => Role::SensorOutput,
        ElementForm::Lamp => Role::Lamp,
        ElementForm::Source | ElementForm::Diode | ElementForm::Clamp | ElementForm::Sink => Role::Other,
    }
}
