//! Leaks and shorts between physical neighbours: cavities side by side, wires in one bundle, a wire and body metal.
//!
//! A leak along a run is put at the wire's first end: where along the wire it sits cannot be told by a meter from its
//! resistance, a few hundredths of an ohm.

use std::collections::{BTreeMap, BTreeSet};

use super::place::Places;
use super::series::Spot;
use super::{Change, Fault, Mode, Severity, rates};
use crate::id::{ConnectorId, PointId, WireId};
use crate::model::Connector;

/// Least resistance of a short: two strands that touch.
const LEAST_SHORT_OHMS: f64 = 0.1;
/// Water between two terminals, ohms: salt water at best, a damp film at worst. Common practice, no source.
const WATER_OHMS: (f64, f64) = (100.0, 1e6);

/// Pairs of used cavities next to each other in their row, or above each other in the same place of the next row. With
/// `across_empty`, empty cavities between two used ones do not separate them. Each pair once, in reading order.
fn neighbours(plug: &Connector, across_empty: bool) -> Vec<(u16, u16)> {
    let used = |number: &u16| plug.cavities.contains_key(number);
    let columns = plug.rows.iter().map(Vec::len).max().unwrap_or(0);
    let down = (0..columns).map(|column| plug.rows.iter().filter_map(|row| row.get(column)).copied().collect());
    let lines = plug.rows.iter().cloned().chain(down);
    let mut pairs = Vec::new();
    for mut line in lines {
        if across_empty {
            line.retain(used);
        }
        for pair in line.windows(2).filter(|pair| pair.iter().all(used)) {
            pairs.push((pair[0].min(pair[1]), pair[0].max(pair[1])));
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    pairs
}

/// Leaks between neighbouring cavities on each half, and water across each connector.
pub(super) fn in_connectors(places: &Places<'_>, out: &mut Vec<Fault>) {
    for (idx, plug) in places.circuit.connectors.iter().enumerate() {
        let connector = ConnectorId::from(idx);
        for (low, high) in neighbours(plug, false) {
            for half in [0, 1] {
                leak(places, connector, (low, high), half, out);
            }
        }
        water(places, connector, out);
    }
}

fn leak(places: &Places<'_>, connector: ConnectorId, (low, high): (u16, u16), half: usize, out: &mut Vec<Fault>) {
    let plug = places.connector(connector);
    let (Some(one), Some(other)) = (plug.cavities.get(&low), plug.cavities.get(&high)) else {
        return;
    };
    let (a, b) = (one.terminals[half], other.terminals[half]);
    if places.joined(a, b) {
        return;
    }
    let spot = Spot {
        place: format!(
            "{}, cavity {low} to cavity {high}, {}; {}",
            places.part_words(plug.part),
            plug.halves[half].words,
            [low, high]
                .map(|cavity| places.cavity_alone(connector, cavity))
                .join(" against "),
        ),
        parts: vec![plug.part],
        points: vec![a, b],
        repair: rates::clean(places.circuit, connector),
    };
    out.push(spot.fault(
        format!(
            "{}-{high}/{}/leak",
            places.cavity_path(connector, low),
            ["a", "b"][half]
        ),
        if plug.wet {
            "water or corrosion between neighbouring terminals"
        } else {
            "leak or short between neighbouring terminals"
        },
        Mode::Leak,
        Some(Severity::ohms(LEAST_SHORT_OHMS, places.largest_leak(a, b))),
        Change::Bridge(a, b),
        rates::NEIGHBOUR_LEAK * if plug.wet { rates::WET } else { 1.0 },
    ));
}

/// Water stands in the wire half when the connector is parted and reaches across both when it is mated; it is put on
/// the wire half.
fn water(places: &Places<'_>, connector: ConnectorId, out: &mut Vec<Fault>) {
    let plug = places.connector(connector);
    let mut points = BTreeSet::new();
    let mut cavities = BTreeSet::new();
    let mut changes = Vec::new();
    for (low, high) in neighbours(plug, true) {
        let (Some(one), Some(other)) = (plug.cavities.get(&low), plug.cavities.get(&high)) else {
            continue;
        };
        let (a, b) = (one.terminals[0], other.terminals[0]);
        if !places.joined(a, b) {
            points.extend([a, b]);
            cavities.extend([low, high]);
            changes.push(Change::Bridge(a, b));
        }
    }
    if changes.is_empty() {
        return;
    }
    let cavities: Vec<String> = cavities.iter().map(u16::to_string).collect();
    out.push(Fault {
        path: format!("{}/water", places.id(plug.part)),
        what: "water across all terminals".to_owned(),
        place: format!("{}, cavity {}", places.part_words(plug.part), cavities.join(", ")),
        parts: vec![plug.part],
        points: points.into_iter().collect(),
        mode: Mode::Water,
        severity: Some(Severity::ohms(WATER_OHMS.0, WATER_OHMS.1)),
        changes,
        weight: rates::WATER * if plug.wet { rates::WET } else { 1.0 / rates::WET },
        repair: rates::clean(places.circuit, connector),
    });
}

/// Shorts between wires that lie side by side. Two wires that share several runs have one such fault, which names all.
pub(super) fn in_bundles(places: &Places<'_>, out: &mut Vec<Fault>) {
    let circuit = places.circuit;
    let mut runs: BTreeMap<(WireId, WireId), Vec<usize>> = BTreeMap::new();
    for (idx, bundle) in circuit.bundles.iter().enumerate() {
        for (position, &one) in bundle.wires.iter().enumerate() {
            for &other in &bundle.wires[position + 1..] {
                runs.entry((one.min(other), one.max(other))).or_default().push(idx);
            }
        }
    }
    for ((one, other), bundles) in runs {
        let [first, second] = [one, other].map(|wire| &circuit.wires[wire.idx()]);
        let (a, b) = (first.ends[0], nearest_end(places, first.ends[0], second.ends));
        if one == other || places.joined(a, b) {
            continue;
        }
        let words: Vec<&str> = bundles.iter().map(|&idx| circuit.bundles[idx].words.as_str()).collect();
        let mut repair = rates::renew(circuit, first.part, "repair");
        let [from, to] = [first, second].map(|wire| places.id(wire.part));
        repair.key = format!("{from}-{to}: part and tape");
        repair.words = format!(
            "open the run, repair {} and {}",
            places.wire_words(one),
            places.wire_words(other)
        );
        repair.minutes = bundles
            .iter()
            .map(|&idx| circuit.bundles[idx].repair_minutes)
            .fold(0.0, f64::max);
        let spot = Spot {
            place: format!(
                "{}, against {}, in the run {}",
                places.run_words(one),
                places.wire_words(other),
                words.join(" or ")
            ),
            parts: vec![first.part, second.part],
            points: first.ends.into_iter().chain(second.ends).collect(),
            repair,
        };
        out.push(spot.fault(
            format!("{from}-{to}/leak"),
            "leak or short between two wires side by side",
            Mode::Leak,
            Some(Severity::ohms(LEAST_SHORT_OHMS, places.largest_leak(a, b))),
            Change::Bridge(a, b),
            rates::BUNDLE_SHORT * bundles.len() as f64,
        ));
    }
}

/// Of two ends, the one at the same part as `end`; the first if neither is.
fn nearest_end(places: &Places<'_>, end: PointId, ends: [PointId; 2]) -> PointId {
    let part = |point: PointId| places.circuit.points[point.idx()].part;
    if part(ends[1]) == part(end) && part(ends[0]) != part(end) {
        ends[1]
    } else {
        ends[0]
    }
}

/// Wires rubbed through to body metal: at the places that the file names, and, seldom, anywhere else.
///
/// Not wires that the harness grounds anyway: a second ground takes nothing from them. A sensor's ground is grounded in
/// its module alone; rubbed through, it leaves the module's ground for the body's, and the sensor's voltage moves by what
/// lies between the two.
pub(super) fn to_body(places: &Places<'_>, out: &mut Vec<Fault>) {
    let circuit = places.circuit;
    for (idx, wire) in circuit.wires.iter().enumerate() {
        let id = WireId::from(idx);
        let end = wire.ends[0];
        if places.joined_outside(end, circuit.body) {
            continue;
        }
        let most = if places.joined(end, circuit.body) {
            places.largest_second_ground(end)
        } else {
            places.largest_leak(end, circuit.body)
        };
        let at: Vec<&str> = circuit
            .chafes
            .iter()
            .filter(|chafe| chafe.wires.contains(&id))
            .map(|chafe| chafe.words.as_str())
            .collect();
        let (place, weight) = if at.is_empty() {
            ("somewhere along its run".to_owned(), rates::ELSEWHERE_TO_BODY)
        } else {
            (at.join(" or "), rates::CHAFE_TO_BODY * at.len() as f64)
        };
        let spot = Spot {
            place: format!("{}, {place}", places.run_words(id)),
            parts: vec![wire.part],
            points: wire.ends.to_vec(),
            repair: rates::renew(circuit, wire.part, "repair"),
        };
        out.push(spot.fault(
            format!("{}/rubbed to body", places.id(wire.part)),
            "wire rubbed through to body metal",
            Mode::LeakToBody,
            Some(Severity::ohms(LEAST_SHORT_OHMS, most)),
            Change::Bridge(end, circuit.body),
            weight,
        ));
    }
}
