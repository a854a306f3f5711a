//! Points in the order in which a wire leads past them: how far each is from the battery's positive post along metal.

use std::collections::VecDeque;

use circuit::{Circuit, ConnectorId, Fault, PointId, Role};

/// How many branches lie between the battery's positive post and each point.
#[derive(Clone, Debug)]
pub(crate) struct WireOrder {
    steps: Vec<usize>,
}

impl WireOrder {
    /// Breadth first over every branch that is neither the battery nor the charger itself; what nothing leads to comes last.
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let mut next: Vec<Vec<PointId>> = vec![Vec::new(); circuit.points.len()];
        let passes = |role: Role| !matches!(role, Role::Battery | Role::Charger | Role::OneWay);
        for branch in circuit.branches.iter().filter(|branch| passes(branch.role)) {
            let (a, b) = branch.kind.ends();
            for (from, to) in [(a, b), (b, a)] {
                if let Some(list) = next.get_mut(from.idx()) {
                    list.push(to);
                }
            }
        }
        let mut steps = vec![usize::MAX; circuit.points.len()];
        let mut open = VecDeque::from([(circuit.battery_plus, 0)]);
        while let Some((point, step)) = open.pop_front() {
            let Some(known) = steps.get_mut(point.idx()).filter(|known| **known == usize::MAX) else {
                continue;
            };
            *known = step;
            let on = next.get(point.idx()).into_iter().flatten();
            // Body metal and the battery's negative post join everything: the wire ends there.
            if point != circuit.body && point != circuit.battery_minus {
                open.extend(on.map(|&to| (to, step + 1)));
            }
        }
        Self { steps }
    }

    pub(crate) fn of(&self, point: PointId) -> usize {
        self.steps.get(point.idx()).copied().unwrap_or(usize::MAX)
    }

    /// Where a fault is: its first point along the wire.
    pub(crate) fn of_fault(&self, fault: &Fault) -> usize {
        fault
            .points
            .iter()
            .map(|&point| self.of(point))
            .min()
            .unwrap_or(usize::MAX)
    }

    /// Connectors as the wire meets them.
    pub(crate) fn connectors(&self, circuit: &Circuit) -> Vec<ConnectorId> {
        let first = |connector: &circuit::Connector| {
            let terminals = connector.cavities.values().flat_map(|cavity| cavity.terminals);
            terminals.map(|point| self.of(point)).min().unwrap_or(usize::MAX)
        };
        let mut ids: Vec<(usize, ConnectorId)> = circuit
            .connectors
            .iter()
            .enumerate()
            .map(|(idx, connector)| (first(connector), ConnectorId::from(idx)))
            .collect();
        ids.sort_unstable();
        ids.into_iter().map(|(_, id)| id).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wire_is_followed_from_the_battery_to_the_lamp_and_its_ground() {
        let text = include_str!("../../../circuits/small/lamps.toml");
        let circuit = circuit::parse(text).unwrap();
        let order = WireOrder::new(&circuit);
        let steps: Vec<usize> = ["battery+", "F1/in", "F1/out", "H1.1", "plateplus", "L1.1", "G1"]
            .iter()
            .map(|path| order.of(circuit.point(path).unwrap()))
            .collect();

        assert!(steps.windows(2).all(|pair| pair[0] < pair[1]), "{steps:?}");
        let names: Vec<&str> = order
            .connectors(&circuit)
            .iter()
            .map(|id| circuit.parts[circuit.connectors[id.idx()].part.idx()].id.as_str())
            .collect();
        assert_eq!(names, ["H1", "H2", "L1"]);
    }
}
