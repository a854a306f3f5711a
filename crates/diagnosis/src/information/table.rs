//! What one test would show: fine cells of its scale, and the chance of each under every point of the belief.

use bench::{CodeState, Kind, Light, Placement, Shown, accuracy};

use crate::Belief;
use crate::evidence::Sense;
use crate::likelihood::{GHOST_RESTS, GHOST_VOLTS, below, category, slip};
use crate::suspects::Foreseen;

/// Cells of a scale of numbers.
const CELLS: usize = 48;
/// Where in a normal distribution its weight is put to choose the cells, in standard deviations.
const NODES: [f64; 5] = [-1.6, -0.7, 0.0, 0.7, 1.6];
/// Share of readings gone wrong, or unforeseen, that show nothing: 0 V, 0 A; and over-range for ohms. As in the weighing.
const SLIP_AT_ZERO: f64 = 0.35;
const SLIP_OPEN: f64 = 0.4;

/// What a cell stands for.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shows {
    /// Numbers between two limits, which may be infinite.
    Between(f64, f64),
    Is(Shown),
}

/// One test, cut into cells.
#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) cells: Vec<Shows>,
    /// Components × cells: chance of the cell under the component.
    pub(crate) chances: Vec<f64>,
    /// By component that shows a number: mean and standard deviation of what is shown.
    pub(crate) numbers: Vec<Option<(f64, f64)>>,
    /// Least and most number that the instrument shows.
    pub(crate) shown_within: (f64, f64),
}

impl Table {
    /// `foreseen`: by component of the belief, the instrument left out.
    pub(crate) fn new(belief: &Belief<'_>, placement: &Placement, foreseen: &[Foreseen]) -> Self {
        let sense = Sense::of(belief.circuit, placement);
        let numbers = numbers(belief, placement, foreseen);
        let cells = match sense {
            Sense::Light => [Light::Off, Light::Dim, Light::Bright]
                .map(|light| Shows::Is(Shown::Light(light)))
                .to_vec(),
            Sense::Beep => [true, false].map(|yes| Shows::Is(Shown::YesNo(yes))).to_vec(),
            Sense::Code(..) => [
                CodeState::Present,
                CodeState::Pending,
                CodeState::History,
                CodeState::NotSet,
            ]
            .map(|state| Shows::Is(Shown::Code(state)))
            .into_iter()
            .chain([Shows::Is(Shown::NoCommunication)])
            .collect(),
            _ => number_cells(belief, &sense, foreseen, &numbers),
        };
        Self::of_cells(belief, &sense, foreseen, numbers, cells)
    }

    /// The same, cut into a range of numbers, what is below and above it, and what is no number.
    pub(crate) fn around(
        belief: &Belief<'_>,
        placement: &Placement,
        foreseen: &[Foreseen],
        low: f64,
        high: f64,
    ) -> Self {
        let sense = Sense::of(belief.circuit, placement);
        let numbers = numbers(belief, placement, foreseen);
        let cells = vec![
            Shows::Between(f64::NEG_INFINITY, low),
            Shows::Between(low, high),
            Shows::Between(high, f64::INFINITY),
            Shows::Is(Shown::OverRange),
            Shows::Is(Shown::NoCommunication),
        ];
        Self::of_cells(belief, &sense, foreseen, numbers, cells)
    }

    fn of_cells(
        belief: &Belief<'_>,
        sense: &Sense,
        foreseen: &[Foreseen],
        numbers: Vec<Option<(f64, f64)>>,
        cells: Vec<Shows>,
    ) -> Self {
        let n = cells.len();
        let background = background(sense, &cells);
        let mut chances = vec![0.0; foreseen.len() * n];
        for (((component, shown), number), row) in belief
            .components
            .iter()
            .zip(foreseen)
            .zip(&numbers)
            .zip(chances.chunks_mut(n.max(1)))
        {
            right(sense, &cells, shown, *number, row);
            let sum: f64 = row.iter().sum();
            let trusted = (1.0 - sense.wrong()) * (1.0 - component.elsewhere);
            let scale = if sum > 1e-9 { trusted / sum } else { 0.0 };
            let rest = if sum > 1e-9 { 1.0 - trusted } else { 1.0 };
            for (chance, background) in row.iter_mut().zip(&background) {
                *chance = *chance * scale + rest * background;
            }
        }
        let shown_within = sense.shown_within();
        Self {
            cells,
            chances,
            numbers,
            shown_within,
        }
    }
}

/// Mean and standard deviation of what is shown, where that is a number.
fn numbers(belief: &Belief<'_>, placement: &Placement, foreseen: &[Foreseen]) -> Vec<Option<(f64, f64)>> {
    let each = foreseen.iter().map(|shown| {
        let counts = shown.kind == Kind::Number && shown.mean.is_finite();
        counts.then(|| {
            let read = accuracy(belief.circuit, placement, shown.mean, None).sd;
            (shown.mean, (shown.variance + read * read).sqrt().max(1e-9))
        })
    });
    each.collect()
}

/// Cells of numbers, narrow where the suspects' expectations lie dense, then over-range and silence where they may occur.
fn number_cells(
    belief: &Belief<'_>,
    sense: &Sense,
    foreseen: &[Foreseen],
    numbers: &[Option<(f64, f64)>],
) -> Vec<Shows> {
    let mut nodes: Vec<(f64, f64)> = Vec::with_capacity(numbers.len() * NODES.len());
    for (component, number) in belief.components.iter().zip(numbers) {
        let Some((mean, sd)) = number else { continue };
        // The root lets rare suspects have cells too.
        nodes.extend(NODES.map(|node| (mean + sd * node, component.chance.max(0.0).sqrt())));
    }
    nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = nodes.iter().map(|node| node.1).sum();
    // What is read as less than the instrument shows is shown as the least, and likewise at the other end.
    let (least, most) = sense.shown_within();
    let mut limits: Vec<f64> = Vec::with_capacity(CELLS);
    let mut sum = 0.0;
    for pair in nodes.windows(2) {
        sum += pair[0].1;
        let limit = 0.5 * (pair[0].0 + pair[1].0);
        let due = sum >= total * (limits.len() + 1) as f64 / CELLS as f64;
        if due && limit > least && limit < most && limits.last().is_none_or(|last| limit > *last) {
            limits.push(limit);
        }
    }
    let starts = [f64::NEG_INFINITY].into_iter().chain(limits.iter().copied());
    let ends = limits.iter().copied().chain([f64::INFINITY]);
    let mut cells: Vec<Shows> = starts.zip(ends).map(|(low, high)| Shows::Between(low, high)).collect();
    let any = |kind: Kind| foreseen.iter().any(|shown| shown.kind == kind);
    if *sense == Sense::Ohms || any(Kind::OverRange) {
        cells.push(Shows::Is(Shown::OverRange));
    }
    if any(Kind::NoCommunication) {
        cells.push(Shows::Is(Shown::NoCommunication));
    }
    cells
}

/// Chance of each cell if the reading is right, up to a factor; all 0 if it could be anything.
fn right(sense: &Sense, cells: &[Shows], shown: &Foreseen, number: Option<(f64, f64)>, row: &mut [f64]) {
    if matches!(shown.kind, Kind::Live | Kind::Unknown | Kind::NotRun) {
        return;
    }
    let (down, up) = shown.ghost_volts;
    let ghost = *sense == Sense::Volts && down + up > 2.0 * GHOST_VOLTS;
    let mut left_below = 0.0;
    for (cell, chance) in cells.iter().zip(row) {
        *chance = match (cell, number) {
            (Shows::Is(what), _) => category(sense, what, shown.kind, shown.mean, shown.variance),
            (Shows::Between(..), None) => 0.0,
            (Shows::Between(_, high), Some((mean, sd))) => {
                let up_to = |value: f64| {
                    if !ghost {
                        return below((value - mean) / sd);
                    }
                    let sd = sd.hypot(GHOST_VOLTS);
                    let tail = ((value - mean + down) / (down + up)).clamp(0.0, 1.0);
                    GHOST_RESTS * below((value - mean) / sd) + (1.0 - GHOST_RESTS) * tail
                };
                let left = up_to(*high);
                let within = left - left_below;
                left_below = left;
                within.max(0.0)
            }
        };
    }
}

/// Chance of each cell if the reading has gone wrong or something unforeseen decides it.
fn background(sense: &Sense, cells: &[Shows]) -> Vec<f64> {
    let mut chances: Vec<f64> = cells
        .iter()
        .map(|cell| match cell {
            Shows::Between(low, high) => {
                let zero = if *low < 0.0 && *high >= 0.0 { SLIP_AT_ZERO } else { 0.0 };
                match *sense {
                    Sense::Ohms => (1.0 - SLIP_OPEN) * (decades(*high) - decades(*low)),
                    Sense::Amps => zero + (1.0 - SLIP_AT_ZERO) * (sizes(*high) - sizes(*low)),
                    Sense::Hertz => zero + (1.0 - SLIP_AT_ZERO) * (rates(*high) - rates(*low)),
                    Sense::Duty => ((high - low) / 100.0).clamp(0.0, 1.0),
                    Sense::Scan(least, most) => {
                        let share = |value: f64| ((value - least) / (most - least)).clamp(0.0, 1.0);
                        share(*high) - share(*low)
                    }
                    _ => {
                        let share = |value: f64| ((value + 1.0) / 17.0).clamp(0.0, 1.0);
                        zero + (1.0 - SLIP_AT_ZERO) * (share(*high) - share(*low))
                    }
                }
            }
            Shows::Is(shown) => slip(sense, shown),
        })
        .collect();
    let sum: f64 = chances.iter().sum();
    let n = chances.len() as f64;
    for chance in &mut chances {
        *chance = if sum > 0.0 { *chance / sum } else { 1.0 / n };
    }
    chances
}

fn decades(ohms: f64) -> f64 {
    ((ohms.max(0.1) / 0.1).log10() / 9.0).clamp(0.0, 1.0)
}

fn rates(hertz: f64) -> f64 {
    ((hertz.max(0.1) / 0.1).log10() / 6.0).clamp(0.0, 1.0)
}

fn sizes(amps: f64) -> f64 {
    let most = (200.0_f64 / 0.02).asinh();
    (0.5 + 0.5 * (amps / 0.02).asinh() / most).clamp(0.0, 1.0)
}
