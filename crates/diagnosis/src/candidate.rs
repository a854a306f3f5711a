//! Which tests are sensible at all: every instrument where a technician would think of placing it, before anything is
//! computed.
//!
//! In a set-up: every reachable point against battery negative; the drop between neighbours along a path; signal and
//! reference against the ground of the same connector; battery positive to feeds and grounds; the ohmmeter where no key
//! or no connector lets current in; the test light on feeds, grounds and drivers; clamp, scan data and codes. Whether
//! one is harmless, live or worth its minutes is computed elsewhere ([`judge`](crate::judge)); jumpers and substitutes
//! are never thought of here, only judged. Which set-ups to look at is [`propose`](crate::propose)'s affair.

use std::collections::BTreeSet;

use bench::{Alternating, Placement, Probe, Test};
use circuit::{Access, Branch, Circuit, Condition, ConnectorId, Key, Owner, PointId, Role, SensedId, SetUp};

use self::net::Nets;

pub(crate) mod net;
#[cfg(test)]
mod tests;

/// A test that could be done in a set-up at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The instrument and its place.
    pub placement: Placement,
    /// How the red lead, the tip or the only lead gets there; `None` for scan data and codes.
    pub probe: Option<Probe>,
    /// Minutes to reach the points, the set-up being as it should be.
    pub reach_minutes: f64,
    /// Minutes to place, read and note.
    pub reading_minutes: f64,
    /// The connector it is done at, where it is one: readings there share the way to it.
    pub at: Option<ConnectorId>,
    /// The ways of its leads, each place once, with minutes: `reach_minutes` is their sum.
    pub ways: Vec<(Place, f64)>,
}

/// Where a lead goes: one way leads to all cavities of a connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// A connector.
    Connector(ConnectorId),
    /// A point of its own.
    Point(PointId),
}

impl Candidate {
    /// Minutes of its ways that none of `done` has made already.
    pub fn minutes_beside(&self, done: &[&Candidate]) -> f64 {
        let made = |place: &Place| done.iter().flat_map(|other| &other.ways).any(|way| way.0 == *place);
        self.ways.iter().filter(|way| !made(&way.0)).map(|way| way.1).sum()
    }
}

/// The tests of one set-up.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// How the vehicle stands.
    pub set_up: SetUp,
    /// Minutes to bring it there from the set-up at hand.
    pub minutes: f64,
    /// The tests.
    pub tests: Vec<Candidate>,
}

/// Minutes to place the leads, read and note, by instrument. Common practice, no source.
pub fn reading_minutes(placement: &Placement) -> f64 {
    match placement {
        Placement::Voltmeter { .. } | Placement::Continuity { .. } | Placement::TestLight { .. } => 0.4,
        Placement::Ohmmeter { .. } | Placement::DiodeTest { .. } | Placement::Alternating { .. } => 0.6,
        Placement::Ammeter { .. } => 2.0,
        Placement::Clamp { .. } => 0.8,
        Placement::Scan { .. } | Placement::Code { .. } => 0.3,
    }
}

/// The points an instrument touches: red or tip first. None for clamp, scan data and codes.
pub fn touched(placement: &Placement) -> Option<(PointId, PointId)> {
    match *placement {
        Placement::Voltmeter { red, black }
        | Placement::Ohmmeter { red, black }
        | Placement::DiodeTest { red, black }
        | Placement::Continuity { red, black }
        | Placement::Ammeter { red, black }
        | Placement::Alternating { red, black, .. } => Some((red, black)),
        Placement::TestLight { tip, clip } => Some((tip, clip)),
        Placement::Clamp { .. } | Placement::Scan { .. } | Placement::Code { .. } => None,
    }
}

/// A test as a candidate: with how its points are reached, or `None` if one of them is not among `probes`.
pub(crate) fn reach(circuit: &Circuit, probes: &[Probe], placement: Placement) -> Option<Candidate> {
    let reading_minutes = reading_minutes(&placement);
    let Some((red, black)) = touched(&placement) else {
        return Some(Candidate {
            placement,
            probe: None,
            reach_minutes: 0.0,
            reading_minutes,
            at: None,
            ways: Vec::new(),
        });
    };
    let find = |point| probes.iter().find(|probe| probe.point == point);
    let (red, black) = (find(red)?, find(black)?);
    let (at, other) = (connector_of(circuit, red.point), connector_of(circuit, black.point));
    let place = |point, connector: Option<ConnectorId>| connector.map_or(Place::Point(point), Place::Connector);
    let (here, there) = (place(red.point, at), place(black.point, other));
    // One way serves both leads where both are at the same connector.
    let ways = if here == there {
        vec![(here, red.minutes.max(black.minutes))]
    } else {
        vec![(here, red.minutes), (there, black.minutes)]
    };
    Some(Candidate {
        placement,
        probe: Some(*red),
        reach_minutes: ways.iter().map(|way| way.1).sum(),
        reading_minutes,
        at: at.or(other),
        ways,
    })
}

fn connector_of(circuit: &Circuit, point: PointId) -> Option<ConnectorId> {
    match circuit.points.get(point.idx())?.access {
        Access::WireSide(connector) | Access::PinSide(connector) => Some(connector),
        Access::Open { .. } | Access::Inside => None,
    }
}

/// Every sensible test in a set-up, in a fixed order, each once. `probes`: the points that can be reached in it.
pub fn candidates(circuit: &Circuit, set_up: &SetUp, probes: &[Probe]) -> Vec<Candidate> {
    let here = Nets::new(circuit, set_up);
    // What a wire is for does not change when its connector is apart.
    let joined = Nets::new(circuit, &SetUp::default());
    let minus = circuit.battery_minus;
    let plus = circuit.battery_plus;
    let points: Vec<PointId> = probes.iter().map(|probe| probe.point).collect();
    let mut placements = Vec::new();
    let volts = |red, black| Placement::Voltmeter { red, black };

    for &point in points.iter().filter(|&&point| point != minus) {
        placements.push(volts(point, minus));
    }
    for (a, b) in neighbours(circuit, &here, &points) {
        placements.push(volts(a, b));
    }
    let pairs = pairs_at_a_connector(circuit, &points);
    for &(a, b) in &pairs {
        match (joined.hangs(a).returns(), joined.hangs(b).returns()) {
            (false, true) => placements.push(volts(a, b)),
            (true, false) => placements.push(volts(b, a)),
            _ => {}
        }
    }
    for &point in points.iter().filter(|&&point| point != plus && point != minus) {
        let hangs = joined.hangs(point);
        if hangs.returns() || hangs.feed {
            placements.push(volts(plus, point));
        }
        if hangs.feed || hangs.driver {
            placements.push(Placement::TestLight {
                tip: point,
                clip: minus,
            });
        }
        if hangs.returns() || hangs.driver {
            placements.push(Placement::TestLight { tip: point, clip: plus });
        }
    }
    ohms(circuit, set_up, &here, &points, &pairs, &mut placements);
    for wire in &circuit.wires {
        if joined.hangs(wire.ends[0]).carries() {
            placements.push(Placement::Clamp { around: wire.branch });
        }
    }
    if circuit.going(set_up).next().is_some() {
        let beats = beating(circuit, &joined);
        for &point in points.iter().filter(|&&point| beats.contains(&joined.of(point))) {
            placements.extend(
                [Alternating::Hertz, Alternating::Duty, Alternating::Volts].map(|shows| Placement::Alternating {
                    shows,
                    red: point,
                    black: minus,
                }),
            );
        }
    }
    placements.extend((0..circuit.channels.len()).map(|idx| Placement::Scan { channel: idx.into() }));
    placements.extend(circuit.codes().map(|monitor| Placement::Code { monitor }));

    let mut found: Vec<Candidate> = Vec::new();
    for placement in placements {
        let same = |c: &Candidate| alike(&c.placement, &placement);
        if !found.iter().any(same) {
            found.extend(reach(circuit, probes, placement));
        }
    }
    found
}

/// Nets to which something leads that follows a phase, or a sensed value that a phase sets; not feeds and grounds.
fn beating(circuit: &Circuit, nets: &Nets) -> BTreeSet<usize> {
    let set: BTreeSet<SensedId> = circuit
        .rhythms
        .iter()
        .flat_map(|rhythm| &rhythm.phases)
        .filter_map(|phase| Some(phase.sets?.0))
        .collect();
    let follows = |branch: &&Branch| {
        let sensed = |condition: &Condition| match condition {
            Condition::InPhase(..) => true,
            Condition::SensedAtLeast(id, _) => set.contains(id),
            _ => false,
        };
        branch.follows(&sensed, &|id| set.contains(&id))
    };
    let beating = circuit.branches.iter().filter(follows);
    let nets_of = beating.flat_map(|branch| {
        let (a, b) = branch.kind.ends();
        [a, b].map(|point| (nets.of(point), nets.hangs(point)))
    });
    nets_of
        .filter(|(_, hangs)| !hangs.returns() && (hangs.driver || !hangs.feed))
        .map(|(net, _)| net)
        .collect()
}

/// The same reading, but for its sign.
fn alike(one: &Placement, other: &Placement) -> bool {
    match (one, other) {
        (Placement::Voltmeter { red, black }, Placement::Voltmeter { red: r, black: b })
        | (Placement::Ohmmeter { red, black }, Placement::Ohmmeter { red: r, black: b }) => {
            (red, black) == (r, b) || (red, black) == (b, r)
        }
        _ => one == other,
    }
}

/// The ohmmeter: across a parted component in any set-up, elsewhere only with the key off or the battery off.
fn ohms(
    circuit: &Circuit,
    set_up: &SetUp,
    here: &Nets,
    points: &[PointId],
    pairs: &[(PointId, PointId)],
    into: &mut Vec<Placement>,
) {
    let quiet = set_up.battery_off || matches!(set_up.key, Key::Off | Key::Asleep);
    for &(red, black) in pairs {
        // The insides of a module are not for an ohmmeter.
        let component = |p: PointId| match circuit.points.get(p.idx()).map(|p| p.access) {
            Some(Access::PinSide(connector)) => !of_module(circuit, connector),
            _ => false,
        };
        if (component(red) && component(black)) || quiet {
            into.push(Placement::Ohmmeter { red, black });
        }
    }
    if !quiet {
        return;
    }
    let parted = |p: PointId| connector_of(circuit, p).is_some_and(|c| set_up.apart.contains(&c));
    for &red in points.iter().filter(|&&p| parted(p)) {
        // To ground: a leak, or the way back.
        into.push(Placement::Ohmmeter {
            red,
            black: circuit.battery_minus,
        });
        // From end to end of one wire.
        for &black in points.iter().filter(|&&p| p > red && parted(p) && here.same(p, red)) {
            into.push(Placement::Ohmmeter { red, black });
        }
    }
}

fn of_module(circuit: &Circuit, connector: ConnectorId) -> bool {
    let halves = circuit
        .connectors
        .get(connector.idx())
        .map(|connector| &connector.halves);
    halves.is_some_and(|halves| halves.iter().any(|half| matches!(half.owner, Owner::Module(_))))
}

/// Pairs of reachable points at one half of a connector.
fn pairs_at_a_connector(circuit: &Circuit, points: &[PointId]) -> Vec<(PointId, PointId)> {
    let mut pairs = Vec::new();
    for connector in &circuit.connectors {
        for half in 0..2 {
            let here: Vec<PointId> = connector
                .cavities
                .values()
                .map(|c| c.terminals[half])
                .filter(|point| points.contains(point))
                .collect();
            for (idx, &a) in here.iter().enumerate() {
                pairs.extend(here.iter().skip(idx + 1).map(|&b| (a, b)));
            }
        }
    }
    pairs
}

/// Pairs of reachable points with nothing reachable between them on a path of metal, closed switches and relay contacts
/// counted as metal: where a drop is measured in millivolts.
fn neighbours(circuit: &Circuit, here: &Nets, points: &[PointId]) -> BTreeSet<(PointId, PointId)> {
    let mut next: Vec<Vec<PointId>> = vec![Vec::new(); circuit.points.len()];
    for branch in &circuit.branches {
        let (a, b) = branch.kind.ends();
        let passes = match branch.role {
            Role::Contact | Role::Fuse => here.same(a, b),
            role => role.is_harness(),
        };
        if passes {
            if let Some(list) = next.get_mut(a.idx()) {
                list.push(b);
            }
            if let Some(list) = next.get_mut(b.idx()) {
                list.push(a);
            }
        }
    }
    let mut pairs = BTreeSet::new();
    for &from in points {
        let mut seen = BTreeSet::from([from]);
        let mut open = vec![from];
        while let Some(point) = open.pop() {
            for &to in next.get(point.idx()).map_or(&[][..], Vec::as_slice) {
                if !seen.insert(to) {
                    continue;
                }
                if points.contains(&to) {
                    pairs.insert((from.min(to), from.max(to)));
                } else {
                    open.push(to);
                }
            }
        }
    }
    pairs
}

/// The tests on offer, by set-up, in the order in which each set-up first comes. `minutes`: from the set-up at hand.
/// A test at a point that cannot be reached in its set-up is left out.
pub(crate) fn grouped(
    circuit: &Circuit,
    tests: &[Test],
    probes: impl Fn(&SetUp) -> Vec<Probe>,
    minutes: impl Fn(&SetUp) -> f64,
) -> Vec<Group> {
    let mut groups: Vec<(Group, Vec<Probe>)> = Vec::new();
    for test in tests {
        let known = groups.iter().position(|(group, _)| group.set_up == test.set_up);
        let idx = known.unwrap_or_else(|| {
            let set_up = test.set_up.clone();
            groups.push((
                Group {
                    minutes: minutes(&set_up),
                    set_up,
                    tests: Vec::new(),
                },
                probes(&test.set_up),
            ));
            groups.len() - 1
        });
        if let Some((group, probes)) = groups.get_mut(idx) {
            group.tests.extend(reach(circuit, probes, test.placement.clone()));
        }
    }
    groups.into_iter().map(|(group, _)| group).collect()
}
