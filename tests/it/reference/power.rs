//! Batteries, charging and a day's use against worked examples in print.

use rigbill::calc::rules::energy;
use serde_json::json;

use super::{near, rows};
use crate::chain::{row, small_boat, taken};

#[test]
fn banks_and_chargers_come_out_as_in_the_worked_examples() {
    let mut kinds = std::collections::BTreeSet::new();
    for example in rows(include_str!("data/worked_power.csv")) {
        let (given, expected) = (example.nested("inputs"), example.nested("expected"));
        let (id, tolerance) = (example.text("id"), example.number("tolerance") + 1e-9);
        kinds.insert(example.text("kind").to_owned());
        match example.text("kind") {
            "bank" => {
                assert_eq!(given.number("depth_of_discharge"), energy::DEPTH_LEAD, "{id}");
                let found = energy::bank_ah(given.number("daily_ah"), given.number("days"), energy::DEPTH_LEAD);
                near(found, expected.number("bank_ah"), tolerance, id);
            }
            "bank_by_energy" => {
                // Five times a day's use is a fifth taken out, as of a battery that starts an engine.
                assert_eq!(given.number("factor"), 1.0 / energy::DEPTH_START, "{id}");
                let daily_ah = given.number("wh_per_day") / given.number("volts");
                near(energy::bank_ah(daily_ah, 1.0, energy::DEPTH_START), expected.number("bank_ah"), tolerance, id);
            }
            "current" => near(current_of_watts(given.number("watts")), expected.number("amps"), tolerance, id),
            "charger" => {
                let ah = given.number("bank_ah");
                let (floor_a, target_a) = (energy::CHARGE_FLOOR * ah, energy::CHARGE_TARGET * ah);
                for (end, share) in [("amps_low", "low"), ("amps_high", "high")] {
                    let printed_a = expected.number(end);
                    near(ah * given.number(share), printed_a, tolerance, id);
                    // What others print lies between the floor and the target.
                    assert!(
                        floor_a - tolerance <= printed_a && printed_a <= target_a + tolerance,
                        "{id}: {printed_a} A"
                    );
                }
            }
            "series" => series(&given, &expected, id),
            other => panic!("{id}: nothing checks '{other}'"),
        }
    }
    assert_eq!(kinds.len(), 5);
}

/// What a device of so many watts draws of a 12 V bank, by the chain: its item states 12 V and the watts over them, and a
/// day's hour of it takes as many ampere-hours.
fn current_of_watts(watts: f64) -> f64 {
    let mut spec = small_boat(json!([{"id": "five", "sku": "LOAD-5", "quantity": 1, "station": "helm"}]));
    spec["power"]["daily_use"] = json!([{"equipment": "five", "hours_per_day": 1}]);
    let taken = taken(&spec);
    let stated_a = taken["circuits"][0]["design_current_a"].as_f64().unwrap();
    let per_hour = taken["banks"][0]["energy"]["daily_ah"].as_f64().unwrap();
    near(stated_a * 12.0, watts, 1e-9, "the item of the test shop");
    per_hour
}

fn series(given: &super::Row, expected: &super::Row, id: &str) {
    let mut spec = small_boat(json!([
        {"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"},
        {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
    ]));
    let bank = &mut spec["power"]["banks"][0];
    bank["batteries"] = json!([{"sku": "BAT-100", "quantity": given.number("count") as u64}]);
    bank.as_object_mut().unwrap().remove("cold_cranking_a");
    bank["nominal_voltage_v"] = json!(expected.number("bank_v") as u64);
    spec["power"]["panels"][0]["protection"] = json!("breaker");
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    let figure = |value: &serde_json::Value| value.as_f64().unwrap();
    near(figure(&bank["nominal_voltage_v"]), given.number("battery_v") * given.number("count"), 0.0, id);
    near(figure(&bank["batteries"]["capacity_ah"]), expected.number("bank_ah"), 0.0, id);
    near(figure(&bank["batteries"]["jumpers"]), expected.number("jumpers"), 0.0, id);
    near(bank["charging"].as_array().unwrap().len() as f64, expected.number("outputs"), 0.0, id);
}
