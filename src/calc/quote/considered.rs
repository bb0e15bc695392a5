//! What else was looked at for a requirement, and why it was not taken: for the owner only.

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::units::Name;

/// An item that meets a requirement.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConsideredItem {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// What it costs to buy for this requirement alone, unrounded, packs, breaks and multiples included; absent where it
    /// cannot meet all of it: no length of it holds every piece.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "31.00")]
    pub cost: Option<Decimal>,
    /// Whether it is bought.
    pub chosen: bool,
    /// In what it is not exactly what is needed, where it is a substitute.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub substitute: Option<String>,
    /// Days from order to shelf.
    pub lead_time_days: u16,
}

/// An item that comes near a requirement and does not meet it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct RefusedItem {
    /// The item.
    #[schema(value_type = String)]
    pub sku: Name,
    /// Why not.
    #[schema(example = "it is only rated 75 °C")]
    pub why: String,
}

/// Wire one size larger in place of what is needed, with all that goes on its ends.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConsideredSize {
    /// The size.
    #[schema(example = "14 AWG")]
    pub size: String,
    /// What everything that is bought would cost more, or less where it is negative; absent where it cannot be used.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "-31.00")]
    pub cost_difference: Option<Decimal>,
    /// What the work on its ends would be charged more, at the likely times.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "0")]
    pub labour_difference: Option<Decimal>,
    /// Whether it is taken.
    pub chosen: bool,
    /// Why, or why not.
    pub why: String,
}

/// What was looked at for one requirement.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Considered {
    /// The requirement.
    #[schema(value_type = String)]
    pub requirement: Name,
    /// Items that meet it: those that are bought, then the others, the cheapest first; at most eight.
    pub items: Vec<ConsideredItem>,
    /// How many more would meet it.
    #[serde(skip_serializing_if = "is_zero")]
    pub more: usize,
    /// Items that come near, the nearest first; at most three.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub refused: Vec<RefusedItem>,
    /// Wire of the next size.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_size: Option<ConsideredSize>,
}

fn is_zero(number: &usize) -> bool {
    *number == 0
}
