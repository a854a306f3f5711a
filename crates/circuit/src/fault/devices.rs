//! Faults inside devices and accessories: wear, drift, breaks, and shorts between pins.

use super::place::{Places, resistance_ends};
use super::series::{MOST_SERIES_OHMS, Spot, contacts};
use super::{Change, Fault, Mode, Severity, rates};
use crate::branch::{Base, BranchKind, Law};
use crate::id::{BranchId, DeviceId, PointId};
use crate::set_up::Condition;

/// Least resistance of a short inside a part.
const LEAST_SHORT_OHMS: f64 = 0.1;
/// Added resistance below this share of a part's own lies within its tolerance.
const PART_TOLERANCE: f64 = 0.05;
/// Drift below this, in percent of the span, is within what a good sensor does. Common practice, no source.
const GOOD_SENSOR_PERCENT: f64 = 3.0;

/// Pushes faults of one branch, each named behind the branch's path.
struct Inside<'p, 'c> {
    places: &'p Places<'c>,
    id: BranchId,
    path: &'c str,
    spot: Spot,
}

impl<'p, 'c> Inside<'p, 'c> {
    fn new(places: &'p Places<'c>, id: BranchId) -> Self {
        Self {
            places,
            id,
            path: &places.circuit.branches[id.idx()].path,
            spot: Spot::inside(places, id),
        }
    }

    fn fault(
        &self,
        name: &str,
        what: &str,
        mode: Mode,
        severity: Option<Severity>,
        change: Change,
        weight: f64,
    ) -> Fault {
        self.spot
            .fault(format!("{}/{name}", self.path), what, mode, severity, change, weight)
    }

    fn open(&self, name: &str, what: &str, weight: f64) -> Fault {
        self.fault(name, what, Mode::Open, None, Change::Open(self.id), weight)
    }

    /// Resistance added, from what its own tolerance does not explain.
    fn resistance(&self, name: &str, what: &str, mode: Mode, weight: f64) -> Fault {
        let own = match &self.places.circuit.branches[self.id.idx()].kind {
            BranchKind::Resistor { ohms, .. } | BranchKind::Output { ohms, .. } => self.places.usual(ohms),
            _ => 0.0,
        };
        let low = (PART_TOLERANCE * own).clamp(0.05, MOST_SERIES_OHMS / 10.0);
        self.fault(
            name,
            what,
            mode,
            Some(Severity::ohms(low, MOST_SERIES_OHMS)),
            Change::AddSeries(self.id),
            weight,
        )
    }

    fn scaled(&self, name: &str, what: &str, mode: Mode, (low, high): (f64, f64), weight: f64) -> Fault {
        self.fault(
            name,
            what,
            mode,
            Some(Severity::factor(low, high)),
            Change::Scale(self.id),
            weight,
        )
    }
}

pub(super) fn track(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.resistance("worn", "track worn", Mode::Drift, rates::TRACK_WORN));
    out.push(inside.open("broken", "track broken", rates::SENSOR_OPEN));
}

pub(super) fn wiper(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.resistance("worn", "wiper touches badly", Mode::Drift, rates::WIPER_WORN));
    out.push(inside.open("off", "wiper does not touch", rates::SENSOR_OPEN));
}

pub(super) fn sensing(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.open("open", "open inside", rates::SENSOR_OPEN));
    out.push(inside.resistance(
        "added resistance",
        "bad joint inside",
        Mode::SeriesResistance,
        rates::SENSOR_WEAK,
    ));
}

pub(super) fn output(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.open("dead", "gives no output", rates::SENSOR_OPEN));
    out.push(inside.resistance("weak", "output weak", Mode::SeriesResistance, rates::SENSOR_WEAK));
}

pub(super) fn fixed_resistor(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.resistance("drifted up", "resistor too high", Mode::Drift, rates::RESISTOR_DRIFT));
    out.push(inside.scaled(
        "drifted down",
        "resistor too low",
        Mode::Drift,
        (0.01, 0.95),
        rates::RESISTOR_DRIFT,
    ));
    out.push(inside.open("open", "resistor open", rates::RESISTOR_DRIFT));
}

pub(super) fn coil(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.open("open", "winding open", rates::COIL_OPEN));
    out.push(inside.resistance(
        "added resistance",
        "bad joint inside",
        Mode::SeriesResistance,
        rates::SENSOR_WEAK,
    ));
    let shorted = "winding shorted in part or whole";
    out.push(inside.scaled(
        "shorted in part",
        shorted,
        Mode::ShortedInside,
        (0.01, 0.9),
        rates::COIL_SHORTED,
    ));
}

pub(super) fn motor(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.resistance(
        "worn brushes",
        "brushes worn",
        Mode::SeriesResistance,
        rates::BRUSHES_WORN,
    ));
    out.push(inside.open(
        "open",
        "open inside: brushes stuck or winding broken",
        rates::MOTOR_OPEN,
    ));
    // More load is more current: fewer ohms of a running motor, more amperes of a constant draw.
    let range = match places.circuit.branches[id.idx()].kind {
        BranchKind::CurrentSink { .. } => (1.15, 8.0),
        _ => (0.12, 0.87),
    };
    let slow = "slow, tight, blocked or shorted: draws too much";
    out.push(inside.scaled("drags", slow, Mode::Drag, range, rates::MOTOR_DRAG));
}

pub(super) fn lamp(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    out.push(inside.open("burnt out", "filament open", rates::LAMP_OPEN));
    out.push(inside.resistance(
        "bad holder",
        "bad contact in its holder",
        Mode::SeriesResistance,
        rates::CONTACT_RESISTANCE,
    ));
}

/// A branch of a composed device or accessory, by what it is made of.
pub(super) fn other(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let inside = Inside::new(places, id);
    match &places.circuit.branches[id.idx()].kind {
        BranchKind::Switch { .. } | BranchKind::RelayContact { .. } | BranchKind::Driver { .. } => {
            contacts(places, id, [rates::OTHER; 3], out);
            return;
        }
        BranchKind::Diode { anode, cathode, .. } | BranchKind::Clamp { anode, cathode, .. } => {
            let severity = Some(Severity::ohms(LEAST_SHORT_OHMS, places.largest_leak(*anode, *cathode)));
            let change = Change::Bridge(*anode, *cathode);
            out.push(inside.fault(
                "leaks",
                "diode leaky or shorted",
                Mode::ShortedInside,
                severity,
                change,
                rates::OTHER,
            ));
        }
        BranchKind::CurrentSink { .. } => {
            out.push(inside.scaled(
                "draws too much",
                "draws too much",
                Mode::Drag,
                (1.15, 8.0),
                rates::OTHER,
            ));
        }
        BranchKind::Output { .. } | BranchKind::Source { .. } => {
            out.push(inside.scaled("low", "output low", Mode::Drift, (0.05, 0.97), rates::OTHER));
        }
        BranchKind::Resistor { .. } | BranchKind::Lamp { .. } | BranchKind::Fuse { .. } => {
            let what = "added resistance inside";
            out.push(inside.resistance("added resistance", what, Mode::SeriesResistance, rates::OTHER));
        }
    }
    out.push(inside.open("open", "open inside", rates::OTHER));
}

/// Faults of a device as a whole: drift of what it senses, shorts between its pins. A short between two pins of one
/// sensor is also what drags down a reference or lifts a sensor ground that others share.
pub(super) fn of_device(places: &Places<'_>, id: DeviceId, out: &mut Vec<Fault>) {
    let circuit = places.circuit;
    let device = &circuit.devices[id.idx()];
    let path = places.id(device.part);
    let spot = Spot {
        place: places.part_words(device.part),
        parts: vec![device.part],
        points: device.pins.iter().map(|(_, point)| *point).collect(),
        repair: rates::renew(circuit, device.part, "replace"),
    };
    if device
        .inside
        .iter()
        .any(|&branch| follows_sensed(&circuit.branches[branch.idx()].kind))
    {
        for (name, low, high) in [
            ("high", GOOD_SENSOR_PERCENT, 100.0),
            ("low", -100.0, -GOOD_SENSOR_PERCENT),
        ] {
            out.push(spot.fault(
                format!("{path}/reads {name}"),
                &format!("drifted: senses too {name}"),
                Mode::Drift,
                Some(Severity::percent(low, high)),
                Change::ShiftSensed(id),
                rates::SENSOR_DRIFT,
            ));
        }
    }
    let (what, weight) = if device.accessory {
        ("leak between its paths", rates::ACCESSORY_LEAK)
    } else {
        ("shorted or leaking inside, between two pins", rates::PINS_SHORTED)
    };
    let path_of = through_paths(places, device.inside.as_slice());
    for (position, (one, a)) in device.pins.iter().enumerate() {
        for (other, b) in &device.pins[position + 1..] {
            if places.joined(*a, *b) || (device.accessory && !first_of_paths(device, &path_of, *a, *b)) {
                continue;
            }
            let spot = Spot {
                place: format!("{}, between {one} and {other}", spot.place),
                points: vec![*a, *b],
                parts: spot.parts.clone(),
                repair: spot.repair.clone(),
            };
            out.push(spot.fault(
                format!("{path}/{one}-{other} shorted"),
                what,
                Mode::ShortedInside,
                Some(Severity::ohms(LEAST_SHORT_OHMS, places.largest_leak(*a, *b))),
                Change::Bridge(*a, *b),
                weight,
            ));
        }
    }
}

/// For each point the least point that the branches join it to with no more than 10 Ω: what an accessory lets through.
fn through_paths(places: &Places<'_>, inside: &[BranchId]) -> Vec<usize> {
    let mut path: Vec<usize> = (0..places.circuit.points.len()).collect();
    for branch in inside.iter().map(|id| &places.circuit.branches[id.idx()]) {
        let ohms = match &branch.kind {
            BranchKind::Resistor { ohms, .. } => places.usual(ohms),
            BranchKind::Switch { closed_ohms, .. } => places.usual(closed_ohms),
            _ => f64::INFINITY,
        };
        if let Some([a, b]) = resistance_ends(&branch.kind).filter(|_| ohms <= 10.0) {
            let (kept, gone) = (path[a.idx()].min(path[b.idx()]), path[a.idx()].max(path[b.idx()]));
            for other in path.iter_mut().filter(|other| **other == gone) {
                *other = kept;
            }
        }
    }
    path
}

/// Whether the two pins are each the first of two different paths, so that each pair of paths comes once.
fn first_of_paths(device: &crate::model::Device, path_of: &[usize], a: PointId, b: PointId) -> bool {
    let first = |pin: PointId| {
        device
            .pins
            .iter()
            .map(|(_, point)| *point)
            .find(|point| path_of[point.idx()] == path_of[pin.idx()])
            == Some(pin)
    };
    path_of[a.idx()] != path_of[b.idx()] && first(a) && first(b)
}

/// Whether anything of the branch follows a sensed value.
pub(super) fn follows_sensed(kind: &BranchKind) -> bool {
    let sensed = |condition: &Condition| condition.any(&|part| matches!(part, Condition::SensedAtLeast(..)));
    let law = |law: &&Law| matches!(law.base, Base::Table { .. });
    kind.conditions().into_iter().any(sensed) || kind.laws().iter().any(law)
}
