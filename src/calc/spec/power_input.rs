//! What a spec says of its sources beyond their voltage: switches, batteries, charging and a day's use.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calc::shop::item::Function;
use crate::calc::units::Name;

/// How a battery switch comes to the boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SwitchProvision {
    /// The job fits one.
    #[default]
    Supply,
    /// It is aboard, with its cable from the main protection.
    Aboard,
    /// The bank needs none: a bow bank with its own breaker, for one.
    None,
}

/// The battery switch of a bank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BankSwitchInput {
    /// How it comes to the boat.
    #[serde(default)]
    pub provision: SwitchProvision,
    /// Where it is; the bank's station unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "battery_bay")]
    pub station: Option<Name>,
    /// The switch as a catalogue item. Absent, one that the equipment names, else one is matched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub sku: Option<Name>,
}

/// Batteries of a bank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BankBatteriesInput {
    /// The battery as a catalogue item.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "BAT-AGM-100")]
    pub sku: Name,
    /// How many.
    #[schema(minimum = 1, maximum = 64)]
    pub quantity: u16,
}

/// How long something runs in a day of use, in place of what is usual for its function.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DailyUseInput {
    /// Equipment by its id; either this or a function.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 130, example = "live-well")]
    pub equipment: Option<Name>,
    /// All loads of a function.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub function: Option<Function>,
    /// Hours a day at its rated current; part power counts as fewer hours.
    #[schema(minimum = 0, maximum = 24)]
    pub hours_per_day: f64,
}
