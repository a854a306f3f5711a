//! Running the program and holding its JSON to the documented shapes.
#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(
    clippy::allow_attributes,
    reason = "expect would fail in the test files that use everything"
)]

use serde_json::Value;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

pub(crate) fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(args)
        .stdin(Stdio::null())
        .output()
        .expect("the binary runs")
}

pub(crate) fn run_with(args: &[&str], input: &str) -> Output {
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

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The value of a JSON answer, held to the documented shape of `command`.
#[track_caller]
pub(crate) fn check_shape(command: &str, json: &str) -> Value {
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
pub(crate) fn json(command: &str, args: &[&str], code: i32) -> Value {
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

pub(crate) const SIGNAL: &str = "key on; S1 apart; fan commanded | voltmeter S1.3 | 10.4 V";
