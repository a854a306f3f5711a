//! From readings to the cause: suspects, their chances, the next test, and whether a test is safe.
pub mod ahead;
mod answer;
pub mod assumed;
mod candidate;
mod case;
mod cost;
mod evidence;
mod experience;
#[cfg(test)]
mod fake;
mod hazard;
mod in_order;
mod information;
mod likelihood;
mod model;
mod plan;
mod predictions;
mod prior;
mod proof;
mod propose;
pub mod sequence;
mod severity;
#[cfg(test)]
mod simulate;
mod suspects;
mod why;
mod worth;

pub use ahead::look_ahead;
pub use answer::*;
pub use candidate::net::ends;
pub use candidate::{Candidate, Group, candidates, reading_minutes, touched};
pub use case::{Case, Deed, Done};
pub use cost::{Attempt, Costs, Cure, Hands};
pub use experience::{Class, Experience, Learnt, Tally, class_of, group_of};
pub use hazard::caution::{cautions, cautions_of, not_probed};
pub use hazard::limits;
pub use hazard::truth::harm;
pub use information::{Information, information, joint_information};
pub use plan::{Plan, Step, plan};
pub use predictions::Predictions;
pub use proof::{Proof, ProofReading, ProofStanding, Sweep, SweepStep, Twice, proof, sweeps};
pub use propose::{Options, Scene, judge, offer, propose};
pub use suspects::{Alive, Belief, weigh};
pub use why::{Assumption, Why, why};
