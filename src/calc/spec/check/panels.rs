//! Panels and buses: resolved against banks, stations and the catalogue, and held to the bank's voltage.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::names::{Names, nearest};
use crate::calc::findings::Fault;
use crate::calc::rules::protection::{charging_voltage_v, family};
use crate::calc::shop::Shop;
use crate::calc::shop::item::{Attributes, BranchProtection, FuseFamily, Item};
use crate::calc::spec::boat::{Bank, Bus, Panel};
use crate::calc::spec::input::PowerInput;
use crate::calc::units::Name;

/// The catalogue item of a sku when it is of the kind asked for, or a fault.
fn item_of_kind(
    sku: &Name,
    kind: &str,
    shop: &Shop,
    pointer: impl Fn() -> String,
    faults: &mut Vec<Fault>,
) -> Option<Arc<Item>> {
    let item = find_item(sku, shop, &pointer, faults)?;
    if item.attributes.kind() == kind {
        return Some(item);
    }
    faults.push(Fault::new(
        pointer(),
        format!("'{sku}' is a {}, not a {kind}: name a {kind} of the catalogue", item.attributes.kind()),
    ));
    None
}

pub(super) fn find_item(
    sku: &Name,
    shop: &Shop,
    pointer: impl FnOnce() -> String,
    faults: &mut Vec<Fault>,
) -> Option<Arc<Item>> {
    if let Some(item) = shop.catalogue.get(sku.as_str()) {
        return Some(item.clone());
    }
    let known = shop.catalogue.items().iter().filter(|item| !item.retired).map(|item| item.sku.as_str());
    let mend = match nearest(sku.as_str(), known) {
        Some(near) => format!("did you mean '{near}'?"),
        None => "add the item, or name another".to_owned(),
    };
    faults.push(Fault::new(pointer(), format!("the catalogue has no item '{sku}': {mend}")));
    None
}

pub(super) fn panels_and_buses(
    power: &PowerInput,
    shop: &Shop,
    stations: &Names,
    bank_names: &Names,
    bus_names: &Names,
    banks: &[Bank],
    faults: &mut Vec<Fault>,
) -> (Vec<Panel>, Vec<Bus>) {
    let mut buses: BTreeMap<Name, Bus> = BTreeMap::new();
    let mut bus_bank: BTreeMap<Name, usize> = BTreeMap::new();
    let mut panels: Vec<(Panel, Name)> = Vec::new();
    for (i, panel) in power.panels.iter().enumerate() {
        let at = |field: &str| format!("/power/panels/{i}/{field}");
        let station = stations.find(&panel.station, || at("station"), faults);
        let bank = bank_names.find(&panel.bank, || at("bank"), faults);
        let charging_v = banks.get(bank).map_or(0.0, |b| charging_voltage_v(b.nominal_voltage_v));
        let item = panel.sku.as_ref().and_then(|sku| item_of_kind(sku, "panel", shop, || at("sku"), faults));
        let of_item = match item.as_deref().map(|item| &item.attributes) {
            Some(Attributes::Panel { protection, voltage_rating_v, .. }) => Some((*protection, *voltage_rating_v)),
            _ => None,
        };
        let blade_v = family(FuseFamily::Blade).voltage_max_v();
        let protection = panel.protection.or(of_item.map(|(p, _)| p)).unwrap_or_else(|| {
            if charging_v > blade_v { BranchProtection::Breaker } else { shop.settings.branch_protection }
        });
        if protection == BranchProtection::BladeFuse && charging_v > blade_v {
            faults.push(Fault::new(
                at("protection"),
                format!(
                    "blade fuses break {blade_v} V at most, and the bank '{}' charges at {charging_v} V: \
                     protect this panel's branches with breakers",
                    panel.bank
                ),
            ));
        }
        let voltage_rating_v = of_item.map(|(_, v)| v).or(panel.voltage_rating_v);
        if let Some(rated) = voltage_rating_v.filter(|rated| *rated < charging_v) {
            let place = if of_item.is_some() { "sku" } else { "voltage_rating_v" };
            faults.push(Fault::new(
                at(place),
                format!(
                    "the panel '{}' is built for {rated} V, and the bank '{}' charges at {charging_v} V: \
                     choose a panel rated for at least that",
                    panel.id, panel.bank
                ),
            ));
        }
        let bus = match &panel.negative_bus {
            Some(bus) => {
                bus_names.find(bus, || at("negative_bus"), faults);
                bus.clone()
            }
            None => {
                let own = Name::from(format!("{}_negative", panel.id));
                buses.insert(own.clone(), Bus { id: own.clone(), station, bank, item: None });
                own
            }
        };
        if let Some(&other) = bus_bank.get(&bus).filter(|other| **other != bank) {
            faults.push(Fault::new(
                at("negative_bus"),
                format!(
                    "the bus '{bus}' would take returns of the banks '{}' and '{}': give each bank a bus of its own",
                    banks.get(other).map_or("?", |b| b.id.as_str()),
                    panel.bank
                ),
            ));
        }
        bus_bank.insert(bus.clone(), bank);
        panels.push((Panel { id: panel.id.clone(), station, bank, bus: 0, protection, voltage_rating_v, item }, bus));
    }
    for (i, bus) in power.buses.iter().enumerate() {
        let station = stations.find(&bus.station, || format!("/power/buses/{i}/station"), faults);
        let item =
            bus.sku.as_ref().and_then(|sku| item_of_kind(sku, "bus", shop, || format!("/power/buses/{i}/sku"), faults));
        match bus_bank.get(&bus.id) {
            Some(&bank) => {
                buses.insert(bus.id.clone(), Bus { id: bus.id.clone(), station, bank, item });
            }
            None => faults.push(Fault::new(
                format!("/power/buses/{i}"),
                format!("no panel uses the bus '{}': name it as a panel's negative_bus, or leave it out", bus.id),
            )),
        }
    }
    let order: BTreeMap<&Name, usize> = buses.keys().enumerate().map(|(place, name)| (name, place)).collect();
    let mut panels: Vec<Panel> =
        panels.into_iter().map(|(panel, bus)| Panel { bus: order.get(&bus).copied().unwrap_or(0), ..panel }).collect();
    panels.sort_by(|a, b| a.id.cmp(&b.id));
    panels.dedup_by(|a, b| a.id == b.id);
    (panels, buses.into_values().collect())
}
