//! What `plan` prints: a tree whose first step is what `next` proposes.

mod common;

use common::{SIGNAL, json, run, text};
use serde_json::Value;

fn branches(plan: &Value) -> &[Value] {
    plan["branches"].as_array().expect("a list")
}

#[test]
fn a_plan_begins_with_the_next_test_and_goes_on_from_what_it_shows() {
    let read = ["demo", "--json", "--reading", SIGNAL];
    let plan = json("plan", &[&["plan"], &read[..]].concat(), 0);
    let next = json("next", &[&["next"], &read[..], &["--count", "1"]].concat(), 0);
    assert_eq!(plan["kind"], "measure");
    assert_eq!(plan["step"]["tests"], next["next"][0]["tests"]);
    assert!(branches(&plan).len() >= 2, "{plan:#}");
    for branch in branches(&plan) {
        let then = &branch["then"];
        assert!(then["kind"] != "later" || branch["if"]["chance"].as_f64() < Some(1.0));
        if then["kind"] == "measure" {
            assert_ne!(then["step"]["tests"], plan["step"]["tests"], "nothing is read twice");
            assert!(
                branches(then).iter().all(|last| last["then"]["kind"] == "later"),
                "two steps"
            );
        }
    }
    let second = |branch: &Value| branch["then"]["step"]["tests"].to_string();
    let follow: Vec<String> = branches(&plan).iter().map(second).collect();
    assert!(
        follow.iter().any(|one| *one != follow[0]),
        "what comes next depends on what was shown"
    );
}

#[test]
fn a_plan_can_be_printed_and_its_length_is_held() {
    let read = ["plan", "demo", "--reading", SIGNAL];
    let printed = text(&run(&read).stdout);
    assert!(printed.contains("  if ") && printed.contains("set-up: "), "{printed}");
    let one = text(&run(&[&read[..], &["--steps", "1"]].concat()).stdout);
    assert!(one.lines().count() < printed.lines().count() && printed.starts_with(one.lines().next().unwrap()));
    assert_eq!(run(&[&read[..], &["--steps", "9"]].concat()).status.code(), Some(2));
}
