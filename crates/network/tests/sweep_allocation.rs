//! The sweep's inner loop asks the allocator for nothing, and takes what it is given.

mod common;

use common::{Mix, network};
use network::sweep::{By, Port, Probe, Readings, Scratch, Strengths, Sweep};
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

#[test]
fn ports_that_there_are_not_are_beyond_and_nothing_panics() {
    for bent in [false, true] {
        let mix = Mix {
            ohms: (1.0, 1e4),
            bent,
            controlled: false,
        };
        let netlist = network(3, 20, mix);
        let ports = [1, 2].map(|node| Port::Shunt {
            a: NodeId(node),
            b: NodeId::GROUND,
        });
        let probes = [Probe::Volts(NodeId(1), NodeId::GROUND)];
        let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
            .unwrap()
            .unwrap();
        let strengths = Strengths::single(&[1e-3, 1.0]);
        let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
        let mut slopes = Vec::new();
        for asked in [&[][..], &[2], &[0, 7], &[0, 1, 0]] {
            sweep.answer(asked, &strengths, &mut readings, &mut scratch).unwrap();
            assert_eq!(readings.beyond(), [true, true], "{asked:?}");
            let found = (asked, &strengths, &readings);
            assert!(!sweep.slopes(found, 0, &[By::Strength(0)], &mut scratch, &mut slopes));
        }
        sweep.answer(&[0], &strengths, &mut readings, &mut scratch).unwrap();
        assert_eq!(readings.beyond(), [false, false]);
        let found = (&[0][..], &strengths, &readings);
        assert!(!sweep.slopes(found, 9, &[By::Strength(0)], &mut scratch, &mut slopes));
        assert!(sweep.slopes(found, 1, &[By::Strength(0), By::Strength(9)], &mut scratch, &mut slopes));
        assert_eq!(slopes[1], 0.0, "nothing is at port 9");
    }
}
