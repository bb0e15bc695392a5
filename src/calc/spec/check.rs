//! Checks a boat spec against the shop's tables and resolves it to a [`Boat`]; every fault is found, not the first.

mod choices;
mod equipment;
mod names;
mod panels;

pub use names::nearest;

use crate::calc::findings::Fault;
use crate::calc::shop::Shop;
use crate::calc::spec::boat::{Bank, Boat, Run, Station};
use crate::calc::spec::input::{Access, BoatSpecInput, Known, NegativeColour, Propulsion};
use crate::calc::units::Length;
use choices::{check_extra_lines, check_overrules, state_labour};
use equipment::Gathering;
use names::{Names, bounded};
use panels::panels_and_buses;

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
