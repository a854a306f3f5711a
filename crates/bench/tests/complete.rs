//! Complete circuits of our own invention against ngspice, healthy and broken, reading by reading.
//!
//! Each file in `complete/` is parsed, broken by its own possible faults, exported with each instrument in place (the
//! voltmeter's 10 MΩ too), and solved by ngspice without being told where to begin; only where it does not find an
//! operating point so is it given the exported one to begin at, and these are counted. Every answer of ngspice that is
//! used satisfies Kirchhoff's law. Volts agree within 10 µV + 1e-5 (0.1 mV on a meter at points that nothing drives), amperes within 1 µA + 1e-5, ohms within 0.1 mΩ + 1e-5
//! (above the meter's 10 kΩ what 1e-8 of its voltage makes of them), scan data within the converter's volts.

mod outside;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Placement, Predict, Question, parse_placement, spice};
use circuit::{Access, Fault, PointId, SetUp, fault_by_path, parse, parse_set_up, possible_faults};
use outside::batch;
use outside::deck::{Deck, Raw, volts};
use outside::reading::{Bare, in_circuit};

/// What is done with one circuit: every test, in every set-up, healthy and with each fault at its severity.
struct Plan {
    set_ups: &'static [&'static str],
    faults: &'static [(&'static str, f64)],
    tests: &'static [&'static str],
}

/// What was compared.
#[derive(Debug, Default)]
struct Tally {
    decks: usize,
    /// Decks that ngspice solved only from a guess.
    guessed: usize,
    readings: usize,
    points: usize,
    /// Worst differences: volts at a point, and of a reading as a part of what is allowed.
    volts: f64,
    part: f64,
}

/// One combination of set-up and fault.
struct Case<'a> {
    title: String,
    set_up: &'a SetUp,
    hypothesis: Hypothesis<'a>,
    /// The deck without a tool, then one for each tool that is put in.
    decks: Vec<spice::Deck>,
}

#[track_caller]
fn read(name: &str) -> Bench {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/complete/{name}.toml"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
    let circuit = parse(&text).unwrap_or_else(|mistakes| {
        let all: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
        panic!("{name}: {}", all.join("\n"))
    });
    Bench::new(Arc::new(circuit)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

#[track_caller]
fn check(name: &str, plan: &Plan) {
    assert!(
        plan.faults.len() >= 4 && plan.set_ups.len() >= 2,
        "{name} asks too little"
    );
    let bench = read(name);
    let circuit = bench.circuit();
    let all = possible_faults(circuit);
    let faults: Vec<(&Fault, f64)> = plan
        .faults
        .iter()
        .map(|(path, severity)| {
            let at = fault_by_path(&all, path).unwrap_or_else(|error| panic!("{name}: {error}"));
            (&all[at.idx()], *severity)
        })
        .collect();
    let tools: Vec<Placement> = plan
        .tests
        .iter()
        .map(|test| parse_placement(circuit, test).unwrap_or_else(|error| panic!("{name}: {test}: {error}")))
        .collect();
    let kinds: BTreeSet<&str> = tools.iter().map(Placement::instrument).collect();
    assert!(
        [
            "voltmeter",
            "ohmmeter",
            "diode test",
            "ammeter",
            "current clamp",
            "test light"
        ]
        .iter()
        .all(|kind| kinds.contains(kind)),
        "{name} leaves an instrument out: {kinds:?}"
    );
    let set_ups: Vec<SetUp> = plan
        .set_ups
        .iter()
        .map(|text| parse_set_up(circuit, text).unwrap_or_else(|error| panic!("{name}: {text}: {error}")))
        .collect();
    let mut cases = Vec::new();
    for set_up in &set_ups {
        for fault in std::iter::once(None).chain(faults.iter().map(Some)) {
            cases.push(case(&bench, set_up, fault, &tools));
        }
    }
    let mut tally = Tally::default();
    let Some(raws) = solve(name, &cases, &mut tally) else {
        return;
    };
    let mut raws = raws.iter();
    for case in &cases {
        let raws: Vec<&Raw> = raws.by_ref().take(case.decks.len()).collect();
        compare(&bench, case, &tools, &raws, &mut tally);
    }
    outside::say(&format!("{name}: {tally:?}"));
}

fn case<'a>(bench: &Bench, set_up: &'a SetUp, fault: Option<&'a (&'a Fault, f64)>, tools: &[Placement]) -> Case<'a> {
    let broken = fault.map_or("healthy".to_owned(), |(fault, severity)| {
        format!("{} at {severity}", fault.path)
    });
    let title = format!("{} with {broken}", set_up.to_text(bench.circuit()));
    let hypothesis = Hypothesis {
        faults: fault.into_iter().copied().collect(),
    };
    let deck = |tool| {
        spice::deck(bench, &hypothesis, set_up, &[], tool, &title).unwrap_or_else(|error| panic!("{title}: {error}"))
    };
    let with = tools
        .iter()
        .filter(|tool| in_circuit(tool))
        .map(|tool| deck(Some(tool)));
    let decks = std::iter::once(deck(None)).chain(with).collect();
    Case {
        title,
        set_up,
        hypothesis,
        decks,
    }
}

/// How ngspice is asked, one way after the other: without a guess, straight to source stepping, with 1e14 Ω from each node
/// to the reference (a regulator that neither gives nor takes leaves its rail to nobody, and the matrix singular); with the
/// exported voltages to begin at; so, and content with less between two of its steps, which is all that its arithmetic
/// allows where a lamp hangs in the air behind 1e11 Ω. Kirchhoff's law then says what the answer is worth.
const WAYS: [fn(&str) -> String; 3] = [
    |deck| unguided(deck).replacen("gmin=1e-15", "gmin=1e-15 gminsteps=0 rshunt=1e14", 1),
    str::to_owned,
    |deck| {
        deck.replacen(
            "reltol=1e-9 abstol=1e-15 vntol=1e-12",
            "reltol=1e-4 abstol=1e-12 vntol=1e-6",
            1,
        )
    },
];

fn unguided(deck: &str) -> String {
    let lines = deck.lines().filter(|line| !line.starts_with(".nodeset"));
    lines
        .flat_map(|line| {
            [
                line, "
",
            ]
        })
        .collect()
}

/// ngspice's answer to every deck, in their order.
#[track_caller]
fn solve(name: &str, cases: &[Case<'_>], tally: &mut Tally) -> Option<Vec<Raw>> {
    let exported: Vec<&str> = cases
        .iter()
        .flat_map(|case| &case.decks)
        .map(|deck| &*deck.text)
        .collect();
    let mut raws: Vec<Option<Raw>> = exported.iter().map(|_| None).collect();
    for (way, ask) in WAYS.into_iter().enumerate() {
        let left: Vec<usize> = (0..raws.len()).filter(|&at| raws[at].is_none()).collect();
        let asked: Vec<String> = left.iter().map(|&at| ask(exported[at])).collect();
        for (&at, raw) in left.iter().zip(batch::solve(name, &asked)?) {
            raws[at] = raw.filter(|raw| Deck::read(exported[at]).breaks_kirchhoff(raw).is_none());
            tally.guessed += usize::from(way > 0 && raws[at].is_some());
        }
    }
    tally.decks = raws.len();
    let solved = |(raw, deck): (Option<Raw>, &&str)| {
        raw.unwrap_or_else(|| panic!("{name}: ngspice finds nothing that satisfies Kirchhoff's law for\n{deck}"))
    };
    Some(raws.into_iter().zip(&exported).map(solved).collect())
}

#[track_caller]
fn compare(bench: &Bench, case: &Case<'_>, tools: &[Placement], raws: &[&Raw], tally: &mut Tally) {
    let circuit = bench.circuit();
    let (title, set_up) = (&case.title, case.set_up);
    let exported = &case.decks[0];
    let bare = Bare {
        circuit,
        set_up,
        exported,
        deck: Deck::read(&exported.text),
        raw: raws[0],
    };
    let hypotheses = std::slice::from_ref(&case.hypothesis);
    let ask = |placements: &[Placement], with_flows| {
        let question = Question {
            hypotheses,
            set_up,
            placements,
            theta: &[],
            with_flows,
        };
        bench
            .predict(question)
            .unwrap_or_else(|error| panic!("{title}: {error}"))
    };
    // Every point in reach that something drives: a voltmeter on each tells what is behind it, and its flows where none is
    // there.
    let black = circuit.battery_minus;
    let reds = (0..circuit.points.len()).map(|red| Placement::Voltmeter {
        red: PointId::from(red),
        black,
    });
    let reds: Vec<Placement> = reds.collect();
    let behind = ask(&reds, false).predictions;
    let ours = ask(&reds[circuit.battery_plus.idx()..=circuit.battery_plus.idx()], true);
    for (at, our) in ours.flows[0].point_volts.iter().enumerate() {
        let inside = circuit.points[at].access == Access::Inside;
        if inside || exported.nodes[at] == "0" || behind[at].source_ohms > 1e8 {
            continue;
        }
        let their = volts(bare.raw, &exported.nodes[at]);
        let path = &circuit.points[at].path;
        let difference = (our - their).abs();
        assert!(
            difference <= 1e-5 + 1e-5 * their.abs(),
            "{title}\n{path}: {our} V here, {their} V in ngspice"
        );
        tally.volts = tally.volts.max(difference);
        tally.points += 1;
    }
    let predictions = ask(tools, false).predictions;
    let mut with = case.decks.iter().zip(raws).skip(1);
    for (tool, prediction) in tools.iter().zip(&predictions) {
        assert_ne!(prediction.kind, Kind::Unknown, "{title}: {}", tool.to_text(circuit));
        let with = if in_circuit(tool) { with.next() } else { None };
        let seen = bare.seen(tool, with.map(|(deck, raw)| (deck, *raw)));
        let off = seen.off(prediction);
        assert!(
            off <= 1.0,
            "{title}\n{}: {:?} {} here, {seen:?} by ngspice",
            tool.to_text(circuit),
            prediction.kind,
            prediction.value
        );
        tally.part = tally.part.max(off);
        tally.readings += 1;
    }
}

#[test]
fn a_pedal_with_a_three_wire_track() {
    check(
        "potentiometer",
        &Plan {
            set_ups: &["key on; pedal 35 %", "key on; S1 apart", "key off; S1 apart; J1 apart"],
            faults: &[
                ("S1.2/contact resistance", 30e3),
                ("S1.3/bad terminal", 1e9),
                ("sensor/wiper/worn", 20e3),
                ("W1-W7/leak", 8e3),
                ("W6/rubbed to body", 3.0),
                ("A1.13/ground/open", 0.0),
            ],
            tests: &[
                "voltmeter S1.2",
                "voltmeter S1.2/pin",
                "voltmeter S1.1 S1.3",
                "ohmmeter S1.1/pin S1.3/pin",
                "ohmmeter S1.2 A1.12",
                "diode J1.3/a J1.2/a",
                "continuity S1.3 body",
                "ammeter S1.1 S1.1/pin",
                "light S1.1",
                "clamp W1",
                "scan pedal",
                "code P2123",
            ],
        },
    );
}

#[test]
fn a_two_wire_coolant_sensor() {
    check(
        "thermistor",
        &Plan {
            set_ups: &["key on", "key running; S1 apart", "key off; S1 apart; coolant 20 °C"],
            faults: &[
                ("S1.1/contact resistance", 900.0),
                ("W4/broken", 0.0),
                ("W3/rubbed to body", 40.0),
                ("S1.1-2/a/leak", 5e3),
                ("engine/A1.5/leak to feed", 2e3),
                ("A1.5/pull_up/drifted up", 3.0),
            ],
            tests: &[
                "voltmeter S1.1",
                "voltmeter S1.1 S1.2",
                "voltmeter S1.1/pin",
                "ohmmeter S1.1/pin S1.2/pin",
                "ohmmeter S1.1 S1.2",
                "diode S1.2 S1.1",
                "ammeter S1.1 S1.2",
                "light S1.1 battery+",
                "clamp W3",
                "clamp battery",
                "scan coolant",
            ],
        },
    );
}

#[test]
fn a_blower_on_a_relay() {
    check(
        "relay-motor",
        &Plan {
            set_ups: &[
                "key on; blower commanded",
                "key running; blower commanded; C1 apart",
                "key off; relay K1 out; C1 apart",
            ],
            faults: &[
                ("W3/added resistance", 0.4),
                ("K1/87/added resistance", 0.25),
                ("K1/coil/added resistance", 60.0),
                ("W2-W6/leak", 150.0),
                ("C1.1-2/a/leak", 0.1),
                ("M1.3/driver/stuck on", 0.5),
            ],
            tests: &[
                "voltmeter C1.1",
                "voltmeter C1.1 C1.2",
                "voltmeter F1/in F1/out",
                "voltmeter K1/85",
                "ohmmeter C1.1/pin C1.2/pin",
                "ohmmeter K1/86 K1/85",
                "diode K1/85 K1/86",
                "ammeter K1/85 body",
                "clamp W2",
                "clamp battery",
                "light C1.1 C1.2",
                "light K1/85 battery+",
            ],
        },
    );
}

#[test]
fn a_fan_and_a_sensor_on_one_stud() {
    check(
        "shared-ground-fan",
        &Plan {
            set_ups: &[
                "key on; level 80 %",
                "key on; level 10 %; D1 apart",
                "key off; fuse F1 out; level 50 %; D1 apart",
            ],
            faults: &[
                ("W5/added resistance", 0.08),
                ("G1/off", 0.0),
                ("sender/track/drifted up", 300.0),
                ("D1.1-2/b/leak", 200.0),
                ("K1/87/stuck closed", 0.0),
                ("switch/contact/added resistance", 45.0),
            ],
            tests: &[
                "voltmeter D1.1",
                "voltmeter D1.2",
                "voltmeter D1.1/pin",
                "voltmeter C1.1 C1.2",
                "ohmmeter D1.1/pin D1.2/pin",
                "ohmmeter D1.2 body",
                "diode D1.2 D1.1",
                "ammeter D1.1 D1.2",
                "clamp W5",
                "light C1.1",
                "light D1.2 battery+",
                "scan level",
            ],
        },
    );
}

#[test]
fn lamps_that_share_a_ground_wire() {
    check(
        "lamps",
        &Plan {
            set_ups: &[
                "key off; stop commanded",
                "key off; tail commanded; stop commanded",
                "key off; tail commanded; L1 apart",
            ],
            faults: &[
                ("W6/broken", 0.0),
                ("W6/added resistance", 4.0),
                ("cluster/tail/burnt out", 0.0),
                ("cluster/tail-stop shorted", 0.5),
                ("W1-W3/leak", 2.0),
                ("W1/rubbed to body", 0.1),
            ],
            tests: &[
                "voltmeter L1.1",
                "voltmeter L1.2 L1.3",
                "voltmeter L1.3",
                "voltmeter L1.1/pin",
                "ohmmeter L1.2/pin L1.3/pin",
                "ohmmeter L1.3 body",
                "diode L1.1/pin L1.3/pin",
                "ammeter F2/in F2/out",
                "clamp W6",
                "clamp W3",
                "light L1.1",
                "light L1.3 battery+",
            ],
        },
    );
}

#[test]
fn switches_on_inputs() {
    check(
        "switch-input",
        &Plan {
            set_ups: &[
                "key on",
                "key on; door 100 %; brake 100 %",
                "key off; D1 apart; P1 apart; B1 apart",
            ],
            faults: &[
                ("D1.1-2/a/leak", 1500.0),
                ("W3/rubbed to body", 0.5),
                ("B1.3-4/a/leak", 20e3),
                ("B1.3/pull_up/drifted up", 10.0),
                ("W4/added resistance", 2e3),
                ("brake/contact/stuck open", 0.0),
            ],
            tests: &[
                "voltmeter D1.1",
                "voltmeter D1.1/pin",
                "voltmeter P1.2",
                "voltmeter B1.2",
                "ohmmeter D1.1/pin D1.2/pin",
                "ohmmeter D1.1 B1.3",
                "diode D1.1 battery-",
                "ammeter D1.1 D1.2",
                "clamp W4",
                "light D1.1 battery+",
                "light P1.1",
                "scan door",
                "scan brake",
            ],
        },
    );
}

#[test]
fn two_injectors_on_low_side_drivers() {
    check(
        "injectors",
        &Plan {
            set_ups: &["key running; one commanded", "key on", "key off; I1 apart"],
            faults: &[
                ("one/winding/shorted in part", 0.3),
                ("one/winding/open", 0.0),
                ("A1.3/driver/stuck on", 2.0),
                ("A1.3/driver/weak", 5.0),
                ("W4-W5/leak", 12.0),
                ("W1/added resistance", 3.0),
            ],
            tests: &[
                "voltmeter I1.2",
                "voltmeter I1.1 I1.2",
                "voltmeter I1.1/pin",
                "voltmeter I2.2",
                "ohmmeter I1.1/pin I1.2/pin",
                "ohmmeter I1.2 body",
                "diode I1.1 I1.2",
                "ammeter I1.2 I1.2/pin",
                "clamp W4",
                "clamp charger",
                "light I1.2 battery+",
                "light I1.1 I1.2",
            ],
        },
    );
}

#[test]
fn a_solenoid_and_an_ignition_coil() {
    check(
        "solenoid",
        &Plan {
            set_ups: &[
                "key on; shift commanded; spark commanded",
                "key running; spark commanded",
                "key off; X1 apart; X2 apart",
            ],
            faults: &[
                ("shift/winding/shorted in part", 0.2),
                ("W3/rubbed to body", 1.0),
                ("A1.4/ground/open", 0.0),
                ("A1.3/driver/weak", 2.0),
                ("A1.5/driver/stuck on", 0.3),
                ("W2/added resistance", 0.3),
            ],
            tests: &[
                "voltmeter X1.1 X1.2",
                "voltmeter X1.1/pin",
                "voltmeter X2.2",
                "voltmeter A1.2",
                "ohmmeter X1.1/pin X1.2/pin",
                "ohmmeter X1.1 X1.2",
                "diode X1.2 X1.1",
                "ammeter X1.1 X1.2",
                "clamp W3",
                "clamp W6",
                "light X1.1 X1.2",
                "light X2.2 battery+",
            ],
        },
    );
}

#[test]
fn two_sensors_on_one_reference() {
    check(
        "shared-reference",
        &Plan {
            set_ups: &[
                "key on",
                "key running; boost 2.6 bar; S2 apart",
                "key off; S1 apart; S2 apart",
            ],
            faults: &[
                ("W5/rubbed to body", 20.0),
                ("flap/reference-ground shorted", 2.0),
                ("A1.4/ground/open", 0.0),
                ("S2.2-3/a/leak", 3e3),
                ("A1.3/reference/weak", 150.0),
                ("boost/output/weak", 2e3),
            ],
            tests: &[
                "voltmeter S1.3",
                "voltmeter S1.1 S1.2",
                "voltmeter S2.3",
                "voltmeter S2.3/pin",
                "ohmmeter S2.1/pin S2.2/pin",
                "ohmmeter S1.1 S1.2",
                "diode S2.2 S2.3",
                "ammeter S1.1 S1.2",
                "clamp W3",
                "light S1.1",
                "scan boost",
                "scan flap",
                "code P0237",
            ],
        },
    );
}

#[test]
fn starter_and_charging_cables() {
    check(
        "starter",
        &Plan {
            set_ups: &["key cranking", "key running", "key off; C1 apart"],
            faults: &[
                ("W1/added resistance", 2e-3),
                ("block/added resistance", 5e-3),
                ("block/off", 0.0),
                ("battery/weak", 0.03),
                ("K1/87/added resistance", 0.02),
                ("K1/coil/added resistance", 1.5),
            ],
            tests: &[
                "voltmeter battery+",
                "voltmeter battery+ starter/plus",
                "voltmeter block",
                "voltmeter strap body",
                "voltmeter C1.1",
                "ohmmeter C1.1/pin C1.2/pin",
                "ohmmeter block body",
                "diode K1/85 K1/86",
                "ammeter F1/in F1/out",
                "clamp W1",
                "clamp battery",
                "light K1/86",
                "light block battery+",
            ],
        },
    );
}

#[test]
fn an_accessory_between_module_and_harness() {
    check(
        "accessory",
        &Plan {
            set_ups: &[
                "key on; lamp commanded",
                "key on; lamp commanded; box out",
                "key off; T1 apart; T2 apart",
            ],
            faults: &[
                ("box/through/drifted up", 3.0),
                ("box/gate/leaks", 200.0),
                ("box/in-ground shorted", 60.0),
                ("T2.2-3/a/leak", 30.0),
                ("W5/added resistance", 0.8),
                ("W7/broken", 0.0),
            ],
            tests: &[
                "voltmeter T1.1",
                "voltmeter L1.1 L1.2",
                "voltmeter T2.1/pin",
                "voltmeter T1.2",
                "voltmeter L2.1",
                "ohmmeter T1.1/pin T1.2/pin",
                "ohmmeter L1.1/pin L1.2/pin",
                "diode T1.1/pin T2.1/pin",
                "ammeter T1.1 T1.1/pin",
                "clamp W3",
                "clamp W5",
                "light L1.1",
                "light T1.2 battery+",
            ],
        },
    );
}

#[test]
fn a_drain_in_a_fuse_tree() {
    check(
        "drain",
        &Plan {
            set_ups: &["key asleep", "key asleep; fuse F3 out", "key on; lid 100 %; V1 apart"],
            faults: &[
                ("lidswitch/contact/stuck closed", 0.0),
                ("lidswitch/a-b shorted", 500.0),
                ("retained/switch/stuck closed", 0.0),
                ("radio/draws/draws too much", 6.0),
                ("Q1.1-2/a/leak", 300.0),
                ("W6/rubbed to body", 40.0),
            ],
            tests: &[
                "voltmeter F2/in F2/out",
                "voltmeter F3/in F3/out",
                "voltmeter F4/out",
                "voltmeter V1.2",
                "voltmeter V1.1/pin",
                "ohmmeter V1.1/pin V1.2/pin",
                "ohmmeter V1.2 body",
                "diode R1.2 R1.1",
                "ammeter F3/in F3/out",
                "clamp battery",
                "clamp W4",
                "light F2/out",
                "light battery- F2/in",
            ],
        },
    );
}

#[test]
fn a_seat_made_of_elements_and_tables() {
    check(
        "heated-seat",
        &Plan {
            set_ups: &[
                "key on",
                "key running; high commanded; seat 45 °C",
                "key off; C1 apart; seat 0 °C",
            ],
            faults: &[
                ("cushion/upper/drifted up", 2.0),
                ("cushion/lower/open", 0.0),
                ("cushion/plus-signal shorted", 5e3),
                ("C1.1-3/a/leak", 3e3),
                ("S1.6/reference/low", 0.7),
                ("seat/S1.6/leak to feed", 500.0),
            ],
            tests: &[
                "voltmeter C1.1 C1.2",
                "voltmeter C1.3",
                "voltmeter C1.3/pin",
                "voltmeter C2.1",
                "ohmmeter C1.3/pin C1.4/pin",
                "ohmmeter C1.1/pin C1.2/pin",
                "diode C1.4 C1.3",
                "ammeter C1.3 C1.4",
                "clamp W3",
                "clamp W7",
                "light C1.1",
                "light C1.3 battery+",
                "scan seat",
            ],
        },
    );
}

#[test]
fn glow_plugs_behind_two_relays() {
    check(
        "glow",
        &Plan {
            set_ups: &[
                "key on; glow commanded",
                "key cranking; glow commanded; P3 apart",
                "key off; relay K2 out; P3 apart",
            ],
            faults: &[
                ("K1/87/added resistance", 20.0),
                ("W8/added resistance", 0.05),
                ("one/filament/burnt out", 0.0),
                ("K2/87/stuck closed", 0.0),
                ("W9/rubbed to body", 0.1),
                ("block/added resistance", 0.02),
            ],
            tests: &[
                "voltmeter K2/87",
                "voltmeter K2/87 block",
                "voltmeter F1/in F1/out",
                "voltmeter P3.1/pin",
                "voltmeter K2/85",
                "ohmmeter P3.1/pin block",
                "ohmmeter K2/86 K2/85",
                "diode K2/87 block",
                "ammeter P3.1 P3.1/pin",
                "clamp W8",
                "clamp W6",
                "light K2/86",
                "light K1/85 battery+",
            ],
        },
    );
}
