//! The one table of rules: every derivation names a rule by its id, and finds here what it says and where it was read.

pub mod along;
pub mod dash;
pub mod electrical;
pub mod energy;
pub mod jackets;
pub mod labour_and_price;
pub mod network;
pub mod plumbing;
pub mod power;
pub mod quantities;

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::basis::Rule;

static BY_ID: LazyLock<BTreeMap<&'static str, &'static Rule>> = LazyLock::new(|| {
    let mut by_id = BTreeMap::new();
    for rule in all() {
        assert!(by_id.insert(rule.id, rule).is_none(), "two rules have the id '{}'", rule.id);
    }
    by_id
});

/// Every rule of every section.
pub fn all() -> impl Iterator<Item = &'static Rule> {
    [
        electrical::ALL,
        quantities::ALL,
        power::ALL,
        energy::ALL,
        jackets::ALL,
        network::ALL,
        plumbing::ALL,
        along::ALL,
        dash::ALL,
        labour_and_price::ALL,
    ]
    .into_iter()
    .flatten()
    .copied()
}

/// The rule of that id.
///
/// # Panics
/// When there is none: a derivation cannot name a rule that is not in a section's `ALL`.
pub fn rule_of(id: &str) -> Rule {
    **BY_ID.get(id).unwrap_or_else(|| panic!("rule '{id}' is missing from the list of its section"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_its_own_id_and_says_where_it_was_read() {
        for rule in all() {
            assert_eq!(rule_of(rule.id), *rule);
            for (what, text) in [("says", rule.says), ("formula", rule.formula), ("source", rule.source)] {
                assert!(text.trim().len() > 3, "rule '{}' has no '{what}'", rule.id);
            }
        }
    }
}
