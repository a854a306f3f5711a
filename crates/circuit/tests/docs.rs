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
    assert_eq!(examples.len(), 3);
    circuit::parse(examples[0]).unwrap();
    circuit::parse(&format!("title = \"kind\"\n{}", examples[2])).unwrap();
    // The questions are those of the first circuit.
    let with_run = format!(
        "{}\n[bundle.run]\nwires = [\"W1\", \"W2\"]\n{}",
        examples[0], examples[1]
    );
    let archetype = circuit::Archetype::read("example", &with_run).unwrap();
    assert_eq!(archetype.questions.len(), 4);
}
