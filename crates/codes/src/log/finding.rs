//! What a sound vehicle and a sound tool would not log. Each finding has its figures; limits are common practice, no source.

use super::known::{Known, Recognised};
use super::{Log, Sample, Series};
use crate::scan::{Formula, Pace};

/// Something odd in a log.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Position of the series in the log; `None` for the whole log.
    pub series: Option<usize>,
    /// What it is.
    pub what: What,
}

/// What is odd. Times are those of [`Sample::at_s`]; values are in the series' unit.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// At an end of the range that can be shown, so that the true value is there or beyond it.
    AtEnd {
        /// The high end, else the low one.
        high: bool,
        /// The value shown.
        value: f64,
        /// Samples at this end, and of how many.
        samples: usize,
        /// All samples.
        of: usize,
        /// The first sample there.
        from_s: f64,
        /// The last sample there.
        to_s: f64,
    },
    /// Beyond the ends of the range that can be shown: not this value, in another unit, or misread.
    Beyond {
        /// Least and most that can be shown.
        ends: (f64, f64),
        /// The value that lies furthest beyond.
        value: f64,
        /// Samples beyond, and of how many.
        samples: usize,
        /// All samples.
        of: usize,
        /// The first sample beyond.
        from_s: f64,
        /// The last sample beyond.
        to_s: f64,
    },
    /// The very same value for long, while others that hang together with it moved.
    Frozen {
        /// The value shown.
        value: f64,
        /// Samples in the run.
        samples: usize,
        /// The first of them.
        from_s: f64,
        /// The last of them.
        to_s: f64,
        /// Names of those that moved.
        while_moved: Vec<String>,
    },
    /// Samples are missing.
    Missing {
        /// About how many.
        samples: usize,
        /// Usual seconds from one to the next.
        every_s: f64,
        /// Where the longest gap begins.
        from_s: f64,
        /// Where it ends.
        to_s: f64,
    },
    /// A change faster than the thing can change.
    Jump {
        /// Value before.
        from: f64,
        /// Value after.
        to: f64,
        /// When it was there before.
        from_s: f64,
        /// When it was there after.
        to_s: f64,
        /// The most that it changes in a second.
        per_second: f64,
        /// Jumps in all; the figures are those of the largest.
        jumps: usize,
    },
}

impl What {
    /// One word for it, as JSON writes it.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::AtEnd { .. } => "at end",
            Self::Beyond { .. } => "beyond",
            Self::Frozen { .. } => "frozen",
            Self::Missing { .. } => "missing",
            Self::Jump { .. } => "jump",
        }
    }
}

impl Finding {
    /// In plain words, with the reason and the figures.
    pub fn words(&self, log: &Log) -> String {
        let series = self.series.and_then(|idx| log.series.get(idx));
        let name = series.map_or("the log", |series| &series.name);
        let unit = series
            .filter(|one| !one.unit.is_empty())
            .map_or_else(String::new, |one| format!(" {}", one.unit));
        let at = |from_s: f64, to_s: f64| {
            if log.time.is_some() {
                format!("{} s to {} s", short(from_s), short(to_s))
            } else {
                format!("row {} to {}", from_s + 1.0, to_s + 1.0)
            }
        };
        match &self.what {
            What::AtEnd {
                high,
                value,
                samples,
                of,
                from_s,
                to_s,
            } => format!(
                "{name} shows {}{unit}, the {} end of what it can show, in {samples} of {of} samples ({}): the true value is there or \
                 beyond it, or the input is open or shorted.",
                short(*value),
                if *high { "high" } else { "low" },
                at(*from_s, *to_s)
            ),
            What::Beyond {
                ends: (least, most),
                value,
                samples,
                of,
                from_s,
                to_s,
            } => format!(
                "{name} shows {}{unit} in {samples} of {of} samples ({}): that cannot be, for its formula ends at {} and {}{unit}. Look at \
                 the column, its unit and the cells.",
                short(*value),
                at(*from_s, *to_s),
                short(*least),
                short(*most)
            ),
            What::Frozen {
                value,
                samples,
                from_s,
                to_s,
                while_moved,
            } => format!(
                "{name} stays at {}{unit} for {samples} samples ({}) while {} moved: it may be frozen, or a value that the module puts \
                 in its place.",
                short(*value),
                at(*from_s, *to_s),
                while_moved.join(" and ")
            ),
            What::Missing {
                samples,
                every_s,
                from_s,
                to_s,
            } => format!(
                "{name}: about {samples} samples are missing, one usually comes every {} s; the longest gap is {}.",
                short(*every_s),
                at(*from_s, *to_s)
            ),
            What::Jump {
                from,
                to,
                from_s,
                to_s,
                per_second,
                jumps,
            } => format!(
                "{name} jumps from {}{unit} to {}{unit} ({}), faster than it can change ({}{unit} in a second){}: look for a contact \
                 that opens.",
                short(*from),
                short(*to),
                at(*from_s, *to_s),
                short(*per_second),
                if *jumps > 1 {
                    format!(", the largest of {jumps} jumps")
                } else {
                    String::new()
                }
            ),
        }
    }
}

/// At most three decimals.
fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A series that was recognised, with its formula.
struct Told<'a> {
    idx: usize,
    series: &'a Series,
    formula: &'static Formula,
    recognised: Recognised,
}

/// Everything odd, series by series; for the ends of the range, freezing and jumps a series must be recognised.
///
/// `recognised` is the answer of [`super::recognise`] for the log's series and `known`.
pub fn findings(log: &Log, known: &[Known], recognised: &[Option<Recognised>]) -> Vec<Finding> {
    let told: Vec<Told<'_>> = log
        .series
        .iter()
        .zip(recognised)
        .enumerate()
        .filter_map(|(idx, (series, recognised))| {
            let recognised = (*recognised)?;
            let formula = known.get(recognised.known_idx)?.formula?;
            Some(Told {
                idx,
                series,
                formula,
                recognised,
            })
        })
        .collect();
    let whole = log.time.as_ref().and_then(|_| missing(&log.rows_s));
    let mut found: Vec<Finding> = whole
        .iter()
        .map(|what| Finding {
            series: None,
            what: what.clone(),
        })
        .collect();
    for (idx, series) in log.series.iter().enumerate() {
        let mut add = |what: Option<What>| {
            found.extend(what.map(|what| Finding {
                series: Some(idx),
                what,
            }));
        };
        if let Some(one) = told.iter().find(|one| one.idx == idx) {
            add(one.beyond());
            let at_end = one.at_end();
            let frozen = one.frozen(&told, log.time.is_some());
            // A value at its end does not move either: said once.
            let is_end = matches!((&at_end, &frozen), (Some(What::AtEnd { value, .. }), Some(What::Frozen { value: same, .. })) if value == same);
            add(at_end);
            add(frozen.filter(|_| !is_end));
            add(log.time.as_ref().and_then(|_| one.jump()));
        }
        let times: Vec<f64> = series.samples.iter().map(|sample| sample.at_s).collect();
        add(missing(&times).filter(|what| log.time.is_some() && Some(what) != whole.as_ref()));
    }
    found
}

impl Told<'_> {
    /// Half a step of what the module can say, in the series' unit: values nearer than that are the same.
    fn half_step(&self) -> f64 {
        (self.formula.resolution() / 2.0 / self.recognised.conversion.times).abs()
    }

    /// What no bytes of its formula say.
    fn beyond(&self) -> Option<What> {
        let [low, high] = [self.formula.low(), self.formula.high()].map(|end| self.recognised.conversion.undo(end));
        let past = |sample: &Sample| (low - sample.value).max(sample.value - high);
        let samples = &self.series.samples;
        let beyond: Vec<&Sample> = samples.iter().filter(|one| past(one) > self.half_step()).collect();
        let furthest = beyond.iter().rev().max_by(|a, b| past(a).total_cmp(&past(b)))?;
        Some(What::Beyond {
            ends: (low, high),
            value: furthest.value,
            samples: beyond.len(),
            of: samples.len(),
            from_s: beyond.first()?.at_s,
            to_s: beyond.last()?.at_s,
        })
    }

    fn at_end(&self) -> Option<What> {
        const FEW: usize = 3;
        let samples = &self.series.samples;
        let ends = [
            (self.formula.ends.low, false, self.formula.low()),
            (self.formula.ends.high, true, self.formula.high()),
        ];
        ends.into_iter()
            .filter(|(tells, ..)| *tells)
            .find_map(|(_, high, end)| {
                let end = self.recognised.conversion.undo(end);
                let there: Vec<&Sample> = samples
                    .iter()
                    .filter(|sample| (sample.value - end).abs() < self.half_step())
                    .collect();
                let (first, last) = (there.first()?, there.last()?);
                (there.len() >= FEW.min(samples.len())).then_some(What::AtEnd {
                    high,
                    value: first.value,
                    samples: there.len(),
                    of: samples.len(),
                    from_s: first.at_s,
                    to_s: last.at_s,
                })
            })
    }

    /// The longest run of one value, if it is long and two others that move with the engine moved meanwhile.
    fn frozen(&self, all: &[Told<'_>], timed: bool) -> Option<What> {
        const SAMPLES: usize = 20;
        const SECONDS: f64 = 10.0;
        const OTHERS: usize = 2;
        if self.formula.pace != Pace::Fast {
            return None;
        }
        let run = self
            .series
            .samples
            .chunk_by(|a, b| a.value == b.value)
            .max_by_key(|run| run.len())?;
        let (first, last) = (run.first()?, run.last()?);
        if run.len() < SAMPLES || (timed && last.at_s - first.at_s < SECONDS) {
            return None;
        }
        let moved =
            |one: &&Told<'_>| one.idx != self.idx && one.formula.pace == Pace::Fast && one.moves(first.at_s, last.at_s);
        let while_moved: Vec<String> = all.iter().filter(moved).map(|one| one.series.name.clone()).collect();
        (while_moved.len() >= OTHERS).then_some(What::Frozen {
            value: first.value,
            samples: run.len(),
            from_s: first.at_s,
            to_s: last.at_s,
            while_moved,
        })
    }

    /// It took five values or more in this time, a fifth of the largest apart.
    fn moves(&self, from_s: f64, to_s: f64) -> bool {
        let mut values: Vec<f64> = self
            .series
            .samples
            .iter()
            .filter(|one| (from_s..=to_s).contains(&one.at_s))
            .map(|one| one.value)
            .collect();
        values.sort_by(f64::total_cmp);
        values.dedup();
        let (Some(low), Some(high)) = (values.first(), values.last()) else {
            return false;
        };
        values.len() >= 5 && high - low >= 0.2 * low.abs().max(high.abs())
    }

    /// The largest change above what is possible. Within a second tools may hold a value back: a second is always granted.
    fn jump(&self) -> Option<What> {
        let per_second = (self.formula.per_second? / self.recognised.conversion.times).abs();
        let excess = |pair: &[Sample]| {
            let [a, b] = pair else { return 0.0 };
            let granted = per_second * (b.at_s - a.at_s).max(1.0) + 4.0 * self.half_step();
            (b.value - a.value).abs() - granted
        };
        let jumps: Vec<&[Sample]> = self
            .series
            .samples
            .windows(2)
            .filter(|pair| excess(pair) > 0.0)
            .collect();
        // Of equals the first.
        let largest = jumps.iter().rev().max_by(|a, b| excess(a).total_cmp(&excess(b)))?;
        let [a, b] = largest else { return None };
        Some(What::Jump {
            from: a.value,
            to: b.value,
            from_s: a.at_s,
            to_s: b.at_s,
            per_second,
            jumps: jumps.len(),
        })
    }
}

/// Gaps of more than three times the usual step, or every twentieth sample missing.
fn missing(times: &[f64]) -> Option<What> {
    const ENOUGH: usize = 5;
    if times.len() < ENOUGH {
        return None;
    }
    let steps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let every_s = sorted[sorted.len() / 2];
    if every_s <= 0.0 {
        return None;
    }
    let left_out = |step: f64| {
        if step > 1.6 * every_s {
            (step / every_s).round() - 1.0
        } else {
            0.0
        }
    };
    let samples = steps.iter().map(|step| left_out(*step)).sum::<f64>() as usize;
    let (at, longest) = steps.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let many = *longest > 3.0 * every_s || 20 * samples >= times.len();
    (samples > 0 && many).then_some(What::Missing {
        samples,
        every_s,
        from_s: times[at],
        to_s: times[at + 1],
    })
}
