//! Comparison with ngspice, an independent solver.
//!
//! The deck states its own tolerances (reltol 1e-9, abstol 1e-15 A, vntol 1e-12 V, gmin 1e-15 S). Points with more than
//! 100 MΩ behind them are left out: gmin and the simulator's arithmetic decide what they read there.
#![expect(clippy::print_stdout, reason = "a skipped check is said aloud")]
#![allow(dead_code, reason = "each test file uses its part")]

pub(crate) mod batch;
pub(crate) mod deck;
pub(crate) mod plan;
pub(crate) mod reading;

use std::collections::BTreeMap;
use std::io::Write;
use std::process::{Command, Stdio};

use bench::{Bench, Hypothesis, Placement, Predict, Question, spice};
use circuit::{Fault, PointId, SetUp};

/// Volts by node name, or `None` where ngspice is not installed.
pub(crate) fn ngspice(deck: &str) -> Option<BTreeMap<String, f64>> {
    let mut command = Command::new("ngspice");
    command
        .arg("-b")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let child = match command.spawn() {
        Ok(child) => child,
        Err(error) => {
            writeln!(
                std::io::stderr(),
                "skipped: ngspice cannot be started ({error}); install it with apt-get install ngspice"
            )
            .ok();
            return None;
        }
    };
    let output = run(child, deck);
    let text = String::from_utf8_lossy(&output.stdout);
    let found: BTreeMap<String, f64> = text
        .lines()
        .filter_map(|line| {
            let (name, value) = line.split_once('=')?;
            let name = name.trim().strip_prefix("v(")?.strip_suffix(')')?;
            Some((name.to_owned(), value.trim().parse().ok()?))
        })
        .collect();
    assert!(
        !found.is_empty(),
        "ngspice gave no voltages: {text}\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    Some(found)
}

fn run(mut child: std::process::Child, deck: &str) -> std::process::Output {
    child
        .stdin
        .take()
        .expect("ngspice and the bench answer")
        .write_all(deck.as_bytes())
        .expect("ngspice and the bench answer");
    child.wait_with_output().expect("ngspice and the bench answer")
}

/// Compares every driven point, at least `least` of them. False where ngspice is not installed.
#[track_caller]
pub(crate) fn agrees(bench: &Bench, set_up: &SetUp, faults: &[(&Fault, f64)], least: usize) -> bool {
    let circuit = bench.circuit();
    let hypothesis = Hypothesis {
        faults: faults.to_vec(),
    };
    let named: Vec<_> = faults
        .iter()
        .map(|(fault, severity)| format!("{} at {severity}", fault.path))
        .collect();
    let title = format!("{} under {named:?}", set_up.to_text(circuit));
    let deck = spice::deck(bench, &hypothesis, set_up, &[], None, &title).expect("ngspice and the bench answer");
    let Some(theirs) = ngspice(&deck.text) else {
        return false;
    };
    let black = circuit.battery_minus;
    let placements: Vec<Placement> = (0..circuit.points.len())
        .map(|red| Placement::Voltmeter {
            red: PointId::from(red),
            black,
        })
        .collect();
    let hypotheses = [hypothesis];
    let question = Question {
        hypotheses: &hypotheses,
        set_up,
        placements: &placements,
        theta: &[],
        with_flows: true,
    };
    let batch = bench.predict(question).expect("ngspice and the bench answer");
    // The voltmeter on battery positive moves nothing: its flows are those of the circuit alone.
    let ours = &batch.flows[circuit.battery_plus.idx()].point_volts;
    let mut compared = 0;
    for (at, (node, prediction)) in deck.nodes.iter().zip(&batch.predictions).enumerate() {
        if node == "0" || prediction.source_ohms > 1e8 {
            continue;
        }
        let (our, their) = (ours[at], theirs[node]);
        let tolerance = 1e-5 * our.abs().max(their.abs()) + 1e-5;
        let path = &circuit.points[at].path;
        assert!(
            (our - their).abs() <= tolerance,
            "{title}\n{path}: {our} V here, {their} V in ngspice"
        );
        compared += 1;
    }
    assert!(compared >= least, "{title}: only {compared} points compared");
    true
}

/// What was compared, for whoever runs the tests with `--nocapture`.
pub(crate) fn say(words: &str) {
    println!("{words}");
}
