//! Every circuit of the trials, healthy, reads what a few lines of arithmetic say: its file means what it should.

use bench::{Bench, Predict as _, Question, parse_test};
use std::sync::Arc;
use trials::BUILT_IN;

/// Circuit, test, what it should show and why, and how far it may be off for what the arithmetic leaves out (contacts,
/// crimps, short wires), as a share.
const HEALTHY: &[(&str, &str, f64, f64)] = &[
    // As sensed.
    ("van-31", "scan pressure; key on", 8.0, 0.01),
    // A tenth of the track at 5 V.
    ("potentiometer", "voltmeter S1.2; key on", 0.5, 0.02),
    // 15 % and 7.5 % of 5 V; half the span further at half the way: 15 + 30 and 7.5 + 15 %.
    ("pedal-pair", "voltmeter S1.3 S1.2; key on", 0.75, 0.02),
    ("pedal-pair", "voltmeter S1.6 S1.5; key on", 0.375, 0.02),
    ("pedal-pair", "voltmeter S1.3 S1.2; key on; pedal 50 %", 2.25, 0.02),
    // 2.1 kΩ · exp(3550 (1/353.15 − 1/298.15)) = 329 Ω under 1 kΩ from 5 V.
    ("thermistor", "voltmeter S1.1 S1.2; key on", 5.0 * 329.0 / 1329.0, 0.01),
    // 0.5 V and a quarter of 4 V.
    ("shared-reference", "voltmeter S1.3 S1.2; key on", 1.5, 0.02),
    // Winding, driver, half an ohm of nothing else.
    (
        "injectors",
        "clamp W4; key on; one commanded",
        12.6 / (13.8 + 0.3),
        0.03,
    ),
    (
        "solenoid",
        "clamp W3; key on; shift commanded",
        12.6 / (5.4 + 0.25),
        0.06,
    ),
    // Battery 12 mΩ, fuse 3, contacts 9, 4 mm² 1, 2.5 mm² 20, stud and strap 5, plugs 12.
    (
        "relay-motor",
        "clamp W2; key on; blower commanded",
        12.6 / (1.1 + 0.062),
        0.02,
    ),
    // 40 Ω and 80 % of 240 Ω under 560 Ω, and the ground that 17 A lift: rail by 3 mΩ of strap, sensor by 9.5 mΩ.
    (
        "shared-ground-fan",
        "voltmeter D1.1; key on; level 80 %",
        (5.05 - 0.16) * 232.0 / 792.0 + 0.16,
        0.02,
    ),
    // 31 W at 12 V; a filament's current rises with about the root of its voltage: √(12.3/12) = 1.012.
    (
        "lamps",
        "clamp W6; key on; tail commanded; stop commanded",
        31.0 / 12.0 * 1.012,
        0.02,
    ),
    // Half of 5 V on both wires, and two ends of 120 Ω beside each other.
    ("bus", "voltmeter B1.3; key on", 2.5, 0.01),
    ("bus", "voltmeter B1.4; key on", 2.5, 0.01),
    ("bus", "ohmmeter B1.3 B1.4; key off", 60.0, 0.01),
    // Cables of 50 mm² are 0.6 mΩ, contacts 1.2, ground 0.6.
    (
        "starter",
        "clamp W1; key cranking",
        12.5 / (0.009 + 0.042 + 0.0024),
        0.02,
    ),
    // 0.62 mΩ of cable and 1.2 of contacts at 234 A.
    (
        "starter",
        "voltmeter battery+ starter/plus; key cranking",
        234.0 * 0.00182,
        0.03,
    ),
    // Two modules of 1 mA asleep.
    ("drain", "clamp battery; key asleep", -2e-3, 0.01),
    // 2.2 kΩ from the feed, 47 kΩ into a clamp at 5.6 V.
    ("switch-input", "voltmeter D1.1; key on", 12.6 - 7.0 * 2.2 / 49.2, 0.01),
    // Two halves of 1.9 Ω, transistor 40 mΩ.
    ("heated-seat", "clamp W3; key on", 12.6 / 3.84, 0.03),
    // Three of 150 W at 11 V, seen by 12 V: √(12/11) = 1.044.
    (
        "glow",
        "clamp W8; key on; glow commanded",
        3.0 * 150.0 / 11.0 * 1.044,
        0.02,
    ),
];

#[test]
fn healthy_circuits_read_what_arithmetic_says() {
    for built_in in BUILT_IN {
        let circuit =
            circuit::parse(built_in.text).unwrap_or_else(|mistakes| panic!("{}: {mistakes:#?}", built_in.name));
        let bench = Bench::new(Arc::new(circuit)).unwrap();
        let rows: Vec<_> = HEALTHY.iter().filter(|row| row.0 == built_in.name).collect();
        assert!(!rows.is_empty(), "{} is not looked at", built_in.name);
        for (name, test, expected, room) in rows {
            let test_at = parse_test(bench.circuit(), test).unwrap_or_else(|error| panic!("{name}, {test}: {error}"));
            let healthy = [bench::Hypothesis::default()];
            let shown = bench.predict(Question::of(&healthy, &test_at)).unwrap().predictions[0].value;
            assert!(
                (shown - expected).abs() <= room * expected.abs(),
                "{name}, {test}: {shown}, by hand {expected}"
            );
        }
    }
}

#[test]
fn the_kinds_of_circuit_that_count_are_among_them() {
    let names: Vec<&str> = BUILT_IN.iter().map(|one| one.name).collect();
    assert!(names.len() >= 12);
    for name in [
        "bus",
        "pedal-pair",
        "starter",
        "drain",
        "thermistor",
        "shared-reference",
        "injectors",
        "relay-motor",
        "lamps",
    ] {
        assert!(names.contains(&name), "{name}");
    }
}
