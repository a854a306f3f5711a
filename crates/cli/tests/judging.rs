//! What `judge` says of tests that could hurt, that tell nothing, that set something going.

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
