//! What several codes hang on together, said before one of them is chased alone.

use std::collections::BTreeSet;

use bench::{CodeState, Placement, Reading, Shown};
use circuit::{Circuit, Part, PartKind, PinKind, PointId};

/// Names at most: what lies nearest to all of them says most.
const NAMED: usize = 8;

/// The codes set and what they share; `None` with fewer than two, or where they share nothing.
pub fn codes_share<'r>(circuit: &Circuit, readings: impl IntoIterator<Item = &'r Reading>) -> Option<String> {
    let mut codes: Vec<&str> = Vec::new();
    let mut watched: BTreeSet<PointId> = BTreeSet::new();
    for reading in readings {
        let (Placement::Code { monitor }, Shown::Code(state)) = (&reading.test.placement, &reading.shown) else {
            continue;
        };
        let monitor = circuit.monitors.get(monitor.idx())?;
        let set = matches!(state, CodeState::Present | CodeState::Pending | CodeState::History);
        if set && !codes.contains(&monitor.code.as_str()) {
            codes.push(&monitor.code);
            watched.extend(circuit.watched(monitor).map(|pin| pin.point));
        }
    }
    let shared = diagnosis::shared(circuit, &watched);
    if shared.is_empty() {
        return None;
    }
    let pins = shared.pins.iter().map(|&(module, at)| {
        let module = &circuit.modules[module.idx()];
        let pin = &module.pins[at];
        let kind = match pin.kind {
            PinKind::Reference => "reference",
            PinKind::SensorGround => "sensor ground",
            PinKind::Ground => "ground",
            PinKind::Feed => "feed",
            _ => "pin",
        };
        let connector = &circuit.parts[circuit.connectors[pin.connector.idx()].part.idx()].id;
        format!(
            "{kind} of {}, {connector} cavity {}",
            circuit.parts[module.part.idx()].id,
            pin.cavity
        )
    });
    let mut parts: Vec<&Part> = shared.parts.iter().map(|part| &circuit.parts[part.idx()]).collect();
    parts.sort_by_key(|part| place(part.kind));
    let names: Vec<String> = pins.chain(parts.iter().map(|part| named(part))).take(NAMED).collect();
    Some(format!(
        "{} hang on the same: {}. Measure there before one of them is chased alone.",
        codes::code::list(&codes),
        names.join("; ")
    ))
}

/// Where in the list a kind of part comes.
fn place(kind: PartKind) -> u8 {
    match kind {
        PartKind::Splice(_) => 0,
        PartKind::Ground(_) => 1,
        PartKind::Fuse(_) | PartKind::Feed(_) | PartKind::Relay(_) => 2,
        PartKind::Connector(_) => 3,
        _ => 4,
    }
}

fn named(part: &Part) -> String {
    let kind = match part.kind {
        PartKind::Splice(_) => "splice ",
        PartKind::Ground(_) => "ground ",
        PartKind::Fuse(_) => "fuse ",
        PartKind::Feed(_) => "feed ",
        PartKind::Relay(_) => "relay ",
        PartKind::Connector(_) => "connector ",
        PartKind::Wire(_) => "wire ",
        _ => "",
    };
    format!("{kind}{}", part.id)
}
