//! Feeders and the returns of buses: from bank or panel to each panel, and from each bus back.

use super::{
    FeederLegs, Laying, Leg, LegEnd, LegLengths, MAIN_STUD, Owner, analyse, joined_name, labelled, negative_colour,
    panel_stud,
};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::{SubMain, sub_main};
use crate::rules::functions::FEEDER_COLOUR;
use crate::shop::item::FuseFamily;
use crate::take_off::{ConductorRole, LandsOn};
use crate::units::{Length, Name};

impl Laying<'_> {
    /// Feeders of all panels that something hangs on, and one return for each bus that something returns through.
    pub(super) fn feeders(&mut self, loads: &[Load]) {
        let boat = self.boat;
        let fed: Vec<Vec<&Load>> = (0..boat.panels.len())
            .map(|panel| loads.iter().filter(|load| boat.feeding(load.panel).any(|p| p == panel)).collect())
            .collect();
        let mut feeder_of = vec![None; boat.panels.len()];
        for (feeder, panel) in (0..boat.panels.len()).filter(|panel| !fed[*panel].is_empty()).enumerate() {
            feeder_of[panel] = Some(feeder);
        }
        let mut bus_return: Vec<Option<usize>> = vec![None; boat.buses.len()];
        for place in 0..boat.panels.len() {
            if let Some(feeder) = feeder_of[place] {
                let fed_from = boat.panels[place].fed_from.and_then(|feeding| feeder_of[feeding]);
                self.feeder(place, (feeder, fed_from), &fed[place], loads, &mut bus_return);
            }
        }
    }

    /// One panel's feeder, with those returns on its way that are not laid yet.
    fn feeder(
        &mut self,
        place: usize,
        (feeder, fed_from): (usize, Option<usize>),
        fed: &[&Load],
        loads: &[Load],
        bus_return: &mut [Option<usize>],
    ) {
        let boat = self.boat;
        let panel = &boat.panels[place];
        let number = Name::from(format!("F{}", feeder + 1));
        let (current_a, always_a, occasional_a, largest_occasional_a) = analyse(fed.iter().copied());
        let mut legs = FeederLegs {
            panel: place,
            number: number.clone(),
            fed_from,
            positive: self.laid.legs.len(),
            returns: Vec::new(),
            paired: None,
            all_returns: Vec::new(),
            current_a,
            always_a,
            occasional_a,
            largest_occasional_a,
        };
        let from = match panel.fed_from {
            None => self.laid.sides[panel.bank].start,
            Some(feeding) => {
                let feeding = &boat.panels[feeding];
                let stud = match sub_main(
                    &self.classes[panel.bank],
                    feeding.protection,
                    legs.main_needs_a(0.0),
                    self.settings,
                ) {
                    SubMain::Fuse(FuseFamily::Blade) => panel_stud(feeding),
                    _ => MAIN_STUD,
                };
                LegEnd { station: feeding.station, lands_on: LandsOn::SubMain, stud: Some(stud) }
            }
        };
        let side = &self.laid.sides[panel.bank];
        // Of several feeders without a switch each has a fuse of its own at the post.
        let at_post = || {
            let (needs, class) = ((current_a, legs.main_needs_a(0.0)), &self.classes[panel.bank]);
            side.post_before(boat, panel.bank, needs, Length::ZERO, class, self.settings)
        };
        let before = if panel.fed_from.is_some() { None } else { side.before.or_else(at_post) };
        let Some(route) = self.joined(from.station, panel.station, "/power/panels") else { return };
        self.leg(Leg {
            owner: Owner::Feeder(feeder),
            role: ConductorRole::FeederPositive,
            label: joined_name(&[number.as_str(), "+"]),
            colour: FEEDER_COLOUR,
            current_a,
            route,
            from,
            to: LegEnd { station: panel.station, lands_on: LandsOn::PanelMain, stud: Some(MAIN_STUD) },
            before,
            continues: None,
            maker_lead: None,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        // Returns of the panel that feeds it are not its own.
        let others: Vec<usize> =
            panel.fed_from.map_or(Vec::new(), |feeding| boat.led_through(boat.panels[feeding].bus).collect());
        let mut new = 0;
        for bus in boat.led_through(panel.bus) {
            let known = bus_return[bus];
            let leg = match known {
                Some(leg) => leg,
                None => {
                    new += 1;
                    match self.bus_return(bus, feeder, labelled(&number, "-", new), loads) {
                        Some(leg) => leg,
                        None => return,
                    }
                }
            };
            bus_return[bus] = Some(leg);
            legs.all_returns.push(leg);
            if !others.contains(&bus) {
                legs.returns.push(leg);
                let all_its_own = |load: &&Load| boat.feeding(load.panel).any(|panel| panel == place);
                let through = |load: &&Load| boat.led_through(boat.panels[load.panel].bus).any(|b| b == bus);
                if bus == panel.bus && loads.iter().filter(through).all(|load| all_its_own(&load)) {
                    legs.paired = Some(leg);
                }
            }
        }
        self.laid.feeders.push(legs);
    }

    /// The return of a bus, to the bus that it leads to or to the bank.
    fn bus_return(&mut self, place: usize, feeder: usize, label: Name, loads: &[Load]) -> Option<usize> {
        let boat = self.boat;
        let bus = &boat.buses[place];
        let through = |load: &&Load| boat.led_through(boat.panels[load.panel].bus).any(|bus| bus == place);
        let current_a = analyse(loads.iter().filter(through)).0;
        let from = match bus.leads_to {
            Some(next) => {
                LegEnd { station: boat.buses[next].station, lands_on: LandsOn::BusMain, stud: Some(MAIN_STUD) }
            }
            None => self.laid.sides[bus.bank].negative,
        };
        let side = &self.laid.sides[bus.bank];
        // Where nothing comes back through the bus, nothing is lost before it either.
        let before = side.negative_before.filter(|_| bus.leads_to.is_none() && current_a > 0.0);
        let route = self.joined(from.station, bus.station, "/power/buses")?;
        let leg = self.laid.legs.len();
        self.leg(Leg {
            owner: Owner::Feeder(feeder),
            role: ConductorRole::FeederReturn,
            label,
            colour: negative_colour(boat),
            current_a,
            route,
            from,
            to: LegEnd { station: bus.station, lands_on: LandsOn::BusMain, stud: Some(MAIN_STUD) },
            before,
            continues: None,
            maker_lead: None,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        Some(leg)
    }
}
