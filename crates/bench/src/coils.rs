//! The current in a coil that is switched often: does it follow each pulse, or flow on?
//!
//! Where the time constant of the winding, inductance over resistance, is short against the period, the states tell all but
//! the lag and the voltage peak at switching off. Where it exceeds the period the current flows on, nearly even, by way of
//! whatever carries it while nothing drives it; in the steady state the mean voltage across the coil is then the current
//! times its resistance, as for any inductance. Between the two, and where nothing carries it on, nothing is said of what
//! hangs on that current; what stays as it is with next to none in the coil does not.
//!
//! The ripple of a current that flows on is left out.

use circuit::{At, BranchId, BranchKind, Circuit};
use network::{Element, ElementId, NodeId, Outcome, Parameter};

use crate::bench::{Prepared, Solved};
use crate::error::BenchError;
use crate::lowered::{Cause, Lowered};
use crate::passage::Passage;
use crate::prediction::{Prediction, Unsaid};

/// A time constant of so much of the period leaves the mean voltage within as much of the supply.
const SHORT: f64 = 0.01;
/// A current swings with a beat if it does by more than this, amperes.
const STILL_AMPS: f64 = 1e-3;
/// No path that carries a current on holds the coil's voltage above this: beyond it there is none.
const MOST_VOLTS: f64 = 60.0;
/// Rounds of the search for the current, and how near it must come, volts.
const ROUNDS: usize = 30;
const NEAR_VOLTS: f64 = 1e-6;
/// Next to no current, amperes: where nothing carries it on, it still takes the coil's end far from where it rests.
const HARDLY_AMPS: f64 = 1e-3;
/// The part of the current by which it is nudged to see what hangs on it.
const NUDGE: f64 = 1e-4;

/// How a beat's currents go, the least telling last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Course {
    /// As the states say, or even.
    Even,
    /// As the states say but for a lag and a peak: mean voltages are right, currents and effective values are not.
    Lagging,
    /// Not to be said, and why.
    Unsaid(Unsaid),
}

/// A coil whose current flows on.
#[derive(Clone, Copy, Debug)]
struct Coil {
    element: ElementId,
    a: NodeId,
    b: NodeId,
    ohms: f64,
    /// Mean current of the states as such, where the search starts.
    amps: f64,
}

/// What coils do in one hypothesis.
#[derive(Clone, Debug)]
pub(crate) struct Coils {
    /// By beat: of the coils of which something is said, and why of others nothing is.
    courses: Vec<(Course, Option<Unsaid>)>,
    flows_on: Vec<Coil>,
    unsaid: Vec<Coil>,
}

/// How the current that flows on hangs on what is not known, for the slopes of readings.
#[derive(Clone, Debug)]
pub(crate) struct Moves {
    by: Vec<(Cause, f64)>,
    nudge: f64,
}

impl Moves {
    /// Adds to the slopes what comes by way of the current.
    pub(crate) fn carry(&self, prediction: &mut Prediction, nudged: &Prediction) {
        let by_amps = (nudged.value - prediction.value) / self.nudge;
        for &(cause, slope) in &self.by {
            match cause {
                Cause::Param(param) => prediction.by_param[param.idx()] += by_amps * slope,
                Cause::Severity(position) => prediction.by_severity[position] += by_amps * slope,
            }
        }
    }
}

impl Coils {
    pub(crate) fn of(circuit: &Circuit, passage: &Passage<'_>, states: &[Solved]) -> Self {
        let mut courses = vec![(Course::Even, None); passage.beats.len()];
        let (mut flows_on, mut unsaid) = (Vec::new(), Vec::new());
        for (idx, branch) in circuit
            .branches
            .iter()
            .enumerate()
            .filter(|(_, branch)| branch.henries > 0.0)
        {
            let element = ElementId(idx as u32);
            let Some(Element::Resistor { a, b, ohms }) = states[0].lowered.element(element).cloned() else {
                continue;
            };
            let amps: Vec<f64> = states.iter().map(|state| state.solution.amps(element)).collect();
            let beats = passage.beats.iter().enumerate();
            let moved: Vec<usize> = beats
                .filter(|(_, beat)| beat.swing(&amps) > STILL_AMPS)
                .map(|(at, _)| at)
                .collect();
            let seconds = branch.henries / (ohms * beside_centre(circuit, passage, &branch.kind));
            let periods = |at: &usize| seconds * passage.beats[*at].rate;
            let short = moved.iter().all(|at| periods(at) <= SHORT);
            let coil = Coil {
                element,
                a,
                b,
                ohms,
                amps: passage.shares.iter().zip(&amps).map(|(share, amps)| share * amps).sum(),
            };
            let course = match moved.as_slice() {
                _ if short => Course::Lagging,
                [one] if periods(one) >= 1.0 && flows_on.is_empty() => {
                    flows_on.push(coil);
                    Course::Even
                }
                [one] if periods(one) < 1.0 => {
                    unsaid.push(coil);
                    Course::Unsaid(Unsaid::Between)
                }
                _ => {
                    unsaid.push(coil);
                    Course::Unsaid(Unsaid::SeveralCoils)
                }
            };
            for at in moved {
                let (said, why_not) = &mut courses[at];
                match course {
                    Course::Unsaid(why) => *why_not = Some(why),
                    course => *said = course.max(*said),
                }
            }
        }
        Self {
            courses,
            flows_on,
            unsaid,
        }
    }

    /// Of a beat, for a reading that may hang on the current of coils of which nothing is said.
    pub(crate) fn course(&self, beat: usize, hangs_on: bool) -> Course {
        match self.courses[beat] {
            (_, Some(why)) if hangs_on => Course::Unsaid(why),
            (said, _) => said,
        }
    }

    /// The states as they were before a driver shut off in them: what a current that flows on starts from, for it never
    /// comes to what would flow were its phase to last. `None` where none did.
    pub(crate) fn calm(prepared: &[Prepared<'_>], states: &[Solved]) -> Option<Vec<Solved>> {
        let any_shut = |state: &Solved| drivers(state).any(|id| state.solution.states.get(id) == Some(true));
        if !states.iter().any(any_shut) {
            return None;
        }
        let each = prepared.iter().zip(states);
        each.map(|(prepared, state)| {
            let mut patient = state.lowered.clone();
            let mut start = state.solution.states.clone();
            // All of them: where one does not shut off, the next in the same path would.
            for id in drivers(state) {
                start.set(id, false);
                if let Element::Driver { limit_amps, .. } = patient.element_mut(id) {
                    *limit_amps = f64::MAX;
                }
            }
            let near = Some(state.solution.node_volts.as_slice());
            let solved = prepared.shop.solvers.solve(&patient, &start, near).ok()?;
            Some(Solved {
                lowered: state.lowered.clone(),
                solution: solved.converged()?,
                placed: state.placed.clone(),
                ratings: state.ratings.clone(),
            })
        })
        .collect()
    }

    pub(crate) fn any_flows_on(&self) -> bool {
        !self.flows_on.is_empty()
    }

    /// The states with next to no current in every coil of which nothing is said. `None` if there is no such coil, or the
    /// circuit does not settle so.
    pub(crate) fn hardly_any(&self, prepared: &[Prepared<'_>], states: &[Solved]) -> Option<Vec<Solved>> {
        if self.unsaid.is_empty() {
            return None;
        }
        let each = prepared.iter().zip(states);
        each.map(|(prepared, state)| {
            let mut coils = self.unsaid.iter();
            let mut solved = coils.next()?.forced(prepared, state, HARDLY_AMPS).ok()??;
            for coil in coils {
                solved = coil.forced(prepared, &solved, HARDLY_AMPS).ok()??;
            }
            Some(solved)
        })
        .collect()
    }

    /// Lets the current flow on in `states`; gives the states with the current nudged, and what moves it. `None` if nothing
    /// carries it on.
    pub(crate) fn let_flow(
        &self,
        passage: &Passage<'_>,
        prepared: &[Prepared<'_>],
        states: &mut Vec<Solved>,
    ) -> Result<Option<(Vec<Solved>, Moves)>, BenchError> {
        let Some(&coil) = self.flows_on.first() else {
            return Ok(None);
        };
        let at = |amps: f64| -> Result<Option<(f64, Vec<Solved>)>, BenchError> {
            let mut mean = 0.0;
            let mut with = Vec::with_capacity(states.len());
            for ((prepared, state), share) in prepared.iter().zip(states.iter()).zip(&passage.shares) {
                let Some(solved) = coil.forced(prepared, state, amps)? else {
                    return Ok(None);
                };
                let volts = solved.solution.volts(coil.a) - solved.solution.volts(coil.b);
                if volts.abs() > MOST_VOLTS {
                    return Ok(None);
                }
                mean += share * volts;
                with.push(solved);
            }
            Ok(Some((mean - coil.ohms * amps, with)))
        };
        // Volts left over fall as the current grows: by its resistance at least.
        let (mut amps, mut slope) = (coil.amps, -coil.ohms);
        let Some((mut left, mut with)) = at(amps)? else {
            return Ok(None);
        };
        for _ in 0..ROUNDS {
            if left.abs() < NEAR_VOLTS {
                let nudge = NUDGE * amps.abs().max(0.01);
                let Some((there, nudged)) = at(amps + nudge)? else {
                    return Ok(None);
                };
                let moves = coil.moves(passage, states, &with, amps, (there - left) / nudge);
                *states = with;
                return Ok(Some((nudged, Moves { by: moves, nudge })));
            }
            let next = amps - left / slope;
            let Some((there, other)) = at(next)? else {
                return Ok(None);
            };
            let secant = (there - left) / (next - amps);
            slope = if secant.is_finite() {
                secant.min(-coil.ohms)
            } else {
                slope
            };
            (amps, left, with) = (next, there, other);
        }
        Ok(None)
    }
}

/// The ohms of a winding as its file has them, over those of the vehicle in question. What a coil does is judged by the
/// file's value, for a tolerance must not make a cliff where readings go from said to unsaid.
fn beside_centre(circuit: &Circuit, passage: &Passage<'_>, kind: &BranchKind) -> f64 {
    let Some(prepared) = passage.prepared.first() else {
        return 1.0;
    };
    let centre = At::centre(circuit, prepared.set_up);
    let at = At {
        theta: prepared.shop.theta,
        ..centre
    };
    match kind {
        BranchKind::Resistor { ohms, .. } => ohms.value(&centre) / ohms.value(&at),
        _ => 1.0,
    }
}

/// What may shut off.
fn drivers(state: &Solved) -> impl Iterator<Item = ElementId> {
    let all = (0..state.lowered.n_elements() as u32).map(ElementId);
    all.filter(|&id| matches!(state.lowered.element(id), Some(Element::Driver { .. })))
}

impl Coil {
    /// A state with this current forced through the coil.
    fn forced(&self, prepared: &Prepared<'_>, state: &Solved, amps: f64) -> Result<Option<Solved>, BenchError> {
        let mut lowered: Lowered = state.lowered.clone();
        *lowered.element_mut(self.element) = Element::CurrentSource {
            from: self.a,
            to: self.b,
            amps,
        };
        lowered.forget(BranchId(self.element.0));
        lowered.shape.push([10, self.element.0, 0, 0, 0]);
        let near = Some(state.solution.node_volts.as_slice());
        let outcome = prepared
            .shop
            .solvers
            .solve(&lowered, &state.solution.states, near)
            .map_err(|source| BenchError::Network { source })?;
        Ok(match outcome {
            Outcome::Converged(solution) => Some(Solved {
                lowered,
                solution,
                placed: state.placed.clone(),
                ratings: state.ratings.clone(),
            }),
            _ => None,
        })
    }

    /// d current / d cause: of Σ share · volts − ohms · current = 0.
    fn moves(
        &self,
        passage: &Passage<'_>,
        before: &[Solved],
        with: &[Solved],
        amps: f64,
        by_amps: f64,
    ) -> Vec<(Cause, f64)> {
        let mut sums: Vec<(Cause, f64)> = Vec::new();
        let mut add = |cause: Cause, slope: f64| match sums.iter_mut().find(|(known, _)| *known == cause) {
            Some((_, sum)) => *sum += slope,
            None => sums.push((cause, slope)),
        };
        for (state, share) in with.iter().zip(&passage.shares) {
            let adjoint = state.solution.adjoint(&[(self.a, 1.0), (self.b, -1.0)]);
            for drive in state.lowered.drives() {
                add(
                    drive.cause,
                    share * adjoint.by_value(drive.element, drive.value) * drive.slope,
                );
            }
        }
        let own = before[0].lowered.drives().filter(|drive| drive.element == self.element);
        for drive in own.filter(|drive| drive.value == Parameter::Ohms) {
            add(drive.cause, -amps * drive.slope);
        }
        sums.into_iter().map(|(cause, sum)| (cause, -sum / by_amps)).collect()
    }
}
