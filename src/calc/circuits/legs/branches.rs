//! Branches: the positives of a load, from its panel or from the always-on side, and its return.

use super::{
    BLOCK_STUD, BRANCH_STUD, CircuitLegs, FUSE_STUD, Laying, Leg, LegEnd, LegLengths, Owner, joined_name, labelled,
    negative_colour, panel_stud,
};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::always_on_family;
use crate::circuits::pump_switches::{LIGHT_A, PumpSwitch, SWITCH_SCREW};
use crate::rules::functions::{FEEDER_COLOUR, defaults, known_colour};
use crate::shop::item::{Attributes, Function, FuseFamily, LeadRole, Stud};
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::{ConductorRole, LandsOn};
use crate::units::Length;

impl Laying<'_> {
    /// The conductors of one load.
    pub(super) fn circuit(&mut self, place: usize, load: &Load) {
        let boat = self.boat;
        let panel = &boat.panels[load.panel];
        let bus = &boat.buses[panel.bus];
        let bank = &boat.banks[panel.bank];
        let pointer = &boat.equipment[load.equipment].pointer;
        let mut legs = CircuitLegs::default();
        let (mut switched, mut constant) = (0, 0);
        let switch = self.laid.pump_switches.iter().find(|switch| switch.load == place).copied();
        for lead in &load.positives {
            let mut continues = None;
            let (role, from, label, before) = match lead.role {
                LeadRole::ConstantPositive => {
                    constant += 1;
                    // A blade fuse sits in a holder with tails; a main fuse has studs.
                    let needs_a = load.fuse_needs_a(lead.current_a);
                    let blade = always_on_family(&self.classes[panel.bank], needs_a, self.settings)
                        .is_none_or(|fuse| fuse == FuseFamily::Blade);
                    let side = &self.laid.sides[panel.bank];
                    let class = &self.classes[panel.bank];
                    let before = if blade {
                        side.always_on_before
                    } else {
                        let needs = (lead.current_a, needs_a);
                        side.post_before(boat, panel.bank, needs, Length::ZERO, class, self.settings)
                    };
                    let from = if blade && side.fuse_block {
                        LegEnd { station: bank.station, lands_on: LandsOn::FuseBlock, stud: Some(BLOCK_STUD) }
                    } else if blade {
                        LegEnd { station: bank.station, lands_on: LandsOn::AlwaysOnFuse, stud: None }
                    } else {
                        LegEnd { station: bank.station, lands_on: LandsOn::MainFuse, stud: Some(FUSE_STUD) }
                    };
                    (ConductorRole::ConstantPositive, from, labelled(&load.number, "+A", constant), before)
                }
                _ => {
                    switched += 1;
                    let stud = Some(panel_stud(panel));
                    let mut from = LegEnd { station: panel.station, lands_on: LandsOn::Panel, stud };
                    let away = switch.filter(|switch| switched == 1 && switch.station != panel.station);
                    if let Some(switch) = away {
                        let Some(feed) = self.switch_feed((place, load), from, switch, lead.current_a) else {
                            continue;
                        };
                        continues = Some(feed);
                        from = self.laid.legs[feed].to;
                    }
                    (ConductorRole::SwitchedPositive, from, labelled(&load.number, "+", switched), None)
                }
            };
            let Some(route) = self.joined(from.station, load.station, pointer) else { continue };
            legs.positives.push(self.laid.legs.len());
            self.leg(Leg {
                owner: Owner::Circuit(place),
                role,
                label,
                colour: positive_colour(load.function, role, self.settings),
                current_a: lead.current_a,
                route,
                from,
                to: device_end(load.station, lead.stud),
                before,
                continues,
                maker_lead: lead.maker_lead,
                lengths: LegLengths::default(),
                bundled: 1,
            });
        }
        let Some(route) = self.joined(bus.station, load.station, pointer) else { return };
        let stud = match bus.item.as_deref().map(|item| &item.attributes) {
            Some(Attributes::Bus { stud, .. }) => *stud,
            _ => BRANCH_STUD,
        };
        legs.negative = self.laid.legs.len();
        self.leg(Leg {
            owner: Owner::Circuit(place),
            role: ConductorRole::Return,
            label: joined_name(&[load.number.as_str(), "-"]),
            colour: negative_colour(boat),
            current_a: load.negative.current_a,
            route,
            from: LegEnd { station: bus.station, lands_on: LandsOn::Bus, stud: Some(stud) },
            to: device_end(load.station, load.negative.stud),
            before: None,
            continues: None,
            maker_lead: load.negative.maker_lead,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        // At the panel, with the bus beside it, the light's return is a jumper behind the switch.
        let light = switch.filter(|switch| switch.light && [panel.station, bus.station] != [switch.station; 2]);
        if let Some(switch) = light {
            let bus = LegEnd { station: bus.station, lands_on: LandsOn::Bus, stud: Some(stud) };
            let Some(light) = self.light_return((place, load), bus, switch) else { return };
            legs.light = Some(light);
        }
        self.laid.circuits.push(legs);
    }

    /// The positive from a panel to a pump's switch; its place among the legs.
    fn switch_feed(
        &mut self,
        (place, load): (usize, &Load),
        from: LegEnd,
        switch: PumpSwitch,
        current_a: f64,
    ) -> Option<usize> {
        let route = self.joined(from.station, switch.station, asked_at(self.boat, load, switch))?;
        let feed = self.laid.legs.len();
        self.leg(Leg {
            owner: Owner::Circuit(place),
            role: ConductorRole::BilgeSwitchFeed,
            label: joined_name(&[load.number.as_str(), "+S"]),
            colour: positive_colour(load.function, ConductorRole::BilgeSwitchFeed, self.settings),
            current_a,
            route,
            from,
            to: switch_end(switch),
            before: None,
            continues: None,
            maker_lead: None,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        Some(feed)
    }

    /// The return of the light in a pump's switch; its place among the legs.
    fn light_return(&mut self, (place, load): (usize, &Load), bus: LegEnd, switch: PumpSwitch) -> Option<usize> {
        let route = self.joined(bus.station, switch.station, asked_at(self.boat, load, switch))?;
        let light = self.laid.legs.len();
        self.leg(Leg {
            owner: Owner::Circuit(place),
            role: ConductorRole::RunningLightReturn,
            label: joined_name(&[load.number.as_str(), "-L"]),
            colour: negative_colour(self.boat),
            current_a: LIGHT_A,
            route,
            from: bus,
            to: switch_end(switch),
            before: None,
            continues: None,
            maker_lead: None,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        Some(light)
    }
}

/// Where the spec asks for a pump's switch: at the switch that it names, else at the pump.
fn asked_at<'a>(boat: &'a Boat, load: &Load, switch: PumpSwitch) -> &'a str {
    &boat.equipment[switch.piece.unwrap_or(load.equipment)].pointer
}

fn switch_end(switch: PumpSwitch) -> LegEnd {
    LegEnd { station: switch.station, lands_on: LandsOn::BilgeSwitch, stud: Some(SWITCH_SCREW) }
}

fn device_end(station: usize, stud: Option<Stud>) -> LegEnd {
    let lands_on = if stud.is_some() { LandsOn::DeviceStud } else { LandsOn::Pigtail };
    LegEnd { station, lands_on, stud }
}

/// The colour of a positive: the shop's for the function, else the published one. What is live from the battery and
/// is no pump is red, as positive mains are.
fn positive_colour(function: Function, role: ConductorRole, settings: &Settings) -> &'static str {
    let of_function = settings
        .colours
        .iter()
        .find(|choice| choice.function == function)
        .and_then(|choice| known_colour(&choice.colour))
        .unwrap_or(defaults(function).positive_colour);
    if role == ConductorRole::ConstantPositive && function != Function::BilgePump { FEEDER_COLOUR } else { of_function }
}
