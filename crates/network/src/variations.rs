//! Many small changes to one netlist: each costs a few unknowns instead of a circuit.
//!
//! The circuit is solved and factored once in every combination of discrete states that turns up, and once more with each
//! branch that a change opens, since taking nearly all of a conductance away again would cancel digits. From there a change
//! is a [`Reduced`] solve. States are followed as a [`Solver`] follows them, one event at a time.
//!
//! Absent on purpose: whatever needs another structure (other nodes, ideal joins). Then the answer is `None`, and a
//! [`Solver`] gives it.

use crate::newton::straight;
use crate::plan;
use crate::reduced::{Reduced, Scratch};
use crate::{Element, Netlist, NetworkError, Solution, Solver, States, check};
use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// A branch that is changed to less than this share of its conductance is opened first: so many digits would cancel.
const OPENS: f64 = 1e-5;
/// What an opened branch still conducts is that of this many ohms: no circuit falls apart by it.
const OPENED_OHMS: f64 = 1e11;
/// Reduced circuits kept, 30 to 40 kB each for a hundred nodes; all are made again when there are more.
const KEPT: usize = 160;
/// Changes of state before a circuit counts as one that never rests.
const EVENTS: usize = 32;

/// See the module. Shared between threads; what it keeps changes an answer by no more than rounding.
#[derive(Debug)]
pub struct Variations {
    netlist: Netlist,
    solvers: Mutex<Vec<Solver>>,
    kept: Mutex<HashMap<Option<u32>, Kept>>,
}

/// By the states, of which there are few, for one opened branch or none. `None` where the circuit cannot be reduced.
type Kept = Vec<(States, Option<Arc<Reduced>>)>;

thread_local! {
    static SCRATCH: RefCell<Scratch> = RefCell::default();
}

impl Variations {
    /// Checks the netlist that will be varied.
    ///
    /// # Errors
    /// As [`Solver::new`].
    pub fn new(netlist: &Netlist) -> Result<Self, NetworkError> {
        let solver = Solver::new(netlist)?;
        Ok(Self {
            netlist: netlist.clone(),
            solvers: Mutex::new(vec![solver]),
            kept: Mutex::default(),
        })
    }

    /// The stable operating point reached from `start` by a netlist that differs from the first one in the values of a few
    /// elements and in what is appended to it. `None` if it differs by more, has no stable state, or is so ill-conditioned
    /// that this way would lose digits: then ask a [`Solver`].
    ///
    /// # Errors
    /// [`NetworkError::BadValue`], [`NetworkError::NoSuchNode`] and [`NetworkError::WrongStates`] of what was changed.
    pub fn solve(&self, netlist: &Netlist, start: &States) -> Result<Option<Solution>, NetworkError> {
        if start.len() != netlist.elements.len() {
            return Err(NetworkError::WrongStates {
                given: start.len(),
                needed: netlist.elements.len(),
            });
        }
        let Some(changes) = self.changes(netlist)? else {
            return Ok(None);
        };
        let mut states = start.clone();
        for _ in 0..EVENTS {
            let Some(solution) = self.settle(netlist, &changes, &states)? else {
                return Ok(None);
            };
            if !states.step(netlist, &solution.node_volts, &solution.element_amps) {
                return Ok(Some(solution));
            }
        }
        Ok(None)
    }

    /// Positions of what differs; `None` if the structure does.
    fn changes(&self, netlist: &Netlist) -> Result<Option<Vec<u32>>, NetworkError> {
        let n = self.netlist.elements.len();
        if netlist.n_nodes != self.netlist.n_nodes || netlist.elements.len() < n {
            return Ok(None);
        }
        let mut changes = Vec::new();
        for (id, element) in netlist.iter() {
            let first = self.netlist.elements.get(id.0 as usize);
            if first == Some(element) {
                continue;
            }
            if first.is_some_and(|first| first.shape() != element.shape()) || plan::is_extra(element) {
                return Ok(None);
            }
            check::element(id, element, netlist.n_nodes)?;
            changes.push(id.0);
        }
        Ok(Some(changes))
    }

    /// The operating point in these states.
    fn settle(&self, netlist: &Netlist, changes: &[u32], states: &States) -> Result<Option<Solution>, NetworkError> {
        let opened = self.opened(netlist, changes, states);
        let first = states.first(self.netlist.elements.len());
        let Some(reduced) = self.reduced(first, opened)? else {
            return Ok(None);
        };
        if changes.is_empty() {
            return Ok(Some(reduced.solution().clone()));
        }
        let mut elements: Vec<(u32, Element)> = changes
            .iter()
            .map(|&at| (at, netlist.elements[at as usize].clone()))
            .collect();
        if let Some(at) = opened
            && let Err(place) = elements.binary_search_by_key(&at, |entry| entry.0)
        {
            elements.insert(place, (at, netlist.elements[at as usize].clone()));
        }
        Ok(SCRATCH.with_borrow_mut(|scratch| reduced.solve(elements, states, scratch)))
    }

    /// The branch that loses most of its conductance, if one loses nearly all.
    fn opened(&self, netlist: &Netlist, changes: &[u32], states: &States) -> Option<u32> {
        let left = |&at: &u32| {
            let first = self.netlist.elements.get(at as usize)?;
            opened(first)?;
            let state = states.at(at as usize);
            let (before, after) = (
                straight(first, state, 1.0).0,
                straight(&netlist.elements[at as usize], state, 1.0).0,
            );
            let share = after / before;
            (share < OPENS && before > 10.0 / OPENED_OHMS).then_some((at, share))
        };
        let found = changes.iter().filter_map(left);
        found.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, _)| at)
    }

    /// The circuit reduced in these states; `None` if it cannot be.
    fn reduced(&self, states: States, open: Option<u32>) -> Result<Option<Arc<Reduced>>, NetworkError> {
        let kept = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let known = |all: &HashMap<Option<u32>, Kept>| {
            let known = all.get(&open)?.iter().find(|(of, _)| *of == states)?;
            Some(known.1.clone())
        };
        if let Some(known) = known(&kept()) {
            return Ok(known);
        }
        let near = match open {
            Some(_) => self.reduced(states.clone(), None)?,
            None => None,
        };
        let guess = near.as_ref().map(|reduced| &reduced.solution().node_volts[..]);
        let solvers = || self.solvers.lock().unwrap_or_else(PoisonError::into_inner);
        let idle = solvers().pop();
        let mut solver = match idle {
            Some(solver) => solver,
            None => Solver::new(&self.netlist)?,
        };
        let found = match open.and_then(|at| Some((at, opened(&self.netlist.elements[at as usize])?))) {
            Some((at, element)) => {
                let mut netlist = self.netlist.clone();
                netlist.elements[at as usize] = element;
                solver.settle(&netlist, &states, guess)
            }
            None => solver.settle(&self.netlist, &states, guess),
        };
        solvers().push(solver);
        let reduced = found?.and_then(Reduced::new).map(Arc::new);
        let mut all = kept();
        if all.len() >= KEPT {
            all.clear();
        }
        all.entry(open).or_default().push((states, reduced.clone()));
        Ok(reduced)
    }
}

/// The element with its resistance as good as open; `None` for one that has no such.
fn opened(element: &Element) -> Option<Element> {
    let mut opened = element.clone();
    match &mut opened {
        Element::Resistor { ohms, .. } | Element::VoltageSource { ohms, .. } | Element::Fuse { ohms, .. } => {
            *ohms = OPENED_OHMS;
        }
        Element::RelayContact { closed_ohms, .. } => *closed_ohms = OPENED_OHMS,
        _ => return None,
    }
    Some(opened)
}
