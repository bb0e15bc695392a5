//! What was decided together, with what it costs and what it cannot cost less than.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::{Decided, Pick, joined};
use crate::quote::PurchaseComponent;
use crate::units::Name;

/// The components, each with what is bought for it, in order of the first requirement.
///
/// Wire, and what is bought by number, are decided apart. Where one item can meet both (wire that the spec also names as
/// equipment) they are one component here: it costs at least as much as either of them by itself.
pub(super) fn components(decided: Vec<Decided>, picks: &[Pick]) -> Vec<PurchaseComponent> {
    let groups = joined(decided.iter().map(|decided| decided.items.iter().collect()));
    let mut decided: Vec<Option<Decided>> = decided.into_iter().map(Some).collect();
    let mut components: Vec<PurchaseComponent> = Vec::with_capacity(groups.len());
    for group in groups {
        let mut of_group = group.iter().filter_map(|&place| decided[place].take());
        let Some(mut whole) = of_group.next() else { continue };
        for other in of_group {
            whole.requirements.extend(other.requirements);
            whole.items.extend(other.items);
            whole.lower_bound = whole.lower_bound.max(other.lower_bound);
        }
        components.extend(component(whole, picks));
    }
    components.sort_by(|a, b| a.requirements.cmp(&b.requirements));
    components
}

fn component(Decided { mut requirements, items, lower_bound }: Decided, picks: &[Pick]) -> Option<PurchaseComponent> {
    requirements.sort();
    let of_them = picks.iter().filter(|pick| items.contains(&pick.item.sku));
    let cost = of_them.clone().try_fold(Decimal::ZERO, |sum, pick| sum.checked_add(pick.order.cost))?.normalize();
    let bought: BTreeSet<Name> = of_them.map(|pick| pick.item.sku.clone()).collect();
    let lower_bound = lower_bound.min(cost).normalize();
    (!bought.is_empty()).then(|| PurchaseComponent {
        requirements,
        items: bought.into_iter().collect(),
        cost,
        lower_bound,
        optimal: cost == lower_bound,
    })
}
