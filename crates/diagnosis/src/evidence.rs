//! Readings as evidence: in one order whatever order they were entered in, with how well each is read.

use std::sync::Arc;

use bench::{Alternating, BenchError, Placement, Predict, Reading, Shown, accuracy, shown_ends};
use circuit::{Circuit, Limits, Monitor, Provoked, Watches};

use crate::predictions::{Possible, Predictions, Wanted};
use crate::{Case, Deed, Done};

/// Share of a meter's variance that is common to all its readings (its gain); the rest belongs to range and place. Common
/// practice, no source.
pub const COMMON: f64 = 0.5;
/// Share that is common to readings of the same test.
pub const COMMON_SAME_TEST: f64 = 0.9;
/// Chance that a reading taken with probes is plain wrong: lead not touching, wrong cavity, typing. Common practice, no
/// source.
const WRONG_BY_HAND: f64 = 0.02;
/// Chance that something read off a screen is.
const WRONG_BY_EYE: f64 = 0.005;

/// More volts than a meter meets in a 12 V vehicle, coils switching off left out: it shows a mean. More amperes than a starter
/// takes. Common practice, no source.
const MOST_VOLTS: f64 = 100.0;
const MOST_AMPS: f64 = 3000.0;

/// What a reading is read with, as far as its numbers are judged alike.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Sense {
    /// Volts of a voltmeter or a diode test.
    Volts,
    Ohms,
    Amps,
    /// How often something repeats, hertz.
    Hertz,
    /// A share of the time, percent.
    Duty,
    /// Beeps or does not.
    Beep,
    /// A test light.
    Light,
    /// Scan data: least and most that can be shown.
    Scan(f64, f64),
    /// A code: where it sets, how well that is known, and whether codes were cleared before it was read.
    Code(Limits, f64, bool),
}

impl Sense {
    pub(crate) fn of(circuit: &Circuit, placement: &Placement) -> Self {
        match *placement {
            Placement::Voltmeter { .. } | Placement::DiodeTest { .. } => Self::Volts,
            Placement::Ohmmeter { .. } => Self::Ohms,
            Placement::Ammeter { .. } | Placement::Clamp { .. } => Self::Amps,
            Placement::Alternating { shows, .. } => match shows {
                Alternating::Volts => Self::Volts,
                Alternating::Hertz => Self::Hertz,
                Alternating::Duty => Self::Duty,
            },
            Placement::Continuity { .. } => Self::Beep,
            Placement::TestLight { .. } => Self::Light,
            Placement::Scan { channel } => {
                let ends = circuit.channels.get(channel.idx()).map(shown_ends);
                let (low, high) = ends.filter(|(low, high)| low < high).unwrap_or((0.0, 5.0));
                Self::Scan(low, high)
            }
            Placement::Code { monitor } => {
                let (limits, soft) = circuit
                    .monitors
                    .get(monitor.idx())
                    .map_or_else(Default::default, |monitor| (monitor.limits, threshold_sd(monitor)));
                Self::Code(limits, soft, false)
            }
        }
    }

    /// Least and most number that is shown.
    pub(crate) fn shown_within(&self) -> (f64, f64) {
        match *self {
            Self::Scan(least, most) => (least, most),
            Self::Ohms | Self::Hertz => (0.0, f64::INFINITY),
            Self::Duty => (0.0, 100.0),
            _ => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// Whether a number may be shown at all, whatever is broken: within the channel, within what a 12 V vehicle can drive.
    pub(crate) fn can_show(&self, shown: &Shown) -> bool {
        let (low, high, resolution) = match *shown {
            Shown::Number { value, resolution } => (value, value, resolution.abs()),
            Shown::Between { low, high, resolution } => (low.min(high), low.max(high), resolution.abs()),
            _ => return true,
        };
        let (least, most) = match self {
            Self::Volts => (-MOST_VOLTS, MOST_VOLTS),
            Self::Amps => (-MOST_AMPS, MOST_AMPS),
            _ => self.shown_within(),
        };
        let beyond = low < least - resolution || high > most + resolution;
        !(beyond && low.is_finite() && high.is_finite())
    }

    /// The end of what can be shown at which something shown stands.
    pub(crate) fn end(&self, shown: &Shown) -> Option<End> {
        let (Self::Scan(low, high), Some((value, resolution))) = (self, number(shown)) else {
            return None;
        };
        let half = 0.5 * resolution + 1e-9 * (high - low);
        if value >= high - half {
            Some(End::High(high - half))
        } else if value <= low + half {
            Some(End::Low(low + half))
        } else {
            None
        }
    }

    /// Chance that a reading with it is plain wrong.
    pub(crate) fn wrong(&self) -> f64 {
        match self {
            Self::Scan(..) | Self::Code(..) => WRONG_BY_EYE,
            _ => WRONG_BY_HAND,
        }
    }
}

/// How well the threshold of a check is known (standard deviation): volts, or hertz, of a channel; volts at a driver's pin, which
/// a comparator beside the driver judges; a part of the amperes in it. Common practice, no source.
const THRESHOLD_SOFT: f64 = 0.03;
const THRESHOLD_SOFT_PIN: f64 = 0.2;
const THRESHOLD_SOFT_AMPS: f64 = 0.1;

fn threshold_sd(monitor: &Monitor) -> f64 {
    match monitor.watches {
        Watches::Channel(_) => THRESHOLD_SOFT,
        Watches::Volts(..) => THRESHOLD_SOFT_PIN,
        Watches::Amps(..) => {
            let limits = [monitor.limits.below, monitor.limits.above];
            THRESHOLD_SOFT_AMPS * limits.into_iter().flatten().fold(0.0, f64::max)
        }
    }
}

/// Where what is shown has its end: whatever is beyond this is shown there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum End {
    Low(f64),
    High(f64),
}

/// How the vehicle was when a reading was taken, beside its set-up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Circumstances {
    /// Taken on a sound vehicle of the same kind.
    pub(crate) of_twin: bool,
    /// How often something had been done that may have changed the circuit.
    pub(crate) stretch: usize,
    /// Codes had been cleared before.
    pub(crate) since_cleared: bool,
    /// What was done meanwhile to make a fault show.
    pub(crate) provoked: Option<Provoked>,
}

/// A reading that says something.
#[derive(Clone, Debug)]
pub(crate) struct Evidence {
    /// Where it stood among the readings as given, those of a twin after all others.
    pub(crate) position: usize,
    pub(crate) at: Circumstances,
    /// Its row of predictions, and that with the uncertain parameters as the file has them: the healthy circuit there.
    pub(crate) row: usize,
    pub(crate) nominal: usize,
    pub(crate) sense: Sense,
    pub(crate) shown: Shown,
    /// Readings of the same test have the same number.
    pub(crate) test: usize,
    /// Standard deviation of what the instrument adds to a number, all told.
    pub(crate) sd: f64,
    /// Of that, what no other reading shares.
    pub(crate) own_sd: f64,
}

/// How far a light's or a channel's voltage may move before what is shown of it may change, volts; and a resistance that shows no
/// number, by its size.
const SURE_VOLTS: f64 = 0.1;
const SURE_OHMS: f64 = 0.1;

impl Evidence {
    /// How far what should be shown may move before it matters, alone or among readings with the same instrument, where it
    /// should be about `value`.
    pub(crate) fn own(&self, value: f64) -> f64 {
        if self.sd > 0.0 { self.own_sd } else { self.soft(value) }
    }

    /// The same, all that the instrument adds counted in.
    pub(crate) fn blur(&self, value: f64) -> f64 {
        if self.sd > 0.0 { self.sd } else { self.soft(value) }
    }

    fn soft(&self, value: f64) -> f64 {
        match self.sense {
            Sense::Ohms | Sense::Beep => SURE_OHMS * value.abs().max(1.0),
            _ => SURE_VOLTS,
        }
    }
}

/// All evidence, in the order in which it is weighed.
#[derive(Debug, Default)]
pub(crate) struct Body {
    pub(crate) evidence: Vec<Evidence>,
    /// Covariance that the instruments add between readings, without what each has alone: n × n, row-major.
    pub(crate) meters: Vec<f64>,
}

/// Whether the instrument can show at all what was noted. If not, it was typed or read wrong and says nothing.
pub(crate) fn is_possible(circuit: &Circuit, reading: &Reading) -> bool {
    Sense::of(circuit, &reading.test.placement).can_show(&reading.shown)
}

/// A number shown, with the width it was shown to. `None` if it was no number.
pub(crate) fn number(shown: &Shown) -> Option<(f64, f64)> {
    match *shown {
        Shown::Number { value, resolution } if value.is_finite() => Some((value, resolution.abs())),
        // Wandered evenly between the two.
        Shown::Between { low, high, resolution } if low.is_finite() && high.is_finite() => {
            Some((0.5 * (low + high), (high - low).abs().max(resolution.abs())))
        }
        _ => None,
    }
}

impl Body {
    /// Sorts the readings of a case by what was done and shown, so that the order of entering them changes no sum, and has
    /// the `wanted` predictions made for each. A reading that was not taken, or that no instrument can show, is left out.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn new(
        bench: &dyn Predict,
        circuit: &Circuit,
        possible: &Possible<'_>,
        case: &Case<'_>,
        predictions: &mut Predictions,
        wanted: &[Wanted],
    ) -> Result<Self, BenchError> {
        let readings: Vec<&Reading> = case.all_readings().collect();
        let mut sorted: Vec<(String, String, usize)> = readings
            .iter()
            .enumerate()
            .filter(|(_, reading)| reading.shown != Shown::NotTaken && is_possible(circuit, reading))
            .map(|(position, reading)| {
                let set_up = format!("{:?}", reading.test.set_up.at_rest());
                (
                    set_up,
                    format!(
                        "{:?} {:?} {:?}",
                        reading.test.placement, reading.test.set_up.provoked, reading.shown
                    ),
                    position,
                )
            })
            .collect();
        sorted.sort();
        let as_filed = possible.around(Arc::default());
        let healthy: Vec<Wanted> = (0..possible.insides.len())
            .map(|inside| Wanted::healthy(inside as u16))
            .collect();
        let mut evidence: Vec<Evidence> = Vec::with_capacity(sorted.len());
        for group in sorted.chunk_by(|a, b| a.0 == b.0) {
            let tests: Vec<&bench::Test> = group.iter().map(|entry| &readings[entry.2].test).collect();
            let placements: Vec<Placement> = tests.iter().map(|test| test.placement.clone()).collect();
            let rows = predictions.fill(bench, possible, &tests[0].set_up, &placements, wanted)?;
            let nominal = predictions.fill(bench, &as_filed, &tests[0].set_up, &placements, &healthy)?;
            for ((entry, row), nominal) in group.iter().zip(rows).zip(nominal) {
                let reading = readings[entry.2];
                let at = circumstances(case, entry.2, reading);
                let test = evidence
                    .iter()
                    .find(|earlier: &&Evidence| earlier.row == row && earlier.at == at)
                    .map_or(evidence.len(), |one| one.test);
                let (sd, own_sd) = spread(circuit, reading);
                let sense = match Sense::of(circuit, &reading.test.placement) {
                    Sense::Code(limits, soft, _) => Sense::Code(limits, soft, at.since_cleared),
                    sense => sense,
                };
                evidence.push(Evidence {
                    position: entry.2,
                    at,
                    row,
                    nominal,
                    sense,
                    shown: reading.shown.clone(),
                    test,
                    sd,
                    own_sd,
                });
            }
        }
        let meters = shared(&evidence);
        Ok(Self { evidence, meters })
    }

    /// Has `more` predictions made for every reading.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub(crate) fn solve_more(
        &self,
        bench: &dyn Predict,
        possible: &Possible<'_>,
        case: &Case<'_>,
        predictions: &mut Predictions,
        more: &[Wanted],
    ) -> Result<(), BenchError> {
        let readings: Vec<&Reading> = case.all_readings().collect();
        let tests: Vec<&bench::Test> = self.evidence.iter().map(|one| &readings[one.position].test).collect();
        for group in tests.chunk_by(|a, b| a.set_up.at_rest() == b.set_up.at_rest()) {
            let placements: Vec<Placement> = group.iter().map(|test| test.placement.clone()).collect();
            predictions.fill(bench, possible, &group[0].set_up, &placements, more)?;
        }
        Ok(())
    }

    pub(crate) fn len(&self) -> usize {
        self.evidence.len()
    }
}

fn circumstances(case: &Case<'_>, position: usize, reading: &Reading) -> Circumstances {
    let of_twin = position >= case.readings.len();
    let cleared = |deed: &Deed| deed.what == Done::Cleared && deed.after <= position;
    let changed = |deed: &&Deed| deed.what.changes_circuit() && deed.after <= position;
    Circumstances {
        of_twin,
        stretch: case.deeds.iter().filter(changed).count(),
        since_cleared: !of_twin
            && matches!(reading.test.placement, Placement::Code { .. })
            && case.deeds.iter().any(cleared),
        provoked: reading.test.set_up.provoked,
    }
}

/// Standard deviation of what the instrument adds, and of that what no other reading shares.
fn spread(circuit: &Circuit, reading: &Reading) -> (f64, f64) {
    let placement = &reading.test.placement;
    let Some((value, width)) = number(&reading.shown) else {
        let light = matches!(placement, Placement::TestLight { .. });
        let sd = if light {
            accuracy(circuit, placement, 0.0, None).sd
        } else {
            0.0
        };
        return (sd, sd);
    };
    let sd = accuracy(circuit, placement, value, Some(width)).sd;
    // The last digit is rounded anew every time.
    (
        sd,
        (width * width / 12.0)
            .max((1.0 - COMMON_SAME_TEST) * sd * sd)
            .sqrt()
            .min(sd),
    )
}

fn shared(evidence: &[Evidence]) -> Vec<f64> {
    let n = evidence.len();
    let mut shared = vec![0.0; n * n];
    for (i, a) in evidence.iter().enumerate() {
        for (j, b) in evidence.iter().enumerate() {
            let common = |one: &Evidence| (one.sd * one.sd - one.own_sd * one.own_sd).max(0.0).sqrt();
            let share = if i == j || a.test == b.test {
                1.0
            } else if a.sense == b.sense && !matches!(a.sense, Sense::Beep | Sense::Light | Sense::Code(..)) {
                COMMON
            } else {
                0.0
            };
            shared[i * n + j] = share * common(a) * common(b);
        }
    }
    shared
}
