//! A circuit linearised at an operating point, plain or as a small change to another one.
//!
//! With `A` factored, a change of a few currents adds `Σ bₖ sₖᵀ` to it: flow `k` leaves along `bₖ` and listens to voltages
//! through `sₖ`. Solving with the sum needs only `A`'s factor, the columns `A⁻¹bₖ` and a small matrix `1 + sᵀA⁻¹b`
//! (Sherman, Morrison 1950; Woodbury 1950).

use crate::law::{Point, Tangent};
use crate::newton::{Equation, Factored};
use crate::plan::{Control, Extra, Flow, Plan};
use crate::small::Small;
use crate::{Element, ElementId, Netlist, Solution};
use std::sync::Arc;

/// A smaller pivot of a small matrix has lost digits that derivatives would miss.
const CANCELLED: f64 = 1e-3;
/// Most rounds of a solve with the transpose.
const REFINED: usize = 4;
/// Unit roundoff.
const EPS: f64 = f64::EPSILON;

/// An operating point in fixed states, with all that was factored on the way.
pub(crate) struct Fixed {
    pub(crate) netlist: Netlist,
    pub(crate) plan: Arc<Plan>,
    pub(crate) factored: Factored,
    /// By flow.
    pub(crate) tangents: Vec<Tangent>,
    pub(crate) equations: Vec<Equation>,
    /// By bent element, in the plan's order.
    pub(crate) points: Vec<Point>,
}

/// A flow whose current deviates from the one that was factored.
#[derive(Clone, Debug)]
pub(crate) struct Port {
    pub(crate) element: u32,
    /// Which of the element's flows.
    pub(crate) which: u32,
    pub(crate) flow: Flow,
    pub(crate) tangent: Tangent,
    /// Siemens beyond those that were factored.
    pub(crate) delta: [f64; 2],
    /// Volts by node for an ampere that enters where the flow leaves, and leaves where it enters.
    pub(crate) column: Arc<[f64]>,
}

/// What differs from a [`Fixed`].
#[derive(Clone, Default)]
pub(crate) struct Update {
    /// Changed and appended elements, by position.
    pub(crate) elements: Vec<(u32, Element)>,
    /// Points of bent elements that moved, were changed or appended.
    pub(crate) points: Vec<(u32, Point)>,
    pub(crate) ports: Vec<Port>,
    /// `1 + sᵀA⁻¹b`.
    pub(crate) matrix: Small,
}

/// See the module. Kept for derivatives and the estimate of the error.
#[derive(Clone)]
pub(crate) struct Linearised {
    pub(crate) fixed: Arc<Fixed>,
    pub(crate) update: Option<Box<Update>>,
}

impl std::fmt::Debug for Linearised {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Linearised").finish_non_exhaustive()
    }
}

impl Port {
    /// Current under these node voltages.
    pub(crate) fn amps(&self, volts: &[f64]) -> f64 {
        amps(&self.flow, &self.tangent, volts)
    }

    /// What it listens to, weighted by how far it deviates, in any column of volts.
    pub(crate) fn heard(&self, volts: &[f64]) -> f64 {
        let across = |k: usize| self.delta[k] * difference(volts, self.flow.controls[k]);
        match self.flow.n_controls {
            0 => 0.0,
            1 => across(0),
            _ => across(0) + across(1),
        }
    }
}

/// `volts(a) - volts(b)`.
pub(crate) fn difference(volts: &[f64], (a, b): (u32, u32)) -> f64 {
    volts[a as usize] - volts[b as usize]
}

/// Current of a flow with this tangent.
pub(crate) fn amps(flow: &Flow, tangent: &Tangent, volts: &[f64]) -> f64 {
    let mut sum = tangent.amps;
    for k in 0..flow.n_controls {
        if tangent.siemens[k] != 0.0 {
            sum += tangent.siemens[k] * (difference(volts, flow.controls[k]) - tangent.at[k]);
        }
    }
    sum
}

impl Fixed {
    /// Volts by node of a solved column.
    pub(crate) fn by_node(&self, solved: &[f64]) -> impl Iterator<Item = f64> {
        self.plan
            .column
            .iter()
            .map(|&column| solved.get(column as usize).copied().unwrap_or(0.0))
    }

    /// Solves for volts by node when these amperes are injected by node.
    pub(crate) fn injected(&self, node_amps: &[f64], rows: &mut Vec<f64>, volts: &mut Vec<f64>) {
        rows.clear();
        rows.resize(self.plan.pattern.n, 0.0);
        for (&amps, &row) in node_amps.iter().zip(&self.plan.kcl_row) {
            if let Some(sum) = rows.get_mut(row as usize) {
                *sum += amps;
            }
        }
        self.factored.solve(&self.plan, rows);
        volts.clear();
        volts.extend(self.by_node(rows));
    }
}

impl Update {
    /// Corrects volts by node that were solved without the ports.
    pub(crate) fn correct(&self, volts: &mut [f64], deviations: &mut Vec<f64>) {
        deviations.clear();
        deviations.extend(self.ports.iter().map(|port| port.heard(volts)));
        self.matrix.solve(deviations);
        for (port, &deviation) in self.ports.iter().zip(&*deviations) {
            if deviation != 0.0 {
                for (volts, by) in volts.iter_mut().zip(&*port.column) {
                    *volts -= by * deviation;
                }
            }
        }
    }
}

impl Linearised {
    /// The element as it is at this point.
    pub(crate) fn element(&self, at: u32) -> Option<&Element> {
        let changed = self.update.as_ref().and_then(|update| {
            let found = update.elements.binary_search_by_key(&at, |entry| entry.0).ok()?;
            Some(&update.elements[found].1)
        });
        changed.or_else(|| self.fixed.netlist.elements.get(at as usize))
    }

    /// Where a bent element is linearised.
    pub(crate) fn point(&self, at: u32) -> Point {
        let moved = self
            .update
            .as_ref()
            .and_then(|update| update.points.iter().find(|point| point.0 == at));
        moved.map_or_else(
            || {
                let bent = self.fixed.plan.bent.binary_search(&at);
                bent.map_or(Point::default(), |bent| self.fixed.points[bent])
            },
            |point| point.1,
        )
    }

    /// The flows of an element, each with its position among them and its tangent.
    pub(crate) fn flows_of(&self, at: u32) -> impl Iterator<Item = (u32, Flow, Tangent)> {
        let plan = &*self.fixed.plan;
        let range = plan.flows_of.get(at as usize).cloned().unwrap_or(0..0);
        let first = range.start;
        let ports = self.update.as_ref().map_or(&[][..], |update| &update.ports);
        let port = move |which: u32| ports.iter().find(move |port| port.element == at && port.which == which);
        let kept = range.map(move |flow| {
            let which = flow - first;
            let tangent = port(which).map_or(self.fixed.tangents[flow as usize], |port| port.tangent);
            (which, plan.flows[flow as usize], tangent)
        });
        let appended = ports
            .iter()
            .filter(move |port| port.element == at && at as usize >= plan.flows_of.len())
            .map(|port| (port.which, port.flow, port.tangent));
        kept.chain(appended)
    }

    /// Every flow with its tangent.
    pub(crate) fn flows(&self) -> impl Iterator<Item = (Flow, Tangent)> {
        let n = self.fixed.plan.flows_of.len();
        let last = self.update.as_ref().and_then(|update| update.elements.last());
        let n = last.map_or(n, |last| n.max(last.0 as usize + 1));
        (0..n as u32).flat_map(|at| self.flows_of(at).map(|(_, flow, tangent)| (flow, tangent)))
    }

    /// Derivatives by the rows of the matrix of a reading whose weights by column these are.
    pub(crate) fn solve_transposed(&self, weights: &mut Vec<f64>) {
        let plan = &*self.fixed.plan;
        let Some(update) = self.update.as_deref().filter(|update| !update.ports.is_empty()) else {
            self.fixed.factored.solve_transposed(plan, weights);
            return;
        };
        if update.matrix.least_pivot() > CANCELLED {
            self.solve_transposed_once(update, weights);
            return;
        }
        let mut left = weights.clone();
        let mut rows = vec![0.0; weights.len()];
        // What cancelled in the small matrix is put right by what the flows, as they now are, leave of the weights.
        let mut before = f64::INFINITY;
        for _ in 0..REFINED {
            self.solve_transposed_once(update, &mut left);
            for (row, by) in rows.iter_mut().zip(&left) {
                *row += by;
            }
            left.clone_from(weights);
            for (flow, tangent) in self.flows() {
                let row = |node: u32| rows.get(plan.kcl_row[node as usize] as usize).copied().unwrap_or(0.0);
                let across = row(flow.from) - row(flow.to);
                for k in 0..flow.n_controls {
                    let (a, b) = flow.controls[k];
                    for (node, by) in [(a, -across * tangent.siemens[k]), (b, across * tangent.siemens[k])] {
                        if let Some(sum) = left.get_mut(plan.column[node as usize] as usize) {
                            *sum += by;
                        }
                    }
                }
            }
            let size = left.iter().fold(0.0_f64, |most, by| most.max(by.abs()));
            if size <= 1e-13 || size > 0.5 * before {
                break;
            }
            before = size;
        }
        *weights = rows;
    }

    fn solve_transposed_once(&self, update: &Update, weights: &mut [f64]) {
        let plan = &*self.fixed.plan;
        let heard = |port: &Port| {
            let by_node = plan.roots.iter().map(|&node| (node, plan.column[node as usize]));
            by_node
                .map(|(node, column)| weights[column as usize] * port.column[node as usize])
                .sum()
        };
        let mut heard: Vec<f64> = update.ports.iter().map(heard).collect();
        update.matrix.solve_transposed(&mut heard);
        for (port, by) in update.ports.iter().zip(&heard) {
            for (&(a, b), delta) in port.flow.controls.iter().zip(port.delta) {
                for (node, sign) in [(a, 1.0), (b, -1.0)] {
                    if let Some(weight) = weights.get_mut(plan.column[node as usize] as usize) {
                        *weight -= sign * delta * by;
                    }
                }
            }
        }
        self.fixed.factored.solve_transposed(plan, weights);
    }
}

impl Solution {
    /// What an extra listens to: volts or amperes.
    pub(crate) fn control(&self, extra: &Extra) -> f64 {
        match extra.control {
            Control::Nothing => 0.0,
            Control::Voltage(pair) => difference(&self.node_volts, pair),
            Control::Current(column) => {
                let extras = &self.at.fixed.plan.extras;
                let through = extras.iter().find(|extra| extra.column == column);
                through.map_or(0.0, |through| self.amps(ElementId(through.element)))
            }
        }
    }

    /// Estimated bound on the difference of any node voltage to that of an exact solve, volts; infinite if a node's voltage
    /// is determined by nothing although elements touch it.
    ///
    /// Rounding of the currents and what they leave over, seen through the inverse, whose entries are positive for a
    /// network of conductances, so that nothing cancels; and rounding of the voltages themselves.
    pub fn error_volts(&self) -> f64 {
        let fixed = &*self.at.fixed;
        let plan = &*fixed.plan;
        if !fixed.factored.held().0.is_empty() {
            return f64::INFINITY;
        }
        let (mut left, mut sizes) = (vec![0.0; plan.n_nodes], vec![0.0; plan.n_nodes]);
        for (flow, tangent) in self.at.flows() {
            let amps = amps(&flow, &tangent, &self.node_volts);
            left[flow.from as usize] -= amps;
            left[flow.to as usize] += amps;
            sizes[flow.from as usize] += amps.abs();
            sizes[flow.to as usize] += amps.abs();
        }
        for extra in &plan.extras {
            let amps = self.amps(ElementId(extra.element));
            left[extra.plus as usize] -= amps;
            left[extra.minus as usize] += amps;
            sizes[extra.plus as usize] += amps.abs();
            sizes[extra.minus as usize] += amps.abs();
        }
        let mut rows = [vec![0.0; plan.pattern.n], vec![0.0; plan.pattern.n]];
        for (node, &row) in plan.kcl_row.iter().enumerate() {
            if let Some(sum) = rows[0].get_mut(row as usize) {
                *sum += left[node];
                rows[1][row as usize] += 2.0 * EPS * sizes[node];
            }
        }
        // The first node of an island is held by 1 siemens.
        for pin in self.islands.iter().filter_map(|island| island.first()) {
            rows[0][plan.kcl_row[pin.0 as usize] as usize] -= self.volts(*pin);
        }
        for (extra, equation) in plan.extras.iter().zip(&fixed.equations) {
            let across = difference(&self.node_volts, (extra.plus, extra.minus));
            let control = self.control(extra);
            rows[0][extra.row as usize] = equation.rhs + equation.k * (control - equation.at) - across;
            rows[1][extra.row as usize] =
                2.0 * EPS * (self.node_volts[extra.plus as usize].abs() + self.node_volts[extra.minus as usize].abs());
        }
        let largest = |mut rows: Vec<f64>| {
            fixed.factored.solve(plan, &mut rows);
            let mut volts: Vec<f64> = fixed.by_node(&rows).collect();
            if let Some(update) = &self.at.update {
                update.correct(&mut volts, &mut Vec::new());
            }
            volts.iter().fold(0.0_f64, |most, volts| most.max(volts.abs()))
        };
        let [left, bound] = rows.map(largest);
        let volts = self
            .node_volts
            .iter()
            .fold(0.0_f64, |most, volts| most.max(volts.abs()));
        2.0 * bound + 2.0 * left + 8.0 * EPS * volts
    }
}
