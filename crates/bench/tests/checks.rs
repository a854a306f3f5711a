//! The checks by which modules set codes: a circuit in good order sets none, and each fault sets those that it should.
//!
//! The tables in `checks/` are named after an archetype. A row has a fault with its severity, and the codes that it sets in some
//! set-up: key on, running or cranking, with nothing or one load commanded; or in that of a third column. A row `answers` fills questions first. Which fault
//! sets which code follows from what low, high and open mean at a driver's pin: common practice, no source.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use bench::{Bench, CodeState, Hypothesis, Kind, Predict, Question, Shown, parse_test};
use circuit::{Archetype, Circuit, Key, LoadId, SetUp, Watches, fault_by_path, parse_set_up, possible_faults};

fn set_ups(circuit: &Circuit) -> Vec<SetUp> {
    let keys = [Key::On, Key::Running, Key::Cranking].map(|key| SetUp { key, ..SetUp::normal() });
    let loads = (0..circuit.loads.len()).map(LoadId::from);
    let commanded: Vec<_> = std::iter::once(None).chain(loads.map(Some)).collect();
    let with = |at: &SetUp, load: &Option<LoadId>| SetUp {
        commanded: load.iter().copied().collect(),
        ..at.clone()
    };
    keys.iter()
        .flat_map(|at| commanded.iter().map(move |load| with(at, load)))
        .collect()
}

/// The codes set in any of these set-ups, and those whose check told anything in one.
fn codes(bench: &Bench, hypothesis: &Hypothesis<'_>, set_ups: &[SetUp]) -> (BTreeSet<String>, BTreeSet<String>) {
    let circuit = bench.circuit();
    let (mut set, mut told) = (BTreeSet::new(), BTreeSet::new());
    for set_up in set_ups {
        for monitor in &circuit.monitors {
            // By its name, as a technician types it: any check of this code sets it.
            let text = format!("code {}; {}", monitor.code, set_up.to_text(circuit));
            let test = parse_test(circuit, &text).unwrap_or_else(|error| panic!("{text}: {error}"));
            let batch = bench.predict(Question::of(std::slice::from_ref(hypothesis), &test));
            let prediction = batch.expect("the question is right").predictions.remove(0);
            if prediction.kind == Kind::Number {
                told.insert(monitor.code.clone());
            }
            if prediction.shown(&test.placement, circuit) == Some(Shown::Code(CodeState::Present)) {
                set.insert(monitor.code.clone());
            }
        }
    }
    (set, told)
}

fn bench_of(archetype: &Archetype) -> Bench {
    let circuit = circuit::parse(&archetype.text).expect("it is a circuit");
    Bench::new(Arc::new(circuit)).expect("it can be solved")
}

/// What is wrong with an archetype in good order.
fn healthy(archetype: &Archetype) -> Vec<String> {
    let bench = bench_of(archetype);
    let (set, told) = codes(&bench, &Hypothesis::default(), &set_ups(bench.circuit()));
    let sets = set
        .into_iter()
        .map(|code| format!("{} sets {code} in good order", archetype.name));
    let of_drivers = bench.circuit().monitors.iter();
    let of_drivers = of_drivers.filter(|one| !matches!(one.watches, Watches::Channel(_)));
    let silent = of_drivers.filter(|one| !told.contains(&one.code));
    sets.chain(silent.map(|one| format!("{}: the check of {} never runs", archetype.name, one.code)))
        .collect()
}

#[test]
fn a_circuit_in_good_order_sets_no_code_and_every_check_of_a_driver_runs_somewhere() {
    let all = Archetype::built_in().expect("they can be read");
    let wrong: Vec<String> = all.iter().flat_map(healthy).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn row(bench: &Bench, fault: &str, expected: &str, within: Option<&str>) -> Option<String> {
    let (path, severity) = fault.split_once('=').unwrap_or((fault, "0"));
    let faults = possible_faults(bench.circuit());
    let at = fault_by_path(&faults, path).unwrap_or_else(|why| panic!("{why}"));
    let hypothesis = Hypothesis {
        faults: vec![(&faults[at.idx()], severity.parse().expect("a number"))],
    };
    let stands = match within {
        Some(text) => vec![parse_set_up(bench.circuit(), text).unwrap_or_else(|why| panic!("{text}: {why}"))],
        None => set_ups(bench.circuit()),
    };
    let (sound, _) = codes(bench, &Hypothesis::default(), &stands);
    let (set, _) = codes(bench, &hypothesis, &stands);
    if !sound.is_empty() {
        return Some(format!("{fault}: in good order {sound:?} are set"));
    }
    let expected: BTreeSet<String> = expected.split_whitespace().map(str::to_owned).collect();
    let place = within.map(|text| format!(" with {text}")).unwrap_or_default();
    (set != expected).then(|| format!("{fault}{place}: {expected:?} are expected, not {set:?}"))
}

#[test]
fn each_fault_sets_the_codes_that_it_should() {
    let all = Archetype::built_in().expect("they can be read");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks");
    let mut wrong = Vec::new();
    let mut n_rows = 0;
    for entry in std::fs::read_dir(folder).expect("the folder is there") {
        let path = entry.expect("it can be read").path();
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        let archetype = all.iter().find(|one| one.name == name).expect("an archetype");
        let mut bench = bench_of(archetype);
        let table = std::fs::read_to_string(&path).expect("it can be read");
        for line in table.lines().filter(|line| !line.starts_with('#')) {
            let (fault, codes) = line.split_once(" | ").expect("two columns or three");
            let (codes, within) = codes
                .split_once(" | ")
                .map_or((codes, None), |(codes, within)| (codes, Some(within)));
            if fault == "answers" {
                let answers = codes.split_whitespace().filter_map(|one| one.split_once('='));
                let answers: Vec<_> = answers.map(|(id, answer)| (id.to_owned(), answer.to_owned())).collect();
                let filled = archetype.fill(&answers).expect("the answers fit").archetype;
                wrong.extend(healthy(&filled));
                bench = bench_of(&filled);
                continue;
            }
            n_rows += 1;
            wrong.extend(row(&bench, fault, codes, within).map(|why| format!("{name}: {why}")));
        }
    }
    assert!(n_rows > 30, "{n_rows} rows");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Each by another check of its code: the windings of a stepper, the two pins of a bridge, the sides of an injector.
#[test]
fn a_code_is_present_whichever_of_its_checks_sets_it() {
    let all = Archetype::built_in().expect("they can be read");
    for (name, fault, code) in [
        ("idle-stepper", "W3/rubbed to body", "P0508"),
        ("idle-stepper", "W4/rubbed to body", "P0508"),
        ("idle-stepper", "W5/rubbed to body", "P0508"),
        ("idle-stepper", "W6/rubbed to body", "P0508"),
        ("throttle-motor", "W3/rubbed to body", "P2102"),
        ("injector-high-side", "W3/rubbed to body", "P0261"),
    ] {
        let archetype = all.iter().find(|one| one.name == name).expect("it is ready made");
        let bench = bench_of(archetype);
        let faults = possible_faults(bench.circuit());
        let at = fault_by_path(&faults, fault).expect("it is possible");
        let hypothesis = Hypothesis {
            faults: vec![(&faults[at.idx()], 0.1)],
        };
        let circuit = bench.circuit();
        let test = parse_test(circuit, &format!("code {code}; key on")).expect("it is a code");
        let batch = bench.predict(Question::of(std::slice::from_ref(&hypothesis), &test));
        let prediction = batch.expect("the question is right").predictions.remove(0);
        let shown = prediction.shown(&test.placement, circuit);
        assert_eq!(shown, Some(Shown::Code(CodeState::Present)), "{name}: {fault}");
    }
}
