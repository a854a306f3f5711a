//! The demo circuit as read from its file: every possible fault is solved in several set-ups, and what it reads agrees
//! with ngspice (see `spice.rs` for tolerances).

mod common;
mod outside;

use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Placement, Predict, Question, parse_placement};
use circuit::{Fault, Mode, SetUp, parse_set_up, possible_faults};

fn demo() -> Bench {
    Bench::new(Arc::new(
        circuit::parse(circuit::DEMO).expect("the demo circuit is right"),
    ))
    .expect("the demo circuit makes a network")
}

fn middle(fault: &Fault) -> f64 {
    fault.severity.map_or(0.0, |s| {
        if s.logarithmic {
            (s.low * s.high).sqrt()
        } else {
            0.5 * (s.low + s.high)
        }
    })
}

fn in_set_up(bench: &Bench, text: &str) -> SetUp {
    parse_set_up(bench.circuit(), text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[test]
fn every_possible_fault_settles_and_every_reading_is_a_number() {
    let bench = demo();
    let faults = possible_faults(bench.circuit());
    let tests = [
        "voltmeter S1.3",
        "voltmeter S1.1",
        "voltmeter battery+",
        "scan pressure",
        "light S1.3",
        "clamp W23",
    ];
    let placements: Vec<Placement> = tests
        .iter()
        .map(|test| parse_placement(bench.circuit(), test).unwrap())
        .collect();
    let hypotheses: Vec<Hypothesis<'_>> = faults
        .iter()
        .flat_map(|fault| {
            let ends = fault.severity.map_or((0.0, 0.0), |s| (s.low, s.high));
            [ends.0, middle(fault), ends.1].map(|severity| Hypothesis {
                faults: vec![(fault, severity)],
            })
        })
        .collect();
    let of = |at: usize| &faults[at / tests.len() / 3];
    for text in [
        "key on",
        "key on; fan commanded",
        "key off",
        "key running; fan commanded",
        "key on; S1 apart",
    ] {
        let set_up = in_set_up(&bench, text);
        let question = Question {
            hypotheses: &hypotheses,
            set_up: &set_up,
            placements: &placements,
            theta: &[],
            with_flows: true,
        };
        let batch = bench.predict(question).unwrap();
        for (at, (prediction, flows)) in batch.predictions.iter().zip(&batch.flows).enumerate() {
            let what = || format!("{text}: {} under {}", tests[at % tests.len()], of(at).path);
            // A battery too weak for the fan lets its relay drop, recover and pull in again: it chatters, and no meter
            // shows a steady value. Everything else settles.
            let chatters = text.contains("fan") && of(at).mode == Mode::WeakSupply;
            assert!(prediction.kind != Kind::Unknown || chatters, "{}", what());
            assert!(prediction.value.is_finite(), "{}", what());
            assert!(
                prediction
                    .by_param
                    .iter()
                    .chain(&prediction.by_severity)
                    .all(|s| s.is_finite()),
                "{}",
                what()
            );
            assert!(
                flows
                    .branch_amps
                    .iter()
                    .chain(&flows.point_volts)
                    .all(|v| v.is_finite()),
                "{}",
                what()
            );
        }
    }
}

#[test]
fn equal_questions_get_equal_bits_on_any_number_of_threads() {
    let bench = demo();
    let faults = possible_faults(bench.circuit());
    let hypotheses: Vec<Hypothesis<'_>> = faults
        .iter()
        .map(|fault| Hypothesis {
            faults: vec![(fault, middle(fault))],
        })
        .collect();
    let placements = ["voltmeter S1.3", "ohmmeter S1.3", "scan pressure"]
        .map(|test| parse_placement(bench.circuit(), test).unwrap());
    let set_up = in_set_up(&bench, "key on; fan commanded");
    let question = Question::new(&hypotheses, &set_up, &placements);
    let first = bench.predict(question).unwrap();
    let bits = |batch: &bench::Batch| batch.predictions.iter().map(|p| p.value.to_bits()).collect::<Vec<_>>();
    // Another bench, fresh caches, one thread, hypotheses one by one in the other order.
    let other = demo();
    let one_by_one: Vec<_> = hypotheses
        .iter()
        .rev()
        .map(|hypothesis| {
            let hypotheses = std::slice::from_ref(hypothesis);
            other.predict(Question { hypotheses, ..question }).unwrap()
        })
        .collect();
    let again: Vec<u64> = one_by_one.iter().rev().flat_map(&bits).collect();
    assert_eq!(bits(&first), again);
    assert_eq!(bits(&first), bits(&bench.predict(question).unwrap()));
}

#[test]
fn the_story_of_the_demo() {
    let bench = demo();
    let circuit = bench.circuit();
    let faults = possible_faults(circuit);
    let water = faults
        .iter()
        .find(|fault| fault.path.contains("floor") && fault.path.contains('7') && fault.path.contains('8'))
        .expect("the demo has a leak between cavities 7 and 8 of the floor joint");
    let severity = water.severity.expect("a leak has a severity");
    let ask = |text: &str, test: &str, ohms: Option<f64>| {
        let set_up = in_set_up(&bench, text);
        let placement = [parse_placement(circuit, test).unwrap()];
        let hypotheses = [Hypothesis {
            faults: ohms.map(|ohms| (water, ohms)).into_iter().collect(),
        }];
        let question = Question::new(&hypotheses, &set_up, &placement);
        bench.predict(question).unwrap().predictions.remove(0).value
    };
    let leak = severity.low.max(100.0).min(severity.high);
    assert!((ask("key on", "scan pressure", None) - 8.0).abs() < 0.5);
    let lifted = ask("key on; fan commanded; S1 apart", "voltmeter S1.3", Some(leak));
    let healthy = ask("key on; fan commanded; S1 apart", "voltmeter S1.3", None);
    assert!(
        lifted > 5.0 && healthy < 1.0,
        "{} at {leak}: {lifted} V, healthy {healthy} V",
        water.path
    );
}

#[test]
fn the_demo_and_its_faults_agree_with_ngspice() {
    let bench = demo();
    let faults = possible_faults(bench.circuit());
    let set_up = in_set_up(&bench, "key on; fan commanded");
    if !outside::agrees(&bench, &set_up, &[], 20) {
        return;
    }
    // Every ninth: of all kinds and places, and few enough for a test.
    for fault in faults.iter().step_by(9) {
        outside::agrees(&bench, &set_up, &[(fault, middle(fault))], 5);
    }
}
