//! Items that another one makes useless: it meets all that they meet, and never costs more. Without them the search over which
//! item meets which comes to its end far more often.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::prelude::ToPrimitive;

use super::{Counted, as_count};
use crate::purchase::matching::pieces_per_unit;
use crate::purchase::outstanding;
use crate::requirements::{Need, Requirement};
use crate::shop::item::Attributes;

/// Most units of an item that costs are compared for: where more may be wanted, it stays.
const UNITS: u64 = 500;

/// What an item can be used for, and what it costs.
struct Use {
    /// Rows that it can meet, and its place in each: what stands before goes first at equal cost.
    rows: BTreeMap<usize, usize>,
    /// Length of a stick in nanometres; none for what is not cut.
    stick: Option<i64>,
    /// What so many whole units cost, in millionths: from none up to the most that may be wanted of it.
    costs: Vec<i128>,
    /// Whether units together never cost more than apart. Where a larger number is dearer by the unit, what this item is
    /// bought for beside makes more of it dearer than it looks.
    never_dearer_together: bool,
}

/// Whether so many and so many units together never cost more than apart.
fn never_dearer_together(costs: &[i128]) -> bool {
    (1..costs.len()).all(|all| (1..=all / 2).all(|some| costs[all] <= costs[some] + costs[all - some]))
}

/// The most whole units of an item that a requirement can want.
fn most(requirement: &Requirement, attributes: &Attributes) -> Option<u64> {
    let pieces = outstanding(requirement).ceil().to_u64()?;
    match (&requirement.need, attributes) {
        (Need::HeatShrink { piece_length, .. }, Attributes::HeatShrink { piece_length: unit, .. }) => {
            let each = u64::try_from(pieces_per_unit(*unit, *piece_length)).ok().filter(|&each| each > 0)?;
            Some(pieces.div_ceil(each))
        }
        _ => Some(pieces),
    }
}

impl Use {
    /// Whether an item is never needed while there is this one.
    fn makes_useless(&self, other: &Use) -> bool {
        let per = match (self.stick, other.stick) {
            (None, None) => 1,
            // What is cut from so many short sticks can be cut from one that is as long as all of them.
            (Some(stick), Some(short)) if short > 0 && stick >= short => (stick / short) as usize,
            _ => return false,
        };
        if !self.never_dearer_together || !other.rows.keys().all(|row| self.rows.contains_key(row)) {
            return false;
        }
        let first = other.rows.iter().all(|(row, place)| self.rows[row] < *place);
        (1..other.costs.len()).all(|units| {
            let cost = self.costs.get(units.div_ceil(per));
            cost.is_some_and(|&cost| cost < other.costs[units] || first && cost == other.costs[units])
        })
    }
}

/// Leaves out what another item makes useless; every requirement keeps one at least.
pub(super) fn without_useless(counted: &mut [Counted<'_>]) {
    let mut uses: BTreeMap<String, Use> = BTreeMap::new();
    let mut unknown: BTreeSet<String> = BTreeSet::new();
    for (row, of_row) in counted.iter().enumerate().filter(|(_, counted)| counted.candidates.len() > 1) {
        for (place, candidate) in of_row.candidates.iter().enumerate() {
            let item = &candidate.item;
            let stick = match &item.attributes {
                Attributes::HeatShrink { piece_length, .. } => piece_length.length().map(|length| length.nanometres()),
                _ => None,
            };
            let entry = uses.entry(item.sku.to_string()).or_insert_with(|| Use {
                rows: BTreeMap::new(),
                stick,
                costs: Vec::new(),
                never_dearer_together: false,
            });
            entry.rows.insert(row, place);
        }
    }
    // Rows with one item to choose from bind that item, and nothing is left out for them.
    for (row, of_row) in counted.iter().enumerate().filter(|(_, counted)| counted.candidates.len() == 1) {
        if let Some(used) = uses.get_mut(of_row.candidates[0].item.sku.as_str()) {
            used.rows.insert(row, 0);
        }
    }
    for (sku, used) in &mut uses {
        let candidate = used.rows.keys().find_map(|&row| {
            counted[row].candidates.iter().find(|candidate| candidate.item.sku.as_str() == sku.as_str())
        });
        let table: Option<Vec<i128>> = candidate.and_then(|candidate| {
            let of_rows = used.rows.keys().map(|&row| most(counted[row].requirement, &candidate.item.attributes));
            let units = of_rows.sum::<Option<u64>>().filter(|units| *units <= UNITS)?;
            let each = as_count(candidate.item.buying_quantity).filter(|&each| each > 0)?;
            let packs = candidate.costs.millionths(units.div_ceil(each))?;
            Some((0..=units).map(|units| packs[units.div_ceil(each) as usize]).collect())
        });
        match table {
            Some(table) => {
                used.never_dearer_together = never_dearer_together(&table);
                used.costs = table;
            }
            None => {
                unknown.insert(sku.clone());
            }
        }
    }
    let useless: BTreeSet<&String> = uses
        .iter()
        .filter(|(sku, _)| !unknown.contains(*sku))
        .filter(|(sku, used)| {
            uses.iter().any(|(other, by)| other != *sku && !unknown.contains(other) && by.makes_useless(used))
        })
        .map(|(sku, _)| sku)
        .collect();
    for of_row in counted.iter_mut().filter(|counted| counted.candidates.len() > 1) {
        of_row.candidates.retain(|candidate| !useless.contains(&candidate.item.sku.to_string()));
    }
}
