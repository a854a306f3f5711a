//! How well a cause at one severity explains all readings together.
//!
//! What the readings should be is jointly normal: parameters move several of them at once, and so does the meter's gain.
//! One reading after the other is compared with what it should be given those before it, mixed with the chance that it
//! is plain wrong; a reading that looks wrong moves the expectations for the rest as little as it is trusted (the
//! mixture is brought back to one normal after every step: assumed-density filtering). Limits: first order in the
//! parameters; readings that are no numbers are judged by the expectations and do not move them.

mod shown;
#[cfg(test)]
mod tests;

use bench::Kind;

use crate::evidence::{Body, Evidence, number};
use crate::predictions::Cell;
use shown::Density;
pub use shown::{GHOST_RESTS, GHOST_VOLTS};
pub(crate) use shown::{below, category, density, elsewhere, slip, went};

/// A reading repeated is wrong again with this chance if it was wrong: the same cavity, the same lead. Common practice,
/// no source.
pub const WRONG_AGAIN: f64 = 0.7;
/// Something elsewhere that disturbs a test disturbs it again.
pub const ELSEWHERE_AGAIN: f64 = 0.95;
/// Share of the old wrong value when a wrong reading is repeated and wrong again.
pub const SAME_WRONG: f64 = 0.8;

/// Chance that a fault that comes and goes stays as it is from one reading to the next while nothing changes, beside what
/// chance alone gives. Common practice, no source.
const STAYS: f64 = 0.8;

/// Chance that a fault that comes and goes is there at a reading, `was` being the chance that it was there at the one
/// before, if the same was done then.
pub(crate) fn there_next(chance: f64, was: Option<f64>) -> f64 {
    was.map_or(chance, |was| STAYS * was + (1.0 - STAYS) * chance)
}

/// What one reading should be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Expectation {
    pub(crate) kind: Kind,
    pub(crate) value: f64,
    pub(crate) ghost_volts: (f64, f64),
}

impl Expectation {
    pub(crate) fn of(cell: &Cell) -> Self {
        Self {
            kind: cell.kind,
            value: cell.value,
            ghost_volts: cell.ghost_volts,
        }
    }
}

/// What a reading should be otherwise: a fault that comes and goes was there instead of absent, or absent instead.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Other {
    /// What is expected in the first place is what the fault gives; the other is its absence.
    pub(crate) is_there: bool,
    /// Chance that the fault is there, nothing being known of the reading before.
    pub(crate) there: f64,
    pub(crate) expectation: Expectation,
    /// Its value less that of what is expected in the first place, and its variance less that.
    pub(crate) off: f64,
    pub(crate) more_variance: f64,
}

/// What all readings should be under one cause at one severity.
#[derive(Clone, Debug, Default)]
pub(crate) struct Expected {
    pub(crate) readings: Vec<Expectation>,
    /// By reading, where it may be otherwise; shorter than the readings where none of the rest may.
    pub(crate) others: Vec<Option<Other>>,
    /// Covariance of what the readings should be, n × n, without what each adds alone.
    pub(crate) covariance: Vec<f64>,
    /// For an upper bound: how far each expectation may still be moved to suit all readings, at no cost. Empty for none.
    pub(crate) freedom: Vec<f64>,
}

/// A step's trace, of use when the parameters' share of it is wanted.
#[derive(Clone, Debug, Default)]
pub(crate) struct Step {
    /// Logarithm of the density (or chance) of the reading given those before.
    pub(crate) log: f64,
    /// Chance that it is wrong, given those before and itself.
    pub(crate) wrong: f64,
    /// Chance that something elsewhere disturbed it.
    pub(crate) elsewhere: f64,
    /// Chance that a fault that comes and goes was there.
    pub(crate) there: f64,
    /// Weight of this step's update of means, and of covariances.
    pub(crate) gain: f64,
    pub(crate) shrink: f64,
}

/// Room for the sums, used again from one severity to the next.
#[derive(Debug, Default)]
pub(crate) struct Sums {
    /// By reading.
    pub(crate) steps: Vec<Step>,
    /// Columns of the covariance as they stood at each step, n a step.
    columns: Vec<f64>,
    /// The same columns as combinations of readings: n a step; only kept when asked for.
    pub(crate) combinations: Vec<f64>,
}

impl Expected {
    /// Whether absence of the fault is what this reading is compared with in the first place.
    pub(crate) fn is_other(&self, reading: usize) -> bool {
        matches!(self.others.get(reading), Some(Some(other)) if !other.is_there)
    }
}

impl Sums {
    /// Weighs all readings in `order` and returns the logarithm of their joint density. `elsewhere`: chance that a
    /// reading is anything at all, for causes outside the circuit. With `combining`, also keeps the combinations.
    pub(crate) fn weigh(
        &mut self,
        body: &Body,
        expected: &Expected,
        order: &[usize],
        elsewhere: f64,
        combining: bool,
    ) -> f64 {
        let n = body.len();
        self.steps.clear();
        self.steps.resize(n, Step::default());
        self.columns.clear();
        self.columns.resize(n * n, 0.0);
        if combining {
            self.combinations.clear();
            self.combinations.resize(n * n, 0.0);
        }
        let mut total = 0.0;
        // The reading before, where the fault comes and goes, and the chance that it was there then.
        let mut last: Option<(&Evidence, f64)> = None;
        for (at, &k) in order.iter().enumerate() {
            let evidence = &body.evidence[k];
            let earlier = &order[..at];
            // The covariance's column for this reading as it now stands, and its mean.
            let mut mean = expected.readings[k].value;
            for i in 0..n {
                self.columns[k * n + i] = expected.covariance[i * n + k];
            }
            if combining {
                self.combinations[k * n + k] = 1.0;
            }
            for &j in earlier {
                let (gain, shrink) = (self.steps[j].gain, self.steps[j].shrink);
                let tie = self.columns[j * n + k];
                if tie == 0.0 {
                    continue;
                }
                mean += gain * tie;
                let by = shrink * tie;
                for i in 0..n {
                    self.columns[k * n + i] -= by * self.columns[j * n + i];
                }
                if combining {
                    for i in 0..n {
                        self.combinations[k * n + i] -= by * self.combinations[j * n + i];
                    }
                }
            }
            let variance = self.columns[k * n + k].max(0.0);
            let before = earlier
                .iter()
                .rev()
                .copied()
                .find(|&j| body.evidence[j].test == evidence.test);
            let before = before.map(|j| (&body.evidence[j], self.steps[j].wrong, self.steps[j].elsewhere));
            let expectation = Expectation {
                value: mean,
                ..expected.readings[k]
            };
            let freedom = expected.freedom.get(k).copied().unwrap_or(0.0);
            let other = expected.others.get(k).copied().flatten().map(|other| {
                let same = last.filter(|last| last.0.at.provoked == evidence.at.provoked);
                let there = there_next(other.there, same.map(|same| same.1));
                Other { there, ..other }
            });
            self.steps[k] = step(
                evidence,
                &expectation,
                variance,
                freedom,
                before,
                elsewhere,
                other.as_ref(),
            );
            last = other.map(|_| (evidence, self.steps[k].there));
            total += self.steps[k].log;
        }
        total
    }
}

/// Compares one reading with what it should be.
fn step(
    evidence: &Evidence,
    expectation: &Expectation,
    variance: f64,
    freedom: f64,
    before: Option<(&Evidence, f64, f64)>,
    elsewhere_chance: f64,
    other: Option<&Other>,
) -> Step {
    // At an end the most is had without the freedom: the expectation is then as far beyond as it may be.
    let freedom = if evidence.sense.end(&evidence.shown).is_some() {
        0.0
    } else {
        freedom
    };
    let (kept, variance) = (variance, variance + freedom * freedom);
    let Density {
        mut narrow,
        mut loose,
        gain,
        shrink,
    } = density(evidence, expectation, variance);
    let mut there = 1.0;
    if let Some(other) = other {
        let otherwise = Expectation {
            value: expectation.value + other.off,
            ..other.expectation
        };
        let as_other = density(evidence, &otherwise, (variance + other.more_variance).max(0.0));
        let main = if other.is_there { other.there } else { 1.0 - other.there };
        let mut as_other = as_other.all();
        let if_there = if other.is_there { expectation } else { &otherwise };
        if let Some(chance) = went(&evidence.sense, &evidence.shown, if_there) {
            let absent = if other.is_there { &mut as_other } else { &mut loose };
            *absent = chance;
        }
        let (as_main, as_other) = (main * (narrow + loose), (1.0 - main) * as_other);
        let share = as_main / (as_main + as_other).max(f64::MIN_POSITIVE);
        there = if other.is_there { share } else { 1.0 - share };
        narrow *= main;
        loose = main * loose + as_other;
    }
    if freedom > 0.0 {
        let own = evidence.own_sd * evidence.own_sd;
        narrow *= ((variance + own) / (kept + own).max(1e-18)).sqrt();
    }
    let mut wrong = evidence.sense.wrong();
    // What is wrong with this vehicle disturbs no other.
    let mut outside = if evidence.at.of_twin { 0.0 } else { elsewhere_chance };
    let mut as_slip = slip(&evidence.sense, &evidence.shown);
    let mut as_elsewhere = elsewhere(&evidence.sense, &evidence.shown);
    if let Some((earlier, was_wrong, was_elsewhere)) = before {
        let same = same_again(evidence, earlier);
        let again = was_wrong * WRONG_AGAIN;
        wrong = again + (1.0 - was_wrong) * wrong;
        let share = again / wrong * SAME_WRONG;
        as_slip = share * same + (1.0 - share) * as_slip;
        let again = was_elsewhere * ELSEWHERE_AGAIN;
        outside = again + (1.0 - was_elsewhere) * outside;
        let share = if outside > 0.0 { again / outside } else { 0.0 };
        as_elsewhere = share * same + (1.0 - share) * as_elsewhere;
    }
    let right = (1.0 - wrong) * (1.0 - outside);
    let by_slip = wrong * as_slip;
    let by_elsewhere = (1.0 - wrong) * outside * as_elsewhere;
    let density = right * (narrow + loose) + by_slip + by_elsewhere;
    let trusted = right * narrow / density;
    // The mixture's variance; never more than before the reading.
    let (gain, shrink) = (trusted * gain, trusted * (shrink - (1.0 - trusted) * gain * gain));
    Step {
        log: density.ln(),
        wrong: by_slip / density,
        elsewhere: by_elsewhere / density,
        there,
        gain,
        shrink: shrink.max(0.0),
    }
}

/// Density (or chance) of showing this, given that the same test showed `earlier` and is repeated under the same mishap.
fn same_again(evidence: &Evidence, earlier: &Evidence) -> f64 {
    let end = |one: &Evidence| one.sense.end(&one.shown);
    match (number(&evidence.shown), number(&earlier.shown)) {
        (Some(_), Some(_)) if end(evidence).is_some() || end(earlier).is_some() => {
            if end(evidence) == end(earlier) {
                0.9
            } else {
                0.05 * elsewhere(&evidence.sense, &evidence.shown)
            }
        }
        (Some((now, _)), Some((then, _))) => {
            let sd = (evidence.sd + earlier.sd).max(0.01 * then.abs()).max(1e-9);
            shown::normal(now - then, sd * sd)
        }
        (None, None) if evidence.shown == earlier.shown => 0.9,
        _ => 0.05 * elsewhere(&evidence.sense, &evidence.shown),
    }
}
