//! Time of a solve. Run with `cargo bench -p network`.
//!
//! A chain as a harness makes it: battery, milliohm links with leaks, loads, and six bent elements (diode, two clamps,
//! output, sink, lamp).

use divan::{Bencher, black_box};
use network::{Element, Netlist, NodeId, Solver, States, solve};

fn main() {
    divan::main();
}

fn chain(n_nodes: usize) -> Netlist {
    let last = n_nodes as u32 - 1;
    let at = |share: u32| NodeId(1 + (last - 1) * share / 6);
    let mut elements = vec![Element::VoltageSource {
        plus: NodeId(1),
        minus: NodeId::GROUND,
        volts: 12.6,
        ohms: 0.01,
    }];
    for node in 2..=last {
        elements.push(Element::Resistor {
            a: NodeId(node - 1),
            b: NodeId(node),
            ohms: 0.005 + 1e-4 * f64::from(node % 7),
        });
        if node % 3 == 0 {
            elements.push(Element::Resistor {
                a: NodeId(node),
                b: NodeId::GROUND,
                ohms: 100.0 + f64::from(node),
            });
        }
    }
    let g = NodeId::GROUND;
    let clamp = |anode, cathode| Element::Clamp {
        anode,
        cathode,
        saturation_amps: 1e-14,
        thermal_volts: 0.026,
        breakdown_volts: 16.0,
        series_ohms: 1.0,
    };
    elements.extend([
        Element::Diode {
            anode: at(6),
            cathode: g,
            saturation_amps: 1e-14,
            thermal_volts: 0.045,
            series_ohms: 40.0,
        },
        clamp(g, at(2)),
        clamp(g, at(4)),
        Element::Output {
            supply: at(1),
            ground: g,
            output: at(3),
            offset_volts: 5.0,
            gain: 0.0,
            dropout_volts: 0.5,
            ohms: 10.0,
            source_limit_amps: 0.1,
            sink_limit_amps: 0.02,
        },
        Element::CurrentSink {
            from: at(5),
            to: g,
            amps: 0.02,
            knee_volts: 0.5,
        },
        Element::Lamp {
            a: at(6),
            b: g,
            rated_volts: 12.0,
            rated_watts: 5.0,
            hot_to_cold: 12.0,
        },
    ]);
    Netlist { n_nodes, elements }
}

#[divan::bench(args = [30, 150, 600])]
fn plan_and_solve(bencher: Bencher, n_nodes: usize) {
    let netlist = chain(n_nodes);
    bencher.bench_local(|| solve(black_box(&netlist), &States::initial(&netlist)));
}

#[divan::bench(args = [30, 150, 600])]
fn solve_again(bencher: Bencher, n_nodes: usize) {
    let netlist = chain(n_nodes);
    let states = States::initial(&netlist);
    let mut solver = Solver::new(&netlist).expect("a sound netlist");
    bencher.bench_local(|| solver.solve(black_box(&netlist), &states));
}

/// From the voltages of a neighbouring solution: the same circuit with a battery 1 V lower.
#[divan::bench(args = [30, 150, 600])]
fn solve_from_a_neighbour(bencher: Bencher, n_nodes: usize) {
    let mut netlist = chain(n_nodes);
    let states = States::initial(&netlist);
    let mut solver = Solver::new(&netlist).expect("a sound netlist");
    let guess = solver
        .solve(&netlist, &states)
        .ok()
        .and_then(network::Outcome::converged)
        .expect("it converges")
        .node_volts;
    if let Element::VoltageSource { volts, .. } = &mut netlist.elements[0] {
        *volts -= 1.0;
    }
    bencher.bench_local(|| solver.solve_from(black_box(&netlist), &states, &guess));
}

#[divan::bench(args = [30, 150, 600])]
fn adjoint(bencher: Bencher, n_nodes: usize) {
    let netlist = chain(n_nodes);
    let solution = solve(&netlist, &States::initial(&netlist))
        .ok()
        .and_then(network::Outcome::converged)
        .expect("it converges");
    bencher.bench_local(|| solution.adjoint(black_box(&[(NodeId(7), 1.0)])).resistance_seen());
}
