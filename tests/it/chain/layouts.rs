//! Boats by hull form: stations and runs of the layout, and what the spec puts in their place.

use serde_json::{Value, json};

use super::{near, row, run, taken};

/// A center console of 22 ft by 8.5 ft with a light in its aft bilge, and nothing else said.
fn by_hull_form() -> Value {
    json!({
        "boat": {
            "name": "Test boat", "job_type": "first_rig", "propulsion": "outboard", "hull_form": "center_console",
            "hull_length": {"value": 22, "unit": "ft"}, "beam": {"value": 8.5, "unit": "ft"}
        },
        "equipment": [{"id": "light", "sku": "SEALED", "quantity": 1, "station": "aft_bilge"}]
    })
}

/// Dash to aft bilge is 0.40 L + 6 = 14.8 ft (common practice); estimated length has 20 % waste, ends and loops 10 %.
#[test]
fn hull_form_length_and_beam_are_enough() {
    let taken = taken(&by_hull_form());
    let wire = row(&taken["cut_list"], "label", "C01+");
    assert_eq!(wire["route"], json!(["helm", "console_base", "aft_bilge"]));
    near(&wire["route_length"]["value"], 14.8, 1e-3);
    near(&wire["estimated_length"]["value"], 14.8, 1e-3);
    near(&wire["cut_length"]["value"], (0.5 + 26.0 / 12.0) * 1.1 + 14.8 * 1.2, 1e-3);
    assert_eq!(taken["boat"]["measured_percent"], 0.0);
    for wire in taken["cut_list"].as_array().unwrap() {
        assert_eq!(wire["cut_note"], "estimated: measure before cutting");
    }
    let tube = row(&taken["runs"], "to", "console_base");
    assert_eq!((tube["access"].as_str(), tube["length_source"].as_str()), (Some("tube"), Some("estimated")));
    let basis = &taken["basis"]["derivations"][tube["basis"].as_u64().unwrap() as usize];
    assert_eq!(basis["rule"], "run.layout");
    near(&basis["result"], 10.8 * 0.3048, 1e-6);
    for asked in ["power_unstated", "layout_runs_estimated", "cold_cranking_unstated", "petrol_vapour_unknown"] {
        row(&taken["questions"], "id", asked);
    }
    let assumed = taken["assumptions"].to_string();
    assert!(assumed.contains("center console of 22 ft by 8.5 ft") && assumed.contains("one bank of 12 V"), "{assumed}");
    assert_eq!(taken["boat"]["hull"]["hull_form"], "center_console");
}

#[test]
fn a_measured_run_takes_the_place_of_the_estimated_one_and_keeps_its_tube() {
    let mut spec = by_hull_form();
    spec["boat"]["runs"] = json!([{"from": "aft_bilge", "to": "console_base", "length": {"value": 13, "unit": "ft"}}]);
    let taken = taken(&spec);
    let wire = row(&taken["cut_list"], "label", "C01+");
    near(&wire["route_length"]["value"], 17.0, 1e-3);
    near(&wire["estimated_length"]["value"], 4.0, 1e-3);
    near(&wire["cut_length"]["value"], (13.0 + 0.5 + 26.0 / 12.0) * 1.1 + 4.0 * 1.2, 1e-3);
    let tube = row(&taken["runs"], "to", "console_base");
    assert_eq!((tube["access"].as_str(), tube["length_source"].as_str()), (Some("tube"), Some("measured")));
    let share = taken["boat"]["measured_percent"].as_f64().unwrap();
    assert!(share > 30.0 && share < 90.0, "{share}");
}

/// A measured run between helm and bilge is taken, though the estimated way is shorter.
#[test]
fn a_measured_run_wins_over_a_shorter_estimate() {
    let mut spec = by_hull_form();
    spec["boat"]["runs"] = json!([{"from": "aft_bilge", "to": "helm", "length": {"value": 31, "unit": "ft"}}]);
    let taken = taken(&spec);
    let wire = row(&taken["cut_list"], "label", "C01+");
    assert_eq!(wire["route"], json!(["helm", "aft_bilge"]));
    assert!(wire.get("estimated_length").is_none() && wire.get("cut_note").is_none(), "{wire}");
}

#[test]
fn a_station_that_is_moved_keeps_its_neighbours_and_a_new_one_brings_its_runs() {
    let mut spec = by_hull_form();
    spec["boat"]["stations"] = json!([
        {"id": "aft_bilge", "petrol_vapour": "no", "position": {"from_transom": {"value": 3.3, "unit": "ft"}}},
        {"id": "tower"}
    ]);
    spec["boat"]["runs"] = json!([{"from": "t_top", "to": "tower", "length": {"value": 6, "unit": "ft"}}]);
    let high = json!({"id": "high", "sku": "SEALED", "quantity": 1, "station": "tower"});
    spec["equipment"].as_array_mut().unwrap().push(high);
    let taken = taken(&spec);
    // Console base at 0.435 L and 0.06 B to port, 0.30 D up, bilge at 0.05 D, D = 0.39 B; 10 % and one deck turn more.
    let way_ft = (0.435 * 22.0 - 3.3 + 0.06 * 8.5 + 0.25 * 0.39 * 8.5) * 1.1 + 1.0;
    let tube = taken["runs"].as_array().unwrap().iter().find(|run| run["from"] == "aft_bilge").unwrap();
    near(&tube["length"]["value"], way_ft, 1e-3);
    assert_eq!(taken["basis"]["derivations"][tube["basis"].as_u64().unwrap() as usize]["rule"], "run.way");
    let high = row(&taken["circuits"], "key", "high");
    let wire = row(&taken["cut_list"], "label", high["conductors"][0].as_str().unwrap());
    assert_eq!(wire["route"], json!(["helm", "t_top", "tower"]));
    let about: Vec<_> = taken["questions"].as_array().unwrap().iter().filter(|q| q["about"] == "aft_bilge").collect();
    assert!(about.is_empty(), "{about:?}");
}

#[test]
fn what_the_layout_needs_is_asked_for_all_at_once() {
    let mut spec = by_hull_form();
    spec["boat"] = json!({"name": "Test boat", "job_type": "first_rig", "propulsion": "outboard"});
    let pointers = |spec: &Value| -> Vec<String> {
        run(spec).expect_err("faults").into_iter().map(|fault| fault.pointer).collect()
    };
    let found = pointers(&spec);
    for expected in ["/boat/beam", "/boat/hull_form", "/boat/hull_length", "/equipment/0/station"] {
        assert!(found.iter().any(|pointer| pointer == expected), "{expected} is missing from {found:?}");
    }
    assert!(!found.iter().any(|pointer| pointer.starts_with("/power")), "nobody sent any power: {found:?}");
    spec["boat"]["hull_form"] = json!("skiff");
    spec["boat"]["hull_length"] = json!({"value": 100, "unit": "ft"});
    spec["boat"]["beam"] = json!({"value": 20, "unit": "ft"});
    spec["boat"]["depth"] = json!({"value": 60, "unit": "ft"});
    let far = json!({"from_transom": {"value": 500, "unit": "ft"}, "off_centre": {"value": 90, "unit": "ft"}});
    spec["boat"]["stations"] = json!([{"id": "aft_bilge", "position": far}]);
    let faults = run(&spec).unwrap_err();
    let told = |pointer: &str| faults.iter().any(|f| f.pointer == pointer && f.message.contains("makes no sense"));
    assert!(told("/boat/hull_length") && told("/boat/depth"), "{faults:?}");
    for field in ["from_transom", "off_centre"] {
        assert!(told(&format!("/boat/stations/0/position/{field}")), "{field}: {faults:?}");
    }
}

#[test]
fn a_hull_of_unusual_size_is_warned_about_and_a_station_that_no_layout_has_is_named() {
    let mut spec = by_hull_form();
    spec["boat"]["hull_length"] = json!({"value": 14, "unit": "ft"});
    spec["boat"]["beam"] = json!({"value": 6, "unit": "ft"});
    let warned = taken(&spec)["warnings"].clone();
    assert!(row(&warned, "about", "hull")["message"].as_str().unwrap().contains("unusual for a center console"));
    spec["equipment"][0]["station"] = json!("aft_blige");
    let faults = run(&spec).unwrap_err();
    assert!(faults.iter().any(|fault| fault.message.contains("did you mean 'aft_bilge'?")), "{faults:?}");
}

/// A boat whose runs are all measured is what it was, whatever its hull form.
#[test]
fn a_measured_boat_is_not_changed_by_its_hull_form() {
    let spec = super::small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"}]));
    let mut formed = spec.clone();
    formed["boat"]["hull_form"] = json!("express");
    formed["boat"]["hull_length"] = json!({"value": 30, "unit": "ft"});
    formed["boat"]["beam"] = json!({"value": 10, "unit": "ft"});
    assert_eq!(taken(&spec), taken(&formed));
}
