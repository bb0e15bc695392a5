//! The immutable result: a priced quote, in two documents. What the front desk may read holds no cost; what the
//! owner may read beside it does.

mod considered;

pub use considered::{Considered, ConsideredItem, ConsideredSize, RefusedItem};

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::basis::Basis;
use crate::findings::Gap;
use crate::money::Money;
use crate::requirements::Substitution;
use crate::shop::item::BuyingUnit;
use crate::shop::settings::{Charge, PriceFrom, TaxTreatment};
use crate::take_off::TakeOff;
use crate::units::{LengthValue, Name};
use chrono::NaiveDate;

/// Version of the document's schema: counts up when a field changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 1;
/// Edition of the calculation: counts up when the same input may give another figure.
pub const ENGINE_EDITION: &str = "1";
/// Edition of the published tables that the calculation carries.
pub const SOURCES_EDITION: &str = "2026-11";

/// Where a line comes from. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LineKind {
    /// An item of the catalogue.
    Item,
    /// Labour.
    Labour,
    /// Allowance for the unknown.
    Allowance,
    /// Shop supplies.
    ShopSupplies,
    /// A line that a person priced in place of a gap.
    Manual,
    /// A line that a person wrote.
    Extra,
}

/// One priced line.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Line {
    /// Number of the line, from 1.
    pub number: u32,
    /// Where it comes from.
    pub kind: LineKind,
    /// Item, for an item line.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sku: Option<Name>,
    /// What it is.
    pub description: String,
    /// Price category, for an item line.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub category: Option<Name>,
    /// Quantity charged.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// Unit of the quantity, as printed.
    pub unit: String,
    /// UN/ECE Recommendation 20 code of the unit.
    pub unit_code: String,
    /// Price of one unit, unrounded.
    #[schema(value_type = String)]
    pub unit_price: Decimal,
    /// Quantity times unit price, rounded to the minor unit.
    pub net: Money,
    /// Tax class.
    #[schema(value_type = String)]
    pub tax_class: Name,
    /// Keys of the requirements it meets.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub meets: Vec<Name>,
}

/// Tax of one treatment and rate: classes that are treated alike at one rate are taxed together (EN 16931 BR-S-08).
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct TaxSubtotal {
    /// Tax classes of its lines, in the order of the shop's settings.
    #[schema(value_type = Vec<String>)]
    pub tax_classes: Vec<Name>,
    /// As printed: the names of the classes.
    pub name: String,
    /// How it is treated.
    pub treatment: TaxTreatment,
    /// Rate, percent.
    #[schema(value_type = String)]
    pub rate_percent: Decimal,
    /// Sum of its lines.
    pub lines_net: Money,
    /// Its share of the discount (BT-92).
    pub discount: Money,
    /// Freight that is taxed so (BT-99); absent without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freight: Option<Money>,
    /// What is taxed: its lines less its share of the discount, plus freight (BT-116).
    pub taxable: Money,
    /// Tax, rounded (EN 16931 BR-CO-17).
    pub tax: Money,
}

/// Totals by the arithmetic of EN 16931.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Totals {
    /// Currency, ISO 4217.
    pub currency: String,
    /// Sum of the lines (BT-106).
    pub lines_net: Money,
    /// Discount on the document (BT-107).
    pub discount: Money,
    /// Freight, the only charge on the document (BT-108); absent without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freight: Option<Money>,
    /// Total without tax: lines less discount plus freight (BT-109).
    pub net: Money,
    /// Tax by treatment and rate.
    pub tax_by_class: Vec<TaxSubtotal>,
    /// Total tax (BT-110).
    pub tax: Money,
    /// Total with tax (BT-112); absent while a gap stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub total: Option<Money>,
    /// What is priced so far, tax included; present only while a gap stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub priced_subtotal: Option<Money>,
    /// Whether a gap stands.
    pub incomplete: bool,
}

/// Why a customer pays no tax: what is taxed otherwise is then exempt (EN 16931, category E, which needs a reason by
/// BR-E-10).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TaxExemption {
    /// Reference of the certificate that the customer has shown.
    #[schema(min_length = 1, max_length = 100, example = "RC-2026-118")]
    pub certificate: String,
    /// Why, as it is printed.
    #[schema(min_length = 1, max_length = 200, example = "For resale")]
    pub reason: String,
}

/// The price level that a quote was made at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct QuotedLevel {
    /// Its code.
    #[schema(value_type = String, example = "trade")]
    pub code: Name,
    /// As printed.
    #[schema(example = "Trade")]
    pub name: String,
}

/// Freight on the whole quote (EN 16931 BG-21).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct FreightCharge {
    /// What it comes to without tax (BT-99).
    pub amount: Money,
    /// Its tax class.
    #[schema(value_type = String)]
    pub tax_class: Name,
    /// What it is, as printed (BT-104).
    #[schema(example = "Freight, 2.5 % of the goods")]
    pub reason: String,
    /// UNTDID 7161 code of that (BT-105).
    #[schema(example = "FC")]
    pub reason_code: String,
}

/// What the customer pays ahead.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Deposit {
    /// Special orders with their tax, in full.
    pub special_orders: Money,
    /// Share of the rest that is paid ahead, percent.
    #[schema(value_type = String)]
    pub share_percent: Decimal,
    /// That share of the rest of the total.
    pub share: Money,
    /// Both together.
    pub total: Money,
}

/// Something the job needs that this quote leaves out, as a person decided and the customer reads.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Exclusion {
    /// The gap that it was: a requirement's key, or a circuit's; `answer/` and the question where it was declined.
    #[schema(value_type = String)]
    pub gap: Name,
    /// The need in plain words.
    pub need: String,
    /// Why it is left out.
    pub reason: String,
}

/// What a document says once it was issued.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct IssueFacts {
    /// Number of the quote; its revisions share it.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// Day on which it was issued, in the shop's time zone.
    pub issued_on: NaiveDate,
}

/// What the customer may add to the quote.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuotedOption {
    /// Identifier; whoever accepts names the options by it.
    #[schema(value_type = String, example = "radar")]
    pub id: Name,
    /// What it is, as the customer reads it.
    pub title: String,
    /// What it holds, as the customer reads it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub description: Option<String>,
    /// Options that it cannot go along with.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub excludes: Vec<Name>,
    /// What it adds to the total without tax when it is chosen alone; absent while a gap stands in either.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub net_difference: Option<Money>,
    /// What it adds to the total with tax when it is chosen alone; absent while a gap stands in either.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub total_difference: Option<Money>,
}

/// A set of options that can be chosen together, and what the whole quote comes to with it: calculated as a quote of its
/// own, since two options together seldom cost what they cost apart.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuotedChoice {
    /// Its options by identifier, in the order of the quote's options; none is the quote as it stands here.
    #[schema(value_type = Vec<String>)]
    pub options: Vec<Name>,
    /// Total without tax; of what is priced so far, while a gap stands.
    pub net: Money,
    /// Total tax; of what is priced so far, while a gap stands.
    pub tax: Money,
    /// Total with tax; absent while a gap stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub total: Option<Money>,
    /// What is paid ahead; absent while a gap stands, and where nothing is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deposit: Option<Money>,
    /// Whether a gap stands in it.
    pub incomplete: bool,
    /// Gaps that stand in it and not in the quote without options.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub gaps: Vec<Gap>,
    /// Longest lead time of any item, days.
    pub lead_time_days: u16,
}

/// An option that this document has in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ChosenOption {
    /// Identifier.
    #[schema(value_type = String, example = "radar")]
    pub id: Name,
    /// What it is.
    pub title: String,
}

/// A priced quote as the shop reads it: nothing of cost.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuoteDocument {
    /// Version of this document's schema.
    pub schema_version: u32,
    /// Edition of the calculation.
    pub engine_edition: &'static str,
    /// Edition of the published tables.
    pub sources_edition: &'static str,
    /// Version of the catalogue and shop tables that was read.
    pub catalogue_version: i64,
    /// Shop's name.
    pub shop_name: String,
    /// Lines below the shop's name: address and how to reach it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub letterhead: Vec<String>,
    /// The shop's conditions.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<String>,
    /// Customer, as the quote names them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// Day whose prices hold, in the shop's time zone.
    pub priced_on: NaiveDate,
    /// Last day on which the price holds.
    pub valid_until: NaiveDate,
    /// Quantities.
    pub take_off: TakeOff,
    /// Priced lines.
    pub lines: Vec<Line>,
    /// Totals.
    pub totals: Totals,
    /// What is paid ahead; absent while a gap stands, and where nothing is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deposit: Option<Deposit>,
    /// Why the customer pays no tax, where he pays none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tax_exemption: Option<TaxExemption>,
    /// The customer's price level, where he has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_level: Option<QuotedLevel>,
    /// Freight; absent where none is charged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freight: Option<FreightCharge>,
    /// Everything that could not be met or priced and that nobody settled: those of the take-off and those of the
    /// catalogue.
    pub gaps: Vec<Gap>,
    /// What was a gap, or was declined when it was asked about, and is left out: nothing of it is in the price.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub exclusions: Vec<Exclusion>,
    /// Wire that is cut one size larger than it was reckoned, where the shop takes it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub substitutions: Vec<Substitution>,
    /// Longest lead time of any item, days.
    pub lead_time_days: u16,
    /// What the customer may add; only on the document without any of it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<QuotedOption>,
    /// Every set of options that can be chosen together, the empty one first; only where there are options.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub choices: Vec<QuotedChoice>,
    /// The options that are in this document; none is the quote as it stands without them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub chosen: Vec<ChosenOption>,
    // Last, since it is written when the number is known: see `service/numbering.rs`.
    /// Number, revision and day; absent on a draft.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub issue: Option<IssueFacts>,
}

/// A piece cut from a stock length.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlannedCut {
    /// Label of the conductor.
    #[schema(value_type = String)]
    pub label: Name,
    /// Length cut.
    pub length: LengthValue,
}

/// One stock length and what is cut from it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct StockUse {
    /// Length as bought.
    pub length: LengthValue,
    /// Cuts in order.
    pub cuts: Vec<PlannedCut>,
    /// What is left.
    pub left: LengthValue,
}

/// What is bought of one item.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Purchase {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it is.
    pub description: String,
    /// Requirements it meets.
    #[schema(value_type = Vec<String>)]
    pub meets: Vec<Name>,
    /// Quantity used, in selling units.
    #[schema(value_type = String)]
    pub used: Decimal,
    /// How many buying units.
    pub buy: u64,
    /// Buying unit.
    pub buying_unit: BuyingUnit,
    /// Selling units in one.
    #[schema(value_type = String)]
    pub buying_quantity: Decimal,
    /// Cost of one buying unit.
    #[schema(value_type = String)]
    pub unit_cost: Decimal,
    /// Cost of what is bought.
    pub cost: Money,
    /// Supplier.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supplier: Option<String>,
    /// Days from order to shelf.
    pub lead_time_days: u16,
    /// How each stock length is cut, for wire.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stock: Vec<StockUse>,
}

/// Where an item line's price comes from.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct LineCosting {
    /// Number of the line.
    pub number: u32,
    /// What is charged.
    pub charge: Charge,
    /// Where the price comes from.
    pub price_from: PriceFrom,
    /// Mark-up, percent, when the price comes from cost: the category's, or the price level's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub mark_up_percent: Option<Decimal>,
    /// What the customer's price level takes off the usual price, percent, where it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub level_percent_off: Option<Decimal>,
    /// The usual price that it is taken off.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub usual_unit_price: Option<Decimal>,
    /// Cost of one selling unit.
    #[schema(value_type = String)]
    pub unit_cost: Decimal,
    /// Cost of the quantity charged.
    pub cost: Money,
    /// Net price less cost.
    pub margin: Money,
    /// Derivation of the unit price in this document's basis.
    pub basis: crate::basis::BasisRef,
}

/// Requirements that share items to choose from, and are decided together: what they cost, and how far it is proven that
/// they cannot cost less. Each requirement that is bought by number is met by one item, each wire by items of one price
/// category, and what is cut to order is one order. Freight is in neither.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PurchaseComponent {
    /// The requirements.
    #[schema(value_type = Vec<String>)]
    pub requirements: Vec<Name>,
    /// The items that are bought for them.
    #[schema(value_type = Vec<String>)]
    pub items: Vec<Name>,
    /// What they cost, unrounded.
    #[schema(value_type = String, example = "62.00")]
    pub cost: Decimal,
    /// What they cannot cost less than; equal to the cost where it is proven to be the least.
    #[schema(value_type = String, example = "62.00")]
    pub lower_bound: Decimal,
    /// Whether it is proven that nothing is cheaper.
    pub optimal: bool,
}

/// The owner's document: cost, margin and the buying list.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CostingDocument {
    /// Version of this document's schema.
    pub schema_version: u32,
    /// Currency, ISO 4217.
    pub currency: String,
    /// What is bought.
    pub purchases: Vec<Purchase>,
    /// Cost of everything that is bought.
    pub purchase_cost: Money,
    /// How far it is proven to be the least: requirements that share items to choose from are decided together, the
    /// others apart.
    pub components: Vec<PurchaseComponent>,
    /// What else meets each requirement and what it would cost alone, and why what comes near does not.
    pub considered: Vec<Considered>,
    /// Costs behind the item lines.
    pub lines: Vec<LineCosting>,
    /// Net of the item lines less the cost of what they charge.
    pub margin: Money,
    /// Margin on the items after the discount, percent of what they then sell for; absent without items.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub margin_percent: Option<Decimal>,
    /// Derivation of the freight in this document's basis; absent without any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freight_basis: Option<crate::basis::BasisRef>,
    /// Why the prices are so.
    pub basis: Basis,
}
