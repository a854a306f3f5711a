//! A bare network as JSON, so that the solver can be compared with others.
//!
//! `{"elements":[{"name":"R1","type":"R","nodes":["1","0"],"value":1000}, …]}`; node `0` is the reference. Types and their
//! fields are listed in docs/command-line.md.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use network::{Element, ElementId, Netlist, NetworkError, NodeId, Outcome, States};
use serde::Deserialize;
use serde_json::{Map, Value, json};

/// A network as given.
#[derive(Debug, Deserialize)]
pub(crate) struct Bare {
    elements: Vec<BareElement>,
}

#[derive(Debug, Deserialize)]
struct BareElement {
    name: String,
    #[serde(rename = "type")]
    kind: String,
    nodes: Vec<String>,
    #[serde(default)]
    value: Option<f64>,
    /// Controlling nodes (G, E).
    #[serde(default)]
    ctrl_nodes: Vec<String>,
    /// Controlling source (H).
    #[serde(default)]
    ctrl: Option<String>,
    #[serde(flatten)]
    more: BTreeMap<String, serde_json::Value>,
}

/// What is wrong with a bare network.
#[derive(Debug, thiserror::Error)]
pub(crate) enum BareError {
    /// Not JSON of this shape.
    #[error("line {}, column {}: {source}", source.line(), source.column())]
    Json {
        /// What is wrong.
        #[from]
        source: serde_json::Error,
    },
    /// An unknown type.
    #[error("element `{name}`: type `{kind}` is not known; types are R, V, I, G, E, H, D, Z, L, S, B")]
    Kind {
        /// The element.
        name: String,
        /// Its type.
        kind: String,
    },
    /// Wrong number of nodes.
    #[error("element `{name}` of type {kind} needs {needed} nodes in `{field}` and has {found}")]
    Nodes {
        /// The field they stand in.
        field: &'static str,
        /// The element.
        name: String,
        /// Its type.
        kind: String,
        /// Nodes it needs.
        needed: usize,
        /// Nodes it has.
        found: usize,
    },
    /// A missing figure.
    #[error("element `{name}`: `{key}` is missing or not a number")]
    Missing {
        /// The element.
        name: String,
        /// The field.
        key: String,
    },
    /// An unknown controlling source.
    #[error("element `{name}`: no voltage source is called `{ctrl}`")]
    Control {
        /// The element.
        name: String,
        /// The source asked for.
        ctrl: String,
    },
    /// It has no answer.
    #[error("{why}")]
    Unsolvable {
        /// Why, with the names given.
        why: String,
    },
    /// The same name twice.
    #[error("two elements are called `{name}`")]
    Twice {
        /// The name.
        name: String,
    },
}

/// A network with the names of its nodes and elements.
#[derive(Debug)]
pub(crate) struct Named {
    pub(crate) netlist: Netlist,
    pub(crate) nodes: Vec<String>,
    pub(crate) elements: Vec<String>,
}

/// Reads a bare network.
pub(crate) fn parse(text: &str) -> Result<Named, BareError> {
    let bare: Bare = serde_json::from_str(text)?;
    let mut ids = BTreeMap::new();
    for (idx, element) in bare.elements.iter().enumerate() {
        if ids.insert(element.name.clone(), ElementId(idx as u32)).is_some() {
            return Err(BareError::Twice {
                name: element.name.clone(),
            });
        }
    }
    let mut nodes = vec!["0".to_owned()];
    let mut elements = Vec::with_capacity(bare.elements.len());
    for element in &bare.elements {
        elements.push(element.build(&ids, &mut nodes)?);
    }
    let names = bare.elements.into_iter().map(|element| element.name).collect();
    Ok(Named {
        netlist: Netlist {
            n_nodes: nodes.len(),
            elements,
        },
        nodes,
        elements: names,
    })
}

fn node(name: &str, nodes: &mut Vec<String>) -> NodeId {
    let position = nodes.iter().position(|known| known == name).unwrap_or_else(|| {
        nodes.push(name.to_owned());
        nodes.len() - 1
    });
    NodeId(position as u32)
}

/// Fields that name nodes.
const NODES: &str = "nodes";
const CONTROL: &str = "ctrl_nodes";

impl BareElement {
    fn ids<const N: usize>(&self, field: &'static str, nodes: &mut Vec<String>) -> Result<[NodeId; N], BareError> {
        let from = if field == CONTROL {
            &self.ctrl_nodes
        } else {
            &self.nodes
        };
        if from.len() != N {
            return Err(BareError::Nodes {
                field,
                name: self.name.clone(),
                kind: self.kind.clone(),
                needed: N,
                found: from.len(),
            });
        }
        Ok(std::array::from_fn(|idx| node(&from[idx], nodes)))
    }

    fn main(&self) -> Result<f64, BareError> {
        self.value.ok_or_else(|| BareError::Missing {
            name: self.name.clone(),
            key: "value".into(),
        })
    }

    fn number(&self, key: &str, default: Option<f64>) -> Result<f64, BareError> {
        let given = self.more.get(key).map_or(default, serde_json::Value::as_f64);
        given.ok_or_else(|| BareError::Missing {
            name: self.name.clone(),
            key: key.into(),
        })
    }

    fn build(&self, ids: &BTreeMap<String, ElementId>, nodes: &mut Vec<String>) -> Result<Element, BareError> {
        Ok(match self.kind.as_str() {
            "R" => {
                let [a, b] = self.ids(NODES, nodes)?;
                Element::Resistor {
                    a,
                    b,
                    ohms: self.main()?,
                }
            }
            "V" => {
                let [plus, minus] = self.ids(NODES, nodes)?;
                Element::VoltageSource {
                    plus,
                    minus,
                    volts: self.main()?,
                    ohms: self.number("ohms", Some(0.0))?,
                }
            }
            "I" => {
                let [from, to] = self.ids(NODES, nodes)?;
                Element::CurrentSource {
                    from,
                    to,
                    amps: self.main()?,
                }
            }
            "G" => {
                let [plus, minus] = self.ids(NODES, nodes)?;
                let [control_plus, control_minus] = self.ids(CONTROL, nodes)?;
                Element::VoltageControlledCurrent {
                    plus,
                    minus,
                    control_plus,
                    control_minus,
                    siemens: self.main()?,
                }
            }
            "E" => {
                let [plus, minus] = self.ids(NODES, nodes)?;
                let [control_plus, control_minus] = self.ids(CONTROL, nodes)?;
                Element::VoltageControlledVoltage {
                    plus,
                    minus,
                    control_plus,
                    control_minus,
                    gain: self.main()?,
                }
            }
            "H" => {
                let [plus, minus] = self.ids(NODES, nodes)?;
                let ctrl = self.ctrl.clone().unwrap_or_default();
                let through = *ids.get(&ctrl).ok_or_else(|| BareError::Control {
                    name: self.name.clone(),
                    ctrl: ctrl.clone(),
                })?;
                Element::CurrentControlledVoltage {
                    plus,
                    minus,
                    through,
                    ohms: self.main()?,
                }
            }
            "D" => {
                let [anode, cathode] = self.ids(NODES, nodes)?;
                Element::Diode {
                    anode,
                    cathode,
                    saturation_amps: self.number("saturation_amps", Some(1e-14))?,
                    thermal_volts: self.number("thermal_volts", Some(0.025_852))?,
                    series_ohms: self.number("series_ohms", Some(0.0))?,
                }
            }
            "Z" => {
                let [anode, cathode] = self.ids(NODES, nodes)?;
                Element::Clamp {
                    anode,
                    cathode,
                    saturation_amps: self.number("saturation_amps", Some(1e-14))?,
                    thermal_volts: self.number("thermal_volts", Some(0.025_852))?,
                    breakdown_volts: self.main()?,
                    series_ohms: self.number("series_ohms", Some(0.0))?,
                }
            }
            "L" => {
                let [supply, ground, output] = self.ids(NODES, nodes)?;
                Element::Output {
                    supply,
                    ground,
                    output,
                    offset_volts: self.main()?,
                    gain: self.number("gain", Some(0.0))?,
                    dropout_volts: self.number("dropout_volts", Some(0.5))?,
                    ohms: self.number("ohms", Some(0.5))?,
                    source_limit_amps: self.number("source_limit_amps", None)?,
                    sink_limit_amps: self.number("sink_limit_amps", Some(0.0))?,
                }
            }
            "S" => {
                let [from, to] = self.ids(NODES, nodes)?;
                Element::CurrentSink {
                    from,
                    to,
                    amps: self.main()?,
                    knee_volts: self.number("knee_volts", Some(1.0))?,
                }
            }
            "B" => {
                let [a, b] = self.ids(NODES, nodes)?;
                Element::Lamp {
                    a,
                    b,
                    rated_volts: self.number("rated_volts", Some(12.0))?,
                    rated_watts: self.main()?,
                    hot_to_cold: self.number("hot_to_cold", Some(10.0))?,
                }
            }
            _ => {
                return Err(BareError::Kind {
                    name: self.name.clone(),
                    kind: self.kind.clone(),
                });
            }
        })
    }
}

/// What the solver answers for a bare network.
pub(crate) struct Solved(Outcome);

/// Solves from the state in which relays rest, fuses are whole and drivers have not tripped.
pub(crate) fn solve(named: &Named) -> Result<Solved, BareError> {
    network::solve(&named.netlist, &States::initial(&named.netlist))
        .map(Solved)
        .map_err(|error| BareError::Unsolvable {
            why: named.explain(&error),
        })
}

impl Named {
    fn element(&self, id: ElementId) -> String {
        let name = self.elements.get(id.0 as usize).map_or("?", String::as_str);
        format!("`{name}`")
    }

    fn node(&self, id: NodeId) -> &str {
        self.nodes.get(id.0 as usize).map_or("?", String::as_str)
    }

    fn node_list(&self, nodes: &[NodeId]) -> String {
        nodes.iter().map(|node| self.node(*node)).collect::<Vec<_>>().join(", ")
    }

    /// An error of the solver with the names given instead of its numbers.
    fn explain(&self, error: &NetworkError) -> String {
        match error {
            NetworkError::BadValue {
                element,
                quantity,
                value,
                expected,
            } => format!(
                "element {}: {quantity} is {value}, must be {expected}",
                self.element(*element)
            ),
            NetworkError::NotAVoltageSource { element, through } => format!(
                "element {}: {} is not a voltage source, so its current controls nothing",
                self.element(*element),
                self.element(*through)
            ),
            NetworkError::IdealSourceLoop { elements } => {
                let names: Vec<String> = elements.iter().map(|element| self.element(*element)).collect();
                format!("ideal voltage sources form a loop: {}", names.join(", "))
            }
            NetworkError::CurrentIntoIsland { nodes, amps } => {
                format!("{amps} A flow into {}, which has no way out", self.node_list(nodes))
            }
            NetworkError::Undetermined { node } => {
                format!("controlled sources leave node {} undetermined", self.node(*node))
            }
            other => other.to_string(),
        }
    }
}

impl Solved {
    /// It has an answer.
    pub(crate) fn settled(&self) -> bool {
        matches!(self.0, Outcome::Converged(_))
    }

    /// As JSON: `docs/command-line.md`.
    pub(crate) fn to_json(&self, named: &Named) -> Value {
        match &self.0 {
            Outcome::Converged(solution) => {
                let nodes: Map<String, Value> = named
                    .nodes
                    .iter()
                    .cloned()
                    .zip(solution.node_volts.iter().map(|volts| json!(volts)))
                    .collect();
                let elements: Map<String, Value> = named
                    .elements
                    .iter()
                    .cloned()
                    .zip(solution.element_amps.iter().map(|amps| json!(amps)))
                    .collect();
                let islands: Vec<Vec<&str>> = solution
                    .islands
                    .iter()
                    .map(|island| {
                        island
                            .iter()
                            .map(|node| named.nodes[node.0 as usize].as_str())
                            .collect()
                    })
                    .collect();
                json!({
                    "settled": true, "node_volts": nodes, "element_amps": elements,
                    "kcl_residual_amps": solution.kcl_residual_amps(), "error_volts": solution.error_volts(),
                    "islands": islands,
                })
            }
            other => json!({ "settled": false, "why": Self::why(named, other) }),
        }
    }

    fn why(named: &Named, outcome: &Outcome) -> String {
        let name = |id: &ElementId| named.elements.get(id.0 as usize).map_or("?", String::as_str);
        match outcome {
            Outcome::Converged(_) => String::new(),
            Outcome::NoStableState { cycling, .. } => {
                format!(
                    "no stable state: {} keeps switching",
                    cycling.iter().map(name).collect::<Vec<_>>().join(", ")
                )
            }
            Outcome::Stuck { worst, .. } => format!("did not settle at `{}`", name(worst)),
        }
    }

    /// As text: a line a node, then a line an element.
    pub(crate) fn to_text(&self, named: &Named) -> String {
        let Outcome::Converged(solution) = &self.0 else {
            return Self::why(named, &self.0) + "\n";
        };
        let mut text = String::new();
        let floats = |node: usize| solution.islands.iter().flatten().any(|one| one.0 as usize == node);
        for (node, (name, volts)) in named.nodes.iter().zip(&solution.node_volts).enumerate() {
            let remark = if floats(node) { "  (floats)" } else { "" };
            let _ = writeln!(text, "v({name}) = {volts:.9} V{remark}");
        }
        for (name, amps) in named.elements.iter().zip(&solution.element_amps) {
            let _ = writeln!(text, "i({name}) = {amps:.9} A");
        }
        for island in &solution.islands {
            let _ = writeln!(
                text,
                "nothing ties {} to the reference: 0 V is put there, only differences within mean anything",
                named.node_list(island)
            );
        }
        text + &format!(
            "largest Kirchhoff residual {:.1e} A, error below {:.1e} V\n",
            solution.kcl_residual_amps(),
            solution.error_volts()
        )
    }
}
