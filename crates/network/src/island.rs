//! Islands: groups of nodes that nothing ties to the reference.
//!
//! Their voltages mean something only among each other. One node of each is put at 0, which draws no current, unless
//! current sources push into the island: then there is no answer, and that is an error.

use crate::{Element, Netlist, NetworkError, NodeId, States};

/// Groups of nodes; memory reused.
#[derive(Debug, Default)]
pub(crate) struct Islands {
    parent: Vec<u32>,
    net: Vec<[f64; 2]>,
}

impl Islands {
    fn find(&mut self, mut node: u32) -> u32 {
        while self.parent[node as usize] != node {
            let above = self.parent[self.parent[node as usize] as usize];
            self.parent[node as usize] = above;
            node = above;
        }
        node
    }

    fn join(&mut self, a: NodeId, b: NodeId) {
        let (a, b) = (self.find(a.0), self.find(b.0));
        // The lowest node stands for its group.
        self.parent[a.max(b) as usize] = a.min(b);
    }

    /// Finds the lowest node of every island, in `states`.
    pub(crate) fn find_all(
        &mut self,
        netlist: &Netlist,
        states: &States,
        lowest: &mut Vec<u32>,
    ) -> Result<(), NetworkError> {
        let n = netlist.n_nodes as u32;
        self.parent.clear();
        self.parent.extend(0..n);
        let mut sources = false;
        for (id, element) in netlist.iter() {
            let [a, b, c, d] = element.terminals();
            let state = states.at(id.0 as usize);
            let joined = match *element {
                Element::CurrentSource { .. } => {
                    sources = true;
                    false
                }
                Element::Resistor { ohms, .. } => ohms < f64::INFINITY,
                Element::RelayContact { .. } => state,
                Element::Fuse { .. } => !state,
                Element::Driver {
                    off_ohms, commanded, ..
                } => (commanded && !state) || off_ohms < f64::INFINITY,
                Element::CurrentSink { amps, .. } => amps > 0.0,
                Element::VoltageControlledCurrent { siemens, .. } => {
                    if siemens != 0.0 {
                        self.join(c, a);
                        self.join(d, a);
                    }
                    siemens != 0.0
                }
                Element::Output { .. } => {
                    self.join(c, a);
                    true
                }
                _ => true,
            };
            if joined {
                self.join(a, b);
            }
        }
        lowest.clear();
        for node in 1..n {
            if self.find(node) == node {
                lowest.push(node);
            }
        }
        if sources && !lowest.is_empty() {
            self.balance(netlist)
        } else {
            Ok(())
        }
    }

    /// Refuses a current into an island.
    fn balance(&mut self, netlist: &Netlist) -> Result<(), NetworkError> {
        self.net.clear();
        self.net.resize(netlist.n_nodes, [0.0; 2]);
        for element in &netlist.elements {
            if let Element::CurrentSource { from, to, amps } = *element {
                for (node, amps) in [(from, -amps), (to, amps)] {
                    let group = self.find(node.0) as usize;
                    let [net, size] = &mut self.net[group];
                    *net += amps;
                    *size += amps.abs();
                }
            }
        }
        for node in 1..self.net.len() {
            let [net, size] = self.net[node];
            if self.parent[node] as usize == node && net.abs() > 1e-12 * size {
                return Err(NetworkError::CurrentIntoIsland {
                    nodes: self.members(node as u32),
                    amps: net,
                });
            }
        }
        Ok(())
    }

    /// All nodes of the island whose lowest node this is.
    pub(crate) fn members(&mut self, lowest: u32) -> Vec<NodeId> {
        (lowest..self.parent.len() as u32)
            .filter(|&node| self.find(node) == lowest)
            .map(NodeId)
            .collect()
    }
}
