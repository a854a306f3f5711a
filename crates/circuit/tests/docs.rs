//! The page on the circuit file: its examples parse, its list of kinds is current.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

fn page() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/circuit-file.md")
}

#[test]
fn the_list_of_kinds_is_current() {
    let mut list = String::from("\n| kind | pins | values |\n| --- | --- | --- |\n");
    for kind in circuit::device_kinds() {
        let value = |(name, words, default): &(String, String, Option<String>)| {
            let words = if *words == name.replace('_', " ") {
                String::new()
            } else {
                format!(" {words}")
            };
            let default = default
                .as_ref()
                .map_or("must be given".to_owned(), |default| format!("`{default}`"));
            format!("`{name}`{words}: {default}")
        };
        let values: Vec<String> = kind.values.iter().map(value).collect();
        let (name, about, pins) = (&kind.name, &kind.about, kind.pins.join(", "));
        writeln!(list, "| **{name}**: {about} | {pins} | {} |", values.join("; ")).unwrap();
    }
    let text = fs::read_to_string(page()).unwrap();
    let (before, rest) = text.split_once("UPDATE_EXPECTED=1 -->\n").unwrap();
    let (stored, after) = rest.split_once("<!-- end of kinds -->").unwrap();
    if std::env::var_os("UPDATE_EXPECTED").is_some() {
        let new = format!("{before}UPDATE_EXPECTED=1 -->\n{list}\n<!-- end of kinds -->{after}");
        fs::write(page(), new).unwrap();
    } else {
        assert_eq!(stored.trim(), list.trim());
    }
}

#[test]
fn the_examples_parse() {
    let text = fs::read_to_string(page()).unwrap();
    let examples: Vec<&str> = text
        .split("```toml\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next())
        .collect();
    let [sensor, checks, questions, kind] = examples.as_slice() else {
        panic!("{} examples", examples.len());
    };
    circuit::parse(sensor).unwrap();
    circuit::parse(&format!("title = \"kind\"\n{kind}")).unwrap();
    // The checks are those of a ready-made circuit.
    let injector = circuit::Archetype::built_in().unwrap();
    let injector = injector.iter().find(|one| one.name == "injector-low-side").unwrap();
    let of = |text: &str| circuit::parse(text).unwrap().monitors;
    let end = injector.text.find("[[module.engine.monitor]]").unwrap();
    let (before, after) = injector.text.split_at(end);
    let after = &after[after.find("[device").unwrap()..];
    let written = of(&format!("{before}{checks}\n{after}"));
    assert_eq!(written.len(), 2);
    assert!(
        written.iter().all(|check| of(&injector.text).contains(check)),
        "{written:?}"
    );
    // The questions are those of the first circuit.
    let with_run = format!("{sensor}\n[bundle.run]\nwires = [\"W1\", \"W2\"]\n{questions}");
    let archetype = circuit::Archetype::read("example", &with_run).unwrap();
    assert_eq!(archetype.questions.len(), 5);
}
