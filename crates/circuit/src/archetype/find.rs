//! Finds ready-made circuits by the words of a complaint or of a code.

use std::cmp::Reverse;

use super::Archetype;
use crate::file::nearest;

/// Words that tell no circuit from another.
const EMPTY: [&str; 14] = [
    "sensor", "circuit", "the", "a", "an", "of", "and", "or", "with", "in", "is", "signal", "voltage", "code",
];

/// Those of `all` that `words` ask for, best first: those of which a whole phrase that they serve is said, the longest first.
/// Only where there are none, those with part of one, then those whose name or description has the words.
pub fn find<'a>(all: &'a [Archetype], words: &str) -> Vec<&'a Archetype> {
    let said = split(words);
    let mut found: Vec<(Reverse<[usize; 3]>, &Archetype)> = all
        .iter()
        .map(|archetype| (Reverse(score(archetype, &said)), archetype))
        .filter(|(score, _)| score.0 != [0, 0, 0])
        .collect();
    if found.iter().any(|(Reverse([whole, ..]), _)| *whole > 0) {
        found.retain(|(Reverse([whole, ..]), _)| *whole > 0);
    }
    found.sort_by(|a, b| (&a.0, &a.1.name).cmp(&(&b.0, &b.1.name)));
    found.into_iter().map(|(_, archetype)| archetype).collect()
}

/// The one of these names that may be meant by `name`.
pub fn meant<'a>(all: &'a [Archetype], name: &str) -> Option<&'a str> {
    nearest(name, all.iter().map(|one| one.name.as_str()))
}

/// How many words of `text` are said in `words`, those left out that tell nothing.
pub fn words_in_common(text: &str, words: &str) -> usize {
    hits(&split(text), &split(words))
}

fn hits(words: &[String], said: &[String]) -> usize {
    words
        .iter()
        .filter(|word| said.iter().any(|said| same(said, word)))
        .count()
}

impl Archetype {
    /// Whether a whole phrase that it serves is said.
    pub fn is_named_in(&self, words: &str) -> bool {
        score(self, &split(words))[0] > 0
    }
}

/// Words of the longest phrase said whole, of the phrase said best, and of name and description.
fn score(archetype: &Archetype, said: &[String]) -> [usize; 3] {
    let phrases: Vec<Vec<String>> = archetype.serves.iter().map(|phrase| split(phrase)).collect();
    let whole = phrases.iter().filter(|phrase| hits(phrase, said) == phrase.len());
    let other = split(&[&archetype.name, " ", &archetype.about].concat());
    [
        whole.map(Vec::len).max().unwrap_or(0),
        phrases.iter().map(|phrase| hits(phrase, said)).max().unwrap_or(0),
        hits(&other, said),
    ]
}

fn split(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty() && !EMPTY.contains(word))
        .map(str::to_owned)
        .collect()
}

/// Equal, or one of them with an ending: lamp, lamps; inject, injector.
fn same(a: &str, b: &str) -> bool {
    let (short, long) = if a.len() <= b.len() { (a, b) } else { (b, a) };
    short == long || (short.len() >= 4 && long.starts_with(short))
}
