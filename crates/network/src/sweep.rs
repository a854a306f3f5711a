//! Millions of hypotheses about one circuit in fixed states, nanoseconds each.
//!
//! A *port* is where a hypothesis puts something in: ohms in series with a branch, siemens between two nodes, volts or
//! amperes more. Each port hears something (a current, a voltage) and what it puts in is that times its strength. With
//! `u` heard when nothing is put in and `K` what one port hears less per unit put in at another,
//!
//! ```text
//! (1/strength + K) put = u          one port: put = u / (1/strength + K)
//! reading = base + Σ response · put
//! ```
//!
//! (Sherman, Morrison 1950; Woodbury 1950). In a passive network `K`, and the determinants of two ports, have terms of one
//! sign only in this form, since series ports hear currents and shunt ports voltages: an open contact and a short lose no
//! digits. Whatever does cancel (the drop across a good contact, two ports nearly in the same place) cancels in the
//! preparation, which is made to thirty digits (`columns.rs`).
//!
//! Bent elements are ports too. Their tangents are kept while they hold; where a hypothesis moves one, Newton runs on as
//! many unknowns as there are ports that moved (`moved.rs`).
//!
//! Limits: no islands, no controlled voltage sources and no gigavolts in the circuit. A hypothesis that contradicts a
//! discrete state (fuse, contact, driver), or loses digits, is marked as beyond the sweep; [`Sweep::solve_rest`] solves it
//! whole.

mod linear;
mod moved;
mod readings;
mod rest;
mod slopes;
mod table;

pub use linear::Strengths;
pub use readings::Readings;
pub use slopes::By;

use self::moved::Moved;
use self::table::Table;
use crate::{ElementId, Netlist, NetworkError, NodeId, Outcome, Solver, States, Variations};
use rayon::prelude::*;

/// A circuit with more volts than this is not swept: a microvolt is all that is left of their digits.
const MOST_VOLTS: f64 = 1e10;

/// Where a hypothesis puts something in. Its strength is 0 for the circuit as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Port {
    /// Siemens between two nodes.
    Shunt {
        /// One node.
        a: NodeId,
        /// The other.
        b: NodeId,
    },
    /// More ohms in series with a straight branch: resistor, source with ohms, whole fuse, closed contact, driver.
    Series {
        /// The branch.
        element: ElementId,
    },
    /// More volts from a source with ohms.
    Volts {
        /// The source.
        element: ElementId,
    },
    /// More amperes out of node `from` into node `to`.
    Amps {
        /// Where they leave.
        from: NodeId,
        /// Where they enter.
        to: NodeId,
    },
}

/// What is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Probe {
    /// Volts of the first node against the second.
    Volts(NodeId, NodeId),
    /// Amperes of an element, counted as [`crate::Element`] says.
    Amps(ElementId),
}

/// See the module. Shared between threads.
#[derive(Debug)]
pub struct Sweep {
    netlist: Netlist,
    states: States,
    ports: Vec<Port>,
    probes: Vec<Probe>,
    table: Table,
    /// Of the table's bent elements.
    bent_ids: Vec<ElementId>,
    variations: Variations,
}

/// Memory of one thread, reused from hypothesis to hypothesis.
#[derive(Debug, Default)]
pub struct Scratch {
    moved: Moved,
}

impl Sweep {
    /// Solves the circuit from `start` and prepares it for the `ports`, read at the `probes`. `None` if it does not
    /// settle or is not of the kind that can be swept: then ask [`Variations`] or a [`Solver`].
    ///
    /// # Errors
    /// As [`Solver::new`] and [`Solver::solve`]; [`NetworkError::NotThere`] of a port or probe.
    pub fn new(
        netlist: &Netlist,
        start: &States,
        ports: &[Port],
        probes: &[Probe],
    ) -> Result<Option<Self>, NetworkError> {
        check(netlist, ports, probes)?;
        let Outcome::Converged(solution) = Solver::new(netlist)?.solve(netlist, start)? else {
            return Ok(None);
        };
        let fixed = &solution.at.fixed;
        let (held, dense) = fixed.factored.held();
        // A current source into hardly anything: hypotheses that give it a way out would lose all digits of its volts.
        let adrift = solution.node_volts.iter().any(|volts| volts.abs() > MOST_VOLTS);
        if adrift || !fixed.plan.extras.is_empty() || !solution.islands.is_empty() || !held.is_empty() || dense {
            return Ok(None);
        }
        let Some(table) = Table::new(&solution, ports, probes) else {
            return Ok(None);
        };
        Ok(Some(Self {
            netlist: netlist.clone(),
            states: solution.states,
            ports: ports.to_vec(),
            probes: probes.to_vec(),
            table,
            bent_ids: fixed.plan.bent.iter().map(|&at| ElementId(at)).collect(),
            variations: Variations::new(netlist)?,
        }))
    }

    /// What the probes read with nothing put in.
    pub fn base(&self) -> &[f64] {
        &self.table.base_rounded[..self.table.n_probes]
    }

    /// Number of ports.
    pub fn n_ports(&self) -> usize {
        self.ports.len()
    }

    /// Bytes that the prepared circuit holds, the fall-back's left out.
    pub fn bytes(&self) -> usize {
        self.table.bytes()
    }

    /// One port at each of `strengths`, or two at each pair of them, into `readings`, whose memory is reused. Nothing is
    /// allocated once `readings` and `scratch` have grown. Other numbers of ports, and ports that there are not, are beyond
    /// the sweep.
    pub fn read(&self, ports: &[usize], strengths: &Strengths, readings: &mut Readings, scratch: &mut Scratch) {
        readings.clear(self.table.n_probes, strengths.len());
        if !self.takes(ports) {
            readings.beyond.fill(true);
            return;
        }
        linear::read(&self.table, ports, strengths, readings);
        if !self.table.bent.is_empty() {
            scratch.moved.settle(&self.table, ports, strengths, readings);
        }
    }

    /// The same, and what is beyond the sweep solved whole: see [`Sweep::solve_rest`].
    ///
    /// # Errors
    /// Those of [`Sweep::solve_rest`].
    pub fn answer(
        &self,
        ports: &[usize],
        strengths: &Strengths,
        readings: &mut Readings,
        scratch: &mut Scratch,
    ) -> Result<(), NetworkError> {
        self.read(ports, strengths, readings, scratch);
        self.solve_rest(ports, strengths, readings)
    }

    /// Whether these are one or two of its ports.
    fn takes(&self, ports: &[usize]) -> bool {
        matches!(ports.len(), 1 | 2) && ports.iter().all(|&port| port < self.ports.len())
    }

    /// Most by which rounding puts a probe's reading off, in its unit; infinite beyond the sweep. Where a bent element moved
    /// it is the rounding of the laws' tangents that is left out.
    pub fn error(
        &self,
        ports: &[usize],
        strengths: &Strengths,
        readings: &Readings,
        probe: usize,
        hypothesis: usize,
    ) -> f64 {
        if readings.beyond[hypothesis] {
            return f64::INFINITY;
        }
        linear::error(&self.table, ports, strengths, probe, hypothesis)
    }

    /// All pairs of different ports at each pair of strengths, in parallel: `then` takes what each pair reads, and its
    /// results come in the order of the pairs (0, 1), (0, 2) … whatever the number of threads.
    pub fn all_pairs<T: Send>(
        &self,
        strengths: &Strengths,
        then: impl Fn([usize; 2], &Readings) -> T + Sync,
    ) -> Vec<T> {
        let n = self.n_ports();
        let rows: Vec<Vec<T>> = (0..n)
            .into_par_iter()
            .map_init(<(Readings, Scratch)>::default, |(readings, scratch), one| {
                (one + 1..n)
                    .map(|other| {
                        self.read(&[one, other], strengths, readings, scratch);
                        then([one, other], readings)
                    })
                    .collect()
            })
            .collect();
        rows.into_iter().flatten().collect()
    }
}

fn check(netlist: &Netlist, ports: &[Port], probes: &[Probe]) -> Result<(), NetworkError> {
    let there = |what, position: u32, there_are: usize| {
        let fine = (position as usize) < there_are;
        if fine {
            Ok(())
        } else {
            Err(NetworkError::NotThere {
                what,
                position,
                there_are,
            })
        }
    };
    let node = |node: NodeId| there("node", node.0, netlist.n_nodes);
    let element = |element: ElementId| there("element", element.0, netlist.elements.len());
    for port in ports {
        match *port {
            Port::Shunt { a, b } | Port::Amps { from: a, to: b } => node(a).and(node(b))?,
            Port::Series { element: of } | Port::Volts { element: of } => element(of)?,
        }
    }
    for probe in probes {
        match *probe {
            Probe::Volts(a, b) => node(a).and(node(b))?,
            Probe::Amps(of) => element(of)?,
        }
    }
    Ok(())
}
