//! Which known value a series is, by the words of its name and by its unit.

use super::Series;
use super::unit::{Conversion, conversion};
use crate::scan::{self, Formula};

/// A value that a series may be: names that it goes by, the first of them its own, and its unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// Names that it goes by.
    pub names: Vec<String>,
    /// Its unit, as the formulas write units.
    pub unit: String,
    /// The open formula, where there is one: it tells the ends of the range.
    pub formula: Option<&'static Formula>,
}

/// What a series is taken for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recognised {
    /// Position in the list of known values.
    pub known_idx: usize,
    /// 1 where the words are the same, else the share of words that agree, above 0.8.
    pub likeness: f64,
    /// The series has no unit: the known one's was assumed.
    pub unit_assumed: bool,
    pub(super) conversion: Conversion,
}

impl Recognised {
    /// A value of the series in the unit of the known one.
    pub fn converted(&self, value: f64) -> f64 {
        value * self.conversion.times + self.conversion.offset
    }
}

/// The values of the open formulas.
pub fn known_pids() -> Vec<Known> {
    scan::all()
        .iter()
        .map(|formula| Known {
            names: std::iter::once(formula.full_name())
                .chain(formula.also.iter().cloned())
                .collect(),
            unit: formula.unit.clone(),
            formula: Some(formula),
        })
        .collect()
}

/// For each series the known value that it is most like, if one is like it, its unit fits and no other is as like.
///
/// A number or a single letter in a name (bank 2, pedal D) must agree. Words may be misspelt a little: Jaro-Winkler similarity
/// of 0.9 (Winkler 1990); 0.8 of all words must agree (Dice 1945). Both limits are our own choice.
pub fn recognise(series: &[Series], known: &[Known]) -> Vec<Option<Recognised>> {
    let names: Vec<Vec<Vec<String>>> = known
        .iter()
        .map(|one| one.names.iter().map(|name| words(name)).collect())
        .collect();
    series.iter().map(|one| best(one, known, &names)).collect()
}

/// A series taken for a known value because somebody says so. `None` if its unit is of another kind.
pub fn taken_for(series: &Series, known: &[Known], known_idx: usize) -> Option<Recognised> {
    let unit = &known.get(known_idx)?.unit;
    let unit_assumed = series.unit.is_empty();
    let written = if unit_assumed { unit } else { &series.unit };
    Some(Recognised {
        known_idx,
        likeness: 1.0,
        unit_assumed,
        conversion: conversion(written, unit)?,
    })
}

fn best(series: &Series, known: &[Known], names: &[Vec<Vec<String>>]) -> Option<Recognised> {
    const ENOUGH: f64 = 0.8;
    let own = words(&series.name);
    let mut found: Vec<Recognised> = Vec::new();
    for (known_idx, (one, names)) in known.iter().zip(names).enumerate() {
        let unit_assumed = series.unit.is_empty();
        let written = if unit_assumed { one.unit.as_str() } else { &series.unit };
        let Some(conversion) = conversion(written, &one.unit) else {
            continue;
        };
        let likeness = names.iter().map(|name| likeness(&own, name)).fold(0.0, f64::max);
        if likeness >= ENOUGH {
            found.push(Recognised {
                known_idx,
                likeness,
                unit_assumed,
                conversion,
            });
        }
    }
    found.sort_by(|a, b| b.likeness.total_cmp(&a.likeness));
    match found[..] {
        [first, second, ..] if second.likeness >= first.likeness => None,
        [first, ..] => Some(first),
        [] => None,
    }
}

/// Words of a name: small letters, short forms written out, `EngineRPM` cut apart, `B1` and `bank 1` the same.
fn words(name: &str) -> Vec<String> {
    let mut cut = String::new();
    let mut before = ' ';
    for one in name.chars() {
        let border = (before.is_lowercase() && one.is_uppercase())
            || (before.is_alphabetic() && one.is_ascii_digit())
            || (before.is_ascii_digit() && one.is_alphabetic());
        if border {
            cut.push(' ');
        }
        cut.push(if one.is_alphanumeric() { one } else { ' ' });
        before = one;
    }
    let cut = cut.to_lowercase();
    let mut pieces = cut.split_whitespace().peekable();
    let mut words = Vec::new();
    while let Some(piece) = pieces.next() {
        let counted = match piece {
            "b" | "bank" | "bnk" => "bank",
            "s" | "sensor" | "sens" | "sen" => "sensor",
            "o" => "oxygen",
            _ => "",
        };
        let number = pieces.next_if(|next| !counted.is_empty() && next.chars().all(|one| one.is_ascii_digit()));
        match (counted, number) {
            ("oxygen", Some("2")) => words.push("oxygen".to_owned()),
            // That a value comes from a sensor tells nothing.
            ("sensor", None) => {}
            (counted, Some(number)) => words.push(format!("{counted}{number}")),
            _ => words.push(written_out(piece).to_owned()),
        }
    }
    words
}

fn written_out(word: &str) -> &str {
    match word {
        "temp" | "tmp" => "temperature",
        "pos" => "position",
        "press" | "pres" => "pressure",
        "eng" => "engine",
        "abs" => "absolute",
        "volt" | "volts" => "voltage",
        "cmd" => "commanded",
        "rel" => "relative",
        "baro" => "barometric",
        "accel" => "accelerator",
        "mil" => "lamp",
        other => other,
    }
}

/// Share of words that agree (Dice): 1 if all do.
fn likeness(a: &[String], b: &[String]) -> f64 {
    let marks = |words: &[String]| {
        let mut marks: Vec<String> = words.iter().filter(|word| is_mark(word)).cloned().collect();
        marks.sort_unstable();
        marks
    };
    if a.is_empty() || b.is_empty() || marks(a) != marks(b) {
        return 0.0;
    }
    let mut left: Vec<&String> = b.iter().collect();
    let mut agree = 0;
    for word in a {
        let close = |other: &&String| **other == *word || (word.len() > 4 && strsim::jaro_winkler(word, other) >= 0.9);
        if let Some(at) = left.iter().position(close) {
            left.swap_remove(at);
            agree += 1;
        }
    }
    f64::from(2 * agree) / (a.len() + b.len()) as f64
}

/// Tells one of several apart: a number, a single letter, or a bank's or sensor's number.
fn is_mark(word: &str) -> bool {
    word.chars().count() == 1 || word.ends_with(|one: char| one.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn is(name: &str, unit: &str) -> Option<String> {
        let known = known_pids();
        let series = Series {
            name: name.to_owned(),
            unit: unit.to_owned(),
            samples: Vec::new(),
        };
        let found = recognise(&[series], &known)[0]?;
        known[found.known_idx]
            .formula
            .map(|formula| format!("{:02X}", formula.pid))
    }

    #[test]
    fn names_as_tools_write_them() {
        for (name, unit, pid) in [
            ("Engine RPM", "1/min", "0C"),
            ("EngineRPM", "", "0C"),
            ("RPM", "rpm", "0C"),
            ("Engine speed", "", "0C"),
            ("Vehicle Speed", "mph", "0D"),
            ("Coolant Temp.", "°F", "05"),
            ("ECT", "C", "05"),
            ("Engine Coolent Temperature", "°C", "05"),
            ("Intake Air Temp", "°C", "0F"),
            ("MAP", "kPa", "0B"),
            ("Mass Air Flow", "g/s", "10"),
            ("Throttle Pos", "%", "11"),
            ("STFT B1", "%", "06"),
            ("LTFT bank 2", "%", "09"),
            ("Short Term Fuel Trim Bank1", "%", "06"),
            ("O2 B1S2", "V", "15"),
            ("Pedal D", "%", "49"),
            ("Control module voltage", "V", "42"),
            ("Timing advance", "°", "0E"),
            ("Fuel rail pressure", "bar", "23"),
        ] {
            assert_eq!(is(name, unit).as_deref(), Some(pid), "{name}");
        }
    }

    #[test]
    fn what_is_something_else_is_not_taken_for_it() {
        for (name, unit) in [
            ("MAP", "V"),
            ("Oil", ""),
            ("Throttle position G", "%"),
            ("Temperature", "°C"),
            ("Fuel trim", "%"),
            ("O2 B3S1", "V"),
            ("", ""),
            ("Gear", ""),
            ("Engine torque", "Nm"),
        ] {
            assert_eq!(is(name, unit), None, "{name}");
        }
    }

    #[test]
    fn every_known_name_is_recognised_as_its_own() {
        let known = known_pids();
        for one in &known {
            let series = Series {
                name: one.names[0].clone(),
                unit: one.unit.clone(),
                samples: Vec::new(),
            };
            let found = recognise(&[series], &known)[0].map(|found| known[found.known_idx].names[0].clone());
            assert_eq!(found.as_ref(), Some(&one.names[0]));
        }
    }
}
