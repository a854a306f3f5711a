//! How a reading changes with everything at once: one solve with the transpose of the factor that the operating point left.
//!
//! A *reading* is a weighted sum of node voltages. To first order; discrete states and straight pieces stay as they are.
//! On an island weights must sum to 0 to mean anything; otherwise the island's own arbitrary 0 is the black lead.
//!
//! Source: adjoint network, Director and Rohrer, IEEE Trans. CT-16(3), 1969.

use crate::law::{Junction, Point};
use crate::linearised::{self, difference};
use crate::plan::Control;
use crate::{Element, ElementId, NodeId, Solution};

/// A value of an [`Element`], named as its field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(missing_docs, reason = "named as the fields of `Element`")]
pub enum Parameter {
    Volts,
    Ohms,
    Amps,
    Siemens,
    Gain,
    SaturationAmps,
    ThermalVolts,
    SeriesOhms,
    BreakdownVolts,
    OffsetVolts,
    DropoutVolts,
    SourceLimitAmps,
    SinkLimitAmps,
    KneeVolts,
    RatedVolts,
    RatedWatts,
    HotToCold,
    ClosedOhms,
    OnOhms,
    OffOhms,
}

/// The derivatives of one reading.
#[derive(Clone, Debug)]
pub struct Adjoint<'a> {
    solution: &'a Solution,
    weights: Vec<(NodeId, f64)>,
    /// By row of the matrix.
    rows: Vec<f64>,
    /// Derivative by the volts of each tie.
    ties: Vec<f64>,
    /// Whether a weight hangs on an island.
    adrift: bool,
}

impl Solution {
    /// The derivatives of the reading `Σ weight · v(node)`. Nodes that the netlist lacks are ignored.
    pub fn adjoint(&self, weights: &[(NodeId, f64)]) -> Adjoint<'_> {
        let plan = &*self.at.fixed.plan;
        let weights: Vec<_> = weights
            .iter()
            .copied()
            .filter(|(node, _)| (node.0 as usize) < plan.n_nodes)
            .collect();
        let rows = self.at.row(&weights);
        let adrift = self.islands.iter().any(|island| {
            let of_island = weights.iter().filter(|(node, _)| island.contains(node));
            let (sum, size) = of_island.fold((0.0, 0.0), |(sum, size), (_, w)| (sum + w, size + w.abs()));
            sum.abs() > 1e-12 * size
        });
        let mut adjoint = Adjoint {
            solution: self,
            weights,
            rows,
            ties: vec![0.0; plan.ties.len()],
            adrift,
        };
        if !plan.ties.is_empty() {
            adjoint.follow_ties();
        }
        adjoint
    }
}

impl Adjoint<'_> {
    fn row(&self, row: u32) -> f64 {
        self.rows.get(row as usize).copied().unwrap_or(0.0)
    }

    /// Derivative by amperes injected into a node from the reference, ohms.
    pub fn injected(&self, node: NodeId) -> f64 {
        self.solution
            .at
            .fixed
            .plan
            .kcl_row
            .get(node.0 as usize)
            .map_or(0.0, |&row| self.row(row))
    }

    /// What each node's voltage, moved alone, would do to the reading and, through the currents, to the balance; summed up
    /// the trees of ties it is the derivative by each tie's volts.
    fn follow_ties(&mut self) {
        let plan = &*self.solution.at.fixed.plan;
        let mut by_node = vec![0.0; plan.n_nodes];
        for &(node, weight) in &self.weights {
            by_node[node.0 as usize] += weight;
        }
        for (flow, tangent) in self.solution.at.flows() {
            let across = self.injected(NodeId(flow.from)) - self.injected(NodeId(flow.to));
            for (&(a, b), siemens) in flow.controls.iter().zip(tangent.siemens) {
                by_node[a as usize] -= across * siemens;
                by_node[b as usize] += across * siemens;
            }
        }
        for (at, extra) in plan.extras.iter().enumerate() {
            let weight = self.row(extra.row);
            by_node[extra.plus as usize] -= weight;
            by_node[extra.minus as usize] += weight;
            if let Control::Voltage((a, b)) = extra.control {
                by_node[a as usize] += weight * self.solution.at.fixed.equations[at].k;
                by_node[b as usize] -= weight * self.solution.at.fixed.equations[at].k;
            }
        }
        for (at, tie) in plan.ties.iter().enumerate().rev() {
            self.ties[at] = by_node[tie.node as usize];
            by_node[tie.parent as usize] += by_node[tie.node as usize];
        }
    }

    /// Resistance seen between the weighted nodes, `wᵀA⁻¹w`, ohms: with weights 1 and -1 the Thevenin resistance. Infinite
    /// where the weights on an island do not sum to 0.
    pub fn resistance_seen(&self) -> f64 {
        if self.adrift {
            return f64::INFINITY;
        }
        self.weights
            .iter()
            .map(|&(node, weight)| weight * self.injected(node))
            .sum()
    }

    /// Derivative by a conductance added between two nodes, reading per siemens.
    pub fn by_bridge(&self, a: NodeId, b: NodeId) -> f64 {
        let volts = self.solution.volts(a) - self.solution.volts(b);
        -(self.injected(a) - self.injected(b)) * volts
    }

    /// Derivative by the resistance that the element has now (`ohms`, `closed_ohms`, `on_ohms` or `off_ohms`, a junction's
    /// `series_ohms`), reading per ohm; 0 if it has none or is out of the circuit.
    pub fn by_ohms(&self, element: ElementId) -> f64 {
        let parameter = match self.solution.at.element(element.0) {
            Some(Element::RelayContact { .. }) => Parameter::ClosedOhms,
            Some(Element::Driver { commanded, .. }) => {
                let tripped = self.solution.states.at(element.0 as usize);
                if *commanded && !tripped {
                    Parameter::OnOhms
                } else {
                    Parameter::OffOhms
                }
            }
            Some(Element::Diode { .. } | Element::Clamp { .. }) => Parameter::SeriesOhms,
            _ => Parameter::Ohms,
        };
        self.by_value(element, parameter)
    }

    /// Derivative by a value of an element, reading per its unit; 0 for a value that the element lacks or that does not
    /// act at this operating point.
    pub fn by_value(&self, element: ElementId, parameter: Parameter) -> f64 {
        let (solution, plan) = (self.solution, &*self.solution.at.fixed.plan);
        let at = element.0 as usize;
        let Some(of) = solution.at.element(element.0) else {
            return 0.0;
        };
        if plan.ideal.get(at) == Some(&true) {
            if !names(of, solution.states.at(at), parameter) {
                return 0.0;
            }
            let tie = plan.ties.iter().position(|tie| tie.element == element.0);
            let by_volts = match tie {
                Some(tie) => plan.ties[tie].sign * self.ties[tie],
                None => plan
                    .extras
                    .iter()
                    .find(|e| e.element == element.0)
                    .map_or(0.0, |e| self.row(e.row)),
            };
            // A resistance that grows from 0 lets the element's current drop volts, a source's against its own.
            return match (of, parameter) {
                (_, Parameter::Volts) => by_volts,
                _ => by_volts * solution.amps(element),
            };
        }
        let mut total = 0.0;
        let point = solution.at.point(element.0);
        let state = solution.states.at(at);
        for (which, flow, tangent) in solution.at.flows_of(element.0) {
            let active = !matches!(of, Element::Output { .. }) || (which == u32::from(point.piece < 2));
            if active {
                let volts = flow.controls.map(|pair| difference(&solution.node_volts, pair));
                let amps = linearised::amps(&flow, &tangent, &solution.node_volts);
                let by = partial(of, parameter, state, point, tangent.siemens[0], amps, volts);
                total -= (self.injected(NodeId(flow.from)) - self.injected(NodeId(flow.to))) * by;
            }
        }
        for (extra, equation) in plan.extras.iter().zip(&solution.at.fixed.equations) {
            if matches!(extra.control, Control::Nothing) {
                continue;
            }
            let control = solution.control(extra) - equation.at;
            let by = match (
                of,
                parameter,
                &solution.at.fixed.netlist.elements[extra.element as usize],
            ) {
                (Element::VoltageControlledVoltage { .. }, Parameter::Gain, _) if extra.element == element.0 => control,
                (
                    Element::CurrentControlledVoltage { .. },
                    Parameter::Ohms,
                    Element::CurrentControlledVoltage { through, .. },
                ) if extra.element == element.0 => solution.amps(*through),
                (Element::VoltageSource { ohms, .. }, _, Element::CurrentControlledVoltage { through, .. })
                    if *through == element =>
                {
                    match parameter {
                        Parameter::Volts => -equation.k,
                        Parameter::Ohms => -equation.k * control / ohms,
                        _ => 0.0,
                    }
                }
                _ => 0.0,
            };
            total += self.row(extra.row) * by;
        }
        total
    }
}

/// Whether `parameter` is the value that acts in an element that now joins its nodes without resistance.
fn names(of: &Element, state: bool, parameter: Parameter) -> bool {
    match *of {
        Element::VoltageSource { .. } => matches!(parameter, Parameter::Volts | Parameter::Ohms),
        Element::RelayContact { .. } => parameter == Parameter::ClosedOhms,
        Element::Driver { commanded, .. } => {
            parameter
                == if commanded && !state {
                    Parameter::OnOhms
                } else {
                    Parameter::OffOhms
                }
        }
        _ => parameter == Parameter::Ohms,
    }
}

/// Derivative of a flow's current by a value of its element, at fixed voltages. `siemens` and `amps` are the flow's.
pub(crate) fn partial(
    of: &Element,
    parameter: Parameter,
    state: bool,
    point: Point,
    siemens: f64,
    amps: f64,
    volts: [f64; 2],
) -> f64 {
    use Parameter as P;
    match (of, parameter) {
        (Element::Resistor { ohms, .. } | Element::VoltageSource { ohms, .. }, P::Ohms) => -amps / ohms,
        (Element::VoltageSource { ohms, .. }, P::Volts) => -1.0 / ohms,
        (Element::CurrentSource { .. }, P::Amps) => 1.0,
        (Element::VoltageControlledCurrent { .. }, P::Siemens) => volts[0],
        (Element::RelayContact { closed_ohms, .. }, P::ClosedOhms) if state => -amps / closed_ohms,
        (Element::Fuse { ohms, .. }, P::Ohms) if !state => -amps / ohms,
        (Element::Driver { on_ohms, commanded, .. }, P::OnOhms) if *commanded && !state => -amps / on_ohms,
        (
            Element::Driver {
                off_ohms, commanded, ..
            },
            P::OffOhms,
        ) if !*commanded || state => -amps / off_ohms,
        (Element::Diode { .. } | Element::Clamp { .. }, P::SeriesOhms) => -amps * siemens,
        (Element::Diode { .. } | Element::Clamp { .. }, _) => Junction::of(of).map_or(0.0, |junction| {
            let slope = junction.current(point.volts).1;
            siemens / slope * junction.partial(point.volts, parameter)
        }),
        (Element::Output { ohms, .. }, _) if point.piece == 1 || (point.piece == 2 && point.target != 0) => {
            match (parameter, point.target) {
                (P::OffsetVolts, 1) => 1.0 / ohms,
                (P::Gain, 1) => volts[0] / ohms,
                (P::DropoutVolts, 2) => -1.0 / ohms,
                (P::Ohms, _) => -amps / ohms,
                _ => 0.0,
            }
        }
        (Element::Output { .. }, P::SourceLimitAmps) if point.piece == 3 => 1.0,
        (Element::Output { .. }, P::SinkLimitAmps) if point.piece == 0 => -1.0,
        (Element::CurrentSink { knee_volts, .. }, P::Amps) => match point.piece {
            0 => 0.0,
            1 => volts[0] / knee_volts,
            _ => 1.0,
        },
        (Element::CurrentSink { knee_volts, .. }, P::KneeVolts) if point.piece == 1 => -amps / knee_volts,
        (
            Element::Lamp {
                rated_volts,
                rated_watts,
                hot_to_cold,
                ..
            },
            _,
        ) => {
            let cold4 = hot_to_cold.powi(-4);
            let hot4 = (volts[0].abs() / rated_volts).powf(1.8);
            match parameter {
                P::RatedWatts => amps / rated_watts,
                P::RatedVolts => amps / rated_volts * (0.45 * hot4 / (cold4 + hot4) - 2.0),
                P::HotToCold => amps / hot_to_cold * cold4 / (cold4 + hot4),
                _ => 0.0,
            }
        }
        _ => 0.0,
    }
}
