//! A discretised job weighed by the product and by a general library for Bayesian networks.
//!
//! Causes without severity, tests that only say yes or no: nothing is left to integrate, so both must agree to rounding. The
//! library's answers are in `outside/network.json`, made by `outside/network.py` (pyAgrum, exact inference); the tables that
//! it was given are checked against the product's assumptions here.

#![expect(clippy::unwrap_used, reason = "a test may panic")]

use bench::{Batch, BenchError, Kind, Placement, Predict, Prediction, Question, Reading, Shown, Test, parse_test};
use circuit::{Circuit, Fault, FaultId, possible_faults};
use diagnosis::{Case, Intake, Predictions, assumed, weigh};
use serde_json::{Value, json};

const PEDAL: &str = include_str!("../../../circuits/small/potentiometer.toml");

const CAUSES: [&str; 4] = ["W6/broken", "W7/broken", "W8/broken", "S1.1/bad terminal"];
const TESTS: [&str; 4] = [
    "continuity S1.1 S1.2; key off",
    "continuity S1.2 S1.3; key off",
    "continuity J1.1/a J1.1/b; key off",
    "continuity J1.2/a J1.2/b; key off",
];
/// What each test should show, in ohms, on the sound circuit and then with each cause. Our own figures.
const OHMS: [[f64; 4]; 5] = [
    [2.0, 3.0, 4.0, 5.0],
    [400.0, 4.0, 26.0, 8.0],
    [300.0, 200.0, 9.0, 40.0],
    [7.0, 500.0, 33.0, 22.0],
    [45.0, 6.0, 600.0, 28.0],
];

/// A bench that answers from the table.
struct Tabulated<'t>(&'t [Test]);

impl Predict for Tabulated<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        let one = |hypothesis: &bench::Hypothesis<'_>, placement: &Placement| {
            let cause = |fault: &Fault| CAUSES.iter().position(|path| *path == fault.path);
            let row = hypothesis
                .faults
                .first()
                .and_then(|(fault, _)| cause(fault))
                .map_or(0, |at| at + 1);
            let test = self.0.iter().position(|test| test.placement == *placement).unwrap_or(0);
            Prediction {
                kind: Kind::Number,
                value: OHMS[row][test],
                beyond: 0.0,
                by_param: Vec::new(),
                by_severity: vec![0.0; hypothesis.faults.len()],
                source_ohms: 0.0,
                ghost_volts: (0.0, 0.0),
                unsaid: None,
            }
        };
        let each = question.hypotheses.iter();
        Ok(Batch {
            predictions: each
                .flat_map(|hypothesis| {
                    question
                        .placements
                        .iter()
                        .map(|placement| one(hypothesis, placement))
                        .collect::<Vec<_>>()
                })
                .collect(),
            flows: Vec::new(),
        })
    }
}

/// What the network is made of, by the product's assumptions.
fn tables(circuit: &Circuit, tests: &[Test], before: &[f64]) -> Value {
    let beep = Shown::YesNo(true);
    let of = |test: usize, row: usize| {
        assumed::if_right(circuit, &tests[test].placement, &beep, Kind::Number, OHMS[row][test])
    };
    let placement = &tests[0].placement;
    json!({
        "before": before,
        "beeps": (0..OHMS.len()).map(|row| (0..TESTS.len()).map(|test| of(test, row)).collect()).collect::<Vec<Vec<f64>>>(),
        "wrong": assumed::wrong(circuit, placement),
        "beeps_if_wrong": assumed::if_wrong(circuit, placement, &beep),
        "beeps_if_disturbed": assumed::if_disturbed(circuit, placement, &beep),
        "disturbed": assumed::DISTURBED,
    })
}

fn numbers(value: &Value, into: &mut Vec<f64>) {
    match value {
        Value::Number(number) => into.push(number.as_f64().unwrap()),
        Value::Array(all) => all.iter().for_each(|one| numbers(one, into)),
        Value::Object(all) => all.values().for_each(|one| numbers(one, into)),
        _ => {}
    }
}

#[test]
fn a_discretised_job_is_weighed_as_a_general_library_weighs_it() {
    let circuit = circuit::parse(PEDAL).unwrap();
    let all = possible_faults(&circuit);
    let faults: Vec<Fault> = CAUSES
        .iter()
        .map(|path| all.iter().find(|fault| fault.path == *path).unwrap().clone())
        .collect();
    let tests: Vec<Test> = TESTS.iter().map(|text| parse_test(&circuit, text).unwrap()).collect();
    let bench = Tabulated(&tests);
    let chances = |readings: &[Reading]| {
        let intake = Intake::default();
        let mut memory = Predictions::default();
        let case = Case::new(&intake, readings);
        let belief = weigh(&bench, &circuit, &faults, &case, &mut memory).unwrap();
        let findings = belief.findings(&bench, &mut memory, None).unwrap();
        let each = (0..faults.len()).map(FaultId::from);
        let singles_only = findings.pairs == 0
            && findings.unknown_to_file.is_empty()
            && each.clone().all(|fault| belief.comes_and_goes(fault) == 0.0);
        let mut chances: Vec<f64> = each.map(|fault| belief.chance(fault)).collect();
        chances.push(belief.outside());
        (chances, singles_only)
    };
    let ours = tables(&circuit, &tests, &chances(&[]).0);
    let theirs: Value = serde_json::from_str(include_str!("outside/network.json")).unwrap();
    let (mut a, mut b) = (Vec::new(), Vec::new());
    numbers(&ours, &mut a);
    numbers(&theirs["tables"], &mut b);
    let same = a.len() == b.len() && a.iter().zip(&b).all(|(a, b)| (a - b).abs() < 1e-12);
    assert!(
        same,
        "the assumptions changed: run outside/network.py on these tables\nTABLES {ours}"
    );
    let mut compared = 0;
    for case in theirs["cases"].as_array().unwrap() {
        let shown = case["shown"].as_array().unwrap();
        let readings: Vec<Reading> = shown
            .iter()
            .zip(&tests)
            .filter_map(|(shown, test)| {
                Some(Reading {
                    test: test.clone(),
                    shown: Shown::YesNo(shown.as_bool()?),
                })
            })
            .collect();
        let (ours, singles_only) = chances(&readings);
        // Where single faults explain badly the product weighs more causes than this network has.
        if !singles_only {
            continue;
        }
        compared += 1;
        for (ours, theirs) in ours.iter().zip(case["chances"].as_array().unwrap()) {
            let theirs = theirs.as_f64().unwrap();
            assert!((ours - theirs).abs() < 1e-6, "{shown:?}: {ours} for {theirs}");
        }
    }
    println!("{compared} jobs compared");
    assert!(compared >= 20, "only {compared} jobs compared");
}
