//! A circuit with included files as one text, to be kept where the files are not at hand: a stored job, another machine.
//!
//! The included kinds are written behind the circuit's own text, value by value as their files have them; comments of
//! those files are lost.

use toml::de::{DeTable, DeValue};

use super::decode::{Node, entries};
use super::mistake::{Mistake, Slips};
use super::{parse, parse_with};
use crate::model::Circuit;

/// A circuit, and its text with the kinds of the files it includes written into it. Lines of the text keep their numbers.
/// `read` is as in [`parse_with`].
///
/// # Errors
/// As [`parse_with`]; and if the kinds cannot be written behind the circuit, which only a table of kinds in one line
/// (`kind = { … }`) prevents.
pub fn in_one_text(
    text: &str,
    read: &mut dyn FnMut(&str) -> Result<String, String>,
) -> Result<(Circuit, String), Vec<Mistake>> {
    let mut included = Vec::new();
    let circuit = parse_with(text, &mut |name| {
        let text = read(name)?;
        included.push(text.clone());
        Ok(text)
    })?;
    let (document, _) = DeTable::parse_recoverable(text);
    let root = entries(document.get_ref());
    let Some((_, key, value)) = root.iter().find(|(name, ..)| *name == "include") else {
        return Ok((circuit, text.to_owned()));
    };
    let at = key.start..value.span().end;
    let n_lines = text.get(at.clone()).map_or(0, |gone| gone.matches('\n').count());
    let mut whole = text.to_owned();
    whole.replace_range(at.clone(), &format!("# included files: below{}", "\n".repeat(n_lines)));
    for file in &included {
        append(file, &mut whole);
    }
    if parse(&whole).is_ok_and(|again| again == circuit) {
        return Ok((circuit, whole));
    }
    let mut slips = Slips::new(text, None);
    slips.push_help(
        "include",
        &at,
        "the included kinds cannot be written into this file, as keeping it in a job needs",
        "write kinds of your own under headers such as `[kind.sender]`, not as `kind = { … }`",
    );
    Err(slips.into_mistakes())
}

/// Writes the kinds of a file behind a circuit.
fn append(file: &str, whole: &mut String) {
    let (document, _) = DeTable::parse_recoverable(file);
    let root = entries(document.get_ref());
    let kinds = root.iter().filter(|(name, ..)| *name == "kind");
    for (_, key, kind) in kinds.flat_map(|(.., kinds)| of(kinds)) {
        *whole += &["\n[kind.", slice(file, key), "]\n"].concat();
        for (_, key, value) in of(kind) {
            *whole += &[slice(file, key), " = ", &inline(file, value), "\n"].concat();
        }
    }
}

type Entry<'t, 'i> = (&'t str, std::ops::Range<usize>, &'t Node<'i>);

fn of<'t, 'i>(node: &'t Node<'i>) -> Vec<Entry<'t, 'i>> {
    node.get_ref().as_table().map(entries).unwrap_or_default()
}

fn slice(text: &str, at: std::ops::Range<usize>) -> &str {
    text.get(at).unwrap_or_default()
}

/// A value as the file has it; a table, which may be scattered over the file, as an inline one.
fn inline(text: &str, node: &Node<'_>) -> String {
    if !matches!(node.get_ref(), DeValue::Table(_)) {
        return slice(text, node.span()).to_owned();
    }
    let pairs: Vec<String> = of(node)
        .into_iter()
        .map(|(_, key, value)| format!("{} = {}", slice(text, key), inline(text, value)))
        .collect();
    format!("{{ {} }}", pairs.join(", "))
}
