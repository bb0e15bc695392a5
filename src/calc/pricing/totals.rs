//! Totals of a quote by the arithmetic of EN 16931-1: which amounts are rounded, and when.
//!
//! 1. Each line net is rounded (BT-131); their sum needs no rounding (BR-CO-10).
//! 2. The discount is one document allowance, rounded, shared out over the tax groups to the minor unit (BR-CO-11).
//! 3. Freight is one document charge, rounded, in the tax group of its own class (BR-CO-12).
//! 4. Net is lines less discount plus freight (BR-CO-13).
//! 5. A tax group is one treatment at one rate: its base is its lines less its share, plus freight of its classes
//!    (BR-S-08, and likewise for the other treatments); its tax is base times rate, rounded (BR-CO-17).
//! 6. Tax is the sum of the rounded group taxes (BR-CO-14); the total is net plus tax (BR-CO-15).
//!
//! Amounts are rounded to the minor unit of the currency (ISO 4217), half away from zero.

use iso_currency::Currency;
use rust_decimal::{Decimal, dec};

use crate::findings::Fault;
use crate::money::{AmountTooLarge, Money};
use crate::pricing::discount::Discount;
use crate::quote::{TaxSubtotal, Totals};
use crate::shop::settings::{TaxClass, TaxTreatment};
use crate::units::Name;

/// Totals of line nets, each with its tax class, less a discount on them, plus freight with its own tax class.
///
/// With `incomplete` there is no total, only what is priced so far. Faults carry pointers from the request; a tax class
/// that is not among `tax_classes` is one, an amount that no longer fits another.
pub fn totals<'a>(
    nets: impl IntoIterator<Item = (&'a Name, Money)>,
    discount: Option<Discount>,
    freight: Option<(&Name, Money)>,
    tax_classes: &[TaxClass],
    currency: Currency,
    incomplete: bool,
) -> Result<Totals, Fault> {
    let mut groups: Vec<Group> = Vec::new();
    let mut lines_net = Money::zero(currency);
    let place = |code: &Name| {
        tax_classes.iter().position(|class| class.code == *code).ok_or_else(|| {
            Fault::new("", format!("there is no tax class '{code}' in the shop's settings; define it or use another"))
        })
    };
    for (code, net) in nets {
        lines_net = lines_net.plus(net).map_err(too_large)?;
        let group = group_of(&mut groups, place(code)?, tax_classes, currency);
        group.net = group.net.plus(net).map_err(too_large)?;
    }
    if let Some((code, amount)) = freight {
        group_of(&mut groups, place(code)?, tax_classes, currency).freight = Some(amount);
    }
    groups.sort_by_key(|group| group.classes.iter().min().copied());
    let discount = match discount {
        Some(discount) => discount.of(lines_net)?,
        None => Money::zero(currency),
    };
    let weights: Vec<i64> = groups.iter().map(|group| group.net.minor()).collect();
    let shares = discount.split(&weights);
    let subtotals = groups.into_iter().zip(shares).map(|(group, share)| subtotal(group, share, tax_classes));
    let tax_by_class = subtotals.collect::<Result<Vec<TaxSubtotal>, AmountTooLarge>>().map_err(too_large)?;
    let freight = freight.map(|(_, amount)| amount);
    let net = lines_net.minus(discount).and_then(|net| net.plus(freight.unwrap_or(Money::zero(currency))));
    let net = net.map_err(too_large)?;
    let tax =
        tax_by_class.iter().try_fold(Money::zero(currency), |sum, class| sum.plus(class.tax)).map_err(too_large)?;
    let with_tax = net.plus(tax).map_err(too_large)?;
    Ok(Totals {
        currency: currency.code().to_owned(),
        lines_net,
        discount,
        freight,
        net,
        tax_by_class,
        tax,
        total: (!incomplete).then_some(with_tax),
        priced_subtotal: incomplete.then_some(with_tax),
        incomplete,
    })
}

fn too_large(_: AmountTooLarge) -> Fault {
    Fault::new("", "the lines come to more than an amount can hold; check the quantities and prices")
}

/// Lines and freight of one treatment at one rate.
struct Group {
    treatment: TaxTreatment,
    rate_percent: Decimal,
    classes: Vec<usize>,
    net: Money,
    freight: Option<Money>,
}

/// The group of a class, which is one of its classes from then on.
fn group_of<'a>(
    groups: &'a mut Vec<Group>,
    class: usize,
    tax_classes: &[TaxClass],
    currency: Currency,
) -> &'a mut Group {
    let TaxClass { treatment, rate_percent, .. } = tax_classes[class];
    // Only the standard treatment has a rate (BR-Z-05, BR-E-05; BR-O-05 for what is outside the tax).
    let rate_percent = if treatment == TaxTreatment::Standard { rate_percent.normalize() } else { Decimal::ZERO };
    let found = groups.iter().position(|group| group.treatment == treatment && group.rate_percent == rate_percent);
    let place = found.unwrap_or_else(|| {
        let net = Money::zero(currency);
        groups.push(Group { treatment, rate_percent, classes: Vec::new(), net, freight: None });
        groups.len() - 1
    });
    let group = &mut groups[place];
    if !group.classes.contains(&class) {
        group.classes.push(class);
    }
    group
}

fn subtotal(group: Group, discount: Money, tax_classes: &[TaxClass]) -> Result<TaxSubtotal, AmountTooLarge> {
    let Group { treatment, rate_percent, mut classes, net, freight } = group;
    classes.sort_unstable();
    let taxable = net.minus(discount)?.plus(freight.unwrap_or(Money::zero(net.currency())))?;
    let tax = taxable.decimal().checked_mul(rate_percent).ok_or(AmountTooLarge)? / dec!(100);
    let names: Vec<&str> = classes.iter().map(|&class| tax_classes[class].name.as_str()).collect();
    Ok(TaxSubtotal {
        tax_classes: classes.iter().map(|&class| tax_classes[class].code.clone()).collect(),
        name: names.join(", "),
        treatment,
        rate_percent,
        lines_net: net,
        discount,
        freight,
        taxable,
        tax: Money::rounded(tax, taxable.currency())?,
    })
}
