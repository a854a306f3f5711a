//! Relays, fuses and drivers: the circuit after everything that moves has moved.

mod common;

use common::{G, solved};
use network::{Element, ElementId, Netlist, NodeId, Outcome, States, other_stable_states, solve};

const BATTERY: NodeId = NodeId(1);
const COIL: NodeId = NodeId(2);
const LOAD: NodeId = NodeId(3);

fn battery(volts: f64) -> Element {
    Element::VoltageSource {
        plus: BATTERY,
        minus: G,
        volts,
        ohms: 0.02,
    }
}

fn resistor(a: NodeId, b: NodeId, ohms: f64) -> Element {
    Element::Resistor { a, b, ohms }
}

fn contact(a: NodeId, b: NodeId, coil: NodeId, normally_closed: bool) -> Element {
    let (pull_in_volts, drop_out_volts) = (8.0, 3.0);
    Element::RelayContact {
        a,
        b,
        closed_ohms: 0.005,
        coil_plus: coil,
        coil_minus: G,
        pull_in_volts,
        drop_out_volts,
        normally_closed,
    }
}

/// Battery, 20 ohm to a coil of 80 ohm, a contact to a load.
fn relay(volts: f64) -> Netlist {
    let elements = vec![
        battery(volts),
        resistor(BATTERY, COIL, 20.0),
        resistor(COIL, G, 80.0),
        contact(BATTERY, LOAD, COIL, false),
        resistor(LOAD, G, 6.0),
    ];
    Netlist { n_nodes: 4, elements }
}

#[test]
fn a_relay_pulls_in_and_holds_down_to_its_lower_threshold() {
    let on = solved(&relay(12.0));
    assert_eq!(on.states.get(ElementId(3)), Some(true));
    assert!((on.volts(LOAD) - 12.0 * 6.0 / 6.025).abs() < 0.01, "{}", on.volts(LOAD));
    assert_eq!(on.effort.state_changes, 1);
    // 6 V leave 4.8 V at the coil: not enough to pull in, enough to hold.
    let half = relay(6.0);
    assert!(solved(&half).volts(LOAD).abs() < 1e-9);
    let held = solve(&half, &on.states).unwrap().converged().unwrap();
    assert!(held.volts(LOAD) > 5.9);
    let other = other_stable_states(&half, &held, 10);
    assert_eq!(other.len(), 1, "{other:?}");
    assert_eq!(other[0].states.get(ElementId(3)), Some(false));
    // 3 V leave 2.4 V: it drops out.
    let low = relay(3.0);
    assert!(solve(&low, &on.states).unwrap().converged().unwrap().volts(LOAD).abs() < 1e-9);
    assert!(other_stable_states(&low, &solved(&low), 10).is_empty());
}

#[test]
fn contacts_of_one_relay_change_over_together() {
    let other = NodeId(4);
    let mut netlist = relay(12.0);
    netlist.n_nodes = 5;
    netlist.elements.push(contact(BATTERY, other, COIL, true));
    netlist.elements.push(resistor(other, G, 6.0));
    let solution = solved(&netlist);
    assert!(solution.volts(LOAD) > 11.0 && solution.volts(other).abs() < 1e-9);
    assert_eq!(solution.effort.state_changes, 1);
}

#[test]
fn a_coil_fed_through_its_own_resting_contact_chatters() {
    let elements = vec![
        battery(12.0),
        contact(BATTERY, COIL, COIL, true),
        resistor(COIL, G, 80.0),
        resistor(BATTERY, LOAD, 1.0),
    ];
    let netlist = Netlist { n_nodes: 4, elements };
    match solve(&netlist, &States::initial(&netlist)).unwrap() {
        Outcome::NoStableState { cycling, .. } => assert_eq!(cycling, [ElementId(1)]),
        other => panic!("{other:?}"),
    }
}

/// A fused lamp feed with a short behind the fuse.
#[test]
fn a_fuse_blows_and_stays_blown() {
    for ohms in [0.01, 0.0] {
        let fuse = Element::Fuse {
            a: BATTERY,
            b: LOAD,
            ohms,
            rating_amps: 10.0,
        };
        let short = |ohms| Netlist {
            n_nodes: 3,
            elements: vec![battery(12.0), with(&fuse, NodeId(2)), resistor(NodeId(2), G, ohms)],
        };
        let after = solved(&short(0.1));
        assert_eq!(after.states.get(ElementId(1)), Some(true));
        assert!(after.volts(NodeId(2)).abs() < 1e-9 && after.amps(ElementId(1)).abs() < 1e-9);
        assert!((after.volts(BATTERY) - 12.0).abs() < 1e-9);
        let mended = short(12.0);
        assert!((solved(&mended).volts(NodeId(2)) - 12.0 * 12.0 / (12.02 + ohms)).abs() < 1e-9);
        assert!(
            solve(&mended, &after.states)
                .unwrap()
                .converged()
                .unwrap()
                .volts(NodeId(2))
                .abs()
                < 1e-9
        );
    }
}

fn with(fuse: &Element, to: NodeId) -> Element {
    match fuse.clone() {
        Element::Fuse {
            a, ohms, rating_amps, ..
        } => Element::Fuse {
            a,
            b: to,
            ohms,
            rating_amps,
        },
        other => other,
    }
}

#[test]
fn of_two_fuses_in_series_the_one_further_over_blows() {
    let fuse = |a, b, rating_amps| Element::Fuse {
        a,
        b,
        ohms: 0.01,
        rating_amps,
    };
    let elements = vec![
        battery(12.0),
        fuse(BATTERY, COIL, 30.0),
        fuse(COIL, LOAD, 10.0),
        resistor(LOAD, G, 0.05),
    ];
    let solution = solved(&Netlist { n_nodes: 4, elements });
    assert_eq!(
        (solution.states.get(ElementId(1)), solution.states.get(ElementId(2))),
        (Some(false), Some(true))
    );
    assert!((solution.volts(COIL) - 12.0).abs() < 1e-9);
}

/// The driver is faster than the fuse that feeds its load.
#[test]
fn a_driver_shuts_off_before_the_fuse_blows() {
    let driver = |commanded| Element::Driver {
        a: LOAD,
        b: G,
        on_ohms: 0.05,
        off_ohms: 1e6,
        limit_amps: 3.0,
        commanded,
    };
    let netlist = |load, commanded| {
        let fuse = Element::Fuse {
            a: BATTERY,
            b: COIL,
            ohms: 0.01,
            rating_amps: 10.0,
        };
        Netlist {
            n_nodes: 4,
            elements: vec![battery(12.0), fuse, resistor(COIL, LOAD, load), driver(commanded)],
        }
    };
    let working = solved(&netlist(12.0, true));
    assert!((working.amps(ElementId(3)) - 12.0 / 12.08).abs() < 1e-6);
    let shorted = solved(&netlist(0.1, true));
    assert_eq!(
        (shorted.states.get(ElementId(1)), shorted.states.get(ElementId(3))),
        (Some(false), Some(true))
    );
    assert!((shorted.volts(LOAD) - 12.0).abs() < 1e-3);
    let idle = solved(&netlist(0.1, false));
    assert_eq!(idle.states.get(ElementId(3)), Some(false));
    assert_eq!(idle.effort.state_changes, 0);
}
