//! The sweep's inner loop asks the allocator for nothing.

mod common;

use common::{Mix, network};
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, NodeId, States};

#[test]
fn reading_allocates_nothing_once_its_room_has_grown() {
    for bent in [false, true] {
        let mix = Mix {
            ohms: (1.0, 1e4),
            bent,
            controlled: false,
        };
        let netlist = network(3, 60, mix);
        let resistors = netlist
            .iter()
            .filter(|(_, element)| matches!(element, Element::Resistor { .. }));
        let ports: Vec<Port> = resistors.map(|(element, _)| Port::Series { element }).collect();
        let probes: Vec<Probe> = (1..9).map(|node| Probe::Volts(NodeId(node), NodeId::GROUND)).collect();
        let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
            .unwrap()
            .unwrap();
        let all = [1e-3, 1.0, 1e3, 1e6];
        let (single, pairs) = (Strengths::single(&all), Strengths::pairs(&all, &all));
        let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
        let mut read = || {
            for port in 0..ports.len() {
                sweep.read(&[port], &single, &mut readings, &mut scratch);
                sweep.read(&[port, (port + 1) % ports.len()], &pairs, &mut readings, &mut scratch);
            }
        };
        read();
        let counted = allocation_counter::measure(read);
        assert_eq!(counted.count_total, 0, "bent elements: {bent}");
    }
}
