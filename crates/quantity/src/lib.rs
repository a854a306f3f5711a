//! Quantities as a technician writes and reads them: `4k7`, `18 AWG`, `12,6 V ± 0.3 V`, `OL`.
//!
//! - [`parse`], [`parse_range`] and [`parse_displayed`] read text and say exactly what they could not read;
//! - [`format`](fn@format) and [`with_digits`] print a value as a meter would show it;
//! - [`Volts`], [`Amperes`], [`Ohms`] and [`Watts`] are finite numbers that Ohm's law may combine;
//! - [`wire_ohms_per_metre`] and its neighbours give the resistance of copper wire.
//!
//! This crate knows no circuits, files or meters. Its values are `f64` in the base of their [`Unit`]: ohms, volts,
//! amperes, metres, and for a cross-section mm², for a time in minutes minutes, for a percentage its number (20 % is 20).

mod amount;
mod error;
mod parse;
mod print;
mod reading;
mod scan;
mod spelling;
mod typed;
mod unit;
mod wire;

pub use amount::{Amount, Span, Spread};
pub use error::ParseError;
pub use parse::{parse, parse_range};
pub use print::{format, with_digits};
pub use reading::{Displayed, OnDisplay, parse_displayed};
pub use typed::{Amperes, Ohms, Volts, Watts};
pub use unit::Unit;
pub use wire::{
    COPPER_OHM_MM2_PER_METRE, COPPER_TEMPERATURE_COEFFICIENT, awg_area_mm2, copper_ohms_per_metre, wire_ohms,
    wire_ohms_per_metre, wire_tolerance,
};
