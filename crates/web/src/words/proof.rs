//! A repair on trial, and sensors swept, in plain words.

use circuit::{Circuit, Fault};
use diagnosis::{Expected, Proof, ProofReading, ProofStanding, Sweep, SweepStep};
use quantity::Unit;

use super::{number, percent, placement, shown, without_unit};

/// Chance of hiding from which it is said that the fault may come and go.
const HIDES: f64 = 0.3;

/// Where the repair stands, in a sentence or two.
pub fn headline(proof: &Proof) -> String {
    let (now, then) = (percent(proof.mended.now), percent(proof.mended.then));
    let so_far = match proof.standing {
        ProofStanding::Proved => format!("Mended: the readings since the repair prove it, with a chance of {now}."),
        ProofStanding::Refuted => {
            let still = percent(1.0 - proof.mended.now);
            format!("Not mended: the readings since the repair say so, with a chance of {still}.")
        }
        ProofStanding::Open if proof.readings.is_empty() => {
            return format!(
                "Mended with a chance of {now}; no reading on offer tells a mended vehicle from one that is not."
            );
        }
        ProofStanding::Open if proof.readings.iter().all(|one| one.read.is_some()) => {
            format!("Not settled: mended with a chance of {now}. Measure again what is outside its band.")
        }
        ProofStanding::Open => {
            format!("Not proved yet: mended with a chance of {now}, {then} once these readings are within their bands.")
        }
    };
    if proof.hides > HIDES && proof.standing != ProofStanding::Refuted {
        format!("{so_far} What may still be there comes and goes: move the harness while you read.")
    } else {
        so_far
    }
}

/// A band of a reading: "11.9 to 12.9 V".
pub fn band(circuit: &Circuit, reading: &ProofReading) -> String {
    shows(circuit, reading, &reading.band)
}

/// What an instrument shows in a range, without rounding small figures away.
fn shows(circuit: &Circuit, reading: &ProofReading, expected: &Expected) -> String {
    let at = &reading.test.placement;
    match expected {
        Expected::Range(low, high) => {
            let (low, high) = (number(circuit, at, *low), number(circuit, at, *high));
            if low == high {
                low
            } else {
                format!("{} to {high}", without_unit(&low, &high))
            }
        }
        Expected::Is(what) => shown(circuit, at, what),
    }
}

/// What a vehicle that is not mended would show, and how surely the band tells: "unrepaired 6.0 to 6.6 V; in 3 of 100
/// vehicles that are not mended it lies within the band too".
pub fn telling(circuit: &Circuit, reading: &ProofReading) -> String {
    let missed = (100.0 * reading.missed).round();
    let tells = if !reading.tells() {
        "cannot tell: it lies there in most vehicles that are not mended too".to_owned()
    } else if missed < 1.0 {
        "hardly a vehicle that is not mended reads within the band".to_owned()
    } else {
        format!("in {missed} of 100 vehicles that are not mended it lies within the band too")
    };
    match &reading.unrepaired {
        Some(unrepaired) => format!("unrepaired {}; {tells}", shows(circuit, reading, unrepaired)),
        None => tells,
    }
}

/// Instrument and place of a reading.
pub fn what(circuit: &Circuit, reading: &ProofReading) -> String {
    placement(circuit, &reading.test.placement)
}

/// A fault that may still be there.
pub fn left(fault: &Fault) -> String {
    let place = fault
        .place
        .split_once(';')
        .map_or(fault.place.as_str(), |(place, _)| place);
    format!("{}, {place}", super::capital(&fault.what))
}

/// What is swept, and where its signal is read.
pub fn swept(circuit: &Circuit, sweep: &Sweep) -> String {
    let sensed = &circuit.sensed[sweep.sensed.idx()];
    let how = if sweep.at_will {
        ""
    } else {
        ", as far as it can be brought there"
    };
    let signal = super::point(circuit, sweep.signal);
    let reference = sweep
        .reference
        .map(|point| format!(", reference at {}", super::point(circuit, point)))
        .unwrap_or_default();
    let words = if sensed.words.is_empty() {
        &sensed.id
    } else {
        &sensed.words
    };
    format!("{words} from end to end{how}: signal at {signal}{reference}")
}

/// The value at a step: "50 %".
pub fn step(circuit: &Circuit, sweep: &Sweep, step: &SweepStep) -> String {
    let unit = &circuit.sensed[sweep.sensed.idx()].unit;
    let digits = usize::from(step.at.fract().abs() >= 1e-9);
    format!("{:.digits$} {unit}", step.at).trim_end().to_owned()
}

/// Volts of the signal at a step.
pub fn volts(step: &SweepStep) -> String {
    range(step.volts, |value| quantity::format(value, Unit::Volt))
}

/// The signal as a share of the reference.
pub fn ratio(step: &SweepStep) -> Option<String> {
    Some(range(step.ratio?, |value| format!("{:.1} %", 100.0 * value)))
}

/// Scan data at a step, and how near it is to what the meter shows.
pub fn scan(circuit: &Circuit, sweep: &Sweep, step: &SweepStep) -> Option<String> {
    let channel = &circuit.channels[sweep.channel?.idx()];
    let value = |value: f64| format!("{value:.1} {}", channel.unit).trim_end().to_owned();
    let band = range(step.scan?, value);
    Some(match step.apart {
        Some(apart) => format!(
            "{band}, and within {} of what the meter\u{2019}s volts mean",
            value(apart)
        ),
        None => band,
    })
}

fn range((low, high): (f64, f64), words: impl Fn(f64) -> String) -> String {
    let (low, high) = (words(low), words(high));
    if low == high {
        low
    } else {
        format!("{} to {high}", without_unit(&low, &high))
    }
}
