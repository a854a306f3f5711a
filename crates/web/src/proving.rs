//! A repair on trial and a suspect explained, as the page is told.

use circuit::{FaultId, SetUp};
use diagnosis::{Proof, ProofReading, ProofStanding, Sweep};
use job::State;
use serde::{Deserialize, Serialize};

use crate::desk::{Desk, held};
use crate::facts::Facts;
use crate::mind::{here, test};
use crate::problem::Problem;
use crate::show::{fault, refused};
use crate::view::TestView;
use crate::words;
use crate::words::{proof as said, why as reasons};

/// Suspects less likely than this are not named.
const NAMED: f64 = 0.005;
/// Most that are.
const MOST_NAMED: usize = 5;

/// A repair on trial.
#[derive(Debug, Serialize)]
pub(crate) struct ProofView {
    /// What was done.
    repair: String,
    /// `open`, `proved`, `refuted`.
    standing: &'static str,
    headline: String,
    readings: Vec<ProofReadingView>,
    left: Vec<LeftView>,
    sweeps: Vec<SweepView>,
}

/// A reading that proves it.
#[derive(Debug, Serialize)]
struct ProofReadingView {
    what: String,
    set_up: String,
    set_up_short: String,
    band: String,
    telling: String,
    tells: bool,
    minutes: String,
    /// `open`, `within`, `outside`.
    read: &'static str,
    test: TestView,
}

/// What may still be wrong.
#[derive(Debug, Serialize)]
struct LeftView {
    what: String,
    now: String,
    then: String,
}

/// A sensor from end to end.
#[derive(Debug, Serialize)]
struct SweepView {
    words: String,
    has_ratio: bool,
    has_scan: bool,
    steps: Vec<StepView>,
}

/// One value of it.
#[derive(Debug, Serialize)]
struct StepView {
    at: String,
    volts: String,
    ratio: String,
    scan: String,
}

/// Why a suspect is one, beyond its readings.
#[derive(Debug, Serialize)]
pub(crate) struct LeansView {
    /// The assumption that it leans on most, in a sentence.
    leans: String,
    /// Every assumption with what would be without it.
    all: Vec<AssumedView>,
}

/// An assumption.
#[derive(Debug, Serialize)]
struct AssumedView {
    what: String,
    otherwise: String,
    percent: String,
}

/// A suspect that is asked about.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SuspectQuery {
    pub(crate) suspect: String,
}

/// The last repair on trial; `None` as long as none is noted for a fault that is known.
pub(crate) fn proof(desk: &Desk) -> Result<Option<ProofView>, Problem> {
    let state = &desk.thought().state;
    let Some(proof) = on_trial(desk, state)? else {
        return Ok(None);
    };
    let sweeps = diagnosis::sweeps(&desk.bench, &desk.circuit, &SetUp::normal()).map_err(refused)?;
    let repair = state
        .repairs
        .last()
        .map(|repair| words::capital(&repair.1))
        .unwrap_or_default();
    Ok(Some(view(desk, repair, &proof, &sweeps)))
}

/// Whether readings prove the repair, by everything that is noted now.
pub(crate) fn is_proved(desk: &Desk) -> Result<bool, Problem> {
    let state = job::derive(&desk.circuit, &desk.events());
    let proof = on_trial(desk, &state)?;
    Ok(proof.is_some_and(|proof| proof.standing == ProofStanding::Proved))
}

fn on_trial(desk: &Desk, state: &State) -> Result<Option<Proof>, Problem> {
    let faults = &*desk.faults();
    let facts = Facts::of(state, faults);
    if facts.deeds.is_empty() {
        return Ok(None);
    }
    let mut predictions = held(&desk.proving);
    let (case, now) = (facts.case(), here(state));
    diagnosis::proof(&desk.bench, &desk.circuit, faults, &case, &now, &mut predictions).map_err(refused)
}

fn view(desk: &Desk, repair: String, proof: &Proof, sweeps: &[Sweep]) -> ProofView {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let reading = |one: &ProofReading| ProofReadingView {
        what: words::capital(&said::what(circuit, one)),
        set_up: one.test.set_up.to_text(circuit),
        set_up_short: words::set_up_short(circuit, &one.test.set_up),
        band: said::band(circuit, one),
        telling: said::telling(circuit, one),
        tells: one.tells(),
        minutes: words::minutes(one.minutes),
        read: match one.read {
            None => "open",
            Some(true) => "within",
            Some(false) => "outside",
        },
        test: test(circuit, &one.test),
    };
    let named = proof.left.iter().filter(|one| one.1.now >= NAMED).take(MOST_NAMED);
    let mut left: Vec<LeftView> = named
        .map(|(fault, chance)| LeftView {
            what: said::left(&faults[fault.idx()]),
            now: words::percent(chance.now),
            then: words::percent(chance.then),
        })
        .collect();
    left.push(LeftView {
        what: "Something not in this picture".into(),
        now: words::percent(proof.outside.now),
        then: words::percent(proof.outside.then),
    });
    let sweep = |sweep: &Sweep| SweepView {
        words: words::capital(&said::swept(circuit, sweep)),
        has_ratio: sweep.reference.is_some(),
        has_scan: sweep.channel.is_some(),
        steps: sweep
            .steps
            .iter()
            .map(|step| StepView {
                at: said::step(circuit, sweep, step),
                volts: said::volts(step),
                ratio: said::ratio(step).unwrap_or_default(),
                scan: said::scan(circuit, sweep, step).unwrap_or_default(),
            })
            .collect(),
    };
    ProofView {
        repair,
        standing: match proof.standing {
            ProofStanding::Open => "open",
            ProofStanding::Proved => "proved",
            ProofStanding::Refuted => "refuted",
        },
        headline: said::headline(proof),
        readings: proof.readings.iter().map(reading).collect(),
        left,
        sweeps: sweeps.iter().map(sweep).collect(),
    }
}

/// What a suspect of the newest thought leans on.
pub(crate) fn leans(desk: &Desk, query: &SuspectQuery) -> Result<LeansView, Problem> {
    let circuit = &*desk.circuit;
    let thought = desk.thought();
    let known = thought.known.as_ref().ok_or_else(Problem::not_ready)?;
    let faults = &*desk.faults();
    let asked = fault(faults, &query.suspect)?.map(|(idx, _)| FaultId::from(idx));
    let suspects = &known.findings.suspects;
    let suspect = suspects
        .iter()
        .find(|one| one.look_alikes.iter().any(|like| Some(like.0) == asked));
    let group: Vec<FaultId> = match suspect {
        Some(suspect) => suspect.look_alikes.iter().map(|like| like.0).collect(),
        None => asked.into_iter().collect(),
    };
    let case = known.facts.case();
    let mut predictions = held(&desk.proving);
    let why = diagnosis::why(&desk.bench, circuit, faults, &case, &group, &mut predictions).map_err(refused)?;
    let all = why.leans_on.iter().map(|&(assumption, then)| AssumedView {
        what: words::capital(&reasons::assumed(circuit, case.readings, assumption)),
        otherwise: reasons::relaxed(assumption),
        percent: words::percent(then),
    });
    Ok(LeansView {
        leans: reasons::leans_on(circuit, case.readings, &why),
        all: all.collect(),
    })
}
