//! The reasoning on trial: vehicles drawn at random, searched to the end, and counted.
//!
//! - [`BUILT_IN`] are circuits of many kinds; a [`Yard`] is one of them on the bench;
//! - a [`Vehicle`] is drawn: its fault, how bad, its uncertain values, its battery, its meter; it may also differ from its
//!   circuit file ([`Differs`]);
//! - [`search`] goes from the complaint to a conclusion with a [`Strategy`], the vehicle answering every test;
//! - [`run`] does so for many jobs on all cores, and [`Figures`] and [`Calibration`] sum up what came out.
//!
//! Every random number belongs to a seed, a job and what it is for, so results depend neither on the number of threads nor
//! on which strategies are tried beside each other, and a job can be run again alone. No clock, no files, no printing.

mod calibration;
mod chance;
mod circuits;
mod differs;
mod figures;
mod meter;
mod optimum;
pub mod plot;
mod run;
mod search;
mod strategy;
mod unlisted;
mod vehicle;
mod wire_order;
mod yard;

pub use calibration::{Bin, Calibration, wilson};
pub use circuits::{BUILT_IN, BuiltIn};
pub use differs::Differs;
pub use figures::Figures;
pub use optimum::{Optimum, optimum};
pub use run::{Plan, job, run};
pub use search::{Ended, Harm, Record, search};
pub use strategy::Strategy;
pub use vehicle::Vehicle;
pub use yard::{Yard, YardError};
