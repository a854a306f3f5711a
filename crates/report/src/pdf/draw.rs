//! Pages into a file.

use krilla::color::rgb;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::Fill;
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, SpanTag, TagGroup, TagTree};
use krilla::{Document as Pdf, SerializeSettings};
use krilla_svg::{SurfaceExt as _, SvgSettings};

use super::PdfError;
use super::flow::{Flow, Ink, Node, Piece, Rgb, SOFT, Sheet, Style, style};
use super::letters::Typeface;
use crate::document::Document;

const FOOTER: Style = style(8.5, false, SOFT);
/// From the page's lower edge to the baseline of its number.
const FOOTER_UP: f32 = 34.0;

pub(super) fn write(document: &Document, flow: Flow<'_>, typeface: &Typeface) -> Result<Vec<u8>, PdfError> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| PdfError::Written(format!("{error:?}")))?;
    let settings = SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    };
    let mut pdf = Pdf::new_with(settings);
    let n_sheets = flow.sheets.len();
    let mut leaves: Vec<Vec<Identifier>> = vec![Vec::new(); flow.leaves];
    for (at, sheet) in flow.sheets.iter().enumerate() {
        let (w, h) = sheet.size();
        let Some(page_settings) = PageSettings::from_wh(w, h) else {
            continue;
        };
        let mut page = pdf.start_page_with(page_settings);
        let mut surface = page.surface();
        draw_sheet(&mut surface, sheet, typeface, &mut leaves);
        footer(&mut surface, document, sheet, typeface, at + 1, n_sheets);
        surface.finish();
        page.finish();
    }
    let mut outline = Outline::new();
    for place in &flow.headings {
        let to = XyzDestination::new(place.page, Point::from_xy(0.0, place.y));
        outline.push_child(OutlineNode::new(place.text.clone(), to));
    }
    pdf.set_outline(outline);
    let mut tree = TagTree::new().with_lang(Some(document.language.clone()));
    for node in flow.root {
        match node {
            Node::Leaf(leaf) => leaves[leaf].drain(..).for_each(|one| tree.push(one)),
            Node::Group(tag, children) => tree.push(group(TagGroup::new(tag), children, &mut leaves)),
        }
    }
    pdf.set_tag_tree(tree);
    let metadata = Metadata::new()
        .title(typeface.shown(&document.title))
        .language(document.language.clone())
        .creator("Probewise".into());
    pdf.set_metadata(metadata);
    pdf.finish().map_err(|error| PdfError::Written(format!("{error:?}")))
}

fn group(mut group: TagGroup, children: Vec<Node>, leaves: &mut [Vec<Identifier>]) -> TagGroup {
    for child in children {
        match child {
            Node::Leaf(leaf) => leaves[leaf].drain(..).for_each(|one| group.push(one)),
            Node::Group(tag, children) => group.push(self::group(TagGroup::new(tag), children, leaves)),
        }
    }
    group
}

fn draw_sheet(surface: &mut Surface<'_>, sheet: &Sheet, typeface: &Typeface, leaves: &mut [Vec<Identifier>]) {
    for Piece { leaf, ink } in &sheet.pieces {
        let tag = match (leaf, ink) {
            (None, Ink::Text { .. }) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::PaginationOther)),
            (None, _) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            (Some(_), Ink::Text { .. }) => ContentTag::Span(SpanTag::empty()),
            (Some(_), _) => ContentTag::Other,
        };
        let identifier = surface.start_tagged(tag);
        draw(surface, ink, typeface);
        surface.end_tagged();
        if let Some(leaf) = leaf {
            leaves[*leaf].push(identifier);
        }
    }
}

fn draw(surface: &mut Surface<'_>, ink: &Ink, typeface: &Typeface) {
    match ink {
        Ink::Text { x, y, line, style } => {
            surface.set_fill(Some(fill(style.colour)));
            surface.set_stroke(None);
            let font = style.letters(typeface).font.clone();
            surface.draw_glyphs(
                Point::from_xy(*x, *y),
                &line.glyphs,
                font,
                &line.text,
                style.size,
                false,
            );
        }
        Ink::Fill { x, y, w, h, colour } => {
            let mut path = PathBuilder::new();
            if let Some(rect) = Rect::from_xywh(*x, *y, *w, *h) {
                path.push_rect(rect);
            }
            surface.set_fill(Some(fill(*colour)));
            surface.set_stroke(None);
            if let Some(path) = path.finish() {
                surface.draw_path(&path);
            }
        }
        Ink::Picture { x, y, w, h, tree } => {
            let Some(size) = Size::from_wh(*w, *h) else { return };
            surface.push_transform(&krilla::geom::Transform::from_translate(*x, *y));
            // Nothing in our pictures is beyond it; what were would be left out.
            let _drawn = surface.draw_svg(tree, size, SvgSettings::default());
            surface.pop();
        }
    }
}

fn fill((red, green, blue): Rgb) -> Fill {
    Fill {
        paint: rgb::Color::new(red, green, blue).into(),
        ..Fill::default()
    }
}

fn footer(surface: &mut Surface<'_>, document: &Document, sheet: &Sheet, typeface: &Typeface, at: usize, of: usize) {
    let (w, h) = sheet.size();
    let number = typeface.regular.line(&format!("page {at} of {of}"), FOOTER.size);
    let room = w - 2.0 * Flow::left() - number.width - 20.0;
    let title = typeface.shown(&document.title);
    let title = typeface.regular.wrap(&title, FOOTER.size, room).swap_remove(0);
    let y = h - FOOTER_UP;
    for (x, line) in [(Flow::left(), title), (w - Flow::left() - number.width, number)] {
        surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
        let style = FOOTER;
        draw(surface, &Ink::Text { x, y, line, style }, typeface);
        surface.end_tagged();
    }
}
