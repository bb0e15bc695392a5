//! Tables: widths of columns, and a piece for each row.

use super::flow::{BODY_PT, Mark, Piece, Pieces, SMALL_PT, typed};
use super::text::{set, width};
use super::{Row, RowKind, Side, Table, Text};

/// Room between columns, and above and below the text of a row, points.
const BETWEEN_PT: f32 = 12.0;
const ABOVE_PT: f32 = 2.6;
/// The most of the width that columns that fit their content take together, where others share the rest.
const FITTED_MOST: f32 = 0.62;

/// Adds the pieces of a table.
pub(super) fn pieces(table: &Table, to: &mut Pieces) {
    let widths = widths(table, to.width);
    let titled = table.columns.iter().any(|column| !column.title.is_empty());
    let mut gap = 7.0;
    if !table.caption.is_empty() {
        for line in set(&Text::default().quiet(&table.caption), SMALL_PT, false, to.width) {
            to.out.push(Piece {
                gap: std::mem::take(&mut gap),
                height: line.height,
                sticks: true,
                marks: typed(line, (0.0, 0.0), SMALL_PT),
                ..Piece::default()
            });
        }
    }
    let head = titled.then(|| {
        let cells = table.columns.iter().map(|column| Text::default().quiet(&column.title)).collect();
        let mut piece = row(&Row { cells, kind: RowKind::Plain }, table, &widths, (SMALL_PT, to.width));
        piece.marks.retain(|mark| matches!(mark, Mark::Type { .. }));
        let y = piece.height;
        piece.marks.push(Mark::Rule { from: (0.0, y), to: (to.width, y), width: 0.9, grey: 0x22 });
        piece.sticks = true;
        piece
    });
    let place = head.map(|mut head| {
        head.gap = std::mem::take(&mut gap);
        to.out.push(head.clone());
        to.heads.push(head);
        to.heads.len() - 1
    });
    for (at, of) in table.rows.iter().enumerate() {
        let mut piece = row(of, table, &widths, (BODY_PT, to.width));
        piece.gap = std::mem::take(&mut gap);
        piece.head = place;
        // A group's name stays with its first row, and a sum with what it is the sum of.
        let next = table.rows.get(at + 1).map(|next| next.kind);
        piece.sticks =
            next.is_some() && (of.kind == RowKind::Group || matches!(next, Some(RowKind::Sum | RowKind::Total)));
        to.out.push(piece);
    }
}

fn widths(table: &Table, whole: f32) -> Vec<f32> {
    let columns = table.columns.len();
    let between = BETWEEN_PT * columns.saturating_sub(1) as f32;
    let natural = |place: usize| {
        let title = width(&Text::default().quiet(&table.columns[place].title), SMALL_PT, false);
        let rows = table.rows.iter().filter(|row| row.kind != RowKind::Group);
        let cells = rows.filter_map(|row| Some(width(row.cells.get(place)?, BODY_PT, row.kind == RowKind::Total)));
        // A hair more than it needs, so that no rounding breaks its line.
        cells.fold(title, f32::max) + 0.5
    };
    let mut widths: Vec<f32> =
        (0..columns).map(|place| if table.columns[place].share > 0.0 { 0.0 } else { natural(place) }).collect();
    let fitted: f32 = widths.iter().sum();
    let shares: f32 = table.columns.iter().map(|column| column.share).sum();
    let most = if shares > 0.0 { (whole - between) * FITTED_MOST } else { whole - between };
    if fitted > most {
        widths.iter_mut().for_each(|width| *width *= most / fitted);
    }
    let left = whole - between - widths.iter().sum::<f32>();
    for (width, column) in widths.iter_mut().zip(&table.columns) {
        if column.share > 0.0 {
            *width = left * column.share / shares;
        }
    }
    widths
}

fn row(of: &Row, table: &Table, widths: &[f32], (size, whole): (f32, f32)) -> Piece {
    let mut marks = Vec::new();
    let mut tall: f32 = 0.0;
    let mut x = 0.0;
    let above = if of.kind == RowKind::Group { ABOVE_PT + 4.0 } else { ABOVE_PT };
    for (place, column) in table.columns.iter().enumerate() {
        let (Some(cell), wide) = (of.cells.get(place), widths[place]) else { break };
        let wide = if of.kind == RowKind::Group { whole } else { wide };
        let mut y = above;
        for line in set(cell, size, of.kind == RowKind::Total, wide) {
            let at = if column.side == Side::Right && of.kind != RowKind::Group { x + wide - line.width } else { x };
            let height = line.height;
            marks.extend(typed(line, (at, y), size));
            y += height;
        }
        tall = tall.max(y);
        x += wide + BETWEEN_PT;
    }
    let height = tall + ABOVE_PT;
    let (rule, grey, at) = match of.kind {
        RowKind::Plain => (0.4, 0xcc, height),
        RowKind::Group => (0.6, 0x88, height),
        RowKind::Sum => (0.7, 0x66, 0.0),
        RowKind::Total => (1.2, 0x22, 0.0),
    };
    marks.push(Mark::Rule { from: (0.0, at), to: (whole, at), width: rule, grey });
    Piece { height, marks, ..Piece::default() }
}
