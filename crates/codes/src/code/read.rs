//! A code as people type it: `p0122`, `P0122-13`, `P012213`, `U0100:00`, or the bytes `01 22 13`.

use super::{FailureType, System, TroubleCode, table};

/// A code as it was typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Typed {
    /// The code.
    pub code: TroubleCode,
    /// Its third byte, where one was given.
    pub failure_type: Option<FailureType>,
    /// The text was taken as bytes, not as a letter and digits.
    pub from_bytes: bool,
}

impl Typed {
    /// The code, with its failure type where one was given: `P0122-13`.
    pub fn to_text(&self) -> String {
        match self.failure_type {
            Some(failure) => format!("{}-{failure}", self.code),
            None => self.code.to_string(),
        }
    }

    /// Whether both say the same, however they were typed.
    pub fn says_as(&self, other: &Self) -> bool {
        (self.code, self.failure_type) == (other.code, other.failure_type)
    }
}

/// Why a text is no code. `position` counts characters from 1.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum CodeError {
    #[error("no code is written here: a letter and four digits are expected, e.g. P0122")]
    Empty,
    #[error(
        "`{text}` begins with `{found}`: a code begins with P, C, B or U, e.g. P0122; as bytes it is two or three, e.g. 01 22"
    )]
    Letter { text: String, found: char },
    #[error(
        "`{text}`: after the letter stands 0, 1, 2 or 3, not `{found}` (character {position}){}",
        meant(nearest.as_ref())
    )]
    FirstDigit {
        text: String,
        found: char,
        position: usize,
        nearest: Option<String>,
    },
    #[error(
        "`{text}`: `{found}` (character {position}) is no digit 0 to 9 or letter A to F{}",
        meant(nearest.as_ref())
    )]
    Digit {
        text: String,
        found: char,
        position: usize,
        nearest: Option<String>,
    },
    #[error(
        "`{text}` is too short: four digits follow the letter, here are {digits}{}",
        begin(begins)
    )]
    TooShort {
        text: String,
        digits: usize,
        begins: Vec<String>,
    },
    #[error(
        "`{text}`: after the code {code} stand two digits of the failure type, e.g. {code}-13, or nothing; here is `{rest}`"
    )]
    FailureType { text: String, code: String, rest: String },
    #[error("`{text}` stands for no code: two zero bytes fill a slot that holds none")]
    EmptySlot { text: String },
}

fn meant(nearest: Option<&String>) -> String {
    nearest.map_or_else(String::new, |code| format!("; is {code} meant?"))
}

fn begin(codes: &[String]) -> String {
    if codes.is_empty() {
        String::new()
    } else {
        format!("; {} begin like that", codes.join(", "))
    }
}

/// Marks between the parts of a code.
const BETWEEN: &[char] = &[' ', '\t', '-', ':', '.', '_', '/', ',', '\u{2013}', '\u{a0}'];

/// Reads a code in either form. Letters may be small; the failure type may follow with or without a mark between.
///
/// Four or six hexadecimal digits without a code's letter are bytes. `B` and `C` begin both: with four or six digits in all,
/// as in `C100`, bytes are read; with five or seven, as in `C0100`, a letter and its digits.
///
/// # Errors
/// A [`CodeError`] that names the character and, where one is near, the code that may be meant.
pub fn read(text: &str) -> Result<Typed, CodeError> {
    let shown = text.trim().to_owned();
    // Each character with its position in the text as shown.
    let mut marks: Vec<(usize, char)> = shown
        .chars()
        .enumerate()
        .filter(|(_, one)| !BETWEEN.contains(one))
        .map(|(idx, one)| (idx + 1, one.to_ascii_uppercase()))
        .collect();
    if marks.len() > 2 && marks[0].1 == '0' && marks[1].1 == 'X' {
        marks.drain(..2);
    }
    let Some(&(_, first)) = marks.first() else {
        return Err(CodeError::Empty);
    };
    let letter = System::ALL.iter().position(|system| system.letter() == first);
    let as_bytes = matches!(marks.len(), 4 | 6) && marks.iter().all(|(_, one)| one.is_ascii_hexdigit());
    let first_part = shown.find(BETWEEN).unwrap_or(shown.len());
    let typed = match letter {
        Some(_) if as_bytes && !matches!(first_part, 1 | 5) => bytes(&marks),
        None if as_bytes => bytes(&marks),
        Some(letter) => letter_form(&shown, letter, &marks[1..])?,
        None => {
            return Err(CodeError::Letter {
                text: shown,
                found: first,
            });
        }
    };
    if typed.code.is_empty_slot() {
        return Err(CodeError::EmptySlot { text: shown });
    }
    Ok(typed)
}

/// Four or six hexadecimal digits.
fn bytes(marks: &[(usize, char)]) -> Typed {
    let nibbles: Vec<u8> = marks.iter().filter_map(|(_, one)| nibble(*one)).collect();
    let byte = |at: usize| Some(nibbles.get(at)? << 4 | nibbles.get(at + 1)?);
    Typed {
        code: TroubleCode::from_bytes([byte(0).unwrap_or(0), byte(2).unwrap_or(0)]),
        failure_type: byte(4).map(FailureType),
        from_bytes: true,
    }
}

fn nibble(one: char) -> Option<u8> {
    one.to_digit(16).map(|digit| digit as u8)
}

/// The digits after the letter.
fn letter_form(text: &str, letter: usize, marks: &[(usize, char)]) -> Result<Typed, CodeError> {
    let shown = || text.to_owned();
    for (idx, &(position, found)) in marks.iter().enumerate().take(4) {
        if nibble(found).is_none() {
            let nearest = nearest(letter, marks);
            return Err(CodeError::Digit {
                text: shown(),
                found,
                position,
                nearest,
            });
        }
        if idx == 0 && !('0'..='3').contains(&found) {
            let nearest = nearest(letter, marks);
            return Err(CodeError::FirstDigit {
                text: shown(),
                found,
                position,
                nearest,
            });
        }
    }
    let nibbles: Vec<u8> = marks.iter().map_while(|(_, one)| nibble(*one)).collect();
    let [a, b, c, d, rest @ ..] = nibbles.as_slice() else {
        let typed: String = std::iter::once(System::ALL[letter].letter())
            .chain(marks.iter().map(|(_, one)| *one))
            .collect();
        let begins = table::all().iter().map(|entry| entry.code.to_string());
        let begins = begins.filter(|code| marks.len() > 1 && code.starts_with(&typed));
        return Err(CodeError::TooShort {
            text: shown(),
            digits: nibbles.len(),
            begins: begins.take(4).collect(),
        });
    };
    let code = TroubleCode::from_bytes([(letter as u8) << 6 | a << 4 | b, c << 4 | d]);
    let failure_type = match *rest {
        [] if marks.len() == 4 => None,
        [high, low] if marks.len() == 6 => Some(FailureType(high << 4 | low)),
        _ => {
            let rest = marks[4..].iter().map(|(_, one)| *one).collect();
            return Err(CodeError::FailureType {
                text: shown(),
                code: code.to_string(),
                rest,
            });
        }
    };
    Ok(Typed {
        code,
        failure_type,
        from_bytes: false,
    })
}

/// The code that remains once characters that are easily taken for one another are put right.
fn nearest(letter: usize, marks: &[(usize, char)]) -> Option<String> {
    let digits: Option<String> = marks
        .iter()
        .take(4)
        .enumerate()
        .map(|(idx, &(_, one))| match one {
            'O' | 'Q' => Some('0'),
            'D' if idx == 0 => Some('0'),
            'I' | 'L' | '|' | '!' => Some('1'),
            'Z' => Some('2'),
            'S' | '$' => Some('5'),
            'G' => Some('6'),
            _ => Some(one).filter(char::is_ascii_hexdigit),
        })
        .collect();
    let digits = digits.filter(|digits| digits.len() == 4 && digits.starts_with(['0', '1', '2', '3']))?;
    Some(format!("{}{digits}", System::ALL[letter].letter()))
}
