//! A circuit on the bench: with these faults, in this set-up, what does each instrument show and what flows where?
//!
//! - [`Bench`] answers a [`Question`] with [`Predict::predict`];
//! - [`parse_placement`], [`parse_test`], [`parse_shown`] and `to_text` are the text forms of tests and readings;
//! - [`accuracy`](fn@accuracy) says how well an instrument reads, [`reachable`] where a probe gets;
//! - [`Bench::standing`] says how exactly it was solved, and in which other states the circuit could stand as well;
//! - [`spice::deck`] writes what was solved for a general circuit simulator.
//!
//! Where something repeats, instruments show what the states make together: `passing`.
//!
//! It integrates nothing and knows no limits: `diagnosis` weighs and judges.

mod accuracy;
mod any_check;
mod attach;
mod bench;
mod coils;
mod edit;
mod error;
mod flows;
mod fuses;
mod ghost;
mod history;
mod lower;
mod lowered;
mod pairs;
mod passage;
mod passing;
mod prediction;
mod reach;
mod read;
mod scan;
mod shown;
mod solvers;
pub mod spice;
mod standing;
mod test;
mod text;
mod words;

pub use accuracy::{Accuracy, accuracy};
pub use bench::Bench;
pub use error::{BenchError, TextError};
pub use pairs::{PairRoom, Pairs};
pub use prediction::*;
pub use reach::reachable;
pub use scan::shown_ends;
pub use shown::parse_shown;
pub use standing::{OtherState, Standing};
pub use test::*;
pub use text::{parse_placement, parse_test};
pub use words::{BEEP_OHMS, BRIGHT_VOLTS, DARK_VOLTS};
