//! The text form of what an instrument showed: `10.4 V`, `31 mV`, `OL`, `2.1..2.9 V`, `dim`, `yes`, `not set`.

use std::ops::Range;

use circuit::Circuit;
use quantity::{OnDisplay, Unit, parse_displayed};

use crate::error::TextError;
use crate::test::{CodeState, Light, Placement, Shown};
use crate::text::nearest_of;

/// Words that any instrument may show.
const ALWAYS: [(&str, Shown); 1] = [("not taken", Shown::NotTaken)];
const UNSTABLE: [(&str, Shown); 1] = [("unstable", Shown::Unstable)];
const LIGHT: [(&str, Shown); 4] = [
    ("off", Shown::Light(Light::Off)),
    ("dim", Shown::Light(Light::Dim)),
    ("bright", Shown::Light(Light::Bright)),
    ("dark", Shown::Light(Light::Off)),
];
const YES_NO: [(&str, Shown); 2] = [("yes", Shown::YesNo(true)), ("no", Shown::YesNo(false))];
const CODE: [(&str, Shown); 6] = [
    ("present", Shown::Code(CodeState::Present)),
    ("pending", Shown::Code(CodeState::Pending)),
    ("history", Shown::Code(CodeState::History)),
    ("not set", Shown::Code(CodeState::NotSet)),
    ("not run", Shown::Code(CodeState::NotRun)),
    ("no communication", Shown::NoCommunication),
];
const SILENT: [(&str, Shown); 1] = [("no communication", Shown::NoCommunication)];

/// What an instrument's numbers are in.
enum Numbers<'c> {
    /// It shows none.
    None,
    /// Of a kind that has a unit here.
    Of(Unit),
    /// Of a channel whose unit is a mere word.
    Plain(&'c str),
}

fn numbers<'c>(placement: &Placement, circuit: &'c Circuit) -> Numbers<'c> {
    match placement {
        Placement::Voltmeter { .. } | Placement::DiodeTest { .. } => Numbers::Of(Unit::Volt),
        Placement::Alternating { shows, .. } => Numbers::Of(shows.unit()),
        Placement::Ohmmeter { .. } => Numbers::Of(Unit::Ohm),
        Placement::Ammeter { .. } | Placement::Clamp { .. } => Numbers::Of(Unit::Ampere),
        Placement::Continuity { .. } | Placement::TestLight { .. } | Placement::Code { .. } => Numbers::None,
        Placement::Scan { channel } => {
            let unit = circuit
                .channels
                .get(channel.idx())
                .map_or("", |channel| channel.unit.trim());
            let known = Unit::ALL
                .into_iter()
                .find(|known| known.symbol() == unit && !unit.is_empty());
            known.map_or(Numbers::Plain(unit), Numbers::Of)
        }
    }
}

/// Words that an instrument may show besides numbers, and how to say what it shows.
fn expected(placement: &Placement) -> (Vec<(&'static str, Shown)>, &'static str) {
    let (words, expected): (&[&[(&str, Shown)]], _) = match placement {
        Placement::TestLight { .. } => (&[&LIGHT], "write off, dim, bright or not taken"),
        Placement::Continuity { .. } => (&[&YES_NO], "write yes, no or not taken"),
        Placement::Code { .. } => (
            &[&CODE],
            "write present, pending, history, not set, not run, no communication or not taken",
        ),
        Placement::Scan { .. } => (
            &[&UNSTABLE, &SILENT],
            "write a number, two with .. between, unstable, no communication or not taken",
        ),
        _ => (
            &[&UNSTABLE],
            "write a number, two with .. between, OL, unstable or not taken",
        ),
    };
    let all = words.iter().copied().flatten().chain(&ALWAYS).cloned().collect();
    (all, expected)
}

/// Reads what the instrument of `placement` showed. The digits written say how finely it resolves.
///
/// # Errors
/// [`TextError`] with the range of bytes to blame: a word that the instrument never shows, a number that is none, or one
/// of another unit.
pub fn parse_shown(text: &str, placement: &Placement, circuit: &Circuit) -> Result<Shown, TextError> {
    let from = text.len() - text.trim_start().len();
    let trimmed = text.trim();
    let at = from..from + trimmed.len();
    let (words, expected) = expected(placement);
    if trimmed.is_empty() {
        return Err(TextError::Empty { at, expected });
    }
    let lower = trimmed.to_lowercase();
    let lower = lower.split_whitespace().collect::<Vec<_>>().join(" ");
    if let Some((_, shown)) = words.iter().find(|(word, _)| *word == lower) {
        return Ok(shown.clone());
    }
    let not_shown = |at: Range<usize>| {
        let known: Vec<&'static str> = words.iter().map(|(word, _)| *word).collect();
        let found = trimmed.to_owned();
        match nearest_of(&lower, &known) {
            Some(nearest) => TextError::Unknown {
                at,
                found,
                what: "reading",
                nearest: Some(nearest),
            },
            None => TextError::NotShown {
                at,
                found,
                instrument: placement.instrument(),
                expected,
            },
        }
    };
    let unit = match numbers(placement, circuit) {
        Numbers::None => return Err(not_shown(at)),
        Numbers::Of(unit) => unit,
        Numbers::Plain(unit) => {
            let bare = trimmed
                .strip_suffix(unit)
                .filter(|_| !unit.is_empty())
                .unwrap_or(trimmed);
            return number(bare.trim_end(), from, Unit::One);
        }
    };
    let starts_as_number = trimmed.starts_with(|c: char| c.is_ascii_digit() || "+-\u{2212}.,oO".contains(c));
    if starts_as_number {
        number(trimmed, from, unit)
    } else {
        Err(not_shown(at))
    }
}

/// No instrument shows a larger number, in the unit's own size: 100 GΩ.
const LARGEST: f64 = 1e11;

/// A number, over-range, or two numbers with `..` between them.
fn number(text: &str, from: usize, unit: Unit) -> Result<Shown, TextError> {
    let value = |text: &str, from: usize| {
        let shown = parse_displayed(text, unit).map_err(|source| {
            let at = source.at();
            TextError::Value {
                at: at.start + from..at.end + from,
                source: Box::new(source),
            }
        })?;
        match shown {
            OnDisplay::Number(number) if number.value.abs() > LARGEST => Err(TextError::NotShown {
                at: from..from + text.len(),
                found: text.to_owned(),
                instrument: "any instrument",
                expected: "look at the unit again",
            }),
            shown => Ok(shown),
        }
    };
    let Some((low, high)) = text.split_once("..") else {
        return Ok(match value(text, from)? {
            OnDisplay::Number(shown) => Shown::Number {
                value: shown.value,
                resolution: shown.resolution,
            },
            OnDisplay::OverRange => Shown::OverRange,
        });
    };
    let second = from + low.len() + 2;
    // `31..35 mV`: a unit written once belongs to both.
    let unit_from = high
        .rfind(|c: char| c.is_ascii_digit() || c == '.')
        .map_or(high.len(), |digit| digit + 1);
    let bare = low.trim_end().ends_with(|c: char| c.is_ascii_digit());
    let first = if bare {
        format!("{}{}", low.trim_end(), &high[unit_from..])
    } else {
        low.to_owned()
    };
    // Blamed where it stands, the unit that was put behind it left out.
    let first = value(&first, from).map_err(|error| match error {
        TextError::Value { at, source } => TextError::Value {
            at: at.start.min(from + low.len())..at.end.min(from + low.len()),
            source,
        },
        other => other,
    })?;
    let at = from..from + text.len();
    match (first, value(high, second)?) {
        (OnDisplay::Number(one), OnDisplay::Number(other)) if one.value <= other.value => Ok(Shown::Between {
            low: one.value,
            high: other.value,
            resolution: one.resolution.max(other.resolution),
        }),
        (OnDisplay::Number(_), OnDisplay::Number(_)) => Err(TextError::Reversed {
            at,
            low: low.trim().to_owned(),
            high: high.trim().to_owned(),
        }),
        _ => Err(TextError::NotShown {
            at,
            found: text.to_owned(),
            instrument: "a range",
            expected: "write two numbers with .. between them",
        }),
    }
}

impl Shown {
    /// The text that [`parse_shown`] reads back, digits and all.
    pub fn to_text(&self, placement: &Placement, circuit: &Circuit) -> String {
        let unit = match numbers(placement, circuit) {
            Numbers::None => "",
            Numbers::Of(unit) => unit.symbol(),
            Numbers::Plain(unit) => unit,
        };
        let ohms = unit == Unit::Ohm.symbol();
        match *self {
            Self::Number { value, resolution } => {
                let (scale, prefix) = prefix(resolution, ohms);
                with_unit(&digits(value / scale, resolution / scale), prefix, unit)
            }
            Self::Between { low, high, resolution } => {
                let (scale, prefix) = prefix(resolution, ohms);
                let [low, high] = [low, high].map(|value| digits(value / scale, resolution / scale));
                with_unit(&format!("{low}..{high}"), prefix, unit)
            }
            Self::OverRange => "OL".to_owned(),
            Self::Unstable => "unstable".to_owned(),
            Self::NotTaken => "not taken".to_owned(),
            Self::NoCommunication => "no communication".to_owned(),
            Self::Light(Light::Off) => "off".to_owned(),
            Self::Light(Light::Dim) => "dim".to_owned(),
            Self::Light(Light::Bright) => "bright".to_owned(),
            Self::YesNo(true) => "yes".to_owned(),
            Self::YesNo(false) => "no".to_owned(),
            Self::Code(state) => {
                let found = CODE.iter().find(|(_, shown)| *shown == Self::Code(state));
                found.map_or("", |(word, _)| *word).to_owned()
            }
        }
    }
}

/// A prefix that lets the last digit stand for `resolution`: only ohms come in hundreds and thousands.
fn prefix(resolution: f64, ohms: bool) -> (f64, &'static str) {
    match resolution {
        r if ohms && r > 1.5e3 => (1e6, "M"),
        r if ohms && r > 1.5 => (1e3, "k"),
        _ => (1.0, ""),
    }
}

/// `value` with as many decimals as its last digit asks for; all that it has if that is 0.
fn digits(value: f64, resolution: f64) -> String {
    if resolution > 0.0 && resolution.is_finite() {
        let decimals = (-(resolution * 1.000_001).log10()).ceil().clamp(0.0, 15.0);
        format!("{value:.*}", decimals as usize)
    } else {
        format!("{value}")
    }
}

fn with_unit(number: &str, prefix: &str, unit: &str) -> String {
    if unit.is_empty() {
        number.to_owned()
    } else {
        format!("{number} {prefix}{unit}")
    }
}
