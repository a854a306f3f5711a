//! What is beyond the sweep, solved whole.

use super::{Port, Probe, Readings, Strengths, Sweep};
use crate::{Element, ElementId, Netlist, NetworkError, Outcome, Solution, Solver};

impl Sweep {
    /// Solves the hypotheses that [`Sweep::read`] marked as beyond it, as small changes where that keeps the digits and
    /// else whole, from the states of the circuit as it is and through those that follow. Those that have no stable
    /// operating point, or none that is found, stay marked.
    ///
    /// # Errors
    /// As [`Solver::new`] and [`Solver::solve`]: a strength that makes no element, an island that current flows into.
    pub fn solve_rest(
        &self,
        ports: &[usize],
        strengths: &Strengths,
        readings: &mut Readings,
    ) -> Result<(), NetworkError> {
        let taken = if self.takes(ports) { strengths.len() } else { 0 };
        for hypothesis in 0..taken {
            if !readings.beyond[hypothesis] {
                continue;
            }
            let strength = |at: usize| 1.0 / strengths.inverse(at, hypothesis);
            let changed = self.changed(
                ports
                    .iter()
                    .enumerate()
                    .map(|(at, &port)| (self.ports[port], strength(at))),
            );
            let Some(solution) = self.whole(&changed)? else {
                continue;
            };
            for (probe, what) in self.probes.iter().enumerate() {
                readings.values[probe * readings.stride + hypothesis] = match *what {
                    Probe::Volts(a, b) => solution.volts(a) - solution.volts(b),
                    Probe::Amps(element) => solution.amps(element),
                };
            }
            for (at, &port) in ports.iter().enumerate().take(2) {
                readings.put[at][hypothesis] = match self.ports[port] {
                    Port::Shunt { a, b } => (solution.volts(a) - solution.volts(b)) * strength(at),
                    Port::Series { element } => solution.amps(element) * strength(at),
                    Port::Volts { .. } | Port::Amps { .. } => strength(at),
                };
            }
            readings.beyond[hypothesis] = false;
        }
        Ok(())
    }

    /// The netlist with something put in at ports.
    fn changed(&self, put: impl Iterator<Item = (Port, f64)>) -> Netlist {
        let mut netlist = self.netlist.clone();
        for (port, strength) in put {
            match port {
                Port::Shunt { a, b } => netlist.elements.push(Element::Resistor {
                    a,
                    b,
                    ohms: 1.0 / strength,
                }),
                Port::Amps { from, to } => netlist.elements.push(Element::CurrentSource {
                    from,
                    to,
                    amps: strength,
                }),
                Port::Series { element: ElementId(at) } => {
                    add_ohms(
                        &mut netlist.elements[at as usize],
                        self.states.at(at as usize),
                        strength,
                    );
                }
                Port::Volts { element: ElementId(at) } => {
                    if let Element::VoltageSource { volts, .. } = &mut netlist.elements[at as usize] {
                        *volts += strength;
                    }
                }
            }
        }
        netlist
    }

    fn whole(&self, netlist: &Netlist) -> Result<Option<Solution>, NetworkError> {
        let start = self.states.extended(netlist);
        if let Some(changed) = self.variations.differences(netlist)
            && let Some(solution) = self.variations.solve(&changed, &start, None)?
        {
            return Ok(Some(solution));
        }
        match Solver::new(netlist)?.solve(netlist, &start)? {
            Outcome::Converged(solution) => Ok(Some(solution)),
            Outcome::NoStableState { .. } | Outcome::Stuck { .. } => Ok(None),
        }
    }
}

/// What a branch that may not be infinite is opened to.
const OPEN_OHMS: f64 = 1e300;

fn add_ohms(element: &mut Element, state: bool, more: f64) {
    let ohms = match element {
        Element::Resistor { ohms, .. } | Element::VoltageSource { ohms, .. } | Element::Fuse { ohms, .. } => ohms,
        Element::RelayContact { closed_ohms, .. } => closed_ohms,
        Element::Driver {
            on_ohms,
            off_ohms,
            commanded,
            ..
        } => {
            if *commanded && !state {
                on_ohms
            } else {
                off_ohms
            }
        }
        _ => return,
    };
    *ohms = (*ohms + more).min(OPEN_OHMS);
}
