//! One row of the catalogue: what the thing is, by attributes that requirements are matched on, and how it is sold.

mod attributes;
mod cable;
mod dash;
mod device;
mod fit_out;
mod kinds;
mod network;
mod power;
mod protection;
pub mod usual;

pub use attributes::Attributes;
pub use cable::{CableShape, Wiring};
pub use dash::{CutOut, DashKind, DashMount, Outline};
pub use device::{DropClass, Duty, Function, Lead, LeadRole, LoadColumn, Stud};
pub use fit_out::{BatteryPart, Consumable, DevicePlumbing, Fastener, Fitting, HoseType, PumpKind};
pub use network::{DataNetwork, NetworkClass, NetworkConnector, SuppliedCable, SuppliedCableKind};
pub use power::Chemistry;
pub use protection::{BranchProtection, FuseFamily};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::Name;

/// A selling unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SellingUnit {
    /// By the piece.
    Each,
    /// By the foot.
    Foot,
    /// By the metre.
    Metre,
}

impl SellingUnit {
    /// UN/ECE Recommendation 20 code.
    pub const fn unece_code(self) -> &'static str {
        match self {
            SellingUnit::Each => "EA",
            SellingUnit::Foot => "FOT",
            SellingUnit::Metre => "MTR",
        }
    }

    /// As printed beside a quantity.
    pub const fn symbol(self) -> &'static str {
        match self {
            SellingUnit::Each => "each",
            SellingUnit::Foot => "ft",
            SellingUnit::Metre => "m",
        }
    }
}

/// What the shop orders from its supplier: a piece, a pack, a box, a spool, a stick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum BuyingUnit {
    /// A single piece.
    Each,
    /// A pack of pieces.
    Pack,
    /// A box of pieces.
    Box,
    /// A spool of wire or cable.
    Spool,
    /// A stick or cut length of tubing.
    Stick,
    /// Bought by the foot.
    Foot,
    /// Bought by the metre.
    Metre,
}

impl BuyingUnit {
    /// UN/ECE Recommendation 20 code, with those of Recommendation 21 behind an `X` for packages, as the unit list of
    /// EN 16931 carries them. A stick has no code of its own there: it is counted as one.
    pub const fn unece_code(self) -> &'static str {
        match self {
            BuyingUnit::Each => "EA",
            BuyingUnit::Pack => "XPK",
            BuyingUnit::Box => "XBX",
            BuyingUnit::Spool => "XRL",
            BuyingUnit::Stick => "C62",
            BuyingUnit::Foot => "FOT",
            BuyingUnit::Metre => "MTR",
        }
    }
}

/// Which price a price row gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PriceKind {
    /// What the shop pays for one buying unit.
    Cost,
    /// What the customer is asked for one selling unit.
    List,
}

/// A price with the day from which it holds; later rows of the same kind and quantity take over from their day on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// Cost of a buying unit, or list price of a selling unit.
    pub kind: PriceKind,
    /// First day on which the price holds, in the shop's time zone.
    #[schema(example = "2026-01-01")]
    pub valid_from: NaiveDate,
    /// Least number of buying units (cost) or selling units (list) at which it holds; 1 unless stated.
    #[serde(default = "one")]
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "1", default = "1")]
    pub minimum_quantity: Decimal,
    /// The price, in the shop's currency; at most six decimal places.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "31.00")]
    pub amount: Decimal,
}

fn one() -> Decimal {
    Decimal::ONE
}

fn whole_one() -> u32 {
    1
}

/// Whether a number of buying units is 1, which goes without saying.
pub fn is_one(number: &u32) -> bool {
    *number == 1
}

/// A labour operation that comes with an item, and how many of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LabourUse {
    /// Code of the labour operation.
    #[schema(value_type = String, max_length = 60)]
    pub operation: Name,
    /// How many of it for one of the item.
    #[schema(value_type = String, pattern = r"^[0-9]{1,6}(\.[0-9]{1,3})?$", example = "1")]
    pub quantity: Decimal,
}

/// One row of the catalogue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// The shop's own identifier of the item.
    #[schema(value_type = String, min_length = 1, max_length = 60, pattern = r"^[A-Za-z0-9][A-Za-z0-9._/-]*$", example = "W16-BRN-100")]
    pub sku: Name,
    /// What it is, as a customer reads it.
    #[schema(min_length = 1, max_length = 200)]
    pub description: String,
    /// Price category: one of the shop's settings.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "wire")]
    pub category: Name,
    /// What the thing is.
    pub attributes: Attributes,
    /// The unit a customer is charged in.
    pub selling_unit: SellingUnit,
    /// The unit the shop orders in.
    pub buying_unit: BuyingUnit,
    /// How many selling units one buying unit holds.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "100")]
    pub buying_quantity: Decimal,
    /// Least number of buying units that the supplier takes an order for.
    #[serde(default = "whole_one", skip_serializing_if = "is_one")]
    #[schema(minimum = 1, maximum = 100000, default = 1)]
    pub minimum_order: u32,
    /// Buying units are ordered in multiples of this number.
    #[serde(default = "whole_one", skip_serializing_if = "is_one")]
    #[schema(minimum = 1, maximum = 100000, default = 1)]
    pub order_multiple: u32,
    /// Tax class: one of the shop's settings. Absent, that of the category.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub tax_class: Option<Name>,
    /// Days from order to shelf; 0 for what is kept.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 730)]
    pub lead_time_days: u16,
    /// Whether it is ordered for one customer and cannot go back.
    #[serde(default)]
    pub special_order: bool,
    /// Labour operations that come with one of it. Absent, what usually fits a device of its function; an empty list says that
    /// it takes no work of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_items = 20)]
    pub labour: Option<Vec<LabourUse>>,
    /// Prices over time.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub prices: Vec<Price>,
    /// Who supplies it; for the owner only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 120)]
    pub supplier: Option<String>,
    /// Whether it has left the catalogue: it can be read but no longer quoted.
    #[serde(default)]
    pub retired: bool,
}

impl Item {
    /// The price of a kind in force on a day for a quantity: of the highest quantity step that is reached, the row
    /// that began last.
    pub fn price_on(&self, kind: PriceKind, day: NaiveDate, quantity: Decimal) -> Option<&Price> {
        self.prices
            .iter()
            .filter(|p| p.kind == kind && p.valid_from <= day && p.minimum_quantity <= quantity)
            .max_by_key(|p| (p.minimum_quantity, p.valid_from))
    }
}
