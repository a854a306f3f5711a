//! A netlist as a small change to a healthy one, and what moves its values.
//!
//! Breaking a circuit and clipping in a tool touch a few elements of some hundred: only those are kept here.

use std::sync::Arc;

use circuit::{BranchId, ParamId};
use network::{Element, ElementId, Netlist, NodeId, Parameter, States};

/// What moves a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Cause {
    /// A parameter θ of the circuit.
    Param(ParamId),
    /// The severity of a fault, by its position in the hypothesis.
    Severity(usize),
}

/// One cause moves one value of one element.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drive {
    pub(crate) element: ElementId,
    pub(crate) value: Parameter,
    pub(crate) cause: Cause,
    /// d value / d cause.
    pub(crate) slope: f64,
}

/// What others differ from.
#[derive(Debug)]
pub(crate) struct Healthy {
    pub(crate) netlist: Netlist,
    /// In the order of their elements.
    pub(crate) drives: Vec<Drive>,
    at_rest: States,
}

/// See the module.
#[derive(Clone, Debug)]
pub(crate) struct Lowered {
    healthy: Arc<Healthy>,
    pub(crate) n_nodes: usize,
    /// Changed and appended elements, by position.
    changed: Vec<(ElementId, Element)>,
    /// Elements whose healthy drives no longer hold.
    released: Vec<ElementId>,
    /// Drives beyond the healthy ones that hold.
    own_drives: Vec<Drive>,
    /// One entry a structural addition: equal lists mean equal structures.
    pub(crate) shape: Vec<[u32; 5]>,
}

impl Healthy {
    pub(crate) fn new(netlist: Netlist, drives: Vec<Drive>) -> Arc<Self> {
        Arc::new(Self {
            at_rest: States::initial(&netlist),
            netlist,
            drives,
        })
    }
}

impl Lowered {
    /// Nothing changed yet.
    pub(crate) fn new(healthy: &Arc<Healthy>) -> Self {
        Self {
            healthy: Arc::clone(healthy),
            n_nodes: healthy.netlist.n_nodes,
            changed: Vec::new(),
            released: Vec::new(),
            own_drives: Vec::new(),
            shape: Vec::new(),
        }
    }

    /// With its changes, as something that others differ from.
    pub(crate) fn settled(&self) -> Arc<Healthy> {
        let mut drives: Vec<Drive> = self.drives().copied().collect();
        drives.sort_by_key(|drive| drive.element);
        Healthy::new(self.netlist(), drives)
    }

    /// All of it.
    pub(crate) fn netlist(&self) -> Netlist {
        let mut netlist = self.healthy.netlist.clone();
        netlist.n_nodes = self.n_nodes;
        for (id, element) in &self.changed {
            match netlist.elements.get_mut(id.0 as usize) {
                Some(first) => *first = element.clone(),
                None => netlist.elements.push(element.clone()),
            }
        }
        netlist
    }

    /// What differs, sorted by id, what is appended last.
    pub(crate) fn changed(&self) -> &[(ElementId, Element)] {
        &self.changed
    }

    pub(crate) fn n_elements(&self) -> usize {
        let appended = self.changed.last().map_or(0, |(id, _)| id.0 as usize + 1);
        appended.max(self.healthy.netlist.elements.len())
    }

    /// An element as it now is.
    pub(crate) fn element(&self, id: ElementId) -> Option<&Element> {
        match self.changed.binary_search_by_key(&id, |entry| entry.0) {
            Ok(at) => Some(&self.changed[at].1),
            Err(_) => self.healthy.netlist.elements.get(id.0 as usize),
        }
    }

    /// An element, to be changed. It must be there.
    pub(crate) fn element_mut(&mut self, id: ElementId) -> &mut Element {
        let at = match self.changed.binary_search_by_key(&id, |entry| entry.0) {
            Ok(at) => at,
            Err(at) => {
                let first = self.healthy.netlist.elements[id.0 as usize].clone();
                self.changed.insert(at, (id, first));
                at
            }
        };
        &mut self.changed[at].1
    }

    /// Relays at rest, fuses whole, drivers not tripped.
    pub(crate) fn at_rest(&self) -> States {
        self.healthy.at_rest.renewed(&self.changed)
    }

    /// Everything that moves a value.
    pub(crate) fn drives(&self) -> impl Iterator<Item = &Drive> {
        let held = |drive: &&Drive| !self.released.contains(&drive.element);
        self.healthy.drives.iter().filter(held).chain(&self.own_drives)
    }

    pub(crate) fn add_drive(&mut self, drive: Drive) {
        self.own_drives.push(drive);
    }

    /// The drives of an element, to be changed.
    pub(crate) fn drives_of(&mut self, id: ElementId) -> impl Iterator<Item = &mut Drive> {
        if !self.released.contains(&id) {
            let drives = &self.healthy.drives;
            let from = drives.partition_point(|drive| drive.element < id);
            let to = drives.partition_point(|drive| drive.element <= id);
            self.own_drives.extend_from_slice(&drives[from..to]);
            self.released.push(id);
        }
        self.own_drives.iter_mut().filter(move |drive| drive.element == id)
    }

    /// Nothing moves the element's values any more.
    pub(crate) fn forget(&mut self, branch: BranchId) {
        let id = ElementId(branch.0);
        self.own_drives.retain(|drive| drive.element != id);
        if !self.released.contains(&id) {
            self.released.push(id);
        }
    }

    /// Appends an element; `kind` tells its structure from others'.
    pub(crate) fn append(&mut self, element: Element) -> ElementId {
        let kind = match element {
            Element::Resistor { .. } => 0,
            Element::VoltageSource { .. } => 1,
            Element::Lamp { .. } => 2,
            Element::Fuse { .. } => 3,
            Element::Output { .. } => 4,
            _ => 5,
        };
        let terminals = element.terminals().map(|node| node.0);
        self.shape
            .push([kind, terminals[0], terminals[1], terminals[2], terminals[3]]);
        let id = ElementId(self.n_elements() as u32);
        self.changed.push((id, element));
        id
    }

    /// A node of its own for what is appended.
    pub(crate) fn new_node(&mut self) -> NodeId {
        self.n_nodes += 1;
        NodeId(self.n_nodes as u32 - 1)
    }
}
