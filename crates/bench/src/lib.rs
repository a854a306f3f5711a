//! A circuit on the bench: with these faults, in this set-up, what does each instrument show and what flows where?
//!
//! [`Bench`] answers a [`Question`] with [`Predict::predict`]. It integrates nothing and knows no limits: `diagnosis`
//! weighs and judges.

mod attach;
mod bench;
mod edit;
mod error;
mod flows;
mod ghost;
mod history;
mod lower;
mod prediction;
mod read;
mod scan;
mod solvers;
mod test;

pub use bench::Bench;
pub use error::{BenchError, TextError};
pub use prediction::*;
pub use test::*;
