//! The scope by system: every thing that the boat gets, under the part of the boat that it belongs to. Wire, terminals,
//! fuses and labels are none of these things: they serve all of them.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use super::read::{Circuit, Line, Quote, Requirement};
use super::{Entry, System, words};
use crate::shop::item::Function;

/// The parts of a boat, in the order in which a customer reads them.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Electronics,
    Radio,
    Lights,
    Pumps,
    Signals,
    DeckGear,
    Comfort,
    Power,
    Panels,
    Other,
    /// What a person wrote on the quote.
    Written,
}

impl Part {
    const fn name(self) -> &'static str {
        match self {
            Part::Electronics => "Navigation and electronics",
            Part::Radio => "Radio and sound",
            Part::Lights => "Lights",
            Part::Pumps => "Bilge and pumps",
            Part::Signals => "Horn and alarms",
            Part::DeckGear => "Anchor, bow motor and trim",
            Part::Comfort => "Outlets and refrigeration",
            Part::Power => "Batteries and charging",
            Part::Panels => "Panels and protection",
            Part::Other => "Other equipment",
            Part::Written => "Also agreed",
        }
    }

    const fn of(function: Function) -> Self {
        match function {
            Function::NavigationElectronics | Function::Instrument => Part::Electronics,
            Function::Radio | Function::Audio => Part::Radio,
            Function::NavigationLight | Function::InteriorLight | Function::Floodlight => Part::Lights,
            Function::BilgePump
            | Function::LiveWellPump
            | Function::WashDownPump
            | Function::FreshWaterPump
            | Function::WastePump
            | Function::BilgeBlower => Part::Pumps,
            Function::Horn | Function::Alarm => Part::Signals,
            Function::TrimTabs | Function::Windlass | Function::BowMotor => Part::DeckGear,
            Function::Refrigerator | Function::Outlet => Part::Comfort,
            Function::Accessory => Part::Other,
        }
    }

    /// Of a thing that is no load: by what needs it, then by the category that it is sold in.
    fn of_passive(requirement: &Requirement, line: Option<&Line>) -> Self {
        if requirement.used_by.iter().any(|user| user.starts_with("bank/")) {
            return Part::Power;
        }
        match line.and_then(|line| line.category.as_deref()) {
            Some("batteries") => Part::Power,
            Some("electronics") => Part::Electronics,
            Some("pumps_and_panels") => Part::Panels,
            _ => Part::Other,
        }
    }
}

/// A kind of need that a customer knows by name, and its part; an item's part is found by what it does.
fn known_kind(kind: &str) -> Option<Option<Part>> {
    Some(match kind {
        "item" => None,
        "battery_switch" | "charger" | "combiner" => Some(Part::Power),
        "fuse_block" | "bus" => Some(Part::Panels),
        "bilge_switch" => Some(Part::Pumps),
        "bow_receptacle" => Some(Part::DeckGear),
        "engine_gateway" | "display_cable" | "cable_extension" => Some(Part::Electronics),
        _ => return None,
    })
}

/// Everything that the boat gets, by part.
pub(super) fn scope(quote: &Quote) -> Vec<System> {
    let circuits: BTreeMap<&str, &Circuit> =
        quote.take_off.circuits.iter().map(|circuit| (circuit.key.as_str(), circuit)).collect();
    let excluded: BTreeSet<&str> = quote.exclusions.iter().map(|exclusion| exclusion.gap.as_str()).collect();
    let mut parts: BTreeMap<Part, Vec<Entry>> = BTreeMap::new();
    let mut told: BTreeSet<&str> = BTreeSet::new();
    for requirement in &quote.take_off.requirements {
        let Some(part) = known_kind(&requirement.need.kind) else { continue };
        if excluded.contains(requirement.key.as_str()) {
            continue;
        }
        let line = quote.lines.iter().find(|line| line.meets.contains(&requirement.key));
        let of_it: Vec<&Circuit> =
            requirement.used_by.iter().filter_map(|user| circuits.get(user.as_str()).copied()).collect();
        let Some(what) = what(requirement, line, &of_it) else { continue };
        if line.is_some_and(|line| line.kind == "manual") {
            told.insert(&requirement.key);
        }
        // What was matched to a need belongs to a circuit, and stands where that begins rather than where it ends.
        let placed: &[&Circuit] = if part.is_none() { &of_it } else { &[] };
        let mut places: Vec<String> = Vec::new();
        for circuit in placed {
            let place = words(&circuit.station);
            if !places.contains(&place) {
                places.push(place);
            }
        }
        let part = part
            .or_else(|| of_it.first().map(|circuit| Part::of(circuit.function)))
            .unwrap_or_else(|| Part::of_passive(requirement, line));
        let (quantity, yours) = (requirement.quantity, requirement.customer_supplied);
        parts.entry(part).or_default().push(Entry { quantity, unit: None, what, places, yours });
    }
    for line in &quote.lines {
        let by_hand =
            line.kind == "extra" || line.kind == "manual" && !line.meets.iter().any(|key| told.contains(key.as_str()));
        // What takes something off is part of the price and none of the scope.
        if by_hand && line.quantity > Decimal::ZERO {
            let unit = Some(line.unit.clone()).filter(|unit| !["each", "ea", "job"].contains(&unit.as_str()));
            let (quantity, what) = (line.quantity, line.description.clone());
            let entry = Entry { quantity, unit, what, places: Vec::new(), yours: Decimal::ZERO };
            parts.entry(Part::Written).or_default().push(entry);
        }
    }
    // What is wired stands before what goes with it.
    let system = |(part, mut entries): (Part, Vec<Entry>)| {
        entries.sort_by_key(|entry| entry.places.is_empty());
        System { name: part.name().to_owned(), entries }
    };
    parts.into_iter().map(system).collect()
}

/// What a thing is called: as it is sold, as its circuit says, or by what the spec calls it. `None` for what nobody
/// supplies.
fn what(requirement: &Requirement, line: Option<&Line>, circuits: &[&Circuit]) -> Option<String> {
    let of_circuit = || {
        let sku = requirement.need.sku.as_deref();
        circuits
            .iter()
            .find(|circuit| sku.is_some() && circuit.sku.as_deref() == sku)
            .map(|circuit| circuit.description.clone())
    };
    let named = line.map(|line| line.description.clone()).or_else(of_circuit);
    match named {
        None if requirement.customer_supplied > Decimal::ZERO => requirement.used_by.first().map(|user| words(user)),
        named => named,
    }
}
