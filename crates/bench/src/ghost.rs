//! A point that nothing drives, and how far its neighbours may drag it.
//!
//! Through 10 MΩ such a point reads within millivolts of the black lead; dirt and damp between neighbours may lift it
//! towards their voltages, and what is in the air a little either way. Common practice, no source.

use std::collections::BTreeSet;

use circuit::{Circuit, PointId};

use crate::attach::VOLTMETER_OHMS;
use crate::read::Case;

/// Below this resistance behind the points, something drives them. A tenth of the meter's own.
const DRIVEN_OHMS: f64 = VOLTMETER_OHMS / 10.0;

/// What the air alone does to a point that nothing holds, either way: a few millivolts there tell nothing, whatever leakage is
/// reckoned to make of them.
const LEAST_VOLTS: f64 = 0.015;

/// The physical neighbours of each point.
#[derive(Debug)]
pub(crate) struct Neighbours {
    of: Vec<Vec<PointId>>,
}

impl Neighbours {
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let mut of = vec![BTreeSet::new(); circuit.points.len()];
        for connector in &circuit.connectors {
            for (number, cavity) in &connector.cavities {
                for other in around(&connector.rows, *number) {
                    let Some(other) = connector.cavities.get(&other) else {
                        continue;
                    };
                    for half in 0..2 {
                        of[cavity.terminals[half].idx()].insert(other.terminals[half]);
                    }
                }
                // A terminal is one with its wire, and the wire lies beside others.
                for half in 0..2 {
                    let Some((_, wire)) = cavity.wires[half] else { continue };
                    let beside = circuit.bundles.iter().filter(|bundle| bundle.wires.contains(&wire));
                    for mate in beside.flat_map(|bundle| &bundle.wires).filter(|mate| **mate != wire) {
                        of[cavity.terminals[half].idx()].extend(circuit.wires[mate.idx()].ends);
                    }
                }
            }
        }
        Self {
            of: of.into_iter().map(|points| points.into_iter().collect()).collect(),
        }
    }

    /// How far below and above `value` the reading may lie.
    pub(crate) fn ghost(
        &self,
        case: &Case<'_>,
        red: PointId,
        black: PointId,
        value: f64,
        source_ohms: f64,
    ) -> (f64, f64) {
        if source_ohms < DRIVEN_OHMS {
            return (0.0, 0.0);
        }
        let weight = if source_ohms.is_finite() {
            source_ohms / (source_ohms + VOLTMETER_OHMS)
        } else {
            1.0
        };
        // The red lead's neighbours pull one way, the black lead's the other.
        let near_red = self.of[red.idx()]
            .iter()
            .map(|&point| case.volts(point) - case.volts(black));
        let near_black = self.of[black.idx()]
            .iter()
            .map(|&point| case.volts(red) - case.volts(point));
        let (low, high) = near_red
            .chain(near_black.filter(|_| black != case.shop.circuit.battery_minus))
            .fold((value - LEAST_VOLTS, value + LEAST_VOLTS), |(low, high), volts| {
                (low.min(volts), high.max(volts))
            });
        (weight * (value - low), weight * (high - value))
    }
}

/// Cavities next to one in its row, and those above and below it.
fn around(rows: &[Vec<u16>], number: u16) -> Vec<u16> {
    let Some((row, column)) = rows
        .iter()
        .enumerate()
        .find_map(|(at, row)| Some((at, row.iter().position(|n| *n == number)?)))
    else {
        return Vec::new();
    };
    let left = column.checked_sub(1).and_then(|column| rows[row].get(column));
    let beside = [left, rows[row].get(column + 1)];
    let above = row.checked_sub(1).and_then(|row| rows[row].get(column));
    let below = rows.get(row + 1).and_then(|row| row.get(column));
    beside.into_iter().chain([above, below]).flatten().copied().collect()
}
