//! What a job takes from the shelf before anything is bought for it.
//!
//! Counted things come from the item that would be bought, else from one that costs no more to put back. That is a good
//! choice, not a proof that none is better: the list is made without the shelf where that is cheaper. Wire and cable are
//! planned together with what is bought: whatever fits and lies there is a length that costs nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::purchase::matching::{each_marked, misses, pieces_per_unit};
use crate::purchase::{ShelfCut, ShelfLength};
use crate::quote::PlannedCut;
use crate::requirements::{Need, Requirement, length_quantity};
use crate::shelf::{Shelf, Spot, sold_by, unbroken};
use crate::shop::Shop;
use crate::shop::item::{Attributes, Item, PriceKind, SellingUnit};
use crate::units::{Length, LengthUnit, Name};

/// What is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// The item.
    pub item: Arc<Item>,
    /// Where it lies.
    pub at: Spot,
    /// Selling units of it that leave the shelf.
    pub quantity: Decimal,
    /// Requirements that it meets, wholly or in part.
    pub meets: Vec<Name>,
    /// The unbroken length that it is; none for what is counted.
    pub length: Option<TakenLength>,
}

/// An unbroken length, and what is cut from it.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenLength {
    /// Which length that was left over; none for a whole spool.
    pub offcut: Option<Name>,
    /// How long it is.
    pub length: Length,
    /// Cuts in order.
    pub cuts: Vec<PlannedCut>,
    /// What is left.
    pub left: Length,
}

/// Items that meet a requirement, whether they can be bought today or not, in order of sku.
pub(super) fn fitting(shop: &Shop, requirement: &Requirement, only: Option<&Name>) -> Vec<Arc<Item>> {
    let catalogue = &shop.catalogue;
    let named = match (only, &requirement.need) {
        (Some(sku), _) | (None, Need::Item { sku }) => Some(sku),
        (None, _) => None,
    };
    if let Some(sku) = named {
        return catalogue.get(sku.as_str()).into_iter().cloned().collect();
    }
    let mut items = Vec::new();
    each_marked(&requirement.need, shop, &mut |item| {
        if misses(&requirement.need, item, &shop.settings.substitutes).none() {
            items.push(Arc::clone(item));
        }
    });
    items.sort_by(|a, b| a.sku.cmp(&b.sku));
    items
}

/// What is on the shelf while a job takes from it.
pub(super) struct Taking<'a> {
    shop: &'a Shop,
    day: NaiveDate,
    held: bool,
    loose: BTreeMap<&'a Name, Vec<(Spot, Decimal)>>,
    offcuts: Vec<&'a crate::shelf::Offcut>,
    /// What is left of sticks that were opened, by item.
    open_sticks: BTreeMap<Name, Vec<(Spot, Length)>>,
    pub(super) takes: Vec<Take>,
}

impl<'a> Taking<'a> {
    pub(super) fn new(shelf: &'a Shelf, shop: &'a Shop, day: NaiveDate) -> Self {
        let mut loose: BTreeMap<&Name, Vec<(Spot, Decimal)>> = BTreeMap::new();
        // With loose stock left alone only lengths that were left over are taken, unless all is held for the job already.
        if shop.settings.stock.use_stock_first || shelf.held {
            for one in shelf.loose.iter().filter(|one| one.quantity > Decimal::ZERO) {
                loose.entry(&one.sku).or_default().push((one.at.clone(), one.quantity));
            }
        }
        let mut offcuts: Vec<_> = shelf.offcuts.iter().collect();
        offcuts.sort_by(|a, b| a.length.cmp(&b.length).then_with(|| a.id.cmp(&b.id)));
        let (open_sticks, takes) = (BTreeMap::new(), Vec::new());
        Taking { shop, day, held: shelf.held, loose, offcuts, open_sticks, takes }
    }

    /// Takes what is counted for a requirement, and leaves the requirement with what is still to be bought. `chosen` are
    /// the items that would be bought for it without the shelf; `only` is a person's choice.
    pub(super) fn take(&mut self, requirement: &mut Requirement, chosen: &BTreeSet<Name>, only: Option<&Name>) {
        if requirement.unit != SellingUnit::Each {
            return;
        }
        let fitting = fitting(self.shop, requirement, only);
        for item in self.in_order(fitting, chosen) {
            let outstanding = requirement.quantity - requirement.customer_supplied;
            if outstanding <= Decimal::ZERO {
                break;
            }
            let met = match (&requirement.need, &item.attributes) {
                (Need::HeatShrink { piece_length, .. }, Attributes::HeatShrink { piece_length: stick, .. }) => {
                    let pieces = outstanding.ceil().to_i64().unwrap_or(0);
                    let lengths = piece_length.length().zip(stick.length());
                    let each = pieces_per_unit(*stick, *piece_length);
                    lengths
                        .map_or(0, |(piece, stick)| self.take_sticks(requirement, &item, (pieces, each, piece, stick)))
                        .into()
                }
                _ => self.take_counted(requirement, &item, outstanding),
            };
            // What the shelf gives need not be bought, like what the customer brings.
            requirement.customer_supplied += met;
        }
    }

    /// What it costs to put one selling unit of an item back.
    fn cost_to_replace(&self, item: &Item) -> Option<Decimal> {
        item.price_on(PriceKind::Cost, self.day, Decimal::ONE)?.amount.checked_div(item.buying_quantity)
    }

    /// The items to take counted things of: what would be bought first, then the cheapest to put back, as long as none
    /// of them costs more than that.
    fn in_order(&self, fitting: Vec<Arc<Item>>, chosen: &BTreeSet<Name>) -> Vec<Arc<Item>> {
        let costs = fitting.iter().map(|item| (chosen.contains(&item.sku), self.cost_to_replace(item)));
        let most = costs.filter(|(chosen, _)| *chosen).filter_map(|(_, cost)| cost).max();
        let worth = |item: &Arc<Item>| {
            let affordable = || match (most, self.cost_to_replace(item)) {
                (Some(most), Some(cost)) => cost <= most,
                // Where nothing can be bought, whatever fits is welcome.
                (None, _) => chosen.is_empty(),
                (Some(_), None) => false,
            };
            self.held || chosen.contains(&item.sku) || affordable()
        };
        let mut items: Vec<Arc<Item>> = fitting.into_iter().filter(worth).collect();
        items.sort_by_key(|item| {
            let cost = self.cost_to_replace(item);
            (!chosen.contains(&item.sku), cost.is_none(), cost, item.sku.clone())
        });
        items
    }

    /// Takes counted things, from one bin if one has enough (the emptiest of those), else from the fullest on.
    fn take_counted(&mut self, requirement: &Requirement, item: &Arc<Item>, mut wanted: Decimal) -> Decimal {
        let Some(bins) = self.loose.get_mut(&item.sku) else { return Decimal::ZERO };
        let enough = bins.iter().filter(|(_, there)| *there >= wanted);
        let best = enough.min_by(|a, b| a.1.cmp(&b.1).then_with(|| a.0.cmp(&b.0))).map(|(at, _)| at.clone());
        bins.sort_by(|a, b| {
            let is_best = |bin: &(Spot, Decimal)| best.as_ref() == Some(&bin.0);
            (is_best(b), b.1).cmp(&(is_best(a), a.1)).then_with(|| a.0.cmp(&b.0))
        });
        let mut met = Decimal::ZERO;
        for (at, there) in bins.iter_mut() {
            let quantity = wanted.min(*there);
            if quantity <= Decimal::ZERO {
                continue;
            }
            *there -= quantity;
            wanted -= quantity;
            met += quantity;
            let (item, at) = (Arc::clone(item), at.clone());
            self.takes.push(Take { item, at, quantity, meets: vec![requirement.key.clone()], length: None });
        }
        met
    }

    /// Takes sticks that pieces are cut from: what is left of opened ones first, then whole ones. How many pieces that
    /// gives.
    fn take_sticks(
        &mut self,
        requirement: &Requirement,
        item: &Arc<Item>,
        (wanted, each, piece, stick): (i64, i64, Length, Length),
    ) -> i64 {
        if each < 1 {
            return 0;
        }
        let mut left = wanted;
        for (_, remaining) in self.open_sticks.get_mut(&item.sku).into_iter().flatten() {
            let fit = (remaining.nanometres() / piece.nanometres()).min(left);
            *remaining = *remaining - piece * fit;
            left -= fit;
        }
        let before = self.takes.len();
        let sticks = Decimal::from(left / each + i64::from(left % each > 0));
        let opened = self.take_counted(requirement, item, sticks).floor().to_i64().unwrap_or(0);
        let from_whole = opened.saturating_mul(each).min(left);
        let rest = opened.saturating_mul(each) - from_whole;
        if rest > 0
            && let Some(last) = self.takes[before..].last()
        {
            let used = piece * (each - rest);
            self.open_sticks.entry(item.sku.clone()).or_default().push((last.at.clone(), stick - used));
        }
        wanted - left + from_whole
    }

    /// Lengths of fitting items that a requirement of length may be cut from: what was left over, and whole spools.
    pub(super) fn lengths(&self, requirement: &Requirement, only: Option<&Name>) -> Vec<ShelfLength> {
        // What pieces there are is only known where the cut list says it.
        if requirement.unit == SellingUnit::Each || requirement.pieces.is_empty() {
            return Vec::new();
        }
        let mut lengths = Vec::new();
        for item in fitting(self.shop, requirement, only) {
            for offcut in self.offcuts.iter().filter(|offcut| offcut.sku == item.sku) {
                let (item, at, id) = (Arc::clone(&item), offcut.at.clone(), Some(offcut.id.clone()));
                lengths.push(ShelfLength { item, at, offcut: id, length: offcut.length, there: 1 });
            }
            let Some(length) = unbroken(&item) else { continue };
            // The fullest bin stands last: what is nearly gone is used up first.
            let mut bins: Vec<&(Spot, Decimal)> = self.loose.get(&item.sku).into_iter().flatten().collect();
            bins.sort_by(|a, b| a.1.cmp(&b.1).then_with(|| a.0.cmp(&b.0)));
            for (at, quantity) in bins {
                let there = quantity.checked_div(item.buying_quantity).and_then(|count| count.floor().to_u32());
                let there = there.unwrap_or(0);
                if there > 0 {
                    let (item, at) = (Arc::clone(&item), at.clone());
                    lengths.push(ShelfLength { item, at, offcut: None, length, there });
                }
            }
        }
        lengths
    }
}

impl From<ShelfCut> for Take {
    fn from(cut: ShelfCut) -> Self {
        let ShelfCut { item, at, offcut, length, cuts, left, meets } = cut;
        let quantity = match offcut {
            Some(_) => length_quantity(length, sold_by(&item).unwrap_or(LengthUnit::Ft)).0,
            None => item.buying_quantity,
        };
        Take { item, at, quantity, meets, length: Some(TakenLength { offcut, length, cuts, left }) }
    }
}
