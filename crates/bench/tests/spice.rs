//! Predictions against ngspice on a whole circuit made by hand, healthy and broken, point by point and with tools.

mod common;
mod outside;

use bench::{Bench, Hypothesis, Placement, spice};
use circuit::{Change, DeviceId, Fault, FuseId, PointId};
use common::*;

/// Set-up, test, faults with their severities.
type Case<'a> = (&'a str, &'a str, &'a [(&'a Fault, f64)]);

#[track_caller]
fn compare(bench: &Bench, set_up_text: &str, faults: &[(&Fault, f64)]) {
    outside::agrees(bench, &set_up(bench.circuit(), set_up_text), faults, 10);
}

#[test]
fn the_whole_circuit_healthy_and_broken() {
    let bench = bench();
    let circuit = bench.circuit();
    for set_up in [
        "key on",
        "key off",
        "running; fan",
        "key on; fan; pressure 25",
        "key on; S1 apart; fan",
    ] {
        compare(&bench, set_up, &[]);
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
        (
            fault("welded", None, vec![Change::StuckClosed(branch(circuit, "K2/contact"))]),
            0.0,
        ),
        (
            fault(
                "driver",
                None,
                vec![Change::StuckClosed(branch(circuit, "climate/fan driver"))],
            ),
            0.0,
        ),
        (fault("F2 blown", None, vec![Change::Blown(FuseId(0))]), 0.0),
        (
            fault("drift", Some((0.0, 40.0)), vec![Change::ShiftSensed(DeviceId(0))]),
            12.0,
        ),
        (
            fault(
                "weak reference",
                None,
                vec![Change::Set(branch(circuit, "climate/reference"), 3.1)],
            ),
            0.0,
        ),
        (
            fault(
                "slow fan",
                Some((0.1, 10.0)),
                vec![Change::Scale(branch(circuit, "fan"))],
            ),
            0.3,
        ),
    ];
    for (fault, severity) in &all {
        for set_up in ["key on; fan", "key on; S1 apart"] {
            compare(&bench, set_up, &[(fault, *severity)]);
        }
    }
    compare(&bench, "key on; fan", &[(&all[0].0, 5e3), (&all[6].0, 0.8)]);
}

#[test]
fn readings_with_the_tool_in_place() {
    let bench = bench();
    let circuit = bench.circuit();
    let water = leak(circuit, "floor.7/b", "floor.8/b");
    let undriven = open(circuit, "W22");
    let cases: [Case<'_>; 6] = [
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
        let hypothesis = Hypothesis {
            faults: faults.to_vec(),
        };
        let deck = spice::deck(&bench, &hypothesis, &set_up, &[], Some(&tool), test).unwrap();
        let Some(volts) = outside::ngspice(&deck.text) else {
            return;
        };
        let (red, black) = match tool {
            Placement::Voltmeter { red, black }
            | Placement::Ohmmeter { red, black }
            | Placement::Ammeter { red, black } => (red, black),
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
        assert!(
            (shown.value - theirs).abs() <= tolerance,
            "{set_up_text}: {test}: {shown:?}, ngspice {theirs}"
        );
    }
}

#[test]
fn names_are_legal_and_distinct() {
    let bench = bench();
    let set_up = set_up(bench.circuit(), "key on");
    let deck = spice::deck(
        &bench,
        &Hypothesis::default(),
        &set_up,
        &[],
        None,
        "title\nwith a break",
    )
    .unwrap();
    let distinct: std::collections::BTreeSet<_> = deck.nodes.iter().collect();
    assert_eq!(distinct.len(), deck.nodes.len());
    assert!(deck.text.starts_with("* title with a break\n"));
}
