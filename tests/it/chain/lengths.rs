//! Lengths that can be followed by hand.

use serde_json::json;

use super::{near, row, small_boat, taken};

/// Helm panel to a light in the aft bilge, over the battery bay: 9.5 + 11 = 20.5 ft of route. Two ends use up 3 in
/// each, the loops are 18 in at the panel and 8 in at the light, waste is 10 % (all common practice).
#[test]
fn cut_length_is_route_ends_loops_and_waste() {
    let spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"}]));
    let taken = taken(&spec);
    let wire = row(&taken["cut_list"], "label", "C01+");
    assert_eq!(wire["route"], json!(["helm", "battery_bay", "aft_bilge"]));
    near(&wire["route_length"]["value"], 20.5, 1e-9);
    near(&wire["installed_length"]["value"], 20.5 + 0.5, 1e-9);
    near(&wire["carrying_length"]["value"], 20.5 + 0.5 + 26.0 / 12.0, 1e-3);
    near(&wire["cut_length"]["value"], (20.5 + 0.5 + 26.0 / 12.0) * 1.1, 1e-3);
}

#[test]
fn an_estimated_run_carries_its_own_waste_and_is_asked_about() {
    let mut spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"}]));
    spec["boat"]["runs"][1]["length_source"] = json!("estimated");
    let taken = taken(&spec);
    let wire = row(&taken["cut_list"], "label", "C01+");
    near(&wire["cut_length"]["value"], (9.5 + 0.5 + 26.0 / 12.0) * 1.1 + 11.0 * 1.2, 1e-3);
    assert_eq!(wire["length_source"], "estimated");
    row(&taken["questions"], "id", "run_estimated");
    let all = taken["boat"]["measured_percent"].as_f64().unwrap();
    assert!(all > 50.0 && all < 100.0, "{all}");
}

/// Where nothing is installed a share of it is no number: what is cut for the loops alone adds nothing to nothing.
#[test]
fn of_no_installed_length_no_share_is_added() {
    use rigbill::calc::units::{LengthUnit, LengthValue};
    let mut shop = super::shop::shop();
    let mut settings = (*shop.settings).clone();
    settings.termination_allowance = LengthValue { value: 0.0, unit: LengthUnit::In };
    shop.settings = settings.into();
    let spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "helm"}]));
    let taken = rigbill::calc::chain::take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap();
    let taken = serde_json::to_value(taken).unwrap();
    let blue = taken["wire"].as_array().unwrap().iter().find(|wire| wire["colour"] == "dark blue").unwrap();
    near(&blue["installed_length"]["value"], 0.0, 0.0);
    assert!(blue["cut_length"]["value"].as_f64().unwrap() > 2.0);
    // A number that is none is written as null.
    near(&blue["added_percent"], 0.0, 0.0);
}

/// A return ends at its bus, which need not be beside the panel.
#[test]
fn a_return_has_a_route_of_its_own() {
    let mut spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"}]));
    spec["power"]["buses"] = json!([{"id": "battery_bus", "station": "battery_bay"}]);
    spec["power"]["panels"][0]["negative_bus"] = json!("battery_bus");
    let taken = taken(&spec);
    near(&row(&taken["cut_list"], "label", "C01+")["route_length"]["value"], 20.5, 1e-9);
    near(&row(&taken["cut_list"], "label", "C01-")["route_length"]["value"], 11.0, 1e-9);
    near(&row(&taken["cut_list"], "label", "F1-")["route_length"]["value"], 0.0, 1e-9);
}

#[test]
fn one_end_less_is_its_minutes_less() {
    let one = json!({"id": "a", "sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"});
    let two = json!({"id": "b", "sku": "LIGHT-1", "quantity": 1, "station": "helm"});
    let small = taken(&small_boat(json!([one])));
    let large = taken(&small_boat(json!([one, two])));
    for (operation, more) in [("crimp_and_shrink", 2.0), ("splice", 2.0), ("label", 4.0), ("bench", 1.0), ("land", 1.0)]
    {
        let count = |taken: &serde_json::Value| -> f64 {
            row(&taken["labour"]["operations"], "operation", operation)["count"].as_str().unwrap().parse().unwrap()
        };
        assert_eq!(count(&large) - count(&small), more, "{operation}");
    }
}
