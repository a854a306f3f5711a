//! How wide a text is, and how it is cut to fit.
//!
//! Widths are the larger of Atkinson Hyperlegible and Liberation Sans (metric-compatible with Arial), in thousandths of
//! the font size, read from the fonts' own advance tables. A character outside the table counts as a full em, so a text
//! is never wider than computed as long as one of the two fonts is used.

/// Fonts asked for, best first; both ends of the list have widths within the tables below.
pub const FONTS: &str = "'Atkinson Hyperlegible', Arial, 'Liberation Sans', Helvetica, sans-serif";

const REGULAR: [u16; 95] = [
    280, 281, 355, 655, 594, 927, 705, 191, 333, 333, 433, 602, 278, 368, 278, 377, 648, 556, 556, 574, 614, 583, 598,
    556, 615, 598, 278, 278, 584, 602, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 414, 510, 667, 556, 833,
    722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 315, 377, 315, 552, 556, 333, 556, 566, 500, 564,
    556, 311, 560, 556, 278, 254, 500, 239, 841, 556, 556, 566, 576, 340, 500, 324, 556, 500, 722, 500, 500, 500, 334,
    260, 334, 584,
];
const BOLD: [u16; 95] = [
    320, 333, 474, 783, 619, 977, 722, 238, 366, 366, 434, 618, 278, 374, 278, 442, 652, 556, 586, 605, 626, 612, 632,
    556, 625, 561, 333, 333, 584, 618, 584, 614, 975, 722, 722, 722, 722, 667, 611, 778, 722, 458, 560, 722, 611, 842,
    722, 778, 667, 781, 722, 667, 617, 722, 667, 944, 699, 687, 621, 333, 442, 333, 589, 556, 333, 556, 611, 556, 611,
    566, 367, 611, 611, 315, 278, 567, 314, 889, 611, 611, 611, 611, 389, 556, 379, 611, 556, 778, 556, 556, 516, 389,
    280, 389, 584,
];

/// A size and weight of text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Face {
    /// Pixels.
    pub size: f64,
    /// Bold.
    pub bold: bool,
}

impl Face {
    /// Regular at this size in pixels.
    pub const fn regular(size: f64) -> Self {
        Self { size, bold: false }
    }

    /// Bold at this size in pixels.
    pub const fn bold(size: f64) -> Self {
        Self { size, bold: true }
    }

    /// Width of a text on one line, pixels.
    pub fn width(self, text: &str) -> f64 {
        let table = if self.bold { &BOLD } else { &REGULAR };
        let thousandths: u32 = text.chars().map(|c| u32::from(advance(table, c))).sum();
        f64::from(thousandths) * self.size / 1000.0
    }

    /// The text, cut with `…` so that it is no wider than `width` pixels.
    pub fn fit(self, text: &str, width: f64) -> String {
        let text = tidy(text);
        if self.width(&text) <= width {
            return text;
        }
        let mut cut = String::new();
        for c in text.chars() {
            cut.push(c);
            if self.width(&cut) + self.size > width {
                cut.pop();
                break;
            }
        }
        let mut cut = cut.trim_end().to_owned();
        cut.push('…');
        cut
    }

    /// The text in at most `lines` lines, each at most `width` pixels, broken at spaces; the last is cut if it must be.
    pub fn wrap(self, text: &str, width: f64, lines: usize) -> Vec<String> {
        let text = tidy(text);
        let mut out: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split(' ') {
            let joined = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if line.is_empty() || out.len() + 1 >= lines || self.width(&joined) <= width {
                line = joined;
            } else {
                out.push(std::mem::replace(&mut line, word.to_owned()));
            }
        }
        if !line.is_empty() {
            out.push(line);
        }
        out.iter().map(|line| self.fit(line, width)).collect()
    }
}

/// Runs of white space and control characters become one space.
fn tidy(text: &str) -> String {
    let spaced: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn advance(table: &[u16; 95], c: char) -> u16 {
    match c {
        ' '..='~' => table[c as usize - 32],
        // Measured in both fonts, the larger taken.
        '·' => 301,
        '–' => 556,
        '−' => 602,
        'Ω' => 802,
        'µ' | 'μ' | 'ß' | 'ü' => 621,
        '²' | '³' | '°' => 407,
        '≤' | '≥' | '±' => 618,
        'à'..='ÿ' => 640,
        _ => 1060,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FACE: Face = Face::regular(10.0);

    #[test]
    fn a_cut_text_is_no_wider_than_asked() {
        for width in [20.0, 37.0, 60.0] {
            let cut = FACE.fit("the ground stud behind the left front lamp", width);
            assert!(FACE.width(&cut) <= width, "{cut}: {}", FACE.width(&cut));
            assert!(cut.ends_with('…'));
        }
    }

    #[test]
    fn wrapping_keeps_every_word_where_there_is_room() {
        let lines = FACE.wrap("ground stud behind the glove box", 80.0, 4);
        assert_eq!(lines.join(" "), "ground stud behind the glove box");
        assert!(lines.iter().all(|line| FACE.width(line) <= 80.0));
    }

    #[test]
    fn control_characters_and_runs_of_space_do_not_survive() {
        assert_eq!(FACE.fit("a\u{0}\n\t b", 500.0), "a b");
    }
}
