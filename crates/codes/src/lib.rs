//! Trouble codes, the open formulas of scan data, vehicle identification numbers, and tables of readings.
//!
//! - [`code::read`] takes a code as people type it, [`code::read_several`] a line of them; [`code::TroubleCode`] is its two bytes; [`code::table`] what the common
//!   list says of it; [`code::explain`] puts it in words; [`code::shared`] says what several have in common;
//! - [`scan::of`] gives the formulas of a PID, both ways;
//! - [`vin::read`] takes a vehicle's number and tells its check digit, model year and region;
//! - [`log::read()`] takes a table of readings from any tool, [`log::findings`] says what is odd in it.
//!
//! This crate knows no circuits and no vehicles. It reads no files: its tables are built in, each row with its source.

pub mod code;
pub mod log;
mod rows;
pub mod scan;
pub mod vin;
