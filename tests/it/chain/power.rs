//! Between battery post and feeders: main before the switch, what the feeders count of it, studs.

use serde_json::{Value, json};

use super::{near, row, run, small_boat, taken};

/// Needs of a kind, with their quantities.
pub fn needs<'a>(taken: &'a Value, kind: &str) -> Vec<&'a Value> {
    taken["requirements"].as_array().unwrap().iter().filter(|r| r["need"]["kind"] == kind).collect()
}

fn one_load() -> Value {
    small_boat(json!([{"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"}]))
}

#[test]
fn the_main_stands_before_a_switch_that_carries_what_it_lets_through() {
    let taken = taken(&one_load());
    let bank = row(&taken["banks"], "bank", "house");
    // 10 A for hours: 12.5 A at least; the least cube fuse is 30 A (makers' charts).
    near(&bank["main"]["rating_a"], 30.0, 0.0);
    near(&bank["switch"]["rating_a_min"], 30.0, 0.0);
    // 14.4 V for each nominal 12 V (common practice).
    near(&bank["switch"]["voltage_v_min"], 14.4, 1e-9);
    let switch = needs(&taken, "battery_switch");
    assert_eq!(switch.len(), 1);
    let feed = row(&taken["cut_list"], "label", "B1S");
    assert_eq!((&feed["from"]["lands_on"], &feed["to"]["lands_on"]), (&json!("main_fuse"), &json!("battery_switch")));
    let feeder = row(&taken["cut_list"], "label", "F1+");
    assert_eq!(feeder["from"]["lands_on"], "battery_switch");
    // The distances of ABYC E-11.12: 7 in, 72 in sheathed on a battery terminal, 40 in sheathed elsewhere.
    let distance = &bank["main_distance"];
    for (field, inches) in [("bare", 7.0), ("sheathed_on_battery", 72.0), ("sheathed_on_other", 40.0)] {
        near(&distance[field]["value"], inches, 1e-9);
    }
    // A positive post is covered (33 CFR 183.420(b)), as are both ends of the cable that stays live.
    let boots = needs(&taken, "terminal_boot");
    let count: f64 = boots.iter().map(|boot| boot["quantity"].as_str().unwrap().parse::<f64>().unwrap()).sum();
    near(&json!(count), 3.0, 0.0);
}

/// The drop of a feeder counts the cables before it: CM = K I L / E with K = 10.75 (ABYC E-11), 7 in of link and 12 in
/// of cable to the switch.
#[test]
fn a_feeder_counts_the_cables_before_it() {
    let with = taken(&one_load());
    let bank = row(&with["banks"], "bank", "house");
    near(&bank["before_feeders"][0]["counted_ft"], 19.0 / 12.0, 1e-3);
    let feeder = row(&with["cut_list"], "label", "F1+");
    // Areas of NEC Chapter 9 Table 8.
    let area = |gauge: &Value| match gauge.as_str().unwrap() {
        "16 AWG" => 2580.0,
        "14 AWG" => 4110.0,
        "12 AWG" => 6530.0,
        "10 AWG" => 10380.0,
        "8 AWG" => 16510.0,
        "6 AWG" => 26240.0,
        other => panic!("{other}"),
    };
    let feet = feeder["carrying_length"]["value"].as_f64().unwrap();
    let before = 19.0 / 12.0 / area(&bank["before_feeders"][0]["gauge"]);
    near(&feeder["drop_v"], 10.75 * 10.0 * (feet / area(&feeder["gauge"]) + before), 1e-3);
    let mut spec = one_load();
    spec["power"]["banks"][0]["switch"] = json!({"provision": "none"});
    let without = taken(&spec);
    assert!(without["banks"][0].get("switch").is_none());
    assert_eq!(without["banks"][0]["before_feeders"], json!([]));
}

#[test]
fn a_bank_of_several_panels_has_a_main_of_its_own_and_a_feed_bus() {
    let mut spec = small_boat(json!([
        {"id": "a", "sku": "LOAD-10", "quantity": 2, "station": "helm", "panel": "helm_panel"},
        {"id": "b", "sku": "LOAD-5", "quantity": 2, "station": "aft_bilge", "panel": "aft_panel"}
    ]));
    let panel = json!({"id": "aft_panel", "station": "aft_bilge", "bank": "house"});
    spec["power"]["panels"].as_array_mut().unwrap().push(panel);
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    // Two times 10 A for hours at 125 % and 10 A of occasional loads, of which the largest counts in full: 30 A.
    near(&bank["main"]["load_needs_a"], 30.0, 1e-9);
    let main = bank["main"]["rating_a"].as_f64().unwrap();
    for feeder in taken["feeders"].as_array().unwrap() {
        assert!(feeder["protection"]["rating_a"].as_f64().unwrap() <= main, "{feeder:#}");
        assert_eq!(
            row(&taken["cut_list"], "label", feeder["conductors"][0].as_str().unwrap())["from"]["lands_on"],
            "feed_fuse"
        );
    }
    assert_eq!(needs(&taken, "bus").len(), 1);
    row(&taken["cut_list"], "label", "B1F");
}

/// Four terminals a stud, as two trade articles on ABYC E-11 say: over it a bus takes its place.
#[test]
fn more_terminals_than_a_stud_takes_ask_for_a_bus() {
    for panels in [4, 5] {
        let mut spec = small_boat(json!([]));
        let id = |n: usize| if n == 0 { "helm_panel".to_owned() } else { format!("p{n}") };
        spec["power"]["panels"] =
            (0..panels).map(|n| json!({"id": id(n), "station": "helm", "bank": "house"})).collect();
        spec["equipment"] = (0..panels)
            .map(|n| json!({"id": format!("e{n}"), "sku": "LOAD-5", "quantity": 1, "station": "helm", "panel": id(n)}))
            .collect();
        let taken = taken(&spec);
        let on_bus = taken["cut_list"].as_array().unwrap().iter().any(|line| line["label"] == "B1N");
        assert_eq!(on_bus, panels > 4, "{panels} panels");
        let lands_on = &row(&taken["cut_list"], "label", "F1-")["from"]["lands_on"];
        assert_eq!(lands_on, if on_bus { "bank_negative_bus" } else { "battery_negative" });
        // The largest terminal goes at the bottom.
        for stack in taken["banks"][0]["studs"].as_array().unwrap() {
            assert!(stack["terminals"].as_array().unwrap().len() <= 5, "{stack:#}");
        }
    }
}

#[test]
fn more_always_on_circuits_than_a_stud_takes_ask_for_a_block() {
    for pumps in [3, 4] {
        let taken =
            taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": pumps, "station": "aft_bilge"}])));
        let block = needs(&taken, "fuse_block");
        let holders = needs(&taken, "fuse_holder");
        let blade = holders.iter().filter(|holder| holder["need"]["family"] == "blade").count();
        // The lead of a holder and the cable from the post share the stud of the always-on main: three holders, no more.
        assert_eq!((block.len(), blade), if pumps > 3 { (1, 0) } else { (0, 1) }, "{pumps} pumps");
        assert_eq!(taken["cut_list"].as_array().unwrap().iter().any(|line| line["label"] == "B1B"), pumps > 3);
    }
}

/// A switch is asked for above 800 cold-cranking amperes (ABYC E-11, from memory).
#[test]
fn a_strong_bank_without_a_switch_is_unwise() {
    for (cranking_a, warned) in [(800, false), (801, true)] {
        let mut spec = one_load();
        spec["power"]["banks"][0]["cold_cranking_a"] = json!(cranking_a);
        spec["power"]["banks"][0]["switch"] = json!({"provision": "none"});
        let taken = taken(&spec);
        let warnings = taken["warnings"].as_array().unwrap();
        assert_eq!(warnings.iter().any(|w| w["message"].as_str().unwrap().contains("no switch")), warned);
    }
}

#[test]
fn faults_of_a_switch_are_told_at_once() {
    let mut spec = one_load();
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "island"}));
    spec["power"]["banks"][0]["switch"] = json!({"provision": "none", "sku": "LOAD-5", "station": "nowhere"});
    let faults = run(&spec).unwrap_err();
    for pointer in ["provision", "sku", "station"].map(|field| format!("/power/banks/0/switch/{field}")) {
        assert!(faults.iter().any(|fault| fault.pointer == pointer), "{pointer}: {faults:#?}");
    }
    spec["power"]["banks"][0]["switch"] = json!({"station": "island"});
    let faults = run(&spec).unwrap_err();
    assert!(faults.iter().any(|fault| fault.message.contains("switch at 'island'")), "{faults:#?}");
}
