//! What is thought of, on a three-wire sensor.

use bench::{Placement, Test};
use circuit::{Circuit, Key, SetUp};

use super::{candidates, grouped};
use crate::hazard::fixture::{at, pot, probes, set_up};

fn placements(circuit: &Circuit, set_up: &SetUp) -> Vec<Placement> {
    candidates(circuit, set_up, &probes(circuit, set_up))
        .into_iter()
        .map(|candidate| candidate.placement)
        .collect()
}

#[test]
fn every_reachable_point_is_read_against_battery_negative() {
    let circuit = pot(0.5);
    let all = placements(&circuit, &SetUp::default());
    for point in ["battery+", "M1.1", "M1.2", "M1.3", "S1.1", "S1.2", "S1.3"] {
        let placement = Placement::Voltmeter {
            red: at(&circuit, point),
            black: circuit.battery_minus,
        };
        assert!(all.contains(&placement), "{point}");
    }
    let inside = Placement::Voltmeter {
        red: at(&circuit, "S1.1/pin"),
        black: circuit.battery_minus,
    };
    assert!(!all.contains(&inside), "a mated pin is not reached");
    assert!(placements(&circuit, &set_up(&[1], Vec::new())).contains(&inside));
}

#[test]
fn drops_and_the_sensors_own_ground_are_thought_of_once_each() {
    let circuit = pot(0.5);
    let all = placements(&circuit, &SetUp::default());
    let pair = |a: &str, b: &str| {
        let (a, b) = (at(&circuit, a), at(&circuit, b));
        let both = all.iter().filter(|placement| {
            **placement == Placement::Voltmeter { red: a, black: b }
                || **placement == Placement::Voltmeter { red: b, black: a }
        });
        both.count()
    };
    assert_eq!(pair("M1.3", "S1.3"), 1, "along the ground wire");
    assert_eq!(pair("S1.1", "S1.3"), 1, "reference against sensor ground");
    assert_eq!(pair("S1.1", "S1.2"), 0, "neither comes back to ground");
    assert_eq!(pair("M1.1", "S1.3"), 0, "not at one connector");
    assert_eq!(pair("battery+", "S1.3"), 1, "the ground proved from battery positive");
}

#[test]
fn the_ohmmeter_is_for_parted_parts_and_for_a_quiet_circuit() {
    let circuit = pot(0.5);
    let ohms = |set_up: &SetUp| {
        placements(&circuit, set_up)
            .into_iter()
            .filter(|p| matches!(p, Placement::Ohmmeter { .. }))
            .count()
    };
    assert_eq!(ohms(&SetUp::default()), 0);
    assert_eq!(ohms(&set_up(&[1], Vec::new())), 3, "the sensor's own three pairs");
    let quiet = SetUp {
        key: Key::Off,
        ..set_up(&[0, 1], Vec::new())
    };
    let wire = Placement::Ohmmeter {
        red: at(&circuit, "M1.2"),
        black: at(&circuit, "S1.2"),
    };
    assert!(
        placements(&circuit, &quiet).contains(&wire),
        "the signal wire from end to end"
    );
}

#[test]
fn tests_on_offer_are_grouped_by_set_up_and_what_cannot_be_reached_is_left_out() {
    let circuit = pot(0.5);
    let volts = |point: &str, set_up: &SetUp| Test {
        placement: Placement::Voltmeter {
            red: at(&circuit, point),
            black: circuit.battery_minus,
        },
        set_up: set_up.clone(),
    };
    let (joined, parted) = (SetUp::default(), set_up(&[1], Vec::new()));
    let offered = [
        volts("S1.1", &joined),
        volts("S1.2/pin", &parted),
        volts("S1.2", &joined),
        volts("S1.2/pin", &joined),
        Test {
            placement: Placement::Scan { channel: 0.into() },
            set_up: parted.clone(),
        },
    ];
    let groups = grouped(&circuit, &offered, |s| probes(&circuit, s), |s| s.apart.len() as f64);
    let shape: Vec<(f64, usize)> = groups.iter().map(|group| (group.minutes, group.tests.len())).collect();
    assert_eq!(shape, [(0.0, 2), (1.0, 2)]);
    assert_eq!(groups[1].tests[1].probe, None);
}

#[test]
fn readings_at_one_connector_share_the_way_to_it() {
    let circuit = pot(0.5);
    let joined = SetUp::default();
    let reach = |red: &str, black: &str| {
        let placement = Placement::Voltmeter {
            red: at(&circuit, red),
            black: at(&circuit, black),
        };
        super::reach(&circuit, &probes(&circuit, &joined), placement)
            .unwrap()
            .reach_minutes
    };
    assert_eq!(reach("S1.1", "S1.3"), 0.2);
    assert_eq!(reach("S1.1", "M1.1"), 0.4);
}
