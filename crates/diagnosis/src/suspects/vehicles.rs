//! Vehicles of the demo circuit drawn at random, weighed on the real bench: chances must be what they say.
//!
//! Fault, severity and parameters are drawn as the weighing assumes them, and so are the errors of the instruments; what
//! the vehicle shows is solved for its own parameters, not to first order.

use std::sync::Arc;

use bench::{Bench, CodeState, Kind, Placement, Reading, Shown, Test, accuracy, parse_test};
use circuit::Circuit;
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::*;
use crate::Intake;
use crate::simulate::{normal, sagged};

/// What may be measured, by set-up.
const TESTS: [(&str, &[&str]); 4] = [
    (
        "key on",
        &[
            "scan pressure",
            "voltmeter S1.3 battery-",
            "voltmeter S1.1 battery-",
            "voltmeter S1.2 battery-",
            "clamp W1",
        ],
    ),
    (
        "key on; fan commanded",
        &["scan pressure", "voltmeter S1.3 battery-", "clamp W6"],
    ),
    ("key running; fan commanded", &["scan pressure", "clamp W6"]),
    (
        "key on; S1 apart",
        &["scan pressure", "voltmeter S1.1 S1.2", "code P0533"],
    ),
];

struct Yard {
    circuit: Arc<Circuit>,
    faults: Vec<Fault>,
    bench: Bench,
    before: Vec<f64>,
    tests: Vec<Vec<Test>>,
}

struct Vehicle {
    /// `None`: something outside the circuit.
    fault: Option<(usize, f64)>,
    readings: Vec<Reading>,
}

impl Yard {
    fn new() -> Self {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).unwrap());
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        let before = prior::chances(&circuit, &faults, &Intake::default());
        let tests = TESTS
            .iter()
            .map(|(set_up, tests)| {
                let test = |test: &&str| parse_test(&circuit, &format!("{test}; {set_up}")).unwrap();
                tests.iter().map(test).collect()
            })
            .collect();
        Self {
            circuit,
            faults,
            bench,
            before,
            tests,
        }
    }

    fn draw(&self, rng: &mut impl Rng) -> Vehicle {
        let mut left = rng.random::<f64>();
        let mut fault = None;
        for (at, chance) in self.before.iter().enumerate() {
            if left < *chance {
                fault = Some(at);
                break;
            }
            left -= chance;
        }
        let fault = fault.map(|at| {
            let scale = Scale::of(&self.faults[at]);
            (at, scale.severity(rng.random::<f64>() * f64::from(scale.last())))
        });
        let theta: Vec<f64> = self.circuit.params.iter().map(|_| normal(rng)).collect();
        let disturbed = match rng.random::<f64>() {
            x if x < 0.4 => 0.03,
            x if x < 0.7 => 0.15,
            x if x < 0.9 => 0.4,
            _ => 0.8,
        };
        let disturbed = if fault.is_none() { disturbed } else { 0.0 };
        // A few set-ups, in each a few tests.
        let mut readings = Vec::new();
        for tests in &self.tests {
            if rng.random::<f64>() < 0.5 {
                continue;
            }
            let hypothesis = Hypothesis {
                faults: fault
                    .iter()
                    .map(|(at, severity)| (&self.faults[*at], *severity))
                    .collect(),
            };
            for test in tests {
                if rng.random::<f64>() < 0.5 {
                    readings.push(self.read(&hypothesis, test, &theta, disturbed, rng));
                }
            }
        }
        Vehicle { fault, readings }
    }

    fn read(
        &self,
        hypothesis: &Hypothesis<'_>,
        test: &Test,
        theta: &[f64],
        disturbed: f64,
        rng: &mut impl Rng,
    ) -> Reading {
        let here = sagged(&self.circuit, theta, rng);
        let question = bench::Question {
            theta: &here,
            ..bench::Question::of(std::slice::from_ref(hypothesis), test)
        };
        let right = self.bench.predict(question).unwrap().predictions.remove(0);
        let off = rng.random::<f64>() < disturbed;
        let slip = rng.random::<f64>() < crate::evidence::Sense::of(&self.circuit, &test.placement).wrong();
        let sd = accuracy(&self.circuit, &test.placement, right.value, None).sd;
        let shown = match test.placement {
            _ if right.kind == Kind::NoCommunication => Shown::NoCommunication,
            Placement::Code { monitor } => {
                let monitor = &self.circuit.monitors[monitor.idx()];
                let fails = monitor.limits.fails(right.value);
                let chances = if off || slip {
                    [0.25; 4]
                } else if fails {
                    [0.62, 0.12, 0.20, 0.06]
                } else {
                    [0.02, 0.04, 0.10, 0.84]
                };
                let states = [
                    CodeState::Present,
                    CodeState::Pending,
                    CodeState::History,
                    CodeState::NotSet,
                ];
                let mut left = rng.random::<f64>();
                let mut at = 0;
                while at < 3 && left >= chances[at] {
                    left -= chances[at];
                    at += 1;
                }
                Shown::Code(states[at])
            }
            _ if right.kind == Kind::OverRange => Shown::OverRange,
            _ => {
                let resolution = match test.placement {
                    Placement::Scan { .. } => 0.1,
                    _ => 0.01,
                };
                let wrong = off || slip;
                let value = match test.placement {
                    Placement::Scan { .. } if wrong => rng.random::<f64>() * 32.0,
                    Placement::Scan { .. } => (right.value + sd * normal(rng)).clamp(0.0, 32.0),
                    Placement::Clamp { .. } if wrong => {
                        0.02 * (20_000_f64.asinh() * (2.0 * rng.random::<f64>() - 1.0)).sinh()
                    }
                    _ if wrong => rng.random::<f64>() * 17.0 - 1.0,
                    _ => right.value + sd * normal(rng),
                };
                Shown::Number {
                    value: (value / resolution).round() * resolution,
                    resolution,
                }
            }
        };
        Reading {
            test: test.clone(),
            shown,
        }
    }

    fn weigh(&self, readings: &[Reading], predictions: &mut Predictions) -> Belief<'_> {
        let intake = Intake::default();
        weigh(
            &self.bench,
            &self.circuit,
            &self.faults,
            &Case::new(&intake, readings),
            predictions,
        )
        .unwrap()
    }

    /// What these tests show of a fault when nothing else is off, weighed.
    fn shown(&self, path: &str, severity: f64, tests: &[&str]) -> Belief<'_> {
        let hypothesis = Hypothesis {
            faults: vec![(&self.faults[self.find(path)], severity)],
        };
        let readings: Vec<Reading> = tests
            .iter()
            .map(|text| {
                let test = parse_test(&self.circuit, text).unwrap();
                let question = bench::Question::of(std::slice::from_ref(&hypothesis), &test);
                let value = self.bench.predict(question).unwrap().predictions[0].value;
                let shown = Shown::Number {
                    value: (value * 100.0).round() / 100.0,
                    resolution: 0.01,
                };
                Reading { test, shown }
            })
            .collect();
        self.weigh(&readings, &mut Predictions::default())
    }

    fn find(&self, path: &str) -> usize {
        self.faults.iter().position(|fault| fault.path == path).unwrap()
    }
}

#[test]
fn a_leak_that_runs_the_converter_into_its_end_in_one_set_up_only_is_found() {
    let yard = Yard::new();
    // With the fan the channel stands at its end, without it all but right: true of 1 kΩ to 5 kΩ and of nothing else in
    // the cell of the scale that holds them. Leaks of both sides of the joint are the same.
    for ohms in [900.0, 1500.0, 3000.0] {
        let tests = ["scan pressure; key on; fan commanded", "scan pressure; key on"];
        let belief = yard.shown("floor.7-8/b/leak", ohms, &tests);
        let chance = |path: &str| belief.weighed[yard.find(path)].chance;
        assert!(
            chance("floor.7-8/b/leak") > 0.1,
            "{ohms} Ω: {}",
            chance("floor.7-8/b/leak")
        );
        let ratio = chance("floor.7-8/a/leak") / chance("floor.7-8/b/leak");
        assert!((ratio - 1.0).abs() < 0.02, "{ohms} Ω: {ratio}");
    }
}

#[test]
fn faults_that_show_the_same_keep_the_ratio_they_had_before() {
    let yard = Yard::new();
    let belief = yard.shown(
        "M1.2/ground/added resistance",
        20.0,
        &[
            "scan pressure; key on",
            "clamp W6; key on; fan commanded",
            "clamp W6; key running; fan commanded",
            "voltmeter floor.8/b floor.6/b; key running",
            "scan pressure; key running",
        ],
    );
    // Chance a decade of severity, against what it was before: the ranges differ, 0.05 Ω and 0.5 mΩ to 10 MΩ.
    let told = |path: &str| {
        let fault = yard.find(path);
        let range = yard.faults[fault].severity.unwrap();
        let decades = (range.high / range.low).log10();
        belief.weighed[fault].chance / belief.weighed[fault].before * decades
    };
    let one = told("M1.2/contact resistance");
    for path in [
        "M1.2/ground/added resistance",
        "M1.2/crimp resistance",
        "W4/added resistance",
        "G1/added resistance",
    ] {
        assert!((told(path) / one - 1.0).abs() < 0.15, "{path}: {} of {one}", told(path));
    }
    assert!(belief.outside() < 0.1, "{}", belief.outside());
}

#[test]
fn chances_are_what_they_say() {
    calibrate(100, 1);
}

#[test]
#[ignore = "minutes"]
fn chances_of_many_vehicles_are_what_they_say() {
    calibrate(1000, 2);
}

/// Weighs `n` vehicles and compares how often each stated chance was right.
fn calibrate(n: usize, seed: u64) {
    let yard = Yard::new();
    let mut predictions = Predictions::default();
    let mut rng = Pcg64::seed_from_u64(seed);
    let limits = [1e-4, 1e-3, 1e-2, 0.1, 0.3, 0.6, 1.1];
    // By stated chance: (how often stated, sum of the chances, how often right).
    let mut bins = limits.map(|_| (0_u32, 0.0, 0_u32));
    // Vehicles whose fault fell below a thousandth of what it was before.
    let mut lost = Vec::new();
    for _ in 0..n {
        let vehicle = yard.draw(&mut rng);
        let belief = yard.weigh(&vehicle.readings, &mut predictions);
        let truth = vehicle.fault.map(|fault| fault.0);
        let mut count = |chance: f64, right: bool| {
            let at = limits.iter().position(|limit| chance < *limit).unwrap();
            bins[at].0 += 1;
            bins[at].1 += chance;
            bins[at].2 += u32::from(right);
        };
        for (fault, weighed) in belief.weighed.iter().enumerate() {
            count(weighed.chance, truth == Some(fault));
            if truth == Some(fault) && weighed.chance < 1e-3 * weighed.before.min(1.0) {
                lost.push(yard.faults[fault].path.clone());
            }
        }
        count(belief.outside, truth.is_none());
    }
    for (stated, expected, right) in bins {
        println!("stated {stated} times, {expected:.2} of them right by their chances, {right} in truth");
        // Three standard deviations of the count, and one vehicle for the normal approximations.
        let room = 3.0 * f64::sqrt(expected) + 1.0;
        assert!(
            (f64::from(right) - expected).abs() < room,
            "{right} for {expected:.2} of {stated}"
        );
    }
    assert!(lost.len() * 500 <= n.max(500), "{lost:?} of {n}");
}
