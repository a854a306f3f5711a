//! From a job's state to what the page is told: the reasoning's answers in plain words.

use std::sync::Arc;

use bench::{Alternating, Batch, Bench, BenchError, Placement, Predict, Question, Test};
use circuit::{Circuit, Fault, SetUp};
use diagnosis::{Belief, Findings, Intake, Judgement, Options, Predictions, Proposal, Scene, Suspect, Verdict};
use job::{Entry, Photo, State};

use crate::desk::Desk;
use crate::facts::{self, Facts};
use crate::jobs::standing;
use crate::mind::entries::{event_words, reading_views, twin_views};
use crate::view::{
    AnswerView, BillView, ConclusionView, FirstView, IntakeView, LookAlikeView, OthersView, OutcomeView, PhotoView,
    ProposalView, SafetyView, Step, SuspectView, TestView, WhyView,
};
use crate::{outcomes, words};

mod entries;

/// Suspects listed one by one; the rest are counted.
const LISTED: usize = 6;
/// A suspect below this chance is not listed alone.
const LISTED_CHANCE: f64 = 0.01;
/// Of the suspects that are only counted, so many are named on tap.
const NAMED_OTHERS: usize = 12;
/// Changes to the set-up at hand within which a test counts as one that could still be done.
const OFFER_CHANGES: usize = 1;
/// Proposals shown.
const PROPOSALS: usize = 3;

/// What was worked out for one state of the job.
pub(crate) struct Thought {
    pub(crate) state: State,
    pub(crate) view: AnswerView,
    /// What the suspects are judged by; `None` before the first thought and after a failed one.
    pub(crate) known: Option<Arc<Known>>,
    /// The tests of the first proposal.
    pub(crate) next: Vec<Test>,
}

/// What a belief is about.
pub(crate) struct Ground {
    pub(crate) circuit: Arc<Circuit>,
    pub(crate) faults: Arc<[Fault]>,
}

self_cell::self_cell!(
    /// A belief together with what it is about, so that both last as long as somebody asks about them.
    struct Grounded {
        owner: Ground,
        #[covariant]
        dependent: Belief,
    }
);

/// The reasoning's own answers, for questions about them.
pub(crate) struct Known {
    grounded: Grounded,
    pub(crate) findings: Findings,
    pub(crate) facts: Facts,
}

impl Thought {
    /// Before anything was worked out.
    pub(crate) fn nothing_yet(circuit: &Circuit, state: State) -> Self {
        let conclusion = ConclusionView {
            kind: "open",
            words: "Working out what is possible …".into(),
        };
        let view = AnswerView {
            version: 0,
            latest: 0,
            proposals_pending: true,
            working: true,
            failure: None,
            set_up: here(&state).to_text(circuit),
            standing: standing(state.standing.0).0,
            intake: IntakeView::default(),
            readings: Vec::new(),
            twin: Vec::new(),
            acts: Vec::new(),
            undo: None,
            redo: None,
            suspects: Vec::new(),
            others: None,
            next: Vec::new(),
            conclusion,
            bill: None,
            chosen_from: String::new(),
            codes_share: None,
            notes: Vec::new(),
            repaired: state.repairs.last().is_some_and(|repair| repair.2.is_some()),
            troubles: Vec::new(),
            minutes: 0.0,
            shop: None,
        };
        Self {
            state,
            view,
            known: None,
            next: Vec::new(),
        }
    }

    /// The reasoning broke off: the readings are there, what follows from them is not.
    pub(crate) fn failed(version: u64, desk: &Desk, state: State) -> Self {
        let failure =
            "Working this out failed inside the program; your readings are kept. Take the last one back, or go on.";
        let mut thought = Self::nothing_yet(&desk.circuit, state);
        let readings = reading_views(&desk.circuit, &thought.state, None);
        let frame = frame(desk, version, &thought.state);
        thought.view = AnswerView {
            readings,
            failure: Some(failure.into()),
            proposals_pending: false,
            working: false,
            conclusion: ConclusionView {
                kind: "open",
                words: String::new(),
            },
            ..frame
        };
        thought
    }
}

/// The bench, as long as what is asked for is still wanted: a long choice of tests must not hold up a new reading.
pub(crate) struct Patient<'a> {
    pub(crate) bench: &'a Bench,
    pub(crate) overtaken: &'a (dyn Fn() -> bool + Sync),
}

impl Predict for Patient<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        if (self.overtaken)() {
            Err(BenchError::GivenUp)
        } else {
            self.bench.predict(question)
        }
    }
}

/// The reasoning with what it has asked the bench so far.
#[derive(Default)]
pub(crate) struct Mind {
    predictions: Predictions,
}

impl Mind {
    /// Works out what a state of the job means and tells it twice: the suspects as soon as they are known, then with what
    /// to measure next.
    ///
    /// # Errors
    /// [`BenchError::GivenUp`] once `overtaken`; any other is a defect.
    pub(crate) fn think(
        &mut self,
        desk: &Desk,
        version: u64,
        state: &State,
        overtaken: &(dyn Fn() -> bool + Sync),
        tell: &dyn Fn(Thought),
    ) -> Result<(), BenchError> {
        let bench = &Patient {
            bench: &desk.bench,
            overtaken,
        };
        let ground = desk.ground();
        let (circuit, faults) = (&*desk.circuit, &*Arc::clone(&ground.faults));
        let facts = Facts::of(state, faults);
        let entries: Vec<&Entry> = state.entries().collect();
        let grounded = Grounded::try_new(ground, |Ground { circuit, faults }| {
            diagnosis::weigh(bench, circuit, faults, &facts.case(), &mut self.predictions)
        })?;
        let belief = grounded.borrow_dependent();
        let findings = belief.findings(bench, &mut self.predictions, None)?;
        let mut view = frame(desk, version, state);
        view.readings = reading_views(circuit, state, Some(&findings));
        told(desk, &facts.intake, &findings, &entries, &mut view);
        let known = Arc::new(Known {
            grounded,
            findings,
            facts,
        });
        tell(Thought {
            state: state.clone(),
            view: view.clone(),
            known: Some(Arc::clone(&known)),
            next: Vec::new(),
        });
        let now = here(state);
        let options = Options {
            n: PROPOSALS,
            costs: known.facts.costs(),
            ..Options::default()
        };
        let proposed = diagnosis::propose(&known.scene(bench, &now), &mut self.predictions, &options)?;
        let (proposals, at_once) = (&proposed.proposals, options.costs.at_once(known.belief()));
        view.chosen_from = words::chosen_from(&proposed.counted);
        view.bill = at_once.map(|at_once| {
            let case = known.facts.case();
            let bill = options.costs.bill(circuit, faults, &case, &proposed, &at_once);
            BillView {
                words: words::bill(faults, &at_once, &bill),
                ask_first: bill.asks_first(),
            }
        });
        view.next = proposals
            .iter()
            .map(|one| proposal(circuit, faults, &now, one))
            .collect();
        view.proposals_pending = false;
        let settled = known.findings.clone().settled(&proposed, at_once);
        told(desk, &known.facts.intake, &settled, &entries, &mut view);
        let next = proposals.first().map(|first| first.tests.clone()).unwrap_or_default();
        let tell = |view: &AnswerView, known: &Arc<Known>| {
            let (view, known) = (view.clone(), Some(Arc::clone(known)));
            tell(Thought {
                state: state.clone(),
                view,
                known,
                next: next.clone(),
            });
        };
        tell(&view, &known);
        // Last, what takes longest: which suspects no test within reach tells apart.
        let offer = diagnosis::offer(circuit, &now, OFFER_CHANGES, false);
        let findings = known
            .belief()
            .findings(bench, &mut self.predictions, Some(&offer))?
            .settled(&proposed, at_once);
        told(desk, &known.facts.intake, &findings, &entries, &mut view);
        view.working = false;
        tell(&view, &known);
        let scene = known.scene(bench, &now);
        diagnosis::look_ahead(&scene, &known.facts.case(), proposals, &options, &mut self.predictions)
    }
}

impl Known {
    pub(crate) fn belief(&self) -> &Belief<'_> {
        self.grounded.borrow_dependent()
    }

    /// What questions about tests are asked with.
    pub(crate) fn scene<'s>(&'s self, bench: &'s dyn Predict, now: &'s SetUp) -> Scene<'s, 's> {
        let Ground { circuit, faults } = self.grounded.borrow_owner();
        Scene {
            bench,
            circuit,
            faults,
            belief: self.belief(),
            readings: self.facts.case().current_readings(),
            now,
        }
    }
}

/// How the vehicle stands.
pub(crate) fn here(state: &State) -> SetUp {
    state.stands.clone().unwrap_or_else(SetUp::normal)
}

fn intake(desk: &Desk, state: &State) -> IntakeView {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let said = Facts::of(state, faults).intake;
    let starts = diagnosis::starts(circuit, faults, &said);
    let ids = |parts: &[circuit::PartId]| parts.iter().map(|part| circuit.parts[part.idx()].id.clone()).collect();
    IntakeView {
        complaint: state.complaint.clone(),
        told: state.told.clone(),
        photos: state.photos.iter().map(photo).collect(),
        starts: starts
            .iter()
            .filter_map(|start| words::start::view(circuit, start))
            .collect(),
        replaced: ids(&state.replaced),
        disturbed: ids(&state.disturbed),
        accessories: ids(&state.accessories),
        water: state.water,
        accident: state.accident,
        comes_and_goes: state.comes_and_goes,
        authorised: state.authorised,
    }
}

fn photo(photo: &Photo) -> PhotoView {
    PhotoView {
        event: photo.event.clone(),
        at_ms: photo.at_ms,
        file: photo.file.clone(),
        words: photo.words.clone(),
    }
}

/// An answer with all that needs no reasoning.
fn frame(desk: &Desk, version: u64, state: &State) -> AnswerView {
    let events = &desk.events()[..version as usize];
    let steps = job::steps(events);
    let step = |id: Option<String>| {
        id.map(|event| Step {
            words: event_words(desk, state, &event),
            event,
        })
    };
    let span = match (events.first(), events.last()) {
        (Some(first), Some(last)) => last.at_ms.saturating_sub(first.at_ms),
        _ => 0,
    };
    AnswerView {
        version,
        latest: version,
        proposals_pending: true,
        working: true,
        failure: None,
        set_up: here(state).to_text(&desk.circuit),
        standing: standing(state.standing.0).0,
        intake: intake(desk, state),
        readings: Vec::new(),
        twin: twin_views(&desk.circuit, state),
        acts: facts::told(&desk.circuit, &desk.faults(), state),
        undo: step(steps.undo),
        redo: step(steps.redo),
        suspects: Vec::new(),
        others: None,
        next: Vec::new(),
        conclusion: ConclusionView {
            kind: "open",
            words: "Keep measuring.".into(),
        },
        bill: None,
        chosen_from: String::new(),
        codes_share: None,
        notes: Vec::new(),
        repaired: state.repairs.last().is_some_and(|repair| repair.2.is_some()),
        troubles: state
            .troubles
            .iter()
            .map(|trouble| format!("An entry cannot be understood: {}", trouble.why))
            .collect(),
        minutes: span as f64 / 60_000.0,
        shop: None,
    }
}

/// Suspects and conclusion.
fn told(desk: &Desk, intake: &Intake, findings: &Findings, entries: &[&Entry], view: &mut AnswerView) {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let alone = |suspect: &&Suspect| suspect.chance >= LISTED_CHANCE;
    let listed = findings.suspects.iter().take_while(alone).count().min(LISTED);
    let (named, rest) = findings.suspects.split_at(listed);
    view.suspects = named.iter().map(|one| suspect(desk, intake, entries, one)).collect();
    let outside = SuspectView {
        fault: String::new(),
        what: "Something not in this picture".into(),
        also: String::new(),
        comes_and_goes: false,
        place: "check what else shares these wires and plugs".into(),
        exactly: String::new(),
        chance: findings.outside,
        percent: words::percent(findings.outside),
        alone: String::new(),
        repair: String::new(),
        cost: String::new(),
        look_alikes: Vec::new(),
        seen: String::new(),
        said: Vec::new(),
        why: Vec::new(),
    };
    if findings.outside >= LISTED_CHANCE {
        let position = view.suspects.partition_point(|one| one.chance >= findings.outside);
        view.suspects.insert(position, outside);
    }
    let chance: f64 = rest.iter().map(|one| one.chance).sum();
    let each = rest
        .first()
        .map(|one| format!("each {}", at_most(one.chance)))
        .unwrap_or_default();
    view.others = (!rest.is_empty()).then(|| OthersView {
        words: if rest.len() == 1 {
            "1 other".into()
        } else {
            format!("{} others", rest.len())
        },
        each,
        chance,
        percent: words::percent(chance),
        some: rest
            .iter()
            .take(NAMED_OTHERS)
            .map(|one| look_alike(circuit, faults, None, one.fault, one.chance))
            .collect(),
    });
    let (kind, words) = words::conclusion(circuit, faults, findings);
    view.conclusion = ConclusionView { kind, words };
    view.codes_share = words::codes_share(circuit, entries.iter().map(|entry| &entry.reading));
    view.notes = words::notes(circuit, findings);
}

fn at_most(chance: f64) -> String {
    if chance < LISTED_CHANCE {
        words::percent(chance)
    } else {
        format!("{} or less", words::percent(chance))
    }
}

fn look_alike(
    circuit: &Circuit,
    faults: &[Fault],
    of: Option<&Fault>,
    fault: circuit::FaultId,
    chance: f64,
) -> LookAlikeView {
    let one = &faults[fault.idx()];
    let brief = match of {
        Some(of) if of.parts == one.parts => outcomes::head(&one.what, ':').to_owned(),
        _ => words::parts(circuit, one),
    };
    LookAlikeView {
        fault: one.path.clone(),
        what: words::capital(&one.what),
        place: one.place.clone(),
        brief,
        chance,
        percent: words::percent(chance),
    }
}

fn suspect(desk: &Desk, intake: &Intake, entries: &[&Entry], suspect: &Suspect) -> SuspectView {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let fault = &faults[suspect.fault.idx()];
    let severity = match (&fault.severity, suspect.severity) {
        (Some(kind), Some((value, _, _))) if kind.unit == quantity::Unit::Ohm => {
            format!(" · about {}", quantity::with_digits(value, kind.unit, 2))
        }
        _ => String::new(),
    };
    // What comes after the semicolon is told when the suspect is opened.
    let place = fault.place.split_once(';').unwrap_or((&fault.place, ""));
    let others = suspect.look_alikes.iter().filter(|(other, _)| *other != suspect.fault);
    let mut why: Vec<WhyView> = entries
        .iter()
        .enumerate()
        .filter_map(|(idx, entry)| {
            let bits = suspect.bits.get(idx).copied()?;
            let expects = suspect.expects.get(idx).copied().flatten();
            Some(WhyView {
                event: entry.event.clone(),
                leaning: words::leaning(bits),
                words: words::why(circuit, &entry.reading, bits, expects),
            })
        })
        .collect();
    // What leans most comes first; equal ones stay in the order in which they were read.
    why.sort_by_key(|one| -one.leaning.abs());
    SuspectView {
        fault: fault.path.clone(),
        what: words::capital(&fault.what),
        also: words::also(faults, suspect).unwrap_or_default(),
        comes_and_goes: words::comes_and_goes(suspect),
        place: format!("{}{severity}", place.0),
        exactly: place.1.trim().to_owned(),
        chance: suspect.chance,
        percent: words::percent(suspect.chance),
        alone: suspect
            .look_alikes
            .iter()
            .find(|(like, _)| *like == suspect.fault)
            .map_or_else(String::new, |(_, chance)| words::percent(*chance)),
        repair: words::capital(&fault.repair.words),
        cost: words::cost(fault),
        look_alikes: others
            .map(|(other, chance)| look_alike(circuit, faults, Some(fault), *other, *chance))
            .collect(),
        seen: words::capital(&desk.shop().words(circuit, fault)),
        said: words::start::of(circuit, intake, fault),
        why,
    }
}

fn proposal(circuit: &Circuit, faults: &[Fault], now: &SetUp, proposal: &Proposal) -> ProposalView {
    let set_up = proposal
        .tests
        .first()
        .map_or_else(SetUp::normal, |test| test.set_up.clone());
    let mut how = words::changes(circuit, now, &set_up);
    if proposal.tests.len() > 1 {
        how.push(
            proposal
                .tests
                .iter()
                .map(|test| words::placement(circuit, &test.placement))
                .collect::<Vec<_>>()
                .join("; "),
        );
    }
    let outcomes = outcome_views(outcomes::of(circuit, faults, proposal));
    ProposalView {
        title: words::title(circuit, &proposal.tests),
        how,
        minutes: words::minutes(proposal.minutes),
        set_up: set_up.to_text(circuit),
        tests: proposal.tests.iter().map(|one| test(circuit, one)).collect(),
        outcomes,
        safety: safety(circuit, faults, &proposal.judgement, &proposal.tests),
    }
}

/// Outcomes in the form that the page draws.
pub(crate) fn outcome_views(outcomes: Vec<outcomes::OutcomeWords>) -> Vec<OutcomeView> {
    let each = outcomes.into_iter();
    each.map(|outcome| OutcomeView {
        percent: words::percent(outcome.chance),
        shows: outcome.shows,
        means: outcome.means,
        chance: outcome.chance,
    })
    .collect()
}

/// A test in the form that the page keeps.
pub(crate) fn test(circuit: &Circuit, test: &Test) -> TestView {
    let point = |id: circuit::PointId| circuit.points[id.idx()].path.clone();
    let (instrument, places) = match &test.placement {
        Placement::Voltmeter { red, black } => ("voltmeter", vec![point(*red), point(*black)]),
        Placement::Alternating { shows, red, black } => {
            let instrument = match shows {
                Alternating::Volts => "ac",
                Alternating::Hertz => "frequency",
                Alternating::Duty => "duty",
            };
            (instrument, vec![point(*red), point(*black)])
        }
        Placement::Ohmmeter { red, black } => ("ohmmeter", vec![point(*red), point(*black)]),
        Placement::DiodeTest { red, black } => ("diode", vec![point(*red), point(*black)]),
        Placement::Continuity { red, black } => ("continuity", vec![point(*red), point(*black)]),
        Placement::Ammeter { red, black } => ("ammeter", vec![point(*red), point(*black)]),
        Placement::TestLight { tip, clip } => ("light", vec![point(*tip), point(*clip)]),
        Placement::Clamp { around } => ("clamp", vec![circuit.branches[around.idx()].path.clone()]),
        Placement::Scan { channel } => ("scan", vec![circuit.channels[channel.idx()].id.clone()]),
        Placement::Code { monitor } => ("code", vec![circuit.monitors[monitor.idx()].code.clone()]),
    };
    TestView {
        test: test.placement.to_text(circuit),
        words: words::placement(circuit, &test.placement),
        instrument,
        places,
    }
}

/// Whether something may be done, and what to mind.
pub(crate) fn safety(circuit: &Circuit, faults: &[Fault], judgement: &Judgement, tests: &[Test]) -> SafetyView {
    let mut lines: Vec<String> = Vec::new();
    for line in judgement
        .dangers
        .iter()
        .map(|danger| words::danger(circuit, faults, danger))
    {
        if lines.len() < 3 && !lines.contains(&line) {
            lines.push(line);
        }
    }
    let (verdict, first) = match &judgement.verdict {
        Verdict::Safe => ("safe", Vec::new()),
        Verdict::First(tests) => ("first", tests.clone()),
        Verdict::Refused => ("refused", Vec::new()),
    };
    SafetyView {
        verdict,
        headline: words::headline(&judgement.verdict, &judgement.dangers),
        lines,
        first: first
            .iter()
            .map(|one| FirstView {
                set_up: one.set_up.to_text(circuit),
                words: words::placement(circuit, &one.placement),
                test: test(circuit, one),
            })
            .collect(),
        cautions: diagnosis::cautions_of(circuit, tests),
    }
}
