//! A code that no check of a circuit sets: the check that its words ask for, where just one pin fits them.
//!
//! Limits: low and high of a sensor's signal, and of a driver's pin, whose command can be put in words. Anything else is told and
//! not weighed, rather than guessed.

use circuit::archetype::words_in_common;
use circuit::{BranchKind, Channel, Circuit, Condition, Pin, PinKind};
use codes::code::table::{CircuitKind, Entry, Says};

/// Words that many items share, so that they tell none.
const SHARED: [&str; 12] = [
    "position",
    "pressure",
    "temperature",
    "level",
    "speed",
    "control",
    "driver",
    "relay",
    "valve",
    "solenoid",
    "feed",
    "lamp",
];
/// Parts of a converter's range below and above which a signal is low and high. Common practice, no source: 0.2 V and 4.8 V of 5 V.
const LOW_PART: f64 = 0.04;
const HIGH_PART: f64 = 0.96;

/// A check to add to a circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Added {
    /// The piece of circuit file.
    pub(super) text: String,
    /// What is taken for what, in plain words.
    pub(super) told: String,
}

/// Whether a code says where a voltage stands: low or high of a signal, or how a driver's pin stands.
pub(super) fn names_voltage(entry: &Entry) -> bool {
    match entry.circuit {
        CircuitKind::FedSensor | CircuitKind::Thermistor | CircuitKind::Resistor => {
            matches!(entry.says, Says::Low | Says::High)
        }
        CircuitKind::Driver => matches!(entry.says, Says::Low | Says::High | Says::Circuit | Says::Open),
        _ => false,
    }
}

/// The check that sets a code, if the circuit has just one pin that fits it.
pub(super) fn derived(circuit: &Circuit, entry: &Entry) -> Option<Added> {
    match entry.circuit {
        _ if !names_voltage(entry) => None,
        CircuitKind::Driver => of_driver(circuit, entry),
        _ => of_signal(circuit, entry),
    }
}

/// How many words of an item's name are said of a pin, those left out that many items share.
fn fit(said: &str, entry: &Entry) -> usize {
    let name = entry.name().to_lowercase();
    let tells = |word: &&str| word.chars().count() > 1 && !SHARED.contains(word);
    let name: Vec<&str> = name.split_whitespace().filter(tells).collect();
    words_in_common(said, &name.join(" "))
}

/// The one that fits best, if it is alone in that.
fn only<T>(each: impl Iterator<Item = (usize, T)>) -> Option<T> {
    let mut best: Vec<(usize, T)> = Vec::new();
    for (fit, one) in each.filter(|(fit, _)| *fit > 0) {
        let most = best.first().map_or(0, |(most, _)| *most);
        if fit > most {
            best.clear();
        }
        if fit >= most {
            best.push((fit, one));
        }
    }
    (best.len() == 1).then(|| best.remove(0).1)
}

fn place(circuit: &Circuit, pin: &Pin) -> String {
    let plug = &circuit.parts[circuit.connectors[pin.connector.idx()].part.idx()].id;
    format!("{plug}.{}", pin.cavity)
}

fn piece(module: &str, entry: &Entry, what: &str) -> String {
    let (code, name, says) = (entry.code, entry.name(), entry.says.word());
    format!("\n[[module.{module}.monitor]]\ncode = \"{code}\"\nname = \"{name} {says}, assumed\"\n{what}\n")
}

fn of_signal(circuit: &Circuit, entry: &Entry) -> Option<Added> {
    let (key, part) = match entry.says {
        Says::Low => ("below", LOW_PART),
        Says::High => ("above", HIGH_PART),
        _ => return None,
    };
    let channels = circuit.channels.iter().enumerate().filter_map(|(at, channel)| {
        let pin = circuit.pin_of(at.into())?;
        let is_signal = pin.kind == PinKind::Input && channel.counts.is_none();
        let said = format!("{} {} {}", channel.words, channel.id, pin.words);
        is_signal.then(|| (fit(&said, entry), (at, channel, pin)))
    });
    let (at, channel, pin): (usize, &Channel, &Pin) = only(channels)?;
    let usual = channel.low_volts + part * (channel.high_volts - channel.low_volts);
    // Where another code is set for the same, its limit is known.
    let others = circuit.monitors.iter().filter(|one| one.channel() == Some(at.into()));
    let mut known = others.filter_map(|one| match entry.says {
        Says::Low => one.limits.below,
        _ => one.limits.above,
    });
    let volts = known.next().unwrap_or(usual);
    let module = &circuit.parts[circuit.modules[channel.module.idx()].part.idx()].id;
    let what = format!("channel = \"{}\"\n{key} = {volts:.3}", channel.id);
    let told = format!(
        "This circuit has no check that sets {}: it is taken to be set {key} {volts:.2} V at {} ({}); makers choose the limit",
        entry.code,
        place(circuit, pin),
        channel.words
    );
    Some(Added {
        text: piece(module, entry, &what),
        told,
    })
}

/// What commands a driver, as terms of a condition; `None` where it cannot be put so.
fn terms(circuit: &Circuit, on: &Condition) -> Option<Vec<String>> {
    match on {
        Condition::Commanded(load) => Some(vec![format!("{} commanded", circuit.loads[load.idx()].id)]),
        Condition::InPhase(rhythm, phase) => {
            let rhythm = &circuit.rhythms[rhythm.idx()];
            Some(vec![format!("{} in {}", rhythm.id, rhythm.phases[*phase].name)])
        }
        Condition::Any(each) => {
            let each: Option<Vec<Vec<String>>> = each.iter().map(|one| terms(circuit, one)).collect();
            each.map(|each| each.concat())
        }
        _ => None,
    }
}

fn of_driver(circuit: &Circuit, entry: &Entry) -> Option<Added> {
    // As in the ready-made circuits.
    let (what, is_off) = match entry.says {
        Says::Low => ("below = \"1.2 V\"", true),
        Says::Open => ("between = \"1.2 V..4 V\"", true),
        Says::Circuit => ("below = \"4 V\"", true),
        Says::High => ("above = \"2 V\"", false),
        _ => return None,
    };
    let modules = circuit.modules.iter();
    let pins = modules.flat_map(|module| module.pins.iter().map(move |pin| (module, pin)));
    let drivers = pins.filter(|(_, pin)| pin.kind == PinKind::LowSideDriver);
    let (module, pin) = only(drivers.map(|(module, pin)| (fit(&pin.words, entry), (module, pin))))?;
    let on = pin
        .inside
        .iter()
        .find_map(|branch| match &circuit.branches[branch.idx()].kind {
            BranchKind::Driver { commanded, .. } => terms(circuit, commanded),
            _ => None,
        })?;
    let runs = if is_off {
        let not: Vec<String> = on.iter().map(|term| format!("; not {term}")).collect();
        format!("key on, running{}", not.concat())
    } else {
        on.join(" | ")
    };
    let module = &circuit.parts[module.part.idx()].id;
    let path = place(circuit, pin);
    let told = format!(
        "This circuit has no check that sets {}: it is taken to be set as such codes usually are, by the voltage at {path} ({}) \
         while it is {}",
        entry.code,
        pin.words,
        if is_off { "off" } else { "on" }
    );
    let what = format!("pin = \"{path}\"\n{what}\nruns = \"{runs}\"");
    Some(Added {
        text: piece(module, entry, &what),
        told,
    })
}
