//! What to measure next: what makes the whole job cheapest in expectation, until the vehicle is proven repaired.
//!
//! In stages, so that it is quick: a rough look ([`rough`]) over set-ups near the one at hand, the cheap ones first and
//! none that could not pay for its minutes; readings added at the same open connector while they pay; one step further
//! looked at, so that a reading which only prepares the next is not missed and one that only repeats is not chosen; of
//! those, only what costs less than repairing at once ([`outlay`]) and is safe; what is left is told with exact expected
//! information.
//! Limits: costs are judged roughly.

use bench::{BenchError, Placement, Predict, Reading, Test};
use circuit::{Circuit, Fault, PointId, SetUp};

use self::look::{Looked, look};
use self::outlay::Outlook;
use self::rough::{Care, Rough};
use self::split::Table;
use crate::candidate::{Candidate, Group};
use crate::cost::Hands;
use crate::hazard::{self, Cause};
use crate::worth::{self, LEAST_BITS};
use crate::{Belief, Costs, Danger, DangerKind, Judgement, Predictions, Proposal, Proposed, Under, Verdict, Worth};
use crate::{information, joint_information};

mod look;
pub(crate) mod outlay;
mod rough;
pub(crate) mod split;
#[cfg(test)]
mod tests;

pub use look::offer;

/// How many tests are looked at closely: what the beam of the search loses is measured by `benches/beam.rs` of the trials.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beam {
    /// Tests that may be proposed …
    pub drafts: usize,
    /// … of these, most in one set-up.
    pub in_one: usize,
    /// Proposals looked at one step further …
    pub ahead: usize,
    /// … and most second tests for each.
    pub second: usize,
}

impl Beam {
    /// As the product looks.
    pub const USUAL: Self = Self {
        drafts: 20,
        in_one: 8,
        ahead: AHEAD,
        second: 60,
    };
    /// Every test, and every one after it.
    pub const ALL: Self = Self {
        drafts: usize::MAX,
        in_one: usize::MAX,
        ahead: usize::MAX,
        second: usize::MAX,
    };
}

/// Proposals looked at one step further.
pub(crate) const AHEAD: usize = 8;
/// Most readings in one proposal.
pub(crate) const MOST_READINGS: usize = 3;
/// If the best test tells less than this (bits per minute), more possibilities are looked at before it is proposed.
const POOR_RATE: f64 = 0.15;
/// A look at points that carry this share of the chance is as good as one at all.
const COVERED: f64 = 0.985;

/// All that a question about tests needs to know.
#[derive(Clone, Copy)]
pub struct Scene<'s, 'a> {
    /// The bench.
    pub bench: &'s dyn Predict,
    /// The circuit.
    pub circuit: &'s Circuit,
    /// Its possible faults, as the belief was weighed with.
    pub faults: &'s [Fault],
    /// What is believed.
    pub belief: &'s Belief<'a>,
    /// The readings it is believed after.
    pub readings: &'s [Reading],
    /// How the vehicle stands now.
    pub now: &'s SetUp,
}

impl Scene<'_, '_> {
    /// Where the leads are.
    pub(crate) fn hands(&self) -> Hands {
        Hands::after(self.readings, self.now)
    }
}

/// What to propose.
#[derive(Clone, Copy, Debug)]
pub struct Options<'o> {
    /// At most this many proposals.
    pub n: usize,
    /// Only these tests, where given.
    pub allowed: Option<&'o [Test]>,
    /// The engine may be cranked and run for a reading.
    pub cranking: bool,
    /// The shop's figures.
    pub costs: Costs,
    /// How many tests are looked at closely.
    pub beam: Beam,
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            n: 5,
            allowed: None,
            cranking: false,
            costs: Costs::default(),
            beam: Beam::USUAL,
        }
    }
}

/// A proposal in the making.
struct Draft {
    /// Positions in the list of looked-at tests, all in one set-up.
    tests: Vec<usize>,
    minutes: f64,
    /// Bits per minute, roughly.
    rate: f64,
    /// What the job is expected to cost with it.
    outlook: Outlook,
}

/// What to measure next, best first; only tests that tell something and that are safe, or would be after the voltage there
/// was read (ohms, see the verdict). None if nothing does.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn propose(
    scene: &Scene<'_, '_>,
    predictions: &mut Predictions,
    options: &Options<'_>,
) -> Result<Proposed, BenchError> {
    let cares: &[Care] = if options.allowed.is_some() {
        &[Care::FULL]
    } else {
        &[Care::QUICK, Care::WIDE, Care::FULL]
    };
    let mut found = Proposed::default();
    for &care in cares {
        // With few points all of them may be look-alikes, and the test that tells most goes unseen: what tells little for
        // its minutes is not taken before a closer look.
        let mut rough = Rough::new(scene.belief, care, options.costs);
        if !care.is_full() && rough.bits_left() < LEAST_BITS {
            continue;
        }
        let more = propose_with(scene, predictions, options, &mut rough)?;
        if found.proposals.is_empty() || best_rate(&more.proposals) > best_rate(&found.proposals) {
            found = more;
        }
        let seen_enough = care.is_wide() && (!found.proposals.is_empty() || rough.covered >= COVERED);
        if best_rate(&found.proposals) >= POOR_RATE || seen_enough {
            break;
        }
    }
    Ok(found)
}

/// Bits per minute of the best proposal, 0 without one.
fn best_rate(proposals: &[Proposal]) -> f64 {
    proposals.iter().map(|one| one.bits / one.minutes).fold(0.0, f64::max)
}

fn propose_with(
    scene: &Scene<'_, '_>,
    predictions: &mut Predictions,
    options: &Options<'_>,
    rough: &mut Rough<'_, '_>,
) -> Result<Proposed, BenchError> {
    let (groups, looked, counted) = look(scene, predictions, rough, options)?;
    rough
        .outlay
        .at_rate(looked.iter().map(Looked::rate).fold(0.0, f64::max));
    let rough = &*rough;
    let mut drafts = cheapest(rough, groups.len(), &looked, options.beam);
    let joined = join(scene, rough, &groups, &looked, &drafts);
    drafts.extend(joined);
    ahead(scene, rough, &groups, &looked, options.beam, &mut drafts);
    // The cheapest job first; of equals, what tells most for its minutes.
    drafts.sort_by(|a, b| {
        a.outlook
            .likely
            .total_cmp(&b.outlook.likely)
            .then(b.rate.total_cmp(&a.rate))
    });
    let at_once = rough.outlay.now();

    let mut safety = Safety { scene, causes: None };
    let mut proposed = Proposed {
        counted,
        ..Proposed::default()
    };
    let mut chosen: Vec<&Draft> = Vec::new();
    for draft in &drafts {
        if proposed.proposals.len() == options.n {
            break;
        }
        // A list on offer is somebody's choice: what is on it may be taken however little it pays.
        let saves = at_once - draft.outlook.sure;
        let pays = options.allowed.is_some() || saves > 0.0;
        if !pays && proposed.saves.is_some() {
            continue;
        }
        if chosen.iter().any(|other| repeats(&looked, rough, draft, other)) {
            continue;
        }
        let Some(group) = draft.tests.first().and_then(|&idx| groups.get(looked.get(idx)?.set_up)) else {
            continue;
        };
        let candidates: Vec<&Candidate> = draft
            .tests
            .iter()
            .filter_map(|&i| Some(&looked.get(i)?.candidate))
            .collect();
        let test = |c: &&Candidate| Test {
            placement: c.placement.clone(),
            set_up: group.set_up.clone(),
        };
        let tests: Vec<Test> = candidates.iter().map(test).collect();
        let Some((verdict, dangers)) = safety.of_all(&tests)? else {
            proposed.counted.refused += usize::from(tests.len() == 1);
            continue;
        };
        if !pays {
            proposed.saves = Some(saves);
            continue;
        }
        let placements: Vec<Placement> = tests.iter().map(|test| test.placement.clone()).collect();
        let information = joint_information(scene.belief, scene.bench, predictions, &group.set_up, &placements)?;
        let bits = information.bits;
        if bits < LEAST_BITS {
            continue;
        }
        proposed.saves = Some(proposed.saves.map_or(saves, |most| most.max(saves)));
        proposed.outlook = proposed.outlook.or(Some(draft.outlook.likely));
        chosen.push(draft);
        proposed.proposals.push(Proposal {
            tests,
            probes: candidates.iter().map(|candidate| candidate.probe).collect(),
            minutes: draft.minutes,
            bits,
            outcomes: information.outcomes,
            judgement: Judgement {
                verdict,
                dangers,
                worth: Worth::Tells {
                    bits,
                    minutes: draft.minutes,
                },
            },
        });
    }
    Ok(proposed)
}

/// Judges one intended test: can it hurt, can it tell?
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn judge(scene: &Scene<'_, '_>, predictions: &mut Predictions, test: &Test) -> Result<Judgement, BenchError> {
    let causes = |least: f64| hazard::causes(scene.bench, &scene.belief.alive(least), scene.readings);
    let likely = if hazard::draws_nothing(test) {
        Vec::new()
    } else {
        causes(hazard::LEAST_CHANCE)?
    };
    let (verdict, dangers) = hazards(scene, &likely, test, true)?;
    let probes = bench::reachable(scene.circuit, &test.set_up);
    let reached = |point: &PointId| probes.iter().any(|probe| probe.point == *point);
    let mut blocked = hazard::caution::points(test);
    blocked.retain(|point| !reached(point));
    if !blocked.is_empty() {
        let worth = Worth::Unreachable(blocked);
        return Ok(Judgement {
            verdict,
            dangers,
            worth,
        });
    }
    let placements = std::slice::from_ref(&test.placement);
    let told = information(scene.belief, scene.bench, predictions, &test.set_up, placements)?;
    let bits = told.first().map_or(0.0, |information| information.bits);
    let minutes = scene.hands().minutes_to(scene.circuit, test);
    let alive = scene.belief.alive(worth::LEAST_NAMED);
    let rare = || causes(worth::LEAST_NAMED);
    let worth = worth::worth(scene.bench, scene.circuit, (&alive, &rare), test, bits, minutes)?;
    Ok(Judgement {
        verdict,
        dangers,
        worth,
    })
}

fn hazards(
    scene: &Scene<'_, '_>,
    causes: &[Cause<'_>],
    test: &Test,
    settle: bool,
) -> Result<(Verdict, Vec<Danger>), BenchError> {
    hazard::hazards(scene.bench, scene.circuit, causes, scene.readings, test, settle)
}

/// Whether tests are safe, with the causes worked out when they are first needed.
pub(crate) struct Safety<'s, 'b, 'a> {
    pub(crate) scene: &'s Scene<'b, 'a>,
    pub(crate) causes: Option<Vec<Cause<'a>>>,
}

impl Safety<'_, '_, '_> {
    /// The verdict on tests that may be proposed; `None` if one of them may not.
    pub(crate) fn of_all(&mut self, tests: &[Test]) -> Result<Option<(Verdict, Vec<Danger>)>, BenchError> {
        let mut first: Vec<Test> = Vec::new();
        let mut all: Vec<Danger> = Vec::new();
        for test in tests {
            // Most harm is done to a healthy circuit already, and that is quick to see.
            if self.allowed(&[], test)?.is_none() {
                return Ok(None);
            }
            let Some((verdict, dangers)) = self.under_causes(test)? else {
                return Ok(None);
            };
            if let Verdict::First(tests) = verdict {
                first.extend(tests);
            }
            all.extend(dangers);
        }
        let verdict = if first.is_empty() {
            Verdict::Safe
        } else {
            Verdict::First(first)
        };
        Ok(Some((verdict, all)))
    }

    /// A test may be proposed if it is safe and nothing moves that was not commanded. Ohms may be, too, where only a feed
    /// that nobody suspects could be in the way: the voltage is read first then.
    fn allowed(&self, causes: &[Cause<'_>], test: &Test) -> Result<Option<(Verdict, Vec<Danger>)>, BenchError> {
        let (verdict, dangers) = hazards(self.scene, causes, test, false)?;
        let assumed = |danger: &Danger| {
            matches!(danger.what, DangerKind::LiveOhms { .. }) && matches!(danger.under, Under::ShortToFeed(_))
        };
        let acts = |danger: &Danger| matches!(danger.what, DangerKind::Acts { .. });
        let allowed = match verdict {
            Verdict::Safe => !dangers.iter().any(acts),
            Verdict::First(_) => dangers.iter().all(assumed),
            Verdict::Refused => false,
        };
        Ok(allowed.then_some((verdict, dangers)))
    }

    fn under_causes(&mut self, test: &Test) -> Result<Option<(Verdict, Vec<Danger>)>, BenchError> {
        if hazard::draws_nothing(test) {
            return Ok(Some((Verdict::Safe, Vec::new())));
        }
        if self.causes.is_none() {
            let alive = self.scene.belief.alive(hazard::LEAST_CHANCE);
            self.causes = Some(hazard::causes(self.scene.bench, &alive, self.scene.readings)?);
        }
        self.allowed(self.causes.as_deref().unwrap_or_default(), test)
    }
}

/// The tests after which the job is cheapest, one draft a test.
fn cheapest(rough: &Rough<'_, '_>, n_groups: usize, looked: &[Looked], beam: Beam) -> Vec<Draft> {
    let each = looked.iter().enumerate().map(|(idx, test)| Draft {
        tests: vec![idx],
        minutes: test.minutes,
        rate: test.rate(),
        outlook: rough.outlay.after(&test.table, test.minutes, &rough.outlay.masses),
    });
    let mut drafts: Vec<Draft> = each.collect();
    drafts.sort_by(|a, b| a.outlook.likely.total_cmp(&b.outlook.likely));
    let mut taken = vec![0; n_groups];
    drafts.retain(|draft| {
        let set_up = draft.tests.first().and_then(|&idx| Some(looked.get(idx)?.set_up));
        let Some(here) = set_up.and_then(|set_up| taken.get_mut(set_up)) else {
            return false;
        };
        *here += 1;
        *here <= beam.in_one
    });
    drafts.truncate(beam.drafts);
    drafts
}

/// Readings added to the best single ones, at the same connector or in scan data, while they pay for their minutes.
fn join(
    scene: &Scene<'_, '_>,
    rough: &Rough<'_, '_>,
    groups: &[Group],
    looked: &[Looked],
    singles: &[Draft],
) -> Vec<Draft> {
    let mut joined: Vec<Draft> = Vec::new();
    for single in singles.iter().take(AHEAD / 2) {
        let Some(first) = single.tests.first().and_then(|&idx| looked.get(idx)) else {
            continue;
        };
        let Some(group) = groups.get(first.set_up) else {
            continue;
        };
        let mut tests = single.tests.clone();
        let mut table = first.table.clone();
        let mut outlook = single.outlook;
        let mut minutes = first.minutes;
        while tests.len() < MOST_READINGS {
            let done: Vec<&Candidate> = tests
                .iter()
                .filter_map(|&idx| Some(&looked.get(idx)?.candidate))
                .collect();
            let hands = after(scene, group, &done);
            let here = looked.iter().enumerate().filter(|(idx, other)| {
                let at = other.candidate.at;
                let there = (at.is_some() && at == first.candidate.at) || other.candidate.minutes_beside(&done) == 0.0;
                let told = |&known: &usize| {
                    let channel = |idx: usize| channel_of(scene.circuit, &looked.get(idx)?.candidate.placement);
                    channel(known).is_some() && channel(known) == channel(*idx)
                };
                other.set_up == first.set_up && there && !tests.contains(idx) && !tests.iter().any(told)
            });
            let best = here
                .map(|(idx, other)| {
                    let both = table.and(&other.table);
                    let minutes = minutes + hands.minutes_at(scene.circuit, &group.set_up, &other.candidate);
                    let with = rough.outlay.after(&both, minutes, &rough.outlay.masses);
                    (idx, both, with, minutes)
                })
                .min_by(|a, b| a.2.likely.total_cmp(&b.2.likely));
            let Some((idx, both, with, longer)) = best.filter(|best| best.2.likely < outlook.likely) else {
                break;
            };
            tests.push(idx);
            (table, outlook, minutes) = (both, with, longer);
        }
        let mut same = tests.clone();
        same.sort_unstable();
        let known = joined.iter().any(|draft| {
            let mut other = draft.tests.clone();
            other.sort_unstable();
            other == same
        });
        if tests.len() < 2 || known {
            continue;
        }
        joined.push(Draft {
            rate: rough.bits(&table, &rough.weights) / minutes,
            tests,
            minutes,
            outlook,
        });
    }
    joined
}

/// Where the leads are once these tests of a set-up are done.
fn after(scene: &Scene<'_, '_>, group: &Group, done: &[&Candidate]) -> Hands {
    let mut hands = scene.hands();
    for candidate in done {
        hands.take(&Test {
            placement: candidate.placement.clone(),
            set_up: group.set_up.clone(),
        });
    }
    hands
}

/// The channel that scan data or a code comes from: together they tell what one of them tells.
fn channel_of(circuit: &Circuit, placement: &Placement) -> Option<circuit::ChannelId> {
    match placement {
        Placement::Scan { channel } => Some(*channel),
        Placement::Code { monitor } => circuit.monitors.get(monitor.idx()).map(|monitor| monitor.channel),
        _ => None,
    }
}

/// Counts in the step after each of the best drafts: the best second test under each outcome that leaves something to
/// tell.
fn ahead(
    scene: &Scene<'_, '_>,
    rough: &Rough<'_, '_>,
    groups: &[Group],
    looked: &[Looked],
    beam: Beam,
    drafts: &mut [Draft],
) {
    drafts.sort_by(|a, b| a.outlook.likely.total_cmp(&b.outlook.likely));
    for draft in drafts.iter_mut().take(beam.ahead) {
        let tables: Vec<&Table> = draft
            .tests
            .iter()
            .filter_map(|&idx| Some(&looked.get(idx)?.table))
            .collect();
        let Some((head, tail)) = tables.split_first() else {
            continue;
        };
        let table = tail.iter().fold((*head).clone(), |table, other| table.and(other));
        let Some(here) = draft.tests.first().and_then(|&idx| groups.get(looked.get(idx)?.set_up)) else {
            continue;
        };
        let done: Vec<&Candidate> = draft
            .tests
            .iter()
            .filter_map(|&idx| Some(&looked.get(idx)?.candidate))
            .collect();
        let hands = after(scene, here, &done);
        let seconds: Vec<(&Table, f64)> = looked
            .iter()
            .take(beam.second)
            .filter_map(|second| {
                let there = groups.get(second.set_up)?;
                let change = circuit::minutes_between(scene.circuit, &here.set_up, &there.set_up);
                let minutes = change + hands.minutes_at(scene.circuit, &there.set_up, &second.candidate);
                Some((&second.table, minutes))
            })
            .collect();
        draft.outlook = rough.outlay.ahead(&table, draft.minutes, &seconds);
    }
}

/// Whether a draft says nothing new beside another: the same reading in another set-up, or the same split of what is
/// possible.
fn repeats(looked: &[Looked], rough: &Rough<'_, '_>, draft: &Draft, other: &Draft) -> bool {
    let get = |draft: &Draft| -> Vec<usize> { draft.tests.clone() };
    let (a, b) = (get(draft), get(other));
    if a.iter().any(|idx| b.contains(idx)) {
        return true;
    }
    let (Some(a), Some(b)) = (
        a.first().and_then(|&i| looked.get(i)),
        b.first().and_then(|&i| looked.get(i)),
    ) else {
        return false;
    };
    if draft.tests.len() == 1 && other.tests.len() == 1 && a.candidate.placement == b.candidate.placement {
        return true;
    }
    draft.tests.len() == other.tests.len() && a.table.same_split(&b.table, &rough.weights)
}
