//! Linear networks against elimination in exact rational arithmetic.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

mod common;

use common::ports::put_in;
use common::{G, Mix, log_uniform, network, solved};
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, ElementId, Netlist, NodeId, States};
use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Node voltages, exact for the 64-bit values given. Textbook modified nodal analysis, written apart from the crate.
fn exact(netlist: &Netlist) -> Vec<f64> {
    let q = |value: f64| BigRational::from_float(value).unwrap();
    let ideal: Vec<usize> = netlist
        .iter()
        .filter(|(_, e)| {
            matches!(
                e,
                Element::VoltageSource { ohms: 0.0, .. } | Element::Resistor { ohms: 0.0, .. }
            )
        })
        .map(|(id, _)| id.0 as usize)
        .collect();
    let n = netlist.n_nodes - 1 + ideal.len();
    let mut a = vec![vec![BigRational::zero(); n + 1]; n];
    // `row` gains `value` times the voltage of `node`; the reference has neither row nor column.
    let add = |a: &mut Vec<Vec<BigRational>>, row: NodeId, node: NodeId, value: &BigRational| {
        if row != G && node != G {
            a[row.0 as usize - 1][node.0 as usize - 1] += value;
        }
    };
    let inject = |a: &mut Vec<Vec<BigRational>>, row: NodeId, value: BigRational| {
        if row != G {
            a[row.0 as usize - 1][n] += value;
        }
    };
    for (id, element) in netlist.iter() {
        let [p, m, cp, cm] = element.terminals();
        let conductance = match *element {
            Element::Resistor { ohms, .. } | Element::VoltageSource { ohms, .. } if ohms != 0.0 => {
                Some((q(ohms).recip(), p, m))
            }
            Element::VoltageControlledCurrent { siemens, .. } => Some((q(siemens), cp, cm)),
            _ => None,
        };
        if let Some((siemens, plus, minus)) = conductance {
            add(&mut a, p, plus, &siemens);
            add(&mut a, p, minus, &-siemens.clone());
            add(&mut a, m, plus, &-siemens.clone());
            add(&mut a, m, minus, &siemens);
        }
        match *element {
            Element::CurrentSource { amps, .. } => {
                inject(&mut a, p, q(-amps));
                inject(&mut a, m, q(amps));
            }
            Element::VoltageSource { volts, ohms, .. } if ohms != 0.0 => {
                inject(&mut a, p, q(volts) / q(ohms));
                inject(&mut a, m, -q(volts) / q(ohms));
            }
            _ => {}
        }
        if let Some(k) = ideal.iter().position(|&at| at == id.0 as usize) {
            let extra = netlist.n_nodes - 1 + k;
            for (node, sign) in [(p, 1.0), (m, -1.0)] {
                if node != G {
                    a[node.0 as usize - 1][extra] += q(sign);
                    a[extra][node.0 as usize - 1] += q(sign);
                }
            }
            if let Element::VoltageSource { volts, .. } = *element {
                a[extra][n] += q(volts);
            }
        }
    }
    for k in 0..n {
        let pivot = (k..n).find(|&row| !a[row][k].is_zero()).expect("regular");
        a.swap(k, pivot);
        let (above, below) = a.split_at_mut(k + 1);
        for row in below.iter_mut().filter(|row| !row[k].is_zero()) {
            let multiplier = &row[k] / &above[k][k];
            for column in k..=n {
                let change = &multiplier * &above[k][column];
                row[column] -= change;
            }
        }
    }
    let mut x = vec![BigRational::zero(); n];
    for k in (0..n).rev() {
        let mut sum = a[k][n].clone();
        for column in k + 1..n {
            sum -= &a[k][column] * &x[column];
        }
        x[k] = sum / &a[k][k];
    }
    std::iter::once(0.0)
        .chain(x[..netlist.n_nodes - 1].iter().map(|v| v.to_f64().unwrap()))
        .collect()
}

/// Returns the largest error relative to `max(|v|, 1 V)`.
#[track_caller]
fn check(what: &str, netlist: &Netlist, relative: f64) -> f64 {
    let solution = solved(netlist);
    let mut worst = 0.0_f64;
    for (node, (ours, exact)) in solution.node_volts.iter().zip(exact(netlist)).enumerate() {
        let error = (ours - exact).abs();
        assert!(
            error <= solution.error_volts(),
            "{what}, node {node}: {ours} V, exact {exact} V; said {} V",
            solution.error_volts()
        );
        assert!(
            error <= relative * exact.abs().max(1.0),
            "{what}, node {node}: {ours} V, exact {exact} V"
        );
        worst = worst.max(error / exact.abs().max(1.0));
    }
    worst
}

/// Well conditioned or not, every one within 1e-9 and within its own estimate: the elimination loses nothing to a wide
/// range of resistances.
#[test]
fn random_linear_networks() {
    let mut worst = 0.0_f64;
    for seed in 0..40 {
        let n_nodes = 3 + (seed as usize * 7) % 25;
        for ohms in [(1.0, 1e4), (1e-3, 1e12)] {
            let netlist = network(
                1000 + seed,
                n_nodes,
                Mix {
                    ohms,
                    bent: false,
                    controlled: ohms.1 < 1e6,
                },
            );
            worst = worst.max(check(&format!("seed {seed}, {ohms:?} ohm"), &netlist, 1e-9));
        }
    }
    println!("largest relative error {worst:e}");
}

/// Forty milliohm links in a row, joined to 12 V and to the reference by 1e11 ohm only.
#[test]
fn milliohm_links_on_leaks() {
    let node = NodeId;
    let mut elements = vec![
        Element::VoltageSource {
            plus: node(1),
            minus: G,
            volts: 12.0,
            ohms: 0.0,
        },
        Element::Resistor {
            a: node(1),
            b: node(2),
            ohms: 3e11,
        },
        Element::Resistor {
            a: node(42),
            b: G,
            ohms: 1e11,
        },
        Element::Resistor {
            a: node(20),
            b: node(30),
            ohms: 0.0,
        },
    ];
    elements.extend((2..42).map(|k| Element::Resistor {
        a: node(k),
        b: node(k + 1),
        ohms: 1e-3,
    }));
    let worst = check("links on leaks", &Netlist { n_nodes: 43, elements }, 1e-13);
    println!("largest relative error {worst:e}");
}

/// A whole powered circuit that only a leak ties to the reference: its own currents must not push it away.
#[test]
fn floating_supply_on_a_leak() {
    let node = NodeId;
    let netlist = Netlist {
        n_nodes: 5,
        elements: vec![
            Element::VoltageSource {
                plus: node(2),
                minus: node(1),
                volts: 12.6,
                ohms: 0.01,
            },
            Element::Resistor {
                a: node(2),
                b: node(3),
                ohms: 0.7,
            },
            Element::Resistor {
                a: node(3),
                b: node(1),
                ohms: 0.6,
            },
            Element::Resistor {
                a: node(1),
                b: G,
                ohms: 1e8,
            },
            Element::Resistor {
                a: node(3),
                b: node(4),
                ohms: 1e8,
            },
            Element::VoltageSource {
                plus: node(4),
                minus: G,
                volts: 5.0,
                ohms: 0.0,
            },
        ],
    };
    check("floating supply", &netlist, 1e-6);
}

/// The sweep from 0.1 mΩ of added contact resistance to 1 TΩ of leak, one and two ports at once: every reading within the
/// error it states.
#[test]
fn swept_hypotheses_keep_their_digits() {
    let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
    let (mut worst, mut widest, mut n) = (0.0_f64, 0.0_f64, 0);
    for seed in 0..24 {
        let wide = Mix {
            ohms: (1e-3, 1e12),
            bent: false,
            controlled: false,
        };
        let netlist = network(2000 + seed, 3 + (seed as usize * 7) % 20, wide);
        let rng = &mut Pcg64Mcg::seed_from_u64(seed);
        let nodes = netlist.n_nodes as u32;
        let mut ports = Vec::new();
        for _ in 0..4 {
            let (a, b) = (rng.random_range(0..nodes), rng.random_range(0..nodes));
            ports.push(Port::Shunt {
                a: NodeId(a),
                b: NodeId(b),
            });
            // The first elements are the tree's resistors.
            ports.push(Port::Series {
                element: ElementId(rng.random_range(0..nodes - 1)),
            });
        }
        let probes: Vec<Probe> = (1..nodes).map(|node| Probe::Volts(NodeId(node), G)).collect();
        let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
            .unwrap()
            .unwrap();
        // A milliampere into a gigaohm: such networks reach far above a vehicle's voltages.
        let largest = sweep.base().iter().fold(1.0_f64, |most, volts| most.max(volts.abs()));
        for _ in 0..8 {
            let one = rng.random_range(0..ports.len());
            let other = (one + rng.random_range(1..ports.len())) % ports.len();
            let strength = |rng: &mut Pcg64Mcg, port: usize| match ports[port] {
                Port::Series { .. } => log_uniform(rng, (1e-4, 1e12)),
                _ => log_uniform(rng, (1e-12, 1e4)),
            };
            let pair = [one, other].map(|port| strength(rng, port));
            let strengths = Strengths::pairs(&pair[..1], &pair[1..]);
            sweep.read(&[one, other], &strengths, &mut readings, &mut scratch);
            assert!(!readings.beyond()[0]);
            let mut changed = netlist.clone();
            for (port, strength) in [one, other].into_iter().zip(pair) {
                assert!(put_in(&mut changed, ports[port], strength));
            }
            for (probe, right) in exact(&changed)[1..].iter().enumerate() {
                let off = (readings.of(probe)[0] - right).abs();
                let stated = sweep.error(&[one, other], &strengths, &readings, probe, 0);
                assert!(
                    off <= stated,
                    "seed {seed}, {:?} {:?} {pair:?}: off by {off:e}, said {stated:e}",
                    ports[one],
                    ports[other]
                );
                worst = worst.max(off / right.abs().max(largest));
                widest = widest.max(stated / right.abs().max(largest));
                n += 1;
            }
        }
    }
    println!("{n} readings, largest error {worst:e} of the largest voltage, largest stated {widest:e}");
    assert!(n > 1500 && widest < 1e-12);
}
