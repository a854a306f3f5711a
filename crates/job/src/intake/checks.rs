//! The checks of a circuit beside the codes that were typed: which takes the place of which, what becomes of a code that has none,
//! and when one runs.

use std::cmp::Reverse;

use circuit::archetype::words_in_common;
use circuit::{Archetype, Circuit, Key, Monitor, SetUp, Watches};
use codes::code::table::{self, Entry, Says};
use codes::code::{TroubleCode, read};

use super::derive::{derived, names_voltage};

/// The checks of a circuit, each with whether it is one of a channel's volts.
fn checks(of: &Archetype) -> Vec<(Monitor, bool)> {
    let Ok(circuit) = circuit::parse(&of.text) else {
        return Vec::new();
    };
    let of_volts = |check: &Monitor| match check.watches {
        Watches::Channel(channel) => circuit.channels[channel.idx()].counts.is_none(),
        Watches::Volts(..) | Watches::Amps(..) => false,
    };
    let each = circuit.monitors.iter();
    each.map(|check| (check.clone(), of_volts(check))).collect()
}

/// What the table says of the code of a check.
fn said_of(check: &Monitor) -> Option<Says> {
    Some(table::find(read(&check.code).ok()?.code)?.says)
}

/// Gives a code that no check knows the place of the check of its kind. Returns what was taken for what, in plain words.
pub(super) fn take_place(circuits: &mut [Archetype], entry: &Entry, codes: &[TroubleCode]) -> Option<String> {
    let code = entry.code.to_string();
    if circuits.iter().flat_map(checks).any(|(check, _)| check.code == code) {
        return None;
    }
    let says_so = |(check, of_volts): &(Monitor, bool)| match (entry.says, said_of(check)) {
        // Low and high are said of the voltage at a pin, not of how often something turns.
        (Says::Low, _) if *of_volts => check.limits.below.is_some(),
        (Says::High, _) if *of_volts => check.limits.above.is_some(),
        (Says::Low | Says::High | Says::Circuit | Says::Open, Some(says)) => says == entry.says,
        _ => false,
    };
    let is_typed = |check: &Monitor| codes.iter().any(|code| code.to_string() == check.code);
    let name = entry.name();
    for circuit in circuits.iter_mut().filter(|one| one.is_named_in(&name)) {
        let fitting = checks(circuit)
            .into_iter()
            .filter(|one| says_so(one) && !is_typed(&one.0));
        // Of several the first in whose words the item is.
        if let Some((check, of_volts)) = fitting.min_by_key(|(check, _)| Reverse(words_in_common(&check.words, &name)))
        {
            *circuit = circuit.with_code(&check.code, &code, &format!("{name} {}", entry.says.word()));
            let under = if of_volts { "at the voltage at which" } else { "by what" };
            return Some(format!("{code} is taken to be set {under} {} usually is", check.code));
        }
    }
    None
}

/// A circuit with the checks that codes ask for and it lacks, where just one pin fits them, and what was assumed or is not weighed,
/// in plain words. `parse` reads the text of a circuit.
pub fn with_checks(
    text: &str,
    codes: &[TroubleCode],
    parse: &mut dyn FnMut(&str) -> Option<Circuit>,
) -> (String, Vec<String>) {
    let (mut text, mut told) = (text.to_owned(), Vec::new());
    let Some(mut circuit) = parse(&text) else {
        return (text, told);
    };
    for code in codes {
        if circuit.monitor(&code.to_string()).is_some() {
            continue;
        }
        let entry = table::find(*code);
        let added = entry.and_then(|entry| derived(&circuit, entry)).and_then(|added| {
            let longer = [text.trim_end(), "\n", &added.text].concat();
            Some((parse(&longer)?, longer, added.told))
        });
        if let Some((with_it, longer, why)) = added {
            (circuit, text) = (with_it, longer);
            told.push(why);
            continue;
        }
        let why = match entry.map(names_voltage) {
            None => "the built-in table does not know the code",
            Some(true) => "no pin alone fits it",
            Some(false) => "the code names no voltage at a sensor's or driver's pin",
        };
        told.push(format!(
            "This circuit has no check that sets {code}, so it is not weighed: {why}"
        ));
    }
    (text, told)
}

/// A set-up in which a check runs: nothing commanded if that will do.
pub(super) fn runs(circuit: &Circuit, monitor: &Monitor) -> Option<SetUp> {
    let runs = |set_up: &SetUp| {
        let mut moments = circuit.passing(set_up).into_iter();
        moments.any(|moment| monitor.runs.holds_in(circuit, &moment.set_up))
    };
    let keys = [Key::On, Key::Running, Key::Cranking].map(|key| SetUp { key, ..SetUp::normal() });
    let loads = || (0..circuit.loads.len()).map(circuit::LoadId::from);
    let commanded = keys.iter().flat_map(|at| {
        loads().map(|load| SetUp {
            commanded: [load].into(),
            ..at.clone()
        })
    });
    keys.iter().cloned().chain(commanded).find(runs)
}
