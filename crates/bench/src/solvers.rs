//! Solvers kept for structures seen before, so that a hypothesis costs numbers only.
//!
//! A solver works on one netlist at a time, so each structure has as many as were ever needed at once. All are made from
//! the structure alone: which one answers changes no bit of the answer.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use network::{NetworkError, Outcome, Solver, States};

use crate::lowered::Lowered;

/// Structures kept. About 100 kB each; the most-asked-for ones are made again soon enough.
const KEPT: usize = 200;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Solvers {
    idle: Mutex<HashMap<Vec<[u32; 5]>, Vec<Solver>>>,
}

impl Solvers {
    /// The operating point reached from `start`, searched from `guess` if there is one.
    pub(crate) fn solve(
        &self,
        lowered: &Lowered,
        start: &States,
        guess: Option<&[f64]>,
    ) -> Result<Outcome, NetworkError> {
        let netlist = lowered.netlist();
        let idle = {
            let mut all = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
            all.get_mut(&lowered.shape).and_then(Vec::pop)
        };
        let mut solver = match idle {
            Some(solver) => solver,
            None => Solver::new(&netlist)?,
        };
        let outcome = match guess {
            Some(guess) => solver.solve_from(&netlist, start, guess),
            None => solver.solve(&netlist, start),
        };
        let mut all = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= KEPT && !all.contains_key(&lowered.shape) {
            all.clear();
        }
        all.entry(lowered.shape.clone()).or_default().push(solver);
        outcome
    }
}
