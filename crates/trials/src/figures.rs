//! Records summed up.

use crate::search::{Ended, Record};

/// From this chance on a repair that is named is named for certain.
const CERTAIN: f64 = 0.95;

/// What came out of some searches.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Figures {
    /// Searches.
    pub jobs: usize,
    /// Ended by naming a repair.
    pub named: usize,
    /// Ended by saying it is outside the circuit.
    pub outside: usize,
    /// Repairing cost less than measuring on.
    pub repair_first: usize,
    /// Nothing safe left that tells anything.
    pub cannot_tell: usize,
    /// Too many readings.
    pub too_long: usize,
    /// What led at the end was right: the repair needed, or outside.
    pub right: usize,
    /// The true fault was in the first group of look-alikes.
    pub group_right: usize,
    /// Named with more than 95 %.
    pub certain: usize,
    /// Of these, wrong.
    pub certain_wrong: usize,
    /// Searches with a test that would harm, proposed as safe or done.
    pub harmful: usize,
    /// Means a search.
    pub minutes: f64,
    /// Mean readings.
    pub readings: f64,
    /// Mean cost until proven repaired.
    pub cost: f64,
    /// Mean of what no search can beat: the repair needed, known from the start.
    pub least: f64,
    /// Mean readings until it was said to be outside, where it was said.
    pub readings_until_outside: Option<f64>,
}

impl Figures {
    /// Of these records.
    pub fn of<'r>(records: impl IntoIterator<Item = &'r Record>) -> Self {
        let mut sum = Self::default();
        let mut until_outside = 0;
        for record in records {
            let certain = record.ended == Ended::Named && record.chance > CERTAIN;
            sum.jobs += 1;
            sum.named += usize::from(record.ended == Ended::Named);
            sum.outside += usize::from(record.ended == Ended::Outside);
            sum.repair_first += usize::from(record.ended == Ended::RepairFirst);
            sum.cannot_tell += usize::from(record.ended == Ended::CannotTell);
            sum.too_long += usize::from(record.ended == Ended::TooLong);
            sum.right += usize::from(record.right);
            sum.group_right += usize::from(record.group_right);
            sum.certain += usize::from(certain);
            sum.certain_wrong += usize::from(certain && !record.right);
            sum.harmful += usize::from(!record.harms.is_empty());
            sum.minutes += record.minutes;
            sum.readings += record.readings.len() as f64;
            sum.cost += record.cost;
            sum.least += record.least;
            if record.ended == Ended::Outside {
                until_outside += record.readings.len();
            }
        }
        let mean = |of: f64| if sum.jobs == 0 { 0.0 } else { of / sum.jobs as f64 };
        Self {
            minutes: mean(sum.minutes),
            readings: mean(sum.readings),
            cost: mean(sum.cost),
            least: mean(sum.least),
            readings_until_outside: (sum.outside > 0).then(|| until_outside as f64 / sum.outside as f64),
            ..sum
        }
    }
}
