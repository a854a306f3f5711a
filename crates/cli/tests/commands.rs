//! The real binary: every command's JSON has its documented shape, exit codes say what happened, bad input is explained.

mod common;

use std::path::Path;
use std::process::{Command, Stdio};

use common::{SIGNAL, check_shape, json, run, run_with, text};

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

/// A folder with one file.
fn folder_with(name: &str, content: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::fs::create_dir_all(path.parent().expect("in the folder")).expect("made");
    std::fs::write(path, content).expect("written");
    folder
}

fn path_in(folder: &tempfile::TempDir, name: &str) -> String {
    folder.path().join(name).to_str().expect("a plain path").to_owned()
}

#[test]
fn predictions_are_what_the_instrument_shows() {
    let ask = |fault: &[&str]| {
        let tests = [
            "light S1.1",
            "light M1.1",
            "code P0532",
            "continuity body battery-",
            "continuity S1.1 S1.2",
            "scan pressure",
        ];
        let tests = tests.iter().flat_map(|test| ["--test", test]);
        let args: Vec<&str> = ["predict", "demo"]
            .into_iter()
            .chain(tests)
            .chain(fault.iter().copied())
            .collect();
        let value = json("predict", &[&args[..], &["--json"]].concat(), 0);
        let shows: Vec<Option<String>> = value["predictions"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|one| one["shows"].as_str().map(str::to_owned))
            .collect();
        (shows, text(&run(&args).stdout))
    };
    let (shows, plain) = ask(&[]);
    let shows: Vec<&str> = shows.iter().map(|one| one.as_deref().unwrap_or("-")).collect();
    // A reference of 50 mA barely warms a bulb of 250 mA. An ohmmeter on the live reference shows nothing of use.
    assert_eq!(shows, ["off", "bright", "not set", "yes", "-", "8.0 bar"], "{plain}");
    for part in [
        "bright  (12.",
        "V across the bulb)",
        "not set  (1.",
        "V at the converter)",
        "yes  (beeps: ",
        "live circuit",
    ] {
        assert!(plain.contains(part), "{part}: {plain}");
    }
    let (shows, plain) = ask(&["--fault", "W22/broken"]);
    assert_eq!(shows[2].as_deref(), Some("present"), "{plain}");
}

#[test]
fn an_input_that_is_open_inside_reads_its_leakage_and_not_its_pin() {
    let scan = |bar: &str| {
        let set_up = format!("key on; pressure {bar} bar");
        let args = [
            "predict",
            "demo",
            "--json",
            "--test",
            "scan pressure",
            "--test",
            "voltmeter M1.27",
        ];
        let value = json(
            "predict",
            &[&args[..], &["--set-up", &set_up, "--fault", "M1.27/series/open"]].concat(),
            0,
        );
        let of = |at: usize| value["predictions"][at]["value"].as_f64().expect("a number");
        (of(0), of(1))
    };
    for (bar, volts) in [("8", 1.5), ("30", 4.25)] {
        let (shown, pin) = scan(bar);
        assert!(
            shown == 0.0 && (pin - volts).abs() < 0.05,
            "{bar} bar: {shown}, {pin} V at the pin"
        );
    }
}

#[test]
fn a_healthy_charging_voltage_is_no_fault() {
    let args = [
        "suspects",
        "demo",
        "--json",
        "--reading",
        "key running | voltmeter battery+ battery- | 14.2 V",
    ];
    let value = json("suspects", &args, 0);
    let healthy = &value["readings"][0]["healthy"];
    let off = (14.2 - healthy["value"].as_f64().expect("a number")) / healthy["deviation"].as_f64().expect("a number");
    assert!(off.abs() < 1.0, "{healthy}");
    for suspect in value["suspects"].as_array().expect("a list") {
        let [now, before] = ["chance", "chance_before"].map(|key| suspect[key].as_f64().expect("a chance"));
        assert!(now < 1.5 * before + 0.01, "{suspect}");
    }
}

#[test]
fn a_relay_that_holds_itself_is_told() {
    let hold = "title = \"holds itself\"\n[relay.K1]\n[ground.G1]\n[wire]\nW1 = { from = \"battery+\", to = \"K1/30\" }\n\
                W2 = { from = \"K1/87\", to = \"K1/86\" }\nW3 = { from = \"K1/85\", to = \"G1\" }\n";
    let folder = folder_with("hold.toml", hold);
    let name = path_in(&folder, "hold.toml");
    let value = json("predict", &["predict", &name, "--json", "--test", "voltmeter K1/87"], 0);
    let other = &value["also_stable"][0];
    assert_eq!(other["relays"][0]["relay"], "K1", "{value:#}");
    assert_eq!(other["relays"][0]["pulled_in"], true);
    let plain = text(&run(&["predict", &name, "--test", "voltmeter K1/87"]).stdout);
    assert!(
        plain.contains("Stable as well: K1 held in: ") && plain.contains("not 0 V"),
        "{plain}"
    );
    // Every solution reports how well it holds.
    assert!(value["kcl_residual_amps"].as_f64().expect("amperes") < 1e-6 && plain.contains("Kirchhoff residual"));
    let demo = json(
        "predict",
        &["predict", "demo", "--json", "--set-up", "key on; fan commanded"],
        0,
    );
    assert_eq!(demo["also_stable"], serde_json::json!([]));
}

const KINDS: &str = "[kind.sender]\npins = [\"signal\", \"ground\"]\n\
                     element.float = { is = \"resistor\", between = [\"signal\", \"ground\"], ohms = \"100\" }\n";

fn tank(include: &str) -> String {
    format!(
        "title = \"tank\"\ninclude = [{include:?}]\n[device.gauge]\nkind = \"sender\"\n\
         pins = {{ signal = \"battery+\", ground = \"battery-\" }}\n"
    )
}

#[test]
fn files_of_kinds_beside_the_circuit_are_read() {
    let folder = folder_with("kinds/mine.toml", KINDS);
    let name = path_in(&folder, "tank.toml");
    std::fs::write(&name, tank("kinds/mine.toml")).expect("written");
    let checked = run(&["check", &name]);
    assert!(checked.status.success(), "{}", text(&checked.stdout));
    let amps = json("predict", &["predict", &name, "--json", "--test", "clamp battery"], 0);
    let amps = amps["predictions"][0]["value"].as_f64().expect("a number");
    assert!((amps + 0.126).abs() < 1e-4, "{amps}");
    // A mistake in it is shown in it.
    std::fs::write(folder.path().join("kinds/mine.toml"), KINDS.replace("ohms", "olms")).expect("written");
    let plain = text(&run(&["check", &name]).stdout);
    assert!(
        plain.contains("mine.toml:3:") && plain.contains("  | element.float"),
        "{plain}"
    );
    let value = json("check", &["check", &name, "--json"], 1);
    assert_eq!(value["mistakes"][0]["included"], "kinds/mine.toml", "{value:#}");
}

#[test]
fn files_of_kinds_elsewhere_are_refused() {
    let folder = folder_with("elsewhere.toml", KINDS);
    std::fs::create_dir(folder.path().join("here")).expect("made");
    let name = path_in(&folder, "here/tank.toml");
    let absolute = path_in(&folder, "elsewhere.toml");
    for include in ["../elsewhere.toml", absolute.as_str(), "missing.toml"] {
        std::fs::write(&name, tank(include)).expect("written");
        let output = run(&["check", &name]);
        let plain = text(&output.stdout);
        assert_eq!(output.status.code(), Some(1), "{plain}");
        assert!(plain.contains("tank.toml:2:") && plain.contains(include), "{plain}");
    }
}

#[test]
fn a_job_keeps_what_its_circuit_includes() {
    let folder = folder_with("mine.toml", KINDS);
    let name = path_in(&folder, "tank.toml");
    let job = path_in(&folder, "tank.job");
    std::fs::write(&name, tank("mine.toml")).expect("written");
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewise"))
        .args(["serve", &name, "--job", &job])
        .stdout(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut first = String::new();
    std::io::BufRead::read_line(
        &mut std::io::BufReader::new(child.stdout.take().expect("piped")),
        &mut first,
    )
    .expect("it says where it is");
    child.kill().expect("it ends");
    child.wait().expect("it ends");
    assert!(first.contains("http://"), "{first}");
    let store = job::Store::open(Path::new(&job)).expect("a job");
    let events = store.events();
    let job::What::Opened { circuit, .. } = &events[0].what else {
        panic!("{events:?}")
    };
    let kept = circuit::parse(circuit).expect("it needs no other file");
    assert!(kept.branch("gauge/float").is_some());
}

#[test]
fn a_severity_outside_its_range_is_refused() {
    let output = run(&["predict", "demo", "--fault", "floor/water=1e9"]);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("from 100 Ω to 1.00 MΩ"), "{said}");
    for end in ["100", "1M"] {
        assert!(
            run(&[
                "predict",
                "demo",
                "--test",
                "scan pressure",
                "--fault",
                &format!("floor/water={end}")
            ])
            .status
            .success()
        );
    }
}

#[test]
fn a_reader_who_has_seen_enough_is_no_failure() {
    for args in [
        &["faults", "demo"][..],
        &["predict", "demo"],
        &["completions", "bash"],
        &["spice", "demo", "--json"],
    ] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_probewise"))
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert!(
            output.status.success() && output.stderr.is_empty(),
            "{args:?}: {}",
            text(&output.stderr)
        );
    }
}

#[test]
fn a_bare_network_is_answered_in_its_own_names() {
    let solve = |net: &str| {
        let output = run_with(&["solve", "-"], net);
        text(&output.stdout) + &text(&output.stderr)
    };
    let source = r#"{"name":"V1","type":"V","nodes":["a","0"],"value":12}"#;
    for (more, parts) in [
        (
            r#"{"name":"V2","type":"V","nodes":["a","0"],"value":5}"#,
            &["`V1`", "`V2`", "loop"][..],
        ),
        (
            r#"{"name":"R9","type":"R","nodes":["a","0"],"value":-5}"#,
            &["`R9`", "-5"],
        ),
        (
            r#"{"name":"I1","type":"I","nodes":["0","left"],"value":1},{"name":"R1","type":"R","nodes":["left","right"],"value":1}"#,
            &["left, right", "no way out"],
        ),
        (
            r#"{"name":"H1","type":"H","nodes":["b","0"],"ctrl":"R1","value":1},{"name":"R1","type":"R","nodes":["b","0"],"value":1}"#,
            &["`H1`", "`R1`"],
        ),
        (
            r#"{"name":"E1","type":"E","nodes":["b","0"],"value":1}"#,
            &["`E1`", "`ctrl_nodes`"],
        ),
        (
            r#"{"name":"R1","type":"R","nodes":["left","right"],"value":1}"#,
            &["v(left) = 0.000000000 V  (floats)", "nothing ties left, right"],
        ),
    ] {
        let said = solve(&format!("{{\"elements\":[{source},{more}]}}"));
        assert!(parts.iter().all(|part| said.contains(part)), "{more}: {said}");
    }
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

#[test]
fn what_cannot_be_said_is_told_with_its_reason() {
    let args = ["predict", SOLENOID, "--set-up", "key on; valve commanded", "--test"];
    let said = text(&run(&[&args[..], &["ac V1.2"]].concat()).stdout);
    assert!(
        said.contains("cannot be said: it hangs on how a coil's current"),
        "{said}"
    );
    let ask = |placed: &str| {
        let value = json("predict", &[&args[..], &[placed, "--json"]].concat(), 0);
        value["predictions"][0]["unsaid"].clone()
    };
    assert!(ask("clamp W4").as_str().is_some_and(|why| why.contains("coil")));
    assert!(ask("frequency V1.2").is_null());
}

#[test]
fn what_of_a_set_up_has_no_effect_is_told() {
    let args = ["--set-up", "key on; pulses 60 %", "--test", "voltmeter V1.2"];
    for command in ["predict", "judge"] {
        let said = text(&run(&[&[command, SOLENOID][..], &args].concat()).stdout);
        assert!(said.starts_with("mind: `pulses` has no effect: "), "{said}");
        let code = i32::from(command == "judge");
        let output = run(&[&[command, SOLENOID][..], &args, &["--json"]].concat());
        assert!(output.status.code().is_some_and(|got| got <= code));
        let remarks = check_shape(command, &text(&output.stdout))["remarks"].clone();
        let said = remarks[0].as_str().unwrap_or_default();
        assert!(said.contains("they go with `valve commanded`"), "{remarks}");
    }
    let both = run(&["predict", SOLENOID, "--set-up", "pulses 60 %; pulses in on"]);
    assert_eq!(both.status.code(), Some(2));
    assert!(text(&both.stderr).contains("held in a phase, where a duty has no effect"));
}

const SOLENOID: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../circuit/archetypes/solenoid-duty.toml");

#[test]
fn a_frequency_has_no_more_figures_than_its_uncertainty_leaves() {
    let ready = |name: &str| format!("{}/../circuit/archetypes/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let said = |name: &str, set_up: &str, red: &str| {
        let test = format!("frequency {red}");
        let args = ["predict", &ready(name), "--set-up", set_up, "--test", &test];
        text(&run(&args).stdout)
    };
    // Traffic of 50 kHz ± 50 %; pulses whose rate the file gives without a tolerance.
    assert!(said("bus-differential", "key on", "C1.5").contains(" 50 kHz\n"));
    assert!(said("solenoid-duty", "key on; valve commanded", "V1.2").contains(" 10.0 Hz\n"));
}

#[test]
fn what_a_check_compares_is_told_in_its_unit_and_place() {
    let said = |name: &str, set_up: &str, code: &str| {
        let file = SOLENOID.replace("solenoid-duty", name);
        let test = format!("code {code}");
        text(&run(&["predict", &file, "--set-up", set_up, "--test", &test]).stdout)
    };
    assert!(said("hall-three-wire", "key running", "P0340").contains("Hz counted)"));
    assert!(said("thermistor", "key on", "P0117").contains("V at the converter)"));
    let valve = said("solenoid-duty", "key on; valve commanded", "P0443");
    assert!(valve.contains("V at its pin)"), "{valve}");
}

#[test]
fn rates_that_end_before_what_is_sensed_does_are_told_by_check() {
    let hall = std::fs::read_to_string(SOLENOID.replace("solenoid-duty", "hall-three-wire")).expect("it is there");
    let short = hall.replacen(
        "rates = [[0, \"0 Hz\"], [6000, \"200 Hz\"]]",
        "rates = [[0, \"0 Hz\"], [4500, \"150 Hz\"]]",
        1,
    );
    assert_ne!(short, hall, "the circuit has changed: mend this test");
    let path = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(path.path(), short).expect("it can be written");
    let file = path.path().to_str().expect("a plain path");
    let said = "rhythm.cam_teeth.rates end at 4500 rpm, but engine_speed goes to 6000 rpm: beyond, 150 Hz are taken; add a row";
    let output = run(&["check", file]);
    assert!(text(&output.stdout).contains(said), "{}", text(&output.stdout));
    assert_eq!(json("check", &["check", file, "--json"], 0)["remarks"][0], said);
}
