//! Of a document: banks, what charges them, and the studs of their posts.

use serde::Deserialize;

use super::Protection;

/// A bank.
#[derive(Debug, Deserialize)]
pub struct Bank {
    pub bank: String,
    pub nominal_voltage_v: f64,
    pub charging_voltage_v: f64,
    pub design_current_a: f64,
    pub main: Option<Protection>,
    pub bus_main: Option<Protection>,
    pub switch: Option<BatterySwitch>,
    pub batteries: Option<Batteries>,
    #[serde(default)]
    pub charging: Vec<ChargerOutput>,
    pub energy: Option<Energy>,
    pub studs: Vec<Stud>,
}

/// A battery switch.
#[derive(Debug, Deserialize)]
pub struct BatterySwitch {
    pub station: String,
    pub aboard: bool,
    pub rating_a_min: f64,
}

/// Batteries of a bank.
#[derive(Debug, Deserialize)]
pub struct Batteries {
    pub series: u16,
    pub parallel: u16,
    pub capacity_ah: f64,
    pub jumpers: u32,
}

/// An output of a charger.
#[derive(Debug, Deserialize)]
pub struct ChargerOutput {
    pub charger: Option<String>,
    pub output_a: Option<f64>,
    pub target_a: Option<f64>,
}

/// A day's use.
#[derive(Debug, Deserialize)]
pub struct Energy {
    pub daily_ah: f64,
    pub days: f64,
    pub needed_ah: f64,
    pub charger_h: Option<f64>,
    pub idle_h: Option<f64>,
}

/// What lands on a stud.
#[derive(Debug, Deserialize)]
pub struct Stud {
    pub place: String,
    pub terminals: Vec<String>,
    pub bus: bool,
}

/// The alternator.
#[derive(Debug, Deserialize)]
pub struct Alternator {
    pub rating_a: f64,
    pub idle_a: f64,
    pub banks: Vec<String>,
}
