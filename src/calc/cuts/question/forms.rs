//! The question and its answer as they are sent.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::LengthUnit;

/// The question as it is sent. Lengths are decimal strings in one unit, and are reckoned with exactly.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "unit": "ft", "pieces": [{"label": "C1+", "length": "12.5", "count": 2}],
    "stock": [{"sku": "W16-BRN-100", "length": "100", "price": "31.00"}]
}))]
pub struct CutPlanRequest {
    /// The unit of every length.
    pub unit: LengthUnit,
    /// What is to be cut: at most 5,000 pieces in all. Each is one unbroken length.
    #[schema(min_items = 1, max_items = 1000)]
    pub pieces: Vec<CutPlanPiece>,
    /// What it can be cut from.
    #[schema(min_items = 1, max_items = 100)]
    pub stock: Vec<CutPlanStock>,
    /// What is lost at each cut. Each piece needs one, so that so many pieces take their lengths and as many allowances,
    /// whether from a stock length or to measure.
    #[serde(default = "zero")]
    #[schema(value_type = String, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "0", default = "0")]
    pub allowance_per_cut: Decimal,
    /// Least length of an end that is of use: a shorter one is no offcut.
    #[serde(default = "zero")]
    #[schema(value_type = String, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "3", default = "0")]
    pub minimum_offcut: Decimal,
    /// How long may be searched. It stands for a budget of work, a million steps a millisecond, and not for time by the
    /// clock: the same question always has the same answer, on any machine. Beyond 10,000 no more is searched.
    #[serde(default = "a_second")]
    #[schema(minimum = 1, maximum = 3_600_000, default = 1000)]
    pub time_limit_ms: u32,
}

/// Pieces of one length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CutPlanPiece {
    /// What the piece is called. Rows of one label and length count together.
    #[schema(min_length = 1, max_length = 100, example = "C1+")]
    pub label: String,
    /// Length of one, more than nothing.
    #[schema(value_type = String, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "12.5")]
    pub length: Decimal,
    /// How many.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 5_000, default = 1)]
    pub count: u32,
}

/// Stock: a length at a price, or sold to measure. It has either `length` and `price`, or `price_per_unit`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CutPlanStock {
    /// What it is called. Rows of one name are its lengths: those that are sold, and offcuts.
    #[schema(min_length = 1, max_length = 100, example = "W16-BRN-100")]
    pub sku: String,
    /// Its length, more than nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "100")]
    pub length: Option<Decimal>,
    /// What one costs; an offcut may cost nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "31.00")]
    pub price: Option<Decimal>,
    /// What a unit of length costs, where it is sold to measure: any length, without end.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,6}(\.[0-9]{1,6})?$", example = "0.52")]
    pub price_per_unit: Option<Decimal>,
    /// How many of its length there are; without end where it is absent or null.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1_000_000, example = 4)]
    pub available: Option<u32>,
}

fn zero() -> Decimal {
    Decimal::ZERO
}

fn one() -> u32 {
    1
}

fn a_second() -> u32 {
    1000
}

/// The cheapest plan that was found. Of plans at one cost one that wastes less goes before, then one that uses fewer
/// stock pieces.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CutPlanAnswer {
    /// What everything that is used costs.
    #[schema(value_type = String, example = "31.00")]
    pub cost: Decimal,
    /// What no plan can cost less than. Equal to `cost` where that is proven to be the least.
    #[schema(value_type = String, example = "31.00")]
    pub lower_bound: Decimal,
    /// Whether it is proven that no plan costs less.
    pub optimal: bool,
    /// Length of all that is used and does not end up in a piece: ends, offcuts among them, and what the cuts take.
    #[schema(value_type = String, example = "75.0")]
    pub waste: Decimal,
    /// What is used, in order of sku: stock pieces that are cut alike are one entry. What is bought to measure is one
    /// entry with a count of 1, and leaves nothing.
    pub used: Vec<CutPlanUse>,
}

/// Stock pieces that are cut alike.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CutPlanUse {
    /// What the stock is called.
    #[schema(example = "W16-BRN-100")]
    pub sku: String,
    /// How many of its pieces are cut so.
    #[schema(example = 1)]
    pub count: u32,
    /// What is cut from each of them, longest first.
    pub cuts: Vec<CutPlanCut>,
    /// What is left of each of them; nothing where that is shorter than the least offcut of use.
    #[schema(value_type = String, example = "75.0")]
    pub offcut: Decimal,
}

/// Pieces that are cut from one stock piece.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CutPlanCut {
    /// What the piece is called.
    #[schema(example = "C1+")]
    pub label: String,
    /// Length of one.
    #[schema(value_type = String, example = "12.5")]
    pub length: Decimal,
    /// How many.
    #[schema(example = 2)]
    pub count: u32,
}
