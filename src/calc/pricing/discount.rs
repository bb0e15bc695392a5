//! A discount on the whole quote.

use iso_currency::Currency;
use rust_decimal::{Decimal, dec};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::findings::Fault;
use crate::money::{Money, minor_places};

/// A discount on the whole quote, before tax.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Discount {
    /// A share of the sum of the lines, percent.
    Percent(Decimal),
    /// An amount in the shop's currency.
    Amount(Decimal),
}

/// A discount on the whole quote, before tax, as a client sends it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum DiscountInput {
    /// A share of the sum of the lines.
    Percent {
        /// Percent, from 0 to 100.
        #[schema(value_type = String, pattern = r"^(100(\.0{1,4})?|[0-9]{1,2}(\.[0-9]{1,4})?)$", example = "5")]
        percent: Decimal,
    },
    /// An amount.
    Amount {
        /// Amount in the shop's currency; no more than the lines come to.
        #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,4})?$", example = "50.00")]
        amount: Decimal,
    },
}

impl From<DiscountInput> for Discount {
    fn from(input: DiscountInput) -> Self {
        match input {
            DiscountInput::Percent { percent } => Discount::Percent(percent),
            DiscountInput::Amount { amount } => Discount::Amount(amount),
        }
    }
}

impl Discount {
    /// What it takes off lines of this sum, rounded to the minor unit; a fault, with its pointer from the request, where
    /// it is no discount or more than there is.
    pub fn of(self, lines_net: Money) -> Result<Money, Fault> {
        let currency = lines_net.currency();
        match self {
            Discount::Percent(percent) => percent_of(percent, lines_net),
            Discount::Amount(amount) => amount_off(amount, lines_net, currency),
        }
    }
}

fn percent_of(percent: Decimal, lines_net: Money) -> Result<Money, Fault> {
    let fault = |message: String| Fault::new("/discount/percent", message);
    if percent < Decimal::ZERO || percent > dec!(100) {
        return Err(fault(format!("a discount of {percent} % makes no sense; give a share from 0 to 100")));
    }
    if lines_net.minor() < 0 {
        return Err(fault(format!(
            "the lines come to {lines_net}: there is nothing to take a discount from; leave it out"
        )));
    }
    let exact = lines_net.decimal().checked_mul(percent).map(|product| product / dec!(100));
    exact
        .and_then(|exact| Money::rounded(exact, lines_net.currency()).ok())
        .ok_or_else(|| fault("the lines come to more than a share can be taken of; check their amounts".to_owned()))
}

fn amount_off(amount: Decimal, lines_net: Money, currency: Currency) -> Result<Money, Fault> {
    let fault = |message: String| Fault::new("/discount/amount", message);
    if amount < Decimal::ZERO {
        return Err(fault(format!("a discount of {amount} would raise the price; give an amount of 0 or more")));
    }
    let code = currency.code();
    let money = Money::rounded(amount, currency).map_err(|_| fault("the discount is too large to hold".to_owned()))?;
    if money.decimal() != amount {
        let places = minor_places(currency);
        return Err(fault(format!("{amount} has more decimal places than {code} has: write it with {places} at most")));
    }
    // A discount of nothing takes nothing from any sum.
    if money.minor() > lines_net.minor().max(0) {
        return Err(fault(format!(
            "the discount of {money} {code} is more than the lines come to, {lines_net} {code}"
        )));
    }
    Ok(money)
}
