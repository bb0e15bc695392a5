//! The hull, its stations and its runs: those that the spec states, and those of the layout where it states none.
//!
//! 1. A layout is taken when form, length and beam of the hull are known.
//! 2. A stated station with the id of one of the layout's changes that one; what it leaves out stays.
//! 3. A stated run takes the place of the layout's run between the same two stations.
//! 4. Bank and panel are assumed only where the layout says where they would be.

use std::collections::{BTreeMap, BTreeSet};

use super::names::{Names, bounded};
use crate::findings::Fault;
use crate::spec::boat::{Hull, InTube, Position, Run, Station};
use crate::spec::input::{
    Access, BoatInput, BoatSpecInput, HullForm, Known, PositionInput, Propulsion, RunInput, Side, StationInput,
};
use crate::spec::layouts::{self, BATTERY_STATION, PANEL_STATION};
use crate::spec::power_input::{BankInput, PanelInput, PowerInput};
use crate::spec::power_input::{BankSwitchInput, SwitchProvision};
use crate::units::{Length, LengthUnit, Name};

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
/// Nothing on a small craft is mounted higher above its bottom.
const HEIGHT_MOST_FT: f64 = 160.0;
/// Pulpits and bowsprits reach so far before the stem, rails and outriggers so far over the side.
const OVERHANG_FT: f64 = 8.0;

/// The hull that the layout is laid out over, when the spec says enough.
pub(super) fn hull(input: &BoatSpecInput, faults: &mut Vec<Fault>) -> Option<Hull> {
    let boat = &input.boat;
    let before = faults.len();
    let length = boat.hull_length.map(|l| {
        bounded(l, "a hull length", (HULL_SHORTEST_FT, HULL_LONGEST_FT), || "/boat/hull_length".to_owned(), faults)
    });
    let most = length.filter(|l| *l > Length::ZERO).map_or(HULL_LONGEST_FT, Length::ft);
    let beam = boat.beam.map(|l| bounded(l, "a beam", (1.0, most), || "/boat/beam".to_owned(), faults));
    let depth = boat.depth.map(|l| bounded(l, "a depth", (0.5, most), || "/boat/depth".to_owned(), faults));
    let unit = boat.hull_length.map_or(LengthUnit::Ft, |l| l.unit);
    if faults.len() > before {
        return None;
    }
    if let (Some(hull_form), Some(length), Some(beam)) = (boat.hull_form, length, beam) {
        return match layouts::hull(hull_form, length, beam, depth, unit) {
            Ok(hull) => Some(hull),
            Err(sizes) => {
                let told = sizes.into_iter().map(|(size, told)| Fault::new(format!("/boat/{}", size.field()), told));
                faults.extend(told);
                None
            }
        };
    }
    let what = match (boat.stations.is_empty(), input.power.is_none()) {
        (false, false) => return None,
        (true, _) => "the spec lists no stations",
        (false, true) => "the spec states no power",
    };
    let missing =
        [("hull_form", boat.hull_form.is_none()), ("hull_length", length.is_none()), ("beam", beam.is_none())];
    for (field, _) in missing.into_iter().filter(|(_, missing)| *missing) {
        let message = format!(
            "{what}, so it is taken from the layout of the hull form, which needs hull_form, hull_length and beam: state {field}, \
             or list stations, runs and power"
        );
        faults.push(Fault::new(format!("/boat/{field}"), message));
    }
    None
}

/// Whether hull and deck have a core: as stated; metal has none, and of others nobody knows.
pub(super) fn cored(boat: &BoatInput) -> Known {
    boat.cored.unwrap_or(match boat.hull_form {
        Some(HullForm::AluminumUtility | HullForm::Pontoon) => Known::No,
        _ => Known::Unknown,
    })
}

/// One 12 V bank and one panel, where every layout has a place for them (common practice).
pub(super) fn assumed_power() -> PowerInput {
    PowerInput {
        banks: vec![BankInput {
            id: Name::from("house"),
            station: Name::from(BATTERY_STATION),
            nominal_voltage_v: 12,
            capacity_ah: None,
            cold_cranking_a: None,
            switch: Some(BankSwitchInput { provision: SwitchProvision::Aboard, station: None, sku: None }),
            batteries: None,
            chemistry: None,
            starts_engine: false,
        }],
        panels: vec![PanelInput {
            id: Name::from("helm_panel"),
            station: Name::from(PANEL_STATION),
            bank: Some(Name::from("house")),
            fed_from: None,
            negative_bus: None,
            protection: None,
            voltage_rating_v: None,
            sku: None,
        }],
        buses: Vec::new(),
        alternator_a: None,
        alternator_banks: None,
        days_between_charges: None,
        daily_use: Vec::new(),
    }
}

/// Ids of all stations: those of the spec as they stand there, then those of the layout that the spec does not state.
pub(super) fn station_ids<'a>(boat: &'a BoatInput, layout: &'a [Station]) -> impl Iterator<Item = &'a Name> {
    let stated: BTreeSet<&Name> = boat.stations.iter().map(|s| &s.id).collect();
    let more = layout.iter().map(|s| &s.id).filter(move |id| !stated.contains(id));
    boat.stations.iter().map(|s| &s.id).chain(more)
}

/// All stations by id: the layout's, changed by the spec, and the spec's own.
pub(super) fn stations(
    boat: &BoatInput,
    hull: Option<&Hull>,
    layout: &[Station],
    faults: &mut Vec<Fault>,
) -> Vec<Station> {
    let assumed = match boat.propulsion {
        Propulsion::Outboard | Propulsion::PetrolInboard => Known::Unknown,
        Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None => Known::No,
    };
    let reach = hull.map_or((HULL_LONGEST_FT, HULL_LONGEST_FT), |hull| (hull.length.ft(), hull.beam.ft()));
    let reach = (reach.0 + OVERHANG_FT, reach.1 / 2.0 + OVERHANG_FT);
    let mut stations: BTreeMap<Name, Station> = layout.iter().map(|s| (s.id.clone(), s.clone())).collect();
    for (i, stated) in boat.stations.iter().enumerate() {
        let known = stations.remove(&stated.id);
        let station = station(stated, i, known, (assumed, reach), faults);
        stations.insert(station.id.clone(), station);
    }
    stations.into_values().collect()
}

fn station(
    stated: &StationInput,
    i: usize,
    known: Option<Station>,
    (assumed, reach): (Known, (f64, f64)),
    faults: &mut Vec<Fault>,
) -> Station {
    let at = |field: &str| format!("/boat/stations/{i}/{field}");
    let rise =
        stated.rise.map_or(Length::ZERO, |rise| bounded(rise, "a rise", (0.0, RISE_LONGEST_FT), || at("rise"), faults));
    let known_position = known.as_ref().and_then(|k| k.position);
    let position = match &stated.position {
        Some(position) => Some(place(position, known_position, reach, &at("position"), faults)),
        None => known_position,
    };
    let unnamed = || stated.id.as_str().replace(['_', '-'], " ");
    let name = stated.name.clone().or_else(|| known.as_ref().map(|k| k.name.clone())).unwrap_or_else(unnamed);
    let petrol_vapour = stated.petrol_vapour.or(known.map(|k| k.petrol_vapour)).unwrap_or(assumed);
    Station { id: stated.id.clone(), name, petrol_vapour, rise, position }
}

/// A stated position, no further forward and no further out than `reach` in feet.
fn place(
    position: &PositionInput,
    known: Option<Position>,
    (forward_ft, out_ft): (f64, f64),
    at: &str,
    faults: &mut Vec<Fault>,
) -> Position {
    let mut read =
        |value, what, most, field: &str| bounded(value, what, (0.0, most), || format!("{at}/{field}"), faults);
    let off =
        position.off_centre.map_or(Length::ZERO, |y| read(y, "a distance off the centre line", out_ft, "off_centre"));
    Position {
        x: read(position.from_transom, "a distance from the transom", forward_ft, "from_transom"),
        y: match position.side {
            Side::Port => Length::ZERO - off,
            Side::Starboard => off,
        },
        z: match position.height {
            Some(height) => read(height, "a height", HEIGHT_MOST_FT, "height"),
            None => known.map_or(Length::ZERO, |known| known.z),
        },
    }
}

/// All runs in order of their stations' places: the spec's, and those of the layout between other pairs.
pub(super) fn runs(
    boat: &BoatInput,
    names: &Names,
    hull: Option<&Hull>,
    stations: &[Station],
    faults: &mut Vec<Fault>,
) -> Vec<Run> {
    let stated_length = boat.hull_length.and_then(|l| l.length());
    // A run may zigzag under the deck, but not four times the hull.
    let longest_ft =
        stated_length.filter(|h| *h > Length::ZERO).map_or(RUN_LONGEST_FT, |h| 4.0 * h.ft()).min(RUN_LONGEST_FT);
    let moved: BTreeSet<Name> = boat.stations.iter().filter(|s| s.position.is_some()).map(|s| s.id.clone()).collect();
    let layout = hull.map(|hull| layouts::runs(hull, boat.propulsion, stations, &moved)).unwrap_or_default();
    let of_layout: BTreeMap<(usize, usize), Run> = layout.into_iter().map(|run| ((run.a, run.b), run)).collect();
    let mut runs: Vec<Run> = Vec::with_capacity(boat.runs.len() + of_layout.len());
    let mut pairs = BTreeSet::new();
    for (i, stated) in boat.runs.iter().enumerate() {
        let run = run(stated, i, names, longest_ft, &of_layout, faults);
        pairs.insert((run.a, run.b));
        runs.push(run);
    }
    runs.extend(of_layout.into_iter().filter(|(pair, _)| !pairs.contains(pair)).map(|(_, run)| run));
    runs.sort_by_key(|r| {
        let already = (r.already.cables, r.already.squares_in2.to_bits());
        (r.a, r.b, r.length, r.engine_space, r.access, r.source, r.inside_diameter, already, r.bulkheads)
    });
    runs
}

fn run(
    stated: &RunInput,
    i: usize,
    names: &Names,
    longest_ft: f64,
    of_layout: &BTreeMap<(usize, usize), Run>,
    faults: &mut Vec<Fault>,
) -> Run {
    let at = |field: &str| format!("/boat/runs/{i}/{field}");
    let from = names.find(&stated.from, || at("from"), faults);
    let to = names.find(&stated.to, || at("to"), faults);
    if stated.from == stated.to {
        let message = format!("the run leads from '{}' to itself: name its other end", stated.from);
        faults.push(Fault::new(at("to"), message));
    }
    let least_ft = Length::inches(1.0).ft();
    let length = bounded(stated.length, "a run", (least_ft, longest_ft), || at("length"), faults);
    let known = of_layout.get(&(from.min(to), from.max(to)));
    let stated_diameter = stated.inside_diameter.map(|d| {
        let bounds = (Length::inches(0.25).ft(), Length::inches(TUBE_WIDEST_IN).ft());
        bounded(d, "an inside diameter", bounds, || at("inside_diameter"), faults)
    });
    let unstated = if stated_diameter.is_some() { Access::Tube } else { known.map_or(Access::Open, |k| k.access) };
    let access = stated.access.unwrap_or(unstated);
    let mut already = InTube::default();
    for (n, cable) in stated.in_tube.iter().enumerate() {
        let bounds = (Length::inches(0.02).ft(), Length::inches(TUBE_WIDEST_IN).ft());
        let pointer = || format!("/boat/runs/{i}/in_tube/{n}/outside_diameter");
        let across = bounded(cable.outside_diameter, "a cable's outside diameter", bounds, pointer, faults);
        if !(1..=200).contains(&cable.count) {
            let message = format!("{} such cables in a tube make no sense: it must be from 1 to 200", cable.count);
            faults.push(Fault::new(format!("/boat/runs/{i}/in_tube/{n}/count"), message));
        }
        already.cables += u32::from(cable.count);
        already.squares_in2 += f64::from(cable.count) * across.inch() * across.inch();
    }
    if stated.bulkheads.is_some_and(|bulkheads| bulkheads > 20) {
        faults.push(Fault::new(at("bulkheads"), "so many bulkheads make no sense: it must be 20 at most"));
    }
    let of_tube = known.filter(|k| access == Access::Tube && k.access == Access::Tube).and_then(|k| k.inside_diameter);
    Run {
        a: from.min(to),
        b: from.max(to),
        length,
        source: stated.length_source,
        access,
        engine_space: stated.engine_space || known.is_some_and(|k| k.engine_space),
        inside_diameter: stated_diameter.or(of_tube),
        already,
        bulkheads: stated.bulkheads.unwrap_or(known.map_or(0, |k| k.bulkheads)),
        estimate: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::layouts::form;

    #[test]
    fn every_layout_has_a_place_for_the_bank_and_the_panel_that_are_assumed() {
        for hull_form in HullForm::ALL {
            for wanted in [BATTERY_STATION, PANEL_STATION] {
                assert!(form(hull_form).stations.iter().any(|s| s.id.as_str() == wanted), "{hull_form:?} {wanted}");
            }
        }
    }
}
