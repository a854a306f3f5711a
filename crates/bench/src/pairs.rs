//! What one voltmeter reads under all pairs of faults, in a sweep: nanoseconds each.
//!
//! A pair is swept where each fault is one port (ohms in series with a branch, a leak or a short between two points) and
//! where it leaves every fuse, contact and driver as the healthy circuit has it, in ordinary use, on the way to the set-up
//! and with the meter in place. Any other pair is marked as beyond; [`Predict::predict`](crate::Predict::predict) answers it.

use circuit::{Change, Circuit, Fault, OPEN_OHMS, Passing};
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, ElementId, Netlist, States};
use rayon::prelude::*;

use crate::bench::Bench;
use crate::error::BenchError;
use crate::history::carried;
use crate::lower::{LEAST_OHMS, Layout};
use crate::lowered::Lowered;
use crate::prediction::Hypothesis;
use crate::test::{Placement, Test};

/// See the module.
#[derive(Debug)]
pub struct Pairs {
    /// In ordinary use and on the way to the set-up: only their states are of interest.
    on_the_way: Vec<Stage>,
    asked: Stage,
    /// By fault: its port, and its only strength where it has no severity.
    ports: Vec<Option<Ported>>,
}

/// One set-up of the healthy circuit, swept.
#[derive(Debug)]
struct Stage {
    sweep: Sweep,
    /// Probes of coils that are pulled in, with the least volts that pull in.
    coils: Vec<(usize, f64)>,
}

/// A fault as a port.
#[derive(Clone, Copy, Debug)]
struct Ported {
    port: usize,
    kind: Kind,
    /// Severity to use where the fault has none.
    fixed: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Series,
    Shunt,
}

/// Room for one thread.
#[derive(Debug, Default)]
pub struct PairRoom {
    readings: Readings,
    way: Readings,
    scratch: Scratch,
    volts: Vec<f64>,
}

impl Bench {
    /// Makes all pairs of `faults` ready to be read by a voltmeter test, the uncertain parameters at `theta` (empty for their
    /// centre). `None` for another instrument, while something
    /// repeats, or where the healthy circuit cannot be swept.
    ///
    /// # Errors
    /// As [`Predict::predict`](crate::Predict::predict).
    pub fn pairs(&self, test: &Test, theta: &[f64], faults: &[Fault]) -> Result<Option<Pairs>, BenchError> {
        let Placement::Voltmeter { red, black } = test.placement else {
            return Ok(None);
        };
        let passing = self.circuit().passing(&test.set_up);
        let [Passing { set_up, .. }] = passing.as_slice() else {
            return Ok(None);
        };
        let Some(mut exported) = self.solved(&Hypothesis::default(), set_up, theta, Some(&test.placement))? else {
            return Ok(None);
        };
        let layout = self.layout();
        exported.put_in(layout, Some(&test.placement));
        let (ports, of_fault) = ports(self.circuit(), layout, &exported.lowered, faults);
        let prepared = self.prepare(set_up, theta)?;
        let mut on_the_way = Vec::new();
        let mut start = exported.lowered.at_rest();
        for (ready, is_before) in prepared.stages() {
            let Some((stage, states)) = Stage::new(&ready.lowered.netlist(), &ready.lowered.at_rest(), &ports, &[])?
            else {
                return Ok(None);
            };
            if is_before {
                start = carried(&states, &exported.lowered, true);
            }
            on_the_way.push(stage);
        }
        let (red, black) = (layout.node(red), layout.node(black));
        let netlist = exported.lowered.netlist();
        let Some((asked, states)) = Stage::new(&netlist, &start, &ports, &[Probe::Volts(red, black)])? else {
            return Ok(None);
        };
        // What is blown or shut off in the healthy circuit came there by a way that a sweep does not follow.
        let shut = netlist.iter().any(|(id, element)| {
            matches!(element, Element::Fuse { .. } | Element::Driver { .. }) && states.get(id) == Some(true)
        });
        Ok((!shut).then_some(Pairs {
            on_the_way,
            asked,
            ports: of_fault,
        }))
    }
}

impl Stage {
    fn new(
        netlist: &Netlist,
        start: &States,
        ports: &[Port],
        probes: &[Probe],
    ) -> Result<Option<(Self, States)>, BenchError> {
        let error = |source| BenchError::Network { source };
        let network::Outcome::Converged(solution) = network::solve(netlist, start).map_err(error)? else {
            return Ok(None);
        };
        let mut probes = probes.to_vec();
        let mut coils = Vec::new();
        for (id, element) in netlist.iter() {
            if let Element::RelayContact {
                coil_plus,
                coil_minus,
                pull_in_volts,
                normally_closed,
                ..
            } = *element
                && solution.states.get(id).is_some_and(|closed| closed != normally_closed)
            {
                coils.push((probes.len(), pull_in_volts));
                probes.push(Probe::Volts(coil_plus, coil_minus));
            }
        }
        let sweep = Sweep::new(netlist, start, ports, &probes).map_err(error)?;
        Ok(sweep.map(|sweep| (Self { sweep, coils }, solution.states)))
    }

    /// Whether a hypothesis leaves every state as it is, and would have pulled in the relays that are in.
    fn stands(&self, readings: &Readings, hypothesis: usize) -> bool {
        let pulls_in = |&(probe, least): &(usize, f64)| readings.of(probe)[hypothesis].abs() >= least;
        !readings.beyond()[hypothesis] && self.coils.iter().all(pulls_in)
    }
}

impl Pairs {
    /// Whether a fault can be swept.
    pub fn takes(&self, fault: usize) -> bool {
        self.ports.get(fault).is_some_and(Option::is_some)
    }

    /// What the voltmeter shows under two different faults at all pairs of their severities, the second one's fastest; NaN
    /// where that is beyond the sweep. `None` if one of them is no port.
    pub fn read<'r>(&self, faults: [usize; 2], severities: [&[f64]; 2], room: &'r mut PairRoom) -> Option<&'r [f64]> {
        let [one, other] = [
            *self.ports.get(faults[0])?.as_ref()?,
            *self.ports.get(faults[1])?.as_ref()?,
        ];
        let strengths = Strengths::pairs(&one.strengths(severities[0]), &other.strengths(severities[1]));
        let ports = [one.port, other.port];
        let PairRoom {
            readings,
            way,
            scratch,
            volts,
        } = room;
        self.asked.sweep.read(&ports, &strengths, readings, scratch);
        volts.clear();
        volts.extend(readings.of(0).iter().enumerate().map(|(at, &volts)| {
            if self.asked.stands(readings, at) {
                volts
            } else {
                f64::NAN
            }
        }));
        for stage in &self.on_the_way {
            stage.sweep.read(&ports, &strengths, way, scratch);
            for (at, volts) in volts.iter_mut().enumerate() {
                if !stage.stands(way, at) {
                    *volts = f64::NAN;
                }
            }
        }
        Some(volts)
    }

    /// All pairs of the faults that are ports, in parallel: `then` takes what each pair reads at its severities, and its
    /// results come in the order of the pairs whatever the number of threads.
    pub fn all<T: Send>(
        &self,
        severities: &[Vec<f64>],
        then: impl Fn([usize; 2], &[f64]) -> T + Sync,
    ) -> Vec<([usize; 2], T)> {
        let n = self.ports.len().min(severities.len());
        let rows: Vec<Vec<_>> = (0..n)
            .into_par_iter()
            .map_init(PairRoom::default, |room, one| {
                (one + 1..n)
                    .filter_map(|other| {
                        let read = self.read([one, other], [&severities[one], &severities[other]], room)?;
                        Some(([one, other], then([one, other], read)))
                    })
                    .collect()
            })
            .collect();
        rows.into_iter().flatten().collect()
    }
}

impl Ported {
    fn strengths(&self, severities: &[f64]) -> Vec<f64> {
        let all = match &self.fixed {
            Some(only) => std::slice::from_ref(only),
            None => severities,
        };
        all.iter()
            .map(|&severity| match self.kind {
                Kind::Series => severity,
                Kind::Shunt => 1.0 / severity.max(LEAST_OHMS),
            })
            .collect()
    }
}

/// The ports of faults that are one, each once, and which a fault has.
fn ports(circuit: &Circuit, layout: &Layout, lowered: &Lowered, faults: &[Fault]) -> (Vec<Port>, Vec<Option<Ported>>) {
    let mut ports: Vec<Port> = Vec::new();
    let of_fault = faults
        .iter()
        .map(|fault| {
            let [change] = &fault.changes[..] else { return None };
            // Contacts move by their coil's current: a coil of more ohms needs other thresholds than those that are watched.
            let is_coil = |id: ElementId| circuit.relays.iter().any(|relay| relay.coil.0 == id.0);
            let straight = |id: ElementId| {
                !is_coil(id)
                    && matches!(
                        lowered.element(id),
                        Some(
                            Element::Resistor { .. }
                                | Element::VoltageSource { .. }
                                | Element::Fuse { .. }
                                | Element::RelayContact { .. }
                        )
                    )
            };
            let (port, kind, fixed) = match *change {
                Change::AddSeries(branch) if straight(ElementId(branch.0)) => (
                    Port::Series {
                        element: ElementId(branch.0),
                    },
                    Kind::Series,
                    None,
                ),
                Change::Open(branch)
                    if straight(ElementId(branch.0))
                        && matches!(lowered.element(ElementId(branch.0)), Some(Element::Resistor { .. })) =>
                {
                    (
                        Port::Series {
                            element: ElementId(branch.0),
                        },
                        Kind::Series,
                        Some(OPEN_OHMS),
                    )
                }
                Change::Bridge(a, b) => (shunt(layout, a, b), Kind::Shunt, None),
                Change::BridgeOhms(a, b, ohms) => (shunt(layout, a, b), Kind::Shunt, Some(ohms)),
                _ => return None,
            };
            let at = ports.iter().position(|known| *known == port).unwrap_or_else(|| {
                ports.push(port);
                ports.len() - 1
            });
            Some(Ported { port: at, kind, fixed })
        })
        .collect();
    (ports, of_fault)
}

fn shunt(layout: &Layout, a: circuit::PointId, b: circuit::PointId) -> Port {
    Port::Shunt {
        a: layout.node(a),
        b: layout.node(b),
    }
}
