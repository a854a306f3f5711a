//! The product's rule of choice, over whatever holds tests that split what is possible: the tests in reach of a vehicle, or a
//! table on which the optimum is known.

use super::Beam;
use super::outlay::{Outlay, Outlook};
use super::split::Table;

/// Most readings in one proposal.
const MOST_READINGS: usize = 3;

/// Tests on offer, by their numbers.
pub(crate) trait Shelf {
    /// Where the leads are after some tests.
    type Hands;

    /// How many there are.
    fn n(&self) -> usize;
    /// What a test tells apart.
    fn table(&self, test: usize) -> &Table;
    /// The set-up that a test is done in.
    fn set_up(&self, test: usize) -> usize;
    /// Minutes of a test from how the vehicle stands now.
    fn minutes(&self, test: usize) -> f64;
    /// Bits that a table tells.
    fn bits(&self, table: &Table) -> f64;
    /// Where the leads are once these are done, in one set-up.
    fn after(&self, done: &[usize]) -> Self::Hands;
    /// Minutes of a test then.
    fn minutes_after(&self, hands: &Self::Hands, done: &[usize], test: usize) -> f64;
    /// Whether a test can be read in one go with these, and may tell something beside them.
    fn beside(&self, done: &[usize], test: usize) -> bool;
}

/// A proposal in the making.
#[derive(Clone)]
pub(crate) struct Draft {
    /// In the order in which they are done, all in one set-up.
    pub(crate) tests: Vec<usize>,
    pub(crate) table: Table,
    pub(crate) minutes: f64,
    /// Bits per minute, roughly.
    pub(crate) rate: f64,
    /// What the job is expected to cost with it.
    pub(crate) outlook: Outlook,
}

/// The cheapest job first; of equals, what tells most for its minutes.
pub(crate) fn drafts(shelf: &impl Shelf, outlay: &Outlay, beam: Beam) -> Vec<Draft> {
    let mut drafts = cheapest(shelf, outlay, beam);
    let joined = join(shelf, outlay, &drafts[..drafts.len().min(beam.ahead / 2)]);
    drafts.extend(joined);
    drafts.sort_by(by_cost);
    for draft in drafts.iter_mut().take(beam.ahead) {
        look_ahead(shelf, outlay, beam, draft);
    }
    drafts.sort_by(|a, b| by_cost(a, b).then(b.rate.total_cmp(&a.rate)));
    drafts
}

fn by_cost(a: &Draft, b: &Draft) -> std::cmp::Ordering {
    a.outlook.likely.total_cmp(&b.outlook.likely)
}

/// The tests after which the job is cheapest, one draft a test.
fn cheapest(shelf: &impl Shelf, outlay: &Outlay, beam: Beam) -> Vec<Draft> {
    let outlook = |test: usize| outlay.after(shelf.table(test), shelf.minutes(test), &outlay.masses);
    let mut each: Vec<(usize, Outlook)> = (0..shelf.n()).map(|test| (test, outlook(test))).collect();
    each.sort_by(|a, b| a.1.likely.total_cmp(&b.1.likely));
    let mut taken: Vec<usize> = Vec::new();
    each.retain(|(test, _)| {
        let set_up = shelf.set_up(*test);
        taken.push(set_up);
        taken.iter().filter(|other| **other == set_up).count() <= beam.in_one
    });
    each.truncate(beam.drafts);
    let draft = |(test, outlook): (usize, Outlook)| Draft {
        tests: vec![test],
        table: shelf.table(test).clone(),
        minutes: shelf.minutes(test),
        rate: shelf.bits(shelf.table(test)) / shelf.minutes(test),
        outlook,
    };
    each.into_iter().map(draft).collect()
}

/// Readings added to single ones while they pay for their minutes.
fn join(shelf: &impl Shelf, outlay: &Outlay, singles: &[Draft]) -> Vec<Draft> {
    let mut joined: Vec<Draft> = Vec::new();
    for single in singles {
        let mut draft = single.clone();
        while draft.tests.len() < MOST_READINGS {
            let hands = shelf.after(&draft.tests);
            let here = (0..shelf.n()).filter(|&test| !draft.tests.contains(&test) && shelf.beside(&draft.tests, test));
            let with = here.map(|test| {
                let both = draft.table.and(shelf.table(test));
                let minutes = draft.minutes + shelf.minutes_after(&hands, &draft.tests, test);
                let outlook = outlay.after(&both, minutes, &outlay.masses);
                (test, both, minutes, outlook)
            });
            let best = with.min_by(|a, b| a.3.likely.total_cmp(&b.3.likely));
            let Some((test, both, minutes, outlook)) = best.filter(|best| best.3.likely < draft.outlook.likely) else {
                break;
            };
            draft.tests.push(test);
            draft.rate = shelf.bits(&both) / minutes;
            (draft.table, draft.minutes, draft.outlook) = (both, minutes, outlook);
        }
        let same = |other: &Draft| {
            other.tests.len() == draft.tests.len() && other.tests.iter().all(|test| draft.tests.contains(test))
        };
        if draft.tests.len() > 1 && !joined.iter().any(same) {
            joined.push(draft);
        }
    }
    joined
}

/// Counts in the step after a draft: the best second test under each outcome that leaves something to tell.
fn look_ahead(shelf: &impl Shelf, outlay: &Outlay, beam: Beam, draft: &mut Draft) {
    let hands = shelf.after(&draft.tests);
    let seconds: Vec<(&Table, f64)> = (0..shelf.n().min(beam.second))
        .map(|test| (shelf.table(test), shelf.minutes_after(&hands, &draft.tests, test)))
        .collect();
    draft.outlook = outlay.ahead(&draft.table, draft.minutes, &seconds);
}
