//! Cautions in words, shown where they apply, and what is not probed at all.
//!
//! They follow the parts that a test touches and the set-up it needs. Limits: airbag circuits and high voltage are known
//! by the words of the circuit file, so a file that does not say "airbag" is not warned about.

use bench::{Placement, Test};
use circuit::{Circuit, ConnectorId, Key, Owner, PartId, Placed, PointId, SetUp};

use super::measures_ohms;
use crate::candidate::touched;

const RESTRAINT: &[&str] = &["airbag", "air bag", "pretensioner", "squib", "inflator"];
const HIGH_VOLTAGE: &[&str] = &[
    "high voltage",
    "high-voltage",
    "orange cable",
    "traction battery",
    "hv battery",
];
const FUEL: &[&str] = &["fuel", "petrol", "injector", "lpg", "cng"];

/// Whether a test touches what is not probed here: airbag and pretensioner circuits, high voltage.
pub fn not_probed(circuit: &Circuit, test: &Test) -> bool {
    let parts = parts(circuit, test);
    speaks_of(circuit, &parts, test, RESTRAINT) || speaks_of(circuit, &parts, test, HIGH_VOLTAGE)
}

/// What to mind before and during a test, in whole sentences; empty where nothing applies.
pub fn cautions(circuit: &Circuit, test: &Test) -> Vec<String> {
    let parts = parts(circuit, test);
    let set_up = &test.set_up;
    let mut said: Vec<String> = Vec::new();
    if speaks_of(circuit, &parts, test, RESTRAINT) {
        said.push("Airbag and pretensioner circuits are not probed: follow the maker's procedure.".into());
    }
    if speaks_of(circuit, &parts, test, HIGH_VOLTAGE) {
        said.push(
            "High voltage (over 60 V DC or 30 V AC, orange cables) is for trained, licensed people only, \
             with the system shut down by the maker's procedure."
                .into(),
        );
    }
    for &connector in &set_up.apart {
        if let Some(name) = module_connector(circuit, connector) {
            said.push(format!(
                "Key off, and wait until the module sleeps, before you open {name}."
            ));
        }
    }
    match set_up.key {
        Key::Running => said.push(
            "Engine running: parking brake on, keep leads, sleeves and hands off belts and fan, draw off the exhaust."
                .into(),
        ),
        Key::Cranking => said.push("The engine turns: out of gear, parking brake on, nobody at the belts.".into()),
        _ => {}
    }
    for load in set_up.commanded.iter().filter_map(|load| circuit.loads.get(load.idx())) {
        said.push(match &load.acts {
            Some(acts) => format!("While {} is commanded, {acts}.", load.words),
            None => format!(
                "{} is commanded: what it drives may move, heat or pump, so keep clear of it.",
                load.words
            ),
        });
    }
    if set_up.battery_off {
        said.push(
            "Lift the negative clamp first and put it back last; no sparks near the battery, its gas explodes.".into(),
        );
    }
    if speaks_of(circuit, &parts, test, FUEL) && may_spark(test) {
        said.push("Fuel vapour: no sparks; make the last connection away from the fuel system.".into());
    }
    if measures_ohms(&test.placement) && !set_up.battery_off {
        said.push("Check that no voltage stands there before you switch to ohms.".into());
    }
    said
}

/// What to mind with several tests, each caution once.
pub fn cautions_of(circuit: &Circuit, tests: &[Test]) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for caution in tests.iter().flat_map(|test| cautions(circuit, test)) {
        if !said.contains(&caution) {
            said.push(caution);
        }
    }
    said
}

fn may_spark(test: &Test) -> bool {
    let draws = matches!(test.placement, Placement::Ammeter { .. } | Placement::TestLight { .. });
    draws || !test.set_up.placed.is_empty() || !test.set_up.apart.is_empty()
}

fn module_connector(circuit: &Circuit, connector: ConnectorId) -> Option<&str> {
    let connector = circuit.connectors.get(connector.idx())?;
    let module = connector
        .halves
        .iter()
        .any(|half| matches!(half.owner, Owner::Module(_)));
    if module {
        Some(&circuit.parts.get(connector.part.idx())?.name)
    } else {
        None
    }
}

/// Every point that a test touches: the instrument's and those of what is clipped in.
pub(crate) fn points(test: &Test) -> Vec<PointId> {
    let pairs = touched(&test.placement)
        .into_iter()
        .chain(test.set_up.placed.iter().map(Placed::ends));
    let mut points: Vec<PointId> = pairs.flat_map(|(a, b)| [a, b]).collect();
    points.sort_unstable();
    points.dedup();
    points
}

/// The parts that a test touches or opens, with what their connectors belong to.
fn parts(circuit: &Circuit, test: &Test) -> Vec<PartId> {
    let SetUp { apart, .. } = &test.set_up;
    let mut parts: Vec<PartId> = points(test)
        .iter()
        .filter_map(|point| Some(circuit.points.get(point.idx())?.part))
        .collect();
    if let Placement::Clamp { around } = test.placement {
        parts.extend(circuit.branches.get(around.idx()).map(|branch| branch.part));
    }
    let opened = apart
        .iter()
        .filter_map(|connector| circuit.connectors.get(connector.idx()));
    let probed = circuit
        .connectors
        .iter()
        .filter(|connector| parts.contains(&connector.part));
    let mut owners = Vec::new();
    for connector in opened.chain(probed) {
        owners.push(connector.part);
        for half in &connector.halves {
            match half.owner {
                Owner::Module(module) => owners.extend(circuit.modules.get(module.idx()).map(|m| m.part)),
                Owner::Device(device) => owners.extend(circuit.devices.get(device.idx()).map(|d| d.part)),
                Owner::Harness => {}
            }
        }
    }
    parts.extend(owners);
    parts.sort_unstable();
    parts.dedup();
    parts
}

fn speaks_of(circuit: &Circuit, parts: &[PartId], test: &Test, words: &[&str]) -> bool {
    let names = parts
        .iter()
        .filter_map(|part| circuit.parts.get(part.idx()))
        .map(|part| part.name.as_str());
    let places = points(test)
        .into_iter()
        .filter_map(|p| circuit.points.get(p.idx()).map(|p| p.words.as_str()));
    names.chain(places).any(|text| {
        let text = text.to_lowercase();
        words.iter().any(|word| text.contains(word))
    })
}
