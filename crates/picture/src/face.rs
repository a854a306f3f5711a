//! The face of a connector: cavities in rows as moulded, each with its wire's colours.

use circuit::{Circuit, Connector, ConnectorId, PointId, WireId};

use crate::board::Board;
use crate::colour;
use crate::marks::{Look, Marks, SuspectPlace, Tone};
use crate::names;
use crate::overlay::{hatch_level, lead_disc};
use crate::places::branch_ends;
use crate::svg::{Anchor, FLAG, FLAG_OFF, INK, NEXT_RING, PLATE, Rect, SOFT, escaped, num};
use crate::text::Face;
use crate::wiring::document;

const NUMBER: Face = Face::bold(13.0);
const WORDS: Face = Face::regular(11.0);
const TITLE: Face = Face::bold(14.0);
/// A cavity: wide enough for a thumb.
const CELL: f64 = 64.0;
const TALL: f64 = 76.0;

/// Draws the face of one half of a connector: half 0 (`a`) with rows as in the circuit, half 1 mirrored left to right,
/// as two faces that mate are. Cavities without anything in them are drawn empty. Empty if there is no such connector.
///
/// Marks are drawn on the cavities they touch on this half; suspicions on points or on the branches of a cavity.
pub fn connector_face(circuit: &Circuit, connector: ConnectorId, half: usize, marks: &Marks, look: &Look) -> String {
    let Some(plug) = circuit.connectors.get(connector.idx()) else {
        return String::new();
    };
    let half = half.min(1);
    let columns = plug.rows.iter().map(Vec::len).max().unwrap_or(0).max(1);
    let name = names::of_part(circuit, plug.part);
    let words = plug.halves.get(half).map_or("", |half| half.words.as_str());
    let caption = if words.is_empty() {
        name.clone()
    } else {
        format!("{name} · {words}")
    };
    let width = (columns as f64 * CELL + 48.0)
        .max(TITLE.width(&caption).min(420.0) + 32.0)
        .max(200.0);
    let height = plug.rows.len().max(1) as f64 * TALL + 78.0;
    let mut board = Board::new(width, height);
    board.text(
        (16.0, 26.0),
        &TITLE.fit(&caption, width - 32.0),
        TITLE,
        Anchor::Start,
        INK,
    );
    let left = (width - columns as f64 * CELL) / 2.0;
    let body = Rect::new(
        left - 10.0,
        40.0,
        columns as f64 * CELL + 20.0,
        plug.rows.len().max(1) as f64 * TALL + 16.0,
    );
    board.svg.rect(body, 10.0, PLATE);
    let mut taps = String::new();
    for (row, numbers) in plug.rows.iter().enumerate() {
        // Short rows stand in the middle, so that neighbours across rows stay neighbours.
        let start = left + (columns - numbers.len()) as f64 * CELL / 2.0;
        for (at, number) in numbers.iter().enumerate() {
            let at = if half == 1 { numbers.len() - 1 - at } else { at };
            let cell = Rect::new(start + at as f64 * CELL, 48.0 + row as f64 * TALL, CELL, TALL).grown(-3.0);
            cavity(&mut board, circuit, plug, *number, half, cell, marks, &look.prefix());
            taps.push_str(&tap(circuit, plug, *number, half, cell));
        }
    }
    board.svg.raw(&taps);
    document(&board.svg.out, width, height, &caption, look)
}

#[expect(
    clippy::too_many_arguments,
    reason = "one cavity of one half on one sheet; a struct would only rename them"
)]
fn cavity(
    board: &mut Board,
    circuit: &Circuit,
    plug: &Connector,
    number: u16,
    half: usize,
    cell: Rect,
    marks: &Marks,
    prefix: &str,
) {
    let (x, _) = cell.mid();
    let fitted = plug.cavities.get(&number);
    let point = fitted.map(|cavity| cavity.terminals[half]);
    let flag = point.and_then(|point| marks.flags.iter().rev().find(|flag| flag.point == point));
    let frame = match flag.map(|flag| flag.tone) {
        Some(Tone::Off) => FLAG_OFF,
        _ => FLAG,
    };
    let dashes = if fitted.is_none() {
        " stroke-dasharray=\"3 3\""
    } else {
        ""
    };
    board.svg.rect_with(cell, 6.0, frame, dashes);
    if let Some(point) = point {
        let strength: f64 = marks
            .suspicions
            .iter()
            .filter(|s| touches(circuit, plug, number, point, &s.place))
            .map(|s| s.strength.max(0.0))
            .sum();
        if strength > 0.0 {
            let (x, y, w, h) = (num(cell.x), num(cell.y), num(cell.w), num(cell.h));
            let level = hatch_level(strength);
            board.svg.raw(&format!(
                "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" rx=\"6\" fill=\"url(#{prefix}-h{level})\"/>"
            ));
        }
    }
    board.text(
        (cell.x + 6.0, cell.y + 15.0),
        &number.to_string(),
        NUMBER,
        Anchor::Start,
        SOFT,
    );
    let wire = fitted.and_then(|cavity| cavity.wires[half].or(cavity.wires[1 - half]));
    let hole = (x, cell.y + 26.0);
    if let Some((_, wire)) = wire {
        disc(board, circuit, wire, hole);
    } else if fitted.is_some() {
        board.svg.circle(hole.0, hole.1, 9.0, PLATE);
    }
    match (flag, fitted) {
        (Some(flag), _) => {
            let text = NUMBER.fit(&flag.big, cell.w - 6.0);
            board.text((x, cell.bottom() - 9.0), &text, NUMBER, Anchor::Middle, INK);
        }
        (None, Some(cavity)) => {
            let lines = WORDS.wrap(&cavity.words, cell.w - 4.0, 2);
            board.lines_up((x, cell.bottom() - 5.0), &lines, WORDS, Anchor::Middle, SOFT);
        }
        (None, None) => {}
    }
    let is = |other: Option<PointId>| other.is_some() && other == point;
    if marks
        .next
        .as_ref()
        .is_some_and(|next| next.points.iter().any(|next| is(Some(*next))))
    {
        board.svg.rect(cell, 8.0, NEXT_RING);
    }
    for (chosen, letter) in [(marks.chosen.red, "+"), (marks.chosen.black, "−")] {
        if is(chosen) {
            lead_disc(board, hole, letter);
        }
    }
}

/// Whether a suspicion is at this cavity's point on this half, or in its contact or crimps.
fn touches(circuit: &Circuit, plug: &Connector, number: u16, point: PointId, place: &SuspectPlace) -> bool {
    match place {
        SuspectPlace::Points(points) => points.contains(&point),
        SuspectPlace::Branches(branches) => branches
            .iter()
            .any(|branch| branch_ends(circuit, *branch).is_some_and(|(a, b)| a == point || b == point)),
        SuspectPlace::Part(part) => *part == plug.part && plug.cavities.contains_key(&number),
    }
}

/// A wire's end seen head-on: body colour with a stripe of the tracer.
fn disc(board: &mut Board, circuit: &Circuit, id: WireId, (x, y): (f64, f64)) {
    let Some(wire) = circuit.wires.get(id.idx()) else {
        return;
    };
    let body = colour::hex(&wire.colour);
    board.svg.raw(&format!(
        "<circle cx=\"{}\" cy=\"{}\" r=\"10\" class=\"pw-casing\" fill=\"{body}\" stroke=\"#5b616b\" stroke-width=\"1.4\"><title>{}</title></circle>",
        num(x),
        num(y),
        escaped(&names::of_wire(circuit, id))
    ));
    if let Some(tracer) = wire.tracer.as_deref().filter(|tracer| !tracer.is_empty()) {
        board.svg.raw(&format!(
            "<path d=\"M{} {} L{} {}\" stroke=\"{}\" stroke-width=\"4\" fill=\"none\"/>",
            num(x - 6.5),
            num(y + 6.5),
            num(x + 6.5),
            num(y - 6.5),
            colour::hex(tracer)
        ));
    }
}

fn tap(circuit: &Circuit, plug: &Connector, number: u16, half: usize, cell: Rect) -> String {
    let Some(point) = plug
        .cavities
        .get(&number)
        .and_then(|cavity| circuit.points.get(cavity.terminals[half].idx()))
    else {
        return String::new();
    };
    let title = if point.words.is_empty() {
        point.path.clone()
    } else {
        format!("{} ({})", point.words, point.path)
    };
    format!(
        "<g class=\"spot\" data-point=\"{}\" role=\"button\" tabindex=\"0\" aria-label=\"{}\"><title>{}</title><rect \
         class=\"pw-hit\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#000\" fill-opacity=\"0\"/></g>\n",
        escaped(&point.path),
        escaped(&title),
        escaped(&title),
        num(cell.x),
        num(cell.y),
        num(cell.w),
        num(cell.h)
    )
}
