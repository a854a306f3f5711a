//! Bridges that the circuit file gives no reason for: two nets of the harness joined that no possible fault joins.
//!
//! Two wires may share a bundle that nobody wrote down, a wire may rub where no chafe point is named, a screw may have gone
//! through a loom. None of them is likely; together they are what most often makes a file wrong. A bridge between two nets
//! shows much the same wherever along them it is: one a pair of nets.

use std::collections::BTreeSet;

use super::place::Places;
use super::{Change, Fault, Mode, Severity};
use crate::id::PointId;
use crate::model::Circuit;

/// From two strands that touch to a damp film. Common practice, no source.
const OHMS: (f64, f64) = (1.0, 1e5);

/// One bridge for each pair of nets of the harness, the battery's and body metal included, that none of `faults` joins.
/// They are not among [`possible_faults`](super::possible_faults): what they need is another look at the circuit file.
pub fn unlisted_bridges(circuit: &Circuit, faults: &[Fault]) -> Vec<Fault> {
    if circuit.wires.is_empty() {
        return Vec::new();
    }
    let places = Places::new(circuit);
    let net = |point: PointId| places.harness_net_of(point);
    let pair = |a: PointId, b: PointId| (net(a).min(net(b)), net(a).max(net(b)));
    let mut seen: BTreeSet<(usize, usize)> = faults
        .iter()
        .flat_map(|fault| &fault.changes)
        .filter_map(|change| match *change {
            Change::Bridge(a, b) | Change::BridgeOhms(a, b, _) => Some(pair(a, b)),
            _ => None,
        })
        .collect();
    let metal = [circuit.battery_plus, circuit.body];
    let wires = circuit.wires.iter().flat_map(|wire| wire.ends);
    let mut of_nets: Vec<PointId> = Vec::new();
    for point in metal.into_iter().chain(wires) {
        if !of_nets.iter().any(|known| net(*known) == net(point)) {
            of_nets.push(point);
        }
    }
    let mut found = Vec::new();
    for (at, &a) in of_nets.iter().enumerate() {
        for &b in of_nets.iter().skip(at + 1) {
            if seen.insert(pair(a, b)) {
                found.push(bridge(circuit, a, b));
            }
        }
    }
    found
}

fn bridge(circuit: &Circuit, a: PointId, b: PointId) -> Fault {
    let called = |point: PointId| circuit.points.get(point.idx()).map_or("", |point| point.path.as_str());
    let (one, other) = (called(a), called(b));
    Fault {
        what: "a connection that the circuit file does not know".into(),
        place: format!("between {one} and {other}"),
        points: vec![a, b],
        severity: Some(Severity::ohms(OHMS.0, OHMS.1)),
        weight: 1.0,
        ..Fault::unlisted(
            format!("unlisted/{one}-{other}"),
            Mode::Leak,
            vec![Change::Bridge(a, b)],
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{DEMO, parse, possible_faults};

    #[test]
    fn each_pair_of_nets_comes_once_and_none_that_a_possible_fault_joins() {
        let circuit = parse(DEMO).unwrap();
        let faults = possible_faults(&circuit);
        let places = Places::new(&circuit);
        let unlisted = unlisted_bridges(&circuit, &faults);
        let joins = |fault: &Fault| -> Vec<(usize, usize)> {
            let each = fault.changes.iter().filter_map(|change| match *change {
                Change::Bridge(a, b) | Change::BridgeOhms(a, b, _) => Some((a, b)),
                _ => None,
            });
            each.map(|(a, b)| (places.harness_net_of(a), places.harness_net_of(b)))
                .map(|(a, b)| (a.min(b), a.max(b)))
                .collect()
        };
        let listed: BTreeSet<_> = faults.iter().flat_map(&joins).collect();
        let found: Vec<_> = unlisted.iter().flat_map(&joins).collect();
        assert!(found.len() > 10, "{}", found.len());
        assert!(found.iter().all(|pair| !listed.contains(pair) && pair.0 != pair.1));
        assert_eq!(found.iter().collect::<BTreeSet<_>>().len(), found.len());
    }
}
