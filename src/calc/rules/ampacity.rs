//! Allowable current of a conductor, and what lowers it.

use std::sync::LazyLock;

use super::sizes::{self, TABLED};
use super::{number, rows};
use crate::units::WireSize;

/// Columns of 33 CFR 183.425 Table 5: temperature rating of the insulation, °C.
pub const TABLE5_INSULATION_C: [u16; 7] = [60, 75, 80, 90, 105, 125, 200];

/// Columns of ISO 10133 Annex A: temperature rating of the insulation, °C; 90 stands for 85 to 90.
pub const METRIC_INSULATION_C: [u16; 6] = [60, 70, 90, 105, 125, 200];

/// 33 CFR 183.425 Table 5 note 1, engine space at 50 °C, by the columns of Table 5. 105 °C was read in reprints of the
/// Coast Guard guideline; the others are from memory and equal the NEC factors for 50 °C where it has that insulation.
const TABLE5_ENGINE_SPACE: [f64; 7] = [0.58, 0.75, 0.78, 0.82, 0.85, 0.89, 1.0];

/// ISO 10133 Annex A, engine space at 60 °C, by its columns, from memory; 60 °C insulation is not for engine spaces.
const METRIC_ENGINE_SPACE: [Option<f64>; 6] = [None, Some(0.75), Some(0.82), Some(0.86), Some(0.89), Some(1.0)];

fn read<const COLUMNS: usize>(text: &'static str, insulation_c: [u16; COLUMNS], gauge: bool) -> Vec<[f64; COLUMNS]> {
    let rows = rows(text);
    let header: Vec<f64> = (1..=COLUMNS).map(|column| number(&rows[0], column)).collect();
    assert_eq!(header, insulation_c.map(f64::from), "the columns of an ampacity table are its insulation ratings");
    let read: Vec<[f64; COLUMNS]> = rows[1..]
        .iter()
        .enumerate()
        .map(|(at, row)| {
            let size = match gauge {
                true => WireSize::Awg(number(row, 0) as i8),
                false => WireSize::Metric((number(row, 0) * 100.0).round() as u32),
            };
            assert_eq!(sizes::place(size), Some(at), "an ampacity table is in the order of the sizes");
            std::array::from_fn(|column| number(row, column + 1))
        })
        .collect();
    assert_eq!(read.len(), TABLED, "an ampacity table has a row for each size");
    read
}

static TABLE5: LazyLock<Vec<[f64; 7]>> =
    LazyLock::new(|| read(include_str!("tables/ampacity_table5.csv"), TABLE5_INSULATION_C, true));

static METRIC: LazyLock<Vec<[f64; 6]>> =
    LazyLock::new(|| read(include_str!("tables/ampacity_metric.csv"), METRIC_INSULATION_C, false));

fn table5_column(insulation_c: u16) -> Option<usize> {
    TABLE5_INSULATION_C.iter().position(|&column| column == insulation_c)
}

fn metric_column(insulation_c: u16) -> Option<usize> {
    let column = if insulation_c == 85 { 90 } else { insulation_c };
    METRIC_INSULATION_C.iter().position(|&c| c == column)
}

/// Allowable amperes of one conductor at 30 °C: 33 CFR 183.425 Table 5 for a gauge, ISO 10133 Annex A (from memory) for
/// a metric size. `None` when the table has no such size or no column for the insulation's rating.
pub fn table_current_a(size: WireSize, insulation_c: u16) -> Option<f64> {
    let place = sizes::place(size)?;
    Some(match size {
        WireSize::Awg(_) => TABLE5[place][table5_column(insulation_c)?],
        WireSize::Metric(_) => METRIC[place][metric_column(insulation_c)?],
    })
}

/// What an engine space leaves of the table's current, as a factor. `None` when the table has no column for the
/// insulation's rating, or when that insulation must not be used there (60 °C by the metric table).
pub fn engine_space_factor(size: WireSize, insulation_c: u16) -> Option<f64> {
    match size {
        WireSize::Awg(_) => table5_column(insulation_c).map(|column| TABLE5_ENGINE_SPACE[column]),
        WireSize::Metric(_) => metric_column(insulation_c).and_then(|column| METRIC_ENGINE_SPACE[column]),
    }
}

/// What a bundle leaves of the table's current, as a factor, by the number of conductors in it that carry current (a
/// positive and its return are two): 33 CFR 183.435(b) and Table 5 note 2; boat-cable tables for 105 °C print the same
/// factors without its limit to 50 V and more. More than 24: from memory.
pub fn bundle_factor(loaded_conductors: u32) -> f64 {
    match loaded_conductors {
        0..=2 => 1.0,
        3 => 0.7,
        4..=6 => 0.6,
        7..=24 => 0.5,
        25.. => 0.4,
    }
}
