//! The insides that matter: of a module, what stands behind each pin; of a device and a relay, its symbol.

use std::collections::BTreeMap;

use circuit::{
    At, Base, Branch, BranchId, BranchKind, Circuit, Device, Law, Module, Pin, PinKind, PointId, Role, SetUp,
};

use crate::board::Board;
use crate::layout::Layout;
use crate::names;
use crate::places::ends_of;
use crate::svg::{Anchor, DOT, INK, LINE, PLATE, Rect, SOFT};
use crate::symbols::{Symbol, between, ground};
use crate::text::Face;

/// A branch and where its two ends are.
type Spanned<'a> = (&'a Branch, (f64, f64), (f64, f64));

const TINY: Face = Face::regular(11.5);
const IN_BOX: Face = Face::bold(11.5);

/// Draws what stands behind every pin of a module. `rect` is the module's box; its connectors stand to its right.
pub(crate) fn module(
    board: &mut Board,
    circuit: &Circuit,
    set_up: &SetUp,
    module: &Module,
    rect: Rect,
    layout: &Layout,
) {
    for pin in &module.pins {
        let Some(at) = layout.anchors.get(&pin.point).copied() else {
            continue;
        };
        let branches: Vec<&Branch> = pin
            .inside
            .iter()
            .filter_map(|branch: &BranchId| circuit.branches.get(branch.idx()))
            .collect();
        let words_below = behind_pin(board, circuit, set_up, module, pin, &branches, rect, at);
        // Beside an input's box there is little room: its words go below or above it.
        let input = pin.kind == PinKind::Input;
        let words = TINY.fit(&pin.words, if input { rect.w - 20.0 } else { 124.0 });
        let y = match (words_below, input) {
            (true, true) => at.1 + 26.0,
            (true, false) => at.1 + 16.0,
            (false, _) => at.1 - 20.0,
        };
        board.text_if_free((rect.right() - 10.0, y), &words, TINY, Anchor::End, SOFT);
    }
}

fn plate(board: &mut Board, rect: Rect, text: &str) {
    board.svg.rect(rect, 5.0, PLATE);
    board.mark(rect);
    let (x, y) = rect.mid();
    let text = IN_BOX.fit(text, rect.w - 6.0);
    board.text((x, y + 4.0), &text, IN_BOX, Anchor::Middle, INK);
}

/// Draws one pin's inside; whether its words go below the lead.
#[expect(
    clippy::too_many_arguments,
    reason = "one pin in its module on one sheet; a struct would only rename them"
)]
fn behind_pin(
    board: &mut Board,
    circuit: &Circuit,
    set_up: &SetUp,
    module: &Module,
    pin: &Pin,
    branches: &[&Branch],
    rect: Rect,
    (x, y): (f64, f64),
) -> bool {
    let left = rect.x;
    let driver = branches.iter().find_map(|branch| match &branch.kind {
        BranchKind::Driver { commanded, .. } => Some(commanded.holds(&At::centre(circuit, set_up))),
        _ => None,
    });
    match pin.kind {
        PinKind::Reference => {
            let volts = branches
                .iter()
                .find(|branch| branch.role == Role::Reference)
                .and_then(|b| volts_of(&b.kind));
            let text = volts.unwrap_or_else(|| "ref".to_owned());
            board.svg.line((left + 60.0, y), (x, y), LINE);
            board.svg.circle(left + 42.0, y, 18.0, PLATE);
            board.mark(Rect::around(left + 42.0, y, 18.0, 18.0));
            board.text(
                (left + 42.0, y + 4.0),
                &IN_BOX.fit(&text, 34.0),
                IN_BOX,
                Anchor::Middle,
                INK,
            );
            true
        }
        PinKind::SensorGround | PinKind::Ground => {
            board.svg.line((left + 42.0, y), (x, y), LINE);
            ground(board, left + 42.0, y);
            true
        }
        PinKind::Feed => {
            plate(board, Rect::new(left + 14.0, y - 14.0, 62.0, 28.0), "supply");
            board.svg.line((left + 76.0, y), (x, y), LINE);
            true
        }
        PinKind::Input => {
            let words_below = input(board, circuit, module, pin, branches, rect, (x, y));
            if let Some(closed) = driver {
                let node = left + 112.0;
                between(board, Symbol::Switch { closed }, (node, y), (node, y + 32.0));
                ground(board, node, y + 31.0);
            }
            words_below
        }
        PinKind::LowSideDriver | PinKind::HighSideDriver => {
            let closed = driver.unwrap_or(false);
            between(board, Symbol::Switch { closed }, (left + 96.0, y), (left + 48.0, y));
            board.svg.line((left + 96.0, y), (x, y), LINE);
            if pin.kind == PinKind::LowSideDriver {
                board.svg.line((left + 36.0, y), (left + 48.0, y), LINE);
                ground(board, left + 36.0, y);
            } else {
                board.svg.line((left + 38.0, y), (left + 48.0, y), LINE);
                board.svg.circle(left + 26.0, y, 12.0, PLATE);
                board.mark(Rect::around(left + 26.0, y, 12.0, 12.0));
                board.text((left + 26.0, y + 4.0), "+", IN_BOX, Anchor::Middle, INK);
            }
            true
        }
    }
}

/// Converter, series resistor, pull-up or pull-down. Words go above the lead where the pull goes down.
fn input(
    board: &mut Board,
    circuit: &Circuit,
    module: &Module,
    pin: &Pin,
    branches: &[&Branch],
    rect: Rect,
    (x, y): (f64, f64),
) -> bool {
    let left = rect.x;
    let behind = branches.iter().filter(|branch| branch.role == Role::Series);
    let points: Vec<PointId> = behind
        .map(|branch| ends_of(&branch.kind))
        .flat_map(|(a, b)| [a, b])
        .collect();
    let channel = circuit
        .channels
        .iter()
        .find(|channel| channel.sense == pin.point || points.contains(&channel.sense));
    let range = channel.map_or_else(
        || "in".to_owned(),
        |c| format!("{}–{} V", names::figure(c.low_volts), names::figure(c.high_volts)),
    );
    plate(board, Rect::new(left + 10.0, y - 14.0, 52.0, 28.0), &range);
    let node = left + 112.0;
    if branches.iter().any(|branch| branch.role == Role::Series) {
        between(board, Symbol::Resistor, (left + 62.0, y), (node, y));
    } else {
        board.svg.line((left + 62.0, y), (node, y), LINE);
    }
    board.svg.line((node, y), (x, y), LINE);
    let Some(pull) = branches.iter().find(|branch| branch.role == Role::Pull) else {
        return true;
    };
    let (a, b) = ends_of(&pull.kind);
    let down = [a, b].contains(&module.ground) || [a, b].contains(&circuit.battery_minus);
    let text = match &pull.kind {
        BranchKind::Resistor { ohms, .. } | BranchKind::Source { ohms, .. } => names::ohms(ohms),
        _ => String::new(),
    };
    board.svg.circle(node, y, 2.8, DOT);
    if down {
        between(board, Symbol::Resistor, (node, y), (node, y + 32.0));
        ground(board, node, y + 31.0);
        board.text_if_free((node - 18.0, y + 32.0), &TINY.fit(&text, 92.0), TINY, Anchor::End, SOFT);
        return false;
    }
    between(board, Symbol::Resistor, (node, y), (node, y - 42.0));
    board.svg.line((node - 10.0, y - 42.0), (node + 10.0, y - 42.0), LINE);
    board.text_if_free((node - 15.0, y - 26.0), &TINY.fit(&text, 92.0), TINY, Anchor::End, SOFT);
    true
}

fn volts_of(kind: &BranchKind) -> Option<String> {
    let law: &Law = match kind {
        BranchKind::Output { offset_volts, .. } => offset_volts,
        BranchKind::Source { volts, .. } => volts,
        _ => return None,
    };
    match law.base {
        Base::Fixed(volts) if volts > 0.0 => Some(names::volts(law)),
        _ => None,
    }
}

/// The symbol of a branch by what it is.
pub(crate) fn symbol_of(circuit: &Circuit, set_up: &SetUp, branch: &Branch) -> Symbol {
    let closed = match &branch.kind {
        BranchKind::Switch { closed, .. } => closed.holds(&At::centre(circuit, set_up)),
        BranchKind::Driver { commanded, .. } => commanded.holds(&At::centre(circuit, set_up)),
        _ => false,
    };
    match branch.role {
        Role::SensingResistor => Symbol::Thermistor,
        Role::Coil | Role::RelayCoil => Symbol::Coil,
        Role::Motor => Symbol::Motor,
        Role::Lamp => Symbol::Lamp,
        Role::SwitchContact | Role::RelayContact | Role::FeedSwitch | Role::Driver => Symbol::Switch { closed },
        Role::ClampDiode => Symbol::Diode,
        Role::Fuse => Symbol::Fuse,
        Role::FixedResistor | Role::Track | Role::Wiper | Role::Pull | Role::Series | Role::Bias => Symbol::Resistor,
        _ => match branch.kind {
            BranchKind::Diode { .. } | BranchKind::Clamp { .. } => Symbol::Diode,
            BranchKind::Lamp { .. } => Symbol::Lamp,
            BranchKind::Switch { .. } => Symbol::Switch { closed },
            BranchKind::Source { .. } => Symbol::Source,
            BranchKind::Resistor { .. } => Symbol::Resistor,
            _ => Symbol::Block,
        },
    }
}

/// Draws a device's symbol; `rect` is its box, its pins come from the left.
pub(crate) fn device(
    board: &mut Board,
    circuit: &Circuit,
    set_up: &SetUp,
    device: &Device,
    rect: Rect,
    layout: &Layout,
) {
    let pins: Vec<(&str, PointId, (f64, f64))> = device
        .pins
        .iter()
        .filter_map(|(name, point)| Some((name.as_str(), *point, layout.anchors.get(point).copied()?)))
        .collect();
    let branches: Vec<&Branch> = device
        .inside
        .iter()
        .filter_map(|b| circuit.branches.get(b.idx()))
        .collect();
    let has = |role: Role| branches.iter().any(|branch| branch.role == role);
    let slot = rect.x + rect.w * 0.58;
    let lead = |board: &mut Board, at: (f64, f64), to: f64| board.svg.line(at, (to, at.1), LINE);
    if has(Role::Wiper) && pins.len() == 3 {
        potentiometer(board, &branches, &pins, slot);
    } else if has(Role::SensorOutput) || pins.is_empty() {
        block(board, &pins, rect);
    } else if let [(_, _, at)] = pins[..] {
        let symbol = branches
            .first()
            .map_or(Symbol::Block, |branch| symbol_of(circuit, set_up, branch));
        lead(board, at, slot);
        between(board, symbol, (slot, at.1), (slot, at.1 + 52.0));
        ground(board, slot, at.1 + 52.0);
    } else {
        // Every branch between two pins gets a slot of its own; insides that are not that plain are a block.
        let pin_at: BTreeMap<PointId, (f64, f64)> = pins.iter().map(|(_, point, at)| (*point, *at)).collect();
        let plain: Vec<Spanned<'_>> = branches
            .iter()
            .filter_map(|branch| {
                let (a, b) = ends_of(&branch.kind);
                Some((*branch, *pin_at.get(&a)?, *pin_at.get(&b)?))
            })
            .collect();
        let main: Vec<_> = match strongest(&plain) {
            Some(one) if pins.len() == 2 => vec![one],
            _ => plain,
        };
        let covered = pins
            .iter()
            .all(|(_, _, at)| main.iter().any(|(_, a, b)| a == at || b == at));
        if main.is_empty() && pins.len() == 2 && branches.len() <= 6 {
            in_series(board, circuit, set_up, &branches, &pins, slot);
        } else if main.is_empty() || !covered || main.len() > 3 {
            block(board, &pins, rect);
        } else {
            let step = 34.0;
            let first = slot - step * (main.len() - 1) as f64 / 2.0;
            for (i, (branch, a, b)) in main.iter().enumerate() {
                let x = first + step * i as f64;
                let symbol = symbol_of(circuit, set_up, branch);
                if a.1 == b.1 {
                    between(board, symbol, *a, *b);
                    continue;
                }
                lead(board, *a, x);
                lead(board, *b, x);
                between(board, symbol, (x, a.1), (x, b.1));
            }
        }
    }
    if device.accessory {
        through(board, circuit, device, layout);
    }
    for (name, _, at) in pins {
        for (i, line) in TINY.wrap(&name.replace('_', " "), 60.0, 2).iter().enumerate() {
            let y = at.1 + 15.0 + 15.0 * i as f64;
            if !board.text_if_free((rect.x + 12.0, y), line, TINY, Anchor::Start, SOFT) {
                break;
            }
        }
    }
}

/// What an accessory only passes on from one of its plugs to the other.
fn through(board: &mut Board, circuit: &Circuit, device: &Device, layout: &Layout) {
    let pin = |point: PointId| device.pins.iter().any(|(_, other)| *other == point);
    for branch in circuit.branches.iter().filter(|branch| branch.part == device.part) {
        let (a, b) = ends_of(&branch.kind);
        if let (false, false, Some(at_a), Some(at_b)) = (
            pin(a),
            pin(b),
            layout.anchors.get(&a).copied(),
            layout.anchors.get(&b).copied(),
        ) && at_a.1 == at_b.1
        {
            board.svg.line(at_a, at_b, LINE);
        }
    }
}

/// Of parallel branches between two pins, the one that names the device: a winding before its bleed or clamp.
fn strongest<'a>(plain: &[Spanned<'a>]) -> Option<Spanned<'a>> {
    let rank = |role: Role| match role {
        Role::Motor | Role::Lamp | Role::Coil | Role::SensingResistor | Role::SwitchContact => 0,
        Role::FixedResistor | Role::Track => 1,
        _ => 2,
    };
    plain.iter().copied().min_by_key(|(branch, ..)| rank(branch.role))
}

/// A device of two pins whose insides hang together in series: its most telling element stands for it.
fn in_series(
    board: &mut Board,
    circuit: &Circuit,
    set_up: &SetUp,
    branches: &[&Branch],
    pins: &[(&str, PointId, (f64, f64))],
    slot: f64,
) {
    let plain: Vec<_> = branches
        .iter()
        .map(|branch| (*branch, (0.0, 0.0), (0.0, 0.0)))
        .collect();
    let symbol = strongest(&plain).map_or(Symbol::Block, |(branch, ..)| symbol_of(circuit, set_up, branch));
    if let [(_, _, a), (_, _, b)] = pins {
        board.svg.line(*a, (slot, a.1), LINE);
        board.svg.line(*b, (slot, b.1), LINE);
        between(board, symbol, (slot, a.1), (slot, b.1));
    }
}

/// Track between the two end pins, wiper from the third.
fn potentiometer(board: &mut Board, branches: &[&Branch], pins: &[(&str, PointId, (f64, f64))], slot: f64) {
    let wiper_ends: Vec<PointId> = branches
        .iter()
        .filter(|branch| branch.role == Role::Wiper)
        .flat_map(|branch| <[PointId; 2]>::from(ends_of(&branch.kind)))
        .collect();
    let wiper = pins
        .iter()
        .position(|(_, point, _)| wiper_ends.contains(point))
        .unwrap_or(1);
    let track: Vec<(f64, f64)> = pins
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != wiper)
        .map(|(_, (_, _, at))| *at)
        .collect();
    let (Some(a), Some(b), Some((_, _, tap))) = (track.first(), track.last(), pins.get(wiper)) else {
        return;
    };
    board.svg.line(*a, (slot, a.1), LINE);
    board.svg.line(*b, (slot, b.1), LINE);
    between(board, Symbol::Resistor, (slot, a.1), (slot, b.1));
    let (low, high) = (a.1.min(b.1), a.1.max(b.1));
    // The arrow meets the track between its ends; from a pin above or below them it goes round.
    let meet = if tap.1 > low + 12.0 && tap.1 < high - 12.0 {
        tap.1
    } else {
        f64::midpoint(low, high)
    };
    let bend = slot - 30.0;
    board
        .svg
        .polyline(&[*tap, (bend, tap.1), (bend, meet), (slot - 9.0, meet)], LINE);
    board.svg.polyline(
        &[(slot - 16.0, meet - 4.5), (slot - 8.0, meet), (slot - 16.0, meet + 4.5)],
        LINE,
    );
}

/// A block with all pins on it.
fn block(board: &mut Board, pins: &[(&str, PointId, (f64, f64))], rect: Rect) {
    let left = rect.x + 66.0;
    let (mut top, mut bottom) = (f64::INFINITY, f64::NEG_INFINITY);
    for (_, _, at) in pins {
        top = top.min(at.1);
        bottom = bottom.max(at.1);
        board.svg.line(*at, (left, at.1), LINE);
    }
    if top <= bottom {
        let body = Rect::new(left, top - 18.0, rect.w - 66.0 - 16.0, bottom - top + 36.0);
        board.svg.rect(body, 6.0, PLATE);
        let (x, y) = body.mid();
        // Something senses: a slope.
        board.svg.polyline(
            &[
                (x - 16.0, y + 9.0),
                (x - 9.0, y + 9.0),
                (x + 9.0, y - 9.0),
                (x + 16.0, y - 9.0),
            ],
            LINE,
        );
    }
}

/// Draws contacts and coil of a relay between its points.
pub(crate) fn relay(
    board: &mut Board,
    circuit: &Circuit,
    set_up: &SetUp,
    branches: &[BranchId],
    rect: Rect,
    layout: &Layout,
) {
    let middle = rect.x + rect.w / 2.0;
    for branch in branches.iter().filter_map(|branch| circuit.branches.get(branch.idx())) {
        let (a, b) = ends_of(&branch.kind);
        let (Some(a), Some(b)) = (layout.anchors.get(&a).copied(), layout.anchors.get(&b).copied()) else {
            continue;
        };
        let symbol = symbol_of(circuit, set_up, branch);
        if a.1 == b.1 {
            let (a, b) = if a.0 < b.0 { (a, b) } else { (b, a) };
            between(board, symbol, a, b);
        } else {
            board.svg.line(a, (middle, a.1), LINE);
            board.svg.line(b, (middle, b.1), LINE);
            between(board, symbol, (middle, a.1), (middle, b.1));
        }
    }
}
