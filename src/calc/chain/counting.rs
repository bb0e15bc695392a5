//! What labour counts: every operation's driver from what the take-off wrote, so that one end less is its minutes less.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::parts::blade_at_battery;
use super::writing::WrittenBoat;
use crate::circuits::ends::{EndParts, SizeClass, size_class};
use crate::circuits::legs::Laid;
use crate::labour::Counts;
use crate::power::PowerSide;
use crate::requirements::length_quantity;
use crate::shop::item::LabourUse;
use crate::shop::labour::Driver;
use crate::spec::boat::{Boat, SwitchProvision};
use crate::spec::input::Access;
use crate::take_off::{RunUse, Termination};
use crate::units::LengthUnit;

pub(super) fn counts(boat: &Boat, written: &WrittenBoat, laid: &Laid, power: &PowerSide, runs: &[RunUse]) -> Counts {
    let mut by_driver: BTreeMap<Driver, Decimal> = BTreeMap::new();
    let mut count = |driver, quantity: Decimal| *by_driver.entry(driver).or_default() += quantity;
    for run in runs {
        count(Driver::Bundle, Decimal::ONE);
        let driver = match run.access {
            Access::Open => Driver::BundleFootOpen,
            Access::Tube => Driver::BundleFootTube,
            Access::Gunwale => Driver::BundleFootGunwale,
            Access::Blind => Driver::BundleFootBlind,
        };
        // The table's minutes are for a foot of bundle, whatever unit the shop prints.
        count(driver, length_quantity(run.exact_length, LengthUnit::Ft).0);
    }
    for (_, line) in written.lines(laid) {
        for end in [&line.from, &line.to] {
            count(end_driver(end), Decimal::ONE);
            count(Driver::Label, Decimal::ONE);
        }
    }
    count(Driver::JacketEnd, Decimal::from(2 * written.cables.len()));
    for circuit in &written.circuits {
        count(Driver::Circuit, Decimal::ONE);
        let bank = boat.banks.iter().position(|bank| bank.id == circuit.bank);
        let block = bank.is_some_and(|bank| laid.sides[bank].fuse_block);
        for protection in &circuit.protection {
            let driver = match (protection.always_on, blade_at_battery(protection)) {
                (false, _) => Driver::PanelPosition,
                (true, true) if block => Driver::PanelPosition,
                // The lead of the holder goes on the stud of the always-on main fuse.
                (true, true) => Driver::SmallEnd,
                (true, false) => Driver::MainDevice,
            };
            count(driver, Decimal::ONE);
        }
    }
    let devices = written.feeders.iter().filter(|feeder| feeder.protection.is_some());
    let (positions, mains): (Vec<_>, Vec<_>) = devices.partition(|feeder| feeder.in_feeding_panel());
    count(Driver::PanelPosition, Decimal::from(positions.len()));
    let mains = mains.len() + written.always_on.iter().filter(|side| side.protection.is_some()).count();
    count(Driver::MainDevice, Decimal::from(mains + power.mains.len()));
    for (driver, number) in &power.counts {
        count(*driver, Decimal::from(*number));
    }
    Counts { by_driver, stated: stated(boat) }
}

fn end_driver(end: &EndParts) -> Driver {
    match (end.termination, size_class(end.size)) {
        (Termination::TwoLayerSplice, _) => Driver::Splice,
        (_, SizeClass::Small) => Driver::SmallEnd,
        (_, SizeClass::Medium) => Driver::MediumLug,
        (_, SizeClass::Large) => Driver::LargeLug,
    }
}

/// Operations that come with equipment, panels, buses, packages and the spec.
fn stated(boat: &Boat) -> Vec<LabourUse> {
    let panels = boat.panels.iter().filter_map(|panel| panel.item.as_ref());
    let buses = boat.buses.iter().filter_map(|bus| bus.item.as_ref());
    let switches =
        boat.banks.iter().filter(|bank| !bank.switch.in_equipment && bank.switch.provision == SwitchProvision::Supply);
    let switches = switches.filter_map(|bank| bank.switch.item.as_ref());
    let batteries = boat.banks.iter().flat_map(|bank| &bank.batteries);
    let batteries = batteries.flat_map(|(item, count)| std::iter::repeat_n(item, usize::from(*count)));
    let equipment = boat.equipment.iter().map(|piece| &piece.item).chain(switches).chain(batteries);
    let of_items = equipment.chain(panels).chain(buses).flat_map(|item| item.labour.iter().cloned());
    of_items.chain(boat.labour.iter().cloned()).collect()
}
