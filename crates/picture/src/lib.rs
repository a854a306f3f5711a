//! Pictures of a circuit as SVG text: pure functions, shared by the page, the reports and the command line.
//!
//! - [`wiring`]: the whole circuit, modules left, devices right, wires in their own colours, marks where they belong;
//! - [`staircase`]: volts along a path, expected, measured, and as each suspect would have them;
//! - [`connector_face`]: cavities in rows as moulded.
//!
//! Knows no instruments and no suspects: what is to be marked comes as plain [`Marks`]. Names from the circuit are data
//! and are escaped. Texts are placed by a width table so that none covers another.

mod board;
mod colour;
mod columns;
mod face;
mod insides;
mod layout;
mod marks;
mod names;
mod overlay;
mod paint;
mod places;
mod rows;
mod stairs;
mod svg;
mod symbols;
pub mod text;
mod wiring;

pub use face::connector_face;
pub use marks::{Chosen, Flag, Look, Marks, Next, SuspectPlace, Suspicion, Tone};
pub use stairs::{Band, Path, PathPlace, Ring, staircase};
pub use svg::STYLE;
pub use wiring::{Column, Picture, Spot, wiring};
