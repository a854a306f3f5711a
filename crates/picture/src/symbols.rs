//! Plain schematic symbols, drawn from one point to another.

use std::fmt::Write as _;

use crate::board::Board;
use crate::svg::{Anchor, DOT, INK, LINE, PLATE, Rect, num, through};
use crate::text::Face;

/// A two-ended symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Symbol {
    Resistor,
    Thermistor,
    Coil,
    Motor,
    Lamp,
    /// Contacts, closed or not.
    Switch {
        closed: bool,
    },
    Diode,
    Fuse,
    Source,
    Block,
}

/// Half the length of a symbol along its way.
const HALF: f64 = 22.0;

/// Draws a symbol in the middle of a straight way, with leads to both ends.
pub(crate) fn between(board: &mut Board, symbol: Symbol, from: (f64, f64), to: (f64, f64)) {
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    if length < 1.0 {
        return;
    }
    let half = HALF.min(length / 2.0);
    let (ux, uy) = ((to.0 - from.0) / length, (to.1 - from.1) / length);
    // `along` from the middle towards `to`, `across` to the left of it.
    let at = |along: f64, across: f64| {
        let (x, y) = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
        (x + ux * along + uy * across, y + uy * along - ux * across)
    };
    let (mx, my) = at(0.0, 0.0);
    board.mark(Rect::around(mx, my, 12.0 + ux.abs() * 10.0, 12.0 + uy.abs() * 10.0));
    let svg = &mut board.svg;
    let mut reach = half;
    match symbol {
        Symbol::Resistor => {
            let mut points = vec![at(-half, 0.0)];
            for i in 0..6 {
                let side = if i % 2 == 0 { 6.0 } else { -6.0 };
                points.push(at(half * (f64::from(i) / 3.0 - 5.0 / 6.0), side));
            }
            points.push(at(half, 0.0));
            svg.polyline(&points, LINE);
        }
        Symbol::Thermistor | Symbol::Block => {
            let corners = [at(-half, -8.0), at(half, -8.0), at(half, 8.0), at(-half, 8.0)];
            svg.path(&format!("{} Z", through(&corners)), PLATE);
            if symbol == Symbol::Thermistor {
                svg.polyline(
                    &[at(-half - 4.0, -15.0), at(-half + 6.0, -15.0), at(half + 2.0, 15.0)],
                    LINE,
                );
            }
        }
        Symbol::Coil => {
            let (x, y) = at(-half, 0.0);
            let mut d = format!("M{} {}", num(x), num(y));
            for i in 1..=4 {
                let (x, y) = at(half * (f64::from(i) / 2.0 - 1.0), 0.0);
                let r = num(half / 4.0);
                let _ = write!(d, " A{r} {r} 0 0 1 {} {}", num(x), num(y));
            }
            svg.path(&d, LINE);
        }
        Symbol::Motor | Symbol::Lamp | Symbol::Source => {
            reach = half.min(18.0);
            svg.circle(mx, my, reach, PLATE);
            if symbol == Symbol::Lamp {
                let d = reach * 0.7;
                svg.line((mx - d, my - d), (mx + d, my + d), LINE);
                svg.line((mx - d, my + d), (mx + d, my - d), LINE);
            }
        }
        Symbol::Switch { closed } => {
            let tip = if closed { at(half, 0.0) } else { at(half * 0.8, 13.0) };
            svg.line(at(-half, 0.0), tip, LINE);
        }
        Symbol::Diode => {
            reach = half.min(9.0);
            svg.path(
                &format!("{} Z", through(&[at(-reach, 8.0), at(-reach, -8.0), at(reach, 0.0)])),
                PLATE,
            );
            svg.line(at(reach, 8.0), at(reach, -8.0), LINE);
        }
        Symbol::Fuse => {
            let corners = [at(-half, -8.0), at(half, -8.0), at(half, 8.0), at(-half, 8.0)];
            svg.path(&format!("{} Z", through(&corners)), PLATE);
            svg.line(at(-half, 0.0), at(half, 0.0), LINE);
        }
    }
    svg.line(from, at(-reach, 0.0), LINE);
    svg.line(at(reach, 0.0), to, LINE);
    if let Symbol::Switch { .. } = symbol {
        for end in [-half, half] {
            let (x, y) = at(end, 0.0);
            svg.circle(x, y, 2.6, DOT);
        }
    }
    if symbol == Symbol::Motor {
        board.text((mx, my + 5.0), "M", Face::bold(14.0), Anchor::Middle, INK);
    }
}

/// A ground symbol hanging from a point.
pub(crate) fn ground(board: &mut Board, x: f64, y: f64) {
    board.mark(Rect::new(x - 13.0, y, 26.0, 24.0));
    board.svg.line((x, y), (x, y + 11.0), LINE);
    for (half, down) in [(13.0, 11.0), (8.0, 16.0), (3.0, 21.0)] {
        board.svg.line((x - half, y + down), (x + half, y + down), LINE);
    }
}
