//! From readings to the cause: suspects, their chances, the next test, and whether a test is safe.
pub mod answer;
pub use answer::*;
