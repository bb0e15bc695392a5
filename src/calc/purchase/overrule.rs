//! A person's items in place of the computed ones: refused where they would be unsafe, warned about where only good
//! practice speaks against them.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;

use crate::findings::{Fault, Gap, Warning};
use crate::purchase::matching::{self, Candidate, Miss, Misses, Nearest};
use crate::purchase::wording;
use crate::purchase::{Chosen, candidates as matched, counted, unmet, wire};
use crate::requirements::{Need, Requirement};
use crate::shop::Shop;
use crate::shop::item::{Attributes, Item};
use crate::spec::input::OverruleInput;
use crate::take_off::AppliedOverrule;
use crate::units::Name;

/// An overrule that may stand.
pub(super) struct ItemOverrule {
    item: Arc<Item>,
    reason: String,
}

/// Checks the overrules of items; those that may stand by key of their requirement, the others as faults.
pub(super) fn check(
    requirements: &[&Requirement],
    shop: &Shop,
    overrules: &[OverruleInput],
    chosen: &mut Chosen,
) -> BTreeMap<Name, ItemOverrule> {
    let mut standing = BTreeMap::new();
    for (place, overrule) in overrules.iter().enumerate() {
        let OverruleInput::Item { requirement: key, sku, reason } = overrule else { continue };
        let fault = |field: &str, message: String| Fault::new(format!("/overrules/{place}/{field}"), message);
        let Some(requirement) = requirements.iter().find(|requirement| requirement.key == *key) else {
            let message = format!("this job has no requirement '{key}'; use a key of the take-off's requirements");
            chosen.faults.push(fault("requirement", message));
            continue;
        };
        if standing.contains_key(key) {
            let message = format!("the item for '{key}' is overruled more than once; keep one of these");
            chosen.faults.push(fault("requirement", message));
            continue;
        }
        match allowed(requirement, sku, shop) {
            Ok(item) => {
                standing.insert(key.clone(), ItemOverrule { item, reason: reason.clone() });
            }
            Err(message) => chosen.faults.push(fault("sku", message)),
        }
    }
    standing
}

/// The item, if a person may choose it for the requirement; or why not.
fn allowed(requirement: &Requirement, sku: &Name, shop: &Shop) -> Result<Arc<Item>, String> {
    let Some(item) = shop.catalogue.get(sku.as_str()) else {
        return Err(format!("there is no item '{sku}' in the catalogue; use the sku of an item"));
    };
    let kind = item.attributes.kind();
    let wanted = match &requirement.need {
        Need::Item { sku: named } => {
            let named = shop.catalogue.get(named.as_str());
            if named.is_some_and(|named| reckoned_with(&named.attributes)) && named != Some(item) {
                return Err(format!(
                    "the wiring was reckoned for {}; to use {sku} instead, name it in the spec's equipment or power",
                    named.map_or("another item", |named| named.sku.as_str())
                ));
            }
            named.map_or(kind, |named| named.attributes.kind())
        }
        need => matching::kind_of(need).unwrap_or(kind),
    };
    if kind != wanted {
        return Err(format!("'{sku}' is of kind {kind}, and {wanted} is required; choose an item of that kind"));
    }
    let misses = matching::attribute_misses(&requirement.need, item);
    if misses.iter().all(Miss::only_unwise) {
        return Ok(Arc::clone(item));
    }
    let lacks = lacks(&requirement.need, item, misses);
    Err(format!("'{sku}' cannot stand for {}: {lacks}; choose one that can", wording::needed(&requirement.need)))
}

/// Whether the circuits depend on what the item is, so that another one changes more than the price.
fn reckoned_with(attributes: &Attributes) -> bool {
    matches!(attributes, Attributes::Device { .. } | Attributes::Panel { .. } | Attributes::Bus { .. })
}

fn lacks(need: &Need, item: &Item, misses: Misses) -> String {
    // A day is only spoken of where a price is missing, which is never asked here.
    wording::shortfall(need, item, misses, NaiveDate::default())
}

/// The chosen item as the only candidate; what it replaces and what speaks against it are noted.
pub(super) fn candidates(
    requirement: &Requirement,
    overrule: &ItemOverrule,
    shop: &Shop,
    day: NaiveDate,
    chosen: &mut Chosen,
) -> Result<Vec<Candidate>, Gap> {
    let ItemOverrule { item, reason } = overrule;
    let computed = matched(requirement, shop, day).ok().and_then(|candidates| match &requirement.need {
        need if need.by_length() => wire::main_item(requirement, &candidates),
        _ => counted::cheapest_alone(requirement, &candidates).map(|place| candidates[place].item.sku.clone()),
    });
    chosen.applied.push(AppliedOverrule {
        about: requirement.key.clone(),
        computed: computed.map_or_else(|| "no item meets it".to_owned(), |sku| sku.to_string()),
        chosen: item.sku.to_string(),
        reason: reason.clone(),
    });
    let misses = matching::attribute_misses(&requirement.need, item);
    if !misses.none() {
        let message = format!(
            "{} was chosen for {}, although {}: {reason}",
            item.sku,
            wording::needed(&requirement.need),
            lacks(&requirement.need, item, misses)
        );
        chosen.warnings.push(Warning { about: requirement.key.clone(), message });
    }
    match matching::priced(item, &shop.settings, day) {
        Ok(candidate) => Ok(vec![candidate]),
        Err(misses) => Err(unmet(requirement, Some(&Nearest { item: Arc::clone(item), misses }), day)),
    }
}
