//! What else meets a requirement and what it would cost, and why what comes near does not: told beside what is bought.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;

use super::matching::{self, Candidate, Miss, Misses};
use super::{Chosen, counted, outstanding, wire, wording};
use crate::quote::{Considered, ConsideredItem, ConsideredSize, RefusedItem};
use crate::requirements::{Need, Requirement};
use crate::shop::Shop;
use crate::shop::item::Item;
use crate::units::Name;

/// Most items that are told of one requirement, and most that come near.
const TOLD: usize = 8;
const NEAR: usize = 3;
/// Most items that are priced for one requirement: of more the soonest, and what is bought.
const PRICED: usize = 24;

/// What was looked at for each requirement that leaves a choice, in order of key. What a person chose, or the spec names,
/// leaves none.
/// `sizes` are larger wires that were looked at, by requirement.
pub fn considered(
    requirements: &[Requirement],
    chosen: &Chosen,
    mut sizes: BTreeMap<Name, ConsideredSize>,
    shop: &Shop,
    day: NaiveDate,
) -> Vec<Considered> {
    let overruled: BTreeSet<&Name> = chosen.applied.iter().map(|applied| &applied.about).collect();
    let mut all: Vec<Considered> = requirements
        .iter()
        .filter(|requirement| !matches!(requirement.need, Need::Item { .. }))
        .filter(|requirement| outstanding(requirement) > rust_decimal::Decimal::ZERO)
        .filter(|requirement| !overruled.contains(&requirement.key))
        .map(|requirement| {
            let next_size = sizes.remove(&requirement.key);
            Considered { next_size, ..of_requirement(requirement, chosen, shop, day) }
        })
        .filter(|told| told.items.len() > 1 || !told.refused.is_empty() || told.next_size.is_some())
        .collect();
    // What is wholly cut from larger wire has no items of its own.
    all.extend(sizes.into_iter().map(|(requirement, size)| Considered {
        requirement,
        items: Vec::new(),
        more: 0,
        refused: Vec::new(),
        next_size: Some(size),
    }));
    all.sort_by(|a, b| a.requirement.cmp(&b.requirement));
    all
}

fn of_requirement(requirement: &Requirement, chosen: &Chosen, shop: &Shop, day: NaiveDate) -> Considered {
    let need = &requirement.need;
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut near: Vec<(u32, Name, Arc<Item>, Misses)> = Vec::new();
    matching::each_marked(need, shop, &mut |item| match matching::candidate(need, item, &shop.settings, day) {
        Ok(candidate) => candidates.push(candidate),
        Err(misses) if misses.iter().count() == 1 && misses.iter().all(|miss| miss != Miss::Retired) => {
            near.push((misses.weight(), item.sku.clone(), Arc::clone(item), misses));
        }
        Err(_) => {}
    });
    near.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    near.truncate(NEAR);
    let bought: BTreeSet<&Name> =
        chosen.picks.iter().filter(|pick| pick.meets.contains(&requirement.key)).map(|pick| &pick.item.sku).collect();
    let rank = |candidate: &Candidate| {
        let Item { sku, lead_time_days, .. } = &*candidate.item;
        (Reverse(bought.contains(sku)), *lead_time_days, sku.clone())
    };
    candidates.sort_by_cached_key(rank);
    let many = candidates.len();
    candidates.truncate(PRICED);
    let told = |candidate: &Candidate| {
        let Item { sku, lead_time_days, attributes, .. } = &*candidate.item;
        let cost = match need {
            Need::Wire { .. } | Need::Cable { .. } => wire::cost_alone(requirement, candidate),
            _ => counted::cost_alone(requirement, candidate),
        };
        ConsideredItem {
            sku: sku.clone(),
            cost: cost.map(|cost| cost.normalize()),
            chosen: bought.contains(sku),
            substitute: wording::better(need, attributes),
            lead_time_days: *lead_time_days,
        }
    };
    let mut items: Vec<ConsideredItem> = candidates.iter().map(told).collect();
    items.sort_by(|a, b| {
        let key = |item: &ConsideredItem| (Reverse(item.chosen), item.cost.is_none(), item.cost, item.lead_time_days);
        key(a).cmp(&key(b)).then_with(|| a.sku.cmp(&b.sku))
    });
    items.truncate(TOLD);
    let refused = near
        .into_iter()
        .map(|(_, sku, item, misses)| RefusedItem { sku, why: wording::shortfall(need, &item, misses, day) });
    Considered {
        requirement: requirement.key.clone(),
        more: many - items.len(),
        items,
        refused: refused.collect(),
        next_size: None,
    }
}
