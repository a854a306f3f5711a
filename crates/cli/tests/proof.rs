//! The real binary on a suspect and its repair: why it is one; proved by readings within their bands, refuted by those
//! that showed the fault.

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

#[test]
fn a_suspect_is_explained_by_its_readings_and_what_it_leans_on() {
    let args = [
        "why",
        "demo",
        "floor.7-8/b/leak",
        "--water",
        "--reading",
        BEFORE[0],
        "--reading",
        BEFORE[1],
    ];
    let why = json("why", &[&args[..], &["--json"]].concat(), 0);
    let readings = why["readings"].as_array().expect("a list");
    assert_eq!(readings.len(), 2);
    assert!(chance(&readings[1]["bits"]) > 0.3, "{why:#}");
    let leans = why["leans_on"].as_array().expect("a list");
    let moved = |one: &Value| (chance(&one["chance"]) - chance(&why["chance"])).abs();
    assert!(
        leans.windows(2).all(|pair| moved(&pair[0]) >= moved(&pair[1])),
        "{leans:#?}"
    );
    let of = |kind: &str| leans.iter().find(|one| one["assumption"] == kind).expect("it is there");
    // Dry, the water is a sixth as likely.
    assert!(chance(&of("water")["chance"]) < chance(&why["chance"]));
    let told = text(&run(&args).stdout);
    assert!(told.contains("It leans most on this: "), "{told}");
}
