//! Values of scan data that cannot both be true of a sound circuit: two that follow one sensed quantity and put it at
//! different places.

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, accuracy};
use circuit::{ChannelId, Circuit, SensedId, SetUp};

/// Places of the sensed quantity that are tried.
const PLACES: usize = 129;
/// A channel follows a quantity if it moves by so much of all it can show.
const FOLLOWS: f64 = 0.1;
/// Beyond so many standard deviations two values contradict each other.
const TOO_FAR: f64 = 3.0;

/// Two channels that contradict each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// What both follow.
    pub sensed: SensedId,
    /// The channels.
    pub channels: [ChannelId; 2],
    /// Where each alone puts the quantity, in its unit; `None` where no place fits.
    pub puts_it: [Option<f64>; 2],
    /// How far the less unlikely place is from fitting both, in standard deviations.
    pub deviations: f64,
}

/// The pairs of `shown` values that no place of what they follow explains in a sound circuit.
///
/// # Errors
/// As [`Predict::predict`].
pub fn contradictions(
    bench: &dyn Predict,
    circuit: &Circuit,
    set_up: &SetUp,
    shown: &[(ChannelId, f64)],
) -> Result<Vec<Contradiction>, BenchError> {
    let placements: Vec<Placement> = shown.iter().map(|&(channel, _)| Placement::Scan { channel }).collect();
    let mut found = Vec::new();
    for idx in 0..circuit.sensed.len() {
        let sensed = SensedId::from(idx);
        let (least, most) = circuit.sensed[idx].range;
        let place = |at: usize| least + (most - least) * at as f64 / (PLACES - 1) as f64;
        let mut rows: Vec<Vec<Prediction>> = Vec::with_capacity(PLACES);
        for at in 0..PLACES {
            let mut there = set_up.clone();
            there.sensed.insert(sensed, place(at));
            let sound = [Hypothesis::default()];
            rows.push(bench.predict(Question::new(&sound, &there, &placements))?.predictions);
        }
        let off = |column: usize| -> Option<Vec<f64>> {
            let (channel, value) = shown[column];
            let values: Vec<f64> = rows.iter().map(|row| row[column].value).collect();
            let (low, high) = bench::shown_ends(&circuit.channels[channel.idx()]);
            let moves = values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - values.iter().copied().fold(f64::INFINITY, f64::min);
            if moves < FOLLOWS * (high - low) || rows.iter().any(|row| row[column].kind != Kind::Number) {
                return None;
            }
            let doubt = circuit.sensed[idx].param;
            let of = |at: usize| {
                let prediction = &rows[at][column];
                let own = accuracy(circuit, &placements[column], prediction.value, None).sd;
                let params = prediction.by_param.iter().enumerate();
                let unknown = params.filter(|(param, _)| doubt.is_none_or(|doubt| doubt.idx() != *param));
                // Between two places it may be anywhere.
                let next = values[(at + 1).min(PLACES - 1)];
                let before = values[at.saturating_sub(1)];
                let step = (next - before) / 4.0;
                let variance = own * own + step * step + unknown.map(|(_, slope)| slope * slope).sum::<f64>();
                (value - prediction.value).abs() / variance.sqrt()
            };
            Some((0..PLACES).map(of).collect())
        };
        let columns: Vec<(usize, Vec<f64>)> = (0..shown.len()).filter_map(|at| Some((at, off(at)?))).collect();
        let fits = |off: &[f64]| {
            let best = off.iter().enumerate().min_by(|one, other| one.1.total_cmp(other.1));
            best.filter(|(_, off)| **off <= TOO_FAR).map(|(at, _)| place(at))
        };
        for (first, (one, one_off)) in columns.iter().enumerate() {
            for (other, other_off) in &columns[first + 1..] {
                let both = one_off.iter().zip(other_off).map(|(one, other)| one.max(*other));
                let deviations = both.fold(f64::INFINITY, f64::min);
                if deviations > TOO_FAR {
                    found.push(Contradiction {
                        sensed,
                        channels: [shown[*one].0, shown[*other].0],
                        puts_it: [fits(one_off), fits(other_off)],
                        deviations,
                    });
                }
            }
        }
    }
    Ok(found)
}
