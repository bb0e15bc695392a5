//! What an experienced rigger knows and no published table gives (common practice), where no other test holds it.

use serde_json::{Value, json};

use super::{near, row, run, small_boat, taken};

fn cautions(propulsion: &str, job_type: &str) -> Value {
    let mut spec = small_boat(json!([{"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}]));
    spec["boat"]["propulsion"] = json!(propulsion);
    spec["boat"]["job_type"] = json!(job_type);
    taken(&spec)["cautions"].clone()
}

fn has(cautions: &Value, id: &str) -> bool {
    cautions.as_array().unwrap().iter().any(|caution| caution["id"] == id)
}

/// 33 CFR 183 Subpart I is for petrol engines in the hull, and does not cover parts of an outboard (33 CFR 183.401).
#[test]
fn a_law_is_cited_only_for_the_boats_that_it_covers() {
    let cites = |propulsion: &str| cautions(propulsion, "first_rig").to_string().contains("33 CFR 183");
    assert!(cites("petrol_inboard"));
    for propulsion in ["outboard", "diesel_inboard", "electric", "none"] {
        assert!(!cites(propulsion), "{propulsion}");
    }
}

#[test]
fn who_works_with_heat_or_on_an_old_boat_or_beside_a_charger_is_told() {
    let first = cautions("outboard", "first_rig");
    for id in ["heat_and_solvent", "petrol_vapour", "charger_place", "shore_power", "local_rules_first"] {
        assert!(has(&first, id), "{id}");
    }
    assert!(!has(&first, "old_wiring"));
    assert!(has(&cautions("outboard", "re_rig"), "old_wiring"));
}

/// A motor well, open to the weather, is no engine space: what passes it keeps its full current.
#[test]
fn an_outboards_layout_has_no_engine_space() {
    for hull_form in ["center_console", "walkaround", "express", "sailing_monohull", "catamaran"] {
        let spaces = |propulsion: &str| {
            let mut spec = small_boat(json!([{"id": "light", "sku": "SEALED", "quantity": 1, "station": "aft_bilge"}]));
            spec["boat"] = json!({
                "name": "Test boat", "job_type": "first_rig", "propulsion": propulsion, "hull_form": hull_form,
                "hull_length": {"value": 30, "unit": "ft"}, "beam": {"value": 10, "unit": "ft"}
            });
            let taken = taken(&spec);
            taken["runs"].as_array().unwrap().iter().filter(|run| run["engine_space"] == true).count()
        };
        assert_eq!(spaces("outboard"), 0, "{hull_form}");
    }
}

/// Wires that share a run are pulled together: the second light sets up no further pull and no further foot.
#[test]
fn a_bundle_is_pulled_once() {
    let count = |lights: u32, operation: &str| {
        let spec = small_boat(json!([{"sku": "LIGHT-1", "quantity": lights, "station": "aft_bilge"}]));
        let taken = taken(&spec);
        row(&taken["labour"]["operations"], "operation", operation)["count"].as_str().unwrap().to_owned()
    };
    for operation in ["set_up_pull", "pull_open"] {
        assert_eq!(count(1, operation), count(2, operation), "{operation}");
    }
    assert_ne!(count(1, "splice"), count(2, "splice"));
}

/// A branch fuse behind a main fuse of enough rating is covered by the pair; what stands straight on the battery is a main.
#[test]
fn only_what_stands_on_the_battery_must_break_its_short_circuit() {
    let taken = taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}])));
    for device in taken["circuits"][0]["protection"].as_array().unwrap() {
        near(&device["interrupt_a_min"], 0.0, 0.0);
    }
    // 800 cold-cranking amperes at 12 V: 3000 A (ABYC E-11 Table V-A).
    near(&taken["always_on"][0]["protection"]["interrupt_a_min"], 3000.0, 0.0);
    near(&taken["feeders"][0]["protection"]["interrupt_a_min"], 3000.0, 0.0);
}

/// Banks of different voltage on one boat are normal; a device on a panel of another voltage is the fault.
#[test]
fn nothing_at_12_v_taps_a_bow_bank() {
    let mut spec = small_boat(json!([
        {"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm", "panel": "bow_panel"},
        {"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "helm", "panel": "helm_panel"}
    ]));
    let bow = json!({"id": "bow", "station": "aft_bilge", "nominal_voltage_v": 36, "switch": {"provision": "none"}});
    spec["power"]["banks"].as_array_mut().unwrap().push(bow);
    let panel =
        json!({"id": "bow_panel", "station": "helm", "bank": "bow", "protection": "breaker", "voltage_rating_v": 80});
    spec["power"]["panels"].as_array_mut().unwrap().push(panel);
    let both = taken(&spec);
    // The negatives of the two banks are not joined.
    assert!(both["cut_list"].as_array().unwrap().iter().all(|line| line["role"] != "negative_join"));
    spec["equipment"][1]["panel"] = json!("bow_panel");
    let faults = run(&spec).unwrap_err();
    assert_eq!(faults.iter().map(|fault| &*fault.pointer).collect::<Vec<_>>(), ["/equipment/1/panel"], "{faults:?}");
}
