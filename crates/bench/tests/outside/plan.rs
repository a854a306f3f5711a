//! A circuit file of the folder `circuits/small/` carried through a plan of set-ups, faults and tests, here and in ngspice.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use super::batch;
use super::deck::{Deck, Raw, volts};
use super::reading::{Bare, in_circuit};
use bench::{Bench, Hypothesis, Kind, Placement, Predict, Question, parse_placement, spice};
use circuit::{Access, Fault, PointId, SetUp, fault_by_path, parse, parse_set_up, possible_faults};

/// What is done with one circuit: every test, in every set-up, healthy and with each fault at its severity.
pub(crate) struct Plan {
    pub(crate) set_ups: &'static [&'static str],
    pub(crate) faults: &'static [(&'static str, f64)],
    pub(crate) tests: &'static [&'static str],
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
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../circuits/small/{name}.toml"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
    let circuit = parse(&text).unwrap_or_else(|mistakes| {
        let all: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
        panic!("{name}: {}", all.join("\n"))
    });
    Bench::new(Arc::new(circuit)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

#[track_caller]
pub(crate) fn check(name: &str, plan: &Plan) {
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
    super::say(&format!("{name}: {tally:?}"));
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
pub(crate) const WAYS: [fn(&str) -> String; 3] = [
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
        theta: &[],
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
