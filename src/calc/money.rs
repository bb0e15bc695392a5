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
