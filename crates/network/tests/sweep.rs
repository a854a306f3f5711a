//! The sweep against every hypothesis solved whole.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

mod common;

use common::ports::put_in;
use common::{Mix, log_uniform, network, whole};
use network::sweep::{By, Port, Probe, Readings, Scratch, Strengths, Sweep};
use network::{Element, ElementId, Netlist, NodeId, Parameter, Solution, States};
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
#[track_caller]
fn changed(netlist: &mut Netlist, port: Port, strength: f64) {
    assert!(put_in(netlist, port, strength), "{port:?} is no branch of these tests");
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

/// By strengths, and by values of bent elements, against differences of the whole circuit.
#[test]
fn slopes_agree_with_differences() {
    let (mut readings, mut scratch, mut slopes) = <(Readings, Scratch, Vec<f64>)>::default();
    let (mut n, mut sharp, mut outliers) = (0, 0, 0);
    for seed in 0..60 {
        let netlist = network(seed, [5, 8, 20, 60][seed as usize % 4], Mix { bent: true, ..TAME });
        let rng = &mut Pcg64Mcg::seed_from_u64(seed ^ 0x510e);
        let (ports, probes) = ask(rng, &netlist);
        let Some(sweep) = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes).unwrap() else {
            continue;
        };
        let (one, other) = (rng.random_range(0..ports.len()), rng.random_range(0..ports.len()));
        if one == other || ports[one] == ports[other] {
            continue;
        }
        // Strengths at which something still depends on them.
        let strength = |rng: &mut Pcg64Mcg, port: Port| match port {
            Port::Shunt { .. } => 1.0 / log_uniform(rng, (1e2, 1e4)),
            Port::Series { .. } => log_uniform(rng, (1e2, 1e4)),
            other => self::strength(rng, other),
        };
        let pair = [one, other].map(|port| strength(rng, ports[port]));
        let strengths = Strengths::pairs(&pair[..1], &pair[1..]);
        sweep.read(&[one, other], &strengths, &mut readings, &mut scratch);
        let third = rng.random_range(0..ports.len());
        let values = netlist.iter().filter_map(|(id, element)| match element {
            Element::Diode { .. } | Element::Clamp { .. } => Some(By::Value(id, Parameter::SeriesOhms)),
            Element::Output { .. } => Some(By::Value(id, Parameter::OffsetVolts)),
            Element::CurrentSink { .. } => Some(By::Value(id, Parameter::Amps)),
            Element::Lamp { .. } => Some(By::Value(id, Parameter::RatedWatts)),
            _ => None,
        });
        let by: Vec<By> = [one, other, third]
            .into_iter()
            .map(By::Strength)
            .chain(values)
            .collect();
        assert!(sweep.slopes(
            (&[one, other], &strengths, &readings),
            0,
            &by,
            &mut scratch,
            &mut slopes
        ));
        for (by, slopes) in by.iter().zip(slopes.chunks(probes.len())) {
            let moved = |share: f64| -> (Option<Solution>, f64) {
                let mut netlist = netlist.clone();
                let mut step = 0.0;
                let mut pair = pair;
                match *by {
                    By::Strength(port) => {
                        let place = [one, other].iter().position(|of| *of == port);
                        step = match (place, ports[port]) {
                            (Some(place), _) => 1e-4 * pair[place].abs(),
                            (None, Port::Shunt { .. }) => 1e-9,
                            (None, Port::Series { .. }) => 1e-2,
                            (None, _) => 1e-6,
                        };
                        if let Some(place) = place {
                            pair[place] += share * step;
                        } else {
                            changed(&mut netlist, ports[port], share * step);
                        }
                    }
                    By::Value(element, parameter) => {
                        let value = match (&mut netlist.elements[element.0 as usize], parameter) {
                            (Element::Diode { series_ohms, .. } | Element::Clamp { series_ohms, .. }, _) => series_ohms,
                            (Element::Output { offset_volts, .. }, _) => offset_volts,
                            (Element::CurrentSink { amps, .. }, _) => amps,
                            (Element::Lamp { rated_watts, .. }, _) => rated_watts,
                            (other, _) => panic!("{other:?} has no such value"),
                        };
                        step += 1e-4 * value.abs();
                        *value += share * step;
                    }
                }
                for (port, strength) in [one, other].into_iter().zip(pair) {
                    changed(&mut netlist, ports[port], strength);
                }
                (whole(&netlist), step)
            };
            let ((Some(up), step), (Some(down), _)) = (moved(1.0), moved(-1.0)) else {
                continue;
            };
            for (at, probe) in probes.iter().enumerate() {
                let read = |solution: &Solution| match *probe {
                    Probe::Volts(a, b) => solution.volts(a) - solution.volts(b),
                    Probe::Amps(element) => solution.amps(element),
                };
                let difference = (read(&up) - read(&down)) / (2.0 * step);
                let off = (slopes[at] - difference).abs();
                // Rounding of the two solutions over the step, and the curve of the laws within it.
                let rounding = 2e-9 / step;
                let allowed = 1e-3 * difference.abs() + rounding;
                sharp += usize::from(difference.abs() > 10.0 * rounding);
                n += 1;
                outliers += usize::from(off > allowed);
            }
        }
    }
    println!("{n} slopes, {sharp} of them sharp, {outliers} across a corner");
    // A corner of a law within the step makes a difference that is no derivative.
    assert!(sharp > 5000 && outliers * 100 < n, "{outliers} of {n}");
}

#[test]
fn what_contradicts_a_state_is_beyond_and_solved_whole() {
    let (feed, fused) = (NodeId(1), NodeId(2));
    let netlist = Netlist {
        n_nodes: 3,
        elements: vec![
            Element::VoltageSource {
                plus: feed,
                minus: NodeId::GROUND,
                volts: 12.0,
                ohms: 0.01,
            },
            Element::Fuse {
                a: feed,
                b: fused,
                ohms: 0.005,
                rating_amps: 10.0,
            },
            Element::Resistor {
                a: fused,
                b: NodeId::GROUND,
                ohms: 12.0,
            },
        ],
    };
    let ports = [
        Port::Shunt {
            a: fused,
            b: NodeId::GROUND,
        },
        Port::Series { element: ElementId(2) },
    ];
    let probes = [Probe::Volts(fused, NodeId::GROUND), Probe::Amps(ElementId(1))];
    let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
        .unwrap()
        .unwrap();
    let (mut readings, mut scratch) = <(Readings, Scratch)>::default();
    // 0 S, 0.5 S (7 A in all), 1 S (13 A: it blows), a perfect short.
    let strengths = Strengths::single(&[0.0, 0.5, 1.0, f64::INFINITY]);
    sweep.read(&[0], &strengths, &mut readings, &mut scratch);
    assert_eq!(readings.beyond(), [false, false, true, true]);
    let right = 12.0 / (1.0 + 0.015 * (0.5 + 1.0 / 12.0));
    assert!(
        (readings.of(0)[1] - right).abs() < 1e-12,
        "{} for {right}",
        readings.of(0)[1]
    );
    sweep.solve_rest(&[0], &strengths, &mut readings).unwrap();
    assert_eq!(readings.beyond(), [false; 4]);
    assert!(
        readings.of(0)[2].abs() < 1e-9 && readings.of(1)[3].abs() < 1e-9,
        "blown: no volts, no amperes"
    );
    // A perfect open, by hand: no current, feed voltage at the load's terminal.
    let strengths = Strengths::single(&[f64::INFINITY]);
    sweep.read(&[1], &strengths, &mut readings, &mut scratch);
    assert!(!readings.beyond()[0] && (readings.of(0)[0] - 12.0).abs() < 1e-12 && readings.of(1)[0].abs() < 1e-15);
}

#[test]
fn any_number_of_threads_gives_equal_bits() {
    let netlist = network(7, 60, Mix { bent: true, ..TAME });
    let (ports, probes) = ask(&mut Pcg64Mcg::seed_from_u64(7), &netlist);
    let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
        .unwrap()
        .unwrap();
    let strengths = Strengths::pairs(&[1e-3, 0.1, 30.0], &[1e-3, 0.1, 30.0]);
    let bits = |n_threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
        let read = |_: [usize; 2], readings: &Readings| -> Vec<u64> {
            (0..probes.len())
                .flat_map(|probe| readings.of(probe).iter().map(|value| value.to_bits()))
                .collect()
        };
        pool.install(|| sweep.all_pairs(&strengths, read))
    };
    assert_eq!(bits(1), bits(5));
}
