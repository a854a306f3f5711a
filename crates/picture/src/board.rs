//! The sheet being drawn: SVG plus every text's box, so that no text covers another.

use crate::svg::{Anchor, Paint, Rect, Svg, text_box};
use crate::text::Face;

/// Drawing and what is already taken on it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Board {
    pub(crate) svg: Svg,
    /// Boxes of texts and terminals: never covered.
    texts: Vec<Rect>,
    /// Symbols: covered only where nothing else is left.
    marks: Vec<Rect>,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

impl Board {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            ..Self::default()
        }
    }

    pub(crate) fn text(&mut self, at: (f64, f64), text: &str, face: Face, anchor: Anchor, paint: Paint) {
        if text.is_empty() {
            return;
        }
        self.texts.push(text_box(at, text, face, anchor));
        self.svg.text(at, text, face, anchor, paint);
    }

    /// Lines below each other, the last with its baseline at `at`.
    pub(crate) fn lines_up(&mut self, at: (f64, f64), lines: &[String], face: Face, anchor: Anchor, paint: Paint) {
        let step = (face.size * 1.2).round();
        for (i, line) in lines.iter().enumerate() {
            let y = at.1 - step * (lines.len() - 1 - i) as f64;
            self.text((at.0, y), line, face, anchor, paint);
        }
    }

    /// A text if its place is free; whether it was written.
    pub(crate) fn text_if_free(
        &mut self,
        at: (f64, f64),
        text: &str,
        face: Face,
        anchor: Anchor,
        paint: Paint,
    ) -> bool {
        let free = self.free(text_box(at, text, face, anchor), true);
        if free {
            self.text(at, text, face, anchor, paint);
        }
        free
    }

    /// Keeps a box as if text stood there.
    pub(crate) fn keep(&mut self, rect: Rect) {
        self.texts.push(rect);
    }

    /// Notes a terminal: as little to be covered as a text.
    pub(crate) fn terminal(&mut self, x: f64, y: f64) {
        self.texts.push(Rect::around(x, y, 5.0, 5.0));
    }

    /// Notes a symbol.
    pub(crate) fn mark(&mut self, rect: Rect) {
        self.marks.push(rect);
    }

    fn inside(&self, rect: Rect) -> bool {
        rect.x >= 2.0 && rect.y >= 2.0 && rect.right() <= self.width - 2.0 && rect.bottom() <= self.height - 2.0
    }

    /// Whether a box covers no text (and, if `strict`, no symbol) and lies on the sheet.
    pub(crate) fn free(&self, rect: Rect, strict: bool) -> bool {
        self.inside(rect)
            && !self.texts.iter().any(|taken| taken.overlaps(rect.grown(2.0)))
            && !(strict && self.marks.iter().any(|taken| taken.overlaps(rect)))
    }

    /// The best free box of `wanted`, which come best first: one that covers a symbol counts as eight places later. If
    /// all cover a text, the nearest free one anywhere on the sheet.
    pub(crate) fn first_free(&self, wanted: &[Rect]) -> Option<Rect> {
        let open = wanted.iter().enumerate().filter(|(_, rect)| self.free(**rect, false));
        let rank = |(i, rect): &(usize, &Rect)| if self.free(**rect, true) { *i } else { *i + 8 };
        if let Some((_, found)) = open.min_by_key(rank) {
            return Some(*found);
        }
        let first = *wanted.first()?;
        let (w, h) = (first.w, first.h);
        let mut best: Option<(f64, Rect)> = None;
        let mut y = 4.0;
        while y + h < self.height - 2.0 {
            let mut x = 4.0;
            while x + w < self.width - 2.0 {
                let rect = Rect::new(x, y, w, h);
                let far = (x - first.x).abs() + (y - first.y).abs();
                if best.is_none_or(|(least, _)| far < least) && self.free(rect, false) {
                    best = Some((far, rect));
                }
                x += 12.0;
            }
            y += 8.0;
        }
        best.map(|(_, rect)| rect)
    }
}
