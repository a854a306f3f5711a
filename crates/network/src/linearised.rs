//! A circuit linearised at an operating point, plain or as a small change to another one.
//!
//! With `A` factored, a change of a few currents adds `Σ bₖ sₖᵀ` to it: put `k` runs along `bₖ` and hears voltages through
//! `sₖ`. Solving with the sum needs only `A`'s factor, the columns `A⁻¹bₖ` and a small matrix (Sherman, Morrison 1950;
//! Woodbury 1950).

use crate::law::{Point, Tangent};
use crate::newton::{Equation, Factored};
use crate::plan::{Control, Extra, Flow, Plan};
use crate::reduced::{Reduced, Response};
use crate::small::{Digits, Matrix};
use crate::twofold::Twofold;
use crate::{Element, ElementId, Netlist, NodeId, Solution};
use std::sync::Arc;

/// Volts per ampere up to which doubles lose no digits that a slope needs.
const MODEST_OHMS: f64 = 1e7;
/// Most corrections of a solve with the transpose.
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

/// What a put hears, in a circuit whose voltages are those that something brings about.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Heard {
    /// Nothing: it is known.
    Nothing,
    /// The voltage that its flow listens to.
    Volts,
    /// The current of the branch, of this conductance, that it is in series with.
    Amps(Twofold),
    /// The voltages that its flow listens to, times siemens beyond those that were factored.
    More([f64; 2]),
}

/// Something put into a factored circuit, so that an element conducts as it now does: `(inverse + K) amount = heard + offset`.
#[derive(Clone, Debug)]
pub(crate) struct Put {
    pub(crate) element: u32,
    /// Which of the element's flows.
    pub(crate) which: u32,
    pub(crate) flow: Flow,
    /// Of the flow as it now is.
    pub(crate) tangent: Tangent,
    /// Volts by node for an ampere that runs along the flow.
    pub(crate) response: Response,
    /// Amperes along the flow per unit of the amount.
    pub(crate) per_unit: Twofold,
    pub(crate) heard: Heard,
    pub(crate) inverse: f64,
    pub(crate) offset: f64,
    /// Volts across what its flow listens to with nothing put in; for a branch those that drive its current.
    pub(crate) base: [Twofold; 2],
    /// Position among the flows of the netlist's bent elements, if it is one.
    pub(crate) bent: Option<u32>,
}

/// What differs from a [`Fixed`].
#[derive(Clone)]
pub(crate) struct Update {
    /// What it differs from, with what was solved for others.
    pub(crate) reduced: Arc<Reduced>,
    /// Changed and appended elements, by position.
    pub(crate) elements: Vec<(ElementId, Element)>,
    /// Points of bent elements that moved, were changed or appended.
    pub(crate) points: Vec<(u32, Point)>,
    pub(crate) puts: Vec<Put>,
    pub(crate) amounts: Vec<Twofold>,
    /// Whether sums over the puts cancel so far that they need twofold digits.
    pub(crate) fine: bool,
    /// `inverse + K`, factored.
    pub(crate) matrix: Matrix,
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

/// Siemens and amperes that are nothing: across a teraohm they make a picovolt.
const NOTHING: f64 = 1e-24;

impl Put {
    /// Whether it is a bent element's flow on the tangent that was factored.
    pub(crate) fn is_idle(&self) -> bool {
        match self.heard {
            Heard::More(more) => more.iter().all(|more| more.abs() < NOTHING) && self.offset.abs() < NOTHING,
            _ => false,
        }
    }

    /// What it hears where these volts stand across what its flow listens to.
    pub(crate) fn hears<D: Digits>(&self, across: impl Fn(usize) -> D) -> D {
        match self.heard {
            Heard::Nothing => D::default(),
            Heard::Volts => across(0),
            Heard::Amps(siemens) => D::of(siemens) * across(0),
            Heard::More(more) => {
                (0..self.flow.n_controls).fold(D::default(), |sum, k| sum + D::from(more[k]) * across(k))
            }
        }
    }

    /// Every voltage that it hears, with its weight times `factor`.
    fn each_heard(&self, factor: f64, add: &mut impl FnMut((u32, u32), f64)) {
        let [first, second] = self.flow.controls;
        match self.heard {
            Heard::Nothing => {}
            Heard::Volts => add(first, factor),
            Heard::Amps(siemens) => add(first, factor * siemens.value()),
            Heard::More(more) => {
                add(first, factor * more[0]);
                add(second, factor * more[1]);
            }
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

    /// A reading's weights of node voltages, by column of the matrix.
    pub(crate) fn weights(&self, weights: &[(NodeId, f64)]) -> Vec<f64> {
        let mut by_column = vec![0.0; self.plan.pattern.n];
        for &(node, weight) in weights {
            if let Some(sum) = by_column.get_mut(self.plan.column[node.0 as usize] as usize) {
                *sum += weight;
            }
        }
        by_column
    }
}

impl Update {
    /// Amperes along each put's flow.
    pub(crate) fn moves(&self) -> impl Iterator<Item = Twofold> {
        self.puts
            .iter()
            .zip(&self.amounts)
            .map(|(put, &amount)| put.per_unit * amount)
    }

    /// Forgets puts that put nothing in.
    pub(crate) fn drop_idle(&mut self) {
        let mut amounts = std::mem::take(&mut self.amounts).into_iter();
        self.puts.retain(|put| {
            let amount = amounts.next().filter(|_| !put.is_idle());
            self.amounts.extend(amount);
            amount.is_some()
        });
    }

    /// Corrects volts by node that an injection brings about without the puts.
    fn correct(&self, volts: &mut [f64]) {
        let heard = |put: &Put| put.hears(|k| difference(volts, put.flow.controls[k]));
        let mut amounts: Vec<f64> = self.puts.iter().map(heard).collect();
        self.matrix.solve(&mut amounts);
        for (put, amount) in self.puts.iter().zip(amounts) {
            let amps = put.per_unit.value() * amount;
            for (volts, by) in volts.iter_mut().zip(&*put.response) {
                *volts += by.high * amps;
            }
        }
    }

    /// Derivatives of a voltage by amperes injected, put together from those of voltages in the factored circuit, which are
    /// kept. `None` for other weights, and where that would cancel.
    fn row_from_known(&self, weights: &[(NodeId, f64)]) -> Option<Vec<f64>> {
        let pair = match *weights {
            [(node, 1.0)] => (node.0, 0),
            [(a, 1.0), (b, -1.0)] => (a.0, b.0),
            _ => return None,
        };
        let large = |put: &Put| put.response.iter().any(|volts| volts.high.abs() > MODEST_OHMS);
        if self.puts.iter().any(large) {
            return None;
        }
        let mut row = self.reduced.row(pair).to_vec();
        let response = |put: &Put| {
            let volts = put.response[pair.0 as usize] - put.response[pair.1 as usize];
            (volts * put.per_unit).value()
        };
        let mut moved: Vec<f64> = self.puts.iter().map(response).collect();
        self.matrix.solve_transposed(&mut moved);
        let mut add = |pair: (u32, u32), factor: f64| {
            if factor != 0.0 {
                for (row, by) in row.iter_mut().zip(&*self.reduced.row(pair)) {
                    *row += factor * by;
                }
            }
        };
        for (put, moved) in self.puts.iter().zip(moved) {
            put.each_heard(moved, &mut add);
        }
        Some(row)
    }

    /// To the weights of a reading, by column, adds those of what the puts hear: its derivatives in the changed circuit are
    /// those of this sum in the factored one. One sum and one solve, since what is solved apart would cancel.
    fn add_heard(&self, plan: &Plan, weights: &mut [f64]) {
        let response = |put: &Put| {
            let by_root = plan
                .roots
                .iter()
                .map(|&node| (node, plan.column[node as usize] as usize));
            let volts = by_root.fold(Twofold::default(), |sum, (node, column)| match weights[column] {
                0.0 => sum,
                weight => sum + put.response[node as usize] * weight.into(),
            });
            (volts * put.per_unit).value()
        };
        let mut moved: Vec<f64> = self.puts.iter().map(response).collect();
        self.matrix.solve_transposed(&mut moved);
        let mut add = |(a, b): (u32, u32), factor: f64| {
            for (node, by) in [(a, factor), (b, -factor)] {
                if let Some(sum) = weights.get_mut(plan.column[node as usize] as usize) {
                    *sum += by;
                }
            }
        };
        for (put, moved) in self.puts.iter().zip(moved) {
            put.each_heard(moved, &mut add);
        }
    }
}

impl Linearised {
    /// The element as it is at this point.
    pub(crate) fn element(&self, at: u32) -> Option<&Element> {
        let changed = self.update.as_ref().and_then(|update| {
            let found = update.elements.binary_search_by_key(&at, |entry| entry.0.0).ok()?;
            Some(&update.elements[found].1)
        });
        changed.or_else(|| self.fixed.netlist.elements.get(at as usize))
    }

    /// Where a bent element is linearised.
    pub(crate) fn point(&self, at: u32) -> Point {
        self.bent_point(at).unwrap_or_default()
    }

    /// The same; `None` for what is no bent element.
    pub(crate) fn bent_point(&self, at: u32) -> Option<Point> {
        let update = self.update.as_ref();
        let moved = update.and_then(|update| update.points.iter().find(|point| point.0 == at));
        moved.map(|point| point.1).or_else(|| {
            let bent = self.fixed.plan.bent.binary_search(&at).ok()?;
            Some(self.fixed.points[bent])
        })
    }

    /// The flows of an element, each with its position among them and its tangent.
    pub(crate) fn flows_of(&self, at: u32) -> impl Iterator<Item = (u32, Flow, Tangent)> {
        let plan = &*self.fixed.plan;
        let range = plan.flows_of.get(at as usize).cloned().unwrap_or(0..0);
        let first = range.start;
        let puts = self.update.as_ref().map_or(&[][..], |update| &update.puts);
        let put = move |which: u32| puts.iter().find(move |put| put.element == at && put.which == which);
        let kept = range.map(move |flow| {
            let which = flow - first;
            let tangent = put(which).map_or(self.fixed.tangents[flow as usize], |put| put.tangent);
            (which, plan.flows[flow as usize], tangent)
        });
        let appended = puts
            .iter()
            .filter(move |put| put.element == at && at as usize >= plan.flows_of.len())
            .map(|put| (put.which, put.flow, put.tangent));
        kept.chain(appended)
    }

    /// Every flow with its tangent.
    pub(crate) fn flows(&self) -> impl Iterator<Item = (Flow, Tangent)> {
        let n = self.fixed.plan.flows_of.len();
        let last = self.update.as_ref().and_then(|update| update.elements.last());
        let n = last.map_or(n, |last| n.max(last.0.0 as usize + 1));
        (0..n as u32).flat_map(|at| self.flows_of(at).map(|(_, flow, tangent)| (flow, tangent)))
    }

    /// Derivatives of `Σ weight · v(node)` by amperes injected, by row of the matrix.
    pub(crate) fn row(&self, weights: &[(NodeId, f64)]) -> Vec<f64> {
        let plan = &*self.fixed.plan;
        let mut row = self.fixed.weights(weights);
        let Some(update) = &self.update else {
            self.fixed.factored.solve_transposed(plan, &mut row);
            return row;
        };
        if let Some(row) = update.row_from_known(weights) {
            return row;
        }
        let solve = |weights: &mut Vec<f64>| {
            update.add_heard(plan, weights);
            self.fixed.factored.solve_transposed(plan, weights);
        };
        let weights = row.clone();
        solve(&mut row);
        if update.fine {
            self.refine(&weights, &mut row, solve);
        }
        row
    }

    /// What cancelled is put right by what the flows, as they now are, leave of the weights.
    fn refine(&self, weights: &[f64], row: &mut [f64], solve: impl Fn(&mut Vec<f64>)) {
        let plan = &*self.fixed.plan;
        let mut before = f64::INFINITY;
        for _ in 0..REFINED {
            let mut left = weights.to_vec();
            for (flow, tangent) in self.flows() {
                let at = |node: u32| row.get(plan.kcl_row[node as usize] as usize).copied().unwrap_or(0.0);
                let across = at(flow.from) - at(flow.to);
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
            if size <= 1e-13 || size > 0.5 * before || !size.is_finite() {
                return;
            }
            before = size;
            solve(&mut left);
            for (row, by) in row.iter_mut().zip(&left) {
                *row += by;
            }
        }
    }

    /// Amperes by element of a circuit without extras.
    pub(crate) fn element_amps(&self, volts: &[f64], into: &mut [f64]) {
        let puts = self.update.as_ref().map_or(&[][..], |update| &update.puts);
        for (sum, flows) in into.iter_mut().zip(&self.fixed.plan.flows_of) {
            *sum = flows
                .clone()
                .map(|flow| {
                    amps(
                        &self.fixed.plan.flows[flow as usize],
                        &self.fixed.tangents[flow as usize],
                        volts,
                    )
                })
                .sum();
        }
        for put in puts {
            into[put.element as usize] = 0.0;
        }
        for put in puts {
            into[put.element as usize] += amps(&put.flow, &put.tangent, volts);
        }
        let plan = &*self.fixed.plan;
        if plan.ties.is_empty() {
            return;
        }
        let mut by_node = vec![0.0; plan.n_nodes];
        for (flow, tangent) in self.flows() {
            let amps = amps(&flow, &tangent, volts);
            by_node[flow.from as usize] += amps;
            by_node[flow.to as usize] -= amps;
        }
        for tie in plan.ties.iter().rev() {
            let amps = -std::mem::take(&mut by_node[tie.node as usize]);
            into[tie.element as usize] = tie.sign * amps;
            by_node[tie.parent as usize] -= amps;
        }
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

    /// Largest sum of currents at any node, tied nodes as one, that should be 0, amperes.
    pub fn kcl_residual_amps(&self) -> f64 {
        let [left, _] = self.left_over();
        left.iter().fold(0.0_f64, |most, amps| most.max(amps.abs()))
    }

    /// By row of the matrix: amperes left over, and 2 units of rounding of all that were summed.
    fn left_over(&self) -> [Vec<f64>; 2] {
        let plan = &*self.at.fixed.plan;
        let mut rows = [vec![0.0; plan.pattern.n], vec![0.0; plan.pattern.n]];
        let mut count = |from: u32, to: u32, amps: f64| {
            for (node, amps) in [(from, -amps), (to, amps)] {
                let row = plan.kcl_row[node as usize] as usize;
                if let Some(sum) = rows[0].get_mut(row) {
                    *sum += amps;
                    rows[1][row] += 2.0 * EPS * amps.abs();
                }
            }
        };
        for (flow, tangent) in self.at.flows() {
            count(flow.from, flow.to, amps(&flow, &tangent, &self.node_volts));
        }
        for extra in &plan.extras {
            count(extra.plus, extra.minus, self.amps(ElementId(extra.element)));
        }
        // The first node of an island is held by 1 siemens.
        for pin in self.islands.iter().filter_map(|island| island.first()) {
            rows[0][plan.kcl_row[pin.0 as usize] as usize] -= self.volts(*pin);
        }
        rows
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
        let mut rows = self.left_over();
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
                update.correct(&mut volts);
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
