//! Cables that come with a device: whether they reach, on small boats whose figures can be followed by hand.

use serde_json::{Value, json};

use super::network::{at, line_boat, networked, networked_shop, run_in};
use super::power::needs;
use super::{near, row};

fn cable(kind: &str, feet: f64, more: Value) -> Value {
    let mut cable = json!({"cable": kind, "length": {"value": feet, "unit": "ft"}});
    for (name, value) in more.as_object().unwrap() {
        cable[name] = value.clone();
    }
    json!({ "supplied_cables": [cable] })
}

fn taken(spec: &Value) -> Value {
    let leads = json!([{"role": "switched_positive", "current_a": 2.0}, {"role": "return"}]);
    let shop = networked_shop(vec![
        networked("SOUNDER", json!([]), &cable("transducer", 30.0, json!({}))),
        networked(
            "SOUNDER-X",
            json!([]),
            &cable("transducer", 30.0, json!({"extension_plug": "X9", "may_be_cut": true})),
        ),
        networked("AERIAL", json!([]), &cable("antenna", 30.0, json!({"may_be_cut": true}))),
        networked("DISPLAY", leads.clone(), &json!({})),
        networked("VHF", leads, &json!({"function": "radio"})),
    ]);
    run_in(&shop, spec).unwrap_or_else(|faults| panic!("faults: {faults:#?}"))
}

/// 30 ft are 9.144 m; the way is lengthened by the 10 % of the starting settings, and each end has a loop of 8 in.
#[test]
fn a_cable_that_reaches_tells_what_is_over() {
    let taken = taken(&line_boat(&[5.0], json!([at("DISPLAY", 1, "helm"), at("SOUNDER", 1, "s1")])));
    let led = &taken["supplied_cables"][0];
    assert_eq!((&led["equipment"], &led["to"]), (&json!("sounder-s1"), &json!("display-helm")));
    assert_eq!(led["route"], json!(["s1", "helm"]));
    let needed = 5.0 * 1.1 + 2.0 * 0.2032;
    near(&led["needed_length"]["value"], needed, 1e-3);
    near(&led["surplus"]["value"], 9.144 - needed, 1e-3);
    assert!(led["advice"].as_str().unwrap().contains("never cut"));
    // More than 3 m over is told.
    assert!(row(&taken["warnings"], "about", "sounder-s1")["message"].as_str().unwrap().contains("coil"));
    assert_eq!(taken["gaps"], json!([]));
    assert!(row(&taken["runs"], "to", "s1")["other_cables"].as_array().unwrap().contains(&led["label"]));
}

#[test]
fn a_cable_that_does_not_reach_is_extended_or_a_gap_and_a_transducers_is_never_cut() {
    let spec = |sku: &str| line_boat(&[9.0], json!([at("DISPLAY", 1, "helm"), at(sku, 1, "s1")]));
    let gap = taken(&spec("SOUNDER"));
    assert_eq!(gap["gaps"].as_array().unwrap().len(), 1);
    assert!(gap["gaps"][0]["mend"].as_str().unwrap().contains("longer cable"));
    let extended = taken(&spec("SOUNDER-X"));
    assert_eq!(extended["gaps"], json!([]));
    let led = &extended["supplied_cables"][0];
    // Whatever the item says.
    assert_eq!(led["may_be_cut"], false);
    let missing = 9.0 * 1.1 + 2.0 * 0.2032 - 9.144;
    near(&led["extension"]["value"], missing, 1e-3);
    let need = needs(&extended, "cable_extension")[0];
    assert_eq!((&need["need"]["extends"], &need["need"]["plug"]), (&json!("transducer"), &json!("X9")));
    near(&need["need"]["length_m_min"], missing, 1e-3);
}

#[test]
fn a_cable_leads_where_the_spec_says_else_to_what_takes_it_else_to_the_helm() {
    let to = |equipment: Value| {
        let taken = taken(&line_boat(&[2.0, 2.0], equipment));
        let asked =
            taken["questions"].as_array().unwrap().iter().any(|question| question["id"] == "supplied_cable_end");
        let route = taken["supplied_cables"][0]["route"].as_array().unwrap().clone();
        (route.last().cloned().unwrap(), asked)
    };
    let aerial = || at("AERIAL", 1, "s1");
    let with = |function: &str| {
        let mut aerial = aerial();
        aerial["cables_to"] = json!(function);
        aerial
    };
    // A display takes no antenna: the helm is taken, and asked about.
    assert_eq!(to(json!([aerial(), at("DISPLAY", 1, "s2")])).0, "helm");
    let mut spec = line_boat(&[2.0, 2.0], json!([with("s2")]));
    assert_eq!(taken(&spec)["supplied_cables"][0]["route"], json!(["s1", "s2"]));
    spec["equipment"] =
        json!([at("DISPLAY", 1, "helm"), {"sku": "DISPLAY", "quantity": 1, "station": "s1", "cables_to": "s2"}]);
    let input = serde_json::from_value(spec).unwrap();
    let leads = json!([{"role": "switched_positive", "current_a": 2.0}, {"role": "return"}]);
    let shop = networked_shop(vec![networked("DISPLAY", leads, &json!({}))]);
    let faults = rigbill::calc::chain::take_off(&input, &shop).unwrap_err();
    assert_eq!(faults[0].pointer, "/equipment/1/cables_to");
}

/// A tube's fill knows the wire that was sized; whatever else goes through is told, with its label.
#[test]
fn a_tube_that_a_supplied_cable_goes_through_is_told() {
    let told = |access: &str| {
        let mut spec = line_boat(&[2.0, 2.0], json!([at("AERIAL", 1, "s1")]));
        for run in spec["boat"]["runs"].as_array_mut().unwrap() {
            run["access"] = json!(access);
        }
        let taken = taken(&spec);
        let label = taken["supplied_cables"][0]["label"].as_str().unwrap().to_owned();
        let warnings = taken["warnings"].as_array().unwrap().iter().filter_map(|warning| warning["message"].as_str());
        let of_fill: Vec<String> = warnings.filter(|text| text.contains("its fill")).map(str::to_owned).collect();
        assert!(of_fill.iter().all(|text| text.contains(&label)), "{of_fill:?}");
        of_fill.len()
    };
    assert_eq!(told("open"), 0);
    assert!(told("tube") > 0);
}
