//! What was done and seen between readings counts, wherever readings are taken from.

mod common;

use common::{SIGNAL, check_shape, json, run, run_with, text};
use serde_json::Value;

/// Chance of all that is wrong at the floor joint.
fn at_the_floor_joint(answer: &Value) -> f64 {
    let suspects = answer["suspects"].as_array().expect("suspects").iter();
    let alike = suspects.flat_map(|one| one["look_alikes"].as_array().expect("look-alikes"));
    let there = alike.filter(|one| one["fault"].as_str().is_some_and(|path| path.starts_with("floor")));
    there.filter_map(|one| one["chance"].as_f64()).sum()
}

fn left(entries: &[&str]) -> f64 {
    let options = entries.iter().flat_map(|entry| ["--reading", entry]);
    let args: Vec<&str> = ["suspects", "demo", "--json"].into_iter().chain(options).collect();
    at_the_floor_joint(&json("suspects", &args, 0))
}

#[test]
fn a_close_look_moves_the_suspicion_of_its_place() {
    let [before, sound, damaged] = [
        &[SIGNAL][..],
        &[SIGNAL, "looked floor sound"],
        &[SIGNAL, "looked floor damaged"],
    ]
    .map(left);
    assert!(sound < 0.8 * before, "{before} {sound}");
    assert!(damaged > 3.0 * before, "{before} {damaged}");
}

#[test]
fn a_repair_counts_where_it_stands_among_the_readings() {
    let good = "key on; S1 apart; fan commanded | voltmeter S1.3 | 0.05 V";
    let first = &json("suspects", &["suspects", "demo", "--json", "--reading", SIGNAL], 0)["suspects"][0];
    let (path, before) = (
        first["fault"].as_str().expect("a path"),
        first["chance"].as_f64().expect("a chance"),
    );
    let repaired = format!("repaired {path}");
    let led = |entries: &[&str]| {
        let options = entries.iter().flat_map(|entry| ["--reading", entry]);
        let args: Vec<&str> = ["suspects", "demo", "--json"].into_iter().chain(options).collect();
        let answer = json("suspects", &args, 0);
        let suspects = answer["suspects"].as_array().expect("suspects").iter();
        let mine = suspects.filter(|one| one["fault"] == path);
        mine.filter_map(|one| one["chance"].as_f64()).sum::<f64>()
    };
    let cured = led(&[SIGNAL, &repaired, good]);
    let in_vain = led(&[SIGNAL, &repaired, SIGNAL]);
    assert!(cured > 2.0 * before, "{before} {cured}");
    assert!(in_vain < 0.3 * before, "{before} {in_vain}");
}

#[test]
fn a_twins_reading_leaves_the_suspicion_as_it_was() {
    let twin = "twin | key on; S1 apart | voltmeter S1.3 | 4.98 V";
    assert!((left(&[SIGNAL]) - left(&[SIGNAL, twin])).abs() < 0.02);
}

#[test]
fn a_deed_that_cannot_be_is_told_with_what_was_expected() {
    for (entry, why) in [
        ("reseated sensor", "is no connector"),
        ("looked nowhere damaged", "no part `nowhere`"),
        ("washed S1", "neither a reading"),
        ("repaired floor/watr", "floor/water"),
    ] {
        let output = run(&["suspects", "demo", "--reading", entry]);
        assert_eq!(output.status.code(), Some(2), "{entry}");
        let said = text(&output.stderr);
        assert!(said.contains(why) && said.contains(entry), "{said}");
    }
}

#[test]
fn a_player_tells_deeds_and_twins() {
    let reading = |twin: bool| {
        let twin = if twin { ",\"twin\":true" } else { "" };
        format!(
            "{{\"reading\":{{\"set_up\":\"key on; S1 apart; fan commanded\",\"test\":\"voltmeter S1.3\",\"shown\":\"10.4 V\"{twin}}}}}"
        )
    };
    let lines = [
        "{\"start\":{\"comes_and_goes\":false}}".to_owned(),
        reading(false),
        "{\"did\":\"looked floor damaged\"}".to_owned(),
        reading(true),
        "{\"did\":\"looked at it\"}".to_owned(),
    ];
    let output = run_with(&["play", "demo"], &lines.join("\n"));
    let said = text(&output.stdout);
    let answers: Vec<&str> = said.lines().collect();
    let seen = |at: usize| check_shape("play", answers[at]);
    assert!(at_the_floor_joint(&seen(2)) > at_the_floor_joint(&seen(1)));
    assert_eq!(
        seen(3)["readings"].as_array().map(Vec::len),
        Some(1),
        "a twin's reading is none of this vehicle's"
    );
    assert!(answers[4].contains("after looking say what was seen"), "{}", answers[4]);
}

#[test]
fn a_repair_that_is_noted_is_not_asked_for_again() {
    let entries = [
        "key on; fan commanded | scan pressure | 32.0 bar",
        "key on; S1 apart; fan commanded | voltmeter S1.3 | 11.11 V",
        "looked floor damaged",
    ];
    let readings: Vec<&str> = entries.iter().flat_map(|entry| ["--reading", entry]).collect();
    let before = text(&run(&[&["suspects", "demo", "--water"], &readings[..]].concat()).stdout);
    assert!(before.contains("To cure it"), "{before}");
    let repaired = [&readings[..], &["--reading", "repaired floor/water"]].concat();
    let args = [&["suspects", "demo", "--water"], &repaired[..]].concat();
    let after = text(&run(&args).stdout);
    assert!(!after.contains("To cure it") && after.contains("Done: "), "{after}");
    let answer = json("suspects", &[&args[..], &["--json"]].concat(), 0);
    assert!(
        answer["suspects"][0]["mended"].as_f64() > Some(0.9),
        "{}",
        answer["suspects"][0]
    );
}

#[test]
fn where_no_single_fault_explains_the_readings_two_are_told() {
    let good = "key on; S1 apart; fan commanded | voltmeter S1.3 | 0.05 V";
    let repaired = "repaired body/added resistance";
    let args = [
        "suspects",
        "demo",
        "--reading",
        SIGNAL,
        "--reading",
        repaired,
        "--reading",
        good,
    ];
    let answer = json("suspects", &[&args[..], &["--json"]].concat(), 0);
    assert!(answer["pairs"]["tried"].as_u64() > Some(0), "{}", answer["pairs"]);
    let suspects = answer["suspects"].as_array().expect("suspects").iter();
    assert!(suspects.filter(|one| one["also"].is_string()).count() > 0);
    let said = text(&run(&args).stdout);
    assert!(said.contains("pairs of faults at once were tried"), "{said}");
}

#[test]
fn a_test_in_mind_is_told_with_what_each_outcome_would_mean() {
    let args = [
        "judge",
        "demo",
        "--reading",
        SIGNAL,
        "--set-up",
        "key on; S1 apart",
        "--test",
        "voltmeter S1.3",
    ];
    let judged = json("judge", &[&args[..], &["--json"]].concat(), 0);
    let outcomes = judged["outcomes"].as_array().expect("outcomes");
    assert!(outcomes.len() >= 2, "{judged}");
    let sum: f64 = outcomes.iter().filter_map(|one| one["chance"].as_f64()).sum();
    assert!((0.5..1.001).contains(&sum), "{sum}");
    let said = text(&run(&args).stdout);
    assert!(said.lines().filter(|line| line.contains(" %  ")).count() >= 2, "{said}");
}
