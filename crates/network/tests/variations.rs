//! Small changes to a factored circuit against solving the changed circuit from scratch.

mod common;

use common::{G, Mix, log_uniform, network, whole};
use network::{Element, ElementId, Netlist, NetworkError, NodeId, Parameter, Solution, States, Variations};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// One or two elements changed over the whole range that faults have, or something clipped in.
fn change(rng: &mut Pcg64Mcg, netlist: &Netlist) -> Netlist {
    let mut changed = netlist.clone();
    for _ in 0..rng.random_range(1..3) {
        let node = |rng: &mut Pcg64Mcg| NodeId(rng.random_range(0..netlist.n_nodes as u32));
        match rng.random_range(0..6) {
            0..3 => {
                let resistors: Vec<usize> = (0..netlist.elements.len())
                    .filter(|&at| matches!(netlist.elements[at], Element::Resistor { .. }))
                    .collect();
                let at = resistors[rng.random_range(0..resistors.len())];
                if let Element::Resistor { ohms, .. } = &mut changed.elements[at] {
                    *ohms = log_uniform(rng, (1e-3, 1e11));
                }
            }
            3..5 => {
                let (a, b) = (node(rng), node(rng));
                let ohms = log_uniform(rng, (1e-3, 1e8));
                changed.elements.push(Element::Resistor { a, b, ohms });
            }
            _ => changed.elements.push(Element::Lamp {
                a: node(rng),
                b: G,
                rated_volts: 12.0,
                rated_watts: 3.0,
                hot_to_cold: 10.0,
            }),
        }
    }
    changed
}

/// As a small change to the first netlist.
fn vary(variations: &Variations, changed: &Netlist) -> Result<Option<Solution>, NetworkError> {
    match variations.differences(changed) {
        Some(differences) => variations.solve(&differences, &States::initial(changed), None),
        None => Ok(None),
    }
}

/// Worst difference of a node's voltage, in parts of what is allowed, and how many changes were answered.
fn compare(mix: Mix, allowed_volts: f64) -> (f64, usize, usize) {
    let (mut worst, mut answered, mut asked) = (0.0_f64, 0, 0);
    for seed in 0..60 {
        let n_nodes = [6, 12, 25, 60][seed as usize % 4];
        let netlist = network(seed, n_nodes, mix);
        let Ok(variations) = Variations::new(&netlist) else {
            continue;
        };
        let rng = &mut Pcg64Mcg::seed_from_u64(1000 + seed);
        for _ in 0..30 {
            let changed = change(rng, &netlist);
            let Some(expected) = whole(&changed) else { continue };
            asked += 1;
            let Some(found) = vary(&variations, &changed).expect("the values are good") else {
                continue;
            };
            answered += 1;
            assert_eq!(found.states, expected.states, "seed {seed}");
            let margin = found.error_volts() + expected.error_volts();
            for (a, b) in found.node_volts.iter().zip(&expected.node_volts) {
                let allowed = allowed_volts * a.abs().max(b.abs()).max(1.0) + margin;
                worst = worst.max((a - b).abs() / allowed);
            }
            for (at, (a, b)) in found.element_amps.iter().zip(&expected.element_amps).enumerate() {
                let allowed = 1e-6 * a.abs().max(b.abs()) + 1e-6;
                assert!(
                    (a - b).abs() <= allowed,
                    "seed {seed}, element {at}: {a} A, solved alone {b} A"
                );
            }
        }
    }
    (worst, answered, asked)
}

const LINEAR: Mix = Mix {
    ohms: (1e-2, 1e5),
    bent: false,
    controlled: false,
};

#[test]
fn linear_circuits_agree_to_nanovolts() {
    let (worst, answered, asked) = compare(LINEAR, 1e-9);
    println!("{answered} of {asked} answered, worst {worst} of what is allowed");
    assert!(worst <= 1.0, "worst {worst} of what is allowed");
    assert!(answered * 10 >= asked * 9, "only {answered} of {asked} answered");
}

#[test]
fn bent_circuits_agree_to_a_microvolt() {
    let bent = Mix { bent: true, ..LINEAR };
    let (worst, answered, asked) = compare(bent, 1e-6);
    println!("{answered} of {asked} answered, worst {worst} of what is allowed");
    assert!(worst <= 1.0, "worst {worst} of what is allowed");
    assert!(answered * 10 >= asked * 8, "only {answered} of {asked} answered");
}

/// A lamp's tangent holds to a few millionths, and so do derivatives beside one; `change` clips one in now and then.
#[test]
fn derivatives_agree_with_those_of_the_circuit_solved_alone() {
    derivatives(LINEAR);
    derivatives(Mix { bent: true, ..LINEAR });
}

fn derivatives(mix: Mix) {
    let mut compared = 0;
    for seed in 0..40 {
        let netlist = network(seed, 12, mix);
        let Ok(variations) = Variations::new(&netlist) else {
            continue;
        };
        let rng = &mut Pcg64Mcg::seed_from_u64(2000 + seed);
        for _ in 0..8 {
            let changed = change(rng, &netlist);
            let (Some(expected), Ok(Some(found))) = (whole(&changed), vary(&variations, &changed)) else {
                continue;
            };
            let weights = [(NodeId(5), 1.0), (NodeId(2), -1.0)];
            let (ours, theirs) = (found.adjoint(&weights), expected.adjoint(&weights));
            let close = |a: f64, b: f64, what: &str| {
                let allowed = 1e-5 * a.abs().max(b.abs()) + 1e-9;
                assert!((a - b).abs() <= allowed, "seed {seed}, {what}: {a}, solved alone {b}");
            };
            close(ours.resistance_seen(), theirs.resistance_seen(), "resistance seen");
            for (id, element) in changed.iter() {
                let parameters = match element {
                    Element::VoltageSource { .. } => &[Parameter::Volts, Parameter::Ohms][..],
                    Element::Lamp { .. } => &[Parameter::RatedWatts],
                    Element::Output { .. } => &[Parameter::OffsetVolts, Parameter::Gain],
                    Element::Diode { .. } => &[Parameter::SeriesOhms],
                    _ => &[Parameter::Ohms],
                };
                for &parameter in parameters {
                    let what = format!("{element:?} by {parameter:?}");
                    close(ours.by_value(id, parameter), theirs.by_value(id, parameter), &what);
                    compared += 1;
                }
            }
        }
    }
    assert!(compared > 2000, "only {compared} derivatives compared");
}

/// A relay that a change keeps from pulling in, and one that blows its fuse.
#[test]
fn states_are_followed() {
    let (battery, coil, load) = (NodeId(1), NodeId(2), NodeId(3));
    let netlist = Netlist {
        n_nodes: 4,
        elements: vec![
            Element::VoltageSource {
                plus: battery,
                minus: G,
                volts: 12.0,
                ohms: 0.01,
            },
            Element::Resistor {
                a: battery,
                b: coil,
                ohms: 0.1,
            },
            Element::Resistor {
                a: coil,
                b: G,
                ohms: 80.0,
            },
            Element::RelayContact {
                a: battery,
                b: load,
                closed_ohms: 0.01,
                coil_plus: coil,
                coil_minus: G,
                pull_in_volts: 8.0,
                drop_out_volts: 3.0,
                normally_closed: false,
            },
            Element::Fuse {
                a: load,
                b: G,
                ohms: 4.0,
                rating_amps: 5.0,
            },
        ],
    };
    let variations = Variations::new(&netlist).unwrap();
    let mut seen = Vec::new();
    for (series, load_ohms) in [(0.1, 4.0), (1000.0, 4.0), (0.1, 1.0), (1000.0, 1.0)] {
        let mut changed = netlist.clone();
        if let Element::Resistor { ohms, .. } = &mut changed.elements[1] {
            *ohms = series;
        }
        if let Element::Fuse { ohms, .. } = &mut changed.elements[4] {
            *ohms = load_ohms;
        }
        let found = vary(&variations, &changed).unwrap().unwrap();
        let expected = whole(&changed).unwrap();
        assert_eq!(found.states, expected.states);
        for (a, b) in found.node_volts.iter().zip(&expected.node_volts) {
            assert!((a - b).abs() < 1e-9, "{a} V, solved alone {b} V");
        }
        let state = |at: u32| found.states.get(network::ElementId(at));
        seen.push((state(3), state(4)));
    }
    let (yes, no) = (Some(true), Some(false));
    assert_eq!(seen, [(yes, no), (no, no), (yes, yes), (no, no)]);
}

#[test]
fn what_is_not_a_small_change_is_left_to_a_solver() {
    let netlist = network(3, 8, LINEAR);
    let variations = Variations::new(&netlist).unwrap();
    let mut more_nodes = netlist.clone();
    more_nodes.n_nodes += 1;
    assert!(vary(&variations, &more_nodes).unwrap().is_none());
    let mut ideal = netlist.clone();
    ideal.elements.push(Element::Resistor {
        a: NodeId(1),
        b: NodeId(2),
        ohms: 0.0,
    });
    assert!(vary(&variations, &ideal).unwrap().is_none());
    let mut bad = netlist.clone();
    bad.elements.push(Element::Resistor {
        a: NodeId(1),
        b: NodeId(2),
        ohms: -1.0,
    });
    assert!(vary(&variations, &bad).is_err());
    bad.elements.pop();
    bad.elements.push(Element::Resistor {
        a: NodeId(1),
        b: NodeId(99),
        ohms: 1.0,
    });
    assert!(vary(&variations, &bad).is_err());
}

/// A feed behind an open switch, tied to the battery by the change: 12 V behind 10 mΩ, a bridge of 10 mΩ over the switch, three
/// contacts of 5 mΩ, a load of 1 Ω. By hand: v = 12/1.035 · 1, dv/dcontact = -12/1.035², behind it 0.035 Ω beside 1 Ω.
#[test]
fn slopes_keep_their_digits_where_a_floating_feed_is_tied_down() {
    let resistor = |a: u32, b: u32, ohms: f64| Element::Resistor {
        a: NodeId(a),
        b: NodeId(b),
        ohms,
    };
    let netlist = Netlist {
        n_nodes: 6,
        elements: vec![
            Element::VoltageSource {
                plus: NodeId(1),
                minus: G,
                volts: 12.0,
                ohms: 0.01,
            },
            resistor(1, 2, 1e11),
            resistor(2, 3, 0.005),
            resistor(3, 4, 0.005),
            resistor(4, 5, 0.005),
            resistor(5, 0, 1e11),
        ],
    };
    let mut changed = netlist.clone();
    changed.elements.extend([resistor(1, 2, 0.01), resistor(5, 0, 1.0)]);
    let variations = Variations::new(&netlist).unwrap();
    let found = vary(&variations, &changed).unwrap().unwrap();
    let near = |found: f64, right: f64| assert!((found / right - 1.0).abs() < 2e-5, "{found}, by hand {right}");
    near(found.volts(NodeId(5)), 12.0 / 1.035);
    let adjoint = found.adjoint(&[(NodeId(5), 1.0)]);
    for contact in [2, 3, 4, 6] {
        near(adjoint.by_ohms(ElementId(contact)), -12.0 / 1.035_f64.powi(2));
    }
    near(adjoint.resistance_seen(), 0.035 / 1.035);
}
