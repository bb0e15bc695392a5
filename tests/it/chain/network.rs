//! The data network on small boats whose figures can be followed by hand; limits are those of `reference/data/network.csv`.

use std::sync::Arc;

use rigbill::calc::chain::take_off;
use rigbill::calc::findings::Fault;
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::catalogue::Catalogue;
use rigbill::calc::shop::item::Item;
use rigbill::calc::shop::labour::LabourOperation;
use rigbill::calc::spec::input::BoatSpecInput;
use serde_json::{Value, json};

use super::power::needs;
use super::{near, row, shop};
use crate::reevaluate::check_basis_with;

/// An item that is wired or not, with what it is on the network and the cables that it comes with.
pub fn networked(sku: &str, leads: Value, more: &Value) -> Value {
    let mut item = json!({
        "sku": sku, "description": sku, "category": "electronics", "selling_unit": "each", "buying_unit": "each",
        "buying_quantity": "1",
        "attributes": {
            "kind": "device", "function": "navigation_electronics", "rated_voltage_v": 12, "nominal_voltages_v": [12],
            "leads": leads
        }
    });
    if item["attributes"]["leads"] == json!([]) {
        item["attributes"]["unwired"] = json!(true);
    }
    for (name, value) in more.as_object().expect("attributes") {
        item["attributes"][name] = value.clone();
    }
    item
}

/// The small shop with devices for the network: of 1 and of 7 LEN, one that is wired, displays, and one on its tee.
pub fn networked_shop(more: Vec<Value>) -> Shop {
    let on = |network: Value| json!({ "data_network": network });
    let leads = json!([{"role": "switched_positive", "current_a": 2.0}, {"role": "return"}]);
    let own = vec![
        networked("N1", json!([]), &on(json!({"load_equivalency": 1}))),
        networked("N7", json!([]), &on(json!({"load_equivalency": 7}))),
        networked("N20", json!([]), &on(json!({"load_equivalency": 20}))),
        networked("PLOTTER", leads, &on(json!({"load_equivalency": 1, "display_plug": "P5"}))),
        networked("TANK", json!([]), &on(json!({"load_equivalency": 1, "on_tee": true, "terminator": true}))),
        networked(
            "OWN-DROP",
            json!([]),
            &on(json!({"load_equivalency": 1, "drop_supplied": {"value": 3, "unit": "m"}})),
        ),
        networked("OWN-6", json!([]), &on(json!({"load_equivalency": 1, "drop_supplied": {"value": 6, "unit": "m"}}))),
        networked(
            "OWN-31",
            json!([]),
            &on(json!({"load_equivalency": 1, "drop_supplied": {"value": 3.1, "unit": "m"}})),
        ),
    ];
    let shop = shop::shop();
    let read = |item: Value| serde_json::from_value::<Item>(item).expect("a test item can be read");
    let items = shop.catalogue.items().iter().map(|item| (**item).clone());
    let items: Vec<Item> = items.chain(own.into_iter().chain(more).map(read)).collect();
    let operation = |code: &str| {
        serde_json::from_value::<LabourOperation>(json!({
            "code": code, "description": code, "driver": code, "low_min": 4.0, "likely_min": 6.0, "high_min": 10.0
        }))
        .expect("a test operation can be read")
    };
    let operations = shop.labour_operations.iter().cloned();
    let operations = operations.chain(["network_tee", "network_power_tap"].map(operation)).collect();
    Shop { catalogue: Arc::new(Catalogue::new(items)), labour_operations: Arc::new(operations), ..shop }
}

/// Stations along a line, so many metres apart; bank and panel at the first.
pub fn line_boat(apart_m: &[f64], equipment: Value) -> Value {
    let id = |n: usize| if n == 0 { "helm".to_owned() } else { format!("s{n}") };
    let runs = apart_m
        .iter()
        .enumerate()
        .map(|(n, apart)| json!({"from": id(n), "to": id(n + 1), "length": {"value": apart, "unit": "m"}}));
    json!({
        "boat": {
            "name": "Test boat", "job_type": "first_rig", "propulsion": "diesel_inboard", "length_unit": "m",
            "stations": (0..=apart_m.len()).map(|n| json!({"id": id(n)})).collect::<Vec<_>>(),
            "runs": runs.collect::<Vec<_>>()
        },
        "power": {
            "banks": [{"id": "house", "station": "helm", "nominal_voltage_v": 12, "cold_cranking_a": 800}],
            "panels": [{"id": "helm_panel", "station": "helm", "bank": "house"}]
        },
        "equipment": equipment
    })
}

pub fn at(sku: &str, quantity: u32, station: &str) -> Value {
    json!({"id": format!("{}-{station}", sku.to_lowercase()), "sku": sku, "quantity": quantity, "station": station})
}

pub fn run_in(shop: &Shop, spec: &Value) -> Result<Value, Vec<Fault>> {
    let input: BoatSpecInput = serde_json::from_value(spec.clone()).expect("the spec of a test can be read");
    let json = serde_json::to_value(take_off(&input, shop)?).unwrap();
    let ratings = shop.settings.branch_ratings_a.clone();
    check_basis_with(&json["basis"], |rule, inputs| crate::reevaluate::evaluate_chain(rule, inputs, &ratings));
    Ok(json)
}

fn taken(spec: &Value) -> Value {
    run_in(&networked_shop(Vec::new()), spec).unwrap_or_else(|faults| panic!("faults: {faults:#?}"))
}

fn gaps(taken: &Value) -> Vec<&str> {
    taken["gaps"].as_array().unwrap().iter().map(|gap| gap["what"].as_str().unwrap()).collect()
}

fn count(taken: &Value, kind: &str) -> f64 {
    needs(taken, kind).iter().map(|need| need["quantity"].as_str().unwrap().parse::<f64>().unwrap()).sum()
}

#[test]
fn one_device_alone_makes_no_network_and_two_do() {
    let alone = taken(&line_boat(&[9.0], json!([at("PLOTTER", 1, "helm")])));
    assert!(alone.get("network").is_none() && needs(&alone, "network_tee").is_empty());
    let both = taken(&line_boat(&[9.0], json!([at("PLOTTER", 1, "helm"), at("N1", 1, "s1")])));
    let network = &both["network"];
    assert_eq!(network["tee_stations"], json!(["helm", "s1"]));
    assert_eq!(gaps(&both), [""; 0]);
    // 9 m measured with the 10 % of the starting settings, and a service loop of 8 in.
    near(&network["spans"][0]["needed_length"]["value"], 9.0 * 1.1 + 0.2032, 1e-3);
    // Kept lengths end at 10 m: one of that, and the rest of 0.1032 m by the shortest.
    assert_eq!(network["spans"][0]["pieces"], json!([{"value": 10.0, "unit": "m"}, {"value": 0.5, "unit": "m"}]));
    // Devices and the power tap each have a tee (a network cable maker's guide); two terminators.
    assert_eq!((count(&both, "network_tee"), count(&both, "network_terminator")), (3.0, 2.0));
    assert_eq!(count(&both, "network_power_tap"), 1.0);
    let labour = &both["labour"]["operations"];
    assert_eq!(row(labour, "operation", "network_tee")["count"], "3");
    assert_eq!(row(labour, "operation", "network_power_tap")["count"], "1");
    // Its cable is pulled with the rest.
    assert!(row(&both["runs"], "to", "s1")["other_cables"].as_array().unwrap().contains(&json!("N1")));
}

/// The tap is a circuit like any other: in its panel, on a 3 A fuse as makers' manuals of small networks have it, orange as
/// ABYC E-11 Table XIV has accessories, at 3 %.
#[test]
fn the_power_tap_goes_through_the_ordinary_chain() {
    let taken = taken(&line_boat(&[4.0], json!([at("PLOTTER", 1, "helm"), at("N7", 2, "s1")])));
    let circuit = row(&taken["circuits"], "key", "network/power");
    near(&circuit["design_current_a"], 15.0 * 0.05, 1e-9);
    near(&circuit["protection"][0]["rating_a"], 3.0, 0.0);
    near(&circuit["drop_limit_percent"], 3.0, 0.0);
    assert!(circuit.get("sku").is_none());
    let positive = row(&taken["cut_list"], "label", circuit["conductors"][0].as_str().unwrap());
    assert_eq!(positive["colour"], "orange");
    let power = &taken["network"]["power"];
    assert_eq!((&power["feed"], &power["station"]), (&json!("end"), &json!("helm")));
    let leg = &power["legs"][0];
    let tap_v = circuit["loaded_voltage_v"].as_f64().unwrap();
    near(&leg["end_voltage_v"], tap_v - leg["drop_v"].as_f64().unwrap(), 2e-3);
    // Nobody buys the tap as the item that its circuit stands for.
    assert!(needs(&taken, "item").iter().all(|need| need["need"]["sku"] != "network/power"));
}

/// 0.1 x LEN x metres x ohm a metre (a radar maker's and a network cable maker's guides): where the end does not hold, the
/// middle may.
#[test]
fn a_middle_feed_takes_the_place_of_an_end_that_loses_too_much() {
    let spec =
        |apart: f64| line_boat(&[apart, apart], json!([at("N7", 1, "helm"), at("N1", 1, "s1"), at("N7", 1, "s2")]));
    let near_by = taken(&spec(6.5));
    assert_eq!(near_by["network"]["power"]["feed"], "end");
    let far = taken(&spec(12.0));
    let power = &far["network"]["power"];
    assert_eq!((&power["feed"], &power["station"]), (&json!("middle"), &json!("s1")));
    assert_eq!(gaps(&far), [""; 0]);
    for leg in power["legs"].as_array().unwrap() {
        let metres = leg["length"]["value"].as_f64().unwrap();
        let len = leg["load_equivalency"].as_f64().unwrap();
        // Those at the tap count in both legs.
        near(&leg["load_equivalency"], 8.0, 0.0);
        near(&leg["drop_v"], 0.1 * len * metres * 0.057, 1e-3);
        assert!(leg["drop_v"].as_f64().unwrap() <= 1.5);
    }
    // Asked for at the end, it does not hold: 15 LEN over more than 24 m.
    let mut asked = spec(12.0);
    asked["network"] = json!({"power_station": "helm"});
    let taken_at_end = taken(&asked);
    assert_eq!(gaps(&taken_at_end), ["network/voltage"]);
    let mend = taken_at_end["gaps"][0]["mend"].as_str().unwrap();
    assert!(mend.contains("power_station") && mend.contains("mid or heavy cable"), "{mend}");
    asked["network"] = json!({"power_station": "helm", "cable": "mid"});
    assert_eq!(gaps(&taken(&asked)), [""; 0]);
}

#[test]
fn every_limit_that_is_broken_is_a_gap_that_says_what_mends_it() {
    let gap = |spec: &Value, what: &str, mend: &str| {
        let taken = taken(spec);
        let told = row(&taken["gaps"], "what", what)["mend"].as_str().unwrap();
        assert!(told.contains(mend), "{what}: {told}");
    };
    // 51 devices, where 50 are allowed.
    let many = line_boat(&[4.0], json!([at("OWN-DROP", 50, "helm"), at("OWN-DROP", 1, "s1")]));
    gap(&many, "network/devices", "second network");
    // 51 drops of 3 m come to more than 78 m.
    gap(&many, "network/drops", "second network");
    // 61 LEN are 3.05 A, where light cable carries 3 A.
    let heavy = line_boat(&[4.0], json!([at("N20", 3, "helm"), at("N1", 1, "s1")]));
    gap(&heavy, "network/load", "mid or heavy cable");
    // More than 100 m of light cable.
    let long = line_boat(&[50.0, 50.0], json!([at("N1", 1, "helm"), at("N1", 1, "s2")]));
    gap(&long, "network/backbone", "mid or heavy cable");
    // A device that is mounted 7 m from where the runs end.
    let mut high = line_boat(&[4.0], json!([at("N1", 1, "helm"), at("N1", 1, "s1")]));
    high["boat"]["stations"][1]["rise"] = json!({"value": 7, "unit": "m"});
    gap(&high, "network/drop/n1-s1", "mount it nearer");
    // No panel of 12 V.
    let mut other = line_boat(&[4.0], json!([at("N1", 1, "helm"), at("N1", 1, "s1")]));
    other["power"]["banks"][0]["nominal_voltage_v"] = json!(24);
    gap(&other, "network/power", "12 V bank");
}

/// Figure 3 of a network cable maker's installation guide: eleven devices, drops of 37 m, the longest 6 m, are allowed.
#[test]
fn the_published_network_of_eleven_devices_breaks_no_limit() {
    let taken =
        taken(&line_boat(&[4.0], json!([at("OWN-6", 1, "helm"), at("OWN-31", 9, "helm"), at("OWN-31", 1, "s1")])));
    near(&taken["network"]["drops_length"]["value"], 37.0, 1e-9);
    near(&taken["network"]["drops_limit"]["value"], 78.0, 1e-9);
    assert_eq!(gaps(&taken), [""; 0]);
    // Each uses its own, so that no drop is bought: the one cable is the backbone's.
    assert_eq!(count(&taken, "network_cable"), 1.0);
    assert!(taken["network"]["devices"].as_array().unwrap().iter().all(|device| device["drop"]["supplied"] == true));
}

/// A station off the line within a drop's length is no bend of the backbone.
#[test]
fn a_station_near_the_line_hangs_on_a_drop() {
    let mut spec =
        line_boat(&[8.0, 8.0], json!([at("N1", 1, "helm"), at("N1", 1, "s1"), at("N1", 1, "s2"), at("N1", 1, "mast")]));
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "mast"}));
    let run = json!({"from": "s1", "to": "mast", "length": {"value": 3, "unit": "m"}});
    spec["boat"]["runs"].as_array_mut().unwrap().push(run);
    let network = &taken(&spec)["network"];
    assert_eq!(network["tee_stations"], json!(["helm", "s1", "s2"]));
    let device = row(&network["devices"], "equipment", "n1-mast");
    assert_eq!(device["tee_station"], "s1");
    // 3 m and 10 %, and a loop of 8 in: the kept 4 m reach.
    near(&device["drop"]["needed_length"]["value"], 3.0 * 1.1 + 0.2032, 1e-3);
    assert_eq!(device["drop"]["planned_length"], json!({"value": 4.0, "unit": "m"}));
}

#[test]
fn a_terminator_in_a_device_at_an_end_is_one_less_to_buy_and_displays_are_joined() {
    let taken = taken(&line_boat(&[4.0], json!([at("PLOTTER", 2, "helm"), at("TANK", 1, "s1")])));
    assert_eq!(count(&taken, "network_terminator"), 1.0);
    let links = taken["network"]["display_links"].as_array().unwrap();
    assert_eq!(links.len(), 1);
    assert_eq!(needs(&taken, "display_cable")[0]["need"]["plug"], "P5");
    // What is screwed on its tee has no drop, and brings the backbone to it.
    let tank = row(&taken["network"]["devices"], "equipment", "tank-s1");
    assert!(tank.get("drop").is_none() && tank["tee_station"] == "s1");
}

#[test]
fn an_engine_gateway_is_matched_where_the_spec_puts_it() {
    let mut spec = line_boat(&[9.0], json!([at("PLOTTER", 1, "helm")]));
    spec["network"] = json!({"engine_gateway": "s1"});
    let taken_with = taken(&spec);
    assert_eq!(count(&taken_with, "engine_gateway"), 1.0);
    assert_eq!(row(&taken_with["network"]["devices"], "station", "s1")["equipment"], "network/engine_gateway");
    spec["network"] = json!({"engine_gateway": "nowhere", "panel": "no_panel"});
    let faults = run_in(&networked_shop(Vec::new()), &spec).unwrap_err();
    let pointers: Vec<&str> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(pointers, ["/network/engine_gateway", "/network/panel"]);
}

#[test]
fn a_device_that_no_run_leads_to_is_a_fault_of_its_own() {
    let mut spec = line_boat(&[9.0], json!([at("N1", 1, "helm"), at("N1", 1, "island")]));
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "island"}));
    let faults = run_in(&networked_shop(Vec::new()), &spec).unwrap_err();
    assert_eq!(faults.iter().map(|fault| fault.pointer.as_str()).collect::<Vec<_>>(), ["/equipment/1"]);
}

#[test]
fn the_order_of_the_input_changes_nothing() {
    let mut spec = line_boat(
        &[3.0, 12.0, 5.0],
        json!([at("N7", 2, "helm"), at("N1", 1, "s3"), at("N1", 2, "s1"), at("PLOTTER", 2, "s2")]),
    );
    let first = taken(&spec);
    for list in ["equipment", "boat/stations", "boat/runs"] {
        spec.pointer_mut(&format!("/{list}")).unwrap().as_array_mut().unwrap().reverse();
    }
    assert_eq!(first["network"], taken(&spec)["network"]);
}
