//! What `judge` says on the demo circuit: volts that a test puts where they do not belong, points out of reach, reasons.

use std::process::{Command, Stdio};

use serde_json::Value;

/// Standard output and exit code of `judge demo` with these further arguments.
fn judge(args: &[&str]) -> (String, Option<i32>) {
    let output = Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(["judge", "demo"])
        .args(args)
        .stdin(Stdio::null())
        .output()
        .expect("the binary runs");
    (
        String::from_utf8_lossy(&output.stdout).into_owned(),
        output.status.code(),
    )
}

#[track_caller]
fn json(args: &[&str], code: i32) -> Value {
    let (text, ended) = judge(&[args, &["--json"]].concat());
    assert_eq!(ended, Some(code), "{text}");
    serde_json::from_str(&text).expect("JSON")
}

const READ: [&str; 8] = [
    "--reading",
    "key on | voltmeter S1.1 | 5.00 V",
    "--reading",
    "key on | voltmeter S1.3 | 1.50 V",
    "--reading",
    "key on | voltmeter S1.2 | 0.01 V",
    "--reading",
    "key on | scan pressure | 8.0 bar",
];

/// The volts of the danger to a point.
fn volts_on<'v>(judged: &'v Value, point: &str) -> Option<&'v Value> {
    let dangers = judged["dangers"].as_array()?;
    dangers
        .iter()
        .find(|one| one["what"]["kind"] == "over-voltage" && one["what"]["point"] == point)
}

#[test]
fn battery_voltage_on_the_reference_is_refused() {
    for (set_up, point) in [
        ("key on; S1 apart; jumper battery+ S1.1", "M1.12/pin"),
        ("key on; jumper battery+ S1.1", "S1.1/pin"),
    ] {
        let args = [&READ[..], &["--set-up", set_up, "--test", "scan pressure"]].concat();
        let judged = json(&args, 1);
        assert_eq!(judged["verdict"], "refused", "{set_up}");
        let danger = volts_on(&judged, point).unwrap_or_else(|| panic!("{set_up}: {judged:#}"));
        let volts = danger["what"]["volts"].as_f64().expect("volts");
        assert!((12.0..13.0).contains(&volts), "{set_up}: {volts}");
        assert_eq!(danger["anyway"], true);
    }
    let wire = ["--set-up", "key on; overlay M1.12 S1.1", "--test", "scan pressure"];
    let judged = json(&[&READ[..], &wire].concat(), 0);
    assert_eq!(judged["verdict"], "safe");
}

#[test]
fn a_point_that_no_probe_reaches_is_told_with_what_to_part() {
    let judged = json(&["--test", "voltmeter S1.3/pin"], 1);
    assert_eq!(judged["worth"]["tells"], false);
    assert_eq!(judged["worth"]["out_of_reach"], serde_json::json!(["S1.3/pin"]));
    let (text, _) = judge(&["--test", "voltmeter S1.3/pin"]);
    assert!(text.contains("Cannot be done as it stands. Part the"), "{text}");
    assert!(!text.contains("Tells"), "{text}");
    // What is clipped in has to get there, too.
    let clipped = [
        "--set-up",
        "key off; jumper S1.3/pin battery-",
        "--test",
        "voltmeter S1.3",
    ];
    let judged = json(&clipped, 1);
    assert_eq!(judged["worth"]["out_of_reach"], serde_json::json!(["S1.3/pin"]));
    let judged = json(&["--set-up", "key on; S1 apart", "--test", "voltmeter S1.3/pin"], 0);
    assert!(judged["worth"]["out_of_reach"].is_null());
}

#[test]
fn what_harms_a_sound_circuit_is_not_put_on_a_suspect() {
    for (set_up, test) in [
        ("key on", "ammeter battery+ battery-"),
        ("key on; jumper battery+ S1.2", "voltmeter S1.3"),
    ] {
        let (text, code) = judge(&["--set-up", set_up, "--test", test]);
        assert_eq!(code, Some(1), "{text}");
        let tool = text.lines().find(|line| line.contains("A in the ")).expect("the tool");
        assert!(!tool.contains("if it is this"), "{tool}");
        assert!(tool.contains("whatever is wrong"), "{tool}");
    }
}

#[test]
fn a_light_on_a_signal_is_said_to_load_it_down() {
    let judged = json(
        &[&READ[..], &["--set-up", "key on", "--test", "light S1.3"]].concat(),
        1,
    );
    let worth = &judged["worth"];
    assert_eq!(worth["because"], "LoadedDown", "{judged:#}");
}
