//! What an instrument shows: its error, its digits, and what it shows when something went wrong.

use bench::{Alternating, CodeState, Kind, Light, Placement, Prediction, Shown, accuracy};
use circuit::Circuit;
use diagnosis::assumed;
use rand::{Rng, RngExt as _};

use crate::chance::{normal, pick};

/// Readings that share the gain of one meter.
pub(crate) fn gain_of(placement: &Placement) -> &'static str {
    match placement {
        Placement::Voltmeter { .. } | Placement::DiodeTest { .. } => "gain, volts",
        Placement::Alternating { .. } => "gain, what repeats",
        Placement::Ohmmeter { .. } => "gain, ohms",
        Placement::Ammeter { .. } | Placement::Clamp { .. } => "gain, amperes",
        _ => "gain, the rest",
    }
}

/// What is shown where nothing goes wrong. `gain`: the meter's own, standard normal.
pub(crate) fn shown(
    circuit: &Circuit,
    placement: &Placement,
    right: &Prediction,
    gain: f64,
    rng: &mut impl Rng,
) -> Shown {
    match right.kind {
        Kind::NoCommunication => return Shown::NoCommunication,
        Kind::NotRun => return Shown::Code(CodeState::NotRun),
        Kind::Live | Kind::Unknown => return Shown::NotTaken,
        Kind::Number | Kind::OverRange => {}
    }
    let chance = |shown: &Shown| assumed::if_right(circuit, placement, shown, right.kind, right.value);
    let words = words(placement);
    if !shows_numbers(placement) {
        let picked = pick(rng, words.iter().map(chance));
        return picked.and_then(|at| words.get(at)).cloned().unwrap_or(Shown::NotTaken);
    }
    let over = right.kind == Kind::OverRange
        || (matches!(placement, Placement::Ohmmeter { .. }) && rng.random::<f64>() < chance(&Shown::OverRange));
    if over {
        return Shown::OverRange;
    }
    let mut value = right.value + right.beyond;
    let (down, up) = right.ghost_volts;
    if matches!(placement, Placement::Voltmeter { .. }) && down + up > 2.0 * assumed::GHOST_VOLTS {
        value += if rng.random::<f64>() < assumed::GHOST_RESTS {
            assumed::GHOST_VOLTS * normal(rng)
        } else {
            rng.random::<f64>() * (down + up) - down
        };
    }
    let sd = accuracy(circuit, placement, right.value, None).sd;
    value += sd * (assumed::COMMON.sqrt() * gain + (1.0 - assumed::COMMON).sqrt() * normal(rng));
    display(circuit, placement, value)
}

/// Something shown by mistake, drawn by the chance of showing it: [`assumed::if_wrong`] or [`assumed::if_disturbed`].
pub(crate) fn mishap(
    circuit: &Circuit,
    placement: &Placement,
    rng: &mut impl Rng,
    chance: impl Fn(&Circuit, &Placement, &Shown) -> f64,
) -> Shown {
    let mut words = words(placement);
    if let Placement::Scan { channel } = *placement {
        let (low, high) = shown_range(circuit, channel);
        words.extend([low, high].map(|end| display(circuit, placement, end)));
    }
    // A number stands for the cell around it, as wide as the next ones are far.
    let cells = cells(circuit, placement);
    let number = |value: f64| Shown::Number { value, resolution: 0.0 };
    let weights = words
        .iter()
        .map(|word| chance(circuit, placement, word))
        .chain(cells.iter().map(|&(low, high)| {
            let middle = 0.5 * (low + high);
            (high - low) * chance(circuit, placement, &number(middle))
        }));
    let weights: Vec<f64> = weights.collect();
    match pick(rng, weights.into_iter()) {
        Some(at) if at < words.len() => words[at].clone(),
        Some(at) => {
            let (low, high) = cells[at - words.len()];
            display(circuit, placement, low + (high - low) * rng.random::<f64>())
        }
        None => Shown::NotTaken,
    }
}

fn shows_numbers(placement: &Placement) -> bool {
    !matches!(
        placement,
        Placement::Continuity { .. } | Placement::TestLight { .. } | Placement::Code { .. }
    )
}

/// What an instrument shows beside numbers.
fn words(placement: &Placement) -> Vec<Shown> {
    match placement {
        Placement::TestLight { .. } => [Light::Off, Light::Dim, Light::Bright].map(Shown::Light).into(),
        Placement::Continuity { .. } => [true, false].map(Shown::YesNo).into(),
        Placement::Code { .. } => [
            CodeState::Present,
            CodeState::Pending,
            CodeState::History,
            CodeState::NotSet,
        ]
        .map(Shown::Code)
        .into(),
        Placement::Ohmmeter { .. } => vec![Shown::OverRange],
        _ => Vec::new(),
    }
}

/// Cells that cover what an instrument may show.
fn cells(circuit: &Circuit, placement: &Placement) -> Vec<(f64, f64)> {
    let between = |n: u32, at: &dyn Fn(f64) -> f64| {
        let edge = |cell: u32| at(f64::from(cell) / f64::from(n));
        (0..n).map(|cell| (edge(cell), edge(cell + 1))).collect()
    };
    match placement {
        Placement::Ohmmeter { .. } => between(400, &|part| 0.1 * 1e9_f64.powf(part)),
        Placement::Alternating {
            shows: Alternating::Hertz,
            ..
        } => between(400, &|part| 0.1 * 1e6_f64.powf(part) - 0.1),
        Placement::Alternating {
            shows: Alternating::Duty,
            ..
        } => between(400, &|part| 100.0 * part),
        Placement::Scan { channel } => {
            let (low, high) = shown_range(circuit, *channel);
            between(400, &|part| low + (high - low) * part)
        }
        _ if shows_numbers(placement) => {
            // Finer towards zero, where most of what goes wrong ends.
            let most = (200.0_f64 / 0.02).asinh();
            between(1000, &|part| 0.02 * (most * (2.0 * part - 1.0)).sinh())
        }
        _ => Vec::new(),
    }
}

fn shown_range(circuit: &Circuit, channel: circuit::ChannelId) -> (f64, f64) {
    let channel = circuit.channels.get(channel.idx());
    channel.map_or((0.0, 1.0), bench::shown_ends)
}

/// A number with the digits that the instrument has for it: a meter of 6000 counts, a clamp of 10 mA, a scan tool with
/// digits enough for the converter's steps.
fn display(circuit: &Circuit, placement: &Placement, value: f64) -> Shown {
    // Full-scale values lie at 6 of each decade.
    let digit = |least: f64| {
        10_f64
            .powf((value.abs().max(1e-9) / 6.0).log10().ceil() - 3.0)
            .max(least)
    };
    let (value, resolution) = match *placement {
        Placement::Ohmmeter { .. } => (value.max(0.0), digit(0.1)),
        Placement::Ammeter { .. } => (value, digit(1e-5)),
        Placement::Clamp { .. } => (value, 0.01),
        Placement::Scan { channel } => {
            let (low, high) = shown_range(circuit, channel);
            let steps = circuit.channels.get(channel.idx()).map_or(1, |channel| channel.steps);
            let step = (high - low) / f64::from(steps.max(2));
            (value.clamp(low, high), 10_f64.powf(step.log10().floor()))
        }
        _ => (value, digit(1e-4)),
    };
    Shown::Number {
        value: (value / resolution).round() * resolution,
        resolution,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Luck;

    fn demo() -> (Circuit, Placement) {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let volts = bench::parse_placement(&circuit, "voltmeter S1.3").unwrap();
        (circuit, volts)
    }

    #[test]
    fn a_meter_of_6000_counts_shows_four_digits() {
        let (circuit, volts) = demo();
        let text = |placement: &Placement, value| display(&circuit, placement, value).to_text(placement, &circuit);
        assert_eq!(text(&volts, 12.3456), "12.35 V");
        assert_eq!(text(&volts, 5.4321), "5.432 V");
        assert_eq!(text(&volts, 0.123_456), "0.1235 V");
        let ohms = bench::parse_placement(&circuit, "ohmmeter S1.3").unwrap();
        assert_eq!(text(&ohms, 4712.3), "4712 Ω");
        assert_eq!(text(&ohms, 0.26), "0.3 Ω");
        let scan = bench::parse_placement(&circuit, "scan pressure").unwrap();
        assert_eq!(text(&scan, 40.0), "32.00 bar", "the end of its range");
    }

    #[test]
    fn a_slip_shows_about_zero_a_third_of_the_time() {
        let (circuit, volts) = demo();
        let mut rng = Luck { seed: 3, job: 0 }.of("slip");
        let n = 2000;
        let near_zero = (0..n)
            .filter(|_| match mishap(&circuit, &volts, &mut rng, assumed::if_wrong) {
                Shown::Number { value, .. } => value.abs() < 0.15,
                _ => false,
            })
            .count();
        // 0.35 at the lead that touches nothing, and 0.65 · 0.3/17 of what may be anywhere; standard deviation 0.011.
        let share = near_zero as f64 / f64::from(n);
        assert!((share - 0.36).abs() < 0.04, "{share}");
    }
}
