//! Ways to choose the next test: the product's, and what it is compared with.
//!
//! All work from the same belief and stop by the same rule ([`search`](crate::search)); only the choice differs. Each but
//! the product's is given up when it has nothing left that it would do.

mod fixed;
mod half_split;
mod one_step;
mod product;
mod random;

use bench::{BenchError, Test};
use diagnosis::{Predictions, Proposal, Scene, Verdict, judge};

use crate::chance::Luck;
use crate::yard::Yard;

/// A way to choose the next test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Strategy {
    /// What the product proposes.
    Product,
    /// Any safe test within one change of the set-up that tells anything.
    Random,
    /// Every reading in the order of the wire, whatever came out so far, as a printed chart has it.
    FixedOrder,
    /// The reading that lies nearest to the middle of what is still suspected along the wire.
    HalfSplit,
    /// The safe test within one change of the set-up that tells most, whatever it costs.
    OneStep,
}

/// What to do next.
#[derive(Clone, Debug, Default)]
pub(crate) struct Choice {
    /// The tests to do now, in order; none if nothing is left.
    pub(crate) tests: Vec<Test>,
    /// Tests that were offered as safe beside or among these.
    pub(crate) offered: Vec<Test>,
}

impl Choice {
    fn one(test: Test) -> Self {
        Self {
            offered: vec![test.clone()],
            tests: vec![test],
        }
    }
}

/// What a choice is made from.
pub(crate) struct Turn<'t, 'a> {
    pub(crate) yard: &'t Yard,
    pub(crate) scene: Scene<'t, 'a>,
    pub(crate) memory: &'t mut Predictions,
    pub(crate) luck: Luck,
}

impl Strategy {
    /// Every one, the product's first.
    pub const ALL: [Self; 5] = [
        Self::Product,
        Self::Random,
        Self::FixedOrder,
        Self::HalfSplit,
        Self::OneStep,
    ];

    /// Its name in commands and results.
    pub fn name(self) -> &'static str {
        match self {
            Self::Product => "product",
            Self::Random => "random",
            Self::FixedOrder => "fixed-order",
            Self::HalfSplit => "half-split",
            Self::OneStep => "one-step",
        }
    }

    /// The next tests. `proposals`: the product's own.
    ///
    /// # Errors
    /// Those of the bench.
    pub(crate) fn next(self, turn: &mut Turn<'_, '_>, proposals: Vec<Proposal>) -> Result<Choice, BenchError> {
        match self {
            Self::Product => Ok(product::next(turn, proposals)),
            Self::Random => random::next(turn),
            Self::FixedOrder => fixed::next(turn),
            Self::HalfSplit => half_split::next(turn),
            Self::OneStep => one_step::next(turn),
        }
    }
}

impl Turn<'_, '_> {
    fn done(&self, test: &Test) -> bool {
        self.scene.readings.iter().any(|reading| reading.test == *test)
    }

    /// Whether nothing that is still possible makes a test harmful.
    fn safe(&mut self, test: &Test) -> Result<bool, BenchError> {
        // What draws nothing needs no judging.
        let draws = !test.placement.only_looks();
        Ok(!draws || judge(&self.scene, self.memory, test)?.verdict == Verdict::Safe)
    }

    /// The first of these that was not done and is safe.
    fn first_safe(&mut self, tests: impl IntoIterator<Item = Test>) -> Result<Option<Test>, BenchError> {
        for test in tests {
            if !self.done(&test) && self.safe(&test)? {
                return Ok(Some(test));
            }
        }
        Ok(None)
    }
}
