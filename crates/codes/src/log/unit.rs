//! Units as logs write them, and the way to those of the open formulas.

/// `value · times + offset` is the value in the base unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Conversion {
    pub(super) times: f64,
    pub(super) offset: f64,
}

impl Conversion {
    pub(super) fn apply(self, value: f64) -> f64 {
        value * self.times + self.offset
    }

    pub(super) fn undo(self, value: f64) -> f64 {
        (value - self.offset) / self.times
    }
}

/// Base unit as the formulas write it; spellings without spaces, in small letters; the factor to the base unit.
///
/// Exact by definition: inch, mile, pound, psi from pound-force and inch; inch of mercury at 0 °C.
const UNITS: &[(&str, &[&str], f64)] = &[
    ("°C", &["°c", "c", "degc", "℃", "celsius"], 1.0),
    ("rpm", &["rpm", "1/min", "/min", "min-1", "u/min", "r/min"], 1.0),
    ("km/h", &["km/h", "kph", "kmh", "kmph"], 1.0),
    ("km/h", &["mph", "mi/h"], 1.609_344),
    ("kPa", &["kpa", "kpaa", "kpaabs"], 1.0),
    ("kPa", &["bar"], 100.0),
    ("kPa", &["mbar", "hpa"], 0.1),
    ("kPa", &["mpa"], 1000.0),
    ("kPa", &["psi", "psia", "psig"], 6.894_757_293),
    ("kPa", &["inhg"], 3.386_389),
    ("V", &["v", "volt", "volts"], 1.0),
    ("V", &["mv"], 0.001),
    ("%", &["%", "pct", "percent"], 1.0),
    ("g/s", &["g/s", "gm/s", "g/sec", "gps"], 1.0),
    ("g/s", &["kg/h"], 1.0 / 3.6),
    ("g/s", &["lb/min"], 7.559_872_833),
    ("s", &["s", "sec", "secs", "second", "seconds"], 1.0),
    ("s", &["ms", "msec", "milliseconds"], 0.001),
    ("s", &["minutes", "min"], 60.0),
    ("min", &["min", "minutes"], 1.0),
    ("°", &["°", "deg", "degrees", "°ca"], 1.0),
    ("L/h", &["l/h", "lph"], 1.0),
    ("km", &["km"], 1.0),
    ("km", &["mi", "mile", "miles"], 1.609_344),
    ("", &["", "lambda", "λ", "ratio", "count", "counts"], 1.0),
];

fn spelled(unit: &str) -> String {
    unit.chars()
        .filter(|one| !one.is_whitespace() && *one != '.')
        .flat_map(char::to_lowercase)
        .collect()
}

/// The way from a unit as written to another; `None` if it is another kind of unit or not known. One and the same is always
/// known.
pub(super) fn conversion(written: &str, wanted: &str) -> Option<Conversion> {
    let (from, to) = (spelled(written), spelled(wanted));
    if wanted == "°C" && matches!(from.as_str(), "°f" | "f" | "degf" | "℉" | "fahrenheit") {
        return Some(Conversion {
            times: 5.0 / 9.0,
            offset: -160.0 / 9.0,
        });
    }
    if from == to {
        return Some(Conversion {
            times: 1.0,
            offset: 0.0,
        });
    }
    let rows = |unit: &str| {
        let unit = unit.to_owned();
        UNITS
            .iter()
            .filter(move |(_, spellings, _)| spellings.contains(&unit.as_str()))
    };
    rows(&from).find_map(|(base, _, times)| {
        let (.., over) = rows(&to).find(|(other, ..)| other == base)?;
        Some(Conversion {
            times: times / over,
            offset: 0.0,
        })
    })
}

/// It is written as a unit that is known here, or as none.
pub(super) fn is_unit(text: &str) -> bool {
    let spelled = spelled(text);
    let known = UNITS
        .iter()
        .any(|(_, spellings, _)| spellings.contains(&spelled.as_str()));
    known
        || matches!(
            spelled.as_str(),
            "°f" | "f" | "degf" | "-" | "a" | "ma" | "ω" | "ohm" | "hz" | "mg/stk" | "nm" | "bool"
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Handbook values: 212 °F = 100 °C, 14.696 psi = 101.325 kPa, 29.92 inHg = 101.32 kPa, 60 mph = 96.56 km/h.
    #[test]
    fn known_points_convert() {
        for (value, unit, base, expected) in [
            (212.0, "°F", "°C", 100.0),
            (14.696, "psi", "kPa", 101.325),
            (29.92, "inHg", "kPa", 101.32),
            (60.0, "mph", "km/h", 96.56),
            (450.0, "mV", "V", 0.45),
            (36.0, "kg/h", "g/s", 10.0),
            (1.0, "lb/min", "g/s", 7.56),
            (32.0, "bar", "bar", 32.0),
            (101.325, "kPa", "bar", 1.01325),
            (14.696, "psi", "bar", 1.01325),
            (5.0, "A", "A", 5.0),
        ] {
            let conversion = conversion(unit, base).expect(unit);
            assert!((conversion.apply(value) - expected).abs() < 0.005, "{unit}");
            assert!((conversion.undo(expected) - value).abs() < 0.02, "{unit}");
        }
        assert_eq!(conversion("V", "kPa"), None);
    }
}
