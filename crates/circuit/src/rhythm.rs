//! What repeats: pulses of a driver, teeth before a sensor, traffic on a bus.
//!
//! A rhythm goes through its phases, each for its share of the time, and rests for what is left of it. While it goes, how the
//! vehicle stands is a weighted set of set-ups, in each of which every rhythm is held in one phase ([`phases`]).

use crate::branch::{At, Base, Law};
use crate::id::{RhythmId, SensedId};
use crate::model::Circuit;
use crate::set_up::{Condition, SetUp};

/// Most combinations of phases that a circuit may go through at once.
pub const MOST_COMBINATIONS: usize = 256;

/// Something that repeats.
#[derive(Clone, Debug, PartialEq)]
pub struct Rhythm {
    /// Id: `pulses`.
    pub id: String,
    /// In plain words: "pulses of the purge valve".
    pub words: String,
    /// Its phases, in order; what their shares leave of 1 it rests.
    pub phases: Vec<Phase>,
    /// How often it goes through all of them, hertz. At 0 it stands still, at rest.
    pub rate: Law,
    /// When it goes.
    pub runs: Condition,
}

/// One phase of a rhythm.
#[derive(Clone, Debug, PartialEq)]
pub struct Phase {
    /// Its name: `on`.
    pub name: String,
    /// Its share of the time, 0 to 1.
    pub share: f64,
    /// What is sensed meanwhile.
    pub sets: Option<(SensedId, f64)>,
}

/// One of the set-ups that a vehicle goes through.
#[derive(Clone, Debug, PartialEq)]
pub struct Passing {
    /// Share of the time.
    pub share: f64,
    /// How it stands meanwhile: every rhythm that goes is held.
    pub set_up: SetUp,
}

impl Rhythm {
    /// The word for where it is in none of its phases.
    pub const REST: &'static str = "rest";

    /// Share of the time in which it is in any phase, as the file says, 0 to 1.
    pub fn share(&self) -> f64 {
        self.phases.iter().map(|phase| phase.share).sum()
    }

    /// The phase of this name: `Some(None)` for rest.
    pub fn phase(&self, name: &str) -> Option<Option<usize>> {
        if name == Self::REST {
            return Some(None);
        }
        self.phases.iter().position(|phase| phase.name == name).map(Some)
    }

    /// The name of a phase, or of rest.
    pub fn phase_name(&self, phase: Option<usize>) -> &str {
        phase
            .and_then(|at| self.phases.get(at))
            .map_or(Self::REST, |phase| phase.name.as_str())
    }
}

impl Circuit {
    /// What a circuit says that is no mistake and is easily not meant, a sentence each: rows of a rate that end before what is
    /// sensed does.
    pub fn remarks(&self) -> Vec<String> {
        let ends_early = |rhythm: &Rhythm| {
            let Base::Table { by, rows, .. } = &rhythm.rate.base else {
                return None;
            };
            let sensed = &self.sensed[by.idx()];
            let (least, most) = sensed.range;
            let (first, last) = (rows.first()?, rows.last()?);
            let short = |end: f64, of: f64| {
                let (id, name, unit) = (&rhythm.id, &sensed.id, &sensed.unit);
                format!(
                    "rhythm.{id}.rates end at {end} {unit}, but {name} goes to {of} {unit}: beyond, {} Hz are taken; add a row",
                    if end == first.0 { first.1 } else { last.1 }
                )
            };
            let low = (first.0 > least).then(|| short(first.0, least));
            low.or_else(|| (last.0 < most).then(|| short(last.0, most)))
        };
        self.rhythms.iter().filter_map(ends_early).collect()
    }

    /// The rhythms that go in a set-up: neither at rest nor held in a phase.
    pub fn going<'a>(&'a self, set_up: &'a SetUp) -> impl Iterator<Item = (RhythmId, &'a Rhythm)> {
        let at = At::centre(self, set_up);
        let all = self.rhythms.iter().enumerate();
        all.map(|(idx, rhythm)| (RhythmId::from(idx), rhythm))
            .filter(move |(id, rhythm)| {
                !set_up.held.contains_key(id) && rhythm.runs.holds(&at) && rhythm.rate.value(&at) > 0.0
            })
    }

    /// Phases that a rhythm goes through in a set-up, with their shares; rest, where it rests, last.
    fn shares(&self, set_up: &SetUp, id: RhythmId) -> Vec<(Option<usize>, f64)> {
        let rhythm = &self.rhythms[id.idx()];
        let usual = rhythm.share();
        let wanted = set_up.duty.get(&id).map_or(usual, |percent| percent / 100.0);
        let mut shares: Vec<_> = rhythm
            .phases
            .iter()
            .enumerate()
            .map(|(at, phase)| (Some(at), phase.share * wanted / usual))
            .collect();
        shares.push((None, 1.0 - wanted));
        // Shares of a file that add up to a whole leave no rest but rounding.
        shares.retain(|(_, share)| *share > 1e-9);
        shares
    }

    /// The set-ups that the vehicle goes through: the one given, alone, if no rhythm goes in it. Rhythms of different rates
    /// meet in every combination, weighted by their shares.
    pub fn passing(&self, set_up: &SetUp) -> Vec<Passing> {
        let mut all = vec![Passing {
            share: 1.0,
            set_up: set_up.clone(),
        }];
        for (id, _) in self.going(set_up) {
            let shares = self.shares(set_up, id);
            let held = |passing: &Passing, phase: Option<usize>, share: f64| {
                let mut set_up = passing.set_up.clone();
                set_up.held.insert(id, phase);
                Passing {
                    share: passing.share * share,
                    set_up,
                }
            };
            all = all
                .iter()
                .flat_map(|passing| shares.iter().map(|&(phase, share)| held(passing, phase, share)))
                .collect();
        }
        all
    }

    /// What a rhythm held in a phase makes of what is sensed.
    pub(crate) fn sensed_in_phase(&self, set_up: &SetUp, sensed: SensedId) -> Option<f64> {
        set_up.held.iter().find_map(|(id, phase)| {
            let (of, value) = self.rhythms[id.idx()].phases.get((*phase)?)?.sets?;
            (of == sensed).then_some(value)
        })
    }
}
