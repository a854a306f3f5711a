//! A circuit in fixed states as a small change to it sees it: a few unknowns instead of all its nodes.
//!
//! What an element now does more than the one that was factored is a *put*: volts in series with it where it conducts less,
//! amperes beside it where it conducts more, an unknown deviation from its tangent where it is bent. In this form nothing
//! cancels in a passive circuit, open contact and short included; what does cancel, cancels in the responses, which have
//! thirty digits (`columns.rs`). Bent elements that no change touches are puts only once their tangent no longer holds
//! (`reduced/settle.rs`). Where a change moves many of them, to a region where a module has no supply, say, the circuit is
//! linearised there once more, and others that come to that region have few puts.
//!
//! Limits: no islands and no controlled voltage sources in the circuit, no change to an ideal branch; what does not settle in
//! a few rounds or loses digits is left to a [`Solver`](crate::Solver).

mod settle;

use crate::columns::Columns;
use crate::law::{self, Point, Tangent};
use crate::linearised::{Fixed, Heard, Linearised, Put, Update};
use crate::newton::straight;
use crate::plan::{self, Flow, Pair};
use crate::small::Matrix;
use crate::twofold::Twofold;
use crate::{Effort, Element, ElementId, NodeId, Solution, States};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError, Weak};

use settle::Bent;
pub(crate) use settle::From;

/// Rounds from the point that was factored, in a region known already, and from a circuit at rest, before a change is called
/// too large for this.
pub(crate) const NEAR_ROUNDS: u32 = 6;
pub(crate) const REGION_ROUNDS: u32 = 3;
const REST_ROUNDS: u32 = 40;
/// A pivot of this share of its terms has lost too many of a double's digits, or of twofold ones.
const CANCELLED: f64 = 1e-4;
const CANCELLED_FINE: f64 = 1e-18;
/// A circuit with more volts than this is not reduced: a microvolt is all that is left of their digits.
const MOST_VOLTS: f64 = 1e10;
/// The response between two nodes is the difference of what an ampere from ground does at each, unless that is more volts
/// than this: then too few of the thirty digits might be left where the nodes are milliohms apart.
const MOST_OHMS: f64 = 1e8;
/// Other responses between nodes kept, as many bytes each as 16 times the nodes.
const KEPT_BETWEEN: usize = 256;
/// Rows kept, half as large.
const KEPT_ROWS: usize = 512;
/// Regions kept.
const KEPT: usize = 64;

/// Volts by node for an ampere that leaves one node and enters another.
pub(crate) type Response = Arc<[Twofold]>;
/// Derivatives of a voltage by amperes injected, by row of the matrix.
type Row = Arc<[f64]>;
type Kept<V> = Mutex<HashMap<Pair, V>>;

/// See the module.
pub(crate) struct Reduced {
    fixed: Arc<Fixed>,
    solution: Solution,
    columns: Columns,
    /// Volts by node with nothing put in.
    base: Vec<Twofold>,
    /// The bent elements where they were linearised.
    bent: Vec<Bent>,
    /// See [`Reduced::listeners`].
    listeners: Vec<OnceLock<Box<[[Twofold; 2]]>>>,
    /// By flow of the plan; `None` where the digits cannot be had.
    of_flows: Vec<OnceLock<Option<Response>>>,
    /// By node: what an ampere from ground into it does; `None` where the digits cannot be had, or volts pass [`MOST_OHMS`].
    of_nodes: Vec<OnceLock<Option<Response>>>,
    /// By the two nodes of an appended flow that is no difference of these.
    between: Kept<Option<Response>>,
    /// By the two nodes of a voltage.
    rows: Kept<Row>,
    /// Elements whose discrete state may change.
    watched: Vec<u32>,
    /// By region; `None` where the circuit cannot be reduced. Empty in those themselves.
    regions: Mutex<Vec<(Region, Option<Arc<Reduced>>)>>,
    /// See [`Reduced::dead`].
    dead: OnceLock<Option<Arc<Reduced>>>,
    /// What this is a region of.
    main: Weak<Reduced>,
}

/// On which piece of its law each bent element is, or about where on its curve.
type Region = Vec<(u8, u8, u64)>;

impl std::fmt::Debug for Reduced {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reduced").finish_non_exhaustive()
    }
}

/// A response across a pair of nodes.
fn across(response: &[Twofold], (a, b): Pair) -> Twofold {
    response[a as usize] - response[b as usize]
}

/// What is kept under a pair of nodes, `most` of it, solved now if it is new. Not while others wait.
fn kept_or<V: Clone>(kept: &Kept<V>, most: usize, pair: Pair, solve: impl FnOnce() -> V) -> V {
    let locked = || kept.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = locked().get(&pair) {
        return known.clone();
    }
    let solved = solve();
    let mut all = locked();
    if all.len() >= most {
        all.clear();
    }
    all.insert(pair, solved.clone());
    solved
}

impl Reduced {
    /// `None` where the circuit is not of the kind that can be varied so.
    pub(crate) fn new(solution: Solution) -> Option<Self> {
        let fixed = Arc::clone(&solution.at.fixed);
        let plan = &*fixed.plan;
        let (held, dense) = fixed.factored.held();
        let plain = plan.extras.is_empty() && solution.islands.is_empty();
        if !plain || !held.is_empty() || dense || solution.at.update.is_some() {
            return None;
        }
        let columns = Columns::new(Arc::clone(&fixed), &solution.states);
        let base = columns.solve(None)?.volts;
        if base.iter().any(|volts| volts.high.abs() > MOST_VOLTS) {
            return None;
        }
        let watched = fixed.netlist.iter().filter(|(_, element)| element.has_state());
        let mut first_flow = 0;
        let bent = plan.bent.iter().zip(&fixed.points).map(|(&id, &point)| {
            let flows = &plan.flows_of[id as usize];
            let first = first_flow;
            first_flow += flows.len() as u32;
            let controls = plan.flows[flows.start as usize].controls;
            Bent::new(id, &fixed.netlist.elements[id as usize], point, controls, Some(first))
        });
        let bent: Vec<Bent> = bent.collect();
        Some(Self {
            listeners: (0..first_flow).map(|_| OnceLock::new()).collect(),
            bent,
            watched: watched.map(|(id, _)| id.0).collect(),
            of_flows: (0..plan.flows.len()).map(|_| OnceLock::new()).collect(),
            of_nodes: (0..plan.n_nodes).map(|_| OnceLock::new()).collect(),
            between: Mutex::default(),
            rows: Mutex::default(),
            regions: Mutex::default(),
            dead: OnceLock::new(),
            main: Weak::new(),
            columns,
            base,
            fixed,
            solution,
        })
    }

    /// The region where no source delivers anything, found once: many faults lead to it or near it.
    pub(crate) fn dead(&self, find: impl FnOnce() -> Option<Arc<Self>>) -> Option<&Arc<Self>> {
        self.dead.get_or_init(find).as_ref()
    }

    /// The states that it is reduced in.
    pub(crate) fn states(&self) -> &States {
        &self.solution.states
    }

    /// The region's circuit that a solution was found in, if it is one of this circuit's.
    pub(crate) fn region_of(self: &Arc<Self>, solution: &Solution) -> Option<Arc<Self>> {
        let found_in = &solution.at.update.as_deref()?.reduced;
        (found_in.main.as_ptr() == Arc::as_ptr(self)).then(|| Arc::clone(found_in))
    }

    /// The circuit linearised in the region where a solution came to rest, which `linearise` does.
    pub(crate) fn region(
        self: &Arc<Self>,
        solution: &Solution,
        linearise: impl FnOnce(&[Point]) -> Option<Solution>,
    ) -> Option<Arc<Self>> {
        // The same points whichever change comes there first, so that no answer depends on that.
        let points: Vec<Point> = self
            .bent
            .iter()
            .map(|bent| {
                let point = solution.at.point(bent.element);
                law::typical(&self.fixed.netlist.elements[bent.element as usize], point)
            })
            .collect();
        let region: Region = points
            .iter()
            .map(|point| (point.piece, point.target, point.volts.to_bits()))
            .collect();
        let regions = || self.regions.lock().unwrap_or_else(PoisonError::into_inner);
        let known = regions()
            .iter()
            .find(|(of, _)| *of == region)
            .map(|(_, known)| known.clone());
        if let Some(known) = known {
            return known;
        }
        let reduced = linearise(&points).and_then(Self::new).map(|mut reduced| {
            reduced.main = Arc::downgrade(self);
            Arc::new(reduced)
        });
        let mut all = regions();
        if let Some((_, known)) = all.iter().find(|(of, _)| *of == region) {
            return known.clone();
        }
        if all.len() < KEPT {
            all.push((region, reduced.clone()));
        }
        reduced
    }

    /// How many bent elements it has.
    pub(crate) fn n_bent(&self) -> usize {
        self.bent.len()
    }

    pub(crate) fn solution(&self) -> &Solution {
        &self.solution
    }

    pub(crate) fn watched(&self) -> &[u32] {
        &self.watched
    }

    /// For an ampere that leaves `from` and enters `to`, where flow `at` runs if it is one of the plan's.
    fn response(&self, at: Option<u32>, from: u32, to: u32) -> Option<Response> {
        let solve = || Some(self.columns.solve(Some((from, to)))?.volts.into());
        if let Some(at) = at {
            return self.of_flows[at as usize].get_or_init(solve).clone();
        }
        match self.of_node(from).zip(self.of_node(to)) {
            Some((from, to)) => Some(to.iter().zip(from.iter()).map(|(&to, &from)| to - from).collect()),
            None => kept_or(&self.between, KEPT_BETWEEN, (from, to), solve),
        }
    }

    /// For an ampere from ground into a node, see [`Reduced::of_nodes`].
    fn of_node(&self, node: u32) -> Option<&Response> {
        let solve = || {
            let volts = self.columns.solve(Some((0, node)))?.volts;
            volts
                .iter()
                .all(|volts| volts.high.abs() <= MOST_OHMS)
                .then(|| volts.into())
        };
        self.of_nodes[node as usize].get_or_init(solve).as_ref()
    }

    /// Derivatives of a voltage by amperes injected, by row of the matrix, with nothing put in.
    pub(crate) fn row(&self, (a, b): Pair) -> Row {
        kept_or(&self.rows, KEPT_ROWS, (a, b), || {
            let mut row = self.fixed.weights(&[(NodeId(a), 1.0), (NodeId(b), -1.0)]);
            self.fixed.factored.solve_transposed(&self.fixed.plan, &mut row);
            row.into()
        })
    }

    /// Siemens and amperes that a straight element's flow with this tangent has beyond those that were factored.
    fn beyond(&self, element: u32, now: &Tangent) -> (f64, f64) {
        let was = self.factored(element, 0);
        (now.siemens[0] - was.siemens[0], now.constant() - was.constant())
    }

    /// What is put in where a straight element's flow now has this tangent. `None` if it cannot be put in here.
    fn put(&self, element: u32, flow: Flow, now: Tangent) -> Option<Put> {
        let at = self.fixed.plan.flows_of.get(element as usize).map(|range| range.start);
        let was = self.factored(element, 0);
        let (more, amps) = self.beyond(element, &now);
        let one: Twofold = 1.0.into();
        let mut source = 0.0;
        let (per_unit, heard, inverse, offset) = if more == 0.0 {
            (one, Heard::Nothing, 1.0, amps)
        } else if more < 0.0 && flow.controls[0] == (flow.from, flow.to) {
            // Less conductance: volts in series, (1/g - 1/g₀) · amperes and what the sources differ by.
            let siemens = self.columns.siemens(element as usize, self.states())?;
            let ohms = one / now.siemens[0].into() - one / siemens;
            let inverse = if now.siemens[0] == 0.0 {
                0.0
            } else {
                (one / ohms).value()
            };
            let volts = now.at[0] - was.at[0];
            source = was.at[0];
            (-siemens, Heard::Amps(siemens), inverse, volts * inverse)
        } else {
            (one, Heard::Volts, 1.0 / more, amps / more)
        };
        Some(Put {
            element,
            which: 0,
            flow,
            tangent: now,
            response: self.response(at, flow.from, flow.to)?,
            per_unit,
            heard,
            inverse,
            offset,
            base: [self.base_between(flow.controls[0]) - source.into(), Twofold::default()],
            bent: None,
        })
    }

    /// What was factored for one of an element's flows.
    fn factored(&self, element: u32, which: u32) -> Tangent {
        let range = self.fixed.plan.flows_of.get(element as usize);
        range.map_or(Tangent::default(), |range| {
            self.fixed.tangents[(range.start + which) as usize]
        })
    }

    /// The operating point with these elements (sorted by position, those beyond the netlist appended) in the same states
    /// as before, the appended ones in `states`. `None` if this is not the way to find it.
    ///
    /// Looked for `from` somewhere.
    pub(crate) fn solve(
        self: &Arc<Self>,
        elements: &[(ElementId, Element)],
        states: &States,
        from: From<'_>,
    ) -> Option<Solution> {
        let plan = &*self.fixed.plan;
        let touched = |bent: &Bent| elements.iter().any(|(at, _)| at.0 == bent.element);
        let mut bent: Vec<Bent> = self.bent.iter().copied().filter(|bent| !touched(bent)).collect();
        let mut puts = Vec::with_capacity(4);
        for &(ElementId(at), ref element) in elements {
            if element.is_bent() {
                bent.push(self.changed(at, element, &mut puts)?);
                continue;
            }
            let (siemens, volts, amps) = straight(element, states.at(at as usize), 1.0);
            if !siemens.is_finite() || plan.ideal.get(at as usize) == Some(&true) {
                return None; // Joins its nodes, or no longer does.
            }
            let tangent = Tangent {
                siemens: [siemens, 0.0],
                at: [volts, 0.0],
                amps,
                flow: 0,
            };
            if self.beyond(at, &tangent) == (0.0, 0.0) {
                continue;
            }
            for flow in plan::flows_of(element) {
                puts.push(self.put(at, flow, tangent)?);
            }
        }
        let mut update = Update {
            reduced: Arc::clone(self),
            elements: elements.to_vec(),
            points: Vec::new(),
            puts,
            amounts: Vec::new(),
            fine: false,
            matrix: Matrix::default(),
        };
        let rounds = self.come_to_rest(&mut update, &mut bent, from)?;
        update.drop_idle();
        update.points = bent
            .iter()
            .filter(|bent| bent.puts.is_some())
            .map(|bent| (bent.element, bent.point))
            .collect();
        self.finish(update, states, rounds)
    }

    fn finish(&self, update: Update, states: &States, rounds: u32) -> Option<Solution> {
        let moves = || update.puts.iter().zip(update.moves());
        let node_volts: Vec<f64> = if update.fine {
            let at = |node: usize| moves().fold(self.base[node], |sum, (put, amps)| sum + put.response[node] * amps);
            (0..self.base.len()).map(|node| at(node).value()).collect()
        } else {
            let mut volts: Vec<f64> = self.base.iter().map(|volts| volts.value()).collect();
            for (put, amps) in moves() {
                for (volts, by) in volts.iter_mut().zip(&*put.response) {
                    *volts += by.high * amps.high;
                }
            }
            volts
        };
        if node_volts.iter().any(|volts| !volts.is_finite()) {
            return None;
        }
        let at = Linearised {
            fixed: Arc::clone(&self.fixed),
            update: Some(Box::new(update)),
        };
        let mut element_amps = vec![0.0; states.len()];
        at.element_amps(&node_volts, &mut element_amps);
        Some(Solution {
            node_volts,
            element_amps,
            states: states.clone(),
            islands: Vec::new(),
            effort: Effort {
                rounds,
                ..Effort::default()
            },
            at,
        })
    }

    /// Volts across a pair of nodes with nothing put in.
    fn base_between(&self, (a, b): Pair) -> Twofold {
        self.base[a as usize] - self.base[b as usize]
    }

    /// What every flow of the bent elements listens to per ampere along flow `of` of them, whose response is given.
    fn listeners(&self, of: u32, response: &Response) -> &[[Twofold; 2]] {
        self.listeners[of as usize].get_or_init(|| {
            let plan = &*self.fixed.plan;
            let flows = self
                .bent
                .iter()
                .flat_map(|bent| plan.flows_of[bent.element as usize].clone());
            flows
                .map(|at| plan.flows[at as usize].controls.map(|pair| across(response, pair)))
                .collect()
        })
    }
}
