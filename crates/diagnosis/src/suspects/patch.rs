//! All readings under two faults at once, between solved severities of each.
//!
//! A reading that only one of the two moves is what that one makes of it. One that both move is what their effects add up
//! to, put right at the corners of the patch, where both together were solved; in between, the correction is bilinear.

use bench::Kind;

use super::integral::{Ground, WIDE, suit};
use super::ways::Way;
use crate::likelihood::{Expectation, Sums};
use crate::model::{Field, Span};
use crate::predictions::{Broken, Cell, Wanted};

/// A correction at the corners that differs by this share of itself is not known better in between.
const CORNER_ERROR: f64 = 0.25;

/// Where both were not solved together, what they add up to is known to this share of the smaller effect.
const UNSOLVED_ERROR: f64 = 0.5;

/// Which of two faults moves a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum MovedBy {
    Neither,
    /// Only the first, or only the second.
    Only(usize),
    Both,
}

impl MovedBy {
    /// By reading, from what each of two faults moves.
    pub(crate) fn each(one: &[bool], other: &[bool]) -> impl Iterator<Item = Self> {
        one.iter().zip(other).map(|moves| match moves {
            (false, false) => Self::Neither,
            (true, false) => Self::Only(0),
            (false, true) => Self::Only(1),
            (true, true) => Self::Both,
        })
    }
}

/// Severities of two faults between solved positions, and which of the two moves each reading there.
#[derive(Clone, Debug)]
pub(crate) struct Region {
    pub(crate) at: Rectangle,
    pub(crate) moved_by: Box<[MovedBy]>,
}

/// Severities of two faults between solved positions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rectangle {
    pub(crate) from: [u16; 2],
    pub(crate) to: [u16; 2],
}

/// Where in a patch: the middle, and the width, each of the patch's 1 by 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place {
    pub(crate) t: [f64; 2],
    pub(crate) width: [f64; 2],
}

/// All readings in a rectangle.
pub(crate) struct Patch<'g> {
    spans: [Span<'g>; 2],
    healthy: Vec<&'g Cell>,
    moved_by: &'g [MovedBy],
    /// Both at the corners: first at its start with the second at its start and end, then first at its end.
    corners: Vec<[&'g Cell; 4]>,
}

/// The corners of a rectangle, as the bench is asked for them.
pub(crate) fn corners(ways: &[Way; 2], at: Rectangle) -> [Wanted; 4] {
    let corner = |one: u16, other: u16| Wanted {
        inside: ways[0].inside,
        broken: Broken::Two([(ways[0].fault, one), (ways[1].fault, other)]),
    };
    [
        corner(at.from[0], at.from[1]),
        corner(at.from[0], at.to[1]),
        corner(at.to[0], at.from[1]),
        corner(at.to[0], at.to[1]),
    ]
}

impl<'g> Patch<'g> {
    /// `solved`: the corners have been asked for; else what both move may be anything.
    pub(crate) fn new(ground: Ground<'g>, ways: &[Way; 2], region: &'g Region, solved: bool) -> Self {
        let at = region.at;
        let span = |which: usize| ground.span(&ways[which], at.from[which], at.to[which]);
        let rows = || ground.body.evidence.iter().map(|evidence| evidence.row);
        let corners = if solved {
            let wanted = corners(ways, at);
            rows()
                .map(|row| wanted.map(|wanted| ground.predictions.cell(row, wanted)))
                .collect()
        } else {
            Vec::new()
        };
        let healthy = Wanted::healthy(ways[0].inside);
        Self {
            spans: [span(0), span(1)],
            healthy: rows().map(|row| ground.predictions.cell(row, healthy)).collect(),
            moved_by: &region.moved_by,
            corners,
        }
    }

    fn shares(&self, reading: usize, t: [f64; 2]) -> [f64; 4] {
        let of = |which: usize| {
            if self.spans[which].between[reading].is_step() {
                f64::from(t[which] >= 0.5)
            } else {
                t[which]
            }
        };
        let (a, b) = (of(0), of(1));
        [(1.0 - a) * (1.0 - b), (1.0 - a) * b, a * (1.0 - b), a * b]
    }

    /// What the effects of both add up to.
    fn added(&self, reading: usize, t: [f64; 2]) -> f64 {
        let of = |which: usize| self.spans[which].between[reading].value(t[which]);
        of(0) + of(1) - self.healthy[reading].value
    }

    /// What has to be added to that at each corner.
    fn corrections(&self, reading: usize) -> [f64; 4] {
        let Some(cells) = self.corners.get(reading) else {
            return [0.0; 4];
        };
        let at = [[0.0, 0.0], [0.0, 1.0], [1.0, 0.0], [1.0, 1.0]];
        let mut corrections = [0.0; 4];
        for ((correction, cell), t) in corrections.iter_mut().zip(cells).zip(at) {
            *correction = cell.value - self.added(reading, t);
        }
        corrections
    }

    fn nearest(&self, reading: usize, t: [f64; 2]) -> Option<&'g Cell> {
        let at = 2 * usize::from(t[0] >= 0.5) + usize::from(t[1] >= 0.5);
        self.corners.get(reading).map(|cells| cells[at])
    }

    /// What a reading should be at `t`, instrument left out.
    fn expectation(&self, reading: usize, t: [f64; 2]) -> Expectation {
        let healthy = Expectation::of(self.healthy[reading]);
        match self.moved_by[reading] {
            MovedBy::Neither => healthy,
            MovedBy::Only(which) => {
                let span = &self.spans[which];
                let end = span.ends[usize::from(t[which] >= 0.5)][reading];
                Expectation {
                    kind: span.between[reading].kind(t[which]),
                    value: span.between[reading].value(t[which]),
                    ghost_volts: end.ghost_volts,
                }
            }
            MovedBy::Both => {
                let corrections = self.corrections(reading);
                let shares = self.shares(reading, t);
                let correction: f64 = shares.iter().zip(corrections).map(|(share, by)| share * by).sum();
                let nearest = self.nearest(reading, t);
                Expectation {
                    kind: nearest.map_or(Kind::Number, |cell| cell.kind),
                    value: self.added(reading, t) + correction,
                    ghost_volts: nearest.map_or((0.0, 0.0), |cell| cell.ghost_volts),
                }
            }
        }
    }

    /// How far the true value may be from that, one standard deviation, roughly.
    fn error(&self, reading: usize, t: [f64; 2]) -> f64 {
        let of = |which: usize| self.spans[which].between[reading].error(t[which]);
        match self.moved_by[reading] {
            MovedBy::Neither => 0.0,
            MovedBy::Only(which) => of(which),
            MovedBy::Both => of(0) + of(1) + self.corner_error(reading, t),
        }
    }

    /// How far what the effects of both add up to may be from what both together give, corners counted in.
    fn corner_error(&self, reading: usize, t: [f64; 2]) -> f64 {
        if self.corners.is_empty() {
            let off =
                |which: usize| (self.spans[which].between[reading].value(t[which]) - self.healthy[reading].value).abs();
            return UNSOLVED_ERROR * off(0).min(off(1));
        }
        let corrections = self.corrections(reading);
        let most = corrections.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = corrections.iter().copied().fold(f64::INFINITY, f64::min);
        CORNER_ERROR * (most - least)
    }

    /// What all readings should be at a place, severities being spread evenly over its width.
    pub(crate) fn expect(&self, ground: Ground<'g>, at: &Place, field: &mut Field) {
        let p = ground.params.ids.len();
        field.begin(ground.body, p);
        for (i, evidence) in ground.body.evidence.iter().enumerate() {
            field.expected.readings.push(self.expectation(i, at.t));
            let row = &mut field.by_param[i * p..(i + 1) * p];
            match self.moved_by[i] {
                MovedBy::Neither => ground.params.add(evidence, self.healthy[i], 1.0, row),
                MovedBy::Only(which) => {
                    let t = if self.spans[which].between[i].is_step() {
                        f64::from(at.t[which] >= 0.5)
                    } else {
                        at.t[which]
                    };
                    let ends = &self.spans[which].ends;
                    ground.params.add(evidence, ends[0][i], 1.0 - t, row);
                    ground.params.add(evidence, ends[1][i], t, row);
                }
                MovedBy::Both => {
                    if let Some(cells) = self.corners.get(i) {
                        for (cell, share) in cells.iter().zip(self.shares(i, at.t)) {
                            ground.params.add(evidence, cell, share, row);
                        }
                    } else {
                        ground.params.add(evidence, self.healthy[i], 1.0, row);
                    }
                }
            }
            let step = |which: usize| {
                let (mut low, mut high) = (at.t, at.t);
                low[which] -= 0.5 * at.width[which];
                high[which] += 0.5 * at.width[which];
                let step = (self.expectation(i, high).value - self.expectation(i, low).value) / 12_f64.sqrt();
                if at.width[which] > 0.0 && step.is_finite() {
                    step
                } else {
                    0.0
                }
            };
            field.steps.push(step(0));
            field.more_steps.push(step(1));
        }
        let steps = [field.steps.as_slice(), field.more_steps.as_slice()];
        ground
            .params
            .tie_together(ground.body, &field.by_param, steps, &mut field.expected);
        let n = ground.body.len();
        for i in 0..n {
            field.expected.covariance[i * n + i] += self.error(i, at.t).powi(2);
        }
    }

    /// Which of the two severities moves a reading too much within a place for it to be one step.
    pub(crate) fn is_wide(ground: Ground<'_>, field: &Field) -> [bool; 2] {
        let n = ground.body.len();
        let mut wide = [false; 2];
        for (i, evidence) in ground.body.evidence.iter().enumerate() {
            let own = evidence.own(field.expected.readings[i].value);
            let steps = [field.steps[i], field.more_steps[i]].map(|step| step * step);
            let rest = (field.expected.covariance[i * n + i] - steps[0] - steps[1]).max(0.0) + own * own;
            for (wide, step) in wide.iter_mut().zip(steps) {
                *wide |= step > WIDE * WIDE * rest;
            }
        }
        wide
    }

    /// What the logarithm of the likelihood may at most be anywhere within a place: every reading may be met wherever its
    /// range allows, whatever the others need.
    pub(crate) fn most(&self, ground: Ground<'g>, at: &Place, room: &mut (Field, Sums)) -> f64 {
        let (field, sums) = room;
        let middle = Place { width: [0.0; 2], ..*at };
        self.expect(ground, &middle, field);
        let n = ground.body.len();
        let expected = &mut field.expected;
        for (i, evidence) in ground.body.evidence.iter().enumerate() {
            let error = self.error(i, at.t);
            expected.covariance[i * n + i] = (expected.covariance[i * n + i] - error * error).max(0.0);
            let span_range = |which: usize| {
                let half = 0.5 * at.width[which];
                self.spans[which].between[i].range(at.t[which] - half, at.t[which] + half)
            };
            let kinds_of = |which: usize| [0, 1].map(|end: usize| self.spans[which].ends[end][i].kind);
            let expectation = &mut expected.readings[i];
            let free = match self.moved_by[i] {
                MovedBy::Neither => 0.0,
                MovedBy::Only(which) => {
                    let values = [0, 1].map(|end: usize| self.spans[which].ends[end][i].value);
                    suit(
                        evidence,
                        kinds_of(which),
                        span_range(which),
                        values.into_iter(),
                        expectation,
                    )
                }
                MovedBy::Both => {
                    let (one, other) = (span_range(0), span_range(1));
                    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
                    let mut kinds = [Kind::Number, Kind::OverRange];
                    let mut values = Vec::new();
                    if let Some(cells) = self.corners.get(i) {
                        let corrections = self.corrections(i);
                        let ends = corrections
                            .iter()
                            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), by| {
                                (low.min(*by), high.max(*by))
                            });
                        let healthy = self.healthy[i].value;
                        (low, high) = (one.0 + other.0 - healthy + ends.0, one.1 + other.1 - healthy + ends.1);
                        kinds = [cells[0].kind, cells[3].kind];
                        if let Some(differs) = cells.iter().find(|cell| cell.kind != kinds[0]) {
                            kinds[1] = differs.kind;
                        }
                        values.extend(cells.iter().map(|cell| cell.value));
                    } else {
                        let all = (0..2).flat_map(|which| self.spans[which].ends.iter().map(|end| end[i].value));
                        values.extend(all);
                        (low, high) = (low.max(-1e3), high.min(1e3));
                    }
                    suit(evidence, kinds, (low, high), values.into_iter(), expectation)
                }
            };
            expected.freedom.push(free);
        }
        sums.weigh(ground.body, expected, ground.order, 0.0, false)
    }

    /// Whether the answers between the solved severities are unsure for a reading's instrument, by fault; and whether it is
    /// one that both move.
    pub(crate) fn unsure(&self, ground: Ground<'_>, sure: f64) -> ([bool; 2], bool) {
        let mut unsure = [false; 2];
        let mut together = false;
        for (i, evidence) in ground.body.evidence.iter().enumerate() {
            let limit = sure * evidence.blur(self.healthy[i].value);
            let of = |which: usize| {
                let between = &self.spans[which].between[i];
                between.is_step() || between.error(0.5) > limit
            };
            match self.moved_by[i] {
                MovedBy::Neither => {}
                MovedBy::Only(which) => unsure[which] |= of(which),
                MovedBy::Both => {
                    together |= self.error(i, [0.5; 2]) > limit;
                    unsure[0] |= of(0);
                    unsure[1] |= of(1);
                }
            }
        }
        (unsure, together)
    }
}
