//! Where a fault is, in words; what is joined to what; how firmly something holds the voltage of a point.

use std::collections::BTreeMap;

use crate::branch::{At, BranchKind, Law, OPEN_OHMS, Role};
use crate::id::{BranchId, ConnectorId, PartId, PointId, WireId};
use crate::model::{Circuit, Connector, Part, PartKind};
use crate::set_up::{Condition, SetUp};

/// A leak this many times the resistance behind the weaker of its two nets moves it by 12 V / 2000 = 6 mV at most: less
/// than one step of a 10-bit converter over 5 V is half of that, so it is where a leak stops being anyone's cause.
const LEAK_MATTERS: f64 = 2000.0;
/// A leak across a firm feed still drains the battery: 12 V over 10 kΩ is 1 mA.
const DRAIN_MATTERS_OHMS: f64 = 1e4;
/// What a voltmeter loads a point with.
const METER_OHMS: f64 = 1e7;
/// Insulation that a dirty surface can have.
const MOST_LEAK_OHMS: f64 = 1e8;

/// A circuit with what is asked of it again and again.
pub(super) struct Places<'c> {
    pub(super) circuit: &'c Circuit,
    contacts: BTreeMap<BranchId, (ConnectorId, u16)>,
    crimps: BTreeMap<BranchId, (ConnectorId, u16, usize)>,
    wires: BTreeMap<BranchId, WireId>,
    legs: BTreeMap<BranchId, (usize, WireId)>,
    pins: BTreeMap<BranchId, (ConnectorId, u16)>,
    /// Cavity of each terminal and crimp end.
    cavities: BTreeMap<PointId, (ConnectorId, u16)>,
    net: Vec<usize>,
    /// As `net`, without what modules have inside.
    harness_net: Vec<usize>,
    behind_ohms: Vec<f64>,
    /// As `behind_ohms`, with that connector apart that leaves the point most alone.
    alone_ohms: Vec<f64>,
}

impl<'c> Places<'c> {
    pub(super) fn new(circuit: &'c Circuit) -> Self {
        let mut places = Self {
            circuit,
            contacts: BTreeMap::new(),
            crimps: BTreeMap::new(),
            wires: BTreeMap::new(),
            legs: BTreeMap::new(),
            pins: BTreeMap::new(),
            cavities: BTreeMap::new(),
            net: nets(circuit, &[Role::InsideGround]),
            harness_net: nets(circuit, &[]),
            behind_ohms: behind_ohms(circuit, &SetUp::normal()),
            alone_ohms: alone_ohms(circuit),
        };
        for (idx, connector) in circuit.connectors.iter().enumerate() {
            for (&number, cavity) in &connector.cavities {
                let at = (ConnectorId::from(idx), number);
                places.contacts.insert(cavity.contact, at);
                places.cavities.extend(cavity.terminals.map(|terminal| (terminal, at)));
                for (half, (crimp, _)) in cavity
                    .wires
                    .iter()
                    .enumerate()
                    .filter_map(|(half, wire)| Some((half, (*wire)?)))
                {
                    places.crimps.insert(crimp, (at.0, at.1, half));
                    let ends = resistance_ends(&circuit.branches[crimp.idx()].kind);
                    places.cavities.extend(ends.into_iter().flatten().map(|end| (end, at)));
                }
            }
        }
        places.wires.extend(
            circuit
                .wires
                .iter()
                .enumerate()
                .map(|(idx, wire)| (wire.branch, idx.into())),
        );
        for (idx, splice) in circuit.splices.iter().enumerate() {
            places
                .legs
                .extend(splice.legs.iter().map(|&(leg, wire)| (leg, (idx, wire))));
        }
        for pin in circuit.modules.iter().flat_map(|module| &module.pins) {
            places
                .pins
                .extend(pin.inside.iter().map(|&branch| (branch, (pin.connector, pin.cavity))));
        }
        places
    }

    pub(super) fn contact(&self, branch: BranchId) -> Option<(ConnectorId, u16)> {
        self.contacts.get(&branch).copied()
    }

    /// Connector, cavity, half.
    pub(super) fn crimp(&self, branch: BranchId) -> Option<(ConnectorId, u16, usize)> {
        self.crimps.get(&branch).copied()
    }

    pub(super) fn wire(&self, branch: BranchId) -> Option<WireId> {
        self.wires.get(&branch).copied()
    }

    /// Position of the splice, and the wire.
    pub(super) fn leg(&self, branch: BranchId) -> Option<(usize, WireId)> {
        self.legs.get(&branch).copied()
    }

    pub(super) fn connector(&self, id: ConnectorId) -> &'c Connector {
        &self.circuit.connectors[id.idx()]
    }

    pub(super) fn id(&self, part: PartId) -> &'c str {
        &self.circuit.parts[part.idx()].id
    }

    /// `S1.2`.
    pub(super) fn cavity_path(&self, connector: ConnectorId, number: u16) -> String {
        format!("{}.{number}", self.id(self.connector(connector).part))
    }

    /// "sensor plug S1".
    pub(super) fn part_words(&self, part: PartId) -> String {
        with_id(&self.circuit.parts[part.idx()])
    }

    /// "sensor plug S1, cavity 2 (signal), violet/yellow wire".
    pub(super) fn cavity_words(&self, connector: ConnectorId, number: u16) -> String {
        let plug = self.part_words(self.connector(connector).part);
        format!("{plug}, {}", self.cavity_alone(connector, number))
    }

    /// "cavity 2 (signal), violet/yellow wire".
    pub(super) fn cavity_alone(&self, connector: ConnectorId, number: u16) -> String {
        let Some(cavity) = self.connector(connector).cavities.get(&number) else {
            return format!("cavity {number}");
        };
        let named = match cavity.words.as_str() {
            "" => format!("cavity {number}"),
            through => format!("cavity {number} ({through})"),
        };
        let mut colours: Vec<String> = cavity
            .wires
            .iter()
            .flatten()
            .map(|(_, wire)| self.colour(*wire))
            .collect();
        colours.dedup();
        colours.retain(|colour| !colour.is_empty());
        if colours.is_empty() {
            named
        } else {
            format!("{named}, {} wire", colours.join(" to "))
        }
    }

    fn colour(&self, wire: WireId) -> String {
        let wire = &self.circuit.wires[wire.idx()];
        match &wire.tracer {
            Some(tracer) => format!("{}/{tracer}", wire.colour),
            None => wire.colour.clone(),
        }
    }

    /// "violet/yellow wire W5".
    pub(super) fn wire_words(&self, wire: WireId) -> String {
        format!(
            "{} wire {}",
            self.colour(wire),
            self.id(self.circuit.wires[wire.idx()].part)
        )
        .trim_start()
        .to_owned()
    }

    /// "violet/yellow wire W5, from climate module plug cavity 4 to floor joint cavity 7".
    pub(super) fn run_words(&self, wire: WireId) -> String {
        let [from, to] = self.circuit.wires[wire.idx()].ends.map(|end| self.end_words(end));
        format!("{}, from {from} to {to}", self.wire_words(wire))
    }

    fn end_words(&self, end: PointId) -> String {
        if let Some(&(connector, number)) = self.cavities.get(&end) {
            let part = self.connector(connector).part;
            return format!("{} cavity {number}", self.circuit.parts[part.idx()].called());
        }
        let point = &self.circuit.points[end.idx()];
        let part = &self.circuit.parts[point.part.idx()];
        match part.kind {
            PartKind::Splice(_) => part.called().to_owned(),
            _ => point.words.clone(),
        }
    }

    /// Place of a branch inside a part: the part, what the branch is called within it, and the cavity if it is a pin's.
    pub(super) fn inside_words(&self, branch: BranchId) -> String {
        let inside = &self.circuit.branches[branch.idx()];
        let mut words = vec![self.part_words(inside.part)];
        words.extend(inside.path.split_once('/').map(|(_, within)| {
            let numbered = within.starts_with(|first: char| first.is_ascii_digit());
            if numbered {
                format!("contact {within}")
            } else {
                within.replace('_', " ")
            }
        }));
        let pin = self.pins.get(&branch);
        words.extend(pin.map(|&(connector, number)| format!("at {}", self.cavity_words(connector, number))));
        words.join(", ")
    }

    /// Whether two points are one conductor when everything is mated, so that a leak between them changes nothing.
    pub(super) fn joined(&self, a: PointId, b: PointId) -> bool {
        self.net[a.idx()] == self.net[b.idx()]
    }

    /// The net of the harness that a point is on, a number that only compares.
    pub(super) fn harness_net_of(&self, point: PointId) -> usize {
        self.harness_net[point.idx()]
    }

    /// Whether two points are one conductor outside of modules.
    pub(super) fn joined_outside(&self, a: PointId, b: PointId) -> bool {
        self.harness_net_of(a) == self.harness_net_of(b)
    }

    /// Largest leak to body metal of a conductor that the inside of a module grounds already. It drains nothing; it only
    /// carries a share of what flows through that ground.
    pub(super) fn largest_second_ground(&self, point: PointId) -> f64 {
        (LEAK_MATTERS * self.behind_ohms[point.idx()]).clamp(10.0, DRAIN_MATTERS_OHMS)
    }

    /// Largest leak between two points that could be felt anywhere, ohms: by the circuit, or by a meter where a connector is
    /// apart and one of the two hangs on it alone.
    pub(super) fn largest_leak(&self, a: PointId, b: PointId) -> f64 {
        let weaker = self.alone_ohms[a.idx()].max(self.alone_ohms[b.idx()]);
        (LEAK_MATTERS * weaker).clamp(DRAIN_MATTERS_OHMS, MOST_LEAK_OHMS)
    }

    /// The value of a law as the vehicle usually stands.
    pub(super) fn usual(&self, law: &Law) -> f64 {
        law.value(&At::centre(self.circuit, &SetUp::normal()))
    }

    /// A switch that only closes when something is out: a bypass of an accessory, a bridge in a relay's socket.
    pub(super) fn is_bypass(&self, branch: BranchId) -> bool {
        is_bypass(self.circuit, &self.circuit.branches[branch.idx()].kind)
    }
}

fn is_bypass(circuit: &Circuit, kind: &BranchKind) -> bool {
    let BranchKind::Switch { closed, .. } = kind else {
        return false;
    };
    let about_removal = |condition: &Condition| matches!(condition, Condition::Fitted(_) | Condition::RelayBridged(_));
    closed.any(&about_removal) && !closed.holds_in(circuit, &SetUp::normal())
}

/// Name with the id behind it where the name does not say it: "sensor plug S1".
pub(super) fn with_id(part: &Part) -> String {
    let said = part.called().split_whitespace().any(|word| word == part.id);
    if said {
        part.called().to_owned()
    } else {
        format!("{} {}", part.called(), part.id)
    }
}

/// The two ends of what conducts by resistance alone.
pub(super) fn resistance_ends(kind: &BranchKind) -> Option<[PointId; 2]> {
    match *kind {
        BranchKind::Resistor { a, b, .. }
        | BranchKind::Switch { a, b, .. }
        | BranchKind::Lamp { a, b, .. }
        | BranchKind::RelayContact { a, b, .. }
        | BranchKind::Fuse { a, b, .. }
        | BranchKind::Driver { a, b, .. } => Some([a, b]),
        BranchKind::Source { .. }
        | BranchKind::Diode { .. }
        | BranchKind::Clamp { .. }
        | BranchKind::Output { .. }
        | BranchKind::CurrentSink { .. } => None,
    }
}

/// For each point the least point that copper joins it to; that of the harness, and of branches with these roles.
fn nets(circuit: &Circuit, and: &[Role]) -> Vec<usize> {
    let mut net: Vec<usize> = (0..circuit.points.len()).collect();
    let copper = circuit.branches.iter().filter(|branch| {
        let role = matches!(
            branch.role,
            Role::Contact | Role::Crimp | Role::Wire | Role::Splice | Role::Ground
        );
        (role || and.contains(&branch.role)) && !is_bypass(circuit, &branch.kind)
    });
    for [a, b] in copper.filter_map(|branch| resistance_ends(&branch.kind)) {
        let (kept, gone) = (net[a.idx()].min(net[b.idx()]), net[a.idx()].max(net[b.idx()]));
        for other in net.iter_mut().filter(|other| **other == gone) {
            *other = kept;
        }
    }
    net
}

/// The most that [`behind_ohms`] finds for each point with one connector apart, or with none, up to a meter's own.
fn alone_ohms(circuit: &Circuit) -> Vec<f64> {
    let mut most = behind_ohms(circuit, &SetUp::normal());
    for idx in 0..circuit.connectors.len() {
        let mut set_up = SetUp::normal();
        set_up.apart.insert(ConnectorId::from(idx));
        for (most, ohms) in most.iter_mut().zip(behind_ohms(circuit, &set_up)) {
            *most = most.max(ohms.min(METER_OHMS));
        }
    }
    most
}

/// For each point the resistance of the best path to something that holds its voltage, as the vehicle stands:
/// Dijkstra's shortest path from battery negative, sources and outputs counted as their own resistance.
fn behind_ohms(circuit: &Circuit, set_up: &SetUp) -> Vec<f64> {
    let at = At::centre(circuit, set_up);
    let mut edges = vec![Vec::new(); circuit.points.len()];
    for branch in &circuit.branches {
        let edge = match &branch.kind {
            BranchKind::Resistor { a, b, ohms } | BranchKind::Fuse { a, b, ohms, .. } => {
                Some((*a, *b, ohms.value(&at)))
            }
            BranchKind::Switch {
                a,
                b,
                closed_ohms,
                closed,
            } => Some((
                *a,
                *b,
                if closed.holds(&at) {
                    closed_ohms.value(&at)
                } else {
                    OPEN_OHMS
                },
            )),
            BranchKind::Source {
                plus,
                minus,
                ohms,
                present,
                ..
            } => present.holds(&at).then(|| (*plus, *minus, ohms.value(&at))),
            BranchKind::Output {
                ground, output, ohms, ..
            } => Some((*output, *ground, ohms.value(&at))),
            BranchKind::Lamp {
                a,
                b,
                rated_volts,
                rated_watts,
                ..
            } => Some((*a, *b, rated_volts * rated_volts / rated_watts.value(&at))),
            BranchKind::RelayContact {
                a,
                b,
                closed_ohms,
                normally_closed,
                ..
            } => normally_closed.then(|| (*a, *b, closed_ohms.value(&at))),
            BranchKind::Driver {
                a,
                b,
                on_ohms,
                off_ohms,
                commanded,
                ..
            } => Some((
                *a,
                *b,
                if commanded.holds(&at) {
                    on_ohms.value(&at)
                } else {
                    *off_ohms
                },
            )),
            // Holds its points together as firmly as a resistor while the current goes its way.
            BranchKind::CurrentSink {
                from,
                to,
                amps,
                knee_volts,
                ..
            } if branch.role == Role::OneWay => Some((*from, *to, knee_volts / amps.value(&at))),
            BranchKind::Diode { .. } | BranchKind::Clamp { .. } | BranchKind::CurrentSink { .. } => None,
        };
        if let Some((a, b, ohms)) = edge {
            edges[a.idx()].push((b.idx(), ohms.max(0.0)));
            edges[b.idx()].push((a.idx(), ohms.max(0.0)));
        }
    }
    let mut best = vec![OPEN_OHMS; circuit.points.len()];
    let mut done = vec![false; circuit.points.len()];
    if let Some(start) = best.get_mut(circuit.battery_minus.idx()) {
        *start = 0.0;
    }
    while let Some(here) = (0..best.len())
        .filter(|&point| !done[point])
        .min_by(|&a, &b| best[a].total_cmp(&best[b]))
    {
        done[here] = true;
        for &(there, ohms) in &edges[here] {
            best[there] = best[there].min(best[here] + ohms);
        }
    }
    best
}
