//! The real binary: every command's JSON has its documented shape, exit codes say what happened, bad input is explained.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(args)
        .stdin(Stdio::null())
        .output()
        .expect("the binary runs")
}

fn run_with(args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    // It may have ended before it has read everything.
    let _ = child.stdin.take().expect("piped").write_all(input.as_bytes());
    child.wait_with_output().expect("it ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The value of a JSON answer, held to the documented shape of `command`.
#[track_caller]
fn check_shape(command: &str, json: &str) -> Value {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/command-line.schema.json");
    let mut schema: Value = serde_json::from_str(&std::fs::read_to_string(page).expect("the page")).expect("JSON");
    assert!(schema["$defs"].get(command).is_some(), "no shape for {command}");
    schema["$ref"] = format!("#/$defs/{command}").into();
    let validator = jsonschema::validator_for(&schema).expect("a valid schema");
    let value: Value = serde_json::from_str(json).unwrap_or_else(|error| panic!("{command}: {error}\n{json}"));
    let errors: Vec<String> = validator
        .iter_errors(&value)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{command}: {errors:#?}");
    value
}

#[track_caller]
fn json(command: &str, args: &[&str], code: i32) -> Value {
    let output = run(args);
    assert_eq!(
        output.status.code(),
        Some(code),
        "{}\n{}",
        text(&output.stdout),
        text(&output.stderr)
    );
    check_shape(command, &text(&output.stdout))
}

const SIGNAL: &str = "key on; S1 apart; fan commanded | voltmeter S1.3 | 10.4 V";

#[test]
fn every_command_prints_its_documented_json() {
    let demo = json("demo", &["demo", "--json"], 0);
    assert_eq!(
        demo["conclusion"]["kind"], "open",
        "the demo's answer must still be open"
    );
    assert!(!demo["next"].as_array().expect("a list").is_empty());
    json("check", &["check", "demo", "--json"], 0);
    assert!(
        json("faults", &["faults", "demo", "--json"], 0)
            .as_array()
            .expect("a list")
            .len()
            > 100
    );
    json("predict", &["predict", "demo", "--json"], 0);
    json("suspects", &["suspects", "demo", "--json", "--reading", SIGNAL], 0);
    json("next", &["next", "demo", "--json", "--reading", SIGNAL], 0);
    json("spice", &["spice", "demo", "--json"], 0);
    json("draw", &["draw", "demo", "--json", "--set-up", "S1 apart"], 0);
}

#[test]
fn a_signal_wire_on_feed_voltage_must_not_be_jumped_to_ground() {
    let args = [
        "judge",
        "demo",
        "--json",
        "--reading",
        SIGNAL,
        "--set-up",
        "key on; fan commanded",
    ];
    let safe = json("judge", &[&args[..], &["--test", "voltmeter S1.3"]].concat(), 0);
    assert_eq!(safe["verdict"], "safe");
    let jumped = json("judge", &[&args[..], &["--test", "ammeter S1.1 battery-"]].concat(), 1);
    assert_ne!(jumped["verdict"], "safe", "a reference shorted to ground");
}

/// The text of a judgement on the demo circuit, nothing read yet.
fn judged(set_up: &str, test: &str) -> String {
    text(&run(&["judge", "demo", "--set-up", set_up, "--test", test]).stdout)
}

fn has(list: &Value, is: impl Fn(&Value) -> bool) -> bool {
    list.as_array().expect("a list").iter().any(is)
}

#[test]
fn who_would_show_otherwise_is_named_and_does() {
    let apart = "key on; S1 apart";
    for (test, fault) in [
        ("light S1.3", "climate/M1.27/leak to feed"),
        ("light S1.1", "climate/M1.12/leak to feed"),
    ] {
        let args = ["demo", "--json", "--set-up", apart, "--test", test];
        let code = i32::from(test == "light S1.1");
        let judged = json("judge", &[&["judge"], &args[..]].concat(), code);
        assert_eq!(judged["worth"]["tells"], false);
        assert_eq!(judged["worth"]["shows"]["is"], "off");
        let otherwise = &judged["worth"]["otherwise"];
        let named = |one: &Value| one["fault"] == fault && one["shows"]["is"] == "bright";
        assert!(has(otherwise, named), "{otherwise:#}");
        // A 12 V bulb on 12 V.
        let broken = format!("{fault}=1");
        let shown = json("predict", &[&["predict"], &args[..], &["--fault", &broken]].concat(), 0);
        assert!(shown["predictions"][0]["value"].as_f64().expect("volts") > 10.0);
        let text = self::judged(apart, test);
        assert!(!text.contains("whatever"), "{text}");
        assert!(
            text.contains("bright if it is this: pin leaks to the module's feed"),
            "{text}"
        );
    }
}

#[test]
fn an_ohmmeter_waits_for_the_voltage_where_a_feed_could_be() {
    let args = [
        "judge",
        "demo",
        "--json",
        "--set-up",
        "key off",
        "--test",
        "ohmmeter S1.3",
    ];
    let judged = json("judge", &args, 1);
    assert_eq!(judged["verdict"], "first");
    assert_eq!(judged["first"][0]["test"], "voltmeter S1.3 battery-");
    let dangers = &judged["dangers"];
    let feed = |one: &Value| one["under"]["short_to_feed"] == "S1.3" && one["what"]["harms"] == true;
    let welded = |one: &Value| one["under"]["fault"] == "K2/87/stuck closed" && one["what"]["harms"] == false;
    assert!(has(dangers, feed) && has(dangers, welded), "{dangers:#}");

    let read = |volts| ["--reading", volts];
    let none = json(
        "judge",
        &[&args[..], &read("key off | voltmeter S1.3 | 0.0 mV")].concat(),
        0,
    );
    assert_eq!(none["verdict"], "safe");
    let fed = json(
        "judge",
        &[&args[..], &read("key off | voltmeter S1.3 | 12.5 V")].concat(),
        1,
    );
    assert_eq!(fed["verdict"], "refused");
}

#[test]
fn what_a_set_up_sets_going_is_told() {
    for (set_up, words) in [
        ("key on; fan commanded", "fan turns"),
        ("key running", "Engine running"),
        ("key cranking", "The engine turns"),
    ] {
        let judge = [
            "judge",
            "demo",
            "--json",
            "--set-up",
            set_up,
            "--test",
            "voltmeter C5.1",
        ];
        let value = json("judge", &judge, 0);
        assert_eq!(value["verdict"], "safe");
        let told = |one: &Value| one.as_str().is_some_and(|caution| caution.contains(words));
        assert!(has(&value["cautions"], told), "{set_up}: {value:#}");
        assert!(judged(set_up, "voltmeter C5.1").contains(words));
    }
    let still = judged("key on", "voltmeter C5.1");
    assert!(!still.contains("mind:"), "{still}");
}

#[test]
fn predictions_follow_set_up_and_fault() {
    let volts = |args: &[&str]| {
        let value = json(
            "predict",
            &[&["predict", "demo", "--json", "--test", "voltmeter S1.3"], args].concat(),
            0,
        );
        value["predictions"][0]["value"].as_f64().expect("a number")
    };
    let healthy = volts(&["--set-up", "key on; pressure 8 bar"]);
    // 0.5 V at 0 bar and 4.5 V at 32 bar: 1.5 V at 8 bar.
    assert!((healthy - 1.5).abs() < 0.02, "{healthy}");
    let high = volts(&["--set-up", "key on; pressure 32 bar"]);
    assert!((high - 4.5).abs() < 0.05, "{high}");
}

#[test]
fn a_bare_network_is_solved() {
    let net = r#"{"elements":[{"name":"V1","type":"V","nodes":["a","0"],"value":12},
        {"name":"R1","type":"R","nodes":["a","b"],"value":1000},{"name":"R2","type":"R","nodes":["b","0"],"value":2000}]}"#;
    let output = run_with(&["solve", "-", "--json"], net);
    let value = check_shape("solve", &text(&output.stdout));
    assert!((value["node_volts"]["b"].as_f64().expect("a number") - 8.0).abs() < 1e-12);
    assert!((value["element_amps"]["V1"].as_f64().expect("a number") + 0.004).abs() < 1e-15);
    let broken = run_with(
        &["solve", "-"],
        r#"{"elements":[{"name":"Q1","type":"Q","nodes":["a","0"]}]}"#,
    );
    assert_eq!(broken.status.code(), Some(3));
    assert!(text(&broken.stderr).contains("`Q1`"), "{}", text(&broken.stderr));
}

#[test]
fn another_program_plays_the_vehicle() {
    let input = "{\"start\":{\"set_up\":\"key on\"}}\nnonsense\n{\"reading\":{\"set_up\":\"key on\",\"test\":\"scan pressure\",\"shown\":\"32.0 bar\"}}\n{\"stop\":true}\n";
    let output = run_with(&["play", "demo"], input);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let lines: Vec<String> = text(&output.stdout).lines().map(str::to_owned).collect();
    assert_eq!(lines.len(), 3, "{lines:#?}");
    check_shape("play", &lines[0]);
    assert!(lines[1].contains("error"), "{}", lines[1]);
    let after = check_shape("play", &lines[2]);
    assert_eq!(after["readings"].as_array().expect("a list").len(), 1);
}

#[test]
fn a_play_can_be_held_to_the_tests_on_offer() {
    let input = "{\"start\":{\"tests\":[{\"set_up\":\"key on\",\"test\":\"voltmeter S1.1\"},{\"set_up\":\"key on\",\"test\":\"voltmeter S1.3\"}]}}\n";
    let output = run_with(&["play", "demo"], input);
    let answer = check_shape("play", text(&output.stdout).lines().next().expect("a line"));
    let next = answer["next"].as_array().expect("a list");
    assert!(!next.is_empty());
    for test in next.iter().flat_map(|one| one["tests"].as_array().expect("a list")) {
        let test = test["test"].as_str().expect("a text");
        assert!(
            ["voltmeter S1.1 battery-", "voltmeter S1.3 battery-"].contains(&test),
            "{test}"
        );
    }
}

#[test]
fn bad_input_says_where_and_what_was_expected() {
    for (args, code, part) in [
        (
            &["suspects", "demo", "--reading", "key on | voltmeter S9.1 | 5 V"][..],
            2,
            "S9.1",
        ),
        (
            &["suspects", "demo", "--reading", "key on | voltmeter S1.1"],
            2,
            "set-up | test | value",
        ),
        (
            &["suspects", "demo", "--reading", "key on | voltmeter S1.1 | 5 ohm"],
            2,
            "5 ohm",
        ),
        (&["predict", "demo", "--set-up", "key sideways"], 2, "sideways"),
        (
            &["predict", "demo", "--fault", "nothing like it=3"],
            2,
            "nothing like it",
        ),
        (&["predict", "no-such-file.toml"], 3, "no-such-file.toml"),
        (&["frobnicate"], 2, "frobnicate"),
    ] {
        let output = run(args);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{args:?}: {said}");
        assert!(said.contains(part), "{args:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
}

#[test]
fn mistakes_of_a_file_are_all_reported_with_their_places() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("bad.toml");
    std::fs::write(
        &file,
        "title = \"x\"\ntitel = 3\n[batery]\n[wire]\nW1 = { from = \"S1.1\", to = \"M1.1\" }\n",
    )
    .expect("written");
    let name = file.to_str().expect("a plain path");
    let value = json("check", &["check", name, "--json"], 1);
    let lines: Vec<u64> = value["mistakes"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|one| one["line"].as_u64())
        .collect();
    assert!(lines.contains(&2) && lines.contains(&3), "{value:#}");
    let plain = text(&run(&["check", name]).stdout);
    assert!(plain.contains("bad.toml:2:1"), "{plain}");
}

#[test]
fn completions_are_printed_for_every_shell() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = run(&["completions", shell]);
        assert!(
            output.status.success() && text(&output.stdout).contains("suspects"),
            "{shell}"
        );
    }
}
