//! Checks a boat spec against the shop's tables and resolves it to a [`Boat`]; every fault is found, not the first.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rust_decimal::Decimal;

use crate::calc::findings::{Fault, Gap};
use crate::calc::rules::protection::{charging_voltage_v, family};
use crate::calc::shop::Shop;
use crate::calc::shop::item::{Attributes, BranchProtection, FuseFamily, Item, LabourUse};
use crate::calc::spec::boat::{Bank, Boat, Bus, Equipment, Panel, Run, Station};
use crate::calc::spec::input::{Access, BoatSpecInput, Known, NegativeColour, OverruleInput, Propulsion};
use crate::calc::spec::packages::{self, PackageFault};
use crate::calc::units::{Length, LengthValue, Name};

/// Hulls shorter than this are no boats that anyone rigs.
const HULL_SHORTEST_FT: f64 = 6.0;
/// Hulls longer than this are no small craft.
const HULL_LONGEST_FT: f64 = 120.0;
/// No run on a small craft is longer.
const RUN_LONGEST_FT: f64 = 300.0;
/// No rise from a run's end to a mounting place is longer.
const RISE_LONGEST_FT: f64 = 60.0;
/// No tube on a small craft is wider.
const TUBE_WIDEST_IN: f64 = 24.0;

/// Checks `input` and resolves it.
///
/// # Errors
/// All faults of the input, each with a JSON pointer into it, in the order of the places.
pub fn check(input: &BoatSpecInput, shop: &Shop) -> Result<Boat, Vec<Fault>> {
    let mut faults = Vec::new();
    let boat = resolve(input, shop, &mut faults);
    if faults.is_empty() {
        Ok(boat)
    } else {
        faults.sort();
        faults.dedup();
        Err(faults)
    }
}

/// Names of one kind and the place of each, in order of name.
struct Names<'a> {
    kind: &'static str,
    places: BTreeMap<&'a str, usize>,
}

impl<'a> Names<'a> {
    /// Collects names, with a fault for each that stands there twice. Places count in order of name.
    fn new(
        kind: &'static str,
        at: &str,
        names: impl Iterator<Item = &'a Name> + Clone,
        faults: &mut Vec<Fault>,
    ) -> Self {
        let mut seen = BTreeSet::new();
        for (i, name) in names.clone().enumerate() {
            if !well_formed(name.as_str()) {
                faults.push(Fault::new(
                    format!("{at}/{i}/id"),
                    format!(
                        "'{name}' cannot be an identifier: write lower-case letters, digits, '-' and '_', \
                         60 at most, beginning with a letter or digit"
                    ),
                ));
            }
            if !seen.insert(name.as_str()) {
                faults.push(Fault::new(
                    format!("{at}/{i}/id"),
                    format!("there are two {kind}s '{name}': give one of them another id"),
                ));
            }
        }
        Names { kind, places: seen.into_iter().enumerate().map(|(place, name)| (name, place)).collect() }
    }

    /// The place of a name, or a fault that suggests the nearest.
    fn find(&self, name: &Name, pointer: String, faults: &mut Vec<Fault>) -> usize {
        if let Some(&place) = self.places.get(name.as_str()) {
            return place;
        }
        let kind = self.kind;
        let mend = match nearest(name.as_str(), self.places.keys().copied()) {
            Some(near) => format!("did you mean '{near}'?"),
            None => {
                let known: Vec<_> = self.places.keys().take(12).copied().collect();
                if known.is_empty() {
                    format!("the spec has no {kind} yet: add it")
                } else {
                    format!("the spec has {}", known.join(", "))
                }
            }
        };
        faults.push(Fault::new(pointer, format!("there is no {kind} '{name}': {mend}")));
        0
    }
}

fn well_formed(id: &str) -> bool {
    let mut chars = id.chars();
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
    chars.next().is_some_and(plain) && id.len() <= 60 && chars.all(|c| plain(c) || c == '-' || c == '_')
}

/// The known name that a mistyped one most likely meant.
pub fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    known
        .map(|candidate| (strsim::jaro_winkler(name, candidate), candidate))
        .filter(|(likeness, _)| *likeness >= 0.85)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// A length between bounds in feet, or a fault.
fn bounded(
    value: LengthValue,
    what: &str,
    (least_ft, most_ft): (f64, f64),
    pointer: String,
    faults: &mut Vec<Fault>,
) -> Length {
    match value.length() {
        Some(length) if length.ft() >= least_ft && length.ft() <= most_ft => length,
        _ => {
            let least = Length::feet(least_ft).written(value.unit);
            let most = Length::feet(most_ft).written(value.unit);
            faults.push(Fault::new(
                pointer,
                format!(
                    "{what} of {value} makes no sense: it must be from {least} to {most}. Check the number and its unit"
                ),
            ));
            Length::ZERO
        }
    }
}

fn resolve(input: &BoatSpecInput, shop: &Shop, faults: &mut Vec<Fault>) -> Boat {
    let boat = &input.boat;
    let settings = &shop.settings;
    let hull_length = boat.hull_length.map(|l| {
        bounded(l, "a hull length", (HULL_SHORTEST_FT, HULL_LONGEST_FT), "/boat/hull_length".to_owned(), faults)
    });
    let beam = boat.beam.map(|l| {
        let most = hull_length.filter(|h| *h > Length::ZERO).map_or(HULL_LONGEST_FT, Length::ft);
        bounded(l, "a beam", (1.0, most), "/boat/beam".to_owned(), faults)
    });

    let station_names = Names::new("station", "/boat/stations", boat.stations.iter().map(|s| &s.id), faults);
    let stations = stations(input, faults);
    let runs = runs(input, &station_names, hull_length, faults);

    let bank_names = Names::new("bank", "/power/banks", input.power.banks.iter().map(|b| &b.id), faults);
    let banks = banks(input, &station_names, faults);
    let bus_names = Names::new("bus", "/power/buses", input.power.buses.iter().map(|b| &b.id), faults);
    let panel_names = Names::new("panel", "/power/panels", input.power.panels.iter().map(|p| &p.id), faults);
    let (panels, buses) = panels_and_buses(input, shop, &station_names, &bank_names, &bus_names, &banks, faults);

    let mut gaps = Vec::new();
    let mut labour = Vec::new();
    let equipment = {
        let mut gathering = Gathering {
            shop,
            stations: &station_names,
            panels: &panel_names,
            panel_list: &panels,
            banks: &banks,
            entries: Vec::new(),
            gaps: &mut gaps,
            faults,
        };
        gathering.own(input);
        gathering.packages(input, &mut labour);
        gathering.spread()
    };
    state_labour(input, shop, &mut labour, faults);
    check_overrules(input, shop, faults);
    check_extra_lines(input, shop, faults);

    let negative_colour = boat.negative_colour.unwrap_or(if settings.negative_colour == "yellow" {
        NegativeColour::Yellow
    } else {
        NegativeColour::Black
    });
    Boat {
        name: boat.name.clone(),
        hull_form: boat.hull_form,
        job_type: boat.job_type,
        hull_length,
        beam,
        propulsion: boat.propulsion,
        negative_colour,
        stations,
        runs,
        banks,
        buses,
        panels,
        equipment,
        labour,
        overrules: input.overrules.clone(),
        extra_lines: input.extra_lines.clone(),
        gaps,
    }
}

fn stations(input: &BoatSpecInput, faults: &mut Vec<Fault>) -> Vec<Station> {
    let assumed = match input.boat.propulsion {
        Propulsion::Outboard | Propulsion::PetrolInboard => Known::Unknown,
        Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None => Known::No,
    };
    let mut stations: Vec<Station> = input
        .boat
        .stations
        .iter()
        .enumerate()
        .map(|(i, s)| Station {
            id: s.id.clone(),
            name: s.name.clone().unwrap_or_else(|| s.id.as_str().replace(['_', '-'], " ")),
            petrol_vapour: s.petrol_vapour.unwrap_or(assumed),
            rise: s.rise.map_or(Length::ZERO, |rise| {
                bounded(rise, "a rise", (0.0, RISE_LONGEST_FT), format!("/boat/stations/{i}/rise"), faults)
            }),
        })
        .collect();
    stations.sort_by(|a, b| a.id.cmp(&b.id));
    stations.dedup_by(|a, b| a.id == b.id);
    stations
}

fn runs(input: &BoatSpecInput, stations: &Names, hull: Option<Length>, faults: &mut Vec<Fault>) -> Vec<Run> {
    // A run may zigzag under the deck, but not four times the hull.
    let longest_ft = hull.filter(|h| *h > Length::ZERO).map_or(RUN_LONGEST_FT, |h| 4.0 * h.ft()).min(RUN_LONGEST_FT);
    let mut runs: Vec<Run> = Vec::with_capacity(input.boat.runs.len());
    for (i, run) in input.boat.runs.iter().enumerate() {
        let at = |field: &str| format!("/boat/runs/{i}/{field}");
        let from = stations.find(&run.from, at("from"), faults);
        let to = stations.find(&run.to, at("to"), faults);
        if run.from == run.to {
            faults
                .push(Fault::new(at("to"), format!("the run leads from '{}' to itself: name its other end", run.from)));
        }
        let least_ft = Length::inches(1.0).ft();
        let length = bounded(run.length, "a run", (least_ft, longest_ft), at("length"), faults);
        let inside_diameter = run.inside_diameter.map(|d| {
            let bounds = (Length::inches(0.25).ft(), Length::inches(TUBE_WIDEST_IN).ft());
            bounded(d, "an inside diameter", bounds, at("inside_diameter"), faults)
        });
        runs.push(Run {
            a: from.min(to),
            b: from.max(to),
            length,
            source: run.length_source,
            access: run.access.unwrap_or(if inside_diameter.is_some() { Access::Tube } else { Access::Open }),
            engine_space: run.engine_space,
            inside_diameter,
        });
    }
    runs.sort_by_key(|r| (r.a, r.b, r.length, r.engine_space, r.access, r.source, r.inside_diameter));
    runs
}

fn banks(input: &BoatSpecInput, stations: &Names, faults: &mut Vec<Fault>) -> Vec<Bank> {
    let mut banks: Vec<Bank> = input
        .power
        .banks
        .iter()
        .enumerate()
        .map(|(i, bank)| {
            if ![12, 24, 36, 48].contains(&bank.nominal_voltage_v) {
                faults.push(Fault::new(
                    format!("/power/banks/{i}/nominal_voltage_v"),
                    format!("{} V is no nominal bank voltage: it must be 12, 24, 36 or 48", bank.nominal_voltage_v),
                ));
            }
            for (field, figure, most) in
                [("capacity_ah", bank.capacity_ah, 5000.0), ("cold_cranking_a", bank.cold_cranking_a, 20_000.0)]
            {
                if figure.is_some_and(|f| !(f >= 1.0 && f <= most)) {
                    faults.push(Fault::new(
                        format!("/power/banks/{i}/{field}"),
                        format!("{} makes no sense here: it must be from 1 to {most}", figure.unwrap_or_default()),
                    ));
                }
            }
            Bank {
                id: bank.id.clone(),
                station: stations.find(&bank.station, format!("/power/banks/{i}/station"), faults),
                nominal_voltage_v: f64::from(bank.nominal_voltage_v),
                capacity_ah: bank.capacity_ah,
                cold_cranking_a: bank.cold_cranking_a,
            }
        })
        .collect();
    banks.sort_by(|a, b| a.id.cmp(&b.id));
    banks.dedup_by(|a, b| a.id == b.id);
    banks
}

/// The catalogue item of a sku when it is of the kind asked for, or a fault.
fn item_of_kind(sku: &Name, kind: &str, shop: &Shop, pointer: String, faults: &mut Vec<Fault>) -> Option<Arc<Item>> {
    let item = find_item(sku, shop, &pointer, faults)?;
    if item.attributes.kind() == kind {
        return Some(item);
    }
    faults.push(Fault::new(
        pointer,
        format!("'{sku}' is a {}, not a {kind}: name a {kind} of the catalogue", item.attributes.kind()),
    ));
    None
}

fn find_item(sku: &Name, shop: &Shop, pointer: &str, faults: &mut Vec<Fault>) -> Option<Arc<Item>> {
    if let Some(item) = shop.catalogue.get(sku.as_str()) {
        return Some(item.clone());
    }
    let known = shop.catalogue.items().iter().filter(|item| !item.retired).map(|item| item.sku.as_str());
    let mend = match nearest(sku.as_str(), known) {
        Some(near) => format!("did you mean '{near}'?"),
        None => "add the item, or name another".to_owned(),
    };
    faults.push(Fault::new(pointer, format!("the catalogue has no item '{sku}': {mend}")));
    None
}

fn panels_and_buses(
    input: &BoatSpecInput,
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
    for (i, panel) in input.power.panels.iter().enumerate() {
        let at = |field: &str| format!("/power/panels/{i}/{field}");
        let station = stations.find(&panel.station, at("station"), faults);
        let bank = bank_names.find(&panel.bank, at("bank"), faults);
        let charging_v = banks.get(bank).map_or(0.0, |b| charging_voltage_v(b.nominal_voltage_v));
        let item = panel.sku.as_ref().and_then(|sku| item_of_kind(sku, "panel", shop, at("sku"), faults));
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
                bus_names.find(bus, at("negative_bus"), faults);
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
    for (i, bus) in input.power.buses.iter().enumerate() {
        let station = stations.find(&bus.station, format!("/power/buses/{i}/station"), faults);
        let item =
            bus.sku.as_ref().and_then(|sku| item_of_kind(sku, "bus", shop, format!("/power/buses/{i}/sku"), faults));
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

/// One entry of equipment, from the spec or from a package, before it is spread into pieces.
struct Entry {
    key: Name,
    item: Arc<Item>,
    quantity: u16,
    station: Option<usize>,
    panel: Option<usize>,
    customer_supplied: bool,
    pointer: String,
}

/// Collects the equipment of the spec and of its packages.
struct Gathering<'a> {
    shop: &'a Shop,
    stations: &'a Names<'a>,
    panels: &'a Names<'a>,
    panel_list: &'a [Panel],
    banks: &'a [Bank],
    entries: Vec<Entry>,
    gaps: &'a mut Vec<Gap>,
    faults: &'a mut Vec<Fault>,
}

impl Gathering<'_> {
    /// Equipment that the spec names itself.
    fn own(&mut self, input: &BoatSpecInput) {
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
            let station = entry.station.as_ref().map(|s| self.stations.find(s, at("station"), self.faults));
            let panel = entry.panel.as_ref().map(|p| self.panels.find(p, at("panel"), self.faults));
            let Some(item) = find_item(&entry.sku, self.shop, &at("sku"), self.faults) else { continue };
            self.add(
                entry.id.clone(),
                item,
                entry.quantity,
                (station, panel),
                entry.customer_supplied,
                format!("/equipment/{i}"),
            );
        }
    }

    /// Equipment and labour of the packages.
    fn packages(&mut self, input: &BoatSpecInput, labour: &mut Vec<LabourUse>) {
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
                for entry in &package.equipment {
                    let before = self.faults.len();
                    let Some(item) = find_item(&entry.sku, self.shop, &pointer, self.faults) else { continue };
                    let station = entry.station.as_ref().map(|s| self.stations.find(s, pointer.clone(), self.faults));
                    let panel = entry.panel.as_ref().map(|p| self.panels.find(p, pointer.clone(), self.faults));
                    for fault in &mut self.faults[before..] {
                        fault.message = format!("package '{}', {}: {}", package.code, entry.sku, fault.message);
                    }
                    self.add(None, item, entry.quantity, (station, panel), false, pointer.clone());
                }
            }
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
            Attributes::Device { nominal_voltages_v, .. } => {
                if station.is_none() {
                    let message = format!("'{}' is wired, so it needs a station: say where it is mounted", item.sku);
                    self.faults.push(Fault::new(format!("{pointer}/station"), message));
                }
                (station, self.panel_for(&item, nominal_voltages_v, panel, &pointer))
            }
            _ => (station, panel),
        };
        let key = id.unwrap_or_else(|| {
            let place = station.and_then(|s| self.stations.places.iter().find(|(_, p)| **p == s)).map(|(n, _)| *n);
            let sku = item.sku.as_str().to_ascii_lowercase();
            Name::from(place.map_or(sku.clone(), |place| format!("{sku}@{place}")))
        });
        self.entries.push(Entry { key, item, quantity, station, panel, customer_supplied, pointer });
    }

    /// The panel that feeds a device: the one named, or the only one of a voltage that the device takes.
    fn panel_for(&mut self, item: &Item, volts: &[u16], named: Option<usize>, pointer: &str) -> Option<usize> {
        let bank_v = |panel: usize| {
            let bank = self.panel_list.get(panel).and_then(|p| self.banks.get(p.bank));
            bank.map_or(0.0, |b| b.nominal_voltage_v)
        };
        let takes = |panel: usize| volts.iter().any(|v| f64::from(*v) == bank_v(panel));
        let list: Vec<_> = volts.iter().map(|v| format!("{v} V")).collect();
        let list = list.join(" or ");
        match named {
            Some(panel) if takes(panel) || self.panel_list.is_empty() => Some(panel),
            Some(panel) => {
                let message = format!(
                    "'{}' takes {list}, and the panel '{}' is at {} V: choose a panel of its voltage, or another item",
                    item.sku,
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
                    format!("'{}' takes {list}, and the boat has no panel at that voltage: add one", item.sku)
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
    fn spread(mut self) -> Vec<Equipment> {
        self.entries.sort_by(|a, b| {
            (&a.key, &a.item.sku, a.panel, a.station, a.customer_supplied).cmp(&(
                &b.key,
                &b.item.sku,
                b.panel,
                b.station,
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
                    customer_supplied: entry.customer_supplied,
                    pointer: entry.pointer.clone(),
                });
            }
        }
        pieces
    }
}

fn state_labour(input: &BoatSpecInput, shop: &Shop, labour: &mut Vec<LabourUse>, faults: &mut Vec<Fault>) {
    let known = |code: &Name| shop.labour_operations.iter().any(|o| o.code == *code);
    for (i, stated) in input.labour.iter().enumerate() {
        if !known(&stated.operation) {
            let near = nearest(stated.operation.as_str(), shop.labour_operations.iter().map(|o| o.code.as_str()));
            let mend =
                near.map_or("GET /v1/labour-operations lists them".to_owned(), |n| format!("did you mean '{n}'?"));
            faults.push(Fault::new(
                format!("/labour/{i}/operation"),
                format!("there is no labour operation '{}': {mend}", stated.operation),
            ));
        }
        if stated.quantity < Decimal::ZERO {
            faults.push(Fault::new(format!("/labour/{i}/quantity"), "a quantity of labour is never negative"));
        }
    }
    labour.extend(input.labour.iter().cloned());
    let mut sums: BTreeMap<Name, Decimal> = BTreeMap::new();
    for stated in labour.drain(..) {
        *sums.entry(stated.operation).or_default() += stated.quantity;
    }
    labour.extend(sums.into_iter().map(|(operation, quantity)| LabourUse { operation, quantity }));
}

/// What can be said of overrules before anything is computed; whether their targets exist is known only after.
fn check_overrules(input: &BoatSpecInput, shop: &Shop, faults: &mut Vec<Fault>) {
    let mut seen = BTreeSet::new();
    for (i, overrule) in input.overrules.iter().enumerate() {
        let (what, about) = match overrule {
            OverruleInput::Conductor { circuit, .. } => ("conductor", circuit),
            OverruleInput::Item { requirement, sku, .. } => {
                find_item(sku, shop, &format!("/overrules/{i}/sku"), faults);
                ("item", requirement)
            }
            OverruleInput::Hours { operation, .. } => {
                if !shop.labour_operations.iter().any(|o| o.code == *operation) {
                    faults.push(Fault::new(
                        format!("/overrules/{i}/operation"),
                        format!("there is no labour operation '{operation}': GET /v1/labour-operations lists them"),
                    ));
                }
                ("hours", operation)
            }
        };
        if !seen.insert((what, about.clone())) {
            faults.push(Fault::new(
                format!("/overrules/{i}"),
                format!("the {what} of '{about}' is overruled twice: leave one of the two out"),
            ));
        }
    }
}

fn check_extra_lines(input: &BoatSpecInput, shop: &Shop, faults: &mut Vec<Fault>) {
    for (i, line) in input.extra_lines.iter().enumerate() {
        if !shop.settings.tax_classes.iter().any(|class| class.code == line.tax_class) {
            let known: Vec<_> = shop.settings.tax_classes.iter().map(|class| class.code.as_str()).collect();
            faults.push(Fault::new(
                format!("/extra_lines/{i}/tax_class"),
                format!("there is no tax class '{}': the shop has {}", line.tax_class, known.join(", ")),
            ));
        }
        if line.unit_price < Decimal::ZERO {
            faults.push(Fault::new(
                format!("/extra_lines/{i}/unit_price"),
                "a unit price is never negative: to take something off, make the quantity negative",
            ));
        }
    }
}
