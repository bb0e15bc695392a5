//! What lies between batteries, banks and posts: it stands what starts the engine, what charges and every fuse there, and
//! not the loads alone.

use rigbill::calc::chain::take_off;
use rigbill::calc::units::WireSize;
use serde_json::{Value, json};

use super::power::needs;
use super::{near, row, run, shop, small_boat, taken};

fn gps() -> Value {
    small_boat(json!([{"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"}]))
}

fn bank(spec: &mut Value, bank: Value) {
    spec["power"]["banks"].as_array_mut().unwrap().push(bank);
}

fn size(line: &Value) -> WireSize {
    line["gauge"].as_str().unwrap().parse().unwrap()
}

fn lines<'a>(taken: &'a Value, role: &str) -> Vec<&'a Value> {
    taken["cut_list"].as_array().unwrap().iter().filter(|line| line["role"] == role).collect()
}

fn says(list: &Value, field: &str, part: &str) -> bool {
    list.as_array().unwrap().iter().any(|entry| entry[field].as_str().unwrap().contains(part))
}

/// Amperes at 105 °C outside engine spaces (ABYC E-11, published ampacities).
fn ampacity_a(gauge: WireSize) -> f64 {
    match gauge {
        WireSize::Awg(16) => 25.0,
        WireSize::Awg(14) => 35.0,
        WireSize::Awg(12) => 45.0,
        WireSize::Awg(10) => 60.0,
        WireSize::Awg(8) => 80.0,
        WireSize::Awg(6) => 120.0,
        WireSize::Awg(4) => 160.0,
        WireSize::Awg(2) => 210.0,
        WireSize::Awg(1) => 245.0,
        WireSize::Awg(0) => 285.0,
        other => panic!("{other}"),
    }
}

/// A combiner joins positives (common practice): only banks of one voltage, and none that feeds a bow motor.
#[test]
fn an_alternator_is_shared_by_banks_of_one_voltage_that_feed_no_bow_motor() {
    let mut spec = gps();
    spec["power"]["alternator_a"] = json!(60);
    bank(&mut spec, json!({"id": "bow", "station": "battery_bay", "nominal_voltage_v": 36, "cold_cranking_a": 600}));
    spec["power"]["alternator_banks"] = json!(["house", "bow"]);
    let faults = run(&spec).unwrap_err();
    assert!(faults.iter().any(|fault| fault.pointer == "/power/alternator_banks/1"), "{faults:#?}");
    spec["power"]["alternator_banks"] = json!(["house"]);
    taken(&spec);

    let mut bow = small_boat(json!([{"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"}]));
    bow["power"]["banks"][0]["nominal_voltage_v"] = json!(36);
    bow["power"]["panels"][0]["protection"] = json!("breaker");
    bow["power"]["alternator_a"] = json!(60);
    bow["power"]["alternator_banks"] = json!(["house"]);
    let faults = run(&bow).unwrap_err();
    let told = |fault: &rigbill::calc::findings::Fault| {
        fault.pointer == "/power/alternator_banks" && fault.message.contains("bow motor")
    };
    assert!(faults.iter().any(told), "{faults:#?}");
}

/// The starter's 200 A (common practice) go through the links of a bank that starts the engine, whoever fits its switch:
/// 2 AWG carries 210 A, 4 AWG 160 A (ABYC E-11, published ampacities).
#[test]
fn links_carry_what_starts_the_engine() {
    for provision in ["none", "aboard", "supply"] {
        let mut spec = gps();
        bank(
            &mut spec,
            json!({
                "id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "starts_engine": true,
                "batteries": [{"sku": "BAT-500", "quantity": 2}], "switch": {"provision": provision}
            }),
        );
        let taken = taken(&spec);
        let links = lines(&taken, "parallel_link");
        assert_eq!(links.len(), 2, "{provision}");
        for link in links {
            assert!(size(link).at_least(WireSize::Awg(2)), "{provision}: {link:#}");
        }
        // The engine's return to another bank's loads comes by the joined negatives.
        assert!(size(lines(&taken, "negative_join")[0]).at_least(WireSize::Awg(2)), "{provision}");
    }
    let mut spec = gps();
    spec["power"]["banks"][0]["batteries"] = json!([{"sku": "BAT-500", "quantity": 2}]);
    spec["power"]["banks"][0]["starts_engine"] = json!(true);
    for link in lines(&taken(&spec), "parallel_link") {
        assert!(size(link).at_least(WireSize::Awg(2)), "{link:#}");
    }
}

/// 120 A of alternator ask for a fuse of 150 A; that is at most one and a half times what the link carries
/// (33 CFR 183.455(c)(1)), and the link carries the 120 A.
#[test]
fn links_carry_what_the_alternator_gives() {
    let mut spec = gps();
    spec["power"]["banks"][0]["batteries"] = json!([{"sku": "BAT-500", "quantity": 2}]);
    spec["power"]["alternator_a"] = json!(120);
    bank(&mut spec, json!({"id": "start", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 700}));
    let taken = taken(&spec);
    for link in lines(&taken, "parallel_link") {
        assert!(ampacity_a(size(link)) >= 120.0, "{link:#}");
    }
}

/// A fault of one bank's positive may come back by the other's negative: what joins them is protected by the largest fuse,
/// at most one and a half times what it carries (33 CFR 183.455(c)(1)).
#[test]
fn joined_negatives_stand_the_largest_fuse_of_either_bank() {
    let mut spec = small_boat(json!([
        {"id": "a", "sku": "LOAD-20", "quantity": 4, "station": "helm", "panel": "helm_panel"},
        {"id": "b", "sku": "LOAD-10", "quantity": 2, "station": "helm", "panel": "second"}
    ]));
    let second = json!({"id": "second", "station": "helm", "bank": "house"});
    spec["power"]["panels"].as_array_mut().unwrap().push(second);
    bank(&mut spec, json!({"id": "other", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 700}));
    let taken = taken(&spec);
    let main_a = row(&taken["banks"], "bank", "house")["main"]["rating_a"].as_f64().unwrap();
    assert!(main_a >= 40.0, "{main_a}");
    let join = lines(&taken, "negative_join")[0];
    assert!(ampacity_a(size(join)) * 1.5 >= main_a, "{main_a} A and {join:#}");
}

/// Four terminals a stud (two trade articles on ABYC E-11): four returns and the link of a second battery are five. The bus
/// takes all but the link.
#[test]
fn a_link_between_batteries_crowds_the_post_too() {
    for batteries in [1, 2] {
        let mut spec = small_boat(json!([]));
        let id = |n: usize| if n == 0 { "helm_panel".to_owned() } else { format!("p{n}") };
        spec["power"]["panels"] = (0..4).map(|n| json!({"id": id(n), "station": "helm", "bank": "house"})).collect();
        spec["equipment"] = (0..4)
            .map(|n| json!({"id": format!("e{n}"), "sku": "LOAD-5", "quantity": 1, "station": "helm", "panel": id(n)}))
            .collect();
        spec["power"]["banks"][0]["batteries"] = json!([{"sku": "BAT-500", "quantity": batteries}]);
        let taken = taken(&spec);
        let stack = row(&taken["banks"][0]["studs"], "place", "house negative post");
        let terminals: Vec<&str> = stack["terminals"].as_array().unwrap().iter().map(|t| t.as_str().unwrap()).collect();
        assert_eq!(terminals.iter().any(|words| words.starts_with("B1N ")), batteries > 1, "{terminals:?}");
        assert_eq!(terminals.iter().any(|words| words.starts_with("B1J2 ")), batteries > 1, "{terminals:?}");
        assert!(terminals.len() <= 4, "{terminals:?}");
    }
}

/// A charger's lead, two combiners' and two mains stand on a bus that takes loads and alternator together, as its link does.
/// Their fuses are then more than 7 in from the post along cables that are not sheathed, so that a main stands before the bus
/// (ABYC E-11.12; 33 CFR 183.455(b)).
#[test]
fn a_bus_at_a_post_stands_all_that_may_flow_there() {
    let mut spec = small_boat(json!([
        {"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm"},
        {"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"},
        {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
    ]));
    spec["power"]["alternator_a"] = json!(120);
    for id in ["a", "z"] {
        let other = json!({"id": id, "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600});
        bank(&mut spec, other);
    }
    let taken = taken(&spec);
    // 120 A for hours ask for a fuse of 150 A, which is more than 120 A and the loads' 14 A.
    let link = row(&taken["cut_list"], "label", "B2P");
    near(&link["design_current_a"], 150.0, 0.0);
    assert!(ampacity_a(size(link)) >= 150.0, "{link:#}");
    // 14 A of loads and 120 A, all for hours, ask for a fuse of 134 A * 1.25 = 167.5 A: the next is 175 A.
    let bank = row(&taken["banks"], "bank", "house");
    let main = &bank["bus_main"];
    assert_eq!((&main["protects"], &main["rating_a"]), (&json!("B2P"), &json!(175.0)), "{main:#}");
    near(&main["load_needs_a"], 167.5, 1e-9);
    // 800 cold-cranking amperes at 12 V: 3000 A (ABYC E-11 Table V-A).
    near(&main["interrupt_a_min"], 3000.0, 0.0);
    assert_eq!(main["distance_max"]["value"], 7.0);
    let fuses = |need: &Value| need["need"]["rating_a"] == 175.0;
    assert_eq!(needs(&taken, "fuse").iter().filter(|need| fuses(need)).count(), 1);
    assert!(needs(&taken, "bus").iter().any(|bus| bus["need"]["rating_a_min"] == 175.0));
    assert!(!says(&taken["warnings"], "message", "stand behind a bus"));
    // What the post itself holds is that fuse, or the link to it, of 7 in.
    let post = row(&bank["studs"], "place", "house positive post");
    assert_eq!(post["terminals"].as_array().unwrap().len(), 1, "{post:#}");
    assert_eq!(link["from"]["lands_on"], "main_fuse");
}

/// The main before a bus is at the post itself, or at the end of a link of 7 in (ABYC E-11.12); a shop without one large
/// enough is told what is missing.
#[test]
fn the_main_before_a_bus_is_at_the_post_or_a_gap() {
    let with = |alternator_a: f64, family: &str| {
        let mut spec = gps();
        spec["power"]["alternator_a"] = json!(alternator_a);
        for id in ["a", "z"] {
            bank(
                &mut spec,
                json!({"id": id, "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600}),
            );
        }
        // Two feeders, two combiners and the always-on side.
        spec["power"]["banks"][0]["switch"] = json!({"provision": "none"});
        let second = json!({"id": "second", "station": "helm", "bank": "house"});
        spec["power"]["panels"].as_array_mut().unwrap().push(second);
        spec["equipment"] = json!([
            {"id": "gps", "sku": "LOAD-10", "quantity": 1, "station": "helm", "panel": "helm_panel"},
            {"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge", "panel": "second"}
        ]);
        let mut shop = shop::shop();
        let mut settings = (*shop.settings).clone();
        settings.main_fuse_families = vec![serde_json::from_value(json!(family)).unwrap()];
        shop.settings = std::sync::Arc::new(settings);
        let taken = take_off(&serde_json::from_value(spec).unwrap(), &shop).unwrap();
        serde_json::to_value(taken).unwrap()
    };
    let bolted = with(120.0, "class_t");
    let house = row(&bolted["banks"], "bank", "house");
    assert_eq!(house["bus_main"]["family"], "class_t", "{house:#}");
    let to_main = row(&bolted["cut_list"], "label", "B2M");
    let ends = ["from", "to"].map(|end| to_main[end]["lands_on"].as_str().unwrap());
    assert_eq!(ends, ["battery_positive", "main_fuse"]);
    near(&to_main["installed_length"]["value"], 7.0 / 12.0, 1e-3);
    assert!(ampacity_a(size(to_main)) >= 134.0);
    let cubes = with(120.0, "terminal_cube");
    assert!(cubes["cut_list"].as_array().unwrap().iter().all(|line| line["label"] != "B2M"));
    let post = row(&row(&cubes["banks"], "bank", "house")["studs"], "place", "house positive post");
    assert_eq!(post["terminals"], json!(["175 A terminal cube fuse of B2P"]));
    // 235 A ask for 293.75 A at a combiner, and with 14 A of loads for 311.25 A before the bus; cubes end at 300 A.
    let large = with(235.0, "terminal_cube");
    let gap = row(&large["gaps"], "what", "bank/house");
    assert!(gap["need"].as_str().unwrap().starts_with("a main fuse for 311.2 A"), "{gap:#}");
}

/// The table's rows for 32 V ask for 3000 A at the second and third battery of a 36 V string (ABYC E-11 Table V-A), which
/// only fuses from 110 A on break at 43 V: no lead of 15 A is laid for those.
#[test]
fn a_lead_within_a_string_has_the_strings_interrupt_rating_or_is_a_gap() {
    let mut spec = small_boat(json!([
        {"id": "motor", "sku": "BOW-36", "quantity": 1, "station": "helm"},
        {"id": "charger", "sku": "CHARGER-3", "quantity": 1, "station": "battery_bay"}
    ]));
    let bow = &mut spec["power"]["banks"][0];
    bow["nominal_voltage_v"] = json!(36);
    bow["batteries"] = json!([{"sku": "BAT-100", "quantity": 3}]);
    bow.as_object_mut().unwrap().remove("cold_cranking_a");
    spec["power"]["panels"][0]["protection"] = json!("breaker");
    let taken = taken(&spec);
    let charging = taken["banks"][0]["charging"].as_array().unwrap();
    for output in &charging[1..] {
        assert!(output["protection"].is_null(), "{output:#}");
    }
    assert!(says(&taken["gaps"], "mend", "outputs fused at the battery"), "{:#}", taken["gaps"]);
}

/// A case is grounded once, to a negative that is no bow motor's (common practice), by no less than 16 AWG (ABYC E-11, from
/// memory); two chargers have two grounds, of different labels.
#[test]
fn each_charger_grounds_its_case_once() {
    let mut spec = gps();
    for id in ["charger-a", "charger-b"] {
        let charger = json!({"id": id, "sku": "CHARGER-3", "quantity": 1, "station": "aft_bilge"});
        spec["equipment"].as_array_mut().unwrap().push(charger);
    }
    for n in 0..5 {
        bank(
            &mut spec,
            json!({"id": format!("p{n}"), "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 600}),
        );
    }
    let taken = taken(&spec);
    let grounds = lines(&taken, "case_ground");
    assert_eq!(grounds.len(), 2);
    assert_ne!(grounds[0]["label"], grounds[1]["label"]);
    for ground in grounds {
        assert!(size(ground).at_least(WireSize::Awg(16)), "{ground:#}");
    }
    let mut labels: Vec<&str> =
        taken["cut_list"].as_array().unwrap().iter().map(|line| line["label"].as_str().unwrap()).collect();
    labels.sort_unstable();
    let all = labels.len();
    labels.dedup();
    assert_eq!(labels.len(), all, "a label stands on one conductor");
}

#[test]
fn a_switch_aboard_before_several_panels_is_asked_about() {
    let mut spec = small_boat(json!([
        {"id": "a", "sku": "LOAD-10", "quantity": 1, "station": "helm", "panel": "helm_panel"},
        {"id": "b", "sku": "LOAD-5", "quantity": 1, "station": "helm", "panel": "second"}
    ]));
    let second = json!({"id": "second", "station": "helm", "bank": "house"});
    spec["power"]["panels"].as_array_mut().unwrap().push(second);
    let asked = |spec: &Value| {
        let taken = taken(spec);
        let told = taken["assumptions"].as_array().unwrap().iter().any(|a| a.as_str().unwrap().contains("feed bus"));
        (says(&taken["questions"], "id", "main_aboard"), told)
    };
    assert_eq!(asked(&spec), (false, false));
    spec["power"]["banks"][0]["switch"] = json!({"provision": "aboard"});
    assert_eq!(asked(&spec), (true, true));
}

#[test]
fn a_named_combiner_or_bilge_switch_that_does_not_do_is_a_gap() {
    let mut spec = small_boat(json!([
        {"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"},
        {"id": "combiner", "sku": "COMB-30", "quantity": 1, "station": "battery_bay"},
        {"id": "switch", "sku": "BILGE-2", "quantity": 1, "station": "helm"}
    ]));
    spec["power"]["alternator_a"] = json!(60);
    bank(
        &mut spec,
        json!({
            "id": "start", "station": "battery_bay", "nominal_voltage_v": 12, "cold_cranking_a": 700,
            "chemistry": "lithium_iron_phosphate"
        }),
    );
    let taken = taken(&spec);
    let gap = row(&taken["gaps"], "what", "combiner");
    for part in ["rated for 30 A", "part the banks", "lithium"] {
        assert!(gap["reason"].as_str().unwrap().contains(part), "{gap:#}");
    }
    row(&taken["gaps"], "what", "switch");
    // The pump's 4 A and the alternator's 60 A are asked of nothing else.
    assert_eq!((needs(&taken, "combiner").len(), needs(&taken, "bilge_switch").len()), (0, 0));
}

/// CM = K I L / E with K = 10.75 (ABYC E-11): 60 A over 31 ft in 6 AWG of 26240 circular mils drop 0.76 V, and 1.5 % of 12 V
/// are 0.18 V.
#[test]
fn a_drop_that_no_size_keeps_is_told() {
    let mut spec = gps();
    spec["power"]["alternator_a"] = json!(60);
    spec["boat"]["runs"][1]["length"] = json!({"value": 30, "unit": "ft"});
    bank(&mut spec, json!({"id": "start", "station": "aft_bilge", "nominal_voltage_v": 12, "cold_cranking_a": 700}));
    for thin in [false, true] {
        let mut shop = shop::shop();
        if thin {
            let mut settings = (*shop.settings).clone();
            settings.stocked_sizes = [16, 14, 12, 10, 8, 6].map(WireSize::Awg).to_vec();
            shop.settings = std::sync::Arc::new(settings);
        }
        let taken = take_off(&serde_json::from_value(spec.clone()).unwrap(), &shop).unwrap();
        let taken = serde_json::to_value(taken).unwrap();
        assert_eq!(says(&taken["warnings"], "message", "even in the largest size"), thin, "{:#}", taken["warnings"]);
    }
}
