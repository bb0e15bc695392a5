//! What the items of a quote earn: the owner's figure.

use rust_decimal::{Decimal, RoundingStrategy, dec};

use crate::money::{AmountTooLarge, Money};
use crate::quote::{Line, LineCosting, LineKind, Totals};

/// What lines of a person's own take off, in minor units: a discount under another name.
///
/// # Errors
/// When it does not fit.
pub fn taken_off(lines: &[Line]) -> Result<i64, AmountTooLarge> {
    let off = lines.iter().map(|line| line.net.minor()).filter(|net| *net < 0);
    off.map(i64::checked_neg).try_fold(0i64, |sum, off| sum.checked_add(off?)).ok_or(AmountTooLarge)
}

/// Margin on the items after the discount, and after what lines of a person's own take off, percent of what they then sell for, to four decimal places; less than
/// nothing is at most -100. `None` without items.
pub(super) fn margin_percent(lines: &[Line], costings: &[LineCosting], totals: &Totals) -> Option<Decimal> {
    let mut items = lines.iter().filter(|line| line.kind == LineKind::Item).map(|line| line.net.decimal());
    let items = items.try_fold(Decimal::ZERO, Decimal::checked_add)?;
    let mut cost = costings.iter().map(|line| line.cost.decimal());
    let cost = cost.try_fold(Decimal::ZERO, Decimal::checked_add)?;
    if costings.is_empty() {
        return None;
    }
    let off = Money::from_minor(taken_off(lines).ok()?, totals.lines_net.currency()).decimal();
    let all = totals.lines_net.decimal().checked_add(off)?;
    let discount = totals.discount.decimal().checked_add(off)?;
    // Items carry the discount by their part of the lines.
    let discounted = if all > Decimal::ZERO { discount.checked_mul(items)?.checked_div(all)? } else { Decimal::ZERO };
    let sold_for = items.checked_sub(discounted)?;
    if sold_for <= Decimal::ZERO {
        return Some(dec!(-100));
    }
    let margin = sold_for.checked_sub(cost)?.checked_mul(dec!(100))?.checked_div(sold_for)?;
    Some(margin.round_dp_with_strategy(4, RoundingStrategy::MidpointAwayFromZero).max(dec!(-100)).normalize())
}
