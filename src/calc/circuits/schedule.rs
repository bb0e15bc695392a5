//! The circuit schedule and the cut list: what was laid and sized, written out with why.

mod conductors;
mod feeders;

pub use conductors::Written;

use crate::basis::{BasisRef, Ledger, Value};
use crate::circuits::legs::{Laid, Leg};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::{BankClass, main_family};
use crate::circuits::select::{Chosen, CircuitSizes};
use crate::rules::protection::{family, smallest_rating_a};
use crate::rules::table::{electrical, quantities};
use crate::shop::item::{DropClass, Function, FuseFamily};
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::{AlwaysOnSide, Circuit, ConductorRole, Protection};
use crate::units::{Length, LengthUnit, LengthValue, Name, rounded};

/// Distance from a battery post within which its fuse must sit, where the conductor is not sheathed (ABYC E-11).
pub const DISTANCE_BARE_IN: f64 = 7.0;

/// Writes schedules: what all of them read, and where they note why.
pub struct Schedule<'a> {
    /// The boat.
    pub boat: &'a Boat,
    /// The loads.
    pub loads: &'a [Load],
    /// What was laid.
    pub laid: &'a Laid,
    /// The shop's settings.
    pub settings: &'a Settings,
    /// The class of each bank.
    pub classes: &'a [BankClass],
    /// Where derivations are noted.
    pub ledger: &'a mut Ledger,
}

impl Schedule<'_> {
    /// The schedule of one circuit. `lines` are its conductors: its positives in order, its return, then what leads to its
    /// switch.
    pub fn circuit(&mut self, place: usize, sizes: &CircuitSizes, lines: &[(usize, Box<Written>)]) -> Circuit {
        let load = &self.loads[place];
        let legs = &self.laid.circuits[place];
        let panel = &self.boat.panels[load.panel];
        let equipment = &self.boat.equipment[load.equipment];
        let number = Value::Number;
        let (feeder_positive_v, feeder_return_v) = sizes.feeder_v;
        let worst = &sizes.positives[sizes.worst];
        let through_feeder = self.laid.legs[legs.positives[sizes.worst]].role != ConductorRole::ConstantPositive;
        let drop_percent = 100.0 * sizes.drop_v / load.voltage_v;
        let basis = self.ledger.note(
            &quantities::DROP_CIRCUIT,
            &[
                ("positive_v", number(worst.drop_v)),
                ("return_v", number(sizes.negative.drop_v)),
                ("feeder_positive_v", number(if through_feeder { feeder_positive_v } else { 0.0 })),
                ("feeder_return_v", number(feeder_return_v)),
                ("nominal_voltage_v", number(load.voltage_v)),
            ],
            drop_percent,
        );
        let first = &self.laid.legs[legs.positives[0]];
        let constant = first.role == ConductorRole::ConstantPositive;
        let own = self.settings.colours.iter().any(|choice| choice.function == load.function);
        let published = (constant && load.function != Function::BilgePump) || !own;
        let colour_basis = self.ledger.note(
            if published { &electrical::COLOUR_FUNCTION } else { &electrical::COLOUR_SHOP },
            &[
                ("function", Value::Text(load.function.word())),
                ("lead", Value::Text(if constant { "constant" } else { "switched" })),
            ],
            Value::Text(first.colour),
        );
        let protection: Vec<Protection> = legs
            .positives
            .iter()
            .zip(&sizes.positives)
            .zip(lines)
            .map(|((&leg, chosen), (_, line))| {
                let leg = &self.laid.legs[leg];
                // The device stands before the first part of a positive that goes through a switch, and protects both.
                let first = leg.continues.and_then(|feed| {
                    let (_, line) = lines.iter().find(|(place, _)| *place == feed)?;
                    Some((&self.laid.legs[feed], sizes.switch_feed.as_ref()?, line))
                });
                let (first, feed, feed_line) = first.unwrap_or((leg, chosen, line));
                let weaker = feed.carried.conductor_allows_a < chosen.carried.conductor_allows_a;
                let (chosen, line) = if weaker { (feed, feed_line) } else { (chosen, line) };
                self.branch_protection(load, first, chosen, line.rating_basis)
            })
            .collect();
        Circuit {
            key: load.key.clone(),
            number: load.number.clone(),
            description: equipment.item.description.clone(),
            sku: (!equipment.planned).then(|| equipment.item.sku.clone()),
            function: load.function,
            station: self.boat.stations[load.station].id.clone(),
            panel: panel.id.clone(),
            bank: self.boat.banks[panel.bank].id.clone(),
            nominal_voltage_v: load.voltage_v,
            design_current_a: rounded(load.negative.current_a, 3),
            duty: load.duty,
            load_column: load.load_column,
            drop_class: load.drop_class,
            drop_limit_percent: match load.drop_class {
                DropClass::Critical => self.settings.critical_drop_percent,
                DropClass::General => self.settings.general_drop_percent,
            },
            drop_percent: rounded(drop_percent, 3),
            loaded_voltage_v: rounded(load.voltage_v - sizes.drop_v, 3),
            conductors: lines.iter().map(|(_, line)| line.conductor.label.clone()).collect(),
            cable: self.laid.cable_of(place).map(|cable| cable.label.clone()),
            protection,
            unconnected_leads: load.unconnected.clone(),
            basis,
            colour_basis,
        }
    }

    fn branch_protection(&self, load: &Load, leg: &Leg, chosen: &Chosen, basis: BasisRef) -> Protection {
        let class = &self.classes[self.boat.panels[load.panel].bank];
        let always_on = leg.role == ConductorRole::ConstantPositive;
        Protection {
            station: self.boat.stations[leg.from.station].id.clone(),
            protects: leg.label.clone(),
            family: chosen.family,
            breaker: chosen.family.is_none(),
            rating_a: chosen.carried.rating_a,
            load_needs_a: rounded(chosen.carried.load_needs_a, 3),
            conductor_allows_a: chosen.carried.conductor_allows_a,
            voltage_v_min: rounded(class.charging_v, 1),
            // A branch behind a main fuse of enough rating is covered by the pair; an always-on fuse of a main family
            // stands at the battery by itself.
            interrupt_a_min: match chosen.family {
                Some(family) if always_on && family != FuseFamily::Blade => class.interrupt.main_a,
                _ => 0.0,
            },
            always_on,
            distance_max: self.distance(),
            basis,
        }
    }

    /// The always-on side of a bank, fed by the circuits of these loads.
    pub fn always_on(&mut self, bank: usize, sized: &[(usize, &CircuitSizes)]) -> Option<AlwaysOnSide> {
        let mut numbers = Vec::new();
        let (mut current_a, mut behind_main_a) = (0.0, 0.0);
        for &(place, sizes) in sized {
            if self.boat.panels[self.loads[place].panel].bank != bank {
                continue;
            }
            for (&leg, chosen) in self.laid.circuits[place].positives.iter().zip(&sizes.positives) {
                let leg = &self.laid.legs[leg];
                if leg.role == ConductorRole::ConstantPositive {
                    current_a += leg.current_a;
                    behind_main_a += if chosen.family == Some(FuseFamily::Blade) { leg.current_a } else { 0.0 };
                    if numbers.last() != Some(&self.loads[place].number) {
                        numbers.push(self.loads[place].number.clone());
                    }
                }
            }
        }
        if numbers.is_empty() {
            return None;
        }
        let class = &self.classes[bank];
        let bank = &self.boat.banks[bank];
        let fuse = main_family(class, behind_main_a, self.settings).and_then(|fuse| {
            let rating_a = smallest_rating_a(behind_main_a, family(fuse).ratings_a)?;
            Some((fuse, rating_a))
        });
        let protection = fuse.filter(|_| behind_main_a > 0.0).map(|(fuse, rating_a)| Protection {
            station: self.boat.stations[bank.station].id.clone(),
            protects: Name::from(format!("{} always on", bank.id)),
            family: Some(fuse),
            breaker: false,
            rating_a,
            load_needs_a: rounded(behind_main_a, 3),
            conductor_allows_a: rating_a,
            voltage_v_min: rounded(class.charging_v, 1),
            interrupt_a_min: class.interrupt.main_a,
            always_on: true,
            distance_max: self.distance(),
            basis: self.ledger.note(
                &electrical::INTERRUPT,
                &[
                    ("nominal_voltage_v", Value::Number(bank.nominal_voltage_v)),
                    ("cold_cranking_a", Value::Number(class.cold_cranking_a)),
                ],
                class.interrupt.main_a,
            ),
        });
        Some(AlwaysOnSide { bank: bank.id.clone(), circuits: numbers, current_a: rounded(current_a, 3), protection })
    }

    fn distance(&self) -> LengthValue {
        let unit = match self.settings.length_unit {
            LengthUnit::In | LengthUnit::Ft => LengthUnit::In,
            LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => LengthUnit::Mm,
        };
        Length::inches(DISTANCE_BARE_IN).written(unit)
    }
}
