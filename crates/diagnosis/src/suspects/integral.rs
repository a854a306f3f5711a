//! The likelihood of a fault, integrated over its severity.
//!
//! Coarsely first: one part a cell of the scale, severity within it being one more uncertain parameter. Where that leaves
//! weight, finely; and where the answers between solved severities are not sure enough for the meter, more are solved.
//! What may be left coarse is judged by an upper bound, never by the coarse weight itself: in a wide part one reading may
//! run into the end of its converter while another has not begun to move, and no straight line through the middle shows
//! the severity at which both are right.

use bench::Kind;
use circuit::Fault;

use super::ways::{There, Way};
use crate::evidence::{Body, End, Evidence, number};
use crate::likelihood::{Expectation, Sums, category};
use crate::model::{Field, Params, Span};
use crate::predictions::{Broken, Predictions, Wanted};
use crate::severity::{Between, Scale};

/// Parts of a piece where it matters at first, and children of a part that is still too wide.
const PARTS: u16 = 8;
pub(crate) const CHILDREN: u16 = 4;
/// A part is too wide if severity within it moves a reading by more than this many of its other standard deviations: then
/// it is no longer near enough to one more normal parameter …
pub(crate) const WIDE: f64 = 0.43;
/// … unless it is this far (in logarithms) below the best part of its piece. So many times over.
pub(crate) const NEGLIGIBLE_PART: f64 = 12.0;
const DEPTH: usize = 4;
/// Times that the upper bound alone is reason enough to divide: of many readings in narrow parts it says little.
const HOPED: usize = 1;
/// A piece whose coarse weight is this far (in logarithms) below the best is left coarse.
const NEGLIGIBLE: f64 = 16.0;
/// A piece that may have more than this chance is solved more finely …
const WORTH_SOLVING: f64 = 0.001;
/// … where a smooth curve is taken to have at least this share of its upper bound …
const SMOOTH_SHARE: f64 = 0.05;
/// … if an answer within it is less sure than this share of the instrument's own spread.
pub(crate) const SURE: f64 = 0.25;

/// Freedom of a reading that may be anything, in its unit.
pub(crate) const ANYWHERE: f64 = 1e12;

/// One step of severity.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// Where in its piece, 0 to 1.
    pub(crate) t: f64,
    /// Its width, of a piece's 1; 0 for a fault without severity.
    pub(crate) width: f64,
    /// Severity within it moves a reading by too much.
    wide: bool,
    /// What the logarithm may at most be anywhere within; only for wide parts.
    most: f64,
    /// Logarithm of the likelihood of all readings.
    pub(crate) log: f64,
    /// The same by reading, in the order of the evidence.
    pub(crate) logs: Box<[f64]>,
}

/// Between two solved positions.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    pub(crate) from: u16,
    pub(crate) to: u16,
    pub(crate) parts: Vec<Part>,
    /// Logarithm of the most that the likelihood may be anywhere within.
    most: f64,
}

/// A fault's severities, weighed.
#[derive(Clone, Debug)]
pub(crate) struct Integral {
    pub(crate) last: u16,
    pub(crate) pieces: Vec<Piece>,
    /// Logarithm of the fault's likelihood.
    pub(crate) log: f64,
}

/// What integrals are made from.
#[derive(Clone, Copy)]
pub(crate) struct Ground<'g> {
    pub(crate) faults: &'g [&'g Fault],
    pub(crate) body: &'g Body,
    pub(crate) params: &'g Params,
    pub(crate) predictions: &'g Predictions,
    /// The order in which the readings are weighed, and that in which they were taken.
    pub(crate) order: &'g [usize],
    pub(crate) in_time: &'g [usize],
}

impl<'g> Ground<'g> {
    /// All readings between two severities of a fault.
    pub(crate) fn span(&self, way: &Way, from: u16, to: u16) -> Span<'g> {
        let (n, inside) = (self.body.len(), way.inside);
        let mut ends = [Vec::with_capacity(n), Vec::with_capacity(n)];
        let mut absent = Vec::new();
        for (k, evidence) in self.body.evidence.iter().enumerate() {
            let healthy = || self.predictions.cell(evidence.row, Wanted::healthy(inside));
            let there = way
                .course
                .there(self.faults[way.fault], evidence.position, &evidence.at);
            for (end, position) in ends.iter_mut().zip([from, to]) {
                let wanted = Wanted {
                    inside,
                    broken: Broken::One(way.fault, position),
                };
                end.push(match there {
                    There::No => healthy(),
                    There::Yes | There::Perhaps(_) => self.predictions.cell(evidence.row, wanted),
                });
            }
            if let There::Perhaps(chance) = there {
                absent.resize(k, None);
                absent.push(Some((healthy(), chance)));
            }
        }
        let [a, b] = ends;
        Span {
            absent,
            ..Span::new(a, b, f64::from(to - from))
        }
    }

    pub(crate) fn healthy(&self, inside: u16) -> Span<'g> {
        self.sound(inside, |evidence| evidence.row)
    }

    /// The healthy circuit with the uncertain parameters as its file has them.
    pub(crate) fn nominal(&self, inside: u16) -> Span<'g> {
        self.sound(inside, |evidence| evidence.nominal)
    }

    fn sound(&self, inside: u16, row: impl Fn(&Evidence) -> usize) -> Span<'g> {
        let cells = || {
            let evidence = self.body.evidence.iter();
            evidence
                .map(|one| self.predictions.cell(row(one), Wanted::healthy(inside)))
                .collect()
        };
        Span::new(cells(), cells(), 0.0)
    }

    /// The order in which a span's readings are weighed: what comes and goes depends on the reading before.
    pub(crate) fn order_of(&self, span: &Span<'_>) -> &'g [usize] {
        if span.absent.is_empty() {
            self.order
        } else {
            self.in_time
        }
    }

    /// One part a piece.
    fn coarse(&self, way: &Way, from: u16, to: u16, room: &mut (Field, Sums)) -> Piece {
        let span = self.span(way, from, to);
        let width = if to > from { 1.0 } else { 0.0 };
        let part = self.part(&span, 0.5, width, room);
        Piece {
            from,
            to,
            most: part.most.max(part.log),
            parts: vec![part],
        }
    }

    /// As many parts as the readings are sharp. Parts that cannot come up to `floor` (a logarithm of the likelihood) are
    /// left wide.
    fn fine(&self, way: &Way, from: u16, to: u16, floor: f64, room: &mut (Field, Sums)) -> Piece {
        let span = self.span(way, from, to);
        let mut parts = self.divided(&span, 0.5, 1.0, PARTS, room);
        for depth in 0..DEPTH {
            let best = parts.iter().map(|part| part.log).fold(floor, f64::max);
            let hoped = |part: &Part| if depth < HOPED { part.most } else { f64::NEG_INFINITY };
            let worth = |part: &Part| part.wide && part.log.max(hoped(part)) > best - NEGLIGIBLE_PART;
            if !parts.iter().any(worth) {
                break;
            }
            parts = parts
                .into_iter()
                .flat_map(|part| {
                    if worth(&part) {
                        self.divided(&span, part.t, part.width, CHILDREN, room)
                    } else {
                        vec![part]
                    }
                })
                .collect();
        }
        let most = self.most(&span, 0.0, 1.0, room);
        Piece { from, to, parts, most }
    }

    fn divided(&self, span: &Span<'_>, t: f64, width: f64, n: u16, room: &mut (Field, Sums)) -> Vec<Part> {
        let each = width / f64::from(n);
        let start = t - 0.5 * width;
        (0..n)
            .map(|at| self.part(span, start + (f64::from(at) + 0.5) * each, each, room))
            .collect()
    }

    fn part(&self, span: &Span<'_>, t: f64, width: f64, room: &mut (Field, Sums)) -> Part {
        let (field, sums) = room;
        self.params.expect(self.body, span, t, width, field);
        let log = sums.weigh(self.body, &field.expected, self.order_of(span), 0.0, false);
        let logs = sums.steps.iter().map(|step| step.log).collect();
        let n = self.body.len();
        let wide = self.body.evidence.iter().enumerate().any(|(i, evidence)| {
            let own = evidence.own(field.expected.readings[i].value);
            let step = field.steps[i] * field.steps[i];
            let rest = (field.expected.covariance[i * n + i] - step).max(0.0) + own * own;
            step > WIDE * WIDE * rest
        });
        let most = if wide {
            self.most(span, t - 0.5 * width, t + 0.5 * width, room)
        } else {
            log
        };
        Part {
            t,
            width,
            wide,
            most,
            log,
            logs,
        }
    }

    /// What the logarithm of the likelihood may at most be between `from` and `to` (both in t): every reading may be met
    /// wherever its range allows, whatever the others need.
    fn most(&self, span: &Span<'_>, from: f64, to: f64, room: &mut (Field, Sums)) -> f64 {
        let middle = self.most_as_at(span, from, to, 0.5 * (from + to), room);
        if !span.between.iter().any(Between::is_sudden) {
            return middle;
        }
        // What a converter or a fuse has cut off, no parameter moves: the spread at the ends differs.
        middle
            .max(self.most_as_at(span, from, to, 0.0, room))
            .max(self.most_as_at(span, from, to, 1.0, room))
    }

    /// The same with the parameters' effects as they are at `t`.
    fn most_as_at(&self, span: &Span<'_>, from: f64, to: f64, t: f64, room: &mut (Field, Sums)) -> f64 {
        let (field, sums) = room;
        self.params.expect(self.body, span, t, 0.0, field);
        let n = self.body.len();
        let expected = &mut field.expected;
        for (i, (between, evidence)) in span.between.iter().zip(&self.body.evidence).enumerate() {
            let mut kinds = [span.ends[0][i].kind, span.ends[1][i].kind];
            let (mut low, mut high) = between.range(from, to);
            if let Some(Some((absent, _))) = span.absent.get(i) {
                (low, high) = (low.min(absent.value), high.max(absent.value));
                if absent.kind != kinds[0] {
                    kinds[1] = absent.kind;
                }
            }
            let expectation = &mut expected.readings[i];
            // What interpolation leaves open is a freedom here, no spread.
            let error = between.error(t);
            expected.covariance[i * n + i] = (expected.covariance[i * n + i] - error * error).max(0.0);
            let cells = span.ends.iter().map(|end| end[i].value);
            let free = suit(evidence, kinds, (low, high), cells, expectation);
            expected.freedom.push(free);
        }
        expected.others.clear();
        sums.weigh(self.body, expected, self.order_of(span), 0.0, false)
    }
}

/// Makes an expectation the one among what is possible that suits the reading best, and returns how far it may still be
/// moved at no cost. `kinds`: those at the ends; `values`: more values that something that is no number may be judged by.
pub(crate) fn suit(
    evidence: &Evidence,
    kinds: [Kind; 2],
    (low, high): (f64, f64),
    values: impl Iterator<Item = f64>,
    expectation: &mut Expectation,
) -> f64 {
    match number(&evidence.shown) {
        Some((shown, _)) if kinds[0] != kinds[1] && kinds.contains(&Kind::Number) => {
            expectation.kind = Kind::Number;
            expectation.value = shown;
            ANYWHERE
        }
        Some((shown, _)) if kinds[0] == Kind::Number => {
            expectation.value = match evidence.sense.end(&evidence.shown) {
                None => shown.clamp(low, high),
                Some(End::High(_)) => high,
                Some(End::Low(_)) => low,
            };
            0.5 * (high - low)
        }
        Some(_) => 0.0,
        None => {
            let sampled = (0..=4).map(|k| low + (high - low) * f64::from(k) / 4.0);
            let values: Vec<f64> = sampled.chain(values).collect();
            let best = kinds
                .iter()
                .flat_map(|&kind| values.iter().map(move |&value| (kind, value)))
                .map(|(kind, value)| {
                    let chance = category(&evidence.sense, &evidence.shown, kind, value, 0.0);
                    (chance, kind, value)
                })
                .max_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((_, kind, value)) = best {
                (expectation.kind, expectation.value) = (kind, value);
            }
            0.0
        }
    }
}

impl Integral {
    pub(crate) fn coarse(ground: Ground<'_>, way: &Way, scale: Scale) -> Self {
        let mut room = <(Field, Sums)>::default();
        let ends: Vec<u16> = scale.ends().collect();
        let pieces = if ends.len() < 2 {
            vec![ground.coarse(way, 0, 0, &mut room)]
        } else {
            ends.windows(2)
                .map(|ends| ground.coarse(way, ends[0], ends[1], &mut room))
                .collect()
        };
        Self {
            last: scale.last(),
            pieces,
            log: 0.0,
        }
        .summed()
    }

    /// Divides the pieces that matter. `behind`: how far (in logarithms) this fault's weight per likelihood is behind the
    /// best weight of all.
    #[must_use]
    pub(crate) fn finer(mut self, ground: Ground<'_>, way: &Way, behind: f64) -> Self {
        let mut room = <(Field, Sums)>::default();
        let last = self.last;
        for piece in &mut self.pieces {
            let whole = piece.parts.len() == 1 && piece.to > piece.from;
            let weight = piece.most + piece.log_width(last);
            if whole && weight + NEGLIGIBLE > behind {
                *piece = ground.fine(way, piece.from, piece.to, behind, &mut room);
            }
        }
        self.summed()
    }

    /// The positions that should be solved too: middles of pieces where interpolation is not sure enough. `factor`: what
    /// the likelihood must be multiplied by to give a chance, as a logarithm.
    pub(crate) fn unsure(&self, ground: Ground<'_>, way: &Way, factor: f64) -> Vec<u16> {
        let mut middles = Vec::new();
        for piece in &self.pieces {
            if piece.to - piece.from < 2 {
                continue;
            }
            let most = piece.most + piece.log_width(self.last);
            if most + factor < WORTH_SOLVING.ln() {
                continue;
            }
            let span = ground.span(way, piece.from, piece.to);
            let unsure = |sudden: bool| {
                span.between
                    .iter()
                    .zip(&ground.body.evidence)
                    .any(|(between, evidence)| {
                        let sure = SURE * evidence.blur(between.value(0.5));
                        between.is_sudden() == sudden
                            && (matches!(between, Between::Step { .. }) || between.error(0.5) > sure)
                    })
            };
            let smooth = piece.log_weight(self.last).max(most + SMOOTH_SHARE.ln());
            let unsure = unsure(true) || (smooth + factor >= WORTH_SOLVING.ln() && unsure(false));
            if unsure {
                middles.push(piece.middle());
            }
        }
        middles
    }

    /// Cuts the pieces at these middles, which have been solved meanwhile.
    #[must_use]
    pub(crate) fn cut(self, ground: Ground<'_>, way: &Way, middles: &[u16], floor: f64) -> Self {
        let mut room = <(Field, Sums)>::default();
        let mut pieces = Vec::with_capacity(self.pieces.len() + middles.len());
        for piece in self.pieces {
            let middle = piece.middle();
            if middles.contains(&middle) {
                pieces.push(ground.fine(way, piece.from, middle, floor, &mut room));
                pieces.push(ground.fine(way, middle, piece.to, floor, &mut room));
            } else {
                pieces.push(piece);
            }
        }
        Self { pieces, ..self }.summed()
    }

    fn summed(mut self) -> Self {
        self.log = log_sum(self.pieces.iter().map(|piece| piece.log_weight(self.last)));
        self
    }

    /// Every part: (position, width in positions, share of the fault's prior as a logarithm, the part).
    pub(crate) fn parts(&self) -> impl Iterator<Item = (f64, f64, f64, &Part)> {
        self.pieces.iter().flat_map(move |piece| {
            let gap = f64::from(piece.to - piece.from);
            let position = move |t: f64| f64::from(piece.from) + t * gap;
            let share = move |part: &Part| piece.log_share(part, self.last);
            piece
                .parts
                .iter()
                .map(move |part| (position(part.t), part.width * gap, share(part), part))
        })
    }
}

impl Piece {
    fn middle(&self) -> u16 {
        self.from + (self.to - self.from) / 2
    }

    /// Logarithm of the share of the fault's prior that it has.
    fn log_width(&self, last: u16) -> f64 {
        if last == 0 {
            0.0
        } else {
            (f64::from(self.to - self.from) / f64::from(last)).ln()
        }
    }

    /// The same of a part.
    pub(crate) fn log_share(&self, part: &Part, last: u16) -> f64 {
        if last == 0 {
            0.0
        } else {
            self.log_width(last) + part.width.ln()
        }
    }

    fn log_weight(&self, last: u16) -> f64 {
        log_sum(self.parts.iter().map(|part| part.log + self.log_share(part, last)))
    }
}

/// ln Σ exp, safe where all are far below 0. −∞ for nothing.
pub(crate) fn log_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return most;
    }
    most + logs.map(|log| (log - most).exp()).sum::<f64>().ln()
}
