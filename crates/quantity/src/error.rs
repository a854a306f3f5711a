//! What can be wrong with a written value: one variant a mistake, each with its place in the text.

use crate::Unit;
use std::ops::Range;

/// Why a text is not a value. `at` is the range of bytes of the text that is to blame, on character boundaries.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum ParseError {
    #[error("nothing is written here: {} is expected, e.g. {}", expected.noun(), expected.example())]
    Empty { at: Range<usize>, expected: Unit },
    #[error("`{found}` is no number: {} is expected, e.g. {}", expected.noun(), expected.example())]
    NotANumber {
        at: Range<usize>,
        found: String,
        expected: Unit,
    },
    #[error("`{found}` has a thousands separator or two separators: write the digits together with one decimal point")]
    Grouped { at: Range<usize>, found: String },
    #[error("`{found}` could be {with_point} or {joined}: write the one you mean")]
    AmbiguousComma {
        at: Range<usize>,
        found: String,
        with_point: String,
        joined: String,
    },
    #[error("`{found}` is too large to be a value")]
    TooLarge { at: Range<usize>, found: String },
    #[error("this is {}, {} is expected, e.g. {}", found.noun(), expected.noun(), expected.example())]
    WrongUnit {
        at: Range<usize>,
        found: Unit,
        expected: Unit,
    },
    #[error("`{found}` is no unit known here: {} is expected, e.g. {}", expected.noun(), expected.example())]
    UnknownUnit {
        at: Range<usize>,
        found: String,
        expected: Unit,
    },
    #[error(
        "the prefix in `{found}` is not used for {}; m is milli, M is mega: write it e.g. {}",
        expected.noun(), expected.example()
    )]
    UnusualPrefix {
        at: Range<usize>,
        found: String,
        expected: Unit,
    },
    #[error("{} cannot be negative", expected.noun())]
    Negative { at: Range<usize>, expected: Unit },
    #[error("{} must be more than zero, e.g. {}", expected.noun(), expected.example())]
    Zero { at: Range<usize>, expected: Unit },
    #[error("`{found}` is below absolute zero (-273.15 °C)")]
    BelowAbsoluteZero { at: Range<usize>, found: String },
    #[error("`{found}` is no wire gauge: 4/0 AWG to 40 AWG are known, e.g. 18 AWG or 1/0 AWG")]
    UnknownGauge { at: Range<usize>, found: String },
    #[error("`{found}` is no time: minutes and two digits of seconds are expected, e.g. 1:30")]
    Clock { at: Range<usize>, found: String },
    #[error("the unit of the tolerance `{found}` is missing or unclear: write e.g. {example}")]
    ToleranceUnit {
        at: Range<usize>,
        found: String,
        example: String,
    },
    #[error("a tolerance of `{found}` cannot be: it is never below zero, above 100 %, or larger than the value")]
    ToleranceSize { at: Range<usize>, found: String },
    #[error("`{found}` after the value is not understood: a tolerance may follow, e.g. ± 5 %")]
    Trailing { at: Range<usize>, found: String },
    #[error("`{found}` is no range: two values with .. between them are expected, e.g. 0.5..4.5 V")]
    NotARange { at: Range<usize>, found: String },
    #[error("write the unit at both ends of `{found}`: the prefix could belong to one or to both")]
    RangeUnit { at: Range<usize>, found: String },
    #[error("the range `{found}` runs backwards: the lower value comes first")]
    Backwards { at: Range<usize>, found: String },
}

impl ParseError {
    /// The bytes of the text that are to blame. Empty at the place where something is missing.
    pub fn at(&self) -> Range<usize> {
        match self {
            Self::Empty { at, .. }
            | Self::NotANumber { at, .. }
            | Self::Grouped { at, .. }
            | Self::AmbiguousComma { at, .. }
            | Self::TooLarge { at, .. }
            | Self::WrongUnit { at, .. }
            | Self::UnknownUnit { at, .. }
            | Self::UnusualPrefix { at, .. }
            | Self::Negative { at, .. }
            | Self::Zero { at, .. }
            | Self::BelowAbsoluteZero { at, .. }
            | Self::UnknownGauge { at, .. }
            | Self::Clock { at, .. }
            | Self::ToleranceUnit { at, .. }
            | Self::ToleranceSize { at, .. }
            | Self::Trailing { at, .. }
            | Self::NotARange { at, .. }
            | Self::RangeUnit { at, .. }
            | Self::Backwards { at, .. } => at.clone(),
        }
    }
}
