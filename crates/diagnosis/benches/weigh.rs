//! Weighing and foreseeing on the demo circuit with all its faults: `cargo bench -p diagnosis`.
//!
//! The bench's answers are remembered, as they are on the page after the first reading in a set-up.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Placement, Predict, Question, Reading, Shown, Test};
use circuit::{Circuit, Fault, SetUp};
use diagnosis::{Case, Intake, Predictions, information, joint_information, weigh};

fn main() {
    divan::main();
}

struct Shop {
    circuit: Arc<Circuit>,
    faults: Vec<Fault>,
    bench: Bench,
    readings: Vec<Reading>,
    points: Vec<Placement>,
}

impl Shop {
    /// The demo circuit with water in the floor joint, and what fifteen tests show then.
    fn new() -> Self {
        Self::with(&[("floor/water", 300.0)])
    }

    /// The demo circuit with these faults at these severities.
    fn with(broken: &[(&str, f64)]) -> Self {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).expect("the demo circuit is right"));
        let faults = circuit::possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).expect("the demo circuit can be solved");
        let find = |path: &str| {
            let mut known = faults.iter();
            known.find(|fault| fault.path == path).expect("it can be broken")
        };
        let hypotheses = [Hypothesis {
            faults: broken.iter().map(|&(path, severity)| (find(path), severity)).collect(),
        }];
        let texts = [
            "scan pressure",
            "voltmeter S1.3 battery-; fan commanded",
            "voltmeter S1.1 battery-",
            "voltmeter S1.2 battery-; fan commanded",
            "voltmeter S1.3 battery-",
            "scan pressure; fan commanded",
            "voltmeter S1.2 battery-",
            "clamp W6; fan commanded",
            "voltmeter S1.1 battery-; fan commanded",
            "voltmeter S1.1 S1.2; S1 apart",
            "voltmeter S1.3 battery-; S1 apart",
            "scan pressure; S1 apart",
            "voltmeter S1.3 battery-; S1 apart; fan commanded",
            "code P0533",
            "voltmeter battery+ battery-",
        ];
        let readings = texts
            .iter()
            .map(|text| {
                let test: Test = bench::parse_test(&circuit, text).expect("the test exists");
                let question = Question::of(&hypotheses, &test);
                let value = bench.predict(question).expect("it can be asked").predictions[0].value;
                let shown = match test.placement {
                    Placement::Code { .. } => Shown::Code(bench::CodeState::Present),
                    _ => Shown::Number {
                        value: (value * 100.0).round() / 100.0,
                        resolution: 0.01,
                    },
                };
                Reading { test, shown }
            })
            .collect();
        let black = circuit.battery_minus;
        let points = bench::reachable(&circuit, &SetUp::default())
            .into_iter()
            .map(|probe| Placement::Voltmeter {
                red: probe.point,
                black,
            })
            .collect();
        Self {
            circuit,
            faults,
            bench,
            readings,
            points,
        }
    }

    fn weigh(&self, n_readings: usize, predictions: &mut Predictions) -> diagnosis::Belief<'_> {
        let readings = &self.readings[..n_readings];
        weigh(
            &self.bench,
            &self.circuit,
            &self.faults,
            &Case::new(&Intake::default(), readings),
            predictions,
        )
        .expect("they can be asked")
    }
}

/// All suspects after so many readings.
#[divan::bench(args = [1, 2, 5, 15])]
fn suspects(bencher: divan::Bencher<'_, '_>, n_readings: usize) {
    let shop = Shop::new();
    let mut predictions = Predictions::default();
    shop.weigh(n_readings, &mut predictions);
    bencher.bench_local(|| shop.weigh(n_readings, &mut predictions).outside());
}

/// All suspects after so many readings of a vehicle with two faults: every pair is looked at.
#[divan::bench(args = [3, 6])]
fn pairs(bencher: divan::Bencher<'_, '_>, n_readings: usize) {
    let shop = Shop::with(&[("floor/water", 300.0), ("G1/added resistance", 1.0)]);
    let mut predictions = Predictions::default();
    shop.weigh(n_readings, &mut predictions);
    bencher.bench_local(|| shop.weigh(n_readings, &mut predictions).outside());
}

/// What a voltmeter at each reachable point would tell, after one reading.
#[divan::bench]
fn all_points(bencher: divan::Bencher<'_, '_>) {
    let shop = Shop::new();
    let mut predictions = Predictions::default();
    let belief = shop.weigh(1, &mut predictions);
    let set_up = SetUp::default();
    let mut ask = || information(&belief, &shop.bench, &mut predictions, &set_up, &shop.points);
    ask().expect("they can be asked");
    bencher
        .counter(divan::counter::ItemsCount::new(shop.points.len()))
        .bench_local(ask);
}

/// What three points together would tell.
#[divan::bench]
fn three_points(bencher: divan::Bencher<'_, '_>) {
    let shop = Shop::new();
    let mut predictions = Predictions::default();
    let belief = shop.weigh(1, &mut predictions);
    let set_up = SetUp::default();
    let mut ask = || joint_information(&belief, &shop.bench, &mut predictions, &set_up, &shop.points[..3]);
    ask().expect("they can be asked");
    bencher.bench_local(ask);
}
