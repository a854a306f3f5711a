//! What can be wrong with a netlist. Each error names the element or node.

use crate::{ElementId, NodeId};

/// A netlist that has no answer because of what it says, found before or while solving.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NetworkError {
    /// A value is not a number, infinite where it may not be, or out of its range.
    #[error("element {}: {quantity} is {value}, must be {expected}", element.0)]
    BadValue {
        /// The element.
        element: ElementId,
        /// The field.
        quantity: &'static str,
        /// What it holds.
        value: f64,
        /// What it may hold.
        expected: &'static str,
    },
    /// An element names a node that the netlist does not have.
    #[error("element {}: no node {}, the netlist has {n_nodes} with the reference", element.0, node.0)]
    NoSuchNode {
        /// The element.
        element: ElementId,
        /// The node it names.
        node: NodeId,
        /// Number of nodes of the netlist.
        n_nodes: usize,
    },
    /// A question names a node or an element that the netlist does not have.
    #[error("no {what} {position}, the netlist has {there_are}")]
    NotThere {
        /// `node` or `element`.
        what: &'static str,
        /// What was named.
        position: u32,
        /// How many there are.
        there_are: usize,
    },
    /// A netlist without even the reference node.
    #[error("the netlist has no nodes: node 0, the reference, is needed")]
    NoNodes,
    /// `through` of a current-controlled source is not a voltage source.
    #[error("element {}: element {} is not a voltage source, so its current controls nothing", element.0, through.0)]
    NotAVoltageSource {
        /// The controlled source.
        element: ElementId,
        /// What it names.
        through: ElementId,
    },
    /// Ideal sources (and zero-ohm joins) that form a loop: their voltages contradict or their currents are undefined.
    #[error("ideal voltage sources form a loop: elements {}", list(elements))]
    IdealSourceLoop {
        /// The elements of the loop.
        elements: Vec<ElementId>,
    },
    /// Current sources push into nodes that have no way back to the reference or to each other.
    #[error("{amps} A flow into nodes {} that have no way out", list_nodes(nodes))]
    CurrentIntoIsland {
        /// The nodes of the island.
        nodes: Vec<NodeId>,
        /// Sum of the source currents into it.
        amps: f64,
    },
    /// Controlled sources that leave a node's voltage or a source's current undetermined.
    #[error("controlled sources leave node {} undetermined", node.0)]
    Undetermined {
        /// A node that nothing determines.
        node: NodeId,
    },
    /// The netlist differs in nodes, kinds or terminals from the one the solver was made for.
    #[error("the netlist's structure differs from the solver's at element {}", element.0)]
    StructureChanged {
        /// First element that differs.
        element: ElementId,
    },
    /// The states given belong to another netlist.
    #[error("states for {given} elements, the netlist has {needed}")]
    WrongStates {
        /// Number of states given.
        given: usize,
        /// Number of elements.
        needed: usize,
    },
    /// The guess given has another number of nodes or a value that is no finite number.
    #[error("the guess must hold {needed} finite voltages, it holds {given}")]
    WrongGuess {
        /// Number of finite voltages given.
        given: usize,
        /// Number of nodes.
        needed: usize,
    },
}

fn list(elements: &[ElementId]) -> String {
    elements.iter().map(|e| e.0.to_string()).collect::<Vec<_>>().join(", ")
}

fn list_nodes(nodes: &[NodeId]) -> String {
    nodes.iter().map(|n| n.0.to_string()).collect::<Vec<_>>().join(", ")
}
