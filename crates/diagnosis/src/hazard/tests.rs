//! What is refused, what is held back and what is let through, on a solved circuit.

use bench::{Placement, Reading, Shown, Test};
use circuit::{Change, Circuit, FaultId, Placed, SetUp};

use super::fixture::{Linear, at, branch, fault, pot, set_up};
use super::{Cause, caution, hazards};
use crate::{Danger, DangerKind, Under, Verdict};

/// Judged on the linear fake.
#[track_caller]
fn judged(circuit: &Circuit, causes: &[Cause<'_>], readings: &[Reading], test: &Test) -> (Verdict, Vec<Danger>) {
    let answer = hazards(&Linear(circuit), circuit, causes, readings, test).unwrap();
    // The bench itself, with a filament in the test light, must come to the same verdict.
    let bench = bench::Bench::new(std::sync::Arc::new(circuit.clone())).unwrap();
    assert_eq!(hazards(&bench, circuit, causes, readings, test).unwrap().0, answer.0);
    answer
}

fn volts(circuit: &Circuit, point: &str, set_up: SetUp) -> Test {
    Test {
        placement: Placement::Voltmeter {
            red: at(circuit, point),
            black: circuit.battery_minus,
        },
        set_up,
    }
}

fn light(circuit: &Circuit, tip: &str, clip: &str, set_up: SetUp) -> Test {
    Test {
        placement: Placement::TestLight {
            tip: at(circuit, tip),
            clip: at(circuit, clip),
        },
        set_up,
    }
}

fn jumper(circuit: &Circuit, a: &str, b: &str) -> Placed {
    Placed::Jumper {
        a: at(circuit, a),
        b: at(circuit, b),
        fuse_amps: None,
    }
}

fn shown(test: Test, value: f64) -> Reading {
    Reading {
        test,
        shown: Shown::Number {
            value,
            resolution: 0.01,
        },
    }
}

/// Amperes through a branch in the danger that names it, and the cause.
#[track_caller]
fn overload(circuit: &Circuit, dangers: &[Danger], path: &str) -> (f64, Under) {
    let wanted = branch(circuit, path);
    let found = dangers.iter().find_map(|danger| match danger.what {
        DangerKind::Overload { branch, amps, .. } if branch == wanted => Some((amps, danger.under.clone())),
        _ => None,
    });
    found.unwrap_or_else(|| panic!("no overload of {path} among {dangers:?}"))
}

#[test]
fn a_voltmeter_is_safe_everywhere() {
    let circuit = pot(0.5);
    let test = volts(&circuit, "S1.1", SetUp::default());
    assert_eq!(judged(&circuit, &[], &[], &test), (Verdict::Safe, Vec::new()));
}

#[test]
fn a_reference_jumped_to_ground_is_refused() {
    let circuit = pot(0.5);
    let test = volts(
        &circuit,
        "S1.1",
        set_up(&[], vec![jumper(&circuit, "S1.1", "battery-")]),
    );
    let (verdict, dangers) = judged(&circuit, &[], &[], &test);
    assert_eq!(verdict, Verdict::Refused);
    let (amps, under) = overload(&circuit, &dangers, "M1.1/contact");
    // 5 V through 1 Ω of the reference, 0.02 Ω of module ground, 0.015 Ω of contact, 0.1 Ω of wire, 0.02 Ω of jumper.
    let hand = 5.0 / (1.0 + 0.02 + 0.015 + 0.1 + 0.02);
    assert!((amps - hand).abs() < 0.01, "{amps} against {hand}");
    assert_eq!(under, Under::Healthy);
}

#[test]
fn a_test_light_is_refused_at_a_reference_and_from_battery_positive_at_a_sensor_ground() {
    let circuit = pot(0.5);
    let (verdict, dangers) = judged(
        &circuit,
        &[],
        &[],
        &light(&circuit, "S1.1", "battery-", SetUp::default()),
    );
    assert_eq!(verdict, Verdict::Refused);
    assert!((overload(&circuit, &dangers, "M1.1/contact").0 - 0.10).abs() < 0.01);

    let parted = set_up(&[1], Vec::new());
    let (verdict, dangers) = judged(&circuit, &[], &[], &light(&circuit, "S1.3", "battery+", parted));
    assert_eq!(verdict, Verdict::Refused);
    let (amps, under) = overload(&circuit, &dangers, "M1.3/contact");
    assert!((amps - 0.26).abs() < 0.01, "{amps} under {under:?}");
}

#[test]
fn a_signal_jumped_to_ground_at_full_travel_burns_the_wiper() {
    let circuit = pot(1.0);
    let test = volts(
        &circuit,
        "S1.2",
        set_up(&[], vec![jumper(&circuit, "S1.2", "battery-")]),
    );
    let (verdict, dangers) = judged(&circuit, &[], &[], &test);
    assert_eq!(verdict, Verdict::Refused);
    let (amps, under) = overload(&circuit, &dangers, "wiper");
    assert!(amps > 0.09, "{amps}");
    assert_eq!(under, Under::Healthy);
}

#[test]
fn a_parted_signal_wire_is_jumped_to_ground_only_after_its_voltage_was_read() {
    let circuit = pot(0.5);
    let test = volts(
        &circuit,
        "S1.1",
        set_up(&[1], vec![jumper(&circuit, "S1.2", "battery-")]),
    );
    let ask = volts(&circuit, "S1.2", set_up(&[1], Vec::new()));

    let (verdict, dangers) = judged(&circuit, &[], &[], &test);
    assert_eq!(verdict, Verdict::First(vec![ask.clone()]));
    let worst = dangers.first().unwrap();
    assert_eq!(worst.under, Under::ShortToFeed(at(&circuit, "S1.2")));
    assert!(
        matches!(worst.what, DangerKind::Tool { amps, rating: 10.0, .. } if amps > 80.0),
        "{worst:?}"
    );

    // The pull-up's 5 V: no feed is on this wire.
    assert_eq!(
        judged(&circuit, &[], &[shown(ask.clone(), 5.0)], &test),
        (Verdict::Safe, Vec::new())
    );
    // Feed voltage: the reading is done and settles nothing in favour of the jumper.
    assert_eq!(judged(&circuit, &[], &[shown(ask, 12.5)], &test).0, Verdict::Refused);
}

#[test]
fn a_suspect_that_makes_a_test_dangerous_is_named_with_the_reading_that_shows_it() {
    let circuit = pot(0.5);
    let leak = fault(
        "leak",
        vec![Change::BridgeOhms(at(&circuit, "S1.2"), circuit.battery_plus, 0.5)],
        Vec::new(),
    );
    let cause = Cause {
        under: Under::Suspect(FaultId(7)),
        chance: 0.3,
        hypothesis: bench::Hypothesis {
            faults: vec![(&leak, 0.0)],
        },
    };
    let test = volts(
        &circuit,
        "S1.1",
        set_up(&[1], vec![jumper(&circuit, "S1.2", "battery-")]),
    );
    let elsewhere = shown(volts(&circuit, "M1.2", SetUp::default()), 2.5);
    let (verdict, dangers) = judged(&circuit, &[cause], &[elsewhere], &test);
    assert_eq!(
        verdict,
        Verdict::First(vec![volts(&circuit, "S1.2", set_up(&[1], Vec::new()))])
    );
    assert!(
        dangers
            .iter()
            .all(|danger| danger.under == Under::Suspect(FaultId(7)) && danger.chance == 0.3)
    );
    assert!(
        matches!(dangers[0].what, DangerKind::Tool { amps, .. } if (amps - 12.6 / 0.54).abs() < 1.0),
        "{dangers:?}"
    );
}

#[test]
fn a_fault_that_overloads_a_pin_by_itself_is_not_the_tests_danger() {
    let circuit = pot(0.5);
    let shorted = fault(
        "short",
        vec![Change::BridgeOhms(at(&circuit, "S1.3"), circuit.battery_plus, 1.0)],
        Vec::new(),
    );
    let cause = Cause {
        under: Under::Suspect(FaultId(0)),
        chance: 0.5,
        hypothesis: bench::Hypothesis {
            faults: vec![(&shorted, 0.0)],
        },
    };
    let test = light(&circuit, "S1.2", "battery-", set_up(&[1], Vec::new()));
    let read = shown(volts(&circuit, "S1.2", set_up(&[1], Vec::new())), 5.0);
    assert_eq!(judged(&circuit, &[cause], &[read], &test), (Verdict::Safe, Vec::new()));
}

#[test]
fn a_resistor_in_place_of_the_sensor_is_safe_and_a_small_one_is_not() {
    let circuit = pot(0.5);
    let with = |ohms| {
        let resistor = Placed::Resistor {
            a: at(&circuit, "S1.1"),
            b: at(&circuit, "S1.2"),
            ohms,
        };
        volts(&circuit, "S1.2", set_up(&[1], vec![resistor]))
    };
    assert_eq!(judged(&circuit, &[], &[], &with(1000.0)).0, Verdict::Safe);
    // A short to a feed at the reference or the signal would put 7.6 V across it: 0.58 W in a quarter-watt part.
    let (verdict, dangers) = judged(&circuit, &[], &[], &with(100.0));
    assert!(matches!(verdict, Verdict::First(_)), "{verdict:?}");
    let tool = dangers
        .iter()
        .find(|danger| matches!(danger.what, DangerKind::Tool { .. }))
        .unwrap();
    assert!(
        matches!(tool.what, DangerKind::Tool { watts, .. } if (watts - 0.57).abs() < 0.03),
        "{tool:?}"
    );
}

#[test]
fn an_ohmmeter_is_refused_on_a_live_circuit_and_allowed_across_a_parted_part() {
    let circuit = pot(0.5);
    let ohms = |red: &str, black: &str, set_up| Test {
        placement: Placement::Ohmmeter {
            red: at(&circuit, red),
            black: at(&circuit, black),
        },
        set_up,
    };
    let (verdict, dangers) = judged(&circuit, &[], &[], &ohms("S1.1", "S1.3", SetUp::default()));
    assert_eq!(verdict, Verdict::Refused);
    assert!(
        matches!(dangers[0].what, DangerKind::LiveOhms { volts } if volts.abs() > 4.9),
        "{dangers:?}"
    );
    let parted = set_up(&[1], Vec::new());
    assert_eq!(
        judged(&circuit, &[], &[], &ohms("S1.1/pin", "S1.3/pin", parted)),
        (Verdict::Safe, Vec::new())
    );
}

#[test]
fn cautions_come_where_they_apply_and_airbag_circuits_are_not_probed() {
    let mut circuit = pot(0.5);
    assert!(caution::cautions(&circuit, &volts(&circuit, "S1.1", SetUp::default())).is_empty());
    let opened = caution::cautions(&circuit, &volts(&circuit, "S1.1", set_up(&[0], Vec::new())));
    assert_eq!(
        opened,
        ["Key off, and wait until the module sleeps, before you open module plug."]
    );
    circuit.parts[3].name = "airbag module".into();
    let test = volts(&circuit, "S1.1", set_up(&[0], Vec::new()));
    assert_eq!(judged(&circuit, &[], &[], &test).0, Verdict::Refused);
}
