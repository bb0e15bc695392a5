//! A person's choice stands, is told beside what was computed, and is refused where it would not be safe.

use serde_json::json;

use super::{row, run, small_boat, taken};

fn boat_with(sku: &str, gauge: &str) -> serde_json::Value {
    let mut spec = small_boat(json!([{"id": "load", "sku": sku, "quantity": 1, "station": "aft_bilge"}]));
    spec["overrules"] =
        json!([{"what": "conductor", "circuit": "load", "gauge": gauge, "reason": "Drum on the shelf"}]);
    spec
}

#[test]
fn a_larger_size_stands_with_its_reason() {
    let taken = taken(&boat_with("LIGHT-1", "10 AWG"));
    for label in ["C01+", "C01-"] {
        let wire = row(&taken["cut_list"], "label", label);
        assert_eq!((&wire["gauge"], &wire["limited_by"]), (&json!("10 AWG"), &json!("overrule")));
    }
    let applied = row(&taken["overrules"], "about", "load");
    assert_eq!(applied["computed"], "16 AWG");
    assert_eq!(applied["reason"], "Drum on the shelf");
}

#[test]
fn a_size_that_cannot_carry_the_load_is_refused() {
    // 16 AWG at 105 °C carries 25 A alone and 15 A among four to six loaded conductors (33 CFR 183 Table 5, note 2).
    let faults = run(&boat_with("LOAD-20", "16 AWG")).unwrap_err();
    assert_eq!(faults[0].pointer, "/overrules/0/gauge");
    assert!(faults[0].message.contains("refused"), "{faults:?}");
}

#[test]
fn a_size_below_the_smallest_single_conductor_is_refused() {
    // 33 CFR 183.425(e): 16 AWG for a conductor installed by itself.
    let faults = run(&boat_with("LIGHT-1", "18 AWG")).unwrap_err();
    assert_eq!(faults[0].pointer, "/overrules/0/gauge");
}

#[test]
fn a_size_that_only_drops_too_much_is_a_warning() {
    let taken = taken(&boat_with("LOAD-10", "14 AWG"));
    let warning = row(&taken["warnings"], "about", "load");
    assert!(warning["message"].as_str().unwrap().contains("over the limit"), "{warning}");
    assert!(row(&taken["circuits"], "key", "load")["drop_percent"].as_f64().unwrap() > 3.0);
}

#[test]
fn an_overrule_of_nothing_is_a_fault_and_never_forgotten() {
    let mut spec = boat_with("LIGHT-1", "10 AWG");
    spec["overrules"][0]["circuit"] = json!("lode");
    let faults = run(&spec).unwrap_err();
    assert_eq!(faults[0].pointer, "/overrules/0/circuit");
    assert!(faults[0].message.contains("'load'"), "{faults:?}");
}

#[test]
fn a_drop_past_every_class_is_refused_and_so_is_one_that_safety_hangs_on() {
    // ABYC E-11 knows no class above 10 %, and ISO 10133 puts bilge pumps and navigation lights at 3 %.
    let mut far = boat_with("LOAD-5", "16 AWG");
    far["boat"]["runs"][1]["length"] = json!({"value": 120, "unit": "ft"});
    let faults = run(&far).unwrap_err();
    assert!(faults[0].message.contains("over the limit of 1.20 V"), "{faults:?}");
    let faults = run(&boat_with("PUMP-AUTO", "16 AWG")).unwrap_err();
    assert!(faults[0].message.contains("over the limit of 0.36 V"), "{faults:?}");
}
