//! Ways and their integrals: all of them roughly, those that matter finely, and more severities solved where the answers
//! between them are not sure enough for the readings.

use std::ops::Range;

use bench::{BenchError, Predict};
use circuit::{Circuit, Fault};
use rayon::prelude::*;

use super::integral::{Ground, Integral, log_sum};
use super::ways::{self, Way};
use crate::Case;
use crate::evidence::Body;
use crate::model::Params;
use crate::predictions::{Broken, Possible, Predictions, Wanted};
use crate::severity::Scale;

/// Times that more severities are solved where a reading is sharper than the answers.
const ROUNDS: usize = 5;

/// What is weighed, and everything that has been asked for it.
pub(crate) struct Weighing<'w, 'c> {
    pub(crate) bench: &'w dyn Predict,
    pub(crate) circuit: &'w Circuit,
    pub(crate) possible: &'w Possible<'w>,
    /// Those of the list and those that it does not hold.
    pub(crate) faults: Vec<&'w Fault>,
    pub(crate) case: &'w Case<'c>,
    pub(crate) body: Body,
    /// The order in which the readings are weighed, and that in which they were taken.
    order: Vec<usize>,
    in_time: Vec<usize>,
    params: Params,
    pub(crate) predictions: &'w mut Predictions,
}

impl<'w, 'c> Weighing<'w, 'c> {
    /// With these answers of the bench for every reading.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn new(
        bench: &'w dyn Predict,
        circuit: &'w Circuit,
        possible: &'w Possible<'w>,
        case: &'w Case<'c>,
        predictions: &'w mut Predictions,
        wanted: &[Wanted],
    ) -> Result<Self, BenchError> {
        let body = Body::new(bench, circuit, possible, case, predictions, wanted)?;
        let order: Vec<usize> = (0..body.len()).collect();
        let mut in_time = order.clone();
        in_time.sort_by_key(|&k| body.evidence[k].position);
        let params = Params::new(circuit, &body, predictions, wanted);
        Ok(Self {
            bench,
            circuit,
            possible,
            faults: possible.faults(),
            case,
            body,
            order,
            in_time,
            params,
            predictions,
        })
    }

    pub(crate) fn ground(&self) -> Ground<'_> {
        Ground {
            faults: &self.faults,
            body: &self.body,
            params: &self.params,
            predictions: self.predictions,
            order: &self.order,
            in_time: &self.in_time,
        }
    }

    /// The ways of some of the faults, as far as they stay or as far as they come and go.
    pub(crate) fn ways(&self, of: Range<usize>, insides: &[f64], comes_and_goes: bool) -> Vec<Way> {
        ways::ways(self.circuit, &self.faults, of, self.case, insides, comes_and_goes)
    }

    /// Has more answers made for every reading.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn ask(&mut self, more: &[Wanted]) -> Result<(), BenchError> {
        self.body
            .solve_more(self.bench, self.possible, self.case, self.predictions, more)?;
        self.params.extend(self.circuit, &self.body, self.predictions, more);
        Ok(())
    }

    /// The integral of each way. `log_before`: logarithm of each way's chance before any reading; `rest`: logarithm of the
    /// weight (chance before times likelihood) of all else.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn integrals(
        &mut self,
        ways: &[Way],
        log_before: &[f64],
        rest: f64,
    ) -> Result<Vec<Integral>, BenchError> {
        let ground = self.ground();
        let mut integrals: Vec<Integral> = ways
            .par_iter()
            .map(|way| Integral::coarse(ground, way, Scale::of(ground.faults[way.fault])))
            .collect();
        let weights = |integrals: &[Integral]| -> Vec<f64> {
            let each = integrals.iter().zip(log_before);
            each.map(|(integral, before)| integral.log + before).collect()
        };
        let best = weights(&integrals).into_iter().fold(rest, f64::max);
        integrals = integrals
            .into_par_iter()
            .zip(ways)
            .zip(log_before)
            .map(|((integral, way), before)| {
                if before.is_finite() {
                    integral.finer(ground, way, best - before)
                } else {
                    integral
                }
            })
            .collect();
        for _ in 0..ROUNDS {
            let ground = self.ground();
            let total = log_sum(weights(&integrals).into_iter().chain([rest]));
            let middles: Vec<Vec<u16>> = integrals
                .par_iter()
                .zip(ways)
                .zip(log_before)
                .map(|((integral, way), before)| integral.unsure(ground, way, before - total))
                .collect();
            let mut more: Vec<Wanted> = Vec::new();
            for (way, middles) in ways.iter().zip(&middles) {
                more.extend(middles.iter().map(|&middle| Wanted {
                    inside: way.inside,
                    broken: Broken::One(way.fault, middle),
                }));
            }
            if more.is_empty() {
                break;
            }
            more.sort_unstable();
            more.dedup();
            self.ask(&more)?;
            let ground = self.ground();
            integrals = integrals
                .into_par_iter()
                .zip(&middles)
                .zip(ways)
                .zip(log_before)
                .map(|(((integral, middles), way), before)| {
                    if middles.is_empty() {
                        integral
                    } else {
                        integral.cut(ground, way, middles, total - before)
                    }
                })
                .collect();
        }
        Ok(integrals)
    }
}
