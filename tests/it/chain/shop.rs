//! A small shop for tests: its items are invented.

use std::sync::Arc;

use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::Item;
use rigbill::calc::shop::labour::LabourOperation;
use rigbill::calc::shop::settings::Settings;
use serde_json::{Value, json};

fn device(sku: &str, function: &str, leads: Value) -> Value {
    json!({
        "sku": sku, "description": sku, "category": "electronics", "selling_unit": "each", "buying_unit": "each",
        "buying_quantity": "1",
        "attributes": {
            "kind": "device", "function": function, "rated_voltage_v": 12, "nominal_voltages_v": [12, 24], "leads": leads
        }
    })
}

fn load(sku: &str, function: &str, current_a: f64) -> Value {
    device(sku, function, json!([{"role": "switched_positive", "current_a": current_a}, {"role": "return"}]))
}

/// The shop.
pub fn shop() -> Shop {
    let pump = json!([
        {"role": "switched_positive", "current_a": 4.0, "size": "16 AWG", "length": {"value": 3, "unit": "ft"}},
        {"role": "constant_positive", "current_a": 4.0, "size": "16 AWG", "length": {"value": 3, "unit": "ft"}},
        {"role": "return", "size": "16 AWG", "length": {"value": 3, "unit": "ft"}}
    ]);
    let stereo = json!([
        {"role": "constant_positive", "current_a": 10.0}, {"role": "switched_positive", "current_a": 0.1},
        {"role": "return"}, {"role": "dim"}
    ]);
    let mut only_36 = load("BOW-36", "bow_motor", 30.0);
    only_36["attributes"]["rated_voltage_v"] = json!(36);
    only_36["attributes"]["nominal_voltages_v"] = json!([36]);
    let mut maker = load("MAKER-FUSE", "navigation_electronics", 4.0);
    maker["attributes"]["maker_fuse_a"] = json!(5);
    let mut panel_32 = load("PANEL-32V", "accessory", 1.0);
    panel_32["attributes"] = json!({
        "kind": "panel", "positions": 6, "protection": "blade_fuse", "voltage_rating_v": 32, "stud": "#8"
    });
    let mut sealed = load("SEALED", "accessory", 2.0);
    sealed["attributes"]["ignition_protected"] = json!(true);
    let mut two = device(
        "TWO-POSITIVES",
        "accessory",
        json!([
            {"role": "switched_positive", "current_a": 15.0}, {"role": "switched_positive", "current_a": 15.0},
            {"role": "return"}
        ]),
    );
    two["attributes"]["duty"] = json!("intermittent");
    let mut bow = device(
        "BOW-MEMORY",
        "accessory",
        json!([
            {"role": "switched_positive", "current_a": 4.0}, {"role": "constant_positive", "current_a": 4.0},
            {"role": "return"}
        ]),
    );
    bow["attributes"]["rated_voltage_v"] = json!(36);
    bow["attributes"]["nominal_voltages_v"] = json!([36]);
    let mut strong = load("STRONG-FUSE", "accessory", 38.0);
    strong["attributes"]["maker_fuse_a"] = json!(60);
    let mut old = load("OLD", "accessory", 2.0);
    old["retired"] = json!(true);
    let battery = |sku: &str, volts: u16, ah: f64, cranking_a: f64| {
        let mut item = load(sku, "accessory", 1.0);
        item["attributes"] = json!({
            "kind": "battery", "nominal_voltage_v": volts, "capacity_ah": ah, "cold_cranking_a": cranking_a,
            "chemistry": "agm"
        });
        item
    };
    let mut charger = load("CHARGER-3", "accessory", 1.0);
    charger["attributes"] = json!({
        "kind": "charger", "outputs": 3, "output_a": 15, "nominal_voltage_v": 12, "chemistries": ["agm", "flooded"],
        "case_ground": true, "stud": "1/4 in"
    });
    let mut combiner = load("COMB-30", "accessory", 1.0);
    combiner["attributes"] = json!({
        "kind": "combiner", "rating_a": 30, "voltage_rating_v": 32, "isolates_while_cranking": false,
        "limits_charging": false, "stud": "1/4 in", "ignition_protected": false
    });
    let mut bilge_switch = load("BILGE-2", "accessory", 1.0);
    bilge_switch["attributes"] = json!({"kind": "bilge_switch", "rating_a": 2, "voltage_rating_v": 32});
    let mut bait = load("PUMP-BAIT", "accessory", 3.0);
    bait["attributes"]["plumbing"] = json!({
        "pump_kind": "bait", "inlet": {"value": 0.5, "unit": "in"}, "outlet": {"value": 0.625, "unit": "in"},
        "pipe_thread": {"value": 0.5, "unit": "in"}, "on_seacock": true
    });
    let items = [
        bait,
        load("PUMP-WELL", "live_well_pump", 4.0),
        load("PUMP-WASH", "wash_down_pump", 8.0),
        combiner,
        bilge_switch,
        battery("BAT-100", 12, 100.0, 550.0),
        battery("BAT-500", 12, 60.0, 500.0),
        battery("BAT-225", 12, 225.0, 900.0),
        battery("BAT-24", 24, 50.0, 400.0),
        charger,
        load("LIGHT-1", "interior_light", 1.0),
        load("NAV-1", "navigation_light", 1.0),
        load("LOAD-5", "accessory", 5.0),
        load("LOAD-10", "navigation_electronics", 10.0),
        load("LOAD-20", "accessory", 20.0),
        load("LOAD-500", "windlass", 500.0),
        device("PUMP-AUTO", "bilge_pump", pump),
        device("STEREO", "audio", stereo),
        only_36,
        maker,
        panel_32,
        sealed,
        two,
        bow,
        strong,
        old,
    ];
    let items = items.map(|item| serde_json::from_value::<Item>(item).expect("a test item can be read"));
    let operations = [
        ("set_up_pull", "bundle", 5.0, 10.0, 20.0),
        ("pull_open", "bundle_foot_open", 0.3, 0.5, 0.8),
        ("pull_tube", "bundle_foot_tube", 0.5, 0.8, 1.5),
        ("crimp_and_shrink", "small_end", 2.0, 3.0, 5.0),
        ("splice", "splice", 4.0, 6.0, 10.0),
        ("lug", "medium_lug", 6.0, 10.0, 15.0),
        ("label", "label", 0.5, 1.0, 2.0),
        ("bench", "circuit", 8.0, 12.0, 20.0),
        ("land", "panel_position", 4.0, 6.0, 10.0),
        ("main_fuse", "main_device", 20.0, 30.0, 50.0),
        ("sea_trial", "stated", 120.0, 180.0, 300.0),
    ];
    let operations = operations.map(|(code, driver, low, likely, high)| {
        serde_json::from_value::<LabourOperation>(json!({
            "code": code, "description": code, "driver": driver, "low_min": low, "likely_min": likely, "high_min": high
        }))
        .expect("a test operation can be read")
    });
    Shop {
        catalogue: Arc::new(Catalogue::new(items)),
        packages: Arc::new(Vec::new()),
        labour_operations: Arc::new(operations.to_vec()),
        settings: Arc::new(Settings::starting()),
    }
}
