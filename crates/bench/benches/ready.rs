//! How long all ready-made circuits together take. `cargo bench -p bench --bench ready`
//!
//! Each is read and checked, its possible faults are enumerated, and a voltmeter at every point that a probe reaches, scan data
//! and codes are predicted for the sound circuit with the key on; on request also for every fault, one severity each.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Placement, Predict, Question, reachable};
use circuit::{Archetype, Circuit, Fault, SetUp, possible_faults};
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

fn texts() -> Vec<String> {
    let all = Archetype::built_in().unwrap_or_else(|error| panic!("{error}"));
    all.into_iter().map(|one| one.text).collect()
}

fn checked(text: &str) -> Circuit {
    circuit::parse(text).unwrap_or_else(|mistakes| panic!("{mistakes:?}"))
}

/// What can be read in a set-up without putting a tool into the circuit.
fn placements(circuit: &Circuit, set_up: &SetUp) -> Vec<Placement> {
    let black = circuit.battery_minus;
    let probes = reachable(circuit, set_up).into_iter().map(|probe| probe.point);
    let volts = probes
        .filter(|red| *red != black)
        .map(|red| Placement::Voltmeter { red, black });
    let scans = (0..circuit.channels.len()).map(|channel| Placement::Scan {
        channel: channel.into(),
    });
    let codes = (0..circuit.monitors.len()).map(|monitor| Placement::Code {
        monitor: monitor.into(),
    });
    volts.chain(scans).chain(codes).collect()
}

/// Reads, checks, enumerates and predicts one; with every fault if asked for.
fn ready(text: &str, broken: bool) -> usize {
    let circuit = Arc::new(checked(text));
    let faults: Vec<Fault> = possible_faults(&circuit);
    let set_up = SetUp::default();
    let placements = placements(&circuit, &set_up);
    let bench = Bench::new(Arc::clone(&circuit)).unwrap_or_else(|error| panic!("{error}"));
    let mut hypotheses = vec![Hypothesis::default()];
    if broken {
        hypotheses.extend(faults.iter().map(|fault| {
            let severity = fault.severity.map_or(0.0, |severity| severity.low);
            Hypothesis {
                faults: vec![(fault, severity)],
            }
        }));
    }
    let batch = bench.predict(Question::new(&hypotheses, &set_up, &placements));
    batch.unwrap_or_else(|error| panic!("{error}")).predictions.len() + faults.len()
}

#[divan::bench(sample_count = 20)]
fn all_checked_enumerated_predicted(bencher: Bencher<'_, '_>) {
    let texts = texts();
    bencher.bench(|| -> usize { texts.iter().map(|text| black_box(ready(text, false))).sum() });
}

#[divan::bench(sample_count = 5)]
fn all_with_every_fault(bencher: Bencher<'_, '_>) {
    let texts = texts();
    bencher.bench(|| -> usize { texts.iter().map(|text| black_box(ready(text, true))).sum() });
}
