//! Conditions as text: `key on, running; fan commanded; S1 mated`.
//!
//! Terms are separated by `;` and must all hold; `|` between groups of them: one group at least. `not` in front turns a term
//! round. Here they are only taken apart; what
//! the names mean is looked up by who asks.

use std::collections::BTreeSet;
use std::ops::Range;

use super::mistake::{Slips, suggestion};
use super::value::Text;
use crate::set_up::{Condition, Key};

/// Key positions by name.
pub(crate) const KEYS: [(&str, Key); 7] = [
    ("off", Key::Off),
    ("accessory", Key::Accessory),
    ("on", Key::On),
    ("cranking", Key::Cranking),
    ("running", Key::Running),
    ("held", Key::Held),
    ("asleep", Key::Asleep),
];

/// One term, taken apart: `fan commanded` has the subject `fan`.
pub(crate) struct Term<'t> {
    /// The first word.
    pub(crate) subject: &'t str,
    /// The rest.
    pub(crate) predicate: &'t str,
    /// Where it stands.
    pub(crate) at: Range<usize>,
}

/// Reads a condition; `meaning` says what a term means that is not about key or battery, or why it means nothing.
pub(crate) fn parse(
    text: &Text,
    slips: &mut Slips,
    meaning: &mut dyn FnMut(&Term, &mut Slips) -> Option<Condition>,
) -> Option<Condition> {
    let mut start = 0;
    let mut groups = Vec::new();
    for group in text.text.split('|') {
        groups.push(all_of(text, group, start, slips, meaning));
        start += group.len() + 1;
    }
    let mut groups: Vec<Condition> = groups.into_iter().collect::<Option<_>>()?;
    match groups.len() {
        1 => groups.pop(),
        _ => Some(Condition::Any(groups)),
    }
}

/// Terms that must all hold, from `start` in the text.
fn all_of(
    text: &Text,
    group: &str,
    mut start: usize,
    slips: &mut Slips,
    meaning: &mut dyn FnMut(&Term, &mut Slips) -> Option<Condition>,
) -> Option<Condition> {
    let mut all = Vec::new();
    let mut is_whole = true;
    for piece in group.split(';') {
        let inner = start + (piece.len() - piece.trim_start().len())..start + piece.trim_end().len().max(1);
        start += piece.len() + 1;
        let at = slips.inside(&text.at, &text.text, inner.start.min(inner.end)..inner.end);
        let trimmed = piece.trim();
        if trimmed.is_empty() {
            slips.push_help(
                "condition",
                &at,
                "a condition is expected here",
                "e.g. `key on, running; fan commanded`",
            );
            is_whole = false;
            continue;
        }
        let (negated, words) = match trimmed.strip_prefix("not ") {
            Some(rest) => (true, rest.trim()),
            None => (false, trimmed),
        };
        let (subject, predicate) = words.split_once(' ').map_or((words, ""), |(a, b)| (a, b.trim()));
        let term = Term { subject, predicate, at };
        let Some(condition) = known(&term, slips, meaning) else {
            is_whole = false;
            continue;
        };
        all.push(if negated {
            Condition::Not(Box::new(condition))
        } else {
            condition
        });
    }
    match (is_whole, all.len()) {
        (false, _) => None,
        (true, 1) => all.pop(),
        (true, _) => Some(Condition::All(all)),
    }
}

fn known(
    term: &Term,
    slips: &mut Slips,
    meaning: &mut dyn FnMut(&Term, &mut Slips) -> Option<Condition>,
) -> Option<Condition> {
    match (term.subject, term.predicate) {
        ("always", "") => Some(Condition::Always),
        ("never", "") => Some(Condition::Never),
        ("battery", "on") => Some(Condition::BatteryOn),
        ("battery", "off") => Some(Condition::Not(Box::new(Condition::BatteryOn))),
        ("key", positions) => {
            let words = positions
                .split([',', ' '])
                .filter(|word| !word.is_empty() && *word != "or");
            let keys: Option<BTreeSet<Key>> = words.map(|word| key(word, &term.at, slips)).collect();
            let keys = keys?;
            if keys.is_empty() {
                slips.push_help(
                    "condition",
                    &term.at,
                    "a key position is expected",
                    "e.g. `key on, running`",
                );
                return None;
            }
            Some(Condition::KeyIn(keys))
        }
        _ => meaning(term, slips),
    }
}

/// A key position by its name.
pub(crate) fn key(word: &str, at: &Range<usize>, slips: &mut Slips) -> Option<Key> {
    let found = KEYS.iter().find(|(name, _)| *name == word).map(|(_, key)| *key);
    if found.is_none() {
        slips.unknown(
            "key",
            at,
            format!("`{word}` is no key position"),
            word,
            KEYS.iter().map(|(name, _)| *name),
        );
    }
    found
}

/// Notes a term that nobody understands.
pub(crate) fn not_understood<'a>(term: &Term, slips: &mut Slips, known: impl IntoIterator<Item = &'a str>) {
    let message = format!(
        "`{}` is not understood as a condition",
        [term.subject, term.predicate].join(" ").trim()
    );
    let help = suggestion(term.subject, known.into_iter().filter(|name| *name != term.subject))
        .filter(|help| help.starts_with("did you mean"))
        .unwrap_or_else(|| "e.g. `key on, running`, `fan commanded`, `pressure at least 20`, `S1 mated`".to_owned());
    slips.push_help("condition", &term.at, message, help);
}
