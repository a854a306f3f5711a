//! The real binary on ready-made circuits: found by codes and words, filled, combined, and what they share found broken.

mod common;

use common::{json, run, text};
use serde_json::json as value;

#[test]
fn codes_and_words_offer_circuits() {
    let all = json("archetypes", &["archetypes", "--json"], 0);
    assert!(!all.as_array().expect("a list").is_empty());
    let found = json("archetypes", &["archetypes", "P0122", "--json"], 0);
    assert_eq!(found[0]["because"], value!(["P0122 (throttle or pedal position A)"]));
    let serves = found[0]["serves"].to_string();
    assert!(serves.contains("throttle"), "{serves}");
    assert_eq!(run(&["archetypes", "nothing of the kind"]).status.code(), Some(1));
}

#[test]
fn questions_are_shown_and_answers_make_a_circuit_that_checks() {
    let asked = json("questions", &["questions", "position-track", "--json"], 0);
    let signal = &asked["questions"][0];
    assert_eq!(
        (&signal["id"], &signal["asks"], &signal["stands"]),
        (&value!("signal"), &value!("cavity"), &value!("C1.5"))
    );
    assert!(text(&run(&["questions", "position-track"]).stdout).contains("  2  a wire at 12 V"));

    let filled = json(
        "fill",
        &["fill", "position-track", "signal=12", "beside=2", "--json"],
        0,
    );
    assert_eq!(
        filled["questions"].as_array().expect("a list").len() + 2,
        asked["questions"].as_array().expect("a list").len()
    );
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("own.toml");
    std::fs::write(&file, run(&["fill", "position-track", "signal=12"]).stdout).expect("written");
    let name = file.to_str().expect("plain");
    assert_eq!(run(&["check", name]).status.code(), Some(0));
    // A file of one's own asks like a built-in one, named or found in its folder.
    let filled = json("fill", &["fill", name, "reference=9", "--json"], 0);
    assert_eq!(filled["name"], "own");
    let path = folder.path().to_str().expect("plain");
    let all = json("archetypes", &["archetypes", "--folder", path, "--json"], 0);
    assert_eq!(all[0]["name"], "own");
}

#[test]
fn wrong_answers_say_which_and_what_was_expected() {
    for (args, says) in [
        (
            ["fill", "position-track", "signal=left"],
            "the number of a cavity of C1 is expected",
        ),
        (
            ["fill", "position-trak", "signal=3"],
            "no such file and no such ready-made circuit; did you mean `position-track`?",
        ),
        (
            ["fill", "quite-another", "signal=3"],
            "no such ready-made circuit; known are accessory-between, ",
        ),
        (["fill", "position-track", "singal=3"], "did you mean `signal`?"),
    ] {
        let output = run(&args);
        assert_eq!(output.status.code(), Some(2));
        let said = text(&output.stderr);
        assert!(said.contains(says), "{said}");
    }
    assert_eq!(run(&["fill", "a=b"]).status.code(), Some(2));
}

/// Two sensors on one module as a file.
fn pair(folder: &std::path::Path) -> String {
    let combined = json("fill", &["combine", "position-track", "position-track", "--json"], 0);
    assert!(!combined["told"].as_array().expect("a list").is_empty());
    let file = folder.join("pair.toml");
    std::fs::write(&file, combined["circuit"].as_str().expect("text")).expect("written");
    file.to_str().expect("plain").to_owned()
}

/// The chance of the faults after these readings, by path.
fn suspects(circuit: &str, readings: &[&str]) -> Vec<(String, f64)> {
    let readings = readings.iter().flat_map(|reading| ["--reading", reading]);
    let args: Vec<&str> = ["suspects", circuit, "--json"].into_iter().chain(readings).collect();
    let told = json("suspects", &args, 0);
    let all = told["suspects"].as_array().expect("a list").iter();
    all.map(|one| {
        (
            one["fault"].as_str().expect("a path").to_owned(),
            one["chance"].as_f64().expect("a number"),
        )
    })
    .collect()
}

#[test]
fn what_two_sensors_share_is_found_broken_by_a_reading_at_each() {
    let folder = tempfile::tempdir().expect("a folder");
    let circuit = pair(folder.path());
    // The wires of the reference meet at SP1, with the trunk W6; those of the sensor ground at SP2, with the trunk W7.
    let cases: [(&[&str], &[&str]); 3] = [
        // Feed there, reference gone at both: a wire of either sensor rubbed through explains both.
        (
            &[
                "F1/out battery- | 12.4 V",
                "S1.1 battery- | 0.01 V",
                "S2.1 battery- | 0.01 V",
            ],
            &[
                "W3/rubbed to body",
                "W8/rubbed to body",
                "C1.3/bad terminal",
                "W6/broken",
                "SP1/W6 joint open",
            ],
        ),
        // Both grounds lifted: what lies between the splice and the battery.
        (
            &["S1.3 battery- | 1.2 V", "S2.3 battery- | 1.2 V"],
            &[
                "C1.4/contact resistance",
                "SP2/W7 joint resistance",
                "W7/added resistance",
                "G1/added resistance",
            ],
        ),
        // Nothing behind the fuse of both.
        (
            &[
                "F1/out battery- | 0.00 V",
                "S1.1 battery- | 0.01 V",
                "S2.1 battery- | 0.01 V",
            ],
            &["F1/blown"],
        ),
    ];
    for (readings, shared) in cases {
        let readings: Vec<String> = readings
            .iter()
            .map(|reading| format!("key on | voltmeter {reading}"))
            .collect();
        let readings: Vec<&str> = readings.iter().map(String::as_str).collect();
        let all = suspects(&circuit, &readings);
        let chance = |path: &str| {
            all.iter()
                .find(|(fault, _)| fault == path)
                .map_or(0.0, |(_, chance)| *chance)
        };
        for path in shared {
            assert!(chance(path) > 0.01, "{path} explains {readings:?}: {all:?}");
        }
        // What only one sensor has explains half of it.
        let alone = ["S1.", "S2.", "SP1/W3", "SP1/W8", "SP2/W4", "SP2/W9"];
        let alone = all
            .iter()
            .filter(|(fault, _)| alone.iter().any(|part| fault.starts_with(part)));
        let alone: f64 = alone
            .filter(|(fault, _)| !fault.ends_with("/leak"))
            .map(|(_, chance)| chance)
            .sum();
        assert!(alone < 0.03, "{alone} for {readings:?}: {all:?}");
    }
}
