//! Writing SVG: numbers short, text escaped, every text's box remembered.

use std::fmt::Write as _;

pub(crate) use markup::escaped;

use crate::text::Face;

/// A rectangle in pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rect {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) w: f64,
    pub(crate) h: f64,
}

impl Rect {
    pub(crate) fn new(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x, y, w, h }
    }

    pub(crate) fn around(x: f64, y: f64, half_w: f64, half_h: f64) -> Self {
        Self::new(x - half_w, y - half_h, 2.0 * half_w, 2.0 * half_h)
    }

    pub(crate) fn right(self) -> f64 {
        self.x + self.w
    }

    pub(crate) fn bottom(self) -> f64 {
        self.y + self.h
    }

    pub(crate) fn overlaps(self, other: Self) -> bool {
        self.x < other.right() && other.x < self.right() && self.y < other.bottom() && other.y < self.bottom()
    }

    pub(crate) fn grown(self, by: f64) -> Self {
        Self::new(self.x - by, self.y - by, self.w + 2.0 * by, self.h + 2.0 * by)
    }

    pub(crate) fn union(self, other: Self) -> Self {
        let (x, y) = (self.x.min(other.x), self.y.min(other.y));
        Self::new(
            x,
            y,
            self.right().max(other.right()) - x,
            self.bottom().max(other.bottom()) - y,
        )
    }

    pub(crate) fn mid(self) -> (f64, f64) {
        (self.x + self.w / 2.0, self.y + self.h / 2.0)
    }
}

/// How a text stands to its x.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How something is painted: a class for the page's themes, and attributes that hold without any style sheet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Paint {
    pub(crate) class: &'static str,
    pub(crate) attrs: &'static str,
}

const fn paint(class: &'static str, attrs: &'static str) -> Paint {
    Paint { class, attrs }
}

pub(crate) const PAPER: Paint = paint("pw-paper", "fill=\"#fffdf8\"");
pub(crate) const BOX: Paint = paint("pw-box", "fill=\"#eef0ec\" stroke=\"#8d9894\" stroke-width=\"1.3\"");
pub(crate) const PLATE: Paint = paint("pw-plate", "fill=\"#ffffff\" stroke=\"#1d2430\" stroke-width=\"1.4\"");
pub(crate) const LINE: Paint = paint(
    "pw-line",
    "fill=\"none\" stroke=\"#1d2430\" stroke-width=\"1.5\" stroke-linejoin=\"round\"",
);
pub(crate) const DOTTED: Paint = paint(
    "pw-line",
    "fill=\"none\" stroke=\"#1d2430\" stroke-width=\"1.2\" stroke-dasharray=\"2 4\"",
);
pub(crate) const CLIPPED: Paint = paint(
    "pw-line",
    "fill=\"none\" stroke=\"#1d2430\" stroke-width=\"2.2\" stroke-dasharray=\"6 4\"",
);
pub(crate) const DOT: Paint = paint("pw-dot", "fill=\"#1d2430\"");
pub(crate) const CASING: Paint = paint("pw-casing", "fill=\"none\" stroke=\"#5b616b\" stroke-width=\"9.6\"");
pub(crate) const HALO: Paint = paint("pw-halo", "fill=\"none\" stroke=\"#fffdf8\" stroke-width=\"15\"");
pub(crate) const GRID: Paint = paint("pw-grid", "fill=\"none\" stroke=\"#cfc8ba\" stroke-width=\"1\"");
pub(crate) const INK: Paint = paint("pw-ink", "fill=\"#1d2430\"");
pub(crate) const SOFT: Paint = paint("pw-soft", "fill=\"#625e57\"");
/// Words on bare paper: hatching and lines stay clear of them.
pub(crate) const SOFT_CLEAR: Paint = paint(
    "pw-soft pw-clear",
    "fill=\"#625e57\" stroke=\"#fffdf8\" stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
);
/// The same for names.
pub(crate) const INK_CLEAR: Paint = paint(
    "pw-ink pw-clear",
    "fill=\"#1d2430\" stroke=\"#fffdf8\" stroke-width=\"4\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
);
pub(crate) const OFF: Paint = paint("pw-off", "fill=\"#a84514\"");
pub(crate) const FLAG: Paint = paint(
    "pw-plate pw-flag",
    "fill=\"#ffffff\" stroke=\"#1d2430\" stroke-width=\"1.5\"",
);
pub(crate) const FLAG_OFF: Paint = paint(
    "pw-flag-off pw-flag",
    "fill=\"#fdeee2\" stroke=\"#a84514\" stroke-width=\"1.8\"",
);
pub(crate) const LEADER_OFF: Paint = paint("pw-off-line", "fill=\"none\" stroke=\"#a84514\" stroke-width=\"1.4\"");
pub(crate) const NEXT_RING: Paint = paint("pw-next", "fill=\"none\" stroke=\"#0b6b73\" stroke-width=\"3.5\"");
pub(crate) const NEXT_LEADER: Paint = paint(
    "pw-next",
    "fill=\"none\" stroke=\"#0b6b73\" stroke-width=\"2.5\" stroke-dasharray=\"3 3\"",
);
pub(crate) const NEXT_PILL: Paint = paint("pw-accent", "fill=\"#0b6b73\"");
pub(crate) const ON_ACCENT: Paint = paint("pw-on-accent", "fill=\"#ffffff\"");

/// The style sheet of a themed picture. Custom properties, each with what it falls back to: `--ink`, `--ink-soft`,
/// `--paper`, `--plate` (labels and combs), `--box` and `--box-edge` (modules and devices), `--hairline`, `--accent`,
/// `--on-accent`, `--hatch`, `--off` and `--off-paper` (readings that are not what they should be), `--casing` (the
/// hairline along a wire).
pub const STYLE: &str = "\
.pw-paper{fill:var(--paper,#fffdf8)}\
.pw-box{fill:var(--box,#eef0ec);stroke:var(--box-edge,#8d9894)}\
.pw-plate{fill:var(--plate,#ffffff);stroke:var(--ink,#1d2430)}\
.pw-line{stroke:var(--ink,#1d2430)}\
.pw-dot,.pw-ink{fill:var(--ink,#1d2430)}\
.pw-casing{stroke:var(--casing,#5b616b)}\
.pw-halo{stroke:var(--paper,#fffdf8)}\
.pw-clear{stroke:var(--paper,#fffdf8)}\
.pw-grid{stroke:var(--hairline,#cfc8ba)}\
.pw-soft{fill:var(--ink-soft,#625e57)}\
.pw-off{fill:var(--off,#a84514)}\
.pw-off-line{stroke:var(--off,#a84514)}\
.pw-flag-off{fill:var(--off-paper,#fdeee2);stroke:var(--off,#a84514)}\
.pw-next{stroke:var(--accent,#0b6b73)}\
.pw-accent{fill:var(--accent,#0b6b73)}\
.pw-on-accent{fill:var(--on-accent,#ffffff)}\
.pw-hatch,.pw-hatch-edge{stroke:var(--hatch,#b4501c)}\
.spot{cursor:pointer}\
.spot:focus-visible{outline:none}\
.spot:focus-visible .pw-hit{stroke:var(--accent,#0b6b73);stroke-width:2}\
@media (hover:hover){.spot:hover .pw-hit{stroke:var(--accent,#0b6b73);stroke-width:2}}";

/// The text of an SVG as it grows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Svg {
    pub(crate) out: String,
}

/// A number with at most one decimal.
pub(crate) fn num(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    // Adding zero turns -0 into 0.
    format!("{}", tenths + 0.0)
}

impl Svg {
    pub(crate) fn raw(&mut self, text: &str) {
        self.out.push_str(text);
        self.out.push('\n');
    }

    pub(crate) fn rect(&mut self, rect: Rect, radius: f64, paint: Paint) {
        self.rect_with(rect, radius, paint, "");
    }

    pub(crate) fn rect_with(&mut self, rect: Rect, radius: f64, paint: Paint, more: &str) {
        let (x, y, w, h) = (num(rect.x), num(rect.y), num(rect.w), num(rect.h));
        let (class, attrs, r) = (paint.class, paint.attrs, num(radius));
        let _ = writeln!(
            self.out,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" rx=\"{r}\" class=\"{class}\" {attrs}{more}/>"
        );
    }

    pub(crate) fn circle(&mut self, x: f64, y: f64, r: f64, paint: Paint) {
        let (x, y, r, class, attrs) = (num(x), num(y), num(r), paint.class, paint.attrs);
        let _ = writeln!(
            self.out,
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" class=\"{class}\" {attrs}/>"
        );
    }

    pub(crate) fn path(&mut self, d: &str, paint: Paint) {
        let _ = writeln!(self.out, "<path d=\"{d}\" class=\"{}\" {}/>", paint.class, paint.attrs);
    }

    /// A path through these points.
    pub(crate) fn polyline(&mut self, points: &[(f64, f64)], paint: Paint) {
        self.path(&through(points), paint);
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), paint: Paint) {
        self.polyline(&[from, to], paint);
    }

    pub(crate) fn text(&mut self, at: (f64, f64), text: &str, face: Face, anchor: Anchor, paint: Paint) {
        if text.is_empty() {
            return;
        }
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if face.bold { 700 } else { 400 };
        let (x, y, size) = (num(at.0), num(at.1), num(face.size));
        let _ = writeln!(
            self.out,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" font-weight=\"{weight}\" text-anchor=\"{anchor}\" \
             class=\"{}\" {}>{}</text>",
            paint.class,
            paint.attrs,
            escaped(text)
        );
    }
}

/// Path data through these points.
pub(crate) fn through(points: &[(f64, f64)]) -> String {
    let mut d = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if i == 0 { "M" } else { " L" }, num(*x), num(*y));
    }
    d
}

/// The box that a text fills.
pub(crate) fn text_box(at: (f64, f64), text: &str, face: Face, anchor: Anchor) -> Rect {
    let w = face.width(text);
    let x = match anchor {
        Anchor::Start => at.0,
        Anchor::Middle => at.0 - w / 2.0,
        Anchor::End => at.0 - w,
    };
    // Ascent and descent of both fonts stay within these shares of the size for letters and figures.
    Rect::new(x, at.1 - 0.76 * face.size, w, 0.98 * face.size)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        assert_eq!([num(-0.01), num(12.25), num(3.0)], ["0", "12.3", "3"]);
    }
}
