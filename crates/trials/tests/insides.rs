//! Insides that nobody documented: drawn with the vehicle, sharpened by its readings, and as sure as they say.

use bench::parse_test;
use circuit::{Change, parse};
use diagnosis::{Case, Intake, Predictions, weigh};
use trials::{Vehicle, Yard};

const SENSOR: &str = include_str!("../../../circuits/small/undocumented-input.toml");

/// What tells the pull of an input: its voltage with the sensor off, and with it on.
const TESTS: [&str; 4] = [
    "voltmeter S1.1 battery-; key on; S1 apart",
    "voltmeter S1.1 S1.2; key on",
    "voltmeter S1.1 S1.2; key on; oil 20 °C",
    "voltmeter S1.1 S1.2; key on; oil 100 °C",
];

#[test]
fn readings_tell_what_is_inside_and_how_sure_they_say() {
    let yard = Yard::new("sensor", parse(SENSOR).unwrap(), "key on", false).unwrap();
    let intake = Intake::default();
    let mut predictions = Predictions::default();
    let n = 40;
    let (mut before, mut of_truth, mut expected) = (0.0, 0.0, 0.0);
    let mut drawn = std::collections::BTreeSet::new();
    for job in 0..n {
        let vehicle = Vehicle::draw(&yard, 5, job, None);
        let readings: Vec<_> = TESTS
            .iter()
            .enumerate()
            .map(|(at, test)| {
                let test = parse_test(&yard.circuit, test).unwrap();
                vehicle.answer(&test, at).unwrap()
            })
            .collect();
        let belief = weigh(
            &yard.bench,
            &yard.circuit,
            &yard.faults,
            &Case::new(&intake, &readings),
            &mut predictions,
        )
        .unwrap();
        let findings = belief.findings(&yard.bench, &mut predictions, None).unwrap();
        let (pull, chances) = (&yard.circuit.unknowns[0], &findings.insides[0]);
        let sum: f64 = chances.iter().sum();
        assert!((sum - 1.0).abs() < 1e-6, "{sum}");
        drawn.insert(vehicle.insides[0]);
        before += pull.alternatives[vehicle.insides[0]].chance;
        of_truth += chances[vehicle.insides[0]];
        expected += chances.iter().map(|chance| chance * chance).sum::<f64>();
    }
    let [before, of_truth, expected] = [before, of_truth, expected].map(|sum: f64| sum / n as f64);
    println!("chance of what is true: {before:.3} before, {of_truth:.3} after, {expected:.3} by their own account");
    assert!(drawn.len() >= 6, "{drawn:?}");
    assert!(of_truth > 3.0 * before && of_truth > 0.42, "{before} {of_truth}");
    // Whoever is as often right as he says gives the truth, on average, the sum of his chances squared. A deviation of a
    // vehicle is about 0.25, of forty of them 0.04.
    assert!((of_truth - expected).abs() < 0.12, "{of_truth} {expected}");
}

#[test]
fn a_vehicle_has_one_alternative_of_each_unknown() {
    let yard = Yard::new("sensor", parse(SENSOR).unwrap(), "key on", false).unwrap();
    let unknown = &yard.circuit.unknowns[0];
    for job in 0..20 {
        let vehicle = Vehicle::draw(&yard, 1, job, None);
        let has: Vec<&Change> = vehicle.broken().faults.iter().flat_map(|one| &one.0.changes).collect();
        let chosen = &unknown.alternatives[vehicle.insides[0]];
        assert!(chosen.changes.changes.iter().all(|change| has.contains(&change)));
    }
}
