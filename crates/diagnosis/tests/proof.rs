//! A repair proved on real circuits, and sensors swept from end to end.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Predict as _, Question, Reading, Shown, parse_test};
use circuit::{Circuit, Fault, SetUp};
use diagnosis::{Case, Deed, Done, Expected, Intake, Predictions, ProofStanding, proof, sweeps};

struct Yard {
    circuit: Arc<Circuit>,
    faults: Vec<Fault>,
    bench: Bench,
}

fn yard(text: &str) -> Yard {
    let circuit = Arc::new(circuit::parse(text).expect("a test circuit"));
    Yard {
        faults: circuit::possible_faults(&circuit),
        bench: Bench::new(Arc::clone(&circuit)).expect("a test circuit"),
        circuit,
    }
}

impl Yard {
    /// What this test shows under a fault, to a hundredth.
    fn reads(&self, test: &str, fault: Option<(&str, f64)>) -> Reading {
        let test = parse_test(&self.circuit, test).expect("a test circuit");
        let hypothesis = Hypothesis {
            faults: fault
                .into_iter()
                .map(|(path, severity)| {
                    let id = circuit::fault_by_path(&self.faults, path).expect("a test circuit");
                    (&self.faults[id.idx()], severity)
                })
                .collect(),
        };
        let batch = self
            .bench
            .predict(Question::of(&[hypothesis], &test))
            .expect("a test circuit");
        let value = (100.0 * batch.predictions[0].value).round() / 100.0;
        Reading {
            test,
            shown: Shown::Number {
                value,
                resolution: 0.01,
            },
        }
    }
}

/// Water between a fan feed and a sensor's signal; the joint is cleaned. What showed the fault proves that it is gone, and
/// the same readings taken again unchanged say that it is not.
#[test]
fn a_dried_connector_is_proved_by_what_showed_the_water() {
    let yard = yard(circuit::DEMO);
    let water = Some(("floor/water", 1500.0));
    let tests = [
        "scan pressure; key on; fan commanded",
        "voltmeter S1.3; key on; S1 apart; fan commanded",
        "voltmeter S1.3; key on; S1 apart",
    ];
    let before: Vec<Reading> = tests.iter().map(|test| yard.reads(test, water)).collect();
    let id = circuit::fault_by_path(&yard.faults, "floor/water").unwrap();
    let deeds = [Deed {
        after: before.len(),
        what: Done::Repaired(yard.faults[id.idx()].repair.key.clone()),
    }];
    let intake = Intake {
        water: true,
        ..Intake::default()
    };
    let now = SetUp::normal();
    let on_trial = |since: &[Reading]| {
        let readings = [&before, since].concat();
        let case = Case {
            deeds: &deeds,
            ..Case::new(&intake, &readings)
        };
        let mut predictions = Predictions::default();
        proof(&yard.bench, &yard.circuit, &yard.faults, &case, &now, &mut predictions)
            .unwrap()
            .unwrap()
    };
    let planned = on_trial(&[]);
    assert_eq!(planned.standing, ProofStanding::Open);
    assert!(planned.mended.then > planned.mended.now);
    let tells = planned.readings.iter().filter(|one| one.tells()).count();
    assert!(tells >= 1, "{:#?}", planned.readings);
    // Each band holds what the sound circuit shows.
    for one in &planned.readings {
        let Expected::Range(low, high) = one.band else { continue };
        let text = format!(
            "{}; {}",
            one.test.placement.to_text(&yard.circuit),
            one.test.set_up.to_text(&yard.circuit)
        );
        let sound = yard.reads(&text, None);
        let Shown::Number { value, .. } = sound.shown else {
            panic!()
        };
        assert!(
            (low - 0.01..=high + 0.01).contains(&value),
            "{text}: {value} not in {low} to {high}"
        );
    }
    let all = |fault: Option<(&str, f64)>| -> Vec<Reading> {
        let text = |one: &diagnosis::ProofReading| {
            let Expected::Range(..) = one.band else { return None };
            Some(format!(
                "{}; {}",
                one.test.placement.to_text(&yard.circuit),
                one.test.set_up.to_text(&yard.circuit)
            ))
        };
        planned
            .readings
            .iter()
            .filter_map(text)
            .map(|text| yard.reads(&text, fault))
            .collect()
    };
    let mended = on_trial(&all(None));
    assert!(
        mended.readings.iter().all(|one| one.read != Some(false)),
        "{:#?}",
        mended.readings
    );
    assert_eq!(
        mended.standing,
        ProofStanding::Proved,
        "{:?} {:?}",
        mended.mended,
        mended.left
    );
    let not_mended = on_trial(&all(water));
    assert!(not_mended.readings.iter().any(|one| one.read == Some(false)));
    assert_eq!(not_mended.standing, ProofStanding::Refuted, "{:?}", not_mended.mended);
}

/// Two tracks of 15 to 75 % and half of that; the wiper's and the input's load take less than a percent.
#[test]
fn a_pedal_is_swept_by_its_share_of_the_reference() {
    let yard = yard(include_str!("../../../circuits/small/pedal-pair.toml"));
    let sweeps = sweeps(&yard.bench, &yard.circuit, &SetUp::normal()).unwrap();
    assert_eq!(sweeps.len(), 2);
    for (sweep, ends) in sweeps.iter().zip([(0.15, 0.75), (0.075, 0.375)]) {
        assert!(sweep.at_will);
        let (first, last) = (&sweep.steps[0], &sweep.steps[sweep.steps.len() - 1]);
        assert_eq!((first.at, last.at), (0.0, 100.0));
        for (step, share) in [(first, ends.0), (last, ends.1)] {
            let (low, high) = step.ratio.unwrap();
            assert!(
                low < share && share < high && high - low < 0.1,
                "{share}: {low} to {high}"
            );
            // What reference and signal have in common drops out.
            let volts = (step.volts.1 - step.volts.0) / 5.0;
            assert!(high - low < volts + 1e-9, "{low} to {high}, {volts}");
            let apart = step.apart;
            assert!(apart.is_none_or(|apart| apart > 0.1 && apart < 5.0), "{apart:?}");
        }
        let middle = &sweep.steps[sweep.steps.len() / 2];
        let scan = middle.scan.unwrap();
        assert!(scan.0 < 50.0 && 50.0 < scan.1);
        // Scan data made of what the meter shows is known better than scan data.
        assert!(2.0 * middle.apart.unwrap() < scan.1 - scan.0);
    }
    let references: Vec<_> = sweeps.iter().map(|sweep| sweep.reference.unwrap()).collect();
    assert_ne!(references[0], references[1], "each track has a reference of its own");
}
