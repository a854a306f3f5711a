//! Where everything stands, in pixels.
//!
//! Columns and rows come from [`crate::columns`] and [`crate::rows`]. Room for what may be written is kept whether or not
//! it is written now, so that the picture stays still while connectors come apart and readings arrive; only a second
//! reading above the same wire pushes rows apart.
//!
//! Around a row at height `y`: readings fill `y − 52 … y − 12`, the wire's colour stands at `y + 20`, titles of what
//! begins in the row end at `y − 58`.

use std::collections::{BTreeMap, BTreeSet};

use circuit::{Circuit, PartKind, PointId, SetUp};

use crate::columns::{Columns, Side};
use crate::names;
use crate::places::{Kind, Places};
use crate::rows::{Joint, Rows};
use crate::svg::Rect;
use crate::text::Face;

/// From row to row: a reading, a wire and its label, and 44 px between hit circles with room to spare.
const PITCH: f64 = 84.0;
/// Around the whole picture.
const MARGIN: f64 = 18.0;
/// What a second reading above one wire adds.
const FLAG_STEP: f64 = 44.0;
/// Comb of one connector half.
pub(crate) const COMB: f64 = 14.0;
/// Both combs and the gap when they are apart: kept free in both states.
const CONNECTOR: f64 = 66.0;
pub(crate) const MODULE: f64 = 208.0;
pub(crate) const DEVICE: f64 = 144.0;
const RELAY: f64 = 116.0;
const FUSE: f64 = 96.0;
pub(crate) const TITLE: Face = Face::bold(14.0);
pub(crate) const NAME: Face = Face::bold(12.5);
pub(crate) const SMALL: Face = Face::regular(12.0);

/// Everything with its place in pixels.
#[derive(Clone, Debug, Default)]
pub(crate) struct Layout {
    /// Body of each place.
    pub(crate) rects: Vec<Rect>,
    /// Title lines of each place.
    pub(crate) titles: Vec<Vec<String>>,
    /// For connector places: x of the left and of the right comb's middle.
    pub(crate) combs: BTreeMap<usize, [f64; 2]>,
    /// Height of each row.
    pub(crate) y: Vec<f64>,
    /// The way of each cable.
    pub(crate) paths: Vec<Vec<(f64, f64)>>,
    /// Where each point is.
    pub(crate) anchors: BTreeMap<PointId, (f64, f64)>,
    /// Which way leads away from the place of a point: −1 left, 1 right.
    pub(crate) outward: BTreeMap<PointId, f64>,
    /// Posts that no wire reaches: they stand below.
    pub(crate) strip: Vec<usize>,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

/// The parts of a layout that are known before pixels.
pub(crate) struct Plan<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) places: &'a Places,
    pub(crate) columns: &'a Columns,
    pub(crate) rows: &'a Rows,
}

/// Physical columns: column of each place and the x of each.
struct Across {
    of: Vec<usize>,
    left: Vec<f64>,
    wide: Vec<f64>,
    /// From the left of its column to each place.
    offset: Vec<f64>,
}

impl Plan<'_> {
    fn kind(&self, place: usize) -> Kind {
        self.places.all[place].kind
    }

    /// First and last row of a place, owned connectors included; `None` if it has no row.
    fn span(&self, place: usize) -> Option<(usize, usize)> {
        let owned = self
            .places
            .owned
            .iter()
            .filter(|(_, owner, _)| *owner == place)
            .map(|(connector, ..)| *connector);
        let all: BTreeSet<usize> = owned.chain([place]).collect();
        let rows = self
            .rows
            .ports
            .iter()
            .zip(&self.rows.of)
            .filter(|(port, _)| all.contains(&port.place));
        let (mut low, mut high) = (usize::MAX, 0);
        for (_, row) in rows {
            low = low.min(*row);
            high = high.max(*row);
        }
        (low != usize::MAX).then_some((low, high))
    }

    /// Lays everything out.
    pub(crate) fn lay_out(&self, set_up: &SetUp, flagged: &[PointId], fill_width: f64) -> Layout {
        let n = self.places.all.len();
        let mut layout = Layout {
            rects: vec![Rect::new(0.0, 0.0, 0.0, 0.0); n],
            ..Layout::default()
        };
        layout.titles = (0..n).map(|place| self.title(place)).collect();
        layout.strip = (0..n).filter(|place| self.span(*place).is_none()).collect();
        let across = self.across(&layout, fill_width);
        self.down(&mut layout, flagged, &across);
        self.bodies(&mut layout, &across, set_up);
        self.strip(&mut layout, &across);
        self.paths(&mut layout, &across);
        self.inner_anchors(&mut layout);
        layout
    }

    fn title(&self, place: usize) -> Vec<String> {
        let name = names::of_place(self.circuit, &self.places.all[place]);
        match self.kind(place) {
            Kind::Module(_) => TITLE.wrap(&name, MODULE - 24.0, 2),
            Kind::Device(_) => TITLE.wrap(&name, DEVICE - 12.0, 3),
            Kind::Relay(_) => TITLE.wrap(&name, RELAY - 16.0, 2),
            Kind::Connector(_) => NAME.wrap(&name, 128.0, 2),
            Kind::Splice(_) => SMALL.wrap(&name, 120.0, 2),
            Kind::Fuse(_) => NAME.wrap(&name, FUSE + 16.0, 2),
            _ => NAME.wrap(&name, 124.0, 2),
        }
    }

    /// Width of a place's body.
    fn wide(&self, place: usize, title: &[String]) -> f64 {
        match self.kind(place) {
            Kind::Module(_) => MODULE,
            Kind::Device(_) => DEVICE,
            Kind::Relay(_) => RELAY,
            Kind::Connector(_) => CONNECTOR,
            Kind::Splice(_) => 12.0,
            Kind::Fuse(_) => FUSE,
            Kind::Feed(_) | Kind::Ground(_) | Kind::Post(_) | Kind::Loose(_) => {
                let line = title.iter().map(|line| NAME.width(line)).fold(0.0, f64::max);
                let under = names::under(self.circuit, &self.places.all[place]);
                line.max(SMALL.width(&SMALL.fit(&under, 124.0))) + 54.0
            }
        }
    }

    /// Shortest way a cable needs: its label with air, and room to see it as a wire.
    fn shortest(&self, cable: usize) -> f64 {
        let Some(wire) = self.places.cables[cable].wire else {
            return 44.0;
        };
        let label = SMALL.width(&names::of_wire(self.circuit, wire));
        (label + 28.0).clamp(124.0, 230.0)
    }

    fn across(&self, layout: &Layout, fill_width: f64) -> Across {
        let n = self.places.all.len();
        let in_picture = |place: &usize| !layout.strip.contains(place);
        // Places of one column whose rows interleave stand side by side.
        let layers = self.columns.of.iter().copied().max().map_or(0, |last| last + 1);
        let mut of = vec![0; n];
        let mut next = 0;
        for layer in 0..layers {
            let mut here: Vec<(usize, (usize, usize))> = (0..n)
                .filter(in_picture)
                .filter(|place| self.columns.of[*place] == layer)
                .filter_map(|place| Some((place, self.span(place)?)))
                .collect();
            here.sort_by_key(|(place, span)| (span.0, *place));
            let mut tracks: Vec<usize> = Vec::new();
            for (place, (low, high)) in here {
                let track = tracks.iter().position(|end| *end < low).unwrap_or(tracks.len());
                tracks.resize(tracks.len().max(track + 1), 0);
                tracks[track] = high;
                of[place] = next + track;
            }
            next += tracks.len();
        }
        let count = next.max(1);
        let mut wide = vec![0.0_f64; count];
        for place in (0..n).filter(in_picture) {
            wide[of[place]] = wide[of[place]].max(self.wide(place, &layout.titles[place]));
        }
        let offset: Vec<f64> = (0..n)
            .map(|at| self.offset(at, &of, wide[of[at]] - self.wide(at, &layout.titles[at]), count))
            .collect();
        // From the right edge of one place to the left edge of the other.
        let mut needs: Vec<(usize, usize, f64)> = Vec::new();
        for (cable, ends) in self.places.cables.iter().enumerate() {
            let (a, b) = (ends.ends[0].place, ends.ends[1].place);
            let (a, b) = if of[a] <= of[b] { (a, b) } else { (b, a) };
            let edge = offset[a] + self.wide(a, &layout.titles[a]);
            needs.push((of[a], of[b], edge + self.shortest(cable) - offset[b]));
        }
        let mut tight = BTreeSet::new();
        for (connector, owner, _) in &self.places.owned {
            let (a, b) = (of[*connector], of[*owner]);
            tight.insert((a.min(b), a.max(b)));
        }
        let place = |stretch: f64| {
            let mut left = vec![MARGIN; count];
            for at in 1..count {
                let before = left[at - 1] + wide[at - 1];
                let gap = if tight.contains(&(at - 1, at)) {
                    4.0
                } else {
                    40.0 + stretch
                };
                left[at] = before + gap;
                for (from, to, need) in needs.iter().filter(|(from, to, _)| *to == at && from < to) {
                    let stretch = if tight.contains(&(*from, *to)) { 0.0 } else { stretch };
                    left[at] = left[at].max(left[*from] + need + stretch);
                }
            }
            left
        };
        let end = |left: &[f64]| left.last().zip(wide.last()).map_or(0.0, |(left, wide)| left + wide) + MARGIN;
        let mut left = place(0.0);
        if fill_width.is_finite() && fill_width > end(&left) {
            // The width grows steadily with the stretch: halve until the pixel is met.
            let (mut low, mut high) = (0.0, fill_width.min(1e5));
            for _ in 0..30 {
                let mid = f64::midpoint(low, high);
                if end(&place(mid)) > fill_width {
                    high = mid;
                } else {
                    low = mid;
                }
            }
            left = place(low);
        }
        Across { of, left, wide, offset }
    }

    /// How far a place stands from the left of its column, given the room it leaves: next to what it belongs to, at the
    /// outer edges flush, else in the middle.
    fn offset(&self, place: usize, of: &[usize], room: f64, count: usize) -> f64 {
        let towards = |right: bool| {
            self.places.owned.iter().any(|(connector, owner, _)| {
                let beyond = |other: usize| {
                    if right {
                        of[other] > of[place]
                    } else {
                        of[other] < of[place]
                    }
                };
                (*connector == place && beyond(*owner)) || (*owner == place && beyond(*connector))
            })
        };
        if towards(false) {
            0.0
        } else if towards(true) {
            room
        } else if of[place] == 0 {
            0.0
        } else if of[place] + 1 == count {
            room
        } else {
            room / 2.0
        }
    }

    /// Height of every row.
    fn down(&self, layout: &mut Layout, flagged: &[PointId], across: &Across) {
        let mut above = vec![0.0_f64; self.rows.count];
        let mut below = vec![0.0_f64; self.rows.count];
        for place in 0..self.places.all.len() {
            let Some((low, high)) = self.span(place) else { continue };
            let lines = layout.titles[place].len() as f64;
            let (up, down) = match self.kind(place) {
                Kind::Module(_) | Kind::Device(_) | Kind::Relay(_) => (58.0 + 17.0 * lines + 24.0, 58.0),
                Kind::Connector(_) => (58.0 + 15.0 * lines + 4.0, 34.0),
                Kind::Splice(_) => (18.0 + 15.0 * lines, 24.0),
                Kind::Fuse(_) => (25.0 + 15.0 * lines, 40.0),
                _ => (40.0, 40.0),
            };
            above[low] = above[low].max(up);
            below[high] = below[high].max(down);
            if self.has_grounded_inside(place) {
                below[high] = below[high].max(96.0);
            }
        }
        let mut flags: BTreeMap<(usize, usize, bool), usize> = BTreeMap::new();
        for point in flagged {
            for (port, row) in self.rows.ports.iter().zip(&self.rows.of) {
                let is = |joint: &Option<Joint>| joint.is_some_and(|joint| joint.point == *point);
                if is(&port.left) {
                    *flags.entry((*row, across.of[port.place] * 2, true)).or_default() += 1;
                } else if is(&port.right) {
                    *flags.entry((*row, across.of[port.place] * 2 + 1, true)).or_default() += 1;
                }
            }
        }
        let mut y = MARGIN;
        layout.y.clear();
        for row in 0..self.rows.count {
            let here: Vec<usize> = flags.iter().filter(|((r, ..), _)| *r == row).map(|(_, n)| *n).collect();
            let mut stacked = here.iter().copied().max().unwrap_or(0);
            // Readings at both ends of one wire may need two levels.
            if here.len() > 1 {
                stacked += 1;
            }
            let up = above[row].max(56.0) + FLAG_STEP * stacked.saturating_sub(1) as f64;
            let before = if row == 0 { 0.0 } else { below[row - 1].max(28.0) };
            y += if row == 0 { up } else { (before + up).max(PITCH) };
            layout.y.push(y);
        }
        let last = below.last().copied().unwrap_or(0.0);
        layout.height = y + last.max(28.0) + MARGIN;
        layout.width = across
            .left
            .last()
            .zip(across.wide.last())
            .map_or(0.0, |(left, wide)| left + wide)
            + MARGIN;
    }

    /// A device with a single pin: its symbol leads down to body metal.
    pub(crate) fn has_grounded_inside(&self, place: usize) -> bool {
        match self.kind(place) {
            Kind::Device(i) => self.circuit.devices.get(i).is_some_and(|device| device.pins.len() == 1),
            _ => false,
        }
    }

    fn bodies(&self, layout: &mut Layout, across: &Across, set_up: &SetUp) {
        for place in 0..self.places.all.len() {
            let Some((low, high)) = self.span(place) else { continue };
            let (top, bottom) = (layout.y[low], layout.y[high]);
            let own = self.wide(place, &layout.titles[place]);
            let x = across.left[across.of[place]] + across.offset[place];
            let lines = layout.titles[place].len() as f64;
            let (up, down) = match self.kind(place) {
                Kind::Module(_) | Kind::Device(_) | Kind::Relay(_) => (
                    58.0 + 17.0 * lines + 6.0,
                    match self.kind(place) {
                        _ if self.has_grounded_inside(place) => 84.0,
                        Kind::Module(_) => 56.0,
                        _ => 36.0,
                    },
                ),
                Kind::Connector(_) => (28.0, 28.0),
                Kind::Splice(_) => (7.0, 7.0),
                Kind::Fuse(_) => (14.0, 14.0),
                _ => (30.0, 30.0),
            };
            layout.rects[place] = Rect::new(x, top - up, own, bottom - top + up + down);
            if matches!(self.kind(place), Kind::Connector(_)) {
                let combs = self.combs(place, x, set_up);
                layout.combs.insert(place, combs);
            }
            self.anchor_ports(layout, place);
        }
    }

    /// Middles of both combs: the owner's comb stays with its owner, a joint opens about its middle.
    fn combs(&self, place: usize, x: f64, set_up: &SetUp) -> [f64; 2] {
        let apart = match self.kind(place) {
            Kind::Connector(i) => set_up.apart.iter().any(|id| id.idx() == i),
            _ => false,
        };
        let distance = if apart { CONNECTOR - COMB } else { COMB + 4.0 };
        let owned = self.places.owned.iter().find(|(connector, ..)| *connector == place);
        let left = match owned {
            Some((_, _, half)) if *half == self.columns.left_half[place] => x,
            Some(_) => x + CONNECTOR - COMB - distance,
            None => x + (CONNECTOR - COMB - distance) / 2.0,
        };
        [left + COMB / 2.0, left + COMB / 2.0 + distance]
    }

    fn anchor_ports(&self, layout: &mut Layout, place: usize) {
        let rect = layout.rects[place];
        let [left, right] = match self.kind(place) {
            Kind::Connector(_) => layout.combs.get(&place).copied().unwrap_or([rect.x, rect.right()]),
            Kind::Splice(_) => [rect.x + rect.w / 2.0; 2],
            _ => [rect.x, rect.right()],
        };
        for (port, joints) in self.rows.of_place(place) {
            let y = layout.y[self.rows.of[port]];
            for (joint, x, out) in [(joints.left, left, -1.0), (joints.right, right, 1.0)] {
                if let Some(joint) = joint {
                    layout.anchors.entry(joint.point).or_insert((x, y));
                    layout.outward.entry(joint.point).or_insert(out);
                }
            }
        }
    }

    fn strip(&self, layout: &mut Layout, across: &Across) {
        let mut x = MARGIN;
        let shown: Vec<usize> = layout
            .strip
            .iter()
            .copied()
            .filter(|place| matches!(self.kind(*place), Kind::Post(_)))
            .collect();
        layout.strip = shown;
        if layout.strip.is_empty() {
            return;
        }
        let right = across
            .left
            .last()
            .zip(across.wide.last())
            .map_or(0.0, |(left, wide)| left + wide);
        let mut top = layout.height;
        for place in layout.strip.clone() {
            let wide = self.wide(place, &layout.titles[place]);
            if x > MARGIN && x + wide > right.max(480.0) {
                x = MARGIN;
                top += PITCH;
            }
            layout.rects[place] = Rect::new(x, top + 36.0, wide, 44.0);
            if let Kind::Post(point) = self.kind(place) {
                layout.anchors.entry(point).or_insert((x, top + 58.0));
                layout.outward.entry(point).or_insert(1.0);
            }
            x += wide + 40.0;
            layout.width = layout.width.max(x - 40.0 + MARGIN);
        }
        // Above it a reading fits, below it stands nothing.
        layout.height = top + 80.0 + MARGIN;
    }

    fn paths(&self, layout: &mut Layout, across: &Across) {
        let mut channels: BTreeMap<usize, usize> = BTreeMap::new();
        for (cable, ports) in self.rows.cable_ports.iter().enumerate() {
            let sides = self.columns.sides[cable];
            let at = |end: usize| -> (f64, f64) {
                let port = &self.rows.ports[ports[end]];
                let rect = layout.rects[port.place];
                let [left, right] = match self.kind(port.place) {
                    Kind::Connector(_) => {
                        let [left, right] = layout.combs.get(&port.place).copied().unwrap_or([rect.x, rect.right()]);
                        [left - COMB / 2.0, right + COMB / 2.0]
                    }
                    Kind::Splice(_) => [rect.x + rect.w / 2.0; 2],
                    _ => [rect.x, rect.right()],
                };
                (
                    if sides[end] == Side::Left { left } else { right },
                    layout.y[self.rows.of[ports[end]]],
                )
            };
            let (a, b) = (at(0), at(1));
            let path = if a.1 == b.1 && sides[0] != sides[1] && (a.0 < b.0) == (sides[0] == Side::Right) {
                vec![a, b]
            } else {
                // Up or down next to whichever end lies further along.
                let rightmost = usize::from(a.0 <= b.0);
                let column = across.of[self.rows.ports[ports[rightmost]].place];
                let facing_left = sides[rightmost] == Side::Left;
                let key = column * 2 + usize::from(!facing_left);
                let k = channels.entry(key).or_default();
                // Clear of the number of a cavity.
                let first = match self.kind(self.rows.ports[ports[rightmost]].place) {
                    Kind::Connector(_) => 32.0,
                    _ => 20.0,
                };
                let off = first + 11.0 * *k as f64;
                *k += 1;
                let edge = a.0.max(b.0);
                let x = if facing_left { edge - off } else { edge + off };
                vec![a, (x, a.1), (x, b.1), b]
            };
            layout.paths.push(path);
        }
        for path in &layout.paths {
            for (x, _) in path {
                layout.width = layout.width.max(x + MARGIN);
            }
        }
        for (cable, path) in self.places.cables.iter().zip(&layout.paths) {
            let Some(wire) = cable.wire.and_then(|wire| self.circuit.wires.get(wire.idx())) else {
                continue;
            };
            for (end, at) in wire.ends.iter().zip([path.first(), path.last()]) {
                if let Some(at) = at {
                    layout.anchors.entry(*end).or_insert(*at);
                }
            }
        }
    }

    /// Points inside a part stand in its middle, unless something said better.
    fn inner_anchors(&self, layout: &mut Layout) {
        for (i, point) in self.circuit.points.iter().enumerate() {
            let id = PointId::from(i);
            if layout.anchors.contains_key(&id) {
                continue;
            }
            let place = self
                .places
                .home
                .get(&id)
                .map(|(place, _)| *place)
                .or_else(|| self.places.of_part(point.part));
            let at = match place {
                Some(place) if layout.rects[place].w > 0.0 => Some(layout.rects[place].mid()),
                _ => self.middle_of_wire(layout, point.part),
            };
            if let Some(at) = at {
                layout.anchors.insert(id, at);
            }
        }
    }

    fn middle_of_wire(&self, layout: &Layout, part: circuit::PartId) -> Option<(f64, f64)> {
        let PartKind::Wire(wire) = self.circuit.parts.get(part.idx())?.kind else {
            return None;
        };
        let cable = self.places.cables.iter().position(|cable| cable.wire == Some(wire))?;
        Some(middle(layout.paths.get(cable)?))
    }
}

impl Layout {
    /// Boxes of a place that has several rows: one, or several where wires of others pass between its rows.
    pub(crate) fn boxes(&self, place: usize, rows: &[f64]) -> Vec<Rect> {
        let whole = self.rects[place];
        let mut sorted = rows.to_vec();
        sorted.sort_by(f64::total_cmp);
        let passes = |low: f64, high: f64| {
            self.paths.iter().flat_map(|path| path.windows(2)).any(|pair| {
                let (a, b) = (pair[0], pair[1]);
                let across = a.0.min(b.0) < whole.x - 1.0 && a.0.max(b.0) > whole.right() + 1.0;
                a.1 == b.1 && a.1 > low && a.1 < high && across
            })
        };
        let mut out = vec![whole];
        for pair in sorted.windows(2) {
            if passes(pair[0], pair[1])
                && let Some(last) = out.last_mut()
            {
                let rest = Rect::new(whole.x, pair[1] - 30.0, whole.w, whole.bottom() - pair[1] + 30.0);
                last.h = pair[0] + 30.0 - last.y;
                out.push(rest);
            }
        }
        out
    }
}

/// The middle of a path's longest level stretch.
pub(crate) fn middle(path: &[(f64, f64)]) -> (f64, f64) {
    let (a, b) = level(path);
    (f64::midpoint(a.0, b.0), a.1)
}

/// A path's longest level stretch.
pub(crate) fn level(path: &[(f64, f64)]) -> ((f64, f64), (f64, f64)) {
    path.windows(2)
        .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
        .filter(|(a, b)| a.1 == b.1)
        .max_by(|(a, b), (c, d)| (a.0 - b.0).abs().total_cmp(&(c.0 - d.0).abs()))
        .unwrap_or_default()
}
