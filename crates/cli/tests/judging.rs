//! What `judge` says of tests that could hurt, that tell nothing, that set something going, that nobody can reach.

mod common;

use common::{SIGNAL, json, run, text};
use serde_json::Value;

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
    // Whatever the battery still gives, and told by a test light as well.
    let parted = "key on; S1 apart; fan commanded";
    for read in [
        "voltmeter S1.3 | 12.4 V",
        "voltmeter S1.3 | 11.3 V",
        "voltmeter S1.3 | 10.8 V",
        "light S1.3 battery- | bright",
    ] {
        let reading = format!("{parted} | {read}");
        let jumper = format!("{parted}; jumper S1.3 battery-");
        let asked = [
            "judge",
            "demo",
            "--json",
            "--reading",
            &reading,
            "--set-up",
            &jumper,
            "--test",
            "scan pressure",
        ];
        let jumped = json("judge", &asked, 1);
        assert_eq!(jumped["verdict"], "refused", "{read}: {jumped:#}");
    }
}

/// The text of a judgement on the demo circuit, nothing read yet.
fn judged(set_up: &str, test: &str) -> String {
    judge(&["--set-up", set_up, "--test", test]).0
}

/// The text of `judge demo` with these further arguments, and the exit code.
fn judge(args: &[&str]) -> (String, Option<i32>) {
    let output = run(&[&["judge", "demo"], args].concat());
    (text(&output.stdout), output.status.code())
}

/// The same as JSON of the documented shape.
#[track_caller]
fn judge_json(args: &[&str], code: i32) -> Value {
    json("judge", &[&["judge", "demo", "--json"], args].concat(), code)
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
        assert!(!text.contains("whichever suspect"), "{text}");
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
    assert!(has(dangers, feed), "{dangers:#}");

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

/// A rail that is dead with the key off is no feed yet: its neighbours can still have got to it.
#[test]
fn a_dead_feed_is_jumped_only_after_its_voltage_was_read() {
    let args = [
        "judge",
        "demo",
        "--json",
        "--set-up",
        "key off; jumper F2/out battery-",
        "--test",
        "scan pressure",
    ];
    let judged = json("judge", &args, 1);
    assert_eq!(judged["verdict"], "first", "{judged:#}");
    assert_eq!(judged["first"][0]["test"], "voltmeter F2/out battery-");
    let short = |one: &Value| one["under"]["short_to_feed"] == "F2/out";
    assert!(has(&judged["dangers"], short), "{judged:#}");
}

/// What an ohmmeter may show begins at 0.
#[test]
fn ohms_that_may_be_shown_are_never_below_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let offer = folder.path().join("offer.txt");
    let tests = "key off; S1 apart | ohmmeter S1.2 battery-\nkey off; S1 apart | ohmmeter S1.3 battery-\n";
    std::fs::write(&offer, tests).expect("written");
    let offer = offer.to_str().expect("a plain path");
    let read = "key on; fan commanded | scan pressure | 32.0 bar";
    let answer = json(
        "next",
        &["next", "demo", "--json", "--offer", offer, "--reading", read],
        0,
    );
    let mut ranges = 0;
    for proposal in answer["next"].as_array().expect("proposals") {
        for shows in proposal["outcomes"]
            .as_array()
            .expect("outcomes")
            .iter()
            .filter_map(|one| one["shows"].as_array())
            .flatten()
        {
            let (Some(low), Some(high)) = (shows["low"].as_f64(), shows["high"].as_f64()) else {
                continue;
            };
            assert!(0.0 <= low && low <= high, "{shows}");
            ranges += 1;
        }
    }
    assert!(ranges > 4, "{answer:#}");
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
        let judged = judge_json(&args, 1);
        assert_eq!(judged["verdict"], "refused", "{set_up}");
        let danger = volts_on(&judged, point).unwrap_or_else(|| panic!("{set_up}: {judged:#}"));
        let volts = danger["what"]["volts"].as_f64().expect("volts");
        assert!((12.0..13.0).contains(&volts), "{set_up}: {volts}");
        assert_eq!(danger["anyway"], true);
    }
    let wire = ["--set-up", "key on; overlay M1.12 S1.1", "--test", "scan pressure"];
    let judged = judge_json(&[&READ[..], &wire].concat(), 0);
    assert_eq!(judged["verdict"], "safe");
}

#[test]
fn a_point_that_no_probe_reaches_is_told_with_what_to_part() {
    let judged = judge_json(&["--test", "voltmeter S1.3/pin"], 1);
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
    let judged = judge_json(&clipped, 1);
    assert_eq!(judged["worth"]["out_of_reach"], serde_json::json!(["S1.3/pin"]));
    let judged = judge_json(&["--set-up", "key on; S1 apart", "--test", "voltmeter S1.3/pin"], 0);
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
    let judged = judge_json(
        &[&READ[..], &["--set-up", "key on", "--test", "light S1.3"]].concat(),
        1,
    );
    let worth = &judged["worth"];
    assert_eq!(worth["because"], "LoadedDown", "{judged:#}");
}

/// What no instrument can show was typed or read wrong: it is told, and weighs nothing.
#[test]
fn a_reading_that_cannot_be_moves_no_suspect() {
    let suspects = |more: &[&str]| {
        let good = ["suspects", "demo", "--json", "--reading", common::SIGNAL];
        json("suspects", &[&good, more].concat(), 0)
    };
    let alone = suspects(&[]);
    let beside = suspects(&["--reading", "key on; fan commanded | scan pressure | 500 bar"]);
    let chances = |answer: &Value| -> Vec<(Value, Value)> {
        let suspects = answer["suspects"].as_array().expect("suspects");
        suspects
            .iter()
            .map(|one| (one["fault"].clone(), one["chance"].clone()))
            .collect()
    };
    assert!(!chances(&alone).is_empty());
    assert_eq!(chances(&beside), chances(&alone));
    // Nor one that wanders beyond what the module can show, though its middle does not lie there.
    let wanders = suspects(&["--reading", "key on; fan commanded | scan pressure | 0..60 bar"]);
    assert_eq!(chances(&wanders), chances(&alone));
    assert_eq!(wanders["readings"][1]["possible"], false);
    let told = run(&["suspects", "demo", "--reading", "key on | scan pressure | 500 bar"]);
    let reason = "shows 0 to 32 bar, the range of its converter)";
    assert!(text(&told.stdout).contains(reason), "{}", text(&told.stdout));
    assert_eq!(beside["readings"][1]["possible"], false);
    assert_eq!(beside["readings"][1]["chance_wrong"], 1.0);
}
