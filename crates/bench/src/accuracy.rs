//! How well an instrument reads.
//!
//! Percent of reading and counts of a common 6000-count multimeter: common practice, no source. A limit is taken as the
//! edge of an even distribution, so the standard deviation is the limit over √3; a displayed digit adds its own step.

use circuit::{ChannelId, Circuit};

use crate::test::{Alternating, Placement};

/// Counts of the display.
const COUNTS: f64 = 6000.0;
/// Full-scale values of the voltage ranges, volts.
const VOLT_RANGES: [f64; 5] = [0.6, 6.0, 60.0, 600.0, 1000.0];
/// Full-scale values of the resistance ranges, ohms, each with its percent.
const OHM_RANGES: [(f64, f64); 6] = [
    (600.0, 0.9),
    (6e3, 0.9),
    (60e3, 0.9),
    (600e3, 0.9),
    (6e6, 1.5),
    (60e6, 3.0),
];
/// Full-scale values of the current ranges of the ampere socket, amperes.
const AMP_RANGES: [f64; 3] = [0.06, 0.6, 10.0];
/// What is left of the leads' resistance after it was subtracted.
const LEADS_OHMS: f64 = 0.15;
/// A clamp's zero wanders with the field around it, amperes.
const CLAMP_ZERO_AMPS: f64 = 0.03;
/// What the eye tells of a test light's brightness, volts across the filament.
const LIGHT_VOLTS: f64 = 0.7;

/// How far what a module counts may be off, percent.
const COUNTED_PERCENT: f64 = 1.0;
/// A duty meter by its own triggering, percent of the time.
const DUTY_PERCENT: f64 = 2.0;

/// How well a value is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Standard deviation, in the unit of the prediction's value.
    pub sd: f64,
}

/// The accuracy of what the instrument of `placement` shows near `value`, in the unit of a prediction's value. With
/// `resolution`, one count of the last digit that was displayed (see [`Shown::Number`](crate::Shown::Number)); 0 or `None`
/// if the meter's own range decides.
pub fn accuracy(circuit: &Circuit, placement: &Placement, value: f64, resolution: Option<f64>) -> Accuracy {
    let size = value.abs();
    let shown = resolution.filter(|step| *step > 0.0 && step.is_finite());
    let (limit, step) = match *placement {
        Placement::Voltmeter { .. } => percent_and_counts(size, 0.5, 2.0, range(&VOLT_RANGES, size), shown),
        Placement::DiodeTest { .. } => percent_and_counts(size, 1.0, 3.0, 6.0, shown),
        Placement::Ohmmeter { .. } => {
            let (full, percent) = OHM_RANGES
                .into_iter()
                .find(|(full, _)| size < *full)
                .unwrap_or((60e6, 3.0));
            let (limit, step) = percent_and_counts(size, percent, 2.0, full, shown);
            (limit + LEADS_OHMS, step)
        }
        // The beeper's threshold differs between meters by about a third.
        Placement::Continuity { .. } => (0.3 * size + LEADS_OHMS, 0.0),
        Placement::Ammeter { .. } => percent_and_counts(size, 1.5, 3.0, range(&AMP_RANGES, size), shown),
        Placement::Clamp { .. } => (0.02 * size + CLAMP_ZERO_AMPS, 0.01),
        Placement::Alternating { shows, .. } => match shows {
            Alternating::Volts => percent_and_counts(size, 1.5, 3.0, range(&VOLT_RANGES, size), shown),
            Alternating::Hertz => percent_and_counts(size, 0.1, 1.0, size.max(60.0), shown),
            Alternating::Duty => (DUTY_PERCENT, 0.1),
        },
        Placement::TestLight { .. } => (LIGHT_VOLTS * 3f64.sqrt(), 0.0),
        Placement::Scan { channel } => scan(circuit, channel, value),
        Placement::Code { monitor } => {
            let channel = circuit.monitors.get(monitor.idx()).and_then(circuit::Monitor::channel);
            (0.0, channel.map_or(0.0, |channel| converter_step(circuit, channel)))
        }
    };
    // A digit that was written down is known to half a step; so is a step of the instrument's own.
    let step = shown.map_or(step, |shown| shown.max(step));
    let sd = (limit * limit / 3.0 + step * step / 12.0).sqrt();
    Accuracy {
        sd: sd.max(f64::MIN_POSITIVE),
    }
}

fn range(full: &[f64], size: f64) -> f64 {
    full.iter()
        .copied()
        .find(|full| size < *full)
        .or(full.last().copied())
        .unwrap_or(1.0)
}

/// Limit and step on a range, or on a coarser one that the digits `shown` tell of.
fn percent_and_counts(size: f64, percent: f64, counts: f64, full: f64, shown: Option<f64>) -> (f64, f64) {
    let own = full / COUNTS;
    let step = shown.map_or(own, |shown| shown.max(own));
    (size * percent / 100.0 + counts * step, step)
}

/// One step of a channel's converter, volts.
fn converter_step(circuit: &Circuit, channel: ChannelId) -> f64 {
    circuit.channels.get(channel.idx()).map_or(0.0, |channel| {
        (channel.high_volts - channel.low_volts).abs() / f64::from(channel.steps.saturating_sub(1).max(1))
    })
}

/// A converter errs by two steps and half a percent of its range (from memory of controllers' data sheets); a filtered
/// value that is still moving, by as much again as one step a second of filter.
fn scan(circuit: &Circuit, channel: ChannelId, value: f64) -> (f64, f64) {
    let Some(of) = circuit.channels.get(channel.idx()) else {
        return (0.0, 0.0);
    };
    if of.counts.is_some() {
        return (COUNTED_PERCENT / 100.0 * value.abs(), 0.0);
    }
    let step = converter_step(circuit, channel);
    let slope = steepest(&of.scaling, value);
    let volts = 2.0 * step + 0.005 * (of.high_volts - of.low_volts).abs() + of.filter_seconds.max(0.0) * step;
    (volts * slope, step * slope)
}

/// Shown value per volt around a shown value: of the steepest piece that passes through it.
fn steepest(table: &[(f64, f64)], value: f64) -> f64 {
    let pieces = || {
        table
            .windows(2)
            .map(|rows| (rows[0], rows[1]))
            .filter(|(from, to)| to.0 > from.0)
    };
    let slope = |(from, to): ((f64, f64), (f64, f64))| ((to.1 - from.1) / (to.0 - from.0)).abs();
    let holds = |&((_, y0), (_, y1)): &((f64, f64), (f64, f64))| (y0.min(y1)..=y0.max(y1)).contains(&value);
    let through = pieces().filter(holds).map(slope).fold(0.0, f64::max);
    match through {
        0.0 if table.is_empty() => 1.0,
        0.0 => pieces().map(slope).fold(0.0, f64::max),
        slope => slope,
    }
}
