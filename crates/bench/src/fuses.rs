//! Fuses where something repeats: they go by heat, so by the mean square of their current over what repeats, not by what
//! flows in one phase of it.
//!
//! While the states are solved every fuse that is whole holds whatever flows; the one whose mean square is furthest beyond its
//! rating blows, and all is solved anew, until none is beyond.

use network::{Element, ElementId};

use crate::bench::Solved;
use crate::lowered::Lowered;
use crate::passage::Passage;

/// Below this a phase may last as long as a fuse takes, which then goes by each phase as if it lasted. A blade fuse at twice
/// its rating takes 0.15 s to 5 s (ISO 8820-3, from memory).
const SLOWEST_HERTZ: f64 = 1.0;

/// How fuses are taken while one state is solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fuses {
    /// They blow by what flows in it, as if it lasted.
    AsRated,
    /// Those that are whole stay so.
    Holding,
}

/// Fuses of a netlist, and their ratings in amperes.
fn all(lowered: &Lowered) -> impl Iterator<Item = (ElementId, f64)> + '_ {
    let all = (0..lowered.n_elements() as u32).map(ElementId);
    all.filter_map(|id| match lowered.element(id) {
        Some(&Element::Fuse { rating_amps, .. }) => Some((id, rating_amps)),
        _ => None,
    })
}

/// Makes all of them hold; gives the ratings that they had, for [`rated`].
pub(crate) fn hold(lowered: &mut Lowered) -> Vec<(ElementId, f64)> {
    let ratings: Vec<(ElementId, f64)> = all(lowered).collect();
    for &(id, _) in &ratings {
        set(lowered, id, f64::INFINITY);
    }
    ratings
}

fn set(lowered: &mut Lowered, id: ElementId, amps: f64) {
    if let Element::Fuse { rating_amps, .. } = lowered.element_mut(id) {
        *rating_amps = amps;
    }
}

/// Whether any is blown that was not before.
pub(crate) fn any_goes(states: &[Solved], blown: &[ElementId]) -> bool {
    states.iter().any(|state| {
        let is_new = |id: &ElementId| state.solution.states.get(*id) == Some(true) && !blown.contains(id);
        all(&state.lowered).any(|(id, _)| is_new(&id))
    })
}

/// The whole fuse whose current is furthest beyond its rating, as part of it.
pub(crate) fn first_to_go(passage: &Passage<'_>, states: &[Solved], ratings: &[(ElementId, f64)]) -> Option<ElementId> {
    let whole = ratings
        .iter()
        .filter(|(id, _)| states[0].solution.states.get(*id) == Some(false));
    let beyond = whole.map(|&(id, rating)| (id, effective(passage, states, id) / rating));
    let worst = beyond
        .filter(|(_, part)| *part > 1.0)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    worst.map(|(id, _)| id)
}

/// Gives fuses their ratings back in a state that was solved with them holding. One that lets more through in this phase than
/// its rating holds so much more here, for whoever clips a tool into it: `rating · amperes here / effective amperes`.
pub(crate) fn rated(passage: &Passage<'_>, states: &mut [Solved], ratings: &[(ElementId, f64)]) {
    for &(id, rating) in ratings {
        let effective = effective(passage, states, id);
        for state in &mut *states {
            let here = state.solution.amps(id).abs();
            let more = if here > rating { here / effective } else { 1.0 };
            set(&mut state.lowered, id, rating * more);
        }
    }
}

/// Effective amperes: over all phases of what repeats fast, the worst phase of what repeats slowly.
fn effective(passage: &Passage<'_>, states: &[Solved], fuse: ElementId) -> f64 {
    let squares = states.iter().map(|state| state.solution.amps(fuse).powi(2));
    // By the phases of what is slow: share of the time, and the sum of squares by share.
    let mut sums: Vec<(Vec<usize>, f64, f64)> = Vec::new();
    for (at, (share, square)) in passage.shares.iter().zip(squares).enumerate() {
        let slow = passage.beats.iter().filter(|beat| beat.rate < SLOWEST_HERTZ);
        let phases: Vec<usize> = slow.map(|beat| beat.phase(at)).collect();
        match sums.iter_mut().find(|(of, ..)| *of == phases) {
            Some((_, time, sum)) => (*time, *sum) = (*time + share, *sum + share * square),
            None => sums.push((phases, *share, share * square)),
        }
    }
    let means = sums.iter().map(|(_, time, sum)| sum / time);
    means.fold(0.0, f64::max).sqrt()
}
