//! Which charger output charges which battery: decided from the boat alone, before anything is laid, since the ends of
//! the leads crowd the posts.
//!
//! 1. Batteries in parallel are one battery to a charger; in series each needs an output of its own, unless a charger of
//!    the whole bank's voltage has one free. In a bank of several strings every battery has its own.
//! 2. Banks in order take, of the free outputs of their voltage, the one that comes nearest to what they should have. What
//!    is left over asks for another charger.

use crate::rules::energy::CHARGE_TARGET;
use crate::shop::item::{Attributes, Chemistry};
use crate::spec::boat::{Bank, Boat};

/// What one output has to charge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Task {
    /// Place of the bank.
    pub bank: usize,
    /// Which battery of the bank, counted from 1 at its negative end.
    pub battery: u16,
    /// Nominal voltage between the posts that it charges.
    pub voltage_v: u16,
    /// Capacity between them, ampere-hours, when known.
    pub capacity_ah: Option<f64>,
    /// Charging current that the battery's maker asks for there, amperes.
    pub maker_a: Option<f64>,
    /// What is in it, when known.
    pub chemistry: Option<Chemistry>,
}

/// An output of a charger of the boat, and what it charges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Output {
    /// Place of the charger in the equipment.
    pub charger: usize,
    /// What it charges.
    pub task: Task,
}

/// All outputs in use, and what no charger is left for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Allotted {
    /// Outputs in order of bank and battery.
    pub outputs: Vec<Output>,
    /// What has none.
    pub without: Vec<Task>,
}

/// Nominal voltage of one of a bank's batteries: as named, else 12 V, or the whole bank where that is no multiple of it.
fn battery_v(bank: &Bank) -> u16 {
    let whole = bank.nominal_voltage_v.round() as u16;
    whole / bank.series.max(1)
}

/// What the outputs for a bank have to charge, battery by battery.
pub fn tasks(place: usize, bank: &Bank) -> Vec<Task> {
    let outputs = match (bank.series, bank.parallel) {
        (series, 1) => series,
        (1, _) => 1,
        (series, parallel) => series * parallel,
    };
    let parallel = if bank.series == 1 { f64::from(bank.parallel) } else { 1.0 };
    let one_ah = bank.capacity_ah.map(|ah| ah / f64::from(bank.parallel) * parallel);
    (1..=outputs)
        .map(|battery| Task {
            bank: place,
            battery,
            voltage_v: battery_v(bank),
            capacity_ah: one_ah,
            maker_a: bank.maker_charge_a.map(|a| a * parallel),
            chemistry: bank.chemistry,
        })
        .collect()
}

/// Allots the outputs of the boat's chargers.
pub fn allot(boat: &Boat) -> Allotted {
    let mut free: Vec<(usize, u16, u16, f64)> = boat
        .equipment
        .iter()
        .enumerate()
        .filter_map(|(place, piece)| match piece.item.attributes {
            Attributes::Charger { outputs, nominal_voltage_v, output_a, .. } => {
                Some((place, nominal_voltage_v, outputs, output_a))
            }
            _ => None,
        })
        .collect();
    let mut allotted = Allotted::default();
    for (place, bank) in boat.banks.iter().enumerate() {
        let each = tasks(place, bank);
        let whole_v = bank.nominal_voltage_v.round() as u16;
        let mut take = |voltage_v: u16, target_a: Option<f64>| {
            let suits = free.iter_mut().filter(|(_, volts, outputs, _)| *volts == voltage_v && *outputs > 0);
            let off = |output_a: f64| target_a.map_or(0.0, |target_a| (output_a - target_a).abs());
            let charger = suits.min_by(|a, b| off(a.3).total_cmp(&off(b.3)))?;
            charger.2 -= 1;
            Some(charger.0)
        };
        let target_a = |task: &Task| task.maker_a.or(task.capacity_ah.map(|ah| CHARGE_TARGET * ah));
        // One output of a charger of the bank's own voltage charges all of it.
        if each.len() > 1
            && let Some(charger) = take(whole_v, bank.capacity_ah.map(|ah| CHARGE_TARGET * ah))
        {
            let task = Task {
                battery: 0,
                voltage_v: whole_v,
                capacity_ah: bank.capacity_ah,
                maker_a: bank.maker_charge_a.map(|a| a * f64::from(bank.parallel)),
                ..each[0]
            };
            allotted.outputs.push(Output { charger, task });
            continue;
        }
        for task in each {
            match take(task.voltage_v, target_a(&task)) {
                Some(charger) => allotted.outputs.push(Output { charger, task }),
                None => allotted.without.push(task),
            }
        }
    }
    allotted
}
