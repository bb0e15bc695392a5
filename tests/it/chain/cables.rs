//! Circuits under one jacket: which can be, how thin, how long, how coloured, and what they need.
//!
//! The smallest sizes are those of ABYC E-11 clause 11.14.1.2 (18 AWG in a sheath, 30 in of it bare at most) and of
//! ISO 10133, 7.7 (0.75 mm², 800 mm at most); colours, sleeves and walls of jackets are common practice.

use proptest::prelude::*;
use rigbill::calc::chain::take_off;
use rigbill::calc::rules::jackets;
use rigbill::calc::rules::sizes::{all, overall_diameter};
use rigbill::calc::shop::Shop;
use rigbill::calc::shop::item::Wiring;
use rigbill::calc::shop::settings::Settings;
use rigbill::calc::units::{AreaStandard, Length, WireSize};
use serde_json::{Value, json};

use super::{near, row, run, shop, small_boat, taken};
use crate::reevaluate::{check_basis_with, evaluate_chain};

fn entry(sku: &str, station: &str) -> Value {
    json!([{"id": "load", "sku": sku, "quantity": 1, "station": station, "wiring": "jacketed_cable"}])
}

/// The take-off with other settings, its basis re-evaluated.
fn taken_with(spec: &Value, change: impl FnOnce(&mut Settings)) -> Value {
    let mut settings = (*shop::shop().settings).clone();
    change(&mut settings);
    let ratings = settings.branch_ratings_a.clone();
    let shop = Shop { settings: settings.into(), ..shop::shop() };
    let input = serde_json::from_value(spec.clone()).unwrap();
    let taken = take_off(&input, &shop).unwrap_or_else(|faults| panic!("{faults:#?}"));
    let json = serde_json::to_value(&taken).unwrap();
    check_basis_with(&json["basis"], |rule, inputs| evaluate_chain(rule, inputs, &ratings));
    json
}

fn warnings(taken: &Value) -> String {
    let about = taken["warnings"].as_array().unwrap().iter().filter(|warning| warning["about"] == "load");
    about.map(|warning| warning["message"].as_str().unwrap()).collect::<Vec<_>>().join("; ")
}

fn needs<'a>(taken: &'a Value, kind: &str) -> Vec<&'a Value> {
    taken["requirements"].as_array().unwrap().iter().filter(|r| r["need"]["kind"] == kind).collect()
}

/// How many pieces of heat shrink of a length a take-off needs.
fn pieces_of(taken: &Value, inches: f64) -> u32 {
    let of_length = |r: &&Value| r["need"]["piece_length"]["value"] == json!(inches);
    let counts = needs(taken, "heat_shrink").into_iter().filter(of_length);
    counts.map(|r| r["quantity"].as_str().unwrap().parse::<u32>().unwrap()).sum()
}

#[test]
fn a_pair_under_one_jacket_is_cut_once_and_keeps_both_colours() {
    let spec = small_boat(entry("LIGHT-1", "aft_bilge"));
    let taken = taken(&spec);
    let (positive, back) = (row(&taken["cut_list"], "label", "C01+"), row(&taken["cut_list"], "label", "C01-"));
    // 1 A over 10 % leaves the smallest size that a sheath may have.
    assert_eq!((&positive["gauge"], &back["gauge"]), (&json!("18 AWG"), &json!("18 AWG")));
    assert_eq!(positive["limited_by"], "minimum_size");
    // 20 A for 18 AWG (33 CFR 183.425 Table 5, 105 °C); beside the feeder its two make four, which keep 0.6 of it.
    near(&positive["allowable_current_a"], 0.6 * 20.0, 1e-9);
    assert_eq!((&positive["colour"], &positive["label_colour"]), (&json!("red"), &json!("dark blue")));
    assert_eq!((&back["colour"], &back["label_colour"]), (&json!("black"), &json!("black")));
    let [cable] = &taken["cables"].as_array().unwrap()[..] else { panic!("one cable: {}", taken["cables"]) };
    assert_eq!(cable["conductors"], json!(["C01+", "C01-"]));
    assert_eq!(cable["colours"], json!(["red", "black"]));
    assert_eq!((&cable["cut_length"], &cable["route"]), (&positive["cut_length"], &positive["route"]));
    assert_eq!(positive["cut_length"], back["cut_length"]);
    assert_eq!(cable["break_out"], json!({"value": 6.0, "unit": "in"}));
    assert_eq!((&positive["cable"], &taken["circuits"][0]["cable"]), (&cable["label"], &cable["label"]));
    // Two circles of 2.54 mm (18 AWG boat cable, from memory) side by side, and a wall of 0.03 in on both sides.
    near(&cable["outside_diameter"]["value"], 2.0 * 0.1 + 0.06, 1e-9);

    let total = row(&taken["wire"], "kind", "cable");
    assert_eq!(
        (&total["conductors"], &total["colour"], &total["pieces"]),
        (&json!(2), &json!("red + black"), &json!(1))
    );
    assert_eq!(total["cut_length"], cable["cut_length"]);
    let [need] = needs(&taken, "cable")[..] else { panic!("one cable is needed") };
    assert_eq!(need["key"], "cable/2 x 18 AWG/red + black/105 C");
    near(
        &json!(need["quantity"].as_str().unwrap().parse::<f64>().unwrap()),
        cable["cut_length"]["value"].as_f64().unwrap(),
        1e-3,
    );
    // What lies in the cable is not needed as wire too.
    assert!(needs(&taken, "wire").iter().all(|wire| !wire["used_by"].to_string().contains("load")));

    // A sleeve at both ends of the jacket, and the ends and labels of the conductors as they are without one.
    let mut single = spec.clone();
    single["equipment"][0]["wiring"] = json!("single_conductors");
    let single = super::taken(&single);
    assert_eq!(pieces_of(&taken, 1.5), pieces_of(&single, 1.5) + 2);
    assert_eq!(row(&single["cut_list"], "label", "C01+")["gauge"], "16 AWG");
    let count = |taken: &Value, kind: &str| -> u32 {
        needs(taken, kind).iter().map(|r| r["quantity"].as_str().unwrap().parse::<u32>().unwrap()).sum()
    };
    for kind in ["wire_label", "ring_terminal", "butt_splice"] {
        assert_eq!(count(&taken, kind), count(&single, kind), "{kind}");
    }
}

/// The jacket is opened at both ends of each cable: common practice puts 5 minutes to each.
#[test]
fn breaking_out_is_labour_at_both_ends() {
    let mut shop = shop::shop();
    let operation = json!({
        "code": "break_out", "description": "Break out", "driver": "jacket_end", "low_min": 3, "likely_min": 5, "high_min": 8
    });
    let mut operations = (*shop.labour_operations).clone();
    operations.push(serde_json::from_value(operation).unwrap());
    shop.labour_operations = operations.into();
    let mut spec = small_boat(entry("LIGHT-1", "aft_bilge"));
    let hours = |spec: &Value| {
        let taken = take_off(&serde_json::from_value(spec.clone()).unwrap(), &shop).unwrap();
        taken.labour.operations.iter().find(|o| o.operation.as_str() == "break_out").map(|o| o.count.to_string())
    };
    assert_eq!(hours(&spec).as_deref(), Some("2"));
    spec["equipment"][0]["quantity"] = json!(3);
    assert_eq!(hours(&spec).as_deref(), Some("6"));
    spec["equipment"][0].as_object_mut().unwrap().remove("wiring");
    assert_eq!(hours(&spec), None);
}

#[test]
fn how_thin_a_conductor_may_be_hangs_on_how_much_of_it_lies_bare() {
    let inches = |value: f64| json!({"value": value, "unit": "in"});
    let spec = small_boat(entry("LIGHT-1", "aft_bilge"));
    for (value, least) in [(0.5, "18 AWG"), (30.0, "18 AWG"), (30.01, "16 AWG")] {
        let taken = taken_with(&spec, |settings| settings.break_out = serde_json::from_value(inches(value)).unwrap());
        assert_eq!(row(&taken["cut_list"], "label", "C01+")["gauge"], least, "{value} in");
    }
    let metric = |millimetres: f64| {
        move |settings: &mut Settings| {
            settings.area_standard = AreaStandard::Metric;
            settings.stocked_sizes = [100, 150, 250, 400, 600, 1000, 1600].map(WireSize::Metric).to_vec();
            settings.break_out = serde_json::from_value(json!({"value": millimetres, "unit": "mm"})).unwrap();
        }
    };
    assert_eq!(row(&taken_with(&spec, metric(800.0))["cut_list"], "label", "C01+")["gauge"], "0.75 mm2");
    assert_eq!(row(&taken_with(&spec, metric(801.0))["cut_list"], "label", "C01+")["gauge"], "1 mm2");
}

/// A boat whose panel, bus and battery are at one station: the bilge pump's three conductors go one way. It has no helm, so
/// that the pump's switch is at its panel.
fn open_boat(equipment: Value) -> Value {
    let mut spec = small_boat(equipment);
    spec["power"]["panels"][0]["station"] = json!("battery_bay");
    spec["boat"]["stations"][0]["id"] = json!("cuddy");
    spec["boat"]["runs"][0]["to"] = json!("cuddy");
    spec["boat"]["negative_colour"] = json!("yellow");
    spec
}

#[test]
fn a_bilge_pump_beside_its_battery_has_three_conductors_in_one_jacket() {
    let taken = taken(&open_boat(entry("PUMP-AUTO", "aft_bilge")));
    let [cable] = &taken["cables"].as_array().unwrap()[..] else { panic!("one cable: {}", taken["warnings"]) };
    assert_eq!(cable["conductors"], json!(["C01+", "C01+A", "C01-"]));
    // What stays live is red, and the boat's negative is yellow.
    assert_eq!(cable["colours"], json!(["brown", "red", "yellow"]));
    let lines: Vec<&Value> = ["C01+", "C01+A", "C01-"].map(|label| row(&taken["cut_list"], "label", label)).to_vec();
    for line in &lines {
        assert_eq!((&line["gauge"], &line["cut_length"]), (&cable["gauge"], &cable["cut_length"]));
        assert_eq!(line["label_colour"], if line["label"] == "C01-" { "yellow" } else { "brown" });
        // Three loaded conductors keep 0.7 of what the table allows (33 CFR 183 Table 5 note 2).
        let table_a = line["table_current_a"].as_f64().unwrap();
        near(&line["allowable_current_a"], 0.7 * table_a, 0.01);
    }
    // A service loop at the panel, none at the holder by the battery: the cable is as long as the longer one needs.
    let feet = 11.0 + 2.0 * 0.25 + (8.0 + 18.0) / 12.0;
    near(&lines[1]["carrying_length"]["value"], feet, 1e-3);
    assert_eq!(row(&taken["wire"], "kind", "cable")["colour"], "red + brown + yellow");
    // Three circles about each other are 1 + 2 / sqrt(3) of them wide (geometry).
    let size: WireSize = cable["gauge"].as_str().unwrap().parse().unwrap();
    let wide = overall_diameter(size).inch() * (1.0 + 2.0 / 3f64.sqrt()) + 0.06;
    near(&cable["outside_diameter"]["value"], wide, 5e-4);
}

/// Under one jacket there is one size, the largest that any needs; by themselves each may have its own.
#[test]
fn conductors_in_one_jacket_have_one_size() {
    let spec = |wiring: &str| {
        let mut spec = open_boat(json!([{"id": "load", "sku": "STEREO", "quantity": 1, "station": "aft_bilge"}]));
        spec["equipment"][0]["wiring"] = json!(wiring);
        spec
    };
    let gauges = |taken: &Value| -> Vec<String> {
        let list = taken["cut_list"].as_array().unwrap().iter().filter(|line| line["circuit"] == "load");
        list.map(|line| line["gauge"].as_str().unwrap().to_owned()).collect()
    };
    // 0.1 A to switch it and 10 A to run it.
    let single = gauges(&taken(&spec("single_conductors")));
    assert!(single[0] != single[1], "{single:?}");
    let jacketed = gauges(&taken(&spec("jacketed_cable")));
    assert!(jacketed.iter().all(|gauge| *gauge == jacketed[0]), "{jacketed:?}");
    let area = |gauge: &str| gauge.parse::<WireSize>().unwrap().nominal_cmil();
    assert!(jacketed.iter().zip(&single).all(|(a, b)| area(a) >= area(b)), "{jacketed:?} {single:?}");
}

#[test]
fn what_cannot_lie_under_one_jacket_is_told_why() {
    let check = |spec: Value, why: &str| {
        let taken = taken(&spec);
        assert_eq!(taken["cables"], json!([]));
        let told = warnings(&taken);
        assert!(told.contains("stays in single conductors") && told.contains(why), "{told}");
        let lines = taken["cut_list"].as_array().unwrap().iter().filter(|line| line["circuit"] == "load");
        assert!(lines.into_iter().all(|line| line.get("cable").is_none() && line.get("label_colour").is_none()));
    };
    check(small_boat(entry("PUMP-AUTO", "aft_bilge")), "C01+ comes from 'helm' and C01+A from 'battery_bay'");
    let mut switch_away = small_boat(entry("PUMP-AUTO", "aft_bilge"));
    switch_away["power"]["panels"][0]["station"] = json!("battery_bay");
    check(switch_away, "its switch is at 'helm', and C01+S goes there first");
    let mut other_bus = small_boat(entry("LIGHT-1", "aft_bilge"));
    other_bus["power"]["panels"][0]["negative_bus"] = json!("main");
    other_bus["power"]["buses"] = json!([{"id": "main", "station": "battery_bay"}]);
    check(other_bus, "C01+ comes from 'helm' and C01- from 'battery_bay'");
}

/// What no cable serves is wired as if nobody had asked for a jacket, and said so.
#[test]
fn what_no_cable_serves_stays_in_single_conductors() {
    let spec = small_boat(entry("LOAD-20", "aft_bilge"));
    let taken = taken_with(&spec, |settings| settings.cable_sizes = vec![WireSize::Awg(16)]);
    assert!(warnings(&taken).contains("no cable that the shop keeps serves it"), "{}", taken["warnings"]);
    let mut single = spec.clone();
    single["equipment"][0]["wiring"] = json!("single_conductors");
    let single = super::taken(&single);
    for part in ["cut_list", "cables", "requirements", "gaps", "copper"] {
        assert_eq!(taken[part], single[part], "{part}");
    }
    // Nor does a shop that keeps none have any.
    let none = taken_with(&spec, |settings| settings.cable_sizes = vec![WireSize::Metric(400)]);
    assert_eq!(none["cables"], json!([]));
}

#[test]
fn the_spec_goes_before_the_item_and_the_item_before_the_shop() {
    use rigbill::calc::shop::catalogue::Catalogue;
    use rigbill::calc::shop::item::Attributes;
    let cables = |spec: Option<&str>, item: Option<Wiring>, of_shop: Wiring| {
        let mut shop = shop::shop();
        let mut settings = (*shop.settings).clone();
        settings.wiring = of_shop;
        let mut items: Vec<_> = shop.catalogue.items().iter().map(|item| (**item).clone()).collect();
        for known in items.iter_mut().filter(|known| known.sku.as_str() == "LIGHT-1") {
            if let Attributes::Device { wiring, .. } = &mut known.attributes {
                *wiring = item;
            }
        }
        shop.settings = settings.into();
        shop.catalogue = Catalogue::new(items).into();
        let mut boat = small_boat(json!([{"sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"}]));
        if let Some(word) = spec {
            boat["equipment"][0]["wiring"] = json!(word);
        }
        take_off(&serde_json::from_value(boat).unwrap(), &shop).unwrap().cables.len()
    };
    let (single, jacket) = (Wiring::SingleConductors, Wiring::JacketedCable);
    assert_eq!(cables(None, None, single), 0);
    assert_eq!(cables(None, None, jacket), 1);
    assert_eq!(cables(None, Some(single), jacket), 0);
    assert_eq!(cables(None, Some(jacket), single), 1);
    assert_eq!(cables(Some("single_conductors"), Some(jacket), jacket), 0);
    assert_eq!(cables(Some("jacketed_cable"), Some(single), single), 1);
}

#[test]
fn a_package_may_say_how_its_entries_are_wired() {
    let taken = |wiring: Option<&str>, of_shop: Wiring| {
        let mut shop = shop::shop();
        let mut settings = (*shop.settings).clone();
        settings.wiring = of_shop;
        shop.settings = settings.into();
        let mut entry = json!({"sku": "LIGHT-1", "quantity": 1, "station": "aft_bilge"});
        if let Some(word) = wiring {
            entry["wiring"] = json!(word);
        }
        let package = json!({"code": "LIGHTS", "description": "Lights", "equipment": [entry]});
        shop.packages = vec![serde_json::from_value(package).unwrap()].into();
        let mut spec = small_boat(json!([{"sku": "LIGHT-1", "quantity": 1, "station": "helm"}]));
        spec["packages"] = json!(["LIGHTS"]);
        take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap()
    };
    let in_cable = |wiring, of_shop| {
        let circuits = taken(wiring, of_shop).circuits.into_iter();
        circuits
            .filter(|circuit| circuit.cable.is_some())
            .map(|circuit| circuit.station.to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(in_cable(None, Wiring::SingleConductors), Vec::<String>::new());
    assert_eq!(in_cable(Some("jacketed_cable"), Wiring::SingleConductors), ["aft_bilge"]);
    assert_eq!(in_cable(Some("single_conductors"), Wiring::JacketedCable), ["helm"]);
}

#[test]
fn what_has_no_circuit_is_not_wired_either_way() {
    let faults = run(&small_boat(json!([
        {"sku": "BAT-100", "quantity": 1, "wiring": "jacketed_cable"}
    ])));
    let faults = faults.unwrap_err();
    assert!(faults.iter().any(|fault| fault.pointer == "/equipment/0/wiring"), "{faults:?}");
    // In a package the fault stands where the spec names that.
    let mut shop = shop::shop();
    let entry = json!({"sku": "BAT-100", "quantity": 1, "wiring": "jacketed_cable"});
    let package = json!({"code": "BATTERIES", "description": "Batteries", "equipment": [entry]});
    shop.packages = vec![serde_json::from_value(package).unwrap()].into();
    let mut spec = small_boat(json!([]));
    spec["packages"] = json!(["BATTERIES"]);
    let faults = take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap_err();
    assert_eq!(faults.iter().map(|fault| &*fault.pointer).collect::<Vec<_>>(), ["/packages/0"], "{faults:?}");
    assert!(faults[0].message.starts_with("package 'BATTERIES', BAT-100: "), "{faults:?}");
}

/// A person's size holds for the whole cable; below the smallest in a jacket it is refused.
#[test]
fn a_persons_size_is_that_of_the_whole_cable() {
    let mut spec = small_boat(entry("LIGHT-1", "aft_bilge"));
    spec["overrules"] = json!([{"what": "conductor", "circuit": "load", "gauge": "12 AWG", "reason": "a drum of it"}]);
    let taken = taken(&spec);
    assert_eq!(taken["cables"][0]["gauge"], "12 AWG");
    assert_eq!(taken["overrules"][0]["computed"], "18 AWG");
    spec["overrules"][0]["gauge"] = json!("20 AWG");
    let faults = run(&spec).unwrap_err();
    assert!(faults[0].message.contains("in such a jacket"), "{faults:?}");
}

/// Sleeves: of every size of two and three conductors the tubing goes over the jacket with two tenths to spare, and
/// shrinks to less than what comes out of it (common practice).
#[test]
fn a_sleeve_goes_over_the_jacket_and_closes_on_what_comes_out() {
    for conductors in [2, 3] {
        for &size in all(AreaStandard::Awg).iter().chain(all(AreaStandard::Metric)) {
            let outside = jackets::outside_in(conductors, size);
            let bare = outside - 2.0 * 0.03;
            assert!(bare > 1.99 * overall_diameter(size).inch());
            match jackets::sleeve(conductors, size) {
                Some(sleeve) => {
                    assert!(outside <= 0.8 * sleeve.supplied.inch() + 1e-6, "{conductors} x {size}");
                    assert!(sleeve.recovered.inch() < bare, "{conductors} x {size}");
                    assert!(Length::inches(outside) <= jackets::thickest_under(sleeve) + Length::from_nanometres(1));
                }
                // The largest tubing, 1 1/2 in, goes over 1.2 in.
                None => assert!(outside > 1.2, "{conductors} x {size} is {outside} in thick"),
            }
        }
    }
}

proptest! {
    /// Whatever is asked for: a cable has one size, no conductor in it is too small for its current, its drop or its
    /// device, each is cut with the cable, and what is in no cable is as it was.
    #[test]
    fn a_cable_keeps_every_limit(
        feet in 2.0f64..60.0,
        loads in prop::collection::vec((0usize..7, any::<bool>(), any::<bool>()), 1..12),
        derate in any::<bool>(),
    ) {
        let skus = ["LIGHT-1", "NAV-1", "LOAD-5", "LOAD-10", "LOAD-20", "PUMP-AUTO", "TWO-POSITIVES"];
        let equipment: Vec<Value> = loads.iter().enumerate().map(|(n, (sku, far, jacket))| json!({
            "id": format!("e{n}"), "sku": skus[*sku], "quantity": 1,
            "station": if *far { "aft_bilge" } else { "cuddy" },
            "wiring": if *jacket { "jacketed_cable" } else { "single_conductors" },
        })).collect();
        let mut spec = open_boat(json!(equipment));
        spec["boat"]["runs"][1]["length"]["value"] = json!(feet);
        let taken = taken_with(&spec, |settings| settings.derate_bundles = derate);
        let cables = taken["cables"].as_array().unwrap();
        for line in taken["cut_list"].as_array().unwrap() {
            let (current, allowed) = (line["design_current_a"].as_f64().unwrap(), line["allowable_current_a"].as_f64().unwrap());
            prop_assert!(current <= allowed + 0.01, "{line}");
            if line.get("cable").is_some() {
                let cable = cables.iter().find(|cable| cable["label"] == line["cable"]).unwrap();
                prop_assert_eq!(&line["gauge"], &cable["gauge"]);
                prop_assert_eq!(&line["cut_length"], &cable["cut_length"]);
                let many = cable["conductors"].as_array().unwrap().len() as u64;
                prop_assert!(line["bundled_conductors"].as_u64().unwrap() >= many);
            } else if line["role"] == "return" || line["role"] == "switched_positive" {
                prop_assert!(line["gauge"] != "18 AWG", "too thin by itself: {line}");
            }
        }
        for circuit in taken["circuits"].as_array().unwrap() {
            let (drop, limit) = (circuit["drop_percent"].as_f64().unwrap(), circuit["drop_limit_percent"].as_f64().unwrap());
            prop_assert!(drop <= limit + 1e-3, "{circuit}");
            for device in circuit["protection"].as_array().unwrap() {
                // 33 CFR 183.455(c)(1): at most 150 % of what the conductor may carry.
                let line = row(&taken["cut_list"], "label", device["protects"].as_str().unwrap());
                let (rating, allowed) = (device["rating_a"].as_f64().unwrap(), line["allowable_current_a"].as_f64().unwrap());
                prop_assert!(rating <= 1.5 * allowed + 0.02, "{device}");
            }
        }
        let asked = loads.iter().filter(|(.., jacket)| *jacket).count();
        let told = taken["warnings"].as_array().unwrap().iter();
        let single = told.filter(|w| w["message"].as_str().unwrap().contains("stays in single conductors")).count();
        prop_assert_eq!(cables.len() + single, asked);
    }
}
