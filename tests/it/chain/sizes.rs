//! Sizes: what limits them, feeder and branches together, and how they move.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::{near, row, small_boat, taken};

#[test]
fn what_set_each_size_is_told() {
    let taken = taken(&small_boat(json!([
        {"id": "light", "sku": "LIGHT-1", "quantity": 1, "station": "helm"},
        {"id": "far", "sku": "LOAD-10", "quantity": 1, "station": "aft_bilge"}
    ])));
    assert_eq!(row(&taken["cut_list"], "circuit", "light")["limited_by"], "minimum_size");
    assert_eq!(row(&taken["cut_list"], "circuit", "far")["limited_by"], "voltage_drop");
}

#[test]
fn the_makers_fuse_is_taken() {
    let taken = taken(&small_boat(json!([{"id": "load", "sku": "MAKER-FUSE", "quantity": 1, "station": "helm"}])));
    near(&taken["circuits"][0]["protection"][0]["rating_a"], 5.0, 1e-9);
}

/// Two switched positives can both be on: the return and the feeder carry the sum.
#[test]
fn a_return_carries_all_that_its_positives_can_draw() {
    let taken = taken(&small_boat(json!([{"id": "load", "sku": "TWO-POSITIVES", "quantity": 1, "station": "helm"}])));
    near(&row(&taken["cut_list"], "label", "C01-")["design_current_a"], 30.0, 1e-9);
    near(&taken["feeders"][0]["design_current_a"], 30.0, 1e-9);
}

/// On a 36 V bank a constant positive hangs on a main fuse, whose smallest rating is large: every conductor behind it,
/// the shared return too, must stand that rating (33 CFR 183.455(c)(1): at most 150 % of the allowable current).
#[test]
fn a_return_stands_the_largest_device_of_its_circuit() {
    let mut spec = small_boat(json!([{"id": "load", "sku": "BOW-MEMORY", "quantity": 1, "station": "aft_bilge"}]));
    spec["power"]["banks"][0]["nominal_voltage_v"] = json!(36);
    let taken = taken(&spec);
    let devices = row(&taken["circuits"], "key", "load")["protection"].as_array().unwrap();
    let largest = devices.iter().map(|device| device["rating_a"].as_f64().unwrap()).fold(0.0, f64::max);
    assert!(largest > 30.0, "a main fuse: {devices:?}");
    for label in ["C01+A", "C01-"] {
        let allowable = row(&taken["cut_list"], "label", label)["allowable_current_a"].as_f64().unwrap();
        assert!(largest <= allowable * 1.5, "{label}: {largest} A behind {allowable} A");
    }
    // Such a device has studs: the conductor ends in a lug, not in a splice.
    let end = &row(&taken["cut_list"], "label", "C01+A")["from"];
    assert_eq!((&end["lands_on"], &end["termination"]), (&json!("main_fuse"), &json!("lug")));
}

/// A main fuse is no smaller than a branch device behind it, or one motor's start takes the whole panel down.
#[test]
fn a_main_fuse_is_no_smaller_than_the_devices_behind_it() {
    let taken = taken(&small_boat(json!([{"id": "load", "sku": "STRONG-FUSE", "quantity": 1, "station": "helm"}])));
    near(&taken["circuits"][0]["protection"][0]["rating_a"], 60.0, 1e-9);
    near(&taken["feeders"][0]["protection"]["rating_a"], 60.0, 1e-9);
}

/// The limit holds from bank to device: feeder and branch share it.
#[test]
fn no_device_is_below_its_limit_and_no_feeder_over_its_own() {
    let taken = taken(&many(&[("LOAD-10", 4), ("LOAD-20", 2), ("LIGHT-1", 5), ("PUMP-AUTO", 2)]));
    assert_eq!(taken["gaps"], json!([]));
    for circuit in taken["circuits"].as_array().unwrap() {
        let (drop, limit) =
            (circuit["drop_percent"].as_f64().unwrap(), circuit["drop_limit_percent"].as_f64().unwrap());
        assert!(drop <= limit, "{circuit:#}");
        near(&circuit["loaded_voltage_v"], 12.0 * (1.0 - drop / 100.0), 2e-3);
    }
    for feeder in taken["feeders"].as_array().unwrap() {
        assert!(feeder["drop_percent"].as_f64().unwrap() <= feeder["drop_limit_percent"].as_f64().unwrap());
    }
}

fn many(loads: &[(&str, u32)]) -> Value {
    let equipment: Vec<Value> = loads
        .iter()
        .enumerate()
        .map(|(i, (sku, quantity))| {
            let station = if i % 2 == 0 { "aft_bilge" } else { "helm" };
            json!({"id": format!("e{i}"), "sku": sku, "quantity": quantity, "station": station})
        })
        .collect();
    small_boat(Value::Array(equipment))
}

/// Copper of all conductors, circular mil feet: what the search over feeder and branches makes least.
fn copper(taken: &Value) -> f64 {
    let area = |gauge: &str| {
        let size = gauge.parse().unwrap();
        rigbill::calc::rules::sizes::area_cmil(size, rigbill::calc::units::AreaStandard::Awg).unwrap()
    };
    let of = |wire: &Value| area(wire["gauge"].as_str().unwrap()) * wire["carrying_length"]["value"].as_f64().unwrap();
    taken["cut_list"].as_array().unwrap().iter().map(of).sum()
}

/// Ends that take a lug, and splices of conductors of such a size.
fn lugged(taken: &Value) -> usize {
    let heavy = |gauge: &str| !matches!(gauge, "16 AWG" | "14 AWG" | "12 AWG" | "10 AWG");
    let wires = taken["cut_list"].as_array().unwrap().iter().filter(|wire| heavy(wire["gauge"].as_str().unwrap()));
    let lug = |end: &Value| usize::from(end["termination"] == "lug");
    wires.map(|wire| lug(&wire["from"]) + lug(&wire["to"])).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_the_input_changes_nothing(order in Just(vec![0usize, 1, 2, 3]).prop_shuffle(), turn in any::<bool>()) {
        let spec = many(&[("LOAD-10", 2), ("LIGHT-1", 3), ("PUMP-AUTO", 1), ("STEREO", 1)]);
        let mut other = spec.clone();
        let entries = spec["equipment"].as_array().unwrap();
        other["equipment"] = Value::Array(order.iter().map(|i| entries[*i].clone()).collect());
        other["boat"]["stations"].as_array_mut().unwrap().reverse();
        if turn {
            other["boat"]["runs"].as_array_mut().unwrap().reverse();
            let run = &mut other["boat"]["runs"][0];
            let (from, to) = (run["from"].clone(), run["to"].clone());
            run["from"] = to;
            run["to"] = from;
        }
        prop_assert_eq!(serde_json::to_string(&taken(&spec)).unwrap(), serde_json::to_string(&taken(&other)).unwrap());
    }

    #[test]
    fn more_length_never_takes_less_copper(feet in 1.0f64..40.0, more in 0.0f64..20.0) {
        let at = |length: f64| {
            let mut spec = many(&[("LOAD-10", 1), ("LIGHT-1", 2)]);
            spec["boat"]["runs"][1]["length"]["value"] = json!(length);
            taken(&spec)
        };
        prop_assert!(copper(&at(feet)) <= copper(&at(feet + more)) + 1e-6);
    }

    /// The least copper of what is left may lie in a thinner feeder and a thicker branch, whose lugs take longer than
    /// crimps: only then may hours rise, and ends never do.
    #[test]
    fn taking_a_device_away_never_adds_an_end_or_an_hour(counts in proptest::collection::vec(1u32..3, 4), away in 0usize..4) {
        let skus = ["LOAD-10", "LIGHT-1", "PUMP-AUTO", "LOAD-5"];
        let loads: Vec<(&str, u32)> = skus.into_iter().zip(counts).collect();
        let whole = many(&loads);
        let mut less = whole.clone();
        less["equipment"].as_array_mut().unwrap().remove(away);
        let (whole, less) = (taken(&whole), taken(&less));
        let ends = |taken: &Value| taken["cut_list"].as_array().unwrap().len() * 2;
        prop_assert!(ends(&less) < ends(&whole));
        prop_assert!(copper(&less) < copper(&whole));
        let hours = |taken: &Value| taken["labour"]["likely_h"].as_f64().unwrap();
        prop_assert!(hours(&less) <= hours(&whole) + 1e-9 || lugged(&less) > lugged(&whole), "{} h", hours(&less));
    }
}
