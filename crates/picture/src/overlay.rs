//! Marks on the picture: hatching, readings, leads, what to do next, and what is clipped in.

use circuit::{BranchId, Placed, PointId, Role, SetUp};

use crate::board::Board;
use crate::layout::{Layout, Plan, SMALL, level};
use crate::marks::{Flag, Marks, Next, SuspectPlace, Suspicion, Tone};
use crate::paint::part_rect;
use crate::places::branch_ends;
use crate::svg::{
    Anchor, CLIPPED, FLAG, FLAG_OFF, INK, LEADER_OFF, LINE, NEXT_LEADER, NEXT_PILL, NEXT_RING, OFF, ON_ACCENT, PAPER,
    PLATE, Paint, Rect, SOFT, escaped, num,
};
use crate::text::Face;

const BIG: Face = Face::bold(15.0);
const LITTLE: Face = Face::regular(11.5);
const PILL: Face = Face::bold(13.5);
/// Levels of hatching; a strength falls into one of them.
const LEVELS: usize = 5;

/// The hatching patterns, from faint to strong: lines closer, wider and darker.
pub(crate) fn patterns(prefix: &str) -> String {
    let pattern = |level: usize| {
        let share = level as f64 / (LEVELS - 1) as f64;
        let (step, width, opacity) = (9.0 - 3.5 * share, 0.9 + 1.7 * share, 0.45 + 0.4 * share);
        let (s, w, o) = (num(step), num(width), format!("{opacity:.2}"));
        format!(
            "<pattern id=\"{prefix}-h{level}\" width=\"{s}\" height=\"{s}\" patternUnits=\"userSpaceOnUse\" \
                 patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"{s}\" class=\"pw-hatch\" \
                 stroke=\"#b4501c\" stroke-width=\"{w}\" stroke-opacity=\"{o}\"/></pattern>"
        )
    };
    (0..LEVELS).map(pattern).collect::<Vec<_>>().concat()
}

/// The hatching level of a strength.
pub(crate) fn hatch_level(strength: f64) -> usize {
    // The square root spreads small chances: 5 % and 20 % look different.
    let strength = if strength.is_finite() {
        strength.clamp(0.0, 1.0)
    } else {
        0.0
    };
    ((strength.sqrt() * LEVELS as f64) as usize).min(LEVELS - 1)
}

/// Draws the hatching and returns where it lies and what it is for.
pub(crate) fn suspicions(
    board: &mut Board,
    plan: &Plan<'_>,
    layout: &Layout,
    marks: &Marks,
    prefix: &str,
) -> Vec<(Vec<Rect>, String)> {
    // One place, one hatching: the chances of all that point there are added.
    let mut places: Vec<(Vec<Rect>, f64, String)> = Vec::new();
    let mut sorted: Vec<&Suspicion> = marks.suspicions.iter().collect();
    sorted.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    for suspicion in sorted {
        let rects = place_rects(plan, layout, &suspicion.place);
        let strength = if suspicion.strength.is_finite() {
            suspicion.strength.clamp(0.0, 1.0)
        } else {
            0.0
        };
        match places.iter_mut().find(|(other, ..)| *other == rects) {
            Some((_, sum, label)) => {
                *sum = (*sum + strength).min(1.0);
                label.push_str("; ");
                label.push_str(&suspicion.label);
            }
            None if !rects.is_empty() => places.push((rects, strength, suspicion.label.clone())),
            None => {}
        }
    }
    for (rects, strength, label) in &places {
        let level = hatch_level(*strength);
        let edge = if level < 2 { " stroke-dasharray=\"3 3\"" } else { "" };
        let width = num(0.8 + 0.25 * level as f64);
        board
            .svg
            .raw(&format!("<g class=\"pw-suspect\"><title>{}</title>", escaped(label)));
        for rect in rects {
            let (x, y, w, h) = (num(rect.x), num(rect.y), num(rect.w), num(rect.h));
            board.svg.raw(&format!(
                "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" rx=\"9\" class=\"pw-hatch-edge\" \
                 fill=\"url(#{prefix}-h{level})\" stroke=\"#b4501c\" stroke-width=\"{width}\"{edge}/>"
            ));
        }
        board.svg.raw("</g>");
    }
    places.into_iter().map(|(rects, _, label)| (rects, label)).collect()
}

/// Writes short labels beside their hatching, where there is room when all else stands.
pub(crate) fn suspicion_labels(board: &mut Board, hatched: &[(Vec<Rect>, String)]) {
    for rect in hatched.iter().flat_map(|(rects, _)| rects) {
        board.mark(*rect);
    }
    for (rects, label) in hatched {
        let short = label.split("; ").next().unwrap_or_default();
        let (Some(rect), true) = (rects.first(), !short.is_empty() && short.chars().count() <= 8) else {
            continue;
        };
        let (x, y) = rect.mid();
        let (w, h) = (SMALL.width(short) + 10.0, 17.0);
        let wanted = [
            (rect.right() + 4.0, y - h / 2.0),
            (rect.x - w - 4.0, y - h / 2.0),
            (rect.right() + 4.0, y + 14.0),
            (rect.x - w - 4.0, y + 14.0),
            (x - w / 2.0, rect.y - h - 2.0),
            (x - w / 2.0, rect.bottom() + 2.0),
            (rect.right() + 4.0, y - 14.0 - h),
            (x - w / 2.0, rect.bottom() + 18.0),
        ];
        let boxes = wanted.iter().map(|(x, y)| Rect::new(*x, *y, w, h));
        if let Some(found) = boxes.into_iter().find(|rect| board.free(*rect, true)) {
            board.svg.rect(found, 8.0, PAPER);
            let (x, y) = found.mid();
            board.text((x, y + 4.0), short, SMALL, Anchor::Middle, OFF);
        }
    }
}

fn place_rects(plan: &Plan<'_>, layout: &Layout, place: &SuspectPlace) -> Vec<Rect> {
    let raw: Vec<Rect> = match place {
        SuspectPlace::Points(points) => points
            .iter()
            .filter_map(|point| {
                Some((
                    layout.anchors.get(point)?,
                    layout.outward.get(point).copied().unwrap_or(0.0),
                ))
            })
            // Outward of the combs, so that they do not hide it.
            .map(|((x, y), out)| Rect::around(x + 9.0 * out, *y, 17.0 + 9.0 * f64::abs(out), 17.0))
            .collect(),
        SuspectPlace::Branches(branches) => return branch_rects(plan, layout, branches),
        SuspectPlace::Part(part) => part_rect(plan, layout, *part).into_iter().collect(),
    };
    joined(raw)
}

/// Rectangles that share a column become one.
fn joined(raw: Vec<Rect>) -> Vec<Rect> {
    let mut out: Vec<Rect> = Vec::new();
    for rect in raw {
        match out.iter_mut().find(|other| {
            let shared = other.right().min(rect.right()) - other.x.max(rect.x);
            shared > 0.25 * other.w.min(rect.w)
        }) {
            Some(other) => *other = other.union(rect),
            None => out.push(rect),
        }
    }
    out
}

fn branch_rects(plan: &Plan<'_>, layout: &Layout, branches: &[BranchId]) -> Vec<Rect> {
    let mut wires: Vec<((f64, f64), f64)> = Vec::new();
    let mut rects: Vec<Rect> = Vec::new();
    for id in branches {
        let Some(branch) = plan.circuit.branches.get(id.idx()) else {
            continue;
        };
        let cable = plan.places.cables.iter().position(|cable| {
            cable
                .wire
                .and_then(|wire| plan.circuit.wires.get(wire.idx()))
                .is_some_and(|wire| wire.branch == *id)
        });
        if let (Role::Wire, Some(path)) = (branch.role, cable.and_then(|cable| layout.paths.get(cable))) {
            let (a, b) = level(path);
            wires.push(((a.0.min(b.0), a.0.max(b.0)), a.1));
            continue;
        }
        let ends = branch_ends(plan.circuit, *id);
        let at: Vec<(f64, f64)> = ends
            .into_iter()
            .flat_map(|(a, b)| [a, b])
            .filter_map(|point| layout.anchors.get(&point).copied())
            .collect();
        rects.extend(
            at.iter()
                .map(|(x, y)| Rect::around(*x, *y, 13.0, 17.0))
                .reduce(Rect::union),
        );
    }
    // Wires side by side are hatched where they run together, a wire alone in its middle.
    if let Some((first, rest)) = wires.split_first() {
        let mut low = first.0.0;
        let mut high = first.0.1;
        for ((from, to), _) in rest {
            if from.max(low) + 40.0 <= to.min(high) {
                low = low.max(*from);
                high = high.min(*to);
            }
        }
        let half = ((high - low) / 2.0 - 30.0).clamp(14.0, 40.0);
        let mid = f64::midpoint(low, high);
        for ((from, to), y) in &wires {
            let x = if mid > *from && mid < *to {
                mid
            } else {
                (from + to) / 2.0
            };
            rects.push(Rect::around(x, *y, half, 14.0));
        }
    }
    joined(rects)
}

/// Leads, what is clipped in, readings, and what to do next.
pub(crate) fn marks(board: &mut Board, layout: &Layout, set_up: &SetUp, marks: &Marks) {
    for placed in &set_up.placed {
        clipped(board, layout, placed);
    }
    // The ring of the next point is kept free before readings look for room.
    if let Some(next) = &marks.next {
        for (x, y) in next.points.iter().filter_map(|point| layout.anchors.get(point)) {
            board.mark(Rect::around(*x, *y, 19.0, 19.0));
        }
    }
    for flag in &marks.flags {
        reading(board, layout, flag);
    }
    for (point, letter, words) in [
        (marks.chosen.red, "+", "red lead"),
        (marks.chosen.black, "−", "black lead"),
    ] {
        if let Some((point, at)) = point.and_then(|point| Some((point, *layout.anchors.get(&point)?))) {
            lead(board, layout, point, at, letter, words);
        }
    }
    if let Some(next) = &marks.next {
        next_mark(board, layout, next);
    }
}

/// Boxes of a size around a point: above on its own side first, then wherever it is nearest.
fn around(layout: &Layout, point: PointId, (x, y): (f64, f64), w: f64, h: f64) -> Vec<Rect> {
    let out = layout.outward.get(&point).copied().unwrap_or(-1.0);
    let side = |out: f64, off: f64| if out < 0.0 { x - off - w } else { x + off };
    let mut wanted = Vec::new();
    let top = |level: i32| y - 13.0 - h - 44.0 * f64::from(level);
    for level in 0..2 {
        for off in [24.0, 14.0, 40.0, 60.0] {
            wanted.push(Rect::new(side(out, off), top(level), w, h));
        }
    }
    let preferred = wanted.len();
    for level in 0..6 {
        for off in [24.0, 52.0, 96.0, 140.0] {
            wanted.push(Rect::new(side(out, off), top(level), w, h));
        }
        wanted.push(Rect::new(side(-out, 24.0), top(level), w, h));
        wanted.push(Rect::new(x - w / 2.0, top(level) - 6.0, w, h));
    }
    for level in 0..3 {
        for off in [24.0, 70.0, 120.0] {
            wanted.push(Rect::new(side(out, off), y + 28.0 + 44.0 * f64::from(level), w, h));
        }
        wanted.push(Rect::new(side(-out, 24.0), y + 28.0 + 44.0 * f64::from(level), w, h));
    }
    let far = |rect: &Rect| (rect.mid().0 - x).hypot(rect.mid().1 - y);
    wanted[preferred..].sort_by(|a, b| far(a).total_cmp(&far(b)));
    wanted
}

/// Where a leader from a point meets a box.
fn nearest(rect: Rect, (x, y): (f64, f64)) -> (f64, f64) {
    (x.clamp(rect.x, rect.right()), y.clamp(rect.y, rect.bottom()))
}

fn reading(board: &mut Board, layout: &Layout, flag: &Flag) {
    let Some(at) = layout.anchors.get(&flag.point).copied() else {
        return;
    };
    let (big, small) = (BIG.fit(&flag.big, 150.0), LITTLE.fit(&flag.small, 170.0));
    let w = (BIG.width(&big).max(LITTLE.width(&small)) + 20.0).max(60.0);
    let h = if small.is_empty() { 26.0 } else { 40.0 };
    let Some(rect) = board.first_free(&around(layout, flag.point, at, w, h)) else {
        return;
    };
    let (paint, leader, under) = match flag.tone {
        Tone::Plain => (FLAG, LINE, SOFT),
        Tone::Off => (FLAG_OFF, LEADER_OFF, OFF),
    };
    board.svg.line(nearest(rect, at), at, leader);
    board.svg.rect(rect, 7.0, paint);
    let (x, _) = rect.mid();
    board.text((x, rect.y + 18.0), &big, BIG, Anchor::Middle, INK);
    board.text((x, rect.y + 33.0), &small, LITTLE, Anchor::Middle, under);
    board.keep(rect);
}

fn lead(board: &mut Board, layout: &Layout, point: PointId, (x, y): (f64, f64), letter: &str, words: &str) {
    let w = SMALL.width(words) + 14.0;
    let label = board.first_free(&around(layout, point, (x, y), w, 20.0));
    if let Some(rect) = label {
        board.svg.line(nearest(rect, (x, y)), (x, y), LINE);
    }
    lead_disc(board, (x, y), letter);
    if let Some(rect) = label {
        board.svg.rect(rect, 10.0, PLATE);
        let (x, y) = rect.mid();
        board.text((x, y + 4.0), words, SMALL, Anchor::Middle, INK);
        board.keep(rect);
    }
}

/// The tip of a lead: red with a plus or black with a minus, in every theme.
pub(crate) fn lead_disc(board: &mut Board, (x, y): (f64, f64), letter: &str) {
    let fill = if letter == "+" { "#c0303a" } else { "#26282b" };
    let (cx, cy) = (num(x), num(y));
    board.svg.raw(&format!(
        "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"9\" class=\"pw-lead\" fill=\"{fill}\" stroke=\"#ffffff\" stroke-width=\"2\"/>"
    ));
    let white = Paint {
        class: "pw-lead",
        attrs: "fill=\"#ffffff\"",
    };
    board.text((x, y + 4.5), letter, Face::bold(13.0), Anchor::Middle, white);
}

fn next_mark(board: &mut Board, layout: &Layout, next: &Next) {
    let at: Vec<(PointId, (f64, f64))> = next
        .points
        .iter()
        .filter_map(|point| Some((*point, *layout.anchors.get(point)?)))
        .collect();
    let Some((first, place)) = at.first().copied() else {
        return;
    };
    // Both terminals of a cavity share one ring.
    let mut rings: Vec<Rect> = Vec::new();
    for (_, (x, y)) in &at {
        let ring = Rect::around(*x, *y, 12.0, 14.0);
        match rings.iter_mut().find(|other| other.overlaps(ring)) {
            Some(other) => *other = other.union(ring),
            None => rings.push(ring),
        }
    }
    for ring in &rings {
        board.svg.rect(ring.grown(1.0), 13.0, NEXT_RING);
    }
    let label = PILL.fit(&next.label, 240.0);
    if label.is_empty() {
        return;
    }
    let w = PILL.width(&label) + 24.0;
    let ring = rings
        .iter()
        .copied()
        .find(|ring| ring.grown(1.0).overlaps(Rect::around(place.0, place.1, 1.0, 1.0)));
    let ring = ring.unwrap_or(Rect::around(place.0, place.1, 16.0, 16.0)).grown(2.0);
    let mid = ring.mid().0;
    let mut wanted: Vec<Rect> = (0..3)
        .map(|level| Rect::new(mid - w / 2.0, ring.y - 42.0 - 44.0 * f64::from(level), w, 30.0))
        .collect();
    wanted.insert(1, Rect::new(mid - w / 2.0, ring.bottom() + 12.0, w, 30.0));
    wanted.extend(around(layout, first, place, w, 30.0));
    if let Some(rect) = board.first_free(&wanted) {
        board
            .svg
            .line(nearest(rect, ring.mid()), nearest(ring, rect.mid()), NEXT_LEADER);
        board.svg.rect(rect, 8.0, NEXT_PILL);
        let (x, y) = rect.mid();
        board.text((x, y + 4.8), &label, PILL, Anchor::Middle, ON_ACCENT);
        board.keep(rect);
    }
}

/// Something clipped into the circuit: an arc from end to end with its name.
fn clipped(board: &mut Board, layout: &Layout, placed: &Placed) {
    let (a, b, words) = match placed {
        Placed::Jumper { a, b, fuse_amps: None } => (a, b, "jumper".to_owned()),
        Placed::Jumper {
            a,
            b,
            fuse_amps: Some(amps),
        } => (a, b, format!("jumper, {} A", crate::names::figure(*amps))),
        Placed::Resistor { a, b, ohms } => (a, b, format!("{} Ω", crate::names::figure(*ohms))),
        Placed::Bulb { a, b, watts } => (a, b, format!("bulb, {} W", crate::names::figure(*watts))),
        Placed::Source { plus, minus, volts, .. } => (plus, minus, format!("{} V", crate::names::figure(*volts))),
        Placed::OverlayWire { a, b } => (a, b, "overlay wire".to_owned()),
    };
    let (Some(a), Some(b)) = (layout.anchors.get(a).copied(), layout.anchors.get(b).copied()) else {
        return;
    };
    let bow = 34.0;
    let (mx, my) = (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1));
    // The arc leaves at a right angle to the straight way.
    let length = (b.0 - a.0).hypot(b.1 - a.1).max(1.0);
    let (cx, cy) = (mx + (b.1 - a.1) / length * bow, my - (b.0 - a.0) / length * bow);
    let d = format!(
        "M{} {} Q{} {} {} {}",
        num(a.0),
        num(a.1),
        num(cx),
        num(cy),
        num(b.0),
        num(b.1)
    );
    board.svg.path(&d, CLIPPED);
    let words = SMALL.fit(&words, 120.0);
    let (w, h) = (SMALL.width(&words) + 14.0, 20.0);
    let (lx, ly) = (f64::midpoint(mx, cx), f64::midpoint(my, cy));
    let wanted: Vec<Rect> = [(0.0, 0.0), (0.0, -24.0), (0.0, 24.0), (40.0, 0.0), (-40.0, 0.0)]
        .iter()
        .map(|(dx, dy)| Rect::around(lx + dx, ly + dy, w / 2.0, h / 2.0))
        .collect();
    if let Some(rect) = board.first_free(&wanted) {
        board.svg.rect(rect, 10.0, PLATE);
        let (x, y) = rect.mid();
        board.text((x, y + 4.0), &words, SMALL, Anchor::Middle, INK);
        board.keep(rect);
    }
}
