//! The real binary on a folder of jobs: a proved repair counts and moves the rates, one that is not proved does not.

mod common;

use std::path::Path;

use common::{json, run, text};
use serde_json::{Value, json as value};

const CIRCUIT: &str = include_str!("../../../circuits/van-31.toml");
const FAULT: &str = "floor.7-8/b/leak";
const SHOWN: [(&str, &str, &str); 2] = [
    ("key on; fan commanded", "scan pressure", "32.0 bar"),
    ("key on; S1 apart; fan commanded", "voltmeter S1.3 battery-", "11.11 V"),
];
const MENDED: [(&str, &str, &str); 2] = [
    ("key on; fan commanded", "scan pressure", "8.0 bar"),
    ("key on; S1 apart; fan commanded", "voltmeter S1.3 battery-", "46 mV"),
];

/// A job as `serve` keeps it: readings, the repair, readings.
fn job(folder: &Path, name: &str, since: &[(&str, &str, &str)]) {
    let reading = |&(set_up, test, shown): &(&str, &str, &str)| value!({ "what": "reading", "set_up": set_up, "test": test, "shown": shown });
    let opened = value!({ "what": "opened", "title": name, "complaint": "", "circuit": CIRCUIT });
    let repair = value!({ "what": "repair", "words": "dried the joint", "fault": FAULT });
    let events = std::iter::once(opened)
        .chain(SHOWN.iter().map(reading))
        .chain([repair])
        .chain(since.iter().map(reading));
    let mut lines = vec![value!({ "probewise_job": 1 }).to_string()];
    for (at, mut event) in events.enumerate() {
        event["id"] = format!("e{at}").into();
        event["device"] = "test".into();
        event["sequence"] = (at + 1).into();
        event["at_ms"] = (1000 * at).into();
        lines.push(event.to_string());
    }
    std::fs::write(folder.join(name), lines.join("\n") + "\n").expect("it can be written");
}

fn chance(findings: &Value) -> f64 {
    let suspects = findings["suspects"].as_array().expect("a list");
    let likes = suspects
        .iter()
        .flat_map(|one| one["look_alikes"].as_array().expect("a list"));
    let of_fault = likes
        .filter(|like| like["fault"] == FAULT)
        .filter_map(|like| like["chance"].as_f64());
    of_fault.sum()
}

#[test]
fn proved_repairs_move_the_rates_and_can_be_left_out() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in ["one.job", "two.job", "three.job"] {
        job(folder.path(), name, &MENDED);
    }
    job(folder.path(), "not-mended.job", &SHOWN);
    job(folder.path(), "not-measured.job", &[]);
    std::fs::write(folder.path().join("broken.job"), "no job\n").expect("it can be written");
    let path = folder.path().to_str().expect("a path");
    let learnt = json("learn", &["learn", path, "--json"], 0);
    assert_eq!(
        learnt["solved"],
        value!(["one.job", "three.job", "two.job"]),
        "{learnt:#}"
    );
    assert_eq!(learnt["left_out"].as_array().map(Vec::len), Some(3), "{learnt:#}");
    let rates = learnt["rates"].as_array().expect("a list");
    let seen: f64 = rates.iter().filter_map(|one| one["seen"].as_f64()).sum();
    assert!((seen - 3.0).abs() < 1e-6, "{seen}");
    let most = &rates[0];
    assert_eq!(most["vehicles"], "van an invented delivery van");
    assert!(most["times"].as_f64().expect("a number") > 1.05, "{most}");

    let (set_up, test, shown) = SHOWN[1];
    let reading = format!("{set_up} | {test} | {shown}");
    let file = folder.path().join("learnt.json");
    let with = ["--learnt", file.to_str().expect("a path")];
    let suspects = ["suspects", "demo", "--json", "--reading", &reading];
    let built_in = chance(&json("suspects", &suspects, 0));
    let own = chance(&json("suspects", &[&suspects[..], &with].concat(), 0));
    assert!(own > built_in, "{own} after {built_in}");
    let told = text(&run(&[&["why", "demo", FAULT, "--reading", &reading][..], &with].concat()).stdout);
    assert!(told.contains("Seen here"), "{told}");
    let missing = run(&["suspects", "demo", "--learnt", "no-such-file.json"]);
    assert_eq!(missing.status.code(), Some(3));
    assert!(
        text(&missing.stderr).contains("no-such-file.json"),
        "{}",
        text(&missing.stderr)
    );
}
