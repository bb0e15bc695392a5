//! What a job takes from the shelf before anything is bought for it.
//!
//! Counted things come from the item that would be bought, else from one that costs no more to put back. Wire and cable
//! come from what was left over, the shortest length that holds a piece first, then from whole spools. That is a good
//! choice, not a proof that none is better: the list is made without the shelf where that is cheaper.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::purchase::matching::{attribute_misses, kind_of, may_fit, pieces_per_unit};
use crate::quote::PlannedCut;
use crate::requirements::{Need, Piece, Requirement, length_quantity};
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
    /// Requirement that it meets, wholly or in part.
    pub meets: Name,
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
    match (named, kind_of(&requirement.need)) {
        (Some(sku), _) => catalogue.get(sku.as_str()).into_iter().cloned().collect(),
        (None, Some(kind)) => {
            let fits = |item: &&Arc<Item>| {
                may_fit(&requirement.need, item) && attribute_misses(&requirement.need, item).none()
            };
            catalogue.of_kind(kind).filter(fits).cloned().collect()
        }
        (None, None) => Vec::new(),
    }
}

/// What is on the shelf while a job takes from it.
pub(super) struct Taking<'a> {
    shop: &'a Shop,
    day: NaiveDate,
    held: bool,
    loose: BTreeMap<&'a Name, Vec<(Spot, Decimal)>>,
    offcuts: Vec<&'a crate::shelf::Offcut>,
    gone: BTreeSet<&'a Name>,
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
        let (gone, open_sticks, takes) = (BTreeSet::new(), BTreeMap::new(), Vec::new());
        Taking { shop, day, held: shelf.held, loose, offcuts, gone, open_sticks, takes }
    }

    /// Takes what there is for a requirement, and leaves the requirement with what is still to be bought. `chosen` are
    /// the items that would be bought for it without the shelf; `only` is a person's choice.
    pub(super) fn take(&mut self, requirement: &mut Requirement, chosen: &BTreeSet<Name>, only: Option<&Name>) {
        let fitting = fitting(self.shop, requirement, only);
        if requirement.unit != SellingUnit::Each {
            self.take_lengths(requirement, &fitting);
            return;
        }
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
            self.takes.push(Take { item, at, quantity, meets: requirement.key.clone(), length: None });
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

    /// Takes lengths for the pieces of a requirement, and leaves it with the pieces that are still to be bought.
    fn take_lengths(&mut self, requirement: &mut Requirement, fitting: &[Arc<Item>]) {
        // Wire that the customer brings is taken off by length, which says nothing of which pieces are left.
        if requirement.customer_supplied > Decimal::ZERO || requirement.pieces.is_empty() {
            return;
        }
        let by_sku: BTreeMap<&Name, &Arc<Item>> = fitting.iter().map(|item| (&item.sku, item)).collect();
        let mut bars = self.bars(&by_sku);
        let mut spools = self.spools(&by_sku);
        let mut pieces = std::mem::take(&mut requirement.pieces);
        pieces.sort_by(|a, b| Reverse(a.cut).cmp(&Reverse(b.cut)).then_with(|| a.label.cmp(&b.label)));
        let mut bought = Vec::new();
        for piece in pieces {
            let tightest =
                bars.iter_mut().filter(|bar| piece.cut <= bar.left && !bar.is_spool()).min_by_key(|bar| bar.left);
            let place = match tightest {
                Some(bar) => Some(bar),
                None => {
                    if !bars.iter().any(|bar| bar.is_spool() && piece.cut <= bar.left) {
                        bars.extend(open(&mut spools, piece.cut));
                    }
                    let opened = bars.iter_mut().filter(|bar| bar.is_spool() && piece.cut <= bar.left);
                    opened.min_by_key(|bar| bar.left)
                }
            };
            match place {
                Some(bar) => {
                    bar.left = bar.left - piece.cut;
                    bar.cuts.push(piece);
                }
                None => bought.push(piece),
            }
        }
        for bar in bars.into_iter().filter(|bar| !bar.cuts.is_empty()) {
            self.gone.extend(bar.offcut);
            let unit = self.shop.settings.length_unit;
            let quantity = match bar.offcut {
                Some(_) => length_quantity(bar.length, sold_by(&bar.item).unwrap_or(LengthUnit::Ft)).0,
                None => bar.item.buying_quantity,
            };
            if bar.offcut.is_none() {
                self.take_whole(&bar);
            }
            let cut = |Piece { label, cut }: Piece| PlannedCut { label, length: cut.written(unit) };
            let length = TakenLength {
                offcut: bar.offcut.cloned(),
                length: bar.length,
                cuts: bar.cuts.into_iter().map(cut).collect(),
                left: bar.left,
            };
            let meets = requirement.key.clone();
            self.takes.push(Take { item: bar.item, at: bar.at, quantity, meets, length: Some(length) });
        }
        bought.sort_by(|a, b| a.label.cmp(&b.label).then(a.cut.cmp(&b.cut)));
        let per = match requirement.unit {
            SellingUnit::Metre => LengthUnit::M,
            SellingUnit::Foot | SellingUnit::Each => LengthUnit::Ft,
        };
        requirement.quantity = length_quantity(bought.iter().map(|piece| piece.cut).sum(), per).0;
        requirement.pieces = bought;
    }

    /// Lengths that were left over of fitting items and lie there still.
    fn bars(&self, by_sku: &BTreeMap<&Name, &Arc<Item>>) -> Vec<Bar<'a>> {
        let free = self.offcuts.iter().filter(|offcut| !self.gone.contains(&offcut.id));
        free.filter_map(|offcut| {
            let item = Arc::clone(by_sku.get(&offcut.sku)?);
            let (at, length) = (offcut.at.clone(), offcut.length);
            Some(Bar { item, at, offcut: Some(&offcut.id), length, left: length, cuts: Vec::new() })
        })
        .collect()
    }

    /// Whole spools of fitting items, the shortest first, with how many of them lie in each bin.
    fn spools(&self, by_sku: &BTreeMap<&Name, &Arc<Item>>) -> Vec<Spools> {
        let mut spools = Vec::new();
        for item in by_sku.values() {
            let Some(length) = unbroken(item) else { continue };
            for (at, there) in self.loose.get(&item.sku).into_iter().flatten() {
                let count =
                    there.checked_div(item.buying_quantity).and_then(|count| count.floor().to_u64()).unwrap_or(0);
                spools.push(Spools { item: Arc::clone(item), at: at.clone(), length, count });
            }
        }
        spools.sort_by(|a, b| (a.length, &a.item.sku, a.count, &a.at).cmp(&(b.length, &b.item.sku, b.count, &b.at)));
        spools
    }

    fn take_whole(&mut self, bar: &Bar<'_>) {
        let bins = self.loose.get_mut(&bar.item.sku).into_iter().flatten();
        for (_, there) in bins.filter(|(at, _)| *at == bar.at) {
            *there -= bar.item.buying_quantity;
        }
    }
}

/// An unbroken length that pieces are cut from.
struct Bar<'a> {
    item: Arc<Item>,
    at: Spot,
    offcut: Option<&'a Name>,
    length: Length,
    left: Length,
    cuts: Vec<Piece>,
}

impl Bar<'_> {
    fn is_spool(&self) -> bool {
        self.offcut.is_none()
    }
}

/// Whole spools in a bin.
struct Spools {
    item: Arc<Item>,
    at: Spot,
    length: Length,
    count: u64,
}

/// Opens the shortest spool that holds a piece.
fn open<'a>(spools: &mut [Spools], cut: Length) -> Option<Bar<'a>> {
    let spool = spools.iter_mut().find(|spool| spool.count > 0 && cut <= spool.length)?;
    spool.count -= 1;
    let (item, at, length) = (Arc::clone(&spool.item), spool.at.clone(), spool.length);
    Some(Bar { item, at, offcut: None, length, left: length, cuts: Vec::new() })
}
