//! Circuits, faults and a bench made of closed forms, for tests.

use bench::{Batch, BenchError, Kind, Predict, Prediction, Question};
use circuit::{Circuit, Fault, Mode, PointId, Repair};

/// A circuit with nothing in it.
pub(crate) fn circuit() -> Circuit {
    Circuit {
        title: String::new(),
        vehicle: String::new(),
        points: Vec::new(),
        branches: Vec::new(),
        parts: Vec::new(),
        connectors: Vec::new(),
        wires: Vec::new(),
        splices: Vec::new(),
        modules: Vec::new(),
        devices: Vec::new(),
        fuses: Vec::new(),
        relays: Vec::new(),
        feeds: Vec::new(),
        grounds: Vec::new(),
        bundles: Vec::new(),
        chafes: Vec::new(),
        sensed: Vec::new(),
        loads: Vec::new(),
        rhythms: Vec::new(),
        params: Vec::new(),
        unknowns: Vec::new(),
        channels: Vec::new(),
        monitors: Vec::new(),
        battery_plus: PointId(0),
        battery_minus: PointId(0),
        body: PointId(0),
    }
}

/// A fault of this weight without a severity, repaired by work of its own.
pub(crate) fn fault(path: &str, weight: f64) -> Fault {
    Fault {
        path: path.into(),
        what: path.into(),
        place: String::new(),
        parts: Vec::new(),
        points: Vec::new(),
        mode: Mode::Open,
        severity: None,
        changes: Vec::new(),
        weight,
        repair: Repair {
            words: path.into(),
            key: path.into(),
            minutes: 10.0,
            parts_price: 0.0,
        },
    }
}

/// A bench whose answers are a closed form of (hypothesis, test, θ): kind and value. Derivatives are differences.
pub(crate) struct Fake<F> {
    pub(crate) n_params: usize,
    pub(crate) answer: F,
}

impl<F> Predict for Fake<F>
where
    F: Fn(&bench::Hypothesis<'_>, &bench::Test, &[f64]) -> (Kind, f64) + Sync,
{
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        let mut predictions = Vec::new();
        for hypothesis in question.hypotheses {
            for placement in question.placements {
                let test = bench::Test {
                    placement: placement.clone(),
                    set_up: question.set_up.clone(),
                };
                predictions.push(self.one(hypothesis, &test));
            }
        }
        Ok(Batch {
            predictions,
            flows: Vec::new(),
        })
    }
}

impl<F> Fake<F>
where
    F: Fn(&bench::Hypothesis<'_>, &bench::Test, &[f64]) -> (Kind, f64) + Sync,
{
    pub(crate) fn one(&self, hypothesis: &bench::Hypothesis<'_>, test: &bench::Test) -> Prediction {
        const STEP: f64 = 1e-4;
        let theta = vec![0.0; self.n_params];
        let (kind, value) = (self.answer)(hypothesis, test, &theta);
        let slope = |up: f64, down: f64| (up - down) / (2.0 * STEP);
        let by_param = (0..self.n_params)
            .map(|param| {
                let at = |step: f64| {
                    let mut theta = theta.clone();
                    theta[param] = step;
                    (self.answer)(hypothesis, test, &theta).1
                };
                slope(at(STEP), at(-STEP))
            })
            .collect();
        let by_severity = (0..hypothesis.faults.len())
            .map(|which| {
                let at = |step: f64| {
                    let mut moved = hypothesis.clone();
                    let (fault, severity) = moved.faults[which];
                    let logarithmic = fault.severity.is_some_and(|range| range.logarithmic);
                    moved.faults[which].1 = if logarithmic {
                        severity * step.exp()
                    } else {
                        severity + step
                    };
                    (self.answer)(&moved, test, &theta).1
                };
                slope(at(STEP), at(-STEP))
            })
            .collect();
        Prediction {
            kind,
            value,
            beyond: 0.0,
            by_param,
            by_severity,
            source_ohms: 10.0,
            ghost_volts: (0.0, 0.0),
            unsaid: None,
        }
    }
}

/// A feed of 12.6 V (θ₀: ± 0.3 V) through a chain of `n` joints of 10 mΩ to a load of 6 Ω (θ₁: ± 3 %). Fault `k` adds
/// resistance at joint `k`; a voltmeter with its red lead at point `k` reads after `k` joints.
pub(crate) fn chain(n: usize) -> (Circuit, Vec<Fault>, impl Predict) {
    let mut circuit = circuit();
    for (path, nominal, unit) in [
        ("battery", 12.6, quantity::Unit::Volt),
        ("load", 6.0, quantity::Unit::Ohm),
    ] {
        circuit.params.push(circuit::Param {
            path: path.into(),
            words: path.into(),
            nominal,
            unit,
        });
    }
    let faults = (0..n)
        .map(|k| {
            let mut fault = fault(&format!("joint {k}"), 1.0);
            fault.mode = Mode::SeriesResistance;
            fault.severity = Some(circuit::Severity {
                unit: quantity::Unit::Ohm,
                low: 0.1,
                high: 1e5,
                logarithmic: true,
            });
            fault
        })
        .collect();
    let fake = Fake {
        n_params: 2,
        answer: move |hypothesis: &bench::Hypothesis<'_>, test: &bench::Test, theta: &[f64]| {
            let volts = 12.6 + 0.3 * theta[0];
            let load = 6.0 * (0.03 * theta[1]).exp();
            let mut joints = vec![0.01; n];
            for (fault, severity) in &hypothesis.faults {
                let at: usize = fault.path.trim_start_matches("joint ").parse().unwrap();
                joints[at] += severity;
            }
            let amps = volts / (joints.iter().sum::<f64>() + load);
            let after = |k: usize| volts - amps * joints[..k].iter().sum::<f64>();
            match test.placement {
                bench::Placement::Voltmeter { red, .. } => (Kind::Number, after(red.idx())),
                bench::Placement::TestLight { tip, .. } => (Kind::Number, after(tip.idx())),
                _ => (Kind::Unknown, 0.0),
            }
        },
    };
    (circuit, faults, fake)
}

/// Volts at point `k` against battery negative, key on.
pub(crate) fn volts_at(k: usize) -> bench::Test {
    let placement = bench::Placement::Voltmeter {
        red: PointId::from(k),
        black: PointId(1000),
    };
    bench::Test {
        placement,
        set_up: circuit::SetUp::default(),
    }
}

/// A test and the number it showed.
pub(crate) fn shows(test: bench::Test, value: f64) -> bench::Reading {
    bench::Reading {
        test,
        shown: bench::Shown::Number {
            value,
            resolution: 0.01,
        },
    }
}
