//! Why a ready-made circuit cannot be read, filled or combined.

use crate::file::Mistake;

/// Why not, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ArchetypeError {
    /// The file itself has mistakes.
    #[error("{name} has mistakes:\n{}", list(mistakes))]
    File {
        /// Which.
        name: String,
        /// All of them.
        mistakes: Vec<Mistake>,
    },
    /// A circuit without questions.
    #[error("{name} is a circuit, but no ready-made one: it has no table `[archetype]`")]
    Plain {
        /// Which.
        name: String,
    },
    /// An answer to nothing.
    #[error("{name} has no question and no part `{question}`{help}")]
    NoSuchQuestion {
        /// Which circuit.
        name: String,
        /// What was answered.
        question: String,
        /// What may be meant.
        help: String,
    },
    /// An answer that is none.
    #[error("{question}: `{answer}` is not an answer to \"{what}\": {expected}")]
    Answer {
        /// The question's name.
        question: String,
        /// The question.
        what: String,
        /// What was answered.
        answer: String,
        /// What was expected, or what the circuit file says of it.
        expected: String,
    },
    /// Two answers that exclude each other.
    #[error("{first} and {second} are both answered `{answer}`: each needs a place of its own")]
    SamePlace {
        /// One question.
        first: String,
        /// The other.
        second: String,
        /// The answer.
        answer: String,
    },
    /// Answers that are right one by one, and no circuit together.
    #[error("with these answers {name} is no circuit:\n{}", list(mistakes))]
    Together {
        /// Which.
        name: String,
        /// What is wrong with it.
        mistakes: Vec<Mistake>,
    },
    /// Two circuits say different things of what they share.
    #[error(
        "{place} is {first} in {first_name} and {second} in {second_name}: make them agree, or give one another name"
    )]
    Contradiction {
        /// What of, as keys.
        place: String,
        /// One circuit.
        first_name: String,
        /// What it says.
        first: String,
        /// The other circuit.
        second_name: String,
        /// What that says.
        second: String,
    },
}

fn list(mistakes: &[Mistake]) -> String {
    let lines: Vec<String> = mistakes.iter().map(|mistake| format!("  {mistake}")).collect();
    lines.join("\n")
}
