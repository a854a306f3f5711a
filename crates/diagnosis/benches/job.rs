//! A whole job on the demo circuit, step by step: `cargo bench -p diagnosis --bench job`.
//!
//! The van has water in its floor joint; every reading is the first proposal of the step before, as the bench predicts it
//! for that water. Each step is timed as the page waits for it: suspects, then what to measure next. The first pass has
//! nothing to go by but the readings before; in the second the time between readings is used to look ahead, as the page
//! does; the third finds the bench's answers in memory. With `-- cold` the first pass only.
#![expect(clippy::print_stdout, reason = "a table of times is what it is for")]

use std::error::Error;
use std::sync::Arc;
use std::time::{Duration, Instant};

use bench::{Bench, Hypothesis, Placement, Predict, Question, Reading, Shown, Test};
use circuit::{Fault, SetUp};
use diagnosis::{Case, Intake, Options, Predictions, Scene, look_ahead, propose, weigh};

/// What lies in the demo's floor joint, ohms.
const WATER_OHMS: f64 = 1500.0;
const MOST_STEPS: usize = 8;

fn main() -> Result<(), Box<dyn Error>> {
    let circuit = Arc::new(circuit::parse(circuit::DEMO).map_err(|mistakes| format!("{mistakes:?}"))?);
    let faults = circuit::possible_faults(&circuit);
    let mut bench = Bench::new(Arc::clone(&circuit))?;
    let water = faults
        .iter()
        .find(|fault| fault.path == "floor.7-8/b/leak")
        .ok_or("the demo has a wet joint")?;
    let mut predictions = Predictions::default();
    for pass in [
        "nothing looked ahead",
        "looked ahead between readings",
        "answers in memory",
    ] {
        if pass != "nothing looked ahead" && std::env::args().any(|word| word == "cold") {
            break;
        }
        println!("{pass}: suspects, next test, both; milliseconds");
        if pass != "answers in memory" {
            bench = Bench::new(Arc::clone(&circuit))?;
            predictions = Predictions::default();
        }
        let start = SetUp::normal();
        let mut readings = Vec::new();
        for text in [
            "scan pressure; fan commanded",
            "voltmeter S1.3 battery-; S1 apart; fan commanded",
        ] {
            let test = bench::parse_test(&circuit, text)?;
            readings.push(read(&bench, water, &test)?);
        }
        for _ in 0..MOST_STEPS {
            let started = Instant::now();
            let belief = weigh(
                &bench,
                &circuit,
                &faults,
                &Case::new(&Intake::default(), &readings),
                &mut predictions,
            )?;
            let weighed = started.elapsed();
            let now = readings.last().map_or(&start, |reading| &reading.test.set_up).clone();
            let scene = Scene {
                bench: &bench,
                circuit: &circuit,
                faults: &faults,
                belief: &belief,
                readings: &readings,
                now: &now,
            };
            let options = Options {
                n: 3,
                ..Options::default()
            };
            let proposals = propose(&scene, &mut predictions, &options)?.proposals;
            let all = started.elapsed();
            let last = readings.last().ok_or("it begins with readings")?;
            println!(
                "{:7.1} {:7.1} {:7.1}   after {} | {:.3}",
                milliseconds(weighed),
                milliseconds(all.saturating_sub(weighed)),
                milliseconds(all),
                last.test.to_text(&circuit),
                value(&last.shown),
            );
            let Some(first) = proposals.first() else { break };
            if pass == "looked ahead between readings" {
                let started = Instant::now();
                look_ahead(
                    &scene,
                    &Case::new(&Intake::default(), &readings),
                    &proposals,
                    &options,
                    &mut predictions,
                )?;
                println!(
                    "                          looked ahead in {:.0} ms",
                    milliseconds(started.elapsed())
                );
            }
            for test in &first.tests {
                readings.push(read(&bench, water, test)?);
            }
        }
    }
    Ok(())
}

/// What the vehicle shows.
fn read(bench: &Bench, water: &Fault, test: &Test) -> Result<Reading, Box<dyn Error>> {
    let hypotheses = [Hypothesis {
        faults: vec![(water, WATER_OHMS)],
    }];
    let question = Question::of(&hypotheses, test);
    let batch = bench.predict(question)?;
    let prediction = batch.predictions.first().ok_or("one test, one answer")?;
    let shown = match (prediction.kind, &test.placement) {
        (bench::Kind::OverRange, _) => Shown::OverRange,
        (_, Placement::TestLight { .. }) if prediction.value < 3.0 => Shown::Light(bench::Light::Off),
        (_, Placement::TestLight { .. }) => Shown::Light(bench::Light::Bright),
        _ => Shown::Number {
            value: (prediction.value * 1000.0).round() / 1000.0,
            resolution: 0.001,
        },
    };
    Ok(Reading {
        test: test.clone(),
        shown,
    })
}

fn value(shown: &Shown) -> f64 {
    match shown {
        Shown::Number { value, .. } => *value,
        _ => f64::NAN,
    }
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
