//! What the items of a quote earn: the owner's figure.

use rust_decimal::{Decimal, RoundingStrategy, dec};

use crate::calc::quote::{Line, LineCosting, LineKind, Totals};

/// Margin on the items after the discount, percent of what they then sell for, to four decimal places; less than
/// nothing is at most -100. `None` without items.
pub(super) fn margin_percent(lines: &[Line], costings: &[LineCosting], totals: &Totals) -> Option<Decimal> {
    let mut items = lines.iter().filter(|line| line.kind == LineKind::Item).map(|line| line.net.decimal());
    let items = items.try_fold(Decimal::ZERO, Decimal::checked_add)?;
    let mut cost = costings.iter().map(|line| line.cost.decimal());
    let cost = cost.try_fold(Decimal::ZERO, Decimal::checked_add)?;
    if costings.is_empty() {
        return None;
    }
    let all = totals.lines_net.decimal();
    let discount = totals.discount.decimal();
    // Items carry the discount by their part of the lines.
    let discounted = if all > Decimal::ZERO { discount.checked_mul(items)?.checked_div(all)? } else { Decimal::ZERO };
    let sold_for = items.checked_sub(discounted)?;
    if sold_for <= Decimal::ZERO {
        return Some(dec!(-100));
    }
    let margin = sold_for.checked_sub(cost)?.checked_mul(dec!(100))?.checked_div(sold_for)?;
    Some(margin.round_dp_with_strategy(4, RoundingStrategy::MidpointAwayFromZero).max(dec!(-100)).normalize())
}
