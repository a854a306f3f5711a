//! Many small changes to one netlist: each costs a few unknowns instead of a circuit.
//!
//! The circuit is solved and factored once in every combination of discrete states that turns up. From there a change is a
//! [`Reduced`] solve. States are followed as a [`Solver`] follows them, one event at a time.
//!
//! Absent on purpose: whatever needs another structure (other nodes, ideal joins). Then the answer is `None`, and a
//! [`Solver`] gives it.

use crate::law::Point;
use crate::reduced::{From, NEAR_ROUNDS, REGION_ROUNDS, Reduced};
use crate::{Element, ElementId, Netlist, NetworkError, Solution, Solver, States, check, plan};
use std::sync::{Arc, Mutex, PoisonError};

/// Combinations of states kept, each with a few regions of some hundred kilobytes for a hundred nodes; all are made again when
/// there are more.
const KEPT: usize = 12;
/// A source that is as good as open.
const OPENED_OHMS: f64 = 1e11;
/// From rest, all bent elements move: with more of them than this a [`Solver`], which is sparse, is faster.
const MOST_BENT: usize = 32;
/// Changes of state before a circuit counts as one that never rests.
const EVENTS: usize = 32;

/// See the module. Shared between threads; what it keeps changes an answer by no more than rounding.
#[derive(Debug)]
pub struct Variations {
    netlist: Netlist,
    guess: Option<Vec<f64>>,
    solver: Mutex<Solver>,
    /// By the states, of which there are few. `None` where the circuit cannot be reduced.
    kept: Mutex<Vec<(States, Option<Arc<Reduced>>)>>,
}

impl Variations {
    /// Checks the netlist that will be varied.
    ///
    /// # Errors
    /// As [`Solver::new`].
    pub fn new(netlist: &Netlist) -> Result<Self, NetworkError> {
        Ok(Self {
            netlist: netlist.clone(),
            guess: None,
            solver: Mutex::new(Solver::new(netlist)?),
            kept: Mutex::default(),
        })
    }

    /// Where to look for the operating point of the netlist as it is: near these volts by node. Ignored if there are not as
    /// many.
    #[must_use]
    pub fn near(mut self, node_volts: &[f64]) -> Self {
        let fits = node_volts.len() == self.netlist.n_nodes && node_volts.iter().all(|volts| volts.is_finite());
        self.guess = fits.then(|| node_volts.to_vec());
        self
    }

    /// In which elements a netlist differs; `None` if it has other nodes or fewer elements.
    pub fn differences(&self, netlist: &Netlist) -> Option<Vec<(ElementId, Element)>> {
        if netlist.n_nodes != self.netlist.n_nodes || netlist.elements.len() < self.netlist.elements.len() {
            return None;
        }
        let differs = |(id, element): &(ElementId, &Element)| {
            self.netlist
                .elements
                .get(id.0 as usize)
                .is_none_or(|first| first != *element)
        };
        let differing = netlist.iter().filter(differs);
        Some(differing.map(|(id, element)| (id, element.clone())).collect())
    }

    /// The stable operating point reached from `start` with these elements changed, and those beyond the netlist appended;
    /// sorted by id, each once. `None` if it has no stable state, another structure, or is so ill-conditioned that this way
    /// would lose digits: then ask a [`Solver`]. `near` is the solution of a similar change, beside which this one is
    /// looked for where it differs by much from the netlist as it is.
    ///
    /// # Errors
    /// [`NetworkError::BadValue`], [`NetworkError::NoSuchNode`], [`NetworkError::WrongStates`] and, where it is out of order,
    /// [`NetworkError::NotThere`] of what was changed.
    pub fn solve(
        &self,
        changed: &[(ElementId, Element)],
        start: &States,
        near: Option<&Solution>,
    ) -> Result<Option<Solution>, NetworkError> {
        let n = self.netlist.elements.len();
        let n_appended = changed.iter().filter(|(id, _)| id.0 as usize >= n).count();
        let in_order = changed.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let gapless = changed.last().is_none_or(|(id, _)| (id.0 as usize) < n + n_appended);
        if !in_order || !gapless {
            let last = changed.last().map_or(0, |(id, _)| id.0);
            return Err(NetworkError::NotThere {
                what: "changed element in its order",
                position: last,
                there_are: n + n_appended,
            });
        }
        if start.len() != n + n_appended {
            return Err(NetworkError::WrongStates {
                given: start.len(),
                needed: n + n_appended,
            });
        }
        for (id, element) in changed {
            let first = self.netlist.elements.get(id.0 as usize);
            if first.is_some_and(|first| first.shape() != element.shape()) || plan::is_extra(element) {
                return Ok(None);
            }
            check::element(*id, element, self.netlist.n_nodes)?;
        }
        let mut states = start.clone();
        for _ in 0..EVENTS {
            let Some(reduced) = self.reduced(states.first(n))? else {
                return Ok(None);
            };
            let found = if changed.is_empty() {
                Some(reduced.solution().clone())
            } else {
                self.solve_in(&reduced, changed, &states, near)
            };
            let Some(solution) = found else { return Ok(None) };
            let untouched = |at: &&u32| changed.binary_search_by_key(*at, |(id, _)| id.0).is_err();
            let still = reduced.watched().iter().filter(untouched);
            let elements = still
                .map(|&at| (at as usize, &self.netlist.elements[at as usize]))
                .chain(changed.iter().map(|(id, element)| (id.0 as usize, element)));
            if !states.step(elements, &solution.node_volts, &solution.element_amps) {
                return Ok(Some(solution));
            }
        }
        Ok(None)
    }

    /// In fixed states: in the region that `near` is in, near the circuit as it is, near it without sources, or else wherever it
    /// may be; what is found in the last two ways once more in the region that it is in.
    fn solve_in(
        &self,
        reduced: &Arc<Reduced>,
        changed: &[(ElementId, Element)],
        states: &States,
        near: Option<&Solution>,
    ) -> Option<Solution> {
        let there = near.and_then(|near| reduced.region_of(near));
        if let Some(found) = there.and_then(|region| region.solve(changed, states, From::Here(REGION_ROUNDS))) {
            return Some(found);
        }
        if let Some(found) = reduced.solve(changed, states, From::Here(NEAR_ROUNDS)) {
            return Some(found);
        }
        // From the region that it is in, whichever way led there: the same bits.
        let linearise = |points: &[Point]| {
            let mut solver = self.solver.lock().unwrap_or_else(PoisonError::into_inner);
            solver.linearise(&self.netlist, reduced.states(), points).ok()
        };
        let from_its_region = |found: &Solution| {
            let region = reduced.region(found, linearise)?;
            region.solve(changed, states, From::Here(NEAR_ROUNDS))
        };
        let dead = reduced.dead(|| {
            let found = reduced.solve(&self.without_sources(), reduced.states(), From::Elsewhere(None))?;
            reduced.region(&found, linearise)
        });
        if let Some(found) = dead
            .and_then(|dead| dead.solve(changed, states, From::Here(NEAR_ROUNDS)))
            .as_ref()
            .and_then(from_its_region)
        {
            return Some(found);
        }
        if reduced.n_bent() > MOST_BENT {
            return None;
        }
        let found = reduced.solve(changed, states, From::Elsewhere(near))?;
        Some(from_its_region(&found).unwrap_or(found))
    }

    /// The netlist with its sources as good as open.
    fn without_sources(&self) -> Vec<(ElementId, Element)> {
        let sources = self.netlist.iter().filter_map(|(id, element)| {
            let mut open = element.clone();
            match &mut open {
                Element::VoltageSource { ohms, .. } => *ohms = OPENED_OHMS,
                _ => return None,
            }
            Some((id, open))
        });
        sources.collect()
    }

    /// The circuit reduced in these states; `None` if it cannot be.
    fn reduced(&self, states: States) -> Result<Option<Arc<Reduced>>, NetworkError> {
        let kept = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let known = kept()
            .iter()
            .find(|(of, _)| *of == states)
            .map(|(_, known)| known.clone());
        if let Some(known) = known {
            return Ok(known);
        }
        let found = {
            let mut solver = self.solver.lock().unwrap_or_else(PoisonError::into_inner);
            solver.settle(&self.netlist, &states, self.guess.as_deref())?
        };
        let reduced = found.and_then(Reduced::new).map(Arc::new);
        let mut all = kept();
        if all.len() >= KEPT {
            all.clear();
        }
        all.push((states, reduced.clone()));
        Ok(reduced)
    }
}
