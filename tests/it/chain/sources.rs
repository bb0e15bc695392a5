//! Batteries, charging, a day's use and distribution, against worked examples; `constructed` where a published rule was
//! applied by hand.

use rigbill::calc::rules::energy;
use rigbill::calc::rules::protection::battery_interrupt;
use serde_json::{Value, json};

use super::power::needs;
use super::{near, row, run, small_boat, taken};

fn bow_boat(batteries: Value) -> Value {
    let mut spec = small_boat(json!([{"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"}]));
    let bank = &mut spec["power"]["banks"][0];
    bank["nominal_voltage_v"] = json!(36);
    bank["batteries"] = batteries;
    bank["switch"] = json!({"provision": "none"});
    bank.as_object_mut().unwrap().remove("cold_cranking_a");
    spec["power"]["panels"][0]["protection"] = json!("breaker");
    spec
}

fn counted(taken: &Value, role: &str) -> usize {
    taken["cut_list"].as_array().unwrap().iter().filter(|line| line["role"] == role).count()
}

/// Three batteries of 12 V and 100 Ah in series: 36 V, 100 Ah, two jumpers, three charger outputs (constructed from trade
/// rules of series banks).
#[test]
fn a_series_bank_has_the_capacity_of_one_battery_and_a_jumper_less() {
    let mut spec = bow_boat(json!([{"sku": "BAT-100", "quantity": 3}]));
    spec["equipment"]
        .as_array_mut()
        .unwrap()
        .push(json!({"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}));
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    near(&bank["batteries"]["capacity_ah"], 100.0, 0.0);
    near(&bank["batteries"]["jumpers"], 2.0, 0.0);
    near(&bank["batteries"]["cold_cranking_a"], 550.0, 0.0);
    assert_eq!(counted(&taken, "series_jumper"), 2);
    assert_eq!(bank["charging"].as_array().unwrap().len(), 3);
    // Jumpers have the gauge of the feed (common practice).
    assert_eq!(row(&taken["cut_list"], "label", "B1J1")["gauge"], row(&taken["cut_list"], "label", "F1+")["gauge"]);
    assert_eq!(counted(&taken, "charger_positive"), 3);
    // Its negative stays apart from all else (common practice), the charger's case included.
    assert_eq!(counted(&taken, "case_ground"), 0);
    assert!(taken["questions"].as_array().unwrap().iter().any(|q| q["id"] == "case_ground"));
}

/// Two batteries of 500 CCA in parallel have 1000 together, and their main interrupts 3000 A (an inverter manual of 2009,
/// after ABYC E-11 Table V-A).
#[test]
fn parallel_batteries_add_their_cranking_amperes() {
    let mut spec = small_boat(json!([{"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"}]));
    spec["power"]["banks"][0]["batteries"] = json!([{"sku": "BAT-500", "quantity": 2}]);
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    near(&bank["batteries"]["cold_cranking_a"], 1000.0, 0.0);
    near(&bank["main"]["interrupt_a_min"], 3000.0, 0.0);
    near(&json!(battery_interrupt(12.0, 1000.0).main_a), 3000.0, 0.0);
    assert_eq!(counted(&taken, "parallel_link"), 2);
}

#[test]
fn batteries_that_make_no_bank_are_faults_and_unlike_ones_a_warning() {
    for (batteries, place) in [
        (json!([]), "batteries"),
        (json!([{"sku": "BAT-100", "quantity": 2}]), "batteries"),
        (json!([{"sku": "BAT-100", "quantity": 3}, {"sku": "BAT-24", "quantity": 1}]), "batteries"),
        (json!([{"sku": "LOAD-5", "quantity": 3}]), "batteries/0/sku"),
        (json!([{"sku": "BAT-100", "quantity": 0}]), "batteries/0/quantity"),
    ] {
        let faults = run(&bow_boat(batteries.clone())).unwrap_err();
        let pointer = format!("/power/banks/0/{place}");
        assert!(faults.iter().any(|fault| fault.pointer == pointer), "{batteries}: {faults:#?}");
    }
    let taken = taken(&bow_boat(json!([{"sku": "BAT-100", "quantity": 2}, {"sku": "BAT-500", "quantity": 1}])));
    let warnings = taken["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|w| w["message"].as_str().unwrap().starts_with("unlike batteries")), "{warnings:#?}");
}

#[test]
fn a_bow_motor_has_a_receptacle_and_a_breaker_and_its_negative_stays_apart() {
    let mut spec = bow_boat(json!([{"sku": "BAT-100", "quantity": 3}]));
    spec["power"]["banks"].as_array_mut().unwrap().push(json!({
        "id": "twelve", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600
    }));
    let taken = taken(&spec);
    let receptacle = needs(&taken, "bow_receptacle");
    assert_eq!(receptacle.len(), 1);
    near(&receptacle[0]["need"]["rating_a_min"], 30.0, 0.0);
    // 36 V charges near 44 V: 14.4 V for each nominal 12 (common practice).
    near(&receptacle[0]["need"]["voltage_v_min"], 43.2, 1e-9);
    assert_eq!(needs(&taken, "breaker").len(), 1);
    assert_eq!(counted(&taken, "negative_join"), 0);
    assert!(taken["cautions"].as_array().unwrap().iter().any(|caution| caution["id"] == "bow_bank_apart"));
}

/// 225 Ah ask for 22.5 A at a tenth (a battery maker's note prints 23 to 30 A for 10 to 13 %); a fifth is 45 A.
#[test]
fn a_charger_aims_at_a_fifth_and_gives_a_tenth_at_least() {
    near(&json!(energy::CHARGE_FLOOR * 225.0), 22.5, 0.8);
    // 15 % of 200 Ah are 30 A: within floor and target (https://madiganswaterfront.blogspot.com, 2012).
    assert!((energy::CHARGE_FLOOR * 200.0..=energy::CHARGE_TARGET * 200.0).contains(&30.0));
    for (sku, weak) in [("BAT-100", false), ("BAT-225", true)] {
        let mut spec = small_boat(json!([
            {"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"},
            {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
        ]));
        spec["power"]["banks"][0]["batteries"] = json!([{"sku": sku, "quantity": 1}]);
        let taken = taken(&spec);
        let output = &taken["banks"][0]["charging"][0];
        let ah = taken["banks"][0]["batteries"]["capacity_ah"].as_f64().unwrap();
        near(&output["target_a"], ah * 0.2, 1e-9);
        near(&output["floor_a"], ah * 0.1, 1e-9);
        // A charger output is a source at its battery end: its lead is fused there.
        assert_eq!(output["protection"]["station"], "battery_bay");
        let warnings = taken["warnings"].as_array().unwrap();
        assert_eq!(warnings.iter().any(|w| w["about"] == "charger"), weak, "{sku}: {warnings:#?}");
    }
}

#[test]
fn more_batteries_than_outputs_ask_for_another_charger() {
    let mut spec = bow_boat(json!([{"sku": "BAT-100", "quantity": 3}]));
    spec["power"]["banks"].as_array_mut().unwrap().push(json!({
        "id": "twelve", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600, "capacity_ah": 80
    }));
    let charger = json!({"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"});
    spec["equipment"].as_array_mut().unwrap().push(charger);
    let taken = taken(&spec);
    let another = needs(&taken, "charger");
    assert_eq!(another.len(), 1);
    near(&another[0]["need"]["least_outputs"], 1.0, 0.0);
    near(&another[0]["need"]["output_a_min"], 8.0, 1e-9);
}

#[test]
fn banks_that_share_an_alternator_have_a_combiner_and_joined_negatives() {
    let mut spec = small_boat(json!([{"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"}]));
    spec["power"]["alternator_a"] = json!(60);
    spec["power"]["banks"].as_array_mut().unwrap().push(json!({
        "id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "cold_cranking_a": 700,
        "chemistry": "lithium_iron_phosphate"
    }));
    let taken = taken(&spec);
    // Some 40 % at idle (common practice).
    near(&taken["alternator"]["idle_a"], 24.0, 1e-9);
    let combiner = needs(&taken, "combiner");
    assert_eq!(combiner.len(), 1);
    assert_eq!(combiner[0]["need"]["limits_charging"], true);
    assert_eq!((counted(&taken, "combiner_cable"), counted(&taken, "negative_join")), (2, 1));
    assert!(taken["questions"].as_array().unwrap().iter().any(|q| q["id"] == "lithium_charging"));
    // Each cable is fused at its battery, at 125 % of what may flow for hours: 75 A, and the next rating of a cube fuse.
    let fuses = needs(&taken, "fuse");
    assert!(fuses.iter().any(|fuse| fuse["need"]["rating_a"] == 75.0 && fuse["quantity"] == "2"), "{fuses:#?}");
}

/// 427 Ah a day at half discharge ask for 854 Ah (http://fhayden.com/rockhallfleet/calc__electrical.htm); 1000 Wh a day at
/// 12 V, times five, for 416.67 Ah (https://batteries-solar.blogspot.com); 60 W at 12 V are 5 A
/// (https://distantshores.ca/boatblog_files/electrical-budget-2007.php).
#[test]
fn a_bank_is_sized_as_in_the_worked_examples() {
    near(&json!(energy::bank_ah(427.0, 1.0, energy::DEPTH_LEAD)), 854.0, 1e-9);
    near(&json!(energy::bank_ah(1000.0 / 12.0, 1.0, energy::DEPTH_START)), 416.67, 0.01);
    let mut spec = small_boat(json!([{"id": "five", "sku": "LOAD-5", "quantity": 1, "station": "helm"}]));
    spec["power"]["daily_use"] = json!([{"equipment": "five", "hours_per_day": 10}]);
    spec["power"]["days_between_charges"] = json!(2);
    spec["power"]["banks"][0]["capacity_ah"] = json!(199);
    let taken = taken(&spec);
    let energy = &taken["banks"][0]["energy"];
    near(&energy["daily_ah"], 50.0, 1e-9);
    near(&energy["needed_ah"], 200.0, 1e-9);
    let warnings = taken["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|w| w["message"].as_str().unwrap().contains("asks for 200 Ah")), "{warnings:#?}");
}

#[test]
fn a_days_use_that_is_about_nothing_is_refused() {
    let mut spec = small_boat(json!([{"id": "five", "sku": "LOAD-5", "quantity": 1, "station": "helm"}]));
    spec["power"]["daily_use"] = json!([
        {"equipment": "fife", "hours_per_day": 1}, {"hours_per_day": 1}, {"function": "horn", "hours_per_day": 25}
    ]);
    spec["power"]["alternator_banks"] = json!(["house", "hose"]);
    let found: Vec<String> = run(&spec).unwrap_err().into_iter().map(|fault| fault.pointer).collect();
    for expected in [
        "/power/alternator_banks",
        "/power/alternator_banks/1",
        "/power/daily_use/0/equipment",
        "/power/daily_use/1",
        "/power/daily_use/2/hours_per_day",
    ] {
        assert!(found.iter().any(|pointer| pointer == expected), "{expected} is missing from {found:?}");
    }
}

/// A quarter spare and two at least (the shop's settings): six in use ask for eight.
#[test]
fn a_panel_has_positions_to_spare() {
    let mut spec = small_boat(json!([{"id": "light", "sku": "LIGHT-1", "quantity": 6, "station": "helm"}]));
    spec["power"]["panels"][0]["sku"] = json!("PANEL-32V");
    let taken = taken(&spec);
    let room = row(&taken["panels"], "panel", "helm_panel");
    near(&room["wanted"], 8.0, 0.0);
    near(&room["positions"], 6.0, 0.0);
    assert!(taken["warnings"].as_array().unwrap().iter().any(|w| w["about"] == "helm_panel"));
}

#[test]
fn an_automatic_pump_has_a_switch_at_its_panel_and_an_alarm_is_asked_about() {
    let taken = taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}])));
    let switch = needs(&taken, "bilge_switch");
    assert_eq!(switch.len(), 1);
    near(&switch[0]["need"]["rating_a_min"], 4.0, 0.0);
    assert!(taken["questions"].as_array().unwrap().iter().any(|q| q["id"] == "high_water_alarm_absent"));
}

/// Whatever can spark is ignition protected where petrol vapour may be, and an unknown place is taken as one.
#[test]
fn everything_at_the_sources_obeys_vapour() {
    for (answer, sealed) in [("yes", true), ("unknown", true), ("no", false)] {
        let mut spec = small_boat(json!([
            {"id": "pump", "sku": "PUMP-AUTO", "quantity": 4, "station": "aft_bilge"},
            {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
        ]));
        spec["power"]["alternator_a"] = json!(60);
        spec["power"]["banks"].as_array_mut().unwrap().push(json!({
            "id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "cold_cranking_a": 700
        }));
        for station in spec["boat"]["stations"].as_array_mut().unwrap() {
            station["petrol_vapour"] = json!(answer);
        }
        let taken = taken(&spec);
        for kind in ["battery_switch", "fuse_block", "combiner", "bilge_switch"] {
            let found = needs(&taken, kind);
            assert!(!found.is_empty(), "{kind}");
            assert!(
                found.iter().all(|need| need["need"]["ignition_protected"] == sealed),
                "{kind} where vapour is {answer}"
            );
        }
        let gaps = taken["gaps"].as_array().unwrap();
        let charger =
            gaps.iter().any(|gap| gap["what"] == "charger" && gap["reason"].as_str().unwrap().contains("ignition"));
        assert_eq!(charger, sealed, "{answer}: {gaps:#?}");
    }
}
