//! Scan data held at their ends: they are there or beyond, and nothing more.

use std::sync::Arc;

use bench::{Bench, Reading, Shown, parse_test};
use diagnosis::{Case, Intake, Predictions, weigh};

/// A sound pedal that stands 5 % high: both tracks say so at rest, and both are held at 100 % when it is pressed. A sensor
/// that reads high would do the same; nothing here tells one from the other, or from what does not show at all.
#[test]
fn a_pedal_that_is_held_at_its_end_accuses_nobody() {
    let text = include_str!("../../../circuits/small/pedal-pair.toml");
    let circuit = Arc::new(circuit::parse(text).unwrap());
    let faults = circuit::possible_faults(&circuit);
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let readings = [
        ("scan track1; key on", 5.3),
        ("scan track2; key on", 6.6),
        ("scan track1; key on; pedal 100 %", 100.0),
        ("scan track2; key on; pedal 100 %", 100.0),
    ]
    .map(|(text, value)| Reading {
        test: parse_test(&circuit, text).unwrap(),
        shown: Shown::Number {
            value,
            resolution: 0.01,
        },
    });
    let intake = Intake::default();
    let case = Case::new(&intake, &readings);
    let belief = weigh(&bench, &circuit, &faults, &case, &mut Predictions::default()).unwrap();
    for (at, fault) in faults.iter().enumerate() {
        let chance = belief.chance(at.into());
        assert!(chance < 0.1, "{}: {chance}", fault.path);
    }
}
