//! Puts the laid-out circuit on the sheet: wires, combs, boxes, their words, and the spots to tap.

use std::fmt::Write as _;

use circuit::{Access, PartId, PointId, SetUp, WireId};

use crate::board::Board;
use crate::colour;
use crate::insides;
use crate::layout::{COMB, Layout, NAME, Plan, SMALL, TITLE, level};
use crate::names;
use crate::places::Kind;
use crate::rows::Port;
use crate::svg::{
    Anchor, BOX, CASING, DOT, DOTTED, HALO, INK, INK_CLEAR, LINE, PLATE, Paint, Rect, SOFT, SOFT_CLEAR, escaped, num,
    through,
};
use crate::symbols::{Symbol, between, ground};
use crate::wiring::Spot;

const BODY: Paint = Paint {
    class: "pw-wire",
    attrs: "",
};

/// Draws what lies beneath the hatching: wires and boxes.
pub(crate) fn ground_work(board: &mut Board, plan: &Plan<'_>, layout: &Layout, set_up: &SetUp) {
    for place in 0..plan.places.all.len() {
        boxes(board, plan, layout, set_up, place);
    }
    // Over the boxes: a wire that passes one by stays visible.
    wires(board, plan, layout);
}

/// Draws what lies above the hatching: combs, symbols, words.
pub(crate) fn details(board: &mut Board, plan: &Plan<'_>, layout: &Layout, set_up: &SetUp) {
    for place in 0..plan.places.all.len() {
        body(board, plan, layout, set_up, place);
    }
    for place in 0..plan.places.all.len() {
        inside(board, plan, layout, set_up, place);
    }
    wire_labels(board, plan, layout);
}

fn kind(plan: &Plan<'_>, place: usize) -> Kind {
    plan.places.all[place].kind
}

/// Straight wires first, those that change rows over them with a halo, so that a crossing is no joint.
fn wires(board: &mut Board, plan: &Plan<'_>, layout: &Layout) {
    for bent in [false, true] {
        for (cable, path) in plan.places.cables.iter().zip(&layout.paths) {
            if (path.len() > 2) != bent {
                continue;
            }
            if bent {
                board.svg.polyline(path, HALO);
                for pair in path.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
                    let (top, bottom) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
                    board.mark(Rect::new(pair[0].0 - 5.0, top, 10.0, bottom - top));
                }
            }
            match cable.wire {
                Some(wire) => colours(board, plan, wire, path),
                None => board.svg.polyline(path, LINE),
            }
        }
    }
}

fn colours(board: &mut Board, plan: &Plan<'_>, id: WireId, path: &[(f64, f64)]) {
    let Some(wire) = plan.circuit.wires.get(id.idx()) else {
        return;
    };
    let title = format!(
        "{}: {}, {} mm², {} m",
        names::of_part(plan.circuit, wire.part),
        names::of_wire(plan.circuit, id),
        names::figure(wire.area),
        names::figure(wire.length)
    );
    let d = through(path);
    let file_id = plan
        .circuit
        .parts
        .get(wire.part.idx())
        .map_or("", |part| part.id.as_str());
    board.svg.raw(&format!(
        "<g class=\"pw-cable\" data-part=\"{}\"><title>{}</title>",
        escaped(file_id),
        escaped(&title)
    ));
    board.svg.path(&d, CASING);
    let body = colour::hex(&wire.colour);
    board.svg.raw(&format!(
        "<path d=\"{d}\" class=\"{}\" fill=\"none\" stroke=\"{body}\" stroke-width=\"7.4\"/>",
        BODY.class
    ));
    if let Some(tracer) = wire.tracer.as_deref().filter(|tracer| !tracer.is_empty()) {
        let tracer = colour::hex(tracer);
        board.svg.raw(&format!(
            "<path d=\"{d}\" class=\"pw-tracer\" fill=\"none\" stroke=\"{tracer}\" stroke-width=\"2.8\" \
             stroke-dasharray=\"13 9\"/>"
        ));
    }
    board.svg.raw("</g>");
}

fn wire_labels(board: &mut Board, plan: &Plan<'_>, layout: &Layout) {
    for (cable, path) in plan.places.cables.iter().zip(&layout.paths) {
        let Some(wire) = cable.wire else { continue };
        let (a, b) = level(path);
        let (low, high) = (a.0.min(b.0), a.0.max(b.0));
        let label = SMALL.fit(&names::of_wire(plan.circuit, wire), (high - low - 12.0).max(30.0));
        for share in [0.5, 0.35, 0.65, 0.2, 0.8] {
            let x = low + (high - low) * share;
            if board.text_if_free((x, a.1 + 20.0), &label, SMALL, Anchor::Middle, SOFT_CLEAR) {
                break;
            }
        }
    }
}

/// The boxes that a place is drawn as.
fn parts(plan: &Plan<'_>, layout: &Layout, place: usize) -> Vec<Rect> {
    let ports = plan.rows.of_place(place);
    let rows: Vec<f64> = ports.map(|(port, _)| layout.y[plan.rows.of[port]]).collect();
    layout.boxes(place, &rows)
}

/// The box of a place; where wires of others pass between its rows, several boxes held together by a dotted line.
fn boxes(board: &mut Board, plan: &Plan<'_>, layout: &Layout, set_up: &SetUp, place: usize) {
    let rect = layout.rects[place];
    let radius = match kind(plan, place) {
        Kind::Connector(_) | Kind::Splice(_) | Kind::Fuse(_) => return,
        Kind::Module(_) | Kind::Device(_) | Kind::Relay(_) => 8.0,
        _ => 6.0,
    };
    if rect.w <= 0.0 {
        return;
    }
    let dashes = if taken_out(plan, set_up, place) {
        " stroke-dasharray=\"6 5\""
    } else {
        ""
    };
    let parts = parts(plan, layout, place);
    for pair in parts.windows(2) {
        let x = rect.mid().0;
        board.svg.line((x, pair[0].bottom()), (x, pair[1].y), DOTTED);
    }
    for part in parts {
        board.svg.rect_with(part, radius, BOX, dashes);
    }
}

fn body(board: &mut Board, plan: &Plan<'_>, layout: &Layout, set_up: &SetUp, place: usize) {
    let rect = layout.rects[place];
    if rect.w <= 0.0 {
        return;
    }
    let title = &layout.titles[place];
    let under = names::under(plan.circuit, &plan.places.all[place]);
    let (x, _) = rect.mid();
    match kind(plan, place) {
        Kind::Module(_) | Kind::Device(_) | Kind::Relay(_) => {
            let mut y = rect.y + 20.0;
            for line in title {
                board.text((x, y), line, TITLE, Anchor::Middle, INK);
                y += 17.0;
            }
            let note = if taken_out(plan, set_up, place) {
                "taken out".to_owned()
            } else {
                SMALL.fit(&under, rect.w - 12.0)
            };
            board.text_if_free((x, y - 2.0), &note, SMALL, Anchor::Middle, SOFT);
        }
        Kind::Connector(_) => connector(board, plan, layout, place),
        Kind::Splice(_) => splice(board, plan, layout, place),
        Kind::Fuse(i) => {
            let out = set_up.fuses_out.iter().any(|fuse| fuse.idx() == i);
            fuse(board, plan, layout, place, out);
        }
        Kind::Feed(_) | Kind::Ground(_) | Kind::Post(_) | Kind::Loose(_) => {
            // Its name stands in the tallest of its boxes.
            let parts = parts(plan, layout, place);
            for part in &parts {
                board.mark(*part);
            }
            let tallest = parts
                .into_iter()
                .reduce(|best, part| if part.h > best.h { part } else { best });
            supply(board, plan, tallest.unwrap_or(rect), place, title, &under);
        }
    }
}

/// A fuse in its first row; a terminal with several wires is a bar over their rows.
fn fuse(board: &mut Board, plan: &Plan<'_>, layout: &Layout, place: usize, out: bool) {
    let rect = layout.rects[place];
    let ports: Vec<(f64, &Port)> = plan
        .rows
        .of_place(place)
        .map(|(port, joints)| (layout.y[plan.rows.of[port]], joints))
        .collect();
    let through = ports
        .iter()
        .find(|(_, port)| port.left.is_some() && port.right.is_some());
    let Some((y, _)) = through.or(ports.first()).copied() else {
        return;
    };
    for (row, port) in &ports {
        let edges = [port.left.map(|_| rect.x), port.right.map(|_| rect.right())];
        for x in edges.into_iter().flatten().filter(|_| *row != y) {
            board.svg.line((x, y), (x, *row), LINE);
            board.mark(Rect::new(x - 3.0, y.min(*row), 6.0, (y - row).abs()));
        }
    }
    let x = rect.mid().0;
    if out {
        board.svg.rect_with(
            Rect::around(x, y - 8.0, 22.0, 8.0),
            2.0,
            PLATE,
            " stroke-dasharray=\"4 3\"",
        );
    } else {
        between(board, Symbol::Fuse, (rect.x, y), (rect.right(), y));
    }
    let under = names::under(plan.circuit, &plan.places.all[place]);
    let text = if out { format!("{under}, out") } else { under };
    board.lines_up((x, y - 32.0), &layout.titles[place], NAME, Anchor::Middle, INK);
    board.text(
        (x, y - 17.0),
        &SMALL.fit(&text, rect.w + 16.0),
        SMALL,
        Anchor::Middle,
        SOFT,
    );
}

fn taken_out(plan: &Plan<'_>, set_up: &SetUp, place: usize) -> bool {
    match kind(plan, place) {
        Kind::Device(i) => set_up.taken_out.iter().any(|device| device.idx() == i),
        Kind::Relay(i) => set_up
            .relays_out
            .iter()
            .chain(&set_up.relays_bridged)
            .any(|relay| relay.idx() == i),
        _ => false,
    }
}

/// A feed, ground or post: a glyph, the name, and what is to be known under it.
fn supply(board: &mut Board, plan: &Plan<'_>, rect: Rect, place: usize, title: &[String], under: &str) {
    let (_, mid) = rect.mid();
    let glyph = rect.x + 26.0;
    let down = match kind(plan, place) {
        Kind::Ground(_) => true,
        Kind::Post(point) => point != plan.circuit.battery_plus,
        _ => false,
    };
    if down {
        ground(board, glyph, mid - 11.0);
    } else {
        board.svg.line((glyph - 7.0, mid), (glyph + 7.0, mid), LINE);
        board.svg.line((glyph, mid - 7.0), (glyph, mid + 7.0), LINE);
        board.mark(Rect::around(glyph, mid, 8.0, 8.0));
    }
    let under = SMALL.fit(under, 124.0);
    let lines = title.len() + usize::from(!under.is_empty());
    let mut y = mid + 4.0 - 7.5 * (lines as f64 - 1.0);
    for line in title {
        board.text((rect.x + 44.0, y), line, NAME, Anchor::Start, INK);
        y += 15.0;
    }
    board.text((rect.x + 44.0, y), &under, SMALL, Anchor::Start, SOFT);
}

fn splice(board: &mut Board, plan: &Plan<'_>, layout: &Layout, place: usize) {
    let rect = layout.rects[place];
    let x = rect.mid().0;
    let rows: Vec<f64> = plan
        .rows
        .of_place(place)
        .map(|(port, _)| layout.y[plan.rows.of[port]])
        .collect();
    let top = rows.iter().copied().fold(f64::INFINITY, f64::min);
    let bottom = rows.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if top < bottom {
        board.svg.raw(&format!(
            "<path d=\"{}\" class=\"pw-halo\" fill=\"none\" stroke=\"#fffdf8\" stroke-width=\"9\"/>",
            through(&[(x, top), (x, bottom)])
        ));
        board.svg.raw(&format!(
            "<path d=\"{}\" class=\"pw-line\" fill=\"none\" stroke=\"#1d2430\" stroke-width=\"3.4\"/>",
            through(&[(x, top), (x, bottom)])
        ));
    }
    for y in rows {
        board.svg.circle(x, y, 6.4, DOT);
        board.terminal(x, y);
    }
    board.mark(Rect::new(x - 4.0, top, 8.0, bottom - top));
    board.lines_up((x, top - 14.0), &layout.titles[place], SMALL, Anchor::Middle, SOFT);
}

/// Two combs; where rows of others pass between their own, only a dotted line holds them together.
fn connector(board: &mut Board, plan: &Plan<'_>, layout: &Layout, place: usize) {
    let mut ports: Vec<(usize, &Port)> = plan
        .rows
        .of_place(place)
        .map(|(port, joints)| (plan.rows.of[port], joints))
        .collect();
    ports.sort_by_key(|(row, _)| *row);
    let Some([left, right]) = layout.combs.get(&place).copied() else {
        return;
    };
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (row, _) in &ports {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 >= *row => *last = *row,
            _ => runs.push((*row, *row)),
        }
    }
    for x in [left, right] {
        for pair in runs.windows(2) {
            let (from, to) = (layout.y[pair[0].1] + 26.0, layout.y[pair[1].0] - 26.0);
            board.svg.line((x, from), (x, to), DOTTED);
        }
        for (from, to) in &runs {
            let (top, bottom) = (layout.y[*from] - 26.0, layout.y[*to] + 26.0);
            board
                .svg
                .rect(Rect::new(x - COMB / 2.0, top, COMB, bottom - top), 4.0, PLATE);
        }
    }
    let owner = plan.places.owned.iter().find(|(connector, ..)| *connector == place);
    let wires_left = match owner {
        Some((_, _, half)) => *half != plan.columns.left_half[place],
        None => true,
    };
    for (row, port) in &ports {
        let y = layout.y[*row];
        for (x, joint) in [(left, port.left), (right, port.right)] {
            if joint.is_some() {
                board.svg.circle(x, y, 4.2, DOT);
                board.terminal(x, y);
            }
        }
        let number = port.cavity.map_or_else(String::new, |number| number.to_string());
        let (x, anchor) = if wires_left {
            (left - COMB / 2.0 - 8.0, Anchor::End)
        } else {
            (right + COMB / 2.0 + 8.0, Anchor::Start)
        };
        board.text((x, y - 8.0), &number, NAME, anchor, SOFT_CLEAR);
    }
    let top = ports.first().map_or(0.0, |(row, _)| layout.y[*row]);
    let rect = layout.rects[place];
    let (x, anchor) = match owner {
        Some(_) if wires_left => (rect.right(), Anchor::End),
        Some(_) => (rect.x, Anchor::Start),
        None => (rect.x + rect.w / 2.0, Anchor::Middle),
    };
    board.lines_up((x, top - 58.0), &layout.titles[place], NAME, anchor, INK_CLEAR);
}

fn inside(board: &mut Board, plan: &Plan<'_>, layout: &Layout, set_up: &SetUp, place: usize) {
    let rect = layout.rects[place];
    if rect.w <= 0.0 {
        return;
    }
    match kind(plan, place) {
        Kind::Module(i) => {
            if let Some(module) = plan.circuit.modules.get(i) {
                insides::module(board, plan.circuit, set_up, module, rect, layout);
            }
        }
        Kind::Device(i) => {
            if let Some(device) = plan.circuit.devices.get(i) {
                insides::device(board, plan.circuit, set_up, device, rect, layout);
            }
        }
        Kind::Relay(i) => {
            if let Some(relay) = plan.circuit.relays.get(i) {
                let branches: Vec<_> = relay.contacts.iter().chain([&relay.coil]).copied().collect();
                insides::relay(board, plan.circuit, set_up, &branches, rect, layout);
            }
        }
        _ => {}
    }
    // A terminal of a box is a dot on its edge.
    if !matches!(kind(plan, place), Kind::Connector(_) | Kind::Splice(_)) {
        let mut dots: Vec<(f64, f64)> = Vec::new();
        for (port, joints) in plan.rows.of_place(place) {
            let y = layout.y[plan.rows.of[port]];
            dots.extend(joints.left.map(|_| (rect.x, y)));
            dots.extend(joints.right.map(|_| (rect.right(), y)));
        }
        if let Kind::Post(point) = kind(plan, place) {
            dots.extend(layout.anchors.get(&point));
        }
        for (x, y) in dots {
            board.svg.circle(x, y, 4.2, DOT);
            board.terminal(x, y);
        }
    }
}

/// The spots to tap: every point that a probe reaches now or after parting its connector.
pub(crate) fn spots(plan: &Plan<'_>, layout: &Layout, set_up: &SetUp) -> Vec<Spot> {
    let mut spots = Vec::new();
    for (i, point) in plan.circuit.points.iter().enumerate() {
        let id = PointId::from(i);
        let Some((x, y)) = layout.anchors.get(&id).copied() else {
            continue;
        };
        let parted = |connector: circuit::ConnectorId| set_up.apart.contains(&connector);
        let reachable = match point.access {
            Access::Open { .. } => true,
            Access::WireSide(id) => {
                parted(id)
                    || plan
                        .circuit
                        .connectors
                        .get(id.idx())
                        .is_some_and(|connector| connector.back_probe)
            }
            Access::PinSide(id) => parted(id),
            Access::Inside => continue,
        };
        spots.push(Spot {
            point: id,
            x,
            y,
            reachable,
        });
    }
    spots
}

/// Draws the spots, last of all: transparent circles that name their point.
pub(crate) fn draw_spots(board: &mut Board, plan: &Plan<'_>, layout: &Layout, spots: &[Spot]) {
    for spot in spots {
        let Some(point) = plan.circuit.points.get(spot.point.idx()) else {
            continue;
        };
        let words = names::of_point(plan.circuit, spot.point);
        let path = &point.path;
        let title = if words == *path {
            words
        } else {
            format!("{words} ({path})")
        };
        let class = if spot.reachable { "spot" } else { "spot pw-closed" };
        let out = match point.access {
            // Terminals of one cavity lie closer than two thumbs: each circle leans away from the other.
            Access::WireSide(_) | Access::PinSide(_) => 13.0 * layout.outward.get(&spot.point).copied().unwrap_or(0.0),
            _ => 0.0,
        };
        let mut tag = String::new();
        let _ = write!(
            tag,
            "<g class=\"{class}\" data-point=\"{}\" role=\"button\" tabindex=\"0\" aria-label=\"{}\"><title>{}</title>\
             <circle class=\"pw-hit\" cx=\"{}\" cy=\"{}\" r=\"22\" fill=\"#000\" fill-opacity=\"0\"/></g>",
            escaped(path),
            escaped(&title),
            escaped(&title),
            num(spot.x + out),
            num(spot.y)
        );
        board.svg.raw(&tag);
    }
}

/// The box of a part: its place, or the middle of its wire.
pub(crate) fn part_rect(plan: &Plan<'_>, layout: &Layout, part: PartId) -> Option<Rect> {
    if let Some(place) = plan.places.of_part(part) {
        let rect = *layout.rects.get(place)?;
        return (rect.w > 0.0).then(|| rect.grown(3.0));
    }
    let circuit::PartKind::Wire(wire) = plan.circuit.parts.get(part.idx())?.kind else {
        return None;
    };
    let cable = plan.places.cables.iter().position(|cable| cable.wire == Some(wire))?;
    let (a, b) = level(layout.paths.get(cable)?);
    Some(Rect::new(a.0.min(b.0), a.1 - 9.0, (a.0 - b.0).abs(), 18.0))
}
