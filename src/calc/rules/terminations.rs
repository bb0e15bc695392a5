//! Barrels of terminals, and the heat shrink that goes over them.

use std::sync::LazyLock;

use super::{number, rows, sizes};
use crate::units::{Length, WireSize};

/// Outside diameter of the barrel of a ring terminal, butt splice or lug for this size (common practice, from memory).
pub fn barrel_diameter(size: WireSize) -> Length {
    sizes::barrel(size)
}

/// One size of adhesive-lined heat-shrink tubing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShrinkSize {
    /// Inside diameter as supplied.
    pub supplied: Length,
    /// Inside diameter after full recovery.
    pub recovered: Length,
    /// Wall after full recovery (common practice).
    pub wall: Length,
}

static SHRINK: LazyLock<Vec<ShrinkSize>> = LazyLock::new(|| {
    rows(include_str!("tables/heat_shrink.csv"))[1..]
        .iter()
        .map(|row| ShrinkSize {
            supplied: Length::inches(number(row, 0)),
            recovered: Length::inches(number(row, 1)),
            wall: Length::inches(number(row, 2)),
        })
        .collect()
});

/// The sizes of tubing there are, rising.
pub fn shrink_sizes() -> &'static [ShrinkSize] {
    &SHRINK
}

/// The smallest tubing that slips over the thickest part and shrinks tight on the thinnest (common practice): `over` is
/// at most eight tenths of the diameter as supplied, and the recovered diameter is below `closes_on`. `None` when no
/// size does both.
pub fn smallest_shrink(over: Length, closes_on: Length) -> Option<&'static ShrinkSize> {
    SHRINK.iter().find(|size| 10 * over.nanometres() <= 8 * size.supplied.nanometres() && size.recovered < closes_on)
}
