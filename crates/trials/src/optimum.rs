//! A circuit as a small table, on which the cheapest way of searching is known exactly.
//!
//! Vehicles are drawn as for every trial, each with its fault, severity, values, meter and slips; what each shows at a test
//! is frozen, and cut into ranges that a technician tells apart. Of the tests that draw no current, within one change of
//! the complaint's set-up, the few that tell most for their minutes are on offer. On that table [`diagnosis::Finite`] gives
//! the optimum by dynamic programming, and what the product's rule and others cost: same vehicles, same outcomes, same end,
//! same account. Limits: few tests and vehicles, outcomes certain; which tests are on offer is chosen greedily.

use std::collections::BTreeMap;

use bench::{BenchError, Placement, Shown, Test};
use diagnosis::{Costs, Cure, Finite, FiniteTest, Hands, MOST_VEHICLES, Rule};

use crate::vehicle::Vehicle;
use crate::yard::Yard;

/// Most ranges that the values of a test are cut into.
const MOST_RANGES: usize = 6;
/// Values closer than this many of the meter's spreads are one.
const APART: f64 = 4.0;
/// Tests that vehicles are asked for, the nearest set-ups first.
const ASKED: usize = 80;

/// What a table says of one circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Optimum {
    /// Name of the circuit.
    pub circuit: String,
    /// Vehicles drawn and tests on offer.
    pub size: (usize, usize),
    /// Expected cost of the best search, exactly.
    pub optimum: f64,
    /// What no search can beat on any table: the cure known from the start.
    pub least: f64,
    /// By the product's rule.
    pub product: f64,
    /// The test that tells most, its minutes not counted.
    pub one_step: f64,
    /// The tests in the order of the circuit's points.
    pub in_order: f64,
}

/// Draws a table of so many vehicles and tests and solves it.
///
/// # Errors
/// Those of the bench.
pub fn optimum(yard: &Yard, seed: u64, n_vehicles: usize, n_tests: usize) -> Result<Optimum, BenchError> {
    let finite = table(yard, seed, n_vehicles.min(MOST_VEHICLES), n_tests)?;
    Ok(Optimum {
        circuit: yard.name.clone(),
        size: (finite.vehicles.len(), finite.tests.len()),
        optimum: finite.optimum(),
        least: finite.least(),
        product: finite.by(Rule::Product),
        one_step: finite.by(Rule::OneStep),
        in_order: finite.by(Rule::InOrder),
    })
}

fn table(yard: &Yard, seed: u64, n_vehicles: usize, n_tests: usize) -> Result<Finite, BenchError> {
    let costs = Costs::default();
    let circuit = &*yard.circuit;
    let vehicles: Vec<Vehicle<'_>> = (0..n_vehicles as u64)
        .map(|job| Vehicle::draw(yard, seed, job, None))
        .collect();
    let mut kinds: BTreeMap<Option<&str>, usize> = BTreeMap::new();
    let mut prices = Vec::new();
    let mut needs = Vec::new();
    for vehicle in &vehicles {
        let key = vehicle
            .fault
            .map(|(fault, _)| yard.faults[fault.idx()].repair.key.as_str());
        let next = kinds.len();
        let kind = *kinds.entry(key).or_insert(next);
        if kind == prices.len() {
            prices.push(costs.of_cure(&yard.faults, key.map_or(Cure::Beyond, Cure::Repair)));
        }
        needs.push((1.0 / n_vehicles as f64, kind));
    }

    let asked: Vec<&Test> = yard
        .offer
        .iter()
        .filter(|test| draws_nothing(test))
        .take(ASKED)
        .collect();
    let start = Hands::free(yard.complaint.clone());
    let mut columns: Vec<(&Test, Vec<u8>, f64)> = Vec::new();
    for test in asked {
        let shown: Result<Vec<Shown>, BenchError> = vehicles
            .iter()
            .map(|vehicle| Ok(vehicle.answer(test, 0)?.shown))
            .collect();
        let outcomes = cut(circuit, &test.placement, &shown?);
        columns.push((test, outcomes, start.minutes_to(circuit, test)));
    }
    let on_offer = telling(&columns, &needs, n_tests);
    let mut places: Vec<(&circuit::SetUp, Option<circuit::ConnectorId>)> = Vec::new();
    let tests = on_offer.iter().map(|&at| {
        let (test, outcomes, _) = &columns[at];
        let place = (&test.set_up, connector(yard, test));
        let known = places.iter().position(|other| *other == place);
        let place = known.unwrap_or_else(|| {
            places.push(place);
            places.len() - 1
        });
        FiniteTest {
            shows: outcomes.clone(),
            place,
        }
    });
    let tests = tests.collect();
    let from = std::iter::once(start.clone()).chain(on_offer.iter().map(|&at| {
        let mut hands = start.clone();
        hands.take(columns[at].0);
        hands
    }));
    let row = |hands: Hands| {
        on_offer
            .iter()
            .map(|&at| hands.minutes_to(circuit, columns[at].0))
            .collect()
    };
    Ok(Finite {
        costs,
        prices,
        vehicles: needs,
        tests,
        minutes: from.map(row).collect(),
    })
}

/// A test that cannot harm whatever is wrong.
fn draws_nothing(test: &Test) -> bool {
    test.placement.only_looks()
}

fn connector(yard: &Yard, test: &Test) -> Option<circuit::ConnectorId> {
    let (red, _) = diagnosis::touched(&test.placement)?;
    match yard.circuit.points.get(red.idx())?.access {
        circuit::Access::WireSide(connector) | circuit::Access::PinSide(connector) => Some(connector),
        _ => None,
    }
}

/// What was shown, cut into outcomes: words as they are, numbers at the widest gaps that a meter tells apart.
fn cut(circuit: &circuit::Circuit, placement: &Placement, shown: &[Shown]) -> Vec<u8> {
    let number = |shown: &Shown| match shown {
        Shown::Number { value, .. } => Some(*value),
        _ => None,
    };
    let mut values: Vec<f64> = shown.iter().filter_map(number).collect();
    values.sort_by(f64::total_cmp);
    let gap = |two: &[f64]| {
        let sd =
            bench::accuracy(circuit, placement, two[0], None).sd + bench::accuracy(circuit, placement, two[1], None).sd;
        ((two[1] - two[0]) / sd.max(1e-9), 0.5 * (two[0] + two[1]))
    };
    let mut gaps: Vec<(f64, f64)> = values.windows(2).map(gap).filter(|gap| gap.0 > APART).collect();
    gaps.sort_by(|a, b| b.0.total_cmp(&a.0));
    gaps.truncate(MOST_RANGES - 1);
    let mut words: Vec<&Shown> = Vec::new();
    let mut word = |one| {
        let known = words.iter().position(|word| *word == one);
        known.unwrap_or_else(|| {
            words.push(one);
            words.len() - 1
        })
    };
    let each = shown.iter().map(|one| {
        let range = number(one).map(|value| gaps.iter().filter(|gap| value > gap.1).count());
        range.unwrap_or_else(|| MOST_RANGES + word(one))
    });
    each.map(|at| u8::try_from(at).unwrap_or(u8::MAX)).collect()
}

/// The few tests that tell most of the cure for their minutes, one after the other, in the order of the circuit's points.
fn telling(columns: &[(&Test, Vec<u8>, f64)], needs: &[(f64, usize)], n_tests: usize) -> Vec<usize> {
    let mut cells: Vec<Vec<u8>> = vec![Vec::new(); needs.len()];
    let mut chosen: Vec<usize> = Vec::new();
    while chosen.len() < n_tests {
        let left = |with: Option<usize>| {
            let mut joint: BTreeMap<(Vec<u8>, usize), f64> = BTreeMap::new();
            let mut alone: BTreeMap<Vec<u8>, f64> = BTreeMap::new();
            for (at, &(mass, kind)) in needs.iter().enumerate() {
                let mut cell = cells[at].clone();
                cell.extend(with.map(|test| columns[test].1[at]));
                *alone.entry(cell.clone()).or_default() += mass;
                *joint.entry((cell, kind)).or_default() += mass;
            }
            let bits = |p: &f64| -p * p.log2();
            joint.values().map(bits).sum::<f64>() - alone.values().map(bits).sum::<f64>()
        };
        let before = left(None);
        let rates = (0..columns.len())
            .filter(|at| !chosen.contains(at))
            .map(|at| ((before - left(Some(at))) / columns[at].2, at));
        let Some((rate, best)) = rates.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        if rate <= 1e-6 {
            break;
        }
        for (cell, shown) in cells.iter_mut().zip(&columns[best].1) {
            cell.push(*shown);
        }
        chosen.push(best);
    }
    chosen.sort_unstable();
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuits::BUILT_IN;

    #[test]
    fn no_way_beats_the_optimum_and_none_the_cure_known_from_the_start() {
        let of = BUILT_IN.iter().find(|of| of.name == "potentiometer").unwrap();
        let yard = Yard::built_in(of).unwrap();
        let found = optimum(&yard, 1, 40, 5).unwrap();
        assert_eq!(found.size, (40, 5));
        assert!(found.least < found.optimum, "{found:?}");
        for cost in [found.product, found.one_step, found.in_order] {
            assert!(cost >= found.optimum - 1e-9, "{found:?}");
        }
        assert_eq!(found, optimum(&yard, 1, 40, 5).unwrap(), "equal seeds, equal tables");
    }

    #[test]
    fn what_a_meter_does_not_tell_apart_is_one_outcome() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let volts = bench::parse_placement(&circuit, "voltmeter S1.3").unwrap();
        let number = |value: f64| Shown::Number {
            value,
            resolution: 0.001,
        };
        let shown = [number(0.0), number(5.0), number(5.001), Shown::NotTaken, number(12.0)];
        assert_eq!(cut(&circuit, &volts, &shown), [0, 1, 1, 6, 2]);
    }
}
