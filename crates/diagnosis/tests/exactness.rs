//! The chances against brute-force numerical integration, on circuits small enough for that.
//!
//! Severity, tolerances, battery and meter are summed on dense grids, right and wrong readings in every combination: see
//! [`brute`]. Chances of single faults are compared, which is stricter than those of look-alikes together.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may panic and tell; counts are small"
)]

mod brute;

use bench::Reading;
use brute::Shop;
use diagnosis::{Deed, Done};

const DOOR: &str = include_str!("../../../circuits/small/switch-input.toml");

/// Faults in the line of the door switch.
const IN_LINE: [&str; 4] = [
    "W3/added resistance",
    "G2/added resistance",
    "B1.3/pull_up/drifted down",
    "W3/rubbed to body",
];

/// How far a chance may be from the one summed.
const WITHIN: f64 = 1e-3;

#[track_caller]
fn agree(shop: &Shop, readings: &[Reading], deeds: &[Deed]) {
    let (ours, exact) = (shop.weighed(readings, deeds), shop.summed(readings, deeds, 1));
    let mut worst = (ours.outside - exact.outside).abs();
    println!("outside: {:.5} weighed, {:.5} summed", ours.outside, exact.outside);
    for ((fault, ours), exact) in shop.faults.iter().zip(&ours.faults).zip(&exact.faults) {
        println!("{}: {ours:.5} weighed, {exact:.5} summed", fault.path);
        worst = worst.max((ours - exact).abs());
    }
    assert!(worst < WITHIN, "off by {worst}");
}

#[test]
fn one_reading() {
    let shop = Shop::new(DOOR, &IN_LINE);
    let readings = shop.read(
        &[("W3/added resistance", 300.0)],
        0.3,
        &["voltmeter D1.1 battery-; key on; door 100 %"],
    );
    agree(&shop, &readings, &[]);
}

#[test]
fn two_readings_that_share_battery_and_meter() {
    let shop = Shop::new(DOOR, &IN_LINE);
    let tests = [
        "voltmeter B1.3 battery-; key on; door 100 %",
        "voltmeter battery+ battery-; key on; door 100 %",
    ];
    let readings = shop.read(&[("W3/added resistance", 300.0)], 0.3, &tests);
    agree(&shop, &readings, &[]);
}

#[test]
fn a_repair_between_two_readings() {
    let shop = Shop::new(DOOR, &IN_LINE);
    let before = [
        "voltmeter B1.3 battery-; key on; door 100 %",
        "voltmeter battery+ battery-; key on; door 100 %",
    ];
    let mut readings = shop.read(&[("W3/added resistance", 300.0)], 0.3, &before);
    readings.extend(shop.read(&[], 0.3, &["voltmeter D1.1 battery-; key on; door 100 %"]));
    let key = shop.faults[0].repair.key.clone();
    let deeds = [Deed {
        after: 2,
        what: Done::Repaired(key),
    }];
    agree(&shop, &readings, &deeds);
}
