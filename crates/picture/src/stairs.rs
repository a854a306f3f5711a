//! The voltage staircase: volts along a path, what should be there, what was measured, where suspects would put a step.
//!
//! It may share its horizontal with a wiring picture: give each place the x of its point there, and a step stands under
//! the place that causes it.

use crate::board::Board;
use crate::marks::{Look, Tone};
use crate::names::figure;
use crate::overlay::hatch_level;
use crate::svg::{Anchor, GRID, INK, LEADER_OFF, LINE, OFF, PAPER, Paint, Rect, SOFT, escaped, num, through};
use crate::text::Face;
use crate::wiring::document;

/// A path with everything known along it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// What the path is: "Voltage along the signal wire".
    pub title: String,
    /// Places along the path, in order.
    pub places: Vec<PathPlace>,
    /// Where suspects would put the voltage.
    pub bands: Vec<Band>,
}

/// One place of a path.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PathPlace {
    /// Name under the axis; may be empty (two terminals of one contact need one name).
    pub name: String,
    /// Across, in pixels of the picture above; where any place has none, all are spread evenly.
    pub x: Option<f64>,
    /// What a healthy circuit has there, volts.
    pub healthy: Option<f64>,
    /// What was measured there.
    pub measured: Vec<Ring>,
}

/// A measured voltage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ring {
    /// Volts.
    pub volts: f64,
    /// As the meter showed it: "10.4 V".
    pub label: String,
    /// How it stands to what should be there.
    pub tone: Tone,
}

/// A suspect's range of voltage along the path.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Band {
    /// In words: "if the joint is wet".
    pub label: String,
    /// How strong, 0 to 1: density of the hatching.
    pub strength: f64,
    /// Least and most volts at each place, in the order of the path; `None` where it says nothing.
    pub volts: Vec<Option<(f64, f64)>>,
}

/// Below a tenth of a volt a staircase shows nothing but the meter's own doubt.
const LEAST_SPAN: f64 = 0.1;
const TITLE: Face = Face::bold(14.5);
const LABEL: Face = Face::regular(12.5);
const FIGURE: Face = Face::bold(14.0);
const BAND_EDGE: Paint = Paint {
    class: "pw-hatch-edge",
    attrs: "fill=\"none\" stroke=\"#b4501c\" stroke-width=\"0.9\"",
};
const HEALTHY: Paint = Paint {
    class: "pw-line",
    attrs: "fill=\"none\" stroke=\"#1d2430\" stroke-width=\"2.6\" stroke-linejoin=\"round\" stroke-linecap=\"round\"",
};

/// From volts and places to pixels.
struct Axes {
    x: Vec<f64>,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    low: f64,
    high: f64,
    step: f64,
}

impl Axes {
    fn y(&self, volts: f64) -> f64 {
        let share = (volts.clamp(self.low, self.high) - self.low) / (self.high - self.low);
        self.bottom - share * (self.bottom - self.top)
    }
}

/// Draws a staircase `look.fill_width` pixels wide (at least 320, and at least as wide as its places) and `height`
/// pixels high (at least 180).
pub fn staircase(path: &Path, height: f64, look: &Look) -> String {
    let height = if height.is_finite() {
        height.clamp(180.0, 4000.0)
    } else {
        180.0
    };
    let axes = axes(path, height, look);
    let width = axes.right + 22.0;
    let mut board = Board::new(width, height);
    board.text(
        (20.0, 26.0),
        &TITLE.fit(&path.title, width - 40.0),
        TITLE,
        Anchor::Start,
        INK,
    );
    grid(&mut board, &axes);
    names(&mut board, path, &axes);
    bands(&mut board, path, &axes, &look.prefix());
    for run in runs(
        path.places
            .iter()
            .map(|place| place.healthy.filter(|volts| volts.is_finite())),
    ) {
        let points: Vec<(f64, f64)> = run.into_iter().map(|(i, volts)| (axes.x[i], axes.y(volts))).collect();
        board.svg.polyline(&points, HEALTHY);
    }
    rings(&mut board, path, &axes);
    band_labels(&mut board, path, &axes);
    document(&board.svg.out, width, height, &path.title, look)
}

fn axes(path: &Path, height: f64, look: &Look) -> Axes {
    let left = 52.0;
    let given: Vec<f64> = path
        .places
        .iter()
        .filter_map(|place| place.x.filter(|x| x.is_finite()))
        .collect();
    let fill = if look.fill_width.is_finite() {
        look.fill_width.clamp(320.0, 1e5)
    } else {
        320.0
    };
    let n = path.places.len();
    let (x, right) = if n > 0 && given.len() == n {
        let most = given.iter().copied().fold(0.0, f64::max).min(1e5);
        (
            given.iter().map(|x| x.clamp(left, 1e5)).collect(),
            (fill - 22.0).max(most + 20.0),
        )
    } else {
        let right = (fill - 22.0).max(left + 90.0 * n as f64);
        let step = (right - left - 40.0) / (n.max(2) - 1) as f64;
        ((0..n).map(|i| left + 20.0 + step * i as f64).collect(), right)
    };
    let all = path
        .places
        .iter()
        .flat_map(|place| {
            place
                .healthy
                .into_iter()
                .chain(place.measured.iter().map(|ring| ring.volts))
        })
        .chain(
            path.bands
                .iter()
                .flat_map(|band| band.volts.iter().flatten().flat_map(|(a, b)| [*a, *b])),
        )
        .filter(|volts| volts.is_finite() && volts.abs() < 1e6);
    let (low, high) = all.fold((0.0_f64, 0.0_f64), |(low, high), volts| {
        (low.min(volts), high.max(volts))
    });
    let step = step(high - low);
    // A voltage right on the edge would lie on the title or the names.
    // Where all lies at nothing, a tenth of a volt still shows that it does.
    let high = (((high + 0.08 * step) / step).ceil() * step).max(LEAST_SPAN + low.min(0.0));
    let low = if low < -0.02 * step {
        (low / step).floor() * step
    } else {
        0.0
    };
    Axes {
        x,
        left,
        right,
        top: 56.0,
        bottom: height - 46.0,
        low,
        high,
        step,
    }
}

/// A round step that gives three to six lines.
fn step(span: f64) -> f64 {
    let span = span.max(LEAST_SPAN);
    let ten = 10.0_f64.powf((span / 5.0).log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|n| n * ten)
        .find(|step| span / step <= 5.0)
        .unwrap_or(10.0 * ten)
}

fn grid(board: &mut Board, axes: &Axes) {
    let lines = ((axes.high - axes.low) / axes.step).round() as usize;
    for i in 0..=lines {
        let volts = axes.low + axes.step * i as f64;
        let y = axes.y(volts);
        board.svg.line((axes.left - 6.0, y), (axes.right, y), GRID);
        board.text((axes.left - 12.0, y + 4.0), &figure(volts), LABEL, Anchor::End, SOFT);
    }
    board.text_if_free((axes.left - 12.0, axes.top - 10.0), "V", LABEL, Anchor::End, SOFT);
}

/// Names under the axis, on two levels where they would touch.
fn names(board: &mut Board, path: &Path, axes: &Axes) {
    for (place, x) in path.places.iter().zip(&axes.x) {
        if place.name.is_empty() {
            continue;
        }
        board.svg.line((*x, axes.bottom), (*x, axes.bottom + 6.0), LINE);
        let name = LABEL.fit(&place.name, 130.0);
        let half = LABEL.width(&name) / 2.0;
        let x = x.clamp(half + 4.0, (board.width - half - 4.0).max(half + 4.0));
        for down in [20.0, 36.0] {
            if board.text_if_free((x, axes.bottom + down), &name, LABEL, Anchor::Middle, SOFT) {
                break;
            }
        }
    }
}

/// Stretches of values that are there, with their positions.
fn runs<T>(values: impl Iterator<Item = Option<T>>) -> Vec<Vec<(usize, T)>> {
    let mut out: Vec<Vec<(usize, T)>> = Vec::new();
    let mut open = false;
    for (i, value) in values.enumerate() {
        match value {
            Some(value) if open => {
                if let Some(run) = out.last_mut() {
                    run.push((i, value));
                }
            }
            Some(value) => out.push(vec![(i, value)]),
            None => {}
        }
        open = out
            .last()
            .and_then(|run| run.last())
            .is_some_and(|(last, _)| *last == i);
    }
    out
}

/// An edge as it runs.
type Edge = Vec<(f64, f64)>;

/// Top and bottom edge of a band, for each stretch; never thinner than 9 px, so that its hatching shows.
fn edges(band: &Band, axes: &Axes) -> Vec<(Edge, Edge)> {
    let whole = |(a, b): &(f64, f64)| a.is_finite() && b.is_finite();
    runs(band.volts.iter().take(axes.x.len()).map(|volts| volts.filter(whole)))
        .into_iter()
        .map(|run| {
            let edge = |up: bool| {
                run.iter()
                    .map(|(i, (a, b))| {
                        let (top, bottom) = (axes.y(a.max(*b)), axes.y(a.min(*b)));
                        let pad = ((9.0 - (bottom - top)) / 2.0).max(0.0);
                        (axes.x[*i], if up { top - pad } else { bottom + pad })
                    })
                    .collect::<Vec<_>>()
            };
            (edge(true), edge(false))
        })
        .collect()
}

fn bands(board: &mut Board, path: &Path, axes: &Axes, prefix: &str) {
    for band in &path.bands {
        let level = hatch_level(band.strength);
        board.svg.raw(&format!(
            "<g class=\"pw-suspect\"><title>{}</title>",
            escaped(&band.label)
        ));
        for (top, bottom) in edges(band, axes) {
            for (upper, lower) in top.windows(2).zip(bottom.windows(2)) {
                let (y, end) = (upper[0].1.min(upper[1].1), lower[0].1.max(lower[1].1));
                let (from, to) = (upper[0].0.min(upper[1].0), upper[0].0.max(upper[1].0));
                board.mark(Rect::new(from, y, to - from, end - y));
            }
            let ring: Vec<(f64, f64)> = top.iter().copied().chain(bottom.iter().rev().copied()).collect();
            board.svg.raw(&format!(
                "<path d=\"{} Z\" fill=\"url(#{prefix}-h{level})\"/>",
                through(&ring)
            ));
            board.svg.polyline(&top, BAND_EDGE);
            board.svg.polyline(&bottom, BAND_EDGE);
        }
        board.svg.raw("</g>");
    }
}

fn rings(board: &mut Board, path: &Path, axes: &Axes) {
    for (place, x) in path.places.iter().zip(&axes.x) {
        for ring in place.measured.iter().filter(|ring| ring.volts.is_finite()) {
            let y = axes.y(ring.volts);
            let paint = if ring.tone == Tone::Off { LEADER_OFF } else { LINE };
            let class = paint.class;
            let colour = if ring.tone == Tone::Off { "#a84514" } else { "#1d2430" };
            board.svg.raw(&format!(
                "<circle cx=\"{}\" cy=\"{}\" r=\"6.5\" class=\"pw-plate {class}\" fill=\"#ffffff\" stroke=\"{colour}\" \
                 stroke-width=\"3\"/>",
                num(*x),
                num(y)
            ));
            board.mark(Rect::around(*x, y, 8.0, 8.0));
            let label = FIGURE.fit(&ring.label, 120.0);
            let (w, h) = (FIGURE.width(&label), 15.0);
            let wanted: Vec<Rect> = [
                (12.0, -8.0),
                (-12.0 - w, -8.0),
                (12.0, -26.0),
                (12.0, 10.0),
                (-w / 2.0, -28.0),
            ]
            .iter()
            .map(|(dx, dy)| Rect::new(x + dx, y + dy, w, h))
            .collect();
            if let Some(rect) = board.first_free(&wanted) {
                let paint = if ring.tone == Tone::Off { OFF } else { INK };
                board.svg.rect(rect.grown(1.0), 3.0, PAPER);
                board.text((rect.x, rect.y + 12.5), &label, FIGURE, Anchor::Start, paint);
            }
        }
    }
}

fn band_labels(board: &mut Board, path: &Path, axes: &Axes) {
    for band in &path.bands {
        let label = LABEL.fit(&band.label, 240.0);
        let w = LABEL.width(&label);
        let wanted: Vec<Rect> = edges(band, axes)
            .iter()
            .flat_map(|(top, bottom)| {
                let over = |edge: &[(f64, f64)], off: f64| {
                    let mut steps: Vec<_> = edge.windows(2).map(|pair| (pair[0], pair[1])).collect();
                    steps.sort_by(|(a, b), (c, d)| (c.0 - d.0).abs().total_cmp(&(a.0 - b.0).abs()));
                    let at = move |(a, b): ((f64, f64), (f64, f64))| {
                        let y = if off < 0.0 { a.1.min(b.1) } else { a.1.max(b.1) };
                        (f64::midpoint(a.0, b.0), y + off)
                    };
                    steps.into_iter().map(at).collect::<Vec<_>>()
                };
                over(top, -18.0)
                    .into_iter()
                    .chain(over(bottom, 4.0))
                    .collect::<Vec<_>>()
            })
            .map(|(x, y)| Rect::new((x - w / 2.0).max(axes.left), y, w, 14.0))
            .collect();
        if !label.is_empty()
            && let Some(rect) = wanted.into_iter().find(|rect| board.free(*rect, true))
        {
            board.text((rect.x, rect.y + 11.0), &label, LABEL, Anchor::Start, OFF);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_give_few_lines() {
        for (span, expect) in [(12.6, 5.0), (5.0, 1.0), (0.0, 0.02), (9.0, 2.0), (48.0, 10.0)] {
            assert_eq!(step(span), expect, "span {span}");
        }
    }

    #[test]
    fn a_gap_parts_a_line_in_two() {
        let parts = runs([Some(1), Some(2), None, Some(3)].into_iter());
        assert_eq!(parts, [vec![(0, 1), (1, 2)], vec![(3, 3)]]);
    }
}
