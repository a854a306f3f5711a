//! From readings to the cause: suspects, their chances, the next test, and whether a test is safe.
pub mod answer;
mod information;
mod predictions;
mod suspects;

pub use answer::*;
pub use information::{Information, information, joint_information};
pub use predictions::Predictions;
pub use suspects::{Alive, Belief, weigh};
