//! The circuits of the take-off: what feeds each load, what protects it, and the feeders behind it.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::item::{DropClass, Duty, Function, FuseFamily, LoadColumn};
use crate::units::{LengthValue, Name};

/// How a conductor is protected.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Protection {
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// Label of the conductor it protects.
    #[schema(value_type = String)]
    pub protects: Name,
    /// Fuse family; absent for a breaker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<FuseFamily>,
    /// Whether it is a breaker.
    pub breaker: bool,
    /// Rating, amperes.
    pub rating_a: f64,
    /// Least rating that carries the load, amperes.
    pub load_needs_a: f64,
    /// Highest rating that conductor and device allow, amperes.
    pub conductor_allows_a: f64,
    /// Least voltage rating, volts: the bank's charging voltage.
    pub voltage_v_min: f64,
    /// Least interrupt rating, amperes; 0 for a branch that its main fuse covers.
    pub interrupt_a_min: f64,
    /// Whether it stays live with the battery switch off.
    pub always_on: bool,
    /// Longest permitted distance from its source along the conductor.
    pub distance_max: LengthValue,
    /// Why the rating is so.
    pub basis: BasisRef,
}

/// One load's circuit.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Circuit {
    /// Key; overrules refer to it.
    #[schema(value_type = String, example = "aft-pump")]
    pub key: Name,
    /// Number on the drawings and labels, given in canonical order.
    #[schema(value_type = String, example = "C07")]
    pub number: Name,
    /// What it feeds.
    pub description: String,
    /// Item it feeds; absent for the power tap of a data network, which is matched.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sku: Option<Name>,
    /// What the load does.
    pub function: Function,
    /// Station of the load.
    #[schema(value_type = String)]
    pub station: Name,
    /// Panel that feeds it.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Bank behind the panel.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Current it is sized for, amperes.
    pub design_current_a: f64,
    /// How long it runs.
    pub duty: Duty,
    /// Column of the load analysis.
    pub load_column: LoadColumn,
    /// Drop class.
    pub drop_class: DropClass,
    /// Drop limit from bank to device, percent.
    pub drop_limit_percent: f64,
    /// Drop from bank to device with the feeder at its own current, percent; the worst of its positives.
    pub drop_percent: f64,
    /// Voltage to expect at the device under load, volts, with the bank at its nominal voltage.
    pub loaded_voltage_v: f64,
    /// Labels of its conductors; the cut list has them.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Cable that its conductors lie in, by label; absent where each runs by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "C07")]
    pub cable: Option<Name>,
    /// Its protective devices: one for each positive.
    pub protection: Vec<Protection>,
    /// Leads of the device that stay unconnected: cap and insulate each.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unconnected_leads: Vec<String>,
    /// Why the drop is so.
    pub basis: BasisRef,
    /// Why the colour of its first positive is so.
    pub colour_basis: BasisRef,
}

/// The feeder of one panel: from bank or panel to it, and from its bus back.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Feeder {
    /// Key; overrules refer to it.
    #[schema(value_type = String, example = "feeder/helm_panel")]
    pub key: Name,
    /// Number on drawings and labels.
    #[schema(value_type = String, example = "F1")]
    pub number: Name,
    /// Panel it feeds.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Bank at its root.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Panel that it comes from, where it feeds a sub-panel.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub fed_from: Option<Name>,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Current by load analysis of all circuits of its panel and of the panels behind it, amperes.
    pub design_current_a: f64,
    /// Sum of those of the column `always`, amperes.
    pub always_a: f64,
    /// Sum of those of the column `occasional`, amperes.
    pub occasional_a: f64,
    /// Largest of the column `occasional`, amperes.
    pub largest_occasional_a: f64,
    /// Its own drop limit, percent.
    pub drop_limit_percent: f64,
    /// Its own drop, there and back, each conductor at its own current, percent.
    pub drop_percent: f64,
    /// Drop from the bank to its panel, with all feeders and returns on the way, percent.
    pub drop_from_bank_percent: f64,
    /// Labels of its own conductors; the cut list has them. A return that several panels share is with each of them.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Its protection: at the battery before the switch, or on the panel that it comes from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
    /// Why the current is so.
    pub current_basis: BasisRef,
    /// Why its own drop is so.
    pub drop_basis: BasisRef,
    /// Why the drop from the bank is so.
    pub drop_from_bank_basis: BasisRef,
    /// Why the interrupt rating of its protection is so.
    pub interrupt_basis: BasisRef,
    /// Why its protection is rated for no less.
    pub main_basis: BasisRef,
}

impl Feeder {
    /// Whether its device takes a position of the panel that feeds it: a breaker or a blade there.
    pub fn in_feeding_panel(&self) -> bool {
        let device = self.protection.as_ref().filter(|_| self.fed_from.is_some());
        device.is_some_and(|device| device.breaker || device.family == Some(FuseFamily::Blade))
    }
}

/// What stays live with the battery switch off: one main fuse at the bank, and behind it each circuit's own.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AlwaysOnSide {
    /// Bank.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Numbers of the circuits that it feeds.
    #[schema(value_type = Vec<String>)]
    pub circuits: Vec<Name>,
    /// Sum of their currents, amperes.
    pub current_a: f64,
    /// Its main fuse; absent where each circuit's own fuse is a main already, and where none will do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
}
