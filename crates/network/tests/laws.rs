//! Laws that hold for every network: Kirchhoff, power, reciprocity, derivatives; and that no values make it panic.

mod common;

use common::anything::anything;
use common::{G, Mix, ends, kirchhoff, network, solved};
use network::{Element, Netlist, NodeId, Outcome, Parameter, Solution, States, other_stable_states, solve};
use proptest::prelude::*;

/// The controlled source is weak, so that every one of these has an operating point.
const MIX: Mix = Mix {
    ohms: (0.05, 1e6),
    bent: true,
    controlled: true,
};
/// Without controlled sources and outputs, whose currents depend on voltages elsewhere.
const RECIPROCAL: Mix = Mix {
    ohms: (0.05, 1e6),
    bent: false,
    controlled: false,
};

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn currents_sum_to_zero_and_sources_give_what_the_rest_takes(seed in 0_u64..1 << 40, n_nodes in 4_usize..60) {
        let netlist = network(seed, n_nodes, MIX);
        let solution = solved(&netlist);
        for (node, (left, size)) in kirchhoff(&netlist, &solution.element_amps).into_iter().enumerate() {
            prop_assert!(left.abs() <= 1e-9 + 1e-12 * size, "node {}: {} A left of {} A", node, left, size);
        }
        prop_assert!(solution.kcl_residual_amps() <= 1e-9);
        let powers = netlist.iter().map(|(id, element)| {
            let amps = solution.amps(id);
            let (from, to) = ends(element, amps);
            amps * (solution.volts(from) - solution.volts(to))
        });
        let (sum, size) = powers.fold((0.0, 0.0), |(sum, size), p: f64| (sum + p, size + p.abs()));
        prop_assert!(sum.abs() <= 1e-9 * size, "{} W left of {} W", sum, size);
    }

    #[test]
    fn linear_networks_are_reciprocal(seed in 0_u64..1 << 40, n_nodes in 4_usize..60) {
        let netlist = network(seed, n_nodes, RECIPROCAL);
        let solution = solved(&netlist);
        let (a, b) = (NodeId(1), NodeId(n_nodes as u32 - 1));
        let (ab, ba) = (solution.adjoint(&[(a, 1.0)]), solution.adjoint(&[(b, 1.0)]));
        let size = (ab.resistance_seen() * ba.resistance_seen()).sqrt();
        prop_assert!((ab.injected(b) - ba.injected(a)).abs() <= 1e-9 * size + 1e-12);
        prop_assert!(ab.resistance_seen() >= 0.0);
    }

    /// Every derivative against a central difference of two whole solves.
    #[test]
    fn derivatives_agree_with_differences(seed in 0_u64..1 << 40, n_nodes in 4_usize..25) {
        let netlist = network(seed, n_nodes, MIX);
        let solution = solved(&netlist);
        let weights = [(NodeId(1), 1.0), (NodeId(n_nodes as u32 - 1), -0.5)];
        let reading = |s: &Solution| weights.iter().map(|&(node, w)| w * s.volts(node)).sum::<f64>();
        let adjoint = solution.adjoint(&weights);
        for (id, element) in netlist.iter() {
            for (parameter, value) in values(element) {
                let step = 1e-5 * value.abs().max(1e-3 * f64::from(u8::from(value == 0.0)));
                let at = |value| {
                    let mut changed = netlist.clone();
                    set(&mut changed.elements[id.0 as usize], parameter, value);
                    solved(&changed)
                };
                let (low, high) = (at(value - step), at(value + step));
                let (below, above) = (reading(&low), reading(&high));
                let one_sided = ((above - reading(&solution)) / step, (reading(&solution) - below) / step);
                // On a corner the two sides differ and neither is wrong.
                if (one_sided.0 - one_sided.1).abs() > 1e-2 * one_sided.0.abs().max(one_sided.1.abs()) + 1e-9 / step {
                    continue;
                }
                let (want, got) = ((above - below) / (2.0 * step), adjoint.by_value(id, parameter));
                let noise = (low.error_volts() + high.error_volts() + 1e-9) / step;
                prop_assert!((want - got).abs() <= 2e-3 * want.abs() + noise,
                    "element {} {:?}: difference {}, derivative {}\n{:?}", id.0, parameter, want, got, element);
            }
        }
        let (a, b) = (NodeId(2), NodeId(0));
        let mut bridged = netlist.clone();
        bridged.elements.push(Element::Resistor { a, b, ohms: 1e12 });
        let rise = reading(&solved(&bridged)) - reading(&solution);
        prop_assert!((rise - adjoint.by_bridge(a, b) * 1e-12).abs() <= 1e-3 * rise.abs() + 1e-9);
        let rise = rise_by_injection(&netlist, a, reading);
        prop_assert!((rise - adjoint.injected(a) * 2e-10).abs() <= 1e-3 * rise.abs() + 1e-9);
    }

    /// Any structure with any values ends in an outcome or a named error, and an outcome keeps Kirchhoff's law.
    #[test]
    fn nothing_panics(seed in 0_u64..1 << 40) {
        let netlist = anything(seed);
        let Ok(outcome) = solve(&netlist, &States::initial(&netlist)) else { return Ok(()) };
        if let Outcome::Converged(solution) = outcome {
            prop_assert!(solution.node_volts.iter().chain(&solution.element_amps).all(|v| v.is_finite()));
            let others = other_stable_states(&netlist, &solution, 3);
            prop_assert!(others.len() <= 3);
            let adjoint = solution.adjoint(&[(NodeId(1), 1.0), (NodeId(99), 1.0)]);
            for (id, element) in netlist.iter() {
                adjoint.by_ohms(id);
                for (parameter, _) in values(element) {
                    adjoint.by_value(id, parameter);
                }
            }
        }
    }

    /// A guess changes the effort, not the answer.
    #[test]
    fn warm_starts_end_at_the_same_point(seed in 0_u64..1 << 40, n_nodes in 4_usize..60) {
        let netlist = network(seed, n_nodes, MIX);
        let cold = solved(&netlist);
        let mut solver = network::Solver::new(&netlist).unwrap();
        let warm = solver.solve_from(&netlist, &States::initial(&netlist), &cold.node_volts).unwrap().converged().unwrap();
        prop_assert!(warm.effort.rounds <= cold.effort.rounds, "{:?} {:?}", warm.effort, cold.effort);
        for (a, b) in warm.node_volts.iter().zip(&cold.node_volts) {
            prop_assert!((a - b).abs() <= 1e-9 * (1.0 + a.abs()) + warm.error_volts() + cold.error_volts());
        }
    }
}

/// Change of a reading from -0.1 nA to 0.1 nA injected: behind 1 megohm 0.1 mV, little against a thermal voltage.
fn rise_by_injection(netlist: &Netlist, to: NodeId, reading: impl Fn(&Solution) -> f64) -> f64 {
    let at = |amps| {
        let mut fed = netlist.clone();
        fed.elements.push(Element::CurrentSource { from: G, to, amps });
        reading(&solved(&fed))
    };
    at(1e-10) - at(-1e-10)
}

/// A network whose diode a coarse difference of 10 nA had moved visibly.
#[test]
fn an_injection_behind_a_high_resistance() {
    let netlist = network(233_167_592_272, 14, MIX);
    let weights = [(NodeId(1), 1.0), (NodeId(13), -0.5)];
    let rise = rise_by_injection(&netlist, NodeId(2), |s| s.volts(NodeId(1)) - 0.5 * s.volts(NodeId(13)));
    let slope = solved(&netlist).adjoint(&weights).injected(NodeId(2));
    assert!(
        (rise - slope * 2e-10).abs() <= 1e-5 * rise.abs() + 1e-12,
        "{rise} {slope}"
    );
}

/// Networks in which plain Newton goes round in a circle between an output's corner and a clamp or sink, and fixed decades
/// of leaks do not help.
#[test]
fn corners_that_make_newton_cycle() {
    for (seed, controlled) in [
        (14341, false),
        (40560, false),
        (43029, true),
        (43186, true),
        (52667, true),
    ] {
        solved(&network(
            seed * 7919 + 11,
            4 + (seed % 56) as usize,
            Mix { controlled, ..MIX },
        ));
    }
}

/// The values of an element by name.
fn values(element: &Element) -> Vec<(Parameter, f64)> {
    use Parameter as P;
    match *element {
        Element::Resistor { ohms, .. }
        | Element::CurrentControlledVoltage { ohms, .. }
        | Element::Fuse { ohms, .. } => {
            vec![(P::Ohms, ohms)]
        }
        Element::VoltageSource { volts, ohms, .. } if ohms > 0.0 => vec![(P::Volts, volts), (P::Ohms, ohms)],
        Element::VoltageSource { volts, .. } => vec![(P::Volts, volts)],
        Element::CurrentSource { amps, .. } => vec![(P::Amps, amps)],
        Element::VoltageControlledCurrent { siemens, .. } => vec![(P::Siemens, siemens)],
        Element::VoltageControlledVoltage { gain, .. } => vec![(P::Gain, gain)],
        Element::Diode {
            saturation_amps,
            thermal_volts,
            series_ohms,
            ..
        } => {
            let mut all = vec![(P::SaturationAmps, saturation_amps), (P::ThermalVolts, thermal_volts)];
            all.extend((series_ohms > 0.0).then_some((P::SeriesOhms, series_ohms)));
            all
        }
        Element::Clamp {
            saturation_amps,
            thermal_volts,
            breakdown_volts,
            series_ohms,
            ..
        } => vec![
            (P::SaturationAmps, saturation_amps),
            (P::ThermalVolts, thermal_volts),
            (P::BreakdownVolts, breakdown_volts),
            (P::SeriesOhms, series_ohms),
        ],
        Element::Output {
            offset_volts,
            gain,
            dropout_volts,
            ohms,
            source_limit_amps,
            sink_limit_amps,
            ..
        } => {
            let mut all = vec![
                (P::OffsetVolts, offset_volts),
                (P::Gain, gain),
                (P::DropoutVolts, dropout_volts),
            ];
            all.extend([(P::Ohms, ohms), (P::SourceLimitAmps, source_limit_amps)]);
            all.extend((sink_limit_amps > 0.0).then_some((P::SinkLimitAmps, sink_limit_amps)));
            all
        }
        Element::CurrentSink { amps, knee_volts, .. } => vec![(P::Amps, amps), (P::KneeVolts, knee_volts)],
        Element::Lamp {
            rated_volts,
            rated_watts,
            hot_to_cold,
            ..
        } => {
            vec![
                (P::RatedVolts, rated_volts),
                (P::RatedWatts, rated_watts),
                (P::HotToCold, hot_to_cold),
            ]
        }
        Element::RelayContact { closed_ohms, .. } => vec![(P::ClosedOhms, closed_ohms)],
        Element::Driver { on_ohms, off_ohms, .. } => vec![(P::OnOhms, on_ohms), (P::OffOhms, off_ohms)],
    }
}

fn set(element: &mut Element, parameter: Parameter, to: f64) {
    use Parameter as P;
    match (element, parameter) {
        (
            Element::Resistor { ohms: v, .. }
            | Element::VoltageSource { ohms: v, .. }
            | Element::Output { ohms: v, .. },
            P::Ohms,
        )
        | (Element::VoltageSource { volts: v, .. }, P::Volts)
        | (Element::CurrentSource { amps: v, .. } | Element::CurrentSink { amps: v, .. }, P::Amps)
        | (Element::VoltageControlledCurrent { siemens: v, .. }, P::Siemens)
        | (Element::Diode { saturation_amps: v, .. } | Element::Clamp { saturation_amps: v, .. }, P::SaturationAmps)
        | (Element::Diode { thermal_volts: v, .. } | Element::Clamp { thermal_volts: v, .. }, P::ThermalVolts)
        | (Element::Diode { series_ohms: v, .. } | Element::Clamp { series_ohms: v, .. }, P::SeriesOhms)
        | (Element::Clamp { breakdown_volts: v, .. }, P::BreakdownVolts)
        | (Element::Output { offset_volts: v, .. }, P::OffsetVolts)
        | (Element::Output { gain: v, .. }, P::Gain)
        | (Element::Output { dropout_volts: v, .. }, P::DropoutVolts)
        | (
            Element::Output {
                source_limit_amps: v, ..
            },
            P::SourceLimitAmps,
        )
        | (Element::Output { sink_limit_amps: v, .. }, P::SinkLimitAmps)
        | (Element::CurrentSink { knee_volts: v, .. }, P::KneeVolts)
        | (Element::Lamp { rated_volts: v, .. }, P::RatedVolts)
        | (Element::Lamp { rated_watts: v, .. }, P::RatedWatts)
        | (Element::Lamp { hot_to_cold: v, .. }, P::HotToCold) => *v = to,
        (element, parameter) => panic!("{element:?} has no {parameter:?}"),
    }
}

/// An output whose target is 0 V is idle without power like any other: here `min(0, 0 V - 0.5 V)` is below the -0.2 V that
/// 2/3 mA pull its node to through 300 ohm, so it must not source.
#[test]
fn an_output_of_zero_volts_without_power_is_idle() {
    let (supply, output) = (NodeId(1), NodeId(2));
    let netlist = Netlist {
        n_nodes: 3,
        elements: vec![
            Element::Resistor {
                a: supply,
                b: G,
                ohms: 1e6,
            },
            Element::Resistor {
                a: output,
                b: G,
                ohms: 300.0,
            },
            Element::CurrentSource {
                from: output,
                to: G,
                amps: 2e-3 / 3.0,
            },
            Element::Output {
                supply,
                ground: G,
                output,
                offset_volts: 0.0,
                gain: 0.0,
                dropout_volts: 0.5,
                ohms: 60.0,
                source_limit_amps: 0.01,
                sink_limit_amps: 0.01,
            },
        ],
    };
    let solution = solved(&netlist);
    assert!(
        (solution.volts(output) + 0.2).abs() < 1e-12,
        "{} V",
        solution.volts(output)
    );
}
