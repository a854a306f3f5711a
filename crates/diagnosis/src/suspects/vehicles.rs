//! Vehicles of the demo circuit drawn at random, weighed on the real bench: chances must be what they say.
//!
//! Fault, severity and parameters are drawn as the weighing assumes them, and so are the errors of the instruments; what
//! the vehicle shows is solved for its own parameters, not to first order.

use std::sync::Arc;

use bench::{Bench, CodeState, Kind, Light, Placement, Reading, Shown, Test, accuracy, parse_test};
use circuit::{Circuit, FaultId};
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::*;
use crate::simulate::normal;

/// What may be measured, by set-up.
const TESTS: [(&str, &[&str]); 4] = [
    ("key on", &["scan pressure", "voltmeter S1.3 battery-", "voltmeter S1.1 battery-", "voltmeter S1.2 battery-", "clamp W1"]),
    ("key on; fan commanded", &["scan pressure", "voltmeter S1.3 battery-", "clamp W6"]),
    ("key running; fan commanded", &["scan pressure", "clamp W6"]),
    ("key on; S1 apart", &["scan pressure", "voltmeter S1.1 S1.2", "code P0533"]),
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
        Self { circuit, faults, bench, before, tests }
    }

    fn path(&self, fault: usize) -> &str {
        &self.faults[fault].path
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
                faults: fault.iter().map(|(at, severity)| (&self.faults[*at], *severity)).collect(),
            };
            for test in tests {
                if rng.random::<f64>() < 0.5 {
                    readings.push(self.read(&hypothesis, test, &theta, disturbed, rng));
                }
            }
        }
        Vehicle { fault, readings }
    }

    fn read(&self, hypothesis: &Hypothesis<'_>, test: &Test, theta: &[f64], disturbed: f64, rng: &mut impl Rng) -> Reading {
        let mut here = theta.to_vec();
        if let Some(battery) = self.circuit.params.iter().position(|param| param.path == "battery") {
            here[battery] = 0.9_f64.sqrt() * theta[battery] + 0.1_f64.sqrt() * normal(rng);
        }
        let question = bench::Question {
            hypotheses: std::slice::from_ref(hypothesis),
            set_up: &test.set_up,
            placements: std::slice::from_ref(&test.placement),
            theta: &here,
            with_flows: false,
        };
        let right = self.bench.predict(question).unwrap().predictions.remove(0);
        let off = rng.random::<f64>() < disturbed;
        let slip = rng.random::<f64>() < crate::evidence::Sense::of(&self.circuit, &test.placement).wrong();
        let sd = accuracy(&self.circuit, &test.placement, right.value, None).sd;
        let shown = match test.placement {
            _ if right.kind == Kind::NoCommunication => Shown::NoCommunication,
            Placement::Code { monitor } => {
                let monitor = &self.circuit.monitors[monitor.idx()];
                let fails = monitor.below_volts.is_some_and(|limit| right.value < limit)
                    || monitor.above_volts.is_some_and(|limit| right.value > limit);
                let chances = if off || slip {
                    [0.25; 4]
                } else if fails {
                    [0.62, 0.12, 0.20, 0.06]
                } else {
                    [0.02, 0.04, 0.10, 0.84]
                };
                let states = [CodeState::Present, CodeState::Pending, CodeState::History, CodeState::NotSet];
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
                    Placement::Clamp { .. } if wrong => 0.02 * (20_000_f64.asinh() * (2.0 * rng.random::<f64>() - 1.0)).sinh(),
                    _ if wrong => rng.random::<f64>() * 17.0 - 1.0,
                    _ => right.value + sd * normal(rng),
                };
                Shown::Number { value: (value / resolution).round() * resolution, resolution }
            }
        };
        let _ = Light::Off;
        Reading { test: test.clone(), shown }
    }

    fn weigh(&self, readings: &[Reading], predictions: &mut Predictions, effort: Effort) -> Belief<'_> {
        weigh_with(&self.bench, &self.circuit, &self.faults, &Intake::default(), readings, predictions, effort).unwrap()
    }

    fn said(&self, readings: &[Reading]) -> String {
        readings
            .iter()
            .map(|reading| format!("{} = {:?}; ", reading.test.to_text(&self.circuit), reading.shown))
            .collect()
    }
}

#[test]
fn explore_calibration() {
    let yard = Yard::new();
    let mut predictions = Predictions::default();
    let n: usize = std::env::var("N").map_or(60, |n| n.parse().unwrap());
    let dense: usize = std::env::var("DENSE").map_or(0, |n| n.parse().unwrap());
    let seed: u64 = std::env::var("SEED").map_or(1, |n| n.parse().unwrap());
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut tenths = [(0_u32, 0.0, 0_u32); 12];
    let mut score = 0.0;
    let started = std::time::Instant::now();
    let mut slow = 0.0_f64;
    for at in 0..n {
        let vehicle = yard.draw(&mut rng);
        let one = std::time::Instant::now();
        let belief = yard.weigh(&vehicle.readings, &mut predictions, Effort::USUAL);
        slow += one.elapsed().as_secs_f64();
        let truth = vehicle.fault.map_or(belief.outside, |(fault, _)| belief.weighed[fault].chance);
        let before = vehicle.fault.map_or(0.08, |(fault, _)| belief.weighed[fault].before);
        score -= truth.max(1e-12).ln();
        let mut count = |chance: f64, right: bool| {
            let place = if chance < 1e-3 { 0 } else if chance < 1e-2 { 1 } else { 2 + ((chance * 10.0) as usize).min(9) };
            tenths[place].0 += 1;
            tenths[place].1 += chance;
            tenths[place].2 += u32::from(right);
        };
        for (fault, weighed) in belief.weighed.iter().enumerate() {
            count(weighed.chance, vehicle.fault.is_some_and(|(truth, _)| truth == fault));
        }
        count(belief.outside, vehicle.fault.is_none());
        if truth < 0.05 * before {
            let top = belief.ranked()[0];
            let (path, severity) = vehicle.fault.map_or(("outside", 0.0), |(fault, s)| (yard.path(fault), s));
            println!("{at}: truth {path}={severity:.4} {truth:.2e} (before {before:.1e}); top {} {:.3}, outside {:.3}; {}", yard.path(top), belief.weighed[top].chance, belief.outside, yard.said(&vehicle.readings));
        }
        if at < dense || (dense > 0 && truth < 0.05 * before) {
            let full = yard.weigh(&vehicle.readings, &mut predictions, Effort::FULL);
            let all = |b: &Belief<'_>| b.weighed.iter().map(|w| w.chance).chain([b.outside]).collect::<Vec<_>>();
            let (a, b) = (all(&belief), all(&full));
            let worst = (0..a.len()).max_by(|&i, &j| (a[i] - b[i]).abs().total_cmp(&(a[j] - b[j]).abs())).unwrap();
            let name = |i: usize| if i < yard.faults.len() { yard.path(i) } else { "outside" };
            let truth_at = vehicle.fault.map_or(yard.faults.len(), |f| f.0);
            println!("   {at} dense: worst {} {:.4} vs {:.4}; truth {} {:.2e} vs {:.2e}; n {}", name(worst), a[worst], b[worst], name(truth_at), a[truth_at], b[truth_at], vehicle.readings.len());
        }
    }
    println!("{:.1} s, weigh {:.1} s, score {:.3}", started.elapsed().as_secs_f64(), slow, score / n as f64);
    for (stated, chances, right) in tenths {
        println!("stated {stated} mean {:.4} right {:.4} ({right} for {chances:.1})", chances / f64::from(stated), f64::from(right) / f64::from(stated));
    }
}

#[test]
fn explore_given() {
    let yard = Yard::new();
    for case in std::env::var("CASES").unwrap_or_default().split('|') {
        // fault=severity @ test, test
        let Some((truth, tests)) = case.split_once('@') else { continue };
        let (path, severity) = truth.trim().split_once('=').unwrap();
        let fault = yard.faults.iter().position(|f| f.path == path).unwrap();
        let severity: f64 = severity.parse().unwrap();
        let mut predictions = Predictions::default();
        let hypothesis = Hypothesis { faults: vec![(&yard.faults[fault], severity)] };
        let readings: Vec<Reading> = tests.split(',').map(|text| {
            let test = parse_test(&yard.circuit, text.trim()).unwrap();
            let question = bench::Question { hypotheses: std::slice::from_ref(&hypothesis), set_up: &test.set_up, placements: std::slice::from_ref(&test.placement), theta: &[], with_flows: false };
            let value = yard.bench.predict(question).unwrap().predictions.remove(0).value;
            Reading { test, shown: Shown::Number { value: (value * 1000.0).round() / 1000.0, resolution: 0.001 } }
        }).collect();
        println!("fault {fault}");
        let mut readings = readings;
        if let Ok(over) = std::env::var("SHOWN") {
            for (reading, value) in readings.iter_mut().zip(over.split(',')) {
                reading.shown = Shown::Number { value: value.parse().unwrap(), resolution: 0.01 };
            }
        }
        let fast = yard.weigh(&readings, &mut predictions, Effort::USUAL);
        let (calls, answers) = predictions.asked();
        let full = yard.weigh(&readings, &mut predictions, Effort::FULL);
        println!("== {case}: {}\n   answers {answers} in {calls}, full {:?}", yard.said(&readings), predictions.asked());
        for &f in full.ranked().iter().take(6).chain([&fault]) {
            println!("   {:40} {:.4} full {:.4}", yard.path(f), fast.weighed[f].chance, full.weighed[f].chance);
        }
        println!("   outside {:.4} {:.4}", fast.outside, full.outside);
    }
}
