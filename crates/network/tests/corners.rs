//! Where Newton cycles and states chatter: current-limit corners, hard clamps, supplies that sag into dropout, relays fed
//! through their own contacts. Every random circuit settles, or its states
//! go round; then nearly always no combination of them is stable.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

mod common;

use common::{G, kirchhoff, log_uniform};
use network::{Element, Netlist, NodeId, Outcome, Solution, Solver, States, solve};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Weak supplies in a row with regulators near their limits, clamps and loads on them, and some of what has states.
fn cornered(seed: u64, n_stateful: usize) -> Netlist {
    let rng = &mut Pcg64Mcg::seed_from_u64(seed);
    let n_nodes = rng.random_range(5..14);
    let node = |rng: &mut Pcg64Mcg| NodeId(rng.random_range(1..n_nodes as u32));
    let mut elements = vec![Element::VoltageSource {
        plus: NodeId(1),
        minus: G,
        volts: rng.random_range(6.0..15.0),
        ohms: log_uniform(rng, (0.01, 50.0)),
    }];
    for at in 2..n_nodes as u32 {
        let (a, b) = (NodeId(rng.random_range(1..at)), NodeId(at));
        elements.push(Element::Resistor {
            a,
            b,
            ohms: log_uniform(rng, (0.01, 1e4)),
        });
        if rng.random_bool(0.6) {
            elements.push(Element::Resistor {
                a: b,
                b: G,
                ohms: log_uniform(rng, (10.0, 1e5)),
            });
        }
    }
    for _ in 0..rng.random_range(1..4) {
        let (supply, output) = (node(rng), node(rng));
        if supply == output {
            continue; // Its current goes round in one node: nothing says how much.
        }
        if rng.random_bool(0.2) {
            let ohms = log_uniform(rng, (1e-4, 1.0));
            elements.push(Element::Resistor {
                a: supply,
                b: output,
                ohms,
            });
        }
        elements.push(Element::Output {
            supply,
            ground: G,
            output,
            offset_volts: [5.0, 0.0, 3.3][rng.random_range(0..3)],
            gain: [0.0, 0.5, 0.9][rng.random_range(0..3)],
            dropout_volts: [0.0, 0.3, 2.0][rng.random_range(0..3)],
            ohms: log_uniform(rng, (1e-3, 10.0)),
            source_limit_amps: log_uniform(rng, (1e-3, 0.1)),
            sink_limit_amps: [0.0, 1e-3, 0.05][rng.random_range(0..3)],
        });
        let (from, to) = (node(rng), if rng.random_bool(0.7) { G } else { node(rng) });
        elements.push(Element::CurrentSink {
            from,
            to,
            amps: log_uniform(rng, (1e-3, 1.0)),
            knee_volts: log_uniform(rng, (1e-3, 1.0)),
        });
        let (anode, cathode) = (if rng.random_bool(0.5) { G } else { node(rng) }, node(rng));
        elements.push(Element::Clamp {
            anode,
            cathode,
            saturation_amps: 1e-14,
            thermal_volts: 0.026,
            breakdown_volts: rng.random_range(3.0..9.0),
            series_ohms: [0.0, 1.0][rng.random_range(0..2)],
        });
    }
    for _ in 0..n_stateful {
        let (a, b) = (node(rng), node(rng));
        elements.push(match rng.random_range(0..4) {
            0 => Element::Fuse {
                a,
                b,
                ohms: 0.01,
                rating_amps: log_uniform(rng, (0.01, 2.0)),
            },
            1 => Element::Driver {
                a,
                b: G,
                on_ohms: 0.1,
                off_ohms: 1e6,
                limit_amps: log_uniform(rng, (0.01, 2.0)),
                commanded: true,
            },
            _ => {
                let pull_in_volts = rng.random_range(2.0..8.0);
                Element::RelayContact {
                    a,
                    b,
                    closed_ohms: log_uniform(rng, (0.01, 10.0)),
                    coil_plus: node(rng),
                    coil_minus: G,
                    pull_in_volts,
                    drop_out_volts: 0.4 * pull_in_volts,
                    normally_closed: rng.random_bool(0.5),
                }
            }
        });
    }
    Netlist { n_nodes, elements }
}

/// Currents sum to nothing at every node, and what sources give is what the rest takes.
#[track_caller]
fn sound(seed: u64, netlist: &Netlist, solution: &Solution) {
    for (node, (sum, size)) in kirchhoff(netlist, &solution.element_amps)
        .into_iter()
        .enumerate()
        .skip(1)
    {
        assert!(
            sum.abs() <= 1e-9 + 1e-12 * size,
            "seed {seed}, node {node}: {sum} A of {size} A are left over"
        );
    }
    let (mut power, mut size) = (0.0, 0.0);
    for (id, element) in netlist.iter() {
        let amps = solution.amps(id);
        let (from, to) = common::ends(element, amps);
        let watts = amps * (solution.volts(from) - solution.volts(to));
        power += watts;
        size += watts.abs();
    }
    assert!(
        power.abs() <= 1e-9 * (1.0 + size),
        "seed {seed}: {power} W of {size} W are left over"
    );
}

#[test]
fn every_corner_settles() {
    let (mut worst, mut failed) = (0, Vec::new());
    for seed in 0..40000 {
        let netlist = cornered(seed, 0);
        match solve(&netlist, &States::initial(&netlist)) {
            Ok(Outcome::Converged(solution)) => {
                sound(seed, &netlist, &solution);
                worst = worst.max(solution.effort.rounds);
            }
            other => failed.push(format!("seed {seed}: {other:?}")),
        }
    }
    assert!(failed.is_empty(), "{} of 40000: {}", failed.len(), failed.join("\n"));
    println!("most rounds {worst}");
}

/// All states that are stable, by trying every combination.
fn stable(netlist: &Netlist) -> usize {
    let stateful: Vec<_> = netlist
        .iter()
        .map(|(id, _)| id)
        .filter(|id| States::initial(netlist).get(*id).is_some())
        .collect();
    let mut solver = Solver::new(netlist).unwrap();
    (0..1_u32 << stateful.len())
        .filter(|combination| {
            let mut states = States::initial(netlist);
            for (bit, id) in stateful.iter().enumerate() {
                states.set(*id, combination >> bit & 1 == 1);
            }
            let found = solver.solve(netlist, &states);
            matches!(found, Ok(Outcome::Converged(solution)) if solution.states == states)
        })
        .count()
}

#[test]
fn no_stable_state_is_said_only_of_what_goes_round() {
    let (mut converged, mut round, mut nowhere) = (0, 0, 0);
    for seed in 0..3000 {
        let netlist = cornered(100_000 + seed, 1 + seed as usize % 4);
        match solve(&netlist, &States::initial(&netlist)) {
            Ok(Outcome::Converged(solution)) => {
                sound(seed, &netlist, &solution);
                converged += 1;
            }
            Ok(Outcome::NoStableState { cycling, .. }) => {
                assert!(!cycling.is_empty());
                round += 1;
                nowhere += usize::from(stable(&netlist) == 0);
            }
            other => panic!("seed {seed}: {other:?}\n{netlist:?}"),
        }
    }
    println!("{converged} settle, {round} go round, {nowhere} of them without any stable combination");
    // The rest have one that is not reached from rest.
    assert!(converged > 2000 && round > 20 && nowhere * 10 > round * 8);
}
