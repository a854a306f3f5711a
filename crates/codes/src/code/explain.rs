//! A code in plain words: what it says, and what that means for the voltage at the module's pin.
//!
//! What low and high mean by kind of circuit follows from how such inputs and outputs are usually built: common practice, no
//! source. A module may be built otherwise; with the circuit at hand it is computed, not looked up.

use super::table::{self, CircuitKind, Entry, Says};
use super::{FailureType, Owner, TroubleCode};

/// A code explained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// The table's row, where it has one.
    pub entry: Option<&'static Entry>,
    /// Who numbers it, and what that is worth.
    pub numbered_by: &'static str,
    /// What the code says.
    pub says: String,
    /// What that means at the module's pin, for the kind of circuit that the item usually is.
    pub at_the_pin: Option<&'static str>,
    /// What the third byte says.
    pub failure: Option<String>,
}

/// Explains a code and its failure type byte.
pub fn explain(code: TroubleCode, failure: Option<FailureType>) -> Explanation {
    let entry = table::find(code);
    Explanation {
        entry,
        numbered_by: numbered_by(code.owner()),
        says: entry.map_or_else(
            || unknown(code),
            |entry| format!("{}: {}", entry.name(), words(entry.circuit, entry.says)),
        ),
        at_the_pin: entry.and_then(|entry| at_the_pin(entry.circuit, entry.says)),
        failure: failure.map(|failure| match failure.meaning() {
            Some(meaning) => format!("type {failure}: {meaning}"),
            None => format!("type {failure}: not in the table of failure types"),
        }),
    }
}

const fn numbered_by(owner: Owner) -> &'static str {
    match owner {
        Owner::Common => "the list common to all makers.",
        Owner::Maker => "the vehicle's maker: only the maker's own list says what it means.",
        Owner::Mixed => "a range used by the common list and by makers: see the maker's list.",
        Owner::Reserved => "a range that is in reserve: check that the code was read and typed rightly.",
    }
}

fn unknown(code: TroubleCode) -> String {
    let area = code.area().map_or_else(String::new, |area| format!(", {area}"));
    format!("a {} code{area}; not in the built-in table", code.system().words())
}

/// What is said of an item, in words.
const fn words(circuit: CircuitKind, says: Says) -> &'static str {
    use CircuitKind as Kind;
    match (circuit, says) {
        (Kind::Supply | Kind::SensedVoltage, Says::Low) => "the voltage is too low",
        (Kind::Supply | Kind::SensedVoltage, Says::High) => "the voltage is too high",
        (Kind::Driver | Kind::Motor, Says::Low) => "the control pin is low when it should not be",
        (Kind::Driver | Kind::Motor, Says::High) => "the control pin is high when it should not be",
        (_, Says::Low) => "the voltage at the module's pin is too low",
        (_, Says::High) => "the voltage at the module's pin is too high",
        (_, Says::Circuit) => "something is wrong in its circuit; the code gives no direction",
        (_, Says::Range) => "the signal is electrically possible and does not fit the other values",
        (_, Says::Intermittent) => "the signal comes and goes, or jumps",
        (_, Says::Open) => "the circuit is broken, or something is wrong in it without a direction",
        (_, Says::Shorted) => "the circuit is shorted",
        (_, Says::NoActivity) => "no signal, or one that does not move",
        (_, Says::Slow) => "the signal moves too slowly",
        (_, Says::Heater) => "its heater's circuit",
        (_, Says::Correlation) => "two values that belong together do not agree",
        (_, Says::StuckLean) => "the signal stays lean",
        (_, Says::StuckRich) => "the signal stays rich",
        (_, Says::SignalOnHeater) => "the signal wire has contact with the heater's wire",
        (_, Says::NoMessages) => "its messages are missing: it is the others that set the code",
        (_, Says::BadMessages) => "its messages came, with content that cannot be used",
        (_, Says::BusOff) => "the module has switched itself off the bus after too many errors",
        (_, Says::InsideModule) => "the module found fault with itself",
        (_, Says::SlowToWarm) => "the engine warms too slowly",
        (_, Says::Found) => "judged from other values; not an electrical fault by itself",
    }
}

/// What low, high and the like mean for the voltage at the pin. Common practice, no source.
const fn at_the_pin(circuit: CircuitKind, says: Says) -> Option<&'static str> {
    use CircuitKind as Kind;
    Some(match (circuit, says) {
        (Kind::Thermistor, Says::Low) => {
            "Near 0 V, shown as very hot: the signal wire has contact with ground, or the sensor is shorted."
        }
        (Kind::Thermistor, Says::High) => {
            "Near the reference, shown as very cold: signal or ground wire open, sensor open, or contact with a feed."
        }
        (Kind::Resistor, Says::Low) => "Near 0 V: the signal wire has contact with ground, or the sensor is shorted.",
        (Kind::Resistor, Says::High) => {
            "Near the reference: signal or ground wire open, sensor open, or contact with a feed."
        }
        (Kind::FedSensor, Says::Low) => {
            "Below the lowest voltage of a sound sensor: signal in contact with ground, feed missing, or, where the module pulls the pin down, signal open."
        }
        (Kind::FedSensor, Says::High) => {
            "Above the highest voltage of a sound sensor: ground wire open, contact with a feed, or, where the module pulls the pin up, signal open."
        }
        (Kind::FedSensor, Says::Circuit) => {
            "Feed, ground and signal wire all come into question; measure all three under load."
        }
        (Kind::Pulses, Says::Low | Says::NoActivity | Says::Circuit) => {
            "No pulses: feed, ground or signal open or shorted, or the target wheel does not turn."
        }
        (Kind::Pulses, Says::High) => "The line stays high: signal or ground wire open, or contact with a feed.",
        (Kind::Knock, Says::Low) => {
            "Too little signal: wire open or in contact with ground or the shield, or the sensor loose."
        }
        (Kind::Knock, Says::High) => "Too much signal: contact with a feed, or real mechanical noise.",
        (Kind::Oxygen, Says::NoActivity) => {
            "The voltage rests at the module's own bias: signal or sensor ground open, or the element cold."
        }
        (Kind::Oxygen, Says::Low) => {
            "The signal wire has contact with ground, air enters the exhaust, or the mixture is lean."
        }
        (Kind::Oxygen, Says::High) => "The signal wire has contact with a feed or the heater, or the mixture is rich.",
        (Kind::Oxygen, Says::Heater) => "Heater feed, fuse, heater or its control wire.",
        (Kind::WideBand, Says::Low) => "The line has contact with ground, or another of the sensor's lines is open.",
        (Kind::WideBand, Says::High) => "The line has contact with a feed.",
        (Kind::WideBand, Says::Open) => "The line is open: the module cannot drive current through the cell.",
        (Kind::Driver, Says::Low) => {
            "Low while the driver is off: control wire in contact with ground, load open or its feed missing. (Load switched on its ground side.)"
        }
        (Kind::Driver, Says::High) => {
            "High while the driver is on: control wire in contact with a feed, or the load shorted. (Load switched on its ground side.)"
        }
        (Kind::Driver, Says::Open) => "The load, its feed or its control wire is open.",
        (Kind::Driver, Says::Shorted) => "The control wire has contact with a feed or ground, or the load is shorted.",
        (Kind::Driver, Says::Circuit) => "Feed, fuse, load and control wire all come into question.",
        (Kind::Motor, Says::Low | Says::High | Says::Open) => {
            "One of the two motor lines: open, or in contact with ground or a feed, or the motor."
        }
        (Kind::Supply, Says::Low) => {
            "Something pulls the supply down: one of the sensors on it, or its wire in contact with ground. All of them then read wrongly."
        }
        (Kind::Supply, Says::High) => "The supply has contact with a higher voltage.",
        (Kind::Supply, Says::Open) => "The module's supply does not reach its own check, or is overloaded.",
        (Kind::SensedVoltage, Says::Low) => {
            "Feed, fuse, relay contact or ground under load, or the battery and its charging."
        }
        (Kind::SensedVoltage, Says::Open) => {
            "The voltage that should be sensed is not there: feed, fuse, relay contact or wire open."
        }
        (Kind::SensedVoltage, Says::High) => {
            "Charging too high, a relay that sticks, or contact with a feed while it should be off."
        }
        (Kind::Switch, Says::Low) => "The line stays low: contact with ground, switch stuck, or its feed missing.",
        (Kind::Switch, Says::High) => {
            "The line stays high: contact with a feed, switch stuck, or, where the switch grounds the line, wire open."
        }
        (Kind::Bus, _) => {
            "Terminators, the two wires against each other, ground and feeds, and each module on the bus."
        }
        (Kind::Module, Says::NoMessages) => {
            "That module's feed, ground, wake-up line and bus wires come first; then the module."
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::code::read;

    fn of(text: &str) -> Explanation {
        let typed = read(text).expect("a code");
        explain(typed.code, typed.failure_type)
    }

    #[test]
    fn low_and_high_of_a_thermistor_name_the_pin_not_the_temperature() {
        assert!(of("P0117").at_the_pin.expect("known").contains("very hot"));
        assert!(of("P0118").at_the_pin.expect("known").contains("very cold"));
    }

    #[test]
    fn every_low_high_or_open_code_says_what_it_means_at_the_pin() {
        for entry in table::all() {
            let directed = matches!(entry.says, Says::Low | Says::High | Says::Open);
            let told = at_the_pin(entry.circuit, entry.says).is_some();
            assert!(!directed || told, "{}", entry.code);
        }
    }

    #[test]
    fn a_makers_code_is_decoded_and_not_made_up() {
        let told = of("P1ABC-13");
        assert_eq!(told.entry, None);
        assert!(told.numbered_by.contains("maker"), "{told:?}");
        assert_eq!(told.failure.as_deref(), Some("type 13: open"));
        assert_eq!(
            of("P09FF").says,
            "a powertrain code, transmission; not in the built-in table"
        );
    }
}
