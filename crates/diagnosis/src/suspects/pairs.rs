//! Two faults at once, weighed where no single one explains the readings.
//!
//! Every pair is first held to a bound: each reading may be met wherever the effects of the two allow, alone or, where both
//! move it, anywhere at all. Of the pairs that may matter the best are integrated over both severities; what the rest could
//! at most weigh is told. The bound takes it that a reading which a fault alone does not move at any severity is not moved
//! by it beside another one either.

use bench::BenchError;
use circuit::{Fault, Mode};
use rayon::prelude::*;

use super::integral::{CHILDREN, Ground, Integral, NEGLIGIBLE_PART, SURE, SURE_VOLTS, log_sum};
use super::patch::{MovedBy, Patch, Place, Rectangle, corners};
use super::ways::Way;
use super::weighing::Weighing;
use crate::evidence::{Evidence, number};
use crate::likelihood::{Sums, slip};
use crate::model::Field;
use crate::predictions::{Broken, Wanted};

/// Chance before any reading that two things are wrong at once, of those that show. Common practice, no source.
pub(crate) const TWO: f64 = 0.04;
/// A blown fuse has a cause: a short behind it is this much likelier beside it than another fault.
const BLOWN_BY_IT: f64 = 10.0;
/// Two faults of one part, a wet connector for one, come together this much more often.
const SAME_PART: f64 = 4.0;

/// A reading that a fault moves by less than this share of its instrument's spread is not moved by it.
const MOVES: f64 = 0.1;
/// A pair whose bound is this far (in logarithms) below everything else is left out at first sight …
const HOPELESS: f64 = 14.0;
/// … most pairs that are integrated …
const MOST: usize = 160;
/// … and how much (in logarithms) less than the best an integrated pair may at most weigh.
const BEHIND: f64 = 9.0;
/// Times that more is solved for those that matter, and the least share of all that a patch must have for it.
const ROUNDS: usize = 4;
const WORTH_SOLVING: f64 = 3e-4;
/// Steps within steps at most.
const DEPTH: usize = 5;

/// A step of both severities.
#[derive(Clone, Debug)]
pub(crate) struct Leaf {
    pub(crate) at: Place,
    /// Logarithm of the likelihood of all readings, and by reading.
    pub(crate) log: f64,
    pub(crate) logs: Box<[f64]>,
}

/// A rectangle of severities, weighed.
#[derive(Clone, Debug)]
pub(crate) struct Weighed2 {
    pub(crate) at: Rectangle,
    solved: bool,
    pub(crate) leaves: Vec<Leaf>,
}

/// Two faults, weighed.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    pub(crate) ways: [Way; 2],
    pub(crate) moved_by: Vec<MovedBy>,
    /// Logarithm of its chance before any reading.
    pub(crate) log_before: f64,
    /// Logarithm of its likelihood, as far as it was solved.
    pub(crate) log: f64,
    /// Logarithm of the most that the rest may add to that.
    open: f64,
    pub(crate) last: [u16; 2],
    pub(crate) patches: Vec<Weighed2>,
}

/// The pairs that matter.
#[derive(Default)]
pub(crate) struct Pairs {
    pub(crate) kept: Vec<Pair>,
    /// Logarithm of the most that all others together may weigh.
    pub(crate) left_out: f64,
    /// How many there are in all.
    pub(crate) n: usize,
}

/// A fault as a member of pairs.
struct Member {
    way: Way,
    /// Logarithm of its chance before any reading.
    log_before: f64,
    positions: Vec<u16>,
    moves: Vec<bool>,
    /// By reading: logarithm of the most that it may be worth under this fault alone.
    most: Vec<f64>,
}

impl Pairs {
    /// Weighs every pair of `members` of which at least one is among the first `n_listed` faults. `rest`: logarithm of the weight of all else.
    ///
    /// # Errors
    /// Those of [`bench::Predict::predict`].
    pub(crate) fn weigh(
        weighing: &mut Weighing<'_, '_>,
        members: &[(Way, f64, &Integral)],
        n_listed: usize,
        rest: f64,
    ) -> Result<Self, BenchError> {
        let ground = weighing.ground();
        let n = ground.body.len();
        let inside = members.first().map_or(0, |member| member.0.inside);
        let healthy: Vec<f64> = (0..n)
            .map(|k| {
                let cell = ground
                    .predictions
                    .cell(ground.body.evidence[k].row, Wanted::healthy(inside));
                most_of(&ground.body.evidence[k], [cell.kind; 2], (cell.value, cell.value))
            })
            .collect();
        let anything: Vec<f64> = ground.body.evidence.iter().map(peak).collect();
        let members: Vec<Member> = members
            .par_iter()
            .map(|(way, log_before, integral)| Member::new(ground, *way, *log_before, integral))
            .collect();
        let before = Before::new(ground.faults, &members);
        let bounded: Vec<(f64, usize, usize)> = (0..members.len())
            .into_par_iter()
            .flat_map_iter(|a| {
                let (members, before, healthy, anything) = (&members, &before, &healthy, &anything);
                let mut room = <(Field, Sums)>::default();
                let mut found = Vec::new();
                for b in a + 1..members.len() {
                    let (one, other) = (&members[a], &members[b]);
                    if one.way.fault.min(other.way.fault) >= n_listed {
                        continue;
                    }
                    let quick: f64 = (0..n)
                        .map(|k| match (one.moves[k], other.moves[k]) {
                            (false, false) => healthy[k],
                            (true, false) => one.most[k],
                            (false, true) => other.most[k],
                            (true, true) => anything[k],
                        })
                        .sum();
                    let log_before = before.of(ground.faults, one, other);
                    if log_before + quick < rest - HOPELESS {
                        continue;
                    }
                    let pair = Pair::new(ground, one, other, log_before);
                    let bound = pair.bound(ground, &mut room);
                    found.push((log_before + bound, a, b));
                }
                found
            })
            .collect();
        let mut bounded = bounded;
        bounded.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
        let worth = bounded
            .iter()
            .take(MOST)
            .take_while(|one| one.0 > rest - BEHIND)
            .count();
        let (kept, left) = bounded.split_at(worth);
        let left: Vec<f64> = left.iter().map(|one| one.0).collect();
        let mut pairs: Vec<Pair> = kept
            .iter()
            .map(|&(_, a, b)| {
                let log_before = before.of(ground.faults, &members[a], &members[b]);
                Pair::new(ground, &members[a], &members[b], log_before)
            })
            .collect();
        let count = members.len() * members.len().saturating_sub(1) / 2;
        for pair in &mut pairs {
            let positions = |way: &Way| {
                let member = members.iter().find(|member| member.way.fault == way.fault);
                member.map_or_else(Vec::new, |member| member.positions.clone())
            };
            let [one, other] = [positions(&pair.ways[0]), positions(&pair.ways[1])];
            pair.divide(ground, &one, &other, rest);
        }
        drop(members);
        Self::settle(weighing, &mut pairs, rest)?;
        let open = pairs.iter().map(|pair| pair.log_before + pair.open);
        let left_out = log_sum(left.into_iter().chain(open));
        Ok(Self {
            kept: pairs,
            left_out,
            n: count,
        })
    }

    /// Solves both together where both move a reading, and more severities where the answers are not sure enough.
    fn settle(weighing: &mut Weighing<'_, '_>, pairs: &mut [Pair], rest: f64) -> Result<(), BenchError> {
        for _ in 0..ROUNDS {
            let ground = weighing.ground();
            let each = pairs
                .iter()
                .flat_map(|pair| [pair.log, pair.open].map(|log| pair.log_before + log));
            let total = log_sum(each.chain([rest]));
            let wishes: Vec<Vec<Wish>> = pairs.par_iter().map(|pair| pair.wishes(ground, total)).collect();
            let mut more: Vec<Wanted> = wishes.iter().flatten().flat_map(|wish| wish.wanted.clone()).collect();
            if more.is_empty() {
                break;
            }
            more.sort_unstable();
            more.dedup();
            weighing.ask(more)?;
            let ground = weighing.ground();
            pairs.par_iter_mut().zip(&wishes).for_each(|(pair, wishes)| {
                if !wishes.is_empty() {
                    pair.fulfil(ground, wishes, total);
                }
            });
        }
        Ok(())
    }
}

/// What should be solved for a patch, and the rectangles that it becomes then.
struct Wish {
    patch: usize,
    wanted: Vec<Wanted>,
    into: Vec<Rectangle>,
}

impl Member {
    fn new(ground: Ground<'_>, way: Way, log_before: f64, integral: &Integral) -> Self {
        let mut positions: Vec<u16> = integral
            .pieces
            .iter()
            .flat_map(|piece| [piece.from, piece.to])
            .collect();
        positions.sort_unstable();
        positions.dedup();
        let n = ground.body.len();
        let mut moves = vec![false; n];
        let mut most = vec![f64::NEG_INFINITY; n];
        let pieces = integral.pieces.iter();
        let spans: Vec<_> = pieces.map(|piece| ground.span(&way, piece.from, piece.to)).collect();
        for (k, evidence) in ground.body.evidence.iter().enumerate() {
            let healthy = ground.predictions.cell(evidence.row, Wanted::healthy(way.inside));
            let limit = if evidence.sd > 0.0 {
                MOVES * evidence.sd
            } else {
                MOVES * SURE_VOLTS
            };
            for span in &spans {
                let range = span.between[k].range(0.0, 1.0);
                let kinds = [span.ends[0][k].kind, span.ends[1][k].kind];
                moves[k] |= kinds.iter().any(|kind| *kind != healthy.kind)
                    || (range.0 - healthy.value).abs().max((range.1 - healthy.value).abs()) > limit;
                most[k] = most[k].max(most_of(evidence, kinds, range));
            }
        }
        Self {
            way,
            log_before,
            positions,
            moves,
            most,
        }
    }
}

/// Logarithm of the most that a reading's density can be given the others.
fn peak(evidence: &Evidence) -> f64 {
    match number(&evidence.shown) {
        Some(_) => -(std::f64::consts::TAU.sqrt() * evidence.own_sd.max(1e-9)).ln(),
        None => 0.0,
    }
}

/// Logarithm of the most that a reading may be worth if it should lie in this range.
fn most_of(evidence: &Evidence, kinds: [bench::Kind; 2], (low, high): (f64, f64)) -> f64 {
    let Some((shown, _)) = number(&evidence.shown) else {
        return 0.0;
    };
    // What tolerances and the battery can move it: generous, this is a bound.
    let room = 6.0 * evidence.sd + 0.25 * shown.abs() + 0.3;
    let met = kinds[0] != kinds[1] || kinds[0] != bench::Kind::Number || (shown >= low - room && shown <= high + room);
    if met {
        peak(evidence)
    } else {
        (2.0 * evidence.sense.wrong() * slip(&evidence.sense, &evidence.shown)).ln()
    }
}

/// Chances of pairs before any reading.
struct Before {
    log_sum: f64,
}

impl Before {
    fn new(faults: &[&Fault], members: &[Member]) -> Self {
        let mut logs = Vec::with_capacity(members.len() * members.len() / 2);
        for (at, one) in members.iter().enumerate() {
            logs.extend(members[at + 1..].iter().map(|other| weight(faults, one, other)));
        }
        Self {
            log_sum: log_sum(logs.iter().copied()),
        }
    }

    fn of(&self, faults: &[&Fault], one: &Member, other: &Member) -> f64 {
        TWO.ln() + weight(faults, one, other) - self.log_sum
    }
}

fn weight(faults: &[&Fault], one: &Member, other: &Member) -> f64 {
    let (a, b) = (faults[one.way.fault], faults[other.way.fault]);
    let blown = |a: &Fault, b: &Fault| {
        a.mode == Mode::BlownFuse
            && matches!(
                b.mode,
                Mode::Leak | Mode::LeakToBody | Mode::ShortedInside | Mode::ModuleInside | Mode::Drag
            )
    };
    let mut factor = 1.0;
    if blown(a, b) || blown(b, a) {
        factor *= BLOWN_BY_IT;
    }
    if a.parts.iter().any(|part| b.parts.contains(part)) {
        factor *= SAME_PART;
    }
    one.log_before + other.log_before + f64::ln(factor)
}

impl Pair {
    fn new(ground: Ground<'_>, one: &Member, other: &Member, log_before: f64) -> Self {
        let moved_by = one
            .moves
            .iter()
            .zip(&other.moves)
            .map(|moves| match moves {
                (false, false) => MovedBy::Neither,
                (true, false) => MovedBy::Only(0),
                (false, true) => MovedBy::Only(1),
                (true, true) => MovedBy::Both,
            })
            .collect();
        let last = |member: &Member| crate::severity::Scale::of(ground.faults[member.way.fault]).last();
        Self {
            ways: [one.way, other.way],
            moved_by,
            log_before,
            log: f64::NEG_INFINITY,
            open: f64::NEG_INFINITY,
            last: [last(one), last(other)],
            patches: Vec::new(),
        }
    }

    /// Logarithm of the most that its likelihood may be anywhere.
    fn bound(&self, ground: Ground<'_>, room: &mut (Field, Sums)) -> f64 {
        let whole = Rectangle {
            from: [0; 2],
            to: self.last,
        };
        let patch = Patch::new(ground, &self.ways, whole, &self.moved_by, false);
        let at = |t: [f64; 2]| Place { t, width: [1.0; 2] };
        // What is out of reach at one end of a severity may be within at the other: the spread there differs.
        [[0.5, 0.5], [0.0, 0.0], [1.0, 1.0]]
            .map(|t| patch.most(ground, &at(t), room))
            .into_iter()
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn needs_both(&self) -> bool {
        self.moved_by.contains(&MovedBy::Both)
    }

    /// Logarithm of the share of the pair's prior that a rectangle has.
    fn log_area(&self, at: Rectangle) -> f64 {
        let side = |which: usize| match self.last[which] {
            0 => 0.0,
            last => (f64::from(at.to[which] - at.from[which]) / f64::from(last)).ln(),
        };
        side(0) + side(1)
    }

    /// Cuts into rectangles between solved positions and weighs those that may matter.
    fn divide(&mut self, ground: Ground<'_>, one: &[u16], other: &[u16], rest: f64) {
        let mut room = <(Field, Sums)>::default();
        let sides = |positions: &[u16]| -> Vec<(u16, u16)> {
            if positions.len() < 2 {
                return vec![(0, 0)];
            }
            positions.windows(2).map(|pair| (pair[0], pair[1])).collect()
        };
        let mut found: Vec<(f64, Rectangle)> = Vec::new();
        for &(a, b) in &sides(one) {
            for &(c, d) in &sides(other) {
                let at = Rectangle {
                    from: [a, c],
                    to: [b, d],
                };
                let patch = Patch::new(ground, &self.ways, at, &self.moved_by, false);
                let most = patch.most(ground, &Place::whole(at), &mut room) + self.log_area(at);
                if self.log_before + most > rest - BEHIND {
                    found.push((most, at));
                }
            }
        }
        let best = found.iter().map(|one| one.0).fold(f64::NEG_INFINITY, f64::max);
        found.retain(|one| one.0 > best - BEHIND);
        let floor = rest - self.log_before;
        self.patches = found
            .into_iter()
            .map(|(_, at)| self.weighed(ground, at, false, floor, &mut room))
            .collect();
        self.sum();
    }

    fn weighed(
        &self,
        ground: Ground<'_>,
        at: Rectangle,
        solved: bool,
        floor: f64,
        room: &mut (Field, Sums),
    ) -> Weighed2 {
        let patch = Patch::new(ground, &self.ways, at, &self.moved_by, solved);
        let free = self.needs_both() && !solved;
        let mut open = vec![Place::whole(at)];
        let mut leaves = Vec::new();
        let mut best = floor;
        for depth in 0..=DEPTH {
            let mut next = Vec::new();
            for place in open {
                let most = patch.most(ground, &place, room);
                if most < best - NEGLIGIBLE_PART && !leaves.is_empty() {
                    continue;
                }
                if free {
                    // Nothing is known of what both move: as much as it may be.
                    leaves.push(Leaf {
                        at: place,
                        log: most,
                        logs: room.1.steps.iter().map(|step| step.log).collect(),
                    });
                    continue;
                }
                patch.expect(ground, &place, &mut room.0);
                let wide = Patch::is_wide(ground, &room.0);
                let log = room.1.weigh(ground.body, &room.0.expected, ground.order, 0.0, false);
                let hopeless = most < best - NEGLIGIBLE_PART;
                if depth < DEPTH && !hopeless && (wide[0] || wide[1]) {
                    next.extend(place.divided(wide));
                } else {
                    best = best.max(log);
                    leaves.push(Leaf {
                        at: place,
                        log,
                        logs: room.1.steps.iter().map(|step| step.log).collect(),
                    });
                }
            }
            open = next;
        }
        Weighed2 { at, solved, leaves }
    }

    fn sum(&mut self) {
        self.log = log_sum(self.parts().map(|(share, leaf)| share + leaf.log));
        let open = self.patches.iter().filter(|patch| !self.is_solved(patch));
        self.open = log_sum(open.map(|patch| self.log_of(patch)));
    }

    /// Whether what is known of a patch is more than a bound.
    fn is_solved(&self, patch: &Weighed2) -> bool {
        patch.solved || !self.needs_both()
    }

    /// Every leaf of a patch with the logarithm of its share of the pair's prior.
    pub(crate) fn parts_of<'p>(&self, patch: &'p Weighed2) -> impl Iterator<Item = (f64, &'p Leaf)> + Clone + use<'p> {
        let area = self.log_area(patch.at);
        patch.leaves.iter().map(move |leaf| {
            let side = |which: usize| match leaf.at.width[which] {
                width if width > 0.0 => width.ln(),
                _ => 0.0,
            };
            (area + side(0) + side(1), leaf)
        })
    }

    /// The patches that were solved.
    pub(crate) fn solved(&self) -> impl Iterator<Item = &Weighed2> + Clone {
        self.patches.iter().filter(|patch| self.is_solved(patch))
    }

    /// The leaves of all of these.
    pub(crate) fn parts(&self) -> impl Iterator<Item = (f64, &Leaf)> + Clone {
        self.solved().flat_map(|patch| self.parts_of(patch))
    }

    fn log_of(&self, patch: &Weighed2) -> f64 {
        log_sum(self.parts_of(patch).map(|(share, leaf)| share + leaf.log))
    }

    fn wishes(&self, ground: Ground<'_>, total: f64) -> Vec<Wish> {
        let mut wishes = Vec::new();
        for (at, weighed) in self.patches.iter().enumerate() {
            let share = (self.log_before + self.log_of(weighed) - total).exp();
            if share < WORTH_SOLVING {
                continue;
            }
            let rectangle = weighed.at;
            if !self.is_solved(weighed) {
                wishes.push(Wish {
                    patch: at,
                    wanted: corners(&self.ways, rectangle).to_vec(),
                    into: vec![rectangle],
                });
                continue;
            }
            let patch = Patch::new(ground, &self.ways, rectangle, &self.moved_by, weighed.solved);
            let (unsure, together) = patch.unsure(ground, SURE);
            let may = |which: usize| rectangle.to[which] - rectangle.from[which] >= 2;
            let cut = [0, 1].map(|which: usize| (unsure[which] || together) && may(which));
            if !cut[0] && !cut[1] {
                continue;
            }
            let into = rectangle.cut(cut);
            let mut wanted = Vec::new();
            for (which, way) in self.ways.iter().enumerate().filter(|(which, _)| cut[*which]) {
                wanted.push(Wanted {
                    inside: way.inside,
                    broken: Broken::One(way.fault, rectangle.middle(which)),
                });
            }
            if self.needs_both() {
                wanted.extend(into.iter().flat_map(|part| corners(&self.ways, *part)));
            }
            wishes.push(Wish {
                patch: at,
                wanted,
                into,
            });
        }
        wishes
    }

    fn fulfil(&mut self, ground: Ground<'_>, wishes: &[Wish], total: f64) {
        let mut room = <(Field, Sums)>::default();
        let floor = total - self.log_before;
        let mut patches = Vec::with_capacity(self.patches.len() + 3 * wishes.len());
        for (at, patch) in self.patches.iter().enumerate() {
            match wishes.iter().find(|wish| wish.patch == at) {
                None => patches.push(patch.clone()),
                Some(wish) => {
                    let each = wish.into.iter();
                    patches.extend(each.map(|part| self.weighed(ground, *part, self.needs_both(), floor, &mut room)));
                }
            }
        }
        self.patches = patches;
        self.sum();
    }

    /// The most plausible place.
    pub(crate) fn best(&self) -> Option<(&Weighed2, &Leaf)> {
        let each = self
            .solved()
            .flat_map(|patch| patch.leaves.iter().map(move |leaf| (patch, leaf)));
        each.reduce(|best, one| if one.1.log > best.1.log { one } else { best })
    }
}

impl Weighed2 {
    pub(crate) fn patch<'g>(&self, ground: Ground<'g>, pair: &'g Pair) -> Patch<'g> {
        Patch::new(ground, &pair.ways, self.at, &pair.moved_by, self.solved)
    }

    /// The severities of a leaf, as positions.
    pub(crate) fn positions(&self, leaf: &Leaf) -> [f64; 2] {
        [0, 1].map(|which: usize| {
            let (from, to) = (f64::from(self.at.from[which]), f64::from(self.at.to[which]));
            from + leaf.at.t[which] * (to - from)
        })
    }
}

impl Rectangle {
    fn middle(self, which: usize) -> u16 {
        self.from[which] + (self.to[which] - self.from[which]) / 2
    }

    fn cut(self, cut: [bool; 2]) -> Vec<Self> {
        let sides = [0, 1].map(|which: usize| {
            if cut[which] {
                let middle = self.middle(which);
                vec![(self.from[which], middle), (middle, self.to[which])]
            } else {
                vec![(self.from[which], self.to[which])]
            }
        });
        let mut parts = Vec::with_capacity(4);
        for &(a, b) in &sides[0] {
            for &(c, d) in &sides[1] {
                parts.push(Self {
                    from: [a, c],
                    to: [b, d],
                });
            }
        }
        parts
    }
}

impl Place {
    fn whole(at: Rectangle) -> Self {
        let width = [0, 1].map(|which: usize| if at.to[which] > at.from[which] { 1.0 } else { 0.0 });
        Self { t: [0.5; 2], width }
    }

    fn divided(&self, wide: [bool; 2]) -> Vec<Self> {
        let sides = [0, 1].map(|which: usize| {
            let n = if wide[which] { CHILDREN } else { 1 };
            let each = self.width[which] / f64::from(n);
            let start = self.t[which] - 0.5 * self.width[which];
            let at = move |k: u16| start + (f64::from(k) + 0.5) * each;
            (0..n).map(at).map(|t| (t, each)).collect::<Vec<_>>()
        });
        let mut places = Vec::with_capacity(sides[0].len() * sides[1].len());
        for &(one, width) in &sides[0] {
            for &(other, also) in &sides[1] {
                places.push(Self {
                    t: [one, other],
                    width: [width, also],
                });
            }
        }
        places
    }
}
