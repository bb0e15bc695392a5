//! A day's use of each bank: whether it holds it, and how long it takes to put back.

use super::Sources;
use crate::basis::Value;
use crate::circuits::loads::Load;
use crate::rules::energy::{IDLE_SHARE, bank_ah, depth_of_discharge, hours_per_day};
use crate::rules::table::energy::{BANK_SIZE, CHARGE_HOURS, DAILY_USE};
use crate::spec::boat::Boat;
use crate::take_off::{BankEnergy, ChargerOutput, LoadUse};
use crate::units::{rounded, within};

/// Hours that a load runs in a day, and whether the spec states them: of that equipment, else of its function.
fn hours(boat: &Boat, load: &Load) -> (f64, bool) {
    let of_entry = |key: &str| load.key.as_str() == key || load.key.as_str().starts_with(&format!("{key}/"));
    let of_equipment = boat.daily_use.iter().find(|u| u.equipment.as_ref().is_some_and(|key| of_entry(key.as_str())));
    let stated = of_equipment.or_else(|| boat.daily_use.iter().find(|u| u.function == Some(load.function)));
    stated.map_or((hours_per_day(load.function), false), |stated| (stated.hours, true))
}

impl Sources<'_, '_> {
    /// What a day takes of a bank; absent where it feeds nothing.
    pub(super) fn energy(&mut self, place: usize, outputs: &[ChargerOutput]) -> Option<BankEnergy> {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        let number = Value::Number;
        let mut loads = Vec::new();
        let mut daily_ah = 0.0;
        for load in facts.loads.iter().filter(|load| facts.boat.panels[load.panel].bank == place) {
            let (hours, stated) = hours(facts.boat, load);
            let current_a = load.negative.current_a;
            let load_ah = current_a * hours;
            daily_ah += load_ah;
            let basis =
                self.ledger.note(&DAILY_USE, &[("current_a", number(current_a)), ("hours", number(hours))], load_ah);
            loads.push(LoadUse { circuit: load.number.clone(), hours, stated, load_ah: rounded(load_ah, 3), basis });
        }
        if loads.is_empty() {
            return None;
        }
        let days = facts.boat.days_between_charges;
        let depth = depth_of_discharge(bank.chemistry, bank.starts_engine);
        let needed_ah = bank_ah(daily_ah, days, depth);
        let basis = self.ledger.note(
            &BANK_SIZE,
            &[("daily_ah", number(daily_ah)), ("days", number(days)), ("depth_of_discharge", number(depth))],
            needed_ah,
        );
        if let Some(ah) = bank.capacity_ah.filter(|ah| !within(needed_ah, *ah)) {
            self.warn(
                &bank.id,
                format!(
                    "the bank holds {ah:.0} Ah, and a day's use of {daily_ah:.1} Ah over {days} day(s) asks for {:.0} Ah: a larger bank, or shorter hours, would do",
                    needed_ah.ceil()
                ),
            );
        }
        let mut back = |charge_a: f64| {
            let inputs = [("daily_ah", number(daily_ah)), ("charge_a", number(charge_a))];
            (rounded(daily_ah / charge_a, 2), self.ledger.note(&CHARGE_HOURS, &inputs, daily_ah / charge_a))
        };
        let given = outputs.iter().filter_map(|output| output.output_a);
        // Outputs on batteries in series each put back what all of the string gave; the weakest sets the time.
        let charge_a = given.reduce(f64::min).filter(|a| *a > 0.0 && outputs.iter().all(|o| o.output_a.is_some()));
        let charger = charge_a.map(&mut back);
        let shared = facts.laid.alternator_banks.contains(&place);
        let idle = facts.boat.alternator_a.filter(|_| shared).map(|a| back(IDLE_SHARE * a));
        Some(BankEnergy {
            loads,
            daily_ah: rounded(daily_ah, 3),
            days,
            depth_of_discharge: depth,
            needed_ah: rounded(needed_ah, 3),
            basis,
            charger_h: charger.map(|(h, _)| h),
            charger_basis: charger.map(|(_, basis)| basis),
            idle_h: idle.map(|(h, _)| h),
            idle_basis: idle.map(|(_, basis)| basis),
        })
    }
}
