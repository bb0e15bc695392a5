//! Questions: what a shop should ask before it relies on the figures.

mod omissions;

pub use omissions::{Omissions, omissions};

use crate::circuits::loads::Load;
use crate::circuits::main_protection::bank_class;
use crate::findings::Question;
use crate::spec::boat::Boat;
use crate::spec::input::{Access, Known, LengthSource};
use crate::units::Name;

/// The questions of a boat, in a fixed order. `used_runs` are the places of the runs that new wire goes through.
pub fn questions(boat: &Boat, loads: &[Load], used_runs: &[usize]) -> Vec<Question> {
    let mut questions = Vec::new();
    let mut ask = |id, about: Option<&Name>, text: String| {
        questions.push(Question { id, about: about.cloned(), text });
    };
    let occupied = |place: usize| {
        loads.iter().any(|load| load.station == place)
            || boat.panels.iter().any(|panel| panel.station == place)
            || boat.banks.iter().any(|bank| bank.station == place)
    };
    for (place, station) in boat.stations.iter().enumerate() {
        if station.petrol_vapour == Known::Unknown && occupied(place) {
            let text = format!(
                "Can petrol vapour be at '{}': is it an engine or tank space, or joined to one without ventilation? It is treated as if it can",
                station.name
            );
            ask("petrol_vapour_unknown", Some(&station.id), text);
        }
    }
    for bank in &boat.banks {
        if bank.cold_cranking_a.is_none() {
            let text = format!(
                "What is the cold-cranking rating of the bank '{}'? The highest class of the table is assumed, and the interrupt rating of its main fuse follows from it",
                bank.id
            );
            ask("cold_cranking_unstated", Some(&bank.id), text);
        }
    }
    for bank in boat.banks.iter().filter(|bank| bank_class(bank).interrupt.beyond_table) {
        let text = format!(
            "What short-circuit current does the maker of the bank '{}' state? It is beyond the published table; 20000 A is assumed",
            bank.id
        );
        ask("short_circuit_current_unstated", Some(&bank.id), text);
    }
    if boat.power_assumed {
        let text = "Which batteries (capacity in Ah, cold-cranking amperes) and which panel does the boat have or get, and where? One bank \
                    of 12 V and one panel are taken to be aboard, where boats of this form usually have them";
        ask("power_unstated", None, text.to_owned());
    }
    let name = |place: usize| boat.stations[place].id.as_str();
    let of_layout: Vec<_> = used_runs.iter().map(|&place| &boat.runs[place]).filter(|r| r.estimate.is_some()).collect();
    if !of_layout.is_empty() {
        let listed: Vec<_> = of_layout.iter().map(|run| format!("'{}' to '{}'", name(run.a), name(run.b))).collect();
        let text = format!(
            "How long are the runs {}, which tubes are there, and what is in them already? They are estimated from the hull form: measure before cutting",
            listed.join(", ")
        );
        ask("layout_runs_estimated", None, text);
    }
    for &place in used_runs {
        let run = &boat.runs[place];
        if run.estimate.is_some() {
            continue;
        }
        if run.source == LengthSource::Estimated {
            let text = format!(
                "How long is the run from '{}' to '{}'? It is estimated: measure before cutting",
                name(run.a),
                name(run.b)
            );
            ask("run_estimated", None, text);
        }
        if run.access == Access::Tube && run.inside_diameter.is_none() {
            let text = format!(
                "What is the inside diameter of the tube from '{}' to '{}', and what is in it already?",
                name(run.a),
                name(run.b)
            );
            ask("tube_diameter_unstated", None, text);
        }
    }
    questions
}
