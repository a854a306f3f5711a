//! The sweep against every hypothesis solved whole.

mod common;

use common::{Mix, log_uniform, network};
use network::sweep::{Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, ElementId, Netlist, NodeId, Outcome, Solution, Solver, States};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Ports of every kind, a probe at every node and the current of every element.
fn ask(rng: &mut Pcg64Mcg, netlist: &Netlist) -> (Vec<Port>, Vec<Probe>) {
    let node = |rng: &mut Pcg64Mcg| NodeId(rng.random_range(0..netlist.n_nodes as u32));
    let of = |wanted: fn(&Element) -> bool| -> Vec<ElementId> {
        netlist
            .iter()
            .filter(|(_, element)| wanted(element))
            .map(|(id, _)| id)
            .collect()
    };
    let branches = of(|element| matches!(element, Element::Resistor { .. }));
    let sources = of(|element| matches!(element, Element::VoltageSource { ohms, .. } if *ohms > 0.0));
    let mut ports = Vec::new();
    for _ in 0..4 {
        ports.push(Port::Series {
            element: branches[rng.random_range(0..branches.len())],
        });
        ports.push(Port::Shunt {
            a: node(rng),
            b: node(rng),
        });
    }
    ports.push(Port::Amps {
        from: node(rng),
        to: node(rng),
    });
    if let Some(&element) = sources.first() {
        ports.push(Port::Volts { element });
        ports.push(Port::Series { element });
    }
    let volts = (1..netlist.n_nodes as u32).map(|node| Probe::Volts(NodeId(node), NodeId::GROUND));
    let amps = (0..netlist.elements.len() as u32).map(|at| Probe::Amps(ElementId(at)));
    (ports, volts.chain(amps).collect())
}

/// Strengths over the whole range that faults have.
fn strength(rng: &mut Pcg64Mcg, port: Port) -> f64 {
    match port {
        Port::Shunt { .. } => 1.0 / log_uniform(rng, (1e-3, 1e8)),
        Port::Series { .. } => log_uniform(rng, (5e-4, 1e9)),
        Port::Volts { .. } => rng.random_range(-3.0..3.0),
        Port::Amps { .. } => rng.random_range(-1e-3..1e-3),
    }
}

/// The netlist with a port's strength written into it.
fn changed(netlist: &mut Netlist, port: Port, strength: f64) {
    match port {
        Port::Shunt { a, b } => netlist.elements.push(Element::Resistor {
            a,
            b,
            ohms: 1.0 / strength,
        }),
        Port::Amps { from, to } => netlist.elements.push(Element::CurrentSource {
            from,
            to,
            amps: strength,
        }),
        Port::Series { element } => match &mut netlist.elements[element.0 as usize] {
            Element::Resistor { ohms, .. } | Element::VoltageSource { ohms, .. } => *ohms += strength,
            other => panic!("{other:?} is no branch of these tests"),
        },
        Port::Volts { element } => match &mut netlist.elements[element.0 as usize] {
            Element::VoltageSource { volts, .. } => *volts += strength,
            other => panic!("{other:?} is no source"),
        },
    }
}

fn whole(netlist: &Netlist) -> Option<Solution> {
    match Solver::new(netlist)
        .ok()?
        .solve(netlist, &States::initial(netlist))
        .ok()?
    {
        Outcome::Converged(solution) => Some(solution),
        _ => None,
    }
}

struct Compared {
    /// Worst difference of a probe, in parts of what is allowed.
    worst: f64,
    read: usize,
    beyond: usize,
}

fn compare(mix: Mix, seeds: std::ops::Range<u64>, allowed: f64) -> Compared {
    let mut compared = Compared {
        worst: 0.0,
        read: 0,
        beyond: 0,
    };
    let (mut readings, mut scratch) = (Readings::default(), Scratch::default());
    for seed in seeds {
        let netlist = network(seed, [5, 8, 20, 60, 200][seed as usize % 5], mix);
        let rng = &mut Pcg64Mcg::seed_from_u64(seed ^ 0x5eed);
        let (ports, probes) = ask(rng, &netlist);
        let Some(sweep) = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes).unwrap() else {
            continue;
        };
        for _ in 0..12 {
            let one = rng.random_range(0..ports.len());
            let other = rng.random_range(0..ports.len());
            let chosen = if one == other || rng.random_bool(0.3) {
                vec![one]
            } else {
                vec![one, other]
            };
            // An element's ohms and volts cannot both be changed by the text of this test.
            let each: Vec<Vec<f64>> = chosen
                .iter()
                .map(|&port| (0..3).map(|_| strength(rng, ports[port])).collect())
                .collect();
            let strengths = match &each[..] {
                [one] => Strengths::single(one),
                [one, other] => Strengths::pairs(one, other),
                _ => unreachable!("one or two ports are chosen"),
            };
            sweep.read(&chosen, &strengths, &mut readings, &mut scratch);
            for hypothesis in 0..strengths.len() {
                let mut netlist = netlist.clone();
                let at = if each.len() == 1 {
                    [hypothesis, 0]
                } else {
                    [hypothesis / 3, hypothesis % 3]
                };
                for ((&port, each), at) in chosen.iter().zip(&each).zip(at) {
                    changed(&mut netlist, ports[port], each[at]);
                }
                let Some(solution) = whole(&netlist) else { continue };
                compared.read += 1;
                if readings.beyond()[hypothesis] {
                    compared.beyond += 1;
                    continue;
                }
                for (at, probe) in probes.iter().enumerate() {
                    let right = match *probe {
                        Probe::Volts(a, b) => solution.volts(a) - solution.volts(b),
                        Probe::Amps(element) => solution.amps(element),
                    };
                    let off = (readings.of(at)[hypothesis] - right).abs() / (allowed * right.abs().max(1.0));
                    assert!(
                        off < 1.0,
                        "seed {seed}, {chosen:?} {each:?}, {probe:?}: {} for {right}",
                        readings.of(at)[hypothesis]
                    );
                    compared.worst = compared.worst.max(off);
                }
            }
        }
    }
    compared
}

/// Resistances that keep the condition number below 1e7, or nearly.
const TAME: Mix = Mix {
    ohms: (1.0, 1e4),
    bent: false,
    controlled: false,
};

#[test]
fn linear_hypotheses_agree_with_the_whole_circuit() {
    let compared = compare(TAME, 0..100, 1e-9);
    println!(
        "{} read, {} beyond, worst {:.1e} of 1e-9",
        compared.read, compared.beyond, compared.worst
    );
    assert!(compared.read > 5000 && compared.beyond * 200 < compared.read);
}

#[test]
fn bent_elements_agree_with_the_whole_circuit() {
    let compared = compare(Mix { bent: true, ..TAME }, 0..100, 1e-6);
    println!(
        "{} read, {} beyond, worst {:.1e} of 1e-6",
        compared.read, compared.beyond, compared.worst
    );
    assert!(compared.read > 4000 && compared.beyond * 50 < compared.read);
}
