//! Bridges that no possible fault is: between two nets that none of them joins.
//!
//! Points are one net where metal joins them while everything is mated. A bridge between two nets shows the same wherever
//! along them it is, so one that is listed anywhere is left out everywhere.

use std::collections::BTreeSet;

use circuit::{Change, Circuit, Fault, PointId, Role};
use rand::{Rng, RngExt as _};

/// Two points of a harness that could be bridged, and no possible fault would be that. `None` if every pair is listed.
pub(crate) fn bridge(circuit: &Circuit, faults: &[Fault], rng: &mut impl Rng) -> Option<(PointId, PointId)> {
    let nets = nets(circuit);
    let net = |point: PointId| nets.get(point.idx()).copied().unwrap_or(usize::MAX);
    let pair = |a: PointId, b: PointId| (net(a).min(net(b)), net(a).max(net(b)));
    let listed: BTreeSet<(usize, usize)> = faults
        .iter()
        .flat_map(|fault| &fault.changes)
        .filter_map(|change| match *change {
            Change::Bridge(a, b) | Change::BridgeOhms(a, b, _) => Some(pair(a, b)),
            _ => None,
        })
        .collect();
    let ends: Vec<PointId> = circuit.wires.iter().flat_map(|wire| wire.ends).collect();
    let mut found: Vec<(PointId, PointId)> = Vec::new();
    let mut seen = listed;
    for (at, &a) in ends.iter().enumerate() {
        for &b in ends.iter().skip(at + 1) {
            if net(a) != net(b) && seen.insert(pair(a, b)) {
                found.push((a, b));
            }
        }
    }
    found.get(rng.random_range(0..found.len().max(1))).copied()
}

/// The net of each point, by the least of its points.
fn nets(circuit: &Circuit) -> Vec<usize> {
    let mut nets: Vec<usize> = (0..circuit.points.len()).collect();
    let metal = |role: Role| {
        matches!(
            role,
            Role::Contact | Role::Crimp | Role::Wire | Role::Splice | Role::Ground | Role::Fuse | Role::FeedSwitch
        )
    };
    for branch in circuit.branches.iter().filter(|branch| metal(branch.role)) {
        let (a, b) = branch.kind.ends();
        let (Some(&a), Some(&b)) = (nets.get(a.idx()), nets.get(b.idx())) else {
            continue;
        };
        let (least, other) = (a.min(b), a.max(b));
        for net in nets.iter_mut().filter(|net| **net == other) {
            *net = least;
        }
    }
    nets
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Luck;

    #[test]
    fn a_bridge_is_none_of_the_possible_faults_wherever_they_are() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let faults = circuit::possible_faults(&circuit);
        let nets = nets(&circuit);
        let at = |path: &str| nets[circuit.point(path).unwrap().idx()];
        assert_eq!(at("S1.3"), at("M1.27"));
        assert_ne!(at("S1.3"), at("S1.1"));
        assert_eq!(at("battery-"), at("G4"));
        for number in 0..20 {
            let (a, b) = bridge(&circuit, &faults, &mut Luck { seed: 1, job: number }.of("bridge")).unwrap();
            let same = |c: PointId, d: PointId| {
                let [a, b, c, d] = [a, b, c, d].map(|point| nets[point.idx()]);
                (a, b) == (c, d) || (a, b) == (d, c)
            };
            assert_ne!(nets[a.idx()], nets[b.idx()]);
            assert!(
                faults
                    .iter()
                    .flat_map(|fault| &fault.changes)
                    .all(|change| match *change {
                        Change::Bridge(c, d) => !same(c, d),
                        _ => true,
                    })
            );
        }
    }
}
