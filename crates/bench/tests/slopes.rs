//! Derivatives by parameters and severities against central differences of the product itself.

mod common;

use bench::{Bench, Kind};
use circuit::{Change, DeviceId, Fault, Severity};
use common::*;

/// Step of θ and of ln severity.
const STEP: f64 = 1e-4;

/// Differences lose about value · 1e-10 / step to rounding and slope · step² to curvature. A voltmeter treated to first
/// order errs by up to the 0.5 mV that its load may move it, per unit of θ or ln severity: see `read.rs`.
#[track_caller]
fn agree(what: &str, slope: f64, difference: f64, value: f64) {
    let first_order = if what.contains("voltmeter") { 5e-4 } else { 0.0 };
    let tolerance = 1e-5 * slope.abs().max(difference.abs()) + 2e-6 * value.abs().max(1e-3) + first_order;
    assert!(
        (slope - difference).abs() <= tolerance,
        "{what}: slope {slope}, difference {difference}, value {value}"
    );
}

#[track_caller]
fn check(bench: &Bench, set_up: &str, test: &str, faults: &[(&Fault, f64)]) {
    let n = bench.circuit().params.len();
    // Away from the centre, so that no term vanishes by luck.
    let theta: Vec<f64> = (0..n).map(|at| 0.3 * ((at * 7 % 5) as f64 - 2.0) / 2.0).collect();
    let here = at(bench, set_up, test, faults, &theta);
    let moved = |param: usize, by: f64| {
        let mut theta = theta.clone();
        theta[param] += by;
        at(bench, set_up, test, faults, &theta)
    };
    for param in 0..n {
        let (up, down) = (moved(param, STEP), moved(param, -STEP));
        assert_eq!(up.kind, here.kind);
        let what = format!("{set_up}: {test} by {}", bench.circuit().params[param].path);
        agree(
            &what,
            here.by_param[param],
            (up.value - down.value) / (2.0 * STEP),
            here.value,
        );
    }
    for (position, (fault, severity)) in faults.iter().enumerate() {
        let Some(Severity { logarithmic, .. }) = fault.severity else {
            continue;
        };
        let moved = |by: f64| {
            let mut faults = faults.to_vec();
            faults[position].1 = if logarithmic {
                severity * by.exp()
            } else {
                severity + by
            };
            at(bench, set_up, test, &faults, &theta).value
        };
        let difference = (moved(STEP) - moved(-STEP)) / (2.0 * STEP);
        let what = format!("{set_up}: {test} by severity of {}", fault.path);
        agree(&what, here.by_severity[position], difference, here.value);
    }
}

#[test]
fn slopes_of_a_healthy_circuit() {
    let bench = bench();
    for test in [
        "voltmeter S1.3",
        "voltmeter S1.3 S1.2",
        "voltmeter M1.12",
        "voltmeter M1.1",
        "voltmeter fan+",
        "voltmeter battery+ F7/out",
        "clamp W2",
        "clamp W23",
        "clamp battery",
        "light S1.3",
        "light M1.1",
        "scan pressure",
        "code P0533",
        "ammeter S1.3 S1.1",
    ] {
        check(&bench, "key on; fan", test, &[]);
    }
    for test in ["ohmmeter S1.3 battery-", "ohmmeter K2/86 K2/85", "diode M1.3 S1.3"] {
        check(&bench, "key off; floor apart", test, &[]);
    }
    check(&bench, "key on; floor apart", "voltmeter M1.27", &[]);
    check(&bench, "key on; jumper S1.1 S1.3", "voltmeter S1.3", &[]);
}

#[test]
fn slopes_of_broken_circuits() {
    let bench = bench();
    let circuit = bench.circuit();
    let series = |path: &str| fault(path, Some((1e-3, 1e6)), vec![Change::AddSeries(branch(circuit, path))]);
    let contact = series("S1.3/contact");
    let ground = series("W4");
    let water = leak(circuit, "floor.7/b", "floor.8/b");
    let supply = leak(circuit, "S1.1", "S1.3");
    for test in [
        "voltmeter S1.3",
        "voltmeter M1.27",
        "voltmeter M1.2",
        "scan pressure",
        "light S1.3",
        "clamp W4",
    ] {
        check(&bench, "key on; fan", test, &[(&contact, 30e3)]);
        check(&bench, "key on; fan", test, &[(&ground, 0.7)]);
        check(&bench, "key on; fan", test, &[(&water, 20e3)]);
        check(&bench, "key on", test, &[(&supply, 400.0), (&contact, 2e3)]);
    }
    check(
        &bench,
        "key off; floor apart",
        "ohmmeter S1.3 floor.8/b",
        &[(&water, 3e6)],
    );
    check(&bench, "key on; S1 apart; fan", "voltmeter S1.3", &[(&water, 8e6)]);
}

#[test]
fn slopes_of_drift_scale_and_series_in_parts_without_a_resistance_field() {
    let bench = bench();
    let circuit = bench.circuit();
    let mut drift = fault("drift", Some((-20.0, 20.0)), vec![Change::ShiftSensed(DeviceId(0))]);
    drift.severity.as_mut().unwrap().logarithmic = false;
    let scale = fault(
        "slow fan",
        Some((0.2, 5.0)),
        vec![Change::Scale(branch(circuit, "fan"))],
    );
    let draw = fault(
        "draw",
        Some((0.2, 5.0)),
        vec![Change::Scale(branch(circuit, "climate/draw"))],
    );
    let behind = fault(
        "behind",
        Some((0.01, 100.0)),
        vec![Change::AddSeries(branch(circuit, "climate/draw"))],
    );
    let weak = fault(
        "weak",
        Some((0.2, 1.0)),
        vec![Change::Scale(branch(circuit, "climate/reference"))],
    );
    let times = fault(
        "times",
        None,
        vec![Change::Times(branch(circuit, "climate/reference"), 0.8)],
    );
    assert_eq!(
        show(&bench, "key on", "voltmeter S1.1", &[(&times, 0.0)]).value,
        show(&bench, "key on", "voltmeter S1.1", &[(&weak, 0.8)]).value,
    );
    for test in ["voltmeter S1.3", "voltmeter fan+", "clamp W2", "scan pressure"] {
        check(&bench, "key on; fan", test, &[(&drift, 5.0)]);
        check(&bench, "key on; fan", test, &[(&scale, 1.7), (&drift, 3.0)]);
        check(&bench, "key on; fan", test, &[(&draw, 1.4)]);
        check(&bench, "key on; fan", test, &[(&behind, 3.0)]);
        check(&bench, "key on; fan", test, &[(&weak, 0.8)]);
        check(&bench, "key on; fan", test, &[(&times, 0.0), (&drift, 3.0)]);
    }
}

#[test]
fn an_over_range_reading_has_no_slope() {
    let bench = bench();
    let shown = show(&bench, "key off; S1 apart; floor apart", "ohmmeter S1.3 floor.6/b", &[]);
    assert_eq!(shown.kind, Kind::OverRange);
    assert!(shown.by_param.iter().all(|slope| *slope == 0.0));
}
