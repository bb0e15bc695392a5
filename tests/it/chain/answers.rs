//! What is unusual to leave out (common practice) is asked about once, and stays answered.

use serde_json::{Value, json};

use super::{run, small_boat, taken};

/// A petrol boat with an automatic bilge pump and nothing else.
fn bare() -> Value {
    let mut spec = small_boat(json!([{"id": "pump", "sku": "PUMP-AUTO", "quantity": 1, "station": "aft_bilge"}]));
    spec["boat"]["propulsion"] = json!("petrol_inboard");
    spec["boat"]["underwater_metal"] = json!(["rudder"]);
    spec
}

const ASKED: [&str; 8] = [
    "navigation_lights_absent",
    "horn_absent",
    "radio_absent",
    "high_water_alarm_absent",
    "engine_stop_absent",
    "blower_absent",
    "charger_absent",
    "bonding",
];

fn asked(taken: &Value) -> Vec<&str> {
    let ids = taken["questions"].as_array().unwrap().iter().filter_map(|question| question["id"].as_str());
    ids.filter(|id| ASKED.contains(id)).collect()
}

fn answered(answers: &Value) -> Value {
    let mut spec = bare();
    spec["answers"] = answers.clone();
    taken(&spec)
}

#[test]
fn each_is_asked_once_and_not_again_when_it_was_answered() {
    assert_eq!(asked(&taken(&bare())), ASKED);
    for (place, id) in ASKED.into_iter().enumerate() {
        for answer in ["present", "add", "declined"] {
            let taken = answered(&json!([{"question": id, "answer": answer, "note": "So it was said"}]));
            let mut left = ASKED.to_vec();
            left.remove(place);
            assert_eq!(asked(&taken), left, "{id} {answer}");
            let given = &taken["answers"][0];
            assert_eq!((&given["question"], &given["answer"]), (&json!(id), &json!(answer)));
            let gap = taken["gaps"].as_array().unwrap().iter().any(|gap| gap["what"] == format!("answer/{id}"));
            assert_eq!(gap, answer == "add", "what is to be added and is on no list is a gap: {id} {answer}");
        }
    }
}

#[test]
fn what_is_added_to_the_list_closes_its_gap_and_what_contradicts_the_list_is_told() {
    let with_lights = |answer: &str| {
        let mut spec = bare();
        let equipment = spec["equipment"].as_array_mut().unwrap();
        equipment.push(json!({"sku": "NAV-1", "quantity": 1, "station": "helm"}));
        spec["answers"] = json!([{"question": "navigation_lights_absent", "answer": answer}]);
        taken(&spec)
    };
    for (answer, warned) in [("add", false), ("present", true), ("declined", true)] {
        let taken = with_lights(answer);
        let gaps = taken["gaps"].as_array().unwrap();
        let unanswered = gaps.iter().any(|gap| gap["what"].as_str().unwrap().starts_with("answer/"));
        assert!(taken["answers"] == json!([]) && !unanswered, "{answer}: {gaps:#?}");
        let warnings = taken["warnings"].as_array().unwrap();
        let about = warnings.iter().any(|warning| warning["about"] == "navigation_lights_absent");
        assert_eq!(about, warned, "{answer}");
    }
}

/// What was rigged before has most of it aboard: it is not asked about, and can be answered all the same.
#[test]
fn a_re_rig_is_asked_less() {
    let mut spec = bare();
    spec["boat"]["job_type"] = json!("re_rig");
    assert_eq!(asked(&taken(&spec)), ["high_water_alarm_absent", "charger_absent", "bonding"]);
    spec["answers"] = json!([{"question": "horn_absent", "answer": "declined"}]);
    assert_eq!(taken(&spec)["answers"][0]["thing"], "a horn");
}

#[test]
fn an_engine_stop_on_the_list_is_found_by_its_name() {
    let mut spec = bare();
    spec["extra_lines"] = json!([{
        "description": "Engine stop switch with lanyard", "quantity": "1", "unit": "each", "unit_price": "60",
        "tax_class": "goods"
    }]);
    assert!(!asked(&taken(&spec)).contains(&"engine_stop_absent"));
}

#[test]
fn an_answer_to_nothing_is_refused_with_what_would_do() {
    let mut spec = bare();
    spec["answers"] = json!([
        {"question": "horn_absnt", "answer": "present"},
        {"question": "petrol_vapour_unknown", "answer": "present"},
        {"question": "colour_of_the_sea", "answer": "present"},
        {"question": "horn_absent", "answer": "present"},
        {"question": "horn_absent", "answer": "add"}
    ]);
    let faults = run(&spec).unwrap_err();
    let told: Vec<(&str, &str)> = faults.iter().map(|f| (f.pointer.as_str(), f.message.as_str())).collect();
    assert_eq!(told.len(), 4, "{told:#?}");
    for (place, part) in
        [(0, "did you mean 'horn_absent'"), (1, "petrol_vapour"), (2, "engine_stop_absent"), (4, "twice")]
    {
        let pointer = format!("/answers/{place}/question");
        assert!(told.iter().any(|(at, message)| *at == pointer && message.contains(part)), "{place}: {told:#?}");
    }
}
