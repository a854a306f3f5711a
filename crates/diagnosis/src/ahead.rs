//! Questions answered before they are asked: while somebody walks to the vehicle, what the reading to come will need.
//!
//! It changes no answer, only when the bench is asked.

use std::ops::Range;

use bench::{BenchError, Kind, Placement, Prediction, Question, Reading, Shown, reachable};
use circuit::{Circuit, Fault, SetUp};

use crate::predictions::{Broken, Wanted};
use crate::severity::Scale;
use crate::{Alive, Case, Expected, Options, Outcome, Predictions, Proposal, Scene, propose, weigh};

/// Proposals that are rehearsed, and most outcomes of each, those not rarer than this.
const REHEARSED: usize = 2;
const OUTCOMES: usize = 3;
const LEAST_CHANCE: f64 = 0.03;
/// Placements a question: a reading that comes meanwhile waits for no more than one question.
const AT_ONCE: usize = 6;
/// Digits of a reading that is only supposed: a share of its value, or of 1.
const RESOLUTION: f64 = 1e-3;

/// Has the bench answer what weighing one of the proposed tests asks first; then rehearses the likelier outcomes of the
/// best ones, choice of the test after included; then what else is likely to be read in their set-ups. Stops where the
/// bench does, with what it has so far.
///
/// # Errors
/// Those of [`bench::Predict::predict`].
pub fn look_ahead(
    scene: &Scene<'_, '_>,
    case: &Case<'_>,
    proposals: &[Proposal],
    options: &Options<'_>,
    predictions: &mut Predictions,
) -> Result<(), BenchError> {
    let Scene { bench, faults, .. } = *scene;
    let possible = &scene.belief.possible;
    let wanted = all_ends(faults, possible.insides.len() as u16);
    for test in proposals.iter().flat_map(|proposal| &proposal.tests) {
        let placement = std::slice::from_ref(&test.placement);
        predictions.fill(bench, possible, &test.set_up, placement, &wanted)?;
    }
    for proposal in proposals.iter().take(REHEARSED) {
        let outcomes = proposal.outcomes.iter().filter(|one| one.chance >= LEAST_CHANCE);
        for outcome in outcomes.take(OUTCOMES) {
            let Some(supposed) = supposed(scene, proposal, outcome)? else {
                continue;
            };
            let readings = [case.readings, &supposed].concat();
            let case = Case {
                readings: &readings,
                ..*case
            };
            let belief = weigh(bench, scene.circuit, faults, &case, predictions)?;
            let now = supposed.last().map_or(scene.now, |last| &last.test.set_up);
            let after = Scene {
                belief: &belief,
                readings: case.current_readings(),
                now,
                ..*scene
            };
            propose(&after, predictions, options)?;
        }
    }
    let mut seen: Vec<&SetUp> = Vec::new();
    for test in proposals.iter().flat_map(|proposal| &proposal.tests) {
        if seen.contains(&&test.set_up) {
            continue;
        }
        seen.push(&test.set_up);
        for placements in likely(scene.circuit, &test.set_up).chunks(AT_ONCE) {
            predictions.fill(bench, possible, &test.set_up, placements, &wanted)?;
        }
    }
    Ok(())
}

/// Readings as an outcome's likeliest suspect shows them, or in its middle where none is known to lie within it; `None`
/// where it is not one of numbers.
///
/// # Errors
/// Those of [`bench::Predict::predict`].
pub(crate) fn supposed(
    scene: &Scene<'_, '_>,
    proposal: &Proposal,
    outcome: &Outcome,
) -> Result<Option<Vec<Reading>>, BenchError> {
    let typical = typical(scene, proposal, outcome)?;
    let each = proposal.tests.iter().zip(&outcome.shows).enumerate();
    let readings = each.map(|(at, (test, shows))| {
        let shown = match (&test.placement, shows) {
            (Placement::TestLight { .. } | Placement::Code { .. }, Expected::Range(..)) => return None,
            (_, Expected::Range(low, high)) => {
                let typical = typical.as_ref().and_then(|values| values.get(at).copied());
                let value = typical.unwrap_or(0.5 * (low + high));
                let resolution = RESOLUTION * value.abs().max(1.0);
                value.is_finite().then_some(Shown::Number { value, resolution })?
            }
            (_, Expected::Is(shown)) => shown.clone(),
        };
        let test = test.clone();
        Some(Reading { test, shown })
    });
    Ok(readings.collect())
}

/// What the tests show under the likeliest suspect of an outcome, at a severity at which that lies within it. The middle of a
/// range is often what nothing shows: a channel stands at its end or where it should.
fn typical(scene: &Scene<'_, '_>, proposal: &Proposal, outcome: &Outcome) -> Result<Option<Vec<f64>>, BenchError> {
    let Some(first) = proposal.tests.first() else {
        return Ok(None);
    };
    let placements: Vec<Placement> = proposal.tests.iter().map(|test| test.placement.clone()).collect();
    let within = |shows: &Expected, shown: &Prediction| match shows {
        Expected::Range(low, high) => shown.kind == Kind::Number && (*low..=*high).contains(&shown.value),
        Expected::Is(_) => true,
    };
    let alive = scene.belief.alive(LEAST_CHANCE * LEAST_CHANCE);
    for (fault, _) in &outcome.then {
        let mut of: Vec<&Alive<'_>> = alive.iter().filter(|one| one.fault == *fault).collect();
        of.sort_by(|a, b| b.share.total_cmp(&a.share));
        for one in of {
            let question = Question::new(std::slice::from_ref(&one.hypothesis), &first.set_up, &placements);
            let shown = scene.bench.predict(question)?.predictions;
            if outcome
                .shows
                .iter()
                .zip(&shown)
                .all(|(shows, shown)| within(shows, shown))
            {
                return Ok(Some(shown.iter().map(|shown| shown.value).collect()));
            }
        }
    }
    Ok(None)
}

/// The healthy circuit and every fault at the ends of its scale's cells, with each of so many insides of the modules.
pub(crate) fn all_ends(faults: &[Fault], insides: u16) -> Vec<Wanted> {
    let faults: Vec<&Fault> = faults.iter().collect();
    let healthy = (0..insides).map(Wanted::healthy);
    healthy.chain(ends_of(&faults, 0..faults.len(), insides)).collect()
}

/// Some of the faults at the ends of their scales' cells.
pub(crate) fn ends_of(faults: &[&Fault], of: Range<usize>, insides: u16) -> Vec<Wanted> {
    let mut wanted = Vec::new();
    for inside in 0..insides {
        for (fault, is) in of.clone().zip(&faults[of.clone()]) {
            wanted.extend(Scale::of(is).ends().map(|position| Wanted {
                inside,
                broken: Broken::One(fault, position),
            }));
        }
    }
    wanted
}

/// Scan data, codes, and points against battery negative.
fn likely(circuit: &Circuit, set_up: &SetUp) -> Vec<Placement> {
    let black = circuit.battery_minus;
    let points = reachable(circuit, set_up)
        .into_iter()
        .map(|probe| Placement::Voltmeter {
            red: probe.point,
            black,
        });
    let channels = (0..circuit.channels.len()).map(|channel| Placement::Scan {
        channel: channel.into(),
    });
    let codes = circuit.codes().map(|monitor| Placement::Code { monitor });
    channels.chain(codes).chain(points).collect()
}
