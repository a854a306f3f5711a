//! The real binary on codes, scan data, numbers of vehicles and logs.

mod common;

use common::{check_shape, json, run, run_with, text};
use serde_json::json as value;

#[test]
fn codes_are_explained_and_what_they_share_is_told() {
    let told = json("code", &["code", "P0642", "p012213", "01 13", "P1ABC", "--json"], 0);
    let codes = told["codes"].as_array().expect("a list");
    assert_eq!(codes[0]["known"]["says"], "low");
    assert_eq!(
        (&codes[1]["code"], &codes[1]["failure_type"]["meaning"]),
        (&value!("P0122"), &value!("open"))
    );
    assert_eq!(
        (&codes[2]["code"], &codes[2]["from_bytes"]),
        (&value!("P0113"), &value!(true))
    );
    assert_eq!(
        (&codes[3]["known"], &codes[3]["numbered_by"]),
        (&value!(null), &value!("maker"))
    );
    assert_eq!(told["shared"][0]["codes"], value!(["P0642"]));
    // P0113 is a signal too high: that does not come of a supply too low.
    assert_eq!(told["shared"][0]["may_follow"], value!(["P0122"]));
    let said = text(&run(&["code", "P0113"]).stdout);
    assert!(said.contains("very cold"), "{said}");
}

#[test]
fn a_code_given_twice_is_told_once() {
    let said = text(&run(&["code", "P0122", "p0122", "01 22"]).stdout);
    assert_eq!(said.matches("P0122  ").count(), 1, "{said}");
    let told = json("code", &["code", "P0122", "P0122", "P0122-13", "--json"], 0);
    let codes = told["codes"].as_array().expect("a list");
    assert_eq!(
        codes.len(),
        2,
        "with and without its failure type it is not the same: {told}"
    );
}

#[test]
fn a_code_beside_a_circuit_says_which_check_sets_it_or_that_none_does() {
    let told = json("code", &["code", "P0533", "P1ABC", "--circuit", "demo", "--json"], 0);
    let lines = told["in_circuit"].as_array().expect("a list");
    assert_eq!(lines.len(), 2);
    assert!(
        lines[0].to_string().contains("has a check that sets P0533"),
        "{lines:?}"
    );
    assert!(
        lines[1]
            .to_string()
            .contains("no check that sets P1ABC, so it is not weighed"),
        "{lines:?}"
    );
    let alone = json("code", &["code", "P0533", "--json"], 0);
    assert_eq!(alone["in_circuit"], value!(null));
}

/// Chance of the suspects of whom `is_it` says so, after codes.
fn chance(file: &str, more: &[&str], is_it: &dyn Fn(&str) -> bool) -> f64 {
    let args = [&["suspects", file, "--json"], more].concat();
    let told = json("suspects", &args, 0);
    let suspects = told["suspects"].as_array().expect("a list").iter();
    let of = suspects.filter(|one| is_it(one["fault"].as_str().unwrap_or_default()));
    of.filter_map(|one| one["chance"].as_f64()).sum()
}

#[test]
fn a_code_weighs_by_its_state_and_one_without_a_check_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("injector.toml");
    std::fs::write(&file, run(&["fill", "injector-low-side"]).stdout).expect("written");
    let file = file.to_str().expect("plain");
    // What leaves the injector's pin high while its driver is on.
    let high = |fault: &str| {
        fault.contains("leak to feed") || fault.contains("driver/stuck off") || fault.contains("shorted in part")
    };
    let after = |more: &[&str]| chance(file, more, &high);
    let [present, pending, history] =
        ["P0262", "P0262 pending", "P0262 history (81 200 km)"].map(|code| after(&["--code", code]));
    let before = after(&[]);
    assert!(
        present > pending && pending > history && history > before,
        "{present} {pending} {history} {before}"
    );
    assert!(present > 3.0 * before, "{present} {before}");
    let output = run(&["suspects", file, "--code", "P0562", "--json"]);
    assert_eq!(output.status.code(), Some(0));
    let said = text(&output.stderr);
    assert!(
        said.contains("no check that sets P0562, so it is not weighed"),
        "{said}"
    );
    let wrong = run(&["suspects", file, "--code", "P0ZZZ"]);
    assert_eq!(wrong.status.code(), Some(2));
}

#[test]
fn what_is_no_code_is_refused_with_the_one_that_may_be_meant() {
    let output = run(&["code", "PO122"]);
    assert_eq!(output.status.code(), Some(2));
    let said = text(&output.stderr);
    assert!(said.contains("is P0122 meant?"), "{said}");
}

#[test]
fn scan_data_goes_both_ways() {
    let told = json("data", &["data", "0C", "1AF8", "--json"], 0);
    assert_eq!(told["values"][0]["value"], 1726.0);
    let told = json("data", &["data", "0C", "--value", "1726.1", "--json"], 0);
    assert_eq!(
        (&told["values"][0]["bytes"], &told["values"][0]["value"]),
        (&value!("1A F8"), &value!(1726.0))
    );
    let told = json("data", &["data", "05", "--value", "-40", "--json"], 0);
    assert_eq!(
        (&told["values"][0]["bytes"], &told["values"][0]["at_end"]),
        (&value!("00"), &value!("low"))
    );
    let told = json("data", &["data", "14", "5A FF", "--json"], 0);
    assert_eq!(
        (&told["values"][0]["value"], &told["values"][1]["not_used"]),
        (&value!(0.45), &value!(true))
    );
    let told = json(
        "data",
        &["data", "24", "--value", "2", "--field", "voltage", "--json"],
        0,
    );
    assert_eq!(told["values"][0]["bytes"], "40 00");
    let said = text(&run(&["data", "0c", "1a f8"]).stdout);
    assert!(said.starts_with("0C  engine speed: 1726 rpm\n"), "{said}");
    for wrong in [
        &["data", "0C", "1A"][..],
        &["data", "FE", "00"],
        &["data", "14", "--field", "lambda"],
        &["data", "0C", "1AF"],
    ] {
        assert_eq!(run(wrong).status.code(), Some(2), "{wrong:?}");
    }
}

#[test]
fn bits_tell_known_pids_and_checks_that_have_run() {
    let told = json("data", &["data", "20", "80 00 00 01", "--json"], 0);
    assert_eq!(told["supported"], value!(["21", "40"]));
    let told = json("data", &["data", "01", "82 07 E5 04", "--json"], 0);
    assert_eq!(
        (&told["monitors"]["lamp"], &told["monitors"]["codes"]),
        (&value!(true), &value!(2))
    );
    let said = text(&run(&["data", "01", "00076D6D"]).stdout);
    assert!(said.contains("catalyst: has not run"), "{said}");
    assert_eq!(run(&["data", "01", "0007"]).status.code(), Some(2));
}

#[test]
fn a_number_is_checked_and_a_slip_in_it_found() {
    let told = json("vin", &["vin", "1m8gdm9axkp042788", "--json"], 0);
    assert_eq!(
        (&told["check"]["holds"], &told["model_year"]["light"]),
        (&value!(true), &value!(1989))
    );
    let told = json("vin", &["vin", "1M8GDM9AXKP024788", "--json"], 0);
    assert_eq!(told["check"]["holds"], false);
    assert!(
        told["one_slip_away"]
            .as_array()
            .expect("a list")
            .contains(&value!("1M8GDM9AXKP042788"))
    );
    let said = text(&run(&["vin", "1M8GDM9AXKP042788"]).stdout);
    assert!(said.contains("Model year 1989"), "{said}");
    let output = run(&["vin", "1M8GDM9AXKPO42788"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("character 12 is `O`"));
}

#[test]
fn a_log_is_read_its_columns_named_and_what_is_odd_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("drive.csv");
    let rows: Vec<String> = (0..12).map(|row| format!("{row},5;{};-40;On\n", 800 + row)).collect();
    std::fs::write(
        &file,
        format!("Time;Engine RPM;Coolant temp;Loop\ns;rpm;°C;\n{}", rows.concat()),
    )
    .expect("it can be written");
    let path = file.to_str().expect("a path");
    let told = json("log", &["log", path, "--json"], 0);
    assert_eq!(
        (&told["rows"], &told["seconds"], &told["decimal"]),
        (&value!(12), &value!(11.0), &value!(","))
    );
    assert_eq!(
        (&told["series"][0]["is"]["pid"], &told["left_out"]),
        (&value!("0C"), &value!(["Loop"]))
    );
    let finding = &told["findings"][0];
    assert_eq!((&finding["series"], &finding["kind"]), (&value!(1), &value!("at end")));
    assert_eq!(finding["figures"]["samples"], 12);
    let said = text(&run(&["log", path]).stdout);
    assert!(said.contains("Coolant temp shows -40 °C, the low end"), "{said}");
    let pasted = run_with(&["log", "-", "--json"], "Volts\n12.1\n12.2\n");
    assert_eq!(check_shape("log", &text(&pasted.stdout))["time"], value!(null));
    std::fs::write(&file, "words\n").expect("it can be written");
    assert_eq!(run(&["log", path]).status.code(), Some(3));
}
