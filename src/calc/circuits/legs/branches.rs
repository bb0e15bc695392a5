//! Branches: the positives of a load, from its panel or from the always-on side, and its return.

use super::{
    BLOCK_STUD, BRANCH_STUD, CircuitLegs, FUSE_STUD, Laying, Leg, LegEnd, LegLengths, Owner, joined_name, labelled,
    negative_colour, panel_stud,
};
use crate::calc::circuits::loads::Load;
use crate::calc::circuits::main_protection::always_on_family;
use crate::calc::rules::functions::{FEEDER_COLOUR, defaults, known_colour};
use crate::calc::shop::item::{Attributes, Function, FuseFamily, LeadRole, Stud};
use crate::calc::shop::settings::Settings;
use crate::calc::take_off::{ConductorRole, LandsOn};
use crate::calc::units::Length;

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
        for lead in &load.positives {
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
                    let from = LegEnd { station: panel.station, lands_on: LandsOn::Panel, stud };
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
            maker_lead: load.negative.maker_lead,
            lengths: LegLengths::default(),
            bundled: 1,
        });
        self.laid.circuits.push(legs);
    }
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
