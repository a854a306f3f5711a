//! Chance of what an instrument showed, by what it should show.
//!
//! Numbers give densities in the instrument's unit; everything else, numbers at the end of what can be shown among it, gives
//! chances; for one reading all causes are judged
//! in the same measure. Figures without a source are common practice.

use bench::{BEEP_OHMS, BRIGHT_VOLTS, CodeState, DARK_VOLTS, Kind, Light, Shown};
use statrs::function::erf::erfc;

use super::Expectation;
use crate::evidence::{End, Evidence, Sense, number};

/// How softly the eye draws the lines between dark, dim and bright, volts.
const DIM_SOFT: f64 = 0.5;
const BRIGHT_SOFT: f64 = 1.0;
/// Above about this an ohmmeter shows over-range, give or take a factor of e^0.4.
const MOST_OHMS: f64 = 50e6;
const MOST_OHMS_SOFT: f64 = 0.4;
/// Where a continuity test begins to beep differs by a factor of e^0.5 from meter to meter.
const BEEP_SOFT: f64 = 0.5;
/// A point that nothing drives: how often it sits within millivolts of where the meter's own resistance pulls it, and how
/// near; else it is anywhere on the way to its neighbours' voltages.
pub const GHOST_RESTS: f64 = 0.75;
/// See [`GHOST_RESTS`].
pub const GHOST_VOLTS: f64 = 0.01;
/// Chance of each state of a code if its check fails now, and if it does not: present, pending, history, not set. History
/// speaks for the fault too, but weakly: it may have been set in another set-up or by something long repaired.
const CODE_IF_FAILS: [f64; 4] = [0.62, 0.12, 0.20, 0.06];
const CODE_IF_PASSES: [f64; 4] = [0.02, 0.04, 0.10, 0.84];
/// The same once codes had been cleared: what is stored was stored since.
const CLEARED_IF_FAILS: [f64; 4] = [0.75, 0.15, 0.04, 0.06];
const CLEARED_IF_PASSES: [f64; 4] = [0.005, 0.005, 0.01, 0.98];
/// The same if its check passes now and failed while a fault was there that comes and goes.
const CODE_IF_WENT: [f64; 4] = [0.04, 0.16, 0.65, 0.15];
/// Scan data that something unforeseen decides stand at each end this often; those read off wrong this often.
const STUCK_AT_END: f64 = 0.15;
const SLIP_TO_END: f64 = 0.02;
/// What is never quite impossible, so that a slip of ours cannot make the arithmetic break.
const LEAST: f64 = 1e-12;

/// Density of a reading that is right: the part that follows the expectation closely, and the part that does not.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Density {
    pub(crate) narrow: f64,
    pub(crate) loose: f64,
    /// What the narrow part makes of the expectation: by how much it moves the mean, and lessens the variance, per variance
    /// and per its square.
    pub(crate) gain: f64,
    pub(crate) shrink: f64,
}

impl Density {
    pub(crate) fn all(&self) -> f64 {
        self.narrow + self.loose
    }

    fn loose(loose: f64) -> Self {
        Self {
            narrow: 0.0,
            loose,
            gain: 0.0,
            shrink: 0.0,
        }
    }

    /// A number that is `off` from what it should be, its own spread counted into `variance`.
    fn near(off: f64, variance: f64) -> Self {
        Self {
            narrow: normal(off, variance),
            loose: 0.0,
            gain: off / variance,
            shrink: 1.0 / variance,
        }
    }

    /// A number shown at an end, what it should be being `within` short of that end: chance of being at or beyond it (Tobin,
    /// Econometrica 26, 1958), and the moments of a normal cut off there (from memory).
    fn at_end(within: f64, variance: f64, sign: f64) -> Self {
        let sd = variance.sqrt();
        let z = -within / sd;
        let chance = below(z).max(LEAST);
        // Far short of the end its asymptote.
        let ratio = if z < -7.0 { -z } else { normal(z, 1.0) / chance };
        Self {
            narrow: chance,
            loose: 0.0,
            gain: sign * ratio / sd,
            shrink: ratio * (ratio + z) / variance,
        }
    }
}

/// Normal density.
pub(crate) fn normal(off: f64, variance: f64) -> f64 {
    let variance = variance.max(1e-18);
    (-0.5 * off * off / variance).exp() / (std::f64::consts::TAU * variance).sqrt()
}

/// Chance that a standard normal is below `z`.
pub(crate) fn below(z: f64) -> f64 {
    if z.abs() > 8.0 {
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    0.5 * erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Density of what was shown if the reading is right, what it should be being known with this variance.
pub(crate) fn density(evidence: &Evidence, expectation: &Expectation, variance: f64) -> Density {
    let sense = &evidence.sense;
    let loose = Density::loose;
    if let Some((value, _)) = number(&evidence.shown) {
        let at = |kind_share: f64| loose(kind_share * elsewhere(sense, &evidence.shown));
        return match expectation.kind {
            Kind::Number => {
                let whole = (variance + evidence.own_sd * evidence.own_sd).max(1e-18);
                let off = value - expectation.value;
                let (down, up) = expectation.ghost_volts;
                if *sense == Sense::Volts && down + up > 2.0 * GHOST_VOLTS {
                    let near = Density::near(off, whole + GHOST_VOLTS * GHOST_VOLTS);
                    let sd = whole.sqrt().max(GHOST_VOLTS);
                    let tail = (below((off + down) / sd) - below((off - up) / sd)).max(0.0) / (down + up);
                    return Density {
                        narrow: GHOST_RESTS * near.narrow,
                        loose: (1.0 - GHOST_RESTS) * tail,
                        ..near
                    };
                }
                match sense.end(&evidence.shown) {
                    Some(End::High(end)) => Density::at_end(end - expectation.value, whole, 1.0),
                    Some(End::Low(end)) => Density::at_end(expectation.value - end, whole, -1.0),
                    None => Density::near(off, whole),
                }
            }
            // An ohmmeter near the end of its range may still show a number.
            Kind::OverRange if *sense == Sense::Ohms && value > MOST_OHMS / 10.0 => at(0.2),
            Kind::OverRange | Kind::NoCommunication => loose(LEAST),
            Kind::Live | Kind::NotRun | Kind::Unknown => at(1.0),
        };
    }
    let chances = category(sense, &evidence.shown, expectation.kind, expectation.value, variance);
    loose(chances.max(LEAST))
}

/// Chance of something shown that is no number.
pub(crate) fn category(sense: &Sense, shown: &Shown, kind: Kind, value: f64, variance: f64) -> f64 {
    if matches!(kind, Kind::Unknown) {
        return elsewhere(sense, shown);
    }
    match *shown {
        Shown::Number { .. } | Shown::Between { .. } | Shown::NotTaken => 1.0,
        Shown::NoCommunication => {
            if kind == Kind::NoCommunication {
                0.97
            } else {
                0.01
            }
        }
        Shown::OverRange => match kind {
            Kind::OverRange => 0.97,
            Kind::Live => elsewhere(sense, shown),
            Kind::Number if *sense == Sense::Ohms => {
                let soft = (MOST_OHMS_SOFT * MOST_OHMS_SOFT + variance / (value * value).max(1.0)).sqrt();
                below((value.max(1.0) / MOST_OHMS).ln() / soft).max(1e-4)
            }
            _ => 1e-4,
        },
        Shown::Unstable => match kind {
            Kind::Live => 0.2,
            _ => 0.02,
        },
        Shown::Light(light) => {
            let volts = value.abs();
            let dark = below((DARK_VOLTS - volts) / (DIM_SOFT * DIM_SOFT + variance).sqrt());
            let bright = below((volts - BRIGHT_VOLTS) / (BRIGHT_SOFT * BRIGHT_SOFT + variance).sqrt());
            match light {
                Light::Off => dark,
                Light::Dim => 1.0 - dark - bright,
                Light::Bright => bright,
            }
        }
        Shown::YesNo(yes) => {
            let beeps = match kind {
                Kind::OverRange => 0.01,
                Kind::Number => {
                    let soft = (BEEP_SOFT * BEEP_SOFT + variance / (value * value).max(1.0)).sqrt();
                    below((BEEP_OHMS / value.max(1e-3)).ln() / soft)
                }
                _ => 0.5,
            };
            if yes { beeps } else { 1.0 - beeps }
        }
        Shown::Code(state) => code(sense, state, kind, value, variance),
    }
}

fn code(sense: &Sense, state: CodeState, kind: Kind, value: f64, variance: f64) -> f64 {
    let Some(at) = place(state) else { return 1.0 };
    match (kind, sense) {
        (Kind::NoCommunication, _) => LEAST,
        (Kind::Number, Sense::Code(_, _, cleared)) => {
            let (if_fails, if_passes) = if *cleared {
                (CLEARED_IF_FAILS, CLEARED_IF_PASSES)
            } else {
                (CODE_IF_FAILS, CODE_IF_PASSES)
            };
            let fails = fails(sense, value, variance);
            fails * if_fails[at] + (1.0 - fails) * if_passes[at]
        }
        // Its monitor does not run here: what is stored was stored before.
        _ => 0.25,
    }
}

/// Position of a state in the tables; `None` for what says nothing, since every cause gives it alike.
fn place(state: CodeState) -> Option<usize> {
    match state {
        CodeState::Present => Some(0),
        CodeState::Pending => Some(1),
        CodeState::History => Some(2),
        CodeState::NotSet => Some(3),
        CodeState::NotRun => None,
    }
}

/// Chance that a code's check fails at this voltage.
fn fails(sense: &Sense, value: f64, variance: f64) -> f64 {
    let Sense::Code(limits, soft, _) = sense else {
        return 0.0;
    };
    let sd = (variance + soft * soft).sqrt().max(f64::MIN_POSITIVE);
    let under = |limit: f64| below((limit - value) / sd);
    let fails_low = limits.below.map_or(0.0, under);
    let fails_high = limits.above.map_or(0.0, |limit| 1.0 - under(limit));
    let fails_between = limits.between.map_or(0.0, |(low, high)| under(high) - under(low));
    (fails_low + fails_high + fails_between).clamp(0.0, 1.0)
}

/// Chance of a code's state while a fault that comes and goes is absent, if its check sees `there` when it is not. `None`
/// for what is no code, or where the check would not fail.
pub(crate) fn went(sense: &Sense, shown: &Shown, there: &Expectation) -> Option<f64> {
    let Shown::Code(state) = shown else { return None };
    let failed = fails(sense, there.value, 0.0);
    let at = place(*state).filter(|_| there.kind == Kind::Number && failed > 0.5)?;
    Some(CODE_IF_WENT[at])
}

/// Density or chance of what is shown if something unforeseen decides it.
pub(crate) fn elsewhere(sense: &Sense, shown: &Shown) -> f64 {
    if let Some((value, _)) = number(shown) {
        return match *sense {
            Sense::Ohms => 0.7 * by_decade(value),
            Sense::Amps => by_size(value),
            Sense::Hertz => 0.35 * normal(value, 0.05 * 0.05) + 0.65 * by_rate(value),
            Sense::Duty => even(value, 0.0, 100.0),
            Sense::Scan(..) if sense.end(shown).is_some() => STUCK_AT_END,
            Sense::Scan(low, high) => (1.0 - 2.0 * STUCK_AT_END) * even(value, low, high),
            _ => volts_anywhere(value),
        }
        .max(LEAST);
    }
    match *shown {
        Shown::OverRange if *sense == Sense::Ohms => 0.25,
        Shown::Light(Light::Dim) => 0.2,
        Shown::Light(_) => 0.4,
        Shown::YesNo(_) => 0.5,
        Shown::Code(CodeState::NotRun) | Shown::NotTaken => 1.0,
        Shown::Code(_) => 0.25,
        Shown::OverRange => 0.02,
        _ => 0.05,
    }
}

/// Density or chance of what is shown if the reading is plain wrong: most often nothing was touched.
pub(crate) fn slip(sense: &Sense, shown: &Shown) -> f64 {
    if let Some((value, _)) = number(shown) {
        return match *sense {
            Sense::Volts => 0.35 * normal(value, 0.05 * 0.05) + 0.65 * volts_anywhere(value),
            Sense::Ohms => 0.6 * by_decade(value),
            Sense::Amps => 0.35 * normal(value, 0.02 * 0.02) + 0.65 * by_size(value),
            Sense::Hertz => 0.5 * normal(value, 0.05 * 0.05) + 0.5 * by_rate(value),
            Sense::Duty => even(value, 0.0, 100.0),
            Sense::Scan(..) if sense.end(shown).is_some() => SLIP_TO_END,
            Sense::Scan(low, high) => (1.0 - 2.0 * SLIP_TO_END) * even(value, low, high),
            _ => volts_anywhere(value),
        }
        .max(LEAST);
    }
    match *shown {
        Shown::OverRange if *sense == Sense::Ohms => 0.4,
        Shown::Light(Light::Off) => 0.6,
        Shown::Light(Light::Dim) => 0.1,
        Shown::Light(Light::Bright) => 0.3,
        Shown::YesNo(yes) => {
            if yes {
                0.3
            } else {
                0.7
            }
        }
        _ => elsewhere(sense, shown),
    }
}

/// Evenly over a 12 V system, with tails for the rest.
fn volts_anywhere(volts: f64) -> f64 {
    let tail = 10.0 / (std::f64::consts::PI * (100.0 + volts * volts));
    0.9 * even(volts, -1.0, 16.0) + 0.1 * tail
}

fn even(value: f64, low: f64, high: f64) -> f64 {
    let margin = 0.02 * (high - low);
    if (low - margin..=high + margin).contains(&value) {
        1.0 / (high - low)
    } else {
        LEAST
    }
}

/// Evenly over the decades from 0.1 Ω to 100 MΩ.
fn by_decade(ohms: f64) -> f64 {
    1.0 / (ohms.abs().max(0.1) * 1e9_f64.ln())
}

/// Evenly over the decades from 0.1 Hz to 100 kHz, evenly over the rate below.
fn by_rate(hertz: f64) -> f64 {
    1.0 / ((1.0 + 1e6_f64.ln()) * hertz.abs().max(0.1))
}

/// Evenly over the decades either way from 20 mA to 200 A, evenly over the current below.
fn by_size(amps: f64) -> f64 {
    let small = 0.02;
    1.0 / (2.0 * (200.0_f64 / small).asinh() * (amps * amps + small * small).sqrt())
}
