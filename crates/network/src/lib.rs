//! A small DC circuit solver.
pub mod element;
pub use element::{Element, ElementId, Netlist, NodeId};
