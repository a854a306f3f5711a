//! Readings and deeds as the page is told of them.

use bench::Test;
use circuit::Circuit;
use diagnosis::Findings;
use job::{Entry, State};

use crate::desk::Desk;
use crate::view::ReadingView;
use crate::{facts, words};

/// What undo or redo would take back, in words.
pub(super) fn event_words(desk: &Desk, state: &State, event: &str) -> String {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    if let Some((_, set_up)) = state.set_ups.iter().find(|(id, _)| id == event) {
        return format!("set-up: {}", words::set_up(circuit, set_up));
    }
    if let Some(told) = facts::told(circuit, faults, state)
        .into_iter()
        .find(|told| told.event == event)
    {
        return told.words;
    }
    let entry = state.entries().chain(&state.twin).find(|entry| entry.event == event);
    entry.map_or_else(
        || "the last entry".into(),
        |entry| {
            let at = &entry.reading.test.placement;
            format!(
                "{}, {}",
                words::placement(circuit, at),
                words::shown(circuit, at, &entry.reading.shown)
            )
        },
    )
}

/// The readings of this vehicle, each with how it stands.
pub(super) fn reading_views(circuit: &Circuit, state: &State, findings: Option<&Findings>) -> Vec<ReadingView> {
    let n_before = state.readings.len();
    let each = state.entries().enumerate().map(|(idx, entry)| {
        let standing = findings.and_then(|findings| findings.readings.get(idx));
        let (verdict, kind) = match standing {
            Some(standing) => words::verdict(circuit, &entry.reading, standing),
            None if idx >= n_before => ("after the repair".into(), "fits"),
            None => (String::new(), "nothing"),
        };
        reading_view(circuit, entry, verdict, kind)
    });
    each.collect()
}

/// Those of a sound one.
pub(super) fn twin_views(circuit: &Circuit, state: &State) -> Vec<ReadingView> {
    let each = state.twin.iter();
    each.map(|entry| reading_view(circuit, entry, "on a sound twin".into(), "fits"))
        .collect()
}

fn reading_view(circuit: &Circuit, entry: &Entry, verdict: String, standing: &'static str) -> ReadingView {
    let Test { placement, set_up } = &entry.reading.test;
    ReadingView {
        event: entry.event.clone(),
        at_ms: entry.at_ms,
        what: words::capital(&words::placement(circuit, placement)),
        set_up: set_up.to_text(circuit),
        set_up_words: words::set_up(circuit, set_up),
        set_up_short: words::set_up_short(circuit, set_up),
        test: placement.to_text(circuit),
        shown: words::shown(circuit, placement, &entry.reading.shown),
        seen: entry.seen.clone(),
        verdict,
        standing,
    }
}
