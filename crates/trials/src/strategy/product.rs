//! What the product proposes: its best proposal, or the readings that must come before it.

use bench::Test;
use diagnosis::{Proposal, Verdict};

use super::{Choice, Turn};

pub(super) fn next(turn: &Turn<'_, '_>, proposals: Vec<Proposal>) -> Choice {
    let safe = proposals.iter().filter(|one| one.judgement.verdict == Verdict::Safe);
    let offered: Vec<Test> = safe.flat_map(|one| one.tests.iter().cloned()).collect();
    let Some(best) = proposals.into_iter().next() else {
        return Choice::default();
    };
    if let Verdict::First(first) = best.judgement.verdict {
        let first: Vec<Test> = first.into_iter().filter(|test| !turn.done(test)).collect();
        if !first.is_empty() {
            return Choice { tests: first, offered };
        }
    }
    Choice {
        tests: best.tests,
        offered,
    }
}
