//! Post, main protection, switch and feed bus of a bank.

use super::Sources;
use super::cables::{Cable, Made, here};
use super::studs::Terminal;
use crate::calc::basis::{BasisRef, Value};
use crate::calc::circuits::bank_side::{BankSide, switch_stud};
use crate::calc::circuits::legs::{FUSE_STUD, LegEnd, battery_stud, negative_colour};
use crate::calc::circuits::main_protection::main_family;
use crate::calc::findings::Gap;
use crate::calc::gathering::{Part, thousandths};
use crate::calc::routes::Routes;
use crate::calc::rules::functions::FEEDER_COLOUR;
use crate::calc::rules::power::{SHARE_BEFORE_FEEDERS, SWITCH_ABOVE_CRANKING_A, Source, distance_max_in};
use crate::calc::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a};
use crate::calc::rules::table::electrical::{LOAD_ANALYSIS, PROTECTION_MAIN};
use crate::calc::rules::table::power::{BEFORE_FEEDER, DISTANCE, SWITCH_RATING};
use crate::calc::shop::item::{Attributes, FuseFamily, Stud};
use crate::calc::shop::labour::Driver;
use crate::calc::spec::boat::SwitchProvision;
use crate::calc::take_off::{
    BankPower, BatterySwitch, CableBeforeFeeder, ConductorRole, LandsOn, MainDistance, Protection,
};
use crate::calc::units::{Length, LengthUnit, LengthValue, Name, WireSize, rounded};

/// Stud of the buses at a bank and of its feed bus (common practice).
const BUS_STUD: Stud = Stud::ThreeEighths;

/// Share of the nominal voltage that the short cable to a fuse block may drop (common practice).
const BLOCK_FEED_SHARE: f64 = 0.003;

/// The main protection of a bank, as its cables see it.
struct Main {
    family: FuseFamily,
    rating_a: f64,
    /// Size of the cable behind it.
    size: WireSize,
}

impl Sources<'_, '_> {
    /// Everything at one bank.
    pub(super) fn bank(&mut self, place: usize, routes: &mut Routes) {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let class = &facts.classes[place];
        let owner = self.owner(place);
        let first_cable = self.out.cables.len();
        let number = Value::Number;
        let load = side.load;
        let current_basis = self.ledger.note(
            &LOAD_ANALYSIS,
            &[
                ("always_a", number(load.always_a)),
                ("occasional_a", number(load.occasional_a)),
                ("largest_occasional_a", number(load.largest_occasional_a)),
            ],
            load.current_a,
        );
        let (main, main_basis, behind) = self.main(place, &owner);
        let mut positive = self.post(place, behind.as_ref(), &owner);
        let feed = behind.as_ref().map(|main| main.size);
        let batteries = self.batteries(place, feed, behind.as_ref().map_or(0.0, |main| main.rating_a), &owner);
        let charging = self.charging(place, routes, &owner);
        positive.extend(charging.positive);
        let energy = self.energy(place, &charging.outputs);
        let positive_bus = self.positive_bus(place, &mut positive, &owner);
        if side.fuse_block {
            self.block_feed(place, &owner);
        }
        let switch = behind.as_ref().and_then(|main| self.switch(place, main, &owner));
        let mut studs = Vec::new();
        if !positive.is_empty() {
            let name = format!("{} positive {}", bank.id, if positive_bus { "bus" } else { "post" });
            studs.push(self.stack(name, bank.station, battery_stud(), positive));
        }
        let negative = self.negative(place, side, behind.as_ref(), charging.negative, &owner);
        if !negative.is_empty() {
            let name = format!("{} negative post", bank.id);
            studs.push(self.stack(name, bank.station, battery_stud(), negative));
        }
        if bank.switch.provision == SwitchProvision::None
            && bank.cold_cranking_a.is_some_and(|cranking_a| cranking_a > SWITCH_ABOVE_CRANKING_A)
            && !side.panels.is_empty()
        {
            self.warn(
                &bank.id,
                format!(
                    "the bank has no switch, and one is asked for above {SWITCH_ABOVE_CRANKING_A} cold-cranking amperes (ABYC E-11, from memory): fit one"
                ),
            );
        }
        let before_feeders = self.before_feeders(side);
        let power = BankPower {
            bank: bank.id.clone(),
            nominal_voltage_v: bank.nominal_voltage_v,
            charging_voltage_v: rounded(class.charging_v, 1),
            design_current_a: rounded(load.current_a, 3),
            main,
            main_basis,
            main_distance: self.distance(),
            switch,
            studs,
            batteries,
            charging: charging.outputs,
            energy,
            cables: self.out.cables[first_cable..].iter().map(|(leg, _)| leg.label.clone()).collect(),
            before_feeders,
            current_basis,
        };
        self.out.banks.push(power);
    }

    /// The main protection: a feeder's where the bank feeds one panel, its own where it feeds several behind a switch,
    /// none where each feeder has its own at the post.
    fn main(&mut self, place: usize, owner: &Name) -> (Option<Protection>, Option<BasisRef>, Option<Main>) {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let aboard = facts.boat.banks[place].switch.provision == SwitchProvision::Aboard;
        if !side.feed_bus {
            let [panel] = side.panels[..] else { return (None, None, None) };
            let id = &facts.boat.panels[panel].id;
            let Some(feeder) = facts.feeders.iter().find(|feeder| feeder.panel == *id) else {
                return (None, None, None);
            };
            let size = self.feeder_size(panel);
            let behind = feeder.protection.as_ref().zip(size).and_then(|(protection, size)| {
                Some(Main { family: protection.family?, rating_a: protection.rating_a, size })
            });
            if let Some(main) = behind.as_ref().filter(|_| side.to_switch.is_some() && !aboard) {
                self.switch_feed(place, main, owner);
            }
            return (feeder.protection.clone(), Some(feeder.main_basis), behind);
        }
        if aboard {
            return (None, None, None);
        }
        let class = &facts.classes[place];
        let bank = &facts.boat.banks[place];
        let fuses = facts.feeders.iter().filter(|feeder| feeder.bank == bank.id).filter_map(|f| f.protection.as_ref());
        let largest_a = fuses.map(|fuse| fuse.rating_a).fold(0.0, f64::max);
        let load = side.load;
        let needs_a = load.needs_a().max(largest_a);
        let basis = self.ledger.note(
            &PROTECTION_MAIN,
            &[
                ("always_a", Value::Number(load.always_a)),
                ("continuous_factor", Value::Number(CONTINUOUS_FACTOR)),
                ("occasional_a", Value::Number(load.occasional_a)),
                ("largest_occasional_a", Value::Number(load.largest_occasional_a)),
                ("largest_branch_a", Value::Number(largest_a)),
            ],
            needs_a,
        );
        let fuse = main_family(class, needs_a, facts.settings);
        let rated = fuse.and_then(|fuse| Some((fuse, smallest_rating_a(needs_a, family(fuse).ratings_a)?)));
        let Some((fuse, rating_a)) = rated else {
            self.out.gaps.push(Gap {
                what: owner.clone(),
                need: format!("a main fuse for {needs_a:.1} A at the bank '{}'", bank.id),
                reason: "no fuse family of the shop's settings has the rating, the voltage and the interrupt rating"
                    .to_owned(),
                mend: "add a family to main_fuse_families, or feed a panel from another bank".to_owned(),
            });
            return (None, Some(basis), None);
        };
        let largest = side.panels.iter().filter_map(|panel| self.feeder_size(*panel));
        let size = largest.max_by(|a, b| a.nominal_cmil().total_cmp(&b.nominal_cmil()));
        let Some(size) = size.or(side.before.map(|(size, _)| size)) else { return (None, Some(basis), None) };
        let Some(made) = self.switch_feed(place, &Main { family: fuse, rating_a, size }, owner) else {
            return (None, Some(basis), None);
        };
        let protection = Protection {
            station: facts.boat.stations[bank.station].id.clone(),
            protects: made.label.clone(),
            family: Some(fuse),
            breaker: false,
            rating_a,
            load_needs_a: rounded(needs_a, 3),
            conductor_allows_a: made.allows_a,
            voltage_v_min: rounded(class.charging_v, 1),
            interrupt_a_min: class.interrupt.main_a,
            always_on: false,
            distance_max: self.distance().bare,
            basis: made.rating_basis,
        };
        self.out.mains.push((protection.clone(), owner.clone()));
        self.feed_bus(place, side, &made, fuse, owner);
        (Some(protection), Some(basis), Some(Main { family: fuse, rating_a, size: made.size }))
    }

    /// Size of the positive of a panel's feeder.
    fn feeder_size(&self, panel: usize) -> Option<WireSize> {
        let place = self.facts.laid.feeders.iter().position(|feeder| feeder.panel == panel)?;
        self.facts.sizes.feeders[place].as_ref().map(|(positive, _)| positive.carried.size)
    }

    /// The cable from the main fuse to the switch, no smaller than the feeder that it goes on as.
    fn switch_feed(&mut self, place: usize, main: &Main, owner: &Name) -> Option<Made> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let route = side.to_switch.clone()?;
        let least = side.before.map_or(main.size, |(size, _)| larger(size, main.size));
        let made = self.cable(
            Cable {
                bank: place,
                role: ConductorRole::SwitchFeed,
                label: format!("B{}S", place + 1),
                colour: FEEDER_COLOUR,
                current_a: side.load.current_a,
                route,
                from: LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                to: LegEnd {
                    station: bank.switch.station,
                    lands_on: LandsOn::BatterySwitch,
                    stud: Some(switch_stud(facts.boat, place)),
                },
                ratings: (family(main.family).ratings_a, main.family.word()),
                least_rating_a: main.rating_a,
                continuous: false,
                at_least: Some(least),
                limit_v: f64::INFINITY,
            },
            owner,
        )?;
        self.part(Part::Boot(made.size, FEEDER_COLOUR), 2, owner);
        Some(made)
    }

    /// The feed bus behind the switch, with its cable: each feeder has its fuse there.
    fn feed_bus(&mut self, place: usize, side: &BankSide, feed: &Made, fuse: FuseFamily, owner: &Name) {
        let facts = self.facts;
        let station = facts.boat.banks[place].switch.station;
        self.cable(
            Cable {
                bank: place,
                role: ConductorRole::SwitchFeed,
                label: format!("B{}F", place + 1),
                colour: FEEDER_COLOUR,
                current_a: side.load.current_a,
                route: here(station),
                from: LegEnd { station, lands_on: LandsOn::BatterySwitch, stud: Some(switch_stud(facts.boat, place)) },
                to: LegEnd { station, lands_on: LandsOn::FeedBus, stud: Some(BUS_STUD) },
                ratings: (family(fuse).ratings_a, fuse.word()),
                least_rating_a: feed.rating_a,
                continuous: false,
                at_least: Some(feed.size),
                limit_v: f64::INFINITY,
            },
            owner,
        );
        let places = side.panels.len() + 1;
        self.bus(places, feed.rating_a, owner);
    }

    /// The cable from the always-on main fuse to the fuse block behind it.
    fn block_feed(&mut self, place: usize, owner: &Name) {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        let always_on = facts.always_on.iter().find(|always| always.bank == bank.id);
        let Some(protection) = always_on.and_then(|always| always.protection.as_ref()) else { return };
        let Some(fuse) = protection.family else { return };
        self.cable(
            Cable {
                bank: place,
                role: ConductorRole::BlockFeed,
                label: format!("B{}B", place + 1),
                colour: FEEDER_COLOUR,
                current_a: protection.load_needs_a,
                route: here(bank.station),
                from: LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                to: LegEnd { station: bank.station, lands_on: LandsOn::FuseBlock, stud: Some(Stud::Quarter) },
                ratings: (family(fuse).ratings_a, fuse.word()),
                least_rating_a: protection.rating_a,
                continuous: false,
                at_least: None,
                limit_v: bank.nominal_voltage_v * BLOCK_FEED_SHARE,
            },
            owner,
        );
        self.out.counts.push((Driver::BusOrBlock, 1));
    }

    /// A bus of so many places, as a requirement.
    pub(super) fn bus(&mut self, places: usize, rating_a: f64, owner: &Name) {
        let positions = u16::try_from(places).unwrap_or(u16::MAX);
        self.part(Part::Bus { positions, rating_ma: thousandths(rating_a), stud: BUS_STUD }, 1, owner);
        self.out.counts.push((Driver::BusOrBlock, 1));
    }

    /// What lands on the positive post: each main fuse there, by the cable that leads to it. A terminal cube sits on the
    /// post itself; any other family has a link of the length that the distance rule leaves.
    fn post(&mut self, place: usize, main: Option<&Main>, owner: &Name) -> Vec<Terminal> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let aboard = bank.switch.provision == SwitchProvision::Aboard;
        let mut mains: Vec<(String, FuseFamily, f64, f64, Option<WireSize>)> = Vec::new();
        if let Some(main) = main.filter(|_| !aboard) {
            mains.push((format!("B{}L", place + 1), main.family, main.rating_a, side.load.current_a, Some(main.size)));
        }
        if !side.feed_bus && side.panels.len() > 1 {
            for feeder in facts.feeders.iter().filter(|feeder| feeder.bank == bank.id) {
                let Some(protection) = &feeder.protection else { continue };
                let size = side.panels.iter().find(|p| facts.boat.panels[**p].id == feeder.panel);
                let size = size.and_then(|panel| self.feeder_size(*panel));
                let Some(family) = protection.family else { continue };
                let label = format!("B{}L {}", place + 1, feeder.number);
                mains.push((label, family, protection.rating_a, feeder.design_current_a, size));
            }
        }
        let always_on = facts.always_on.iter().find(|always| always.bank == bank.id);
        if let Some(protection) = always_on.and_then(|always| always.protection.as_ref())
            && let Some(family) = protection.family
        {
            mains.push((format!("B{}A", place + 1), family, protection.rating_a, protection.load_needs_a, None));
        }
        let mut terminals = Vec::new();
        for (label, fuse, rating_a, current_a, at_least) in mains {
            if fuse == FuseFamily::TerminalCube {
                let over = at_least.unwrap_or(self.smallest());
                terminals.push((format!("{} fuse for {label}", fuse.word().replace('_', " ")), over));
                continue;
            }
            let link = self.cable(
                Cable {
                    bank: place,
                    role: ConductorRole::PostLink,
                    label,
                    colour: FEEDER_COLOUR,
                    current_a,
                    route: here(bank.station),
                    from: LegEnd {
                        station: bank.station,
                        lands_on: LandsOn::BatteryPositive,
                        stud: Some(battery_stud()),
                    },
                    to: LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                    ratings: (family(fuse).ratings_a, fuse.word()),
                    least_rating_a: rating_a,
                    continuous: false,
                    at_least,
                    limit_v: f64::INFINITY,
                },
                owner,
            );
            if let Some(link) = link {
                self.part(Part::Boot(link.size, FEEDER_COLOUR), 1, owner);
                terminals.push((link.label.as_str().to_owned(), link.size));
            }
        }
        // The post itself is covered, whatever lands on it (33 CFR 183.420(b)).
        let widest = terminals.iter().map(|(_, size)| *size).reduce(larger);
        if let Some(size) = widest {
            self.part(Part::Boot(size, FEEDER_COLOUR), 1, owner);
        }
        terminals
    }

    fn smallest(&self) -> WireSize {
        crate::calc::circuits::select::construction_minimum(self.facts.settings.area_standard)
    }

    /// A bus in place of a positive post that would hold too much, with its cable.
    fn positive_bus(&mut self, place: usize, terminals: &mut [Terminal], owner: &Name) -> bool {
        if terminals.len() <= crate::calc::rules::power::TERMINALS_ON_STUD_MAX {
            return false;
        }
        let facts = self.facts;
        let station = facts.boat.banks[place].station;
        let current_a = facts.laid.sides[place].load.current_a;
        let size = terminals.iter().map(|(_, size)| *size).reduce(larger);
        self.cable(
            Cable {
                bank: place,
                role: ConductorRole::PostLink,
                label: format!("B{}P", place + 1),
                colour: FEEDER_COLOUR,
                current_a,
                route: here(station),
                from: LegEnd { station, lands_on: LandsOn::BatteryPositive, stud: Some(battery_stud()) },
                to: LegEnd { station, lands_on: LandsOn::BankPositiveBus, stud: Some(BUS_STUD) },
                ratings: (crate::calc::rules::protection::standard_ratings(), "standard"),
                least_rating_a: current_a,
                continuous: false,
                at_least: size,
                limit_v: f64::INFINITY,
            },
            owner,
        );
        self.bus(terminals.len() + 1, current_a.max(1.0).ceil(), owner);
        true
    }

    /// What lands on the negative post; where it is more than a stud takes, a bus there with its cable.
    fn negative(
        &mut self,
        place: usize,
        side: &BankSide,
        main: Option<&Main>,
        mut terminals: Vec<Terminal>,
        owner: &Name,
    ) -> Vec<Terminal> {
        let facts = self.facts;
        for (feeder, sizes) in facts.laid.feeders.iter().zip(&facts.sizes.feeders) {
            let leg = &facts.laid.legs[feeder.negative];
            if !side.panels.contains(&feeder.panel) || terminals.iter().any(|(label, _)| label == leg.label.as_str()) {
                continue;
            }
            if let Some((_, back)) = sizes {
                terminals.push((leg.label.as_str().to_owned(), back.carried.size));
            }
        }
        if side.negative.lands_on != LandsOn::BankNegativeBus {
            return terminals;
        }
        let station = facts.boat.banks[place].station;
        let size = terminals.iter().map(|(_, size)| *size).chain(main.map(|main| main.size)).reduce(larger);
        let rating_a = main.map_or(side.load.needs_a(), |main| main.rating_a);
        let made = self.cable(
            Cable {
                bank: place,
                role: ConductorRole::NegativeLink,
                label: format!("B{}N", place + 1),
                colour: negative_colour(facts.boat),
                current_a: side.load.current_a,
                route: here(station),
                from: LegEnd { station, lands_on: LandsOn::BatteryNegative, stud: Some(battery_stud()) },
                to: LegEnd { station, lands_on: LandsOn::BankNegativeBus, stud: Some(BUS_STUD) },
                ratings: (crate::calc::rules::protection::standard_ratings(), "standard"),
                least_rating_a: rating_a,
                continuous: false,
                at_least: size,
                limit_v: facts.boat.banks[place].nominal_voltage_v * facts.settings.feeder_drop_percent / 100.0
                    * SHARE_BEFORE_FEEDERS,
            },
            owner,
        );
        self.bus(terminals.len() + 1, rating_a, owner);
        made.map(|made| (made.label.as_str().to_owned(), made.size)).into_iter().collect()
    }

    /// The switch, as a requirement, as the item that is named for it, or as it is aboard.
    fn switch(&mut self, place: usize, main: &Main, owner: &Name) -> Option<BatterySwitch> {
        let facts = self.facts;
        facts.laid.sides[place].to_switch.as_ref()?;
        let (bank, class) = (&facts.boat.banks[place], &facts.classes[place]);
        let switch = &bank.switch;
        let ignition_protected = self.vapour(switch.station);
        let aboard = switch.provision == SwitchProvision::Aboard;
        let basis = self.ledger.note(&SWITCH_RATING, &[("main_rating_a", Value::Number(main.rating_a))], main.rating_a);
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
                if rating_a < main.rating_a {
                    short.push(format!("it is rated for {rating_a} A, and the main before it for {} A", main.rating_a));
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
                let (rating_ma, voltage_mv) = (thousandths(main.rating_a), thousandths(rounded(class.charging_v, 1)));
                self.part(Part::Switch { rating_ma, voltage_mv, stud, ignition_protected }, 1, owner);
                self.out.counts.push((Driver::BatterySwitch, 1));
            }
        }
        Some(BatterySwitch {
            station: facts.boat.stations[switch.station].id.clone(),
            sku: switch.item.as_ref().map(|item| item.sku.clone()),
            aboard,
            rating_a_min: main.rating_a,
            voltage_v_min: rounded(class.charging_v, 1),
            ignition_protected,
            basis,
        })
    }

    /// What each feeder counts of the cables before it, its return too where a bus stands at the negative post.
    fn before_feeders(&mut self, side: &BankSide) -> Vec<CableBeforeFeeder> {
        let facts = self.facts;
        let mut counted: Vec<CableBeforeFeeder> = Vec::new();
        let feeders = facts.laid.feeders.iter().filter(|feeder| side.panels.contains(&feeder.panel));
        let legs = feeders.flat_map(|f| [(f.positive, side.before), (f.negative, side.negative_before)]);
        for (leg, before) in legs {
            let leg = &facts.laid.legs[leg];
            let Some(((gauge, length), (_, lead))) = before.zip(side.lead(before, leg.current_a)) else { continue };
            if counted.iter().any(|known| known.conductor == leg.label) {
                continue;
            }
            let basis = self.ledger.note(
                &BEFORE_FEEDER,
                &[
                    ("length_ft", Value::Number(length.ft())),
                    ("bank_current_a", Value::Number(side.load.current_a)),
                    ("feeder_current_a", Value::Number(leg.current_a)),
                ],
                length.ft() * side.load.current_a / leg.current_a,
            );
            let counted_ft = rounded(lead.ft(), 3);
            counted.push(CableBeforeFeeder { conductor: leg.label.clone(), gauge, counted_ft, basis });
        }
        counted
    }

    /// Where a bank's main protection may stand.
    fn distance(&mut self) -> MainDistance {
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

/// The larger of two sizes.
pub(super) fn larger(a: WireSize, b: WireSize) -> WireSize {
    if a.nominal_cmil() >= b.nominal_cmil() { a } else { b }
}
