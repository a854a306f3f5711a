//! Every archetype in good order reads what was worked out for it by hand.
//!
//! The tables in `healthy/` have a row a reading: set-up, test, what it shows, how far off it may be, and how that was worked
//! out. What is not in the sum (contacts, wires, fuses, tolerance of none: all values stand at their middle) is what the fourth
//! column allows for. Values without a source named are common practice, no source.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict, Question, parse_test};

#[path = "healthy/sum.rs"]
mod sum;

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Names of the files of a folder with this ending, without it.
fn names(folder: &Path, ending: &str) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).expect("the folder is there");
    let files = entries.map(|entry| {
        entry
            .expect("it can be read")
            .file_name()
            .into_string()
            .expect("a plain name")
    });
    files
        .filter_map(|file| Some(file.strip_suffix(ending)?.to_owned()))
        .collect()
}

/// One row of a table: set-up, test, what is shown, within, how.
fn rows(table: &str) -> Vec<[&str; 5]> {
    let lines = table.lines().filter(|line| !line.starts_with('#'));
    let split = lines.map(|line| line.splitn(5, " | ").collect::<Vec<_>>());
    split
        .map(|cells| {
            cells
                .try_into()
                .unwrap_or_else(|cells| panic!("five columns are expected: {cells:?}"))
        })
        .collect()
}

/// The number that a cell starts with.
fn number(cell: &str) -> f64 {
    let word = cell.split(' ').next().unwrap_or_default();
    word.parse()
        .unwrap_or_else(|_| panic!("`{cell}` does not start with a number"))
}

/// What is wrong with the sum that a row gives for its value, if anything: it stands before the colon, and is the value to
/// the digits written.
fn mistaken_sum([set_up, test, shows, _, how]: [&str; 5]) -> Option<String> {
    let written = shows.split(' ').next()?;
    let shown: f64 = written.parse().ok()?;
    let decimals = written.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let sum = how.split(':').next().and_then(sum::value);
    let half_a_digit = 0.51 * 0.1_f64.powi(i32::try_from(decimals).unwrap_or(0));
    let right = sum.is_some_and(|sum| (sum - shown).abs() <= half_a_digit);
    (!right).then(|| format!("{test}; {set_up}: {shows} is not the sum {sum:?} of `{how}`"))
}

/// What is wrong with a row, if anything.
fn check(bench: &Bench, [set_up, test, shows, within, _]: [&str; 5]) -> Option<String> {
    let text = format!("{test}; {set_up}");
    let test = match parse_test(bench.circuit(), &text) {
        Ok(test) => test,
        Err(error) => return Some(format!("{text}: {error}")),
    };
    let batch = bench.predict(Question::of(&[Hypothesis::default()], &test));
    let prediction = batch.expect("the question is right").predictions.remove(0);
    let right = match shows {
        "OL" => prediction.kind == Kind::OverRange,
        _ => prediction.kind == Kind::Number && (prediction.value - number(shows)).abs() <= number(within),
    };
    let got = (prediction.kind, prediction.value);
    (!right).then(|| format!("{text}: {shows} within {within} is expected, not {got:?}"))
}

#[test]
fn each_archetype_in_good_order_reads_what_was_worked_out() {
    let (circuits, tables) = (folder("../circuit/archetypes"), folder("tests/healthy"));
    assert_eq!(
        names(&circuits, ".toml"),
        names(&tables, ".txt"),
        "an archetype has a table"
    );
    let mut wrong = Vec::new();
    for name in names(&tables, ".txt") {
        let text = std::fs::read_to_string(circuits.join(format!("{name}.toml"))).expect("it can be read");
        let circuit = circuit::parse(&text).unwrap_or_else(|mistakes| panic!("{name}: {mistakes:?}"));
        let bench = Bench::new(Arc::new(circuit)).unwrap_or_else(|error| panic!("{name}: {error}"));
        let table = std::fs::read_to_string(tables.join(format!("{name}.txt"))).expect("it can be read");
        let rows = rows(&table);
        assert!(rows.len() >= 6, "{name}: {} rows", rows.len());
        assert!(rows.iter().any(|row| row[1].starts_with("ohmmeter")), "{name}: no ohms");
        assert!(
            rows.iter()
                .any(|row| row[0].contains(" apart") || row[0].contains(" out")),
            "{name}: nothing apart"
        );
        let mistakes = rows.into_iter().flat_map(|row| [mistaken_sum(row), check(&bench, row)]);
        wrong.extend(mistakes.flatten().map(|mistake| format!("{name}: {mistake}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
