//! Circuit files that are wrong: every mistake is reported, at its place, with what was expected.
//!
//! Each file in `tests/bad` is a case. A line `#! 8: text` says that the next line that is no such comment has a mistake
//! at column 8, shown as `text`; a file has exactly the mistakes it says.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use std::fs;
use std::path::Path;

use circuit::{Mistake, parse_with};

/// Line, column, text.
type Seen = (usize, usize, String);

fn expected(text: &str) -> Vec<Seen> {
    let mut waiting: Vec<(usize, String)> = Vec::new();
    let mut expected = Vec::new();
    for (line, content) in text.lines().enumerate() {
        if let Some(comment) = content.strip_prefix("#! ") {
            let (column, message) = comment.split_once(": ").unwrap();
            waiting.push((column.parse().unwrap(), message.to_owned()));
        } else {
            expected.extend(waiting.drain(..).map(|(column, message)| (line + 1, column, message)));
        }
    }
    assert!(waiting.is_empty(), "a mistake is expected behind the last line");
    expected.sort();
    expected
}

fn shown(mistake: &Mistake) -> Seen {
    let text = mistake.to_string();
    let place = format!("line {}, column {}: ", mistake.line, mistake.column);
    (mistake.line, mistake.column, text.replacen(&place, "", 1))
}

#[test]
fn every_bad_file_has_the_mistakes_it_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad");
    let mut failures = Vec::new();
    let mut n_files = 0;
    let mut files: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    for path in files {
        n_files += 1;
        let text = fs::read_to_string(&path).unwrap();
        let mistakes = parse_with(&text, &mut |name| Err(format!("`{name}` is not there"))).unwrap_err();
        let mut found: Vec<Seen> = mistakes.iter().map(shown).collect();
        found.sort();
        let expected = expected(&text);
        let name = path.file_name().unwrap().to_string_lossy();
        let list = |of: &[Seen], not_in: &[Seen], word: &str| {
            let missing = of.iter().filter(|seen| !not_in.contains(seen));
            let lines = missing.map(|(line, column, text)| format!("{name}|{line}|{column}|{word}|{text}\n"));
            lines.collect::<Vec<_>>().concat()
        };
        let difference = list(&found, &expected, "not listed") + &list(&expected, &found, "not found");
        if !difference.is_empty() || found.len() != expected.len() {
            failures.push(difference);
        }
        for mistake in &mistakes {
            assert!(text.is_char_boundary(mistake.offset) && mistake.offset + mistake.length <= text.len());
        }
    }
    assert!(n_files >= 9 && failures.is_empty(), "\n{}", failures.concat());
}
