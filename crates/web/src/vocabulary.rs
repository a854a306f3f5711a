//! What a set-up and a test of this circuit may say: the choices that the page offers.

use std::collections::{BTreeMap, BTreeSet};

use circuit::{Access, Circuit, Key, PartKind, Provocation, SetUp};
use job::State;

use crate::intake::of_vin;
use crate::view::{AnswerChoice, Choice, InstrumentView, JobView, PartView, PlaceView, PointView, SensedView};
use crate::words;

const KEYS: [Key; 7] = [
    Key::On,
    Key::Off,
    Key::Running,
    Key::Cranking,
    Key::Accessory,
    Key::Held,
    Key::Asleep,
];

const OL: (&str, &str) = ("OL", "OL");
const UNSTABLE: (&str, &str) = ("unstable", "won't settle");
const LEADS: [&str; 2] = ["red lead", "black lead"];

/// The circuit's vocabulary under a job's title, with what to beware of.
pub(crate) fn of_job(circuit: &Circuit, state: &State, cautions: &[String]) -> JobView {
    let name = |part: circuit::PartId| circuit.parts[part.idx()].called().to_owned();
    let id = |part: circuit::PartId| circuit.parts[part.idx()].id.clone();
    let choice = |part: circuit::PartId, set_up: SetUp, otherwise: &str| Choice {
        id: id(part),
        clause: clause(circuit, &set_up),
        words: set_up.words(circuit).pop().unwrap_or_default(),
        otherwise: otherwise.to_owned(),
        caution: None,
    };
    let connectors = circuit.connectors.iter().enumerate().map(|(idx, connector)| Choice {
        caution: words::parting_caution(circuit, idx.into()),
        ..choice(
            connector.part,
            SetUp {
                apart: BTreeSet::from([idx.into()]),
                ..SetUp::default()
            },
            &format!("{} together", name(connector.part)),
        )
    });
    let loads = circuit.loads.iter().enumerate().map(|(idx, load)| Choice {
        id: load.id.clone(),
        clause: clause(
            circuit,
            &SetUp {
                commanded: BTreeSet::from([idx.into()]),
                ..SetUp::default()
            },
        ),
        words: format!("{} on", load.words),
        otherwise: format!("{} not commanded", load.words),
        caution: load.acts.clone(),
    });
    // A duty is set like what is sensed: `pulses 60 %`.
    let duties = circuit.rhythms.iter().map(|rhythm| SensedView {
        id: rhythm.id.clone(),
        words: format!("{}, share of the time", rhythm.words),
        unit: "%".into(),
        low: 0.0,
        high: 100.0,
        usual: (rhythm.share() * 1e8).round() / 1e6,
        at_key: BTreeMap::new(),
    });
    let fuses = circuit.fuses.iter().enumerate().map(|(idx, fuse)| {
        let set_up = SetUp {
            fuses_out: BTreeSet::from([idx.into()]),
            ..SetUp::default()
        };
        choice(fuse.part, set_up, &format!("{} in", name(fuse.part)))
    });
    let relays = circuit.relays.iter().enumerate().map(|(idx, relay)| {
        let set_up = SetUp {
            relays_out: BTreeSet::from([idx.into()]),
            ..SetUp::default()
        };
        choice(relay.part, set_up, &format!("{} in", name(relay.part)))
    });
    let accessories = circuit
        .devices
        .iter()
        .enumerate()
        .filter(|(_, device)| device.accessory)
        .map(|(idx, device)| {
            let set_up = SetUp {
                taken_out: BTreeSet::from([idx.into()]),
                ..SetUp::default()
            };
            choice(device.part, set_up, &format!("{} fitted", name(device.part)))
        });
    let battery = Choice {
        id: "battery".into(),
        clause: clause(
            circuit,
            &SetUp {
                battery_off: true,
                ..SetUp::default()
            },
        ),
        words: "battery negative off".into(),
        otherwise: "battery negative on".into(),
        caution: Some("Lift the negative clamp first and put it back last.".into()),
    };
    JobView {
        title: state.title.clone(),
        complaint: state.complaint.clone(),
        vin: of_vin(&state.vin),
        cautions: cautions.to_vec(),
        circuit: circuit.title.clone(),
        vehicle: circuit.vehicle.clone(),
        normal: SetUp::normal().to_text(circuit),
        keys: KEYS.map(|key| key_choice(circuit, key)).into(),
        connectors: connectors.collect(),
        loads: loads.collect(),
        fuses: fuses.collect(),
        relays: relays.collect(),
        accessories: accessories.collect(),
        battery: vec![battery],
        sensed: circuit
            .sensed
            .iter()
            .map(|sensed| SensedView {
                id: sensed.id.clone(),
                words: sensed.words.clone(),
                unit: sensed.unit.clone(),
                low: sensed.range.0,
                high: sensed.range.1,
                usual: sensed.usual,
                at_key: (sensed.at_key.iter())
                    .map(|(key, value)| (key_choice(circuit, *key).clause, *value))
                    .collect(),
            })
            .chain(duties)
            .collect(),
        parts: circuit.parts.iter().map(part).collect(),
        provocations: Provocation::ALL
            .map(|how| AnswerChoice {
                text: how.word(),
                words: how.words(),
            })
            .into(),
        points: circuit
            .points
            .iter()
            .filter(|point| point.access != Access::Inside)
            .map(|point| PointView {
                path: point.path.clone(),
                words: point.words.clone(),
            })
            .collect(),
        instruments: instruments(circuit),
    }
}

fn part(part: &circuit::Part) -> PartView {
    let (kind, words) = match part.kind {
        PartKind::Connector(_) => ("connector", part.called().to_owned()),
        // Colours come twice.
        PartKind::Wire(_) if part.called() != part.id => ("wire", format!("{} {}", part.called(), part.id)),
        PartKind::Wire(_) | PartKind::Splice(_) | PartKind::Ground(_) | PartKind::Feed(_) => {
            ("wire", part.called().to_owned())
        }
        _ => ("part", part.called().to_owned()),
    };
    PartView {
        id: part.id.clone(),
        words,
        kind,
    }
}

fn key_choice(circuit: &Circuit, key: Key) -> Choice {
    let set_up = SetUp {
        key,
        ..SetUp::default()
    };
    let caution = match key {
        Key::Running => Some("Engine running: parking brake on, hands and leads off belts and fan."),
        Key::Cranking => Some("The engine turns: out of gear, parking brake on."),
        _ => None,
    };
    Choice {
        id: set_up.to_text(circuit),
        clause: set_up.to_text(circuit),
        words: key.words().into(),
        otherwise: key.words().into(),
        caution: caution.map(str::to_owned),
    }
}

/// What a set-up says beyond the usual one, as text.
fn clause(circuit: &Circuit, set_up: &SetUp) -> String {
    let text = set_up.to_text(circuit);
    text.split_once("; ").map_or(text.as_str(), |(_, rest)| rest).to_owned()
}

fn answers(list: &[(&'static str, &'static str)]) -> Vec<AnswerChoice> {
    list.iter().map(|&(text, words)| AnswerChoice { text, words }).collect()
}

/// The instruments, the commonest first. Texts are those that `bench::parse_placement` and `bench::parse_shown` read.
fn instruments(circuit: &Circuit) -> Vec<InstrumentView> {
    let tool = |id: &'static str, words: &'static str, leads: &[&'static str], units: &[&'static str], shows: &[_]| {
        InstrumentView {
            id,
            words,
            leads: leads.to_vec(),
            units: units.to_vec(),
            answers: answers(shows),
            places: Vec::new(),
        }
    };
    let mut all = vec![
        tool("voltmeter", "voltmeter", &LEADS, &["V", "mV"], &[UNSTABLE]),
        tool("ohmmeter", "ohmmeter", &LEADS, &["Ω", "kΩ", "MΩ"], &[OL, UNSTABLE]),
        tool(
            "light",
            "test light",
            &["tip", "clip"],
            &[],
            &[("bright", "bright"), ("dim", "dim"), ("off", "dark")],
        ),
        tool("ammeter", "ammeter in series", &LEADS, &["A", "mA"], &[OL, UNSTABLE]),
        tool(
            "continuity",
            "beeper",
            &LEADS,
            &[],
            &[("yes", "beeps"), ("no", "no beep")],
        ),
        tool("diode", "diode test", &LEADS, &["V"], &[OL]),
    ];
    if !circuit.rhythms.is_empty() {
        all.extend([
            tool("ac", "AC voltmeter", &LEADS, &["V", "mV"], &[UNSTABLE]),
            tool("frequency", "frequency", &LEADS, &["Hz", "kHz"], &[UNSTABLE]),
            tool("duty", "duty", &LEADS, &["%"], &[UNSTABLE]),
        ]);
    }
    let place = |path: &str, words: &str, unit: Option<&str>| PlaceView {
        path: path.to_owned(),
        words: words.to_owned(),
        unit: unit.map(str::to_owned),
    };
    let clamps = circuit.wires.iter().map(|wire| {
        let part = &circuit.parts[wire.part.idx()];
        place(
            &circuit.branches[wire.branch.idx()].path,
            &format!("{} ({})", part.called(), part.id),
            None,
        )
    });
    let places = [
        InstrumentView {
            places: clamps.collect(),
            ..tool("clamp", "current clamp", &["around"], &["A", "mA"], &[UNSTABLE])
        },
        InstrumentView {
            places: circuit
                .channels
                .iter()
                .map(|one| place(&one.id, &one.words, Some(&one.unit)))
                .collect(),
            ..tool(
                "scan",
                "scan data",
                &["value"],
                &[],
                &[("no communication", "no answer")],
            )
        },
        InstrumentView {
            places: circuit
                .monitors
                .iter()
                .map(|one| place(&one.code, &format!("{}, {}", one.code, one.words), None))
                .collect(),
            ..tool(
                "code",
                "trouble code",
                &["code"],
                &[],
                &[
                    ("present", "set"),
                    ("pending", "pending"),
                    ("history", "set before"),
                    ("not set", "not set"),
                    ("not run", "has not run"),
                ],
            )
        },
    ];
    all.extend(places.into_iter().filter(|tool| !tool.places.is_empty()));
    all
}
