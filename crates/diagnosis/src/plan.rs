//! A plan: the next test, and for each thing it may show the test after it, as a short tree to be printed.
//!
//! Every step is what [`propose`] proposes once the readings above it are in, each in the middle of what its branch covers.
//! Limits: a reading elsewhere in a branch may lead to another test; what is rare is left out.

use bench::BenchError;

use crate::ahead::supposed;
use crate::{Case, Conclusion, Options, Outcome, Predictions, Proposal, Scene, propose, weigh};

/// Outcomes of a step that are followed at most, those not rarer than this.
const MOST_BRANCHES: usize = 4;
const LEAST_CHANCE: f64 = 0.05;

/// What to do from here.
#[derive(Clone, Debug, PartialEq)]
pub enum Plan {
    /// Measure this, then what its outcome says.
    Measure(Box<Step>),
    /// No further test pays, or the search is at its end.
    Stop,
    /// Further on it is not planned.
    Later,
}

/// A step of a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What to measure.
    pub proposal: Proposal,
    /// What comes after each of its likelier outcomes.
    pub branches: Vec<(Outcome, Plan)>,
}

/// A plan of at most `steps` steps from here.
///
/// # Errors
/// Those of [`bench::Predict::predict`].
pub fn plan(
    scene: &Scene<'_, '_>,
    case: &Case<'_>,
    options: &Options<'_>,
    steps: usize,
    predictions: &mut Predictions,
) -> Result<Plan, BenchError> {
    let Some(left) = steps.checked_sub(1) else {
        return Ok(Plan::Later);
    };
    let conclusion = scene.belief.findings(scene.bench, predictions, None)?.conclusion;
    if matches!(conclusion, Conclusion::Found { .. } | Conclusion::Outside) {
        return Ok(Plan::Stop);
    }
    let options = Options { n: 1, ..*options };
    let Some(proposal) = propose(scene, predictions, &options)?.into_iter().next() else {
        return Ok(Plan::Stop);
    };
    let mut branches = Vec::new();
    let outcomes = proposal
        .outcomes
        .iter()
        .filter(|outcome| outcome.chance >= LEAST_CHANCE);
    for outcome in outcomes.take(MOST_BRANCHES) {
        let then = match supposed(&proposal, outcome) {
            Some(supposed) if left > 0 => {
                let readings = [case.readings, &supposed].concat();
                let case = Case {
                    readings: &readings,
                    ..*case
                };
                let belief = weigh(scene.bench, scene.circuit, scene.faults, &case, predictions)?;
                let now = supposed.last().map_or(scene.now, |last| &last.test.set_up);
                let after = Scene {
                    belief: &belief,
                    readings: case.current_readings(),
                    now,
                    ..*scene
                };
                plan(&after, &case, &options, left, predictions)?
            }
            _ => Plan::Later,
        };
        branches.push((outcome.clone(), then));
    }
    Ok(Plan::Measure(Box::new(Step { proposal, branches })))
}
