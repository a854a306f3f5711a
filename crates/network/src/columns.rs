//! What the whole circuit does for nothing, and for one ampere put in somewhere, to thirty digits.
//!
//! Solved with the factored matrix in double precision and corrected with residuals in twofold precision (iterative
//! refinement: Wilkinson, Rounding Errors in Algebraic Processes, 1963). The factor keeps row sums, so each round gains
//! most of its digits even where milliohms meet gigaohms. Differences of these voltages, such as the drop across a good
//! contact, then still have more digits than a double can hold.

use std::sync::Arc;

use crate::linearised::Fixed;
use crate::twofold::Twofold;
use crate::{Element, States};

/// Rounds of correction before the matrix counts as too ill-conditioned for this.
const ROUNDS: usize = 12;
/// The last correction, as a share of the largest voltage; and where rounding lets it become no smaller.
const CORRECTED: f64 = 1e-24;
const ROUNDED: f64 = 1e-20;

/// Volts by node and amperes by element.
#[derive(Debug)]
pub(crate) struct Column {
    pub(crate) volts: Vec<Twofold>,
    pub(crate) amps: Vec<Twofold>,
}

/// A linearised circuit with conductances to thirty digits.
pub(crate) struct Columns {
    fixed: Arc<Fixed>,
    /// By flow and control.
    siemens: Vec<[Twofold; 2]>,
}

impl Columns {
    pub(crate) fn new(fixed: Arc<Fixed>, states: &States) -> Self {
        let plan = &*fixed.plan;
        let mut siemens: Vec<[Twofold; 2]> = fixed.tangents.iter().map(|t| t.siemens.map(Twofold::from)).collect();
        for (at, element) in fixed.netlist.elements.iter().enumerate() {
            let flow = plan.flows_of[at].start as usize;
            if let Some(ohms) = element.ohms(states.at(at))
                && !plan.ideal[at]
                && ohms.is_finite()
            {
                siemens[flow][0] = Twofold::from(1.0) / ohms.into();
            }
        }
        Self { fixed, siemens }
    }

    /// Conductance of an element that is one straight branch; `None` for others, for what joins its nodes and for what is
    /// open, since a blown fuse in which more ohms are put might not have blown.
    pub(crate) fn siemens(&self, element: usize, states: &States) -> Option<Twofold> {
        let plan = &*self.fixed.plan;
        let of = self.fixed.netlist.elements.get(element)?;
        let branch = of.ohms(states.at(element)).is_some_and(f64::is_finite) && !plan.ideal[element];
        branch.then(|| self.siemens[plan.flows_of[element].start as usize][0])
    }

    /// The circuit with its sources, or without them and one ampere that leaves node `from` and enters node `to`. `None` if
    /// the digits cannot be had.
    pub(crate) fn solve(&self, ampere: Option<(u32, u32)>) -> Option<Column> {
        let plan = &*self.fixed.plan;
        let zero = Twofold::default();
        let mut x = vec![zero; plan.pattern.n];
        let (mut volts, mut node_amps, mut tie_amps) = (
            vec![zero; plan.n_nodes],
            vec![zero; plan.n_nodes],
            vec![zero; plan.ties.len()],
        );
        let mut flow_amps = vec![zero; plan.flows.len()];
        let mut rhs = vec![0.0; plan.pattern.n];
        let mut sum = |x: &[Twofold], rhs: &mut [f64]| {
            self.spread(x, ampere.is_none(), &mut volts);
            node_amps.fill(zero);
            for (at, (flow, tangent)) in plan.flows.iter().zip(&self.fixed.tangents).enumerate() {
                let sources = ampere.is_none();
                let mut amps = Twofold::from(if sources { tangent.amps } else { 0.0 });
                for k in 0..flow.n_controls {
                    if tangent.siemens[k] != 0.0 {
                        let (a, b) = flow.controls[k];
                        let mut across = volts[a as usize] - volts[b as usize];
                        if sources {
                            across = across - tangent.at[k].into();
                        }
                        amps = amps + self.siemens[at][k] * across;
                    }
                }
                flow_amps[at] = amps;
                node_amps[flow.from as usize] = node_amps[flow.from as usize] + amps;
                node_amps[flow.to as usize] = node_amps[flow.to as usize] - amps;
            }
            if let Some((from, to)) = ampere {
                node_amps[from as usize] = node_amps[from as usize] + 1.0.into();
                node_amps[to as usize] = node_amps[to as usize] - 1.0.into();
            }
            for (at, tie) in plan.ties.iter().enumerate().rev() {
                let amps = node_amps[tie.node as usize];
                tie_amps[at] = -amps;
                node_amps[tie.parent as usize] = node_amps[tie.parent as usize] + amps;
            }
            for &root in &plan.roots {
                rhs[plan.kcl_row[root as usize] as usize] = -node_amps[root as usize].value();
            }
        };
        let (mut settled, mut before) = (false, f64::INFINITY);
        for _ in 0..ROUNDS {
            sum(&x, &mut rhs);
            self.fixed.factored.solve(plan, &mut rhs);
            let (mut most, mut size) = (0.0_f64, 0.0_f64);
            for (x, &dx) in x.iter_mut().zip(&rhs) {
                *x = *x + dx.into();
                most = most.max(dx.abs());
                size = size.max(x.high.abs());
            }
            if !most.is_finite() {
                return None;
            }
            let stays = most > 0.5 * before;
            // A correction that is so much smaller than the one before foretells the next.
            let next = if before.is_finite() {
                most * (most / before)
            } else {
                most
            };
            settled = most == 0.0 || next <= CORRECTED * size || (stays && most <= ROUNDED * size);
            if settled || stays {
                break;
            }
            before = most;
        }
        sum(&x, &mut rhs);
        let mut amps: Vec<Twofold> = plan
            .flows_of
            .iter()
            .map(|range| range.clone().fold(zero, |sum, flow| sum + flow_amps[flow as usize]))
            .collect();
        for (tie, &tie_amps) in plan.ties.iter().zip(&tie_amps) {
            amps[tie.element as usize] = if tie.sign < 0.0 { -tie_amps } else { tie_amps };
        }
        settled.then_some(Column { volts, amps })
    }

    /// Volts by node from the unknowns; ties stand apart by their sources' volts where those count.
    fn spread(&self, x: &[Twofold], sources: bool, volts: &mut [Twofold]) {
        let plan = &*self.fixed.plan;
        for &root in &plan.roots {
            volts[root as usize] = x[plan.column[root as usize] as usize];
        }
        for tie in &plan.ties {
            let apart = match self.fixed.netlist.elements[tie.element as usize] {
                Element::VoltageSource { volts, .. } if sources => tie.sign * volts,
                _ => 0.0,
            };
            volts[tie.node as usize] = volts[tie.parent as usize] + apart.into();
        }
    }
}
