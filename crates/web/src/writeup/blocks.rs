//! What both documents have in common, as blocks.

use job::{About, Standing};
use report::{Block, Table};

use super::account::{Account, Stage};
use super::cause;
use super::when::Clock;
use crate::words::proof as said;
use crate::{jobs, words};

pub(super) fn heading(text: &str) -> Block {
    Block::Heading(text.into())
}

pub(super) fn paragraph(text: impl Into<String>) -> Block {
    Block::Paragraph(text.into())
}

/// A table; nothing where it would have no rows.
pub(super) fn table(columns: &[(&str, f32)], rows: Vec<Vec<String>>) -> Option<Block> {
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            header: columns.iter().map(|column| column.0.to_owned()).collect(),
            shares: columns.iter().map(|column| column.1).collect(),
            rows,
        })
    })
}

/// A list; nothing where it would be empty.
pub(super) fn list(points: Vec<String>) -> Option<Block> {
    (!points.is_empty()).then_some(Block::List(points))
}

/// Whose vehicle, which, and what was said at first.
pub(super) fn vehicle(account: &Account<'_>, clock: Clock) -> Block {
    let (circuit, state) = (account.of.circuit, &account.state);
    let (first, last) = account.span();
    let (begun, ended) = (clock.day(first), clock.day(last));
    let days = if begun == ended {
        begun
    } else {
        format!("{begun} to {ended}")
    };
    let names = |parts: &[circuit::PartId]| {
        let each = parts.iter().map(|part| circuit.parts[part.idx()].called());
        each.collect::<Vec<_>>().join(", ")
    };
    let replaced: Vec<circuit::PartId> = cause::replaced(circuit, &[], &[], &state.replaced)
        .into_iter()
        .map(|(part, _)| part)
        .collect();
    let comes = match state.comes_and_goes {
        Some(true) => "it comes and goes",
        Some(false) => "it is there all the time",
        None => "",
    };
    let happened: Vec<&str> = [
        (state.water, "water came in"),
        (state.accident, "there was an accident"),
    ]
    .into_iter()
    .filter_map(|(is, words)| is.then_some(words))
    .collect();
    let told = |about: About| state.told.get(&about).cloned().unwrap_or_default();
    let both = |named: String, about: About| {
        let said = [named, told(about)];
        said.into_iter()
            .filter(|one| !one.trim().is_empty())
            .collect::<Vec<_>>()
            .join("; ")
    };
    let facts = [
        ("Vehicle", account.title().to_owned()),
        ("Vehicle number (VIN)", state.vin.trim().to_owned()),
        ("Day", days),
        ("Odometer", told(About::Mileage)),
        ("Complaint", state.complaint.clone()),
        ("When it happens", told(About::Happens)),
        ("How it shows", comes.to_owned()),
        ("What had happened", both(happened.join(", "), About::Harm)),
        ("Replaced before, in vain", both(names(&replaced), About::Replaced)),
        ("Worked on before", both(names(&state.disturbed), About::Work)),
        ("Accessories", both(names(&state.accessories), About::Accessories)),
    ];
    let known = facts.into_iter().filter(|(_, said)| !said.trim().is_empty());
    Block::Facts(known.map(|(name, said)| (name.to_owned(), said)).collect())
}

/// Why the job is not finished, in sentences; empty where it is.
pub(super) fn unfinished(account: &Account<'_>) -> Vec<String> {
    let mut told: Vec<String> = Vec::new();
    let leads = || match account.leader() {
        Some(cause) => format!(
            "The cause is not proved: most likely it is {} ({}).",
            cause.words(account.of.faults),
            cause::sure(cause.chance)
        ),
        None => format!(
            "The cause is not known: most likely it is outside the circuit that was examined ({}).",
            cause::sure(account.findings.outside)
        ),
    };
    match account.stage {
        Stage::Unread => {
            told.push("Nothing has been measured yet.".into());
            told.push("No repair is noted.".into());
        }
        Stage::Searching => {
            told.push("No repair is noted.".into());
            told.push(leads());
        }
        Stage::Unnamed => told.push(
            "A repair is noted, but not for which fault of this circuit: so no reading since can be held against it, \
             and nothing is proved."
                .into(),
        ),
        Stage::OnTrial(_) => told.extend(trial(account)),
    }
    let standing = account.state.standing.0;
    if matches!(standing, Standing::Waiting(_)) {
        told.push(format!("The job is {}.", jobs::standing(standing).1));
    }
    if !account.state.troubles.is_empty() {
        told.push(format!(
            "{} of the job cannot be understood with its circuit and did not count.",
            count(account.state.troubles.len(), "entry", "entries")
        ));
    }
    told
}

fn trial(account: &Account<'_>) -> Vec<String> {
    let Some(proof) = account.proof.as_ref().filter(|_| !account.stage.is_finished()) else {
        return Vec::new();
    };
    let mut told = vec![said::headline(proof)];
    let (n, missing) = (
        proof.readings.len(),
        proof.readings.iter().filter(|one| one.read.is_none()).count(),
    );
    if account.facts.case().current_readings().is_empty() {
        told.push("Nothing was measured since the repair.".into());
    } else if missing > 0 {
        told.push(format!(
            "Of {} that would prove the repair {missing} {} not taken.",
            count(n, "reading", "readings"),
            if missing == 1 { "was" } else { "were" }
        ));
    }
    told
}

/// "1 reading", "3 readings".
pub(super) fn count(n: usize, one: &str, more: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {more}")
    }
}

/// What a sound vehicle would have shown.
pub(super) fn sound(account: &Account<'_>, at: usize, reading: &bench::Reading) -> String {
    let standing = account.findings.readings.get(at);
    let in_order = standing.and_then(|standing| standing.in_order.as_ref());
    in_order.map_or_else(
        || "cannot be said".into(),
        |in_order| words::expected(account.of.circuit, &reading.test.placement, &in_order.shows),
    )
}
