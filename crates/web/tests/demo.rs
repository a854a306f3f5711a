//! The demo's first readings are what its broken circuit shows.

use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict as _, Question, Shown};
use circuit::{Fault, Mode};

/// Water between each two neighbouring cavities of the floor joint, ohms.
const WATER_OHMS: f64 = 1500.0;

fn water(circuit: &circuit::Circuit, faults: Vec<Fault>) -> Fault {
    let touches = |fault: &Fault, start: &str| {
        fault.points.iter().any(|point| circuit.points[point.idx()].path.starts_with(start))
    };
    let fits = |fault: &Fault| fault.mode == Mode::Water && touches(fault, "floor.7") && touches(fault, "floor.8");
    faults.into_iter().find(fits).expect("water in the floor joint can happen")
}

#[test]
fn readings_are_the_prediction_rounded_as_the_instruments_show_it() {
    let circuit = Arc::new(circuit::parse(circuit::DEMO).expect("the demo's circuit is sound"));
    let fault = water(&circuit, circuit::possible_faults(&circuit));
    let bench = Bench::new(Arc::clone(&circuit)).unwrap();
    let mut wrong = Vec::new();
    for (_, set_up, test, shown) in web::demo::READINGS {
        let reading = job::state::reading(&circuit, set_up, test, shown).unwrap();
        let hypotheses = [Hypothesis { faults: vec![(&fault, WATER_OHMS)] }, Hypothesis::default()];
        let question = Question {
            hypotheses: &hypotheses,
            set_up: &reading.test.set_up,
            placements: std::slice::from_ref(&reading.test.placement),
            theta: &[],
            with_flows: false,
        };
        let batch = bench.predict(question).unwrap();
        let (broken, healthy) = (&batch.predictions[0], &batch.predictions[1]);
        println!("{set_up} | {test}: {shown}; predicted {}, in order {}", broken.value, healthy.value);
        let Shown::Number { value, resolution } = reading.shown else { panic!("{shown} is a number") };
        assert_eq!(broken.kind, Kind::Number);
        let off = (value - broken.value).abs();
        if off > 0.5 * resolution + 1e-9 {
            wrong.push(format!("{test}: the demo says {shown}, the circuit {}", broken.value));
        }
    }
    assert_eq!(wrong, Vec::<String>::new());
}
