//! One pair: its bounds, and the integral over rectangles of both severities.

use super::Room;
use super::member::{Member, Side};
use crate::predictions::{Broken, Wanted};
use crate::severity::Scale;
use crate::suspects::integral::{CHILDREN, Ground, NEGLIGIBLE_PART, SURE, log_sum};
use crate::suspects::patch::{MovedBy, Patch, Place, Rectangle, Region, corners};
use crate::suspects::ways::Way;

/// The least share of everything that a rectangle must have for more to be solved within it.
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

/// A region, weighed.
#[derive(Clone, Debug)]
pub(crate) struct Weighed2 {
    pub(crate) region: Region,
    pub(crate) leaves: Vec<Leaf>,
}

/// Two faults, weighed as far as it matters.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    pub(crate) ways: [Way; 2],
    /// Logarithm of its chance before any reading.
    pub(crate) log_before: f64,
    /// Logarithm of its likelihood.
    pub(crate) log: f64,
    pub(crate) last: [u16; 2],
    pub(crate) weighed: Vec<Weighed2>,
}

/// What comes next for a region.
pub(crate) enum Step {
    /// It is known well enough.
    Weighed(Weighed2),
    /// Something has to be solved, and then it becomes these.
    Solve { wanted: Vec<Wanted>, into: Vec<Region> },
}

impl Step {
    pub(crate) fn wanted(&self) -> &[Wanted] {
        match self {
            Self::Weighed(_) => &[],
            Self::Solve { wanted, .. } => wanted,
        }
    }
}

impl Region {
    pub(crate) fn of(one: &Side<'_>, other: &Side<'_>) -> Self {
        Self {
            at: Rectangle {
                from: [one.from, other.from],
                to: [one.to, other.to],
            },
            moved_by: MovedBy::each(&one.moves, &other.moves).collect(),
        }
    }

    /// Whether a reading is moved by both, so that what it should be is known only where both were solved together.
    pub(crate) fn needs_both(&self) -> bool {
        self.moved_by.contains(&MovedBy::Both)
    }

    fn cut(&self, cut: [bool; 2]) -> Vec<Self> {
        let parts = self.at.cut(cut).into_iter();
        parts
            .map(|at| Self {
                at,
                moved_by: self.moved_by.clone(),
            })
            .collect()
    }
}

impl Pair {
    pub(crate) fn new(ground: Ground<'_>, one: &Member<'_>, other: &Member<'_>, log_before: f64) -> Self {
        let last = |member: &Member<'_>| Scale::of(ground.faults[member.way.fault]).last();
        Self {
            ways: [one.way, other.way],
            log_before,
            log: f64::NEG_INFINITY,
            last: [last(one), last(other)],
            weighed: Vec::new(),
        }
    }

    /// Logarithm of its chance before any reading times its likelihood.
    pub(crate) fn log_weight(&self) -> f64 {
        self.log_before + self.log
    }

    /// Logarithm of the share of the pair's prior that a rectangle has.
    fn log_area(&self, at: Rectangle) -> f64 {
        let side = |which: usize| match self.last[which] {
            0 => 0.0,
            last => (f64::from(at.to[which] - at.from[which]) / f64::from(last)).ln(),
        };
        side(0) + side(1)
    }

    /// Logarithm of what a region weighs, roughly: in one step of each severity. `solved`: its corners have been solved.
    pub(crate) fn roughly(&self, ground: Ground<'_>, region: &Region, solved: bool, room: &mut Room) -> f64 {
        let patch = Patch::new(ground, &self.ways, region, solved && region.needs_both());
        patch.expect(ground, &Place::whole(region.at), &mut room.0);
        let log = room.1.weigh(ground.body, &room.0.expected, ground.order, 0.0, false);
        self.log_before + self.log_area(region.at) + log
    }

    /// The next step of a region. `total`: logarithm of the weight of everything.
    pub(crate) fn step(&self, ground: Ground<'_>, region: &Region, solved: bool, total: f64, room: &mut Room) -> Step {
        let at = region.at;
        if !solved {
            return Step::Solve {
                wanted: corners(&self.ways, at).to_vec(),
                into: vec![region.clone()],
            };
        }
        let weighed = self.integrate(ground, region, total - self.log_before, room);
        if (self.log_before + self.log_of(&weighed) - total).exp() < WORTH_SOLVING {
            return Step::Weighed(weighed);
        }
        let (unsure, together) = weighed.patch(ground, self).unsure(ground, SURE);
        let cut = [0, 1].map(|which: usize| (unsure[which] || together) && at.to[which] - at.from[which] >= 2);
        if !cut[0] && !cut[1] {
            return Step::Weighed(weighed);
        }
        let into = region.cut(cut);
        let middles = self.ways.iter().enumerate().filter(|(which, _)| cut[*which]);
        let mut wanted: Vec<Wanted> = middles
            .map(|(which, way)| Wanted {
                inside: way.inside,
                broken: Broken::One(way.fault, at.middle(which)),
            })
            .collect();
        if region.needs_both() {
            wanted.extend(into.iter().flat_map(|part| corners(&self.ways, part.at)));
        }
        Step::Solve { wanted, into }
    }

    /// Integrates over a region; what cannot come up to `floor` (a logarithm of the likelihood) is left wide.
    fn integrate(&self, ground: Ground<'_>, region: &Region, floor: f64, room: &mut Room) -> Weighed2 {
        let patch = Patch::new(ground, &self.ways, region, region.needs_both());
        let mut open = vec![Place::whole(region.at)];
        let mut leaves = Vec::new();
        let mut best = floor;
        for depth in 0..=DEPTH {
            let mut next = Vec::new();
            for place in open {
                let most = patch.most(ground, &place, room);
                if most < best - NEGLIGIBLE_PART && !leaves.is_empty() {
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
        Weighed2 {
            region: region.clone(),
            leaves,
        }
    }

    /// Takes a region in.
    pub(crate) fn keep(&mut self, weighed: Weighed2) {
        self.log = log_sum([self.log, self.log_of(&weighed)].into_iter());
        self.weighed.push(weighed);
    }

    /// Every leaf of a region with the logarithm of its share of the pair's prior.
    pub(crate) fn parts_of<'p>(&self, patch: &'p Weighed2) -> impl Iterator<Item = (f64, &'p Leaf)> + Clone + use<'p> {
        let area = self.log_area(patch.region.at);
        patch.leaves.iter().map(move |leaf| {
            let side = |which: usize| match leaf.at.width[which] {
                width if width > 0.0 => width.ln(),
                _ => 0.0,
            };
            (area + side(0) + side(1), leaf)
        })
    }

    /// The leaves of all.
    pub(crate) fn parts(&self) -> impl Iterator<Item = (f64, &Leaf)> + Clone {
        self.weighed.iter().flat_map(|patch| self.parts_of(patch))
    }

    fn log_of(&self, patch: &Weighed2) -> f64 {
        log_sum(self.parts_of(patch).map(|(share, leaf)| share + leaf.log))
    }

    /// The most plausible place.
    pub(crate) fn best(&self) -> Option<(&Weighed2, &Leaf)> {
        let leaves = |patch: &Weighed2| 0..patch.leaves.len();
        let each = self
            .weighed
            .iter()
            .flat_map(|patch| leaves(patch).map(move |at| (patch, &patch.leaves[at])));
        each.reduce(|best, one| if one.1.log > best.1.log { one } else { best })
    }
}

impl Weighed2 {
    pub(crate) fn patch<'g>(&'g self, ground: Ground<'g>, pair: &'g Pair) -> Patch<'g> {
        Patch::new(ground, &pair.ways, &self.region, self.region.needs_both())
    }

    /// The severities of a leaf, as positions.
    pub(crate) fn positions(&self, leaf: &Leaf) -> [f64; 2] {
        [0, 1].map(|which: usize| {
            let (from, to) = (
                f64::from(self.region.at.from[which]),
                f64::from(self.region.at.to[which]),
            );
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
