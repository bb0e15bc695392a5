//! Checks against what others published: each file of `data/` names its source, and what was recalled instead of read.

mod ampacity;
mod calculator;
mod circuits;
mod currencies;
mod cuts;
mod drop;
mod geometry;
mod layouts;
mod network;
mod power;
mod protection;

use std::collections::BTreeMap;

/// A row of a reference file, by column.
pub struct Row(BTreeMap<String, String>);

impl Row {
    /// The text of a column.
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column '{column}' in {:?}", self.0))
    }

    /// A column as a number.
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("'{text}' in column '{column}' is not a number"))
    }

    /// A column as a gauge number: 0 is 1/0, -3 is 4/0.
    pub fn gauge(&self, column: &str) -> rigbill::calc::units::WireSize {
        rigbill::calc::units::WireSize::Awg(self.number(column) as i8)
    }

    /// A column of `name=value;name=value` as a row of its own.
    pub fn nested(&self, column: &str) -> Row {
        let pairs = self.text(column).split(';').map(|pair| pair.split_once('=').expect("name=value"));
        Row(pairs.map(|(name, value)| (name.to_owned(), value.to_owned())).collect())
    }

    /// A column of numbers separated by `|`.
    pub fn numbers(&self, column: &str) -> Vec<f64> {
        self.text(column).split('|').map(|n| n.parse().expect("a number")).collect()
    }
}

/// The rows of a reference file; `#` lines are its sources.
pub fn rows(text: &'static str) -> Vec<Row> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let name = |cells: csv::StringRecord| {
        Row(header.iter().zip(&cells).map(|(column, cell)| (column.to_owned(), cell.to_owned())).collect())
    };
    reader.records().map(|record| name(record.expect("well-formed CSV"))).collect()
}

/// Asserts that a figure is within a tolerance of what was published.
#[track_caller]
pub fn near(figure: f64, published: f64, tolerance: f64, what: &str) {
    assert!((figure - published).abs() <= tolerance, "{what}: {figure} is not {published} ± {tolerance}");
}
