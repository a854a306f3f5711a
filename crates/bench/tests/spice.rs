//! Predictions against ngspice, an independent solver, on whole circuits, healthy and broken, point by point.
//!
//! The deck states its own tolerances (reltol 1e-9, abstol 1e-15 A, vntol 1e-12 V, gmin 1e-15 S). Points with more than
//! 100 MΩ behind them are left out: gmin and the stand-in for an open branch decide what they read there.

mod common;

use std::collections::BTreeMap;
use std::io::Write;
use std::process::{Command, Stdio};

use bench::{Bench, Hypothesis, Placement, Predict, Question, spice};
use circuit::{Change, DeviceId, Fault, FuseId, PointId};
use common::*;

/// Volts by node name, or `None` where ngspice is not installed.
fn ngspice(deck: &str) -> Option<BTreeMap<String, f64>> {
    let mut command = Command::new("ngspice");
    command.arg("-b").stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let child = match command.spawn() {
        Ok(child) => child,
        Err(error) => {
            println!("SKIPPED: ngspice cannot be started ({error}); install it with apt-get install ngspice");
            return None;
        }
    };
    if let Ok(folder) = std::env::var("DECKS") {
        static N: std::sync::atomic::AtomicUsize = std::sync::atomic::AtomicUsize::new(0);
        let n = N.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
        std::fs::write(format!("{folder}/{n}.cir"), deck).unwrap();
    }
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
    assert!(!found.is_empty(), "ngspice gave no voltages: {text}\n{}", String::from_utf8_lossy(&output.stderr));
    Some(found)
}

fn run(mut child: std::process::Child, deck: &str) -> std::process::Output {
    child.stdin.take().unwrap().write_all(deck.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

/// Compares every driven point. Returns how many.
#[track_caller]
fn compare(bench: &Bench, set_up_text: &str, faults: &[(&Fault, f64)]) -> usize {
    let set_up = set_up(bench.circuit(), set_up_text);
    let hypothesis = Hypothesis { faults: faults.to_vec() };
    let title = format!("{set_up_text}: {:?}", faults.iter().map(|(fault, _)| &fault.path).collect::<Vec<_>>());
    let deck = spice::deck(bench, &hypothesis, &set_up, &[], None, &title).unwrap();
    let Some(theirs) = ngspice(&deck.text) else { return usize::MAX };
    let minus = bench.circuit().battery_minus;
    let placements: Vec<Placement> = (0..bench.circuit().points.len())
        .map(|red| Placement::Voltmeter { red: PointId::from(red), black: minus })
        .collect();
    let hypotheses = [hypothesis];
    let question = Question {
        hypotheses: &hypotheses,
        set_up: &set_up,
        placements: &placements,
        theta: &[],
        with_flows: true,
    };
    let batch = bench.predict(question).unwrap();
    // The voltmeter on battery positive moves nothing: its flows are those of the circuit alone.
    let ours = &batch.flows[bench.circuit().battery_plus.idx()].point_volts;
    let mut compared = 0;
    for (at, (node, prediction)) in deck.nodes.iter().zip(&batch.predictions).enumerate() {
        if node == "0" || prediction.source_ohms > 1e8 {
            continue;
        }
        let (our, their) = (ours[at], theirs[node]);
        let tolerance = 1e-5 * our.abs().max(their.abs()) + 1e-5;
        let path = &bench.circuit().points[at].path;
        assert!((our - their).abs() <= tolerance, "{title}\n{path}: {our} V here, {their} V in ngspice");
        compared += 1;
    }
    compared
}

#[test]
fn the_whole_circuit_healthy_and_broken() {
    let bench = bench();
    let circuit = bench.circuit();
    for set_up in ["key on", "key off", "running; fan", "key on; fan; pressure 25", "key on; S1 apart; fan"] {
        let compared = compare(&bench, set_up, &[]);
        assert!(compared > 25, "{set_up}: {compared} points compared");
    }
    let series = |path: &str| fault(path, Some((1e-3, 1e6)), vec![Change::AddSeries(branch(circuit, path))]);
    let all: Vec<(Fault, f64)> = vec![
        (leak(circuit, "floor.7/b", "floor.8/b"), 2e3),
        (leak(circuit, "floor.7/b", "floor.8/b"), 300e3),
        (leak(circuit, "S1.1", "body"), 0.5),
        (leak(circuit, "S1.3", "body"), 150.0),
        (leak(circuit, "M1.1", "body"), 0.05),
        (leak(circuit, "fan+", "fan-"), 0.02),
        (series("W4"), 1.5),
        (series("S1.1/contact"), 700.0),
        (series("S1.3/contact"), 40e3),
        (series("battery"), 0.4),
        (series("W24"), 0.9),
        (open(circuit, "S1.2/contact"), 0.0),
        (open(circuit, "W12"), 0.0),
        (open(circuit, "climate/ground path"), 0.0),
        (fault("welded", None, vec![Change::StuckClosed(branch(circuit, "K2/contact"))]), 0.0),
        (fault("driver", None, vec![Change::StuckClosed(branch(circuit, "climate/fan driver"))]), 0.0),
        (fault("F2 blown", None, vec![Change::Blown(FuseId(0))]), 0.0),
        (fault("drift", Some((0.0, 40.0)), vec![Change::ShiftSensed(DeviceId(0))]), 12.0),
        (fault("weak reference", None, vec![Change::Set(branch(circuit, "climate/reference"), 3.1)]), 0.0),
        (fault("slow fan", Some((0.1, 10.0)), vec![Change::Scale(branch(circuit, "fan"))]), 0.3),
    ];
    for (fault, severity) in &all {
        for set_up in ["key on; fan", "key on; S1 apart"] {
            let compared = compare(&bench, set_up, &[(fault, *severity)]);
            assert!(compared > 10, "{set_up}, {}: {compared} points compared", fault.path);
        }
    }
    assert!(compare(&bench, "key on; fan", &[(&all[0].0, 5e3), (&all[6].0, 0.8)]) > 25);
}

#[test]
fn readings_with_the_tool_in_place() {
    let bench = bench();
    let circuit = bench.circuit();
    let water = leak(circuit, "floor.7/b", "floor.8/b");
    let undriven = open(circuit, "W22");
    let cases: [(&str, &str, &[(&Fault, f64)]); 6] = [
        ("key on; fan", "light S1.3", &[(&water, 2e3)]),
        ("key on", "light M1.1", &[]),
        ("key on; fan; S1 apart", "voltmeter S1.3", &[(&water, 5e6)]),
        ("key off; floor apart", "ohmmeter S1.3 S1.2", &[]),
        ("key on", "ammeter floor.7/a floor.7/b", &[]),
        ("key on; jumper S1.1 S1.3", "voltmeter S1.3", &[(&undriven, 0.0)]),
    ];
    for (set_up_text, test, faults) in cases {
        let shown = show(&bench, set_up_text, test, faults);
        let set_up = set_up(circuit, set_up_text);
        let tool = placement(circuit, test);
        let hypothesis = Hypothesis { faults: faults.to_vec() };
        let deck = spice::deck(&bench, &hypothesis, &set_up, &[], Some(&tool), test).unwrap();
        let Some(volts) = ngspice(&deck.text) else { return };
        let (red, black) = match tool {
            Placement::Voltmeter { red, black } | Placement::Ohmmeter { red, black } => (red, black),
            Placement::Ammeter { red, black } => (red, black),
            Placement::TestLight { tip, clip } => (tip, clip),
            _ => unreachable!(),
        };
        let of = |point: PointId| volts.get(&deck.nodes[point.idx()]).copied().unwrap_or(0.0);
        let across = of(red) - of(black);
        let theirs = match tool {
            // The bank's ohmmeter: 0.2 V behind 10 kΩ.
            Placement::Ohmmeter { .. } => 10e3 * across / (0.2 - across),
            Placement::Ammeter { .. } => across / 0.05,
            _ => across.abs(),
        };
        let tolerance = 2e-5 * theirs.abs() + 1e-5;
        assert!((shown.value - theirs).abs() <= tolerance, "{set_up_text}: {test}: {shown:?}, ngspice {theirs}");
    }
}

#[test]
fn names_are_legal_and_distinct() {
    let bench = bench();
    let set_up = set_up(bench.circuit(), "key on");
    let deck = spice::deck(&bench, &Hypothesis::default(), &set_up, &[], None, "title\nwith a break").unwrap();
    let distinct: std::collections::BTreeSet<_> = deck.nodes.iter().collect();
    assert_eq!(distinct.len(), deck.nodes.len());
    assert!(deck.text.starts_with("* title with a break\n"));
}
