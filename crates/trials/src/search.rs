//! One search, from the complaint to a conclusion: the belief is weighed, a strategy chooses, the vehicle answers.
//!
//! It stops where the product stops, whatever the strategy: one repair carries 95 %, the cause is outside the circuit with
//! 80 %, repairing costs less than any further reading, or [`MOST_READINGS`].

use bench::{BenchError, Reading, Test};
use circuit::{Circuit, FaultId};
use diagnosis::{
    Belief, Case, Conclusion, Costs, Cure, Hands, Intake, Options, Predictions, Proposed, Scene, harm, propose, weigh,
};
use rand::RngExt as _;
use statrs::function::erf::erfc;

use crate::strategy::{Choice, Strategy, Turn};
use crate::vehicle::Vehicle;

/// Readings after which anybody would give up.
pub(crate) const MOST_READINGS: usize = 30;
/// As many proposals as the screen shows.
const PROPOSALS: usize = 3;
/// How far into a search the chance for the reliability curve is read off at most, readings.
const LATEST_LOOK: usize = 6;
/// Severities and values count for calibration only where the true fault has this chance: others are weighed roughly.
const LEAST_FOR_RANK: f64 = 0.05;

/// How a search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ended {
    /// A repair was named.
    Named,
    /// The cause was said to be outside the circuit.
    Outside,
    /// Repairing cost less than measuring on.
    RepairFirst,
    /// Nothing safe was left that tells anything.
    CannotTell,
    /// Too many readings.
    TooLong,
}

/// A test that was proposed as safe, or done, and would harm the vehicle as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Harm {
    /// The test, as text.
    pub test: String,
    /// What it harms.
    pub what: String,
    /// It was done.
    pub done: bool,
}

/// What came out of one search.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Name of the circuit.
    pub circuit: String,
    /// Number of the job: with seed and circuit it makes the vehicle again.
    pub job: u64,
    /// How the tests were chosen.
    pub strategy: Strategy,
    /// The fault; `None` outside the circuit.
    pub fault: Option<String>,
    /// Its severity, in its unit.
    pub severity: Option<f64>,
    /// How it ended.
    pub ended: Ended,
    /// The likeliest fault of the repair named, or the likeliest of all.
    pub leading: String,
    /// Chance of the repair named; of the likeliest where none was.
    pub chance: f64,
    /// The likeliest repair, or "outside", is what the vehicle needs.
    pub right: bool,
    /// The true fault is among the first group of look-alikes, or outside where that leads.
    pub group_right: bool,
    /// The readings, as `set-up | test | value`: what `probewise suspects` takes.
    pub readings: Vec<String>,
    /// Minutes until the end.
    pub minutes: f64,
    /// Cost until proven repaired, in the shop's money ([`Costs`]).
    pub cost: f64,
    /// What no way of searching can beat: the repair needed, its parts and its proof, known from the start.
    pub least: f64,
    /// Tests that would harm.
    pub harms: Vec<Harm>,
    /// At a moment fixed beforehand: chance of the likeliest repair or outside, and whether it was right.
    pub look: (f64, bool),
    /// At that moment: the share of belief in causes that come before the true one in the list of faults, outside last, and
    /// of its own a part drawn at random. Spread evenly over 0 to 1 if chances are what they say.
    pub cause_rank: f64,
    /// Which part of what was thought of the severity lies below the true one: 0 below a tenth, 1 below half, 2 below nine
    /// tenths, 3 above.
    pub severity_rank: Option<usize>,
    /// Share of what was thought of each learnt value that lies below the true one.
    pub value_ranks: Vec<f64>,
}

/// What leads in a belief.
struct Lead<'a> {
    cure: Cure<'a>,
    chance: f64,
}

fn lead<'a>(belief: &Belief<'a>) -> Lead<'a> {
    let outside = Lead {
        cure: Cure::Beyond,
        chance: belief.outside(),
    };
    match belief.repairs().first() {
        Some(&(key, chance)) if chance >= outside.chance => Lead {
            cure: Cure::Repair(key),
            chance,
        },
        _ => outside,
    }
}

/// Searches a vehicle. `memory` may be kept between searches of one yard; it changes no answer.
///
/// # Errors
/// Those of the bench.
pub fn search(vehicle: &Vehicle<'_>, strategy: Strategy, memory: &mut Predictions) -> Result<Record, BenchError> {
    let yard = vehicle.yard;
    let circuit = &*yard.circuit;
    let intake = Intake::default();
    let needed = vehicle.fault.map_or(Cure::Beyond, |(fault, _)| {
        Cure::Repair(yard.faults[fault.idx()].repair.key.as_str())
    });
    let look_at = vehicle.luck.of("look").random_range(0..=LATEST_LOOK);
    let mut look = None;
    let costs = Costs::default();
    let mut hands = Hands::free(yard.complaint.clone());
    let mut minutes = 0.0;
    let mut readings: Vec<Reading> = Vec::new();
    let mut harms = Vec::new();
    let (belief, ended) = loop {
        let belief = weigh(
            &yard.bench,
            circuit,
            &yard.faults,
            &Case::new(&intake, &readings),
            memory,
        )?;
        if look.is_none() && readings.len() >= look_at {
            look = Some((seen(&belief, needed), cause_rank(vehicle, &belief)));
        }
        let findings = belief.findings(&yard.bench, memory, None)?;
        match findings.conclusion {
            Conclusion::Found { .. } => break (belief, Ended::Named),
            Conclusion::Outside => break (belief, Ended::Outside),
            Conclusion::RepairFirst(_) | Conclusion::CannotTell => break (belief, Ended::CannotTell),
            Conclusion::Open if readings.len() >= MOST_READINGS => break (belief, Ended::TooLong),
            Conclusion::Open => {}
        }
        let mut turn = Turn {
            yard,
            scene: Scene {
                bench: &yard.bench,
                circuit,
                faults: &yard.faults,
                belief: &belief,
                readings: &readings,
                now: hands.now(),
            },
            memory,
            luck: vehicle.luck,
        };
        let proposed = proposed(&mut turn)?;
        if proposed.proposals.is_empty() {
            let ended = proposed.saves.map_or(Ended::CannotTell, |_| Ended::RepairFirst);
            break (belief, ended);
        }
        let choice = strategy.next(&mut turn, proposed.proposals)?;
        if choice.tests.is_empty() {
            break (belief, Ended::CannotTell);
        }
        harms.extend(harmful(vehicle, &choice, readings.len())?);
        for test in &choice.tests {
            minutes += hands.minutes_to(circuit, test);
            hands.take(test);
            readings.push(vehicle.answer(test, readings.len())?);
        }
    };
    let end = lead(&belief);
    let (look, cause_rank) = look.unwrap_or_else(|| (seen(&belief, needed), cause_rank(vehicle, &belief)));
    let cost = costs.of_minutes(minutes) + costs.until_cured(&yard.faults, &costs.in_order(&belief), needed);
    Ok(Record {
        circuit: yard.name.clone(),
        job: vehicle.luck.job,
        strategy,
        fault: vehicle.fault.map(|(fault, _)| yard.faults[fault.idx()].path.clone()),
        severity: vehicle
            .fault
            .and_then(|(fault, severity)| yard.faults[fault.idx()].severity.map(|_| severity)),
        ended,
        leading: leading(&belief, end.cure),
        chance: end.chance,
        right: end.cure == needed,
        group_right: group_right(vehicle, &belief, memory)?,
        readings: readings.iter().map(|reading| text(circuit, reading)).collect(),
        minutes,
        cost,
        least: costs.of_cure(&yard.faults, needed),
        harms,
        look,
        cause_rank,
        severity_rank: severity_rank(vehicle, &belief, memory)?,
        value_ranks: value_ranks(vehicle, &belief, memory)?,
    })
}

/// What the product would do: nobody measures where it would repair.
fn proposed(turn: &mut Turn<'_, '_>) -> Result<Proposed, BenchError> {
    let options = Options {
        n: PROPOSALS,
        cranking: turn.yard.cranking,
        ..Options::default()
    };
    propose(&turn.scene, turn.memory, &options)
}

fn text(circuit: &Circuit, reading: &Reading) -> String {
    let Test { set_up, placement } = &reading.test;
    let shown = reading.shown.to_text(placement, circuit);
    format!("{} | {} | {shown}", set_up.to_text(circuit), placement.to_text(circuit))
}

fn seen(belief: &Belief<'_>, needed: Cure<'_>) -> (f64, bool) {
    let lead = lead(belief);
    (lead.chance, lead.cure == needed)
}

/// Where the true cause lies in the belief, causes in the order of the list. Two faults at once count for both.
fn cause_rank(vehicle: &Vehicle<'_>, belief: &Belief<'_>) -> f64 {
    let faults = (0..belief.faults().len()).map(|at| belief.chance(FaultId::from(at)));
    let chances: Vec<f64> = faults.chain(std::iter::once(belief.outside())).collect();
    let own = vehicle.fault.map_or(chances.len() - 1, |(fault, _)| fault.idx());
    rank(&chances, own, vehicle.luck.of("rank").random())
}

/// The randomised probability integral transform of a draw from a list of weights (Czado, Gneiting, Held 2009,
/// doi 10.1111/j.1541-0420.2009.01191.x, from memory): evenly spread whatever the weights, if the draw follows them.
fn rank(weights: &[f64], drawn: usize, part: f64) -> f64 {
    let before: f64 = weights.iter().take(drawn).sum();
    let own = weights.get(drawn).copied().unwrap_or_default();
    (before + part * own) / weights.iter().sum::<f64>().max(f64::MIN_POSITIVE)
}

/// The likeliest fault that this cure would cure.
fn leading(belief: &Belief<'_>, cure: Cure<'_>) -> String {
    let Cure::Repair(key) = cure else {
        return "outside".to_owned();
    };
    let faults = belief.faults().iter().enumerate();
    let cured = faults.filter(|(_, fault)| fault.repair.key == key);
    let best = cured.max_by(|a, b| belief.chance(a.0.into()).total_cmp(&belief.chance(b.0.into())));
    best.map_or_else(String::new, |(_, fault)| fault.path.clone())
}

/// Tests of a choice that would harm this vehicle.
fn harmful(vehicle: &Vehicle<'_>, choice: &Choice, position: usize) -> Result<Vec<Harm>, BenchError> {
    let circuit = &*vehicle.yard.circuit;
    let bench = vehicle.bench_at(position);
    let broken = vehicle.broken();
    let mut found = Vec::new();
    let rest = choice.offered.iter().filter(|test| !choice.tests.contains(test));
    let all: Vec<(&Test, bool)> = choice
        .tests
        .iter()
        .map(|test| (test, true))
        .chain(rest.map(|test| (test, false)))
        .collect();
    for (test, done) in all {
        for what in harm(&bench, circuit, &broken, test)? {
            found.push(Harm {
                test: format!("{} | {}", test.set_up.to_text(circuit), test.placement.to_text(circuit)),
                what: format!("{what:?}"),
                done,
            });
        }
    }
    Ok(found)
}

/// Whether the first group of look-alikes holds the true fault, or outside leads and is true.
fn group_right(vehicle: &Vehicle<'_>, belief: &Belief<'_>, memory: &mut Predictions) -> Result<bool, BenchError> {
    let yard = vehicle.yard;
    let findings = belief.findings(&yard.bench, memory, Some(&yard.offer))?;
    let first = findings.suspects.first();
    let outside_leads = first.is_none_or(|first| belief.outside() > first.chance);
    Ok(match vehicle.fault {
        None => outside_leads,
        Some((fault, _)) => {
            !outside_leads && first.is_some_and(|first| first.look_alikes.iter().any(|alike| alike.0 == fault))
        }
    })
}

fn known(vehicle: &Vehicle<'_>, belief: &Belief<'_>) -> Option<(FaultId, f64)> {
    vehicle
        .fault
        .filter(|(fault, _)| belief.chance(*fault) >= LEAST_FOR_RANK)
}

fn severity_rank(
    vehicle: &Vehicle<'_>,
    belief: &Belief<'_>,
    memory: &mut Predictions,
) -> Result<Option<usize>, BenchError> {
    let Some((fault, severity)) = known(vehicle, belief) else {
        return Ok(None);
    };
    let findings = belief.findings(&vehicle.yard.bench, memory, None)?;
    let suspect = findings.suspects.iter().find(|suspect| suspect.fault == fault);
    let quantiles = suspect.and_then(|suspect| suspect.severity);
    Ok(quantiles.map(|(middle, low, high)| [low, middle, high].iter().filter(|&&at| severity > at).count()))
}

/// The battery is left out: it moves between the readings.
fn value_ranks(vehicle: &Vehicle<'_>, belief: &Belief<'_>, memory: &mut Predictions) -> Result<Vec<f64>, BenchError> {
    let findings = belief.findings(&vehicle.yard.bench, memory, None)?;
    let params = &vehicle.yard.circuit.params;
    let steady = |at: usize| {
        params
            .get(at)
            .is_some_and(|param| param.path != diagnosis::assumed::SAGS)
    };
    Ok(findings
        .learnt
        .iter()
        .filter(|(param, _, sd)| steady(param.idx()) && *sd > 0.0)
        .filter_map(|(param, mean, sd)| {
            let off = (vehicle.theta.get(param.idx())? - mean) / sd;
            Some(0.5 * erfc(-off * std::f64::consts::FRAC_1_SQRT_2))
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Luck, pick};

    #[test]
    fn ranks_are_even_where_draws_follow_the_weights_and_not_where_they_do_not() {
        assert!((rank(&[0.2, 0.5, 0.3], 1, 0.4) - 0.4).abs() < 1e-12);
        assert!((rank(&[1.0, 1.0], 1, 0.5) - 0.75).abs() < 1e-12);
        let (told, true_ones) = ([0.05, 0.6, 0.1, 0.25], [0.25, 0.25, 0.25, 0.25]);
        let mut rng = Luck { seed: 3, job: 0 }.of("ranks");
        let mut upper = |weights: [f64; 4]| {
            let draws = (0..4000).filter(|_| {
                let drawn = pick(&mut rng, weights.into_iter()).unwrap();
                rank(&told, drawn, rng.random()) < 0.5
            });
            draws.count() as f64 / 4000.0
        };
        // Standard deviation 0.008. By hand of the other: 0.25 · (1 + 0.45 / 0.6) = 0.4375.
        assert!((upper(told) - 0.5).abs() < 0.03);
        assert!((upper(true_ones) - 0.4375).abs() < 0.03);
    }
}
