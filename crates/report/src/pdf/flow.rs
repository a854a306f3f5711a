//! Blocks onto pages.
//!
//! A heading stays with what follows it, a paragraph leaves no line alone on a page, and a picture is never cut: one that
//! would become too small to read gets a page laid across, where that makes it larger.

use std::num::NonZeroU16;

use krilla::tagging::{ListNumbering, Tag, TagKind};

use super::PdfError;
use super::letters::{Letters, Line, Typeface};
use super::table;
use crate::document::{Block, Document, Figure};

/// A4, points, and its margins: 18 mm, a little more below for the number.
const PAGE: (f32, f32) = (595.28, 841.89);
const MARGIN: f32 = 51.0;
const FOOT: f32 = 62.0;
/// Of a line's size, from one to the next.
const LEADING: f32 = 1.35;
const BODY: f32 = 10.0;
/// A picture's pixel is this many points at most, and on an upright page at least: letters of 12 pixels are then 6.5 points.
const FULL: f32 = 0.75;
const READABLE: f32 = 0.54;
/// A page is laid across only for a picture that becomes so many times as large on it.
const WORTH_TURNING: f32 = 1.15;
/// Kept free below a picture for its caption.
const CAPTION_ROOM: f32 = 40.0;

pub(super) type Rgb = (u8, u8, u8);
pub(super) const INK: Rgb = (29, 36, 48);
pub(super) const SOFT: Rgb = (98, 94, 87);
pub(super) const HAIRLINE: Rgb = (207, 200, 186);
const WARNING: Rgb = (168, 69, 20);
const TINT: Rgb = (253, 238, 226);

/// A style of text.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    pub(super) size: f32,
    pub(super) bold: bool,
    pub(super) colour: Rgb,
}

pub(super) const fn style(size: f32, bold: bool, colour: Rgb) -> Style {
    Style { size, bold, colour }
}

impl Style {
    pub(super) fn leading(self) -> f32 {
        self.size * LEADING
    }

    pub(super) fn letters(self, typeface: &Typeface) -> &Letters {
        if self.bold { &typeface.bold } else { &typeface.regular }
    }
}

const TITLE: Style = style(19.0, true, INK);
const BELOW: Style = style(BODY, false, SOFT);
const TEXT: Style = style(BODY, false, INK);
const NAME: Style = style(BODY, true, INK);
const HEADING: Style = style(13.5, true, INK);
const SUBHEADING: Style = style(11.0, true, INK);
const CAPTION: Style = style(9.0, false, SOFT);

/// What stands on a page.
pub(super) enum Ink {
    /// A line of text: left end of its baseline.
    Text { x: f32, y: f32, line: Line, style: Style },
    /// A filled rectangle.
    Fill {
        x: f32,
        y: f32,
        w: f32,
        h: f32,
        colour: Rgb,
    },
    /// A picture in this box.
    Picture {
        x: f32,
        y: f32,
        w: f32,
        h: f32,
        tree: Box<usvg::Tree>,
    },
}

/// Something on a page and the leaf of the tree that it belongs to; decoration belongs to none.
pub(super) struct Piece {
    pub(super) leaf: Option<usize>,
    pub(super) ink: Ink,
}

/// A page.
#[derive(Default)]
pub(super) struct Sheet {
    /// Laid across.
    pub(super) across: bool,
    pub(super) pieces: Vec<Piece>,
}

impl Sheet {
    /// Width and height, points.
    pub(super) fn size(&self) -> (f32, f32) {
        if self.across { (PAGE.1, PAGE.0) } else { PAGE }
    }
}

/// What belongs together, for readers aloud.
pub(super) enum Node {
    Group(TagKind, Vec<Node>),
    Leaf(usize),
}

/// Where a heading is, for the table of contents.
pub(super) struct Place {
    pub(super) text: String,
    pub(super) page: usize,
    pub(super) y: f32,
}

/// Pages as they fill.
pub(super) struct Flow<'t> {
    pub(super) typeface: &'t Typeface,
    pub(super) sheets: Vec<Sheet>,
    pub(super) root: Vec<Node>,
    pub(super) headings: Vec<Place>,
    pub(super) leaves: usize,
    /// How far down the page is filled.
    pub(super) y: f32,
}

/// Sets a whole document.
pub(super) fn set<'t>(document: &Document, typeface: &'t Typeface) -> Result<Flow<'t>, PdfError> {
    let mut flow = Flow {
        typeface,
        sheets: vec![Sheet::default()],
        root: Vec::new(),
        headings: Vec::new(),
        leaves: 0,
        y: MARGIN,
    };
    flow.heading(&document.title, TITLE, 1);
    if !document.subtitle.is_empty() {
        flow.paragraph(&document.subtitle, BELOW);
    }
    for (at, block) in document.blocks.iter().enumerate() {
        flow.block(block, &document.blocks[at + 1..])?;
    }
    if typeface.lacking.get() {
        flow.upright();
        flow.gap(8.0);
        let told = "? stands for a letter that this document's typeface has not; the page in HTML shows it.";
        flow.paragraph(told, BELOW);
    }
    Ok(flow)
}

impl Flow<'_> {
    pub(super) fn left() -> f32 {
        MARGIN
    }

    /// Width and height of the page at hand.
    fn page(&self) -> (f32, f32) {
        self.sheets.last().map_or(PAGE, Sheet::size)
    }

    /// Width between the margins.
    pub(super) fn width(&self) -> f32 {
        self.page().0 - 2.0 * MARGIN
    }

    fn bottom(&self) -> f32 {
        self.page().1 - FOOT
    }

    pub(super) fn room(&self) -> f32 {
        self.bottom() - self.y
    }

    /// Height of an upright page between its margins.
    pub(super) fn page_height() -> f32 {
        PAGE.1 - MARGIN - FOOT
    }

    fn at_top(&self) -> bool {
        self.y <= MARGIN
    }

    pub(super) fn turn(&mut self, across: bool) {
        self.sheets.push(Sheet {
            across,
            pieces: Vec::new(),
        });
        self.y = MARGIN;
    }

    /// Goes to the next page where less than `height` is left.
    pub(super) fn need(&mut self, height: f32) {
        if self.room() < height && !self.at_top() {
            self.turn(false);
        }
    }

    fn gap(&mut self, height: f32) {
        if !self.at_top() {
            self.y += height;
        }
    }

    pub(super) fn leaf(&mut self) -> usize {
        self.leaves += 1;
        self.leaves - 1
    }

    pub(super) fn put(&mut self, leaf: Option<usize>, ink: Ink) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.pieces.push(Piece { leaf, ink });
        }
    }

    pub(super) fn wrapped(&self, text: &str, style: Style, width: f32) -> Vec<Line> {
        let text = self.typeface.shown(text);
        style.letters(self.typeface).wrap(&text, style.size, width)
    }

    pub(super) fn put_line(&mut self, leaf: usize, x: f32, top: f32, line: Line, style: Style) {
        let y = top + 0.98 * style.size;
        self.put(Some(leaf), Ink::Text { x, y, line, style });
    }

    /// Lines one below the other, from `x` on; no line stays alone. `beside` is drawn along each. Gives their leaf.
    fn lines(&mut self, lines: Vec<Line>, style: Style, x: f32, beside: Option<Rgb>) -> usize {
        let leaf = self.leaf();
        let leading = style.leading();
        let n_lines = lines.len();
        for (at, line) in lines.into_iter().enumerate() {
            let left = n_lines - at;
            // The first line needs a second beside it, and so does the last.
            let with = if (at == 0 || left == 2) && left > 1 { 2.0 } else { 1.0 };
            self.need(with * leading);
            if let Some(colour) = beside {
                let (y, w) = (self.y, self.width());
                let tint = Ink::Fill {
                    x: MARGIN,
                    y,
                    w,
                    h: leading + 0.3,
                    colour: TINT,
                };
                self.put(None, tint);
                self.bar(colour, leading + 0.3);
            }
            let top = self.y;
            self.put_line(leaf, x, top, line, style);
            self.y += leading;
        }
        leaf
    }

    /// The bar beside what must not be overlooked.
    fn bar(&mut self, colour: Rgb, h: f32) {
        let bar = Ink::Fill {
            x: MARGIN,
            y: self.y,
            w: 3.0,
            h,
            colour,
        };
        self.put(None, bar);
    }

    fn heading(&mut self, text: &str, style: Style, level: u16) {
        let width = self.width();
        let lines = self.wrapped(text, style, width);
        let (page, y) = (self.sheets.len() - 1, self.y);
        let text = self.typeface.shown(text);
        self.headings.push(Place {
            text: text.clone(),
            page,
            y,
        });
        let leaf = self.lines(lines, style, MARGIN, None);
        let level = NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN);
        self.root
            .push(Node::Group(Tag::Hn(level, Some(text)).into(), vec![Node::Leaf(leaf)]));
        self.y += 0.35 * style.size;
    }

    fn paragraph(&mut self, text: &str, style: Style) {
        let width = self.width();
        let lines = self.wrapped(text, style, width);
        let leaf = self.lines(lines, style, MARGIN, None);
        self.root.push(Node::Group(Tag::P.into(), vec![Node::Leaf(leaf)]));
        self.y += 0.45 * style.size;
    }

    /// A page laid across holds its picture alone.
    fn upright(&mut self) {
        if self.sheets.last().is_some_and(|sheet| sheet.across) {
            self.turn(false);
        }
    }

    fn block(&mut self, block: &Block, after: &[Block]) -> Result<(), PdfError> {
        self.upright();
        match block {
            Block::Heading(text) => {
                self.gap(15.0);
                self.need(24.0 + self.start_of(after));
                if !self.at_top() {
                    let (y, w) = (self.y - 5.0, self.width());
                    let rule = Ink::Fill {
                        x: MARGIN,
                        y,
                        w,
                        h: 0.7,
                        colour: HAIRLINE,
                    };
                    self.put(None, rule);
                }
                self.heading(text, HEADING, 2);
            }
            Block::Subheading(text) => {
                self.gap(8.0);
                self.need(20.0 + self.start_of(after));
                self.heading(text, SUBHEADING, 3);
            }
            Block::Paragraph(text) => self.paragraph(text, TEXT),
            Block::List(points) => self.list(points),
            Block::Facts(facts) => self.facts(facts),
            Block::Table(one) => table::set(self, one),
            Block::Figure(figure) => self.figure(figure)?,
            Block::Callout(title, texts) => self.callout(title, texts),
        }
        Ok(())
    }

    /// Height that must be on the same page as the heading before it.
    fn start_of(&self, blocks: &[Block]) -> f32 {
        match blocks.first() {
            None => 0.0,
            Some(Block::Heading(_) | Block::Subheading(_)) => 30.0 + self.start_of(&blocks[1..]),
            Some(Block::Paragraph(text)) => {
                let width = self.width();
                let two = self.wrapped(text, TEXT, width).len().min(2) as f32;
                // A short paragraph before a table or a picture only leads over to it.
                let leads = matches!(blocks.get(1), Some(Block::Table(_) | Block::Figure(_)));
                let next = if leads {
                    0.45 * TEXT.size + self.start_of(&blocks[1..])
                } else {
                    0.0
                };
                two * TEXT.leading() + next
            }
            Some(Block::List(_) | Block::Facts(_)) => 2.0 * TEXT.leading(),
            Some(Block::Table(one)) => table::start(self, one),
            Some(Block::Figure(figure)) => match self.typeface.picture(&figure.svg) {
                Ok(tree) => Self::fitted(&tree).map_or(0.0, |(_, height)| height + 30.0),
                Err(_unreadable) => 0.0,
            },
            Some(Block::Callout(..)) => 3.0 * TEXT.leading(),
        }
    }

    fn list(&mut self, points: &[String]) {
        let mut items = Vec::new();
        let indent = 13.0;
        for point in points {
            let width = self.width() - indent;
            let lines = self.wrapped(point, TEXT, width);
            self.need(lines.len().min(2) as f32 * TEXT.leading());
            let (mark, top) = (self.leaf(), self.y);
            let bullet = self.typeface.regular.line("•", TEXT.size);
            self.put_line(mark, MARGIN + 2.0, top, bullet, TEXT);
            let leaf = self.lines(lines, TEXT, MARGIN + indent, None);
            self.y += 2.0;
            items.push(item(mark, leaf));
        }
        self.root.push(Node::Group(Tag::L(ListNumbering::Disc).into(), items));
        self.y += 3.0;
    }

    fn facts(&mut self, facts: &[(String, String)]) {
        let mut items = Vec::new();
        for (name, said) in facts {
            let width = self.width();
            let column = 0.27 * width;
            let names = self.wrapped(name, NAME, column - 10.0);
            let lines = self.wrapped(said, TEXT, width - column);
            self.need(names.len().max(lines.len().min(2)) as f32 * TEXT.leading());
            let (mark, top, page) = (self.leaf(), self.y, self.sheets.len());
            let below = top + names.len() as f32 * NAME.leading();
            for (at, line) in names.into_iter().enumerate() {
                self.put_line(mark, MARGIN, top + at as f32 * NAME.leading(), line, NAME);
            }
            let leaf = self.lines(lines, TEXT, MARGIN + column, None);
            if page == self.sheets.len() {
                self.y = self.y.max(below);
            }
            self.y += 2.5;
            items.push(item(mark, leaf));
        }
        self.root.push(Node::Group(Tag::L(ListNumbering::None).into(), items));
        self.y += 3.0;
    }

    fn callout(&mut self, title: &str, texts: &[String]) {
        self.gap(4.0);
        self.need(3.0 * TEXT.leading());
        let mut children = Vec::new();
        let all = std::iter::once((title, NAME)).chain(texts.iter().map(|text| (text.as_str(), TEXT)));
        for (text, style) in all {
            let width = self.width() - 24.0;
            let lines = self.wrapped(text, style, width);
            let leaf = self.lines(lines, style, MARGIN + 12.0, Some(WARNING));
            children.push(Node::Group(Tag::P.into(), vec![Node::Leaf(leaf)]));
        }
        self.root.push(Node::Group(Tag::Div.into(), children));
        self.y += 8.0;
    }

    /// Scale of a picture on an upright page or on one laid across.
    fn scale(tree: &usvg::Tree, across: bool) -> f32 {
        let (w, h) = if across { (PAGE.1, PAGE.0) } else { PAGE };
        let (w, h) = (w - 2.0 * MARGIN, h - MARGIN - FOOT - CAPTION_ROOM);
        (w / tree.size().width()).min(h / tree.size().height()).min(FULL)
    }

    /// Width and height on an upright page; `None` where it would be too small to read there and larger across.
    fn fitted(tree: &usvg::Tree) -> Option<(f32, f32)> {
        let (upright, across) = (Self::scale(tree, false), Self::scale(tree, true));
        let stays = upright >= READABLE || across < WORTH_TURNING * upright;
        stays.then(|| (tree.size().width() * upright, tree.size().height() * upright))
    }

    fn figure(&mut self, figure: &Figure) -> Result<(), PdfError> {
        let picture = |source| PdfError::Picture {
            caption: figure.caption.clone(),
            source,
        };
        let tree = self.typeface.picture(&figure.svg).map_err(picture)?;
        let upright = Self::fitted(&tree);
        let across = upright.is_none();
        let (w, h) = upright.unwrap_or_else(|| {
            let scale = Self::scale(&tree, true);
            (tree.size().width() * scale, tree.size().height() * scale)
        });
        if across {
            self.turn(true);
        } else {
            self.need(h + 30.0);
        }
        let (leaf, y) = (self.leaf(), self.y);
        let tree = Box::new(tree);
        self.put(
            Some(leaf),
            Ink::Picture {
                x: MARGIN,
                y,
                w,
                h,
                tree,
            },
        );
        self.y += h + 5.0;
        let width = self.width();
        let lines = self.wrapped(&figure.caption, CAPTION, width);
        let caption = self.lines(lines, CAPTION, MARGIN, None);
        let children = vec![
            Node::Leaf(leaf),
            Node::Group(Tag::Caption.into(), vec![Node::Leaf(caption)]),
        ];
        let alternative = self.typeface.shown(&figure.alternative);
        self.root
            .push(Node::Group(Tag::Figure(Some(alternative)).into(), children));
        self.y += 8.0;
        Ok(())
    }
}

fn item(mark: usize, body: usize) -> Node {
    let of = |tag: TagKind, leaf| Node::Group(tag, vec![Node::Leaf(leaf)]);
    Node::Group(
        Tag::LI.into(),
        vec![of(Tag::Lbl.into(), mark), of(Tag::LBody.into(), body)],
    )
}
