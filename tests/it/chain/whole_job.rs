//! What is done once for the whole job, counted from the spec and the kind of job (common practice).

use rigbill::calc::chain::take_off;
use rigbill::calc::shop::labour::LabourOperation;
use serde_json::{Value, json};

use super::{run, shop, small_boat};

fn counted(spec: &Value) -> Value {
    let mut shop = shop::shop();
    let mut operations = (*shop.labour_operations).clone();
    for driver in ["old_circuit", "re_rig", "haul_or_launch", "job", "work_day", "electronic_device"] {
        operations.push(
            serde_json::from_value::<LabourOperation>(json!({
                "code": driver, "description": driver, "driver": driver, "low_min": 1, "likely_min": 2, "high_min": 3
            }))
            .unwrap(),
        );
    }
    let trial = operations.iter_mut().find(|operation| operation.code.as_str() == "sea_trial").unwrap();
    trial.driver = serde_json::from_value(json!("sea_trial")).unwrap();
    shop.labour_operations = operations.into();
    let taken = take_off(&serde_json::from_value(spec.clone()).unwrap(), &shop).unwrap_or_else(|f| panic!("{f:#?}"));
    let mut counts = json!({"told": taken.assumptions});
    for operation in &taken.labour.operations {
        counts[operation.operation.as_str()] = json!(operation.count.to_string());
    }
    counts
}

fn of(counts: &Value) -> [&str; 6] {
    ["old_circuit", "re_rig", "haul_or_launch", "sea_trial", "job", "electronic_device"]
        .map(|driver| counts[driver].as_str().unwrap_or("0"))
}

fn boat(job_type: &str, work: &Value) -> Value {
    let mut spec = small_boat(json!([
        {"sku": "LIGHT-1", "quantity": 3, "station": "aft_bilge"},
        {"sku": "LOAD-10", "quantity": 2, "station": "helm"}
    ]));
    spec["boat"]["job_type"] = json!(job_type);
    spec["boat"].as_object_mut().unwrap().extend(work.as_object().unwrap().clone());
    spec
}

#[test]
fn the_kind_of_job_says_what_is_done_unless_the_spec_does() {
    let first = counted(&boat("first_rig", &json!({})));
    assert_eq!(of(&first), ["0", "0", "2", "1", "1", "2"], "launched and hauled for the trial of the electronics");
    assert_eq!(of(&counted(&boat("bare_hull", &json!({})))), ["0", "0", "0", "0", "1", "2"]);
    let again = counted(&boat("re_rig", &json!({})));
    assert_eq!(of(&again), ["5", "1", "2", "1", "1", "2"], "as many old circuits as new ones, and a survey");
    assert!(again["told"].to_string().contains("Old circuits to strip out: 5"), "{}", again["told"]);
    let said = json!({"old_circuits": 11, "hauls_and_launches": 1, "sea_trial": false});
    let said = counted(&boat("re_rig", &said));
    assert_eq!(of(&said), ["11", "1", "1", "0", "1", "2"]);
    assert!(!said["told"].to_string().contains("sea trial") && !said["told"].to_string().contains("strip out"));
}

#[test]
fn lights_alone_need_no_sea_trial() {
    let mut spec = boat("first_rig", &json!({}));
    spec["equipment"].as_array_mut().unwrap().truncate(1);
    assert_eq!(of(&counted(&spec)), ["0", "0", "0", "0", "1", "0"]);
}

#[test]
fn a_new_boat_has_no_old_circuits() {
    let faults = run(&boat("first_rig", &json!({"old_circuits": 3}))).unwrap_err();
    assert_eq!(faults[0].pointer, "/boat/old_circuits");
    let faults = run(&boat("re_rig", &json!({"old_circuits": 501, "hauls_and_launches": 21}))).unwrap_err();
    let places: Vec<&str> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
    assert_eq!(places, ["/boat/hauls_and_launches", "/boat/old_circuits"]);
}

/// Ends and tests of a circuit are hours of its system; the pulls that it shares are not.
#[test]
fn hours_stand_by_the_function_of_their_circuit() {
    let taken = super::taken(&boat("first_rig", &json!({})));
    let systems = &taken["labour"]["by_system"];
    let likely = |name: &str| super::row(systems, "system", name)["likely_h"].as_f64().unwrap();
    // Of a light: 2 ends spliced (6 min) and 2 crimped (3 min), 4 labels (1 min), bench (12 min), landing (6 min): common practice.
    let minutes = 3.0 * (2.0 * 6.0 + 2.0 * 3.0 + 4.0 + 12.0 + 6.0);
    assert!((likely("lights") - minutes / 60.0).abs() < 1e-3, "{systems:#}");
    let pulls: f64 = ["set_up_pull", "pull_open"]
        .map(|code| super::row(&taken["labour"]["operations"], "operation", code)["likely_h"].as_f64().unwrap())
        .iter()
        .sum();
    assert!(likely("distribution") > pulls);
    let sum: f64 = systems.as_array().unwrap().iter().map(|system| system["likely_h"].as_f64().unwrap()).sum();
    assert!((sum - taken["labour"]["likely_h"].as_f64().unwrap()).abs() < 1e-3);
}
