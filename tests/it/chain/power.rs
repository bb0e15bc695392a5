//! Between battery post and feeders: main before the switch, what the feeders count of it, studs.

use serde_json::{Value, json};

use rigbill::calc::chain::take_off;
use rigbill::calc::units::WireSize;

use super::{near, row, run, shop, small_boat, taken};

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
    near(&bank["counted_before"][0]["counted_ft"], 19.0 / 12.0, 1e-3);
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
    let before = 19.0 / 12.0 / area(&bank["counted_before"][0]["gauge"]);
    near(&feeder["drop_v"], 10.75 * 10.0 * (feet / area(&feeder["gauge"]) + before), 1e-3);
    let mut spec = one_load();
    spec["power"]["banks"][0]["switch"] = json!({"provision": "none"});
    let without = taken(&spec);
    assert!(without["banks"][0].get("switch").is_none());
    assert_eq!(without["banks"][0]["counted_before"], json!([]));
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

/// What a conductor counts of the cables before it, feet.
fn counted<'a>(taken: &'a Value, conductor: &str) -> &'a Value {
    &row(&row(&taken["banks"], "bank", "house")["counted_before"], "conductor", conductor)["counted_ft"]
}

/// From one battery to the next in the same bay it is 2.5 ft (common practice). Both cables of two strings may come off the
/// same battery, so that one link counts at all of the current; the two jumpers of a string carry all of it.
#[test]
fn jumpers_and_links_count_in_the_drop() {
    let mut two = one_load();
    two["power"]["banks"][0]["batteries"] = json!([{"sku": "BAT-500", "quantity": 2}]);
    let two = taken(&two);
    near(counted(&two, "F1-"), 2.5, 1e-3);
    let mut three = small_boat(json!([{"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"}]));
    let bank = &mut three["power"]["banks"][0];
    bank["nominal_voltage_v"] = json!(36);
    bank["batteries"] = json!([{"sku": "BAT-100", "quantity": 3}]);
    three["power"]["panels"][0]["protection"] = json!("breaker");
    let three = taken(&three);
    near(counted(&three, "F1-"), 5.0, 1e-3);
    // They are no thinner than what is counted, and of one gauge.
    for taken in [&two, &three] {
        let before = row(&row(&taken["banks"], "bank", "house")["counted_before"], "conductor", "F1-");
        let size = |value: &Value| value.as_str().unwrap().parse::<WireSize>().unwrap();
        for jumper in taken["cut_list"].as_array().unwrap() {
            if ["series_jumper", "parallel_link"].contains(&jumper["role"].as_str().unwrap()) {
                assert!(size(&jumper["gauge"]).at_least(size(&before["gauge"])), "{jumper:#}");
                near(&jumper["installed_length"]["value"], 2.5, 1e-3);
            }
        }
    }
}

/// Four pumps on one block: 12 in of cable to it at the current of all four, so 4 ft at that of one. Its main fuse is a
/// terminal cube, which sits on the post.
#[test]
fn an_always_on_circuit_counts_the_cable_to_its_block() {
    let taken = taken(&small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 4, "station": "aft_bilge"}])));
    near(counted(&taken, "C01+A"), 4.0, 1e-3);
    let cable = row(&taken["cut_list"], "label", "B1B");
    near(&cable["design_current_a"], 16.0, 1e-9);
}

/// A sub-panel's feeder starts at the panel that feeds it: it has no main at the bank and nothing of the bank before it.
#[test]
fn only_what_the_bank_feeds_itself_counts_at_the_bank() {
    let mut spec = small_boat(json!([
        {"id": "a", "sku": "LOAD-10", "quantity": 1, "station": "helm", "panel": "helm_panel"},
        {"id": "b", "sku": "LOAD-5", "quantity": 1, "station": "aft_bilge", "panel": "aft_panel"}
    ]));
    let panel = json!({"id": "aft_panel", "station": "aft_bilge", "fed_from": "helm_panel"});
    spec["power"]["panels"].as_array_mut().unwrap().push(panel);
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    assert_eq!(bank["main"], row(&taken["feeders"], "panel", "helm_panel")["protection"]);
    assert_eq!(needs(&taken, "bus").len(), 0);
    let labels: Vec<&str> =
        bank["counted_before"].as_array().unwrap().iter().map(|c| c["conductor"].as_str().unwrap()).collect();
    assert_eq!(labels, [row(&taken["feeders"], "panel", "helm_panel")["conductors"][0].as_str().unwrap()]);
    // One return comes to the post.
    let negative = bank["studs"].as_array().unwrap().iter().find(|s| s["place"] == "house negative post").unwrap();
    assert_eq!(negative["terminals"].as_array().unwrap().len(), 1, "{negative:#}");
}

/// What only starts the engine feeds no panel and still has a switch; its cable has no overcurrent device (ABYC E-11, as
/// quoted in the trade). 200 A are reckoned with (common practice).
#[test]
fn a_bank_that_only_starts_the_engine_has_a_switch() {
    let start = |switch: Value| {
        let mut spec = one_load();
        let mut bank = json!({
            "id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "cold_cranking_a": 900, "starts_engine": true
        });
        if !switch.is_null() {
            bank["switch"] = switch;
        }
        spec["power"]["banks"].as_array_mut().unwrap().push(bank);
        taken(&spec)
    };
    let fitted = start(Value::Null);
    let bank = row(&fitted["banks"], "bank", "start");
    near(&bank["switch"]["rating_a_min"], 200.0, 0.0);
    assert!(bank.get("main").is_none());
    let cable = row(&fitted["cut_list"], "role", "cranking_cable");
    assert_eq!(
        (&cable["from"]["lands_on"], &cable["to"]["lands_on"]),
        (&json!("battery_positive"), &json!("battery_switch"))
    );
    // 2 AWG carries 210 A at 105 °C (ABYC E-11, published ampacities); 4 AWG 160 A.
    assert_eq!(cable["gauge"], "2 AWG");
    assert_eq!(
        needs(&fitted, "battery_switch").iter().map(|n| n["quantity"].as_str().unwrap()).collect::<Vec<_>>().len(),
        2
    );
    assert!(fitted["questions"].as_array().unwrap().iter().any(|q| q["id"] == "cranking_cable"));
    let aboard = start(json!({"provision": "aboard"}));
    assert!(aboard["cut_list"].as_array().unwrap().iter().all(|line| line["role"] != "cranking_cable"));
    // Above 800 cold-cranking amperes a switch is asked for (ABYC E-11, from memory).
    let without = start(json!({"provision": "none"}));
    let unwise = |w: &Value| w["about"] == "start" && w["message"].as_str().unwrap().contains("no switch");
    assert!(without["warnings"].as_array().unwrap().iter().any(unwise));
}

/// 200 A are reckoned with for the starter of an outboard (common practice); an inboard's may draw more.
#[test]
fn an_inboards_starter_is_warned_about() {
    let warned = |propulsion: &str, starts_engine: bool| {
        let mut spec = one_load();
        spec["boat"]["propulsion"] = json!(propulsion);
        spec["power"]["banks"].as_array_mut().unwrap().push(json!({
            "id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "cold_cranking_a": 900,
            "starts_engine": starts_engine
        }));
        let taken = taken(&spec);
        let about = |w: &&Value| w["message"].as_str().unwrap().contains("an inboard's may draw more");
        let found: Vec<Value> = taken["warnings"].as_array().unwrap().iter().filter(about).cloned().collect();
        assert!(found.iter().all(|warning| warning["about"] == "start"), "{found:#?}");
        found.len()
    };
    assert_eq!([warned("diesel_inboard", true), warned("petrol_inboard", true)], [1, 1]);
    assert_eq!([warned("outboard", true), warned("diesel_inboard", false)], [0, 0]);
}

/// Four terminals a stud: a charger's three leads, a combiner's and the main are five, and stand on a bus at the post.
#[test]
fn a_crowded_positive_post_has_a_bus_whose_link_counts() {
    let mut spec = small_boat(json!([
        {"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"},
        {"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"},
        {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
    ]));
    spec["power"]["alternator_a"] = json!(60);
    for id in ["a", "z"] {
        // Before and after it by name, so that it has a combiner to either side.
        let other = json!({"id": id, "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600});
        spec["power"]["banks"].as_array_mut().unwrap().push(other);
    }
    let taken = taken(&spec);
    let bank = row(&taken["banks"], "bank", "house");
    // Main, always-on main, charger lead, two combiners.
    let stack = &bank["studs"][0];
    assert_eq!((stack["terminals"].as_array().unwrap().len(), &stack["bus"]), (5, &json!(true)), "{stack:#}");
    row(&taken["cut_list"], "label", "B2P");
    // Three links of 7 in, to the main before the bus, to the bus and to the main on it, and 12 in to the switch.
    near(counted(&taken, "F1+"), 33.0 / 12.0 * bank["design_current_a"].as_f64().unwrap() / 14.0, 1e-3);
}

#[test]
fn a_boat_may_ask_for_metric_wire_of_a_shop_that_keeps_both() {
    let mut spec = one_load();
    spec["boat"]["wire_standard"] = json!("metric");
    spec["boat"]["length_unit"] = json!("m");
    let faults = run(&spec).unwrap_err();
    assert!(faults.iter().any(|fault| fault.pointer == "/boat/wire_standard"), "{faults:#?}");
    let mut shop = shop::shop();
    let mut settings = (*shop.settings).clone();
    settings.other_sizes = [150, 250, 400, 600, 1000, 1600].map(WireSize::Metric).to_vec();
    shop.settings = std::sync::Arc::new(settings);
    let taken = take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap();
    let taken = serde_json::to_value(taken).unwrap();
    for line in taken["cut_list"].as_array().unwrap() {
        assert!(line["gauge"].as_str().unwrap().ends_with(" mm2"), "{line:#}");
        assert_eq!(line["cut_length"]["unit"], "m");
    }
}
