//! What a proposed step may show, and what each outcome would mean, in plain words.
//!
//! Outcomes that read the same to a person become one, and rare ones are left out: nobody waits for them.

use std::collections::BTreeMap;

use bench::Test;
use circuit::{Circuit, Fault, FaultId};
use diagnosis::{Outcome, Proposal};

use crate::words;

/// Outcomes rarer than this are not told of.
const LEAST_CHANCE: f64 = 0.015;
/// A second suspect is named if it has this share of the first one's chance.
const NAMED_TOO: f64 = 0.6;
/// Of suspects that one repair cures, those with this share of the first one's chance are named with it.
const TOGETHER: f64 = 0.2;
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
    of_tests(circuit, faults, &proposal.tests, &proposal.outcomes)
}

/// What these tests may show, and what it would mean, most likely first.
pub fn of_tests(circuit: &Circuit, faults: &[Fault], tests: &[Test], outcomes: &[Outcome]) -> Vec<OutcomeWords> {
    let mut sums: BTreeMap<String, Sum> = BTreeMap::new();
    for outcome in outcomes {
        let each = tests.iter().zip(&outcome.shows);
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
    let same_work: Vec<(FaultId, f64)> = then
        .iter()
        .copied()
        .filter(|(fault, _)| faults[fault.idx()].repair.key == leader.repair.key)
        .collect();
    let led = format!(
        "{} ({})",
        together(faults, &same_work),
        words::percent(same_work.iter().map(|one| one.1).sum())
    );
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

/// Suspects that one repair cures, most likely first, in a few words: not the likeliest one's place alone but the place
/// that those which count share ("either side" of a connector), or the first two if they share none.
pub fn together(faults: &[Fault], members: &[(FaultId, f64)]) -> String {
    let Some(&(first, most)) = members.first() else {
        return String::new();
    };
    let named: Vec<&Fault> = members
        .iter()
        .filter(|(_, chance)| *chance >= TOGETHER * most)
        .map(|(fault, _)| &faults[fault.idx()])
        .collect();
    let (Some(leader), Some(next)) = (named.first(), named.get(1)) else {
        return short(&faults[first.idx()]);
    };
    let places: Vec<Vec<&str>> = named
        .iter()
        .map(|fault| head(&fault.place, ';').split(", ").collect())
        .collect();
    let in_all = |segment: &&str| places.iter().all(|place| place.contains(segment));
    let mut shared: Vec<&str> = places[0].iter().filter(|segment| in_all(segment)).copied().collect();
    if shared.is_empty() {
        return format!("{} or {}", short(leader), short(next));
    }
    let sided = |place: &Vec<&str>| {
        place
            .iter()
            .any(|segment| segment.ends_with(" side") && !in_all(segment))
    };
    if places.iter().all(sided) {
        shared.push("either side");
    }
    let mut whats: Vec<&str> = named.iter().map(|fault| head(&fault.what, ':')).collect();
    whats.dedup();
    whats.truncate(2);
    format!("{}, {}", whats.join(" or "), shared.join(", "))
}

/// A fault in a few words: what is told after a colon or a semicolon is left to the list of what is left.
pub fn short(fault: &Fault) -> String {
    format!("{}, {}", head(&fault.what, ':'), head(&fault.place, ';'))
}

/// A text up to the first `end`.
pub(crate) fn head(text: &str, end: char) -> &str {
    text.split(end).next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(paths: &[(&str, f64)]) -> String {
        let circuit = circuit::parse(circuit::DEMO).expect("the demo's circuit is sound");
        let faults = circuit::possible_faults(&circuit);
        let members: Vec<(FaultId, f64)> = paths
            .iter()
            .map(|(path, chance)| {
                let at = faults.iter().position(|fault| fault.path == *path).expect("possible");
                (FaultId::from(at), *chance)
            })
            .collect();
        together(&faults, &members)
    }

    #[test]
    fn suspects_of_one_repair_are_told_by_the_place_they_share() {
        let water = "water or corrosion between neighbouring terminals, floor joint, cavity 7 to cavity 8";
        let both = named(&[("floor.7-8/b/leak", 0.49), ("floor.7-8/a/leak", 0.46)]);
        assert_eq!(both, format!("{water}, either side"));
        let one = named(&[("floor.7-8/b/leak", 0.9), ("floor.7-8/a/leak", 0.05)]);
        assert_eq!(one, format!("{water}, sensor side"));
        let apart = named(&[("floor.6-7/a/leak", 0.4), ("floor.7-8/a/leak", 0.4)]);
        assert_eq!(
            apart,
            "water or corrosion between neighbouring terminals, floor joint, module side"
        );
        let contact = named(&[("floor.7/bad terminal", 0.4), ("floor.7/contact resistance", 0.3)]);
        assert!(
            contact.starts_with("no contact or added resistance in the contact, floor joint, cavity 7"),
            "{contact}"
        );
    }
}
