//! Scan data of the standard on-board diagnostics, both ways: bytes to value, value to the nearest bytes.
//!
//! Source of the formulas: SAE J1979 / ISO 15031-5, service 01, from public tables (`data/scan_data.csv`, each row with its
//! status). A freeze frame (service 02) uses the same ones.

mod status;

use std::sync::LazyLock;

use crate::rows::rows;

pub use status::{Monitor, Monitors, monitors, supported};

/// One value of a PID. `value = raw · times / over + offset`, `raw` being `width` bytes from byte `first`, most significant
/// first.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    /// The PID.
    pub pid: u8,
    /// Data bytes of the whole PID.
    pub n_bytes: usize,
    /// What it is.
    pub name: String,
    /// Which of several values of the PID.
    pub field: Option<String>,
    first: usize,
    width: usize,
    times: f64,
    over: f64,
    offset: f64,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// Raw value that stands for "not used".
    unused: Option<u32>,
    /// At which ends of the range a value tells of a fault.
    pub ends: Ends,
    /// How it moves.
    pub pace: Pace,
    /// More than a sound sensor can change in a second, in its unit.
    pub per_second: Option<f64>,
    /// Other names it goes by.
    pub also: Vec<String>,
    /// Where the row comes from.
    pub source: String,
    /// How often it was seen there.
    pub status: String,
}

/// At which ends of its range a value tells of a fault rather than of an engine at rest. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ends {
    /// At the low end.
    pub low: bool,
    /// At the high end.
    pub high: bool,
}

/// How a value moves in a sound vehicle. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// Whenever the engine runs.
    Fast,
    /// When something is done, or by and by.
    Slow,
    /// Hardly in one drive.
    Still,
}

/// What bytes say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A number in the formula's unit.
    Number(f64),
    /// The module says that this value is not used.
    NotUsed,
}

/// A value as a module would send it.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// Its bytes, without those of other values of the same PID.
    pub bytes: Vec<u8>,
    /// What they say, at most half a step from what was asked.
    pub value: f64,
}

/// Why scan data cannot be read or written.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum ScanError {
    #[error("`{text}` is no PID: two hexadecimal digits are expected, e.g. 0C")]
    Pid { text: String },
    #[error("PID {pid:02X} is not in the built-in table")]
    Unknown { pid: u8 },
    #[error("`{text}` are no bytes: `{found}` (character {position}) is no digit 0 to 9 or letter A to F")]
    Digit { text: String, found: char, position: usize },
    #[error("`{text}`: half a byte is left over; each byte is two digits, e.g. 0B B8")]
    HalfByte { text: String },
    #[error("PID {pid:02X} ({name}) has {needed} data byte(s), here are {found}: give them without service and PID")]
    Length {
        pid: u8,
        name: String,
        needed: usize,
        found: usize,
    },
    #[error("{value} {unit} is outside what {name} can say: {low} to {high} {unit}")]
    OutOfRange {
        name: String,
        value: f64,
        low: f64,
        high: f64,
        unit: String,
    },
}

const TABLE: &str = include_str!("../data/scan_data.csv");

static FORMULAS: LazyLock<Vec<Formula>> = LazyLock::new(|| rows(TABLE).filter_map(|row| formula(&row)).collect());

/// A test holds that this is `Some` for every row.
fn formula(row: &csv::StringRecord) -> Option<Formula> {
    let text = |idx: usize| row.get(idx).filter(|text| !text.is_empty()).map(str::to_owned);
    let number = |idx: usize| row.get(idx)?.parse::<f64>().ok();
    let ends = row.get(11)?;
    Some(Formula {
        pid: u8::from_str_radix(row.get(0)?, 16).ok()?,
        n_bytes: row.get(1)?.parse().ok()?,
        name: text(2)?,
        field: text(3),
        first: row.get(4)?.parse().ok()?,
        width: row.get(5)?.parse().ok().filter(|width| matches!(width, 1 | 2))?,
        times: number(6)?,
        over: number(7)?,
        offset: number(8)?,
        unit: row.get(9)?.to_owned(),
        unused: text(10).and_then(|raw| u32::from_str_radix(&raw, 16).ok()),
        ends: Ends {
            low: matches!(ends, "low" | "both"),
            high: matches!(ends, "high" | "both"),
        },
        pace: match row.get(12)? {
            "fast" => Pace::Fast,
            "slow" => Pace::Slow,
            "still" => Pace::Still,
            _ => return None,
        },
        per_second: number(13),
        also: row
            .get(14)?
            .split(';')
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect(),
        source: text(15)?,
        status: text(16)?,
    })
}

/// All formulas, in the order of the PIDs.
pub fn all() -> &'static [Formula] {
    &FORMULAS
}

/// The values of a PID, in the order of their bytes.
///
/// # Errors
/// [`ScanError::Unknown`] for a PID that the table lacks.
pub fn of(pid: u8) -> Result<Vec<&'static Formula>, ScanError> {
    let found: Vec<&Formula> = FORMULAS.iter().filter(|formula| formula.pid == pid).collect();
    if found.is_empty() {
        Err(ScanError::Unknown { pid })
    } else {
        Ok(found)
    }
}

/// Reads a PID as it is written: `0C`, `0x0c`, `c`.
///
/// # Errors
/// [`ScanError::Pid`] if it is not one or two hexadecimal digits.
pub fn read_pid(text: &str) -> Result<u8, ScanError> {
    let digits = text.trim();
    let digits = digits
        .strip_prefix("0x")
        .or_else(|| digits.strip_prefix("0X"))
        .unwrap_or(digits);
    let plain = !digits.is_empty() && digits.chars().all(|one| one.is_ascii_hexdigit());
    let pid = Some(digits)
        .filter(|_| plain)
        .and_then(|digits| u8::from_str_radix(digits, 16).ok());
    pid.ok_or_else(|| ScanError::Pid { text: text.to_owned() })
}

/// Reads bytes as they are written: `1AF8`, `1A F8`, `0x1a,0xf8`.
///
/// # Errors
/// [`ScanError::Digit`] or [`ScanError::HalfByte`].
pub fn read_bytes(text: &str) -> Result<Vec<u8>, ScanError> {
    let mut nibbles = Vec::new();
    let mut marks = text.chars().enumerate().peekable();
    while let Some((idx, one)) = marks.next() {
        if one == '0' && marks.next_if(|(_, next)| matches!(next, 'x' | 'X')).is_some() {
            continue;
        }
        match one.to_digit(16) {
            Some(digit) => nibbles.push(digit as u8),
            None if one.is_whitespace() || matches!(one, ',' | '-' | ':') => {}
            None => {
                return Err(ScanError::Digit {
                    text: text.to_owned(),
                    found: one,
                    position: idx + 1,
                });
            }
        }
    }
    let (pairs, left_over) = nibbles.as_chunks::<2>();
    if left_over.is_empty() {
        Ok(pairs.iter().map(|[high, low]| high << 4 | low).collect())
    } else {
        Err(ScanError::HalfByte { text: text.to_owned() })
    }
}

impl Formula {
    /// Its name with the field: `oxygen sensor bank 1 sensor 1, voltage`.
    pub fn full_name(&self) -> String {
        match &self.field {
            Some(field) => format!("{}, {field}", self.name),
            None => self.name.clone(),
        }
    }

    /// The formula in words, `A` being the first data byte: `256·A+B, ·1/4`.
    pub fn in_words(&self) -> String {
        let letter = |at: usize| char::from(b'A' + at as u8);
        let raw = match self.width {
            1 => letter(self.first).to_string(),
            _ => format!("(256·{}+{})", letter(self.first), letter(self.first + 1)),
        };
        let times = if self.times == 1.0 {
            String::new()
        } else {
            format!("·{}", self.times)
        };
        let over = if self.over == 1.0 {
            String::new()
        } else {
            format!("/{}", self.over)
        };
        let offset = match self.offset {
            0.0 => String::new(),
            less if less < 0.0 => format!(" − {}", -less),
            more => format!(" + {more}"),
        };
        format!("{raw}{times}{over}{offset}")
    }

    const fn top(&self) -> u32 {
        (1 << (8 * self.width as u32)) - 1
    }

    /// What `raw` says. One rounding: products of these integers are exact.
    fn number(&self, raw: u32) -> f64 {
        (f64::from(raw) * self.times + self.offset * self.over) / self.over
    }

    /// The lowest value that it can say: a converter that is at this end, or beyond it, says no more.
    pub fn low(&self) -> f64 {
        self.number(0)
    }

    /// The highest value that it can say.
    pub fn high(&self) -> f64 {
        let reserved = u32::from(self.unused == Some(self.top()));
        self.number(self.top() - reserved)
    }

    /// The step from one value to the next.
    pub fn resolution(&self) -> f64 {
        self.times / self.over
    }

    /// What the data bytes of the whole PID say.
    ///
    /// # Errors
    /// [`ScanError::Length`] if there are more or fewer than the PID has.
    pub fn value(&self, data: &[u8]) -> Result<Value, ScanError> {
        let own = data
            .get(self.first..self.first + self.width)
            .filter(|_| data.len() == self.n_bytes);
        let Some(own) = own else {
            let (needed, found) = (self.n_bytes, data.len());
            return Err(ScanError::Length {
                pid: self.pid,
                name: self.name.clone(),
                needed,
                found,
            });
        };
        let raw = own.iter().fold(0, |raw, byte| raw << 8 | u32::from(*byte));
        Ok(if self.unused == Some(raw) {
            Value::NotUsed
        } else {
            Value::Number(self.number(raw))
        })
    }

    /// The bytes nearest to a value.
    ///
    /// # Errors
    /// [`ScanError::OutOfRange`] if it is more than half a step beyond an end, or no number.
    pub fn nearest(&self, value: f64) -> Result<Nearest, ScanError> {
        let (low, high, half) = (self.low(), self.high(), self.resolution() / 2.0);
        if !(low - half..=high + half).contains(&value) {
            let (name, unit) = (self.full_name(), self.unit.clone());
            return Err(ScanError::OutOfRange {
                name,
                value,
                low,
                high,
                unit,
            });
        }
        let raw = ((value - self.offset) * self.over / self.times).round() as u32;
        let last = self.top() - u32::from(self.unused == Some(self.top()));
        let raw = raw.min(last);
        let bytes = raw.to_be_bytes();
        Ok(Nearest {
            bytes: bytes[4 - self.width..].to_vec(),
            value: self.number(raw),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_its_bytes_lie_within_the_pid() {
        let lines = TABLE.lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(all().len(), lines - 1);
        assert!(all().is_sorted_by_key(|one| (one.pid, one.first)));
        for one in all() {
            assert!(one.first + one.width <= one.n_bytes, "{}", one.name);
        }
    }

    #[test]
    fn all_bytes_of_all_formulas_go_both_ways() {
        for one in all() {
            for raw in 0..=one.top() {
                let mut data = vec![0; one.n_bytes];
                let bytes = raw.to_be_bytes();
                data[one.first..one.first + one.width].copy_from_slice(&bytes[4 - one.width..]);
                match one.value(&data).expect("the right length") {
                    Value::NotUsed => assert_eq!(one.unused, Some(raw)),
                    Value::Number(value) => {
                        let back = one.nearest(value).expect("within its range");
                        assert_eq!(back.bytes, bytes[4 - one.width..], "{} {raw}", one.full_name());
                        assert_eq!(back.value, value);
                        // Up to just under half a step away it is the same code.
                        let off = one.nearest(value + 0.499 * one.resolution()).expect("within its range");
                        assert_eq!(off.bytes, back.bytes, "{} {raw}", one.full_name());
                    }
                }
            }
        }
    }

    #[test]
    fn words_and_ends_are_those_of_the_formula() {
        let rpm = of(0x0C).expect("known")[0];
        assert_eq!(rpm.in_words(), "(256·A+B)/4");
        assert_eq!((rpm.low(), rpm.high(), rpm.resolution()), (0.0, 16383.75, 0.25));
        let coolant = of(0x05).expect("known")[0];
        assert_eq!((coolant.in_words().as_str(), coolant.high()), ("A − 40", 215.0));
        let trim = of(0x14).expect("known")[1];
        assert_eq!(trim.value(&[0x5A, 0xFF]), Ok(Value::NotUsed));
        assert_eq!(trim.nearest(98.7).expect("near the end").bytes, [0xFE]);
    }
}
