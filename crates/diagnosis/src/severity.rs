//! A fault's severity as positions on a scale, and answers between the positions that were solved.
//!
//! The scale has a few cells, each [`FINEST`] positions wide; ends of cells are solved, positions between them where the
//! readings make it worth while. Between solved positions a cubic through values and slopes is used (Hermite, with the
//! slopes limited as in Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980, so that it never overshoots; from memory),
//! over the logarithm of the value where that changes manyfold. Converters that end their range, fuses, relays and
//! regulators make kinks and jumps that no cubic follows; ends that do not fit one smooth curve betray them, and the error
//! is stated accordingly.

use bench::Kind;
use circuit::Fault;

use crate::predictions::Cell;

/// Positions a cell.
pub(crate) const FINEST: u16 = 32;
/// Fewest and most cells of a scale, and cells a decade.
const FEWEST: f64 = 3.0;
const MOST: f64 = 8.0;
const PER_DECADE: f64 = 0.8;
/// Cells of a scale that is not logarithmic.
const LINEAR: f64 = 4.0;
/// The error of a cubic is taken as this share of its distance from the straight line where that bends softly …
const CUBIC_ERROR: f64 = 0.1;
/// … and up to all of it where the slopes at the ends differ by more than `1 + HARD` times the step: a kink between.
const HARD: f64 = 2.0;
/// Where there must be a kink or a jump (flat at an end and yet a step, or steeper at an end than a curve through both
/// could be), it may be anywhere: the error is this share of the step.
const SUDDEN_ERROR: f64 = 0.25;
/// A curve flatter at both ends than this share of the step jumps between them.
const FLAT: f64 = 0.25;
/// A slope against the step turns within: the cubic's turn is 4/27 of it high.
const TURN: f64 = 4.0 / 27.0;
/// Where no slope is known the error is this share of the step.
const LINE_ERROR: f64 = 0.03;

/// The scale of a fault's severity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    low: f64,
    high: f64,
    logarithmic: bool,
    /// 0 if the fault has no severity.
    cells: u16,
}

impl Scale {
    pub(crate) fn of(fault: &Fault) -> Self {
        let Some(severity) = fault
            .severity
            .filter(|range| range.high > range.low && range.high.is_finite())
        else {
            let only = fault.severity.map_or(0.0, |range| range.low);
            return Self {
                low: only,
                high: only,
                logarithmic: false,
                cells: 0,
            };
        };
        let logarithmic = severity.logarithmic && severity.low > 0.0;
        let cells = if logarithmic {
            ((severity.high / severity.low).log10() * PER_DECADE)
                .ceil()
                .clamp(FEWEST, MOST)
        } else {
            LINEAR
        };
        Self {
            low: severity.low,
            high: severity.high,
            logarithmic,
            cells: cells as u16,
        }
    }

    /// The last position; the first is 0.
    pub(crate) fn last(&self) -> u16 {
        self.cells * FINEST
    }

    /// The positions solved at first: the ends of the cells.
    pub(crate) fn ends(&self) -> impl Iterator<Item = u16> + use<> {
        (0..=self.cells).map(|cell| cell * FINEST)
    }

    /// Severity at a position, in the fault's unit.
    pub(crate) fn severity(&self, position: f64) -> f64 {
        if self.cells == 0 {
            return self.low;
        }
        let share = position / f64::from(self.last());
        if self.logarithmic {
            self.low * (self.high / self.low).powf(share)
        } else {
            self.low + (self.high - self.low) * share
        }
    }

    /// Position of a severity, in the fault's unit, within the scale; `None` if there is no scale.
    pub(crate) fn position(&self, severity: f64) -> Option<f64> {
        if self.cells == 0 {
            return None;
        }
        let share = if self.logarithmic {
            (severity.max(f64::MIN_POSITIVE) / self.low).ln() / (self.high / self.low).ln()
        } else {
            (severity - self.low) / (self.high - self.low)
        };
        Some(share.clamp(0.0, 1.0) * f64::from(self.last()))
    }

    /// What a position is worth in what severity derivatives are by: its logarithm or itself.
    pub(crate) fn per_position(&self) -> f64 {
        let whole = if self.logarithmic {
            (self.high / self.low).ln()
        } else {
            self.high - self.low
        };
        if self.cells == 0 {
            0.0
        } else {
            whole / f64::from(self.last())
        }
    }
}

/// What an instrument shows between two solved positions. `t` runs from 0 to 1.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Between {
    /// One kind at both ends: `y = cubic(t)`; the value is `y`, or `±exp(y)` if over the logarithm.
    Cubic {
        /// The kind at both ends.
        kind: Kind,
        /// Values at the ends.
        y: [f64; 2],
        /// Slopes at the ends, by t.
        m: [f64; 2],
        /// 0 if `y` is the value, else the sign of the value whose logarithm `y` is.
        sign: f64,
        /// Standard deviation of y around the cubic, roughly.
        error: f64,
        /// How far y may leave the interval between its ends.
        beyond: f64,
        /// There is a kink or a jump between.
        sudden: bool,
    },
    /// The kind changes: each end counts for its half.
    Step {
        /// Kind, value and slope by t at each end.
        ends: [(Kind, f64, f64); 2],
    },
}

impl Between {
    /// Between two cells that are `gap` positions apart; `gap` 0 for a fault without severity.
    pub(crate) fn new(a: &Cell, b: &Cell, gap: f64) -> Self {
        let slope = |cell: &Cell| cell.slope.map(|slope| slope * gap);
        if a.kind != b.kind {
            let end = |cell: &Cell| (cell.kind, cell.value, slope(cell).unwrap_or(0.0));
            return Self::Step { ends: [end(a), end(b)] };
        }
        let (va, vb) = (a.value, b.value);
        let manyfold = va * vb > 0.0 && (va / vb > 2.0 || vb / va > 2.0);
        let sloped = a.slope.is_some() && b.slope.is_some();
        let (y, mut m, sign) = if manyfold {
            let by = |cell: &Cell| slope(cell).map_or(f64::NAN, |slope| slope / cell.value);
            ([va.abs().ln(), vb.abs().ln()], [by(a), by(b)], va.signum())
        } else {
            (
                [va, vb],
                [slope(a).unwrap_or(f64::NAN), slope(b).unwrap_or(f64::NAN)],
                0.0,
            )
        };
        let step = y[1] - y[0];
        let (error, beyond, sudden) = if sloped {
            Self::doubt(step, m)
        } else {
            (LINE_ERROR * step.abs(), 0.0, false)
        };
        for slope in &mut m {
            // Limited to three times the step, and flat against it: the cubic then stays between its ends.
            *slope = if !sloped {
                step
            } else if *slope * step <= 0.0 {
                0.0
            } else {
                slope.signum() * slope.abs().min(3.0 * step.abs())
            };
        }
        Self::Cubic {
            kind: a.kind,
            y,
            m,
            sign,
            error,
            beyond,
            sudden,
        }
    }

    /// Error of the cubic, how far the curve may leave its ends, and whether it is no cubic at all, from the step between
    /// the ends and the slopes there.
    fn doubt(step: f64, m: [f64; 2]) -> (f64, f64, bool) {
        let size = step.abs();
        let turn = m
            .iter()
            .filter(|slope| *slope * step < 0.0)
            .fold(0.0_f64, |most, slope| most.max(TURN * slope.abs()));
        // What rounding leaves of a flat curve is no jump.
        if size <= 1e-9 {
            let bow = TURN * m[0].abs().max(m[1].abs());
            return (bow, bow, false);
        }
        let steep = m.map(|slope| slope.abs() / size);
        let flat_end = steep[0].min(steep[1]) < 1e-9;
        let sudden = flat_end || steep[0].max(steep[1]) > 3.0 || steep[0].max(steep[1]) < FLAT;
        let bend = (m[0] - m[1]).abs() / 8.0;
        let hard = ((m[0] - m[1]).abs() / size - 1.0).clamp(0.0, HARD) / HARD;
        let error = bend * (CUBIC_ERROR + (1.0 - CUBIC_ERROR) * hard);
        (error.min(SUDDEN_ERROR * size) + turn, turn, sudden)
    }

    pub(crate) fn kind(&self, t: f64) -> Kind {
        match self {
            Self::Cubic { kind, .. } => *kind,
            Self::Step { ends } => ends[usize::from(t >= 0.5)].0,
        }
    }

    pub(crate) fn is_step(&self) -> bool {
        matches!(self, Self::Step { .. })
    }

    pub(crate) fn value(&self, t: f64) -> f64 {
        match *self {
            Self::Cubic { y, m, sign, .. } => {
                let (t2, t3) = (t * t, t * t * t);
                let at = y[0] * (2.0 * t3 - 3.0 * t2 + 1.0)
                    + y[1] * (3.0 * t2 - 2.0 * t3)
                    + m[0] * (t3 - 2.0 * t2 + t)
                    + m[1] * (t3 - t2);
                if sign == 0.0 { at } else { sign * at.exp() }
            }
            Self::Step { ends } if t < 0.5 => ends[0].1 + ends[0].2 * t,
            Self::Step { ends } => ends[1].1 - ends[1].2 * (1.0 - t),
        }
    }

    /// How far the true value may be from [`value`](Self::value) at `t`, one standard deviation, roughly.
    pub(crate) fn error(&self, t: f64) -> f64 {
        match *self {
            Self::Cubic { sudden: true, .. } => {
                SUDDEN_ERROR * (self.value(1.0) - self.value(0.0)).abs() + self.beyond()
            }
            Self::Cubic { sign: 0.0, error, .. } => error,
            Self::Cubic { error, .. } => error * self.value(t).abs(),
            Self::Step { .. } => 0.0,
        }
    }

    /// Whether the answer jumps or has a kink somewhere between.
    pub(crate) fn is_sudden(&self) -> bool {
        matches!(self, Self::Step { .. } | Self::Cubic { sudden: true, .. })
    }

    /// Least and most of the true value between `from` and `to`. It moves one way between the ends, or turns as far as its
    /// slopes there say; where it is sudden, any part may hold all of the step.
    pub(crate) fn range(&self, from: f64, to: f64) -> (f64, f64) {
        let ordered = |a: f64, b: f64| (a.min(b), a.max(b));
        if let Self::Cubic { sudden: true, .. } = *self {
            let (low, high) = ordered(self.value(0.0), self.value(1.0));
            let beyond = self.beyond();
            return (low - beyond, high + beyond);
        }
        let (low, high) = ordered(self.value(from), self.value(to));
        let within = if to - from < 1.0 {
            2.0 * self.error(0.5 * (from + to))
        } else {
            0.0
        };
        let room = self.beyond() + within;
        (low - room, high + room)
    }

    fn beyond(&self) -> f64 {
        match *self {
            Self::Cubic { sign: 0.0, beyond, .. } => beyond,
            Self::Cubic { beyond, .. } => beyond * self.value(0.0).abs().max(self.value(1.0).abs()),
            Self::Step { .. } => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fake::fault;
    use circuit::Severity;

    fn cell(value: f64, slope: f64) -> Cell {
        Cell {
            kind: Kind::Number,
            value,
            slope: Some(slope),
            second_slope: None,
            ghost_volts: (0.0, 0.0),
            by_param: Vec::new(),
        }
    }

    #[test]
    fn a_scale_runs_from_its_least_to_its_most() {
        let mut broken = fault("a", 1.0);
        broken.severity = Some(Severity {
            unit: quantity::Unit::Ohm,
            low: 0.1,
            high: 1e5,
            logarithmic: true,
        });
        let scale = Scale::of(&broken);
        assert!((scale.severity(0.0) - 0.1).abs() < 1e-12);
        assert!((scale.severity(f64::from(scale.last())) / 1e5 - 1.0).abs() < 1e-12);
        assert!((scale.per_position() * f64::from(scale.last()) - 1e6_f64.ln()).abs() < 1e-9);
    }

    #[test]
    fn the_cubic_follows_a_divider_better_than_its_stated_error_suggests() {
        // 12 V behind 1 kΩ, a leak of s to ground: v = 12 s / (s + 1000), by ln s: 12 · 1000 s / (s + 1000)².
        let v = |s: f64| 12.0 * s / (s + 1000.0);
        let dv = |s: f64| 12.0 * 1000.0 * s / (s + 1000.0).powi(2);
        let (a, b) = (400.0_f64, 2000.0_f64);
        let per = (b / a).ln() / 16.0;
        let between = Between::new(&cell(v(a), dv(a) * per), &cell(v(b), dv(b) * per), 16.0);
        for t in [0.25, 0.5, 0.75] {
            let s = a * (b / a).powf(t);
            assert!(
                (between.value(t) - v(s)).abs() < 0.05,
                "{t}: {} {}",
                between.value(t),
                v(s)
            );
        }
    }

    #[test]
    fn the_cubic_stays_between_its_ends_whatever_the_slopes() {
        let between = Between::new(&cell(1.0, 5.0), &cell(1.5, -40.0), 16.0);
        for k in 0..=20 {
            let value = between.value(f64::from(k) / 20.0);
            assert!((1.0..=1.5).contains(&value), "{value}");
        }
    }

    #[test]
    fn where_the_kind_changes_each_end_counts_for_its_half() {
        let mut open = cell(0.0, 0.0);
        open.kind = Kind::OverRange;
        let between = Between::new(&cell(1e6, 1e5), &open, 16.0);
        assert_eq!(between.kind(0.4), Kind::Number);
        assert_eq!(between.kind(0.6), Kind::OverRange);
    }
}
