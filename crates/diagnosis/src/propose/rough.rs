//! A rough look at many tests: the likelier points of the belief, readings cut into a few ranges.
//!
//! It finds the few dozen tests worth an exact look and looks one step further than that. What is shown to a person never
//! comes from here. The bench is asked around the values that the file has, and at a few severities only, so that a look
//! after the next reading finds most of its answers made.

use std::sync::Arc;

use bench::{BenchError, Placement, Predict};
use circuit::SetUp;
use rayon::prelude::*;

use super::outlay::Outlay;
use super::split::{APART, Seen, Table, entropy};
use crate::cost::Cure;
use crate::information::counts;
use crate::predictions::{Broken, Possible, Predictions, Wanted};
use crate::severity::FINEST;
use crate::suspects::Component;
use crate::{Belief, Costs};

/// Severities are rounded to so many positions: a quarter of a cell of their scale.
const ROUNDED: u16 = FINEST / 4;

/// How closely to look. With few points all of them may be look-alikes, and the one test that still tells something goes
/// unseen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Care {
    /// Points that together carry this much of the chance are looked at.
    share: f64,
    /// Most answers of the bench a test.
    most_answers: usize,
}

impl Care {
    /// For many tests.
    pub(crate) const QUICK: Self = Self {
        share: 0.9,
        most_answers: 24,
    };
    /// Where the quick look found little.
    pub(crate) const WIDE: Self = Self {
        share: 0.98,
        most_answers: 80,
    };
    /// For few tests, and before giving up.
    pub(crate) const FULL: Self = Self {
        share: 0.999,
        most_answers: usize::MAX,
    };

    /// Whether this leaves out next to nothing.
    pub(crate) fn is_full(self) -> bool {
        self.most_answers == Self::FULL.most_answers
    }

    /// Whether this looks closer than at first sight.
    pub(crate) fn is_wide(self) -> bool {
        self.most_answers > Self::QUICK.most_answers
    }
}

/// What is still possible, roughly.
pub(crate) struct Rough<'b, 'a> {
    belief: &'b Belief<'a>,
    possible: Possible<'a>,
    /// Positions among the belief's points.
    points: Vec<usize>,
    /// What the bench is asked for each of them, and how many positions its severities lie above that.
    beside: Vec<(Wanted, [f64; 2])>,
    wanted: Vec<Wanted>,
    /// Of each point; they sum to 1.
    pub(crate) weights: Vec<f64>,
    /// Which class of repair each needs.
    kinds: Vec<usize>,
    n_kinds: usize,
    /// Share of the chance that these points carry.
    pub(crate) covered: f64,
    /// What the job is expected to cost from here.
    pub(crate) outlay: Outlay,
}

impl<'b, 'a> Rough<'b, 'a> {
    /// The likelier points of a belief; a cause outside the circuit is always among them.
    pub(crate) fn new(belief: &'b Belief<'a>, care: Care, costs: Costs) -> Self {
        let all = &belief.components;
        let mut order: Vec<usize> = (0..all.len()).collect();
        order.sort_by(|&a, &b| all[b].chance.total_cmp(&all[a].chance));
        let whole: f64 = all.iter().map(|point| point.chance).sum();
        let mut rough = Self {
            belief,
            possible: belief.possible.around(Arc::default()),
            points: Vec::new(),
            beside: Vec::new(),
            wanted: vec![Wanted::HEALTHY],
            weights: Vec::new(),
            kinds: Vec::new(),
            n_kinds: 0,
            covered: 0.0,
            outlay: Outlay {
                costs,
                prices: Vec::new(),
                kinds: Vec::new(),
                masses: Vec::new(),
                per_bit: f64::INFINITY,
            },
        };
        let mut classes: Vec<usize> = Vec::new();
        let mut so_far = 0.0;
        for at in order {
            let point = &all[at];
            let enough = so_far >= care.share * whole || rough.wanted.len() >= care.most_answers;
            if enough && !point.is_outside() {
                continue;
            }
            so_far += point.chance;
            let beside = rounded(point.wanted);
            if !rough.wanted.contains(&beside.0) {
                rough.wanted.push(beside.0);
            }
            rough.beside.push(beside);
            rough.points.push(at);
            rough.weights.push(counts(point));
            let kind = classes
                .iter()
                .position(|&class| class == point.class)
                .unwrap_or_else(|| {
                    classes.push(point.class);
                    rough
                        .outlay
                        .prices
                        .push(costs.of_cure(belief.faults(), cure(belief, point)));
                    classes.len() - 1
                });
            rough.kinds.push(kind);
            rough.outlay.masses.push(point.chance / whole.max(f64::MIN_POSITIVE));
        }
        rough.n_kinds = classes.len();
        rough.outlay.kinds.clone_from(&rough.kinds);
        let told: f64 = rough.outlay.masses.iter().sum();
        for mass in &mut rough.outlay.masses {
            *mass /= told.max(f64::MIN_POSITIVE);
        }
        rough.covered = so_far / whole.max(f64::MIN_POSITIVE);
        let sum: f64 = rough.weights.iter().sum();
        for weight in &mut rough.weights {
            *weight /= sum.max(f64::MIN_POSITIVE);
        }
        rough
    }

    /// Bits that are left to be told.
    pub(crate) fn bits_left(&self) -> f64 {
        let mut by_kind = vec![0.0; self.n_kinds];
        for (weight, &kind) in self.weights.iter().zip(&self.kinds) {
            by_kind[kind] += weight;
        }
        entropy(&by_kind)
    }

    /// Bits that a test is expected to tell, given these weights.
    pub(crate) fn bits(&self, table: &Table, weights: &[f64]) -> f64 {
        table.bits(weights, &self.kinds, self.n_kinds)
    }

    /// How each test's outcomes split what is possible.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn tables(
        &self,
        bench: &dyn Predict,
        predictions: &mut Predictions,
        set_up: &SetUp,
        placements: &[Placement],
    ) -> Result<Vec<Table>, BenchError> {
        let belief = self.belief;
        // While something is done, a point of what comes and goes shows its other half as well.
        let pairs: Vec<(usize, usize, f64)> = set_up
            .provoked
            .map_or_else(Vec::new, |provoked| belief.pairs_of(&self.points, provoked).collect());
        let mut points = self.points.clone();
        for &(there, absent, _) in &pairs {
            for at in [there, absent] {
                if !points.contains(&at) {
                    points.push(at);
                }
            }
        }
        let (mut wanted, mut weights) = (self.wanted.clone(), self.weights.clone());
        let mut beside = self.beside.clone();
        for &at in &points[self.points.len()..] {
            let point = &belief.components[at];
            let at_rounded = rounded(point.wanted);
            wanted.push(at_rounded.0);
            beside.push(at_rounded);
            weights.push(counts(point));
        }
        let place = |of: usize| points.iter().position(|&at| at == of);
        let pairs: Vec<(usize, usize, f64)> = pairs
            .iter()
            .filter_map(|&(there, absent, chance)| Some((place(there)?, place(absent)?, chance)))
            .collect();
        let rows = predictions.fill(bench, &self.possible, set_up, placements, &wanted)?;
        let predictions = &*predictions;
        let table = |(&row, placement): (&usize, &Placement)| {
            let seen: Vec<Seen> = points
                .iter()
                .zip(&beside)
                .map(|(&at, &(wanted, below))| {
                    let point = &belief.components[at];
                    let foreseen = point.foresee_beside(predictions.cell(row, wanted), below);
                    Seen::foreseen(belief.circuit, placement, &foreseen, point.elsewhere)
                })
                .collect();
            let mut table = Table::new(belief.circuit, placement, &seen, &weights, APART);
            table.mix(&pairs, self.points.len());
            table
        };
        Ok(rows.par_iter().zip(placements).map(table).collect())
    }
}

/// At rounded severities, and how many positions the true ones lie above.
fn rounded(wanted: Wanted) -> (Wanted, [f64; 2]) {
    let round = |(fault, position): (usize, u16)| {
        let near = (position + ROUNDED / 2) / ROUNDED * ROUNDED;
        ((fault, near), f64::from(position) - f64::from(near))
    };
    let (broken, below) = match wanted.broken {
        Broken::Nothing => (Broken::Nothing, [0.0; 2]),
        Broken::One(fault, position) => {
            let ((fault, near), below) = round((fault, position));
            (Broken::One(fault, near), [below, 0.0])
        }
        Broken::Two(both) => {
            let [(one, a), (other, b)] = both.map(round);
            (Broken::Two([one, other]), [a, b])
        }
    };
    (Wanted { broken, ..wanted }, below)
}

/// What a point of the belief needs.
fn cure<'a>(belief: &Belief<'a>, point: &Component) -> Cure<'a> {
    let key = |fault: usize| belief.faults().get(fault).map(|fault| fault.repair.key.as_str());
    match (point.fault.and_then(key), point.wanted.broken) {
        (_, Broken::Two([(one, _), (other, _)])) => match (key(one), key(other)) {
            (Some(one), Some(other)) if one != other => Cure::Both(one, other),
            (Some(one), _) | (None, Some(one)) => Cure::Repair(one),
            (None, None) => Cure::Beyond,
        },
        (Some(key), _) if !point.is_outside() => Cure::Repair(key),
        _ => Cure::Beyond,
    }
}
