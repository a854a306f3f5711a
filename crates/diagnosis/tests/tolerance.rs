//! Parts that are far from what the file has, and sound.

use std::sync::Arc;

use bench::{Bench, Reading, parse_shown, parse_test};
use diagnosis::{Case, Intake, Predictions, weigh};

/// What a vehicle drawn at random showed in a trial: its sensor draws little more than half of what the file
/// has, its module a third more, both within their
/// tolerances, and nothing else shows. What the meter shows is no straight line in either, and yet it accuses nobody.
#[test]
fn parts_at_the_ends_of_their_tolerances_accuse_nobody() {
    let text = include_str!("../../../circuits/small/shared-reference.toml");
    let circuit = Arc::new(circuit::parse(text).unwrap());
    let faults = circuit::possible_faults(&circuit);
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let readings: Vec<Reading> = SHOWN
        .iter()
        .map(|(test, shown)| {
            let test = parse_test(&circuit, test).unwrap();
            let shown = parse_shown(shown, &test.placement, &circuit).unwrap();
            Reading { test, shown }
        })
        .collect();
    let intake = Intake::default();
    let case = Case::new(&intake, &readings);
    let belief = weigh(&bench, &circuit, &faults, &case, &mut Predictions::default()).unwrap();
    for (at, fault) in faults.iter().enumerate() {
        let chance = belief.chance(at.into());
        assert!(chance < 0.5, "{}: {chance}", fault.path);
    }
}

const SHOWN: &[(&str, &str)] = &[
    ("scan flap; key on", "28.06 %"),
    ("scan boost; key on", "1.241 bar"),
    ("voltmeter S1.3 S1.2; key on; S1 apart", "0.0000 V"),
    ("voltmeter S1.3 battery-; key on; S1 apart", "0.0137 V"),
    ("clamp W1; key on; S1 apart", "0.24 A"),
    ("voltmeter battery+ S1.2; key on; S1 apart", "12.62 V"),
    ("ohmmeter S1.1/pin S1.2/pin; key on; S1 apart", "927 Ω"),
    ("scan flap; key on; S1 apart", "28.35 %"),
    ("voltmeter S2.3 S2.2; key on; S1 apart", "1.603 V"),
    ("voltmeter S1.1 S1.2; key on; S1 apart", "5.014 V"),
    ("voltmeter S1.2 battery-; key on; S1 apart", "0.0143 V"),
    ("ohmmeter A1.4 A1.6; key off; A1 apart; S1 apart", "2851 Ω"),
    ("ohmmeter A1.2 A1.6; key off; A1 apart; S1 apart", "OL"),
    ("ohmmeter A1.5 S1.3; key off; A1 apart; S1 apart", "0.2 Ω"),
    ("ohmmeter A1.4 S1.2; key off; A1 apart; S1 apart", "0.3 Ω"),
    ("ohmmeter S1.2/pin S1.3/pin; key off; A1 apart; S1 apart", "OL"),
    ("ohmmeter A1.3 A1.4; key off; A1 apart; S1 apart", "5627 Ω"),
    ("ohmmeter A1.3 S1.1; key off; A1 apart; S1 apart", "0.2 Ω"),
    ("ohmmeter A1.3 A1.6; key off; A1 apart; S1 apart", "OL"),
    ("voltmeter A1.1 A1.2; key off; A1 apart; S1 apart", "-0.0160 V"),
    ("ohmmeter S2.2 S2.3; key off; A1 apart; S1 apart", "2831 Ω"),
    ("ohmmeter S2.1 S2.3; key off; A1 apart; S1 apart", "4985 Ω"),
    ("ohmmeter A1.1/pin A1.2/pin; key off; A1 apart; S1 apart", "19.4 Ω"),
    ("ohmmeter A1.1/pin A1.3/pin; key off; A1 apart; S1 apart", "22.01 kΩ"),
    ("ohmmeter A1.1/pin A1.4/pin; key off; A1 apart; S1 apart", "19.9 Ω"),
    ("voltmeter body battery-; key on; S1 apart", "0.0007 V"),
    ("clamp W2; key on; S1 apart", "0.24 A"),
    ("voltmeter battery+ F1/out; key on; S1 apart", "0.0040 V"),
];
