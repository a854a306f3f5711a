//! What a proposed step may show, and what each outcome would mean, in plain words.
//!
//! Outcomes that read the same to a person become one, and rare ones are left out: nobody waits for them.

use std::collections::BTreeMap;

use circuit::{Circuit, Fault, FaultId};
use diagnosis::Proposal;

use crate::words;

/// Outcomes rarer than this are not told of.
const LEAST_CHANCE: f64 = 0.015;
/// A second suspect is named if it has this share of the first one's chance.
const NAMED_TOO: f64 = 0.6;

/// From this chance something outside the circuit is all that is named.
const CLEARLY: f64 = 0.5;

/// One outcome in words.
#[derive(Clone, Debug, PartialEq)]
pub struct OutcomeWords {
    /// What each test would show.
    pub shows: String,
    /// Who leads then.
    pub means: String,
    /// Chance of it, 0 to 1.
    pub chance: f64,
}

/// Outcomes that read the same, added up.
#[derive(Default)]
struct Sum {
    chance: f64,
    outside: f64,
    then: BTreeMap<FaultId, f64>,
}

/// The outcomes of a proposal, most likely first.
pub fn of(circuit: &Circuit, faults: &[Fault], proposal: &Proposal) -> Vec<OutcomeWords> {
    let mut sums: BTreeMap<String, Sum> = BTreeMap::new();
    for outcome in &proposal.outcomes {
        let each = proposal.tests.iter().zip(&outcome.shows);
        let shows: Vec<String> = each
            .map(|(test, shows)| words::expected(circuit, &test.placement, shows))
            .collect();
        let sum = sums.entry(shows.join(", then ")).or_default();
        sum.chance += outcome.chance;
        sum.outside += outcome.chance * outcome.then_outside;
        for (fault, chance) in &outcome.then {
            *sum.then.entry(*fault).or_default() += outcome.chance * chance;
        }
    }
    let told = sums.into_iter().filter(|(_, sum)| sum.chance >= LEAST_CHANCE);
    let mut told: Vec<OutcomeWords> = told
        .map(|(shows, sum)| OutcomeWords {
            shows,
            means: means(faults, &sum),
            chance: sum.chance,
        })
        .collect();
    told.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    told
}

fn means(faults: &[Fault], sum: &Sum) -> String {
    let mut then: Vec<(FaultId, f64)> = sum
        .then
        .iter()
        .map(|(fault, share)| (*fault, share / sum.chance))
        .collect();
    then.sort_by(|a, b| b.1.total_cmp(&a.1));
    let outside = sum.outside / sum.chance;
    let Some((first, chance)) = then.first().copied().filter(|_| outside < CLEARLY) else {
        return format!("look beyond this picture ({})", words::percent(outside));
    };
    let leader = &faults[first.idx()];
    let same_work: f64 = then
        .iter()
        .filter(|(fault, _)| faults[fault.idx()].repair.key == leader.repair.key)
        .map(|one| one.1)
        .sum();
    let led = format!("{} ({})", short(leader), words::percent(same_work));
    let second = then
        .iter()
        .find(|(fault, _)| faults[fault.idx()].repair.key != leader.repair.key);
    match second {
        _ if outside > NAMED_TOO * chance => {
            format!("{led}, or something beyond this picture ({})", words::percent(outside))
        }
        Some((fault, next)) if *next > NAMED_TOO * chance => {
            format!("{led}, or {} ({})", short(&faults[fault.idx()]), words::percent(*next))
        }
        _ => led,
    }
}

/// A fault in a few words: what is told after a colon or a semicolon is left to the list of what is left.
pub fn short(fault: &Fault) -> String {
    let head = |text: &str, end: char| text.split(end).next().unwrap_or_default().to_owned();
    format!("{}, {}", head(&fault.what, ':'), head(&fault.place, ';'))
}
