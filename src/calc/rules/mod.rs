//! Published tables and their lookups. A table of more than a few cells is a file beside this one, with its source.

pub mod along;
pub mod ampacity;
pub mod drop;
pub mod energy;
pub mod functions;
pub mod jackets;
pub mod plumbing;
pub mod network;
pub mod power;
pub mod protection;
pub mod sizes;
pub mod table;
pub mod terminations;

/// The rows of a table that is compiled in, with the header as the first: `#` lines are its comments.
///
/// A table that cannot be read is a fault of the program, and the first test that touches it fails.
pub(crate) fn rows(text: &'static str) -> Vec<csv::StringRecord> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .has_headers(false)
        .from_reader(text.as_bytes())
        .into_records()
        .map(|record| record.expect("a compiled-in table is well-formed CSV"))
        .collect()
}

/// One cell of a compiled-in table as a number.
pub(crate) fn number(record: &csv::StringRecord, column: usize) -> f64 {
    let cell = &record[column];
    cell.parse().unwrap_or_else(|_| panic!("'{cell}' in a compiled-in table is not a number: {record:?}"))
}
