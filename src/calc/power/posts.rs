//! What lands on a bank's posts: main fuses, returns, and the buses that take the place of a crowded post.

use super::Sources;
use super::cables::{Cable, Made, here};
use super::mains::{Main, larger};
use super::studs::Terminal;
use crate::basis::BasisRef;
use crate::circuits::bank_side::BankSide;
use crate::circuits::legs::{FUSE_STUD, LegEnd, Owner, battery_stud, negative_colour};
use crate::circuits::select::construction_minimum;
use crate::gathering::{Part, thousandths};
use crate::rules::functions::FEEDER_COLOUR;
use crate::rules::power::SHARE_BEFORE_FEEDERS;
use crate::rules::protection::{family, standard_ratings};
use crate::shop::item::{FuseFamily, Stud};
use crate::shop::labour::Driver;
use crate::spec::boat::SwitchProvision;
use crate::take_off::{ConductorRole, LandsOn, Protection};
use crate::units::{Name, WireSize, rounded};

/// Stud of the buses at a bank and of its feed bus (common practice).
pub(super) const BUS_STUD: Stud = Stud::ThreeEighths;

/// A bus in place of a positive post.
pub(super) struct PositiveBus {
    /// What lands on the post for it.
    pub(super) on_post: Option<Terminal>,
    /// The main between the two, and why it must be rated so; absent where none will do.
    pub(super) main: Option<(Protection, BasisRef)>,
}

/// A main fuse at a post: the label of its link and of what it protects, family and rating, current, least size.
type MainAtPost = ((String, String), (FuseFamily, f64), f64, Option<WireSize>);

impl Sources<'_, '_> {
    /// A bus of so many places, as a requirement.
    pub(super) fn bus(&mut self, places: usize, rating_a: f64, owner: &Name) {
        let positions = u16::try_from(places).unwrap_or(u16::MAX);
        self.part(Part::Bus { positions, rating_ma: thousandths(rating_a), stud: BUS_STUD }, 1, owner);
        self.out.counts.push((Driver::BusOrBlock, 1));
    }

    /// What lands on the positive post: each main fuse there, by the cable that leads to it. A terminal cube sits on the
    /// post itself; any other family has a link of the length that the distance rule leaves.
    pub(super) fn post(&mut self, place: usize, main: Option<&Main>, owner: &Name) -> Vec<Terminal> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        let bank = &facts.boat.banks[place];
        let aboard = bank.switch.provision == SwitchProvision::Aboard;
        let mut mains: Vec<MainAtPost> = Vec::new();
        if let Some(main) = main.filter(|_| !aboard) {
            // No thinner than what the feeders count before them.
            let size = side.before.map_or(main.size, |before| larger(before.size, main.size));
            let own = facts.feeders.iter().find(|feeder| feeder.bank == bank.id && feeder.fed_from.is_none());
            let protects = match own.and_then(|feeder| feeder.protection.as_ref()) {
                Some(protection) if side.to_switch.is_none() => protection.protects.to_string(),
                _ => format!("B{}S", place + 1),
            };
            let label = (format!("B{}L", place + 1), protects);
            mains.push((label, (main.family, main.rating_a), side.load.current_a, Some(size)));
        }
        if !side.feed_bus && side.panels.len() > 1 {
            for feeder in facts.feeders.iter().filter(|feeder| feeder.bank == bank.id && feeder.fed_from.is_none()) {
                let Some(protection) = &feeder.protection else { continue };
                let size = side.panels.iter().find(|p| facts.boat.panels[**p].id == feeder.panel);
                let size = size.and_then(|panel| self.feeder_size(*panel));
                let before = facts.laid.legs.iter().find(|leg| leg.label == protection.protects).and_then(|l| l.before);
                let size = size.into_iter().chain(before.map(|before| before.size)).reduce(larger);
                let Some(family) = protection.family else { continue };
                let label = (format!("B{}L {}", place + 1, feeder.number), protection.protects.to_string());
                mains.push((label, (family, protection.rating_a), feeder.design_current_a, size));
            }
        }
        let always_on = facts.always_on.iter().find(|always| always.bank == bank.id);
        if let Some(protection) = always_on.and_then(|always| always.protection.as_ref())
            && let Some(family) = protection.family
        {
            let least = side.always_on_before.map(|before| before.size);
            let label = (format!("B{}A", place + 1), protection.protects.to_string());
            mains.push((label, (family, protection.rating_a), protection.load_needs_a, least));
        }
        // An always-on circuit that is too large for a blade has a main fuse of its own.
        for (circuit, sizes) in facts.laid.circuits.iter().zip(&facts.sizes.circuits) {
            let Some(sizes) = sizes else { continue };
            for (leg, chosen) in circuit.positives.iter().zip(&sizes.positives) {
                let leg = &facts.laid.legs[*leg];
                let Some(family) = chosen.family.filter(|family| *family != FuseFamily::Blade) else { continue };
                if leg.role != ConductorRole::ConstantPositive || leg.from.lands_on != LandsOn::MainFuse {
                    continue;
                }
                let Owner::Circuit(load) = leg.owner else { continue };
                if facts.boat.panels[facts.loads[load].panel].bank != place {
                    continue;
                }
                let label = (format!("B{}L {}", place + 1, leg.label), leg.label.to_string());
                let size = leg.before.map_or(chosen.carried.size, |before| larger(before.size, chosen.carried.size));
                mains.push((label, (family, chosen.carried.rating_a), leg.current_a, Some(size)));
            }
        }
        let mut terminals = Vec::new();
        for (label, fuse, current_a, at_least) in mains {
            terminals.extend(self.landing(place, label, fuse, current_a, at_least, owner));
        }
        // The post itself is covered, whatever lands on it (33 CFR 183.420(b)).
        let widest = terminals.iter().map(Terminal::size).reduce(larger);
        if let Some(size) = widest {
            self.part(Part::Boot(size, FEEDER_COLOUR), 1, owner);
        }
        terminals
    }

    /// What a main fuse puts on a positive post, or on the bus in its place: itself, where it is a terminal cube, else the
    /// link to it, by its label. The fuse is told by the cable that it protects.
    pub(super) fn landing(
        &mut self,
        place: usize,
        (label, protects): (String, String),
        (fuse, rating_a): (FuseFamily, f64),
        current_a: f64,
        at_least: Option<WireSize>,
        owner: &Name,
    ) -> Option<Terminal> {
        let at = self.positive_end(place);
        self.landing_at(at, place, (label, protects), (fuse, rating_a), current_a, at_least, owner)
    }

    /// The same at the post itself, or wherever it is.
    #[expect(clippy::too_many_arguments, reason = "one link out of everything that lands on posts")]
    fn landing_at(
        &mut self,
        (lands_on, stud): (LandsOn, Stud),
        place: usize,
        (label, protects): (String, String),
        (fuse, rating_a): (FuseFamily, f64),
        current_a: f64,
        at_least: Option<WireSize>,
        owner: &Name,
    ) -> Option<Terminal> {
        let facts = self.facts;
        if fuse == FuseFamily::TerminalCube {
            let over = at_least.unwrap_or(construction_minimum(facts.settings.area_standard));
            let fuse = fuse.word().replace('_', " ");
            return Some(Terminal::Fuse(format!("{rating_a} A {fuse} fuse of {protects}"), over));
        }
        let station = facts.boat.banks[place].station;
        let link = self.cable(
            Cable {
                bank: place,
                role: ConductorRole::PostLink,
                label,
                colour: FEEDER_COLOUR,
                current_a,
                route: here(station),
                from: LegEnd { station, lands_on, stud: Some(stud) },
                to: LegEnd { station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                ratings: (family(fuse).ratings_a, fuse.word()),
                least_rating_a: rating_a,
                continuous: false,
                at_least,
                limit_v: f64::INFINITY,
            },
            owner,
        )?;
        self.part(Part::Boot(link.size, FEEDER_COLOUR), 1, owner);
        Some(link.terminal())
    }

    /// Where cables of the positive post land: on it, or on the bus in its place.
    pub(super) fn positive_end(&self, place: usize) -> (LandsOn, Stud) {
        if self.facts.laid.sides[place].positive_bus {
            (LandsOn::BankPositiveBus, BUS_STUD)
        } else {
            (LandsOn::BatteryPositive, battery_stud())
        }
    }

    /// A bus in place of a positive post that would hold too much, with its cable and the main before that; `None` where the
    /// post holds all.
    ///
    /// A device stands within 7 in of the post, or within 72 in where all of the way is sheathed (ABYC E-11; 33 CFR 183.455(b)).
    /// The cable to the bus takes the 7 in, the bus and the links to its fuses come on top of it, and a bus is not sheathed: so
    /// no fuse on it is near enough, and one stands at the post before it.
    pub(super) fn positive_bus(&mut self, place: usize, terminals: &[Terminal], owner: &Name) -> Option<PositiveBus> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        if !side.positive_bus || terminals.is_empty() {
            return None;
        }
        let station = facts.boat.banks[place].station;
        let current_a = self.bus_a(place);
        let main = self.bus_main(place, owner);
        let fuse = main.fuse;
        let before = side.before.map(|before| before.size);
        let size = terminals.iter().map(Terminal::size).chain(before).reduce(larger);
        let link = self.cable(
            Cable {
                bank: place,
                role: ConductorRole::PostLink,
                label: format!("B{}P", place + 1),
                colour: FEEDER_COLOUR,
                current_a,
                route: here(station),
                from: match fuse {
                    Some(_) => LegEnd { station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) },
                    None => LegEnd { station, lands_on: LandsOn::BatteryPositive, stud: Some(battery_stud()) },
                },
                to: LegEnd { station, lands_on: LandsOn::BankPositiveBus, stud: Some(BUS_STUD) },
                ratings: fuse.map_or((standard_ratings(), "standard"), |fuse| (family(fuse).ratings_a, fuse.word())),
                least_rating_a: main.needs_a,
                continuous: false,
                at_least: size,
                limit_v: f64::INFINITY,
            },
            owner,
        );
        let rated_a = link.as_ref().filter(|_| fuse.is_some()).map_or(current_a, |link| link.rating_a.max(current_a));
        self.bus(terminals.len() + 1, rated_a.max(1.0).ceil(), owner);
        let Some((fuse, link)) = fuse.zip(link.as_ref()) else {
            return Some(PositiveBus { on_post: link.as_ref().map(Made::terminal), main: None });
        };
        let class = &facts.classes[place];
        let protection = Protection {
            station: facts.boat.stations[station].id.clone(),
            protects: link.label.clone(),
            family: Some(fuse),
            breaker: false,
            rating_a: link.rating_a,
            load_needs_a: rounded(main.needs_a, 3),
            conductor_allows_a: link.allows_a,
            voltage_v_min: rounded(class.charging_v, 1),
            interrupt_a_min: class.interrupt.main_a,
            always_on: false,
            distance_max: self.distance().bare,
            basis: link.rating_basis,
        };
        self.out.mains.push((protection.clone(), owner.clone()));
        let post = (LandsOn::BatteryPositive, battery_stud());
        let label = (format!("B{}M", place + 1), link.label.to_string());
        let (rated, size) = ((fuse, link.rating_a), Some(link.size));
        let on_post = self.landing_at(post, place, label, rated, current_a, size, owner);
        Some(PositiveBus { on_post, main: Some((protection, main.basis)) })
    }

    /// What lands on the negative post; where it is more than a stud takes, a bus there with its cable.
    pub(super) fn negative(
        &mut self,
        place: usize,
        side: &BankSide,
        main: Option<&Main>,
        mut terminals: Vec<Terminal>,
        owner: &Name,
    ) -> Vec<Terminal> {
        let facts = self.facts;
        for (feeder, sizes) in facts.laid.feeders.iter().zip(&facts.sizes.feeders) {
            let Some(sizes) = sizes.as_ref().filter(|_| facts.boat.panels[feeder.panel].bank == place) else {
                continue;
            };
            for (leg, back) in feeder.returns.iter().zip(&sizes.returns) {
                let leg = &facts.laid.legs[*leg];
                let known = terminals.iter().any(|terminal| terminal.is_of(leg.label.as_str()));
                // What ends at another bus never comes to the post.
                if leg.from.lands_on == side.negative.lands_on && !known {
                    terminals.push(Terminal::Cable(leg.label.as_str().to_owned(), back.carried.size));
                }
            }
        }
        if side.negative.lands_on != LandsOn::BankNegativeBus {
            return terminals;
        }
        let station = facts.boat.banks[place].station;
        let before = side.negative_before.map(|before| before.size);
        let size = terminals.iter().map(Terminal::size).chain(main.map(|main| main.size)).chain(before).reduce(larger);
        // Its share of the drop is that of the loads alone, however much more it may have to carry.
        let (load_a, current_a) = (side.load.current_a, self.bus_a(place));
        let share_v = facts.boat.banks[place].nominal_voltage_v * facts.settings.feeder_drop_percent / 100.0
            * SHARE_BEFORE_FEEDERS;
        let limit_v = if load_a > 0.0 { share_v * current_a / load_a } else { f64::INFINITY };
        let made = self.cable(
            Cable {
                bank: place,
                role: ConductorRole::NegativeLink,
                label: format!("B{}N", place + 1),
                colour: negative_colour(facts.boat),
                current_a,
                route: here(station),
                from: LegEnd { station, lands_on: LandsOn::BatteryNegative, stud: Some(battery_stud()) },
                to: LegEnd { station, lands_on: LandsOn::BankNegativeBus, stud: Some(BUS_STUD) },
                ratings: (standard_ratings(), "standard"),
                least_rating_a: current_a,
                continuous: false,
                at_least: size,
                limit_v,
            },
            owner,
        );
        self.bus(terminals.len() + 1, current_a.max(1.0).ceil(), owner);
        made.as_ref().map(Made::terminal).into_iter().collect()
    }
}
