//! The real binary on a repair: proved by readings within their bands, refuted by those that showed the fault.

mod common;

use common::{check_shape, json, run, text};
use serde_json::Value;

const BEFORE: [&str; 2] = [
    "key on; fan commanded | scan pressure | 32.0 bar",
    "key on; S1 apart; fan commanded | voltmeter S1.3 | 11.11 V",
];

fn proof(since: &[String], code: i32) -> Value {
    let mut args = vec!["proof", "demo", "--json", "--water", "--repaired", "floor/water"];
    for reading in BEFORE {
        args.extend(["--reading", reading]);
    }
    for reading in since {
        args.extend(["--since", reading]);
    }
    json("proof", &args, code)
}

fn chance(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

#[test]
fn a_repair_is_proved_within_the_bands_and_refuted_outside() {
    let planned = proof(&[], 0);
    assert_eq!(planned["standing"], "open");
    assert!(chance(&planned["mended"]["then"]) > chance(&planned["mended"]["now"]));
    let readings = planned["readings"].as_array().expect("a list");
    assert!(!readings.is_empty());
    let middle: Vec<String> = readings
        .iter()
        .filter(|one| one["band"]["low"].is_number())
        .map(|one| {
            let value = 0.5 * (chance(&one["band"]["low"]) + chance(&one["band"]["high"]));
            let unit = one["band"]["unit"].as_str().expect("a unit");
            let [set_up, test] = ["set_up", "test"].map(|key| one[key].as_str().expect("a text"));
            format!("{set_up} | {test} | {value:.2} {unit}")
        })
        .collect();
    let proved = proof(&middle, 0);
    assert_eq!(proved["standing"], "proved", "{proved:#}");
    assert!(
        proved["readings"]
            .as_array()
            .expect("a list")
            .iter()
            .all(|one| one["within"] == true)
    );
    let refuted = proof(&BEFORE.map(str::to_owned), 1);
    assert_eq!(refuted["standing"], "refuted", "{refuted:#}");
    // The pressure sensor on a reference: half way it gives half of it.
    let steps = planned["sweeps"][0]["steps"].as_array().expect("a list");
    let ratio = &steps[2]["ratio"];
    assert!(chance(&ratio["low"]) < 0.5 && 0.5 < chance(&ratio["high"]), "{ratio}");
}

#[test]
fn a_repair_is_told_in_plain_words() {
    let output = run(&[
        "proof",
        "demo",
        "--water",
        "--reading",
        BEFORE[0],
        "--reading",
        BEFORE[1],
    ]);
    let told = text(&output.stdout);
    assert!(
        told.contains("Readings that prove it:") && told.contains("Sweep refrigerant pressure"),
        "{told}"
    );
    let wrong = run(&["proof", "demo", "--repaired", "flor/water"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        text(&wrong.stderr).contains("did you mean `floor/water`"),
        "{}",
        text(&wrong.stderr)
    );
    let empty = run(&["proof", "demo", "--json"]);
    check_shape("proof", &text(&empty.stdout));
}
