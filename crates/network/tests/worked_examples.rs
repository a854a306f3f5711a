//! Published operating points, as collected in `reference/dc_worked_examples.json` (each entry names its source), and
//! closed forms.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use network::{Element, ElementId, Netlist, NodeId, Outcome, Solution, States, solve};
use serde_json::Value;
use std::collections::BTreeMap;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/dc_worked_examples.json")).unwrap()
}

/// A number, or a rational written "55/61".
fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| {
        let text = value.as_str().unwrap();
        let (above, below) = text.split_once('/').unwrap_or((text, "1"));
        above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap()
    })
}

#[track_caller]
fn solved(netlist: &Netlist) -> Solution {
    match solve(netlist, &States::initial(netlist)).unwrap() {
        Outcome::Converged(solution) => solution,
        other => panic!("{other:?}"),
    }
}

/// The netlist, and the nodes and elements by name. `H` and `G` name their controls.
fn netlist(elements: &[Value]) -> (Netlist, BTreeMap<String, NodeId>, BTreeMap<String, ElementId>) {
    let mut nodes = BTreeMap::from([("0".to_string(), NodeId::GROUND)]);
    let mut names = BTreeMap::new();
    for (at, element) in elements.iter().enumerate() {
        names.insert(element["name"].as_str().unwrap().to_string(), ElementId(at as u32));
        let controls = element["ctrl_nodes"].as_array().cloned().unwrap_or_default();
        for node in element["nodes"].as_array().unwrap().iter().chain(&controls) {
            let next = NodeId(nodes.len() as u32);
            nodes.entry(node.as_str().unwrap().to_string()).or_insert(next);
        }
    }
    let built = elements.iter().map(|element| {
        let node = |key: &str, at: usize| nodes[element[key][at].as_str().unwrap()];
        let (a, b, value) = (node("nodes", 0), node("nodes", 1), number(&element["value"]));
        match element["type"].as_str().unwrap() {
            "R" => Element::Resistor { a, b, ohms: value },
            "V" => Element::VoltageSource {
                plus: a,
                minus: b,
                volts: value,
                ohms: 0.0,
            },
            "I" => Element::CurrentSource {
                from: a,
                to: b,
                amps: value,
            },
            "G" => Element::VoltageControlledCurrent {
                plus: a,
                minus: b,
                control_plus: node("ctrl_nodes", 0),
                control_minus: node("ctrl_nodes", 1),
                siemens: value,
            },
            "H" => {
                let through = names[element["ctrl"].as_str().unwrap()];
                Element::CurrentControlledVoltage {
                    plus: a,
                    minus: b,
                    through,
                    ohms: value,
                }
            }
            other => panic!("element type {other}"),
        }
    });
    let netlist = Netlist {
        n_nodes: nodes.len(),
        elements: built.collect(),
    };
    (netlist, nodes, names)
}

#[track_caller]
fn near(id: &str, what: &str, got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs().max(1.0),
        "{id} {what}: {got}, expected {want}"
    );
}

#[test]
fn published_networks() {
    let reference = reference();
    let mut checked = 0;
    for example in reference["linear"].as_array().unwrap() {
        let Some(elements) = example["elements"].as_array() else {
            continue;
        };
        let id = example["id"].as_str().unwrap();
        let (netlist, nodes, names) = netlist(elements);
        let solution = solved(&netlist);
        assert!(
            solution.kcl_residual_amps() < 1e-12,
            "{id}: {}",
            solution.kcl_residual_amps()
        );
        for (key, tolerance) in [
            ("exact_node_voltages", 1e-12),
            (
                "published_node_voltages",
                number(&example["rel_tolerance_for_published"]),
            ),
        ] {
            for (node, volts) in example[key].as_object().into_iter().flatten() {
                near(id, node, solution.volts(nodes[node]), number(volts), tolerance);
                checked += 1;
            }
        }
        for (name, amps) in example["exact_source_currents"].as_object().into_iter().flatten() {
            near(id, name, solution.amps(names[name]), number(amps), 1e-12);
            checked += 1;
        }
    }
    assert!(checked > 100, "only {checked} values found");
}

#[test]
fn diodes_behind_a_resistor() {
    for example in reference()["diode"].as_array().unwrap() {
        let get = |key: &str| number(&example[key]);
        let (supply, anode) = (NodeId(1), NodeId(2));
        let (resistor, saturation_amps, thermal_volts) = (get("R"), get("Is"), get("nVt"));
        for series_ohms in [0.0, 0.25 * resistor] {
            let netlist = Netlist {
                n_nodes: 3,
                elements: vec![
                    Element::VoltageSource {
                        plus: supply,
                        minus: NodeId::GROUND,
                        volts: get("Vs"),
                        ohms: 0.0,
                    },
                    Element::Resistor {
                        a: supply,
                        b: anode,
                        ohms: resistor - series_ohms,
                    },
                    Element::Diode {
                        anode,
                        cathode: NodeId::GROUND,
                        saturation_amps,
                        thermal_volts,
                        series_ohms,
                    },
                ],
            };
            let solution = solved(&netlist);
            let (id, amps) = (example["id"].as_str().unwrap(), get("exact_I"));
            let got = solution.amps(ElementId(2));
            assert!((got - amps).abs() <= 1e-8 * amps, "{id}: {got} A, expected {amps}");
            let junction = solution.volts(anode) - series_ohms * got;
            near(id, "junction", junction, get("exact_V"), 1e-9);
            if let Some(published) = example["published"].get("I") {
                near(
                    id,
                    "published",
                    got / number(published),
                    1.0,
                    number(&example["rel_tolerance_for_published"]),
                );
            }
        }
    }
}

/// Filament 12 V 21 W: current follows V^0.55 (handbook; the values are arithmetic from it). A floor for the cold
/// resistance changes the figures by (hot/cold)^-4.
#[test]
fn lamp_currents() {
    for (volts, amps) in [(6.0, 1.1953), (12.0, 1.75), (13.5, 1.8671)] {
        let netlist = Netlist {
            n_nodes: 2,
            elements: vec![
                Element::VoltageSource {
                    plus: NodeId(1),
                    minus: NodeId::GROUND,
                    volts,
                    ohms: 0.0,
                },
                Element::Lamp {
                    a: NodeId(1),
                    b: NodeId::GROUND,
                    rated_volts: 12.0,
                    rated_watts: 21.0,
                    hot_to_cold: 12.0,
                },
            ],
        };
        let solution = solved(&netlist);
        near("lamp", "amps", solution.amps(ElementId(1)), amps, 1e-4);
        near("lamp", "source", solution.amps(ElementId(0)), -amps, 1e-4);
    }
}
