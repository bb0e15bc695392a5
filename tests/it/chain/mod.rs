//! The chain from spec to take-off, on small boats whose figures can be followed by hand.

mod answers;
mod along;
mod cables;
mod layouts;
mod lengths;
mod network;
mod overrules;
mod plumbing;
mod posts;
mod power;
mod practice;
mod pumps;
mod refusals;
pub mod shop;
mod sizes;
mod sources;
mod supplied;
mod trees;
mod usual;
mod whole_boat;
mod whole_job;

use rigbill::calc::chain::take_off;
use rigbill::calc::findings::Fault;
use rigbill::calc::spec::input::BoatSpecInput;
use rigbill::calc::take_off::TakeOff;
use serde_json::{Value, json};

use crate::reevaluate::check_basis_with;

/// A boat with a helm, a battery bay 9.5 ft from it and a bilge 11 ft further, one 12 V bank and one panel.
pub fn small_boat(equipment: Value) -> Value {
    json!({
        "boat": {
            "name": "Test boat", "job_type": "first_rig", "propulsion": "diesel_inboard",
            "stations": [{"id": "helm"}, {"id": "battery_bay"}, {"id": "aft_bilge"}],
            "runs": [
                {"from": "battery_bay", "to": "helm", "length": {"value": 9.5, "unit": "ft"}},
                {"from": "battery_bay", "to": "aft_bilge", "length": {"value": 11, "unit": "ft"}}
            ]
        },
        "power": {
            "banks": [{"id": "house", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 800}],
            "panels": [{"id": "helm_panel", "station": "helm", "bank": "house"}]
        },
        "equipment": equipment
    })
}

/// Runs the chain on a spec in JSON.
pub fn run(spec: &Value) -> Result<TakeOff, Vec<Fault>> {
    let input: BoatSpecInput = serde_json::from_value(spec.clone()).expect("the spec of a test can be read");
    take_off(&input, &shop::shop())
}

/// The take-off of a spec without faults, as JSON, its basis re-evaluated.
pub fn taken(spec: &Value) -> Value {
    let taken = run(spec).unwrap_or_else(|faults| panic!("faults: {faults:#?}"));
    let json = serde_json::to_value(&taken).unwrap();
    let ratings = shop::shop().settings.branch_ratings_a.clone();
    check_basis_with(&json["basis"], |rule, inputs| crate::reevaluate::evaluate_chain(rule, inputs, &ratings));
    json
}

/// The row of a list whose field has a value.
pub fn row<'a>(list: &'a Value, field: &str, value: &str) -> &'a Value {
    let rows = list.as_array().expect("a list");
    rows.iter().find(|row| row[field] == value).unwrap_or_else(|| panic!("no row with {field} {value} in {list:#}"))
}

/// A figure, to a tolerance.
pub fn near(found: &Value, expected: f64, tolerance: f64) {
    let found = found.as_f64().expect("a number");
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected}");
}
