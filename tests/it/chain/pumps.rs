//! An automatic bilge pump is one motor, one return and two positives (ABYC E-11 lets the automatic one be wired ahead
//! of the battery switch with a device of its own; from memory), and other loads that stay live.

use serde_json::json;

use super::{near, row, small_boat, taken};

#[test]
fn an_automatic_bilge_pump_has_two_positives_and_one_return() {
    let taken = taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}])));
    let circuit = row(&taken["circuits"], "key", "pump");
    assert_eq!(circuit["conductors"], json!(["C01+", "C01+A", "C01-"]));
    let manual = row(&taken["cut_list"], "label", "C01+");
    let automatic = row(&taken["cut_list"], "label", "C01+A");
    assert_eq!(manual["from"]["lands_on"], "panel");
    assert_eq!(manual["from"]["station"], "helm");
    assert_eq!(automatic["from"]["lands_on"], "always_on_fuse");
    assert_eq!(automatic["from"]["station"], "battery_bay");
    assert_eq!((&manual["colour"], &automatic["colour"]), (&json!("brown"), &json!("brown")));
    // One motor: its current counts once in the panel's load.
    near(&taken["feeders"][0]["design_current_a"], 4.0, 1e-9);
    // Each positive has its own fuse, the automatic one on the side that the battery switch does not reach.
    let fuses = circuit["protection"].as_array().unwrap();
    assert_eq!(fuses.len(), 2);
    assert_eq!(fuses.iter().filter(|fuse| fuse["always_on"] == true).count(), 1);
    // The always-on side hangs on a main fuse of its own with the interrupt rating of the bank: 3000 A for 651 to
    // 1100 CCA at 12 V (ABYC E-11 Table V-A).
    let side = row(&taken["always_on"], "bank", "house");
    near(&side["protection"]["interrupt_a_min"], 3000.0, 1e-9);
    assert_eq!(side["circuits"], json!(["C01"]));
    // Safety pumps are 3 % circuits (ISO 10133, 4.x note).
    near(&circuit["drop_limit_percent"], 3.0, 1e-9);
}

/// The drop counts the maker's leads: 3 ft of 16 AWG there and 3 ft back at 4 A beside the conductors themselves.
#[test]
fn the_makers_leads_count_in_the_drop() {
    let taken = taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}])));
    let wire = row(&taken["cut_list"], "label", "C01-");
    let feet = wire["carrying_length"]["value"].as_f64().unwrap();
    let area = match wire["gauge"].as_str().unwrap() {
        "16 AWG" => 2580.0,
        "14 AWG" => 4110.0,
        "12 AWG" => 6530.0,
        "10 AWG" => 10380.0,
        "8 AWG" => 16510.0,
        other => panic!("{other}"),
    };
    // CM = K I L / E with K = 10.75 (ABYC E-11); areas of NEC Chapter 9 Table 8.
    near(&wire["drop_v"], 10.75 * 4.0 * (feet / area + 3.0 / 2580.0), 1e-3);
}

#[test]
fn a_stereo_keeps_its_memory_live_and_leaves_its_dimmer_lead_alone() {
    let taken = taken(&small_boat(json!([{"id": "stereo", "sku": "STEREO", "quantity": 1, "station": "helm"}])));
    let circuit = row(&taken["circuits"], "key", "stereo");
    assert_eq!(circuit["conductors"].as_array().unwrap().len(), 3);
    assert_eq!(circuit["unconnected_leads"], json!(["dimmer"]));
    assert_eq!(row(&taken["cut_list"], "label", "C01+A")["colour"], "red");
    // 10 A of memory lead and 0.1 A of switch lead can both return at once.
    near(&circuit["design_current_a"], 10.1, 1e-9);
}
