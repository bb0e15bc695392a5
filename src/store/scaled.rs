//! Exact decimals as whole millionths: SQLite would keep a decimal column as a floating-point number.

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Decimal places that are kept.
pub const PLACES: u32 = 6;

/// A decimal as millionths. `None` when it has more than six places or is too large for 64 bits.
pub fn to_millionths(value: Decimal) -> Option<i64> {
    let scaled = value.checked_mul(Decimal::from(1_000_000))?;
    scaled.is_integer().then(|| scaled.to_i64()).flatten()
}

/// Millionths as a decimal, without trailing zeros.
pub fn from_millionths(millionths: i64) -> Decimal {
    Decimal::new(millionths, PLACES).normalize()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rust_decimal::dec;

    #[test]
    fn what_fits_comes_back_and_what_does_not_is_refused() {
        for value in [dec!(0), dec!(0.000001), dec!(-12.5), dec!(999999999.999999), dec!(9223372036854.775807)] {
            assert_eq!(from_millionths(to_millionths(value).unwrap()), value);
        }
        for value in [dec!(0.0000001), dec!(9223372036854.775808), Decimal::MAX] {
            assert_eq!(to_millionths(value), None, "{value}");
        }
    }
}
