//! An instrument for ohms on a circuit that carries voltage: its figure is worthless, and much voltage can harm it.
//!
//! What stands there is seen beforehand with the voltmeter between the same two points. Limit: a voltage that comes and
//! goes between the two readings is not thought of.

use bench::{Kind, Placement, Reading, Shown, Test};

use super::stress::Degree;
use super::{limits, measures_ohms};
use crate::{DangerKind, Verdict};

/// What a voltmeter loads the two points with.
const VOLTMETER_OHMS: f64 = 10e6;
/// A reading of volts contradicts a voltage that is this much off, volts …
const OFF_VOLTS: f64 = 2e-3;
/// … and this share of it.
const OFF_SHARE: f64 = 0.2;

/// The danger of an ohmmeter, a diode test or a continuity test on a live circuit: `standing` volts behind `source_ohms`.
pub(super) fn danger(kind: Kind, standing: f64, source_ohms: f64) -> Vec<Degree> {
    if kind != Kind::Live {
        return Vec::new();
    }
    let under = |ohms: f64| standing * ohms / (ohms + source_ohms);
    let degree = under(limits::OHMS_INPUT_OHMS).abs() / limits::OHMS_HARM_VOLTS;
    let what = DangerKind::LiveOhms {
        volts: under(VOLTMETER_OHMS),
        harms: degree >= 1.0,
    };
    vec![(what, degree)]
}

/// The verdict on what stands across the instrument under each cause, the healthy circuit first. What a reading of the
/// voltage there contradicts is taken out of `degrees`.
pub(super) fn verdict(readings: &[Reading], test: &Test, degrees: &mut [Vec<Degree>]) -> Verdict {
    let Some(voltage) = voltage(test) else {
        return Verdict::Safe;
    };
    let read = readings.iter().rev().find_map(|reading| read(reading, &voltage));
    if let Some(read) = read {
        for list in &mut *degrees {
            list.retain(|(what, _)| match what {
                DangerKind::LiveOhms { volts, .. } => fits(read, *volts),
                _ => true,
            });
        }
    }
    let live = |list: &Vec<Degree>| list.iter().any(|(what, _)| matches!(what, DangerKind::LiveOhms { .. }));
    let harms = |list: &Vec<Degree>| {
        list.iter()
            .any(|(what, _)| matches!(what, DangerKind::LiveOhms { harms: true, .. }))
    };
    if !degrees.iter().any(live) {
        Verdict::Safe
    } else if read.is_some() || degrees.first().is_some_and(harms) {
        Verdict::Refused
    } else {
        Verdict::First(vec![voltage])
    }
}

/// The voltmeter between the two points of an instrument for ohms.
fn voltage(test: &Test) -> Option<Test> {
    let (red, black) = crate::candidate::touched(&test.placement).filter(|_| measures_ohms(&test.placement))?;
    Some(Test {
        placement: Placement::Voltmeter { red, black },
        set_up: test.set_up.clone(),
    })
}

/// Least and most that a reading of this voltage showed.
fn read(reading: &Reading, voltage: &Test) -> Option<(f64, f64)> {
    let (Placement::Voltmeter { red, black }, Placement::Voltmeter { red: r, black: b }) =
        (&reading.test.placement, &voltage.placement)
    else {
        return None;
    };
    let sign = match (red, black) {
        _ if reading.test.set_up != voltage.set_up => return None,
        pair if pair == (r, b) => 1.0,
        pair if pair == (b, r) => -1.0,
        _ => return None,
    };
    let (low, high) = match reading.shown {
        Shown::Number { value, .. } => (value, value),
        Shown::Between { low, high, .. } => (low, high),
        _ => return None,
    };
    Some((f64::min(sign * low, sign * high), f64::max(sign * low, sign * high)))
}

fn fits((low, high): (f64, f64), volts: f64) -> bool {
    let off = OFF_VOLTS + OFF_SHARE * volts.abs();
    (low - off..=high + off).contains(&volts)
}
