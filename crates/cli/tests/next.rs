//! What `next` tells beside the tests: out of how many they were chosen, when repairing is cheaper, and what it comes to.

mod common;

use common::{SIGNAL, json, run, text};
use serde_json::Value;

const READ: [&str; 5] = ["next", "demo", "--json", "--reading", SIGNAL];

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

#[test]
fn the_number_of_tests_looked_at_is_told() {
    let answer = json("next", &READ, 0);
    let of = &answer["chosen_from"];
    let [tests, nothing, set_ups] = ["tests", "tell_nothing", "set_ups"].map(|key| number(&of[key]));
    assert!(tests > 50.0 && set_ups >= 2.0 && nothing < tests, "{of}");
    let one = format!("Chosen from {tests} tests in {set_ups} set-ups");
    let said = text(&run(&["next", "demo", "--reading", SIGNAL]).stdout);
    assert!(said.contains(&one), "{said}");
}

#[test]
fn what_is_expected_is_held_against_what_the_customer_agreed_to() {
    let free = json("next", &READ, 0);
    let money = &free["money"];
    let (expected, spent) = (number(&money["expected"]), number(&money["spent"]));
    assert!(
        expected > spent && expected <= spent + number(&money["repair"]["expected"]),
        "{money}"
    );
    assert_eq!(
        (&money["authorised"], &money["ask_first"]),
        (&Value::Null, &Value::Bool(false))
    );
    let with = |limit: f64| {
        let limit = format!("{limit:.2}");
        let args = [&READ[..], &["--authorised", &limit]].concat();
        let answer = json("next", &args, 0);
        let plain: Vec<&str> = args.iter().copied().filter(|word| *word != "--json").collect();
        (answer["money"]["ask_first"] == true, text(&run(&plain).stdout))
    };
    let (enough, too_little) = (with(expected + 1.0), with(expected - 1.0));
    assert!(!enough.0 && enough.1.contains("authorised."), "{}", enough.1);
    assert!(
        too_little.0 && too_little.1.contains("Ask the customer first"),
        "{}",
        too_little.1
    );
    let wrong = run(&["next", "demo", "--authorised", "-5"]);
    assert_eq!(wrong.status.code(), Some(2));
}

#[test]
fn nothing_on_offer_is_no_reason_to_repair() {
    let open = json("next", &READ, 0);
    assert_eq!(open["conclusion"]["kind"], "open");
    assert!(number(&open["money"]["measuring_saves"]) > 0.0);
    let folder = tempfile::tempdir().expect("a folder");
    let offer = folder.path().join("offer.txt");
    std::fs::write(&offer, "").expect("written");
    let none = json(
        "next",
        &[&READ[..], &["--offer", offer.to_str().expect("plain")]].concat(),
        1,
    );
    assert_eq!(none["conclusion"]["kind"], "cannot tell");
}

#[test]
fn the_customer_is_asked_before_anything_is_done() {
    let said = |limit: &str| text(&run(&["next", "demo", "--reading", SIGNAL, "--authorised", limit]).stdout);
    assert!(said("1").starts_with("Ask the customer first"), "{}", said("1"));
    assert!(said("100000").starts_with("- "), "{}", said("100000"));
}

#[test]
fn what_no_instrument_can_show_is_not_taken_at_its_word() {
    let said = |reading: &str| text(&run(&["suspects", "demo", "--reading", reading]).stdout);
    // Of scan data the range that the module can show stands beside it.
    for (beyond, told) in [
        ("key on | voltmeter M1.12 battery- | 500 V", "cannot be: check the unit"),
        (
            "key on | scan pressure | 900 bar",
            "cannot be (the climate module shows 0 to 32 bar, the range of its converter): check the unit",
        ),
    ] {
        assert!(said(beyond).contains(told), "{}", said(beyond));
    }
    assert!(!said("key on | voltmeter M1.12 battery- | 5.00 V").contains("cannot be"));
}

#[test]
fn what_several_codes_hang_on_is_said_before_one_is_chased() {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../circuits/small/shared-reference.toml"
    );
    let (one, other) = ("key on | code P0237 | present", "key on | code P2016 | present");
    let said = |readings: &[&str]| {
        let each = readings.iter().flat_map(|reading| ["--reading", *reading]);
        let args: Vec<&str> = ["suspects", file].into_iter().chain(each).collect();
        text(&run(&args).stdout)
    };
    let both = said(&[one, other]);
    assert!(
        both.contains("P0237 and P2016 hang on the same: reference of engine, A1 cavity 3;")
            && both.contains("splice SP1"),
        "{both}"
    );
    assert!(!said(&[one]).contains("hang on the same"));
    assert!(!said(&[one, "key on | code P2016 | not set"]).contains("hang on the same"));
}
