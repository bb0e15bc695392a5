//! What is on the shelf, as a value: what is counted of each item in each bin, and lengths that were left over. Where it
//! comes from, the shop's own rows or its inventory system, makes no difference to the calculation.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::{BuyingUnit, Item, SellingUnit};
use crate::units::{Length, LengthUnit, Name};

/// A bin, and the place that it is at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
pub struct Spot {
    /// Room, van or rack.
    #[schema(example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(example = "A-03")]
    pub bin: String,
}

/// What may be taken of one item from one bin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loose {
    /// The item.
    pub sku: Name,
    /// Where it lies.
    pub at: Spot,
    /// Selling units that may be taken; never negative.
    pub quantity: Decimal,
    /// Selling units that lie there: those that others hold are among them.
    pub on_hand: Decimal,
}

/// A length that was left over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offcut {
    /// Identifier.
    pub id: Name,
    /// The item that it is of.
    pub sku: Name,
    /// Where it lies.
    pub at: Spot,
    /// How long it is.
    pub length: Length,
    /// The unit that it was measured in.
    pub unit: LengthUnit,
}

/// Everything that a job may take.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shelf {
    /// Counted things, each item once in a bin.
    pub loose: Vec<Loose>,
    /// Lengths.
    pub offcuts: Vec<Offcut>,
    /// Whether all of it is held for the job already: then it is taken whatever it would cost to put back.
    pub held: bool,
}

impl Shelf {
    /// Whether nothing may be taken.
    pub fn is_empty(&self) -> bool {
        self.loose.iter().all(|loose| loose.quantity <= Decimal::ZERO) && self.offcuts.is_empty()
    }

    /// The items of which something may be taken.
    pub fn skus(&self) -> BTreeSet<Name> {
        let loose = self.loose.iter().filter(|loose| loose.quantity > Decimal::ZERO).map(|loose| loose.sku.clone());
        loose.chain(self.offcuts.iter().map(|offcut| offcut.sku.clone())).collect()
    }

    /// How much of each item may be taken in selling units, lengths left over aside.
    pub fn by_item(&self) -> BTreeMap<&Name, Decimal> {
        let mut sums: BTreeMap<&Name, Decimal> = BTreeMap::new();
        for loose in &self.loose {
            let sum = sums.entry(&loose.sku).or_default();
            *sum = sum.saturating_add(loose.quantity);
        }
        sums
    }
}

/// The unit of length that an item is sold by; none when it is sold by the piece.
pub fn sold_by(item: &Item) -> Option<LengthUnit> {
    match item.selling_unit {
        SellingUnit::Foot => Some(LengthUnit::Ft),
        SellingUnit::Metre => Some(LengthUnit::M),
        SellingUnit::Each => None,
    }
}

/// The unbroken length of one buying unit; none for an item that is sold by the piece or bought to measure.
pub fn unbroken(item: &Item) -> Option<Length> {
    use rust_decimal::prelude::ToPrimitive;
    if matches!(item.buying_unit, BuyingUnit::Foot | BuyingUnit::Metre) {
        return None;
    }
    let nanometres = item.buying_quantity.checked_mul(Decimal::from(sold_by(item)?.nanometres()))?;
    nanometres.round().to_i64().filter(|nm| *nm > 0).map(Length::from_nanometres)
}
