//! Which safe readings would show every dangerous cause for what it is.
//!
//! First the voltages of the points that the test touches, as the vehicle stands for it. Where these do not do, the
//! voltages and clamped currents in the set-ups next to it, the cheapest first. Limits: one change of the set-up, no
//! ohms; a reading that shows a cause only together with another is not found.

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, Reading, Test};
use circuit::{Circuit, Key, SetUp};

use super::caution::{not_probed, points};
use super::{CLEAR_SHARE, CLEAR_VOLTS, contradicts};
use crate::candidate::touched;
use crate::{Verdict, candidate};

/// How far two clamped currents must be apart, amperes and share. Common practice, no source.
const CLEAR_AMPS: f64 = 0.1;
const CLEAR_AMPS_SHARE: f64 = 0.2;
/// Set-ups next to the test's own that are looked at.
const MOST_SET_UPS: usize = 12;

/// The readings to take first, or a refusal if some dangerous cause would not show.
///
/// # Errors
/// Those of [`Predict::predict`].
pub(super) fn first(
    bench: &dyn Predict,
    circuit: &Circuit,
    bad: &[Hypothesis<'_>],
    readings: &[Reading],
    test: &Test,
    bare: &SetUp,
) -> Result<Verdict, BenchError> {
    let mut search = Search {
        bench,
        bad,
        left: (0..bad.len()).collect(),
        chosen: Vec::new(),
    };
    // Done already, with the meter or a light.
    let done = |placement: &Placement, set_up: &SetUp| readings.iter().find(|r| same(r, placement, set_up));
    let mut here = here(circuit, test);
    for reading in here.iter().filter_map(|placement| done(placement, bare)) {
        if search.confirmed(reading)? {
            return Ok(Verdict::Refused);
        }
    }
    here.retain(|placement| done(placement, bare).is_none());
    search.take(bare, &here)?;
    for set_up in near(circuit, bare) {
        if search.left.is_empty() {
            break;
        }
        let reached = bench::reachable(circuit, &set_up);
        let offered: Vec<Placement> = candidate::candidates(circuit, &set_up, &reached)
            .into_iter()
            .map(|candidate| candidate.placement)
            .filter(|placement| {
                matches!(placement, Placement::Voltmeter { .. } | Placement::Clamp { .. })
                    && done(placement, &set_up).is_none()
                    && !not_probed(circuit, &of(placement, &set_up))
            })
            .collect();
        search.take(&set_up, &offered)?;
    }
    Ok(if search.left.is_empty() {
        Verdict::First(search.chosen)
    } else {
        Verdict::Refused
    })
}

fn of(placement: &Placement, set_up: &SetUp) -> Test {
    Test {
        placement: placement.clone(),
        set_up: set_up.clone(),
    }
}

/// Whether a reading was taken of what a placement would see.
fn same(reading: &Reading, placement: &Placement, set_up: &SetUp) -> bool {
    let shows = matches!(
        reading.test.placement,
        Placement::Voltmeter { .. } | Placement::TestLight { .. } | Placement::Clamp { .. }
    );
    let ends = touched(placement);
    shows
        && reading.test.set_up == *set_up
        && (reading.test.placement == *placement || ends.is_some() && touched(&reading.test.placement) == ends)
}

/// The set-ups next to one, itself first: those that set nothing going before those that do, then by minutes.
fn near(circuit: &Circuit, from: &SetUp) -> Vec<SetUp> {
    let moves = |set_up: &SetUp| set_up.key == Key::Running || !set_up.commanded.is_empty();
    let mut near: Vec<(bool, f64, SetUp)> = circuit::neighbouring_set_ups(circuit, from, 1, false)
        .into_iter()
        .map(|set_up| (moves(&set_up), circuit::minutes_between(circuit, from, &set_up), set_up))
        .filter(|(_, minutes, _)| minutes.is_finite())
        .collect();
    near.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    near.truncate(MOST_SET_UPS);
    near.into_iter().map(|(_, _, set_up)| set_up).collect()
}

/// The voltages at the points that a test touches.
fn here(circuit: &Circuit, test: &Test) -> Vec<Placement> {
    let minus = circuit.battery_minus;
    let points = points(test);
    let mut offered: Vec<Placement> = points
        .iter()
        .filter(|&&point| point != minus && point != circuit.battery_plus)
        .map(|&red| Placement::Voltmeter { red, black: minus })
        .collect();
    if let [red, black] = points[..]
        && red != minus
        && black != minus
    {
        offered.push(Placement::Voltmeter { red, black });
    }
    offered
}

/// Readings gathered until every dangerous cause shows in one.
struct Search<'s, 'a> {
    bench: &'s dyn Predict,
    bad: &'s [Hypothesis<'a>],
    /// Positions in `bad` that no chosen reading shows.
    left: Vec<usize>,
    chosen: Vec<Test>,
}

impl Search<'_, '_> {
    /// Whether a reading speaks for a dangerous cause: it would show it, and it does not contradict it.
    fn confirmed(&self, reading: &Reading) -> Result<bool, BenchError> {
        let mut hypotheses = vec![Hypothesis::default()];
        hypotheses.extend_from_slice(self.bad);
        let Test { placement, set_up } = &reading.test;
        let batch = self
            .bench
            .predict(Question::new(&hypotheses, set_up, std::slice::from_ref(placement)))?;
        let Some((sound, ill)) = batch.predictions.split_first() else {
            return Ok(false);
        };
        Ok(ill
            .iter()
            .any(|ill| clearly_apart(placement, sound, ill) && !contradicts(&reading.shown, ill)))
    }

    /// Takes those of the offered readings that show what no other has shown yet; the earlier one on a tie.
    fn take(&mut self, set_up: &SetUp, offered: &[Placement]) -> Result<(), BenchError> {
        if offered.is_empty() || self.left.is_empty() {
            return Ok(());
        }
        let mut hypotheses = vec![Hypothesis::default()];
        hypotheses.extend(self.left.iter().filter_map(|&idx| self.bad.get(idx)).cloned());
        let batch = self.bench.predict(Question::new(&hypotheses, set_up, offered))?;
        let mut rows = batch.predictions.chunks(offered.len());
        let Some(healthy) = rows.next() else {
            return Ok(());
        };
        // For each offered reading which of those left it shows.
        let mut shows: Vec<Vec<usize>> = vec![Vec::new(); offered.len()];
        for (&idx, row) in self.left.iter().zip(rows) {
            for (((shows, placement), sound), ill) in shows.iter_mut().zip(offered).zip(healthy).zip(row) {
                if clearly_apart(placement, sound, ill) {
                    shows.push(idx);
                }
            }
        }
        loop {
            let gain = |shows: &[usize]| shows.iter().filter(|idx| self.left.contains(idx)).count();
            let best = shows.iter().enumerate().rev().max_by_key(|(_, shows)| gain(shows));
            let Some((best, shown)) = best.filter(|(_, shows)| gain(shows) > 0) else {
                return Ok(());
            };
            self.left.retain(|idx| !shown.contains(idx));
            self.chosen.extend(offered.get(best).map(|placement| Test {
                placement: placement.clone(),
                set_up: set_up.clone(),
            }));
        }
    }
}

fn clearly_apart(placement: &Placement, sound: &Prediction, ill: &Prediction) -> bool {
    let (least, share) = match placement {
        Placement::Clamp { .. } => (CLEAR_AMPS, CLEAR_AMPS_SHARE),
        _ => (CLEAR_VOLTS, CLEAR_SHARE),
    };
    let apart = (sound.value - ill.value).abs() > least + share * sound.value.abs().max(ill.value.abs());
    apart && sound.kind == Kind::Number && ill.kind == Kind::Number
}
