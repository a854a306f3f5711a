//! Rows onto pages: a row is not cut unless it is taller than a page, a short table stays on one, and every page repeats the
//! header.

use krilla::tagging::{TableHeaderScope, Tag, TagKind};

use super::flow::{Flow, HAIRLINE, INK, Ink, Node, Style, style};
use super::letters::Line;
use crate::document::Table;

const CELL: Style = style(8.6, false, INK);
const HEAD: Style = style(8.6, true, INK);
/// Between two columns, and above and below a row's text.
const BETWEEN: f32 = 9.0;
const PAD: f32 = 2.8;
/// Below the header and below each row.
const HEAD_RULE: f32 = 1.0;
const ROW_RULE: f32 = 0.5;
/// Of a tall first row so much stands under the header at least.
const FIRST_LINES: f32 = 8.0;
/// A table of so few rows, and no higher than this share of a page, is not cut.
const SHORT_ROWS: usize = 12;
const SHORT_SHARE: f32 = 0.35;

/// Left ends and widths of the columns: by their shares, but none narrower than its widest word where there is room.
fn columns(flow: &Flow<'_>, table: &Table) -> Vec<(f32, f32)> {
    let n_columns = table.header.len().max(1);
    let share = |at: usize| table.shares.get(at).copied().unwrap_or(1.0).max(0.1);
    let all: f32 = (0..n_columns).map(share).sum();
    let room = flow.width() - BETWEEN * (n_columns - 1) as f32;
    let mut widths: Vec<f32> = (0..n_columns).map(|at| room * share(at) / all).collect();
    let least: Vec<f32> = (0..n_columns).map(|at| least(flow, table, at)).collect();
    if least.iter().sum::<f32>() <= room {
        let mut held = vec![false; n_columns];
        while let Some(at) = (0..n_columns).find(|&at| !held[at] && widths[at] < least[at]) {
            held[at] = true;
            let of_held: f32 = (0..n_columns).filter(|&at| held[at]).map(|at| least[at]).sum();
            let shares: f32 = (0..n_columns).filter(|&at| !held[at]).map(share).sum();
            for at in 0..n_columns {
                widths[at] = if held[at] {
                    least[at]
                } else {
                    (room - of_held) * share(at) / shares
                };
            }
        }
    }
    let mut x = Flow::left();
    let each = widths.into_iter().map(|width| {
        let start = x;
        x += width + BETWEEN;
        (start, width)
    });
    each.collect()
}

/// Width of a column's widest word.
fn least(flow: &Flow<'_>, table: &Table, at: usize) -> f32 {
    let cells = table.rows.iter().filter_map(|row| row.get(at)).map(|text| (text, CELL));
    let all = table.header.get(at).map(|name| (name, HEAD)).into_iter().chain(cells);
    let widths = all.map(|(text, style)| {
        style
            .letters(flow.typeface)
            .widest(&flow.typeface.shown(text), style.size)
    });
    // A hair more, since a line is summed up in another order.
    widths.fold(0.0, f32::max) + 0.01
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

/// Height that must be on one page: of a short table all of it, else of the header with two rows, or with the first lines of
/// tall ones.
pub(super) fn start(flow: &Flow<'_>, table: &Table) -> f32 {
    let columns = columns(flow, table);
    let of_row = |row: &Vec<String>| height(&cells(flow, row, &columns, CELL)) + ROW_RULE;
    let header = height(&cells(flow, &table.header, &columns, HEAD)) + HEAD_RULE;
    if table.rows.len() <= SHORT_ROWS {
        let whole = header + table.rows.iter().map(of_row).sum::<f32>();
        if whole <= SHORT_SHARE * Flow::page_height() {
            return whole;
        }
    }
    let first = table.rows.iter().take(2).map(of_row);
    let first = first.map(|row| row.min(FIRST_LINES * CELL.leading()));
    header + first.sum::<f32>()
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
            rule(flow, ROW_RULE, HAIRLINE);
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
    rule(flow, HEAD_RULE, INK);
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
