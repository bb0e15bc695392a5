//! Freight: a charge on the whole document (EN 16931 BG-21), by the shop's rule or as a person wrote it.
//!
//! It has no part in what is chosen to be bought, nor in discounts or the margin: it is what getting the goods costs.

use iso_currency::Currency;
use rust_decimal::{Decimal, dec};

use crate::basis::{BasisRef, Ledger, Value};
use crate::findings::Fault;
use crate::money::{AmountTooLarge, Money, minor_places};
use crate::quote::{FreightCharge, Line, LineKind};
use crate::rules::table::labour_and_price::{FREIGHT_AMOUNT, FREIGHT_PERCENT, FREIGHT_WRITTEN};
use crate::shop::settings::{Freight, FreightRule};

/// Reason code of a document charge for freight (UNTDID 7161, from memory).
const FREIGHT_SERVICE: &str = "FC";

/// The freight on these lines and its derivation; `None` where it comes to nothing. Faults have pointers from the request.
pub(super) fn freight(
    freight: &Freight,
    written: Option<Decimal>,
    lines: &[Line],
    currency: Currency,
    ledger: &mut Ledger,
) -> Result<Option<(FreightCharge, BasisRef)>, Fault> {
    let (amount, reason, basis) = match written {
        Some(written) => {
            let amount = as_written(written, currency)?;
            let inputs = [("freight", Value::Exact(amount.decimal()))];
            (amount, "Freight, as agreed".to_owned(), ledger.note(&FREIGHT_WRITTEN, &inputs, amount.decimal()))
        }
        None => match by_rule(&freight.rule, lines, currency, ledger) {
            Ok(Some(reckoned)) => reckoned,
            Ok(None) => return Ok(None),
            Err(AmountTooLarge) => {
                return Err(Fault::new(
                    "",
                    "the goods come to more than freight can be reckoned on; check their amounts",
                ));
            }
        },
    };
    let charge =
        FreightCharge { amount, tax_class: freight.tax_class.clone(), reason, reason_code: FREIGHT_SERVICE.to_owned() };
    Ok((amount.minor() > 0).then_some((charge, basis)))
}

/// The amount that a person wrote.
fn as_written(written: Decimal, currency: Currency) -> Result<Money, Fault> {
    let fault = |message: String| Fault::new("/freight", message);
    if written < Decimal::ZERO {
        return Err(fault(format!("a freight of {written} would lower the price; give an amount of 0 or more")));
    }
    let money = Money::rounded(written, currency).map_err(|_| fault("the freight is too large to hold".to_owned()))?;
    if money.decimal() != written {
        let (places, code) = (minor_places(currency), currency.code());
        return Err(fault(format!(
            "{written} has more decimal places than {code} has: write it with {places} at most"
        )));
    }
    Ok(money)
}

type Reckoned = (Money, String, BasisRef);

fn by_rule(
    rule: &FreightRule,
    lines: &[Line],
    currency: Currency,
    ledger: &mut Ledger,
) -> Result<Option<Reckoned>, AmountTooLarge> {
    let mut goods = lines.iter().filter(|line| line.kind == LineKind::Item).map(|line| line.net);
    let goods = goods.try_fold(Money::zero(currency), Money::plus)?.decimal();
    let (FreightRule::Amount { free_from, .. } | FreightRule::PercentOfGoods { free_from, .. }) = rule else {
        return Ok(None);
    };
    if goods <= Decimal::ZERO || free_from.is_some_and(|free_from| goods >= free_from) {
        return Ok(None);
    }
    let places = ("minor_places", Value::Number(f64::from(minor_places(currency))));
    let reckoned = match rule {
        FreightRule::None => return Ok(None),
        FreightRule::Amount { amount, .. } => {
            let money = Money::rounded(*amount, currency)?;
            let inputs = [("amount", Value::Exact(*amount)), places];
            (money, "Freight".to_owned(), ledger.note(&FREIGHT_AMOUNT, &inputs, money.decimal()))
        }
        FreightRule::PercentOfGoods { percent, .. } => {
            let exact = goods.checked_mul(*percent).ok_or(AmountTooLarge)? / dec!(100);
            let money = Money::rounded(exact, currency)?;
            let inputs = [("goods_net", Value::Exact(goods)), ("freight_percent", Value::Exact(*percent)), places];
            let basis = ledger.note(&FREIGHT_PERCENT, &inputs, money.decimal());
            (money, format!("Freight, {} % of the goods", percent.normalize()), basis)
        }
    };
    Ok(Some(reckoned))
}
