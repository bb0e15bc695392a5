//! CSV that a spreadsheet opens without running anything in it.

use csv::{QuoteStyle, Terminator, Writer, WriterBuilder};

/// What a cell must not begin with: a spreadsheet takes it for a formula, or drops the character and then does.
const FORMULAS: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// A cell that a spreadsheet shows as it is: one that would be a formula gets an apostrophe in front, which says that it is
/// text.
fn safe(cell: &str) -> String {
    if cell.starts_with(FORMULAS) || cell.starts_with('\n') { format!("'{cell}") } else { cell.to_owned() }
}

/// Rows below their header.
pub(super) struct Table(Writer<Vec<u8>>);

impl Table {
    pub(super) fn new(header: &[&str]) -> Self {
        let mut table = Table(
            WriterBuilder::new()
                .terminator(Terminator::CRLF)
                .quote_style(QuoteStyle::Necessary)
                .from_writer(Vec::new()),
        );
        table.row(header);
        table
    }

    pub(super) fn row(&mut self, cells: &[&str]) {
        self.0
            .write_record(cells.iter().map(|cell| safe(cell)))
            .expect("memory takes every row, all as long as the header");
    }

    pub(super) fn bytes(self) -> Vec<u8> {
        self.0.into_inner().expect("memory takes every row")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula_and_every_cell_is_read_back() {
        // RFC 4180, section 2: CRLF, quotes round what holds a comma, a quote or a line break, quotes doubled.
        let cells =
            ["=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", "\n=1", "plain", "a,b", "say \"hi\"", "two\r\nlines", ""];
        let mut table = Table::new(&["h"; 12]);
        table.row(&cells);
        let bytes = table.bytes();
        assert!(bytes.ends_with(b"\r\n"));
        let mut reader = csv::Reader::from_reader(&bytes[..]);
        let row = reader.records().next().unwrap().unwrap();
        for (met, cell) in row.iter().zip(cells) {
            assert!(!met.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']), "{met:?}");
            assert_eq!(met.strip_prefix('\'').unwrap_or(met), cell);
        }
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.contains("\"say \"\"hi\"\"\"") && text.contains(",\"a,b\","), "{text}");
    }
}
