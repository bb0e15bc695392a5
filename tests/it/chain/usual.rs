//! What an item leaves out is as usual of its kind; what it says always wins (figures: common practice).

use std::sync::Arc;

use rigbill::calc::chain::take_off;
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::usual::filled;
use rigbill::calc::shop::item::{Attributes, Item};
use rigbill::calc::shop::labour::LabourOperation;
use serde_json::{Value, json};

use super::{row, shop, small_boat};

/// The test shop with one more device, of which only this is said, and with an operation that mounts it.
fn shop_with(function: &str, said: &Value, labour: Option<Value>) -> Shop {
    let mut shop = shop::shop();
    let mut device = json!({
        "sku": "TERSE", "description": "Terse device", "category": "electronics", "selling_unit": "each",
        "buying_unit": "each", "buying_quantity": "1", "attributes": {"kind": "device", "function": function}
    });
    device["attributes"].as_object_mut().unwrap().extend(said.as_object().unwrap().clone());
    if let Some(labour) = labour {
        device["labour"] = labour;
    }
    let device: Item = serde_json::from_value(device).unwrap();
    let items = shop.catalogue.items().iter().map(|item| (**item).clone()).chain([device]);
    shop.catalogue = Arc::new(Catalogue::new(items));
    let mut operations = (*shop.labour_operations).clone();
    operations.push(
        serde_json::from_value::<LabourOperation>(json!({
            "code": "mount_small_device", "description": "Mount", "driver": "stated",
            "low_min": 10, "likely_min": 20, "high_min": 35
        }))
        .unwrap(),
    );
    shop.labour_operations = Arc::new(operations);
    shop
}

fn taken(shop: &Shop) -> Value {
    let spec = small_boat(json!([{"id": "terse", "sku": "TERSE", "quantity": 1, "station": "aft_bilge"}]));
    let taken = take_off(&serde_json::from_value(spec).unwrap(), shop).unwrap_or_else(|faults| panic!("{faults:#?}"));
    serde_json::to_value(taken).unwrap()
}

fn told(taken: &Value) -> Option<String> {
    let assumptions = taken["assumptions"].as_array().unwrap().iter().filter_map(Value::as_str);
    assumptions.filter(|text| text.contains("'TERSE'")).map(str::to_owned).next()
}

/// 25 W of a VHF radio come to some 6 A at 12 V when it transmits (common practice).
#[test]
fn a_device_of_which_only_its_function_is_said_is_wired_and_fitted() {
    let taken = taken(&shop_with("radio", &json!({}), None));
    let circuit = row(&taken["circuits"], "key", "terse");
    assert_eq!(circuit["design_current_a"], 6.0);
    assert_eq!(row(&taken["labour"]["operations"], "operation", "mount_small_device")["count"], "1");
    let told = told(&taken).expect("what was taken is told");
    for part in
        ["draw a 6 A", "12 V", "leads one positive and a return", "work 'mount_small_device'", "common practice"]
    {
        assert!(told.contains(part), "{part}: {told}");
    }
}

#[test]
fn what_is_typed_wins_and_nothing_is_told_where_all_is_typed() {
    let whole = json!({
        "draw_a": 1.5, "rated_voltage_v": 24, "nominal_voltages_v": [12, 24],
        "leads": [{"role": "constant_positive"}, {"role": "return"}]
    });
    let taken = taken(&shop_with("radio", &whole, Some(json!([]))));
    // Equal power at half the voltage.
    assert_eq!(row(&taken["circuits"], "key", "terse")["design_current_a"], 3.0);
    assert_eq!(told(&taken), None);
    assert!(!taken["labour"].to_string().contains("mount_small_device"), "an empty list is typed: no work");
}

#[test]
fn a_lead_that_states_its_current_leaves_the_draw_to_the_other() {
    let leads = json!({"draw_a": 10, "leads": [
        {"role": "switched_positive", "current_a": 0.5}, {"role": "constant_positive"}, {"role": "return"}
    ]});
    let taken = taken(&shop_with("audio", &leads, None));
    assert_eq!(row(&taken["circuits"], "key", "terse")["protection"].as_array().unwrap().len(), 2);
    // 125 % of 10 A that run for hours (common practice): no less than 12.5 A.
    let constant =
        taken["circuits"][0]["protection"].as_array().unwrap().iter().find(|p| p["always_on"] == true).unwrap();
    assert_eq!(constant["load_needs_a"], 12.5);
}

/// A fuse that its maker states says that the thing draws no more.
#[test]
fn a_makers_fuse_lowers_the_usual_draw() {
    let taken = taken(&shop_with("radio", &json!({"maker_fuse_a": 4}), None));
    assert_eq!(row(&taken["circuits"], "key", "terse")["design_current_a"], 4.0);
}

/// A fuse holds some 1.25 times what runs for hours behind it (common practice).
#[test]
fn a_larger_makers_fuse_raises_the_usual_draw() {
    let taken = taken(&shop_with("radio", &json!({"maker_fuse_a": 10}), None));
    assert_eq!(row(&taken["circuits"], "key", "terse")["design_current_a"], 8.0);
}

/// A current that was typed for a thing of another voltage is never made smaller by the usual voltage.
#[test]
fn a_thing_of_another_voltage_is_rated_at_its_own() {
    let item = |said: &Value| -> Item {
        let mut item = json!({
            "sku": "TERSE", "description": "Terse device", "category": "electronics", "selling_unit": "each",
            "buying_unit": "each", "buying_quantity": "1", "attributes": {"kind": "device", "function": "floodlight"}
        });
        item["attributes"].as_object_mut().unwrap().extend(said.as_object().unwrap().clone());
        filled(serde_json::from_value(item).unwrap()).0
    };
    let voltages = |said: &Value| match item(said).attributes {
        Attributes::Device { rated_voltage_v, nominal_voltages_v, .. } => {
            (rated_voltage_v.unwrap(), nominal_voltages_v)
        }
        _ => unreachable!("it is a device"),
    };
    assert_eq!(voltages(&json!({"draw_a": 10, "nominal_voltages_v": [24]})), (24.0, vec![24]));
    assert_eq!(voltages(&json!({"draw_a": 10, "nominal_voltages_v": [36, 24]})), (24.0, vec![36, 24]));
    assert_eq!(voltages(&json!({"draw_a": 10, "nominal_voltages_v": [12, 24]})), (12.0, vec![12, 24]));
    assert_eq!(voltages(&json!({"draw_a": 10, "rated_voltage_v": 24})), (24.0, vec![24]));
    assert_eq!(voltages(&json!({"draw_a": 10})), (12.0, vec![12]));
}

/// A bilge pump has one motor behind its two positives, so that the return carries the draw once.
#[test]
fn a_bilge_pump_is_automatic_unless_its_leads_say_otherwise() {
    let taken = taken(&shop_with("bilge_pump", &json!({"draw_a": 4}), None));
    let circuit = row(&taken["circuits"], "key", "terse");
    assert_eq!(circuit["protection"].as_array().unwrap().len(), 2);
    assert_eq!(circuit["design_current_a"], 4.0);
}

#[test]
fn work_that_the_shops_table_lacks_is_told_and_not_guessed() {
    let mut shop = shop_with("radio", &json!({}), None);
    shop.labour_operations = shop::shop().labour_operations;
    let taken = taken(&shop);
    assert_eq!(taken["gaps"], json!([]));
    assert!(told(&taken).unwrap().contains("no work, since the labour table has no 'mount_small_device'"));
}
