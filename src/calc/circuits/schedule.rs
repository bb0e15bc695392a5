//! The circuit schedule and the cut list: what was laid and sized, written out with why.

use crate::calc::basis::{BasisRef, Ledger, Value};
use crate::calc::circuits::ends::{EndParts, end_parts};
use crate::calc::circuits::legs::{FeederLegs, Laid, Leg, LegEnd};
use crate::calc::circuits::loads::Load;
use crate::calc::circuits::main_protection::{BankClass, main_family};
use crate::calc::circuits::select::{Chosen, CircuitSizes, FeederSizes, Main};
use crate::calc::circuits::sizing::note;
use crate::calc::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a};
use crate::calc::rules::sizes::area_cmil;
use crate::calc::rules::table::{electrical, quantities};
use crate::calc::shop::item::{DropClass, Function, FuseFamily};
use crate::calc::shop::settings::Settings;
use crate::calc::spec::boat::Boat;
use crate::calc::spec::input::LengthSource;
use crate::calc::take_off::{
    AlwaysOnSide, Circuit, Conductor, ConductorBasis, ConductorEnd, ConductorRole, Feeder, MEASURE_FIRST, Protection,
};
use crate::calc::units::{AreaStandard, Length, LengthUnit, Name, WireSize, rounded};

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

/// A conductor as written, and how its two ends are made.
pub struct Written {
    /// The line of the cut list.
    pub conductor: Conductor,
    /// How its end at the source's side is made.
    pub from: EndParts,
    /// How its end at the load's side is made.
    pub to: EndParts,
    /// Exact length to cut.
    pub cut: Length,
    /// Why the rating of the device that protects it is so.
    pub rating_basis: BasisRef,
}

impl Schedule<'_> {
    /// One line of the cut list.
    pub fn conductor(&mut self, leg: &Leg, chosen: &Chosen, circuit: &Name) -> Written {
        let carried = &chosen.carried;
        let lead = leg.maker_lead.map(|(size, _)| size);
        let from = end_parts(&leg.from, carried.size, None);
        let to = end_parts(&leg.to, carried.size, lead);
        let (basis, rating_basis) = self.conductor_basis(leg, chosen);
        let unit = self.settings.length_unit;
        let stations = &self.boat.stations;
        let end = |end: &LegEnd, parts: &EndParts, other: &LegEnd| ConductorEnd {
            station: stations[end.station].id.clone(),
            lands_on: end.lands_on,
            termination: parts.termination,
            stud: parts.stud,
            label: [leg.label.as_str(), " ", stations[other.station].id.as_str()].concat(),
        };
        let conductor = Conductor {
            label: leg.label.clone(),
            circuit: circuit.clone(),
            role: leg.role,
            colour: leg.colour,
            cable: None,
            label_colour: None,
            gauge: carried.size,
            insulation_c: self.settings.insulation_c,
            design_current_a: rounded(leg.current_a, 3),
            route: leg.route.stations.iter().map(|place| stations[*place].id.clone()).collect(),
            from: end(&leg.from, &from, &leg.to),
            to: end(&leg.to, &to, &leg.from),
            route_length: leg.route.length().written(unit),
            installed_length: leg.lengths.installed.written(unit),
            carrying_length: leg.lengths.carrying.written(unit),
            cut_length: leg.lengths.cut.written(unit),
            length_source: leg.length_source(),
            estimated_length: (leg.route.estimated > Length::ZERO).then(|| leg.route.estimated.written(unit)),
            cut_note: (leg.length_source() == LengthSource::Estimated).then_some(MEASURE_FIRST),
            bundled_conductors: leg.bundled,
            engine_space: leg.route.engine_space,
            table_current_a: carried.table_current_a,
            allowable_current_a: rounded(carried.allowable_current_a, 2),
            drop_v: rounded(chosen.drop_v, 4),
            limited_by: chosen.limited_by,
            basis,
        };
        Written { conductor, from, to, cut: leg.lengths.cut, rating_basis }
    }

    fn conductor_basis(&mut self, leg: &Leg, chosen: &Chosen) -> (ConductorBasis, BasisRef) {
        let carried = &chosen.carried;
        let settings = self.settings;
        let number = Value::Number;
        let ledger = &mut *self.ledger;
        let carried_basis = note(ledger, &chosen.demand, carried);
        let (lead_ft, lead_cmil) =
            leg.maker_lead.map_or((0.0, 1.0), |(size, length)| (length.ft(), lead_area_cmil(size)));
        let mut inputs = vec![
            ("copper_ohm_cmil_per_ft", number(settings.copper_ohm_cmil_per_ft)),
            ("current_a", number(leg.current_a)),
            ("length_ft", number(leg.lengths.carrying.ft())),
            ("area_cmil", number(carried.area_cmil)),
            ("lead_length_ft", number(lead_ft)),
            ("lead_area_cmil", number(lead_cmil)),
        ];
        if let Some(before) = leg.before
            && let Some(counted) = before.counted(leg.current_a)
            && let Some(area) = area_cmil(before.size, settings.area_standard)
        {
            inputs.extend([("before_length_ft", number(counted.ft())), ("before_area_cmil", number(area))]);
        }
        let drop = ledger.note(&quantities::DROP_CONDUCTOR, &inputs, chosen.drop_v);
        let lengths = &leg.lengths;
        let installed = ledger.note(
            &quantities::LENGTH_INSTALLED,
            &[
                ("route_m", number(leg.route.length().m())),
                ("rises_m", number(lengths.rises.m())),
                ("ends_m", number(lengths.ends.m())),
            ],
            lengths.installed.m(),
        );
        let cut = ledger.note(
            &quantities::LENGTH_CUT,
            &[
                ("measured_m", number((lengths.carrying - leg.route.estimated).m())),
                ("estimated_m", number(leg.route.estimated.m())),
                ("waste_measured_percent", number(settings.waste_measured_percent)),
                ("waste_estimated_percent", number(settings.waste_estimated_percent)),
            ],
            lengths.cut.m(),
        );
        let basis = ConductorBasis {
            area: carried_basis.area,
            table_current_a: carried_basis.table_current_a,
            allowable_current_a: carried_basis.allowable_current_a,
            drop_v: drop,
            installed_length: installed,
            cut_length: cut,
        };
        (basis, carried_basis.rating_a)
    }

    /// The schedule of one circuit. `lines` are its conductors: its positives in order, then its return.
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
                self.branch_protection(load, &self.laid.legs[leg], chosen, line.rating_basis)
            })
            .collect();
        Circuit {
            key: load.key.clone(),
            number: load.number.clone(),
            description: equipment.item.description.clone(),
            sku: equipment.item.sku.clone(),
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

    fn distance(&self) -> crate::calc::units::LengthValue {
        let unit = match self.settings.length_unit {
            LengthUnit::In | LengthUnit::Ft => LengthUnit::In,
            LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => LengthUnit::Mm,
        };
        Length::inches(DISTANCE_BARE_IN).written(unit)
    }

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

/// Area of a maker's lead: gauge by AWG, metric as stated.
pub fn lead_area_cmil(size: WireSize) -> f64 {
    let standard = if size.awg().is_some() { AreaStandard::Awg } else { AreaStandard::Metric };
    crate::calc::rules::sizes::area_cmil(size, standard).unwrap_or_else(|| size.nominal_cmil())
}
