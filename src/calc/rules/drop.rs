//! Voltage drop, and the load analysis that gives a feeder's current.

use crate::units::Length;

/// Resistance of a foot of copper of one circular mil, ohms: the constant of ABYC E-11's area formula. Others use more
/// (12.9 in buildings at 75 °C) or less (ISO 10133: 9.87, which is less than annealed copper has at 20 °C).
pub const COPPER_OHM_CMIL_PER_FT: f64 = 10.75;

/// Volts lost along `length` of copper, there and back where the caller gives both ways: K × I × L ÷ area
/// (ABYC E-11, CM = K × I × L ÷ E solved for E).
pub fn drop_v(copper_ohm_cmil_per_ft: f64, current_a: f64, length: Length, area_cmil: f64) -> f64 {
    copper_ohm_cmil_per_ft * current_a * length.ft() / area_cmil
}

/// Panel load analysis (ABYC E-11, from memory), amperes: all loads that may have to run at any time, plus a tenth of
/// the occasional ones or the largest of those if that is more. Returns the total, both sums and the largest
/// occasional load, in this order.
pub fn load_analysis_a(always: &[f64], occasional: &[f64]) -> (f64, f64, f64, f64) {
    // Not `sum`, which makes a negative zero of nothing.
    let sum = |loads: &[f64]| loads.iter().fold(0.0, |sum, load| sum + load);
    let (always_a, occasional_a) = (sum(always), sum(occasional));
    let largest_a = occasional.iter().copied().fold(0.0, f64::max);
    (always_a + f64::max(occasional_a / 10.0, largest_a), always_a, occasional_a, largest_a)
}
