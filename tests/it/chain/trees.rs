//! Panels fed by panels, and buses that lead to buses: laid, analysed, sized together, protected, refused.

use serde_json::{Value, json};

use super::{near, row, run, small_boat, taken};

/// The small boat with a locker 8 ft from the helm, where a sub-panel of the helm's panel is.
fn with_sub_panel(equipment: Value) -> Value {
    let mut spec = small_boat(equipment);
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "locker"}));
    let run = json!({"from": "helm", "to": "locker", "length": {"value": 8, "unit": "ft"}});
    spec["boat"]["runs"].as_array_mut().unwrap().push(run);
    let sub_panel = json!({"id": "locker_panel", "station": "locker", "fed_from": "helm_panel"});
    spec["power"]["panels"].as_array_mut().unwrap().push(sub_panel);
    spec
}

fn load(id: &str, sku: &str, station: &str, panel: &str) -> Value {
    json!({"id": id, "sku": sku, "quantity": 1, "station": station, "panel": panel})
}

#[test]
fn a_sub_panels_feeder_runs_from_the_panel_that_feeds_it() {
    let taken = taken(&with_sub_panel(json!([load("light", "LIGHT-1", "locker", "locker_panel")])));
    assert_eq!(taken["gaps"], json!([]));
    let (main, sub) = (&taken["feeders"][0], &taken["feeders"][1]);
    assert_eq!((&main["panel"], &sub["panel"]), (&json!("helm_panel"), &json!("locker_panel")));
    assert!(main.get("fed_from").is_none());
    assert_eq!(sub["fed_from"], "helm_panel");
    let positive = row(&taken["cut_list"], "label", "F2+");
    assert_eq!(positive["route"], json!(["helm", "locker"]));
    assert_eq!(positive["from"]["lands_on"], "sub_main");
    // The return of its own bus leads to the bus of the panel that feeds it.
    let back = row(&taken["cut_list"], "label", "F2-");
    assert_eq!(back["from"]["station"], "helm");
    assert_eq!((&back["from"]["lands_on"], &back["to"]["lands_on"]), (&json!("bus_main"), &json!("bus_main")));
    assert_eq!(sub["protection"]["station"], "helm");
    assert_eq!(main["protection"]["station"], "battery_bay");
}

/// The method of ABYC E-11, from memory: the sum of column A, and the larger of a tenth of column B and its largest item.
/// No numeric example was found in print, so these are constructed. Each item counts once on every panel above it.
#[test]
fn load_analysis_counts_each_item_once_on_every_panel_above_it() {
    let taken = taken(&with_sub_panel(json!([
        load("plotter", "LOAD-10", "helm", "helm_panel"),   // always 10 A
        load("winch", "LOAD-20", "locker", "locker_panel"), // occasional 20 A
        load("outlet", "LOAD-5", "locker", "locker_panel"), // occasional 5 A
        load("lights", "NAV-1", "locker", "locker_panel")   // always 1 A
    ])));
    let (main, sub) = (&taken["feeders"][0], &taken["feeders"][1]);
    near(&sub["always_a"], 1.0, 1e-9);
    near(&sub["occasional_a"], 25.0, 1e-9);
    near(&sub["largest_occasional_a"], 20.0, 1e-9);
    near(&sub["design_current_a"], 1.0 + 20.0, 1e-9);
    near(&main["always_a"], 11.0, 1e-9);
    near(&main["design_current_a"], 11.0 + 20.0, 1e-9);
    for (key, column) in [("plotter", "always"), ("winch", "occasional"), ("lights", "always")] {
        assert_eq!(row(&taken["circuits"], "key", key)["load_column"], column);
    }
}

/// A tenth of column B decides where there is much of it: 24 loads of 5 A and none larger give 12 A (constructed).
#[test]
fn a_tenth_of_the_occasional_loads_decides_where_they_are_many() {
    let many = json!({"id": "outlets", "sku": "LOAD-5", "quantity": 24, "station": "helm", "panel": "helm_panel"});
    let taken = taken(&small_boat(json!([many])));
    near(&taken["feeders"][0]["occasional_a"], 120.0, 1e-9);
    near(&taken["feeders"][0]["design_current_a"], 12.0, 1e-9);
}

/// ABYC E-11 Table V-A at 12 V and 651 to 1100 A of cold cranking: 3000 A for the first device, 1500 A for every later one,
/// sub-mains included. A blade fuse breaks 1000 A, so it is none here.
#[test]
fn a_sub_main_interrupts_what_a_branch_must() {
    let taken = taken(&with_sub_panel(json!([load("light", "LIGHT-1", "locker", "locker_panel")])));
    let device = |feeder: usize| &taken["feeders"][feeder]["protection"];
    near(&device(0)["interrupt_a_min"], 3000.0, 1e-9);
    near(&device(1)["interrupt_a_min"], 1500.0, 1e-9);
    assert_ne!(device(1)["family"], "blade");

    let mut breakers = with_sub_panel(json!([load("light", "LIGHT-1", "locker", "locker_panel")]));
    breakers["power"]["panels"][0]["protection"] = json!("breaker");
    let taken = super::taken(&breakers);
    let device = &taken["feeders"][1]["protection"];
    assert_eq!((&device["breaker"], device.get("family")), (&json!(true), None));
    near(&device["interrupt_a_min"], 1500.0, 1e-9);
}

/// A sub-main is no smaller than the devices behind it, and the main no smaller than the sub-main.
#[test]
fn devices_grow_towards_the_bank() {
    let taken = taken(&with_sub_panel(json!([load("strong", "STRONG-FUSE", "locker", "locker_panel")])));
    let rating = |device: &Value| device["rating_a"].as_f64().unwrap();
    let branch = rating(&taken["circuits"][0]["protection"][0]);
    let (main, sub) = (rating(&taken["feeders"][0]["protection"]), rating(&taken["feeders"][1]["protection"]));
    assert!(branch <= sub && sub <= main, "{branch} A, {sub} A, {main} A");
}

/// The limit holds from bank to device over all feeders; each feeder has its own.
#[test]
fn the_limit_holds_from_bank_to_device_over_two_feeders() {
    let taken = taken(&with_sub_panel(json!([
        load("plotter", "LOAD-10", "locker", "locker_panel"),
        load("light", "LIGHT-1", "aft_bilge", "helm_panel"),
        load("pump", "PUMP-AUTO", "locker", "locker_panel")
    ])));
    assert_eq!(taken["gaps"], json!([]));
    let drop = |label: &str| row(&taken["cut_list"], "label", label)["drop_v"].as_f64().unwrap();
    let circuit = row(&taken["circuits"], "key", "plotter");
    let number = circuit["number"].as_str().unwrap();
    let volts: f64 = ["F1+", "F1-", "F2+", "F2-"].iter().map(|label| drop(label)).sum();
    let volts = volts + drop(&format!("{number}+")) + drop(&format!("{number}-"));
    near(&circuit["drop_percent"], 100.0 * volts / 12.0, 0.01);
    assert!(circuit["drop_percent"].as_f64().unwrap() <= 3.0);
    for feeder in taken["feeders"].as_array().unwrap() {
        assert!(feeder["drop_percent"].as_f64().unwrap() <= 3.0, "{feeder:#}");
    }
    near(
        &taken["feeders"][1]["drop_from_bank_percent"],
        100.0 * ["F1+", "F1-", "F2+", "F2-"].iter().map(|l| drop(l)).sum::<f64>() / 12.0,
        0.01,
    );
    // Sizing all together never takes more than the plain choice.
    let copper = &taken["copper"];
    assert_eq!(copper["proved"], true);
    if let Some(plain) = copper["even_split_cmil_ft"].as_f64() {
        assert!(copper["least_cmil_ft"].as_f64().unwrap() <= plain);
    }
}

/// A sub-panel on the bus of the panel that feeds it has no return of its own; its circuits come back to that bus.
#[test]
fn a_sub_panel_may_use_the_bus_of_the_panel_that_feeds_it() {
    let mut spec = with_sub_panel(json!([load("light", "LIGHT-1", "locker", "locker_panel")]));
    spec["power"]["buses"] = json!([{"id": "helm_bus", "station": "helm"}]);
    for panel in spec["power"]["panels"].as_array_mut().unwrap() {
        panel["negative_bus"] = json!("helm_bus");
    }
    let taken = taken(&spec);
    assert_eq!(taken["feeders"][1]["conductors"], json!(["F2+"]));
    assert_eq!(row(&taken["cut_list"], "label", "C01-")["route"], json!(["helm", "locker"]));
    near(&row(&taken["cut_list"], "label", "F1-")["design_current_a"], 1.0, 1e-9);
}

/// A bus between: the helm's bus leads to one in the battery bay, and that to the bank.
#[test]
fn a_bus_leads_to_a_bus() {
    let mut spec = small_boat(json!([load("light", "LOAD-10", "helm", "helm_panel")]));
    spec["power"]["buses"] = json!([
        {"id": "helm_bus", "station": "helm", "leads_to": "main_bus"}, {"id": "main_bus", "station": "battery_bay"}
    ]);
    spec["power"]["panels"][0]["negative_bus"] = json!("helm_bus");
    let taken = taken(&spec);
    assert_eq!(taken["feeders"][0]["conductors"], json!(["F1+", "F1-", "F1-2"]));
    let last = row(&taken["cut_list"], "label", "F1-2");
    assert_eq!((&last["from"]["lands_on"], &last["to"]["lands_on"]), (&json!("battery_negative"), &json!("bus_main")));
    assert!(taken["feeders"][0]["drop_percent"].as_f64().unwrap() <= 3.0);
}

#[test]
fn everything_wrong_with_a_tree_is_told_at_once() {
    let mut spec = small_boat(json!([]));
    spec["power"]["banks"]
        .as_array_mut()
        .unwrap()
        .push(json!({"id": "bow", "station": "helm", "nominal_voltage_v": 12}));
    spec["power"]["panels"] = json!([
        {"id": "a", "station": "helm", "fed_from": "b"},
        {"id": "b", "station": "helm", "fed_from": "a"},
        {"id": "c", "station": "helm"},
        {"id": "d", "station": "helm", "bank": "house", "fed_from": "e"},
        {"id": "e", "station": "helm", "bank": "house"},
        {"id": "f", "station": "helm", "fed_from": "nothing"},
        {"id": "g", "station": "helm", "bank": "house", "negative_bus": "round"},
        {"id": "h", "station": "helm", "bank": "bow", "negative_bus": "of_house"},
        {"id": "i", "station": "helm", "bank": "house", "negative_bus": "lost"}
    ]);
    spec["power"]["buses"] = json!([
        {"id": "round", "station": "helm", "leads_to": "about"},
        {"id": "about", "station": "helm", "leads_to": "round"},
        {"id": "of_house", "station": "helm", "leads_to": "house"},
        {"id": "lost", "station": "helm", "leads_to": "nowhere"},
        {"id": "idle", "station": "helm"}
    ]);
    let faults = run(&spec).expect_err("the spec has faults");
    for (pointer, says) in [
        ("/power/panels/0/fed_from", "feeds itself (a from b from a)"),
        ("/power/panels/1/fed_from", "feeds itself"),
        ("/power/panels/2", "nothing feeds the panel 'c'"),
        ("/power/panels/3/fed_from", "leave one out"),
        ("/power/panels/5/fed_from", "there is no panel 'nothing'"),
        ("/power/panels/7/negative_bus", "'house' and 'bow'"),
        ("/power/buses/0/leads_to", "no path to a battery"),
        ("/power/buses/1/leads_to", "no path to a battery"),
        ("/power/buses/3/leads_to", "there is no bus 'nowhere'"),
        ("/power/buses/4", "no panel uses the bus 'idle'"),
    ] {
        let told = faults.iter().any(|fault| fault.pointer == pointer && fault.message.contains(says));
        assert!(told, "{pointer} '{says}' is missing from {faults:#?}");
    }
}

/// A circle of panels, a bus with no path, a bank without a battery, one that is not there and a hull that is none:
/// nothing hides the rest.
#[test]
fn faults_of_hull_panels_buses_and_banks_are_told_together() {
    let mut spec = small_boat(json!([load("light", "LIGHT-1", "helm", "helm_panel")]));
    spec["boat"]["hull_length"] = json!({"value": 2200, "unit": "ft"});
    spec["power"]["banks"][0]["batteries"] = json!([]);
    spec["power"]["panels"] = json!([
        {"id": "helm_panel", "station": "helm", "fed_from": "cabin_panel", "negative_bus": "round"},
        {"id": "cabin_panel", "station": "aft_bilge", "fed_from": "helm_panel"},
        {"id": "bow_panel", "station": "helm", "bank": "bow"}
    ]);
    spec["power"]["buses"] = json!([{"id": "round", "station": "helm", "leads_to": "round"}]);
    let faults = run(&spec).expect_err("the spec has faults");
    for (pointer, says) in [
        ("/boat/hull_length", "hull length"),
        ("/power/banks/0/batteries", "has no battery"),
        ("/power/panels/0/fed_from", "feed one of them from a bank"),
        ("/power/panels/1/fed_from", "feed one of them from a bank"),
        ("/power/panels/2/bank", "there is no bank 'bow'"),
        ("/power/buses/0/leads_to", "no path to a battery"),
    ] {
        let told = faults.iter().any(|fault| fault.pointer == pointer && fault.message.contains(says));
        assert!(told, "{pointer} '{says}' is missing from {faults:#?}");
    }
}

#[test]
fn nine_panels_in_a_row_are_too_many() {
    let mut spec = small_boat(json!([]));
    let row: Vec<Value> = (0..9)
        .map(|n| match n {
            0 => json!({"id": "p0", "station": "helm", "bank": "house"}),
            n => json!({"id": format!("p{n}"), "station": "helm", "fed_from": format!("p{}", n - 1)}),
        })
        .collect();
    spec["power"]["panels"] = Value::Array(row);
    let faults = run(&spec).expect_err("the spec has faults");
    assert_eq!(faults.len(), 1, "{faults:#?}");
    assert_eq!(faults[0].pointer, "/power/panels/8/fed_from");
    spec["power"]["panels"].as_array_mut().unwrap().pop();
    assert!(run(&spec).is_ok());
}

#[test]
fn a_sub_feeder_can_be_overruled_by_its_key() {
    let mut spec = with_sub_panel(json!([load("plotter", "LOAD-5", "locker", "locker_panel")]));
    spec["overrules"] = json!([{"what": "conductor", "circuit": "feeder/locker_panel", "gauge": "4 AWG", "reason": "Drum on the shelf"}]);
    let taken = taken(&spec);
    for label in ["F2+", "F2-"] {
        let wire = row(&taken["cut_list"], "label", label);
        assert_eq!((&wire["gauge"], &wire["limited_by"]), (&json!("4 AWG"), &json!("overrule")));
    }
    row(&taken["overrules"], "about", "feeder/locker_panel");
}
