//! Nets: points joined by metal, so that one fault to a feed reaches all of them.
//!
//! Contacts, crimps, wires, splices, fuses and grounds join; switches, relays, drivers and everything inside a module or
//! device do not. Limits: a relay that happens to be closed still parts two nets here, which is what a diagram shows.

use std::collections::BTreeMap;

use circuit::{BranchId, BranchKind, Circuit, ConnectorId, PinKind, PointId, Role, SetUp};

/// What hangs on a net.
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own, and any of them can meet"
)]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Hangs {
    /// A feed rail, the battery's positive post, a feed pin or a high-side driver.
    pub(crate) feed: bool,
    /// The battery's negative post, body metal or a stud.
    pub(crate) metal: bool,
    /// A ground pin or sensor-ground pin of a module.
    pub(crate) ground_pin: bool,
    /// A driver, low side or high side.
    pub(crate) driver: bool,
    /// At least one wire of the harness, so that a neighbour can touch it.
    pub(crate) wire: bool,
}

impl Hangs {
    /// Current comes back through it: metal, ground pins and sensor grounds.
    pub(crate) fn returns(self) -> bool {
        self.metal || self.ground_pin
    }

    /// Enough current for a clamp or a filament may be expected: it belongs to a feed, a load or power ground.
    pub(crate) fn carries(self) -> bool {
        self.feed || self.driver || self.metal
    }
}

/// The nets of a circuit in one set-up.
#[derive(Clone, Debug)]
pub(crate) struct Nets {
    of: Vec<usize>,
    hangs: Vec<Hangs>,
}

impl Nets {
    /// The nets in a set-up: parted connectors and pulled fuses part them.
    pub(crate) fn new(circuit: &Circuit, set_up: &SetUp) -> Self {
        let contacts = contacts(circuit);
        let mut of: Vec<usize> = (0..circuit.points.len()).collect();
        for (idx, branch) in circuit.branches.iter().enumerate() {
            let joins = match branch.role {
                Role::Contact => contacts
                    .get(&BranchId::from(idx))
                    .is_none_or(|c| !set_up.apart.contains(c)),
                Role::Crimp | Role::Wire | Role::Splice | Role::Ground => true,
                Role::Fuse => match branch.kind {
                    BranchKind::Fuse { fuse, .. } => !set_up.fuses_out.contains(&fuse),
                    _ => true,
                },
                _ => false,
            };
            if joins {
                let (a, b) = branch.kind.ends();
                let (a, b) = (root(&of, a.idx()), root(&of, b.idx()));
                // The lower index wins, so that the result does not depend on the order of branches.
                if let Some(slot) = of.get_mut(a.max(b)) {
                    *slot = a.min(b);
                }
            }
        }
        let of: Vec<usize> = (0..of.len()).map(|idx| root(&of, idx)).collect();
        let mut nets = Self {
            hangs: vec![Hangs::default(); of.len()],
            of,
        };
        nets.hang(circuit);
        nets
    }

    /// Which net a point is in.
    pub(crate) fn of(&self, point: PointId) -> usize {
        self.of.get(point.idx()).copied().unwrap_or(usize::MAX)
    }

    /// Whether metal joins two points.
    pub(crate) fn same(&self, a: PointId, b: PointId) -> bool {
        self.of(a) == self.of(b)
    }

    /// What hangs on the net of a point.
    pub(crate) fn hangs(&self, point: PointId) -> Hangs {
        self.hangs.get(self.of(point)).copied().unwrap_or_default()
    }

    fn at(&mut self, point: PointId) -> Option<&mut Hangs> {
        let net = self.of(point);
        self.hangs.get_mut(net)
    }

    fn hang(&mut self, circuit: &Circuit) {
        let mut set = |point: PointId, with: fn(&mut Hangs)| {
            if let Some(hangs) = self.at(point) {
                with(hangs);
            }
        };
        set(circuit.battery_plus, |h| h.feed = true);
        set(circuit.battery_minus, |h| h.metal = true);
        set(circuit.body, |h| h.metal = true);
        for feed in &circuit.feeds {
            set(feed.point, |h| h.feed = true);
        }
        for ground in &circuit.grounds {
            set(ground.point, |h| h.metal = true);
        }
        for wire in &circuit.wires {
            set(wire.ends[0], |h| h.wire = true);
        }
        for pin in circuit.modules.iter().flat_map(|m| &m.pins) {
            match pin.kind {
                PinKind::Feed => set(pin.point, |h| h.feed = true),
                PinKind::Ground | PinKind::SensorGround => set(pin.point, |h| h.ground_pin = true),
                PinKind::Reference | PinKind::Input => {}
                PinKind::LowSideDriver => set(pin.point, |h| h.driver = true),
                PinKind::HighSideDriver => set(pin.point, |h| {
                    h.driver = true;
                    h.feed = true;
                }),
            }
        }
    }
}

fn root(of: &[usize], mut idx: usize) -> usize {
    while let Some(&up) = of.get(idx) {
        if up == idx {
            break;
        }
        idx = up;
    }
    idx
}

/// The connector of each contact.
fn contacts(circuit: &Circuit) -> BTreeMap<BranchId, ConnectorId> {
    let cavities = circuit.connectors.iter().enumerate();
    cavities
        .flat_map(|(idx, c)| {
            c.cavities
                .values()
                .map(move |cavity| (cavity.contact, ConnectorId::from(idx)))
        })
        .collect()
}
