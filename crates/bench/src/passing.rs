//! What instruments show while something repeats: the vehicle goes through a weighted set of set-ups.
//!
//! A voltmeter shows the mean, an alternating meter the effective value without the mean, frequency and duty come with it.
//! Two things are left unsaid rather than guessed: readings that a meter follows ([`SLOWEST_HERTZ`]) or no longer follows
//! ([`FASTEST_HERTZ`]), and what hangs on the course of a current in a coil (see [`coils`](crate::coils)).

use crate::bench::{Bench, Solved, for_each};
use crate::coils::Course;
use crate::error::BenchError;
use crate::passage::{Beat, Passage, Round};
use crate::prediction::{Batch, Flows, Hypothesis, Kind, Prediction, Question, Unsaid};
use crate::test::{Alternating, Placement};
use circuit::{Passing, Watches};
use network::States;

/// Below this a meter, and a lamp, follows instead of showing the mean. Common practice, no source: some three readings a second.
const SLOWEST_HERTZ: f64 = 5.0;
/// Up to this an alternating range is taken at its word. Common practice, no source: the cheaper meters' bandwidth.
const FASTEST_HERTZ: f64 = 1e3;
/// Up to this a counter counts. From memory of meters' data.
const FASTEST_COUNTED: f64 = 1e5;
/// What swings less from phase to phase stands still for a meter: volts or amperes, and a part of what it shows. It is then
/// right however the current goes, to within that.
const STILL: f64 = 2e-3;
const STILL_PART: f64 = 5e-3;
/// What a counter needs to trigger, volts from least to most. From memory of meters' data.
const TRIGGER_VOLTS: f64 = 0.5;
/// The part of the most volts by which they may be off without a counter, that triggers in the middle, noticing.
const TRIGGER_PART: f64 = 0.1;
/// What a check of a driver's pin sees may differ by so much, volts or amperes, from one of its moments to the next. Common
/// practice, no source.
const CHECK_SWING: f64 = 0.5;
/// Time constants of a filter in a period from which it shows the mean.
const FILTERED: f64 = 3.0;

impl Bench {
    /// Answers a question about a set-up in which something repeats.
    pub(crate) fn predict_passing(&self, question: &Question<'_>, passing: &[Passing]) -> Result<Batch, BenchError> {
        let prepared = passing
            .iter()
            .map(|passing| self.prepare(&passing.set_up, question.theta))
            .collect::<Result<_, _>>()?;
        let passage = Passage::new(self.circuit(), question.set_up, question.theta, passing, prepared);
        for_each(question, |hypothesis| self.one_passing(&passage, question, hypothesis))
    }

    fn one_passing(
        &self,
        passage: &Passage<'_>,
        question: &Question<'_>,
        hypothesis: &Hypothesis<'_>,
    ) -> Result<Vec<(Prediction, Flows)>, BenchError> {
        let nothing = |why| vec![(self.unknown(hypothesis, why), self.no_flows(question)); question.placements.len()];
        let prepared = passage.prepared.as_slice();
        let arrived = prepared[0].blown(hypothesis)?;
        let Round {
            coils,
            states: solved,
            nudged,
            ..
        } = match passage.settled(hypothesis, true, arrived.clone())? {
            Ok((round, _)) => round,
            Err(why) => return Ok(nothing(why)),
        };
        // What acts without what is clipped in does not act because of it.
        let bare: Option<Vec<States>> = if question.clips_in() {
            let round = passage.settled(hypothesis, false, arrived)?.ok();
            round.map(|(round, _)| {
                let states = round.states.into_iter();
                states.map(|state| state.solution.states).collect()
            })
        } else {
            None
        };
        let read = |solved: Vec<Solved>| -> Result<Vec<Vec<(Prediction, Flows)>>, BenchError> {
            let each = prepared.iter().zip(solved).enumerate();
            each.map(|(at, (prepared, solved))| {
                let bare = bare.as_ref().map(|bare| &bare[at]);
                self.readings(prepared, question, hypothesis, solved, bare)
            })
            .collect()
        };
        let hardly_any = coils.hardly_any(prepared, &solved).map(&read).transpose()?;
        let by_state = read(solved)?;
        let nudged = match nudged {
            Some((solved, moves)) => Some((read(solved)?, moves)),
            None => None,
        };
        let n = question.placements.len();
        let merged = (0..n).map(|at| {
            let states: Vec<&Prediction> = by_state.iter().map(|row| &row[at].0).collect();
            let placement = &question.placements[at];
            let hangs_on = hardly_any.as_ref().is_none_or(|others| {
                let others = others.iter().map(|row| &row[at].0);
                differs(others, &states, placement)
            });
            let course = |beat| coils.course(beat, hangs_on);
            let merge = |states: &[&Prediction]| {
                let merged = self.merge(passage, &course, placement, states, hypothesis);
                merged.unwrap_or_else(|why| self.unknown(hypothesis, why))
            };
            let mut prediction = merge(&states);
            if let Some((nudged, moves)) = &nudged {
                let others: Vec<&Prediction> = nudged.iter().map(|row| &row[at].0).collect();
                let other = merge(&others);
                moves.carry(&mut prediction, &other);
            }
            let flows: Vec<&Flows> = by_state.iter().map(|row| &row[at].1).collect();
            (prediction, merged_flows(passage, question, &flows))
        });
        Ok(merged.collect())
    }

    /// One prediction from those of every state, or why there is none; `course` is how the currents of a beat go.
    fn merge(
        &self,
        passage: &Passage<'_>,
        course: &dyn Fn(usize) -> Course,
        placement: &Placement,
        states: &[&Prediction],
        hypothesis: &Hypothesis<'_>,
    ) -> Result<Prediction, Unsaid> {
        if let Some(watches) = self.watches(placement) {
            // A current is another at every moment of a coil's course; the voltage stands by the end of a phase.
            let mut beats = 0..passage.beats.len();
            if matches!(watches, Watches::Amps(..)) && !beats.all(|beat| course(beat) == Course::Even) {
                return Err(Unsaid::Lag);
            }
            return driver_check(passage, states);
        }
        let kind = states[0].kind;
        if let Some(why) = states.iter().find_map(|state| state.unsaid) {
            return Err(why);
        }
        if states.iter().any(|state| state.kind != kind) {
            return Err(Unsaid::Mixed);
        }
        if !matches!(kind, Kind::Number | Kind::Live) {
            return Ok(states[0].clone());
        }
        let values: Vec<f64> = states.iter().map(|state| state.value).collect();
        let size = values.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
        let still = match placement {
            Placement::Alternating { .. } => STILL,
            _ => STILL + STILL_PART * size,
        };
        let beats = passage.beats.iter().enumerate();
        let moved: Vec<(usize, &Beat)> = beats.filter(|(_, beat)| beat.swing(&values) > still).collect();
        let slowest = moved.iter().map(|(_, beat)| beat.rate).fold(f64::INFINITY, f64::min);
        let course = moved.iter().map(|&(at, _)| course(at)).max().unwrap_or(Course::Even);
        if let Some((low, high)) = self.counting(placement) {
            let counted = self.counted(passage, &moved, &values, (low, high), placement);
            return counted.ok_or(Unsaid::Several).map(|counted| Prediction {
                by_severity: vec![0.0; hypothesis.faults.len()],
                ..counted
            });
        }
        let amps = matches!(placement, Placement::Ammeter { .. } | Placement::Clamp { .. });
        let wave = matches!(
            placement,
            Placement::Alternating {
                shows: Alternating::Volts,
                ..
            }
        );
        // However the current goes, it repeats as often.
        let counts = matches!(
            placement,
            Placement::Alternating {
                shows: Alternating::Hertz,
                ..
            }
        );
        match course {
            Course::Unsaid(why) if !counts => return Err(why),
            Course::Lagging if amps || wave => return Err(Unsaid::Lag),
            _ => {}
        }
        if let Placement::Alternating { shows, .. } = *placement {
            return alternating(passage, shows, &moved, states);
        }
        if moved.is_empty() {
            return Ok(mean(&passage.shares, states));
        }
        match *placement {
            Placement::Scan { .. } | Placement::Code { .. } => {
                let filter = self.filter_seconds(placement);
                if filter * slowest < FILTERED {
                    return Err(Unsaid::ShortFilter);
                }
                Ok(mean(&passage.shares, states))
            }
            _ if slowest < SLOWEST_HERTZ => Err(Unsaid::Slow),
            Placement::TestLight { .. } => Ok(effective(passage, states, 0.0)),
            Placement::Ohmmeter { .. } | Placement::Continuity { .. } | Placement::DiodeTest { .. }
                if kind == Kind::Number =>
            {
                Err(Unsaid::SwitchedOhms)
            }
            _ => Ok(mean(&passage.shares, states)),
        }
    }

    /// What a check of a driver's pin watches, at a moment of its own, if the placement is one.
    fn watches(&self, placement: &Placement) -> Option<&Watches> {
        match *placement {
            Placement::Code { monitor } if self.channel(placement).is_none() => {
                Some(&self.circuit().monitors[monitor.idx()].watches)
            }
            _ => None,
        }
    }

    /// Between which volts the channel of a placement counts, if it does.
    pub(crate) fn counting(&self, placement: &Placement) -> Option<(f64, f64)> {
        self.channel(placement)?.counts
    }

    fn filter_seconds(&self, placement: &Placement) -> f64 {
        self.channel(placement).map_or(0.0, |channel| channel.filter_seconds)
    }

    /// What a counting channel makes of the voltages that it senses.
    fn counted(
        &self,
        passage: &Passage<'_>,
        moved: &[(usize, &Beat)],
        volts: &[f64],
        between: (f64, f64),
        placement: &Placement,
    ) -> Option<Prediction> {
        let counted: Vec<(&Beat, usize)> = moved
            .iter()
            .map(|(_, beat)| (*beat, beat.rises(volts, between)))
            .filter(|(_, rises)| *rises > 0)
            .collect();
        let zeros = || vec![0.0; passage.n_params];
        let (hertz, by_param) = match counted.as_slice() {
            [] => (0.0, zeros()),
            [(beat, rises)] => (
                beat.rate * *rises as f64,
                by_rate(beat, *rises as f64, passage.n_params),
            ),
            _ => return None,
        };
        Some(self.shown_of_hertz(placement, hertz, by_param))
    }
}

/// What a check of a driver's pin compares: it looks while it runs, at the end of a phase, and passes over the rest of the time.
fn driver_check(passage: &Passage<'_>, states: &[&Prediction]) -> Result<Prediction, Unsaid> {
    let each = passage.shares.iter().zip(states);
    let (shares, seen): (Vec<f64>, Vec<&Prediction>) = each.filter(|(_, state)| state.kind != Kind::NotRun).unzip();
    let Some(first) = seen.first() else {
        return Ok(states[0].clone());
    };
    if let Some(why) = seen.iter().find_map(|state| state.unsaid) {
        return Err(why);
    }
    let values: Vec<f64> = seen.iter().map(|state| state.value).collect();
    let (low, high) = ends(&values);
    if seen.iter().any(|state| state.kind != first.kind) || high - low > CHECK_SWING {
        return Err(Unsaid::Moments);
    }
    let whole: f64 = shares.iter().sum();
    let shares: Vec<f64> = shares.iter().map(|share| share / whole).collect();
    Ok(mean(&shares, &seen))
}

/// Whether states show something else, beyond what stands still for a meter, or makes a counter trigger otherwise.
fn differs<'p>(others: impl Iterator<Item = &'p Prediction>, states: &[&Prediction], placement: &Placement) -> bool {
    let most = states.iter().map(|state| state.value.abs()).fold(0.0, f64::max);
    let within = match placement {
        Placement::Alternating {
            shows: Alternating::Hertz | Alternating::Duty,
            ..
        } => TRIGGER_PART * most,
        _ => STILL + STILL_PART * most,
    };
    others.zip(states).any(|(other, state)| {
        let apart = (other.value - state.value).abs();
        other.kind != state.kind || apart.is_nan() || apart > within
    })
}

/// What an alternating meter, a counter, a duty meter shows, or why nothing can be said.
fn alternating(
    passage: &Passage<'_>,
    shows: Alternating,
    moved: &[(usize, &Beat)],
    states: &[&Prediction],
) -> Result<Prediction, Unsaid> {
    let values: Vec<f64> = states.iter().map(|state| state.value).collect();
    let middle = mean(&passage.shares, states);
    let nothing = || Prediction {
        value: 0.0,
        by_param: vec![0.0; passage.n_params],
        by_severity: vec![0.0; states[0].by_severity.len()],
        ..middle.clone()
    };
    let fastest = moved.iter().map(|(_, beat)| beat.rate).fold(0.0, f64::max);
    if shows == Alternating::Volts {
        if moved.is_empty() {
            return Ok(nothing());
        }
        if moved.iter().any(|(_, beat)| beat.rate < SLOWEST_HERTZ) {
            return Err(Unsaid::Slow);
        }
        if fastest > FASTEST_HERTZ {
            return Err(Unsaid::FastForAlternating);
        }
        return Ok(effective(passage, states, middle.value));
    }
    let counted: Vec<&Beat> = moved
        .iter()
        .map(|(_, beat)| *beat)
        .filter(|beat| beat.swing(&values) >= TRIGGER_VOLTS)
        .collect();
    match (shows, counted.as_slice()) {
        (Alternating::Hertz, []) => Ok(nothing()),
        (_, []) => Err(Unsaid::NoSwing),
        (_, [beat]) if fastest <= FASTEST_COUNTED => {
            let (low, high) = ends(&values);
            let half = low.midpoint(high);
            if shows == Alternating::Duty {
                let above = values.iter().zip(&passage.shares).filter(|(value, _)| **value > half);
                let percent = 100.0 * above.map(|(_, share)| share).sum::<f64>();
                return Ok(Prediction {
                    value: percent,
                    ..nothing()
                });
            }
            let rises = beat.rises(&values, (half, half)) as f64;
            Ok(Prediction {
                value: beat.rate * rises,
                by_param: by_rate(beat, rises, passage.n_params),
                ..nothing()
            })
        }
        (_, [_]) => Err(Unsaid::FastForCounter),
        _ => Err(Unsaid::Several),
    }
}

/// Derivatives of a rate so many times that of a beat.
fn by_rate(beat: &Beat, times: f64, n_params: usize) -> Vec<f64> {
    let mut by_param = vec![0.0; n_params];
    for (param, slope) in &beat.by_param {
        by_param[param.idx()] += slope * times;
    }
    by_param
}

fn ends(values: &[f64]) -> (f64, f64) {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    (low, values.iter().copied().fold(f64::NEG_INFINITY, f64::max))
}

/// Weighted sum of slopes.
fn weighted<'p>(weights: &[f64], states: &[&'p Prediction], slopes: impl Fn(&'p Prediction) -> &'p [f64]) -> Vec<f64> {
    let mut sum = vec![0.0; slopes(states[0]).len()];
    for (weight, state) in weights.iter().zip(states) {
        for (sum, slope) in sum.iter_mut().zip(slopes(state)) {
            *sum += weight * slope;
        }
    }
    sum
}

/// The mean of what the states show.
fn mean(shares: &[f64], states: &[&Prediction]) -> Prediction {
    let sum = |of: &dyn Fn(&Prediction) -> f64| shares.iter().zip(states).map(|(share, state)| share * of(state)).sum();
    Prediction {
        kind: states[0].kind,
        value: sum(&|state| state.value),
        beyond: sum(&|state| state.beyond),
        by_param: weighted(shares, states, |state| &state.by_param),
        by_severity: weighted(shares, states, |state| &state.by_severity),
        source_ohms: states.iter().map(|state| state.source_ohms).fold(0.0, f64::max),
        ghost_volts: (sum(&|state| state.ghost_volts.0), sum(&|state| state.ghost_volts.1)),
        unsaid: None,
    }
}

/// The effective value of what is left beside `middle`.
fn effective(passage: &Passage<'_>, states: &[&Prediction], middle: f64) -> Prediction {
    let beside = |state: &Prediction| state.value - middle;
    let squares = passage
        .shares
        .iter()
        .zip(states)
        .map(|(share, state)| share * beside(state).powi(2));
    let value = squares.sum::<f64>().sqrt();
    let weights: Vec<f64> = passage
        .shares
        .iter()
        .zip(states)
        .map(|(share, state)| {
            if value > 0.0 {
                share * beside(state) / value
            } else {
                0.0
            }
        })
        .collect();
    Prediction {
        value,
        beyond: 0.0,
        by_param: weighted(&weights, states, |state| &state.by_param),
        by_severity: weighted(&weights, states, |state| &state.by_severity),
        ..mean(&passage.shares, states)
    }
}

/// What flows: the most in any state, for that is what a pin must bear; voltages as a meter shows them.
fn merged_flows(passage: &Passage<'_>, question: &Question<'_>, states: &[&Flows]) -> Flows {
    if !question.with_flows {
        return Flows::default();
    }
    let most = |of: &dyn Fn(&Flows) -> f64| {
        let values = states.iter().map(|state| of(state));
        values.fold(
            0.0,
            |most: f64, value| if value.abs() > most.abs() { value } else { most },
        )
    };
    let mean = |of: &dyn Fn(&Flows) -> f64| -> f64 {
        let each = passage.shares.iter().zip(states);
        each.map(|(share, state)| share * of(state)).sum()
    };
    let mut trips: Vec<_> = states.iter().flat_map(|state| state.trips.iter().copied()).collect();
    trips.sort_unstable();
    trips.dedup();
    let first = states[0];
    Flows {
        branch_amps: (0..first.branch_amps.len())
            .map(|at| most(&|state| state.branch_amps[at]))
            .collect(),
        point_volts: (0..first.point_volts.len())
            .map(|at| mean(&|state| state.point_volts[at]))
            .collect(),
        tool_amps: most(&|state| state.tool_amps),
        tool_watts: mean(&|state| state.tool_watts),
        volts_before: mean(&|state| state.volts_before),
        placed: (0..first.placed.len())
            .map(|at| (most(&|state| state.placed[at].0), mean(&|state| state.placed[at].1)))
            .collect(),
        trips,
    }
}
