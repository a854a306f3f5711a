//! What a vehicle goes through while something repeats, and what that comes to once currents flow on and fuses have gone.

use circuit::{At, Circuit, ParamId, Passing, SetUp};
use network::ElementId;

use crate::bench::{Prepared, Solved};
use crate::coils::{Coils, Moves};
use crate::error::BenchError;
use crate::fuses::{self, Fuses};
use crate::prediction::{Hypothesis, Unsaid};

/// Something that repeats while a reading is taken.
#[derive(Clone, Debug)]
pub(crate) struct Beat {
    /// Hertz.
    pub(crate) rate: f64,
    pub(crate) by_param: Vec<(ParamId, f64)>,
    /// Its phases, and how far apart they stand in the list of set-ups.
    n_phases: usize,
    stride: usize,
}

impl Beat {
    /// Positions of the set-ups that differ in this beat's phase alone, in the order of its phases.
    fn rows(&self, n: usize) -> impl Iterator<Item = impl Iterator<Item = usize> + '_> + '_ {
        let first = (0..n).filter(|at| (at / self.stride).is_multiple_of(self.n_phases));
        first.map(move |first| (0..self.n_phases).map(move |phase| first + phase * self.stride))
    }

    /// Which of its phases the set-up at this position of the list is in.
    pub(crate) fn phase(&self, at: usize) -> usize {
        at / self.stride % self.n_phases
    }

    /// How far values swing with it.
    pub(crate) fn swing(&self, values: &[f64]) -> f64 {
        let swings = self.rows(values.len()).map(|row| {
            let (low, high) = row.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(values[at]), high.max(values[at]))
            });
            high - low
        });
        swings.fold(0.0, f64::max)
    }

    /// How often in a period values rise past a level, having been below another; the most of any row.
    pub(crate) fn rises(&self, values: &[f64], (low, high): (f64, f64)) -> usize {
        let rises = self.rows(values.len()).map(|row| {
            let row: Vec<f64> = row.map(|at| values[at]).collect();
            // Once round to know where it starts, and once to count.
            let mut is_high = None;
            let mut count = 0;
            for (at, value) in row.iter().chain(&row).enumerate() {
                let now = if *value >= high {
                    Some(true)
                } else if *value <= low {
                    Some(false)
                } else {
                    is_high
                };
                count += usize::from(at >= row.len() && is_high == Some(false) && now == Some(true));
                is_high = now;
            }
            count
        });
        rises.max().unwrap_or(0)
    }
}

/// Set-ups that a vehicle goes through, made ready.
pub(crate) struct Passage<'a> {
    pub(crate) shares: Vec<f64>,
    pub(crate) prepared: Vec<Prepared<'a>>,
    pub(crate) beats: Vec<Beat>,
    pub(crate) n_params: usize,
}

/// What goes round in a set-up.
fn beats(circuit: &Circuit, set_up: &SetUp, theta: &[f64], passing: &[Passing]) -> Vec<Beat> {
    let at = At {
        theta,
        ..At::centre(circuit, set_up)
    };
    let mut beats: Vec<Beat> = circuit
        .going(set_up)
        .map(|(id, rhythm)| {
            let mut phases: Vec<_> = passing
                .iter()
                .filter_map(|passing| passing.set_up.held.get(&id))
                .collect();
            phases.sort_unstable();
            phases.dedup();
            Beat {
                rate: rhythm.rate.value(&at),
                by_param: rhythm.rate.derivatives(&at).collect(),
                n_phases: phases.len().max(1),
                stride: 1,
            }
        })
        .collect();
    for at in (1..beats.len()).rev() {
        beats[at - 1].stride = beats[at].stride * beats[at].n_phases;
    }
    beats
}

impl<'a> Passage<'a> {
    /// `passing` is what the vehicle goes through in `set_up`, and `prepared` each of it made ready.
    pub(crate) fn new(
        circuit: &Circuit,
        set_up: &SetUp,
        theta: &[f64],
        passing: &[Passing],
        prepared: Vec<Prepared<'a>>,
    ) -> Self {
        Self {
            shares: passing.iter().map(|passing| passing.share).collect(),
            prepared,
            beats: beats(circuit, set_up, theta, passing),
            n_params: circuit.params.len(),
        }
    }

    /// What its states come to under a hypothesis, these fuses blown on arrival, and which are blown then; or why nothing can
    /// be said.
    pub(crate) fn settled(
        &self,
        hypothesis: &Hypothesis<'_>,
        with_placed: bool,
        mut blown: Vec<ElementId>,
    ) -> Result<Result<(Round, Vec<ElementId>), Unsaid>, BenchError> {
        // Where no fuse goes and no driver shuts off by what flows in any phase, none does by the mean.
        if let Ok(round) = self.round(hypothesis, with_placed, &blown, Fuses::AsRated)?
            && !round.anything_shuts
            && !fuses::any_goes(&round.states, &blown)
        {
            return Ok(Ok((round, blown)));
        }
        loop {
            let mut round = match self.round(hypothesis, with_placed, &blown, Fuses::Holding)? {
                Ok(round) => round,
                Err(why) => return Ok(Err(why)),
            };
            let ratings = round.states[0].ratings.clone();
            if let Some(fuse) = fuses::first_to_go(self, &round.states, &ratings) {
                blown.push(fuse);
                continue;
            }
            fuses::rated(self, &mut round.states, &ratings);
            if let Some((nudged, _)) = &mut round.nudged {
                fuses::rated(self, nudged, &ratings);
            }
            return Ok(Ok((round, blown)));
        }
    }

    fn round(
        &self,
        hypothesis: &Hypothesis<'_>,
        with_placed: bool,
        blown: &[ElementId],
        fuses: Fuses,
    ) -> Result<Result<Round, Unsaid>, BenchError> {
        let prepared = self.prepared.as_slice();
        let solved = prepared
            .iter()
            .map(|prepared| prepared.solve_with(hypothesis, with_placed, blown, fuses));
        let Some(mut states) = solved.collect::<Result<Option<Vec<_>>, _>>()? else {
            return Ok(Err(Unsaid::Unsettled));
        };
        let circuit = prepared[0].shop.circuit;
        let mut coils = Coils::of(circuit, self, &states);
        let calm = Coils::calm(prepared, &states);
        let anything_shuts = calm.is_some();
        if let Some(calm) = calm {
            let flowing = Coils::of(circuit, self, &calm);
            if flowing.any_flows_on() {
                (coils, states) = (flowing, calm);
            }
        }
        let mut nudged = None;
        if coils.any_flows_on() {
            let Some(other) = coils.let_flow(self, prepared, &mut states)? else {
                return Ok(Err(Unsaid::NoWayOn));
            };
            nudged = Some(other);
        }
        Ok(Ok(Round {
            coils,
            states,
            nudged,
            anything_shuts,
        }))
    }
}

/// What a passage's states come to.
pub(crate) struct Round {
    pub(crate) coils: Coils,
    pub(crate) states: Vec<Solved>,
    /// The states with the current of a coil nudged, and what moves it, where one flows on.
    pub(crate) nudged: Option<(Vec<Solved>, Moves)>,
    /// A driver shuts off in a state as such.
    anything_shuts: bool,
}
