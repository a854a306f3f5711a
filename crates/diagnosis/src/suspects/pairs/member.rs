//! A fault as a member of pairs: which readings it moves, and what each is worth under it alone.

use circuit::{Fault, Mode};

use crate::evidence::Evidence;
use crate::predictions::Wanted;
use crate::suspects::integral::{Ground, Integral, Piece, log_sum};
use crate::suspects::ways::Way;

/// A blown fuse has a cause: a short behind it is this much likelier beside it than another fault.
const BLOWN_BY_IT: f64 = 10.0;
/// Two faults of one part, a wet connector for one, come together this much more often.
const SAME_PART: f64 = 4.0;
/// A reading that a fault moves by less than this share of its instrument's spread is not moved by it.
const MOVES: f64 = 0.1;

/// A fault that may be one of two.
pub(crate) struct Member<'i> {
    pub(crate) way: Way,
    /// Logarithm of its chance before any reading.
    pub(crate) log_before: f64,
    pub(crate) sides: Vec<Side<'i>>,
}

/// Severities between two solved positions.
pub(crate) struct Side<'i> {
    pub(crate) from: u16,
    pub(crate) to: u16,
    /// By reading: whether it is moved.
    pub(crate) moves: Vec<bool>,
    /// Logarithms: the share of the fault's prior that each step has, and what each reading is worth there, given those before.
    parts: Vec<(f64, &'i [f64])>,
}

impl<'i> Member<'i> {
    pub(crate) fn new(ground: Ground<'_>, way: Way, log_before: f64, integral: &'i Integral) -> Self {
        let side = |piece: &'i Piece| {
            let span = ground.span(&way, piece.from, piece.to);
            let moves = |(k, evidence): (usize, &Evidence)| {
                let healthy = ground.predictions.cell(evidence.row, Wanted::healthy(way.inside));
                let limit = MOVES * evidence.blur(healthy.value);
                let range = span.between[k].range(0.0, 1.0);
                let off = (range.0 - healthy.value).abs().max((range.1 - healthy.value).abs());
                off > limit || span.ends.iter().any(|end| end[k].kind != healthy.kind)
            };
            let parts = piece.parts.iter();
            Side {
                from: piece.from,
                to: piece.to,
                moves: ground.body.evidence.iter().enumerate().map(moves).collect(),
                parts: parts
                    .map(|part| (piece.log_share(part, integral.last), &*part.logs))
                    .collect(),
            }
        };
        Self {
            way,
            log_before,
            sides: integral.pieces.iter().map(side).collect(),
        }
    }
}

impl Side<'_> {
    /// Whether the fault shows in any reading.
    pub(crate) fn shows(&self) -> bool {
        self.moves.contains(&true)
    }

    /// Logarithm of what some of the readings are worth under this fault alone, its width counted in.
    fn worth(&self, counts: impl Fn(usize) -> bool) -> f64 {
        let of = |logs: &[f64]| -> f64 {
            let some = logs.iter().enumerate().filter(|(k, _)| counts(*k));
            some.map(|(_, log)| log).sum()
        };
        let each = self.parts.iter().map(|(share, logs)| share + of(logs));
        each.fold(f64::NEG_INFINITY, f64::max)
    }

    /// The same of all readings under two faults, as if what one moves told nothing of what the other does; `peaks`: what a
    /// reading may be worth that both move.
    pub(crate) fn worth_with(&self, other: &Self, peaks: &[f64]) -> f64 {
        let (one, two) = (&self.moves, &other.moves);
        let both = (0..one.len()).filter(|&k| one[k] && two[k]).map(|k| peaks[k]);
        self.worth(|k| !two[k]) + other.worth(|k| two[k] && !one[k]) + both.sum::<f64>()
    }
}

/// By reading: logarithm of the most that it is worth, given those before, under any single fault at any severity. Two
/// faults can hardly make more of it.
pub(crate) fn peaks<'i>(n: usize, integrals: impl Iterator<Item = &'i Integral>) -> Vec<f64> {
    let mut peaks = vec![f64::NEG_INFINITY; n];
    for (_, _, _, part) in integrals.flat_map(Integral::parts) {
        for (peak, log) in peaks.iter_mut().zip(&part.logs) {
            *peak = peak.max(*log);
        }
    }
    peaks
}

/// Logarithm of the sum of the weights of all pairs, see [`weight`].
pub(crate) fn log_weights(faults: &[&Fault], members: &[Member<'_>]) -> f64 {
    let mut logs = Vec::with_capacity(members.len() * members.len() / 2);
    for (at, one) in members.iter().enumerate() {
        logs.extend(members[at + 1..].iter().map(|other| weight(faults, one, other)));
    }
    log_sum(logs.into_iter())
}

/// Logarithm of how often two come together, beside other pairs.
pub(crate) fn weight(faults: &[&Fault], one: &Member<'_>, other: &Member<'_>) -> f64 {
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
