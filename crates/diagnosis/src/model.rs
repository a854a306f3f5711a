//! What all readings should be under one cause at one severity: values, and how they hang together.

use std::collections::BTreeSet;

use circuit::Circuit;

use crate::evidence::{Body, Evidence};
use crate::likelihood::{Expectation, Expected, Other, density};
use crate::predictions::{Cell, Predictions, Wanted};
use crate::severity::Between;

/// The parameter that moves while one works: battery voltage sags and recovers.
pub const SAGS: &str = "battery";
/// How far two readings see the same battery voltage, as a share of its variance: it recovers between them.
pub const SAG_SHARED: f64 = 0.9;
/// It drifts in one direction at first, by this share of its standard deviation in the end, and wanders by this from one
/// reading to the next, not knowing of readings long past: so many count. Common practice (it may sag by a volt in a job), no
/// source for the figures.
const DRIFTS: f64 = 1.5;
const WANDERS: f64 = 0.2;
const KEPT_FOR: f64 = 10.0;

/// How far it may have drifted in one direction after so many readings: standard deviation, by its own.
pub fn drifted(readings: f64) -> f64 {
    DRIFTS * (1.0 - (-readings / KEPT_FOR).exp())
}

/// What is kept of its wandering from one reading to the next, and the standard deviation of what is added, by its own.
pub fn wanders() -> (f64, f64) {
    let kept = (-1.0 / KEPT_FOR).exp();
    (kept, WANDERS * (0.5 * KEPT_FOR * (1.0 - kept * kept)).sqrt())
}

/// A twin's parts have their own tolerances: its parameters are numbered from here.
const TWIN: u32 = 1 << 30;

/// Whether a parameter is a twin's.
pub(crate) fn is_of_twin(id: u32) -> bool {
    id >= TWIN
}

/// What a reading's vehicle calls a parameter.
fn own_id(evidence: &Evidence) -> impl Fn(u32) -> u32 + use<> {
    let from = if evidence.at.of_twin { TWIN } else { 0 };
    move |id| id + from
}

/// The parameters that move any of the readings.
#[derive(Debug, Default)]
pub(crate) struct Params {
    /// Their ids, sorted.
    pub(crate) ids: Vec<u32>,
    /// Of these, the place of the one that drifts.
    sags: Option<usize>,
    /// When each reading was taken, counted in readings.
    taken: Vec<f64>,
    /// When the next one will be.
    next: f64,
}

/// All readings between two solved severities.
#[derive(Debug)]
pub(crate) struct Span<'c> {
    pub(crate) ends: [Vec<&'c Cell>; 2],
    pub(crate) between: Vec<Between>,
    /// By reading: what it should be where the fault, which comes and goes, was not there, and the chance that it was.
    /// Empty for what stays.
    pub(crate) absent: Vec<Option<(&'c Cell, f64)>>,
}

impl<'c> Span<'c> {
    /// Between the cells at two positions `gap` apart, by reading.
    pub(crate) fn new(a: Vec<&'c Cell>, b: Vec<&'c Cell>, gap: f64) -> Self {
        let between = a.iter().zip(&b).map(|(a, b)| Between::new(a, b, gap)).collect();
        Self {
            ends: [a, b],
            between,
            absent: Vec::new(),
        }
    }
}

/// What a reading alone should be.
#[derive(Clone, Copy)]
struct Seen {
    expectation: Expectation,
    variance: f64,
}

/// Room for the sums.
#[derive(Debug, Default)]
pub(crate) struct Field {
    pub(crate) expected: Expected,
    /// Derivatives by the parameters of [`Params::ids`], readings × parameters.
    pub(crate) by_param: Vec<f64>,
    /// What severity within the width does to each reading, standard deviation with its sign.
    pub(crate) steps: Vec<f64>,
    /// The same of a second fault's severity; empty without one.
    pub(crate) more_steps: Vec<f64>,
}

impl Field {
    /// Empties it for readings of which `p` parameters move any.
    pub(crate) fn begin(&mut self, body: &Body, p: usize) {
        self.by_param.clear();
        self.by_param.resize(body.len() * p, 0.0);
        self.expected.readings.clear();
        self.expected.freedom.clear();
        self.expected.others.clear();
        self.expected.covariance.clear();
        self.expected.covariance.extend_from_slice(&body.meters);
        self.steps.clear();
        self.more_steps.clear();
    }
}

impl Params {
    /// Those that any reading's prediction for any of these hypotheses names.
    pub(crate) fn new(circuit: &Circuit, body: &Body, predictions: &Predictions, wanted: &[Wanted]) -> Self {
        let taken: Vec<f64> = body.evidence.iter().map(|evidence| evidence.position as f64).collect();
        let mut params = Self {
            next: taken.iter().fold(0.0, |next, at| next.max(at + 1.0)),
            taken,
            ..Self::default()
        };
        params.extend(circuit, body, predictions, wanted);
        params
    }

    /// Takes in those that any reading's prediction for more hypotheses names.
    pub(crate) fn extend(&mut self, circuit: &Circuit, body: &Body, predictions: &Predictions, more: &[Wanted]) {
        let mut new: BTreeSet<u32> = BTreeSet::new();
        for evidence in &body.evidence {
            let own = own_id(evidence);
            for &wanted in more {
                let cell = predictions.cell(evidence.row, wanted);
                let ids = cell.by_param.iter().map(|by| own(by.0));
                new.extend(ids.filter(|id| self.ids.binary_search(id).is_err()));
            }
        }
        if new.is_empty() {
            return;
        }
        self.ids.extend(new);
        self.ids.sort_unstable();
        let is_sagging = |id: &u32| circuit.params.get(*id as usize).is_some_and(|param| param.path == SAGS);
        self.sags = self.ids.iter().position(is_sagging);
    }

    /// Covariance of the parameter at a place of `ids` between two readings, or between a reading and the next.
    fn tie(&self, place: usize, at: f64, other: f64) -> f64 {
        if self.sags != Some(place) {
            return 1.0;
        }
        let here = if at == other { 1.0 } else { SAG_SHARED };
        let wandered = (-(at - other).abs() / KEPT_FOR).exp() - (-(at + other) / KEPT_FOR).exp();
        here + drifted(at) * drifted(other) + 0.5 * KEPT_FOR * WANDERS * WANDERS * wandered
    }

    /// Covariance of a parameter at a reading with what it will be at the next.
    pub(crate) fn tie_to_next(&self, place: usize, reading: usize) -> f64 {
        self.tie(place, self.taken.get(reading).copied().unwrap_or(0.0), self.next)
    }

    /// Variance of a parameter at the next reading, as far as no reading has told of it.
    pub(crate) fn variance_at_next(&self, place: usize) -> f64 {
        self.tie(place, self.next, self.next)
    }

    /// Adds a cell's derivatives to a row over [`Params::ids`].
    pub(crate) fn add(&self, evidence: &Evidence, cell: &Cell, share: f64, row: &mut [f64]) {
        let own = own_id(evidence);
        let mut at = 0;
        for &(id, by) in &cell.by_param {
            while self.ids[at] < own(id) {
                at += 1;
            }
            row[at] += share * by;
        }
    }

    /// A fault that comes and goes may have been absent at a reading. The likelier of the two, going by this reading alone,
    /// is what is expected: `row` is changed to it if that is absence; what is returned is the other.
    fn perhaps_absent(&self, evidence: &Evidence, cell: &Cell, there: f64, seen: Seen, row: &mut [f64]) -> Other {
        let mut absent_row = vec![0.0; row.len()];
        self.add(evidence, cell, 1.0, &mut absent_row);
        let absent = Seen {
            variance: absent_row.iter().map(|by| by * by).sum(),
            expectation: Expectation::of(cell),
        };
        let meter = (evidence.sd * evidence.sd - evidence.own_sd * evidence.own_sd).max(0.0);
        let density = |seen: &Seen| density(evidence, &seen.expectation, seen.variance + meter).all();
        let is_there = there * density(&seen) >= (1.0 - there) * density(&absent);
        let (main, other) = if is_there { (seen, absent) } else { (absent, seen) };
        if !is_there {
            row.copy_from_slice(&absent_row);
        }
        Other {
            is_there,
            there,
            expectation: other.expectation,
            off: other.expectation.value - main.expectation.value,
            more_variance: other.variance - main.variance,
        }
    }

    /// What the readings should be at `t` of a span, severity being spread evenly over `width` (in t) around it.
    pub(crate) fn expect(&self, body: &Body, span: &Span<'_>, t: f64, width: f64, field: &mut Field) {
        let (n, p) = (body.len(), self.ids.len());
        field.begin(body, p);
        let Field {
            expected,
            by_param,
            steps,
            ..
        } = field;
        for (i, (between, evidence)) in span.between.iter().zip(&body.evidence).enumerate() {
            let row = &mut by_param[i * p..(i + 1) * p];
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
                self.add(evidence, cell, share, row);
            }
            expected.readings.push(Expectation {
                kind: between.kind(t),
                value: between.value(t),
                ghost_volts: ghost,
            });
            // Severity within the width moves all readings at once: one more parameter.
            let step = (between.value(t + 0.5 * width) - between.value(t - 0.5 * width)) / 12_f64.sqrt();
            steps.push(if width > 0.0 && step.is_finite() { step } else { 0.0 });
            if let Some(&Some((cell, there))) = span.absent.get(i) {
                let seen = Seen {
                    variance: row.iter().map(|by| by * by).sum::<f64>()
                        + steps[i] * steps[i]
                        + between.error(t).powi(2),
                    expectation: expected.readings[i],
                };
                let other = self.perhaps_absent(evidence, cell, there, seen, row);
                if !other.is_there {
                    expected.readings[i] = Expectation::of(cell);
                    steps[i] = 0.0;
                }
                expected.others.resize(i, None);
                expected.others.push(Some(other));
            }
        }
        self.tie_together(body, &field.by_param, [&field.steps, &[]], &mut field.expected);
        for (i, between) in span.between.iter().enumerate() {
            if !field.expected.is_other(i) {
                field.expected.covariance[i * n + i] += between.error(t).powi(2);
            }
        }
    }

    /// Adds to the readings' covariance what parameters and severities move together.
    pub(crate) fn tie_together(&self, body: &Body, by_param: &[f64], steps: [&[f64]; 2], expected: &mut Expected) {
        let (n, p) = (body.len(), self.ids.len());
        for i in 0..n {
            for j in 0..=i {
                let (one, other) = (&by_param[i * p..(i + 1) * p], &by_param[j * p..(j + 1) * p]);
                let mut sum = one.iter().zip(other).map(|(a, b)| a * b).sum::<f64>();
                for steps in steps.into_iter().filter(|steps| !steps.is_empty()) {
                    sum += steps[i] * steps[j];
                }
                if let Some(sags) = self.sags {
                    sum += one[sags] * other[sags] * (self.tie(sags, self.taken[i], self.taken[j]) - 1.0);
                }
                expected.covariance[i * n + j] += sum;
                if i != j {
                    expected.covariance[j * n + i] += sum;
                }
            }
        }
    }
}
