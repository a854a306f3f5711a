//! Proof of repair: which readings prove it, within which band each must lie, and what may still be wrong then.
//!
//! A reading proves a repair as far as what may still be there would move it out of its band. The band is what the mended
//! circuit shows: tolerances, battery voltage and the meter together, narrowed by what the readings before the repair have
//! taught. The readings are chosen once, when the work is done, so that bands do not move while one reads; the chances are
//! those of all readings. Limits: readings are chosen as if they were independent given the cause and its severity.

mod sweep;
#[cfg(test)]
mod tests;

use bench::{BenchError, Kind, Placement, Predict, Probe, Reading, Shown, Test};
use circuit::{Circuit, Fault, FaultId, SetUp};

pub use self::sweep::{Sweep, SweepStep, sweeps};
use crate::candidate::{self, Candidate, reading_minutes};
use crate::evidence::Sense;
use crate::information::{Shows, Table};
use crate::predictions::{Predictions, Wanted};
use crate::propose::Safety;
use crate::suspects::Foreseen;
use crate::{Belief, Case, Expected, Scene, weigh};

/// A band holds what the mended circuit shows in 99 of 100 vehicles: so many standard deviations either side of the middle
/// (two-sided 99 % of a normal distribution).
const BAND: f64 = 2.576;
/// The repair is proved, or the cause named, from this chance. Common practice, no source.
const ENOUGH: f64 = 0.95;
/// The repair is refuted from this chance that it is not.
const REFUTED: f64 = 0.5;
/// A band tells nothing if what is not mended lies in it as often as this.
const HARDLY_TELLS: f64 = 0.9;
/// No more readings once what is left weighs less than this beside the mended, or the next would take less than this share
/// of it away.
const LEFT_ENOUGH: f64 = 2e-3;
const TAKES_ENOUGH: f64 = 0.15;
/// Most readings.
const MOST_READINGS: usize = 5;
/// A point that wanders further than this by itself proves nothing, volts.
const WANDERS_VOLTS: f64 = 0.1;
/// What is still possible with less than this is not listed.
const LEAST_LEFT: f64 = 1e-4;
/// Digits of a reading that is only supposed: a share of its value, or of 1.
const RESOLUTION: f64 = 1e-3;

/// A repair on trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// Readings that prove it, in the order in which they are best taken.
    pub readings: Vec<ProofReading>,
    /// Chance that the vehicle is mended, 0 to 1: now, and once each of `readings` lies in the middle of its band.
    pub mended: Twice,
    /// The same that the cause is not in this circuit.
    pub outside: Twice,
    /// What may still be there, likeliest first.
    pub left: Vec<(FaultId, Twice)>,
    /// Share of what may still be there that comes and goes: readings at rest prove little against it.
    pub hides: f64,
    /// What the readings since the repair say.
    pub standing: ProofStanding,
}

/// A chance now, and then.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Twice {
    /// With the readings so far.
    pub now: f64,
    /// Once every reading that proves the repair lies in the middle of its band.
    pub then: f64,
}

/// What the readings since a repair say of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProofStanding {
    /// Nothing was read, or not enough.
    Open,
    /// The vehicle is mended with at least 95 %.
    Proved,
    /// It is more likely not mended.
    Refuted,
}

/// A reading that proves a repair.
#[derive(Clone, Debug, PartialEq)]
pub struct ProofReading {
    /// The test.
    pub test: Test,
    /// How the red lead gets there.
    pub probe: Option<Probe>,
    /// Minutes, change of set-up included.
    pub minutes: f64,
    /// What the mended circuit shows: a range holds 99 of 100.
    pub band: Expected,
    /// What the fault that was repaired would show if it were still there, at its plausible severity: 95 of 100.
    pub unrepaired: Option<Expected>,
    /// Chance that a vehicle that is not mended reads in the band nevertheless, over all that may still be there.
    pub missed: f64,
    /// Whether it was read since the repair, and lay in the band; the last time, if several.
    pub read: Option<bool>,
}

impl ProofReading {
    /// Whether the band can tell the mended vehicle from one that is not.
    pub fn tells(&self) -> bool {
        self.missed < HARDLY_TELLS
    }
}

/// A candidate with what it would show.
struct Judged {
    test: Test,
    probe: Option<Probe>,
    minutes: f64,
    band: Expected,
    /// By component: chance of the band.
    passes: Vec<f64>,
    foreseen: Vec<Foreseen>,
}

/// The last repair of a case on trial; `None` if nothing was done that changes the circuit. `now`: how the vehicle stands,
/// where nothing was read before the repair; else it stood as in the last of those readings, so that what proves the repair
/// does not change while one reads.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn proof(
    bench: &dyn Predict,
    circuit: &Circuit,
    faults: &[Fault],
    case: &Case<'_>,
    now: &SetUp,
    predictions: &mut Predictions,
) -> Result<Option<Proof>, BenchError> {
    let Some(last) = case.deeds.iter().rposition(|deed| deed.what.changes_circuit()) else {
        return Ok(None);
    };
    let n_before = case.deeds[last].after.min(case.readings.len());
    let (before, since) = case.readings.split_at(n_before);
    let when_done = Case {
        readings: before,
        deeds: &case.deeds[..=last],
        ..*case
    };
    let believed = weigh(bench, circuit, faults, &when_done, predictions)?;
    let scene = Scene {
        bench,
        circuit,
        faults,
        belief: &believed,
        readings: &[],
        now: before.last().map_or(now, |last| &last.test.set_up),
    };
    let mut readings = chosen(&scene, before, predictions)?;
    for reading in &mut readings {
        let taken = since.iter().rev().find(|taken| taken.test == reading.test);
        reading.read = taken.map(|taken| lies_in(&taken.shown, &reading.band));
    }
    let belief = weigh(bench, circuit, faults, case, predictions)?;
    let supposed: Vec<Reading> = readings
        .iter()
        .filter(|one| one.read.is_none())
        .filter_map(in_the_middle)
        .collect();
    let all = [case.readings, &supposed].concat();
    let then = weigh(
        bench,
        circuit,
        faults,
        &Case {
            readings: &all,
            ..*case
        },
        predictions,
    )?;
    Ok(Some(Proof {
        standing: standing(&belief, since, &readings),
        mended: twice(belief.mended(), then.mended()),
        outside: twice(belief.outside(), then.outside()),
        left: left(&belief, &then),
        hides: hides(&belief),
        readings,
    }))
}

fn twice(now: f64, then: f64) -> Twice {
    Twice { now, then }
}

fn standing(belief: &Belief<'_>, since: &[Reading], readings: &[ProofReading]) -> ProofStanding {
    let mended = belief.mended();
    let off = readings.iter().any(|reading| reading.read == Some(false));
    if since.is_empty() {
        ProofStanding::Open
    } else if mended <= 1.0 - REFUTED {
        ProofStanding::Refuted
    } else if mended >= ENOUGH && !off {
        ProofStanding::Proved
    } else {
        ProofStanding::Open
    }
}

fn left(belief: &Belief<'_>, then: &Belief<'_>) -> Vec<(FaultId, Twice)> {
    let mut left: Vec<(FaultId, Twice)> = (0..belief.faults.len())
        .map(FaultId::from)
        .map(|fault| (fault, twice(belief.still_there(fault), then.still_there(fault))))
        .filter(|(_, chance)| chance.now.max(chance.then) >= LEAST_LEFT)
        .collect();
    left.sort_by(|a, b| b.1.now.total_cmp(&a.1.now));
    left
}

fn hides(belief: &Belief<'_>) -> f64 {
    let of = |fault: usize| {
        let fault = FaultId::from(fault);
        (belief.still_there(fault), belief.comes_and_goes(fault))
    };
    let all = (0..belief.faults.len()).map(of);
    let (hidden, sum) = all.fold((0.0, 0.0), |(hidden, sum), (still, coming)| {
        (hidden + still * coming, sum + still)
    });
    if sum > 0.0 { hidden / sum } else { 0.0 }
}

/// The readings that take most of what may still be there for their minutes, each after those before it.
fn chosen(
    scene: &Scene<'_, '_>,
    before: &[Reading],
    predictions: &mut Predictions,
) -> Result<Vec<ProofReading>, BenchError> {
    let belief = scene.belief;
    let pool = judged(scene, before, predictions)?;
    let mut safety = Safety { scene, causes: None };
    // Weight of each point that is not mended, lessened by every reading chosen.
    let mut left: Vec<f64> = belief
        .components
        .iter()
        .map(|one| {
            if one.mended || one.is_outside() {
                0.0
            } else {
                one.chance
            }
        })
        .collect();
    let weights = left.clone();
    let all: f64 = weights.iter().sum();
    let mended = belief.mended().max(f64::MIN_POSITIVE);
    let mut open: Vec<&Judged> = pool.iter().collect();
    let mut readings: Vec<ProofReading> = Vec::new();
    let mut stands = scene.now.clone();
    while readings.len() < MOST_READINGS {
        let sum: f64 = left.iter().sum();
        if sum <= LEFT_ENOUGH * mended {
            break;
        }
        let minutes = |one: &Judged| circuit::minutes_between(scene.circuit, &stands, &one.test.set_up) + one.minutes;
        let taken = |one: &Judged| -> f64 {
            left.iter()
                .zip(&one.passes)
                .map(|(left, pass)| left * (1.0 - pass))
                .sum()
        };
        open.retain(|one| taken(one) >= TAKES_ENOUGH * sum && minutes(one).is_finite());
        let best = open
            .iter()
            .enumerate()
            .max_by(|(_, a), (_, b)| (taken(a) / minutes(a)).total_cmp(&(taken(b) / minutes(b))))
            .map(|(at, _)| at);
        let Some(at) = best else { break };
        let one = open.remove(at);
        if safety.of_all(std::slice::from_ref(&one.test))?.is_none() {
            continue;
        }
        let missed: f64 = weights
            .iter()
            .zip(&one.passes)
            .map(|(weight, pass)| weight * pass)
            .sum();
        readings.push(ProofReading {
            test: one.test.clone(),
            probe: one.probe,
            minutes: minutes(one),
            band: one.band.clone(),
            unrepaired: unrepaired(belief, one),
            missed: missed / all.max(f64::MIN_POSITIVE),
            read: None,
        });
        stands = one.test.set_up.clone();
        for (left, pass) in left.iter_mut().zip(&one.passes) {
            *left *= pass;
        }
    }
    Ok(readings)
}

/// Every test that might prove something, each with its band: those done before, and in the vehicle put together again,
/// standing as it stood then, as it stands now or as usual, what is quickly read.
fn judged(scene: &Scene<'_, '_>, before: &[Reading], predictions: &mut Predictions) -> Result<Vec<Judged>, BenchError> {
    let belief = scene.belief;
    let done = || before.iter().map(|reading| reading.test.set_up.clone());
    let standing = [scene.now.clone(), SetUp::normal()].into_iter().chain(done());
    let whole: Vec<SetUp> = standing.map(|set_up| put_together(&set_up)).collect();
    let mut seen: Vec<SetUp> = Vec::new();
    let wanted: Vec<Wanted> = belief.components.iter().map(|component| component.wanted).collect();
    let mut pool = Vec::new();
    for set_up in whole.iter().cloned().chain(done()) {
        if seen.contains(&set_up) {
            continue;
        }
        let probes = bench::reachable(scene.circuit, &set_up);
        let quick = |placement: &Placement| matches!(placement, Placement::Voltmeter { .. } | Placement::Scan { .. });
        let mut tests = if whole.contains(&set_up) {
            candidate::candidates(scene.circuit, &set_up, &probes)
        } else {
            Vec::new()
        };
        tests.retain(|one| quick(&one.placement));
        for reading in before.iter().filter(|reading| reading.test.set_up == set_up) {
            let placement = &reading.test.placement;
            if !tests.iter().any(|known| known.placement == *placement) {
                let reached = candidate::reach(scene.circuit, &probes, placement.clone());
                // Wherever the leads were, they were there once.
                tests.push(reached.unwrap_or_else(|| Candidate {
                    placement: placement.clone(),
                    probe: None,
                    reach_minutes: 0.0,
                    reading_minutes: reading_minutes(placement),
                    at: None,
                    ways: Vec::new(),
                }));
            }
        }
        let placements: Vec<Placement> = tests.iter().map(|one| one.placement.clone()).collect();
        let rows = predictions.fill(scene.bench, &belief.possible, &set_up, &placements, &wanted)?;
        for (candidate, row) in tests.into_iter().zip(rows) {
            let foreseen: Vec<Foreseen> = belief
                .components
                .iter()
                .map(|component| component.foresee(predictions.cell(row, component.wanted)))
                .collect();
            let Some((band, passes)) = band(belief, &candidate.placement, &foreseen) else {
                continue;
            };
            pool.push(Judged {
                minutes: candidate.reach_minutes + candidate.reading_minutes,
                probe: candidate.probe,
                test: Test {
                    placement: candidate.placement,
                    set_up: set_up.clone(),
                },
                band,
                passes,
                foreseen,
            });
        }
        seen.push(set_up);
    }
    Ok(pool)
}

/// The same with everything joined and fitted, nothing clipped in and nothing provoked: a repair is proved on the vehicle
/// as it drives.
fn put_together(set_up: &SetUp) -> SetUp {
    SetUp {
        key: set_up.key,
        sensed: set_up.sensed.clone(),
        commanded: set_up.commanded.clone(),
        ..SetUp::normal()
    }
}

/// What the mended circuit shows, and by component the chance of reading that. `None` where that is nothing to read.
fn band(belief: &Belief<'_>, placement: &Placement, foreseen: &[Foreseen]) -> Option<(Expected, Vec<f64>)> {
    let mended: Vec<bool> = belief.components.iter().map(|one| one.mended).collect();
    // What was repaired was nothing suspected: the sound circuit is what is known of a cause elsewhere.
    let any = mended.contains(&true);
    let sound = |at: usize| mended[at] || (!any && belief.components[at].is_outside());
    let sound_ones = || (0..foreseen.len()).filter(|at| sound(*at));
    let likeliest =
        sound_ones().max_by(|a, b| belief.components[*a].chance.total_cmp(&belief.components[*b].chance))?;
    let kind = foreseen[likeliest].kind;
    if matches!(kind, Kind::Live | Kind::NotRun | Kind::Unknown) {
        return None;
    }
    let is_number = !matches!(
        placement,
        Placement::TestLight { .. } | Placement::Continuity { .. } | Placement::Code { .. }
    );
    if is_number && kind == Kind::Number {
        let (down, up) = foreseen[likeliest].ghost_volts;
        if down + up > WANDERS_VOLTS {
            return None;
        }
        let (mean, sd) = moments(belief, placement, foreseen, sound_ones().collect())?;
        let (least, most) = Sense::of(belief.circuit, placement).shown_within();
        let (low, high) = ((mean - BAND * sd).max(least), (mean + BAND * sd).min(most));
        // What is beyond an end of the scale is shown at the end.
        let from = if low <= least { f64::NEG_INFINITY } else { low };
        let to = if high >= most { f64::INFINITY } else { high };
        let table = Table::around(belief, placement, foreseen, from, to);
        return Some((Expected::Range(low, high), of_cell(&table, 1)));
    }
    let table = if is_number {
        Table::around(belief, placement, foreseen, f64::INFINITY, f64::INFINITY)
    } else {
        Table::new(belief, placement, foreseen)
    };
    let n = table.cells.len();
    let of_likeliest = &table.chances[likeliest * n..(likeliest + 1) * n];
    let best = (0..n).max_by(|a, b| of_likeliest[*a].total_cmp(&of_likeliest[*b]))?;
    match &table.cells[best] {
        Shows::Is(shown) => Some((Expected::Is(shown.clone()), of_cell(&table, best))),
        Shows::Between(..) => None,
    }
}

/// By component: chance of one cell.
fn of_cell(table: &Table, cell: usize) -> Vec<f64> {
    table.chances.chunks(table.cells.len()).map(|row| row[cell]).collect()
}

/// Mean and standard deviation of what is shown under these points together, the instrument included.
fn moments(
    belief: &Belief<'_>,
    placement: &Placement,
    foreseen: &[Foreseen],
    points: Vec<usize>,
) -> Option<(f64, f64)> {
    let (mut weight, mut sum, mut square) = (0.0, 0.0, 0.0);
    for at in points {
        let shown = &foreseen[at];
        if shown.kind != Kind::Number || !shown.mean.is_finite() {
            continue;
        }
        let chance = belief.components[at].chance;
        let read = bench::accuracy(belief.circuit, placement, shown.mean, None).sd;
        weight += chance;
        sum += chance * shown.mean;
        square += chance * (shown.mean * shown.mean + shown.variance + read * read);
    }
    let mean = sum / weight;
    let sd = (square / weight - mean * mean).max(0.0).sqrt();
    (weight > 0.0).then_some((mean, sd))
}

/// What the likeliest of the faults that were mended would show if it were still there.
fn unrepaired(belief: &Belief<'_>, one: &Judged) -> Option<Expected> {
    let components = &belief.components;
    let mended = components.iter().filter(|point| point.mended);
    let fault = mended.max_by(|a, b| a.chance.total_cmp(&b.chance))?.fault?;
    let still: Vec<usize> = (0..components.len())
        .filter(|at| {
            components[*at].fault == Some(fault) && !components[*at].mended && components[*at].wanted.is_broken()
        })
        .collect();
    let likeliest = *still
        .iter()
        .max_by(|a, b| components[**a].chance.total_cmp(&components[**b].chance))?;
    let foreseen = &one.foreseen[likeliest];
    let placement = &one.test.placement;
    match one.band {
        Expected::Range(..) if foreseen.kind == Kind::Number => {
            let (mean, sd) = moments(belief, placement, &one.foreseen, still)?;
            let (least, most) = Sense::of(belief.circuit, placement).shown_within();
            let end = |value: f64| value.clamp(least, most);
            Some(Expected::Range(end(mean - 2.0 * sd), end(mean + 2.0 * sd)))
        }
        _ => match foreseen.kind {
            Kind::OverRange => Some(Expected::Is(Shown::OverRange)),
            Kind::NoCommunication => Some(Expected::Is(Shown::NoCommunication)),
            Kind::Number => {
                let table = Table::new(belief, placement, &one.foreseen);
                let n = table.cells.len();
                let row = &table.chances[likeliest * n..(likeliest + 1) * n];
                let best = (0..n).max_by(|a, b| row[*a].total_cmp(&row[*b]))?;
                match &table.cells[best] {
                    Shows::Is(shown) => Some(Expected::Is(shown.clone())),
                    Shows::Between(low, high) => Some(Expected::Range(*low, *high)),
                }
            }
            Kind::Live | Kind::NotRun | Kind::Unknown => None,
        },
    }
}

/// Whether what was shown lies in a band.
fn lies_in(shown: &Shown, band: &Expected) -> bool {
    match (band, shown) {
        // The last digit may have been rounded either way.
        (Expected::Range(low, high), Shown::Number { value, resolution }) => {
            let half = 0.5 * resolution.abs();
            (low - half..=high + half).contains(value)
        }
        (
            Expected::Range(low, high),
            Shown::Between {
                low: from, high: to, ..
            },
        ) => from >= low && to <= high,
        (Expected::Range(..), _) => false,
        (Expected::Is(is), shown) => is == shown,
    }
}

/// A reading in the middle of its band.
fn in_the_middle(reading: &ProofReading) -> Option<Reading> {
    let shown = match &reading.band {
        Expected::Range(low, high) => {
            let value = 0.5 * (low + high);
            let resolution = RESOLUTION * value.abs().max(1.0);
            value.is_finite().then_some(Shown::Number { value, resolution })?
        }
        Expected::Is(shown) => shown.clone(),
    };
    let test = reading.test.clone();
    Some(Reading { test, shown })
}
