//! Chargers: an output for each battery, its leads with a fuse at the battery, and the case's ground.

use super::Sources;
use super::cables::{Cable, Made};
use super::mains::larger;
use super::studs::Terminal;
use crate::basis::Value;
use crate::circuits::bank_side::grounds_case;
use crate::circuits::charging::{Output, Task};
use crate::circuits::legs::{FUSE_STUD, LegEnd, battery_stud, negative_colour};
use crate::circuits::main_protection::{BankClass, main_family};
use crate::findings::Gap;
use crate::gathering::{Part, thousandths};
use crate::routes::{Route, Routes};
use crate::rules::energy::{CHARGE_FLOOR, CHARGE_TARGET};
use crate::rules::functions::FEEDER_COLOUR;
use crate::rules::power::LINK_IN;
use crate::rules::protection::{
    CONTINUOUS_FACTOR, battery_interrupt, charging_voltage_v, family, smallest_rating_a, standard_ratings,
};
use crate::rules::sizes::{all, area_cmil};
use crate::rules::table::energy as table;
use crate::shop::item::{Attributes, FuseFamily, Stud};
use crate::shop::labour::Driver;
use crate::take_off::{ChargerOutput, ConductorRole, LandsOn, Protection};
use crate::units::{Length, LengthUnit, Name, WireSize, rounded};

/// Stud of a charger's case and of the bus that grounds it (common practice).
const GROUND_STUD: Stud = Stud::Quarter;

/// From this rating on a fuse is made for cables that no charger output takes (common practice), amperes.
const LARGE_FUSE_A: f64 = 100.0;
/// How many times what a lead needs such a fuse may be all the same (common practice).
const LARGE_FUSE_TIMES: f64 = 2.0;

/// What the charging of one bank puts on its posts.
#[derive(Default)]
pub(super) struct Charging {
    pub(super) outputs: Vec<ChargerOutput>,
    pub(super) positive: Vec<Terminal>,
    pub(super) negative: Vec<Terminal>,
}

impl Sources<'_, '_> {
    /// Charger outputs of a bank, with their leads.
    pub(super) fn charging(&mut self, place: usize, routes: &mut Routes, owner: &Name) -> Charging {
        let facts = self.facts;
        let mut charging = Charging::default();
        let allotted = &facts.laid.allotted;
        for (nth, output) in allotted.outputs.iter().filter(|output| output.task.bank == place).enumerate() {
            self.output(place, nth + 1, output, routes, &mut charging, owner);
        }
        self.case_grounds(place, routes, &mut charging, owner);
        let without: Vec<&Task> = allotted.without.iter().filter(|task| task.bank == place).collect();
        let charged = facts.boat.equipment.iter().any(|e| matches!(e.item.attributes, Attributes::Charger { .. }));
        if charged && let Some(first) = without.first() {
            self.another_charger(place, &without, first, owner);
            for task in without {
                let (target, floor) = self.target(task);
                charging.outputs.push(ChargerOutput {
                    charger: None,
                    battery: (task.battery > 0).then_some(task.battery),
                    nominal_voltage_v: f64::from(task.voltage_v),
                    output_a: None,
                    target_a: target.map(|(a, _)| rounded(a, 3)),
                    target_basis: target.map(|(_, basis)| basis),
                    floor_a: floor.map(|(a, _)| rounded(a, 3)),
                    floor_basis: floor.map(|(_, basis)| basis),
                    leads: Vec::new(),
                    protection: None,
                });
            }
        }
        charging
    }

    /// Current to aim at and least current of an output, each with why.
    #[expect(clippy::type_complexity, reason = "two figures, each beside its basis")]
    fn target(
        &mut self,
        task: &Task,
    ) -> (Option<(f64, crate::basis::BasisRef)>, Option<(f64, crate::basis::BasisRef)>) {
        let capacity = |ah: f64| ("capacity_ah", Value::Number(ah));
        let target = match (task.maker_a, task.capacity_ah) {
            (Some(maker_a), _) => Some((
                maker_a,
                self.ledger.note(&table::CHARGE_TARGET, &[("maker_a", Value::Number(maker_a))], maker_a),
            )),
            (None, Some(ah)) => {
                let target_a = CHARGE_TARGET * ah;
                Some((target_a, self.ledger.note(&table::CHARGE_TARGET, &[capacity(ah)], target_a)))
            }
            (None, None) => None,
        };
        let floor = task.capacity_ah.map(|ah| {
            let floor_a = CHARGE_FLOOR * ah;
            (floor_a, self.ledger.note(&table::CHARGE_FLOOR, &[capacity(ah)], floor_a))
        });
        (target, floor)
    }

    fn output(
        &mut self,
        place: usize,
        nth: usize,
        output: &Output,
        routes: &mut Routes,
        charging: &mut Charging,
        owner: &Name,
    ) {
        let facts = self.facts;
        let piece = &facts.boat.equipment[output.charger];
        let bank = &facts.boat.banks[place];
        let Attributes::Charger { output_a, chemistries, fused_outputs, .. } = &piece.item.attributes else {
            return;
        };
        let Some(at) = piece.station else { return };
        let task = &output.task;
        let (target, floor) = self.target(task);
        if let Some(chemistry) = task.chemistry.filter(|chemistry| !chemistries.contains(chemistry)) {
            self.out.gaps.push(Gap {
                what: piece.key.clone(),
                need: format!(
                    "an output for the {} battery of the bank '{}'",
                    chemistry.word().replace('_', " "),
                    bank.id
                ),
                reason: format!("{} is not made for that chemistry", piece.item.description),
                mend: "choose a charger that is".to_owned(),
            });
        }
        if let Some((floor_a, _)) = floor.filter(|(floor_a, _)| output_a < floor_a) {
            let would = target.map_or(floor_a, |(target_a, _)| target_a);
            self.warn(
                &piece.key,
                format!(
                    "{output_a} A for the bank '{}' is below a tenth of its ampere-hours ({floor_a:.1} A): {would:.1} A would do",
                    bank.id
                ),
            );
        }
        if let Some(maker_a) = task.maker_a.filter(|maker_a| output_a > maker_a) {
            let message = format!(
                "{output_a} A is more than the {maker_a} A that the battery's maker asks for at the bank '{}'",
                bank.id
            );
            self.warn(&piece.key, message);
        }
        let Some(route) = routes.route(bank.station, at) else { return };
        let volts = f64::from(task.voltage_v);
        let class = self.lead_class(output);
        let needs_a = output_a * CONTINUOUS_FACTOR;
        let fuse = if *fused_outputs { None } else { self.lead_fuse(&class, needs_a) };
        if !*fused_outputs && fuse.is_none() {
            self.out.gaps.push(Gap {
                what: piece.key.clone(),
                need: format!("a fuse for {needs_a:.1} A at the battery end of a charger lead, bank '{}'", bank.id),
                reason: "no fuse family of the shop's settings has the rating, the voltage and the interrupt rating, without being far larger than the lead"
                    .to_owned(),
                mend: "choose a charger with outputs fused at the battery, or add a family to main_fuse_families"
                    .to_owned(),
            });
        }
        let wanted = |sources: &Self, positive| {
            let sign = if positive { '+' } else { '-' };
            sources.lead(output, format!("B{}C{nth}{sign}", place + 1), positive, route.clone())
        };
        let there = wanted(self, true).and_then(|cable| self.cable(cable, owner));
        let back = wanted(self, false).and_then(|cable| self.cable(cable, owner));
        self.out.counts.push((Driver::ChargerOutput, 1));
        let protection =
            fuse.zip(there.as_ref()).map(|(fuse, made)| self.charger_fuse(place, &class, fuse, needs_a, made));
        if let Some(protection) = &protection {
            self.out.mains.push((protection.clone(), owner.clone()));
        }
        let on_post = match (fuse, &there) {
            (Some(fuse), Some(made)) => {
                let label = (format!("B{}L {}", place + 1, made.label), made.label.to_string());
                self.landing(place, label, (fuse, made.rating_a), *output_a, Some(made.size), owner)
            }
            (_, made) => made.as_ref().map(Made::terminal),
        };
        // Leads of batteries within a string land on posts of their own.
        if bank.series == 1 || task.battery <= 1 {
            charging.negative.extend(back.as_ref().map(Made::terminal));
        }
        if bank.series == 1 || task.battery == 0 || task.battery == bank.series {
            charging.positive.extend(on_post);
        }
        charging.outputs.push(ChargerOutput {
            charger: Some(piece.key.clone()),
            battery: (task.battery > 0).then_some(task.battery),
            nominal_voltage_v: volts,
            output_a: Some(*output_a),
            target_a: target.map(|(a, _)| rounded(a, 3)),
            target_basis: target.map(|(_, basis)| basis),
            floor_a: floor.map(|(a, _)| rounded(a, 3)),
            floor_basis: floor.map(|(_, basis)| basis),
            leads: [there, back].into_iter().flatten().map(|made| made.label).collect(),
            protection,
        });
    }

    /// What a device at the battery end of an output's lead must withstand.
    pub(super) fn lead_class(&self, output: &Output) -> BankClass {
        let facts = self.facts;
        let (task, of_bank) = (&output.task, &facts.classes[output.task.bank]);
        let bank = &facts.boat.banks[task.bank];
        let of_one = battery_interrupt(f64::from(task.voltage_v), of_bank.cold_cranking_a);
        // A fault in the lead of the battery at the negative end draws on that battery; from any other post it goes to
        // ground through all that stands below.
        let stronger = if of_one.main_a > of_bank.interrupt.main_a { of_one } else { of_bank.interrupt };
        BankClass {
            // The top of a string stands at the bank's voltage, whichever of its batteries the lead is on.
            charging_v: charging_voltage_v(bank.nominal_voltage_v),
            interrupt: if task.battery == 1 { of_one } else { stronger },
            cold_cranking_a: of_bank.cold_cranking_a,
        }
    }

    /// The fuse family at the battery end of a lead: none whose least rating would ask for a lead far thicker than the
    /// charger has terminals for.
    pub(super) fn lead_fuse(&self, class: &BankClass, needs_a: f64) -> Option<FuseFamily> {
        main_family(class, needs_a, self.facts.settings).filter(|fuse| {
            let rating_a = smallest_rating_a(needs_a, family(*fuse).ratings_a).unwrap_or(f64::INFINITY);
            rating_a < LARGE_FUSE_A || rating_a <= LARGE_FUSE_TIMES * needs_a
        })
    }

    /// A lead of an output, from the battery or the fuse there; `None` where the charger has no station.
    fn lead(&self, output: &Output, label: String, positive: bool, route: Route) -> Option<Cable<'static>> {
        let facts = self.facts;
        let (task, piece) = (&output.task, &facts.boat.equipment[output.charger]);
        let (place, bank) = (task.bank, &facts.boat.banks[task.bank]);
        let Attributes::Charger { output_a, fused_outputs, stud, .. } = piece.item.attributes else { return None };
        let fuse =
            if fused_outputs { None } else { self.lead_fuse(&self.lead_class(output), output_a * CONTINUOUS_FACTOR) };
        let at_negative = bank.series == 1 || task.battery <= 1;
        let at_positive = bank.series == 1 || task.battery == 0 || task.battery == bank.series;
        let (lands_on, stud_at) = match (positive, fuse) {
            (true, Some(_)) => (LandsOn::MainFuse, FUSE_STUD),
            (true, None) if at_positive => self.positive_end(place),
            (true, None) => (LandsOn::BatteryPositive, battery_stud()),
            (false, _) if at_negative => (facts.laid.sides[place].negative.lands_on, battery_stud()),
            (false, _) => (LandsOn::BatteryNegative, battery_stud()),
        };
        Some(Cable {
            bank: place,
            role: if positive { ConductorRole::ChargerPositive } else { ConductorRole::ChargerReturn },
            label,
            colour: if positive { FEEDER_COLOUR } else { negative_colour(facts.boat) },
            current_a: output_a,
            route,
            from: LegEnd { station: bank.station, lands_on, stud: Some(stud_at) },
            to: LegEnd { station: piece.station?, lands_on: LandsOn::ChargerOutput, stud: Some(stud) },
            ratings: fuse.map_or((standard_ratings(), "standard"), |f| (family(f).ratings_a, f.word())),
            least_rating_a: 0.0,
            continuous: true,
            at_least: None,
            limit_v: f64::from(task.voltage_v) * facts.settings.critical_drop_percent / 200.0,
        })
    }

    /// Grounds of the cases of the chargers that this bank's negative grounds: one for each charger.
    fn case_grounds(&mut self, place: usize, routes: &mut Routes, charging: &mut Charging, owner: &Name) {
        let facts = self.facts;
        let (boat, allotted) = (facts.boat, &facts.laid.allotted);
        let here = (0..boat.equipment.len()).filter(|c| grounds_case(boat, facts.loads, allotted, *c) == Some(place));
        for (nth, charger) in here.enumerate() {
            let Some(at) = boat.equipment[charger].station else { continue };
            let mut largest = None;
            for output in allotted.outputs.iter().filter(|output| output.charger == charger) {
                let Some(route) = routes.route(boat.banks[output.task.bank].station, at) else { continue };
                let leads = [true, false].into_iter().filter_map(|positive| {
                    let lead = self.lead(output, String::new(), positive, route.clone())?;
                    self.size_of(&lead)
                });
                largest = leads.chain(largest).reduce(larger);
            }
            let (Some(lead), Some(route)) = (largest, routes.route(boat.banks[place].station, at)) else { continue };
            let ground = self.case_ground((place, nth + 1), at, lead, route, owner);
            charging.negative.extend(ground.as_ref().map(Made::terminal));
        }
    }

    pub(super) fn charger_fuse(
        &self,
        place: usize,
        class: &BankClass,
        fuse: FuseFamily,
        needs_a: f64,
        made: &Made,
    ) -> Protection {
        let facts = self.facts;
        let unit = match facts.settings.length_unit {
            LengthUnit::In | LengthUnit::Ft => LengthUnit::In,
            LengthUnit::Mm | LengthUnit::Cm | LengthUnit::M => LengthUnit::Mm,
        };
        Protection {
            station: facts.boat.stations[facts.boat.banks[place].station].id.clone(),
            protects: made.label.clone(),
            family: Some(fuse),
            breaker: false,
            rating_a: made.rating_a,
            load_needs_a: rounded(needs_a, 3),
            conductor_allows_a: made.allows_a,
            voltage_v_min: rounded(class.charging_v, 1),
            interrupt_a_min: class.interrupt.main_a,
            always_on: true,
            distance_max: Length::inches(LINK_IN).written(unit),
            basis: made.rating_basis,
        }
    }

    /// The conductor that grounds a charger's case: one size under its largest lead at most, 16 AWG (or 1 mm²) at least.
    fn case_ground(
        &mut self,
        (place, nth): (usize, usize),
        at: usize,
        lead: WireSize,
        route: Route,
        owner: &Name,
    ) -> Option<Made> {
        let facts = self.facts;
        let standard = facts.settings.area_standard;
        let lead_cmil = area_cmil(lead, standard)?;
        let least = crate::circuits::select::construction_minimum(standard);
        let below = all(standard)
            .iter()
            .filter(|size| area_cmil(**size, standard).is_some_and(|area| area < lead_cmil))
            .copied()
            .reduce(larger);
        let size = below.filter(|size| size.at_least(least)).unwrap_or(least);
        let sized = |size: WireSize| match size {
            WireSize::Awg(n) => f64::from(n),
            WireSize::Metric(hundredths) => f64::from(hundredths) / 100.0,
        };
        let name = if matches!(size, WireSize::Awg(_)) { "lead_awg" } else { "lead_mm2" };
        self.ledger.note(&table::CASE_GROUND, &[(name, Value::Number(sized(lead)))], sized(size));
        self.cable(
            Cable {
                bank: place,
                role: ConductorRole::CaseGround,
                label: format!("B{}G{nth}", place + 1),
                colour: "green",
                current_a: 0.0,
                route,
                from: facts.laid.sides[place].negative,
                to: LegEnd { station: at, lands_on: LandsOn::ChargerCase, stud: Some(GROUND_STUD) },
                ratings: (standard_ratings(), "standard"),
                least_rating_a: 0.0,
                continuous: false,
                at_least: Some(size),
                limit_v: f64::INFINITY,
            },
            owner,
        )
    }

    /// Another charger, as a requirement, for the batteries that have no output.
    fn another_charger(&mut self, place: usize, without: &[&Task], first: &Task, owner: &Name) {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        let target_a = match (first.maker_a, first.capacity_ah) {
            (Some(maker_a), _) => maker_a,
            (None, Some(ah)) => CHARGE_TARGET * ah,
            (None, None) => 0.0,
        };
        let chargers = facts.boat.equipment.iter();
        let chargers = chargers.filter(|piece| matches!(piece.item.attributes, Attributes::Charger { .. }));
        let station = chargers.clone().find_map(|piece| piece.station).unwrap_or(bank.station);
        let outputs = u16::try_from(without.len()).unwrap_or(u16::MAX);
        let ignition_protected = self.vapour(station);
        let part = Part::Charger {
            outputs,
            // A tenth is what must be, and makers' steps do not reach every fifth.
            output_ma: thousandths(rounded(target_a / 2.0, 3)),
            nominal_voltage_v: first.voltage_v,
            chemistry: first.chemistry,
            ignition_protected,
        };
        self.part(part, 1, owner);
        self.out.counts.push((Driver::Charger, 1));
        self.warn(
            &bank.id,
            format!(
                "{outputs} of its batteries have no charger output: another charger is in the take-off; name it among the equipment, with its station, and its leads are laid too"
            ),
        );
    }
}
