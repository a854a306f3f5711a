//! A job gone through once: what it adds up to, what follows, and everything that the documents tell of it.

use std::collections::BTreeMap;

use bench::{Bench, BenchError, Reading};
use circuit::{Circuit, Fault, SetUp};
use diagnosis::{Belief, Costs, Findings, Predictions, Proof, ProofStanding, Spent, Sweep};
use job::{Did, Event, State};

use super::cause::{self, Cause};
use super::pictures::{self, Pictures};
use super::trail::Trail;
use crate::facts::{self, Facts};
use crate::mind::here;

/// What is gone through.
#[derive(Clone, Copy)]
pub struct Sources<'a> {
    /// The circuit on the bench.
    pub bench: &'a Bench,
    /// The circuit.
    pub circuit: &'a Circuit,
    /// What can break in it, at the rates in use.
    pub faults: &'a [Fault],
    /// What to beware of with it, where its file says so.
    pub cautions: &'a [String],
    /// The job.
    pub events: &'a [Event],
}

/// A job gone through.
pub struct Account<'a> {
    pub(super) of: Sources<'a>,
    pub(super) state: State,
    pub(super) facts: Facts,
    pub(super) findings: Findings,
    /// What may be the cause, likeliest first, those that one repair cures as one.
    pub(super) causes: Vec<Cause>,
    pub(super) stage: Stage,
    pub(super) trail: Trail,
    /// The last change to the vehicle on trial.
    pub(super) proof: Option<Proof>,
    pub(super) sweeps: Vec<Sweep>,
    pub(super) costs: Costs,
    pub(super) spent: Spent,
    pub(super) pictures: Pictures,
    /// Position of each event in the job.
    pub(super) order: BTreeMap<&'a str, usize>,
}

/// How far the job has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// Nothing was read.
    Unread,
    /// Nothing was repaired.
    Searching,
    /// A repair is noted, and not what it would cure.
    Unnamed,
    /// A repair is on trial.
    OnTrial(ProofStanding),
}

impl Stage {
    pub(super) fn is_finished(self) -> bool {
        self == Self::OnTrial(ProofStanding::Proved)
    }
}

/// Goes through a job. `predictions` is kept between calls on the same circuit.
///
/// Takes a weighing for each step of the trail: a second or so for a job of a few readings.
///
/// # Errors
/// Those of the bench.
pub fn work_out<'a>(of: Sources<'a>, predictions: &mut Predictions) -> Result<Account<'a>, BenchError> {
    let Sources {
        bench,
        circuit,
        faults,
        events,
        ..
    } = of;
    let state = job::derive(circuit, events);
    let facts = Facts::of(&state, faults);
    let case = facts.case();
    let belief = diagnosis::weigh(bench, circuit, faults, &case, predictions)?;
    let findings = belief.findings(bench, predictions, None)?;
    let causes = cause::ranked(&belief, &findings);
    let proof = diagnosis::proof(bench, circuit, faults, &case, &here(&state), predictions)?;
    let sweeps = diagnosis::sweeps(bench, circuit, &SetUp::normal())?;
    let trail = Trail::of(&of, &state, &facts, &causes, predictions)?;
    let costs = facts.costs();
    let spent = costs.spent(circuit, faults, &case);
    let stage = stage(&state, faults, proof.as_ref());
    let pictures = pictures::of(&of, &state, &belief, &findings, &causes)?;
    let order = events.iter().enumerate().map(|(at, event)| (event.id.as_str(), at));
    Ok(Account {
        order: order.collect(),
        of,
        findings,
        causes,
        stage,
        trail,
        proof,
        sweeps,
        costs,
        spent,
        pictures,
        state,
        facts,
    })
}

fn stage(state: &State, faults: &[Fault], proof: Option<&Proof>) -> Stage {
    let standing = proof.map(|proof| proof.standing);
    let repair = state.acts.iter().rev().find(|act| matches!(act.did, Did::Repaired(_)));
    match (repair, standing) {
        (Some(repair), _) if facts::done(&repair.did, faults).is_none() => Stage::Unnamed,
        (Some(_), Some(standing)) => Stage::OnTrial(standing),
        // A plug that was pushed home may have been all that it took.
        (None, Some(ProofStanding::Proved)) => Stage::OnTrial(ProofStanding::Proved),
        _ if state.entries().next().is_none() => Stage::Unread,
        _ => Stage::Searching,
    }
}

impl<'a> Account<'a> {
    /// Where an event stands in the job.
    pub(super) fn position(&self, event: &str) -> usize {
        self.order.get(event).copied().unwrap_or(usize::MAX)
    }

    /// The cause that leads, unless something outside the circuit does.
    pub(super) fn leader(&self) -> Option<&Cause> {
        self.causes.first().filter(|cause| cause.chance > self.findings.outside)
    }

    /// How many of the readings that were weighed came before the first repair.
    pub(super) fn n_before_repair(&self) -> usize {
        let repair = self.state.acts.iter().find(|act| matches!(act.did, Did::Repaired(_)));
        let n_weighed = self.facts.readings.len();
        repair.map_or(n_weighed, |act| act.after.min(n_weighed))
    }

    /// Bits of each weighed reading for the leading cause; 0 where nothing leads.
    pub(super) fn bits(&self, at: usize) -> f64 {
        let of_leader = || {
            let leader = self.leader()?.leader();
            let suspects = &self.findings.suspects;
            suspects
                .iter()
                .find(|one| one.fault == leader && one.also.is_none())?
                .bits
                .get(at)
        };
        of_leader().copied().unwrap_or(0.0)
    }

    /// The last reading of this test since the vehicle was last changed.
    pub(super) fn read_since(&self, test: &bench::Test) -> Option<&Reading> {
        let since = self.facts.case().current_readings();
        let all = &self.facts.readings;
        all[all.len() - since.len()..]
            .iter()
            .rev()
            .find(|one| one.test == *test)
    }

    /// Milliseconds of the first and the last event.
    pub(super) fn span(&self) -> (u64, u64) {
        let at = |event: Option<&Event>| event.map_or(0, |event| event.at_ms);
        (at(self.of.events.first()), at(self.of.events.last()))
    }

    /// What the job is called.
    pub(super) fn title(&self) -> &'a str {
        let opened = self.of.events.iter().find_map(|event| match &event.what {
            job::What::Opened { title, .. } if !title.trim().is_empty() => Some(title.as_str()),
            _ => None,
        });
        let vehicle = Some(self.of.circuit.vehicle.as_str()).filter(|vehicle| !vehicle.is_empty());
        opened.or(vehicle).unwrap_or("The vehicle")
    }
}

/// Everything that may be the cause, weighed.
pub(super) fn chances(belief: &Belief<'_>) -> Vec<f64> {
    (0..belief.faults().len()).map(|at| belief.chance(at.into())).collect()
}
