//! Exact money: whole minor units of one currency, and the two named roundings.

use std::borrow::Cow;
use std::fmt;

use iso_currency::Currency;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Serialize, Serializer};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};
use utoipa::{PartialSchema, ToSchema};

/// An amount that no 64-bit count of minor units holds.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[error("the amount is too large to hold")]
pub struct AmountTooLarge;

/// An amount of money in whole minor units (cents, yen, fils), all amounts of one quote in one currency.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Money {
    minor: i64,
    currency: Currency,
}

impl Money {
    /// From whole minor units.
    pub fn from_minor(minor: i64, currency: Currency) -> Self {
        Money { minor, currency }
    }

    /// Nothing, in a currency.
    pub fn zero(currency: Currency) -> Self {
        Money { minor: 0, currency }
    }

    /// Rounds an exact decimal to the currency's minor unit, half away from zero (EN 16931 as its samples round).
    pub fn rounded(amount: Decimal, currency: Currency) -> Result<Self, AmountTooLarge> {
        let places = minor_places(currency);
        let rounded = amount.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
        let scale = Decimal::from(10i64.pow(places));
        let minor = rounded.checked_mul(scale).and_then(|m| m.to_i64()).ok_or(AmountTooLarge)?;
        Ok(Money { minor, currency })
    }

    /// Whole minor units.
    pub fn minor(self) -> i64 {
        self.minor
    }

    /// The currency.
    pub fn currency(self) -> Currency {
        self.currency
    }

    /// The amount as an exact decimal with the currency's places.
    pub fn decimal(self) -> Decimal {
        Decimal::new(self.minor, minor_places(self.currency))
    }

    /// The sum, or an error when it no longer fits.
    ///
    /// # Panics
    /// When the currencies differ: a quote has one currency, so mixing them is a fault of the program.
    pub fn plus(self, other: Money) -> Result<Money, AmountTooLarge> {
        assert_eq!(self.currency, other.currency, "amounts of two currencies are never added");
        let minor = self.minor.checked_add(other.minor).ok_or(AmountTooLarge)?;
        Ok(Money { minor, currency: self.currency })
    }

    /// The difference, or an error when it no longer fits.
    pub fn minus(self, other: Money) -> Result<Money, AmountTooLarge> {
        let minor = other.minor.checked_neg().ok_or(AmountTooLarge)?;
        self.plus(Money { minor, currency: other.currency })
    }

    /// Splits the amount in proportion to weights, exactly: the parts add up to the whole. Each part is rounded down
    /// first; the minor units that are left go one each to the largest remainders, of equal ones to the first.
    ///
    /// Weights may be negative as long as they do not add up to zero; without any weight there are no parts.
    pub fn split(self, weights: &[i64]) -> Vec<Money> {
        let whole = i128::from(self.minor);
        let sum: i128 = weights.iter().map(|&weight| i128::from(weight)).sum();
        if sum == 0 {
            // Nothing to go by: the first part takes it all.
            let part = |place| Money { minor: if place == 0 { self.minor } else { 0 }, currency: self.currency };
            return (0..weights.len()).map(part).collect();
        }
        let sign = sum.signum();
        let exact: Vec<i128> = weights.iter().map(|&weight| whole * i128::from(weight) * sign).collect();
        let mut parts: Vec<i128> = exact.iter().map(|share| share.div_euclid(sum.abs())).collect();
        let mut by_remainder: Vec<usize> = (0..parts.len()).collect();
        by_remainder.sort_by_key(|&place| (-exact[place].rem_euclid(sum.abs()), place));
        let left =
            usize::try_from(whole - parts.iter().sum::<i128>()).expect("rounding down leaves less than one each");
        for &place in by_remainder.iter().take(left) {
            parts[place] += 1;
        }
        let minor = |part: i128| i64::try_from(part).unwrap_or(if part < 0 { i64::MIN } else { i64::MAX });
        parts.into_iter().map(|part| Money { minor: minor(part), currency: self.currency }).collect()
    }
}

/// Decimal places of a currency's minor unit (ISO 4217); a currency without one counts as none.
pub fn minor_places(currency: Currency) -> u32 {
    u32::from(currency.exponent().unwrap_or(0))
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.decimal())
    }
}

impl Serialize for Money {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.decimal())
    }
}

impl PartialSchema for Money {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .pattern(Some(r"^-?[0-9]{1,19}(\.[0-9]{1,4})?$"))
            .description(Some("An amount of money as a decimal string, with the places of the quote's currency."))
            .examples(["31.00"])
            .into()
    }
}

impl ToSchema for Money {
    fn name() -> Cow<'static, str> {
        "Money".into()
    }
}

#[cfg(test)]
mod tests {
    use rust_decimal::dec;

    use super::*;

    #[test]
    fn a_tie_is_rounded_away_from_zero_and_no_binary_fraction_is_met() {
        // Constructed: half away from zero, as the European Commission's EN 16931 samples round.
        for (exact, rounded) in [(dec!(2.345), 235), (dec!(-2.345), -235), (dec!(0.005), 1), (dec!(1.005), 101)] {
            assert_eq!(Money::rounded(exact, Currency::EUR).unwrap().minor(), rounded, "{exact}");
        }
    }

    #[test]
    fn minor_units_are_those_of_iso_4217() {
        // ISO 4217, from memory.
        let places =
            [(Currency::JPY, 0), (Currency::USD, 2), (Currency::EUR, 2), (Currency::BHD, 3), (Currency::KWD, 3)];
        for (currency, expected) in places {
            assert_eq!(minor_places(currency), expected, "{currency:?}");
        }
    }

    #[test]
    fn a_split_adds_up_and_favours_the_largest_remainders() {
        let split = |minor, weights: &[i64]| -> Vec<i64> {
            Money::from_minor(minor, Currency::EUR).split(weights).into_iter().map(Money::minor).collect()
        };
        assert_eq!(split(100, &[1, 1, 1]), [34, 33, 33]);
        assert_eq!(split(10, &[3, 3, 1]), [4, 4, 2], "4.29 4.29 1.43: the unit goes to the largest remainder");
        assert_eq!(split(10, &[100, -20]), [13, -3], "12.5 and -2.5: of equal remainders the first");
        assert_eq!(split(5, &[]), [0i64; 0]);
    }

    #[test]
    fn what_does_not_fit_is_an_error() {
        assert_eq!(Money::rounded(dec!(1000000000000000000), Currency::EUR), Err(AmountTooLarge));
        let most = Money::from_minor(i64::MAX, Currency::EUR);
        assert_eq!(most.plus(Money::from_minor(1, Currency::EUR)), Err(AmountTooLarge));
    }
}
