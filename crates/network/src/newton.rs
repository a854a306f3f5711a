//! One operating point for fixed discrete states.
//!
//! Every round solves for a *correction*: the currents at the present voltages are summed branch by branch, each counted
//! with the same bits at both its ends, so that what is left over is the true imbalance and not the rounding of large
//! sums. The same loop is therefore Newton's method and iterative refinement.
//!
//! If the rounds do not settle: what swings between corners is held on each of its pieces in turn (an active set); then
//! leaks from every node to the reference, taken away decade by decade (gmin stepping); then sources raised from 0 (source
//! stepping).

use crate::dense::Dense;
use crate::law::{self, Point, Tangent};
use crate::lu::Factor;
use crate::plan::{Control, Plan};
use crate::{Effort, Element, Netlist, States};

/// Rounds before a way of solving is given up, plus some for each bent element.
const ROUNDS: usize = 40;
/// From this round on only one element crosses a corner at a time, and none leaves out a piece of its law.
const CAREFUL: usize = 8;
/// Rounds from a guess before it is dropped: a good one takes fewer.
const GUESSED: usize = 12;
/// Rounds for a step of a leak or of the sources, which starts near its answer.
const STEP: usize = 24;
/// What still moves in so many rounds at the end does not come to rest by itself …
const LAST: usize = 12;
/// … and of that, so many elements are held on each of their pieces in turn.
const MOST_HELD: usize = 3;
/// A round moves no voltage further than this, volts, plus the largest voltage so far: what a piece of an output's law
/// foresees far outside the piece is no guide.
const STRIDE: f64 = 10.0;
/// Unit roundoff.
const EPS: f64 = f64::EPSILON;

/// A factored matrix, by whichever way it could be factored.
#[derive(Clone, Debug, Default)]
pub(crate) struct Factored {
    sparse: Factor,
    dense: Option<Dense>,
}

impl Factored {
    fn factor(&mut self, plan: &Plan, values: &[f64]) {
        self.dense = None;
        if !plan.pattern.factor(values, &mut self.sparse) {
            self.dense = Some(Dense::factor(&plan.pattern, values));
        }
    }

    pub(crate) fn solve(&self, plan: &Plan, x: &mut [f64]) {
        match &self.dense {
            Some(dense) => dense.solve(x),
            None => plan.pattern.solve(&self.sparse, x),
        }
    }

    pub(crate) fn solve_transposed(&self, plan: &Plan, x: &mut [f64]) {
        match &self.dense {
            Some(dense) => dense.solve_transposed(x),
            None => plan.pattern.solve_transposed(&self.sparse, x),
        }
    }

    /// Columns that nothing determines, and whether the dense solver says so.
    pub(crate) fn held(&self) -> (Vec<u32>, bool) {
        self.dense
            .as_ref()
            .map_or_else(|| (self.sparse.held.clone(), false), |dense| (dense.held(), true))
    }
}

/// An extra's equation `v(plus) - v(minus) - k·(control - at) = rhs`.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Equation {
    pub(crate) k: f64,
    pub(crate) at: f64,
    pub(crate) rhs: f64,
}

/// Values that go with a [`Plan`], reused from solve to solve.
#[derive(Debug, Default)]
pub(crate) struct Work {
    pub(crate) x: Vec<f64>,
    /// By node.
    pub(crate) volts: Vec<f64>,
    /// By flow; `flow` of a tangent is not used here.
    pub(crate) tangents: Vec<Tangent>,
    pub(crate) equations: Vec<Equation>,
    /// Volts of each tie's element.
    pub(crate) tie_volts: Vec<f64>,
    /// Current of each tie, from `node` to `parent`.
    pub(crate) tie_amps: Vec<f64>,
    /// By flow.
    pub(crate) flow_amps: Vec<f64>,
    pub(crate) factored: Factored,
    /// Roots of islands, held at 0 by 1 siemens in which no current flows.
    pub(crate) pins: Vec<u32>,
    pub(crate) points: Vec<Point>,
    pub(crate) effort: Effort,
    base: Vec<f64>,
    values: Vec<f64>,
    node_amps: Vec<f64>,
    sizes: Vec<f64>,
    /// Largest current left over at a group of nodes.
    pub(crate) kcl_residual_amps: f64,
    rhs: Vec<f64>,
    leak: f64,
    /// Whether the last round went all its way.
    full_stride: bool,
    drive: f64,
    factored_is_current: bool,
    /// The bent element that moved last, for the report of a failure.
    pub(crate) restless: Option<u32>,
    /// Positions of the bent elements that moved in the last rounds.
    moving: Vec<usize>,
    /// Bent elements that stay on their pieces, whatever the voltages say until all others rest.
    frozen: Vec<usize>,
}

impl Work {
    /// Takes the values of all straight elements over from the netlist.
    fn load(&mut self, netlist: &Netlist, states: &States, plan: &Plan, drive: f64, leak: f64) {
        self.drive = drive;
        self.leak = leak;
        self.tangents.clear();
        self.tangents.resize(plan.flows.len(), Tangent::default());
        for (at, element) in netlist.elements.iter().enumerate() {
            let (siemens, volts, amps) = if plan.ideal[at] {
                (0.0, 0.0, 0.0)
            } else {
                straight(element, states.at(at), drive)
            };
            if let Some(tangent) = self.tangents.get_mut(plan.flows_of[at].start as usize)
                && !plan.flows_of[at].is_empty()
            {
                *tangent = Tangent {
                    siemens: [siemens, 0.0],
                    at: [volts, 0.0],
                    amps,
                    flow: 0,
                };
            }
        }
        self.tie_volts.clear();
        self.tie_volts.extend(
            plan.ties
                .iter()
                .map(|tie| match netlist.elements[tie.element as usize] {
                    Element::VoltageSource { volts, .. } => drive * volts,
                    _ => 0.0,
                }),
        );
        self.equations.clear();
        self.equations.extend(
            plan.extras
                .iter()
                .map(|extra| equation(netlist, extra.element, extra.control, drive)),
        );
        plan.clear(&mut self.base);
        for (flow, tangent) in self.tangents.iter().enumerate() {
            if tangent.siemens[0] != 0.0 {
                plan.stamp_flow(&mut self.base, flow, tangent.siemens);
            }
        }
        for (extra, equation) in self.equations.iter().enumerate() {
            plan.stamp_extra(&mut self.base, extra, equation.k);
        }
        for &pin in &self.pins {
            plan.stamp_leak(&mut self.base, pin, 1.0);
        }
        if leak > 0.0 {
            for &root in &plan.roots {
                plan.stamp_leak(&mut self.base, root, leak);
            }
        }
        self.factored_is_current = false;
    }

    /// Sets the starting voltages and points.
    pub(crate) fn begin(&mut self, netlist: &Netlist, plan: &Plan, guess: Option<&[f64]>) {
        self.x.clear();
        self.x.resize(plan.pattern.n, 0.0);
        if let Some(guess) = guess {
            for &root in &plan.roots {
                self.x[plan.column[root as usize] as usize] = guess[root as usize];
            }
        }
        let controls = |guess: &[f64], element: u32| {
            let flow = plan.flows[plan.flows_of[element as usize].start as usize];
            flow.controls.map(|(a, b)| guess[a as usize] - guess[b as usize])
        };
        self.points.clear();
        self.points.extend(plan.bent.iter().map(|&element| {
            law::start(
                &netlist.elements[element as usize],
                guess.map(|guess| controls(guess, element)),
            )
        }));
    }

    /// Starts with every voltage 0.
    fn begin_at_rest(&mut self, netlist: &Netlist, plan: &Plan) {
        self.begin(netlist, plan, Some(&vec![0.0; plan.n_nodes]));
    }

    fn spread(&mut self, plan: &Plan) {
        self.volts.resize(plan.n_nodes, 0.0);
        self.volts[0] = 0.0;
        for &root in &plan.roots {
            self.volts[root as usize] = self.x[plan.column[root as usize] as usize];
        }
        for (tie, volts) in plan.ties.iter().zip(&self.tie_volts) {
            self.volts[tie.node as usize] = self.volts[tie.parent as usize] + tie.sign * volts;
        }
    }

    fn across(&self, (a, b): (u32, u32)) -> f64 {
        self.volts[a as usize] - self.volts[b as usize]
    }

    /// First flow of a bent element, and the present volts of its controls.
    fn heard(&self, plan: &Plan, element: u32) -> (usize, [f64; 2]) {
        let flow = plan.flows_of[element as usize].start as usize;
        (flow, plan.flows[flow].controls.map(|pair| self.across(pair)))
    }

    /// Sums the currents at the present voltages: flows, ties, and what is left over into `rhs`, negated.
    fn residual(&mut self, plan: &Plan) {
        self.spread(plan);
        self.flow_amps.resize(plan.flows.len(), 0.0);
        self.node_amps.clear();
        self.node_amps.resize(plan.n_nodes, 0.0);
        for (at, (flow, tangent)) in plan.flows.iter().zip(&self.tangents).enumerate() {
            let mut amps = tangent.amps;
            for k in 0..flow.n_controls {
                if tangent.siemens[k] != 0.0 {
                    amps += tangent.siemens[k] * (self.across(flow.controls[k]) - tangent.at[k]);
                }
            }
            self.flow_amps[at] = amps;
            self.node_amps[flow.from as usize] += amps;
            self.node_amps[flow.to as usize] -= amps;
        }
        for extra in &plan.extras {
            let amps = self.x[extra.column as usize];
            self.node_amps[extra.plus as usize] += amps;
            self.node_amps[extra.minus as usize] -= amps;
        }
        for &pin in &self.pins {
            self.node_amps[pin as usize] += self.volts[pin as usize];
        }
        if self.leak > 0.0 {
            for &root in &plan.roots {
                self.node_amps[root as usize] += self.leak * self.volts[root as usize];
            }
        }
        self.tie_amps.resize(plan.ties.len(), 0.0);
        for (at, tie) in plan.ties.iter().enumerate().rev() {
            let amps = -self.node_amps[tie.node as usize];
            self.tie_amps[at] = amps;
            self.node_amps[tie.parent as usize] -= amps;
        }
        self.rhs.resize(plan.pattern.n, 0.0);
        for &root in &plan.roots {
            self.rhs[plan.kcl_row[root as usize] as usize] = -self.node_amps[root as usize];
        }
        for (extra, equation) in plan.extras.iter().zip(&self.equations) {
            let control = match extra.control {
                Control::Nothing => 0.0,
                Control::Voltage(pair) => self.across(pair),
                Control::Current(column) => self.x[column as usize],
            };
            self.rhs[extra.row as usize] =
                equation.rhs + equation.k * (control - equation.at) - self.across((extra.plus, extra.minus));
        }
    }

    /// One round: factor if a tangent changed, correct the voltages. Returns the largest correction in volts.
    fn correct(&mut self, netlist: &Netlist, plan: &Plan) -> f64 {
        for (&element, &point) in plan.bent.iter().zip(&self.points) {
            let tangent = law::tangent(&netlist.elements[element as usize], point, self.drive);
            let flows = plan.flows_of[element as usize].clone();
            for (which, flow) in flows.enumerate() {
                let value = tangent.on(which);
                let held = &mut self.tangents[flow as usize];
                if *held != value {
                    self.factored_is_current &= held.siemens == value.siemens;
                    *held = value;
                }
            }
        }
        if !self.factored_is_current {
            self.values.clone_from(&self.base);
            for &element in &plan.bent {
                for flow in plan.flows_of[element as usize].clone() {
                    plan.stamp_flow(&mut self.values, flow as usize, self.tangents[flow as usize].siemens);
                }
            }
            self.factored.factor(plan, &self.values);
            self.effort.factorizations += 1;
            self.factored_is_current = true;
        }
        self.residual(plan);
        self.factored.solve(plan, &mut self.rhs);
        self.effort.rounds += 1;
        let (mut most, mut size) = (0.0_f64, 0.0_f64);
        for &root in &plan.roots {
            let column = plan.column[root as usize] as usize;
            most = most.max(self.rhs[column].abs());
            size = size.max(self.x[column].abs());
        }
        let scale = if plan.bent.is_empty() {
            1.0
        } else {
            ((STRIDE + size) / most).min(1.0)
        };
        self.full_stride = scale == 1.0;
        for (x, dx) in self.x.iter_mut().zip(&self.rhs) {
            *x += scale * dx;
        }
        most
    }

    /// Newton's method from the present voltages and points. On success the voltages are refined and the currents summed.
    fn settle(&mut self, netlist: &Netlist, plan: &Plan, rounds: usize) -> bool {
        for round in 0..rounds {
            self.correct(netlist, plan);
            self.spread(plan);
            if !self.volts.iter().all(|v| v.is_finite()) {
                return false;
            }
            let (mut settled, mut moved) = (self.full_stride, false);
            if rounds - round > LAST {
                self.moving.clear();
            }
            for at in 0..plan.bent.len() {
                // In careful rounds, start looking at another element each time.
                let at = (at + if round < CAREFUL { 0 } else { round }) % plan.bent.len();
                if self.frozen.contains(&at) {
                    continue;
                }
                let element = plan.bent[at];
                let point = self.points[at];
                let (flow, across) = self.heard(plan, element);
                let tangent = &self.tangents[flow];
                let (next, right) = law::advance(
                    &netlist.elements[element as usize],
                    point,
                    tangent,
                    across,
                    self.drive,
                    round >= CAREFUL,
                );
                if !right {
                    settled = false;
                    self.restless = Some(element);
                    if !self.moving.contains(&at) {
                        self.moving.push(at);
                    }
                    let corner = (next.piece, next.target) != (point.piece, point.target);
                    if !(corner && moved && round >= CAREFUL) {
                        self.points[at] = next;
                    }
                    moved |= corner;
                }
            }
            if settled {
                if !self.frozen.iter().all(|&at| self.is_right(netlist, plan, at)) {
                    return false;
                }
                let on_the_way = self.leak > 0.0 || self.drive < 1.0;
                return on_the_way || self.refine(netlist, plan);
            }
        }
        false
    }

    /// Whether a bent element is on the right piece for the present voltages.
    fn is_right(&self, netlist: &Netlist, plan: &Plan, at: usize) -> bool {
        let element = plan.bent[at];
        let (_, across) = self.heard(plan, element);
        let of = &netlist.elements[element as usize];
        let tangent = law::tangent(of, self.points[at], self.drive);
        law::advance(of, self.points[at], &tangent, across, self.drive, false).1
    }

    /// Tries the pieces of those elements that would not rest one after the other, each held until all others rest: what
    /// swings between corners is on one of them.
    fn try_pieces(&mut self, netlist: &Netlist, states: &States, plan: &Plan) -> bool {
        let pieces: Vec<(usize, Vec<Point>)> = self
            .moving
            .iter()
            .map(|&at| (at, law::pieces(&netlist.elements[plan.bent[at] as usize])))
            .filter(|(_, pieces)| !pieces.is_empty())
            .take(MOST_HELD)
            .collect();
        let n_ways: usize = pieces.iter().map(|(_, pieces)| pieces.len()).product();
        if pieces.is_empty() {
            return false;
        }
        let found = (0..n_ways).any(|way| {
            self.frozen.clear();
            self.begin_at_rest(netlist, plan);
            self.load(netlist, states, plan, 1.0, 0.0);
            let mut rest = way;
            for (at, pieces) in &pieces {
                self.points[*at] = pieces[rest % pieces.len()];
                rest /= pieces.len();
                self.frozen.push(*at);
            }
            self.settle(netlist, plan, STEP)
        });
        self.frozen.clear();
        found
    }

    fn refine(&mut self, netlist: &Netlist, plan: &Plan) -> bool {
        let mut before = f64::INFINITY;
        for _ in 0..6 {
            let correction = self.correct(netlist, plan);
            let largest = self.x.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            if correction <= 4.0 * EPS * largest || correction > 0.5 * before || !correction.is_finite() {
                break;
            }
            before = correction;
        }
        self.residual(plan);
        let (left, within) = self.imbalance(plan);
        self.kcl_residual_amps = left;
        within && self.volts.iter().all(|v| v.is_finite())
    }

    /// Largest leftover current of a group of nodes, and whether it is within rounding.
    fn imbalance(&mut self, plan: &Plan) -> (f64, bool) {
        let mut size = std::mem::take(&mut self.sizes);
        size.clear();
        size.resize(plan.n_nodes, 0.0);
        for ((flow, tangent), amps) in plan.flows.iter().zip(&self.tangents).zip(&self.flow_amps) {
            let mut sum = amps.abs();
            for (&(a, b), s) in flow.controls.iter().zip(tangent.siemens) {
                sum += s.abs() * (self.volts[a as usize].abs() + self.volts[b as usize].abs());
            }
            size[flow.from as usize] += sum;
            size[flow.to as usize] += sum;
        }
        for extra in &plan.extras {
            size[extra.plus as usize] += self.x[extra.column as usize].abs();
            size[extra.minus as usize] += self.x[extra.column as usize].abs();
        }
        for tie in plan.ties.iter().rev() {
            size[tie.parent as usize] += size[tie.node as usize];
        }
        let (mut worst, mut within) = (0.0_f64, true);
        for &root in &plan.roots {
            let left = self.node_amps[root as usize].abs();
            worst = worst.max(left);
            within &= left <= 1e-11 + 256.0 * EPS * size[root as usize];
        }
        for extra in &plan.extras {
            let volts = self.volts[extra.plus as usize].abs() + self.volts[extra.minus as usize].abs();
            within &= self.rhs[extra.row as usize].abs() <= 1e-9 * (1.0 + volts);
        }
        self.sizes = size;
        (worst, within)
    }

    /// The node where most current is left over.
    pub(crate) fn worst_node(&self, plan: &Plan) -> Option<u32> {
        plan.roots.iter().copied().max_by(|&a, &b| {
            self.node_amps[a as usize]
                .abs()
                .total_cmp(&self.node_amps[b as usize].abs())
        })
    }

    /// Factors with the bent elements linearised at `points`.
    pub(crate) fn linearise(&mut self, netlist: &Netlist, states: &States, plan: &Plan, points: &[Point]) {
        self.begin(netlist, plan, None);
        self.load(netlist, states, plan, 1.0, 0.0);
        self.points.copy_from_slice(points);
        self.correct(netlist, plan);
        self.residual(plan);
    }

    /// Solves for `states`, by whatever way works. [`Work::begin`] has been called.
    pub(crate) fn solve(&mut self, netlist: &Netlist, states: &States, plan: &Plan) -> bool {
        self.restless = None;
        self.load(netlist, states, plan, 1.0, 0.0);
        if self.settle(netlist, plan, GUESSED) {
            return true;
        }
        self.begin_at_rest(netlist, plan);
        self.load(netlist, states, plan, 1.0, 0.0);
        if self.settle(netlist, plan, ROUNDS + 4 * plan.bent.len()) {
            return true;
        }
        self.try_pieces(netlist, states, plan)
            || self.step_leaks(netlist, states, plan)
            || self.step_sources(netlist, states, plan)
    }

    /// From a leak of 1 siemens at every node down to none, each step as long as the one before allows.
    fn step_leaks(&mut self, netlist: &Netlist, states: &States, plan: &Plan) -> bool {
        self.begin_at_rest(netlist, plan);
        let (mut leak, mut factor) = (1.0_f64, 0.1_f64);
        let mut reached = None;
        loop {
            let (x, points) = (self.x.clone(), self.points.clone());
            self.load(netlist, states, plan, 1.0, leak);
            if self.settle(netlist, plan, STEP) {
                if leak == 0.0 {
                    return true;
                }
                reached = Some(leak);
                factor = (factor * factor).max(0.1);
            } else {
                (self.x, self.points) = (x, points);
                factor = factor.sqrt();
                if reached.is_none() || factor > 0.99 {
                    return false;
                }
            }
            leak = reached.unwrap_or(leak) * factor;
            if leak < 1e-15 {
                leak = 0.0;
            }
        }
    }

    fn step_sources(&mut self, netlist: &Netlist, states: &States, plan: &Plan) -> bool {
        self.begin_at_rest(netlist, plan);
        let (mut done, mut step) = (0.0_f64, 0.1_f64);
        while done < 1.0 {
            let (x, points) = (self.x.clone(), self.points.clone());
            let next = (done + step).min(1.0);
            self.load(netlist, states, plan, next, 0.0);
            if self.settle(netlist, plan, STEP) {
                done = next;
                step *= 2.0;
            } else {
                (self.x, self.points) = (x, points);
                step *= 0.25;
                if step < 1e-4 {
                    // Leave the currents of the whole circuit for the report.
                    self.load(netlist, states, plan, 1.0, 0.0);
                    self.correct(netlist, plan);
                    self.residual(plan);
                    self.kcl_residual_amps = self.imbalance(plan).0;
                    return false;
                }
            }
        }
        true
    }
}

/// Conductance, volts at which it carries `amps`, and `amps`, of an element whose law is a straight line.
pub(crate) fn straight(element: &Element, state: bool, drive: f64) -> (f64, f64, f64) {
    let siemens = element.ohms(state).map_or(0.0, |ohms| 1.0 / ohms);
    match *element {
        Element::VoltageSource { volts, .. } => (siemens, drive * volts, 0.0),
        Element::CurrentSource { amps, .. } => (0.0, 0.0, drive * amps),
        Element::VoltageControlledCurrent { siemens, .. } => (siemens, 0.0, 0.0),
        _ => (siemens, 0.0, 0.0),
    }
}

fn equation(netlist: &Netlist, element: u32, control: Control, drive: f64) -> Equation {
    match netlist.elements[element as usize] {
        Element::VoltageControlledVoltage { gain, .. } => Equation {
            k: gain,
            ..Equation::default()
        },
        Element::VoltageSource { volts, .. } => Equation {
            rhs: drive * volts,
            ..Equation::default()
        },
        Element::CurrentControlledVoltage { ohms, through, .. } => {
            match (control, &netlist.elements[through.0 as usize]) {
                (Control::Voltage(_), Element::VoltageSource { volts, ohms: inner, .. }) => Equation {
                    k: ohms / inner,
                    at: drive * volts,
                    rhs: 0.0,
                },
                _ => Equation {
                    k: ohms,
                    ..Equation::default()
                },
            }
        }
        _ => Equation::default(),
    }
}
