//! The sweep on networks that nobody would draw.

mod common;

use common::anything::anything;
use common::ports::put_in;
use common::whole;
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, Netlist, NodeId, Outcome, Solution, Solver, States};

const OHMS: [f64; 4] = [0.0, 0.3, 1e4, f64::INFINITY];

/// Whatever the network, there is an answer or an error that names what is wrong; no panic. What is answered without a whole
/// solve is what a whole solve says, unless the circuit has more than one operating point.
#[test]
fn any_network_is_swept_or_left() {
    let (mut left, mut read, mut beyond, mut compared, mut apart) = (0, 0, 0, 0, Vec::new());
    let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
    for seed in 0..6000 {
        let netlist = anything(seed);
        let states = States::initial(&netlist);
        let n_nodes = netlist.n_nodes as u32;
        let branches = netlist.iter().map(|(element, _)| Port::Series { element });
        let shunts = (1..n_nodes).map(|node| Port::Shunt {
            a: NodeId(node),
            b: NodeId(node * 3 % n_nodes),
        });
        let ports: Vec<Port> = branches.chain(shunts).collect();
        let probes: Vec<Probe> = (1..n_nodes)
            .map(|node| Probe::Volts(NodeId(node), NodeId::GROUND))
            .collect();
        let Ok(Some(sweep)) = Sweep::new(&netlist, &states, &ports, &probes) else {
            left += 1;
            continue;
        };
        for one in 0..ports.len() {
            let other = (one * 5 + 2) % ports.len();
            let strengths = Strengths::pairs(&OHMS, &[0.0, 2.0]);
            sweep.read(&[one, other], &strengths, &mut readings, &mut scratch);
            for hypothesis in 0..strengths.len() {
                read += 1;
                if readings.beyond()[hypothesis] {
                    beyond += 1;
                    continue;
                }
                let pair = [OHMS[hypothesis / 2], [0.0, 2.0][hypothesis % 2]];
                let Some(changed) = changed(&netlist, [ports[one], ports[other]], pair).filter(|_| one != other) else {
                    continue;
                };
                let Some(whole) = whole(&changed) else { continue };
                // A controlled source can multiply the 1e-10 at which a junction counts as settled by anything.
                let controlled = |element: &Element| matches!(element, Element::VoltageControlledCurrent { .. });
                if netlist.elements.iter().any(controlled) || !whole.islands.is_empty() || whole.error_volts() > 1e-7 {
                    continue;
                }
                compared += 1;
                let ours: Vec<f64> = (0..probes.len()).map(|probe| readings.of(probe)[hypothesis]).collect();
                let near = |solution: &Solution| {
                    let theirs = &solution.node_volts[1..];
                    ours.iter()
                        .zip(theirs)
                        .all(|(a, b)| (a - b).abs() <= 1e-6 * (1.0 + b.abs()))
                };
                if !near(&whole) && !stays(&changed, &ours, near) {
                    apart.push(format!(
                        "seed {seed} {:?} {:?} {pair:?}: {ours:?} for {:?}",
                        ports[one],
                        ports[other],
                        &whole.node_volts[1..]
                    ));
                }
            }
            sweep.solve_rest(&[one, other], &strengths, &mut readings).ok();
        }
    }
    println!(
        "{left} left, {read} read, {beyond} beyond, {compared} compared, {} apart",
        apart.len()
    );
    assert!(compared > 1500, "{compared}");
    // Two circuits of which only femtoamperes through blocking junctions set the voltages.
    let mut seeds: Vec<&str> = apart.iter().filter_map(|told| told.split(' ').nth(1)).collect();
    seeds.dedup();
    assert!(seeds.len() <= 2, "{} apart\n{}", apart.len(), apart.join("\n"));
}

/// The netlist with both strengths written in; `None` where that is not plain to write.
fn changed(netlist: &Netlist, ports: [Port; 2], strengths: [f64; 2]) -> Option<Netlist> {
    let mut netlist = netlist.clone();
    let mut both = ports.into_iter().zip(strengths);
    both.all(|(port, strength)| put_in(&mut netlist, port, strength))
        .then_some(netlist)
}

/// Whether a whole solve that starts from these voltages stays there: another operating point.
fn stays(netlist: &Netlist, volts: &[f64], near: impl Fn(&Solution) -> bool) -> bool {
    let guess: Vec<f64> = std::iter::once(0.0).chain(volts.iter().copied()).collect();
    let again =
        Solver::new(netlist).and_then(|mut solver| solver.solve_from(netlist, &States::initial(netlist), &guess));
    matches!(again, Ok(Outcome::Converged(found)) if near(&found))
}
