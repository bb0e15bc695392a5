//! The plumbing of raw-water pumps (common practice), on small boats whose figures can be followed by hand.

use serde_json::{Value, json};

use super::{near, row, run, small_boat, taken};

/// The small boat with pumps in its bilge, a quarter 3 ft and a well 4 ft from it, all measured.
fn boat(equipment: Value) -> Value {
    let mut spec = small_boat(equipment);
    spec["boat"]["cored"] = json!("yes");
    let stations = spec["boat"]["stations"].as_array_mut().unwrap();
    stations.extend([json!({"id": "port_quarter"}), json!({"id": "live_well"})]);
    for (to, feet) in [("port_quarter", 3.0), ("live_well", 4.0)] {
        let run = json!({"from": "aft_bilge", "to": to, "length": {"value": feet, "unit": "ft"}});
        spec["boat"]["runs"].as_array_mut().unwrap().push(run);
    }
    spec
}

fn pump(id: &str, sku: &str) -> Value {
    json!({"id": id, "sku": sku, "quantity": 1, "station": "aft_bilge"})
}

fn quantity(taken: &Value, key: &str) -> Option<String> {
    let of_key = |requirement: &&Value| requirement["key"] == key;
    taken["requirements"].as_array().unwrap().iter().find(of_key).map(|r| r["quantity"].as_str().unwrap().to_owned())
}

/// A bilge pump: 3 ft to the quarter and a loop of 1 ft, 10 % waste on what was measured: 4.4 ft of 1 1/8 in hose, two clamps
/// at the pump and one at the side, one hole.
#[test]
fn a_bilge_pump_has_a_hose_to_the_side_and_no_through_hull() {
    let taken = taken(&boat(json!([pump("bilge", "PUMP-AUTO")])));
    let plumbing = &taken["plumbing"];
    assert_eq!(plumbing["intakes"], json!([]));
    let hose = &plumbing["hoses"][0];
    near(&hose["installed_length"]["value"], 4.0, 1e-9);
    near(&hose["cut_length"]["value"], 4.4, 1e-9);
    assert_eq!(hose["clamps"], 3);
    assert_eq!(plumbing["pumps"][0]["discharge_station"], "port_quarter");
    assert_eq!(quantity(&taken, "hose/1.125 in/smooth").as_deref(), Some("4.4"));
    assert_eq!(quantity(&taken, "plumbing_fitting/discharge/1.125 in").as_deref(), Some("1"));
    assert_eq!(quantity(&taken, "fastener/hose_clamp/1.445 in").as_deref(), Some("3"));
    let holes = &plumbing["holes"];
    assert_eq!((&holes["below_waterline"], &holes["above_waterline"]), (&json!(0), &json!(1)));
    assert_eq!((&holes["core_sealed"], &holes["cartridges"]), (&json!(1), &json!(1)));
    assert!(!taken["cautions"].to_string().contains("below_waterline"));
}

/// A live-well pump draws from the sea: seacock to strainer to pump, each the shop's 2 ft and 20 % as nobody measured them,
/// then 4 ft to the well. All ends up to the pump's outlet are below the waterline.
#[test]
fn a_live_well_pump_has_an_intake_and_double_clamps_below_the_waterline() {
    let taken = taken(&boat(json!([pump("well", "PUMP-WELL")])));
    let plumbing = &taken["plumbing"];
    let clamps: Vec<&Value> = plumbing["hoses"].as_array().unwrap().iter().map(|hose| &hose["clamps"]).collect();
    assert_eq!(clamps, [4, 4, 3]);
    assert_eq!(quantity(&taken, "hose/0.75 in/reinforced").as_deref(), Some("4.8"));
    assert_eq!(quantity(&taken, "hose/0.75 in/smooth").as_deref(), Some("4.4"));
    for fitting in ["through_hull", "seacock", "strainer", "well_inlet"] {
        assert_eq!(quantity(&taken, &format!("plumbing_fitting/{fitting}/0.75 in")).as_deref(), Some("1"), "{fitting}");
    }
    assert_eq!(plumbing["holes"]["below_waterline"], 1);
    assert!(taken["cautions"].to_string().contains("below_waterline"));
}

/// Two 3/4 in inlets have the area of a 1.061 in bore: 1 1/4 in pipe is the first that has it.
#[test]
fn pumps_that_share_an_intake_have_one_hole_a_wider_pipe_and_a_manifold() {
    let mut spec = boat(json!([pump("well", "PUMP-WELL"), pump("wash", "PUMP-WASH")]));
    let apart = taken(&spec);
    assert_eq!(apart["plumbing"]["holes"]["below_waterline"], 2);
    for place in 0..2 {
        spec["equipment"][place]["plumbing"] = json!({"intake": "raw_water"});
    }
    let shared = taken(&spec);
    let intake = row(&shared["plumbing"]["intakes"], "intake", "raw_water");
    near(&intake["pipe"]["value"], 1.25, 0.0);
    assert_eq!(intake["manifold_ways"], 2);
    assert_eq!(shared["plumbing"]["holes"]["below_waterline"], 1);
    assert_eq!(quantity(&shared, "plumbing_fitting/manifold/1.25 in/2 ways").as_deref(), Some("1"));
    assert_eq!(quantity(&shared, "plumbing_fitting/strainer/1.25 in").as_deref(), Some("1"));
}

#[test]
fn what_is_aboard_is_not_counted() {
    let mut spec = boat(json!([pump("well", "PUMP-WELL")]));
    spec["equipment"][0]["plumbing"] = json!({"existing_through_hull": true, "discharge": "port_quarter"});
    let reused = taken(&spec);
    assert_eq!(quantity(&reused, "plumbing_fitting/through_hull/0.75 in"), None);
    assert_eq!(quantity(&reused, "plumbing_fitting/strainer/0.75 in").as_deref(), Some("1"));
    assert_eq!(reused["plumbing"]["pumps"][0]["discharge_station"], "port_quarter");
    spec["equipment"][0]["plumbing"] = json!({"aboard": true});
    let aboard = taken(&spec);
    assert!(aboard.get("plumbing").is_none());
    assert!(!aboard["requirements"].to_string().contains("hose"));
}

#[test]
fn what_the_item_states_goes_before_what_is_usual() {
    let taken = taken(&boat(json!([pump("bait", "PUMP-BAIT")])));
    assert_eq!(quantity(&taken, "hose/0.5 in/reinforced"), None, "it is screwed on its seacock");
    assert_eq!(quantity(&taken, "hose/0.625 in/smooth").as_deref(), Some("4.4"));
    assert_eq!(quantity(&taken, "plumbing_fitting/hose_adapter/0.625 in/0.5 in thread").as_deref(), Some("1"));
}

/// A hull without a core has nothing to seal; where nobody knows, it is sealed and asked about.
#[test]
fn a_core_is_reckoned_with_until_it_is_known_that_there_is_none() {
    let mut spec = boat(json!([pump("well", "PUMP-WELL")]));
    let asked = |taken: &Value| taken["questions"].to_string().contains("hull_core_unstated");
    for (cored, sealed, asks) in [(Some("yes"), 1, false), (Some("no"), 0, false), (None, 1, true)] {
        match cored {
            Some(cored) => spec["boat"]["cored"] = json!(cored),
            None => drop(spec["boat"].as_object_mut().unwrap().remove("cored")),
        }
        let taken = taken(&spec);
        assert_eq!(taken["plumbing"]["holes"]["core_sealed"], sealed, "{cored:?}");
        assert_eq!(asked(&taken), asks, "{cored:?}");
    }
}

#[test]
fn a_discharge_that_leads_nowhere_known_is_asked_about() {
    let mut spec = small_boat(json!([pump("bilge", "PUMP-AUTO")]));
    spec["boat"]["cored"] = json!("no");
    let taken = taken(&spec);
    assert!(taken["questions"].to_string().contains("plumbing_discharge_unstated"));
    // The shop's 6 ft and the loop of 1 ft, all of it estimated.
    near(&taken["plumbing"]["hoses"][0]["cut_length"]["value"], 8.4, 1e-9);
}

/// Less run never takes more hose, wherever the shop's least stretch begins to count.
#[test]
fn a_shorter_run_never_takes_more_hose() {
    let mut spec = boat(json!([pump("well", "PUMP-WELL"), pump("bilge", "PUMP-AUTO")]));
    for source in ["measured", "estimated"] {
        let mut before = f64::INFINITY;
        for tenths in (1..60).rev() {
            for place in [2, 3] {
                spec["boat"]["runs"][place]["length"]["value"] = json!(f64::from(tenths) / 10.0);
                spec["boat"]["runs"][place]["length_source"] = json!(source);
            }
            let taken = taken(&spec);
            let hoses = taken["plumbing"]["hoses"].as_array().unwrap().iter();
            let cut: f64 = hoses.map(|hose| hose["cut_length"]["value"].as_f64().unwrap()).sum();
            assert!(cut <= before + 1e-9, "{source} {tenths}: {cut} after {before}");
            before = cut;
        }
    }
}

#[test]
fn plumbing_that_makes_no_sense_is_refused_with_its_place() {
    let at = |equipment: Value| -> Vec<String> {
        run(&boat(json!([equipment]))).unwrap_err().into_iter().map(|fault| fault.pointer).collect()
    };
    let with = |mut entry: Value, plumbing: Value| {
        entry["plumbing"] = plumbing;
        entry
    };
    let light = json!({"sku": "LIGHT-1", "quantity": 1, "station": "helm"});
    assert_eq!(at(with(light, json!({}))), ["/equipment/0/plumbing"]);
    let bilge = pump("bilge", "PUMP-AUTO");
    let both = json!({"intake": "raw", "existing_through_hull": true});
    assert_eq!(at(with(bilge, both)), ["/equipment/0/plumbing/existing_through_hull", "/equipment/0/plumbing/intake"]);
    let well = || pump("well", "PUMP-WELL");
    assert_eq!(at(with(well(), json!({"discharge": "nowhere"}))), ["/equipment/0/plumbing/discharge"]);
    assert_eq!(at(with(well(), json!({"intake": "Raw Water"}))), ["/equipment/0/plumbing/intake"]);
}
