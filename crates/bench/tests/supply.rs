//! Battery and alternator together: who gives, who takes, and how much. What is expected is worked out by hand from the
//! circuit file's own figures: battery 12.6 V behind 12 mΩ giving and 0.3 Ω more taking, alternator 14.2 V behind 10 mΩ,
//! 90 A at most. Both ways agree with ngspice.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

mod outside;

use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict as _, Question, parse_placement};
use circuit::{Fault, parse_set_up, possible_faults};

/// A load straight on the posts of the battery.
fn loaded(ohms: &str) -> (Bench, Vec<Fault>) {
    let text = format!(
        r#"
title = "supply"
[charger]
[device.load]
kind = "heater"
pins = {{ plus = "battery+", minus = "battery-" }}
values = {{ resistance = "{ohms}" }}
"#
    );
    let circuit = Arc::new(circuit::parse(&text).unwrap());
    let faults = possible_faults(&circuit);
    (Bench::new(circuit).unwrap(), faults)
}

/// Volts between the posts, and amperes into the battery.
#[track_caller]
fn posts((bench, faults): &(Bench, Vec<Fault>), set_up: &str, fault: Option<(&str, f64)>) -> (f64, f64) {
    let circuit = bench.circuit();
    let set_up = parse_set_up(circuit, set_up).unwrap();
    let placements =
        ["voltmeter battery+ battery-", "clamp battery"].map(|text| parse_placement(circuit, text).unwrap());
    let named = fault.map(|(path, severity)| (faults.iter().find(|fault| fault.path == path).unwrap(), severity));
    let hypotheses = [Hypothesis {
        faults: named.into_iter().collect(),
    }];
    let question = Question::new(&hypotheses, &set_up, &placements);
    let batch = bench.predict(question).unwrap();
    assert!(batch.predictions.iter().all(|one| one.kind == Kind::Number));
    outside::agrees(bench, &set_up, &hypotheses[0].faults, 1);
    (batch.predictions[0].value, batch.predictions[1].value)
}

#[track_caller]
fn near((volts, amps): (f64, f64), expected: (f64, f64)) {
    let good = (volts - expected.0).abs() < 0.01 && (amps - expected.1).abs() < 0.01 * expected.1.abs() + 0.05;
    assert!(
        good,
        "{volts} V and {amps} A, not {} V and {} A",
        expected.0, expected.1
    );
}

#[test]
fn a_healthy_charging_voltage_is_predicted_as_such() {
    // 1.6 V drive a current through 0.312 Ω and 11.1 mΩ: 4.95 A, and the posts stand at 12.6 V + 0.312 Ω · 4.95 A.
    near(posts(&loaded("1M"), "key running", None), (14.145, 4.95));
    // 14 A of load more cost 0.15 V.
    near(posts(&loaded("1 Ω"), "key running", None), (13.99, 4.47));
}

#[test]
fn the_battery_gives_what_the_alternator_cannot() {
    // At 0.1 Ω the alternator gives its 90 A and the battery the rest behind 12.2 mΩ: (12.6 V + 90 A · 12.2 mΩ) / 1.122.
    near(posts(&loaded("0.1 Ω"), "key running", None), (12.209, -32.1));
    // Between the two nobody is at a limit: 60 A cost the alternator 0.67 V, and the battery still takes.
    near(posts(&loaded("0.225 Ω"), "key running", None), (13.504, 2.90));
}

#[test]
fn alone_the_battery_gives_behind_its_internal_resistance() {
    near(posts(&loaded("1 Ω"), "key on", None), (12.6 / 1.0122, -12.6 / 1.0122));
    near(posts(&loaded("1M"), "key off", None), (12.6, 0.0));
    near(
        posts(&loaded("1 Ω"), "key cranking", None),
        (10.5 / 1.0122, -10.5 / 1.0122),
    );
    near(posts(&loaded("1 Ω"), "key on; battery off", None), (0.0, 0.0));
    // The rectifier takes nothing back from the battery.
    near(
        posts(&loaded("1 Ω"), "key running", Some(("charger/dead", 0.0))),
        (12.6 / 1.0122, -12.6 / 1.0122),
    );
}

#[test]
fn a_worn_battery_shows_when_it_gives_and_hardly_when_it_takes() {
    let bench = loaded("0.5 Ω");
    near(
        posts(&bench, "key on", Some(("battery/weak", 0.1))),
        (12.6 * 0.5 / 0.6122, -12.6 / 0.6122),
    );
    let (healthy, _) = posts(&bench, "key running", None);
    let (weak, _) = posts(&bench, "key running", Some(("battery/weak", 0.1)));
    assert!((healthy - weak).abs() < 0.03, "{healthy} {weak}");
    // A flat one takes more, and pulls the voltage down by little: (14.2 − 7.56) V through 0.323 Ω.
    near(
        posts(&loaded("1M"), "key running", Some(("battery/flat", 0.6))),
        (13.97, 20.5),
    );
}
