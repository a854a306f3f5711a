//! A value with the tolerance it was given, and a range.

use crate::{Unit, print};
use std::fmt;

/// How far the true value may lie from the stated one.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Spread {
    /// Nothing was said: the reader picks a default that suits the part.
    #[default]
    Unstated,
    /// The value is to be taken as it stands.
    Exact,
    /// Half the width of the tolerance band as a fraction of the value: 5 % is 0.05.
    Relative(f64),
    /// Half the width of the tolerance band, in the base of the value's unit.
    Absolute(f64),
}

/// A value with its tolerance. Always finite when it comes from [`parse`](crate::parse).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Amount {
    /// The value in the base of `unit`.
    pub value: f64,
    /// The tolerance.
    pub spread: Spread,
    /// The kind of quantity.
    pub unit: Unit,
}

impl Amount {
    /// A value whose tolerance was not stated.
    pub fn new(value: f64, unit: Unit) -> Self {
        Self {
            value,
            spread: Spread::Unstated,
            unit,
        }
    }

    /// The same value with `default` as its tolerance unless one was stated.
    #[must_use]
    pub fn spread_or(self, default: Spread) -> Self {
        match self.spread {
            Spread::Unstated => Self {
                spread: default,
                ..self
            },
            _ => self,
        }
    }

    /// Half the width of the tolerance band in the base of the unit; `None` if nothing was stated.
    pub fn half_width(&self) -> Option<f64> {
        match self.spread {
            Spread::Unstated => None,
            Spread::Exact => Some(0.0),
            Spread::Relative(fraction) => Some(fraction * self.value.abs()),
            Spread::Absolute(half) => Some(half),
        }
    }

    /// The ends of the tolerance band. An unstated tolerance counts as none.
    pub fn band(&self) -> Span {
        let half = self.half_width().unwrap_or(0.0);
        Span {
            low: self.value - half,
            high: self.value + half,
        }
    }
}

/// Prints what [`parse`](crate::parse) reads back, to six significant digits (money in full): `4.7 kΩ ± 5 %`.
impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&print::trimmed(self.value, self.unit))?;
        match self.spread {
            Spread::Unstated => Ok(()),
            Spread::Exact => f.write_str(" ± 0"),
            Spread::Relative(fraction) => write!(f, " ± {}", print::trimmed(fraction * 100.0, Unit::Percent)),
            Spread::Absolute(half) => write!(f, " ± {}", print::trimmed(half, self.unit)),
        }
    }
}

/// A closed range, `low` not above `high`, in the base of its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl Span {
    /// Whether `value` lies in the range, ends included.
    pub fn contains(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// The distance between the ends.
    pub fn width(&self) -> f64 {
        self.high - self.low
    }
}
