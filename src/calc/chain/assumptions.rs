//! What the take-off takes for granted, told beside it.

use std::collections::BTreeSet;

use super::counting::usual_work;
use super::estimates;
use super::job::JobCounts;
use crate::circuits::legs::Laid;
use crate::shop::Shop;
use crate::shop::item::usual::SOURCE;
use crate::spec::boat::{Boat, Hull, SwitchProvision};
use crate::spec::input::Propulsion;
use crate::take_off::Circuit;
use crate::units::AreaStandard;

/// All of it, as sentences.
pub(super) fn assumptions(
    boat: &Boat,
    (laid, circuits, holes): (&Laid, &[Circuit], u32),
    laid_out: Option<&Hull>,
    shop: &Shop,
) -> Vec<String> {
    let settings = &*shop.settings;
    let mut assumptions = vec![
        format!("Conductors are stranded copper with {} °C insulation.", settings.insulation_c),
        match settings.area_standard {
            AreaStandard::Metric => "Ambient is 30 °C outside engine spaces and 60 °C inside them.".to_owned(),
            _ => "Ambient is 30 °C outside engine spaces and 50 °C inside them.".to_owned(),
        },
        "Voltage drop is in percent of nominal voltage, from bank to device and back, with the feeder at its own current.".to_owned(),
        format!(
            "Waste is {} % on measured and {} % on estimated length.",
            settings.waste_measured_percent, settings.waste_estimated_percent
        ),
    ];
    assumptions.extend(laid_out.map(|hull| estimates::assumption(hull, settings)));
    if boat.power_assumed {
        assumptions.push(estimates::power_assumption(boat));
    }
    if settings.derate_bundles {
        assumptions
            .push("Three or more loaded conductors in a run lower what each may carry, below 50 V too.".to_owned());
    }
    if boat.panels.iter().any(|panel| panel.item.is_none()) {
        assumptions
            .push("Panels and buses without an item are aboard already, sound, and have positions free.".to_owned());
    }
    for (bank, side) in boat.banks.iter().zip(&laid.sides) {
        if bank.switch.provision == SwitchProvision::Aboard && side.feed_bus {
            assumptions.push(format!(
                "The main fuse at the post of '{}', the cable to its switch and the feed bus behind it are aboard already and carry what its panels draw.",
                bank.id
            ));
        }
    }
    if matches!(boat.propulsion, Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None) {
        assumptions.push("No petrol is aboard, so no station has petrol vapour unless the spec says so.".to_owned());
    }
    assumptions.extend(JobCounts::of(boat, circuits, holes).assumptions(boat, &shop.labour_operations));
    assumptions.extend(taken_as_usual(boat, shop));
    assumptions
}

/// What was taken as usual of items that do not say it, one sentence for each item.
fn taken_as_usual(boat: &Boat, shop: &Shop) -> Vec<String> {
    let mut told = Vec::new();
    let mut seen = BTreeSet::new();
    for piece in &boat.equipment {
        let item = &piece.item;
        let taken = shop.catalogue.taken_as_usual(item.sku.as_str());
        let work = usual_work(item);
        if (taken.is_empty() && work.is_none()) || !seen.insert(&item.sku) {
            continue;
        }
        let mut figures: Vec<String> =
            taken.iter().map(|taken| format!("{} {}", taken.field.replace('_', " "), taken.value)).collect();
        figures.extend(work.map(|code| {
            let known = shop.labour_operations.iter().any(|operation| operation.code == *code);
            if known { format!("work '{code}'") } else { format!("no work, since the labour table has no '{code}'") }
        }));
        told.push(format!(
            "'{}' does not say all: {} is taken as usual of its kind ({SOURCE}).",
            item.sku,
            figures.join("; ")
        ));
    }
    told
}
