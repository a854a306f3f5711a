//! What a list of jobs tells of one, and how one is found again. It follows from the events; the circuit is not worked out
//! for it, so that a list of thousands is made in a moment.

use codes::code::{read, table};

use crate::event::{About, Event, What};
use crate::standing::{Standing, standing};
use crate::state::undone;

/// A job in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct Overview {
    /// Its title.
    pub title: String,
    /// The customer's words.
    pub complaint: String,
    /// The trouble codes that were found, in order.
    pub codes: Vec<String>,
    /// Where it stands.
    pub standing: Standing,
    /// Since when, milliseconds since 1970.
    pub since_ms: u64,
    /// When something last happened.
    pub last_ms: u64,
    /// Readings of this vehicle.
    pub readings: usize,
    /// What was repaired last; empty if nothing.
    pub repair: String,
    /// All that it is found by, in small letters.
    text: String,
    /// The same as letters and digits alone: a plate is typed with blanks and hyphens or without.
    squeezed: String,
}

impl Overview {
    /// Of a job's events; `None` for one that was never opened.
    pub fn of(events: &[Event]) -> Option<Self> {
        let undone = undone(events);
        let (standing, since_ms) = standing(events, &undone);
        let mut opened = None;
        let mut words: Vec<&str> = Vec::new();
        let mut codes: Vec<String> = Vec::new();
        let (mut complaint, mut readings, mut repair) = ("", 0, "");
        for event in events.iter().filter(|event| !undone.contains(&event.id)) {
            match &event.what {
                What::Opened {
                    title,
                    complaint: said,
                    vin,
                    circuit,
                } => {
                    opened = Some(title);
                    complaint = said;
                    words.extend([title, said, vin].map(String::as_str));
                    words.extend(["title", "vehicle"].iter().filter_map(|key| said_at_top(circuit, key)));
                }
                What::Code { code, .. } if !codes.contains(code) => codes.push(code.clone()),
                What::Reading { twin: false, .. } => readings += 1,
                What::Repair { words: what, .. } => {
                    repair = what;
                    words.push(what);
                }
                What::Told {
                    about: About::Complaint,
                    words: what,
                } => {
                    complaint = what;
                    words.push(what);
                }
                What::Note { words: what } | What::Told { words: what, .. } | What::Photo { words: what, .. } => {
                    words.push(what);
                }
                _ => {}
            }
        }
        let title = opened?;
        let mut text = words.join("\n");
        for code in &codes {
            let entry = read(code).ok().and_then(|typed| table::find(typed.code));
            let name = entry.map_or_else(String::new, table::Entry::name);
            text = format!("{text}\n{code} {name}");
        }
        Some(Self {
            title: title.clone(),
            complaint: complaint.to_owned(),
            standing,
            since_ms,
            last_ms: events.iter().map(|event| event.at_ms).max().unwrap_or(0),
            readings,
            repair: repair.to_owned(),
            squeezed: squeezed(&text),
            text: text.to_lowercase(),
            codes,
        })
    }

    /// Whether it is one of those that are looked for.
    pub fn is_meant(&self, search: &Search) -> bool {
        search.words.iter().all(|word| self.text.contains(word))
            || (!search.squeezed.is_empty() && self.squeezed.contains(&search.squeezed))
    }
}

/// What somebody looks for: words in any order, each anywhere, or a plate however it is spaced.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Search {
    words: Vec<String>,
    squeezed: String,
}

impl Search {
    /// As it was typed; nothing typed means every job.
    pub fn new(typed: &str) -> Self {
        Self {
            words: typed.to_lowercase().split_whitespace().map(str::to_owned).collect(),
            squeezed: squeezed(typed),
        }
    }
}

fn squeezed(text: &str) -> String {
    // Lines stay apart: the end of one and the beginning of the next are no plate.
    let kept = text.chars().filter(|c| c.is_alphanumeric() || *c == '\n');
    kept.flat_map(char::to_lowercase).collect()
}

/// What a circuit file says of itself before its first table.
fn said_at_top<'a>(circuit: &'a str, key: &str) -> Option<&'a str> {
    let mut top = circuit.lines().take_while(|line| !line.starts_with('['));
    let value = |line: &'a str| line.strip_prefix(key)?.trim_start().strip_prefix('=');
    top.find_map(value).map(|value| value.trim().trim_matches('"'))
}
