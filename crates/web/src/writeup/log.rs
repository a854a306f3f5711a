//! Everything that happened, in the order of the job: readings with their set-ups, deeds, what was written down, and what was
//! taken back, which stays in the list and says so.

use bench::{Placement, Reading, Test};
use circuit::Circuit;
use job::{Event, Standing, What};
use report::Block;

use super::account::Account;
use super::blocks::{sound, table};
use super::when::Clock;
use crate::{facts, jobs, words};

/// A line of the log.
struct Line {
    what: String,
    set_up: String,
    shown: String,
    sound: String,
    says: String,
}

impl Line {
    fn of(what: String) -> Self {
        Self {
            what,
            set_up: String::new(),
            shown: String::new(),
            sound: String::new(),
            says: String::new(),
        }
    }

    fn read(circuit: &Circuit, reading: &Reading, seen: &str) -> Self {
        let Test { placement, set_up } = &reading.test;
        let seen = if seen.is_empty() {
            String::new()
        } else {
            format!(" (seen {seen})")
        };
        Self {
            set_up: words::set_up(circuit, set_up),
            shown: format!("{}{seen}", words::shown(circuit, placement, &reading.shown)),
            ..Self::of(words::capital(&words::placement(circuit, placement)))
        }
    }
}

/// The log as a table.
pub(super) fn log(account: &Account<'_>, clock: Clock) -> Option<Block> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    // The head of the document says on which day it began.
    let (mut day, mut n_readings) = (clock.day(account.span().0), 0);
    for event in account.of.events {
        let Some(line) = line(account, event) else { continue };
        let own = clock.day(event.at_ms);
        let time = clock.time(event.at_ms);
        let when = if own == day { time } else { format!("{own}, {time}") };
        day = own;
        let is_reading = matches!(&event.what, What::Reading { twin: false, .. } | What::Code { .. });
        let number = if is_reading && !account.state.undone.contains(&event.id) && !line.set_up.is_empty() {
            n_readings += 1;
            n_readings.to_string()
        } else {
            String::new()
        };
        rows.push(vec![
            number,
            when,
            line.what,
            line.set_up,
            line.shown,
            line.sound,
            line.says,
        ]);
    }
    let columns = [
        ("No.", 0.35),
        ("When", 0.75),
        ("What", 2.4),
        ("Set-up", 2.0),
        ("Shown", 1.0),
        ("Sound vehicle", 1.1),
        ("Of the likeliest cause", 1.1),
    ];
    table(&columns, rows)
}

/// What one event comes to; none for those that the head of the document tells.
fn line(account: &Account<'_>, event: &Event) -> Option<Line> {
    if account.state.undone.contains(&event.id) {
        return taken_back(account, event);
    }
    let circuit = account.of.circuit;
    if let Some(trouble) = account.state.troubles.iter().find(|trouble| trouble.event == event.id) {
        return Some(Line {
            says: "did not count".into(),
            ..Line::of(format!("Cannot be understood: {}", trouble.why))
        });
    }
    if let Some(entry) = account.state.twin.iter().find(|entry| entry.event == event.id) {
        return Some(Line {
            says: "on a sound vehicle of the kind".into(),
            ..Line::read(circuit, &entry.reading, &entry.seen)
        });
    }
    if let Some((at, entry)) = account
        .state
        .entries()
        .enumerate()
        .find(|(_, entry)| entry.event == event.id)
    {
        let line = Line::read(circuit, &entry.reading, &entry.seen);
        return Some(if at < account.facts.readings.len() {
            Line {
                sound: sound(account, at, &entry.reading),
                says: says(account, at, &entry.reading),
                ..line
            }
        } else {
            Line {
                says: "not weighed: what was repaired before is not known".into(),
                ..line
            }
        });
    }
    if let Some((_, set_up)) = account.state.set_ups.iter().find(|(id, _)| *id == event.id) {
        return Some(Line {
            set_up: words::set_up(circuit, set_up),
            ..Line::of("Brought into this set-up".into())
        });
    }
    if let What::Photo { words, .. } = &event.what {
        return Some(Line::of(photo(words)));
    }
    told(account, &event.id).or_else(|| stood(&event.what)).map(Line::of)
}

/// A photo, which is kept beside the job.
fn photo(words: &str) -> String {
    let said = if words.trim().is_empty() { "" } else { ": " };
    format!("A photo, kept with the job{said}{words}")
}

/// How the job stood from an event on, where that is all that it says.
fn stood(what: &What) -> Option<String> {
    let standing = match what {
        What::Waiting { on } => on.map_or(Standing::Open, Standing::Waiting),
        What::Accepted {} => Standing::Proven,
        _ => return None,
    };
    Some(format!("The job: {}", jobs::standing(standing).1))
}

/// What was done or written down, in words.
pub(super) fn told(account: &Account<'_>, event: &str) -> Option<String> {
    let told = facts::told(account.of.circuit, account.of.faults, &account.state);
    told.into_iter().find(|act| act.event == event).map(|act| act.words)
}

/// How a reading leans, unless it is doubtful by itself.
fn says(account: &Account<'_>, at: usize, reading: &Reading) -> String {
    let standing = &account.findings.readings[at];
    if let (doubt, "doubtful") = words::verdict(account.of.circuit, reading, standing) {
        return doubt;
    }
    if account.leader().is_none() {
        return String::new();
    }
    words::leans(account.bits(at)).into()
}

/// An event that was taken back, as it was noted.
fn taken_back(account: &Account<'_>, event: &Event) -> Option<Line> {
    let circuit = account.of.circuit;
    let line = match &event.what {
        What::Reading {
            set_up, test, shown, ..
        } => as_noted(circuit, set_up, test, shown, ""),
        What::Code {
            set_up,
            code,
            state,
            seen,
        } => as_noted(circuit, set_up, &format!("code {code}"), state, seen),
        What::Did { did } => Line::of(words::capital(did)),
        What::Repair { words, .. } => Line::of(format!("Repaired: {words}")),
        What::Note { words } => Line::of(words.clone()),
        What::SetUp { set_up } => Line {
            set_up: set_up.clone(),
            ..Line::of("Brought into this set-up".into())
        },
        What::Intake { .. } | What::Told { .. } => Line::of("What was said at first".into()),
        What::Photo { words, .. } => Line::of(photo(words)),
        What::Waiting { .. } | What::Accepted {} => Line::of(stood(&event.what)?),
        What::Undo { .. } | What::Opened { .. } => return None,
    };
    Some(Line {
        says: "TAKEN BACK, did not count".into(),
        ..line
    })
}

/// A reading from its text forms, in words where the circuit can follow them.
fn as_noted(circuit: &Circuit, set_up: &str, test: &str, shown: &str, seen: &str) -> Line {
    match job::state::reading(circuit, set_up, test, shown) {
        Ok(reading) => Line::read(circuit, &reading, seen),
        Err(_not_followed) => Line {
            set_up: set_up.to_owned(),
            shown: shown.to_owned(),
            ..Line::of(test.to_owned())
        },
    }
}

/// Every reading that counted, without the figures of the search.
pub(super) fn readings(account: &Account<'_>) -> Option<Block> {
    let circuit = account.of.circuit;
    let rows = account.state.entries().enumerate().map(|(at, entry)| {
        let Line {
            what, set_up, shown, ..
        } = Line::read(circuit, &entry.reading, &entry.seen);
        let sound = if at < account.facts.readings.len() {
            sound(account, at, &entry.reading)
        } else {
            "cannot be said".into()
        };
        vec![what, set_up, shown, sound]
    });
    let columns = [
        ("What was measured", 2.6),
        ("How the vehicle stood", 2.2),
        ("It showed", 1.2),
        ("In a sound vehicle", 1.3),
    ];
    table(&columns, rows.collect())
}

/// Whether a reading is a code and not a measurement.
pub(super) fn is_code(reading: &Reading) -> bool {
    matches!(reading.test.placement, Placement::Code { .. })
}
