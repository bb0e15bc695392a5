//! Panels and buses: resolved against banks, stations and the catalogue, and held to the bank's voltage.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::names::{Names, nearest};
use super::panel_trees;
use crate::findings::Fault;
use crate::rules::protection::{charging_voltage_v, family};
use crate::shop::Shop;
use crate::shop::item::{Attributes, BranchProtection, FuseFamily, Item};
use crate::spec::boat::{Bank, Bus, Panel};
use crate::spec::power_input::PowerInput;
use crate::units::Name;

/// The catalogue item of a sku when it is of the kind asked for, or a fault.
pub(super) fn item_of_kind(
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

/// The names that panels and buses refer to.
pub(super) struct Known<'a> {
    pub(super) stations: &'a Names<'a>,
    pub(super) banks: &'a Names<'a>,
    pub(super) buses: &'a Names<'a>,
    pub(super) panels: &'a Names<'a>,
}

pub(super) fn panels_and_buses(
    power: &PowerInput,
    shop: &Shop,
    known: &Known,
    banks: &[Bank],
    faults: &mut Vec<Fault>,
) -> (Vec<Panel>, Vec<Bus>) {
    let sources = panel_trees::sources(&power.panels, known, faults);
    let mut buses: BTreeMap<Name, Bus> = BTreeMap::new();
    let mut panels: Vec<(Panel, Name)> = Vec::new();
    for (i, panel) in power.panels.iter().enumerate() {
        let at = |field: &str| format!("/power/panels/{i}/{field}");
        let station = known.stations.find(&panel.station, || at("station"), faults);
        let bank = sources[i].bank;
        let bank_id = banks.get(bank).map_or("?", |bank| bank.id.as_str());
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
                    "blade fuses break {blade_v} V at most, and the bank '{bank_id}' charges at {charging_v} V: \
                     protect this panel's branches with breakers"
                ),
            ));
        }
        let voltage_rating_v = of_item.map(|(_, v)| v).or(panel.voltage_rating_v);
        if let Some(rated) = voltage_rating_v.filter(|rated| *rated < charging_v) {
            let place = if of_item.is_some() { "sku" } else { "voltage_rating_v" };
            faults.push(Fault::new(
                at(place),
                format!(
                    "the panel '{}' is built for {rated} V, and the bank '{bank_id}' charges at {charging_v} V: \
                     choose a panel rated for at least that",
                    panel.id
                ),
            ));
        }
        let bus = match &panel.negative_bus {
            Some(bus) => {
                known.buses.find(bus, || at("negative_bus"), faults);
                bus.clone()
            }
            None => {
                let own = Name::from(format!("{}_negative", panel.id));
                buses.insert(own.clone(), Bus { id: own.clone(), station, bank, leads_to: None, item: None });
                own
            }
        };
        let fed_from = sources[i].fed_from;
        panels.push((
            Panel { id: panel.id.clone(), station, bank, fed_from, bus: 0, protection, voltage_rating_v, item },
            bus,
        ));
    }
    for (i, bus) in power.buses.iter().enumerate() {
        let station = known.stations.find(&bus.station, || format!("/power/buses/{i}/station"), faults);
        let item =
            bus.sku.as_ref().and_then(|sku| item_of_kind(sku, "bus", shop, || format!("/power/buses/{i}/sku"), faults));
        buses.insert(bus.id.clone(), Bus { id: bus.id.clone(), station, bank: 0, leads_to: None, item });
    }
    let order: BTreeMap<Name, usize> = buses.keys().cloned().enumerate().map(|(place, name)| (name, place)).collect();
    let mut buses: Vec<Bus> = buses.into_values().collect();
    let uses: Vec<(usize, Option<usize>)> =
        panels.iter().map(|(panel, bus)| (panel.bank, order.get(bus).copied())).collect();
    panel_trees::lead_buses(power, known, banks, (&sources, &uses), (&order, &mut buses), faults);
    let mut panels: Vec<Panel> =
        panels.into_iter().map(|(panel, bus)| Panel { bus: order.get(&bus).copied().unwrap_or(0), ..panel }).collect();
    panels.sort_by(|a, b| a.id.cmp(&b.id));
    panels.dedup_by(|a, b| a.id == b.id);
    (panels, buses)
}
