//! What is refused, what is held back and what is let through, on a solved circuit.

use bench::{Hypothesis, Kind, Placement, Reading, Shown, Test};
use circuit::{Change, Circuit, FaultId, Placed, SetUp};

use super::fixture::{Linear, at, branch, fault, pot, set_up};
use super::{Cause, caution, hazards, live};
use crate::{Danger, DangerKind, Under, Verdict};

/// Judged on the linear fake.
#[track_caller]
fn judged(circuit: &Circuit, causes: &[Cause<'_>], readings: &[Reading], test: &Test) -> (Verdict, Vec<Danger>) {
    let answer = hazards(&Linear(circuit), circuit, causes, readings, test, true).unwrap();
    // The bench itself, with a filament in the test light, must come to the same verdict.
    let bench = bench::Bench::new(std::sync::Arc::new(circuit.clone())).unwrap();
    assert_eq!(
        hazards(&bench, circuit, causes, readings, test, true).unwrap().0,
        answer.0
    );
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

/// A parted signal wire jumped to ground, and the voltage there to be read first.
fn jumped(circuit: &Circuit) -> (Test, Test) {
    let with = set_up(&[1], vec![jumper(circuit, "S1.2", "battery-")]);
    (
        volts(circuit, "S1.1", with),
        volts(circuit, "S1.2", set_up(&[1], Vec::new())),
    )
}

#[test]
fn a_parted_signal_wire_is_jumped_to_ground_only_after_its_voltage_was_read() {
    let circuit = pot(0.5);
    let (test, ask) = jumped(&circuit);

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
fn an_odd_reading_elsewhere_does_not_clear_a_wire() {
    let circuit = pot(0.5);
    let (test, ask) = jumped(&circuit);
    // 9 V at another pin fits neither the sound circuit nor a short at the jumped one.
    let elsewhere = shown(volts(&circuit, "S1.3", set_up(&[1], Vec::new())), 9.0);
    assert_eq!(judged(&circuit, &[], &[elsewhere], &test).0, Verdict::First(vec![ask]));
}

#[test]
fn a_low_battery_clears_no_wire_of_its_feed() {
    let circuit = pot(0.5);
    let (test, ask) = jumped(&circuit);
    for low in [11.0, 10.4] {
        assert_eq!(
            judged(&circuit, &[], &[shown(ask.clone(), low)], &test).0,
            Verdict::Refused,
            "{low} V"
        );
    }
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
        matches!(tool.what, DangerKind::Tool { watts: Some(watts), .. } if (watts - 0.57).abs() < 0.03),
        "{tool:?}"
    );
}

fn ohms(circuit: &Circuit, red: &str, black: &str, set_up: SetUp) -> Test {
    Test {
        placement: Placement::Ohmmeter {
            red: at(circuit, red),
            black: at(circuit, black),
        },
        set_up,
    }
}

/// A leak from the feed to the parted signal wire, as a cause.
fn leaking(leak: &circuit::Fault) -> Cause<'_> {
    Cause {
        under: Under::Suspect(FaultId(7)),
        chance: 0.3,
        hypothesis: bench::Hypothesis {
            faults: vec![(leak, 0.0)],
        },
    }
}

/// Both plugs apart: the signal wire hangs free, and only a feed that has got to it could put voltage on it.
#[test]
fn an_ohmmeter_on_a_free_wire_waits_for_the_voltage_there() {
    let circuit = pot(0.5);
    let free = set_up(&[0, 1], Vec::new());
    let test = ohms(&circuit, "S1.2", "battery-", free.clone());
    let ask = volts(&circuit, "S1.2", free);
    let (verdict, dangers) = judged(&circuit, &[], &[], &test);
    assert_eq!(verdict, Verdict::First(vec![ask.clone()]));
    let [danger] = &dangers[..] else { panic!("{dangers:?}") };
    assert_eq!(danger.under, Under::ShortToFeed(at(&circuit, "S1.2")));
    assert!(
        matches!(danger.what, DangerKind::LiveOhms { volts, harms: true } if (volts - 12.6).abs() < 0.1),
        "{danger:?}"
    );

    assert_eq!(
        judged(&circuit, &[], &[shown(ask.clone(), 0.001)], &test),
        (Verdict::Safe, Vec::new())
    );
    assert_eq!(judged(&circuit, &[], &[shown(ask, 12.5)], &test).0, Verdict::Refused);
}

#[test]
fn a_little_voltage_spoils_ohms_and_hurts_nothing() {
    let circuit = pot(0.5);
    let free = set_up(&[0, 1], Vec::new());
    // 3 kΩ to battery positive and 10 Ω to ground stand at 12.6 V · 10 / 3010 = 42 mV.
    let leak = fault(
        "leak",
        vec![
            Change::BridgeOhms(at(&circuit, "S1.2"), circuit.battery_plus, 3e3),
            Change::BridgeOhms(at(&circuit, "S1.2"), circuit.battery_minus, 10.0),
        ],
        Vec::new(),
    );
    let test = ohms(&circuit, "S1.2", "battery-", free.clone());
    let ask = volts(&circuit, "S1.2", free);
    let (verdict, dangers) = judged(&circuit, &[leaking(&leak)], &[], &test);
    assert_eq!(verdict, Verdict::First(vec![ask.clone()]));
    let by_suspect = dangers.iter().find(|danger| danger.under == Under::Suspect(FaultId(7)));
    let what = &by_suspect.expect("beside the feed that nobody suspects").what;
    assert!(
        matches!(what, DangerKind::LiveOhms { volts, harms: false } if (volts - 0.042).abs() < 0.001),
        "{what:?}"
    );
    // The voltmeter shows 42 mV there: the figure of ohms would be worthless; nothing there: it counts.
    let settled = |volts| judged(&circuit, &[leaking(&leak)], &[shown(ask.clone(), volts)], &test);
    let (verdict, dangers) = settled(0.042);
    assert_eq!(verdict, Verdict::Refused);
    assert!(
        dangers.iter().all(|danger| danger.under == Under::Suspect(FaultId(7))),
        "{dangers:?}"
    );
    assert_eq!(settled(0.0), (Verdict::Safe, Vec::new()));
}

/// 12.6 V behind 3 MΩ push 4 µA into the meter.
#[test]
fn voltage_behind_megohms_cannot_harm_an_ohmmeter() {
    let harms = |source_ohms| match live::danger(Kind::Live, 12.6, source_ohms).first() {
        Some((DangerKind::LiveOhms { volts, harms }, _)) => (*volts, *harms),
        other => panic!("{other:?}"),
    };
    assert!(!harms(3e6).1 && harms(100.0).1);
    // As a voltmeter of 10 MΩ shows it.
    assert!((harms(3e6).0 - 12.6 * 10.0 / 13.0).abs() < 0.01);
}

#[test]
fn a_fuse_in_a_jumper_blows_and_nothing_is_said_of_watts() {
    let circuit = pot(0.5);
    let fused = Placed::Jumper {
        a: circuit.battery_plus,
        b: circuit.battery_minus,
        fuse_amps: Some(3.0),
    };
    let test = volts(&circuit, "S1.1", set_up(&[], vec![fused]));
    let bench = bench::Bench::new(std::sync::Arc::new(circuit.clone())).unwrap();
    let (verdict, dangers) = hazards(&bench, &circuit, &[], &[], &test, true).unwrap();
    assert_eq!(verdict, Verdict::Refused);
    let blows = DangerKind::ToolFuse {
        tool: "jumper",
        rating: 3.0,
    };
    assert!(dangers.iter().any(|danger| danger.what == blows), "{dangers:?}");
    assert!(
        !dangers
            .iter()
            .any(|danger| matches!(danger.what, DangerKind::Tool { .. })),
        "{dangers:?}"
    );
}

#[test]
fn an_ohmmeter_is_refused_on_a_live_circuit_and_allowed_across_a_parted_part() {
    let circuit = pot(0.5);
    let (verdict, dangers) = judged(&circuit, &[], &[], &ohms(&circuit, "S1.1", "S1.3", SetUp::default()));
    assert_eq!(verdict, Verdict::Refused);
    assert!(
        matches!(dangers[0].what, DangerKind::LiveOhms { volts, harms: true } if volts.abs() > 4.9),
        "{dangers:?}"
    );
    let parted = set_up(&[1], Vec::new());
    assert_eq!(
        judged(&circuit, &[], &[], &ohms(&circuit, "S1.1/pin", "S1.3/pin", parted)),
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

#[test]
fn battery_positive_on_a_reference_is_refused_for_its_volts_though_hardly_any_current_flows() {
    let circuit = pot(0.5);
    let mut circuit = circuit;
    // An output that takes nothing back: only a bleed is left to the jumper.
    let reference = branch(&circuit, "reference");
    let circuit::BranchKind::Source { plus, minus, .. } = circuit.branches[reference.idx()].kind else {
        panic!("a source")
    };
    circuit.branches[reference.idx()].kind = circuit::BranchKind::Resistor {
        a: plus,
        b: minus,
        ohms: circuit::Law::fixed(22e3),
    };
    let lifted = set_up(&[1], vec![jumper(&circuit, "battery+", "S1.1")]);
    let (verdict, dangers) = judged(&circuit, &[], &[], &volts(&circuit, "S1.1", lifted));
    assert_eq!(verdict, Verdict::Refused);
    let [danger] = &dangers[..] else { panic!("{dangers:?}") };
    let DangerKind::OverVoltage {
        point,
        volts: shown,
        rating,
    } = danger.what
    else {
        panic!("{danger:?}")
    };
    assert_eq!((point, rating), (at(&circuit, "M1.1/pin"), 6.5));
    assert!((shown - 12.6).abs() < 0.01, "{shown}");
    assert!(danger.anyway);

    // 33 kΩ in between leave 12.6 V · 22 / 55 = 5 V: nothing.
    let weak = Placed::Resistor {
        a: circuit.battery_plus,
        b: at(&circuit, "S1.1"),
        ohms: 33e3,
    };
    let (verdict, _) = judged(&circuit, &[], &[], &volts(&circuit, "S1.1", set_up(&[1], vec![weak])));
    assert_eq!(verdict, Verdict::Safe);
}

#[test]
fn what_a_sound_circuit_passes_already_is_not_put_on_a_suspect() {
    let circuit = pot(0.5);
    let grounded = set_up(&[], vec![jumper(&circuit, "S1.1", "battery-")]);
    let short = fault(
        "short",
        vec![Change::BridgeOhms(at(&circuit, "M1.1"), circuit.battery_plus, 0.1)],
        Vec::new(),
    );
    let causes = [Cause {
        under: Under::Suspect(FaultId(3)),
        chance: 0.1,
        hypothesis: Hypothesis {
            faults: vec![(&short, 0.0)],
        },
    }];
    let (_, dangers) = judged(&circuit, &causes, &[], &volts(&circuit, "S1.1", grounded));
    let anyway = |wanted: fn(&DangerKind) -> bool| dangers.iter().find(|danger| wanted(&danger.what)).map(|d| d.anyway);
    // 4.3 A in the jumper of the sound circuit are within its 10 A; 12.6 V over 0.24 Ω with the short are not.
    assert_eq!(
        anyway(|what| matches!(what, DangerKind::Tool { .. })),
        Some(false),
        "{dangers:?}"
    );
    // The reference gives those 4.3 A anyway.
    assert_eq!(overload(&circuit, &dangers, "M1.1/contact").1, Under::Healthy);

    let across = set_up(&[], vec![jumper(&circuit, "battery+", "battery-")]);
    let (_, dangers) = judged(&circuit, &causes, &[], &volts(&circuit, "S1.3", across));
    let tool = dangers
        .iter()
        .find(|danger| matches!(danger.what, DangerKind::Tool { .. }));
    assert!(tool.is_some_and(|danger| danger.anyway), "{dangers:?}");
}
