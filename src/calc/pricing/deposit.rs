//! What is paid ahead: special orders in full with their tax, and a share of the rest.

use std::collections::BTreeSet;

use rust_decimal::{Decimal, dec};

use crate::money::{AmountTooLarge, Money};
use crate::quote::{Deposit, Line, Totals};
use crate::units::Name;

/// The deposit on a quote with a total; `None` without one, and where nothing is paid ahead.
///
/// Of each tax group, special orders carry their part of discount and tax by their part of its lines; freight and its tax
/// belong to the rest. What they come to is rounded once, and so is the share of the rest.
pub(super) fn deposit(
    lines: &[Line],
    special_orders: &BTreeSet<&Name>,
    totals: &Totals,
    share_percent: Decimal,
) -> Result<Option<Deposit>, AmountTooLarge> {
    let Some(total) = totals.total.filter(|total| total.minor() > 0) else { return Ok(None) };
    let currency = total.currency();
    let is_special = |line: &&Line| line.sku.as_ref().is_some_and(|sku| special_orders.contains(sku));
    let mut special = Decimal::ZERO;
    for group in &totals.tax_by_class {
        let of_group = lines.iter().filter(is_special).filter(|line| group.tax_classes.contains(&line.tax_class));
        let net = of_group.map(|line| line.net).try_fold(Money::zero(currency), Money::plus)?;
        if net.minor() == 0 || group.lines_net.minor() <= 0 {
            continue;
        }
        let freight = group.freight.map_or(Decimal::ZERO, Money::decimal);
        let freight = freight.checked_mul(dec!(100).saturating_add(group.rate_percent)).ok_or(AmountTooLarge)?;
        let with_tax = group.taxable.plus(group.tax)?.decimal().saturating_sub(freight / dec!(100));
        let part = with_tax.checked_mul(net.decimal()).ok_or(AmountTooLarge)? / group.lines_net.decimal();
        special = special.checked_add(part).ok_or(AmountTooLarge)?;
    }
    let special = Money::rounded(special, currency)?;
    // A line that takes something off can leave a total smaller than the special orders alone.
    let special = Money::from_minor(special.minor().clamp(0, total.minor()), currency);
    let rest = total.minus(special)?;
    let share = rest.decimal().checked_mul(share_percent).ok_or(AmountTooLarge)? / dec!(100);
    let share = Money::rounded(share, currency)?;
    let whole = special.plus(share)?;
    Ok((whole.minor() > 0).then_some(Deposit { special_orders: special, share_percent, share, total: whole }))
}
