//! Rows onto pages: a row is not cut unless it is taller than a page, and every page repeats the header.

use krilla::tagging::{TableHeaderScope, Tag, TagKind};

use super::flow::{Flow, HAIRLINE, INK, Ink, Node, Style, style};
use super::letters::Line;
use crate::document::Table;

const CELL: Style = style(8.6, false, INK);
const HEAD: Style = style(8.6, true, INK);
/// Between two columns, and above and below a row's text.
const BETWEEN: f32 = 9.0;
const PAD: f32 = 2.8;
/// Of a tall first row so much stands under the header at least.
const FIRST_LINES: f32 = 8.0;

/// Left ends and widths of the columns.
fn columns(flow: &Flow<'_>, table: &Table) -> Vec<(f32, f32)> {
    let n_columns = table.header.len().max(1);
    let share = |at: usize| table.shares.get(at).copied().unwrap_or(1.0).max(0.1);
    let all: f32 = (0..n_columns).map(share).sum();
    let room = flow.width() - BETWEEN * (n_columns - 1) as f32;
    let mut x = Flow::left();
    let each = (0..n_columns).map(|at| {
        let (start, width) = (x, room * share(at) / all);
        x += width + BETWEEN;
        (start, width)
    });
    each.collect()
}

type Cells = Vec<Vec<Line>>;

fn cells(flow: &Flow<'_>, texts: &[String], columns: &[(f32, f32)], style: Style) -> Cells {
    let each = columns.iter().enumerate();
    each.map(|(at, (_, width))| {
        let text = texts.get(at).map_or("", String::as_str);
        flow.wrapped(text, style, *width)
    })
    .collect()
}

fn height(cells: &[Vec<Line>]) -> f32 {
    let most = cells.iter().map(Vec::len).max().unwrap_or(1);
    most as f32 * CELL.leading() + 2.0 * PAD
}

/// Height of the header with the first row, or with the first lines of a tall one.
pub(super) fn start(flow: &Flow<'_>, table: &Table) -> f32 {
    let columns = columns(flow, table);
    let first = table.rows.first().map_or(&[][..], Vec::as_slice);
    let first = height(&cells(flow, first, &columns, CELL)).min(FIRST_LINES * CELL.leading());
    height(&cells(flow, &table.header, &columns, HEAD)) + first
}

pub(super) fn set(flow: &mut Flow<'_>, table: &Table) {
    let columns = columns(flow, table);
    let header = cells(flow, &table.header, &columns, HEAD);
    flow.need(start(flow, table));
    let heads = row(flow, &header, &columns, HEAD, true);
    let head = |leaf| group(Tag::TH(TableHeaderScope::Column), leaf);
    let heads = heads.into_iter().map(head).collect();
    let mut rows = Vec::new();
    for texts in &table.rows {
        let mut left = cells(flow, texts, &columns, CELL);
        let leaves: Vec<usize> = left.iter().map(|_| flow.leaf()).collect();
        while left.iter().any(|lines| !lines.is_empty()) {
            if flow.room() < height(&left) {
                let whole = height(&left) + height(&header) <= Flow::page_height();
                let fits = ((flow.room() - 2.0 * PAD) / CELL.leading()).floor();
                if whole || fits < 3.0 {
                    flow.turn(false);
                    row(flow, &header, &columns, HEAD, false);
                }
            }
            let fits = ((flow.room() - 2.0 * PAD) / CELL.leading()).floor().max(1.0) as usize;
            let now: Cells = left
                .iter_mut()
                .map(|lines| lines.drain(..fits.min(lines.len())).collect())
                .collect();
            put(
                flow,
                &now,
                &columns,
                CELL,
                &leaves.iter().copied().map(Some).collect::<Vec<_>>(),
            );
            rule(flow, 0.5, HAIRLINE);
        }
        let data = leaves.into_iter().map(|leaf| group(Tag::TD, leaf)).collect();
        rows.push(Node::Group(Tag::TR.into(), data));
    }
    let head = Node::Group(Tag::TR.into(), heads);
    let mut parts = vec![Node::Group(Tag::THead.into(), vec![head])];
    if !rows.is_empty() {
        parts.push(Node::Group(Tag::TBody.into(), rows));
    }
    flow.root.push(Node::Group(Tag::Table.into(), parts));
    flow.y += 9.0;
}

fn group(tag: impl Into<TagKind>, leaf: usize) -> Node {
    Node::Group(tag.into(), vec![Node::Leaf(leaf)])
}

/// The header; where it is repeated it is decoration, since it was read aloud once.
fn row(flow: &mut Flow<'_>, cells: &Cells, columns: &[(f32, f32)], style: Style, told: bool) -> Vec<usize> {
    let leaves: Vec<Option<usize>> = cells.iter().map(|_| told.then(|| flow.leaf())).collect();
    put(flow, cells, columns, style, &leaves);
    rule(flow, 1.0, INK);
    leaves.into_iter().flatten().collect()
}

fn put(flow: &mut Flow<'_>, cells: &Cells, columns: &[(f32, f32)], style: Style, leaves: &[Option<usize>]) {
    let top = flow.y + PAD;
    for ((lines, (x, _)), leaf) in cells.iter().zip(columns).zip(leaves) {
        for (at, line) in lines.iter().enumerate() {
            let y = top + at as f32 * style.leading() + 0.98 * style.size;
            let (x, line) = (*x, line.clone());
            flow.put(*leaf, Ink::Text { x, y, line, style });
        }
    }
    flow.y += height(cells);
}

fn rule(flow: &mut Flow<'_>, h: f32, colour: super::flow::Rgb) {
    let (x, y, w) = (Flow::left(), flow.y, flow.width());
    flow.put(None, Ink::Fill { x, y, w, h, colour });
    flow.y += h;
}
