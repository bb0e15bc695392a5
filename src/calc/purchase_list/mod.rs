//! What is bought for a job once the shelf has given what it has, by supplier, and what is taken from which bin.
//!
//! Neither is a part of the quote: its price must not depend on what lies on the shelf. Both follow from the requirements
//! that its document froze, from the catalogue and its prices as they stand, and from the shelf as it is.

mod pick;
mod taking;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use iso_currency::Currency;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

pub use pick::{Awaited, PickBin, PickLine, PickList};
pub use taking::{Take, TakenLength};

use crate::findings::{Gap, Warning};
use crate::money::{AmountTooLarge, Money};
use crate::purchase::{Beside, Chosen, Pick, choose, choose_beside};
use crate::quote::{PlannedCut, StockUse};
use crate::requirements::Requirement;
use crate::shelf::{Shelf, Spot};
use crate::shop::Shop;
use crate::shop::item::{BuyingUnit, SellingUnit, is_one};
use crate::spec::input::OverruleInput;
use crate::units::{LengthUnit, LengthValue, Name};

/// A job that things are bought for.
#[derive(Clone, Debug)]
pub struct Job {
    /// What it needs.
    pub requirements: Vec<Requirement>,
    /// Items that a person chose.
    pub overrules: Vec<OverruleInput>,
    /// Requirements that a person priced by hand in place of a gap: no item is looked for.
    pub by_hand: BTreeSet<Name>,
}

/// What is taken from the shelf and what is bought for a job.
#[derive(Clone, Debug)]
pub struct Procurement {
    /// What is taken, in order of item, place and bin.
    pub takes: Vec<Take>,
    /// What is bought.
    pub chosen: Chosen,
    /// Who needs what: the users of each requirement.
    used_by: BTreeMap<Name, Vec<Name>>,
}

/// The most that is told of a cost that cannot be reckoned: nothing compares as less.
fn cost(chosen: &Chosen) -> (usize, Decimal) {
    let sum = chosen.picks.iter().try_fold(Decimal::ZERO, |sum, pick| sum.checked_add(pick.order.cost));
    (chosen.gaps.len(), sum.unwrap_or(Decimal::MAX))
}

/// Takes for a job what the shelf has, and chooses what to buy of the rest at the cost prices of a day.
///
/// What is there costs nothing. Lengths are planned together with what is bought; what is counted is taken first, and the
/// shelf is left alone where that makes the rest dearer, unless all of it is held for the job.
pub fn procure(job: &Job, shop: &Shop, shelf: &Shelf, day: NaiveDate) -> Procurement {
    let Job { requirements, overrules, by_hand } = job;
    let mut requirements: Vec<Requirement> =
        requirements.iter().filter(|requirement| !by_hand.contains(&requirement.key)).cloned().collect();
    requirements.sort_by(|a, b| a.key.cmp(&b.key));
    let used_by = requirements.iter().map(|needed| (needed.key.clone(), needed.used_by.clone())).collect();
    // An overrule of what is done by hand has nothing left to stand for.
    let overrules: Vec<OverruleInput> =
        overrules.iter().filter(|overrule| !names(overrule, by_hand)).cloned().collect();
    let bought = choose(&requirements, shop, day, &overrules);
    if shelf.is_empty() {
        return Procurement { takes: Vec::new(), chosen: bought, used_by };
    }
    let mut chosen_for: BTreeMap<&Name, BTreeSet<Name>> = BTreeMap::new();
    for pick in &bought.picks {
        for key in &pick.meets {
            chosen_for.entry(key).or_default().insert(pick.item.sku.clone());
        }
    }
    let mut taking = taking::Taking::new(shelf, shop, day);
    let mut rest = requirements;
    for requirement in &mut rest {
        let only = chosen_by_hand(&overrules, &requirement.key);
        let chosen = chosen_for.get(&requirement.key).cloned().unwrap_or_default();
        taking.take(requirement, &chosen, only);
    }
    let mut beside = Beside { there: shelf.skus(), ..Beside::default() };
    for requirement in &rest {
        let lengths = taking.lengths(requirement, chosen_by_hand(&overrules, &requirement.key));
        beside.lengths.insert(requirement.key.clone(), lengths);
    }
    let mut takes = taking.takes;
    let mut chosen = choose_beside(&rest, shop, day, &overrules, &beside);
    takes.extend(std::mem::take(&mut chosen.from_shelf).into_iter().map(Take::from));
    if !shelf.held && cost(&chosen) > cost(&bought) {
        return Procurement { takes: Vec::new(), chosen: bought, used_by };
    }
    takes.sort_by(|a, b| {
        let key = |take: &Take| {
            let offcut = take.length.as_ref().map(|length| length.offcut.clone());
            (take.item.sku.clone(), take.at.clone(), take.meets.clone(), offcut)
        };
        key(a).cmp(&key(b))
    });
    Procurement { takes, chosen, used_by }
}

/// Items that something may be taken of for a job, in order of sku.
pub fn of_interest(job: &Job, shop: &Shop) -> BTreeSet<Name> {
    let Job { requirements, overrules, by_hand } = job;
    let mut skus = BTreeSet::new();
    for requirement in requirements.iter().filter(|requirement| !by_hand.contains(&requirement.key)) {
        let only = chosen_by_hand(overrules, &requirement.key);
        skus.extend(taking::fitting(shop, requirement, only).into_iter().map(|item| item.sku.clone()));
    }
    skus
}

/// The item that a person chose for a requirement.
fn chosen_by_hand<'a>(overrules: &'a [OverruleInput], key: &Name) -> Option<&'a Name> {
    overrules.iter().find_map(|overrule| match overrule {
        OverruleInput::Item { requirement, sku, .. } if requirement == key => Some(sku),
        _ => None,
    })
}

fn names(overrule: &OverruleInput, keys: &BTreeSet<Name>) -> bool {
    matches!(overrule, OverruleInput::Item { requirement, .. } if keys.contains(requirement))
}

/// Where it was read what is on the shelf. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StockSourceState {
    /// In the counts and lengths that are kept here.
    KeptHere,
    /// In the shop's inventory system, which answered.
    Answered,
    /// In the shop's inventory system, which did not: what it would have said counts as nothing on hand.
    Failed,
}

/// Where it was read what is on the shelf, and what came of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StockSource {
    /// Where, and whether it answered.
    pub state: StockSourceState,
    /// What went wrong, where it did not; or what the quote holds, where only that may be taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub said: Option<String>,
}

/// What is taken from a bin.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ShelfUse {
    /// Room, van or rack.
    pub place: String,
    /// Bin, drawer or peg there.
    pub bin: String,
    /// Selling units that leave it.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// Which length that was left over, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub offcut: Option<Name>,
    /// How long it is, for an unbroken length.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length: Option<LengthValue>,
    /// Cuts in order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cuts: Vec<PlannedCut>,
    /// What is left of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left: Option<LengthValue>,
}

/// One item that is taken from the shelf.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ShelfLine {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it is.
    pub description: String,
    /// Requirements it meets.
    #[schema(value_type = Vec<String>)]
    pub meets: Vec<Name>,
    /// Selling units of it that could be taken, lengths left over aside.
    #[schema(value_type = String)]
    pub on_hand: Decimal,
    /// Selling units of it that are taken.
    #[schema(value_type = String)]
    pub taken: Decimal,
    /// The unit.
    pub unit: SellingUnit,
    /// UN/ECE Recommendation 20 code of the unit.
    #[schema(example = "EA")]
    pub unit_code: &'static str,
    /// From which bins.
    pub from: Vec<ShelfUse>,
}

/// One item that is bought.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PurchaseLine {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it is.
    pub description: String,
    /// Requirements it meets.
    #[schema(value_type = Vec<String>)]
    pub meets: Vec<Name>,
    /// Selling units of it that are taken from the shelf beside.
    #[schema(value_type = String)]
    pub from_shelf: Decimal,
    /// Selling units of what is bought that the job uses.
    #[schema(value_type = String)]
    pub used: Decimal,
    /// The unit that it is used in.
    pub unit: SellingUnit,
    /// How many buying units to order.
    pub buy: u64,
    /// Buying unit.
    pub buying_unit: BuyingUnit,
    /// UN/ECE Recommendation 20 code of the buying unit.
    #[schema(example = "XPK")]
    pub buying_unit_code: &'static str,
    /// Selling units in one: what is bought comes in multiples of it.
    #[schema(value_type = String)]
    pub buying_quantity: Decimal,
    /// Least number of buying units in an order.
    #[serde(skip_serializing_if = "is_one")]
    pub minimum_order: u32,
    /// Buying units are ordered in multiples of this number.
    #[serde(skip_serializing_if = "is_one")]
    pub order_multiple: u32,
    /// Cost of one buying unit.
    #[schema(value_type = String)]
    pub unit_cost: Decimal,
    /// Cost of what is ordered.
    pub cost: Money,
    /// Days from order to shelf.
    pub lead_time_days: u16,
    /// How each stock length that is bought is cut, for wire.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stock: Vec<StockUse>,
}

/// What is ordered from one supplier.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct SupplierOrder {
    /// Supplier; absent for what the catalogue names none of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supplier: Option<String>,
    /// What is ordered, in order of sku.
    pub lines: Vec<PurchaseLine>,
    /// Cost of all of it, freight aside.
    pub cost: Money,
    /// Longest lead time of it, days.
    pub lead_time_days: u16,
    /// Day by which all of it is here.
    pub here_on: NaiveDate,
}

/// What is bought for a quote, by supplier, as the shelf and the catalogue stand.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PurchaseList {
    /// Name of the boat or job.
    pub name: String,
    /// Currency, ISO 4217.
    pub currency: String,
    /// Day on which it is ordered: its cost prices hold.
    pub ordered_on: NaiveDate,
    /// Where it was read what is on the shelf.
    pub stock_source: StockSource,
    /// What is ordered, by supplier in order of name; what has none stands last.
    pub suppliers: Vec<SupplierOrder>,
    /// Cost of everything that is ordered, freight aside.
    pub cost: Money,
    /// Longest lead time of what is ordered, days.
    pub lead_time_days: u16,
    /// Day by which all is here.
    pub all_here_on: NaiveDate,
    /// What is taken from the shelf, in order of sku.
    pub from_shelf: Vec<ShelfLine>,
    /// What can neither be taken nor bought as the catalogue stands.
    pub gaps: Vec<Gap>,
    /// What a person sees to: it was priced by hand in place of a gap.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub by_hand: Vec<Name>,
    /// What to look at.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<Warning>,
}

/// What of a list stands outside the calculation.
#[derive(Clone, Debug)]
pub struct Heading {
    /// Name of the boat or job.
    pub name: String,
    /// Day on which it is ordered.
    pub day: NaiveDate,
    /// Where it was read what is on the shelf.
    pub source: StockSource,
    /// What to look at beside what the calculation finds.
    pub warnings: Vec<Warning>,
}

/// The day so many days later.
fn later(day: NaiveDate, days: u16) -> NaiveDate {
    day.checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX)
}

impl Procurement {
    /// The purchase list.
    ///
    /// # Errors
    /// When an amount is too large to hold.
    pub fn purchase_list(
        self,
        job: &Job,
        shelf: &Shelf,
        heading: Heading,
        currency: Currency,
        unit: LengthUnit,
    ) -> Result<PurchaseList, AmountTooLarge> {
        let Heading { name, day, source, mut warnings } = heading;
        let from_shelf = shelf_lines(&self.takes, shelf, unit);
        let taken: BTreeMap<&Name, Decimal> = from_shelf.iter().map(|line| (&line.sku, line.taken)).collect();
        let mut by_supplier: BTreeMap<(bool, Option<String>), Vec<PurchaseLine>> = BTreeMap::new();
        for pick in &self.chosen.picks {
            let line = purchase_line(pick, taken.get(&pick.item.sku).copied().unwrap_or_default(), currency)?;
            let supplier = pick.item.supplier.clone().filter(|name| !name.is_empty());
            by_supplier.entry((supplier.is_none(), supplier)).or_default().push(line);
        }
        let mut suppliers = Vec::with_capacity(by_supplier.len());
        for ((_, supplier), lines) in by_supplier {
            let cost = lines.iter().try_fold(Money::zero(currency), |sum, line| sum.plus(line.cost))?;
            let lead_time_days = lines.iter().map(|line| line.lead_time_days).max().unwrap_or(0);
            suppliers.push(SupplierOrder {
                supplier,
                lines,
                cost,
                lead_time_days,
                here_on: later(day, lead_time_days),
            });
        }
        let cost = suppliers.iter().try_fold(Money::zero(currency), |sum, order| sum.plus(order.cost))?;
        let lead_time_days = suppliers.iter().map(|order| order.lead_time_days).max().unwrap_or(0);
        warnings.extend(self.chosen.warnings);
        // What was chosen by hand and can no longer stand is bought as if it had not been.
        warnings.extend(self.chosen.faults.into_iter().map(|fault| Warning {
            about: Name::from(fault.pointer),
            message: format!("a choice of the quote no longer stands: {}", fault.message),
        }));
        Ok(PurchaseList {
            name,
            currency: currency.code().to_owned(),
            ordered_on: day,
            stock_source: source,
            suppliers,
            cost,
            lead_time_days,
            all_here_on: later(day, lead_time_days),
            from_shelf,
            gaps: self.chosen.gaps,
            by_hand: job.by_hand.iter().cloned().collect(),
            warnings,
        })
    }
}

fn purchase_line(pick: &Pick, from_shelf: Decimal, currency: Currency) -> Result<PurchaseLine, AmountTooLarge> {
    let item = &pick.item;
    Ok(PurchaseLine {
        sku: item.sku.clone(),
        description: item.description.clone(),
        meets: pick.meets.clone(),
        from_shelf: from_shelf.normalize(),
        used: pick.used.normalize(),
        unit: item.selling_unit,
        buy: pick.order.count,
        buying_unit: item.buying_unit,
        buying_unit_code: item.buying_unit.unece_code(),
        buying_quantity: item.buying_quantity.normalize(),
        minimum_order: item.minimum_order,
        order_multiple: item.order_multiple,
        unit_cost: pick.order.unit_cost.normalize(),
        cost: Money::rounded(pick.order.cost, currency)?,
        lead_time_days: item.lead_time_days,
        stock: pick.stock.clone(),
    })
}

fn shelf_use(take: &Take, unit: LengthUnit) -> ShelfUse {
    let Take { at: Spot { place, bin }, quantity, length, .. } = take.clone();
    let (offcut, cuts, ends) = match length {
        Some(TakenLength { offcut, length, cuts, left }) => (offcut, cuts, Some((length, left))),
        None => (None, Vec::new(), None),
    };
    ShelfUse {
        place,
        bin,
        quantity: quantity.normalize(),
        offcut,
        length: ends.map(|(length, _)| length.written(unit)),
        cuts,
        left: ends.map(|(_, left)| left.written(unit)),
    }
}

/// What is taken, each item once; counted things of one bin are one entry, whatever they are for.
fn shelf_lines(takes: &[Take], shelf: &Shelf, unit: LengthUnit) -> Vec<ShelfLine> {
    let on_hand = shelf.by_item();
    let mut lines: Vec<ShelfLine> = Vec::new();
    for take in takes {
        let item = &take.item;
        if lines.last().is_none_or(|line| line.sku != item.sku) {
            lines.push(ShelfLine {
                sku: item.sku.clone(),
                description: item.description.clone(),
                meets: Vec::new(),
                on_hand: on_hand.get(&item.sku).copied().unwrap_or_default().normalize(),
                taken: Decimal::ZERO,
                unit: item.selling_unit,
                unit_code: item.selling_unit.unece_code(),
                from: Vec::new(),
            });
        }
        let Some(line) = lines.last_mut() else { continue };
        line.taken = (line.taken + take.quantity).normalize();
        line.meets.extend(take.meets.iter().cloned());
        let used = shelf_use(take, unit);
        let same = |other: &&mut ShelfUse| {
            used.length.is_none() && other.length.is_none() && (&other.place, &other.bin) == (&used.place, &used.bin)
        };
        match line.from.iter_mut().find(same) {
            Some(there) => there.quantity = (there.quantity + used.quantity).normalize(),
            None => line.from.push(used),
        }
    }
    for line in &mut lines {
        line.meets.sort();
        line.meets.dedup();
    }
    lines
}
