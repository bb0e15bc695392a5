//! The schedule of a feeder: its current, its drop, and the device that protects it.

use super::Schedule;
use super::conductors::Written;
use crate::basis::{BasisRef, Value};
use crate::circuits::legs::FeederLegs;
use crate::circuits::select::{Chosen, FeederSizes, Main};
use crate::rules::protection::CONTINUOUS_FACTOR;
use crate::rules::table::{electrical, quantities};
use crate::take_off::{Feeder, Protection};
use crate::units::{Name, rounded};

impl Schedule<'_> {
    /// Where a feeder's device is: at the panel that feeds it, at the post, or on the feed bus behind the bank's switch.
    fn protected_at(&self, feeder: &FeederLegs) -> usize {
        let panel = &self.boat.panels[feeder.panel];
        let side = &self.laid.sides[panel.bank];
        match panel.fed_from {
            Some(feeding) => self.boat.panels[feeding].station,
            None if side.feed_bus => side.start.station,
            None => self.boat.banks[panel.bank].station,
        }
    }

    /// The schedule of one feeder, protected at its `line`.
    pub fn feeder(
        &mut self,
        feeder: &FeederLegs,
        sizes: &FeederSizes,
        main: Main,
        key: Name,
        line: &Written,
    ) -> Feeder {
        let panel = &self.boat.panels[feeder.panel];
        let bank = &self.boat.banks[panel.bank];
        let number = Value::Number;
        let current_basis = self.ledger.note(
            &electrical::LOAD_ANALYSIS,
            &[
                ("always_a", number(feeder.always_a)),
                ("occasional_a", number(feeder.occasional_a)),
                ("largest_occasional_a", number(feeder.largest_occasional_a)),
            ],
            feeder.current_a,
        );
        let main_basis = self.ledger.note(
            &electrical::PROTECTION_MAIN,
            &[
                ("always_a", number(feeder.always_a)),
                ("continuous_factor", number(CONTINUOUS_FACTOR)),
                ("occasional_a", number(feeder.occasional_a)),
                ("largest_occasional_a", number(feeder.largest_occasional_a)),
                ("largest_branch_a", number(main.largest_branch_a)),
            ],
            main.least_rating_a,
        );
        let positive_v = sizes.positive.drop_v;
        let return_v: f64 = sizes.returns.iter().map(|chosen| chosen.drop_v).sum();
        let (drop_percent, drop_basis) = self.feeder_drop((positive_v, return_v), (0.0, 0.0), bank.nominal_voltage_v);
        let above_v = (sizes.from_bank_v.0 - positive_v, sizes.from_bank_v.1 - return_v);
        let (from_bank_percent, drop_from_bank_basis) =
            self.feeder_drop((positive_v, return_v), above_v, bank.nominal_voltage_v);
        let (protection, interrupt_basis) = self.feeder_protection(feeder, &sizes.positive, main.breaker, line);
        Feeder {
            key,
            number: feeder.number.clone(),
            panel: panel.id.clone(),
            bank: bank.id.clone(),
            fed_from: panel.fed_from.map(|feeding| self.boat.panels[feeding].id.clone()),
            nominal_voltage_v: bank.nominal_voltage_v,
            design_current_a: rounded(feeder.current_a, 3),
            always_a: rounded(feeder.always_a, 3),
            occasional_a: rounded(feeder.occasional_a, 3),
            largest_occasional_a: rounded(feeder.largest_occasional_a, 3),
            drop_limit_percent: self.settings.feeder_drop_percent,
            drop_percent: rounded(drop_percent, 3),
            drop_from_bank_percent: rounded(from_bank_percent, 3),
            conductors: std::iter::once(&feeder.positive)
                .chain(&feeder.returns)
                .map(|leg| self.laid.legs[*leg].label.clone())
                .collect(),
            protection,
            current_basis,
            drop_basis,
            drop_from_bank_basis,
            interrupt_basis,
            main_basis,
        }
    }

    /// Drop of a feeder's own conductors and of those above, percent.
    fn feeder_drop(&mut self, own_v: (f64, f64), above_v: (f64, f64), nominal_v: f64) -> (f64, BasisRef) {
        let drop_percent = 100.0 * (own_v.0 + own_v.1 + above_v.0 + above_v.1) / nominal_v;
        let inputs = [
            ("positive_v", Value::Number(own_v.0)),
            ("return_v", Value::Number(own_v.1)),
            ("feeder_positive_v", Value::Number(above_v.0)),
            ("feeder_return_v", Value::Number(above_v.1)),
            ("nominal_voltage_v", Value::Number(nominal_v)),
        ];
        (drop_percent, self.ledger.note(&quantities::DROP_CIRCUIT, &inputs, drop_percent))
    }

    /// The device of a feeder: a main at the bank, which is the first in series with it, or a sub-main on a panel, which
    /// is a later one; and why its interrupt rating is so.
    fn feeder_protection(
        &mut self,
        feeder: &FeederLegs,
        positive: &Chosen,
        breaker: bool,
        line: &Written,
    ) -> (Option<Protection>, BasisRef) {
        let panel = &self.boat.panels[feeder.panel];
        let class = &self.classes[panel.bank];
        let (rule, interrupt_a_min) = match feeder.fed_from {
            None => (&electrical::INTERRUPT, class.interrupt.main_a),
            Some(_) => (&electrical::INTERRUPT_BRANCH, class.interrupt.branch_a),
        };
        let nominal_v = self.boat.banks[panel.bank].nominal_voltage_v;
        let inputs = [
            ("nominal_voltage_v", Value::Number(nominal_v)),
            ("cold_cranking_a", Value::Number(class.cold_cranking_a)),
        ];
        let interrupt_basis = self.ledger.note(rule, &inputs, interrupt_a_min);
        let protection = (positive.family.is_some() || breaker).then(|| Protection {
            station: self.boat.stations[self.protected_at(feeder)].id.clone(),
            protects: self.laid.legs[feeder.positive].label.clone(),
            family: positive.family,
            breaker,
            rating_a: positive.carried.rating_a,
            load_needs_a: rounded(positive.carried.load_needs_a, 3),
            conductor_allows_a: positive.carried.conductor_allows_a,
            voltage_v_min: rounded(class.charging_v, 1),
            interrupt_a_min,
            always_on: false,
            distance_max: self.distance(),
            basis: line.rating_basis,
        });
        (protection, interrupt_basis)
    }
}
