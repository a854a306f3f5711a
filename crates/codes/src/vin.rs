//! Vehicle identification numbers: characters, check digit, model year, region.
//!
//! Sources: ISO 3779 (characters), 49 CFR 565.15 (check digit; position 7 as a sign of the cycle, footnote of its table of year
//! codes, docket NHTSA-2007-27830, 73 FR 23367). The list of year codes and the regions of ISO 3780 are from memory.

use std::fmt;

/// Characters of a number.
const LENGTH: usize = 17;

/// A number of seventeen allowed characters. Nothing more is asked of it: outside North America position 9 need be no check
/// digit and position 10 no year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Vin([u8; LENGTH]);

/// Why a text is no vehicle identification number. `position` counts its characters from 1, marks between them left out.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum VinError {
    #[error("{found} characters are here, {LENGTH} are needed: look for {}", if *found < LENGTH { "one left out" } else { "one typed twice" })]
    Length { found: usize },
    #[error("character {position} is `{found}`: I, O and Q are never used; look whether it is {instead}")]
    Forbidden {
        found: char,
        position: usize,
        instead: &'static str,
    },
    #[error("character {position} is `{found}`: only letters A to Z and digits are used")]
    Character { found: char, position: usize },
}

/// The check digit at position 9.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Check {
    /// The weighted sum.
    pub sum: u32,
    /// What position 9 should be.
    pub expected: char,
    /// What it is.
    pub found: char,
}

impl Check {
    /// They agree.
    pub const fn holds(self) -> bool {
        self.expected as u32 == self.found as u32
    }
}

/// The model year by position 10, for numbers that follow the North American rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ModelYear {
    /// Position 7 decides between the two cycles: holds for cars and light trucks up to 4536 kg sold in North America.
    ByPosition7 {
        /// The year.
        year: u16,
        /// The same code thirty years before or after, for other vehicles.
        otherwise: u16,
    },
    /// Position 10 is no year code (0, U or Z).
    None,
}

/// The part of the world that gave the number, by its first character (ISO 3780, from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Region {
    Africa,
    Asia,
    Europe,
    NorthAmerica,
    Oceania,
    SouthAmerica,
    Unassigned,
}

impl Region {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Africa => "Africa",
            Self::Asia => "Asia",
            Self::Europe => "Europe",
            Self::NorthAmerica => "North America",
            Self::Oceania => "Oceania",
            Self::SouthAmerica => "South America",
            Self::Unassigned => "not assigned",
        }
    }
}

/// Year codes in order, the first of them 1980 and 2010.
const YEARS: &[u8] = b"ABCDEFGHJKLMNPRSTVWXY123456789";

/// Weights of the positions (49 CFR 565.15).
const WEIGHTS: [u32; LENGTH] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// Reads a number. Spaces and hyphens are passed over, small letters taken as capitals.
///
/// # Errors
/// A [`VinError`]; a wrong character is told before a wrong length.
pub fn read(text: &str) -> Result<Vin, VinError> {
    let marks: Vec<char> = text
        .chars()
        .filter(|one| !one.is_whitespace() && *one != '-')
        .map(|one| one.to_ascii_uppercase())
        .collect();
    for (idx, &found) in marks.iter().enumerate() {
        let position = idx + 1;
        let instead = match found {
            'I' => "1",
            'O' | 'Q' => "0",
            _ => "",
        };
        if !instead.is_empty() {
            return Err(VinError::Forbidden {
                found,
                position,
                instead,
            });
        }
        if !found.is_ascii_alphanumeric() {
            return Err(VinError::Character { found, position });
        }
    }
    let bytes: Vec<u8> = marks.iter().map(|one| *one as u8).collect();
    let vin = bytes
        .try_into()
        .map_err(|bytes: Vec<u8>| VinError::Length { found: bytes.len() })?;
    Ok(Vin(vin))
}

/// What a character counts in the check digit; digits stand for themselves, S is 2 and not 1.
const fn worth(one: u8) -> u32 {
    (match one {
        b'0'..=b'9' => one - b'0',
        b'A'..=b'H' => one - b'A' + 1,
        b'J'..=b'R' => one - b'J' + 1,
        _ => one.saturating_sub(b'S') + 2,
    }) as u32
}

impl Vin {
    /// The weighted sum modulo 11, 10 being X, against position 9.
    pub fn check(&self) -> Check {
        let sum: u32 = self
            .0
            .iter()
            .zip(WEIGHTS)
            .map(|(one, weight)| worth(*one) * weight)
            .sum();
        let expected = char::from_digit(sum % 11, 10).unwrap_or('X');
        Check {
            sum,
            expected,
            found: self.at(9),
        }
    }

    /// The character at a position, counted from 1.
    fn at(&self, position: usize) -> char {
        char::from(self.0[position - 1])
    }

    /// The model year by position 10, the cycle by position 7: a letter from 2010 on, a digit before.
    pub fn model_year(&self) -> ModelYear {
        let Some(idx) = YEARS.iter().position(|code| *code == self.0[9]) else {
            return ModelYear::None;
        };
        let [old, new] = [1980 + idx as u16, 2010 + idx as u16];
        let (year, otherwise) = if self.at(7).is_ascii_digit() {
            (old, new)
        } else {
            (new, old)
        };
        ModelYear::ByPosition7 { year, otherwise }
    }

    /// Where the number was given.
    pub fn region(&self) -> Region {
        match self.at(1) {
            'A'..='H' => Region::Africa,
            'J'..='R' => Region::Asia,
            'S'..='Z' => Region::Europe,
            '1'..='5' => Region::NorthAmerica,
            '6' | '7' => Region::Oceania,
            '8' | '9' => Region::SouthAmerica,
            _ => Region::Unassigned,
        }
    }

    /// Positions 1 to 3, the maker; where the third is 9, a small maker whose number goes on at positions 12 to 14.
    pub fn maker(&self) -> String {
        let own: String = (1..=3).map(|position| self.at(position)).collect();
        if self.at(3) == '9' {
            let more: String = (12..=14).map(|position| self.at(position)).collect();
            format!("{own} {more}")
        } else {
            own
        }
    }

    /// Positions 12 to 17.
    pub fn serial(&self) -> String {
        (12..=LENGTH).map(|position| self.at(position)).collect()
    }

    /// What there is to know of it, a sentence each: the check digit, slips that it may come from, the model year.
    pub fn told(&self) -> Vec<String> {
        let check = self.check();
        let mut told = Vec::new();
        if check.holds() {
            told.push(format!("Check digit {}: right.", check.found));
        } else {
            told.push(format!(
                "Position 9 is {}, a check digit would be {}: misread, or a number from outside North America, where position 9 need be none.",
                check.found, check.expected
            ));
            let slips = self.one_slip_away().into_iter();
            told.extend(slips.map(|other| format!("One slip away and right: {other}")));
        }
        told.push(match self.model_year() {
            ModelYear::ByPosition7 { year, otherwise } => format!(
                "Model year {year} by positions 10 and 7, for cars and light trucks of North America; heavier ones may be of {otherwise} too, and elsewhere the number need not tell the year."
            ),
            ModelYear::None => "Position 10 is no year code.".to_owned(),
        });
        told
    }

    /// Numbers that differ by one confusable or swapped pair of characters and whose check digit holds: what to look at where
    /// it does not. In the order of the positions.
    pub fn one_slip_away(&self) -> Vec<Self> {
        const ALIKE: [(u8, u8); 8] = [
            (b'0', b'D'),
            (b'1', b'7'),
            (b'2', b'Z'),
            (b'5', b'S'),
            (b'6', b'G'),
            (b'8', b'B'),
            (b'U', b'V'),
            (b'1', b'L'),
        ];
        let mut found = Vec::new();
        let mut keep = |other: Self| {
            if other != *self && other.check().holds() && !found.contains(&other) {
                found.push(other);
            }
        };
        for at in 0..LENGTH {
            for (a, b) in ALIKE {
                let mut other = *self;
                other.0[at] = match other.0[at] {
                    one if one == a => b,
                    one if one == b => a,
                    one => one,
                };
                keep(other);
            }
            if at + 1 < LENGTH {
                let mut other = *self;
                other.0.swap(at, at + 1);
                keep(other);
            }
        }
        found
    }
}

impl fmt::Display for Vin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&String::from_utf8_lossy(&self.0))
    }
}
