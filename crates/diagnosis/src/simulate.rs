//! Vehicles drawn at random and what their readings show, for tests of the weighing against its own assumptions.

use bench::{Hypothesis, Placement, Predict, Question, Reading, Shown, Test, accuracy};
use circuit::{Circuit, Fault};
use rand::{Rng, RngExt};

use crate::suspects::Known;

/// What is wrong with the vehicle.
pub(crate) struct Truth {
    /// The fault and its severity; `None`: something outside the circuit.
    pub(crate) fault: Option<(usize, f64)>,
    /// Chance that something outside disturbs a reading.
    pub(crate) disturbed: f64,
}

/// A standard normal number (Box and Muller).
pub(crate) fn normal(rng: &mut impl Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.random(), rng.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// The parameters at one reading: the battery sags and recovers by a tenth of its variance.
pub(crate) fn sagged(circuit: &Circuit, theta: &[f64], rng: &mut impl Rng) -> Vec<f64> {
    let mut here = theta.to_vec();
    if let Some(battery) = circuit.params.iter().position(|param| param.path == "battery") {
        here[battery] = 0.9_f64.sqrt() * theta[battery] + 0.1_f64.sqrt() * normal(rng);
    }
    here
}

/// Voltmeter readings of a vehicle whose parameters are as `known` and otherwise as the circuit has them: with the meter's
/// error, and one in fifty plain wrong.
pub(crate) fn simulate(
    bench: &dyn Predict,
    circuit: &Circuit,
    faults: &[Fault],
    truth: &Truth,
    known: &Known,
    tests: &[Test],
    rng: &mut impl Rng,
) -> Vec<Reading> {
    // Half of a meter's variance is its gain: the same for all.
    let gain = normal(rng);
    let mut theta = vec![0.0; circuit.params.len()];
    for (param, value) in theta.iter_mut().enumerate() {
        let at = known.ids.iter().position(|id| *id as usize == param);
        let (mean, sd) = at.map_or((0.0, 1.0), |at| (known.mean[at], known.variance(at).sqrt()));
        *value = mean + sd * normal(rng);
    }
    tests
        .iter()
        .map(|test| {
            let hypothesis = Hypothesis {
                faults: truth
                    .fault
                    .iter()
                    .map(|(fault, severity)| (&faults[*fault], *severity))
                    .collect(),
            };
            let here = sagged(circuit, &theta, rng);
            let question = Question {
                theta: &here,
                ..Question::of(std::slice::from_ref(&hypothesis), test)
            };
            let right = bench.predict(question).unwrap().predictions[0].value;
            let sd = accuracy(circuit, &test.placement, right, Some(0.01)).sd;
            let read = right + sd * (0.5_f64.sqrt() * gain + 0.5_f64.sqrt() * normal(rng));
            let anywhere = rng.random::<f64>() * 17.0 - 1.0;
            let value = if rng.random::<f64>() < 0.02 {
                if rng.random::<f64>() < 0.35 {
                    0.05 * normal(rng)
                } else {
                    anywhere
                }
            } else if rng.random::<f64>() < truth.disturbed {
                anywhere
            } else {
                read
            };
            debug_assert!(matches!(test.placement, Placement::Voltmeter { .. }));
            let value = (value * 100.0).round() / 100.0;
            Reading {
                test: test.clone(),
                shown: Shown::Number {
                    value,
                    resolution: 0.01,
                },
            }
        })
        .collect()
}
