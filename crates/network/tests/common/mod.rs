//! Random networks and what several tests need of a solution.
#![allow(dead_code, reason = "each test file uses a part of it")]
#![allow(
    clippy::allow_attributes,
    reason = "expect would fail in the test files that use everything"
)]

pub(crate) mod anything;
pub(crate) mod ports;
pub(crate) mod spice;

use network::{Element, Netlist, NodeId, Outcome, Solution, States, solve};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

pub(crate) const G: NodeId = NodeId::GROUND;

/// What a random network is made of.
#[derive(Clone, Copy)]
pub(crate) struct Mix {
    /// Resistances, ohms, log-uniform.
    pub(crate) ohms: (f64, f64),
    /// Diodes, clamps, outputs, sinks and lamps.
    pub(crate) bent: bool,
    /// A controlled source too weak (0.1 with 1 megohm) to make a second operating point or none.
    pub(crate) controlled: bool,
}

pub(crate) fn log_uniform(rng: &mut Pcg64Mcg, (low, high): (f64, f64)) -> f64 {
    (rng.random_range(low.ln()..high.ln())).exp()
}

/// A connected network with every node on a tree of resistors from the reference, more resistors, and sources; the same
/// for the same seed.
pub(crate) fn network(seed: u64, n_nodes: usize, mix: Mix) -> Netlist {
    let rng = &mut Pcg64Mcg::seed_from_u64(seed);
    let mut elements = Vec::new();
    for node in 1..n_nodes as u32 {
        let far = node.saturating_sub(5);
        let b = NodeId(if rng.random_bool(0.15) {
            0
        } else {
            rng.random_range(far..node)
        });
        elements.push(Element::Resistor {
            a: NodeId(node),
            b,
            ohms: log_uniform(rng, mix.ohms),
        });
    }
    let pair = |rng: &mut Pcg64Mcg| {
        let a = rng.random_range(0..n_nodes as u32);
        let b = (a + rng.random_range(1..n_nodes as u32)) % n_nodes as u32;
        (NodeId(a), NodeId(b))
    };
    for _ in 0..n_nodes / 2 {
        let (a, b) = pair(rng);
        elements.push(Element::Resistor {
            a,
            b,
            ohms: log_uniform(rng, mix.ohms),
        });
    }
    let battery = NodeId(rng.random_range(1..n_nodes as u32));
    elements.push(Element::VoltageSource {
        plus: battery,
        minus: G,
        volts: rng.random_range(9.0..15.0),
        ohms: 0.0,
    });
    for _ in 0..=n_nodes / 40 {
        let (a, b) = pair(rng);
        let (volts, ohms) = (rng.random_range(-15.0..15.0), log_uniform(rng, (0.01, 100.0)));
        elements.push(Element::VoltageSource {
            plus: a,
            minus: b,
            volts,
            ohms,
        });
        let (from, to) = pair(rng);
        elements.push(Element::CurrentSource {
            from,
            to,
            amps: rng.random_range(-2e-3..2e-3),
        });
    }
    if mix.controlled {
        let (plus, minus) = pair(rng);
        let (control_plus, control_minus) = pair(rng);
        let siemens = rng.random_range(-1e-7..1e-7);
        elements.push(Element::VoltageControlledCurrent {
            plus,
            minus,
            control_plus,
            control_minus,
            siemens,
        });
    }
    if mix.bent {
        let series_ohms = [0.0, 0.1, 5.0];
        for _ in 0..=n_nodes / 30 {
            let (anode, cathode) = pair(rng);
            elements.push(Element::Diode {
                anode,
                cathode,
                saturation_amps: log_uniform(rng, (1e-15, 1e-9)),
                thermal_volts: rng.random_range(0.0255..0.05),
                series_ohms: series_ohms[rng.random_range(0..3)],
            });
            let (anode, cathode) = pair(rng);
            elements.push(Element::Clamp {
                anode,
                cathode,
                saturation_amps: log_uniform(rng, (1e-15, 1e-12)),
                thermal_volts: rng.random_range(0.0255..0.04),
                breakdown_volts: rng.random_range(3.0..9.0),
                series_ohms: 1.0 + series_ohms[rng.random_range(0..3)],
            });
            let (output, _) = pair(rng);
            elements.push(Element::Output {
                supply: battery,
                ground: G,
                output,
                offset_volts: [5.0, 0.0][rng.random_range(0..2)],
                gain: [0.0, 0.5][rng.random_range(0..2)],
                dropout_volts: 0.5,
                ohms: log_uniform(rng, (0.1, 100.0)),
                source_limit_amps: log_uniform(rng, (1e-3, 0.1)),
                sink_limit_amps: [0.0, 5e-3][rng.random_range(0..2)],
            });
            let (from, to) = pair(rng);
            let (amps, knee_volts) = (log_uniform(rng, (1e-4, 1e-2)), rng.random_range(0.1..1.0));
            elements.push(Element::CurrentSink {
                from,
                to,
                amps,
                knee_volts,
            });
            let (a, b) = pair(rng);
            let rated_watts = log_uniform(rng, (1.0, 55.0));
            elements.push(Element::Lamp {
                a,
                b,
                rated_volts: 12.0,
                rated_watts,
                hot_to_cold: rng.random_range(8.0..15.0),
            });
        }
    }
    Netlist { n_nodes, elements }
}

/// The operating point from the initial states; `None` without a stable one, or where the netlist is refused.
pub(crate) fn whole(netlist: &Netlist) -> Option<Solution> {
    solve(netlist, &States::initial(netlist)).ok()?.converged()
}

#[track_caller]
pub(crate) fn solved(netlist: &Netlist) -> Solution {
    match solve(netlist, &States::initial(netlist)) {
        Ok(Outcome::Converged(solution)) => solution,
        other => panic!("{other:?}\n{netlist:?}"),
    }
}

/// Nodes between which the element's current runs: from, to. An output's comes from supply or ground.
pub(crate) fn ends(element: &Element, amps: f64) -> (NodeId, NodeId) {
    if let Element::Output {
        supply, ground, output, ..
    } = *element
    {
        return (if amps >= 0.0 { supply } else { ground }, output);
    }
    let [a, b, ..] = element.terminals();
    (a, b)
}

/// For each node the sum of element currents leaving it and the sum of their sizes.
pub(crate) fn kirchhoff(netlist: &Netlist, element_amps: &[f64]) -> Vec<(f64, f64)> {
    let mut sums = vec![(0.0, 0.0); netlist.n_nodes];
    for (element, &amps) in netlist.elements.iter().zip(element_amps) {
        let (from, to) = ends(element, amps);
        sums[from.0 as usize].0 += amps;
        sums[from.0 as usize].1 += amps.abs();
        sums[to.0 as usize].0 -= amps;
        sums[to.0 as usize].1 += amps.abs();
    }
    sums
}
