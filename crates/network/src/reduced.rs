//! A circuit in fixed states reduced to the few flows that a small change touches.
//!
//! Unknowns are the deviations `d` of the currents of these *ports* from what was factored. Node voltages are
//! `x = x₀ - Σ columnₖ dₖ`, each deviation follows from what its flow hears, `dₖ = sₖ·x + qₖ`, and so
//! `(1 + sᵀ A⁻¹ b) d = sᵀ x₀ + q`: as many unknowns as ports, whatever the size of the circuit. Bent elements are ports
//! only once their tangent no longer holds. At the end the currents are summed at every node, each as it now is, and what is
//! left over is sent through the same update once: that corrects the rounding, and its size tells whether to trust it.
//!
//! Limits: no islands and no controlled voltage sources in the circuit, no change to an ideal branch; what does not settle in
//! a few rounds or was cancelled away is left to a [`Solver`](crate::Solver).

use crate::law::{self, Point, Tangent};
use crate::linearised::{Fixed, Linearised, Port, Update, amps, difference};
use crate::newton::straight;
use crate::plan::{self, Flow, Plan};
use crate::{Effort, Element, Solution, States};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Rounds from the point that was factored, then from a circuit at rest, before a change is called too large for this.
const NEAR_ROUNDS: u32 = 10;
const REST_ROUNDS: u32 = 40;
/// From this round on one element at a time crosses a corner, and none leaves out a piece of its law.
const CAREFUL: u32 = 6;
/// A correction at the end that is smaller than this share of the largest voltage is rounding, and the last.
const ROUNDING: f64 = 1e-13;
/// A last correction that is larger than this share of the largest voltage is not rounding.
const TRUSTED: f64 = 1e-9;

type Column = Arc<[f64]>;

/// See the module.
pub(crate) struct Reduced {
    fixed: Arc<Fixed>,
    solution: Solution,
    /// By flow of the plan.
    columns: Vec<OnceLock<Column>>,
    /// By the two nodes of an appended flow.
    appended: Mutex<HashMap<(u32, u32), Column>>,
}

/// A bent element on its way.
struct Bent {
    element: u32,
    point: Point,
    tangent: Tangent,
    /// Position of its first port, once it has any.
    ports: Option<usize>,
    /// What it listens to.
    controls: [(u32, u32); 2],
}

/// Memory for one solve, reused.
#[derive(Default)]
pub(crate) struct Scratch {
    bent: Vec<Bent>,
    /// By element of the plan: whether a port stands for it.
    ported: Vec<bool>,
    rows: Vec<f64>,
    left: Vec<f64>,
    correction: Vec<f64>,
    deviations: Vec<f64>,
}

impl std::fmt::Debug for Reduced {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Reduced").finish_non_exhaustive()
    }
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
        let columns = (0..plan.flows.len()).map(|_| OnceLock::new()).collect();
        Some(Self {
            fixed,
            solution,
            columns,
            appended: Mutex::default(),
        })
    }

    pub(crate) fn solution(&self) -> &Solution {
        &self.solution
    }

    fn solve_column(&self, flow: &Flow) -> Column {
        let plan = &*self.fixed.plan;
        let mut rows = vec![0.0; plan.pattern.n];
        for (node, amps) in [(flow.from, 1.0), (flow.to, -1.0)] {
            if let Some(sum) = rows.get_mut(plan.kcl_row[node as usize] as usize) {
                *sum += amps;
            }
        }
        self.fixed.factored.solve(plan, &mut rows);
        self.fixed.by_node(&rows).collect()
    }

    fn column(&self, at: Option<u32>, flow: &Flow) -> Column {
        if let Some(at) = at {
            return Arc::clone(self.columns[at as usize].get_or_init(|| self.solve_column(flow)));
        }
        let mut known = self.appended.lock().unwrap_or_else(PoisonError::into_inner);
        let entry = known.entry((flow.from, flow.to));
        Arc::clone(entry.or_insert_with(|| self.solve_column(flow)))
    }

    /// The ports of an element whose flows now have these tangents.
    fn open_ports(&self, element: u32, flows: &[(Flow, Tangent)], ports: &mut Vec<Port>) {
        let plan = &*self.fixed.plan;
        let first = plan.flows_of.get(element as usize).map(|range| range.start);
        for (which, &(flow, tangent)) in (0..).zip(flows) {
            let column = self.column(first.map(|first| first + which), &flow);
            ports.push(Port {
                element,
                which,
                flow,
                tangent,
                delta: [0.0; 2],
                column,
            });
        }
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
    pub(crate) fn solve(
        &self,
        elements: Vec<(u32, Element)>,
        states: &States,
        scratch: &mut Scratch,
    ) -> Option<Solution> {
        let plan = &*self.fixed.plan;
        let n_elements = self.fixed.netlist.elements.len();
        let mut update = Update {
            elements,
            ..Update::default()
        };
        scratch.bent.clear();
        let place = |element: u32| update.elements.binary_search_by_key(&element, |entry| entry.0);
        let still = plan.bent.iter().zip(&self.fixed.points);
        for (&element, &point) in still.filter(|(element, _)| place(**element).is_err()) {
            let flow = plan.flows_of[element as usize].start as usize;
            scratch.bent.push(Bent {
                element,
                point,
                tangent: Tangent::default(),
                ports: None,
                controls: plan.flows[flow].controls,
            });
        }
        let mut ports = Vec::new();
        for (at, element) in &update.elements {
            let flows = plan::flows_of(element);
            if element.is_bent() {
                let controls = flows.first()?.controls;
                let volts = controls.map(|pair| difference(&self.solution.node_volts, pair));
                let point = match plan.bent.binary_search(at) {
                    Ok(bent) => self.fixed.points[bent],
                    Err(_) => law::start(element, Some(volts)),
                };
                scratch.bent.push(Bent {
                    element: *at,
                    point,
                    tangent: law::tangent(element, point, 1.0),
                    ports: Some(ports.len()),
                    controls,
                });
                let both: Vec<(Flow, Tangent)> = flows.into_iter().map(|flow| (flow, Tangent::default())).collect();
                self.open_ports(*at, &both, &mut ports);
                continue;
            }
            let (siemens, volts, amps) = straight(element, states.at(*at as usize), 1.0);
            let tangent = Tangent {
                siemens: [siemens, 0.0],
                at: [volts, 0.0],
                amps,
                flow: 0,
            };
            if !siemens.is_finite() || plan.ideal.get(*at as usize) == Some(&true) {
                return None; // Joins its nodes, or no longer does.
            }
            let same = (*at as usize) < n_elements && self.factored(*at, 0) == tangent;
            let absent = *at as usize >= n_elements && siemens == 0.0 && amps == 0.0;
            if !(same || absent) {
                let flows: Vec<(Flow, Tangent)> = flows.into_iter().map(|flow| (flow, tangent)).collect();
                self.open_ports(*at, &flows, &mut ports);
            }
        }
        update.ports = ports;
        let rounds = if let Some(rounds) = self.settle(&mut update, scratch, NEAR_ROUNDS) {
            rounds
        } else {
            self.rest(&mut update, scratch);
            NEAR_ROUNDS + self.settle(&mut update, scratch, REST_ROUNDS)?
        };
        self.finish(update, states, scratch, rounds)
    }

    /// Starts every bent element where it is without voltage.
    fn rest(&self, update: &mut Update, scratch: &mut Scratch) {
        for bent in &mut scratch.bent {
            let element = self.element(update, bent.element);
            bent.point = law::start(element, Some([0.0; 2]));
            bent.tangent = law::tangent(element, bent.point, 1.0);
            self.activate(bent, &mut update.ports);
        }
    }

    /// Makes a bent element's flows ports, if they are not yet.
    fn activate(&self, bent: &mut Bent, ports: &mut Vec<Port>) {
        if bent.ports.is_none() {
            bent.ports = Some(ports.len());
            let plan = &*self.fixed.plan;
            let flows = plan.flows_of[bent.element as usize].clone();
            let flows: Vec<(Flow, Tangent)> = flows
                .map(|flow| (plan.flows[flow as usize], Tangent::default()))
                .collect();
            self.open_ports(bent.element, &flows, ports);
        }
    }

    /// An element as it now is.
    fn element<'a>(&'a self, update: &'a Update, at: u32) -> &'a Element {
        match update.elements.binary_search_by_key(&at, |entry| entry.0) {
            Ok(found) => &update.elements[found].1,
            Err(_) => &self.fixed.netlist.elements[at as usize],
        }
    }

    /// Finds tangents that hold; leaves the matrix factored and the deviations in `scratch`.
    fn settle(&self, update: &mut Update, scratch: &mut Scratch, rounds: u32) -> Option<u32> {
        let base = &self.solution.node_volts;
        for round in 0..rounds {
            for bent in scratch.bent.iter().filter(|bent| bent.ports.is_some()) {
                let first = bent.ports.unwrap_or(0);
                for port in update.ports[first..]
                    .iter_mut()
                    .take_while(|port| port.element == bent.element)
                {
                    let carries = port.which as usize == bent.tangent.flow;
                    port.tangent = if carries { bent.tangent } else { Tangent::default() };
                }
            }
            let n = update.ports.len();
            scratch.deviations.clear();
            let Update { ports, matrix, .. } = &mut *update;
            for port in ports.iter_mut() {
                let was = self.factored(port.element, port.which);
                let mut constant = port.tangent.amps - was.amps;
                for k in 0..port.flow.n_controls {
                    port.delta[k] = port.tangent.siemens[k] - was.siemens[k];
                    constant -= port.tangent.siemens[k] * port.tangent.at[k] - was.siemens[k] * was.at[k];
                }
                scratch.deviations.push(constant + port.heard(base));
            }
            let entries = matrix.clear(n);
            for (row, port) in entries.chunks_mut(n.max(1)).zip(&*ports) {
                for (entry, other) in row.iter_mut().zip(&*ports) {
                    *entry = port.heard(&other.column);
                }
            }
            for k in 0..n {
                entries[k * n + k] += 1.0;
            }
            if !matrix.factor() {
                return None;
            }
            matrix.solve(&mut scratch.deviations);
            if self.advance(update, scratch, round)? {
                return Some(round + 1);
            }
        }
        None
    }

    /// Moves the points of bent elements that the deviations contradict. Whether there were none.
    fn advance(&self, update: &mut Update, scratch: &mut Scratch, round: u32) -> Option<bool> {
        let base = &self.solution.node_volts;
        let (mut settled, mut moved) = (true, false);
        let n = scratch.bent.len();
        for at in 0..n {
            let careful = round >= CAREFUL;
            let at = if careful { (at + round as usize) % n } else { at };
            let bent = &mut scratch.bent[at];
            let across = bent.controls.map(|pair| {
                let moves = update.ports.iter().zip(&scratch.deviations);
                let moves: f64 = moves.map(|(port, d)| difference(&port.column, pair) * d).sum();
                difference(base, pair) - moves
            });
            if !(across[0].is_finite() && across[1].is_finite()) {
                return None;
            }
            let element = self.element(update, bent.element);
            let tangent = match bent.ports {
                Some(_) => bent.tangent,
                None => self.fixed.tangents[self.fixed.plan.flows_of[bent.element as usize].start as usize],
            };
            let (next, right) = law::advance(element, bent.point, &tangent, across, 1.0, careful);
            if right {
                continue;
            }
            settled = false;
            let corner = (next.piece, next.target) != (bent.point.piece, bent.point.target);
            if corner && moved && careful {
                continue;
            }
            moved |= corner;
            bent.point = next;
            bent.tangent = law::tangent(element, next, 1.0);
            self.activate(bent, &mut update.ports);
        }
        Some(settled)
    }

    /// Voltages, currents, and the correction of their rounding.
    fn finish(&self, mut update: Update, states: &States, scratch: &mut Scratch, rounds: u32) -> Option<Solution> {
        let moved = scratch.bent.iter().filter(|bent| bent.ports.is_some());
        update.points = moved.map(|bent| (bent.element, bent.point)).collect();
        let mut node_volts = self.solution.node_volts.clone();
        for (port, &deviation) in update.ports.iter().zip(&scratch.deviations) {
            for (volts, by) in node_volts.iter_mut().zip(&*port.column) {
                *volts -= by * deviation;
            }
        }
        scratch.ported.clear();
        scratch.ported.resize(states.len(), false);
        for port in &update.ports {
            scratch.ported[port.element as usize] = true;
        }
        let mut element_amps = vec![0.0; states.len()];
        let mut before = f64::INFINITY;
        for last in [false, false, false, true] {
            self.sum_currents(
                &update,
                &scratch.ported,
                &node_volts,
                &mut element_amps,
                &mut scratch.left,
            );
            scratch.left.iter_mut().for_each(|amps| *amps = -*amps);
            self.fixed
                .injected(&scratch.left, &mut scratch.rows, &mut scratch.correction);
            update.correct(&mut scratch.correction, &mut scratch.deviations);
            let (mut largest, mut moved) = (0.0_f64, 0.0_f64);
            for (volts, by) in node_volts.iter_mut().zip(&scratch.correction) {
                *volts += by;
                largest = largest.max(volts.abs());
                moved = moved.max(by.abs());
            }
            if moved <= ROUNDING * (1.0 + largest) {
                break;
            }
            if last || moved > 0.5 * before || !moved.is_finite() {
                if moved <= TRUSTED * (1.0 + largest) {
                    break;
                }
                return None;
            }
            before = moved;
        }
        self.sum_currents(
            &update,
            &scratch.ported,
            &node_volts,
            &mut element_amps,
            &mut scratch.left,
        );
        let kcl_residual_amps = scratch
            .left
            .iter()
            .skip(1)
            .fold(0.0_f64, |most, amps| most.max(amps.abs()));
        Some(Solution {
            node_volts,
            element_amps,
            states: states.clone(),
            kcl_residual_amps,
            islands: Vec::new(),
            effort: Effort {
                rounds,
                ..Effort::default()
            },
            at: Linearised {
                fixed: Arc::clone(&self.fixed),
                update: Some(Box::new(update)),
            },
        })
    }

    /// Amperes by element, and those that leave each node and do not come back.
    fn sum_currents(
        &self,
        update: &Update,
        ported: &[bool],
        volts: &[f64],
        by_element: &mut [f64],
        by_node: &mut Vec<f64>,
    ) {
        let plan: &Plan = &self.fixed.plan;
        by_element.fill(0.0);
        by_node.clear();
        by_node.resize(plan.n_nodes, 0.0);
        let mut count = |element: u32, flow: &Flow, amps: f64| {
            by_element[element as usize] += amps;
            by_node[flow.from as usize] += amps;
            by_node[flow.to as usize] -= amps;
        };
        for (element, flows) in (0..).zip(&plan.flows_of) {
            if ported[element as usize] {
                continue;
            }
            for flow in flows.clone() {
                let (flow, tangent) = (&plan.flows[flow as usize], &self.fixed.tangents[flow as usize]);
                count(element, flow, amps(flow, tangent, volts));
            }
        }
        for port in &update.ports {
            count(port.element, &port.flow, port.amps(volts));
        }
        for tie in plan.ties.iter().rev() {
            let amps = -std::mem::take(&mut by_node[tie.node as usize]);
            by_element[tie.element as usize] = tie.sign * amps;
            by_node[tie.parent as usize] -= amps;
        }
    }
}
