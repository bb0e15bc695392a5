//! What lands on a bank's posts: main fuses, returns, and the buses that take the place of a crowded post.

use super::Sources;
use super::cables::{Cable, Made, here};
use super::mains::{Main, larger};
use super::studs::Terminal;
use crate::calc::circuits::bank_side::BankSide;
use crate::calc::circuits::legs::{FUSE_STUD, LegEnd, Owner, battery_stud, negative_colour};
use crate::calc::circuits::select::construction_minimum;
use crate::calc::gathering::{Part, thousandths};
use crate::calc::rules::functions::FEEDER_COLOUR;
use crate::calc::rules::power::{LINK_IN, SHARE_BEFORE_FEEDERS, Source, distance_max_in};
use crate::calc::rules::protection::{family, standard_ratings};
use crate::calc::shop::item::{FuseFamily, Stud};
use crate::calc::shop::labour::Driver;
use crate::calc::spec::boat::SwitchProvision;
use crate::calc::take_off::{ConductorRole, LandsOn};
use crate::calc::units::{Name, WireSize};

/// Stud of the buses at a bank and of its feed bus (common practice).
pub(super) const BUS_STUD: Stud = Stud::ThreeEighths;

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
        let facts = self.facts;
        if fuse == FuseFamily::TerminalCube {
            let over = at_least.unwrap_or(construction_minimum(facts.settings.area_standard));
            let fuse = fuse.word().replace('_', " ");
            return Some(Terminal::Fuse(format!("{rating_a} A {fuse} fuse of {protects}"), over));
        }
        let station = facts.boat.banks[place].station;
        let (lands_on, stud) = self.positive_end(place);
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

    /// A bus in place of a positive post that would hold too much, with its cable, which is what lands on the post then;
    /// `None` where the post holds all.
    pub(super) fn positive_bus(
        &mut self,
        place: usize,
        terminals: &[Terminal],
        owner: &Name,
    ) -> Option<Option<Terminal>> {
        let facts = self.facts;
        let side = &facts.laid.sides[place];
        if !side.positive_bus || terminals.is_empty() {
            return None;
        }
        let bank = &facts.boat.banks[place];
        let station = bank.station;
        let current_a = self.bus_a(place);
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
                from: LegEnd { station, lands_on: LandsOn::BatteryPositive, stud: Some(battery_stud()) },
                to: LegEnd { station, lands_on: LandsOn::BankPositiveBus, stud: Some(BUS_STUD) },
                ratings: (standard_ratings(), "standard"),
                least_rating_a: current_a,
                continuous: false,
                at_least: size,
                limit_v: f64::INFINITY,
            },
            owner,
        );
        self.bus(terminals.len() + 1, current_a.max(1.0).ceil(), owner);
        self.warn(
            &bank.id,
            format!(
                "its fuses stand behind a bus, more than {LINK_IN} in from the positive post: sheath the cable B{}P and all from the bus to the fuses throughout, {} in at most from the post, or fit one fuse at the post before the bus",
                place + 1,
                distance_max_in(Source::BatteryTerminal, true)
            ),
        );
        Some(link.as_ref().map(Made::terminal))
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
