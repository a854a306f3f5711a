//! The demo's first readings are what its broken circuit shows.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict as _, Question, Shown};

/// What is wrong with the demo's vehicle: a wet path between cavities 7 and 8 on the sensor's side of the floor joint.
const FAULT: &str = "floor.7-8/b/leak";
const OHMS: f64 = 1500.0;

#[test]
fn readings_are_the_prediction_rounded_as_the_instruments_show_it() {
    let circuit = Arc::new(circuit::parse(circuit::DEMO).expect("the demo's circuit is sound"));
    let faults = circuit::possible_faults(&circuit);
    let fault = faults
        .iter()
        .find(|fault| fault.path == FAULT)
        .expect("the demo's fault is one of the possible ones");
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let mut wrong = Vec::new();
    for (_, set_up, test, shown) in web::demo::READINGS {
        let reading = job::state::reading(&circuit, set_up, test, shown).unwrap();
        let hypotheses = [
            Hypothesis {
                faults: vec![(fault, OHMS)],
            },
            Hypothesis::default(),
        ];
        let question = Question::of(&hypotheses, &reading.test);
        let batch = bench.predict(question).unwrap();
        let (broken, healthy) = (&batch.predictions[0], &batch.predictions[1]);
        println!(
            "{set_up} | {test}: {shown}; predicted {}, in order {}",
            broken.value, healthy.value
        );
        let Shown::Number { value, resolution } = reading.shown else {
            panic!("{shown} is a number")
        };
        assert_eq!(broken.kind, Kind::Number);
        let off = (value - broken.value).abs();
        if off > 0.5 * resolution + 1e-9 {
            wrong.push(format!("{test}: the demo says {shown}, the circuit {}", broken.value));
        }
    }
    assert_eq!(wrong, Vec::<String>::new());
}
