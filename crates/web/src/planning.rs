//! A plan as the page is told: made beside everything else once somebody asks for it, for the newest state of the job.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use bench::BenchError;
use circuit::SetUp;
use diagnosis::{Options, Plan, Predictions, Step};
use serde::Serialize;

use crate::desk::{Desk, held};
use crate::mind::{Patient, Thought, here};
use crate::outcomes;
use crate::problem::Problem;
use crate::words;

/// Steps one after the other: as many as go on one sheet.
const STEPS: usize = 2;

/// A plan, or how far it is.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct PlanView {
    /// Number of events that it rests on.
    version: u64,
    working: bool,
    /// Share of the work that is done, 0 to 1.
    share: f64,
    /// What went wrong in the program, if it did.
    failure: Option<String>,
    tree: Option<NodeView>,
}

/// What to do from one place of the plan.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum NodeView {
    /// Measure this.
    Measure {
        title: String,
        minutes: String,
        /// What to do first, in order.
        how: Vec<String>,
        /// The readings, where there are several.
        tests: Vec<String>,
        cautions: Vec<String>,
        branches: Vec<BranchView>,
    },
    /// Measuring ends.
    Stop { words: String },
    /// Further on it is not planned.
    Later,
}

/// One thing that a step may show.
#[derive(Clone, Debug, Serialize)]
struct BranchView {
    shows: String,
    percent: String,
    means: String,
    then: NodeView,
}

/// The plan of the newest thought; asked for the first time, it is begun.
pub(crate) fn plan(desk: &Arc<Desk>) -> Result<PlanView, Problem> {
    let thought = desk.thought();
    let version = thought.view.version;
    if thought.known.is_none() {
        return Err(Problem::not_ready());
    }
    let begun = PlanView {
        version,
        working: true,
        share: 0.0,
        failure: None,
        tree: None,
    };
    // What the next test is comes first.
    if thought.view.proposals_pending {
        return Ok(begun);
    }
    let mut newest = held(&desk.plan);
    if let Some(newest) = newest.as_ref().filter(|newest| newest.version == version) {
        return Ok(newest.clone());
    }
    let (making, of) = (Arc::clone(desk), Arc::clone(&thought));
    let thread = std::thread::Builder::new().name("planning".into());
    thread
        .spawn(move || make(&making, &of))
        .map_err(|_no_thread| Problem::defect("planning"))?;
    *newest = Some(begun.clone());
    Ok(begun)
}

fn make(desk: &Desk, thought: &Thought) {
    let version = thought.view.version;
    let tell = |change: &dyn Fn(&mut PlanView)| {
        if let Some(newest) = held(&desk.plan).as_mut().filter(|one| one.version == version) {
            change(newest);
        }
    };
    let run = catch_unwind(AssertUnwindSafe(|| {
        planned(desk, thought, &|share| tell(&|plan| plan.share = share))
    }));
    match run {
        Ok(Ok(tree)) => tell(&|plan| {
            (plan.working, plan.share, plan.tree) = (false, 1.0, Some(tree.clone()));
        }),
        // A newer plan is on its way as soon as somebody asks.
        Ok(Err(BenchError::GivenUp)) => {}
        _ => tell(&|plan| {
            plan.working = false;
            plan.failure = Some("Planning failed inside the program; the next test above is not touched by it.".into());
        }),
    }
}

fn planned(desk: &Desk, thought: &Thought, progress: &dyn Fn(f64)) -> Result<NodeView, BenchError> {
    let known = thought.known.as_ref().ok_or(BenchError::GivenUp)?;
    let version = thought.view.version;
    let overtaken = || desk.latest() != version;
    let bench = Patient {
        bench: &desk.bench,
        overtaken: &overtaken,
    };
    let now = here(&thought.state);
    let options = Options {
        costs: known.facts.costs(),
        ..Options::default()
    };
    let mut predictions = Predictions::default();
    let scene = known.scene(&bench, &now);
    let case = known.facts.case();
    let plan = diagnosis::plan(&scene, &case, &options, STEPS, &mut predictions, progress)?;
    Ok(node(desk, &now, &plan))
}

fn node(desk: &Desk, now: &SetUp, plan: &Plan) -> NodeView {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    match plan {
        Plan::Later => NodeView::Later,
        Plan::Stop(findings) => NodeView::Stop {
            words: words::conclusion(circuit, faults, findings).1,
        },
        Plan::Measure(step) => {
            let Step { proposal, branches } = &**step;
            let there = proposal.tests.first().map_or(now, |test| &test.set_up);
            let several = proposal.tests.iter().filter(|_| proposal.tests.len() > 1);
            let branches = branches.iter().filter_map(|(outcome, then)| {
                let alone = std::slice::from_ref(outcome);
                let said = outcomes::of_tests(circuit, faults, &proposal.tests, alone).pop()?;
                Some(BranchView {
                    shows: said.shows,
                    percent: words::percent(outcome.chance),
                    means: said.means,
                    then: node(desk, there, then),
                })
            });
            NodeView::Measure {
                title: words::title(circuit, &proposal.tests),
                minutes: words::minutes(proposal.minutes),
                how: words::changes(circuit, now, there),
                tests: several.map(|test| words::placement(circuit, &test.placement)).collect(),
                cautions: diagnosis::cautions_of(circuit, &proposal.tests),
                branches: branches.collect(),
            }
        }
    }
}
