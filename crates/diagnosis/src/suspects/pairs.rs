//! Two faults at once, weighed where no single one explains the readings.
//!
//! The second fault counts only where it shows in the readings as well; one that does not is part of the first alone.
//!
//! Every pair is looked at by regions of both severities. What a region may weigh is first bounded reading by reading, then
//! estimated in one step of each severity; those that may weigh most are solved with both faults together, where both move
//! a reading, and integrated, until what is left no longer matters by its estimates; that is told. It is taken that a
//! reading which a fault alone does not move is not moved by it beside another one either, and that within a region
//! readings lie between what they are at its corners.

mod member;
mod pair;

use std::collections::HashMap;

use bench::BenchError;
use rayon::prelude::*;

use self::member::{Member, log_weights, peaks, weight};
pub(crate) use self::pair::Pair;
use self::pair::Step;
use super::integral::{Ground, Integral, log_sum};
use super::patch::Region;
use super::ways::Way;
use super::weighing::Weighing;
use crate::likelihood::Sums;
use crate::model::Field;
use crate::predictions::Wanted;

/// Room for the sums.
type Room = (Field, Sums);

/// Chance before any reading that two things are wrong at once, of those that show. Common practice, no source.
pub(crate) const TWO: f64 = 0.04;

/// Search ends when all that is left weighs no more than this share of everything, by its estimates, half of it regions
/// that were only seen, …
const ENOUGH: f64 = 6e-4;
/// … or after so many rounds. What is open when so many readings have been solved stays with its estimate, what was only
/// seen when so many estimates were made (by readings to the power of 3/2: so their price rises) with that.
const ROUNDS: usize = 60;
const SOLVED: usize = 10_000;
const ESTIMATED: f64 = 2e6;
/// So many of the best are estimated in a round, and so many advanced.
const ESTIMATED_AT_ONCE: usize = 6_000;
const ADVANCED_AT_ONCE: usize = 500;
/// Regions that are this far (in logarithms) below everything else are not kept, only counted in.
const HOPELESS: f64 = 25.0;

/// The pairs that matter.
#[derive(Default)]
pub(crate) struct Pairs {
    pub(crate) kept: Vec<Pair>,
    /// Logarithm of what all others together weigh, as far as they were estimated or bounded.
    pub(crate) left_out: f64,
    /// How many there are in all.
    pub(crate) n: usize,
}

/// A region that was seen: which members, and which side of each.
struct Seen {
    members: [u16; 2],
    sides: [u16; 2],
    /// Logarithm of what it weighs, reading by reading.
    log: f64,
}

/// A region that is not integrated yet.
struct Open {
    /// Which of the pairs.
    pair: usize,
    region: Region,
    /// Both have been solved together at its corners, or no reading needs that.
    solved: bool,
    /// Logarithm of what it weighs, roughly.
    log: f64,
}

impl Pairs {
    /// Weighs every pair of `members` of which at least one is among the first `n_listed` faults. `rest`: logarithm of the
    /// weight of all else.
    ///
    /// # Errors
    /// Those of [`bench::Predict::predict`].
    pub(crate) fn weigh(
        weighing: &mut Weighing<'_, '_>,
        members: &[(Way, f64, &Integral)],
        n_listed: usize,
        rest: f64,
    ) -> Result<Self, BenchError> {
        let mut search = Search::new(weighing.ground(), members, n_listed, rest);
        let n_readings = weighing.body.len();
        let mut n_solved = 0;
        for _ in 0..ROUNDS {
            let total = search.total();
            search.estimate(weighing.ground(), total);
            search.leave_out(total);
            if search.open.is_empty() && (!search.may_matter(total) || search.estimates_left == 0) {
                break;
            }
            if n_solved * n_readings < SOLVED {
                n_solved += search.advance(weighing, total)?;
            } else if search.estimates_left == 0 {
                break;
            }
        }
        Ok(search.ended())
    }
}

/// The pairs on the way from seen to integrated.
struct Search<'i> {
    members: Vec<Member<'i>>,
    /// Logarithms of the weight of all else, and of the sum of the chances of pairs beside each other.
    rest: f64,
    all_pairs: f64,
    /// Best last.
    seen: Vec<Seen>,
    pairs: Vec<Pair>,
    /// Where each pair of members is among these.
    place: HashMap<[u16; 2], usize>,
    open: Vec<Open>,
    /// As multiples of the weight of all else: what is left out for good, and what was only seen.
    left_out: f64,
    only_seen: f64,
    estimates_left: usize,
}

impl<'i> Search<'i> {
    fn new(ground: Ground<'_>, members: &[(Way, f64, &'i Integral)], n_listed: usize, rest: f64) -> Self {
        let peaks = peaks(ground.body.len(), members.iter().map(|member| member.2));
        let members: Vec<Member<'i>> = members
            .par_iter()
            .map(|(way, log_before, integral)| Member::new(ground, *way, *log_before, integral))
            .collect();
        let all_pairs = log_weights(ground.faults, &members);
        let mut search = Self {
            members,
            rest,
            all_pairs,
            seen: Vec::new(),
            pairs: Vec::new(),
            place: HashMap::new(),
            open: Vec::new(),
            left_out: 0.0,
            only_seen: 0.0,
            estimates_left: (ESTIMATED / (ground.body.len() as f64).powf(1.5)) as usize,
        };
        let sights: Vec<(Vec<Seen>, f64)> = (0..search.members.len())
            .into_par_iter()
            .map(|a| search.sight(ground, &peaks, n_listed, a))
            .collect();
        for (seen, hopeless) in sights {
            search.seen.extend(seen);
            search.left_out += hopeless;
        }
        search.seen.par_sort_unstable_by(|a, b| {
            let by_log = a.log.total_cmp(&b.log);
            by_log.then_with(|| (b.members, b.sides).cmp(&(a.members, a.sides)))
        });
        search.only_seen = search.seen.iter().map(|seen| search.share(seen.log)).sum();
        search
    }

    /// The regions of one member with all later ones, and what of them is hopeless.
    fn sight(&self, ground: Ground<'_>, peaks: &[f64], n_listed: usize, a: usize) -> (Vec<Seen>, f64) {
        let one = &self.members[a];
        let mut seen = Vec::new();
        let mut hopeless = 0.0;
        for (b, other) in self.members.iter().enumerate().skip(a + 1) {
            if one.way.fault.min(other.way.fault) >= n_listed {
                continue;
            }
            let log_before = self.log_before(ground, one, other);
            for (i, side) in one.sides.iter().enumerate().filter(|(_, side)| side.shows()) {
                for (j, across) in other.sides.iter().enumerate().filter(|(_, side)| side.shows()) {
                    let log = log_before + side.worth_with(across, peaks);
                    if log < self.rest - HOPELESS {
                        hopeless += self.share(log);
                    } else {
                        seen.push(Seen {
                            members: [a as u16, b as u16],
                            sides: [i as u16, j as u16],
                            log,
                        });
                    }
                }
            }
        }
        (seen, hopeless)
    }

    fn log_before(&self, ground: Ground<'_>, one: &Member<'_>, other: &Member<'_>) -> f64 {
        TWO.ln() + weight(ground.faults, one, other) - self.all_pairs
    }

    /// A weight (logarithm) as a multiple of that of all else.
    fn share(&self, log: f64) -> f64 {
        (log - self.rest).exp()
    }

    /// Logarithm of the weight of everything.
    fn total(&self) -> f64 {
        log_sum(self.pairs.iter().map(Pair::log_weight).chain([self.rest]))
    }

    /// Whether regions that were only seen may matter together.
    fn may_matter(&self, total: f64) -> bool {
        !self.seen.is_empty() && self.only_seen > 0.5 * ENOUGH * self.share(total)
    }

    /// Estimates the best of the regions that were only seen, as far as they matter.
    fn estimate(&mut self, ground: Ground<'_>, total: f64) {
        let mut now: Vec<(usize, Region)> = Vec::new();
        while self.may_matter(total) && now.len() < ESTIMATED_AT_ONCE.min(self.estimates_left) {
            let Some(seen) = self.seen.pop() else { break };
            self.only_seen -= self.share(seen.log);
            let [one, other] = seen.members.map(|at| &self.members[usize::from(at)]);
            let pair = *self.place.entry(seen.members).or_insert_with(|| {
                let log_before = TWO.ln() + weight(ground.faults, one, other) - self.all_pairs;
                self.pairs.push(Pair::new(ground, one, other, log_before));
                self.pairs.len() - 1
            });
            let [i, j] = seen.sides.map(usize::from);
            now.push((pair, Region::of(&one.sides[i], &other.sides[j])));
        }
        self.estimates_left -= now.len();
        self.estimate_these(ground, now, false);
    }

    /// `solved`: both have been solved together at the corners.
    fn estimate_these(&mut self, ground: Ground<'_>, now: Vec<(usize, Region)>, solved: bool) {
        let pairs = &self.pairs;
        self.open
            .par_extend(now.into_par_iter().map_init(Room::default, |room, (pair, region)| {
                let solved = solved || !region.needs_both();
                Open {
                    pair,
                    solved,
                    log: pairs[pair].roughly(ground, &region, solved, room),
                    region,
                }
            }));
    }

    /// Leaves out what cannot matter any more; of the rest the best comes first then.
    fn leave_out(&mut self, total: f64) {
        self.open.sort_by(|a, b| {
            let by_log = b.log.total_cmp(&a.log);
            by_log.then_with(|| (a.pair, a.region.at.from).cmp(&(b.pair, b.region.at.from)))
        });
        let enough = 0.5 * ENOUGH * self.share(total);
        while let Some(last) = self.open.last() {
            let more = self.share(last.log);
            if self.left_out + more > enough {
                break;
            }
            self.left_out += more;
            self.open.pop();
        }
    }

    /// Advances the best regions by one step each, and returns how much was solved.
    fn advance(&mut self, weighing: &mut Weighing<'_, '_>, total: f64) -> Result<usize, BenchError> {
        let ground = weighing.ground();
        let later = self.open.split_off(self.open.len().min(ADVANCED_AT_ONCE));
        let now = std::mem::replace(&mut self.open, later);
        let pairs = &self.pairs;
        let steps: Vec<Step> = now
            .par_iter()
            .map_init(Room::default, |room, open| {
                pairs[open.pair].step(ground, &open.region, open.solved, total, room)
            })
            .collect();
        let mut more: Vec<Wanted> = steps.iter().flat_map(Step::wanted).copied().collect();
        more.sort_unstable();
        more.dedup();
        let solved = more.len();
        weighing.ask(&more)?;
        let mut next = Vec::new();
        for (was, step) in now.iter().zip(steps) {
            match step {
                Step::Solve { into, .. } => next.extend(into.into_iter().map(|region| (was.pair, region))),
                Step::Weighed(weighed) => self.pairs[was.pair].keep(weighed),
            }
        }
        self.estimate_these(weighing.ground(), next, true);
        Ok(solved)
    }

    fn ended(self) -> Pairs {
        let n = self.members.len();
        let open: f64 = self.open.iter().map(|open| self.share(open.log)).sum();
        let left_out = (self.left_out + self.only_seen.max(0.0) + open).ln() + self.rest;
        let weighed = self.pairs.into_iter().filter(|pair| !pair.weighed.is_empty());
        Pairs {
            kept: weighed.collect(),
            left_out,
            n: n * n.saturating_sub(1) / 2,
        }
    }
}
