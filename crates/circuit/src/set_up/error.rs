//! What can be wrong with the text of a set-up: one variant a mistake, each with its place in the text.

use std::ops::Range;

/// Why a text is not a set-up of this circuit. `at` is the range of bytes to blame, on character boundaries.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum SetUpError {
    #[error(
        "`{found}` is no part of a set-up: write e.g. `key off`, `S1 apart`, `fuse F3 out` or `jumper S1.1 S1.2`{}",
        more(hint.as_deref())
    )]
    UnknownItem {
        at: Range<usize>,
        found: String,
        hint: Option<String>,
    },
    #[error("there is no {kind} `{found}` in this circuit{}", more(hint.as_deref()))]
    UnknownName {
        at: Range<usize>,
        found: String,
        kind: &'static str,
        hint: Option<String>,
    },
    #[error(
        "`{found}` is no key position: off, accessory, on, cranking, running, held or asleep is expected{}",
        more(hint.as_deref())
    )]
    UnknownKey {
        at: Range<usize>,
        found: String,
        hint: Option<String>,
    },
    #[error("{expected} is expected here{}", instead(found))]
    Expected {
        at: Range<usize>,
        found: String,
        expected: &'static str,
    },
    #[error("{source}")]
    Value {
        at: Range<usize>,
        source: quantity::ParseError,
    },
    #[error("`{found}` must lie between a thousandth and 1000 million")]
    Unusable { at: Range<usize>, found: String },
    #[error("a set-up takes one value without a tolerance, not `{found}`")]
    Tolerance { at: Range<usize>, found: String },
    #[error("{words} cannot be `{found}`: it goes from {least} to {most}")]
    OutOfRange {
        at: Range<usize>,
        found: String,
        words: String,
        least: String,
        most: String,
    },
    #[error("`{found}` contradicts what is said before it")]
    Contradiction { at: Range<usize>, found: String },
    #[error(
        "`{rhythm}` is held in a phase, where a duty has no effect: leave out either `{rhythm} in …` or `{rhythm} … %`"
    )]
    HeldWithDuty { at: Range<usize>, rhythm: String },
    #[error("both ends are at `{found}`")]
    SameEnds { at: Range<usize>, found: String },
    #[error("nothing can be clipped to `{found}`: {words}")]
    OutOfReach {
        at: Range<usize>,
        found: String,
        words: String,
    },
}

impl SetUpError {
    /// The bytes of the text that are to blame. Empty at the place where something is missing.
    pub fn at(&self) -> Range<usize> {
        match self {
            Self::UnknownItem { at, .. }
            | Self::UnknownName { at, .. }
            | Self::UnknownKey { at, .. }
            | Self::Expected { at, .. }
            | Self::Value { at, .. }
            | Self::Unusable { at, .. }
            | Self::Tolerance { at, .. }
            | Self::OutOfRange { at, .. }
            | Self::Contradiction { at, .. }
            | Self::HeldWithDuty { at, .. }
            | Self::SameEnds { at, .. }
            | Self::OutOfReach { at, .. } => at.clone(),
        }
    }
}

fn more(hint: Option<&str>) -> String {
    hint.map(|hint| format!("; {hint}")).unwrap_or_default()
}

fn instead(found: &str) -> String {
    if found.is_empty() {
        String::new()
    } else {
        format!(", not `{found}`")
    }
}
