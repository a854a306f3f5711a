//! A plan: the next test, and for each thing it may show the test after it, as a short tree to be printed.
//!
//! Every step is what [`propose`] proposes once the readings above it are in, each as the branch's likeliest suspect shows it.
//! Limits: a reading elsewhere in a branch may lead to another test; what is rare is left out.

use bench::BenchError;

use crate::ahead::supposed;
use crate::{Case, Conclusion, Findings, Options, Outcome, Predictions, Proposal, Scene, propose, weigh};

/// Outcomes of a step that are followed at most, those not rarer than this.
const MOST_BRANCHES: usize = 4;
const LEAST_CHANCE: f64 = 0.05;

/// What to do from here.
#[derive(Clone, Debug, PartialEq)]
pub enum Plan {
    /// Measure this, then what its outcome says.
    Measure(Box<Step>),
    /// No further test pays, or the search is at its end: what is known then, with the conclusion.
    Stop(Box<Findings>),
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

/// A plan of at most `steps` steps from here. `progress` is told the share of it that is done, 0 to 1.
///
/// # Errors
/// Those of [`bench::Predict::predict`].
pub fn plan(
    scene: &Scene<'_, '_>,
    case: &Case<'_>,
    options: &Options<'_>,
    steps: usize,
    predictions: &mut Predictions,
    progress: &dyn Fn(f64),
) -> Result<Plan, BenchError> {
    let Some(left) = steps.checked_sub(1) else {
        return Ok(Plan::Later);
    };
    let findings = scene.belief.findings(scene.bench, predictions, None)?;
    if findings.conclusion != Conclusion::Open {
        return Ok(Plan::Stop(Box::new(findings)));
    }
    let options = Options { n: 1, ..*options };
    let proposed = propose(scene, predictions, &options)?;
    let Some(proposal) = proposed.proposals.first().cloned() else {
        let at_once = options.costs.at_once(scene.belief);
        return Ok(Plan::Stop(Box::new(findings.settled(&proposed, at_once))));
    };
    let mut branches = Vec::new();
    let outcomes = proposal.outcomes.iter().filter(|one| one.chance >= LEAST_CHANCE);
    let outcomes: Vec<&Outcome> = outcomes.take(MOST_BRANCHES).collect();
    // This step and each of its branches count alike.
    let share = 1.0 / (1 + outcomes.len()) as f64;
    progress(share);
    for (branch, outcome) in outcomes.into_iter().enumerate() {
        let within = |part: f64| progress(share * ((1 + branch) as f64 + part));
        let then = match supposed(scene, &proposal, outcome)? {
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
                plan(&after, &case, &options, left, predictions, &within)?
            }
            _ => Plan::Later,
        };
        within(1.0);
        branches.push((outcome.clone(), then));
    }
    Ok(Plan::Measure(Box::new(Step { proposal, branches })))
}
