//! What only the finished circuit shows: points that nothing feeds or grounds, ends that lead nowhere.

use std::collections::BTreeMap;

use super::super::decode::Named;
use super::Builder;
use crate::branch::BranchKind;
use crate::id::PointId;
use crate::model::PartKind;

/// Mistakes that leave nothing out of the circuit.
const HARMLESS: &[&str] = &[
    "cavity-used-twice",
    "colour",
    "condition",
    "key",
    "limits",
    "never-live",
    "table-order",
    "unknown-channel",
    "unknown-wire",
];

impl Builder<'_, '_, '_> {
    pub(super) fn check(&mut self) {
        // A part that was passed over would leave its neighbours hanging.
        if !self.unread.is_empty() || self.slips.any_but(HARMLESS) {
            return;
        }
        self.lonely_cavities();
        self.lonely_terminals();
        self.lonely_splices();
        self.feeds_in_a_ring();
        self.floating_points();
    }

    /// Cavities with something on one side only.
    fn lonely_cavities(&mut self) {
        for idx in 0..self.plugs.len() {
            let id = self.plugs[idx].id.clone();
            let joint = self.plugs[idx].joint;
            let numbers: Vec<u16> = self.circuit.connectors[idx].cavities.keys().copied().collect();
            for number in numbers {
                let cavity = &self.circuit.connectors[idx].cavities[&number];
                let [a, b] = cavity.terminals;
                let wired = cavity.wires.map(|wire| wire.is_some());
                let goes_through = self.plugs[idx]
                    .accessory
                    .is_some_and(|(_, other)| self.circuit.connectors[other.idx()].cavities.contains_key(&number));
                let has_pin = self.has_pin(b) || goes_through;
                let at = self.place_of(&format!("{id}.{number}"));
                match (joint, wired, has_pin) {
                    (true, [true, true], _) | (false, [true, _], true) => {}
                    (true, [is_a, _], _) => {
                        let missing = if is_a { b } else { a };
                        let words = self.circuit.points[missing.idx()].path.clone();
                        let message =
                            format!("cavity {number} of `{id}` has a wire on one side only: none ends at `{words}`");
                        self.slips.push("wire-to-nowhere", &at, message);
                    }
                    (false, [true, _], false) => {
                        let help = "name the cavity in the pins of the module or device that is plugged in there";
                        let message = format!("a wire ends at `{id}.{number}`, but no pin is in that cavity");
                        self.slips.push_help("wire-to-nowhere", &at, message, help);
                    }
                    (false, [false, _], _) => {
                        let message = format!("no wire ends at `{id}.{number}`, where a pin is");
                        self.slips.push("pin-without-wire", &at, message);
                    }
                }
            }
        }
    }

    fn has_pin(&self, point: PointId) -> bool {
        self.circuit
            .modules
            .iter()
            .flat_map(|module| &module.pins)
            .any(|pin| pin.point == point)
            || self
                .circuit
                .devices
                .iter()
                .flat_map(|device| &device.pins)
                .any(|(_, pin)| *pin == point)
    }

    /// Where the file first speaks of this cavity, whatever the side.
    fn place_of(&self, path: &str) -> std::ops::Range<usize> {
        let is_it = |text: &str| text == path || text.strip_prefix(path).is_some_and(|rest| rest.starts_with('/'));
        let file = self.file;
        let wires = file
            .wire
            .iter()
            .filter_map(|wire| wire.is.as_ref())
            .flat_map(|wire| [&wire.from, &wire.to]);
        let devices = file.device.iter().filter_map(|device| device.is.as_ref());
        let pins = devices
            .flat_map(|device| device.pins.iter())
            .filter_map(|pin| pin.is.as_ref());
        let named = wires
            .chain(pins)
            .find(|text| is_it(&text.text))
            .map(|text| text.at.clone());
        named.or_else(|| self.module_pin_place(path)).unwrap_or(0..0)
    }

    fn module_pin_place(&self, path: &str) -> Option<std::ops::Range<usize>> {
        let modules = self.file.module.iter().filter_map(|module| module.is.as_ref());
        let mut pins = modules.flat_map(|module| module.pin.iter());
        pins.find(|pin| pin.name == path).map(|pin| pin.at.clone())
    }

    /// Pins of devices that are in no cavity, and that no wire ends at either.
    fn lonely_terminals(&mut self) {
        for idx in 0..self.circuit.devices.len() {
            let device = &self.circuit.devices[idx];
            let id = self.part_id(device.part).to_owned();
            let names: Vec<String> = device.pins.iter().map(|(name, _)| name.clone()).collect();
            for name in names {
                let path = format!("{id}/{name}");
                let own = self.points.contains_key(&path);
                if own && !self.is_wired(&path) && !self.is_a_devices_pin(&path) {
                    let at = self.place_of_part(&id);
                    let message = format!("no wire ends at `{path}`, and `{name}` is in no cavity");
                    let help = format!("give its cavity in `pins`, or a wire that ends at `{path}`");
                    self.slips.push_help("pin-without-wire", &at, message, help);
                }
            }
        }
    }

    fn is_a_devices_pin(&self, path: &str) -> bool {
        let devices = self.file.device.iter().filter_map(|device| device.is.as_ref());
        let mut pins = devices
            .flat_map(|device| device.pins.iter())
            .filter_map(|pin| pin.is.as_ref());
        pins.any(|pin| pin.text == path)
    }

    fn lonely_splices(&mut self) {
        for (idx, Named { name, at, .. }) in self.file.splice.iter().filter(|splice| splice.is.is_some()).enumerate() {
            let n_legs = self.circuit.splices[idx].legs.len();
            if n_legs < 2 {
                let joins = if n_legs == 0 { "no wires" } else { "one wire only" };
                let message = format!("splice `{name}` joins {joins}: it takes two or more");
                self.slips.push("lonely-splice", at, message);
            }
        }
    }

    /// Feeds and fuses that are fed from one another, so that nothing ever reaches them.
    fn feeds_in_a_ring(&mut self) {
        let file = self.file;
        let feeds = file
            .feed
            .iter()
            .filter_map(|feed| Some((&feed.name, &feed.is.as_ref()?.from)));
        let fuses = file
            .fuse
            .iter()
            .filter_map(|fuse| Some((&fuse.name, fuse.is.as_ref()?.from.as_ref()?)));
        let from: BTreeMap<&str, _> = feeds.chain(fuses).map(|(name, from)| (name.as_str(), from)).collect();
        let above = |name: &str| {
            from.get(name)
                .map(|from| from.text.split('/').next().unwrap_or_default())
        };
        let mut told: Vec<&str> = Vec::new();
        for (&name, text) in &from {
            let mut ring = vec![name];
            let mut next = above(name);
            while let Some(here) = next.filter(|here| !ring.contains(here)) {
                ring.push(here);
                next = above(here);
            }
            if next == Some(name) && !told.contains(&name) {
                ring.push(name);
                let message = format!("nothing feeds `{name}`: it is fed from itself, {}", ring.join(" from "));
                self.slips
                    .push_help("feed-ring", &text.at, message, "one of them must come from the battery");
                told.extend(ring);
            }
        }
    }

    /// Points that no branch joins to the rest, open switches counted as joined: nothing could be said of them.
    fn floating_points(&mut self) {
        let mut group: Vec<usize> = (0..self.circuit.points.len()).collect();
        for branch in &self.circuit.branches {
            let points = ends(&branch.kind);
            for pair in points.windows(2) {
                let (one, other) = (root(&mut group, pair[0].idx()), root(&mut group, pair[1].idx()));
                group[one] = other;
            }
        }
        let ground = root(&mut group, self.circuit.battery_minus.idx());
        let mut islands: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for point in 0..group.len() {
            let island = root(&mut group, point);
            if island != ground {
                islands.entry(island).or_default().push(point);
            }
        }
        for points in islands.into_values() {
            let point = &self.circuit.points[points[0]];
            let part = &self.circuit.parts[point.part.idx()];
            if matches!(part.kind, PartKind::Splice(_)) {
                continue; // noted with the splices
            }
            let at = self.place_of_part(&part.id);
            let message = match points.len() {
                2 => format!("`{}` ({}) and one other point hang in the air", point.path, point.words),
                1 => format!("nothing is connected to `{}` ({})", point.path, point.words),
                n => format!(
                    "`{}` ({}) and {} other points hang in the air",
                    point.path,
                    point.words,
                    n - 1
                ),
            };
            self.slips.push_help(
                "floating",
                &at,
                message,
                "nothing leads from there to the battery or to ground",
            );
        }
    }

    fn place_of_part(&self, id: &str) -> std::ops::Range<usize> {
        let file = self.file;
        let entry = |name: &str, at: &std::ops::Range<usize>| (name == id).then(|| at.clone());
        let mut found = None;
        found = found.or_else(|| file.feed.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.fuse.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.relay.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.ground.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.module.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.device.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.connector.iter().find_map(|e| entry(&e.name, &e.at)));
        found = found.or_else(|| file.splice.iter().find_map(|e| entry(&e.name, &e.at)));
        found
            .or_else(|| file.wire.iter().find_map(|e| entry(&e.name, &e.at)))
            .unwrap_or(0..0)
    }
}

fn root(group: &mut [usize], mut at: usize) -> usize {
    while group[at] != at {
        group[at] = group[group[at]];
        at = group[at];
    }
    at
}

/// The points between which a branch may carry current.
fn ends(kind: &BranchKind) -> Vec<PointId> {
    match *kind {
        BranchKind::Resistor { a, b, .. }
        | BranchKind::Switch { a, b, .. }
        | BranchKind::Lamp { a, b, .. }
        | BranchKind::RelayContact { a, b, .. }
        | BranchKind::Fuse { a, b, .. }
        | BranchKind::Driver { a, b, .. } => vec![a, b],
        BranchKind::Source { plus, minus, .. } => vec![plus, minus],
        BranchKind::Diode { anode, cathode, .. } | BranchKind::Clamp { anode, cathode, .. } => vec![anode, cathode],
        BranchKind::CurrentSink { from, to, .. } => vec![from, to],
        BranchKind::Output {
            supply, ground, output, ..
        } => vec![supply, ground, output],
    }
}
