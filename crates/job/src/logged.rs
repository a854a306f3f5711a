//! A table of readings from any tool beside a circuit: which column is which value of its modules, what is odd about it there,
//! and the reading that it makes.

use bench::{Placement, Shown, shown_ends};
use circuit::{Channel, ChannelId, Circuit, PartId};
use codes::log::{Known, Log, recognise, taken_for};

/// A column that is a value of a module.
#[derive(Clone, Debug, PartialEq)]
pub struct Matched {
    /// Position of the series in the log.
    pub series: usize,
    /// The value.
    pub channel: ChannelId,
    /// Least, middle and most that it showed, in the channel's unit, of what the module can show; `None` if it can show none.
    pub shown: Option<[f64; 3]>,
    /// What is odd.
    pub odd: Vec<Odd>,
}

/// What is odd about a value, by what its module can show.
#[derive(Clone, Debug, PartialEq)]
pub enum Odd {
    /// It stands at an end of what the module can show: the truth is there or beyond.
    AtEnd {
        /// The high end of the voltage, else the low one.
        high: bool,
        /// The voltage (of a channel that counts, the hertz) at that end.
        end: f64,
    },
    /// Samples lie beyond what the module can show: it is not this value, of another unit, or was misread. They count for
    /// nothing.
    Beyond {
        /// The sample that lies furthest beyond.
        value: f64,
        /// How many do.
        samples: usize,
        /// How many there are.
        of: usize,
    },
    /// It is the value that the module shows in place of its sensor's while a code is set.
    InPlace {
        /// The codes that may be set then.
        codes: Vec<String>,
    },
}

/// Columns that are values of the circuit's modules: those named like one; then any that alone says all words of one's name
/// ("throttle position" of "position"). `told`: names of columns with the channels that they are.
pub fn matched(circuit: &Circuit, log: &Log, told: &[(String, ChannelId)]) -> Vec<Matched> {
    let known: Vec<Known> = circuit
        .channels
        .iter()
        .map(|channel| Known {
            names: vec![channel.words.clone(), channel.id.replace(['_', '-'], " ")],
            unit: channel.unit.clone(),
            formula: None,
        })
        .collect();
    let mut is = recognise(&log.series, &known);
    for (series, is) in log.series.iter().zip(&mut is) {
        if let Some((_, channel)) = told.iter().find(|(name, _)| *name == series.name) {
            *is = taken_for(series, &known, channel.idx());
        }
    }
    for channel in 0..known.len() {
        let words = |text: &str| -> Vec<String> { text.to_lowercase().split_whitespace().map(str::to_owned).collect() };
        let own = words(&known[channel].names[0]);
        let says_all = |at: &usize| {
            let column = words(&log.series[*at].name);
            is[*at].is_none() && own.iter().all(|word| column.contains(word))
        };
        let free = is.iter().flatten().all(|is| is.known_idx != channel);
        let like: Vec<usize> = (0..log.series.len()).filter(says_all).collect();
        if let ([one], true) = (like.as_slice(), free) {
            is[*one] = taken_for(&log.series[*one], &known, channel);
        }
    }
    let found = log.series.iter().zip(is).enumerate();
    found
        .filter_map(|(series, (of, is))| {
            let is = is?;
            let mut values: Vec<f64> = of.samples.iter().map(|sample| is.converted(sample.value)).collect();
            values.sort_by(f64::total_cmp);
            let channel = ChannelId::from(is.known_idx);
            let beyond = beyond(&circuit.channels[channel.idx()], &mut values);
            let shown = values.first().zip(values.last());
            let shown = shown.map(|(least, most)| [*least, values[values.len() / 2], *most]);
            let stands = shown.map_or_else(Vec::new, |shown| odd(circuit, channel, shown));
            let odd: Vec<Odd> = beyond.into_iter().chain(stands).collect();
            if odd.is_empty() && shown.is_none() {
                return None;
            }
            Some(Matched {
                series,
                channel,
                shown,
                odd,
            })
        })
        .collect()
}

/// Columns that are called like a value of the circuit's modules, but are of another kind of unit: a sentence each.
pub fn of_other_unit(circuit: &Circuit, log: &Log, told: &[(String, ChannelId)], found: &[Matched]) -> Vec<String> {
    let free = |series: usize| found.iter().all(|one| one.series != series);
    let mut bare = log.clone();
    for (idx, series) in bare.series.iter_mut().enumerate() {
        if free(idx) {
            series.unit.clear();
        }
    }
    let by_name = matched(circuit, &bare, told);
    let others = by_name
        .iter()
        .filter(|one| free(one.series) && found.iter().all(|other| other.channel != one.channel));
    others
        .map(|one| {
            let (column, channel) = (&log.series[one.series], &circuit.channels[one.channel.idx()]);
            format!(
                "{} is in {}, the {} shows {} in {}: left out; look at the column and its unit",
                column.name,
                column.unit,
                name(circuit, channel),
                channel.words,
                if channel.unit.is_empty() {
                    "plain numbers"
                } else {
                    &channel.unit
                },
            )
        })
        .collect()
}

/// The values that can be compared with each other: what is odd says nothing, what wanders is at no one place.
pub fn comparable(circuit: &Circuit, matched: &[Matched]) -> Vec<(ChannelId, f64)> {
    let sound = matched.iter().filter(|one| one.odd.is_empty());
    let still = sound.filter(|one| matches!(one.shown(circuit), Some(Shown::Number { .. })));
    still.filter_map(|one| Some((one.channel, one.shown?[1]))).collect()
}

/// One step of what a channel can show.
fn step(channel: &Channel) -> f64 {
    let (low, high) = shown_ends(channel);
    (high - low) / f64::from(channel.steps.max(2))
}

/// Takes out of sorted values those that the module cannot show.
fn beyond(of: &Channel, values: &mut Vec<f64>) -> Option<Odd> {
    let (least, most) = shown_ends(of);
    let margin = step(of).abs() + 1e-9 * most.abs().max(least.abs());
    let past = |value: &f64| (least - value).max(value - most);
    let all = values.len();
    let furthest = values.iter().copied().max_by(|a, b| past(a).total_cmp(&past(b)))?;
    values.retain(|value| past(value) <= margin);
    (values.len() < all).then(|| Odd::Beyond {
        value: furthest,
        samples: all - values.len(),
        of: all,
    })
}

fn odd(circuit: &Circuit, channel: ChannelId, [low, middle, high]: [f64; 3]) -> Vec<Odd> {
    let of = &circuit.channels[channel.idx()];
    let half = step(of).abs() / 2.0 + 1e-9 * high.abs().max(low.abs());
    let mut odd = Vec::new();
    let still = high - low <= 2.0 * half;
    if let Some(substitute) = of
        .substitute
        .filter(|substitute| still && (substitute - middle).abs() <= half)
    {
        let monitors = circuit
            .monitors
            .iter()
            .filter(|monitor| monitor.channel() == Some(channel));
        let codes: Vec<String> = monitors.map(|monitor| monitor.code.clone()).collect();
        if !codes.is_empty() && substitute.is_finite() {
            odd.push(Odd::InPlace { codes });
        }
    }
    let rows = [of.scaling.first(), of.scaling.last()].map(Option::<&(f64, f64)>::copied);
    if let ([Some(first), Some(last)], true) = (rows, odd.is_empty()) {
        for (row, high) in [(first, false), (last, true)] {
            if (middle - row.1).abs() <= half {
                odd.push(Odd::AtEnd { high, end: row.0 });
            }
        }
    }
    odd
}

impl Matched {
    /// What was shown, as a reading has it: one value if it stood still, else from least to most. `None` where the module
    /// can show nothing of it.
    pub fn shown(&self, circuit: &Circuit) -> Option<Shown> {
        let step = step(&circuit.channels[self.channel.idx()]).abs();
        let resolution = 10_f64.powf(step.max(1e-9).log10().floor());
        let [low, middle, high] = self.shown?.map(|value| (value / resolution).round() * resolution);
        Some(if high - low <= 2.0 * step.max(resolution) {
            Shown::Number {
                value: middle,
                resolution,
            }
        } else {
            Shown::Between { low, high, resolution }
        })
    }

    /// Where it is read.
    pub fn placement(&self) -> Placement {
        Placement::Scan { channel: self.channel }
    }

    /// `scan throttle | 12.5 %`, if it makes a reading.
    pub fn to_text(&self, circuit: &Circuit) -> Option<String> {
        let placement = self.placement();
        let shown = self.shown(circuit)?.to_text(&placement, circuit);
        Some(format!("{} | {shown}", placement.to_text(circuit)))
    }

    /// What is odd in plain words, with the reason.
    pub fn words(&self, circuit: &Circuit, odd: &Odd) -> String {
        let of = &circuit.channels[self.channel.idx()];
        let pin = circuit.pin_of(self.channel).map_or("its pin", |pin| {
            circuit.points[pin.point.idx()].path.trim_end_matches("/pin")
        });
        let unit = if of.counts.is_some() { "Hz" } else { "V" };
        match odd {
            Odd::AtEnd { high, end } => {
                let beyond = if *high { "or more" } else { "or less" };
                // The most volts are the least of a value that falls as they grow: a coldest -40 °C is no "most".
                let rows = [of.scaling.first(), of.scaling.last()];
                let falls = matches!(rows, [Some(first), Some(last)] if last.1 < first.1);
                let (end_of, at) = match (falls, *high) {
                    (false, true) => ("most", ""),
                    (false, false) => ("least", ""),
                    (true, true) => ("end", " at the high voltage"),
                    (true, false) => ("end", " at the low voltage"),
                };
                let (words, name) = (&of.words, name(circuit, of));
                format!(
                    "{words} stands at the {end_of} of what the {name} can show{at}: {end} {unit} {beyond} at {pin}; the truth is \
                     there or beyond it"
                )
            }
            Odd::Beyond {
                value,
                samples,
                of: all,
                ..
            } => {
                let (words, unit, range) = (&of.words, &of.unit, range_words(circuit, of));
                let which = if samples == all {
                    "left out".to_owned()
                } else {
                    format!("{samples} of {all} samples, left out")
                };
                format!(
                    "{words} cannot be {value} {unit}: {range}; {which}; look at the column, its unit and the cells"
                )
            }
            Odd::InPlace { codes } => format!(
                "{} is the value that the {} shows in place of its sensor's while {} is set: it says nothing of {pin}",
                of.words,
                name(circuit, of),
                codes.join(" or ")
            ),
        }
    }
}

/// What a module shows of a value whatever is broken, and why no more: "the engine module shows 0 to 100 %, the range of its
/// converter".
pub fn range_words(circuit: &Circuit, channel: &Channel) -> String {
    let (least, most) = shown_ends(channel);
    let range = if channel.counts.is_some() {
        "all that it counts"
    } else {
        "the range of its converter"
    };
    let (name, unit) = (name(circuit, channel), &channel.unit);
    format!("the {name} shows {least} to {most} {unit}, {range}")
}

fn name<'c>(circuit: &'c Circuit, channel: &Channel) -> &'c str {
    let part: PartId = circuit.modules[channel.module.idx()].part;
    circuit.parts[part.idx()].called()
}
