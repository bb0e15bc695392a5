//! Conductor sizes: which there are by each standard, how much copper they hold, and how thick the cable is.

use std::sync::LazyLock;

use super::{number, rows};
use crate::units::{AreaStandard, Length, WireSize};

/// Circular mils in one square millimetre, by the definition of the inch as 25.4 mm.
pub const CMIL_PER_MM2: f64 = 1_973.525_241_389_9;

/// AWG numbers in the order of the tables, rising by area.
const AWG: [WireSize; 15] = [
    WireSize::Awg(18),
    WireSize::Awg(16),
    WireSize::Awg(14),
    WireSize::Awg(12),
    WireSize::Awg(10),
    WireSize::Awg(8),
    WireSize::Awg(6),
    WireSize::Awg(4),
    WireSize::Awg(3),
    WireSize::Awg(2),
    WireSize::Awg(1),
    WireSize::Awg(0),
    WireSize::Awg(-1),
    WireSize::Awg(-2),
    WireSize::Awg(-3),
];

/// The same without 3 AWG, for which SAE J378, J1127 and J1128 give no area.
const SAE: [WireSize; 14] = [
    AWG[0], AWG[1], AWG[2], AWG[3], AWG[4], AWG[5], AWG[6], AWG[7], AWG[9], AWG[10], AWG[11], AWG[12], AWG[13], AWG[14],
];

/// Metric sizes of ISO 10133 Annex A, rising by area.
const METRIC: [WireSize; 15] = [
    WireSize::Metric(75),
    WireSize::Metric(100),
    WireSize::Metric(150),
    WireSize::Metric(250),
    WireSize::Metric(400),
    WireSize::Metric(600),
    WireSize::Metric(1_000),
    WireSize::Metric(1_600),
    WireSize::Metric(2_500),
    WireSize::Metric(3_500),
    WireSize::Metric(5_000),
    WireSize::Metric(7_000),
    WireSize::Metric(9_500),
    WireSize::Metric(12_000),
    WireSize::Metric(15_000),
];

/// How many rows a gauge table and a metric table have.
pub(super) const TABLED: usize = 15;

/// What the gauge table says of one gauge.
struct Gauge {
    cmil_awg: f64,
    cmil_sae: Option<f64>,
    overall: Length,
    barrel: Length,
}

struct Gauges {
    by_awg: Vec<Gauge>,
    /// Place in `by_awg` of the gauge that a metric size is as thick as; `None` beyond 4/0.
    like_metric: [Option<usize>; TABLED],
}

static GAUGES: LazyLock<Gauges> = LazyLock::new(|| {
    let rows = rows(include_str!("tables/gauges.csv"));
    let by_awg: Vec<Gauge> = rows[1..]
        .iter()
        .zip(AWG)
        .map(|(row, size)| {
            assert_eq!(size.awg().map(f64::from), Some(number(row, 0)), "gauges.csv is in the order of the sizes");
            Gauge {
                cmil_awg: number(row, 1),
                cmil_sae: (!row[2].is_empty()).then(|| number(row, 2)),
                overall: millimetres(number(row, 3)),
                barrel: millimetres(number(row, 4)),
            }
        })
        .collect();
    assert_eq!(by_awg.len(), TABLED, "gauges.csv has a row for each gauge");
    let like_metric = METRIC.map(|size| by_awg.iter().position(|gauge| gauge.cmil_awg >= size.nominal_cmil()));
    Gauges { by_awg, like_metric }
});

pub(super) fn millimetres(value: f64) -> Length {
    Length::from_nanometres((value * 1e6).round() as i64)
}

/// The row of a size in the tables of its kind; `None` for a size that they do not hold.
pub(super) fn place(size: WireSize) -> Option<usize> {
    let place = match size {
        WireSize::Awg(n) => match n {
            18 => 0,
            16 => 1,
            14 => 2,
            12 => 3,
            10 => 4,
            8 => 5,
            6 => 6,
            4 => 7,
            3 => 8,
            2 => 9,
            1 => 10,
            0 => 11,
            -1 => 12,
            -2 => 13,
            -3 => 14,
            _ => return None,
        },
        WireSize::Metric(_) => return METRIC.binary_search(&size).ok(),
    };
    Some(place)
}

/// Every size of a standard, rising by area: AWG 18 to 4/0 with 3 AWG, SAE the same without 3 AWG, metric 0.75 to
/// 150 mm².
pub fn all(standard: AreaStandard) -> &'static [WireSize] {
    match standard {
        AreaStandard::Awg => &AWG,
        AreaStandard::Sae => &SAE,
        AreaStandard::Metric => &METRIC,
    }
}

/// Copper area in circular mils. A gauge has its published area (NEC Chapter 9 Table 8), or by SAE its minimum area;
/// gauges that the table does not hold (a maker's own 20 AWG lead) have the area of ASTM B258, but none by SAE. A
/// metric size has its nominal area whatever the standard.
pub fn area_cmil(size: WireSize, standard: AreaStandard) -> Option<f64> {
    match size {
        WireSize::Metric(hundredths) => Some(f64::from(hundredths) / 100.0 * CMIL_PER_MM2),
        WireSize::Awg(n) => match (place(size), standard) {
            (Some(place), AreaStandard::Sae) => GAUGES.by_awg[place].cmil_sae,
            (Some(place), _) => Some(GAUGES.by_awg[place].cmil_awg),
            (None, AreaStandard::Sae) => None,
            (None, _) => (-3..=22).contains(&n).then(|| size.nominal_cmil()),
        },
    }
}

/// Copper area in square millimetres: [`area_cmil`] in the other unit, a metric size exactly as it is called.
pub fn area_mm2(size: WireSize, standard: AreaStandard) -> Option<f64> {
    match size {
        WireSize::Metric(hundredths) => Some(f64::from(hundredths) / 100.0),
        WireSize::Awg(_) => area_cmil(size, standard).map(|cmil| cmil / CMIL_PER_MM2),
    }
}

/// The table row whose cable is as thick as this size, and how many times as thick: the nearest gauge that is not
/// smaller, or 4/0 enlarged by the square root of the areas.
fn as_thick_as(size: WireSize) -> (&'static Gauge, f64) {
    let gauges = &*GAUGES;
    let found = match (size, place(size)) {
        (WireSize::Awg(_), Some(place)) => Some(place),
        (WireSize::Metric(_), Some(place)) => gauges.like_metric[place],
        (_, None) => gauges.by_awg.iter().position(|gauge| gauge.cmil_awg >= size.nominal_cmil()),
    };
    match found {
        Some(place) => (&gauges.by_awg[place], 1.0),
        None => {
            let largest = &gauges.by_awg[TABLED - 1];
            (largest, (size.nominal_cmil() / largest.cmil_awg).sqrt())
        }
    }
}

/// Overall diameter of single-conductor boat cable, middle of what is sold (from memory). A size without an entry is
/// as thick as the nearest gauge that is not smaller; beyond 4/0 it grows with the square root of the area.
pub fn overall_diameter(size: WireSize) -> Length {
    let (gauge, times) = as_thick_as(size);
    gauge.overall.scaled(times)
}

/// Outside diameter of the barrel that a terminal, splice or lug for this size has; see
/// [`super::terminations::barrel_diameter`].
pub(super) fn barrel(size: WireSize) -> Length {
    let (gauge, times) = as_thick_as(size);
    gauge.barrel.scaled(times)
}
