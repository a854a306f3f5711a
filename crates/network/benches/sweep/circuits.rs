//! The circuits of the benchmark: a harness of milliohm contacts, and a sensor on a module.

use network::sweep::{Port, Probe};
use network::{Element, ElementId, Netlist, NodeId};

const G: NodeId = NodeId::GROUND;

/// A circuit, where it may be faulty, how badly, and where it is probed.
pub(crate) struct Variants {
    pub(crate) name: String,
    pub(crate) netlist: Netlist,
    pub(crate) ports: Vec<Port>,
    pub(crate) strengths: Vec<f64>,
    pub(crate) probes: Vec<Probe>,
}

/// Added ohms, from half a milliohm to as good as open.
const OHMS: [f64; 9] = [5e-4, 0.01, 0.1, 1.0, 10.0, 100.0, 1e3, 1e5, 1e7];

fn resistor(a: NodeId, b: NodeId, ohms: f64) -> Element {
    Element::Resistor { a, b, ohms }
}

fn probes(n_nodes: usize) -> Vec<Probe> {
    let last = n_nodes as u32 - 1;
    (0..8)
        .map(|k| Probe::Volts(NodeId(1 + (last - 1) * k / 7), G))
        .collect()
}

/// A battery and five wires of contacts, each with a load every third node. Ports are in series with the contacts.
pub(crate) fn harness(n_nodes: usize, n_ports: usize) -> Variants {
    let mut elements = vec![Element::VoltageSource {
        plus: NodeId(1),
        minus: G,
        volts: 12.6,
        ohms: 0.01,
    }];
    for node in 2..n_nodes as u32 {
        let before = if node < 7 { 1 } else { node - 5 };
        elements.push(resistor(
            NodeId(before),
            NodeId(node),
            0.005 + 1e-4 * f64::from(node % 7),
        ));
    }
    for node in (4..n_nodes as u32).step_by(3) {
        elements.push(resistor(NodeId(node), G, 100.0 + f64::from(node)));
    }
    let contacts = n_nodes - 2;
    let ports = (0..n_ports).map(|k| {
        if k < contacts {
            Port::Series {
                element: ElementId(1 + k as u32),
            }
        } else {
            // More faults than contacts: between neighbours.
            let a = 1 + (k % contacts) as u32;
            Port::Shunt {
                a: NodeId(a),
                b: NodeId(1 + (a + (k / contacts) as u32) % (n_nodes as u32 - 1)),
            }
        }
    });
    Variants {
        name: format!("harness, {n_nodes} nodes"),
        ports: ports.collect(),
        strengths: OHMS.to_vec(),
        probes: probes(n_nodes),
        netlist: Netlist { n_nodes, elements },
    }
}

/// A three-wire sensor of 25 nodes: current-limited reference, pull-up, clamp diodes, contacts in each wire.
pub(crate) fn sensor() -> Variants {
    let node = NodeId;
    let diode = |anode, cathode| Element::Diode {
        anode,
        cathode,
        saturation_amps: 1e-14,
        thermal_volts: 0.026,
        series_ohms: 1.0,
    };
    let mut elements = vec![
        Element::VoltageSource {
            plus: node(1),
            minus: G,
            volts: 12.6,
            ohms: 0.01,
        },
        resistor(node(1), node(2), 0.02),
        Element::Output {
            supply: node(2),
            ground: G,
            output: node(3),
            offset_volts: 5.0,
            gain: 0.0,
            dropout_volts: 0.3,
            ohms: 0.5,
            source_limit_amps: 0.05,
            sink_limit_amps: 0.0,
        },
    ];
    // Reference 3 … 9, ground 10 … 16 with the module's end first, signal 17 … 23.
    elements.push(resistor(node(10), G, 0.005));
    for first in [3, 10, 17] {
        for at in first..first + 6 {
            elements.push(resistor(node(at), node(at + 1), 0.005 + 1e-3 * f64::from(at)));
        }
    }
    elements.extend([
        resistor(node(9), node(23), 4000.0),
        resistor(node(23), node(16), 6000.0),
        resistor(node(17), node(24), 10e3),
        resistor(node(17), G, 150e3),
        diode(node(24), node(3)),
        diode(G, node(24)),
        resistor(node(24), G, 1e7),
    ]);
    let contacts: Vec<ElementId> = (4..22).map(ElementId).collect();
    Variants {
        name: "sensor, 25 nodes, 3 bent".into(),
        ports: contacts.into_iter().map(|element| Port::Series { element }).collect(),
        strengths: OHMS.to_vec(),
        probes: probes(25),
        netlist: Netlist { n_nodes: 25, elements },
    }
}
