//! What all readings should be under one cause at one severity: values, and how they hang together.

use std::collections::BTreeSet;

use circuit::Circuit;

use crate::evidence::Body;
use crate::likelihood::{Expectation, Expected};
use crate::predictions::{Cell, Predictions, Wanted};
use crate::severity::Between;

/// The parameter that moves while one works: battery voltage sags and recovers.
const SAGS: &str = "battery";
/// How far two readings see the same battery voltage, as a share of its variance. Common practice (it may sag by a volt
/// in a job), no source for the figure.
const SAG_SHARED: f64 = 0.9;

/// The parameters that move any of the readings.
#[derive(Debug, Default)]
pub(crate) struct Params {
    /// Their ids, sorted.
    pub(crate) ids: Vec<u32>,
    /// By id of the circuit: share of the variance that all readings see alike.
    shared: Vec<f64>,
}

/// All readings between two solved severities.
#[derive(Debug)]
pub(crate) struct Span<'c> {
    pub(crate) ends: [Vec<&'c Cell>; 2],
    pub(crate) between: Vec<Between>,
}

impl<'c> Span<'c> {
    /// Between the cells at two positions `gap` apart, by reading.
    pub(crate) fn new(a: Vec<&'c Cell>, b: Vec<&'c Cell>, gap: f64) -> Self {
        let between = a.iter().zip(&b).map(|(a, b)| Between::new(a, b, gap)).collect();
        Self { ends: [a, b], between }
    }
}

/// Room for the sums.
#[derive(Debug, Default)]
pub(crate) struct Field {
    pub(crate) expected: Expected,
    /// Derivatives by the parameters of [`Params::ids`], readings × parameters.
    pub(crate) by_param: Vec<f64>,
    /// What severity within the width does to each reading, standard deviation with its sign.
    pub(crate) steps: Vec<f64>,
}

impl Params {
    /// Those that any reading's prediction for any of these hypotheses names.
    pub(crate) fn new(circuit: &Circuit, body: &Body, predictions: &Predictions, wanted: &[Wanted]) -> Self {
        let mut ids = BTreeSet::new();
        for evidence in &body.evidence {
            for &wanted in wanted {
                ids.extend(predictions.cell(evidence.row, wanted).by_param.iter().map(|by| by.0));
            }
        }
        let shared = circuit
            .params
            .iter()
            .map(|param| if param.path == SAGS { SAG_SHARED } else { 1.0 })
            .collect();
        Self {
            ids: ids.into_iter().collect(),
            shared,
        }
    }

    /// Share of a parameter's variance that two readings see alike.
    pub(crate) fn shared(&self, id: u32) -> f64 {
        self.shared.get(id as usize).copied().unwrap_or(1.0)
    }

    /// What the readings should be at `t` of a span, severity being spread evenly over `width` (in t) around it.
    pub(crate) fn expect(&self, body: &Body, span: &Span<'_>, t: f64, width: f64, field: &mut Field) {
        let (n, p) = (body.len(), self.ids.len());
        let Field {
            expected,
            by_param,
            steps,
        } = field;
        by_param.clear();
        by_param.resize(n * p, 0.0);
        expected.readings.clear();
        expected.freedom.clear();
        expected.covariance.clear();
        expected.covariance.extend_from_slice(&body.meters);
        steps.clear();
        for (i, between) in span.between.iter().enumerate() {
            let shares = if between.is_step() {
                [f64::from(t < 0.5), f64::from(t >= 0.5)]
            } else {
                [1.0 - t, t]
            };
            let mut ghost = (0.0, 0.0);
            for (cells, share) in span.ends.iter().zip(shares) {
                let cell = cells[i];
                ghost.0 += share * cell.ghost_volts.0;
                ghost.1 += share * cell.ghost_volts.1;
                let mut at = 0;
                for &(id, by) in &cell.by_param {
                    while self.ids[at] < id {
                        at += 1;
                    }
                    by_param[i * p + at] += share * by;
                }
            }
            expected.readings.push(Expectation {
                kind: between.kind(t),
                value: between.value(t),
                ghost_volts: ghost,
            });
            // Severity within the width moves all readings at once: one more parameter.
            let step = (between.value(t + 0.5 * width) - between.value(t - 0.5 * width)) / 12_f64.sqrt();
            steps.push(if width > 0.0 && step.is_finite() { step } else { 0.0 });
        }
        let shared: Vec<f64> = self.ids.iter().map(|&id| self.shared(id)).collect();
        for i in 0..n {
            for j in 0..=i {
                let rows = by_param[i * p..(i + 1) * p].iter().zip(&by_param[j * p..(j + 1) * p]);
                let sum: f64 = if i == j {
                    rows.map(|(a, b)| a * b).sum::<f64>() + span.between[i].error(t).powi(2)
                } else {
                    rows.zip(&shared).map(|((a, b), share)| a * b * share).sum()
                };
                let sum = sum + steps[i] * steps[j];
                expected.covariance[i * n + j] += sum;
                if i != j {
                    expected.covariance[j * n + i] += sum;
                }
            }
        }
    }
}
