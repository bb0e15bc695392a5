//! The dashes of a boat: what stands at their stations, laid out.

use super::layout::{Asked, AskedPart, layout};
use crate::basis::Ledger;
use crate::shop::item::{Attributes, Item};
use crate::spec::boat::{Boat, Dash};
use crate::spec::dash_input::{DashPointInput, PARTS_MOST};
use crate::take_off::DashLayout;
use crate::units::{LengthUnit, Name};

/// Steps of work for a dash of a quote.
const STEPS: u64 = 120_000;

/// Lays out every dash of a boat, in order of id.
pub fn dashes(boat: &Boat, unit: LengthUnit, ledger: &mut Ledger) -> Vec<DashLayout> {
    boat.dashes.iter().map(|dash| one(boat, dash, unit, ledger)).collect()
}

fn one(boat: &Boat, dash: &Dash, unit: LengthUnit, ledger: &mut Ledger) -> DashLayout {
    let equipment = boat.equipment.iter().map(|piece| (&piece.key, &*piece.item, piece.station));
    let panels = boat.panels.iter().filter_map(|panel| Some((&panel.id, panel.item.as_deref()?, Some(panel.station))));
    let mut parts = Vec::new();
    let mut without = Vec::new();
    for (key, item, station) in equipment.chain(panels) {
        let Some(centre) = wanted(dash, key, station) else { continue };
        match item.attributes.dash_mount() {
            Some(_) if parts.len() < PARTS_MOST => parts.push(part(key, item, centre)),
            None if matches!(item.attributes, Attributes::Device { .. }) => without.push(key.clone()),
            _ => {}
        }
    }
    let id = dash.id.clone();
    let station = Some(boat.stations[dash.station].id.clone());
    let mut told = layout(&Asked { id, station, face: &dash.face, parts, unit, work: STEPS }, ledger);
    told.without_dash_data = without;
    told
}

/// Whether something goes into a dash, and where a person wants it.
fn wanted(dash: &Dash, key: &Name, station: Option<usize>) -> Option<Option<DashPointInput>> {
    match &dash.parts {
        Some(parts) => parts.iter().find(|(part, _)| part == key).map(|(_, centre)| *centre),
        None => (station == Some(dash.station)).then_some(None),
    }
}

fn part(key: &Name, item: &Item, centre: Option<DashPointInput>) -> AskedPart {
    let mount =
        item.attributes.dash_mount().cloned().unwrap_or_else(|| unreachable!("only items with one are asked for"));
    AskedPart { key: key.clone(), description: item.description.clone(), mount, centre }
}
