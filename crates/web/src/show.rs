//! Answers to single questions: one test judged, what every point would read, the pictures with what is known on them.

use bench::{Hypothesis, Kind, Placement, Predict as _, Prediction, Question, Test};
use circuit::{Circuit, Fault, PointId, SetUp};
use diagnosis::Worth;
use job::Entry;
use picture::{Chosen, Flag, Look, Marks, Next, Picture, SuspectPlace, Suspicion, Tone, wiring};

use crate::desk::{Desk, held};
use crate::mind::{self, Known, Thought, here};
use crate::problem::Problem;
use crate::view::{ExpectRow, ExpectsView, JudgeQuery, JudgeView, PictureQuery, PictureView, SetUpQuery, SpotView};
use crate::{outcomes, words};

/// Two predictions differ if they are further apart than this many volts and this share: what a workshop meter tells
/// apart without doubt. Common practice, no source.
const APART_VOLTS: f64 = 0.05;
const APART_SHARE: f64 = 0.01;
/// A suspect below this chance is not hatched on the picture.
const MARKED_CHANCE: f64 = 0.03;

pub(crate) fn set_up(circuit: &Circuit, text: &str) -> Result<SetUp, Problem> {
    let text = if text.trim().is_empty() { "key on" } else { text };
    circuit::parse_set_up(circuit, text)
        .map_err(|error| Problem::unclear(format!("set-up `{text}`: {error}"), "Example: key on; S1 apart"))
}

pub(crate) fn fault<'a>(faults: &'a [Fault], path: &str) -> Result<Option<(usize, &'a Fault)>, Problem> {
    if path.is_empty() {
        return Ok(None);
    }
    let found = faults.iter().enumerate().find(|(_, fault)| fault.path == path);
    found.map(Some).ok_or_else(|| {
        Problem::unclear(
            format!("no fault of this circuit is called `{path}`"),
            "Use a suspect's name.",
        )
    })
}

/// A point by its path; none for an empty one.
pub(crate) fn point(circuit: &Circuit, path: &str) -> Result<Option<PointId>, Problem> {
    let found = circuit.points.iter().position(|point| point.path == path);
    match found {
        Some(idx) => Ok(Some(idx.into())),
        None if path.is_empty() => Ok(None),
        None => Err(Problem::unclear(
            format!("this circuit has no point `{path}`"),
            "Use a path of the vocabulary.",
        )),
    }
}

/// A panic was caught elsewhere or the bench refused what a check let through: a defect either way.
pub(crate) fn refused(_error: bench::BenchError) -> Problem {
    Problem::defect("the bench")
}

pub(crate) fn judge(desk: &Desk, query: &JudgeQuery) -> Result<JudgeView, Problem> {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let set_up = set_up(circuit, &query.set_up)?;
    let placement = bench::parse_placement(circuit, &query.test).map_err(|error| {
        Problem::unclear(
            format!("test `{}`: {error}", query.test),
            "Example: voltmeter S1.2 battery-",
        )
    })?;
    let thought = desk.thought();
    let known = thought.known.as_ref().ok_or_else(Problem::not_ready)?;
    let test = Test { placement, set_up };
    let judgement = diagnosis::judge(
        &known.scene(&desk.bench, &here(&thought.state)),
        &mut held(&desk.asked),
        &test,
    )
    .map_err(refused)?;
    let tells = matches!(judgement.worth, Worth::Tells { .. });
    let outcomes = if tells {
        let placements = std::slice::from_ref(&test.placement);
        let asked = &mut held(&desk.asked);
        let told =
            diagnosis::information(known.belief(), &desk.bench, asked, &test.set_up, placements).map_err(refused)?;
        let outcomes = told.first().map_or(&[][..], |told| &told.outcomes);
        mind::outcome_views(outcomes::of_tests(
            circuit,
            faults,
            std::slice::from_ref(&test),
            outcomes,
        ))
    } else {
        Vec::new()
    };
    let safety = mind::safety(circuit, faults, &judgement, std::slice::from_ref(&test));
    let healthy = predicted(
        desk,
        &test.set_up,
        std::slice::from_ref(&test.placement),
        &Hypothesis::default(),
    )?;
    Ok(JudgeView {
        words: words::capital(&words::placement(circuit, &test.placement)),
        set_up_words: words::set_up(circuit, &test.set_up),
        safety,
        tells,
        outcomes,
        worth: words::worth(circuit, faults, &test.placement, &judgement.worth),
        healthy: healthy
            .first()
            .map(|one| words::predicted(circuit, &test.placement, one)),
        remarks: test.set_up.remarks_in_words(circuit),
        version: thought.view.version,
    })
}

fn predicted(
    desk: &Desk,
    set_up: &SetUp,
    placements: &[Placement],
    hypothesis: &Hypothesis<'_>,
) -> Result<Vec<Prediction>, Problem> {
    let hypotheses = std::slice::from_ref(hypothesis);
    let question = Question::new(hypotheses, set_up, placements);
    desk.bench
        .predict(question)
        .map(|batch| batch.predictions)
        .map_err(refused)
}

/// A fault at the severity that the readings make most plausible, else in the middle of its range.
pub(crate) fn supposed<'a>(
    known: Option<&Known>,
    idx: usize,
    fault: &'a Fault,
    severity: Option<f64>,
) -> Hypothesis<'a> {
    let plausible = || {
        let suspects = &known?.findings.suspects;
        suspects
            .iter()
            .find(|suspect| suspect.fault.idx() == idx)?
            .severity
            .map(|(value, _, _)| value)
    };
    let middle = || {
        let centre = |range: circuit::Severity| {
            if range.logarithmic {
                (range.low * range.high).sqrt()
            } else {
                f64::midpoint(range.low, range.high)
            }
        };
        fault.severity.map(centre)
    };
    Hypothesis {
        faults: vec![(fault, severity.or_else(plausible).or_else(middle).unwrap_or(0.0))],
    }
}

pub(crate) fn expects(desk: &Desk, query: &SetUpQuery) -> Result<ExpectsView, Problem> {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let set_up = set_up(circuit, &query.set_up)?;
    let chosen = fault(faults, &query.suspect)?;
    if query
        .severity
        .is_some_and(|severity| !severity.is_finite() || severity < 0.0)
    {
        return Err(Problem::unclear(
            "the severity must be a number from 0 on",
            "Leave it out for the plausible one.",
        ));
    }
    let black = circuit.battery_minus;
    let points: Vec<PointId> = bench::reachable(circuit, &set_up)
        .into_iter()
        .map(|probe| probe.point)
        .filter(|point| *point != black)
        .collect();
    let volts = points.iter().map(|&red| Placement::Voltmeter { red, black });
    let scan = (0..circuit.channels.len()).map(|idx| Placement::Scan { channel: idx.into() });
    let placements: Vec<Placement> = scan.chain(volts).collect();
    let in_order = predicted(desk, &set_up, &placements, &Hypothesis::default())?;
    let thought = desk.thought();
    let known = thought.known.as_deref();
    let (under, broken) = match chosen {
        Some((idx, fault)) => {
            let broken = predicted(desk, &set_up, &placements, &supposed(known, idx, fault, query.severity))?;
            (format!("{}, {}", fault.what, fault.place), broken)
        }
        None => ("everything in order".into(), in_order.clone()),
    };
    let rows = placements
        .iter()
        .zip(broken.iter().zip(&in_order))
        .map(|(placement, (broken, in_order))| ExpectRow {
            point: words::red(placement)
                .map(|point| circuit.points[point.idx()].path.clone())
                .unwrap_or_default(),
            words: words::red(placement).map_or_else(
                || words::placement(circuit, placement),
                |point| words::point(circuit, point).to_owned(),
            ),
            shows: words::predicted(circuit, placement, broken),
            in_order: words::predicted(circuit, placement, in_order),
            differs: differ(broken, in_order),
        });
    Ok(ExpectsView {
        under,
        remarks: set_up.remarks_in_words(circuit),
        rows: rows.collect(),
    })
}

fn differ(one: &Prediction, other: &Prediction) -> bool {
    let apart = (one.value - other.value).abs();
    let number = one.kind == Kind::Number && other.kind == Kind::Number;
    one.kind != other.kind || (number && apart > APART_VOLTS.max(APART_SHARE * one.value.abs().max(other.value.abs())))
}

/// The wiring picture with readings, suspects, the next measurement and the leads on it.
pub(crate) fn picture(desk: &Desk, query: &PictureQuery) -> Result<PictureView, Problem> {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let set_up = set_up(circuit, &query.set_up)?;
    let chosen = fault(faults, &query.suspect)?;
    let leads = Chosen {
        red: point(circuit, &query.red)?,
        black: point(circuit, &query.black)?,
    };
    let thought = desk.thought();
    let marks = marks(desk, &thought, chosen.map(|(_, fault)| fault), leads);
    let drawn = wiring(circuit, &set_up, &marks, &look(query.width, "w"));
    let spots = drawn.spots.iter().map(|spot| {
        let place = &circuit.points[spot.point.idx()];
        let why = if spot.reachable {
            String::new()
        } else {
            words::blocked(circuit, spot.point)
        };
        let (point, words) = (place.path.clone(), place.words.clone());
        SpotView {
            point,
            words,
            x: spot.x,
            y: spot.y,
            reachable: spot.reachable,
            why,
        }
    });
    let focus = focus(&thought, chosen.map(|(_, fault)| fault), leads, faults, &drawn);
    Ok(PictureView {
        width: drawn.width,
        height: drawn.height,
        focus,
        spots: spots.collect(),
        svg: drawn.svg,
    })
}

/// Where one wants to look: at the leads, the chosen suspect, the next measurement, the first suspect, the last reading.
fn focus(thought: &Thought, chosen: Option<&Fault>, leads: Chosen, faults: &[Fault], drawn: &Picture) -> (f64, f64) {
    let at = |points: &[PointId]| {
        let there: Vec<(f64, f64)> = points
            .iter()
            .filter_map(|point| drawn.anchors.get(point.idx()).copied().flatten())
            .collect();
        let count = there.len() as f64;
        let sum = there.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        (!there.is_empty()).then(|| (sum.0 / count, sum.1 / count))
    };
    let next: Vec<PointId> = thought
        .next
        .iter()
        .filter_map(|test| words::red(&test.placement))
        .collect();
    let suspect = thought.known.as_ref().and_then(|known| known.findings.suspects.first());
    let last = thought
        .state
        .entries()
        .rev()
        .find_map(|entry| words::red(&entry.reading.test.placement));
    leads
        .red
        .and_then(|red| at(&[red]))
        .or_else(|| at(&chosen?.points))
        .or_else(|| at(&next))
        .or_else(|| at(&faults[suspect?.fault.idx()].points))
        .or_else(|| at(&[last?]))
        .unwrap_or((0.0, 0.0))
}

/// Plain attributes and classes: the page brings the style sheet, which its policy does not let a picture bring.
pub(crate) fn look(width: Option<f64>, id_prefix: &str) -> Look {
    Look {
        fill_width: width.unwrap_or(0.0),
        themed: false,
        background: false,
        id_prefix: id_prefix.into(),
    }
}

fn marks(desk: &Desk, thought: &Thought, chosen: Option<&Fault>, leads: Chosen) -> Marks {
    let (known, faults) = (thought.known.as_deref(), &*desk.faults());
    let mut flags: Vec<Flag> = Vec::new();
    let entries: Vec<&Entry> = thought.state.entries().collect();
    // The newest reading at a point is the one that hangs there.
    for (view, entry) in thought.view.readings.iter().zip(entries).rev() {
        let Some(point) = words::red(&entry.reading.test.placement) else {
            continue;
        };
        if flags.iter().all(|flag| flag.point != point) {
            let tone = if view.standing == "odd" { Tone::Off } else { Tone::Plain };
            flags.push(Flag {
                point,
                big: view.shown.clone(),
                small: view.verdict.clone(),
                tone,
            });
        }
    }
    let place = |fault: &Fault| SuspectPlace::Points(fault.points.clone());
    let suspicions = match chosen {
        Some(fault) => {
            vec![Suspicion {
                place: place(fault),
                strength: 1.0,
                label: words::capital(&fault.what),
            }]
        }
        None => known
            .map(|known| known.findings.suspects.as_slice())
            .unwrap_or_default()
            .iter()
            .filter(|suspect| suspect.chance >= MARKED_CHANCE)
            .map(|suspect| Suspicion {
                place: place(&faults[suspect.fault.idx()]),
                strength: suspect.chance,
                label: words::percent(suspect.chance),
            })
            .collect(),
    };
    let next: Vec<PointId> = thought
        .next
        .iter()
        .filter_map(|test| words::red(&test.placement))
        .collect();
    let next = (!next.is_empty()).then(|| Next {
        points: next,
        label: "measure here next".into(),
    });
    Marks {
        flags,
        suspicions,
        next,
        chosen: leads,
    }
}
