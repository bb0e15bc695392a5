//! The rules of the data network and of supplied cables again.

use serde_json::{Map, Value, json};

use crate::reference::rows;

/// A published figure of the network.
pub fn published(what: &str) -> f64 {
    let rows = rows(include_str!("../reference/data/network.csv"));
    rows.iter().find(|row| row.text("what") == what).unwrap_or_else(|| panic!("no figure {what}")).number("value")
}

/// What a rule of the network gives; `None` for any other.
pub fn evaluate(rule: &str, inputs: &Map<String, Value>) -> Option<Value> {
    let of = |name: &str| inputs[name].as_f64().unwrap_or_else(|| panic!("{rule}: input '{name}' in {inputs:?}"));
    let of_class = |figure: &str| published(&format!("{}_{figure}", inputs["class"].as_str().expect("a class")));
    let figure = match rule {
        "cable.reach" => {
            let grown = |length: &str, waste: &str| of(length) * (of(waste) + 100.0) / 100.0;
            of("slack_m")
                + grown("estimated_m", "waste_estimated_percent")
                + grown("measured_m", "waste_measured_percent")
        }
        "cable.surplus" => -(of("needed_m") - of("length_m")),
        "network.backbone" => of("last_drop_m") + of("first_drop_m") + of("spans_m"),
        "network.backbone_limit" => of_class("backbone_m"),
        "network.current_limit" => of_class("a"),
        "network.drops" => of("others_m") + of("longest_m"),
        "network.load" => of("load_equivalency") * published("len_a"),
        "network.voltage_drop" => {
            let one_conductor_v = of("load_equivalency") * published("len_a") * (of("ohm_per_m") * of("length_m"));
            2.0 * one_conductor_v
        }
        "network.end_voltage" => -(of("drop_v") - of("tap_voltage_v")),
        "network.tees" => 1.0 + of("devices"),
        "network.terminators" => published("terminators") - of("built_in"),
        _ => return None,
    };
    Some(json!(figure))
}
