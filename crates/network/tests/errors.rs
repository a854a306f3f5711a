//! What cannot be solved is named; what only looks odd is solved.

mod common;

use common::{G, solved};
use network::{Element, ElementId, Netlist, NetworkError, NodeId, Outcome, Solver, States, solve};

fn v(plus: u32, minus: u32, volts: f64) -> Element {
    Element::VoltageSource {
        plus: NodeId(plus),
        minus: NodeId(minus),
        volts,
        ohms: 0.0,
    }
}

fn r(a: u32, b: u32, ohms: f64) -> Element {
    Element::Resistor {
        a: NodeId(a),
        b: NodeId(b),
        ohms,
    }
}

fn i(from: u32, to: u32, amps: f64) -> Element {
    Element::CurrentSource {
        from: NodeId(from),
        to: NodeId(to),
        amps,
    }
}

fn net(n_nodes: usize, elements: Vec<Element>) -> Netlist {
    Netlist { n_nodes, elements }
}

#[track_caller]
fn fails(netlist: &Netlist) -> NetworkError {
    solve(netlist, &States::initial(netlist)).expect_err("a named error")
}

#[track_caller]
fn fails_saying(netlist: &Netlist, text: &str) {
    assert_eq!(fails(netlist).to_string(), text);
}

#[test]
fn errors_name_the_element() {
    fails_saying(
        &net(2, vec![v(1, 0, 5.0), r(1, 0, -3.0)]),
        "element 1: ohms is -3, must be 0, or 1e-12 or more, or infinite",
    );
    fails_saying(
        &net(2, vec![v(1, 0, f64::NAN)]),
        "element 0: volts is NaN, must be a number of size up to 1e15",
    );
    fails_saying(
        &net(2, vec![r(1, 7, 1.0)]),
        "element 0: no node 7, the netlist has 2 with the reference",
    );
    fails_saying(
        &net(0, vec![]),
        "the netlist has no nodes: node 0, the reference, is needed",
    );
    fails_saying(
        &net(2, vec![v(1, 0, 5.0), r(1, 0, 1.0), v(1, 0, 5.0)]),
        "ideal voltage sources form a loop: elements 0, 2",
    );
    fails_saying(
        &net(3, vec![v(1, 0, 5.0), r(1, 2, 0.0), v(2, 0, 5.0)]),
        "ideal voltage sources form a loop: elements 0, 1, 2",
    );
    fails_saying(
        &net(2, vec![v(1, 1, 0.0), r(1, 0, 1.0)]),
        "ideal voltage sources form a loop: elements 0",
    );
    fails_saying(
        &net(3, vec![i(0, 1, 0.5), r(1, 2, 1.0)]),
        "0.5 A flow into nodes 1, 2 that have no way out",
    );
    let through = ElementId(0);
    let controlled = Element::CurrentControlledVoltage {
        plus: NodeId(1),
        minus: G,
        through,
        ohms: 1.0,
    };
    fails_saying(
        &net(2, vec![r(1, 0, 1.0), controlled]),
        "element 1: element 0 is not a voltage source, so its current controls nothing",
    );
}

#[test]
fn a_controlled_source_that_controls_itself_is_undetermined() {
    let own = Element::VoltageControlledVoltage {
        plus: NodeId(1),
        minus: G,
        control_plus: NodeId(1),
        control_minus: G,
        gain: 1.0,
    };
    assert_eq!(
        fails(&net(2, vec![own, r(1, 0, 10.0)])),
        NetworkError::Undetermined { node: NodeId(1) }
    );
}

#[test]
fn islands_are_told_and_do_no_harm() {
    let solution = solved(&net(
        6,
        vec![
            v(1, 0, 12.0),
            r(1, 0, 4.0),
            v(3, 2, 5.0),
            r(3, 2, 10.0),
            r(4, 2, f64::INFINITY),
        ],
    ));
    let islands: Vec<Vec<u32>> = solution
        .islands
        .iter()
        .map(|nodes| nodes.iter().map(|n| n.0).collect())
        .collect();
    assert_eq!(islands, [vec![2, 3], vec![4], vec![5]]);
    assert!((solution.volts(NodeId(3)) - solution.volts(NodeId(2)) - 5.0).abs() < 1e-12);
    assert!((solution.amps(ElementId(3)) - 0.5).abs() < 1e-12 && (solution.amps(ElementId(1)) - 3.0).abs() < 1e-12);
    // The same current in and out is no contradiction.
    let through = solved(&net(3, vec![i(0, 1, 1.0), i(1, 0, 1.0), r(1, 2, 3.0)]));
    assert_eq!(through.islands.len(), 1);
}

#[test]
fn zero_ohm_joins_carry_their_current() {
    let solution = solved(&net(
        5,
        vec![
            v(1, 0, 12.0),
            r(1, 2, 0.0),
            r(2, 3, 0.0),
            r(3, 0, 6.0),
            r(2, 4, 0.0),
            r(4, 0, 3.0),
            r(3, 4, 0.0),
        ],
    ));
    let amps = |e| solution.amps(ElementId(e));
    assert!(
        (amps(1) - 6.0).abs() < 1e-12 && (amps(2) - 2.0).abs() < 1e-12 && (amps(4) - 4.0).abs() < 1e-12,
        "{solution:?}"
    );
    assert_eq!((amps(6), amps(0)), (0.0, -6.0));
}

#[test]
fn a_solver_refuses_another_structure() {
    let first = net(2, vec![v(1, 0, 12.0), r(1, 0, 1.0)]);
    let mut solver = Solver::new(&first).unwrap();
    let other = net(2, vec![v(1, 0, 12.0), i(1, 0, 1.0)]);
    let element = ElementId(1);
    assert_eq!(
        solver.solve(&other, &States::initial(&other)).unwrap_err(),
        NetworkError::StructureChanged { element }
    );
    let states = States::initial(&net(1, vec![]));
    assert_eq!(
        solver.solve(&first, &states).unwrap_err(),
        NetworkError::WrongStates { given: 0, needed: 2 }
    );
    let guess = [0.0, f64::NAN];
    let error = solver.solve_from(&first, &States::initial(&first), &guess).unwrap_err();
    assert_eq!(error, NetworkError::WrongGuess { given: 1, needed: 2 });
}

/// Values that change what is tied, on one solver, against a solver made for them.
#[test]
fn one_solver_follows_changing_values() {
    let with = |ohms: f64, inner: f64| {
        let source = Element::VoltageSource {
            plus: NodeId(1),
            minus: G,
            volts: 12.0,
            ohms: inner,
        };
        net(
            4,
            vec![source, r(1, 2, ohms), r(2, 3, 5.0), r(3, 0, 7.0), r(2, 0, 100.0)],
        )
    };
    let mut solver = Solver::new(&with(1.0, 1.0)).unwrap();
    for (ohms, inner) in [
        (1.0, 1.0),
        (0.0, 1.0),
        (f64::INFINITY, 0.0),
        (0.0, 0.0),
        (1e-3, 0.1),
        (1.0, 1.0),
    ] {
        let netlist = with(ohms, inner);
        let reused = solver
            .solve(&netlist, &States::initial(&netlist))
            .unwrap()
            .converged()
            .unwrap();
        assert_eq!(
            reused.node_volts,
            solved(&netlist).node_volts,
            "{ohms} ohm, {inner} ohm"
        );
    }
}

#[test]
fn controlled_voltage_sources() {
    // An amplifier of open-loop gain 1e6 as inverter, 10 k and 100 k: -10 within (1 + 10)/1e6.
    let amplifier = Element::VoltageControlledVoltage {
        plus: NodeId(3),
        minus: G,
        control_plus: G,
        control_minus: NodeId(2),
        gain: 1e6,
    };
    let inverter = net(
        4,
        vec![v(1, 0, 0.5), r(1, 2, 1e4), r(2, 3, 1e5), amplifier, r(3, 0, 1e3)],
    );
    let out = solved(&inverter).volts(NodeId(3));
    assert!((out + 5.0 / (1.0 + 11e-6)).abs() < 1e-9, "{out}");
    // A transresistance over a source with inner resistance: 2 A through it, 3 ohm.
    let source = Element::VoltageSource {
        plus: NodeId(1),
        minus: G,
        volts: 12.0,
        ohms: 2.0,
    };
    let through = ElementId(0);
    let transresistance = Element::CurrentControlledVoltage {
        plus: NodeId(2),
        minus: G,
        through,
        ohms: 3.0,
    };
    let solution = solved(&net(3, vec![source, r(1, 0, 4.0), transresistance, r(2, 0, 1.0)]));
    assert!((solution.volts(NodeId(2)) + 6.0).abs() < 1e-12, "{solution:?}");
    assert!((solution.amps(ElementId(2)) - 6.0).abs() < 1e-12);
}

/// An output without supply, without load, and shorted.
#[test]
fn an_output_at_its_corners() {
    let output = |supply: u32| Element::Output {
        supply: NodeId(supply),
        ground: G,
        output: NodeId(2),
        offset_volts: 5.0,
        gain: 0.0,
        dropout_volts: 0.5,
        ohms: 0.5,
        source_limit_amps: 0.02,
        sink_limit_amps: 0.0,
    };
    let fed = |rest: Vec<Element>| {
        let mut elements = vec![v(1, 0, 12.0), output(1)];
        elements.extend(rest);
        solved(&net(4, elements))
    };
    assert!((fed(vec![]).volts(NodeId(2)) - 5.0).abs() < 1e-12);
    let shorted = fed(vec![r(2, 0, 1.0)]);
    assert!((shorted.volts(NodeId(2)) - 0.02).abs() < 1e-12 && (shorted.amps(ElementId(0)) + 0.02).abs() < 1e-12);
    let pulled_up = fed(vec![r(2, 1, 1000.0)]);
    assert!((pulled_up.volts(NodeId(2)) - 12.0).abs() < 1e-9, "it does not sink");
    let low = solved(&net(4, vec![v(1, 0, 4.0), output(1), r(2, 0, 1e3)]));
    assert!((low.volts(NodeId(2)) - 3.5 * 1000.0 / 1000.5).abs() < 1e-9);
    let unfed = solved(&net(4, vec![output(3), r(2, 0, 1e3)]));
    assert!(unfed.volts(NodeId(2)).abs() < 1e-9, "{unfed:?}");
    let open_ended = solve(&net(4, vec![output(3)]), &States::initial(&net(4, vec![output(3)]))).unwrap();
    assert!(matches!(open_ended, Outcome::Converged(_)));
}
