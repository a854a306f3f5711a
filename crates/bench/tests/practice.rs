//! Facts of the trade, on a circuit made by hand. Each is common practice, no source, unless it says otherwise.

mod common;

use bench::Kind;
use circuit::Change;
use common::*;

#[track_caller]
fn near(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() <= within,
        "{value} is not {expected} ± {within}"
    );
}

#[test]
fn a_healthy_sensor_reads_what_its_law_says() {
    let bench = bench();
    // 8 bar: a tenth plus a quarter of 80 % of the supply.
    near(
        show(&bench, "key on", "voltmeter S1.3 S1.2", &[]).value,
        5.0 * 0.3,
        0.02,
    );
    near(
        show(&bench, "key on; pressure 16", "voltmeter S1.3 S1.2", &[]).value,
        2.5,
        0.03,
    );
    near(show(&bench, "key on", "scan pressure", &[]).value, 8.0, 0.2);
    near(show(&bench, "key on", "voltmeter battery+", &[]).value, 12.6, 0.01);
    near(show(&bench, "running", "voltmeter battery+", &[]).value, 13.6, 0.5);
}

#[test]
fn scan_data_stops_at_the_top_of_its_range_whatever_the_wire_carries() {
    let bench = bench();
    let feed = leak(bench.circuit(), "floor.7/b", "floor.8/b");
    let set_up = "key on; fan";
    let at_12 = show(&bench, set_up, "voltmeter S1.3", &[(&feed, 50.0)]);
    assert!(at_12.value > 9.0, "{at_12:?}");
    let scan = show(&bench, set_up, "scan pressure", &[(&feed, 50.0)]);
    near(scan.value, 32.0, 1e-9);
    assert!(scan.beyond > 8.0, "12 V would be far beyond the top: {scan:?}");
}

#[test]
fn an_open_sensor_ground_sends_the_signal_to_reference() {
    let bench = bench();
    let ground = open(bench.circuit(), "S1.2/contact");
    near(
        show(&bench, "key on", "voltmeter S1.3", &[(&ground, 0.0)]).value,
        4.9,
        0.15,
    );
}

#[test]
fn an_open_signal_wire_reads_nothing_at_the_module_and_the_sensor_still_works() {
    let bench = bench();
    let signal = open(bench.circuit(), "W22");
    near(
        show(&bench, "key on", "voltmeter M1.27", &[(&signal, 0.0)]).value,
        0.0,
        0.05,
    );
    near(
        show(&bench, "key on", "voltmeter S1.3", &[(&signal, 0.0)]).value,
        1.5,
        0.05,
    );
}

#[test]
fn a_point_that_nothing_drives_reads_the_black_lead_with_a_tail_to_its_neighbours() {
    let bench = bench();
    let shown = show(&bench, "key on; S1 apart; floor apart", "voltmeter S1.3", &[]);
    near(shown.value, 0.0, 1e-3);
    assert!(shown.source_ohms > 1e9, "{shown:?}");
    assert!(shown.ghost_volts.1 >= 0.0);
    let driven = show(&bench, "key on", "voltmeter S1.3", &[]);
    assert_eq!(driven.ghost_volts, (0.0, 0.0));
}

#[test]
fn a_floating_wire_beside_a_live_one_has_a_tail() {
    let bench = bench();
    let signal = open(bench.circuit(), "W22");
    let shown = show(&bench, "key on; S1 apart", "voltmeter S1.3", &[(&signal, 0.0)]);
    near(shown.value, 0.0, 2e-3);
    near(shown.ghost_volts.1, 5.0, 0.2);
}

#[test]
fn a_loaded_reading_tells_a_ghost_from_a_feed() {
    let bench = bench();
    let weak = fault(
        "weak",
        Some((1.0, 1e8)),
        vec![Change::AddSeries(branch(bench.circuit(), "W2"))],
    );
    let volts = show(&bench, "key on; M1 apart", "voltmeter M1.1", &[(&weak, 20e3)]).value;
    assert!(volts > 12.0, "no load, no drop: {volts}");
    let light = show(&bench, "key on; M1 apart", "light M1.1", &[(&weak, 20e3)]).value;
    assert!(light < 0.1, "a light needs current: {light}");
    assert!(show(&bench, "key on; M1 apart", "light M1.1", &[]).value > 11.5);
}

#[test]
fn a_short_blows_the_fuse_and_what_is_predicted_is_the_circuit_after_that() {
    let bench = bench();
    let short = leak(bench.circuit(), "M1.1", "body");
    for set_up in ["key on", "key on; M1 apart", "running; fan"] {
        near(
            show(&bench, set_up, "voltmeter F2/out", &[(&short, 0.05)]).value,
            0.0,
            1e-3,
        );
    }
    near(
        show(&bench, "key on", "voltmeter ignition", &[(&short, 0.05)]).value,
        12.6,
        0.05,
    );
    // With a leak that the fuse bears, the circuit still has its feed.
    assert!(show(&bench, "key on", "voltmeter F2/out", &[(&short, 5.0)]).value > 12.0);
    // The fan's fuse blows only when the fan runs, and stays blown with everything off.
    let behind = leak(bench.circuit(), "fan+", "fan-");
    near(
        show(&bench, "key off", "voltmeter F7/out", &[(&behind, 0.02)]).value,
        0.0,
        1e-3,
    );
    near(show(&bench, "key off", "voltmeter F7/out", &[]).value, 12.6, 0.05);
}

#[test]
fn a_shorted_reference_folds_back_and_returns_when_the_short_is_gone() {
    let bench = bench();
    let short = leak(bench.circuit(), "S1.1", "body");
    near(
        show(&bench, "key on", "voltmeter M1.12", &[(&short, 0.5)]).value,
        0.05,
        0.05,
    );
    near(
        show(&bench, "key on; floor apart", "voltmeter M1.12", &[(&short, 0.5)]).value,
        5.0,
        0.05,
    );
}

#[test]
fn an_ohmmeter_reads_ohms_and_knows_a_live_circuit() {
    let bench = bench();
    let wire = show(&bench, "key off; floor apart; S1 apart", "ohmmeter S1.3 floor.7/b", &[]);
    assert_eq!(wire.kind, Kind::Number);
    near(wire.value, 0.09, 1e-6);
    let open_wire = open(bench.circuit(), "W22");
    let shown = show(
        &bench,
        "key off; floor apart; S1 apart",
        "ohmmeter S1.3 floor.7/b",
        &[(&open_wire, 0.0)],
    );
    assert_eq!(shown.kind, Kind::OverRange);
    let live = show(&bench, "key on", "ohmmeter S1.1 battery-", &[]);
    assert_eq!(live.kind, Kind::Live);
    near(live.value, 5.0, 0.05);
    let coil = show(&bench, "key off; M1 apart", "ohmmeter K2/86 K2/85", &[]);
    near(coil.value, 85.0, 0.1);
    assert_eq!(
        show(&bench, "key off; M1 apart", "continuity K2/86 K2/85", &[]).kind,
        Kind::Number
    );
}

#[test]
fn a_diode_test_shows_the_clamp_of_an_input_through_its_series_resistor() {
    let bench = bench();
    let forward = show(&bench, "key off; M1 apart", "diode M1.2/pin M1.27/pin", &[]);
    assert_eq!(forward.kind, Kind::Number);
    assert!(forward.value > 0.6 && forward.value < 2.5, "{forward:?}");
}

#[test]
fn amperes_are_the_same_in_series_and_by_clamp() {
    let bench = bench();
    let clamp = show(&bench, "key on; fan", "clamp W23", &[]).value;
    near(clamp, 12.6 / (0.85 + 0.012 + 0.07), 0.3);
    let slow = open(bench.circuit(), "W23");
    let series = show(&bench, "key on; fan", "ammeter floor.8/b fan+", &[(&slow, 0.0)]);
    assert_eq!(series.kind, Kind::OverRange, "the meter's own fuse: 10 A");
    near(
        show(&bench, "key on", "clamp W2", &[]).value,
        0.15 + 0.005 + 0.0015,
        0.01,
    );
}

#[test]
fn millivolts_across_a_fuse_are_its_current() {
    let bench = bench();
    let across = show(&bench, "key on; fan", "voltmeter battery+ F7/out", &[]).value;
    let amps = show(&bench, "key on; fan", "clamp W6", &[]).value;
    near(across, amps * 0.008, 1e-6);
}

#[test]
fn a_code_runs_with_the_key_on_and_needs_a_powered_module() {
    let bench = bench();
    let code = show(&bench, "key on", "code P0533", &[]);
    assert_eq!(code.kind, Kind::Number);
    near(code.value, 1.5, 0.05);
    assert_eq!(show(&bench, "key off", "code P0533", &[]).kind, Kind::NoCommunication);
    assert_eq!(
        show(&bench, "key on; F2 out", "scan pressure", &[]).kind,
        Kind::NoCommunication
    );
}

#[test]
fn a_bad_ground_lifts_the_module_and_the_meter_sees_it() {
    let bench = bench();
    let ground = fault(
        "G1",
        Some((1e-3, 10.0)),
        vec![Change::AddSeries(branch(bench.circuit(), "W4"))],
    );
    let lifted = show(&bench, "key on", "voltmeter M1.2", &[(&ground, 2.0)]).value;
    near(lifted, 0.157 * 2.0, 0.02);
}

#[test]
fn with_the_battery_lead_off_everything_is_dead() {
    let bench = bench();
    for point in ["battery+", "F7/out", "S1.1"] {
        near(
            show(&bench, "key on; battery off", &format!("voltmeter {point}"), &[]).value,
            0.0,
            1e-3,
        );
    }
}

#[test]
fn a_position_sensor_reads_half_a_volt_to_one_closed_and_four_to_four_and_a_half_open() {
    let circuit =
        circuit::parse(include_str!("../../../circuits/small/potentiometer.toml")).expect("the circuit is right");
    let bench = bench::Bench::new(std::sync::Arc::new(circuit)).expect("the circuit is right");
    for (pedal, low, high) in [("0 %", 0.45, 1.0), ("100 %", 4.0, 4.55)] {
        let test = bench::parse_test(bench.circuit(), &format!("voltmeter S1.2 S1.3; pedal {pedal}")).expect("a test");
        let healthy = [bench::Hypothesis::default()];
        let volts = bench::Predict::predict(&bench, bench::Question::of(&healthy, &test))
            .expect("an answer")
            .predictions[0]
            .value;
        assert!(low < volts && volts < high, "{pedal}: {volts} V");
    }
}

/// Within a few hundred millivolts a sound circuit's scan data and meter agree, whatever its parts are within tolerance;
/// what a fault puts between them is beyond.
#[test]
fn scan_data_and_meter_within_a_few_hundred_millivolts_is_agreement() {
    let bench = bench();
    let circuit = bench.circuit();
    let apart = |set_up: &str, faults: &[(&circuit::Fault, f64)], theta: &[f64]| {
        let bar = at(&bench, set_up, "scan pressure", faults, theta).value;
        let shown = 0.5 + bar * 4.0 / 32.0;
        at(&bench, set_up, "voltmeter S1.3", faults, theta).value - shown
    };
    let mut furthest: f64 = 0.0;
    for set_up in [
        "key on",
        "key on; fan",
        "running; fan; pressure 25",
        "running; pressure 2",
    ] {
        for param in 0..circuit.params.len() {
            for sigmas in [-2.0, 0.0, 2.0] {
                let mut theta = vec![0.0; circuit.params.len()];
                theta[param] = sigmas;
                furthest = furthest.max(apart(set_up, &[], &theta).abs());
            }
        }
    }
    assert!(furthest > 1e-3 && furthest < 0.3, "{furthest} V");
    let leak = leak(circuit, "floor.7/b", "floor.8/b");
    let wire = fault("W12", Some((1.0, 1e8)), vec![Change::AddSeries(branch(circuit, "W12"))]);
    for fault in [(&leak, 50.0), (&wire, 100e3)] {
        let apart = apart("key on; fan", &[fault], &[]);
        assert!(apart.abs() > 0.3, "{}: {apart} V", fault.0.path);
    }
}

#[test]
fn battery_voltage_that_sags_by_a_volt_takes_all_feeds_along_and_no_reference() {
    let bench = bench();
    let circuit = bench.circuit();
    let mut sagged = vec![0.0; circuit.params.len()];
    // 0.15 V a standard deviation.
    sagged[circuit.param("battery").expect("a battery").idx()] = -1.0 / 0.15;
    let by = |test: &str| {
        at(&bench, "key on; fan", test, &[], &sagged).value - at(&bench, "key on; fan", test, &[], &[]).value
    };
    for point in ["battery+", "ignition", "F2/out", "F7/out", "M1.1", "K2/86", "fan+"] {
        near(by(&format!("voltmeter {point}")), -1.0, 0.1);
    }
    near(by("light M1.1"), -1.0, 0.1);
    for point in ["M1.12", "S1.1", "S1.3"] {
        near(by(&format!("voltmeter {point}")), 0.0, 5e-3);
    }
    near(by("scan pressure"), 0.0, 0.02);
}

/// A reference or a sensor cannot light it; where it lights, the same wire jumped to ground carries what the fuse bears.
#[test]
fn a_signal_wire_that_lights_a_test_light_carries_feed_voltage() {
    let bench = bench();
    let circuit = bench.circuit();
    let leak = leak(circuit, "floor.7/b", "floor.8/b");
    for (point, faults, low, high) in [
        ("S1.1", &[][..], 0.0, bench::DARK_VOLTS),
        ("S1.3", &[][..], 0.0, bench::DARK_VOLTS),
        ("S1.3", &[(&leak, 1.0)][..], bench::BRIGHT_VOLTS, 14.0),
    ] {
        let volts = show(&bench, "key on; fan", &format!("light {point}"), faults).value;
        assert!(low <= volts && volts <= high, "{point}: {volts} V");
    }
    let jumped = show(&bench, "key on; fan; jumper S1.3 body", "clamp W13", &[(&leak, 1.0)]).value;
    let before = show(&bench, "key on; fan", "clamp W13", &[(&leak, 1.0)]).value;
    assert!(jumped - before > 5.0, "{before} A, {jumped} A with the jumper");
}

/// A dead rail is joined to ground: nothing happened while it was live, since the jumper came after the key.
#[test]
fn what_is_clipped_in_was_not_there_before_the_key_was_turned() {
    let circuit = circuit::parse(circuit::DEMO).expect("the demo's circuit is sound");
    let bench = bench::Bench::new(std::sync::Arc::new(circuit)).unwrap();
    let jumped = "key off; jumper F2/out battery-";
    let whole = show(&bench, jumped, "ohmmeter F2/in F2/out", &[]);
    assert!(
        whole.kind == Kind::Number && whole.value < 1.0,
        "its fuse is whole: {whole:?}"
    );
}

/// A contact moves by its coil's current: through more resistance the same feed gives less of it.
#[test]
fn a_relay_needs_current_through_its_coil() {
    let circuit = std::sync::Arc::new(circuit::parse(circuit::DEMO).expect("the demo's circuit is sound"));
    let faults = circuit::possible_faults(&circuit);
    let bench = bench::Bench::new(std::sync::Arc::clone(&circuit)).unwrap();
    let fault = |path: &str| {
        faults
            .iter()
            .find(|fault| fault.path == path)
            .expect("a fault of the demo")
    };
    let fan = |faults: &[(&circuit::Fault, f64)]| show(&bench, "key on; fan", "voltmeter C5.1 C5.2", faults).value;
    assert!(fan(&[]) > 10.0);
    assert!(fan(&[(fault("K2/coil/open"), 0.0)]).abs() < 0.1, "no coil, no pull");
    let relay = circuit
        .relays
        .iter()
        .find(|relay| circuit.branches[relay.coil.idx()].path == "K2/coil")
        .expect("K2");
    let at = circuit::SetUp::default();
    let circuit::BranchKind::Resistor { ohms, .. } = &circuit.branches[relay.coil.idx()].kind else {
        panic!("a coil is a resistance")
    };
    let coil = ohms.value(&circuit::At::centre(&circuit, &at));
    let circuit::BranchKind::RelayContact { pull_in_volts, .. } = circuit.branches[relay.contacts[0].idx()].kind else {
        panic!("K2 has a contact")
    };
    // By hand: pull-in volts over the coil's own resistance is the current it takes, from a feed a little below 12.6 V.
    let most = coil * (12.6 / pull_in_volts - 1.0);
    let added = fault("K2/coil/added resistance");
    assert!(fan(&[(added, 0.8 * most)]) > 10.0);
    assert!(fan(&[(added, 1.05 * most)]).abs() < 0.1);
    assert!(fan(&[(added, 10e3)]).abs() < 0.1);
}
