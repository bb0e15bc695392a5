//! Plain text within a page's width: tables whose cells wrap, and paragraphs.

/// Widest line of a page, in characters.
pub const PAGE_WIDTH: usize = 110;

/// Which side of its column a cell's text stands on.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Words.
    Left,
    /// Numbers, so that their digits stand below each other.
    Right,
}

/// One column: its heading, its width in characters and its side.
pub struct Column(pub &'static str, pub usize, pub Side);

/// Lines of a table: the headings, a rule, and the rows; a cell that is too long goes on below itself.
pub fn table<const N: usize>(columns: &[Column; N], rows: &[[String; N]]) -> String {
    let mut out = String::new();
    row(&mut out, columns, columns.each_ref().map(|column| column.0));
    row(&mut out, columns, columns.each_ref().map(|column| "-".repeat(column.1)).each_ref().map(String::as_str));
    for cells in rows {
        row(&mut out, columns, cells.each_ref().map(String::as_str));
    }
    out
}

fn row<const N: usize>(out: &mut String, columns: &[Column; N], cells: [&str; N]) {
    let wrapped: Vec<Vec<String>> = columns.iter().zip(cells).map(|(column, cell)| wrap(cell, column.1)).collect();
    let height = wrapped.iter().map(Vec::len).max().unwrap_or(0);
    for at in 0..height {
        let mut line = String::new();
        for (column, lines) in columns.iter().zip(&wrapped) {
            let text = lines.get(at).map_or("", String::as_str);
            let space = " ".repeat(column.1.saturating_sub(text.chars().count()));
            match column.2 {
                Side::Left => line.extend([text, &space, " "]),
                Side::Right => line.extend([&space, text, " "]),
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

/// A paragraph after a mark such as `- `, its further lines indented to match.
pub fn paragraph(mark: &str, text: &str) -> String {
    let indent = mark.chars().count();
    let mut out = String::new();
    for (at, line) in wrap(text, PAGE_WIDTH - indent).iter().enumerate() {
        let start = if at == 0 { mark.to_owned() } else { " ".repeat(indent) };
        out.push_str(format!("{start}{line}").trim_end());
        out.push('\n');
    }
    out
}

/// Breaks a text at its spaces into lines of no more than `width` characters; a longer word is cut.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line: Vec<char> = Vec::new();
    for word in text.split_whitespace() {
        let word: Vec<char> = word.chars().collect();
        if !line.is_empty() && line.len() + 1 + word.len() > width {
            lines.push(line.drain(..).collect());
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.extend(word);
        while line.len() > width {
            let rest = line.split_off(width);
            lines.push(line.into_iter().collect());
            line = rest;
        }
    }
    if !line.is_empty() {
        lines.push(line.into_iter().collect());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_goes_on_below_itself_and_numbers_stand_on_the_right() {
        let columns = [Column("What", 6, Side::Left), Column("A", 5, Side::Right)];
        let rows = [["bilge pump aft".to_owned(), "4.0".to_owned()], ["horn".to_owned(), "12.5".to_owned()]];
        assert_eq!(table(&columns, &rows), "What       A\n------ -----\nbilge    4.0\npump\naft\nhorn    12.5\n");
    }

    #[test]
    fn a_word_longer_than_its_column_is_cut_and_nothing_is_lost() {
        assert_eq!(wrap("brown/yellow 2", 5), ["brown", "/yell", "ow 2"]);
        assert!(wrap("  ", 5).is_empty());
    }
}
