//! Trouble codes: two bytes, the letter form that people write, and who numbers them.
//!
//! Source of the bit layout and of the ranges: SAE J2012 / ISO 15031-6, from public descriptions; the split of P3 at P3400 is
//! from memory.

mod explain;
mod failure;
mod found;
mod read;
mod several;
mod shared;
pub mod table;

use std::fmt;

pub use explain::{Explanation, explain};
pub use failure::FailureType;
pub use found::{Found, State, among_words, read_found};
pub use read::{CodeError, Typed, read};
pub use several::read_several;
pub use shared::{Shared, list, shared};

/// The part of the vehicle that a code's letter names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum System {
    Powertrain,
    Chassis,
    Body,
    Network,
}

impl System {
    /// All of them, in the order of bits 15 and 14.
    pub const ALL: [Self; 4] = [Self::Powertrain, Self::Chassis, Self::Body, Self::Network];

    /// The letter that a code begins with.
    pub const fn letter(self) -> char {
        match self {
            Self::Powertrain => 'P',
            Self::Chassis => 'C',
            Self::Body => 'B',
            Self::Network => 'U',
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Powertrain => "powertrain",
            Self::Chassis => "chassis",
            Self::Body => "body",
            Self::Network => "network",
        }
    }
}

/// Who gave a code its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Owner {
    /// The list that is common to all makers.
    Common,
    /// The vehicle's maker: only the maker's list says what it means.
    Maker,
    /// Both use the range.
    Mixed,
    /// Nobody yet.
    Reserved,
}

impl Owner {
    /// One word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Common => "common",
            Self::Maker => "maker",
            Self::Mixed => "mixed",
            Self::Reserved => "reserved",
        }
    }
}

/// A trouble code: bits 15 and 14 the letter, 13 and 12 the first digit, the rest three hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TroubleCode(u16);

impl TroubleCode {
    /// From the two bytes that a module sends.
    pub const fn from_bytes(bytes: [u8; 2]) -> Self {
        Self(u16::from_be_bytes(bytes))
    }

    /// The two bytes that a module sends.
    pub const fn to_bytes(self) -> [u8; 2] {
        self.0.to_be_bytes()
    }

    /// Two zero bytes, with which modules fill slots that hold no code.
    pub const fn is_empty_slot(self) -> bool {
        self.0 == 0
    }

    /// What its letter names.
    pub const fn system(self) -> System {
        System::ALL[(self.0 >> 14) as usize]
    }

    /// Who numbers it.
    pub const fn owner(self) -> Owner {
        let low = self.0 & 0x0FFF;
        match (self.system(), (self.0 >> 12) & 0b11) {
            (_, 0) | (System::Powertrain, 2) => Owner::Common,
            (System::Powertrain, 3) if low >= 0x400 => Owner::Common,
            (System::Network, 3) => Owner::Mixed,
            (System::Chassis | System::Body, 3) => Owner::Reserved,
            _ => Owner::Maker,
        }
    }

    /// What the third character of a common powertrain code (P0, P2) stands for.
    pub const fn area(self) -> Option<&'static str> {
        if !matches!(self.system(), System::Powertrain) || !matches!((self.0 >> 12) & 0b11, 0 | 2) {
            return None;
        }
        match (self.0 >> 8) & 0xF {
            0..=2 => Some("fuel and air metering"),
            3 => Some("ignition and misfire"),
            4 => Some("auxiliary emission controls"),
            5 => Some("vehicle speed, idle and auxiliary inputs"),
            6 => Some("control module and its outputs"),
            7..=9 => Some("transmission"),
            0xA..=0xC if matches!((self.0 >> 12) & 0b11, 0) => Some("hybrid drive"),
            _ => None,
        }
    }
}

impl fmt::Display for TroubleCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = self.0 & 0x3FFF;
        write!(f, "{}{digits:04X}", self.system().letter())
    }
}
