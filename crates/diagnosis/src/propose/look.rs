//! Where to look: set-ups near the one at hand, the cheap ones first, and in each a rough look at every sensible test.
//!
//! The voltmeter, scan data, codes and the clamp come out of one solve of the circuit; test light and ohmmeter need a solve
//! each, so they are looked at only where the set-up at hand is, and where the others told most.

use bench::{BenchError, Placement};
use circuit::{Circuit, SetUp};

use super::rough::Rough;
use super::split::Table;
use super::{Options, Scene};
use crate::candidate::{self, Candidate, Group};
use crate::predictions::Predictions;
use crate::worth::LEAST_BITS;

/// Most changes to the set-up at hand.
const MOST_CHANGES: usize = 2;
/// Most set-ups looked at, where the choice is free.
const MOST_SET_UPS: usize = 20;
/// A set-up is looked at as long as it could come up to this share of the rate of the `n`-th best test so far.
const COULD_PAY: f64 = 0.7;

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
        let quick = matches!(
            placement,
            Placement::Voltmeter { .. } | Placement::Scan { .. } | Placement::Code { .. } | Placement::Clamp { .. }
        );
        self == Self::All || (self == Self::Quick) == quick
    }
}

/// A rough look at all tests that could be worth their minutes, the best rate first, and the set-ups they are in.
pub(super) fn look(
    scene: &Scene<'_, '_>,
    predictions: &mut Predictions,
    rough: &Rough<'_, '_>,
    options: &Options<'_>,
) -> Result<(Vec<Group>, Vec<Looked>), BenchError> {
    let free = options.allowed.is_none();
    let mut groups = set_ups(scene, options);
    if free {
        groups.truncate(MOST_SET_UPS);
    }
    let mut looked: Vec<Looked> = Vec::new();
    let most = rough.bits_left();
    for (idx, group) in groups.iter_mut().enumerate() {
        // A test cannot tell more than is left to be told: past this many minutes it cannot catch up.
        if most / (group.minutes + 0.3) < good_enough(&looked, options.n) {
            break;
        }
        if free {
            let probes = bench::reachable(scene.circuit, &group.set_up);
            group.tests = candidate::candidates(scene.circuit, &group.set_up, &probes);
        }
        let which = if free { Which::Quick } else { Which::All };
        looked.extend(look_in(scene, predictions, rough, idx, group, which)?);
    }
    looked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
    if free {
        let best = looked.first().map_or(0, |best| best.set_up);
        let mut places = vec![0, best];
        places.dedup();
        for idx in places {
            if let Some(group) = groups.get(idx) {
                looked.extend(look_in(scene, predictions, rough, idx, group, Which::Slow)?);
            }
        }
        looked.sort_by(|a, b| b.rate().total_cmp(&a.rate()));
    }
    Ok((groups, looked))
}

/// The set-ups worth a look, nearest first, with no tests yet unless only some are allowed.
fn set_ups(scene: &Scene<'_, '_>, options: &Options<'_>) -> Vec<Group> {
    let minutes = |set_up: &SetUp| circuit::minutes_between(scene.circuit, scene.now, set_up);
    let probes = |set_up: &SetUp| bench::reachable(scene.circuit, set_up);
    let mut groups = match options.allowed {
        Some(tests) => candidate::grouped(scene.circuit, tests, probes, minutes),
        None => circuit::neighbouring_set_ups(scene.circuit, scene.now, MOST_CHANGES, options.cranking)
            .into_iter()
            .map(|set_up| Group {
                minutes: minutes(&set_up),
                set_up,
                tests: Vec::new(),
            })
            .collect(),
    };
    groups.retain(|group| group.minutes.is_finite());
    groups.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    groups
}

/// A rough look at a set-up's tests that have not been done and that tell something.
fn look_in(
    scene: &Scene<'_, '_>,
    predictions: &mut Predictions,
    rough: &Rough<'_, '_>,
    idx: usize,
    group: &Group,
    which: Which,
) -> Result<Vec<Looked>, BenchError> {
    let done = |placement: &Placement| {
        scene
            .readings
            .iter()
            .any(|r| r.test.placement == *placement && r.test.set_up == group.set_up)
    };
    let wanted = |candidate: &&Candidate| which.has(&candidate.placement) && !done(&candidate.placement);
    let tests: Vec<Candidate> = group.tests.iter().filter(wanted).cloned().collect();
    let placements: Vec<Placement> = tests.iter().map(|candidate| candidate.placement.clone()).collect();
    let tables = rough.tables(scene.bench, predictions, &group.set_up, &placements)?;
    let each = tests.into_iter().zip(tables).map(|(candidate, table)| Looked {
        set_up: idx,
        bits: rough.bits(&table, &rough.weights),
        minutes: group.minutes + candidate.reach_minutes + candidate.reading_minutes,
        candidate,
        table,
    });
    Ok(each.filter(|looked| looked.bits >= LEAST_BITS).collect())
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
