//! A circuit on the bench: with these faults, in this set-up, what does each instrument show and what flows where?
pub mod prediction;
pub mod test;

pub use prediction::*;
pub use test::*;

/// What can be wrong with a question.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The circuit has a mistake that no file check can see.
    #[error("this circuit cannot be solved: {0}")]
    Network(String),
}
