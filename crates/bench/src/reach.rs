//! Where a probe gets in a set-up.

use circuit::{Access, Circuit, ConnectorId, SetUp};

use crate::prediction::Probe;

/// Minutes to push a back-probe in along a wire. Common practice, no source.
const BACK_PROBE_MINUTES: f64 = 0.5;
/// Minutes to touch a terminal of a parted connector. Common practice, no source.
const TOUCH_MINUTES: f64 = 0.2;

/// The points that can be probed in a set-up, in the circuit's order: open ones always; wire sides back-probed where the
/// connector allows it, or touched once it is parted; pins only when it is parted. Minutes count from a set-up that is
/// already as asked; those to reach a connector count for each of its points, since each is a test of its own.
pub fn reachable(circuit: &Circuit, set_up: &SetUp) -> Vec<Probe> {
    let reach = |connector: ConnectorId| circuit.connectors.get(connector.idx());
    let probe = |point: usize, access: Access| {
        let point = circuit::PointId::from(point);
        let (minutes, back_probed) = match access {
            Access::Open { tenths } => (f64::from(tenths) / 10.0, false),
            Access::WireSide(connector) | Access::PinSide(connector) if set_up.apart.contains(&connector) => {
                // Parting it meant reaching it: that was paid with the set-up.
                (TOUCH_MINUTES, false)
            }
            Access::WireSide(connector) => {
                let connector = reach(connector).filter(|connector| connector.back_probe)?;
                (connector.reach_minutes + BACK_PROBE_MINUTES, true)
            }
            Access::PinSide(_) | Access::Inside => return None,
        };
        Some(Probe {
            point,
            minutes,
            back_probed,
        })
    };
    circuit
        .points
        .iter()
        .enumerate()
        .filter_map(|(at, point)| probe(at, point.access))
        .collect()
}
