//! How long an answer takes. `cargo bench -p bench`
//!
//! One hypothesis with all its voltmeter points; all contacts and wires of the circuit broken in turn; each instrument.

#[path = "../tests/common/mod.rs"]
mod common;

use bench::{Bench, Hypothesis, Placement, Predict, Question};
use circuit::{Change, Fault, PointId, Role};
use common::{bench as on_the_bench, fault, placement, set_up};
use divan::{Bencher, black_box, counter::ItemsCount};

fn main() {
    divan::main();
}

/// Voltmeter at every point against battery negative.
fn everywhere(bench: &Bench) -> Vec<Placement> {
    let black = bench.circuit().battery_minus;
    (0..bench.circuit().points.len())
        .map(PointId::from)
        .filter(|red| *red != black)
        .map(|red| Placement::Voltmeter { red, black })
        .collect()
}

/// Added resistance and an open in every contact and wire, leaks between all neighbours in the floor joint.
fn faults(bench: &Bench) -> Vec<(Fault, f64)> {
    let circuit = bench.circuit();
    let mut faults = Vec::new();
    for (at, branch) in circuit.branches.iter().enumerate() {
        if matches!(branch.role, Role::Contact | Role::Wire | Role::Ground | Role::Fuse) {
            let change = Change::AddSeries(at.into());
            for ohms in [0.5, 50.0, 5e3, 1e6] {
                faults.push((
                    fault(
                        &format!("{} {ohms}", branch.path),
                        Some((1e-3, 1e8)),
                        vec![change.clone()],
                    ),
                    ohms,
                ));
            }
        }
    }
    for pair in [
        ["floor.5/b", "floor.6/b"],
        ["floor.6/b", "floor.7/b"],
        ["floor.7/b", "floor.8/b"],
        ["M1.1", "body"],
    ] {
        for ohms in [0.5, 50.0, 5e3, 1e6] {
            faults.push((common::leak(circuit, pair[0], pair[1]), ohms));
        }
    }
    faults
}

#[divan::bench]
fn one_healthy_all_voltmeters(bencher: Bencher) {
    let bench = on_the_bench();
    let (placements, set_up) = (everywhere(&bench), set_up(bench.circuit(), "key on; fan"));
    let hypotheses = [Hypothesis::default()];
    bencher.bench(|| {
        black_box(
            bench
                .predict(Question::new(&hypotheses, &set_up, &placements))
                .expect("the question is right"),
        )
    });
}

#[divan::bench(args = ["all voltmeters", "one voltmeter"])]
fn per_hypothesis(bencher: Bencher, which: &str) {
    let bench = on_the_bench();
    let mut placements = everywhere(&bench);
    if which == "one voltmeter" {
        placements.truncate(1);
    }
    let set_up = set_up(bench.circuit(), "key on; fan");
    let faults = faults(&bench);
    let hypotheses: Vec<Hypothesis<'_>> = faults
        .iter()
        .map(|(fault, severity)| Hypothesis {
            faults: vec![(fault, *severity)],
        })
        .collect();
    bencher.counter(ItemsCount::new(hypotheses.len())).bench(|| {
        black_box(
            bench
                .predict(Question::new(&hypotheses, &set_up, &placements))
                .expect("the question is right"),
        )
    });
}

#[divan::bench(args = ["voltmeter S1.3", "ohmmeter S1.3", "light S1.3", "ammeter S1.1 S1.3", "clamp W2", "scan pressure"])]
fn one_instrument(bencher: Bencher, test: &str) {
    let bench = on_the_bench();
    let set_up = set_up(bench.circuit(), "key on; fan");
    let placements = [placement(bench.circuit(), test)];
    let hypotheses = [Hypothesis::default()];
    bencher.bench(|| {
        black_box(
            bench
                .predict(Question::new(&hypotheses, &set_up, &placements))
                .expect("the question is right"),
        )
    });
}

/// One voltmeter under all pairs of the circuit's possible faults, nine severities each: 81 readings a pair.
#[divan::bench(sample_count = 5)]
fn all_pairs_of_faults(bencher: Bencher) {
    let bench = on_the_bench();
    let faults = circuit::possible_faults(bench.circuit());
    let test = bench::Test {
        set_up: set_up(bench.circuit(), "key on; fan"),
        placement: placement(bench.circuit(), "voltmeter S1.3"),
    };
    let pairs = bench.pairs(&test, &[], &faults).expect("it solves").expect("it sweeps");
    let severities: Vec<Vec<f64>> = faults
        .iter()
        .map(|fault| {
            let range = fault.severity.map_or((1.0, 1.0), |range| (range.low, range.high));
            (0..9)
                .map(|k| range.0 * (range.1 / range.0).powf(f64::from(k) / 8.0))
                .collect()
        })
        .collect();
    let n = pairs
        .all(&severities, |_, read| read.len())
        .iter()
        .map(|pair| pair.1)
        .sum::<usize>();
    bencher.counter(ItemsCount::new(n)).bench(|| {
        black_box(pairs.all(&severities, |_, read| {
            read.iter().filter(|volts| volts.is_nan()).count()
        }))
    });
}
