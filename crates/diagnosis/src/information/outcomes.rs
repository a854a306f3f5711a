//! Fine cells merged into a few plain outcomes, and what each would mean.

use std::collections::BTreeMap;

use bench::Shown;
use circuit::FaultId;

use super::Joint;
use super::table::{Shows, Table};
use crate::suspects::Component;
use crate::{Belief, Expected, Outcome};

/// Ranges of numbers that a test's outcomes are cut into, at most.
const MOST_RANGES: usize = 5;
/// Neighbouring ranges are merged while that loses less than this share of all bits.
const SMALL_LOSS: f64 = 0.02;
/// Classes told apart while merging; the rest count as one.
const MOST_CLASSES: usize = 10;
/// A suspect is counted to a range's limits if it has this share of it.
const COUNTS: f64 = 0.03;
/// Suspects told of in an outcome, and the least chance to be told.
const MOST_THEN: usize = 3;
const LEAST_THEN: f64 = 0.01;

/// x log₂ x.
fn x_log_x(x: f64) -> f64 {
    if x > 0.0 { x * x.log2() } else { 0.0 }
}

/// How much telling a cause outside this circuit from the rest counts when a test is chosen. Its readings could be almost
/// anything, so every test would seem to tell a good deal, however little it says of where to look.
const OUTSIDE_COUNTS: f64 = 0.2;

/// What a component counts in the choice of tests.
pub(crate) fn counts(component: &Component) -> f64 {
    component.chance * if component.is_outside() { OUTSIDE_COUNTS } else { 1.0 }
}

/// Mutual information of outcome and class of repair, bits. `chances`: `n_components × n_cells`.
pub(crate) fn bits(belief: &Belief<'_>, chances: &[f64], n_cells: usize) -> f64 {
    if n_cells == 0 {
        return 0.0;
    }
    let (classes, n_classes) = compact(belief, usize::MAX);
    let mut joint = vec![0.0; n_classes * n_cells];
    let mut total = 0.0;
    for ((component, class), row) in belief.components.iter().zip(&classes).zip(chances.chunks(n_cells)) {
        for (sum, chance) in joint[class * n_cells..(class + 1) * n_cells].iter_mut().zip(row) {
            *sum += component.chance * chance;
            total += component.chance * chance;
        }
    }
    if total <= 0.0 {
        return 0.0;
    }
    let by_cell = (0..n_cells).map(|cell| joint.iter().skip(cell).step_by(n_cells).sum::<f64>() / total);
    let by_class = joint.chunks(n_cells).map(|row| row.iter().sum::<f64>() / total);
    let within: f64 = joint.iter().map(|chance| x_log_x(chance / total)).sum();
    (within - by_cell.map(x_log_x).sum::<f64>() - by_class.map(x_log_x).sum::<f64>()).max(0.0)
}

/// Classes of the components, numbered from the likeliest; those beyond `most` are one.
fn compact(belief: &Belief<'_>, most: usize) -> (Vec<usize>, usize) {
    let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
    for component in &belief.components {
        *sums.entry(component.class).or_default() += component.chance;
    }
    let mut ranked: Vec<(usize, f64)> = sums.into_iter().collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let place: BTreeMap<usize, usize> = ranked
        .iter()
        .enumerate()
        .map(|(at, (class, _))| (*class, at.min(most.saturating_sub(1))))
        .collect();
    let n = ranked.len().min(most);
    (
        belief
            .components
            .iter()
            .map(|component| place[&component.class])
            .collect(),
        n,
    )
}

/// A test's few outcomes: what it shows, and the chance under each point of the belief.
pub(crate) struct Merged {
    pub(crate) outcomes: Vec<(Expected, Vec<f64>)>,
}

/// Neighbouring cells, on the way to becoming one outcome.
struct Run {
    cells: std::ops::Range<usize>,
    /// Chance by class.
    classes: Vec<f64>,
}

impl Run {
    /// What it adds to the mutual information, but for a sum that merging does not change.
    fn told(classes: &[f64]) -> f64 {
        classes.iter().copied().map(x_log_x).sum::<f64>() - x_log_x(classes.iter().sum())
    }

    fn loss(&self, next: &Self) -> f64 {
        let both: Vec<f64> = self.classes.iter().zip(&next.classes).map(|(a, b)| a + b).collect();
        Self::told(&self.classes) + Self::told(&next.classes) - Self::told(&both)
    }
}

impl Merged {
    pub(crate) fn of(belief: &Belief<'_>, table: &Table) -> Self {
        let n = table.cells.len();
        let (classes, n_classes) = compact(belief, MOST_CLASSES);
        let mut by_cell = vec![vec![0.0; n_classes]; n];
        for ((component, class), row) in belief
            .components
            .iter()
            .zip(&classes)
            .zip(table.chances.chunks(n.max(1)))
        {
            for (cell, chance) in by_cell.iter_mut().zip(row) {
                cell[*class] += component.chance * chance;
            }
        }
        let n_numbers = table
            .cells
            .iter()
            .take_while(|cell| matches!(cell, Shows::Between(..)))
            .count();
        let mut runs: Vec<Run> = by_cell[..n_numbers]
            .iter()
            .enumerate()
            .map(|(at, classes)| Run {
                cells: at..at + 1,
                classes: classes.clone(),
            })
            .collect();
        let bits = bits(belief, &table.chances, n);
        let mut losses: Vec<f64> = runs.windows(2).map(|pair| pair[0].loss(&pair[1])).collect();
        while let Some((at, least)) = losses.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1)) {
            if runs.len() <= MOST_RANGES && least > SMALL_LOSS * bits {
                break;
            }
            let next = runs.remove(at + 1);
            runs[at].cells.end = next.cells.end;
            runs[at]
                .classes
                .iter_mut()
                .zip(&next.classes)
                .for_each(|(a, b)| *a += b);
            losses.remove(at);
            if at > 0 {
                losses[at - 1] = runs[at - 1].loss(&runs[at]);
            }
            if at < losses.len() {
                losses[at] = runs[at].loss(&runs[at + 1]);
            }
        }
        let given = |cells: std::ops::Range<usize>| -> Vec<f64> {
            table
                .chances
                .chunks(n.max(1))
                .map(|row| row[cells.clone()].iter().sum())
                .collect()
        };
        let mut outcomes: Vec<(Expected, Vec<f64>)> = runs
            .iter()
            .map(|run| {
                let given = given(run.cells.clone());
                (limits(belief, table, run, &given), given)
            })
            .collect();
        for (at, cell) in table.cells.iter().enumerate().skip(n_numbers) {
            if let Shows::Is(shown) = cell {
                outcomes.push((Expected::Is(shown.clone()), given(at..at + 1)));
            }
        }
        Self { outcomes }
    }
}

/// The limits of a range: no wider than what the suspects that fall into it would show.
fn limits(belief: &Belief<'_>, table: &Table, run: &Run, given: &[f64]) -> Expected {
    let edge = |cell: usize| match table.cells[cell] {
        Shows::Between(low, high) => (low, high),
        Shows::Is(_) => (f64::NEG_INFINITY, f64::INFINITY),
    };
    let (from, to) = (edge(run.cells.start).0, edge(run.cells.end - 1).1);
    let chance: f64 = given
        .iter()
        .zip(&belief.components)
        .map(|(given, of)| given * of.chance)
        .sum();
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for ((component, given), number) in belief.components.iter().zip(given).zip(&table.numbers) {
        let Some((mean, sd)) = number else { continue };
        if given * component.chance >= COUNTS * chance && *given > 0.1 {
            low = low.min(mean - 2.0 * sd);
            high = high.max(mean + 2.0 * sd);
        }
    }
    let (least, most) = table.shown_within;
    let (low, high) = (low.max(from).max(least), high.min(to).min(most));
    if low > high {
        // Nobody expects it here: the range as it was cut.
        let (from, to) = (from.max(least), to.min(most));
        let any = if from.is_finite() {
            from
        } else if to.is_finite() {
            to
        } else {
            return Expected::Is(Shown::Unstable);
        };
        return Expected::Range(
            if from.is_finite() { from } else { any },
            if to.is_finite() { to } else { any },
        );
    }
    Expected::Range(low, high)
}

/// What each outcome would mean, most likely first.
pub(crate) fn told(belief: &Belief<'_>, joint: &[Joint], most: usize) -> Vec<Outcome> {
    let mut outcomes: Vec<Outcome> = joint
        .iter()
        .map(|outcome| {
            let mut by_fault: BTreeMap<usize, f64> = BTreeMap::new();
            let (mut chance, mut outside) = (0.0, 0.0);
            for (component, given) in belief.components.iter().zip(&outcome.given) {
                let share = component.chance * given;
                chance += share;
                match component.fault {
                    None => outside += share,
                    Some(fault) => *by_fault.entry(fault).or_default() += share,
                }
            }
            let mut then: Vec<(FaultId, f64)> = by_fault
                .into_iter()
                .map(|(fault, share)| (FaultId::from(fault), share / chance))
                .collect();
            then.sort_by(|a, b| b.1.total_cmp(&a.1));
            then.truncate(MOST_THEN);
            then.retain(|suspect| suspect.1 >= LEAST_THEN);
            Outcome {
                shows: outcome.shows.clone(),
                chance,
                then,
                then_outside: outside / chance,
            }
        })
        .collect();
    let total: f64 = belief.components.iter().map(|component| component.chance).sum();
    for outcome in &mut outcomes {
        outcome.chance /= total;
    }
    outcomes.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    outcomes.truncate(most);
    outcomes
}
