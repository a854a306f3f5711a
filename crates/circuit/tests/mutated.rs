//! Whatever a file holds, the parser answers: with a circuit, or with mistakes that lie within the text.

use circuit::parse_with;
use proptest::prelude::*;

const SOURCES: [&str; 5] = [
    circuit::DEMO,
    include_str!("circuits/composed.toml"),
    include_str!("circuits/accessory.toml"),
    include_str!("bad/kinds.toml"),
    include_str!("bad/insides.toml"),
];

/// Pieces that are likely to hurt.
const PIECES: [&str; 14] = [
    "\"",
    "[",
    "]",
    "{",
    "}",
    "=",
    ".",
    "\n",
    "-1",
    "1e308",
    "é",
    "../",
    "\"unknown\"",
    "[[0, 0]]",
];

fn check(text: &str) {
    let kinds = include_str!("circuits/kinds.txt").to_owned();
    let parsed = parse_with(text, &mut |_| Ok(kinds.clone()));
    for mistake in parsed
        .err()
        .into_iter()
        .flatten()
        .filter(|mistake| mistake.file.is_none())
    {
        assert!(
            mistake.offset + mistake.length <= text.len() && text.is_char_boundary(mistake.offset),
            "{mistake}"
        );
        assert!(!mistake.message.is_empty());
    }
}

fn boundary(text: &str, at: usize) -> usize {
    (0..=at % (text.len() + 1))
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn mutated_files_never_panic(
        source in 0..SOURCES.len(),
        edits in prop::collection::vec((any::<usize>(), 0_usize..20, prop::option::of(0..PIECES.len())), 1..4),
    ) {
        let mut text = SOURCES[source].to_owned();
        for (at, cut, piece) in edits {
            let start = boundary(&text, at);
            let end = boundary(&text, (start + cut).min(text.len())).max(start);
            text.replace_range(start..end, piece.map_or("", |piece| PIECES[piece]));
        }
        check(&text);
    }

    /// Lines are moved, so that keys land in the wrong tables and names vanish.
    #[test]
    fn shuffled_lines_never_panic(source in 0..SOURCES.len(), from in any::<usize>(), to in any::<usize>()) {
        let mut lines: Vec<&str> = SOURCES[source].lines().collect();
        let line = lines.remove(from % lines.len());
        let to = to % (lines.len() + 1);
        lines.insert(to, line);
        check(&lines.join("\n"));
    }
}

#[test]
fn deep_and_long_input_is_refused_in_time() {
    check(&"[".repeat(100_000));
    check(&format!("title = {}1", "[".repeat(5_000)));
    let sum = "1+".repeat(50_000);
    check(&format!(
        "title = \"t\"\n[kind.k]\npins = [\"a\"]\nlocal.x = \"{sum}1\"\n"
    ));
    let mut names = String::from("title = \"t\"\n[kind.k]\npins = [\"a\", \"b\"]\nlocal.x0 = \"sensed\"\n");
    for n in 1..1000 {
        names.extend([format!("local.x{n} = \"x{before} + x{before}\"\n", before = n - 1)]);
    }
    names +=
        "element.r = { is = \"resistor\", between = [\"a\", \"b\"], ohms = \"x999\" }\n[sensed.s]\nrange = [1, 2]\n";
    names += "[device.d]\nkind = \"k\"\nsenses = \"s\"\npins = { a = \"battery+\", b = \"body\" }\n";
    check(&names);
}
