//! From a text to an [`Amount`] or a [`Span`].
//!
//! A number without a unit is in the base of the unit asked for. Not understood on purpose: sums (`6 ft 3 in`),
//! thousands separators, tolerances that differ upwards and downwards.

use crate::scan::{Cursor, Number};
use crate::spelling::{self, Misfit, Suffix};
use crate::{Amount, ParseError, Span, Spread, Unit, wire};
use std::ops::Range;

/// Reads a value, with its tolerance if one is written, as `unit`.
///
/// `4.7k`, `4k7`, `4.7 kΩ ± 5 %`, `12,6 V +- 0.3 V`, `18 AWG`, `80 °C`, `176 °F`, `6 ft`, `1:30` (minutes and seconds).
/// `± 0` and the word `exact` mean [`Spread::Exact`]. In [`Unit::Percent`] a tolerance in % is in points.
///
/// ```
/// use quantity::{Spread, Unit, parse};
/// let pull_up = parse("4k7 ± 5 %", Unit::Ohm)?;
/// assert_eq!((pull_up.value, pull_up.spread), (4700.0, Spread::Relative(0.05)));
/// # Ok::<(), quantity::ParseError>(())
/// ```
///
/// # Errors
/// [`ParseError`] with the bytes to blame if the text is no value of this kind, is infinite, or cannot be: negative
/// where there is nothing below zero, a cross-section of zero, a temperature below absolute zero.
pub fn parse(text: &str, unit: Unit) -> Result<Amount, ParseError> {
    let mut cursor = Cursor::new(text);
    let main = written(&mut cursor, unit)?;
    check_sense(&cursor, &main, unit)?;
    let spread = tolerance(&mut cursor, &main, unit)?;
    if let Spread::Absolute(half) = spread
        && !unit.may_be_negative()
        && half > main.value
    {
        let at = main.at.end..cursor.remainder().end.max(main.at.end);
        return Err(ParseError::ToleranceSize {
            found: cursor.slice(at.clone()).trim().to_owned(),
            at,
        });
    }
    nothing_left(&cursor)?;
    Ok(Amount {
        value: main.value,
        spread,
        unit,
    })
}

/// Reads two values with `..`, `…`, `–` or the word `to` between them as `unit`.
///
/// A unit behind the second one holds for both: `0.5..4.5 V`.
///
/// # Errors
/// As [`parse`], and if there are not two values, the first is the larger, or the second ends in a bare prefix that the
/// first lacks (`10..100k`).
pub fn parse_range(text: &str, unit: Unit) -> Result<Span, ParseError> {
    let whole = Cursor::new(text).remainder();
    let separator = ["..", "…", "–", " to "]
        .into_iter()
        .find_map(|mark| Some((text.find(mark)?, mark.len())));
    let Some((split, mark_len)) = separator else {
        return Err(ParseError::NotARange {
            found: text.trim().to_owned(),
            at: whole,
        });
    };
    let cursor = Cursor::new(text);
    let (mut low_text, mut high_text) = (cursor.part(0..split), cursor.part(split + mark_len..text.len()));
    let low = written(&mut low_text, unit)?;
    nothing_left(&low_text)?;
    let high = written(&mut high_text, unit)?;
    nothing_left(&high_text)?;
    let low_value = match (low.suffix, high.suffix) {
        (Suffix::None, Suffix::Prefix(_)) => {
            return Err(ParseError::RangeUnit {
                found: text.trim().to_owned(),
                at: whole,
            });
        }
        (Suffix::None, Suffix::Full(scale)) => low.number.as_ref().map_or(low.value, |number| number.value(scale)),
        _ => low.value,
    };
    let low = Written {
        value: low_value,
        ..low
    };
    check_sense(&cursor, &low, unit)?;
    check_sense(&cursor, &high, unit)?;
    if low.value > high.value {
        return Err(ParseError::Backwards {
            found: text.trim().to_owned(),
            at: whole,
        });
    }
    Ok(Span {
        low: low.value,
        high: high.value,
    })
}

/// A number with its unit, before anybody asked whether it makes sense.
pub(crate) struct Written {
    pub(crate) value: f64,
    pub(crate) resolution: f64,
    suffix: Suffix,
    /// `None` for a gauge or a clock time.
    number: Option<Number>,
    at: Range<usize>,
}

/// Takes a number with its unit, a gauge or a clock time.
pub(crate) fn written(cursor: &mut Cursor, unit: Unit) -> Result<Written, ParseError> {
    cursor.skip_space();
    if unit == Unit::SquareMillimetre
        && let Some(gauge) = gauge(cursor)?
    {
        return Ok(gauge);
    }
    let number = cursor.number(unit)?;
    if matches!(unit, Unit::Minute | Unit::Second) && cursor.rest().starts_with(':') {
        return clock(cursor, &number, unit);
    }
    let suffix = resolve(cursor, number.infix, number.at.end, unit)?;
    let at = number.at.start..cursor.pos();
    let value = number.value(suffix.scale());
    let resolution = number.resolution(suffix.scale());
    if !value.is_finite() || !resolution.is_finite() {
        return Err(ParseError::TooLarge {
            found: cursor.slice(at.clone()),
            at,
        });
    }
    Ok(Written {
        value,
        resolution,
        suffix,
        number: Some(number),
        at,
    })
}

/// Takes and understands what follows a number, together with the letter that stood in place of its point.
fn resolve(cursor: &mut Cursor, infix: Option<char>, after: usize, unit: Unit) -> Result<Suffix, ParseError> {
    let before = cursor.clone();
    let mut at = cursor.suffix();
    if infix.is_none() && cursor.slice(at.clone()).eq_ignore_ascii_case("exact") {
        *cursor = before; // a word of its own
        at = after..after;
    }
    let token: String = infix.into_iter().chain(cursor.slice(at.clone()).chars()).collect();
    let found = token.clone();
    spelling::resolve(&token, unit).map_err(|misfit| match misfit {
        // A gauge whose size `gauge` could not take: `-4 AWG`, `18.5 AWG`.
        Misfit::Other(other) if other == unit => ParseError::UnknownGauge { at, found },
        Misfit::Other(other) => ParseError::WrongUnit {
            at,
            found: other,
            expected: unit,
        },
        Misfit::Prefix => ParseError::UnusualPrefix {
            at,
            found,
            expected: unit,
        },
        Misfit::Unknown => ParseError::UnknownUnit {
            at,
            found,
            expected: unit,
        },
    })
}

/// `18 AWG`, `AWG 18`, `1/0 AWG`, `00 AWG`; `None` (and nothing taken) if no gauge is written.
fn gauge(cursor: &mut Cursor) -> Result<Option<Written>, ParseError> {
    let mut ahead = cursor.clone();
    let start = ahead.pos();
    let named_first = ahead.eat(&["AWG", "awg", "Awg"]);
    ahead.skip_space();
    let size = ahead.take_gauge_size();
    if !named_first {
        ahead.skip_space();
        if !ahead.eat_word("AWG") {
            return Ok(None);
        }
    }
    let at = start..ahead.pos();
    let written = ahead.slice(size);
    let awg = match written.split_once('/') {
        Some((zeros, "0")) => zeros
            .parse()
            .ok()
            .filter(|zeros| (1..=4).contains(zeros))
            .map(|zeros: i32| 1 - zeros),
        Some(_) => None,
        None if !written.is_empty() && written.len() <= 4 && written.bytes().all(|b| b == b'0') => {
            i32::try_from(written.len()).ok().map(|zeros| 1 - zeros)
        }
        None => written.parse().ok().filter(|awg| (1..=40).contains(awg)),
    };
    let Some(awg) = awg else {
        return Err(ParseError::UnknownGauge {
            found: ahead.slice(at.clone()),
            at,
        });
    };
    *cursor = ahead;
    let value = wire::awg_area_mm2(awg);
    Ok(Some(Written {
        value,
        resolution: 0.0,
        suffix: Suffix::Full(spelling::Scale::ONE),
        number: None,
        at,
    }))
}

/// The seconds of `1:30`, whose minutes have been taken.
fn clock(cursor: &mut Cursor, minutes: &Number, unit: Unit) -> Result<Written, ParseError> {
    let at = minutes.at.start..cursor.remainder().end;
    let found = cursor.slice(at.clone());
    let parts = found.split_once(':').filter(|(minutes, seconds)| {
        seconds.len() == 2
            && [minutes, seconds]
                .iter()
                .all(|part| part.bytes().all(|b| b.is_ascii_digit()))
    });
    let parsed =
        parts.and_then(|(minutes, seconds)| Some((minutes.parse::<u32>().ok()?, seconds.parse::<u32>().ok()?)));
    let Some((minutes, seconds)) = parsed.filter(|(_, seconds)| *seconds < 60) else {
        return Err(ParseError::Clock { at, found });
    };
    *cursor = cursor.part(at.end..at.end);
    let total_seconds = f64::from(minutes) * 60.0 + f64::from(seconds);
    let base = if unit == Unit::Minute { 60.0 } else { 1.0 };
    let (value, resolution) = (total_seconds / base, 1.0 / base);
    Ok(Written {
        value,
        resolution,
        suffix: Suffix::Full(spelling::Scale::ONE),
        number: None,
        at,
    })
}

/// Refuses values that no part or place can have.
fn check_sense(cursor: &Cursor, written: &Written, unit: Unit) -> Result<(), ParseError> {
    let at = written.at.clone();
    if written.value < 0.0 && !unit.may_be_negative() {
        return Err(ParseError::Negative { at, expected: unit });
    }
    if written.value == 0.0 && unit == Unit::SquareMillimetre {
        return Err(ParseError::Zero { at, expected: unit });
    }
    if unit == Unit::Celsius && written.value < -273.15 {
        return Err(ParseError::BelowAbsoluteZero {
            found: cursor.slice(at.clone()),
            at,
        });
    }
    Ok(())
}

/// Takes the tolerance that may follow a value.
fn tolerance(cursor: &mut Cursor, main: &Written, unit: Unit) -> Result<Spread, ParseError> {
    let spaced = cursor.skip_space();
    if cursor.rest().is_empty() {
        return Ok(Spread::Unstated);
    }
    if cursor.eat_word("exact") {
        return Ok(Spread::Exact);
    }
    let start = cursor.pos();
    let whole = cursor.remainder();
    let marked = cursor.eat(&["±", "+-", "+/-", "+\u{2212}", "+/\u{2212}"]);
    let bare = cursor.slice(whole.clone());
    let bare_percentage = spaced && bare.ends_with('%') && bare.starts_with(|c: char| c.is_ascii_digit());
    if !marked && !bare_percentage {
        return Err(ParseError::Trailing {
            found: cursor.slice(whole.clone()),
            at: whole,
        });
    }
    cursor.skip_space();
    let number = cursor.number(Unit::Percent)?;
    let suffix_cursor = cursor.clone();
    let suffix = cursor.suffix();
    let percent = matches!(cursor.slice(suffix.clone()).as_str(), "%" | "percent") && number.infix.is_none();
    let at = start..cursor.pos();
    let found = cursor.slice(at.clone());
    let zero = number.value(spelling::Scale::ONE) == 0.0;
    let spread = if percent && unit == Unit::Celsius && !zero {
        return Err(ParseError::ToleranceUnit {
            at,
            found,
            example: "± 2 °C".to_owned(),
        });
    } else if percent && unit != Unit::Percent {
        Spread::Relative(number.value(spelling::Scale {
            exponent: -2,
            ..spelling::Scale::ONE
        }))
    } else if suffix.is_empty() && number.infix.is_none() && !zero && main.suffix.scale() != spelling::Scale::ONE {
        let example = format!("± 5 % or ± {}", unit.example());
        return Err(ParseError::ToleranceUnit { at, found, example });
    } else {
        *cursor = suffix_cursor;
        let scale = resolve(cursor, number.infix, number.at.end, unit)?.scale();
        Spread::Absolute(number.value(spelling::Scale { offset: 0.0, ..scale }))
    };
    match spread {
        Spread::Relative(_) | Spread::Absolute(_) if zero => Ok(Spread::Exact),
        Spread::Relative(part) if !(0.0..=1.0).contains(&part) => Err(ParseError::ToleranceSize { at, found }),
        Spread::Absolute(half) if half < 0.0 => Err(ParseError::ToleranceSize { at, found }),
        Spread::Absolute(half) if half.is_infinite() => Err(ParseError::TooLarge { at, found }),
        fine => Ok(fine),
    }
}

/// Refuses text behind a value.
pub(crate) fn nothing_left(cursor: &Cursor) -> Result<(), ParseError> {
    let mut cursor = cursor.clone();
    cursor.skip_space();
    if cursor.rest().is_empty() {
        return Ok(());
    }
    let at = cursor.remainder();
    Err(ParseError::Trailing {
        found: cursor.slice(at.clone()),
        at,
    })
}
