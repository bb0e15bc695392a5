//! The pick list: what is taken from which bin and for what, and what is still to come. Nothing of cost or of suppliers.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use super::{Heading, Procurement, ShelfUse, StockSource, Take, later, shelf_use};
use crate::findings::Warning;
use crate::quote::PlannedCut;
use crate::shelf::Spot;
use crate::shop::item::SellingUnit;
use crate::units::{LengthUnit, LengthValue, Name};

/// One thing to take from a bin.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PickLine {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it is.
    pub description: String,
    /// Selling units to take.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// The unit.
    pub unit: SellingUnit,
    /// Circuits, feeders or pieces of equipment that it is for, where that is known.
    #[serde(rename = "for", skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub used_by: Vec<Name>,
    /// Which length that was left over, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub offcut: Option<Name>,
    /// How long it is, for an unbroken length.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length: Option<LengthValue>,
    /// Cuts in order, each with the label of what it becomes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cuts: Vec<PlannedCut>,
    /// What is left of it, to be put back and recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<LengthValue>,
}

/// What is taken from one bin.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PickBin {
    /// Room, van or rack.
    #[schema(example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(example = "A-03")]
    pub bin: String,
    /// What to take, in order of sku.
    pub lines: Vec<PickLine>,
}

/// Something that is not on the shelf and has to come.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Awaited {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it is.
    pub description: String,
    /// Selling units of it that the job uses.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// The unit.
    pub unit: SellingUnit,
    /// Circuits, feeders or pieces of equipment that it is for, where that is known.
    #[serde(rename = "for", skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub used_by: Vec<Name>,
    /// Cuts, each with the label of what it becomes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cuts: Vec<PlannedCut>,
    /// Day by which it is here, when it is ordered on the day of the list.
    pub here_on: NaiveDate,
}

/// What is taken from the shelf for a quote, by place and bin.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PickList {
    /// Name of the boat or job.
    pub name: String,
    /// Where it was read what is on the shelf.
    pub stock_source: StockSource,
    /// What to take, in order of place and bin.
    pub bins: Vec<PickBin>,
    /// What is not there and has to come, in order of sku.
    pub awaited: Vec<Awaited>,
    /// Requirements that can neither be taken nor bought as the catalogue stands, or that a person sees to.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub missing: Vec<Name>,
    /// What to look at.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<Warning>,
}

impl Procurement {
    /// Users of some requirements, each once, in order.
    fn users<'a>(&self, keys: impl Iterator<Item = &'a Name>) -> Vec<Name> {
        let users: BTreeSet<&Name> = keys.filter_map(|key| self.used_by.get(key)).flatten().collect();
        users.into_iter().cloned().collect()
    }

    /// The pick list.
    pub fn pick_list(&self, by_hand: &BTreeSet<Name>, heading: Heading, unit: LengthUnit) -> PickList {
        let Heading { name, day, source, warnings } = heading;
        let mut bins: BTreeMap<&Spot, Vec<PickLine>> = BTreeMap::new();
        for take in &self.takes {
            let lines = bins.entry(&take.at).or_default();
            let line = self.pick_line(take, unit);
            // Counted things of one bin are one line, whatever they are for.
            let same = |other: &&mut PickLine| line.length.is_none() && other.length.is_none() && other.sku == line.sku;
            match lines.iter_mut().find(same) {
                Some(there) => {
                    there.quantity = (there.quantity + line.quantity).normalize();
                    let both: BTreeSet<Name> = there.used_by.drain(..).chain(line.used_by).collect();
                    there.used_by = both.into_iter().collect();
                }
                None => lines.push(line),
            }
        }
        let bin = |(at, lines): (&Spot, Vec<PickLine>)| PickBin { place: at.place.clone(), bin: at.bin.clone(), lines };
        let awaited = self.chosen.picks.iter().map(|pick| Awaited {
            sku: pick.item.sku.clone(),
            description: pick.item.description.clone(),
            quantity: pick.used.normalize(),
            unit: pick.item.selling_unit,
            used_by: self.users(pick.meets.iter()),
            cuts: pick.stock.iter().flat_map(|stock| stock.cuts.iter().cloned()).collect(),
            here_on: later(day, pick.item.lead_time_days),
        });
        let missing: BTreeSet<&Name> = self.chosen.gaps.iter().map(|gap| &gap.what).chain(by_hand).collect();
        PickList {
            name,
            stock_source: source,
            bins: bins.into_iter().map(bin).collect(),
            awaited: awaited.collect(),
            missing: missing.into_iter().cloned().collect(),
            warnings,
        }
    }

    fn pick_line(&self, take: &Take, unit: LengthUnit) -> PickLine {
        let ShelfUse { place: _, bin: _, quantity, offcut, length, cuts, left } = shelf_use(take, unit);
        PickLine {
            sku: take.item.sku.clone(),
            description: take.item.description.clone(),
            quantity,
            unit: take.item.selling_unit,
            used_by: self.users(take.meets.iter()),
            offcut,
            length,
            cuts,
            left,
        }
    }
}
