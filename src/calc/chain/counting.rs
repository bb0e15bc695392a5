//! What labour counts: every operation's driver from what the take-off wrote, so that one end less is its minutes less.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::job::JobCounts;
use super::parts::blade_at_battery;
use super::writing::WrittenBoat;
use crate::circuits::ends::{EndParts, SizeClass, size_class};
use crate::circuits::legs::{Laid, Owner};
use crate::circuits::loads::Load;
use crate::labour::Counts;
use crate::network::NetworkSide;
use crate::power::PowerSide;
use crate::requirements::length_quantity;
use crate::shop::item::usual::usual;
use crate::shop::item::{Attributes, Function, Item, LabourUse};
use crate::shop::labour::{BoatSystem, Driver, LabourOperation};
use crate::spec::boat::{Boat, SwitchProvision};
use crate::spec::input::Access;
use crate::take_off::{RunUse, Termination};
use crate::units::{LengthUnit, Name};

/// What is counted: the boat as checked, its loads and all that was written of it.
#[derive(Clone, Copy)]
pub(super) struct Counted<'a> {
    pub(super) boat: &'a Boat,
    pub(super) loads: &'a [Load],
    pub(super) written: &'a WrittenBoat,
    pub(super) laid: &'a Laid,
    pub(super) power: &'a PowerSide,
    pub(super) network: &'a NetworkSide,
    pub(super) runs: &'a [RunUse],
    /// Holes that are made below the waterline.
    pub(super) holes: u32,
}

pub(super) fn counts(counted: Counted, operations: &[LabourOperation]) -> Counts {
    let Counted { boat, loads, written, laid, power, network, runs, holes } = counted;
    let mut by_driver: BTreeMap<Driver, Decimal> = BTreeMap::new();
    let mut of_systems: BTreeMap<(Driver, BoatSystem), Decimal> = BTreeMap::new();
    let mut count = |driver, quantity: Decimal| *by_driver.entry(driver).or_default() += quantity;
    // What belongs to a circuit counts for its system too.
    let mut of_circuit =
        |system, driver, quantity: Decimal| *of_systems.entry((driver, system)).or_default() += quantity;
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
    for (leg, line) in written.lines(laid) {
        let system = match leg.owner {
            Owner::Circuit(place) => Some(BoatSystem::of(loads[place].function)),
            Owner::Feeder(_) | Owner::Bank(_) => None,
        };
        for end in [&line.from, &line.to] {
            for driver in [end_driver(end), Driver::Label] {
                count(driver, Decimal::ONE);
                if let Some(system) = system {
                    of_circuit(system, driver, Decimal::ONE);
                }
            }
        }
    }
    count(Driver::JacketEnd, Decimal::from(2 * written.cables.len()));
    for circuit in &written.circuits {
        let system = BoatSystem::of(circuit.function);
        if circuit.cable.is_some() {
            of_circuit(system, Driver::JacketEnd, Decimal::TWO);
        }
        count(Driver::Circuit, Decimal::ONE);
        of_circuit(system, Driver::Circuit, Decimal::ONE);
        // The network's power tap has nothing to configure.
        if circuit.function == Function::NavigationElectronics && circuit.sku.is_some() {
            count(Driver::ElectronicDevice, Decimal::ONE);
        }
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
            of_circuit(system, driver, Decimal::ONE);
        }
    }
    let devices = written.feeders.iter().filter(|feeder| feeder.protection.is_some());
    let (positions, mains): (Vec<_>, Vec<_>) = devices.partition(|feeder| feeder.in_feeding_panel());
    count(Driver::PanelPosition, Decimal::from(positions.len()));
    let mains = mains.len() + written.always_on.iter().filter(|side| side.protection.is_some()).count();
    count(Driver::MainDevice, Decimal::from(mains + power.mains.len()));
    for (driver, number) in power.counts.iter().chain(&network.counts) {
        count(*driver, Decimal::from(*number));
    }
    for (driver, number) in JobCounts::of(boat, &written.circuits, holes).by_driver() {
        count(driver, Decimal::from(number));
    }
    Counts { by_driver, of_systems, stated: stated(boat, operations) }
}

fn end_driver(end: &EndParts) -> Driver {
    match (end.termination, size_class(end.size)) {
        (Termination::TwoLayerSplice, _) => Driver::Splice,
        (_, SizeClass::Small) => Driver::SmallEnd,
        (_, SizeClass::Medium) => Driver::MediumLug,
        (_, SizeClass::Large) => Driver::LargeLug,
    }
}

/// Operations that come with equipment, panels, buses, packages and the spec, each with its system.
fn stated(boat: &Boat, operations: &[LabourOperation]) -> Vec<(BoatSystem, LabourUse)> {
    let panels = boat.panels.iter().filter_map(|panel| panel.item.as_ref());
    let buses = boat.buses.iter().filter_map(|bus| bus.item.as_ref());
    let switches =
        boat.banks.iter().filter(|bank| !bank.switch.in_equipment && bank.switch.provision == SwitchProvision::Supply);
    let switches = switches.filter_map(|bank| bank.switch.item.as_ref());
    let batteries = boat.banks.iter().flat_map(|bank| &bank.batteries);
    let batteries = batteries.flat_map(|(item, count)| std::iter::repeat_n(item, usize::from(*count)));
    let equipment = boat.equipment.iter().map(|piece| &piece.item).chain(switches).chain(batteries);
    let mut stated = Vec::with_capacity(2 * boat.equipment.len());
    for item in equipment.chain(panels).chain(buses) {
        let system = system_of(item);
        match &item.labour {
            Some(uses) => stated.extend(uses.iter().map(|used| (system, used.clone()))),
            None => {
                let known = usual_work(item).filter(|code| operations.iter().any(|known| known.code == **code));
                let used = |operation: &Name| LabourUse { operation: operation.clone(), quantity: Decimal::ONE };
                stated.extend(known.map(|operation| (system, used(operation))));
            }
        }
    }
    stated.extend(boat.labour.iter().map(|used| (BoatSystem::WholeJob, used.clone())));
    stated
}

/// The operation that usually fits an item which does not say its work.
pub(super) fn usual_work(item: &Item) -> Option<&'static Name> {
    match &item.attributes {
        Attributes::Device { function, unwired: false, .. } if item.labour.is_none() => {
            usual(*function).labour.as_ref()
        }
        _ => None,
    }
}

fn system_of(item: &Item) -> BoatSystem {
    match &item.attributes {
        Attributes::Device { function, .. } => BoatSystem::of(*function),
        Attributes::Hardware {} => BoatSystem::WholeJob,
        Attributes::Hose { .. } | Attributes::PlumbingFitting { .. } => BoatSystem::Plumbing,
        _ => BoatSystem::Distribution,
    }
}
