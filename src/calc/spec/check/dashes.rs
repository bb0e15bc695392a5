//! Dashes of a spec: their faces, and which equipment and panels go into each.

use std::collections::BTreeSet;

use super::names::{Names, nearest};
use crate::findings::Fault;
use crate::spec::boat::{Dash, Equipment, Panel};
use crate::spec::dash_check::check_face;
use crate::spec::dash_input::{DASHES_MOST, DashInput, PARTS_MOST};
use crate::units::Name;

/// Checks the dashes and resolves them, in order of id.
pub(super) fn dashes(
    input: &[DashInput],
    stations: &Names,
    (equipment, panels): (&[Equipment], &[Panel]),
    faults: &mut Vec<Fault>,
) -> Vec<Dash> {
    if input.is_empty() {
        return Vec::new();
    }
    if input.len() > DASHES_MOST {
        faults.push(Fault::new("/dashes", format!("a boat has {DASHES_MOST} dashes at most: put less into the spec")));
        return Vec::new();
    }
    Names::new("dash", "/dashes", input.iter().map(|dash| &dash.id), faults);
    // Key, whether its item says how it goes into a dash, and its station.
    let of_equipment =
        equipment.iter().map(|piece| (&piece.key, piece.item.attributes.dash_mount().is_some(), piece.station));
    let of_panels = panels.iter().filter_map(|panel| {
        let item = panel.item.as_ref()?;
        Some((&panel.id, item.attributes.dash_mount().is_some(), Some(panel.station)))
    });
    let known: Vec<(&Name, bool, Option<usize>)> = of_equipment.chain(of_panels).collect();
    let mut taken: BTreeSet<&Name> = BTreeSet::new();
    let mut whole: BTreeSet<usize> = BTreeSet::new();
    let mut dashes: Vec<Dash> = Vec::new();
    for (i, dash) in input.iter().enumerate() {
        let at = format!("/dashes/{i}");
        check_face(&dash.face, &format!("{at}/face"), faults);
        let station = stations.find(&dash.station, || format!("{at}/station"), faults);
        let mut parts = Vec::new();
        for (j, part) in dash.parts.iter().enumerate() {
            let place = format!("{at}/parts/{j}/equipment");
            let Some((key, mounts, _)) = known.iter().find(|(key, ..)| **key == part.equipment) else {
                let mend = match nearest(part.equipment.as_str(), known.iter().map(|(key, ..)| key.as_str())) {
                    Some(near) => format!("did you mean '{near}'?"),
                    None => "a take-off without this dash tells the keys".to_owned(),
                };
                faults.push(Fault::new(place, format!("there is no equipment or panel '{}': {mend}", part.equipment)));
                continue;
            };
            if !mounts {
                let message = format!(
                    "the item of '{key}' does not say how it goes into a dash: add its dash_mount, or leave it out here"
                );
                faults.push(Fault::new(place.clone(), message));
            }
            if !taken.insert(key) {
                faults
                    .push(Fault::new(place, format!("'{key}' goes into a dash already: leave it out of one of them")));
            }
            if part.centre.is_some_and(|at| at.from_left.length().is_none() || at.from_bottom.length().is_none()) {
                let message = "this is no place on a dash: check the numbers and their units";
                faults.push(Fault::new(format!("{at}/parts/{j}/centre"), message));
            }
            parts.push(((*key).clone(), part.centre));
        }
        if dash.parts.is_empty() && !whole.insert(station) {
            let message = format!("two dashes would hold everything at '{}': list the parts of each", dash.station);
            faults.push(Fault::new(format!("{at}/parts"), message));
        }
        let here = known.iter().filter(|(_, mounts, at)| *mounts && *at == Some(station)).count();
        let count = if dash.parts.is_empty() { here } else { dash.parts.len() };
        if count > PARTS_MOST {
            let message =
                format!("{count} parts would go into this dash, and {PARTS_MOST} are the most: list those that do");
            faults.push(Fault::new(format!("{at}/parts"), message));
        }
        dashes.push(Dash {
            id: dash.id.clone(),
            station,
            face: dash.face.clone(),
            parts: (!dash.parts.is_empty()).then_some(parts),
        });
    }
    dashes.sort_by(|a, b| a.id.cmp(&b.id));
    dashes
}
