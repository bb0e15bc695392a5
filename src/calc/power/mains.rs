//! Post, main protection, switch and feed bus of a bank.

use super::Sources;
use super::cables::{Cable, Made, here};
use super::posts::BUS_STUD;
use crate::calc::basis::{BasisRef, Value};
use crate::calc::circuits::bank_side::{BankSide, switch_stud};
use crate::calc::circuits::legs::{FUSE_STUD, LegEnd, battery_stud};
use crate::calc::circuits::main_protection::main_family;
use crate::calc::findings::Gap;
use crate::calc::gathering::Part;
use crate::calc::routes::Routes;
use crate::calc::rules::functions::FEEDER_COLOUR;
use crate::calc::rules::power::SWITCH_ABOVE_CRANKING_A;
use crate::calc::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a};
use crate::calc::rules::table::electrical::{LOAD_ANALYSIS, PROTECTION_MAIN};
use crate::calc::rules::table::power::BEFORE_FEEDER;
use crate::calc::shop::item::{FuseFamily, Stud};
use crate::calc::shop::labour::Driver;
use crate::calc::spec::boat::SwitchProvision;
use crate::calc::take_off::{BankPower, CableBeforeFeeder, ConductorRole, LandsOn, Protection};
use crate::calc::units::{Name, WireSize, rounded};

/// Share of the nominal voltage that the short cable to a fuse block may drop (common practice).
const BLOCK_FEED_SHARE: f64 = 0.003;

/// The main protection of a bank, as its cables see it.
pub(super) struct Main {
    pub(super) family: FuseFamily,
    pub(super) rating_a: f64,
    /// Size of the cable behind it.
    pub(super) size: WireSize,
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
    pub(super) fn feeder_size(&self, panel: usize) -> Option<WireSize> {
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
}

/// The larger of two sizes.
pub(super) fn larger(a: WireSize, b: WireSize) -> WireSize {
    if a.nominal_cmil() >= b.nominal_cmil() { a } else { b }
}
