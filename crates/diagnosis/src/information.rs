//! What a test would tell, before it is done: expected bits about which repair is needed, and what each outcome would
//! mean.
//!
//! What the test would show is spread over the points of the belief, cut into outcomes, and the mutual information of
//! outcome and class of repair is taken (Shannon 1948). Causes that the same work repairs count as one: telling them apart
//! is worth nothing. Limits: tests of one group are taken as independent given the cause and its severity; what they
//! share through a parameter not yet learnt is not used, so that the bits of a group are rather too few.

mod outcomes;
mod table;
#[cfg(test)]
mod tests;

use bench::{BenchError, Placement, Predict};
use circuit::SetUp;
use rayon::prelude::*;

use crate::likelihood::WRONG_AGAIN;
use crate::predictions::{Predictions, Wanted};
use crate::{Belief, Expected, Outcome};
pub(crate) use outcomes::counts;
use outcomes::{Merged, bits, told};
pub(crate) use table::{Shows, Table};

/// Tests of a group beyond which no outcomes are joined.
const MOST_TESTS: usize = 4;
/// Joint outcomes rarer than this are not followed.
const RAREST: f64 = 1e-5;
/// Most outcomes told of.
const MOST_OUTCOMES: usize = 16;

/// What a test, or several together, would tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Information {
    /// Expected bits about which repair is needed.
    pub bits: f64,
    /// What each (joint) outcome would mean, most likely first; at most a handful, so that their chances may sum to less
    /// than 1.
    pub outcomes: Vec<Outcome>,
}

/// What each of these tests would tell, done alone in this set-up, in their order.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn information(
    belief: &Belief<'_>,
    bench: &dyn Predict,
    predictions: &mut Predictions,
    set_up: &SetUp,
    placements: &[Placement],
) -> Result<Vec<Information>, BenchError> {
    let tables = tables(belief, bench, predictions, set_up, placements)?;
    let information = tables.into_par_iter().zip(placements).map(|(table, placement)| {
        let fresh = freshness(belief, set_up, placement);
        let bits = fresh * bits(belief, &table.chances, table.cells.len());
        let merged = Merged::of(belief, &table);
        let outcomes = told(
            belief,
            &joint_outcomes(belief, std::slice::from_ref(&merged)),
            MOST_OUTCOMES,
        );
        Information { bits, outcomes }
    });
    Ok(information.collect())
}

/// What these tests would tell, all done in this set-up: the first four of them, if there are more.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn joint_information(
    belief: &Belief<'_>,
    bench: &dyn Predict,
    predictions: &mut Predictions,
    set_up: &SetUp,
    group: &[Placement],
) -> Result<Information, BenchError> {
    let group = &group[..group.len().min(MOST_TESTS)];
    let tables = tables(belief, bench, predictions, set_up, group)?;
    // Cutting into a few outcomes loses a little: together they tell no less than the best alone.
    let mut best = 0.0_f64;
    let mut merged = Vec::with_capacity(tables.len());
    let mut freshest = 0.0_f64;
    for (table, placement) in tables.into_iter().zip(group) {
        let fresh = freshness(belief, set_up, placement);
        best = best.max(fresh * bits(belief, &table.chances, table.cells.len()));
        freshest = freshest.max(fresh);
        merged.push(Merged::of(belief, &table));
    }
    let joint = joint_outcomes(belief, &merged);
    let chances = by_component(belief, &joint);
    let together = bits(belief, &chances, joint.len());
    Ok(Information {
        bits: best.max(together * freshest),
        outcomes: told(belief, &joint, MOST_OUTCOMES),
    })
}

/// A test already done tells again only so far as it may have been wrong, and then mostly the same wrong.
fn freshness(belief: &Belief<'_>, set_up: &SetUp, placement: &Placement) -> f64 {
    let done = belief
        .done
        .iter()
        .any(|test| &test.placement == placement && &test.set_up == set_up);
    if done { 1.0 - WRONG_AGAIN } else { 1.0 }
}

fn tables(
    belief: &Belief<'_>,
    bench: &dyn Predict,
    predictions: &mut Predictions,
    set_up: &SetUp,
    placements: &[Placement],
) -> Result<Vec<Table>, BenchError> {
    let wanted: Vec<Wanted> = belief.components.iter().map(|component| component.wanted).collect();
    let rows = predictions.fill(bench, &belief.possible, set_up, placements, &wanted)?;
    let predictions = &*predictions;
    Ok(rows
        .into_par_iter()
        .zip(placements)
        .map(|(row, placement)| {
            let foreseen: Vec<_> = belief
                .components
                .iter()
                .map(|component| component.foresee(predictions.cell(row, component.wanted)))
                .collect();
            let mut table = Table::new(belief, placement, &foreseen);
            belief.brought_out(set_up.provoked, table.cells.len(), &mut table.chances);
            table
        })
        .collect())
}

/// One joint outcome: what each test shows, and its chance under each point of the belief.
pub(crate) struct Joint {
    pub(crate) shows: Vec<Expected>,
    pub(crate) given: Vec<f64>,
}

fn joint_outcomes(belief: &Belief<'_>, tests: &[Merged]) -> Vec<Joint> {
    let mut joint = vec![Joint {
        shows: Vec::new(),
        given: vec![1.0; belief.components.len()],
    }];
    for test in tests {
        let mut longer = Vec::with_capacity(joint.len() * test.outcomes.len());
        for before in &joint {
            for (shows, given) in &test.outcomes {
                let given: Vec<f64> = before.given.iter().zip(given).map(|(a, b)| a * b).collect();
                let chance: f64 = given
                    .iter()
                    .zip(&belief.components)
                    .map(|(given, of)| given * of.chance)
                    .sum();
                if chance > RAREST {
                    let shows = before.shows.iter().chain([shows]).cloned().collect();
                    longer.push(Joint { shows, given });
                }
            }
        }
        joint = longer;
    }
    joint
}

/// Chances by component, then outcome.
fn by_component(belief: &Belief<'_>, joint: &[Joint]) -> Vec<f64> {
    (0..belief.components.len())
        .flat_map(|at| joint.iter().map(move |outcome| outcome.given[at]))
        .collect()
}
