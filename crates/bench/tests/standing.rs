//! Circuits with more than one stable state: the one reached from rest is predicted, the others are told.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use std::sync::Arc;

use bench::{Bench, Hypothesis, OtherState, parse_placement};
use circuit::{Circuit, parse_set_up, possible_faults};

/// A relay that feeds its own coil: once in, it stays.
const HOLDS: &str = r#"
title = "relay that holds itself"
[feed.ignition]
from = "battery+"
live = ["on"]
[fuse.F1]
from = "ignition"
rating = "10 A"
[relay.K1]
[ground.G1]
[device.lamp]
kind = "lamp"
[wire]
W1 = { from = "F1/out", to = "K1/30" }
W2 = { from = "K1/87", to = "SP1" }
W3 = { from = "SP1", to = "K1/86" }
W4 = { from = "K1/85", to = "G1" }
W5 = { from = "SP1", to = "lamp/plus" }
W6 = { from = "lamp/minus", to = "G1" }
[splice.SP1]
"#;

fn others(text: &str, set_up: &str, fault: Option<(&str, f64)>) -> (Arc<Circuit>, Vec<OtherState>) {
    let circuit = Arc::new(circuit::parse(text).unwrap());
    let faults = possible_faults(&circuit);
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let named = fault.map(|(path, severity)| (faults.iter().find(|fault| fault.path == path).unwrap(), severity));
    let hypothesis = Hypothesis {
        faults: named.into_iter().collect(),
    };
    let set_up = parse_set_up(&circuit, set_up).unwrap();
    let placements = [parse_placement(&circuit, "voltmeter K1/87").unwrap()];
    let standing = bench.standing(&hypothesis, &set_up, &[], &placements).unwrap().unwrap();
    assert!(standing.kcl_residual_amps < 1e-9, "{}", standing.kcl_residual_amps);
    (circuit, standing.others)
}

#[test]
fn a_relay_that_holds_itself_is_out_when_reached_from_rest_and_could_be_in() {
    let (circuit, found) = others(HOLDS, "key on", None);
    let [other] = &found[..] else { panic!("{found:#?}") };
    assert_eq!(other.relays, [(circuit.relay("K1").unwrap(), true)]);
    let &(_, here, there) = other
        .volts
        .iter()
        .find(|(point, ..)| circuit.points[point.idx()].path == "K1/87")
        .unwrap();
    assert!(here.abs() < 1e-3 && (there - 12.5).abs() < 0.1, "{here} {there}");
    let words = other.words(&circuit);
    assert!(
        words.starts_with("K1 held in: ") && words.contains("V, not 0 V"),
        "{words}"
    );
}

#[test]
fn without_current_there_is_one_state_only() {
    assert_eq!(others(HOLDS, "key off", None).1, []);
    assert_eq!(others(HOLDS, "key on", Some(("F1/blown", 0.0))).1, []);
    assert_eq!(others(HOLDS, "key on; relay K1 out", None).1, []);
}

#[test]
fn welded_contacts_leave_no_choice() {
    let (_, found) = others(HOLDS, "key on", Some(("K1/87/stuck closed", 0.0)));
    assert_eq!(found, []);
}
