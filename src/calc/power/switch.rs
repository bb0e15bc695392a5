//! The battery switch of a bank, and how far from the post its main protection may stand.

use super::Sources;
use crate::basis::{BasisRef, Rule, Value};
use crate::circuits::bank_side::switch_stud;
use crate::findings::Gap;
use crate::gathering::{Part, thousandths};
use crate::rules::power::{Source, distance_max_in};
use crate::rules::table::power::DISTANCE;
use crate::shop::item::Attributes;
use crate::shop::labour::Driver;
use crate::spec::boat::SwitchProvision;
use crate::take_off::{BatterySwitch, MainDistance};
use crate::units::{Length, LengthUnit, LengthValue, Name, rounded};

impl Sources<'_, '_> {
    /// The switch, as a requirement, as the item that is named for it, or as it is aboard: rated for so many amperes, by a
    /// rule whose one input is named.
    pub(super) fn switch(
        &mut self,
        place: usize,
        (least_a, rule, named): (f64, &'static Rule, &'static str),
        owner: &Name,
    ) -> Option<BatterySwitch> {
        let facts = self.facts;
        facts.laid.sides[place].to_switch.as_ref()?;
        let (bank, class) = (&facts.boat.banks[place], &facts.classes[place]);
        let switch = &bank.switch;
        let ignition_protected = self.vapour(switch.station);
        let aboard = switch.provision == SwitchProvision::Aboard;
        let basis = self.ledger.note(rule, &[(named, Value::Number(least_a))], least_a);
        match &switch.item {
            Some(item) => {
                if !switch.in_equipment && !aboard {
                    self.part(Part::Item(item.sku.clone()), 1, owner);
                }
                let Attributes::BatterySwitch { rating_a, ignition_protected: sealed, .. } = item.attributes else {
                    return None;
                };
                let place = &facts.boat.stations[switch.station];
                let mut short = Vec::new();
                if rating_a < least_a {
                    short.push(format!("it is rated for {rating_a} A, and {least_a} A may flow there for hours"));
                }
                if ignition_protected && !sealed {
                    short.push("it is not ignition protected, and petrol vapour may be there".to_owned());
                }
                if !short.is_empty() && !aboard {
                    self.out.gaps.push(Gap {
                        what: owner.clone(),
                        need: format!("{} at '{}' for the bank '{}'", item.description, place.name, bank.id),
                        reason: short.join("; "),
                        mend: "name another switch, or none: one that fits is then found".to_owned(),
                    });
                }
            }
            None if aboard => {}
            None => {
                let stud = switch_stud(facts.boat, place);
                let (rating_ma, voltage_mv) = (thousandths(least_a), thousandths(rounded(class.charging_v, 1)));
                self.part(Part::Switch { rating_ma, voltage_mv, stud, ignition_protected }, 1, owner);
                self.out.counts.push((Driver::BatterySwitch, 1));
            }
        }
        Some(BatterySwitch {
            station: facts.boat.stations[switch.station].id.clone(),
            sku: switch.item.as_ref().map(|item| item.sku.clone()),
            aboard,
            rating_a_min: least_a,
            voltage_v_min: rounded(class.charging_v, 1),
            ignition_protected,
            basis,
        })
    }

    /// Where a bank's main protection may stand.
    pub(super) fn distance(&mut self) -> MainDistance {
        let unit = match self.facts.settings.length_unit {
            LengthUnit::In | LengthUnit::Ft => LengthUnit::In,
            LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => LengthUnit::Mm,
        };
        let mut stated = |source: Source, sheathed: bool| -> (LengthValue, BasisRef) {
            let inches = distance_max_in(source, sheathed);
            let of = if source == Source::BatteryTerminal { "battery terminal" } else { "other" };
            let sheath = if sheathed { "yes" } else { "no" };
            let inputs = [("source", Value::Text(of)), ("sheathed", Value::Text(sheath))];
            (Length::inches(inches).written(unit), self.ledger.note(&DISTANCE, &inputs, inches))
        };
        let (bare, a) = stated(Source::BatteryTerminal, false);
        let (sheathed_on_battery, b) = stated(Source::BatteryTerminal, true);
        let (sheathed_on_other, c) = stated(Source::Other, true);
        MainDistance { bare, sheathed_on_battery, sheathed_on_other, basis: [a, b, c] }
    }
}
