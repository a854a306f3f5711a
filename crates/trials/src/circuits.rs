//! The circuits that trials are made on: the demo, and small ones of many kinds, each a file in the folder
//! `circuits/small/`.

/// A circuit of the product.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BuiltIn {
    /// Name of its file, without the ending.
    pub name: &'static str,
    /// Text of its file.
    pub text: &'static str,
    /// How the vehicle stands when the complaint shows: where the search begins.
    pub complaint: &'static str,
    /// The engine may be cranked and run for a reading.
    pub cranking: bool,
}

/// A circuit by the name of its file, the set-up that shows the complaint, and whether it needs the engine cranked.
macro_rules! built_in {
    ($name:literal, $complaint:literal, $cranking:literal) => {
        BuiltIn {
            name: $name,
            text: include_str!(concat!("../../../circuits/small/", $name, ".toml")),
            complaint: $complaint,
            cranking: $cranking,
        }
    };
}

/// The circuits that trials are made on unless files are named.
pub const BUILT_IN: &[BuiltIn] = &[
    BuiltIn {
        name: "van-31",
        text: circuit::DEMO,
        complaint: "key on",
        cranking: false,
    },
    built_in!("potentiometer", "key on", false),
    built_in!("pedal-pair", "key on", false),
    built_in!("thermistor", "key on", false),
    built_in!("shared-reference", "key on", false),
    built_in!("injectors", "key on; one commanded", false),
    built_in!("solenoid", "key on; shift commanded", false),
    built_in!("relay-motor", "key on; blower commanded", false),
    built_in!("shared-ground-fan", "key on; level 80 %", false),
    built_in!("lamps", "key on; tail commanded; stop commanded", false),
    built_in!("bus", "key on", false),
    built_in!("starter", "key cranking", true),
    built_in!("drain", "key asleep", false),
    built_in!("switch-input", "key on", false),
    built_in!("heated-seat", "key on", false),
    built_in!("glow", "key on; glow commanded", false),
];
