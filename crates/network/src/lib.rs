//! A small circuit solver: nodes and elements to volts and amperes at rest (direct current).
//!
//! Give a [`Netlist`] and the [`States`] to start from; get an [`Outcome`]: an operating point ([`Solution`]) with its
//! largest Kirchhoff residual and an estimate of its error, or why there is none. A netlist that cannot have an answer is a
//! [`NetworkError`] that names the element. Nothing panics on any values.
//!
//! ```
//! use network::{Element, Netlist, NodeId, Outcome, States, solve};
//! let (battery, middle, ground) = (NodeId(1), NodeId(2), NodeId::GROUND);
//! let netlist = Netlist {
//!     n_nodes: 3,
//!     elements: vec![
//!         Element::VoltageSource { plus: battery, minus: ground, volts: 12.0, ohms: 0.0 },
//!         Element::Resistor { a: battery, b: middle, ohms: 1000.0 },
//!         Element::Resistor { a: middle, b: ground, ohms: 2000.0 },
//!     ],
//! };
//! let outcome = solve(&netlist, &States::initial(&netlist))?;
//! let Outcome::Converged(solution) = outcome else { panic!("a divider converges") };
//! assert!((solution.volts(middle) - 8.0).abs() < 1e-12);
//! # Ok::<(), network::NetworkError>(())
//! ```
//!
//! Method: nodal analysis with ties and extra currents (after modified nodal analysis: Ho, Ruehli, Brennan, IEEE Trans.
//! CAS-22(6), 1975), Newton with limiting, an elimination that keeps the row sums (`lu.rs`), then one discrete event at a
//! time. Absent on purpose: time, files, vehicles, faults.

mod adjoint;
mod check;
mod columns;
mod dense;
pub mod element;
mod error;
mod island;
mod law;
mod linearised;
mod lu;
mod newton;
mod plan;
mod reduced;
mod small;
mod solver;
mod states;
pub mod sweep;
mod twofold;
mod variations;

pub use adjoint::{Adjoint, Parameter};
pub use element::{BREAKDOWN_AMPS, Element, ElementId, Netlist, NodeId};
pub use error::NetworkError;
pub use solver::{Effort, Outcome, Solution, Solver, other_stable_states, solve};
pub use states::States;
pub use variations::Variations;
