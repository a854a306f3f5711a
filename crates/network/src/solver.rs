//! From start states to a stable operating point: solve, let the state that is contradicted most change, solve again.

use crate::island::Islands;
use crate::law::Point;
use crate::linearised::{Fixed, Linearised};
use crate::newton::Work;
use crate::plan::{self, Plan};
use crate::{ElementId, Netlist, NetworkError, NodeId, States, check};
use std::sync::Arc;

/// Plans kept for states seen before.
const KEPT_PLANS: usize = 16;

/// How a solve ended.
#[derive(Clone, Debug)]
#[must_use]
pub enum Outcome {
    /// A stable operating point.
    Converged(Solution),
    /// The discrete states go round in a circle, as a relay does that is fed through its own resting contact.
    NoStableState {
        /// The elements that keep changing.
        cycling: Vec<ElementId>,
        /// The operating point at which the circle closed; its `states` are contradicted by its voltages.
        last: Solution,
    },
    /// Newton, gmin stepping and source stepping all gave up.
    Stuck {
        /// The element that would not settle.
        worst: ElementId,
        /// Largest current left over at a node, amperes.
        kcl_residual_amps: f64,
        /// The discrete states in which it happened.
        states: States,
    },
}

impl Outcome {
    /// The operating point, if there is a stable one.
    pub fn converged(self) -> Option<Solution> {
        match self {
            Self::Converged(solution) => Some(solution),
            _ => None,
        }
    }
}

/// What a solve took.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Linear solves: Newton rounds and refinements.
    pub rounds: u32,
    /// Numeric factorizations.
    pub factorizations: u32,
    /// Changes of a discrete state.
    pub state_changes: u32,
}

/// An operating point.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Volts by node; the reference is 0.
    pub node_volts: Vec<f64>,
    /// Amperes by element, counted as [`crate::Element`] says. Of zero-ohm branches in parallel the earliest carries all.
    pub element_amps: Vec<f64>,
    /// The discrete states it stands in.
    pub states: States,
    /// Groups of nodes that nothing ties to the reference; their volts are relative to an arbitrary 0.
    pub islands: Vec<Vec<NodeId>>,
    /// What it took.
    pub effort: Effort,
    pub(crate) at: Linearised,
}

impl Solution {
    /// Volts of a node against the reference; NaN for a node that the netlist lacks.
    pub fn volts(&self, node: NodeId) -> f64 {
        self.node_volts.get(node.0 as usize).copied().unwrap_or(f64::NAN)
    }

    /// Amperes of an element; NaN for one that the netlist lacks.
    pub fn amps(&self, element: ElementId) -> f64 {
        self.element_amps.get(element.0 as usize).copied().unwrap_or(f64::NAN)
    }
}

/// Solves netlists of one structure (same nodes, kinds of elements and terminals) with changing values.
#[derive(Debug)]
pub struct Solver {
    n_nodes: usize,
    shapes: Vec<(u8, [NodeId; 4], Option<ElementId>)>,
    plans: Vec<Arc<Plan>>,
    ideal: Vec<bool>,
    work: Work,
    islands: Islands,
}

impl Solver {
    /// Checks the netlist and plans for its structure.
    ///
    /// # Errors
    /// Any [`NetworkError`] that can be seen without solving.
    pub fn new(netlist: &Netlist) -> Result<Self, NetworkError> {
        check::netlist(netlist)?;
        let mut solver = Self {
            n_nodes: netlist.n_nodes,
            shapes: netlist.elements.iter().map(crate::Element::shape).collect(),
            plans: Vec::new(),
            ideal: Vec::new(),
            work: Work::default(),
            islands: Islands::default(),
        };
        solver.plan(netlist, &States::initial(netlist))?;
        Ok(solver)
    }

    /// The stable operating point reached from `start`. `netlist` has the structure given to [`Solver::new`].
    ///
    /// # Errors
    /// [`NetworkError`] if the netlist has no answer because of what it says.
    pub fn solve(&mut self, netlist: &Netlist, start: &States) -> Result<Outcome, NetworkError> {
        self.run(netlist, start, None)
    }

    /// As [`Solver::solve`], with Newton started from `guess`, volts by node.
    ///
    /// # Errors
    /// As [`Solver::solve`], and [`NetworkError::WrongGuess`].
    pub fn solve_from(&mut self, netlist: &Netlist, start: &States, guess: &[f64]) -> Result<Outcome, NetworkError> {
        let finite = guess.iter().filter(|v| v.is_finite()).count();
        if guess.len() != self.n_nodes || finite != guess.len() {
            return Err(NetworkError::WrongGuess {
                given: finite,
                needed: self.n_nodes,
            });
        }
        self.run(netlist, start, Some(guess))
    }

    fn check(&self, netlist: &Netlist, start: &States) -> Result<(), NetworkError> {
        let differs = netlist
            .elements
            .iter()
            .map(crate::Element::shape)
            .zip(&self.shapes)
            .position(|(a, b)| a != *b);
        let first = differs.unwrap_or(netlist.elements.len().min(self.shapes.len()));
        if differs.is_some() || netlist.elements.len() != self.shapes.len() || netlist.n_nodes != self.n_nodes {
            return Err(NetworkError::StructureChanged {
                element: ElementId(first as u32),
            });
        }
        if start.len() != netlist.elements.len() {
            return Err(NetworkError::WrongStates {
                given: start.len(),
                needed: netlist.elements.len(),
            });
        }
        check::values(netlist)
    }

    fn plan(&mut self, netlist: &Netlist, states: &States) -> Result<Arc<Plan>, NetworkError> {
        plan::ideal(netlist, states, &mut self.ideal);
        if let Some(known) = self.plans.iter().find(|plan| plan.ideal == self.ideal) {
            return Ok(Arc::clone(known));
        }
        let plan = Arc::new(Plan::new(netlist, &self.ideal)?);
        if self.plans.len() == KEPT_PLANS {
            self.plans.remove(0);
        }
        self.plans.push(Arc::clone(&plan));
        Ok(plan)
    }

    fn run(&mut self, netlist: &Netlist, start: &States, guess: Option<&[f64]>) -> Result<Outcome, NetworkError> {
        self.check(netlist, start)?;
        self.work.effort = Effort::default();
        let mut states = start.clone();
        let mut seen: Vec<States> = Vec::new();
        let mut amps = Vec::new();
        loop {
            let plan = self.plan(netlist, &states)?;
            self.islands.find_all(netlist, &states, &mut self.work.pins)?;
            if seen.is_empty() {
                self.work.begin(netlist, &plan, guess);
            } else {
                let volts = std::mem::take(&mut self.work.volts);
                self.work.begin(netlist, &plan, Some(&volts));
                self.work.volts = volts;
            }
            if !self.work.solve(netlist, &states, &plan) {
                return self.failure(netlist, states, &plan);
            }
            element_amps(netlist, &plan, &self.work, &mut amps);
            let before = states.clone();
            if !states.step(netlist.elements.iter().enumerate(), &self.work.volts, &amps) {
                return Ok(Outcome::Converged(self.solution(netlist, &before, plan, amps)?));
            }
            self.work.effort.state_changes += 1;
            seen.push(before);
            if let Some(closes) = seen.iter().position(|s| *s == states) {
                let mut cycling: Vec<ElementId> = seen[closes..].iter().flat_map(|s| s.differing(&states)).collect();
                cycling.sort_unstable();
                cycling.dedup();
                let before = seen.pop().unwrap_or(states);
                return Ok(Outcome::NoStableState {
                    cycling,
                    last: self.solution(netlist, &before, plan, amps)?,
                });
            }
        }
    }

    /// The operating point in these states, whether or not it contradicts them. `None` if none is found.
    pub(crate) fn settle(
        &mut self,
        netlist: &Netlist,
        states: &States,
        guess: Option<&[f64]>,
    ) -> Result<Option<Solution>, NetworkError> {
        self.check(netlist, states)?;
        self.work.effort = Effort::default();
        let plan = self.plan(netlist, states)?;
        self.islands.find_all(netlist, states, &mut self.work.pins)?;
        self.work.begin(netlist, &plan, guess);
        if !self.work.solve(netlist, states, &plan) {
            return Ok(None);
        }
        let mut amps = Vec::new();
        element_amps(netlist, &plan, &self.work, &mut amps);
        self.solution(netlist, states, plan, amps).map(Some)
    }

    /// The circuit in these states with its bent elements linearised at `points`, whether or not they are where it stands.
    pub(crate) fn linearise(
        &mut self,
        netlist: &Netlist,
        states: &States,
        points: &[Point],
    ) -> Result<Solution, NetworkError> {
        self.check(netlist, states)?;
        self.work.effort = Effort::default();
        let plan = self.plan(netlist, states)?;
        self.islands.find_all(netlist, states, &mut self.work.pins)?;
        self.work.linearise(netlist, states, &plan, points);
        let mut amps = Vec::new();
        element_amps(netlist, &plan, &self.work, &mut amps);
        self.solution(netlist, states, plan, amps)
    }

    fn failure(&self, netlist: &Netlist, states: States, plan: &Plan) -> Result<Outcome, NetworkError> {
        let (held, dense) = self.work.factored.held();
        if dense
            && netlist.elements.iter().any(crate::Element::is_controlled)
            && let Some(&column) = held.first()
        {
            return Err(undetermined(plan, column));
        }
        let kcl_residual_amps = self.work.kcl_residual_amps;
        let worst = self.work.restless.or_else(|| {
            let node = NodeId(self.work.worst_node(plan)?);
            netlist
                .iter()
                .find(|(_, e)| e.terminals().contains(&node))
                .map(|(id, _)| id.0)
        });
        Ok(Outcome::Stuck {
            worst: ElementId(worst.unwrap_or(0)),
            kcl_residual_amps,
            states,
        })
    }

    fn solution(
        &mut self,
        netlist: &Netlist,
        states: &States,
        plan: Arc<Plan>,
        element_amps: Vec<f64>,
    ) -> Result<Solution, NetworkError> {
        let mut islands: Vec<Vec<NodeId>> = self.work.pins.iter().map(|&pin| self.islands.members(pin)).collect();
        let (held, dense) = self.work.factored.held();
        for column in held {
            if dense && netlist.elements.iter().any(crate::Element::is_controlled) {
                return Err(undetermined(&plan, column));
            }
            let nodes = (0..plan.n_nodes as u32).filter(|&node| plan.column[node as usize] == column);
            islands.push(nodes.map(NodeId).collect());
        }
        Ok(Solution {
            node_volts: self.work.volts.clone(),
            element_amps,
            states: states.clone(),
            islands,
            effort: self.work.effort,
            at: Linearised {
                fixed: Arc::new(Fixed {
                    netlist: netlist.clone(),
                    factored: self.work.factored.clone(),
                    tangents: self.work.tangents.clone(),
                    equations: self.work.equations.clone(),
                    points: self.work.points.clone(),
                    plan,
                }),
                update: None,
            },
        })
    }
}

fn undetermined(plan: &Plan, column: u32) -> NetworkError {
    let extra = plan
        .extras
        .iter()
        .find(|extra| extra.column == column)
        .map(|extra| NodeId(extra.plus));
    NetworkError::Undetermined {
        node: extra.unwrap_or_else(|| plan.node_of(column)),
    }
}

fn element_amps(netlist: &Netlist, plan: &Plan, work: &Work, amps: &mut Vec<f64>) {
    amps.clear();
    amps.extend((0..netlist.elements.len()).map(|at| {
        plan.flows_of[at]
            .clone()
            .map(|flow| work.flow_amps[flow as usize])
            .sum::<f64>()
    }));
    for (tie, tie_amps) in plan.ties.iter().zip(&work.tie_amps) {
        amps[tie.element as usize] = tie.sign * tie_amps;
    }
    for extra in &plan.extras {
        amps[extra.element as usize] = work.x[extra.column as usize];
    }
}

/// The stable operating point reached from `start`; see [`Solver::solve`].
///
/// # Errors
/// [`NetworkError`] if the netlist has no answer because of what it says.
pub fn solve(netlist: &Netlist, start: &States) -> Result<Outcome, NetworkError> {
    Solver::new(netlist)?.solve(netlist, start)
}

/// Other stable operating points of the same netlist, up to `limit`: with relays that hold themselves, and any that Newton
/// finds from cold. Fuses and drivers are as in `reached`, since they do not come back.
///
/// Tried: every relay in its other position, alone; all pulled in; all at rest; each from `reached`'s voltages.
/// What is found is stable; that nothing else exists is not claimed.
pub fn other_stable_states(netlist: &Netlist, reached: &Solution, limit: usize) -> Vec<Solution> {
    let Ok(mut solver) = Solver::new(netlist) else {
        return Vec::new();
    };
    let mut starts = vec![reached.states.clone()];
    let (mut all_in, mut at_rest) = (reached.states.clone(), reached.states.clone());
    for (id, element) in netlist.iter() {
        if let crate::Element::RelayContact { normally_closed, .. } = *element {
            let at = id.0 as usize;
            let mut one = reached.states.clone();
            one.move_relay(
                netlist.elements.iter().enumerate(),
                element,
                reached.states.at(at) == normally_closed,
            );
            starts.push(one);
            all_in.set(id, !normally_closed);
            at_rest.set(id, normally_closed);
        }
    }
    starts.extend([all_in, at_rest]);
    let mut found: Vec<Solution> = Vec::new();
    let zeros = vec![0.0; netlist.n_nodes];
    let mut tried: Vec<States> = Vec::new();
    for start in starts {
        if tried.contains(&start) {
            continue;
        }
        for guess in [None, Some(&reached.node_volts), Some(&zeros)] {
            if found.len() >= limit {
                return found;
            }
            let outcome = match guess {
                Some(guess) => solver.solve_from(netlist, &start, guess),
                None => solver.solve(netlist, &start),
            };
            if let Ok(Outcome::Converged(solution)) = outcome
                && !same(&solution, reached)
                && !found.iter().any(|other| same(&solution, other))
            {
                found.push(solution);
            }
        }
        tried.push(start);
    }
    found
}

/// Whether two operating points are one.
fn same(a: &Solution, b: &Solution) -> bool {
    a.states == b.states
        && a.node_volts
            .iter()
            .zip(&b.node_volts)
            .all(|(a, b)| (a - b).abs() <= 1e-6 * (1.0 + a.abs().max(b.abs())))
}
