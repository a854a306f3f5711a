//! The pictures of a write-up: the wiring with the readings where they were taken and the place of the cause, and the voltage
//! staircase along the wire of the most telling voltage, as found and since the repair.

use bench::{BenchError, Hypothesis, Placement};
use circuit::{Circuit, PointId, SetUp};
use diagnosis::{Belief, Findings, Suspect};
use job::{Did, State};
use picture::{Band, Flag, Look, Marks, Path, PathPlace, SuspectPlace, Suspicion, Tone, wiring};
use report::Figure;

use super::account::Sources;
use super::cause::Cause;
use crate::show::look;
use crate::stairs::{self, Measured};
use crate::{outcomes, words};

/// Wide enough for the names along a wire, and not smaller than life on a page of A4.
const STAIRS_WIDTH: f64 = 650.0;
const STAIRS_HEIGHT: f64 = 270.0;
/// A cause below this chance is not hatched.
const MARKED_CHANCE: f64 = 0.03;

/// The pictures.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Pictures {
    pub(super) wiring: Figure,
    /// As found, then since the repair, as far as voltages were read.
    pub(super) stairs: Vec<Figure>,
}

/// Draws them.
///
/// # Errors
/// Those of the bench.
pub(super) fn of(
    of: &Sources<'_>,
    state: &State,
    belief: &Belief<'_>,
    findings: &Findings,
    causes: &[Cause],
) -> Result<Pictures, BenchError> {
    let circuit = of.circuit;
    let all: Vec<Measured<'_>> = state
        .entries()
        .enumerate()
        .map(|(at, entry)| {
            let test = &entry.reading.test;
            let standing = findings
                .readings
                .get(at)
                .and_then(|standing| standing.in_order.as_ref());
            Measured {
                entry,
                shown: words::shown(circuit, &test.placement, &entry.reading.shown),
                odd: standing.is_some_and(|in_order| !in_order.fits),
            }
        })
        .collect();
    let repaired = state.acts.iter().find(|act| matches!(act.did, Did::Repaired(_)));
    let last_repair = state.acts.iter().rev().find(|act| matches!(act.did, Did::Repaired(_)));
    let (before, _) = all.split_at(repaired.map_or(all.len(), |act| act.after.min(all.len())));
    let (_, since) = all.split_at(last_repair.map_or(all.len(), |act| act.after.min(all.len())));
    let leader = causes.first().filter(|cause| cause.chance > findings.outside);
    let suspect = leader.and_then(|leader| {
        let suspects = &findings.suspects;
        suspects
            .iter()
            .find(|one| one.fault == leader.leader() && one.also.is_none())
    });
    let telling = most_telling(circuit, before, suspect);
    let stands = telling.map_or_else(
        || {
            before
                .last()
                .map_or_else(SetUp::normal, |last| last.entry.reading.test.set_up.clone())
        },
        |(one, _)| one.entry.reading.test.set_up.clone(),
    );
    let mut stairs = Vec::new();
    if let Some((one, at)) = telling {
        let told = "As found. Line: what should be there; rings: what was measured; hatched: what the likeliest cause \
                    would have put there.";
        stairs.extend(staircase(
            of,
            &one.entry.reading.test.set_up,
            at,
            before,
            suspect,
            told,
        )?);
    }
    if let Some((one, at)) = most_telling(circuit, since, None).filter(|_| last_repair.is_some()) {
        let told = "Since the repair. Line: what should be there; rings: what was measured.";
        stairs.extend(staircase(of, &one.entry.reading.test.set_up, at, since, None, told)?);
    }
    Ok(Pictures {
        wiring: picture_of(of, belief, &stands, before, causes),
        stairs,
    })
}

/// The voltage against battery negative that speaks most for a suspect; the last one without a suspect.
fn most_telling<'m, 'e>(
    circuit: &Circuit,
    measured: &'m [Measured<'e>],
    suspect: Option<&Suspect>,
) -> Option<(&'m Measured<'e>, PointId)> {
    let volts = measured
        .iter()
        .enumerate()
        .filter_map(|(at, one)| match &one.entry.reading.test.placement {
            Placement::Voltmeter { red, black } if *black == circuit.battery_minus => Some((at, one, *red)),
            _ => None,
        });
    let bits = |at: usize| suspect.and_then(|one| one.bits.get(at).copied()).unwrap_or(0.0);
    let best = volts.max_by(|a, b| bits(a.0).total_cmp(&bits(b.0)));
    best.map(|(_, one, red)| (one, red))
}

fn picture_of(
    of: &Sources<'_>,
    belief: &Belief<'_>,
    set_up: &SetUp,
    measured: &[Measured<'_>],
    causes: &[Cause],
) -> Figure {
    let circuit = of.circuit;
    let mut flags: Vec<Flag> = Vec::new();
    // The newest reading at a point is the one that hangs there.
    for one in measured.iter().rev() {
        let Some(point) = words::red(&one.entry.reading.test.placement) else {
            continue;
        };
        if flags.iter().all(|flag| flag.point != point) {
            flags.push(Flag {
                point,
                big: one.shown.clone(),
                small: if one.odd { "not in order".into() } else { String::new() },
                tone: if one.odd { Tone::Off } else { Tone::Plain },
            });
        }
    }
    let likely = causes.iter().flat_map(|cause| &cause.members);
    let likely: Vec<_> = likely
        .filter(|(fault, _)| belief.chance(*fault) >= MARKED_CHANCE)
        .collect();
    let suspicions = likely.iter().map(|(fault, chance)| Suspicion {
        place: SuspectPlace::Points(of.faults[fault.idx()].points.clone()),
        strength: *chance,
        label: words::percent(*chance),
    });
    let marks = Marks {
        suspicions: suspicions.collect(),
        flags: flags.clone(),
        ..Marks::default()
    };
    let places: Vec<String> = likely
        .iter()
        .map(|(fault, _)| outcomes::short(&of.faults[fault.idx()]))
        .collect();
    let read: Vec<String> = flags
        .iter()
        .rev()
        .map(|flag| format!("{} at {}", flag.big, words::point(circuit, flag.point)))
        .collect();
    Figure {
        svg: wiring(circuit, set_up, &marks, &look(None, "wiring")).svg,
        caption: format!(
            "The wiring, drawn as it stood for the most telling reading ({}). On labels: the last reading at each point \
             before any repair, in whatever set-up it was taken. Hatched: where the cause may be, with its chance.",
            words::set_up(circuit, set_up)
        ),
        alternative: format!(
            "Wiring picture of {}. Readings: {}. Hatched: {}.",
            circuit.title,
            none_or(&read),
            none_or(&places)
        ),
    }
}

fn none_or(said: &[String]) -> String {
    if said.is_empty() {
        "none".into()
    } else {
        said.join("; ")
    }
}

/// The staircase through a point; nothing where no voltage is to be seen along it.
fn staircase(
    of: &Sources<'_>,
    set_up: &SetUp,
    through: PointId,
    measured: &[Measured<'_>],
    suspect: Option<&Suspect>,
    told: &str,
) -> Result<Option<Figure>, BenchError> {
    let circuit = of.circuit;
    let drawn = wiring(circuit, set_up, &Marks::default(), &Look::default());
    let along = stairs::path(circuit, set_up, &drawn, through);
    let along = stairs::one_a_part(circuit, measured, set_up, along);
    let mut hypotheses = vec![Hypothesis::default()];
    if let Some(suspect) = suspect {
        let fault = &of.faults[suspect.fault.idx()];
        let (_, low, high) = suspect.severity.unwrap_or_default();
        hypotheses.extend([low, high].map(|severity| Hypothesis {
            faults: vec![(fault, severity)],
        }));
    }
    let volts = stairs::voltages(of.bench, set_up, &hypotheses, &along)?;
    let n = along.len();
    let at = |hypothesis: usize, place: usize| volts.get(hypothesis * n + place).copied().flatten();
    let places = along.iter().enumerate().map(|(place, point)| PathPlace {
        name: stairs::name(circuit, &along, place),
        x: None,
        healthy: at(0, place),
        measured: stairs::rings(circuit, measured, set_up, *point),
    });
    let places: Vec<PathPlace> = places.collect();
    let bands = suspect.map(|suspect| {
        let part = of.faults[suspect.fault.idx()].parts.first();
        Band {
            label: format!(
                "with the fault at the {}",
                part.map_or("", |part| circuit.parts[part.idx()].called())
            ),
            strength: suspect.chance,
            volts: (0..n).map(|place| at(1, place).zip(at(2, place))).collect(),
        }
    });
    let path = Path {
        title: stairs::title(circuit, &along),
        places,
        bands: bands.into_iter().collect(),
    };
    if n < 2 || stairs::flat(&path) {
        return Ok(None);
    }
    let in_words = |place: &PathPlace| {
        let read = place.measured.iter().map(|ring| format!(", measured {}", ring.label));
        let should = place.healthy.map_or_else(
            || "nothing certain".into(),
            |volts| quantity::format(volts, quantity::Unit::Volt),
        );
        format!("{}: should be {should}{}", place.name, read.collect::<String>())
    };
    let alternative: Vec<String> = path.places.iter().map(in_words).collect();
    let id = format!("stairs{through:?}").replace(|letter: char| !letter.is_ascii_alphanumeric(), "-");
    Ok(Some(Figure {
        svg: picture::staircase(&path, STAIRS_HEIGHT, &look(Some(STAIRS_WIDTH), &id)),
        caption: format!("{}. {told} Set-up: {}.", path.title, words::set_up(circuit, set_up)),
        alternative: format!("{}. {}.", path.title, alternative.join("; ")),
    }))
}
