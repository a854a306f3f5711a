//! What stands on the picture and what joins it: places (boxes, connectors, splices) and cables between them.
//!
//! Read from the circuit alone; where things stand is decided in [`crate::columns`] and [`crate::rows`].

use std::collections::{BTreeMap, BTreeSet};

use circuit::{Access, BranchId, BranchKind, Circuit, Owner, PartId, PartKind, PointId, Role, WireId};

/// What a place is; the number is its position in the circuit's list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Module(usize),
    Device(usize),
    Connector(usize),
    Splice(usize),
    Fuse(usize),
    Relay(usize),
    Feed(usize),
    Ground(usize),
    /// A battery post or body metal.
    Post(PointId),
    /// A point that belongs to none of the above but is reached by a wire or a probe.
    Loose(PointId),
}

impl Kind {
    /// Feeds, grounds and posts: where current comes from or goes to in the end.
    pub(crate) fn is_supply(self) -> bool {
        matches!(self, Self::Feed(_) | Self::Ground(_) | Self::Post(_))
    }
}

/// Something that has its own spot on the picture.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Place {
    pub(crate) kind: Kind,
    pub(crate) part: Option<PartId>,
}

/// Where a cable ends at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Slot {
    /// A connector's cavity, on half 0 (`a`) or 1 (`b`).
    Cavity(u16, usize),
    /// A point of its own.
    Point(PointId),
}

impl Slot {
    /// The cavity, if it is one.
    pub(crate) fn cavity(self) -> Option<u16> {
        match self {
            Self::Cavity(number, _) => Some(number),
            Self::Point(_) => None,
        }
    }
}

/// One end of a cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct End {
    pub(crate) place: usize,
    pub(crate) slot: Slot,
}

/// A wire, or a join without a wire of its own (a fuse plugged onto a rail).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cable {
    pub(crate) wire: Option<WireId>,
    pub(crate) ends: [End; 2],
}

/// Everything that stands on the picture.
#[derive(Clone, Debug, Default)]
pub(crate) struct Places {
    pub(crate) all: Vec<Place>,
    pub(crate) cables: Vec<Cable>,
    /// (connector place, owner place, half that belongs to it).
    pub(crate) owned: Vec<(usize, usize, usize)>,
    /// Points that can be probed, belong to a place and have no cable.
    pub(crate) bare: Vec<(usize, PointId)>,
    /// Place of each point that is an end of a cable or a terminal.
    pub(crate) home: BTreeMap<PointId, (usize, Slot)>,
    of_part: BTreeMap<PartId, usize>,
}

/// The two points a branch leads between.
pub(crate) fn ends_of(kind: &BranchKind) -> (PointId, PointId) {
    match kind {
        BranchKind::Resistor { a, b, .. }
        | BranchKind::Switch { a, b, .. }
        | BranchKind::Lamp { a, b, .. }
        | BranchKind::RelayContact { a, b, .. }
        | BranchKind::Fuse { a, b, .. }
        | BranchKind::Driver { a, b, .. } => (*a, *b),
        BranchKind::Source { plus, minus, .. } => (*plus, *minus),
        BranchKind::Diode { anode, cathode, .. } | BranchKind::Clamp { anode, cathode, .. } => (*anode, *cathode),
        BranchKind::Output { output, ground, .. } => (*output, *ground),
        BranchKind::CurrentSink { from, to, .. } => (*from, *to),
    }
}

/// The two ends of a branch, if the circuit has it.
pub(crate) fn branch_ends(circuit: &Circuit, branch: BranchId) -> Option<(PointId, PointId)> {
    circuit.branches.get(branch.idx()).map(|branch| ends_of(&branch.kind))
}

impl Places {
    pub(crate) fn read(circuit: &Circuit) -> Self {
        let mut places = Self::default();
        places.add_parts(circuit);
        places.add_terminals(circuit);
        places.add_wires(circuit);
        places.add_joins(circuit);
        places.add_bare(circuit);
        places
    }

    /// The place of a part, if it has one.
    pub(crate) fn of_part(&self, part: PartId) -> Option<usize> {
        self.of_part.get(&part).copied()
    }

    fn add(&mut self, kind: Kind, part: Option<PartId>) -> usize {
        let place = self.all.len();
        self.all.push(Place { kind, part });
        if let Some(part) = part {
            self.of_part.entry(part).or_insert(place);
        }
        place
    }

    fn add_parts(&mut self, circuit: &Circuit) {
        for (i, module) in circuit.modules.iter().enumerate() {
            self.add(Kind::Module(i), Some(module.part));
        }
        for (i, device) in circuit.devices.iter().enumerate() {
            self.add(Kind::Device(i), Some(device.part));
        }
        for (i, connector) in circuit.connectors.iter().enumerate() {
            self.add(Kind::Connector(i), Some(connector.part));
        }
        for (i, splice) in circuit.splices.iter().enumerate() {
            self.add(Kind::Splice(i), Some(splice.part));
        }
        for (i, fuse) in circuit.fuses.iter().enumerate() {
            self.add(Kind::Fuse(i), Some(fuse.part));
        }
        for (i, relay) in circuit.relays.iter().enumerate() {
            self.add(Kind::Relay(i), Some(relay.part));
        }
        for (i, feed) in circuit.feeds.iter().enumerate() {
            self.add(Kind::Feed(i), Some(feed.part));
        }
        for point in [circuit.battery_plus, circuit.battery_minus, circuit.body] {
            let part = circuit.points.get(point.idx()).map(|point| point.part);
            let place = self.add(Kind::Post(point), part);
            self.home.entry(point).or_insert((place, Slot::Point(point)));
        }
        for (i, ground) in circuit.grounds.iter().enumerate() {
            if ground.point != circuit.body {
                self.add(Kind::Ground(i), Some(ground.part));
            }
        }
    }

    fn claim(&mut self, point: PointId, part: PartId) {
        if let Some(place) = self.of_part(part) {
            self.home.entry(point).or_insert((place, Slot::Point(point)));
        }
    }

    fn add_terminals(&mut self, circuit: &Circuit) {
        for connector in &circuit.connectors {
            let Some(place) = self.of_part(connector.part) else {
                continue;
            };
            for (number, cavity) in &connector.cavities {
                for (half, terminal) in cavity.terminals.iter().enumerate() {
                    self.home.insert(*terminal, (place, Slot::Cavity(*number, half)));
                }
            }
            for (half, owner) in connector.halves.iter().enumerate() {
                let part = match owner.owner {
                    Owner::Harness => None,
                    Owner::Module(id) => circuit.modules.get(id.idx()).map(|module| module.part),
                    Owner::Device(id) => circuit.devices.get(id.idx()).map(|device| device.part),
                };
                if let Some(owner) = part.and_then(|part| self.of_part(part)) {
                    self.owned.push((place, owner, half));
                }
            }
        }
        for feed in &circuit.feeds {
            self.claim(feed.point, feed.part);
        }
        for ground in &circuit.grounds {
            self.claim(ground.point, ground.part);
        }
        for splice in &circuit.splices {
            self.claim(splice.point, splice.part);
        }
        for device in &circuit.devices {
            for (_, pin) in &device.pins {
                self.claim(*pin, device.part);
            }
        }
        let switching =
            circuit
                .fuses
                .iter()
                .map(|fuse| (fuse.part, fuse.branch))
                .chain(circuit.relays.iter().flat_map(|relay| {
                    relay
                        .contacts
                        .iter()
                        .chain([&relay.coil])
                        .map(move |branch| (relay.part, *branch))
                }));
        for (part, branch) in switching {
            if let Some((a, b)) = branch_ends(circuit, branch) {
                self.claim(a, part);
                self.claim(b, part);
            }
        }
    }

    /// Both ends of a wire: at a crimp, at a splice leg, or at a point of their own.
    fn add_wires(&mut self, circuit: &Circuit) {
        let mut landed: BTreeMap<(WireId, PointId), End> = BTreeMap::new();
        for connector in &circuit.connectors {
            let Some(place) = self.of_part(connector.part) else {
                continue;
            };
            for (number, cavity) in &connector.cavities {
                for (half, fitted) in cavity.wires.iter().enumerate() {
                    let Some((crimp, wire)) = fitted else { continue };
                    let Some(terminal) = cavity.terminals.get(half) else {
                        continue;
                    };
                    let end = End {
                        place,
                        slot: Slot::Cavity(*number, half),
                    };
                    for point in far_end(circuit, *crimp, *terminal) {
                        landed.insert((*wire, point), end);
                        self.home.entry(point).or_insert((place, Slot::Cavity(*number, half)));
                    }
                }
            }
        }
        for splice in &circuit.splices {
            let Some(place) = self.of_part(splice.part) else {
                continue;
            };
            for (leg, wire) in &splice.legs {
                for point in far_end(circuit, *leg, splice.point) {
                    landed.insert(
                        (*wire, point),
                        End {
                            place,
                            slot: Slot::Point(splice.point),
                        },
                    );
                    self.home.entry(point).or_insert((place, Slot::Point(splice.point)));
                }
            }
        }
        for (i, wire) in circuit.wires.iter().enumerate() {
            let id = WireId::from(i);
            let ends = wire.ends.map(|point| {
                landed
                    .get(&(id, point))
                    .copied()
                    .unwrap_or_else(|| self.landing(circuit, point))
            });
            self.cables.push(Cable { wire: Some(id), ends });
        }
    }

    /// Where a wire's end lands that is in no cavity and no splice: at the nearest point with a place, through crimps
    /// and ring terminals; else at a place made for it.
    fn landing(&mut self, circuit: &Circuit, point: PointId) -> End {
        let mut seen = BTreeSet::from([point]);
        let mut front = vec![point];
        // A crimp and a ring terminal at most lie between a wire and what it is screwed to.
        for _ in 0..3 {
            for at in &front {
                if let Some((place, slot)) = self.home.get(at).copied() {
                    self.home.entry(point).or_insert((place, slot));
                    return End { place, slot };
                }
            }
            let mut next = Vec::new();
            for branch in &circuit.branches {
                if !matches!(branch.role, Role::Crimp | Role::Contact | Role::Splice | Role::Ground) {
                    continue;
                }
                let (a, b) = ends_of(&branch.kind);
                for (from, to) in [(a, b), (b, a)] {
                    if front.contains(&from) && seen.insert(to) {
                        next.push(to);
                    }
                }
            }
            front = next;
        }
        let part = circuit.points.get(point.idx()).map(|point| point.part);
        let place = match part.and_then(|part| self.of_part(part)) {
            Some(place) => place,
            None => self.add(Kind::Loose(point), None),
        };
        self.home.insert(point, (place, Slot::Point(point)));
        End {
            place,
            slot: Slot::Point(point),
        }
    }

    /// Joins without a wire: a fuse or relay that sits on a rail.
    fn add_joins(&mut self, circuit: &Circuit) {
        let mut joins: BTreeSet<(usize, PointId, usize, PointId)> = BTreeSet::new();
        let mut join = |a: (usize, PointId), b: (usize, PointId)| {
            if a.0 != b.0 {
                let (a, b) = if a.0 < b.0 { (a, b) } else { (b, a) };
                joins.insert((a.0, a.1, b.0, b.1));
            }
        };
        let outside = |part: PartId| {
            circuit
                .parts
                .get(part.idx())
                .is_some_and(|part| matches!(part.kind, PartKind::Fuse(_) | PartKind::Relay(_)))
        };
        for branch in &circuit.branches {
            let (a, b) = ends_of(&branch.kind);
            if outside(branch.part) {
                let Some(own) = self.of_part(branch.part) else { continue };
                let home = |point: PointId| self.home.get(&point).map(|(place, _)| *place);
                for (near, far) in [(a, b), (b, a)] {
                    // A holder leads from its own terminal to another place; without one it sits right on that place.
                    let from = if home(near) == Some(own) { near } else { far };
                    if let Some(other) = home(far).filter(|other| *other != own) {
                        join((own, from), (other, far));
                    }
                }
            } else if let (Some(from), Some(to)) = (self.home.get(&a), self.home.get(&b)) {
                let joined = [a, b]
                    .iter()
                    .any(|point| circuit.points.get(point.idx()).is_some_and(|point| outside(point.part)));
                if joined && !matches!(branch.role, Role::Wire | Role::Crimp | Role::Splice | Role::Contact) {
                    join((from.0, a), (to.0, b));
                }
            }
        }
        for (a, at_a, b, at_b) in joins {
            self.cables.push(Cable {
                wire: None,
                ends: [
                    End {
                        place: a,
                        slot: Slot::Point(at_a),
                    },
                    End {
                        place: b,
                        slot: Slot::Point(at_b),
                    },
                ],
            });
        }
    }

    /// Points that a probe reaches and no cable shows.
    fn add_bare(&mut self, circuit: &Circuit) {
        let shown: BTreeSet<PointId> = self
            .cables
            .iter()
            .flat_map(|cable| cable.ends)
            .filter_map(|end| match end.slot {
                Slot::Point(point) => Some(point),
                Slot::Cavity(..) => None,
            })
            .collect();
        for (i, point) in circuit.points.iter().enumerate() {
            let id = PointId::from(i);
            let in_cavity = matches!(self.home.get(&id), Some((_, Slot::Cavity(..))));
            let is_post = matches!(self.home.get(&id), Some((place, _))
                if matches!(self.all.get(*place), Some(Place { kind: Kind::Post(_), .. })));
            if point.access == Access::Inside || in_cavity || is_post || shown.contains(&id) {
                continue;
            }
            let place = match self
                .home
                .get(&id)
                .map(|(place, _)| *place)
                .or_else(|| self.of_part(point.part))
            {
                Some(place)
                    if !matches!(
                        self.all.get(place),
                        Some(Place {
                            kind: Kind::Connector(_),
                            ..
                        })
                    ) =>
                {
                    place
                }
                _ => self.add(Kind::Loose(id), None),
            };
            self.home.entry(id).or_insert((place, Slot::Point(id)));
            self.bare.push((place, id));
        }
    }
}

/// The end of a crimp or joint that is not `near`; both if neither is.
fn far_end(circuit: &Circuit, branch: BranchId, near: PointId) -> Vec<PointId> {
    match branch_ends(circuit, branch) {
        Some((a, b)) if a == near => vec![b],
        Some((a, b)) if b == near => vec![a],
        Some((a, b)) => vec![a, b],
        None => Vec::new(),
    }
}
