//! What the take-off says of the sources: post, main protection, switch and studs of each bank.

use serde::Serialize;
use utoipa::ToSchema;

use super::Protection;
use crate::basis::BasisRef;
use crate::shop::item::Stud;
use crate::units::{LengthValue, Name, WireSize};

/// One bank: what stands between its posts and its feeders.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BankPower {
    /// Bank.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Voltage while charging, volts: what everything at the bank must stand.
    pub charging_voltage_v: f64,
    /// Current of all that it feeds by load analysis, amperes.
    pub design_current_a: f64,
    /// Its main protection, at the post and before the switch; absent where none will do or nothing is fed. A bank that
    /// feeds one panel has that feeder's fuse as its main.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub main: Option<Protection>,
    /// Why the main protection is rated for no less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub main_basis: Option<BasisRef>,
    /// The main fuse at the post before a bus there, on which all other fuses stand; absent where the post holds them all, and
    /// where none will do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bus_main: Option<Protection>,
    /// Why that is rated for no less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bus_main_basis: Option<BasisRef>,
    /// Where the main protection may stand.
    pub main_distance: MainDistance,
    /// Its battery switch; absent where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub switch: Option<BatterySwitch>,
    /// What lands on each stud of the bank.
    pub studs: Vec<StudStack>,
    /// Its batteries, where the job supplies them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub batteries: Option<BankBatteries>,
    /// Charger outputs, battery by battery.
    pub charging: Vec<ChargerOutput>,
    /// A day's use of it; absent where it feeds nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub energy: Option<BankEnergy>,
    /// Labels of its own cables; the cut list has them.
    #[schema(value_type = Vec<String>)]
    pub cables: Vec<Name>,
    /// What the conductors that start at the bank count of those cables in their drop: its feeders, their returns, and
    /// always-on positives.
    pub counted_before: Vec<CableBefore>,
    /// Why the current is so.
    pub current_basis: BasisRef,
}

/// How far along a conductor from its source the device that protects it may stand.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct MainDistance {
    /// A conductor without sheath.
    pub bare: LengthValue,
    /// One on the battery terminal itself, in a sheath or enclosure throughout.
    pub sheathed_on_battery: LengthValue,
    /// One on any other source, in a sheath or enclosure throughout.
    pub sheathed_on_other: LengthValue,
    /// Why each is so, in this order.
    pub basis: [BasisRef; 3],
}

/// A battery switch.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BatterySwitch {
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// The item that the spec names for it; absent where one is matched, and where it is aboard.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sku: Option<Name>,
    /// Whether it is aboard already.
    pub aboard: bool,
    /// Least continuous rating, amperes: the main protection before it.
    pub rating_a_min: f64,
    /// Least voltage rating, volts.
    pub voltage_v_min: f64,
    /// Whether it must be ignition protected.
    pub ignition_protected: bool,
    /// Why the rating is so.
    pub basis: BasisRef,
}

/// What lands on one stud or bus.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct StudStack {
    /// Which stud.
    pub place: String,
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// Its size.
    pub stud: Stud,
    /// Labels of what lands on it, the largest first: it goes at the bottom.
    pub terminals: Vec<String>,
    /// Whether there are more than a stud takes, so that a bus takes its place.
    pub bus: bool,
    /// Why.
    pub basis: BasisRef,
}

/// The bank's cables before a conductor as its drop counts them: a length of their size that gives, at the conductor's own
/// current, the drop that all of their current makes.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CableBefore {
    /// Label of the conductor: of a feeder's positive, of a return, or of an always-on positive.
    #[schema(value_type = String)]
    pub conductor: Name,
    /// Size of the cables at least.
    pub gauge: WireSize,
    /// That length, feet.
    pub counted_ft: f64,
    /// Why.
    pub basis: BasisRef,
}

/// Batteries of a bank and how they are joined.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BankBatteries {
    /// In series.
    pub series: u16,
    /// Strings in parallel.
    pub parallel: u16,
    /// Capacity of the bank, ampere-hours.
    pub capacity_ah: f64,
    /// Why.
    pub capacity_basis: BasisRef,
    /// Cold-cranking amperes of the bank; absent where its batteries state none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cold_cranking_a: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cranking_basis: Option<BasisRef>,
    /// Jumpers and links between them.
    pub jumpers: u32,
    /// Why.
    pub jumpers_basis: BasisRef,
}

/// One output of a charger and the battery that it charges.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ChargerOutput {
    /// Key of the charger in the equipment; absent where one is still to be matched.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub charger: Option<Name>,
    /// Which battery of the bank, from 1 at its negative end; absent where the output charges all of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub battery: Option<u16>,
    /// Nominal voltage between the posts that it charges.
    pub nominal_voltage_v: f64,
    /// Charging current, amperes; absent where the charger is still to be matched.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub output_a: Option<f64>,
    /// Current to aim at, amperes; absent where the capacity is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target_a: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub target_basis: Option<BasisRef>,
    /// Least current that does, amperes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floor_a: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floor_basis: Option<BasisRef>,
    /// Labels of its leads; the cut list has them.
    #[schema(value_type = Vec<String>)]
    pub leads: Vec<Name>,
    /// The device at the battery's end of its positive; absent where the charger has it built in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
}

/// The alternator and the banks that share it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Alternator {
    /// Its rating, amperes.
    pub rating_a: f64,
    /// What it gives at idle, amperes.
    pub idle_a: f64,
    /// Why.
    pub idle_basis: BasisRef,
    /// Banks that share it.
    #[schema(value_type = Vec<String>)]
    pub banks: Vec<Name>,
    /// Labels of the cables between the banks and their combiners; the cut list has them.
    #[schema(value_type = Vec<String>)]
    pub cables: Vec<Name>,
}

/// What one load takes in a day.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct LoadUse {
    /// Circuit.
    #[schema(value_type = String)]
    pub circuit: Name,
    /// Hours that it runs.
    pub hours: f64,
    /// Whether the spec states them.
    pub stated: bool,
    /// What it takes, ampere-hours.
    pub load_ah: f64,
    /// Why.
    pub basis: BasisRef,
}

/// A day's use of a bank, and how it is put back.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BankEnergy {
    /// What each of its loads takes.
    pub loads: Vec<LoadUse>,
    /// Sum, ampere-hours.
    pub daily_ah: f64,
    /// Days between charges.
    pub days: f64,
    /// Share of the capacity that may be taken out.
    pub depth_of_discharge: f64,
    /// Capacity that it needs, ampere-hours.
    pub needed_ah: f64,
    /// Why.
    pub basis: BasisRef,
    /// Hours of its chargers to put a day's use back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub charger_h: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub charger_basis: Option<BasisRef>,
    /// Hours of the alternator at idle to put a day's use back, all of it given to this bank.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub idle_h: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub idle_basis: Option<BasisRef>,
}

/// Positions of a panel, and how many are spare.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PanelRoom {
    /// Panel.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Positions in use.
    pub used: u32,
    /// Positions that it should have, spares included.
    pub wanted: u32,
    /// Positions of its item; absent for one that is aboard already.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positions: Option<u32>,
    /// Why.
    pub basis: BasisRef,
}
