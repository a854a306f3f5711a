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

use self::choice::{Draft, Shelf, drafts};
use self::look::{Looked, look};
use self::rough::{Care, Rough};
use self::split::Table;
use crate::candidate::{Candidate, Group};
use crate::cost::Hands;
use crate::hazard::{self, Cause};
use crate::worth::{self, LEAST_BITS};
use crate::{Belief, Costs, Danger, DangerKind, Judgement, Predictions, Proposal, Proposed, Under, Verdict, Worth};
use crate::{information, joint_information};

pub(crate) mod choice;
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
        ahead: 8,
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
    let shelf = InReach {
        scene,
        rough,
        groups: &groups,
        looked: &looked,
    };
    let drafts = drafts(&shelf, &rough.outlay, options.beam);
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

/// The tests that were looked at.
struct InReach<'r, 's, 'a> {
    scene: &'r Scene<'s, 'a>,
    rough: &'r Rough<'s, 'a>,
    groups: &'r [Group],
    looked: &'r [Looked],
}

impl InReach<'_, '_, '_> {
    fn candidates(&self, tests: &[usize]) -> Vec<&Candidate> {
        tests.iter().map(|&test| &self.looked[test].candidate).collect()
    }

    fn channel(&self, test: usize) -> Option<circuit::ChannelId> {
        channel_of(self.scene.circuit, &self.looked[test].candidate.placement)
    }
}

impl Shelf for InReach<'_, '_, '_> {
    type Hands = Hands;

    fn n(&self) -> usize {
        self.looked.len()
    }

    fn table(&self, test: usize) -> &Table {
        &self.looked[test].table
    }

    fn set_up(&self, test: usize) -> usize {
        self.looked[test].set_up
    }

    fn minutes(&self, test: usize) -> f64 {
        self.looked[test].minutes
    }

    fn bits(&self, table: &Table) -> f64 {
        self.rough.bits(table, &self.rough.weights)
    }

    fn after(&self, done: &[usize]) -> Hands {
        let mut hands = self.scene.hands();
        for &test in done {
            hands.take(&Test {
                placement: self.looked[test].candidate.placement.clone(),
                set_up: self.groups[self.set_up(test)].set_up.clone(),
            });
        }
        hands
    }

    fn minutes_after(&self, hands: &Hands, done: &[usize], test: usize) -> f64 {
        let circuit = self.scene.circuit;
        let there = &self.groups[self.set_up(test)].set_up;
        let here = done
            .last()
            .map_or(self.scene.now, |&last| &self.groups[self.set_up(last)].set_up);
        circuit::minutes_between(circuit, here, there) + hands.minutes_at(circuit, there, &self.looked[test].candidate)
    }

    /// At the connector of the first one, or in scan data, which takes no minutes more.
    fn beside(&self, done: &[usize], test: usize) -> bool {
        let Some(&first) = done.first() else { return true };
        let at = self.looked[test].candidate.at;
        let there = (at.is_some() && at == self.looked[first].candidate.at)
            || self.looked[test].candidate.minutes_beside(&self.candidates(done)) == 0.0;
        let channel = self.channel(test);
        let told = channel.is_some() && done.iter().any(|&known| self.channel(known) == channel);
        self.set_up(test) == self.set_up(first) && there && !told
    }
}

/// The channel that scan data or a code comes from: together they tell what one of them tells. A driver's pin has none.
fn channel_of(circuit: &Circuit, placement: &Placement) -> Option<circuit::ChannelId> {
    match placement {
        Placement::Scan { channel } => Some(*channel),
        Placement::Code { monitor } => circuit.monitors.get(monitor.idx())?.channel(),
        _ => None,
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
