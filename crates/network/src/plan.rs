//! What of a netlist stays the same while values change: which nodes are tied, the unknowns, the pattern, where each
//! element's coefficients go.
//!
//! Ideal voltage sources and zero-ohm branches *tie* nodes: the tied nodes share one unknown, apart by the sources'
//! volts, and the tie's current follows from Kirchhoff's law over the tree of ties. Every other branch is a [`Flow`], a
//! current that depends linearly (after linearisation) on up to two voltages. Controlled voltage sources, and ideal
//! sources whose current controls one, are *extras*: a current as further unknown and an equation as further row.
//!
//! A plan holds for one set of ties; a blown zero-ohm fuse or a resistor set to 0 makes another.

use crate::lu::{self, NONE, Pattern};
use crate::{Element, ElementId, Netlist, NetworkError, NodeId, States};
use std::collections::BTreeSet;

/// A voltage, `a` against `b`.
pub(crate) type Pair = (u32, u32);

/// A current from node `from` to node `to`, controlled by up to two voltages.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flow {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) controls: [Pair; 2],
    pub(crate) n_controls: usize,
}

/// A tie: `node` stands `sign` times the element's volts above `parent`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Tie {
    pub(crate) node: u32,
    pub(crate) parent: u32,
    pub(crate) element: u32,
    pub(crate) sign: f64,
}

/// What a controlled voltage source listens to.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Control {
    /// Nothing: an ideal source that others listen to.
    Nothing,
    /// A voltage.
    Voltage(Pair),
    /// The current of the extra with this column.
    Current(u32),
}

/// A branch whose current is an unknown: `v(plus) - v(minus) - k·control = rhs`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Extra {
    pub(crate) element: u32,
    pub(crate) plus: u32,
    pub(crate) minus: u32,
    pub(crate) column: u32,
    pub(crate) row: u32,
    pub(crate) control: Control,
}

/// A coefficient's places in the array of values, each with its sign.
type Places = std::ops::Range<u32>;

/// See the module.
#[derive(Debug)]
pub(crate) struct Plan {
    /// Which elements were ideal when it was made.
    pub(crate) ideal: Vec<bool>,
    pub(crate) n_nodes: usize,
    /// Column of each node; [`NONE`] if tied to the reference.
    pub(crate) column: Vec<u32>,
    /// Row of Kirchhoff's law of the node's group; [`NONE`] if tied to the reference.
    pub(crate) kcl_row: Vec<u32>,
    /// Nodes whose own voltage is their group's unknown.
    pub(crate) roots: Vec<u32>,
    /// Parents before children.
    pub(crate) ties: Vec<Tie>,
    pub(crate) extras: Vec<Extra>,
    pub(crate) flows: Vec<Flow>,
    /// Range of flows of each element.
    pub(crate) flows_of: Vec<std::ops::Range<u32>>,
    /// Elements that need linearising.
    pub(crate) bent: Vec<u32>,
    pub(crate) pattern: Pattern,
    places: Vec<(u32, f64)>,
    flow_places: Vec<[Places; 2]>,
    extra_places: Vec<Places>,
    /// Values that never change: the ±1 of extras.
    constant: Vec<(u32, f64)>,
}

/// Whether each element joins its terminals without resistance, in `states`.
pub(crate) fn ideal(netlist: &Netlist, states: &States, into: &mut Vec<bool>) {
    into.clear();
    let elements = netlist.elements.iter().enumerate();
    into.extend(elements.map(|(at, element)| element.ohms(states.at(at)) == Some(0.0)));
}

/// Ties and extras as a forest: an edge that closes a loop is refused or, between zero-ohm branches, left idle.
struct Forest {
    edges: Vec<Vec<(u32, u32, f64, bool)>>,
}

impl Forest {
    /// Elements on the way from `a` to `b`, if there is one.
    fn path(&self, a: u32, b: u32) -> Option<Vec<u32>> {
        let mut before = vec![None; self.edges.len()];
        let mut queue = vec![a];
        let mut at = 0;
        while at < queue.len() {
            let node = queue[at];
            at += 1;
            if node == b {
                let (mut path, mut back) = (Vec::new(), b);
                while let Some((parent, element)) = before[back as usize] {
                    path.push(element);
                    if parent == a {
                        break;
                    }
                    back = parent;
                }
                return Some(path);
            }
            for &(next, element, ..) in &self.edges[node as usize] {
                if next != a && before[next as usize].is_none() {
                    before[next as usize] = Some((node, element));
                    queue.push(next);
                }
            }
        }
        None
    }

    /// Visits the trees from their lowest nodes, parents first: (node, parent, element, sign, extra).
    fn visit(&self) -> Vec<(u32, u32, u32, f64, bool)> {
        let n = self.edges.len();
        let (mut seen, mut order) = (vec![false; n], Vec::new());
        for root in 0..n as u32 {
            if std::mem::replace(&mut seen[root as usize], true) {
                continue;
            }
            let mut queue = vec![root];
            while let Some(node) = queue.pop() {
                for &(next, element, sign, extra) in &self.edges[node as usize] {
                    if !std::mem::replace(&mut seen[next as usize], true) {
                        order.push((next, node, element, sign, extra));
                        queue.push(next);
                    }
                }
            }
        }
        order
    }
}

impl Plan {
    /// Ties, orders and places. Terminals have been checked.
    pub(crate) fn new(netlist: &Netlist, ideal: &[bool]) -> Result<Self, NetworkError> {
        let n_nodes = netlist.n_nodes;
        let listened: BTreeSet<u32> = netlist
            .elements
            .iter()
            .filter_map(|e| e.shape().2)
            .map(|through| through.0)
            .filter(|&through| ideal[through as usize])
            .collect();
        let is_extra = |at: usize| is_extra(&netlist.elements[at]) || listened.contains(&(at as u32));

        let mut forest = Forest {
            edges: vec![Vec::new(); n_nodes],
        };
        let is_source = |at: u32| matches!(netlist.elements[at as usize].shape().0, 1 | 4 | 5);
        for (id, element) in netlist.iter() {
            let at = id.0 as usize;
            let extra = is_extra(at);
            if !(extra || ideal[at]) {
                continue;
            }
            let [a, b, ..] = element.terminals();
            if let Some(mut elements) = forest.path(a.0, b.0) {
                elements.push(id.0);
                if elements.iter().any(|&e| is_source(e)) {
                    elements.sort_unstable();
                    return Err(NetworkError::IdealSourceLoop {
                        elements: elements.into_iter().map(ElementId).collect(),
                    });
                }
                continue; // Zero-ohm branches in a loop: the later one is given no current.
            }
            // Seen from `a`, `b` stands the volts lower.
            forest.edges[a.0 as usize].push((b.0, id.0, -1.0, extra));
            forest.edges[b.0 as usize].push((a.0, id.0, 1.0, extra));
        }
        let order = forest.visit();

        // Unknown voltages: one a group of tied nodes. `group` is the group's number, the reference's is NONE.
        let mut group = vec![NONE; n_nodes];
        let mut is_child = vec![false; n_nodes];
        let mut ties = Vec::new();
        for &(node, parent, element, sign, extra) in &order {
            if !extra {
                is_child[node as usize] = true;
                ties.push(Tie {
                    node,
                    parent,
                    element,
                    sign,
                });
            }
        }
        let roots: Vec<u32> = (1..n_nodes as u32).filter(|&node| !is_child[node as usize]).collect();
        let n_groups = roots.len() as u32;
        for (number, &node) in (0..).zip(&roots) {
            group[node as usize] = number;
        }
        for tie in &ties {
            group[tie.node as usize] = group[tie.parent as usize];
        }
        // Each extra is paired with the group on its far side; leaves are eliminated first.
        let mut far = Vec::new();
        for &(node, _, element, _, extra) in &order {
            if extra {
                far.push((element, group[node as usize]));
            }
        }
        let n = n_groups as usize + far.len();
        let mut row_of_group: Vec<u32> = (0..n_groups).collect();
        let mut first = Vec::with_capacity(2 * far.len());
        for (k, &(_, child)) in far.iter().enumerate().rev() {
            row_of_group[child as usize] = n_groups + k as u32;
            first.extend([child, n_groups + k as u32]);
        }
        let column_of_extra = |element: u32| far.iter().position(|f| f.0 == element).map(|k| n_groups + k as u32);

        let (flows, flows_of) = flows(netlist);
        let extras: Vec<Extra> = far
            .iter()
            .enumerate()
            .map(|(k, &(element, child))| {
                let shape = netlist.elements[element as usize].shape();
                let [plus, minus, cp, cm] = shape.1.map(|node| node.0);
                let control = match shape.2 {
                    Some(through) => column_of_extra(through.0).map_or_else(
                        || {
                            let [a, b, ..] = netlist.elements[through.0 as usize].terminals();
                            Control::Voltage((a.0, b.0))
                        },
                        Control::Current,
                    ),
                    None if shape.0 == 1 => Control::Nothing,
                    None => Control::Voltage((cp, cm)),
                };
                Extra {
                    element,
                    plus,
                    minus,
                    column: n_groups + k as u32,
                    row: child,
                    control,
                }
            })
            .collect();

        let mut edges = Vec::new();
        let row_of = |node: u32| match group[node as usize] {
            NONE => NONE,
            g => row_of_group[g as usize],
        };
        let couple = |edges: &mut Vec<Pair>, row: u32, column: u32| {
            if row != NONE && column != NONE {
                edges.push((row, column));
            }
        };
        for flow in &flows {
            for (a, b) in &flow.controls[..flow.n_controls] {
                for end in [flow.from, flow.to] {
                    couple(&mut edges, row_of(end), group[*a as usize]);
                    couple(&mut edges, row_of(end), group[*b as usize]);
                }
            }
        }
        for extra in &extras {
            for end in [extra.plus, extra.minus] {
                couple(&mut edges, row_of(end), extra.column);
                couple(&mut edges, extra.row, group[end as usize]);
            }
            match extra.control {
                Control::Nothing => {}
                Control::Current(column) => couple(&mut edges, extra.row, column),
                Control::Voltage((a, b)) => {
                    couple(&mut edges, extra.row, group[a as usize]);
                    couple(&mut edges, extra.row, group[b as usize]);
                }
            }
        }
        let steps = lu::least_degree(n, &edges, &first);
        let mut position = vec![0_u32; n];
        for (step, (vertex, _)) in steps.iter().enumerate() {
            position[*vertex as usize] = step as u32;
        }
        let (mut counts, mut summed) = (vec![true; n], vec![true; n]);
        for extra in &extras {
            counts[position[extra.column as usize] as usize] = false;
            summed[position[extra.column as usize] as usize] = false;
            summed[position[extra.row as usize] as usize] = false;
        }
        let at = |vertex: u32| {
            if vertex == NONE {
                NONE
            } else {
                position[vertex as usize]
            }
        };
        let mut plan = Self {
            ideal: ideal.to_vec(),
            n_nodes,
            column: group.iter().map(|&g| at(g)).collect(),
            kcl_row: (0..n_nodes as u32).map(|node| at(row_of(node))).collect(),
            roots,
            ties,
            extras: extras
                .into_iter()
                .map(|e| Extra {
                    column: at(e.column),
                    row: at(e.row),
                    control: match e.control {
                        Control::Current(column) => Control::Current(at(column)),
                        other => other,
                    },
                    ..e
                })
                .collect(),
            flows,
            flows_of,
            bent: (0..netlist.elements.len() as u32)
                .filter(|&e| netlist.elements[e as usize].is_bent())
                .collect(),
            pattern: Pattern::new(&steps, &position, counts, summed),
            places: Vec::new(),
            flow_places: Vec::new(),
            extra_places: Vec::new(),
            constant: Vec::new(),
        };
        plan.place();
        Ok(plan)
    }

    fn place(&mut self) {
        for at in 0..self.flows.len() {
            let flow = self.flows[at];
            let mut both = [0..0, 0..0];
            for (k, places) in both.iter_mut().enumerate().take(flow.n_controls) {
                let from = self.places.len() as u32;
                let (leaves, enters) = (self.kcl_row[flow.from as usize], self.kcl_row[flow.to as usize]);
                if leaves != enters {
                    self.place_pair(leaves, flow.controls[k], 1.0);
                    self.place_pair(enters, flow.controls[k], -1.0);
                }
                *places = from..self.places.len() as u32;
            }
            self.flow_places.push(both);
        }
        for at in 0..self.extras.len() {
            let extra = self.extras[at];
            let fixed = self.places.len();
            self.place_pair(extra.row, (extra.plus, extra.minus), 1.0);
            for (end, sign) in [(extra.plus, 1.0), (extra.minus, -1.0)] {
                let row = self.kcl_row[end as usize];
                if row != NONE {
                    self.constant.push((self.pattern.slot(row, extra.column), sign));
                }
            }
            self.constant.extend(self.places.drain(fixed..));
            let from = self.places.len() as u32;
            match extra.control {
                Control::Nothing => {}
                Control::Voltage(pair) => self.place_pair(extra.row, pair, -1.0),
                Control::Current(column) => self.places.push((self.pattern.slot(extra.row, column), -1.0)),
            }
            self.extra_places.push(from..self.places.len() as u32);
        }
    }

    /// Places of `sign · (v(a) - v(b))` in `row`.
    fn place_pair(&mut self, row: u32, (a, b): Pair, sign: f64) {
        let (a, b) = (self.column[a as usize], self.column[b as usize]);
        if row == NONE || a == b {
            return;
        }
        for (column, sign, other) in [(a, sign, b), (b, -sign, a)] {
            if column != NONE {
                let slot = self.pattern.slot(row, column);
                if slot != NONE {
                    self.places.push((slot, sign));
                }
                if other == NONE {
                    self.places.push((self.pattern.sum_slot(row), sign));
                }
            }
        }
    }

    /// Clears `values` to the part that never changes.
    pub(crate) fn clear(&self, values: &mut Vec<f64>) {
        values.clear();
        values.resize(self.pattern.n_values(), 0.0);
        for &(slot, sign) in &self.constant {
            values[slot as usize] += sign;
        }
    }

    /// Adds a conductance from the group of `root` to the reference.
    pub(crate) fn stamp_leak(&self, values: &mut [f64], root: u32, siemens: f64) {
        let (row, column) = (self.kcl_row[root as usize], self.column[root as usize]);
        let slot = self.pattern.slot(row, column);
        if slot != NONE {
            values[slot as usize] += siemens;
        }
        values[self.pattern.sum_slot(row) as usize] += siemens;
    }

    /// Adds the coefficients of a flow.
    pub(crate) fn stamp_flow(&self, values: &mut [f64], flow: usize, siemens: [f64; 2]) {
        for (places, s) in self.flow_places[flow].iter().zip(siemens) {
            for &(slot, sign) in &self.places[places.start as usize..places.end as usize] {
                values[slot as usize] += sign * s;
            }
        }
    }

    /// Adds the coefficient of an extra's control.
    pub(crate) fn stamp_extra(&self, values: &mut [f64], extra: usize, k: f64) {
        let places = &self.extra_places[extra];
        for &(slot, sign) in &self.places[places.start as usize..places.end as usize] {
            values[slot as usize] += sign * k;
        }
    }

    /// The node whose column this is.
    pub(crate) fn node_of(&self, column: u32) -> NodeId {
        NodeId(self.column.iter().position(|&c| c == column).unwrap_or(0) as u32)
    }
}

/// Whether the element's current is an unknown whatever its values.
pub(crate) fn is_extra(element: &Element) -> bool {
    matches!(
        element,
        Element::VoltageControlledVoltage { .. } | Element::CurrentControlledVoltage { .. }
    )
}

/// The flows of all elements, whatever their values: what is ideal or absent now has coefficients 0.
fn flows(netlist: &Netlist) -> (Vec<Flow>, Vec<std::ops::Range<u32>>) {
    let (mut flows, mut of) = (Vec::new(), Vec::new());
    for element in &netlist.elements {
        let from = flows.len() as u32;
        flows.extend(flows_of(element));
        of.push(from..flows.len() as u32);
    }
    (flows, of)
}

/// What a flow listens to beside its controls.
const NOWHERE: Pair = (0, 0);

/// The flows of an element.
pub(crate) fn flows_of(element: &Element) -> Vec<Flow> {
    let (kind, terminals, _) = element.shape();
    let [a, b, c, d] = terminals.map(|node| node.0);
    let flow = |from, to, controls: [Pair; 2], n_controls| Flow {
        from,
        to,
        controls,
        n_controls,
    };
    match kind {
        2 => vec![flow(a, b, [NOWHERE; 2], 0)],
        3 => vec![flow(a, b, [(c, d), NOWHERE], 1)],
        4 | 5 => Vec::new(),
        8 => {
            // Sourced from the supply, sunk to the ground.
            let controls = [(c, b), (a, b)];
            vec![flow(c, a, controls, 2), flow(b, a, controls, 2)]
        }
        _ => vec![flow(a, b, [(a, b), NOWHERE], 1)],
    }
}
