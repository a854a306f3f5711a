//! How each unit may be spelled, with which prefixes, and what a spelling is worth.
//!
//! Upper and lower case are told apart where they differ in meaning (m and M); names of three letters or more may be
//! written either way.

use crate::Unit;

/// From the number written to the base of the unit: `number · 10^exponent · factor + offset`.
///
/// Powers of ten are kept apart so that `50 mA` becomes the very number 0.05.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    pub(crate) exponent: i32,
    pub(crate) factor: f64,
    pub(crate) offset: f64,
}

impl Scale {
    pub(crate) const ONE: Scale = Scale {
        exponent: 0,
        factor: 1.0,
        offset: 0.0,
    };

    const fn ten(exponent: i32) -> Scale {
        Scale {
            exponent,
            factor: 1.0,
            offset: 0.0,
        }
    }

    const fn times(factor: f64) -> Scale {
        Scale {
            exponent: 0,
            factor,
            offset: 0.0,
        }
    }
}

/// What a suffix turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Suffix {
    /// Nothing was written behind the number.
    None,
    /// A prefix alone, as in `4.7k`.
    Prefix(Scale),
    /// A unit with or without a prefix.
    Full(Scale),
}

impl Suffix {
    pub(crate) fn scale(self) -> Scale {
        match self {
            Suffix::None => Scale::ONE,
            Suffix::Prefix(scale) | Suffix::Full(scale) => scale,
        }
    }
}

/// Why a suffix does not fit.
pub(crate) enum Misfit {
    /// It belongs to another kind of quantity.
    Other(Unit),
    /// The unit is right, its prefix is one that nobody means.
    Prefix,
    /// It means nothing.
    Unknown,
}

/// Reads `token`, the letters behind a number, as a suffix of `unit`.
pub(crate) fn resolve(token: &str, unit: Unit) -> Result<Suffix, Misfit> {
    if token.is_empty() {
        return Ok(Suffix::None);
    }
    if let Some(scale) = full(token, unit) {
        return Ok(Suffix::Full(scale));
    }
    if let Some((prefix, exponent, "")) = split_prefix(token)
        && spelling(unit).alone.contains(prefix)
    {
        return Ok(Suffix::Prefix(Scale::ten(exponent)));
    }
    if let Some((_, _, rest)) = split_prefix(token)
        && (spelling(unit).names.iter().any(|name| same(rest, name))
            || rest.is_empty() && !spelling(unit).alone.is_empty())
        && Unit::ALL.into_iter().all(|other| full(token, other).is_none())
    {
        return Err(Misfit::Prefix);
    }
    if token.eq_ignore_ascii_case("awg") {
        return Err(Misfit::Other(Unit::SquareMillimetre));
    }
    let other = Unit::ALL.into_iter().find(|&other| full(token, other).is_some());
    Err(other.map_or(Misfit::Unknown, Misfit::Other))
}

fn full(token: &str, unit: Unit) -> Option<Scale> {
    let spelling = spelling(unit);
    let named = |token: &str| spelling.names.iter().any(|name| same(token, name));
    if named(token) {
        return Some(Scale::ONE);
    }
    if let Some((_, scale)) = spelling.others.iter().find(|(name, _)| same(token, name)) {
        return Some(*scale);
    }
    let (prefix, exponent, rest) = split_prefix(token)?;
    (spelling.prefixes.contains(prefix) && named(rest)).then_some(Scale::ten(exponent))
}

fn same(token: &str, name: &str) -> bool {
    token == name || (name.len() >= 3 && name.is_ascii() && token.eq_ignore_ascii_case(name))
}

/// Splits a prefix off: its letter in the tables below, its power of ten, and what follows.
fn split_prefix(token: &str) -> Option<(char, i32, &str)> {
    if let (Some(head), Some(rest)) = (token.get(..3), token.get(3..))
        && head.eq_ignore_ascii_case("meg")
    {
        return Some(('M', 6, rest));
    }
    let mut letters = token.chars();
    let (letter, exponent) = match letters.next()? {
        'p' => ('p', -12),
        'n' => ('n', -9),
        'u' | 'µ' | 'μ' => ('µ', -6),
        'm' => ('m', -3),
        'k' | 'K' => ('k', 3),
        'M' => ('M', 6),
        'G' => ('G', 9),
        _ => return None,
    };
    Some((letter, exponent, letters.as_str()))
}

struct Spelling {
    /// Names of the base, which may carry one of `prefixes`.
    names: &'static [&'static str],
    prefixes: &'static str,
    /// Prefixes that may stand without the unit.
    alone: &'static str,
    /// Spellings with a worth of their own.
    others: &'static [(&'static str, Scale)],
}

// Exact by definition: 1 inch = 25.4 mm, 1 foot = 304.8 mm, 0 °C = 273.15 K. 1 psi = 6894.757 Pa (NIST SP 811).
fn spelling(unit: Unit) -> Spelling {
    const CENTI: Scale = Scale::ten(-2);
    const PER_MINUTE: Scale = Scale::times(1.0 / 60.0);
    const SIXTY: Scale = Scale::times(60.0);
    const HOUR_IN_SECONDS: Scale = Scale::times(3600.0);
    const PASCAL: Scale = Scale::ten(-5);
    const HECTOPASCAL: Scale = Scale::ten(-3);
    const MEGAPASCAL: Scale = Scale::ten(1);
    const DECI: Scale = Scale::ten(-1);
    const PSI: Scale = Scale::times(0.068_947_57);
    const INCH: Scale = Scale::times(0.0254);
    const FOOT: Scale = Scale::times(0.3048);
    const FAHRENHEIT: Scale = Scale {
        exponent: 0,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
    };
    const ABSOLUTE: Scale = Scale {
        exponent: 0,
        factor: 1.0,
        offset: -273.15,
    };
    let (names, prefixes, alone, others): (&[&str], _, _, &[_]) = match unit {
        Unit::Volt => (&["V", "v", "volt", "volts"], "µmk", "µmk", &[]),
        Unit::Ampere => (&["A", "a", "amp", "amps", "ampere", "amperes"], "nµmk", "nµmk", &[]),
        Unit::Ohm => (&["Ω", "\u{2126}", "ohm", "ohms", "R", "r"], "µmkMG", "µmkMG", &[]),
        Unit::Watt => (&["W", "w", "watt", "watts"], "µmk", "µmk", &[]),
        Unit::Farad => (&["F", "farad", "farads"], "pnµm", "pnµm", &[]),
        Unit::Henry => (&["H", "henry", "henries"], "nµm", "nµm", &[]),
        Unit::Metre => (
            &["m", "metre", "metres", "meter", "meters"],
            "mk",
            "",
            &[
                ("cm", CENTI),
                ("dm", DECI),
                ("ft", FOOT),
                ("'", FOOT),
                ("’", FOOT),
                ("foot", FOOT),
                ("feet", FOOT),
                ("in", INCH),
                ("\"", INCH),
                ("”", INCH),
                ("inch", INCH),
                ("inches", INCH),
            ],
        ),
        Unit::SquareMillimetre => (&["mm²", "mm2", "mm^2", "sqmm"], "", "", &[]),
        Unit::Celsius => (
            &["°C", "℃", "C", "degC"],
            "",
            "",
            &[
                ("°F", FAHRENHEIT),
                ("℉", FAHRENHEIT),
                ("F", FAHRENHEIT),
                ("degF", FAHRENHEIT),
                ("K", ABSOLUTE),
            ],
        ),
        Unit::Kelvin => (&["K", "kelvin", "kelvins"], "", "", &[]),
        Unit::Percent => (&["%", "percent"], "", "", &[]),
        Unit::Minute => (
            &["min", "mins", "minute", "minutes"],
            "",
            "",
            &[
                ("s", PER_MINUTE),
                ("sec", PER_MINUTE),
                ("seconds", PER_MINUTE),
                ("h", SIXTY),
                ("hour", SIXTY),
                ("hours", SIXTY),
            ],
        ),
        Unit::Second => (
            &["s", "sec", "second", "seconds"],
            "nµm",
            "",
            &[
                ("min", SIXTY),
                ("minutes", SIXTY),
                ("h", HOUR_IN_SECONDS),
                ("hours", HOUR_IN_SECONDS),
            ],
        ),
        Unit::Hertz => (&["Hz", "hz"], "mkM", "kM", &[("rpm", PER_MINUTE)]),
        Unit::Bar => (
            &["bar"],
            "m",
            "",
            &[
                ("Pa", PASCAL),
                ("hPa", HECTOPASCAL),
                ("kPa", CENTI),
                ("MPa", MEGAPASCAL),
                ("psi", PSI),
            ],
        ),
        Unit::Currency => (&[], "", "", &[]),
        Unit::One => (&[], "", "", &[("%", CENTI)]),
    };
    Spelling {
        names,
        prefixes,
        alone,
        others,
    }
}
