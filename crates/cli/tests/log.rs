//! `log --circuit`: a table beside a circuit.

mod common;

use common::{check_shape, run_with, text};

const PEDAL: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../circuit/archetypes/pedal-two-tracks.toml"
);
const POSITION: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../circuit/archetypes/position-track.toml");

#[track_caller]
fn said(args: &[&str], table: &str) -> String {
    let output = run_with(args, table);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    text(&output.stdout)
}

#[test]
fn two_tracks_of_one_pedal_that_disagree_are_told_and_those_that_agree_are_not() {
    let table =
        |second: f64| format!("Time (s),Pedal position 1 (%),Pedal position 2 (%)\n0,50,{second}\n1,50,{second}\n");
    let apart = said(&["log", "-", "--circuit", PEDAL], &table(20.0));
    assert!(
        apart.contains("pedal track 1 puts pedal position at about 5")
            && apart.contains("pedal track 2 puts pedal position at about 20 %")
            && apart.contains("at most one of them can be right"),
        "{apart}"
    );
    let alike = said(&["log", "-", "--circuit", PEDAL], &table(50.0));
    assert!(!alike.contains("at most one"), "{alike}");
    let json = said(&["log", "-", "--circuit", PEDAL, "--json"], &table(20.0));
    let told = check_shape("log", &json);
    assert_eq!(told["beside"]["contradictions"][0]["channels"][1], "pedal2", "{json}");
}

#[test]
fn a_value_at_the_end_of_what_the_module_shows_says_so_with_its_voltage_and_becomes_a_reading() {
    let table = "Time (s),Throttle position (%)\n0,100\n1,100\n2,100\n";
    let told = said(&["log", "-", "--circuit", POSITION], table);
    assert!(told.contains("can show: 4.5 V or more at C1.5"), "{told}");
    let readings = said(
        &["log", "-", "--circuit", POSITION, "--as-readings", "--set-up", "key on"],
        table,
    );
    let path = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(path.path(), &readings).expect("it can be written");
    let file = path.path().to_str().expect("a plain path");
    // What it wrote is what other commands read, and it is evidence: the signal is not sound.
    let suspects = said(&["suspects", POSITION, "--readings", file], "");
    assert!(readings.starts_with("key on | scan position | 100"), "{readings}");
    assert!(suspects.contains("signal") || suspects.contains("W5"), "{suspects}");
}

#[test]
fn a_value_put_in_place_is_told_with_its_code() {
    let circuit = std::fs::read_to_string(POSITION).expect("it is there");
    let channel = "[module.engine.channel.position]\n";
    assert!(circuit.contains(channel), "the circuit has changed: mend this test");
    let circuit = circuit.replacen(channel, &format!("{channel}substitute = 15\n"), 1);
    let path = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(path.path(), circuit).expect("it can be written");
    let file = path.path().to_str().expect("a plain path");
    let told = said(&["log", "-", "--circuit", file], "Throttle position (%)\n15\n15\n15\n");
    assert!(
        told.contains("in place of its sensor's while P0122 or P0123 is set"),
        "{told}"
    );
}

#[test]
fn a_column_is_told_by_hand_and_a_wrong_name_is_refused_with_those_there_are() {
    let args = |column| ["log", "-", "--circuit", POSITION, "--column", column];
    let table = "TPS (%)\n40\n40\n";
    assert!(said(&args("TPS=position"), table).contains("TPS is position"));
    let output = run_with(&args("TPX=position"), table);
    assert_ne!(output.status.code(), Some(0));
    assert!(text(&output.stderr).contains("there is no column `TPX`; there are TPS"));
    let output = run_with(&args("TPS=speed"), table);
    assert!(text(&output.stderr).contains("the circuit shows no value `speed`; it shows position"));
}

#[test]
fn a_freeze_frame_listed_downwards_is_a_reading() {
    let list = "Parameter,Value,Unit\nEngine speed,800,rpm\nThrottle position,100,%\n";
    let readings = said(
        &["log", "-", "--circuit", POSITION, "--as-readings", "--set-up", "key on"],
        list,
    );
    assert_eq!(readings, "key on | scan position | 100.00 %\n");
}

#[test]
fn what_of_a_table_is_passed_over_is_told_with_its_reason() {
    let table = "Time (s),Throttle position (V),Engine speed\n0,1.5,800\n1,1.5,abc\n";
    let told = said(&["log", "-", "--circuit", POSITION], table);
    assert!(
        told.contains("Engine speed: `abc` in line 3: no number, left out."),
        "{told}"
    );
    let unit = "Throttle position is in V, the engine shows position in %: left out";
    assert!(told.contains(unit), "{told}");
    let json = check_shape("log", &said(&["log", "-", "--circuit", POSITION, "--json"], table));
    assert_eq!(json["dropped"][0]["line"], 3, "{json}");
    assert!(
        json["beside"]["of_other_unit"][0]
            .as_str()
            .is_some_and(|said| said.starts_with("Throttle")),
        "{json}"
    );
}

#[test]
fn the_end_of_a_value_that_falls_as_volts_grow_is_no_most() {
    const THERMISTOR: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../circuit/archetypes/thermistor.toml");
    let told = |shown: &str| {
        let table = format!("Coolant temperature (°C)\n{shown}\n{shown}\n{shown}\n");
        said(&["log", "-", "--circuit", THERMISTOR], &table)
    };
    let cold = told("-40");
    let end = "stands at the end of what the engine module can show at the high voltage: 4.77 V or more at C1.5";
    assert!(cold.contains(end), "{cold}");
    let hot = told("140");
    assert!(hot.contains("can show at the low voltage: 0.16 V or less"), "{hot}");
}

#[test]
fn what_the_module_cannot_show_makes_no_reading_and_the_reason_is_told() {
    let args = ["log", "-", "--circuit", POSITION, "--set-up", "key on", "--as-readings"];
    let of = |cells: [&str; 3]| {
        let table = format!("Throttle position (%)\n{}\n", cells.join("\n"));
        let output = run_with(&args, &table);
        (text(&output.stdout), text(&output.stderr))
    };
    let (readings, told) = of(["250", "-20", "250"]);
    assert_eq!(readings, "");
    let reason = "position cannot be 250 %: the engine shows 0 to 100 %, the range of its converter; left out";
    assert!(told.contains(reason), "{told}");
    // One cell that was misread spoils no others.
    let (readings, told) = of(["40", "250", "40"]);
    assert_eq!(readings, "key on | scan position | 40.00 %\n");
    assert!(told.contains("1 of 3 samples, left out"), "{told}");
    let (_, told) = of(["40", "40", "40"]);
    assert_eq!(told, "");
    let json = said(
        &["log", "-", "--circuit", POSITION, "--json"],
        "Throttle position (%)\n250\n",
    );
    let json = check_shape("log", &json);
    assert_eq!(json["beside"]["readings"], serde_json::json!([]), "{json}");
    assert_eq!(json["findings"][0]["kind"], "beyond", "{json}");
}
