//! Post, main protection, switch and feed bus of a bank.

use super::cables::{Cable, Made, here};
use super::posts::BUS_STUD;
use super::studs::Terminal;
use super::{Facts, Sources};
use crate::basis::{BasisRef, Value};
use crate::circuits::bank_side::{BankSide, switch_stud};
use crate::circuits::legs::{FUSE_STUD, LegEnd, Owner, battery_stud};
use crate::circuits::main_protection::main_family;
use crate::findings::Gap;
use crate::gathering::Part;
use crate::routes::{Route, Routes};
use crate::rules::functions::FEEDER_COLOUR;
use crate::rules::power::{CRANKING_A, SWITCH_ABOVE_CRANKING_A};
use crate::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a, standard_ratings};
use crate::rules::table::electrical::{LOAD_ANALYSIS, PROTECTION_MAIN};
use crate::rules::table::power::{BEFORE_FEEDER, ENGINE_SWITCH, SWITCH_RATING};
use crate::shop::item::{FuseFamily, Stud};
use crate::shop::labour::Driver;
use crate::spec::boat::SwitchProvision;
use crate::spec::input::Propulsion;
use crate::take_off::{BankPower, CableBefore, ConductorRole, LandsOn, Protection};
use crate::units::{Name, WireSize, rounded};

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
        let cranking = self.cranking_cable(place, &owner);
        // What stays on the posts themselves, where all else goes on a bus. The engine's own cables come with it; of unknown
        // size they are taken as what its starter asks for.
        let (mut on_positive, mut on_negative): (Vec<Terminal>, Vec<Terminal>) = Default::default();
        if bank.starts_engine {
            let size = self.cranking_size(place).unwrap_or(WireSize::Awg(-3));
            let engines = || Terminal::Engine("the engine's positive", size);
            on_positive.push(cranking.as_ref().map_or_else(engines, Made::terminal));
            on_negative.push(Terminal::Engine("the engine's negative", size));
            if matches!(facts.boat.propulsion, Propulsion::DieselInboard | Propulsion::PetrolInboard) {
                self.warn(
                    &bank.id,
                    format!(
                        "{CRANKING_A} A are reckoned with for the starter, as for an outboard; an inboard's may draw more: ask the engine's maker what its cranking cables must carry"
                    ),
                );
            }
        }
        let feeds = [behind.as_ref().map(|main| main.size), cranking.as_ref().map(|made| made.size)];
        let feed = feeds.into_iter().flatten().chain(side.negative_before.map(|before| before.size)).reduce(larger);
        let batteries = self.batteries(place, feed, &owner).map(|(batteries, [there, back])| {
            on_positive.extend(there);
            on_negative.extend(back);
            batteries
        });
        let charging = self.charging(place, routes, &owner);
        positive.extend(charging.positive);
        let landed = |on_positive: bool| {
            let here = self.landed.iter().filter(move |(bank, positive, _)| *bank == place && *positive == on_positive);
            here.map(|(.., terminal)| terminal.clone())
        };
        positive.extend(landed(true));
        let negative = [charging.negative, landed(false).collect()].concat();
        let energy = self.energy(place, &charging.outputs);
        let positive_bus = self.positive_bus(place, &positive, &owner);
        if side.fuse_block {
            self.block_feed(place, &owner);
        }
        let switch = match (&behind, &cranking) {
            (Some(main), _) => self.switch(place, (main.rating_a, &SWITCH_RATING, "main_rating_a"), &owner),
            (None, Some(_)) => self.switch(place, (CRANKING_A, &ENGINE_SWITCH, "cranking_a"), &owner),
            (None, None) => None,
        };
        let mut studs = Vec::new();
        let (on_post, bus_main) = match positive_bus {
            Some(bus) => (Some(bus.on_post), bus.main),
            None => (None, None),
        };
        let (bus_main, bus_main_basis) = bus_main.unzip();
        match on_post {
            Some(link) => {
                let name = format!("{} positive bus", bank.id);
                studs.push(self.stack(name, bank.station, BUS_STUD, positive));
                on_positive.extend(link);
            }
            None => on_positive.extend(positive),
        }
        if !on_positive.is_empty() {
            let name = format!("{} positive post", bank.id);
            studs.push(self.stack(name, bank.station, battery_stud(), on_positive));
        }
        let mut negative = self.negative(place, side, behind.as_ref(), negative, &owner);
        negative.extend(on_negative);
        if !negative.is_empty() {
            let name = format!("{} negative post", bank.id);
            studs.push(self.stack(name, bank.station, battery_stud(), negative));
        }
        if bank.switch.provision == SwitchProvision::None
            && bank.cold_cranking_a.is_some_and(|cranking_a| cranking_a > SWITCH_ABOVE_CRANKING_A)
            && (!side.panels.is_empty() || bank.starts_engine)
        {
            self.warn(
                &bank.id,
                format!(
                    "the bank has no switch, and one is asked for above {SWITCH_ABOVE_CRANKING_A} cold-cranking amperes (ABYC E-11, from memory): fit one"
                ),
            );
        }
        let counted_before = self.counted_before(place);
        let power = BankPower {
            bank: bank.id.clone(),
            nominal_voltage_v: bank.nominal_voltage_v,
            charging_voltage_v: rounded(class.charging_v, 1),
            design_current_a: rounded(load.current_a, 3),
            main,
            main_basis,
            bus_main,
            bus_main_basis,
            main_distance: self.distance(),
            switch,
            studs,
            batteries,
            charging: charging.outputs,
            energy,
            cables: self.out.cables[first_cable..].iter().map(|(leg, _)| leg.label.clone()).collect(),
            counted_before,
            current_basis,
        };
        self.out.banks.push(power);
    }

    /// The cable from the post of a bank that starts the engine and feeds nothing to its switch, where the engine's own
    /// cable goes on. Cranking conductors have no overcurrent device (ABYC E-11, as quoted in the trade).
    fn cranking_cable(&mut self, place: usize, owner: &Name) -> Option<Made> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let supplied = bank.switch.provision == SwitchProvision::Supply;
        if !bank.starts_engine || !side.panels.is_empty() || !supplied {
            return None;
        }
        let made = self.cable(self.cranking(place, side.to_switch.clone()?), owner)?;
        self.part(Part::Boot(made.size, FEEDER_COLOUR), 2, owner);
        Some(made)
    }

    /// Size of the cable to the switch that the engine is started through, whether or not the job lays one; `None` where the
    /// bank does not start the engine.
    pub(super) fn cranking_size(&self, place: usize) -> Option<WireSize> {
        let bank = &self.facts.boat.banks[place];
        let route = self.facts.laid.sides[place].to_switch.clone().unwrap_or_else(|| here(bank.station));
        bank.starts_engine.then(|| self.size_of(&self.cranking(place, route))).flatten()
    }

    fn cranking(&self, place: usize, route: Route) -> Cable<'static> {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        Cable {
            bank: place,
            role: ConductorRole::CrankingCable,
            label: format!("B{}E", place + 1),
            colour: FEEDER_COLOUR,
            current_a: CRANKING_A,
            route,
            from: LegEnd { station: bank.station, lands_on: LandsOn::BatteryPositive, stud: Some(battery_stud()) },
            to: LegEnd {
                station: bank.switch.station,
                lands_on: LandsOn::BatterySwitch,
                stud: Some(switch_stud(facts.boat, place)),
            },
            ratings: (standard_ratings(), "standard"),
            least_rating_a: CRANKING_A,
            continuous: false,
            at_least: None,
            limit_v: bank.nominal_voltage_v * facts.settings.general_drop_percent / 200.0,
        }
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
        let class = &facts.classes[place];
        let bank = &facts.boat.banks[place];
        let (needs_a, largest_a) = self.main_needs_a(place);
        if aboard {
            let text = format!(
                "Which main fuse stands at the post of '{}', within 7 in, and what cable goes to the switch? {needs_a:.0} A are needed",
                bank.id
            );
            self.ask("main_aboard", Some(&bank.id), text);
            return (None, None, None);
        }
        let load = side.load;
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
        let Some(size) = size.or(side.before.map(|before| before.size)) else { return (None, Some(basis), None) };
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
        self.facts.sizes.feeders[place].as_ref().map(|found| found.positive.carried.size)
    }

    /// The cable from the main fuse to the switch, no smaller than the feeder that it goes on as.
    fn switch_feed(&mut self, place: usize, main: &Main, owner: &Name) -> Option<Made> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let route = side.to_switch.clone()?;
        let least = side.before.map_or(main.size, |before| larger(before.size, main.size));
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
                at_least: facts.laid.sides[place].always_on_before.map(|before| before.size),
                limit_v: bank.nominal_voltage_v * BLOCK_FEED_SHARE,
            },
            owner,
        );
        self.out.counts.push((Driver::BusOrBlock, 1));
    }

    /// What each conductor that starts at a bank counts of the cables before it.
    fn counted_before(&mut self, place: usize) -> Vec<CableBefore> {
        let Facts { boat, loads, laid, .. } = self.facts;
        let bank_of = |owner: Owner| match owner {
            Owner::Circuit(load) => boat.panels[loads[load].panel].bank,
            Owner::Feeder(feeder) => boat.panels[laid.feeders[feeder].panel].bank,
            Owner::Bank(bank) => bank,
        };
        let mut counted = Vec::new();
        for leg in laid.legs.iter().filter(|leg| bank_of(leg.owner) == place) {
            let Some(before) = leg.before else { continue };
            let Some(length) = before.counted(leg.current_a) else { continue };
            let basis = self.ledger.note(
                &BEFORE_FEEDER,
                &[
                    ("length_ft", Value::Number(before.length.ft())),
                    ("before_current_a", Value::Number(before.current_a)),
                    ("current_a", Value::Number(leg.current_a)),
                ],
                length.ft(),
            );
            counted.push(CableBefore {
                conductor: leg.label.clone(),
                gauge: before.size,
                counted_ft: rounded(length.ft(), 3),
                basis,
            });
        }
        counted
    }
}

/// The larger of two sizes.
pub(super) fn larger(a: WireSize, b: WireSize) -> WireSize {
    if a.nominal_cmil() >= b.nominal_cmil() { a } else { b }
}
