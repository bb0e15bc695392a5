//! What a spec says of its sources: banks with their batteries and switches, panels, buses, charging and a day's use.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::{BranchProtection, Chemistry, Function};
use crate::units::Name;

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

/// Batteries wired as one source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BankInput {
    /// Identifier that panels refer to.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "house")]
    pub id: Name,
    /// Where it is.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "battery_bay")]
    pub station: Name,
    /// Nominal voltage: 12, 24, 36 or 48.
    #[schema(minimum = 12, maximum = 48, multiple_of = 12)]
    pub nominal_voltage_v: u16,
    /// Capacity at the 20 h rate, ampere-hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 5000)]
    pub capacity_ah: Option<f64>,
    /// Cold-cranking amperes of the whole bank (parallel batteries add, batteries in series do not); it sets the
    /// interrupt rating of the main protection. Absent, the highest class of the table is assumed and asked about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 20000)]
    pub cold_cranking_a: Option<f64>,
    /// Its battery switch: one at the bank unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub switch: Option<BankSwitchInput>,
    /// Its batteries, supplied by the job: how many stand in series and in parallel follows from their voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_items = 1, max_items = 8)]
    pub batteries: Option<Vec<BankBatteriesInput>>,
    /// What is in them; that of the named batteries unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chemistry: Option<Chemistry>,
    /// Whether it starts the engine: little may be taken out of it then.
    #[serde(default)]
    pub starts_engine: bool,
}

/// Where returns meet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BusInput {
    /// Identifier that panels refer to.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm_bus")]
    pub id: Name,
    /// Where it is.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub station: Name,
    /// Bus or bank that it leads to; a bus before a bank of the same name. Absent, it leads where the panels that use it
    /// are fed from: to the bank's negative, or to the bus of the panel that feeds them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$")]
    pub leads_to: Option<Name>,
    /// The bus as a catalogue item; absent when it is aboard already.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub sku: Option<Name>,
}

/// Where positives are protected and switched.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelInput {
    /// Identifier that equipment refers to.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm_panel")]
    pub id: Name,
    /// Where it is.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub station: Name,
    /// Bank that feeds it. Exactly one of `bank` and `fed_from` is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "house")]
    pub bank: Option<Name>,
    /// Panel that feeds it, where it is a sub-panel: its feeder is protected there, and its voltage is that of the bank
    /// at the root. At most 8 panels in a row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$")]
    pub fed_from: Option<Name>,
    /// Bus where the returns of its circuits end; absent, one at the panel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$")]
    pub negative_bus: Option<Name>,
    /// What protects its branches; the item's or the shop's way unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protection: Option<BranchProtection>,
    /// Highest voltage the panel is built for, volts DC; taken from the item when it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 1000)]
    pub voltage_rating_v: Option<f64>,
    /// The panel as a catalogue item; absent when it is aboard already.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60)]
    pub sku: Option<Name>,
}

/// Sources and distribution.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PowerInput {
    /// Battery banks.
    #[schema(min_items = 1, max_items = 20)]
    pub banks: Vec<BankInput>,
    /// Panels.
    #[schema(min_items = 1, max_items = 50)]
    pub panels: Vec<PanelInput>,
    /// Negative buses that are not simply at their panel, and those that others lead to.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub buses: Vec<BusInput>,
    /// Rating of the engine's alternator, amperes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 500)]
    pub alternator_a: Option<f64>,
    /// Banks that share the alternator; all of 12 V without a bow motor unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<String>>, max_items = 20)]
    pub alternator_banks: Option<Vec<Name>>,
    /// Days of use between charges; one unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0.25, maximum = 30)]
    pub days_between_charges: Option<f64>,
    /// How long things run in a day of use, where it is not the usual.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub daily_use: Vec<DailyUseInput>,
}
