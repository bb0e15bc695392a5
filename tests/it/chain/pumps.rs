//! An automatic bilge pump is one motor, one return and two positives (ABYC E-11 lets the automatic one be wired ahead
//! of the battery switch with a device of its own; from memory), and other loads that stay live.

use serde_json::{Value, json};

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

/// A boat with an automatic pump in its bilge and the panel at the battery, 9.5 ft from the helm.
fn panel_away_from_the_helm() -> Value {
    let mut spec = small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}]));
    spec["power"]["panels"][0]["station"] = json!("battery_bay");
    spec
}

fn questions<'a>(taken: &'a Value, id: &str) -> Vec<&'a Value> {
    taken["questions"].as_array().unwrap().iter().filter(|question| question["id"] == id).collect()
}

/// Automatic, off, manual with a light belongs to the helm (common practice): where the panel is not there, the manual
/// positive goes there first, and the light has a return.
#[test]
fn a_switch_away_from_its_panel_has_a_positive_and_a_return_of_its_own() {
    let taken = taken(&panel_away_from_the_helm());
    let circuit = row(&taken["circuits"], "key", "pump");
    assert_eq!(circuit["conductors"], json!(["C01+", "C01+A", "C01-", "C01+S", "C01-L"]));
    let line = |label: &str| row(&taken["cut_list"], "label", label);
    let (feed, on, light) = (line("C01+S"), line("C01+"), line("C01-L"));
    for (conductor, role, colour, ends, route) in [
        (feed, "bilge_switch_feed", "brown", ["panel", "bilge_switch"], json!(["battery_bay", "helm"])),
        (on, "switched_positive", "brown", ["bilge_switch", "pigtail"], json!(["helm", "battery_bay", "aft_bilge"])),
        (light, "running_light_return", "black", ["bus", "bilge_switch"], json!(["battery_bay", "helm"])),
    ] {
        assert_eq!((&conductor["role"], &conductor["colour"]), (&json!(role), &json!(colour)), "{conductor:#}");
        assert_eq!([&conductor["from"]["lands_on"], &conductor["to"]["lands_on"]], ends, "{conductor:#}");
        assert_eq!(conductor["route"], route, "{conductor:#}");
        let screws = ["from", "to"].map(|end| &conductor[end]).into_iter().filter(|end| end["lands_on"] != "pigtail");
        assert!(screws.into_iter().all(|end| end["termination"] == "ring_terminal" && end["stud"] == "#8"));
    }
    // Route and two ends of 3 in; 18 in of loop at panel, bus and switch, 8 in at the pump.
    near(&feed["installed_length"]["value"], 9.5 + 0.5, 1e-3);
    near(&feed["carrying_length"]["value"], 9.5 + 0.5 + 3.0, 1e-3);
    near(&light["carrying_length"]["value"], 9.5 + 0.5 + 3.0, 1e-3);
    near(&on["carrying_length"]["value"], 9.5 + 11.0 + 0.5 + 26.0 / 12.0, 1e-3);
    // One size, one device before both, and all of the way in the drop: CM = K I L / E with K = 10.75 (ABYC E-11).
    assert_eq!(feed["gauge"], on["gauge"]);
    let area: f64 = match on["gauge"].as_str().unwrap() {
        "16 AWG" => 2580.0,
        "14 AWG" => 4110.0,
        "12 AWG" => 6530.0,
        "10 AWG" => 10380.0,
        other => panic!("{other}"),
    };
    let feet = |line: &Value| line["carrying_length"]["value"].as_f64().unwrap();
    near(&on["drop_v"], 10.75 * 4.0 * ((feet(feed) + feet(on)) / area + 3.0 / 2580.0), 1e-3);
    near(&feed["drop_v"], 10.75 * 4.0 * feet(feed) / area, 1e-3);
    assert!(circuit["drop_percent"].as_f64().unwrap() <= 3.0);
    let manual: Vec<&Value> =
        circuit["protection"].as_array().unwrap().iter().filter(|fuse| fuse["always_on"] == false).collect();
    assert_eq!((&manual[0]["protects"], &manual[0]["station"]), (&json!("C01+S"), &json!("battery_bay")));
    // The light's return is behind that device too, and as thin as it may be: 16 AWG by itself (33 CFR 183.425(e)).
    assert_eq!(light["gauge"], "16 AWG");
    near(&light["design_current_a"], 0.1, 1e-9);
    // All of it is bought, and nothing is left to ask: the brown wire is all three brown pieces.
    let cut: f64 =
        ["C01+S", "C01+", "C01+A"].map(|label| line(label)["cut_length"]["value"].as_f64().unwrap()).iter().sum();
    let brown = |r: &&Value| r["need"]["kind"] == "wire" && r["need"]["colour"] == "brown";
    let bought = taken["requirements"].as_array().unwrap().iter().filter(brown);
    let bought: f64 = bought.map(|r| r["quantity"].as_str().unwrap().parse::<f64>().unwrap()).sum();
    near(&json!(bought), cut, 0.01);
    assert_eq!(questions(&taken, "bilge_switch_place"), Vec::<&Value>::new());
    // With the panel at the helm the switch is behind it.
    let at_helm = super::taken(&small_boat(json!([{"sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}])));
    assert_eq!(at_helm["circuits"][0]["conductors"], json!(["C01+", "C01+A", "C01-"]));
}

/// A pump that one panel feeds while another is beside its switch is a pump on the wrong panel.
#[test]
fn a_panel_beside_the_switch_is_proposed() {
    let with = |second: Value, panel: &str| {
        let mut spec = panel_away_from_the_helm();
        spec["power"]["panels"].as_array_mut().unwrap().push(second);
        spec["equipment"][0]["panel"] = json!(panel);
        let warned = taken(&spec)["warnings"].clone();
        let told = warned.as_array().unwrap().iter().filter(|w| w["message"].as_str().unwrap().contains("less copper"));
        told.map(|w| w["about"].clone()).collect::<Vec<_>>()
    };
    let beside = || json!({"id": "beside", "station": "helm", "bank": "house"});
    assert_eq!(with(beside(), "helm_panel"), [json!("pump")]);
    assert_eq!(with(beside(), "beside"), [json!(null); 0]);
    assert_eq!(with(json!({"id": "far", "station": "aft_bilge", "bank": "house"}), "helm_panel"), [json!(null); 0]);
}

#[test]
fn a_persons_size_holds_on_both_sides_of_the_switch() {
    let mut spec = panel_away_from_the_helm();
    spec["overrules"] = json!([{"what": "conductor", "circuit": "pump", "gauge": "8 AWG", "reason": "a drum of it"}]);
    let taken = taken(&spec);
    for (label, gauge) in [("C01+S", "8 AWG"), ("C01+", "8 AWG"), ("C01-", "8 AWG"), ("C01-L", "16 AWG")] {
        assert_eq!(row(&taken["cut_list"], "label", label)["gauge"], gauge, "{label}");
    }
}

/// What cannot carry the load in an engine space on the way to the switch is as bad as behind it.
#[test]
fn the_hotter_side_of_the_switch_sizes_both() {
    let mut spec = panel_away_from_the_helm();
    spec["boat"]["runs"][0]["engine_space"] = json!(true);
    let taken = taken(&spec);
    let line = |label: &str| row(&taken["cut_list"], "label", label);
    // Both pass through the run between helm and battery; 105 °C insulation keeps 0.85 there (33 CFR 183 Table 5 note 1).
    for label in ["C01+S", "C01+"] {
        assert_eq!(line(label)["engine_space"], true, "{label}");
    }
    assert_eq!(line("C01+S")["gauge"], line("C01+")["gauge"]);
    assert_eq!(line("C01+A")["engine_space"], false);
}

#[test]
fn a_named_switch_is_where_the_spec_has_it() {
    let mut spec = small_boat(json!([
        {"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"},
        {"id": "switch", "sku": "BILGE-2", "quantity": 1, "station": "battery_bay"}
    ]));
    let on_way = taken(&spec);
    // It has no light, so that nothing comes back from it.
    assert_eq!(on_way["circuits"][0]["conductors"], json!(["C01+", "C01+A", "C01-", "C01+S"]));
    assert_eq!(row(&on_way["cut_list"], "label", "C01+S")["to"]["station"], "battery_bay");
    // Where no cable leads it is a fault of the switch and not of the pump.
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "mast"}));
    spec["equipment"][1]["station"] = json!("mast");
    let faults = super::run(&spec).unwrap_err();
    assert!(faults.iter().any(|fault| fault.pointer == "/equipment/1"), "{faults:?}");
}

/// Where no helm is known that cable leads to, the place of the switch is asked about and the panel's is taken.
#[test]
fn the_place_of_a_switch_is_asked_about_where_no_helm_is_known() {
    let mut spec = panel_away_from_the_helm();
    spec["boat"]["stations"][0]["id"] = json!("cuddy");
    spec["boat"]["runs"][0]["to"] = json!("cuddy");
    let unknown = taken(&spec);
    let [asked] = questions(&unknown, "bilge_switch_place")[..] else { panic!("{:#}", unknown["questions"]) };
    assert_eq!(asked["about"], "pump");
    assert_eq!(unknown["circuits"][0]["conductors"], json!(["C01+", "C01+A", "C01-"]));
    // A helm that no run reaches is no help either.
    spec["boat"]["stations"].as_array_mut().unwrap().push(json!({"id": "helm"}));
    assert_eq!(questions(&taken(&spec), "bilge_switch_place").len(), 1);
    assert_eq!(questions(&taken(&panel_away_from_the_helm()), "bilge_switch_place").len(), 0);
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
