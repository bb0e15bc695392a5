//! What is said beside scope and price: included, excluded, assumed, asked, cautioned. Sentences of its own, from facts of
//! the document; of its questions and cautions those that a customer can answer and should read.

use rust_decimal::Decimal;

use super::read::{Boat, Quote};
use super::{Exclusion, System, sentence};
use crate::spec::input::{JobType, Propulsion};
use crate::spec::layouts;

/// Questions that a customer can answer; the others are for whoever goes to the boat with a tape.
const ASKED: [&str; 16] = [
    "power_unstated",
    "navigation_lights_absent",
    "horn_absent",
    "radio_absent",
    "charger_absent",
    "high_water_alarm_absent",
    "bilge_pump_absent",
    "engine_stop_absent",
    "blower_absent",
    "seacocks_absent",
    "petrol_vapour_unknown",
    "cold_cranking_unstated",
    "short_circuit_current_unstated",
    "lithium_charging",
    "bonding",
    "bilge_switch_place",
];

/// Cautions that a customer should read; the others are for whoever does the work.
const CAUTIONED: [&str; 7] = [
    "local_rules_first",
    "petrol_vapour",
    "series_bank",
    "shore_power",
    "bonding",
    "bilge_switch_off",
    "test_before_use",
];

/// The boat and the job in plain words.
pub(super) fn about(boat: &Boat) -> String {
    let job = match boat.job_type {
        JobType::BareHull => "Rigging of a bare hull",
        JobType::FirstRig => "First rigging",
        JobType::ReRig => "Re-rigging",
    };
    let hull = boat.hull.as_ref().map(|hull| {
        let form = layouts::form(hull.hull_form).name.to_lowercase();
        format!("{form}, {} by {}", hull.hull_length, hull.beam)
    });
    let engine = match boat.propulsion {
        Propulsion::Outboard => Some("outboard"),
        Propulsion::PetrolInboard => Some("petrol engine inboard"),
        Propulsion::DieselInboard => Some("diesel engine inboard"),
        Propulsion::Electric => Some("electric motor"),
        Propulsion::None => None,
    };
    let parts = [Some(job.to_owned()), hull, engine.map(str::to_owned)];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// What the price holds beside the scope.
pub(super) fn included(quote: &Quote, scope: &[System]) -> Vec<String> {
    let has = |kind: &str| quote.lines.iter().any(|line| line.kind == kind);
    let wired = quote.take_off.requirements.iter().any(|requirement| requirement.need.kind == "wire");
    let cabled = quote.take_off.requirements.iter().any(|requirement| requirement.need.kind == "cable");
    let networked = quote.take_off.requirements.iter().any(|requirement| requirement.need.kind == "network_tee");
    let yours = scope.iter().flat_map(|system| &system.entries).any(|entry| entry.yours > Decimal::ZERO);
    let mut included = Vec::new();
    let mut say = |holds: bool, text: &str| {
        if holds {
            included.push(text.to_owned());
        }
    };
    say(
        wired || cabled,
        "All wire and cable, terminals, fuses or breakers, insulation and labels for what is listed above.",
    );
    say(!quote.take_off.feeders.is_empty(), "The main wiring from the batteries to the panels.");
    say(networked, "The data network: its cables, tees and terminators, and its supply.");
    say(has("labour"), "The work: fitting, wiring, labelling and testing.");
    say(has("shop_supplies"), "Shop supplies: small consumables that are not itemised.");
    say(has("allowance"), "An allowance for what shows only once the work is under way.");
    say(yours, "Fitting and wiring what you bring yourself; the things themselves are not in the price.");
    included
}

/// What the price does not hold.
pub(super) fn excluded(quote: &Quote) -> Vec<Exclusion> {
    let left_out = quote.exclusions.iter().map(|exclusion| {
        let super::read::Exclusion { need, reason, .. } = exclusion;
        Exclusion { what: super::capital(need), reason: Some(sentence(reason)) }
    });
    let all_else = Exclusion { what: "Everything that this quote does not name".to_owned(), reason: None };
    left_out.chain([all_else]).collect()
}

/// What was taken as given.
pub(super) fn assumptions(quote: &Quote) -> Vec<String> {
    let boat = &quote.take_off.boat;
    let asked = |id: &str| quote.take_off.questions.iter().any(|question| question.id == id);
    let mut assumptions = Vec::new();
    if boat.measured_percent < 100.0 && !quote.take_off.circuits.is_empty() {
        let how = match &boat.hull {
            Some(hull) => {
                let form = layouts::form(hull.hull_form).name.to_lowercase();
                let article = if form.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
                format!("estimated from {article} {form} of this size")
            }
            None => "estimated".to_owned(),
        };
        let measured = boat.measured_percent.floor();
        assumptions.push(if measured < 1.0 {
            format!("Nobody has measured the boat yet: the lengths of wire are {how}.")
        } else {
            format!("About {measured} % of the way that wire is run has been measured; the rest is {how}.")
        });
    }
    let mut say = |holds: bool, text: &str| {
        if holds {
            assumptions.push(text.to_owned());
        }
    };
    say(asked("power_unstated"), "One 12 V battery bank and one panel are aboard already and can carry what is added.");
    say(
        !asked("power_unstated") && quote.take_off.panels.iter().any(|panel| panel.positions.is_none()),
        "Panels that this quote does not list are aboard already, sound, and have room.",
    );
    say(
        quote.take_off.banks.iter().any(|bank| bank.switch.as_ref().is_some_and(|switch| switch.aboard)),
        "The battery switch that is aboard is sound and stays.",
    );
    let aboard = quote.take_off.answers.iter().filter(|given| given.answer == "present");
    let aboard: Vec<&str> = aboard.map(|given| given.thing.as_str()).collect();
    say(!aboard.is_empty(), &format!("Aboard already, as you told us: {}.", aboard.join(", ")));
    say(boat.job_type == JobType::ReRig, "What stays aboard of the old equipment and wiring is sound.");
    say(
        matches!(boat.propulsion, Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None),
        "No petrol is aboard.",
    );
    assumptions
}

/// What the customer is asked.
pub(super) fn questions(quote: &Quote) -> Vec<String> {
    let asked = quote.take_off.questions.iter().filter(|question| ASKED.contains(&question.id.as_str()));
    asked.map(|question| plain(&question.text)).collect()
}

/// What he should know.
pub(super) fn cautions(quote: &Quote) -> Vec<String> {
    let read = quote.take_off.cautions.iter().filter(|caution| CAUTIONED.contains(&caution.id.as_str()));
    read.map(|caution| sentence(&caution.text)).collect()
}

/// A text as a sentence, in which identifiers stand as words and not in quotes.
fn plain(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let inside = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(|c| c.is_alphanumeric());
    // An apostrophe has letters on both sides of it.
    let quote = |at: usize| letters[at] == '\'' && !(inside(at.checked_sub(1)) && inside(at.checked_add(1)));
    let plain: String = (0..letters.len()).filter(|at| !quote(*at)).map(|at| letters[at]).collect();
    sentence(&plain.replace('_', " "))
}
