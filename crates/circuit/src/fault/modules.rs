//! Faults inside modules: references, pulls, drivers, grounds, and leaks at a pin. Rare, so weighted low.

use super::place::Places;
use super::series::{MOST_SERIES_OHMS, Spot};
use super::{Change, Fault, Mode, Severity, rates};
use crate::branch::{BranchKind, Role};
use crate::id::BranchId;
use crate::model::{Module, PinKind};

/// Least resistance of a leak inside a pin: less would have burnt it open.
const LEAST_PIN_LEAK_OHMS: f64 = 1.0;

/// Resistance of a shorted transistor as a multiple of what it has when switched on: molten it is no transistor any more.
/// From memory.
const SHORTED_TO_ON: (f64, f64) = (0.1, 30.0);

/// Pushes faults of one branch of a module.
fn push(
    places: &Places<'_>,
    id: BranchId,
    out: &mut Vec<Fault>,
    faults: &[(&str, &str, Option<Severity>, Change, f64)],
) {
    let spot = Spot::inside(places, id);
    let path = &places.circuit.branches[id.idx()].path;
    out.extend(faults.iter().map(|(name, what, severity, change, weight)| {
        spot.fault(
            format!("{path}/{name}"),
            what,
            Mode::ModuleInside,
            *severity,
            change.clone(),
            *weight,
        )
    }));
}

pub(super) fn reference(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let weak = Severity::ohms(1.0, MOST_SERIES_OHMS);
    let rail = places.circuit.branches[id.idx()].role != Role::Reference;
    let what = |ails: &str| format!("{} {ails}", if rail { "rail inside the module" } else { "reference" });
    push(
        places,
        id,
        out,
        &[
            (
                "weak",
                &what("weak: sags under load"),
                Some(weak),
                Change::AddSeries(id),
                rates::REFERENCE,
            ),
            (
                "low",
                &what("too low"),
                Some(Severity::factor(0.05, 0.97)),
                Change::Scale(id),
                rates::REFERENCE,
            ),
            (
                "high",
                &what("too high"),
                Some(Severity::factor(1.03, 2.0)),
                Change::Scale(id),
                rates::REFERENCE,
            ),
            ("dead", &what("dead"), None, Change::Open(id), rates::REFERENCE),
        ],
    );
}

/// What the module has inside beside its pins: a regulator of its own, a path to its supply.
pub(super) fn other(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    if let BranchKind::Output { .. } = places.circuit.branches[id.idx()].kind {
        return reference(places, id, out);
    }
    let added = Some(Severity::ohms(0.05, MOST_SERIES_OHMS));
    push(
        places,
        id,
        out,
        &[
            (
                "added resistance",
                "added resistance inside the module",
                added,
                Change::AddSeries(id),
                rates::INSIDE_GROUND,
            ),
            (
                "open",
                "open inside the module",
                None,
                Change::Open(id),
                rates::INSIDE_GROUND,
            ),
        ],
    );
}

pub(super) fn pull(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    push(
        places,
        id,
        out,
        &[
            ("lost", "pull resistor lost", None, Change::Open(id), rates::PULL),
            (
                "drifted up",
                "pull resistor too high",
                Some(Severity::factor(1.1, 100.0)),
                Change::Scale(id),
                rates::PULL,
            ),
            (
                "drifted down",
                "pull resistor too low",
                Some(Severity::factor(0.01, 0.9)),
                Change::Scale(id),
                rates::PULL,
            ),
        ],
    );
}

pub(super) fn series(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    push(
        places,
        id,
        out,
        &[(
            "open",
            "input open behind the pin",
            None,
            Change::Open(id),
            rates::SERIES_OPEN,
        )],
    );
}

pub(super) fn quiescent(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let range = match places.circuit.branches[id.idx()].kind {
        BranchKind::CurrentSink { .. } => (1.5, 50.0),
        _ => (0.02, 0.67),
    };
    let severity = Some(Severity::factor(range.0, range.1));
    let what = "module draws too much from its feed";
    push(
        places,
        id,
        out,
        &[("draws too much", what, severity, Change::Scale(id), rates::QUIESCENT)],
    );
}

pub(super) fn inside_ground(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    let severity = Some(Severity::ohms(0.05, MOST_SERIES_OHMS));
    let added = "added resistance in the ground inside the module";
    push(
        places,
        id,
        out,
        &[
            (
                "added resistance",
                added,
                severity,
                Change::AddSeries(id),
                rates::INSIDE_GROUND,
            ),
            (
                "open",
                "ground open inside the module",
                None,
                Change::Open(id),
                rates::INSIDE_GROUND,
            ),
        ],
    );
}

pub(super) fn driver(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    push(
        places,
        id,
        out,
        &[
            (
                "stuck off",
                "driver does not switch on",
                None,
                Change::StuckOpen(id),
                rates::DRIVER_OPEN,
            ),
            (
                "weak",
                "driver weak",
                Some(Severity::ohms(0.2, 1e5)),
                Change::AddSeries(id),
                rates::DRIVER_WEAK,
            ),
        ],
    );
    let path = format!("{}/stuck on", places.circuit.branches[id.idx()].path);
    let severity = Some(Severity::factor(SHORTED_TO_ON.0, SHORTED_TO_ON.1));
    let what = "driver shorted: always on";
    let closed = Change::StuckClosed(id);
    let mut shorted =
        Spot::inside(places, id).fault(path, what, Mode::ModuleInside, severity, closed, rates::DRIVER_SHORTED);
    shorted.changes.push(Change::Scale(id));
    out.push(shorted);
}

pub(super) fn bias(places: &Places<'_>, id: BranchId, out: &mut Vec<Fault>) {
    push(
        places,
        id,
        out,
        &[("lost", "bias lost", None, Change::Open(id), rates::BIAS)],
    );
}

/// Leaks inside each pin to what lies next to it on the chip: rail, feed and ground of the module.
pub(super) fn of_pins(places: &Places<'_>, module: &Module, out: &mut Vec<Fault>) {
    let ground = ("ground", Some(module.ground));
    let feed = ("feed", module.supply);
    let rail = ("rail", Some(module.rail));
    for pin in &module.pins {
        let sides = match pin.kind {
            PinKind::Input => [Some(ground), Some(rail), Some(feed)],
            PinKind::Reference | PinKind::LowSideDriver | PinKind::HighSideDriver => [Some(ground), Some(feed), None],
            PinKind::SensorGround => [Some(feed), None, None],
            PinKind::Feed | PinKind::Ground => [None; 3],
        };
        let spot = Spot {
            place: format!(
                "{}, inside at {}",
                places.part_words(module.part),
                places.cavity_words(pin.connector, pin.cavity)
            ),
            parts: vec![module.part],
            points: vec![pin.point],
            repair: rates::renew(places.circuit, module.part, "replace"),
        };
        let path = format!(
            "{}/{}",
            places.id(module.part),
            places.cavity_path(pin.connector, pin.cavity)
        );
        let sides = sides
            .into_iter()
            .flatten()
            .filter_map(|(name, point)| Some((name, point?)));
        for (name, point) in sides.filter(|(_, point)| !places.joined(*point, pin.point)) {
            out.push(spot.fault(
                format!("{path}/leak to {name}"),
                &format!("pin leaks to the module's {name}"),
                Mode::ModuleInside,
                Some(Severity::ohms(
                    LEAST_PIN_LEAK_OHMS,
                    places.largest_leak(pin.point, point),
                )),
                Change::Bridge(pin.point, point),
                rates::PIN_LEAK,
            ));
        }
    }
}
