//! Checks a boat spec against the shop's tables and resolves it to a [`Boat`]; every fault is found, not the first.

mod choices;
mod dashes;
mod equipment;
mod hull;
mod names;
mod network;
mod panel_trees;
mod panels;
mod power;

pub use names::nearest;

use crate::findings::Fault;
use crate::shop::Shop;
use crate::spec::boat::{Bank, Boat, WholeJobWork};
use crate::spec::fitted::check_wire_standard;
use crate::spec::input::{BoatInput, BoatSpecInput, JobType, NegativeColour};
use crate::spec::layouts;
use crate::spec::power_input::PowerInput;
use crate::units::Name;
use choices::{check_answers, check_extra_lines, check_overrules, state_labour};
use equipment::Gathering;
use names::Names;
use panels::{Known, panels_and_buses};

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
    let hull = hull::hull(input, faults);
    let layout = hull.map(|hull| layouts::stations(&hull, boat.propulsion)).unwrap_or_default();

    let station_ids: Vec<&Name> = hull::station_ids(boat, &layout).collect();
    let station_names = Names::new("station", "/boat/stations", station_ids.iter().copied(), faults);
    let stations = hull::stations(boat, hull.as_ref(), &layout, faults);
    let runs = hull::runs(boat, &station_names, hull.as_ref(), &stations, faults);

    let assumed = hull::assumed_power();
    let power = input.power.as_ref().unwrap_or(&assumed);
    let bank_names = Names::new("bank", "/power/banks", power.banks.iter().map(|b| &b.id), faults);
    let mut banks = banks(power, shop, &station_names, faults);
    let bus_names = Names::new("bus", "/power/buses", power.buses.iter().map(|b| &b.id), faults);
    let panel_names = Names::new("panel", "/power/panels", power.panels.iter().map(|p| &p.id), faults);
    let known = Known { stations: &station_names, banks: &bank_names, buses: &bus_names, panels: &panel_names };
    let (panels, buses) = panels_and_buses(power, shop, &known, &banks, faults);

    if input.power.is_none() {
        // What was only assumed cannot be mended; that it had to be assumed without a hull is told already.
        faults.retain(|fault| !fault.pointer.starts_with("/power/"));
    }

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
            gateway_by: None,
            gaps: &mut gaps,
            faults,
        };
        gathering.own(input);
        gathering.packages(input, &mut labour);
        let gateway_by = gathering.gateway_by.take();
        (gathering.spread(), gateway_by)
    };
    let (equipment, gateway_by) = equipment;
    let network =
        network::network(input, (&station_names, &panel_names), (&panels, &banks), gateway_by, &equipment, faults);
    check_wire_standard(boat, shop, faults);
    let dashes = dashes::dashes(&input.dashes, &station_names, (&equipment, &panels), faults);
    power::claim_switches(&mut banks, &equipment);
    let sources = power::sources(power, (&bank_names, &banks), &equipment, faults);
    state_labour(input, shop, &mut labour, faults);
    check_overrules(input, shop, faults);
    check_answers(input, faults);
    check_extra_lines(input, shop, faults);

    let negative_colour = boat.negative_colour.unwrap_or(if settings.negative_colour == "yellow" {
        NegativeColour::Yellow
    } else {
        NegativeColour::Black
    });
    Boat {
        name: boat.name.clone(),
        hull,
        power_assumed: input.power.is_none(),
        job_type: boat.job_type,
        propulsion: boat.propulsion,
        negative_colour,
        stations,
        runs,
        banks,
        buses,
        panels,
        alternator_a: power.alternator_a,
        alternator_banks: sources.alternator_banks,
        days_between_charges: power.days_between_charges.unwrap_or(1.0),
        daily_use: sources.daily_use,
        cored: hull::cored(boat),
        underwater_metal: boat.underwater_metal.clone(),
        work: whole_job_work(boat, faults),
        equipment,
        dashes,
        network,
        labour,
        overrules: input.overrules.clone(),
        answers: input.answers.clone(),
        extra_lines: input.extra_lines.clone(),
        gaps,
    }
}

/// Work for the whole job. Only a re-rig has old circuits.
fn whole_job_work(boat: &BoatInput, faults: &mut Vec<Fault>) -> WholeJobWork {
    let BoatInput { old_circuits, hauls_and_launches, sea_trial, .. } = boat;
    if old_circuits.is_some_and(|count| count > 0) && boat.job_type != JobType::ReRig {
        let message = "only a re-rig strips old circuits out: leave this out, or make it a re-rig";
        faults.push(Fault::new("/boat/old_circuits", message));
    }
    for (field, stated, most) in [("old_circuits", old_circuits, 500), ("hauls_and_launches", hauls_and_launches, 20)] {
        if let Some(count) = stated.filter(|count| *count > most) {
            let message = format!("{count} makes no sense here: it must be from 0 to {most}");
            faults.push(Fault::new(format!("/boat/{field}"), message));
        }
    }
    let (old_circuits, hauls_and_launches, sea_trial) = (*old_circuits, *hauls_and_launches, *sea_trial);
    WholeJobWork { old_circuits, hauls_and_launches, sea_trial }
}

fn banks(power: &PowerInput, shop: &Shop, stations: &Names, faults: &mut Vec<Fault>) -> Vec<Bank> {
    let mut banks: Vec<Bank> = power
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
            let station = stations.find(&bank.station, || format!("/power/banks/{i}/station"), faults);
            let batteries = power::batteries(bank, &format!("/power/banks/{i}/batteries"), shop, faults);
            Bank {
                id: bank.id.clone(),
                station,
                switch: power::switch(bank, &format!("/power/banks/{i}/switch"), station, stations, shop, faults),
                nominal_voltage_v: f64::from(bank.nominal_voltage_v),
                capacity_ah: batteries.capacity_ah().or(bank.capacity_ah),
                cold_cranking_a: batteries.cold_cranking_a().or(bank.cold_cranking_a),
                series: batteries.series,
                parallel: batteries.parallel,
                of_one: batteries.of_one,
                chemistry: bank.chemistry.or(batteries.chemistry),
                maker_charge_a: batteries.maker_charge_a,
                batteries: batteries.items,
                starts_engine: bank.starts_engine,
            }
        })
        .collect();
    banks.sort_by(|a, b| a.id.cmp(&b.id));
    banks.dedup_by(|a, b| a.id == b.id);
    banks
}
