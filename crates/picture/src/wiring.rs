//! The wiring picture of a whole circuit.

use circuit::{Circuit, PartId, PointId, SetUp};

use crate::board::Board;
use crate::columns::Columns;
use crate::layout::Plan;
use crate::marks::{Look, Marks};
use crate::places::{Kind, Places};
use crate::rows::Rows;
use crate::svg::{PAPER, Rect, STYLE, escaped, num};
use crate::text::FONTS;
use crate::{names, overlay, paint};

/// A picture and where things are on it, in pixels of its `viewBox`.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The SVG document.
    pub svg: String,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Every point that a probe reaches, now or once its connector is apart.
    pub spots: Vec<Spot>,
    /// Where every point is, those inside parts too, by [`PointId`]; `None` if it is not on the picture.
    pub anchors: Vec<Option<(f64, f64)>>,
    /// The places along the picture from left to right: what stands where, for axes that share its horizontal.
    pub columns: Vec<Column>,
}

/// A point to tap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// The point.
    pub point: PointId,
    /// Across.
    pub x: f64,
    /// Down.
    pub y: f64,
    /// Whether a probe reaches it in this set-up; else its connector must come apart first.
    pub reachable: bool,
}

/// A named place and its middle.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The part that stands there.
    pub part: PartId,
    /// Its name.
    pub name: String,
    /// Across.
    pub x: f64,
}

/// Draws a circuit as it stands in `set_up`, with `marks` on it.
///
/// Equal inputs give equal pictures. Points, branches and parts that the circuit does not have are left out.
pub fn wiring(circuit: &Circuit, set_up: &SetUp, marks: &Marks, look: &Look) -> Picture {
    let places = Places::read(circuit);
    let columns = Columns::find(circuit, &places);
    let rows = Rows::find(circuit, &places, &columns);
    let plan = Plan {
        circuit,
        places: &places,
        columns: &columns,
        rows: &rows,
    };
    let flagged: Vec<PointId> = marks.flags.iter().map(|flag| flag.point).collect();
    let layout = plan.lay_out(set_up, &flagged, look.fill_width);
    let prefix = look.prefix();

    let mut board = Board::new(layout.width, layout.height);
    paint::ground_work(&mut board, &plan, &layout, set_up);
    let hatched = overlay::suspicions(&mut board, &plan, &layout, marks, &prefix);
    paint::details(&mut board, &plan, &layout, set_up);
    overlay::marks(&mut board, &layout, set_up, marks);
    overlay::suspicion_labels(&mut board, &hatched);
    let spots = paint::spots(&plan, &layout, set_up);
    paint::draw_spots(&mut board, &plan, &layout, &spots);

    let mut along: Vec<Column> = places
        .all
        .iter()
        .zip(&layout.rects)
        .filter(|(place, rect)| rect.w > 0.0 && !matches!(place.kind, Kind::Post(_) | Kind::Loose(_)))
        .filter_map(|(place, rect)| {
            Some(Column {
                part: place.part?,
                name: names::of_place(circuit, place),
                x: rect.mid().0,
            })
        })
        .collect();
    along.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.part.cmp(&b.part)));
    let title = if circuit.title.is_empty() {
        "wiring"
    } else {
        &circuit.title
    };
    Picture {
        svg: document(&board.svg.out, layout.width, layout.height, title, look),
        width: layout.width,
        height: layout.height,
        spots,
        anchors: (0..circuit.points.len())
            .map(|i| layout.anchors.get(&PointId::from(i)).copied())
            .collect(),
        columns: along,
    }
}

impl Look {
    /// The id prefix, letters, digits and `-` only, never empty.
    pub(crate) fn prefix(&self) -> String {
        let clean: String = self
            .id_prefix
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
            .collect();
        if clean.starts_with(|c: char| c.is_ascii_alphabetic()) {
            clean
        } else {
            format!("pw{clean}")
        }
    }
}

/// An SVG document around what was drawn.
pub(crate) fn document(drawn: &str, width: f64, height: f64, title: &str, look: &Look) -> String {
    let (w, h) = (num(width.ceil()), num(height.ceil()));
    let style = if look.themed {
        format!("<style>{STYLE}</style>\n")
    } else {
        String::new()
    };
    let mut paper = crate::svg::Svg::default();
    if look.background {
        paper.rect(Rect::new(0.0, 0.0, width.ceil(), height.ceil()), 0.0, PAPER);
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" \
         class=\"pw-picture\" role=\"group\" aria-label=\"{}\" font-family=\"{FONTS}\">\n<title>{}</title>\n\
         <defs>{}</defs>\n{style}{}{drawn}</svg>\n",
        escaped(title),
        escaped(title),
        overlay::patterns(&look.prefix()),
        paper.out
    )
}
