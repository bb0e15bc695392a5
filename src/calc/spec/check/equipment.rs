//! Equipment: that of the spec and that of its packages, piece by piece, each with its station and panel.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::names::{Names, nearest, well_formed};
use super::panels::find_item;
use crate::findings::{Fault, Gap};
use crate::rules::plumbing::{draws_from_sea, pump_of};
use crate::rules::protection::charging_voltage_v;
use crate::shop::Shop;
use crate::shop::item::{Attributes, Item, LabourUse, Wiring};
use crate::spec::boat::{Bank, Equipment, Panel, PumpPlumbing};
use crate::spec::input::{BoatSpecInput, PumpPlumbingInput};
use crate::spec::packages::{self, PackageFault};
use crate::units::Name;

/// No boat carries more pieces; beyond this a spec is a slip of the keyboard, or an attack.
const PIECES_MOST: u64 = 2_000;

/// One entry of equipment, from the spec or from a package, before it is spread into pieces.
pub(super) struct Entry {
    key: Name,
    item: Arc<Item>,
    quantity: u16,
    station: Option<usize>,
    panel: Option<usize>,
    wiring: Option<Wiring>,
    plumbing: Option<PumpPlumbing>,
    cables_to: Option<usize>,
    customer_supplied: bool,
    pointer: String,
}

/// Collects the equipment of the spec and of its packages.
pub(super) struct Gathering<'a> {
    pub(super) shop: &'a Shop,
    pub(super) stations: &'a Names<'a>,
    pub(super) panels: &'a Names<'a>,
    pub(super) panel_list: &'a [Panel],
    pub(super) banks: &'a [Bank],
    pub(super) entries: Vec<Entry>,
    /// Where the first package that asks for an engine gateway stands in the spec.
    pub(super) gateway_by: Option<String>,
    pub(super) gaps: &'a mut Vec<Gap>,
    pub(super) faults: &'a mut Vec<Fault>,
}

impl Gathering<'_> {
    /// Equipment that the spec names itself.
    pub(super) fn own(&mut self, input: &BoatSpecInput) {
        let mut ids = BTreeSet::new();
        for (i, entry) in input.equipment.iter().enumerate() {
            let at = |field: &str| format!("/equipment/{i}/{field}");
            if let Some(id) = &entry.id {
                if !well_formed(id.as_str()) {
                    self.faults.push(Fault::new(
                        at("id"),
                        format!("'{id}' cannot be an identifier: write lower-case letters, digits, '-' and '_'"),
                    ));
                }
                if !ids.insert(id.clone()) {
                    let message = format!("there are two pieces of equipment '{id}': give one of them another id");
                    self.faults.push(Fault::new(at("id"), message));
                }
            }
            if entry.quantity == 0 || entry.quantity > 100 {
                let message = format!("a quantity of {} makes no sense: it must be from 1 to 100", entry.quantity);
                self.faults.push(Fault::new(at("quantity"), message));
            }
            let station = entry.station.as_ref().map(|s| self.stations.find(s, || at("station"), self.faults));
            let panel = entry.panel.as_ref().map(|p| self.panels.find(p, || at("panel"), self.faults));
            let Some(item) = find_item(&entry.sku, self.shop, || at("sku"), self.faults) else { continue };
            self.add(
                entry.id.clone(),
                item,
                entry.quantity,
                (station, panel),
                entry.customer_supplied,
                format!("/equipment/{i}"),
            );
            self.wired(entry.wiring, &at("wiring"));
            if let Some(plumbing) = &entry.plumbing {
                self.plumbed(plumbing, &at("plumbing"));
            }
            self.led(entry.cables_to.as_ref(), &at("cables_to"));
        }
    }

    /// Equipment and labour of the packages.
    pub(super) fn packages(&mut self, input: &BoatSpecInput, labour: &mut Vec<LabourUse>) {
        let mut seen = BTreeSet::new();
        for (i, code) in input.packages.iter().enumerate() {
            let pointer = format!("/packages/{i}");
            if !seen.insert(code) {
                self.faults.push(Fault::new(pointer, format!("the package '{code}' is listed twice: leave one out")));
                continue;
            }
            let contents = match packages::expand(code, &self.shop.packages) {
                Ok(contents) => contents,
                Err(fault) => {
                    let known = self.shop.packages.iter().map(|p| p.code.as_str());
                    let message = match fault {
                        PackageFault::Unknown(unknown) => match nearest(unknown.as_str(), known) {
                            Some(near) => format!("there is no package '{unknown}': did you mean '{near}'?"),
                            None => format!("there is no package '{unknown}': GET /v1/packages lists them"),
                        },
                        PackageFault::Cycle(path) => {
                            let path: Vec<_> = path.iter().map(Name::as_str).collect();
                            format!("the package contains itself ({}): take it out of one of them", path.join(" > "))
                        }
                        PackageFault::TooMany => format!(
                            "the package opens into more than {} packages: put less into it",
                            packages::OPENED_MOST
                        ),
                    };
                    self.faults.push(Fault::new(pointer, message));
                    continue;
                }
            };
            for package in contents {
                labour.extend(package.labour.iter().cloned());
                if package.engine_gateway {
                    self.gateway_by.get_or_insert_with(|| pointer.clone());
                }
                for entry in &package.equipment {
                    let before = self.faults.len();
                    let Some(item) = find_item(&entry.sku, self.shop, || pointer.clone(), self.faults) else {
                        continue;
                    };
                    let station =
                        entry.station.as_ref().map(|s| self.stations.find(s, || pointer.clone(), self.faults));
                    let panel = entry.panel.as_ref().map(|p| self.panels.find(p, || pointer.clone(), self.faults));
                    self.within(before, &package.code, &entry.sku);
                    self.add(None, item, entry.quantity, (station, panel), false, pointer.clone());
                    let before = self.faults.len();
                    self.wired(entry.wiring, &pointer);
                    self.within(before, &package.code, &entry.sku);
                }
            }
        }
    }

    /// Says of the faults from one on in which package they are.
    fn within(&mut self, first: usize, package: &Name, sku: &Name) {
        for fault in &mut self.faults[first..] {
            fault.message = format!("package '{package}', {sku}: {}", fault.message);
        }
    }

    /// How the entry that was added last is wired, as the spec or its package says.
    fn wired(&mut self, wiring: Option<Wiring>, pointer: &str) {
        let Some(last) = self.entries.last_mut() else { return };
        last.wiring = wiring;
        if wiring.is_some() && !matches!(last.item.attributes, Attributes::Device { .. }) {
            let message = format!(
                "'{}' has no circuit of its own to be wired one way or the other: leave this out",
                last.item.sku
            );
            self.faults.push(Fault::new(pointer, message));
        }
    }

    /// How the entry that was added last is plumbed.
    fn plumbed(&mut self, stated: &PumpPlumbingInput, pointer: &str) {
        let Some(last) = self.entries.last_mut() else { return };
        let Some((kind, _)) = pump_of(&last.item.attributes) else {
            let message = format!("'{}' is no raw-water pump: leave this out", last.item.sku);
            self.faults.push(Fault::new(pointer, message));
            return;
        };
        let PumpPlumbingInput { discharge, intake, existing_through_hull, aboard } = stated;
        let drawn = [("intake", intake.is_some()), ("existing_through_hull", *existing_through_hull)];
        for (field, _) in drawn.into_iter().filter(|(_, stated)| *stated && !draws_from_sea(kind)) {
            let message =
                format!("a {} pump draws nothing from the sea: leave this out", kind.word().replace('_', " "));
            self.faults.push(Fault::new(format!("{pointer}/{field}"), message));
        }
        if let Some(intake) = intake.as_ref().filter(|intake| !well_formed(intake.as_str())) {
            let message = format!("'{intake}' cannot be an identifier: write lower-case letters, digits, '-' and '_'");
            self.faults.push(Fault::new(format!("{pointer}/intake"), message));
        }
        let at = || format!("{pointer}/discharge");
        last.plumbing = Some(PumpPlumbing {
            discharge: discharge.as_ref().map(|station| self.stations.find(station, at, self.faults)),
            intake: intake.clone(),
            existing_through_hull: *existing_through_hull,
            aboard: *aboard,
        });
    }

    /// Where the supplied cables of the entry that was added last lead to, as the spec says.
    fn led(&mut self, to: Option<&Name>, pointer: &str) {
        let Some((to, last)) = to.zip(self.entries.last_mut()) else { return };
        let has =
            matches!(&last.item.attributes, Attributes::Device { supplied_cables, .. } if !supplied_cables.is_empty());
        last.cables_to = Some(self.stations.find(to, || pointer.to_owned(), self.faults));
        if !has {
            let message = format!("no cable comes with '{}': leave this out", last.item.sku);
            self.faults.push(Fault::new(pointer, message));
        }
    }

    fn add(
        &mut self,
        id: Option<Name>,
        item: Arc<Item>,
        quantity: u16,
        (station, panel): (Option<usize>, Option<usize>),
        customer_supplied: bool,
        pointer: String,
    ) {
        if item.retired && !customer_supplied {
            let known = self.shop.catalogue.of_kind(item.attributes.kind()).filter(|other| !other.retired);
            let near = nearest(item.sku.as_str(), known.map(|other| other.sku.as_str()));
            self.gaps.push(Gap {
                what: Name::from(format!("item/{}", item.sku)),
                need: format!("{quantity} x {}", item.description),
                reason: format!("'{}' has left the catalogue", item.sku),
                mend: match near {
                    Some(near) => format!("choose another, '{near}' perhaps"),
                    None => "choose another item".to_owned(),
                },
            });
        }
        let (station, panel) = match &item.attributes {
            Attributes::Device { nominal_voltages_v, unwired, .. } => {
                if station.is_none() {
                    let message = format!("'{}' is wired, so it needs a station: say where it is mounted", item.sku);
                    self.faults.push(Fault::new(format!("{pointer}/station"), message));
                }
                // What only the network feeds, or what only has a cable of its own, hangs on no panel.
                let panel = if *unwired { panel } else { self.panel_for(&item, nominal_voltages_v, panel, &pointer) };
                (station, panel)
            }
            attributes => {
                let placed = matches!(attributes, Attributes::Charger { .. } | Attributes::EngineGateway { .. });
                if placed && station.is_none() {
                    let message = format!("'{}' is wired, so it needs a station: say where it is mounted", item.sku);
                    self.faults.push(Fault::new(format!("{pointer}/station"), message));
                }
                self.rated_for_bank(&item, station, &pointer);
                (station, panel)
            }
        };
        let key = id.unwrap_or_else(|| {
            let place = station.and_then(|s| self.stations.places.iter().find(|(_, p)| **p == s)).map(|(n, _)| *n);
            let sku = item.sku.as_str().to_ascii_lowercase();
            // On a boat of several panels the panel is part of the key, so that an overrule never slips to another circuit.
            let panel = panel.filter(|_| self.panel_list.len() > 1).and_then(|p| self.panel_list.get(p));
            let panel = panel.map(|panel| [".", panel.id.as_str()].concat()).unwrap_or_default();
            Name::from(place.map_or(sku.clone(), |place| [sku.as_str(), "@", place, &panel].concat()))
        });
        self.entries.push(Entry {
            key,
            item,
            quantity,
            station,
            panel,
            wiring: None,
            plumbing: None,
            cables_to: None,
            customer_supplied,
            pointer,
        });
    }

    /// A switch, fuse, breaker, holder or panel that is named by itself must stand the charging voltage of the banks at
    /// its station, or, without a station, of some bank of the boat.
    fn rated_for_bank(&mut self, item: &Item, station: Option<usize>, pointer: &str) {
        let Some(rated_v) = item.attributes.voltage_rating_v() else { return };
        let volts = |bank: &Bank| charging_voltage_v(bank.nominal_voltage_v);
        let here = self.banks.iter().filter(|bank| Some(bank.station) == station).map(volts);
        let asked_v = here.reduce(f64::max).or_else(|| self.banks.iter().map(volts).reduce(f64::min));
        if let Some(asked_v) = asked_v.filter(|asked_v| rated_v < *asked_v) {
            let message = format!(
                "'{}' is built for {rated_v} V, and the bank it would serve charges at {asked_v:.1} V: choose one rated for at least that",
                item.sku
            );
            self.faults.push(Fault::new(format!("{pointer}/sku"), message));
        }
    }

    /// The panel that feeds a device: the one named, or the only one of a voltage that the device takes.
    fn panel_for(&mut self, item: &Item, volts: &[u16], named: Option<usize>, pointer: &str) -> Option<usize> {
        let bank_v = |panel: usize| {
            let bank = self.panel_list.get(panel).and_then(|p| self.banks.get(p.bank));
            bank.map_or(0.0, |b| b.nominal_voltage_v)
        };
        let takes = |panel: usize| volts.iter().any(|v| f64::from(*v) == bank_v(panel));
        let list = || {
            let list: Vec<_> = volts.iter().map(|v| format!("{v} V")).collect();
            list.join(" or ")
        };
        match named {
            Some(panel) if takes(panel) || self.panel_list.is_empty() => Some(panel),
            Some(panel) => {
                let message = format!(
                    "'{}' takes {}, and the panel '{}' is at {} V: choose a panel of its voltage, or another item",
                    item.sku,
                    list(),
                    self.panel_list.get(panel).map_or("?", |p| p.id.as_str()),
                    bank_v(panel)
                );
                self.faults.push(Fault::new(format!("{pointer}/panel"), message));
                None
            }
            None => {
                let fitting: Vec<usize> = (0..self.panel_list.len()).filter(|p| takes(*p)).collect();
                if let [only] = fitting[..] {
                    return Some(only);
                }
                let message = if fitting.is_empty() {
                    format!("'{}' takes {}, and the boat has no panel at that voltage: add one", item.sku, list())
                } else {
                    let ids: Vec<_> = fitting.iter().map(|p| self.panel_list[*p].id.as_str()).collect();
                    format!("'{}' could be fed by {}: say which panel", item.sku, ids.join(" or "))
                };
                self.faults.push(Fault::new(format!("{pointer}/panel"), message));
                None
            }
        }
    }

    /// One value for each piece, in canonical order; further pieces of one key are told apart by `/2`, `/3` …
    pub(super) fn spread(mut self) -> Vec<Equipment> {
        let all: u64 = self.entries.iter().map(|entry| u64::from(entry.quantity)).sum();
        if all > PIECES_MOST {
            let message = format!(
                "the spec and its packages come to {all} pieces of equipment, and a boat carries {PIECES_MOST} at most: check the quantities"
            );
            self.faults.push(Fault::new("/equipment", message));
            return Vec::new();
        }
        self.entries.sort_by(|a, b| {
            (&a.key, &a.item.sku, a.panel, a.station, a.wiring, &a.plumbing, a.cables_to, a.customer_supplied).cmp(&(
                &b.key,
                &b.item.sku,
                b.panel,
                b.station,
                b.wiring,
                &b.plumbing,
                b.cables_to,
                b.customer_supplied,
            ))
        });
        let mut pieces: Vec<Equipment> = Vec::new();
        let mut count: BTreeMap<Name, u32> = BTreeMap::new();
        for entry in self.entries {
            for _ in 0..entry.quantity {
                let n = count.entry(entry.key.clone()).or_insert(0);
                *n += 1;
                pieces.push(Equipment {
                    key: if *n == 1 { entry.key.clone() } else { Name::from(format!("{}/{n}", entry.key)) },
                    item: entry.item.clone(),
                    station: entry.station,
                    panel: entry.panel,
                    wiring: entry.wiring,
                    plumbing: entry.plumbing.clone(),
                    cables_to: entry.cables_to,
                    customer_supplied: entry.customer_supplied,
                    planned: false,
                    pointer: entry.pointer.clone(),
                });
            }
        }
        pieces
    }
}
