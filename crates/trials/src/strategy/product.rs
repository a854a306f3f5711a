//! What the product proposes: its best proposal, or the readings that must come before it.

use bench::{BenchError, Test};
use diagnosis::{Options, Verdict, propose};

use super::{Choice, Turn};

/// As many proposals as the screen shows.
const N_PROPOSALS: usize = 3;

pub(super) fn next(turn: &mut Turn<'_, '_>) -> Result<Choice, BenchError> {
    let options = Options {
        n: N_PROPOSALS,
        allowed: None,
        cranking: turn.yard.cranking,
    };
    let proposals = propose(&turn.scene, turn.memory, &options)?;
    let safe = proposals.iter().filter(|one| one.judgement.verdict == Verdict::Safe);
    let offered: Vec<Test> = safe.flat_map(|one| one.tests.iter().cloned()).collect();
    let Some(best) = proposals.into_iter().next() else {
        return Ok(Choice::default());
    };
    if let Verdict::First(first) = best.judgement.verdict {
        let first: Vec<Test> = first.into_iter().filter(|test| !turn.done(test)).collect();
        if !first.is_empty() {
            return Ok(Choice { tests: first, offered });
        }
    }
    Ok(Choice {
        tests: best.tests,
        offered,
    })
}
