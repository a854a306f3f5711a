//! Letters: which there are, how wide they are, and where a line is broken.

use std::cell::Cell;
use std::sync::Arc;

use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, Face, UnicodeBuffer};
use usvg::fontdb::{Database, Source};

const REGULAR: &[u8] = include_bytes!("../../fonts/atkinson-hyperlegible-400.ttf");
const BOLD: &[u8] = include_bytes!("../../fonts/atkinson-hyperlegible-700.ttf");
/// As the font calls itself.
const FAMILY: &str = "Atkinson Hyperlegible";

/// One weight.
pub(super) struct Letters {
    pub(super) font: Font,
    face: Face<'static>,
}

/// Both weights, and what was asked of them that they have not.
pub(super) struct Typeface {
    pub(super) regular: Letters,
    pub(super) bold: Letters,
    /// A letter was asked for that there is none of.
    pub(super) lacking: Cell<bool>,
    /// The same for pictures.
    database: Arc<Database>,
}

/// A line, ready to be drawn.
#[derive(Clone, Debug)]
pub(super) struct Line {
    pub(super) text: String,
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// In the size it was set in, points.
    pub(super) width: f32,
}

impl Letters {
    fn new(data: &'static [u8]) -> Self {
        // The two files are part of the program: a test reads them.
        #[expect(clippy::expect_used, reason = "the fonts are inside the binary, and whole")]
        let (font, face) = (
            Font::new(data.into(), 0).expect("a font of our own"),
            Face::from_slice(data, 0).expect("a font of our own"),
        );
        Self { font, face }
    }

    /// Glyphs with their widths in shares of the size, and the width of all.
    fn shape(&self, text: &str) -> (Vec<KrillaGlyph>, f32) {
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(Direction::LeftToRight);
        let shaped = rustybuzz::shape(&self.face, &[], buffer);
        let em = self.font.units_per_em();
        let starts: Vec<usize> = shaped.glyph_infos().iter().map(|info| info.cluster as usize).collect();
        let mut width = 0.0;
        let glyphs = shaped
            .glyph_infos()
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, at)| {
                let start = info.cluster as usize;
                let end = starts
                    .iter()
                    .copied()
                    .filter(|other| *other > start)
                    .min()
                    .unwrap_or(text.len());
                let advance = at.x_advance as f32 / em;
                width += advance;
                let offset = (at.x_offset as f32 / em, at.y_offset as f32 / em);
                KrillaGlyph::new(
                    GlyphId::new(info.glyph_id),
                    advance,
                    offset.0,
                    offset.1,
                    0.0,
                    start..end,
                    None,
                )
            });
        let glyphs = glyphs.collect();
        (glyphs, width)
    }

    /// Width of a text on one line, points.
    pub(super) fn width(&self, text: &str, size: f32) -> f32 {
        self.shape(text).1 * size
    }

    /// Width of the widest piece of a text that is not broken without need.
    pub(super) fn widest(&self, text: &str, size: f32) -> f32 {
        let each = pieces(text).map(|piece| self.width(piece.trim_end(), size));
        each.fold(0.0, f32::max)
    }

    /// A text on one line.
    pub(super) fn line(&self, text: &str, size: f32) -> Line {
        let (glyphs, width) = self.shape(text);
        Line {
            text: text.to_owned(),
            glyphs,
            width: width * size,
        }
    }

    /// A text in lines no wider than `width` points; a word that is wider is broken where it must be. At least one line.
    pub(super) fn wrap(&self, text: &str, size: f32, width: f32) -> Vec<Line> {
        let mut lines = Vec::new();
        let (mut line, mut filled) = (String::new(), 0.0);
        for piece in pieces(text) {
            let wide = self.width(piece, size);
            let bare = self.width(piece.trim_end(), size);
            if filled + bare > width && !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                filled = 0.0;
            }
            if bare <= width {
                line.push_str(piece);
                filled += wide;
                continue;
            }
            for letter in piece.chars() {
                let wide = self.width(letter.encode_utf8(&mut [0; 4]), size);
                if filled + wide > width && !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                    filled = 0.0;
                }
                line.push(letter);
                filled += wide;
            }
        }
        lines.push(line);
        lines.iter().map(|line| self.line(line.trim_end(), size)).collect()
    }
}

/// Pieces between which a line may be broken, each with the blanks behind it.
fn pieces(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let mut letters = rest.char_indices().peekable();
        while let Some((at, letter)) = letters.next() {
            let Some(&(_, next)) = letters.peek() else { break };
            let after_blank = letter == ' ' && next != ' ';
            // "-5 V" and "8/10" stay whole.
            let after_mark = matches!(letter, '-' | '/') && at > 0 && next.is_alphabetic();
            if after_blank || after_mark {
                let (piece, behind) = rest.split_at(at + letter.len_utf8());
                rest = behind;
                return Some(piece);
            }
        }
        let piece = std::mem::take(&mut rest);
        (!piece.is_empty()).then_some(piece)
    })
}

impl Typeface {
    pub(super) fn new() -> Self {
        let mut database = Database::new();
        for data in [REGULAR, BOLD] {
            database.load_font_source(Source::Binary(Arc::new(data)));
        }
        Self {
            regular: Letters::new(REGULAR),
            bold: Letters::new(BOLD),
            lacking: Cell::new(false),
            database: Arc::new(database),
        }
    }

    /// The text with letters that there are: narrow blanks become blanks, what is lacking `?`.
    pub(super) fn shown(&self, text: &str) -> String {
        text.chars()
            .map(|letter| match letter {
                '\u{2009}' | '\u{202f}' => '\u{a0}',
                letter if letter.is_control() => ' ',
                letter if self.regular.face.glyph_index(letter).is_some() => letter,
                _ => {
                    self.lacking.set(true);
                    '?'
                }
            })
            .collect()
    }

    /// A picture in this typeface.
    pub(super) fn picture(&self, svg: &str) -> Result<usvg::Tree, usvg::Error> {
        let options = usvg::Options {
            font_family: FAMILY.to_owned(),
            fontdb: Arc::clone(&self.database),
            ..usvg::Options::default()
        };
        usvg::Tree::from_str(&self.shown(svg), &options)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_as_wide_as_asked_and_no_letter_is_lost() {
        let letters = Letters::new(REGULAR);
        let text = "The ground stud behind the glove-box/heater reads -5 V; averyverylongwordthatfitsnowhere stays 8/10 whole.";
        for width in [40.0, 90.0, 300.0] {
            let lines = letters.wrap(text, 10.0, width);
            assert!(lines.iter().all(|line| line.width <= width + 0.5), "{width}: {lines:?}");
            let bare = |text: &str| text.replace(' ', "");
            let joined: String = lines.iter().map(|line| bare(&line.text)).collect();
            assert_eq!(joined, bare(text));
        }
        assert_eq!(letters.wrap("", 10.0, 50.0).len(), 1);
        let parts: Vec<&str> = pieces("glove-box/heater -5 V 8/10").collect();
        assert_eq!(parts, ["glove-", "box/", "heater ", "-5 ", "V ", "8/10"]);
    }

    #[test]
    fn what_the_typeface_lacks_is_told() {
        let typeface = Typeface::new();
        assert_eq!(typeface.shown("4.7 kΩ ± 2 µA − ü…"), "4.7 kΩ ± 2 µA − ü…");
        assert!(!typeface.lacking.get());
        assert_eq!(typeface.shown("Ж"), "?");
        assert!(typeface.lacking.get());
    }
}
