//! What lands on a bank's posts: main fuses, returns, and the buses that take the place of a crowded post.

use super::Sources;
use super::cables::{Cable, here};
use super::mains::{Main, larger};
use super::studs::Terminal;
use crate::calc::circuits::bank_side::BankSide;
use crate::calc::circuits::legs::{FUSE_STUD, LegEnd, battery_stud, negative_colour};
use crate::calc::circuits::select::construction_minimum;
use crate::calc::gathering::{Part, thousandths};
use crate::calc::rules::functions::FEEDER_COLOUR;
use crate::calc::rules::power::{SHARE_BEFORE_FEEDERS, TERMINALS_ON_STUD_MAX};
use crate::calc::rules::protection::{family, standard_ratings};
use crate::calc::shop::item::{FuseFamily, Stud};
use crate::calc::shop::labour::Driver;
use crate::calc::spec::boat::SwitchProvision;
use crate::calc::take_off::{ConductorRole, LandsOn};
use crate::calc::units::{Name, WireSize};

/// Stud of the buses at a bank and of its feed bus (common practice).
pub(super) const BUS_STUD: Stud = Stud::ThreeEighths;

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
        construction_minimum(self.facts.settings.area_standard)
    }

    /// A bus in place of a positive post that would hold too much, with its cable.
    pub(super) fn positive_bus(&mut self, place: usize, terminals: &mut [Terminal], owner: &Name) -> bool {
        if terminals.len() <= TERMINALS_ON_STUD_MAX {
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
                ratings: (standard_ratings(), "standard"),
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
                ratings: (standard_ratings(), "standard"),
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
}
