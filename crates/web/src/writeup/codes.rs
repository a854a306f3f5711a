//! Trouble codes from first to last: how each was found, whether it was cleared, and whether it came back.

use bench::{Placement, Shown};
use circuit::Circuit;
use codes::code::{read, table as codes_known};
use job::{Did, Said};
use report::Block;

use super::account::Account;
use super::blocks::table;
use super::when::Clock;
use crate::words;

/// A code as it was seen once.
struct Seen {
    code: String,
    what: String,
    state: String,
    is_set: bool,
    /// When the module says that it was, in whatever words.
    when: String,
    /// Position in the job.
    position: usize,
    /// A check of this circuit sets it.
    is_weighed: bool,
}

/// A code from first to last.
pub(super) struct Story {
    pub(super) code: String,
    pub(super) what: String,
    pub(super) found: String,
    pub(super) cleared: String,
    pub(super) since: String,
    /// It came back after it was cleared.
    pub(super) is_back: bool,
    /// A check of this circuit sets it.
    pub(super) is_weighed: bool,
}

/// All codes of a job, in the order in which they were first seen.
pub(super) fn stories(account: &Account<'_>, clock: Clock) -> Vec<Story> {
    let seen = seen(account);
    let cleared = account.state.acts.iter().filter(|act| act.did == Did::Cleared);
    let cleared: Vec<(usize, u64)> = cleared.map(|act| (account.position(&act.event), act.at_ms)).collect();
    let mut stories: Vec<Story> = Vec::new();
    for first in &seen {
        if stories.iter().any(|story| story.code == first.code) {
            continue;
        }
        let of_code = || seen.iter().filter(|one| one.code == first.code);
        // The last time that it was cleared after it had been seen.
        let clearing = cleared.iter().rev().find(|(position, _)| *position > first.position);
        let last = of_code()
            .next_back()
            .filter(|last| last.position > clearing.map_or(first.position, |one| one.0));
        let since = match (clearing, last) {
            (Some(_), None) => "not read since".to_owned(),
            (Some(_), Some(last)) if last.is_set => format!("came back: {}", last.state),
            (Some(_), Some(last)) if last.state == words::code_state(bench::CodeState::NotSet) => {
                "has not come back".to_owned()
            }
            (_, Some(last)) => last.state.clone(),
            (None, None) => String::new(),
        };
        let when = if first.when.is_empty() {
            String::new()
        } else {
            format!(" ({})", first.when)
        };
        stories.push(Story {
            code: first.code.clone(),
            what: first.what.clone(),
            found: format!("{}{when}", first.state),
            cleared: clearing.map_or_else(|| "no".to_owned(), |(_, at)| clock.time(*at)),
            is_back: clearing.is_some() && last.is_some_and(|last| last.is_set),
            since,
            is_weighed: first.is_weighed,
        });
    }
    stories
}

/// The codes as a table.
pub(super) fn table_of(stories: &[Story]) -> Option<Block> {
    let rows = stories.iter().map(|story| {
        let beside = if story.is_weighed {
            ""
        } else {
            " (no check of this circuit)"
        };
        vec![
            story.code.clone(),
            format!("{}{beside}", words::capital(&story.what)),
            story.found.clone(),
            story.cleared.clone(),
            story.since.clone(),
        ]
    });
    let columns = [
        ("Code", 0.7),
        ("What it says", 2.6),
        ("As found", 1.3),
        ("Cleared", 0.8),
        ("Since", 1.2),
    ];
    table(&columns, rows.collect())
}

fn seen(account: &Account<'_>) -> Vec<Seen> {
    let circuit = account.of.circuit;
    let read = account.state.entries().filter_map(|entry| {
        let (Placement::Code { monitor }, Shown::Code(state)) = (&entry.reading.test.placement, &entry.reading.shown)
        else {
            return None;
        };
        let monitor = &circuit.monitors[monitor.idx()];
        Some(Seen {
            code: monitor.code.clone(),
            what: monitor.words.clone(),
            state: words::code_state(*state).to_owned(),
            is_set: is_set(*state),
            when: entry.seen.clone(),
            position: account.position(&entry.event),
            is_weighed: true,
        })
    });
    let beside = account.state.remarks.iter().filter_map(|remark| {
        let Said::Code(code, state, when) = &remark.said else {
            return None;
        };
        let known = state_of(circuit, state);
        Some(Seen {
            code: code.clone(),
            what: says(code),
            state: known.map_or_else(|| state.clone(), |known| words::code_state(known).to_owned()),
            is_set: known.is_some_and(is_set),
            when: when.clone(),
            position: account.position(&remark.event),
            is_weighed: false,
        })
    });
    let mut all: Vec<Seen> = read.chain(beside).collect();
    all.sort_by_key(|one| one.position);
    all
}

fn is_set(state: bench::CodeState) -> bool {
    use bench::CodeState::{History, NotRun, NotSet, Pending, Present};
    match state {
        Present | Pending | History => true,
        NotSet | NotRun => false,
    }
}

/// A state from its text form.
fn state_of(circuit: &Circuit, text: &str) -> Option<bench::CodeState> {
    let any = Placement::Code { monitor: 0.into() };
    match bench::parse_shown(text, &any, circuit) {
        Ok(Shown::Code(state)) => Some(state),
        _ => None,
    }
}

/// What a code says that this circuit does not know.
fn says(code: &str) -> String {
    let known = read(code).ok().and_then(|typed| codes_known::find(typed.code));
    known.map_or_else(
        || "not in the table of this program".to_owned(),
        codes_known::Entry::name,
    )
}
