//! Where to look: set-ups near the one at hand, the cheap ones first, and in each a rough look at every sensible test.
//!
//! The voltmeter, scan data, codes and the clamp come out of one solve of the circuit; test light and ohmmeter need a solve
//! each, so they are looked at only where the set-up at hand is, and where the others told most.

use bench::{BenchError, Placement};
use circuit::{Circuit, SetUp};

use super::rough::Rough;
use super::split::Table;
use super::{Options, Scene};
use crate::Counted;
use crate::candidate::{self, Candidate, Group};
use crate::predictions::Predictions;
use crate::worth::LEAST_BITS;

/// Most set-ups two changes away that are looked into.
const MOST_SECOND: usize = 10;
/// Set-ups, the best so far, in which something is done to a place as well.
const FROM: usize = 2;
/// Places and ways to make a fault show that comes and goes which are looked at, the least chance that it is there, and
/// how often one is tried.
const MOST_PROVOKED: usize = 8;
const LEAST_PROVOKED: f64 = 0.01;
const MOST_TRIES: usize = 2;
/// A set-up is looked at as long as it could come up to this share of the rate of the `n`-th best test so far.
const COULD_PAY: f64 = 0.7;
/// The quickest reading, minutes: see [`reading_minutes`](candidate::reading_minutes).
const QUICKEST: f64 = 0.3;

/// A test with its rough outcomes.
#[derive(Clone, Debug)]
pub(super) struct Looked {
    /// Position of its group.
    pub(super) set_up: usize,
    pub(super) candidate: Candidate,
    pub(super) table: Table,
    pub(super) bits: f64,
    pub(super) minutes: f64,
}

impl Looked {
    pub(super) fn rate(&self) -> f64 {
        self.bits / self.minutes
    }
}

/// Which instruments are looked at.
#[derive(Clone, Copy, PartialEq)]
enum Which {
    Quick,
    Slow,
    All,
}

impl Which {
    fn has(self, placement: &Placement) -> bool {
        let quick = placement.only_looks();
        self == Self::All || (self == Self::Quick) == quick
    }
}

/// A rough look at all tests that could be worth their minutes, the best rate first, and the set-ups they are in.
pub(super) fn look(
    scene: &Scene<'_, '_>,
    predictions: &mut Predictions,
    rough: &Rough<'_, '_>,
    options: &Options<'_>,
) -> Result<(Vec<Group>, Vec<Looked>, Counted), BenchError> {
    let mut walk = Walk {
        scene,
        predictions,
        rough,
        n: options.n,
        groups: Vec::new(),
        looked: Vec::new(),
        counted: Counted::default(),
    };
    if let Some(tests) = options.allowed {
        let minutes = |set_up: &SetUp| circuit::minutes_between(scene.circuit, scene.now, set_up);
        let probes = |set_up: &SetUp| bench::reachable(scene.circuit, set_up);
        walk.visit(candidate::grouped(scene.circuit, tests, probes, minutes), Which::All)?;
    } else {
        let rest = scene.now.at_rest();
        let within = |changes| circuit::neighbouring_set_ups(scene.circuit, &rest, changes, options.cranking);
        let within_two = within(2);
        let n_within_two = within_two.len();
        walk.visit(groups(scene, within(1)), Which::Quick)?;
        // A second change where the first already tells something.
        let second = walk.promising(within_two);
        walk.visit(groups(scene, second), Which::Quick)?;
        walk.counted.set_ups_left = n_within_two.saturating_sub(walk.groups.len());
        let best = walk.best_places(FROM);
        for set_up in best.first().cloned().into_iter().chain([rest.clone()]) {
            walk.visit_slow(&set_up)?;
        }
        walk.visit(provoked(scene, &[&[rest], best.as_slice()].concat()), Which::Quick)?;
    }
    let Walk {
        groups,
        mut looked,
        mut counted,
        ..
    } = walk;
    counted.set_ups = groups.len();
    looked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
    Ok((groups, looked, counted))
}

/// These set-ups, nearest to the one at hand first, with their tests.
fn groups(scene: &Scene<'_, '_>, set_ups: Vec<SetUp>) -> Vec<Group> {
    let each = set_ups.into_iter().map(|set_up| {
        let minutes = circuit::minutes_between(scene.circuit, scene.now, &set_up);
        let tests = candidate::candidates(scene.circuit, &set_up, &bench::reachable(scene.circuit, &set_up));
        Group { set_up, minutes, tests }
    });
    let mut groups: Vec<Group> = each.filter(|group| group.minutes.is_finite()).collect();
    groups.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    groups
}

/// The set-ups of `from` with something done at a place where a fault that comes and goes may show by it, the likeliest
/// first, with their tests.
fn provoked(scene: &Scene<'_, '_>, from: &[SetUp]) -> Vec<Group> {
    let done = |provoked| {
        let readings = scene.readings.iter();
        readings
            .filter(|reading| reading.test.set_up.provoked == Some(provoked))
            .count()
    };
    let likely = scene.belief.provocations().into_iter();
    let likely = likely.filter(|(provoked, chance)| *chance >= LEAST_PROVOKED && done(*provoked) < MOST_TRIES);
    let mut groups: Vec<Group> = Vec::new();
    for (provoked, _) in likely.take(MOST_PROVOKED) {
        for from in from {
            let set_up = SetUp {
                provoked: Some(provoked),
                ..from.clone()
            };
            let minutes = circuit::minutes_between(scene.circuit, scene.now, &set_up);
            if minutes.is_finite() && !groups.iter().any(|known| known.set_up == set_up) {
                let tests = candidate::candidates(scene.circuit, &set_up, &bench::reachable(scene.circuit, &set_up));
                groups.push(Group { set_up, minutes, tests });
            }
        }
    }
    groups.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    groups
}

/// What has been looked at so far.
struct Walk<'w, 's, 'a> {
    scene: &'w Scene<'s, 'a>,
    predictions: &'w mut Predictions,
    rough: &'w Rough<'w, 'a>,
    n: usize,
    groups: Vec<Group>,
    looked: Vec<Looked>,
    counted: Counted,
}

impl Walk<'_, '_, '_> {
    /// Looks into set-ups, given nearest first, as long as one could pay.
    fn visit(&mut self, groups: Vec<Group>, which: Which) -> Result<(), BenchError> {
        let most = self.rough.bits_left();
        for group in groups {
            // A test cannot tell more than is left to be told: past this many minutes it cannot catch up.
            if most / (group.minutes + QUICKEST) < good_enough(&self.looked, self.n) {
                break;
            }
            self.look_in(self.groups.len(), &group, which)?;
            self.groups.push(group);
        }
        Ok(())
    }

    /// Looks with the slow instruments into a set-up that was visited.
    fn visit_slow(&mut self, set_up: &SetUp) -> Result<(), BenchError> {
        let Some(idx) = self.groups.iter().position(|group| group.set_up == *set_up) else {
            return Ok(());
        };
        let seen = self
            .looked
            .iter()
            .any(|l| l.set_up == idx && Which::Slow.has(&l.candidate.placement));
        if !seen {
            let group = self.groups[idx].clone();
            self.look_in(idx, &group, Which::Slow)?;
        }
        Ok(())
    }

    /// A rough look at a set-up's tests that have not been done; those that tell something are kept.
    fn look_in(&mut self, idx: usize, group: &Group, which: Which) -> Result<(), BenchError> {
        let scene = self.scene;
        let done = |placement: &Placement| {
            let readings = scene.readings.iter();
            readings
                .filter(|reading| reading.test.placement == *placement)
                .any(|reading| reading.test.set_up == group.set_up)
        };
        let wanted = |candidate: &&Candidate| which.has(&candidate.placement) && !done(&candidate.placement);
        let tests: Vec<Candidate> = group.tests.iter().filter(wanted).cloned().collect();
        let placements: Vec<Placement> = tests.iter().map(|candidate| candidate.placement.clone()).collect();
        let tables = self
            .rough
            .tables(scene.bench, self.predictions, &group.set_up, &placements)?;
        let hands = scene.hands();
        self.counted.considered += tests.len();
        for (candidate, table) in tests.into_iter().zip(tables) {
            let looked = Looked {
                set_up: idx,
                bits: self.rough.bits(&table, &self.rough.weights),
                minutes: group.minutes + hands.minutes_at(scene.circuit, &group.set_up, &candidate),
                candidate,
                table,
            };
            if looked.bits >= LEAST_BITS {
                self.looked.push(looked);
            } else {
                self.counted.tell_nothing += 1;
            }
        }
        Ok(())
    }

    /// Those of some set-ups that promise most for their minutes: as many bits as the best test of a set-up looked into
    /// from which they are one change away.
    fn promising(&self, set_ups: Vec<SetUp>) -> Vec<SetUp> {
        let circuit = self.scene.circuit;
        let mut most = vec![0.0_f64; self.groups.len()];
        for looked in &self.looked {
            if let Some(bits) = most.get_mut(looked.set_up) {
                *bits = bits.max(looked.bits);
            }
        }
        let promise = |set_up: &SetUp| {
            let near = self.groups.iter().zip(&most);
            let near = near.filter(|(group, _)| circuit::changes_between(circuit, &group.set_up, set_up) == 1);
            let bits = near.map(|one| *one.1).fold(0.0, f64::max);
            bits / (circuit::minutes_between(circuit, self.scene.now, set_up) + QUICKEST)
        };
        let known = |set_up: &SetUp| self.groups.iter().any(|group| group.set_up == *set_up);
        let new = set_ups.into_iter().filter(|set_up| !known(set_up));
        let mut rated: Vec<(f64, SetUp)> = new.map(|set_up| (promise(&set_up), set_up)).collect();
        rated.retain(|one| one.0 > 0.0);
        rated.sort_by(|a, b| b.0.total_cmp(&a.0));
        rated.truncate(MOST_SECOND);
        rated.into_iter().map(|one| one.1).collect()
    }

    /// The set-ups with the best tests so far.
    fn best_places(&self, n: usize) -> Vec<SetUp> {
        let mut best: Vec<(usize, f64)> = Vec::new();
        for looked in &self.looked {
            match best.iter_mut().find(|known| known.0 == looked.set_up) {
                Some(known) => known.1 = known.1.max(looked.rate()),
                None => best.push((looked.set_up, looked.rate())),
            }
        }
        best.sort_by(|a, b| b.1.total_cmp(&a.1));
        best.into_iter()
            .take(n)
            .filter_map(|(idx, _)| Some(self.groups.get(idx)?.set_up.clone()))
            .collect()
    }
}

/// A share of the rate of the `n`-th best so far: anything below will hardly be among the best.
fn good_enough(looked: &[Looked], n: usize) -> f64 {
    let mut rates: Vec<f64> = looked.iter().map(Looked::rate).collect();
    rates.sort_by(|a, b| b.total_cmp(a));
    rates.get(n.max(1) - 1).map_or(0.0, |rate| COULD_PAY * rate)
}

/// Every sensible test in the set-ups within this many changes of the one at hand, nearest first: what could still be
/// done. Not judged.
pub fn offer(circuit: &Circuit, now: &SetUp, most_changes: usize, cranking: bool) -> Vec<bench::Test> {
    let mut set_ups = circuit::neighbouring_set_ups(circuit, now, most_changes, cranking);
    let minutes = |set_up: &SetUp| circuit::minutes_between(circuit, now, set_up);
    set_ups.sort_by(|a, b| minutes(a).total_cmp(&minutes(b)));
    let tests = |set_up: SetUp| {
        let found = candidate::candidates(circuit, &set_up, &bench::reachable(circuit, &set_up));
        found.into_iter().map(move |c| bench::Test {
            placement: c.placement,
            set_up: set_up.clone(),
        })
    };
    set_ups.into_iter().flat_map(tests).collect()
}
