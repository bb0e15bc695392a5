//! What makes no sense is refused, all of it at once, each fault with its place.

use serde_json::{Value, json};

use super::{run, small_boat, taken};

fn pointers(spec: &Value) -> Vec<String> {
    run(spec).expect_err("the spec has faults").into_iter().map(|fault| fault.pointer).collect()
}

#[test]
fn all_faults_are_told_at_once() {
    let mut spec = small_boat(json!([
        {"id": "a", "sku": "LIGHT-1", "quantity": 1, "station": "nowhere"},
        {"id": "a", "sku": "NO-SUCH", "quantity": 1, "station": "helm"},
        {"id": "b", "sku": "BOW-36", "quantity": 1, "station": "helm", "panel": "helm_panel"},
        {"id": "c", "sku": "LIGHT-1", "quantity": 1}
    ]));
    spec["boat"]["stations"][2]["id"] = json!("helm");
    spec["boat"]["hull_length"] = json!({"value": 4000, "unit": "ft"});
    spec["boat"]["runs"][0]["length"] = json!({"value": 0, "unit": "ft"});
    spec["packages"] = json!(["NONE"]);
    let found = pointers(&spec);
    for expected in [
        "/boat/stations/2/id",
        "/boat/hull_length",
        "/boat/runs/0/length",
        "/boat/runs/1/to",
        "/equipment/0/station",
        "/equipment/1/id",
        "/equipment/1/sku",
        "/equipment/2/panel",
        "/equipment/3/station",
        "/packages/0",
    ] {
        assert!(found.iter().any(|pointer| pointer == expected), "{expected} is missing from {found:#?}");
    }
}

#[test]
fn a_station_that_no_run_reaches_is_named() {
    let mut spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "mast"}]));
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "mast"}));
    let faults = run(&spec).unwrap_err();
    assert_eq!(faults[0].pointer, "/equipment/0");
    assert!(faults.iter().all(|fault| fault.message.contains("mast")), "{faults:?}");
}

/// A 36 V bank charges near 44 V: nothing that is built for 32 V belongs there (common practice).
#[test]
fn parts_for_32_v_are_refused_on_a_36_v_bank() {
    let mut spec = small_boat(json!([{"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"}]));
    spec["power"]["banks"][0]["nominal_voltage_v"] = json!(36);
    spec["power"]["panels"][0]["sku"] = json!("PANEL-32V");
    let found = pointers(&spec);
    assert!(found.contains(&"/power/panels/0/sku".to_owned()), "{found:?}");
    assert!(found.contains(&"/power/panels/0/protection".to_owned()), "{found:?}");
}

#[test]
fn one_bus_does_not_take_the_returns_of_two_banks() {
    let mut spec = small_boat(json!([]));
    spec["power"]["banks"]
        .as_array_mut()
        .unwrap()
        .push(json!({"id": "bow", "station": "helm", "nominal_voltage_v": 36}));
    spec["power"]["buses"] = json!([{"id": "bus", "station": "helm"}]);
    spec["power"]["panels"] = json!([
        {"id": "p1", "station": "helm", "bank": "house", "negative_bus": "bus"},
        {"id": "p2", "station": "helm", "bank": "bow", "negative_bus": "bus", "protection": "breaker"}
    ]);
    assert_eq!(pointers(&spec), ["/power/panels/1/negative_bus"]);
}

#[test]
fn a_place_where_vapour_may_be_wants_ignition_protection() {
    for (answer, gaps) in [(json!("yes"), 1), (json!("unknown"), 1), (json!("no"), 0)] {
        let mut spec = small_boat(json!([
            {"id": "plain", "sku": "LOAD-5", "quantity": 1, "station": "aft_bilge"},
            {"id": "sealed", "sku": "SEALED", "quantity": 1, "station": "aft_bilge"}
        ]));
        spec["boat"]["stations"][2]["petrol_vapour"] = answer.clone();
        let taken = taken(&spec);
        assert_eq!(taken["gaps"].as_array().unwrap().len(), gaps, "{answer}: {:#}", taken["gaps"]);
    }
}

#[test]
fn a_retired_item_and_a_current_that_nothing_carries_are_gaps() {
    let taken = taken(&small_boat(json!([
        {"id": "old", "sku": "OLD", "quantity": 1, "station": "helm"},
        {"id": "giant", "sku": "LOAD-500", "quantity": 1, "station": "helm"}
    ])));
    let about: Vec<&str> = taken["gaps"].as_array().unwrap().iter().map(|gap| gap["what"].as_str().unwrap()).collect();
    assert!(about.contains(&"item/OLD") && about.contains(&"giant"), "{about:?}");
}

#[test]
fn a_quantity_that_no_sum_holds_is_a_fault() {
    let mut spec = small_boat(json!([]));
    spec["labour"] = json!([{"operation": "sea_trial", "quantity": "79228162514264337593543950335"}]);
    assert_eq!(pointers(&spec), ["/labour/0/quantity"]);
}

#[test]
fn a_boat_carries_so_many_pieces_and_no_more() {
    let entries: Vec<Value> =
        (0..30).map(|i| json!({"id": format!("e{i}"), "sku": "LIGHT-1", "quantity": 100, "station": "helm"})).collect();
    assert_eq!(pointers(&small_boat(Value::Array(entries))), ["/equipment"]);
}

#[test]
fn a_panel_with_too_few_positions_is_a_gap() {
    let mut spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 7, "station": "helm"}]));
    spec["power"]["panels"][0]["sku"] = json!("PANEL-32V");
    let taken = taken(&spec);
    assert_eq!(super::row(&taken["gaps"], "what", "helm_panel")["reason"], "the item has 6");
}
