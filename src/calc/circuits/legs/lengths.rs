//! The lengths of a leg: route, rises, ends, service loops and waste.

use super::{Leg, LegEnd, LegLengths, Owner};
use crate::rules::power::{BATTERY_TO_BATTERY_FT, LINK_IN};
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::{ConductorRole, LandsOn};
use crate::units::Length;

/// The lengths of a leg: its route, the rises at both ends, what the ends use up, service loops and waste.
pub fn lengths(leg: &Leg, boat: &Boat, settings: &Settings) -> LegLengths {
    let exact = |value: crate::units::LengthValue| value.length().unwrap_or_default();
    let battery_cable = !matches!(
        leg.role,
        ConductorRole::SwitchedPositive
            | ConductorRole::ConstantPositive
            | ConductorRole::Return
            | ConductorRole::BilgeSwitchFeed
            | ConductorRole::RunningLightReturn
    );
    let allowance =
        exact(if battery_cable { settings.battery_termination_allowance } else { settings.termination_allowance });
    let slack = |end: &LegEnd| match end.lands_on {
        LandsOn::Pigtail | LandsOn::DeviceStud => exact(settings.service_loop_device),
        // A switch sits in the dash as a panel does.
        LandsOn::Panel
        | LandsOn::SubMain
        | LandsOn::PanelMain
        | LandsOn::Bus
        | LandsOn::BusMain
        | LandsOn::BilgeSwitch => exact(settings.service_loop_panel),
        _ => Length::ZERO,
    };
    // Cables between things at one station never leave it.
    let rises = match leg.owner {
        Owner::Bank(_) if leg.from.station == leg.to.station => Length::ZERO,
        _ => boat.stations[leg.from.station].rise + boat.stations[leg.to.station].rise,
    };
    let ends = match leg.role {
        // From a post to its fuse the distance rule leaves no more (ABYC E-11).
        ConductorRole::PostLink => Length::inches(LINK_IN),
        ConductorRole::SeriesJumper | ConductorRole::ParallelLink => Length::feet(BATTERY_TO_BATTERY_FT),
        ConductorRole::NegativeJoin if leg.from.station == leg.to.station => Length::feet(BATTERY_TO_BATTERY_FT),
        _ => allowance * 2,
    };
    let loops = slack(&leg.from) + slack(&leg.to);
    let installed = leg.route.length() + rises + ends;
    let carrying = installed + loops;
    let measured = carrying - leg.route.estimated;
    let waste = measured.scaled(settings.waste_measured_percent / 100.0)
        + leg.route.estimated.scaled(settings.waste_estimated_percent / 100.0);
    LegLengths { rises, ends, loops, installed, carrying, cut: carrying + waste }
}
