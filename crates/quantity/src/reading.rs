//! What a person copies off a meter's display: the digits shown also say how finely it resolves.

use crate::scan::Cursor;
use crate::{ParseError, Unit, parse};

/// A number on a display, with what one step of its last digit is worth. Both in the base of the unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Displayed {
    /// The number shown; may be negative for any unit.
    pub value: f64,
    /// The worth of one step of the last digit: 0.01 for `10.40 V`, 100 for `4.7k`. Zero for a wire gauge.
    pub resolution: f64,
}

/// What a display shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OnDisplay {
    /// A number.
    Number(Displayed),
    /// More than the range can show: `OL`.
    OverRange,
}

/// Reads `10.40 V`, `5.02`, `-0.03`, `4.7k`, `OL` or `OL MΩ` as `unit`.
///
/// # Errors
/// As [`parse`](fn@crate::parse), except that a negative number is fine; a tolerance is refused.
pub fn parse_displayed(text: &str, unit: Unit) -> Result<OnDisplay, ParseError> {
    let mut cursor = Cursor::new(text);
    cursor.skip_space();
    if over_range(&mut cursor, unit) {
        return Ok(OnDisplay::OverRange);
    }
    let written = parse::written(&mut cursor, unit)?;
    parse::nothing_left(&cursor)?;
    Ok(OnDisplay::Number(Displayed {
        value: written.value,
        resolution: written.resolution,
    }))
}

/// `OL` with its point anywhere, a zero for its O, a sign before it, a unit behind it.
fn over_range(cursor: &mut Cursor, unit: Unit) -> bool {
    let mut ahead = cursor.clone();
    ahead.eat(&["-", "\u{2212}", "+"]);
    let letters = ["OL", "O.L", ".OL", "OL.", "0L", "0.L", ".0L", "Ol", "ol", "o.l"];
    let found = ahead.eat(&letters);
    ahead.eat(&["."]);
    let token = ahead.suffix();
    let fits = crate::spelling::resolve(&ahead.slice(token), unit).is_ok();
    ahead.skip_space();
    found && fits && ahead.rest().is_empty()
}
