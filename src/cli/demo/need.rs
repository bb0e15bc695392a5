//! A requirement's need in words.

use serde_json::{Map, Value};

/// What is needed, in words; `None` for wire, cable and named items, which other parts of the page list. A kind that this
/// program does not know is given by its key.
pub fn words(need: &Map<String, Value>, key: &str) -> Option<String> {
    let text = |name: &str| match need.get(name) {
        Some(Value::String(text)) => text.replace('_', " "),
        Some(Value::Object(length)) => {
            let unit = length.get("unit").and_then(Value::as_str).unwrap_or_default();
            format!("{} {unit}", length.get("value").map(Value::to_string).unwrap_or_default())
        }
        Some(Value::Number(number)) => number.as_f64().map(|n| n.to_string()).unwrap_or_default(),
        _ => String::new(),
    };
    let protected =
        || if need.get("ignition_protected") == Some(&Value::Bool(true)) { ", ignition protected" } else { "" };
    let interrupt = || match need.get("interrupt_a_min").and_then(Value::as_f64) {
        Some(amperes) if amperes > 0.0 => format!(", interrupts at least {amperes} A"),
        _ => String::new(),
    };
    Some(match need.get("kind").and_then(Value::as_str)? {
        "wire" | "cable" | "item" => return None,
        "ring_terminal" => format!("Ring terminal {}, {} stud", text("size"), text("stud")),
        "butt_splice" => format!("Butt splice {}", text("size")),
        "lug" => format!("Heavy lug {}, {} stud", text("size"), text("stud")),
        "heat_shrink" => format!(
            "Adhesive heat shrink {}, {} at most when shrunk, piece of {}",
            text("supplied_diameter"),
            text("recovered_diameter_max"),
            text("piece_length"),
        ),
        "fuse" => format!(
            "Fuse {} A, {}, at least {} V{}",
            text("rating_a"),
            text("family"),
            text("voltage_v_min"),
            interrupt()
        ),
        "fuse_holder" => format!(
            "Fuse holder for {} A, {}, at least {} V{}",
            text("rating_a"),
            text("family"),
            text("voltage_v_min"),
            protected()
        ),
        "breaker" => {
            format!(
                "Breaker {} A, at least {} V{}{}",
                text("rating_a"),
                text("voltage_v_min"),
                interrupt(),
                protected()
            )
        }
        "battery_switch" => format!(
            "Battery switch, at least {} A and {} V, {} studs{}",
            text("rating_a_min"),
            text("voltage_v_min"),
            text("stud"),
            protected()
        ),
        "terminal_boot" => format!("Terminal boot, {}, for {}", text("colour"), text("size")),
        "bus" => {
            format!(
                "Bus, at least {} places on {} and {} A",
                text("least_positions"),
                text("stud"),
                text("rating_a_min")
            )
        }
        "fuse_block" => format!(
            "Fuse block, {}, at least {} places, {} A and {} V{}",
            text("family"),
            text("least_positions"),
            text("rating_a_min"),
            text("voltage_v_min"),
            protected()
        ),
        "charger" => format!(
            "Charger, at least {} outputs of {} A for {} V batteries{}",
            text("least_outputs"),
            text("output_a_min"),
            text("nominal_voltage_v"),
            protected()
        ),
        "combiner" => format!(
            "Combiner that isolates while cranking, at least {} A and {} V, {} studs{}",
            text("rating_a_min"),
            text("voltage_v_min"),
            text("stud"),
            protected()
        ),
        "bow_receptacle" => format!(
            "Bow-motor receptacle and plug, at least {} A and {} V{}",
            text("rating_a_min"),
            text("voltage_v_min"),
            protected()
        ),
        "bilge_switch" => format!(
            "Bilge switch, automatic-off-manual, running light, at least {} A and {} V{}",
            text("rating_a_min"),
            text("voltage_v_min"),
            protected()
        ),
        "network_cable" => format!(
            "Data network cable, {}, {} to {} m long",
            text("class"),
            text("length_m_min"),
            text("length_m_max")
        ),
        "network_tee" => format!("Data network tee, {} connectors", text("connector")),
        "network_terminator" => format!("Data network terminator, {} connector", text("connector")),
        "network_power_tap" => {
            format!("Data network power tap, {} connectors, at least {} A", text("connector"), text("rating_a_min"))
        }
        "display_cable" => {
            format!("Cable between displays, plug {}, at least {} m", text("plug"), text("length_m_min"))
        }
        "engine_gateway" => format!("Engine gateway, at most {} LEN", text("load_equivalency_max")),
        "cable_extension" => format!(
            "Extension of the {} cable, plug {}, at least {} m",
            text("extends"),
            text("plug"),
            text("length_m_min")
        ),
        "wire_label" => format!("Wire label, around {}", text("around")),
        "hose" => format!(
            "Hose {} inside, {}",
            text("inside_diameter"),
            if need.get("reinforced") == Some(&Value::Bool(true)) { "reinforced" } else { "smooth or reinforced" }
        ),
        "plumbing_fitting" => {
            let more = |name: &str, word: &str| match need.get(name) {
                Some(_) => format!(", {} {word}", text(name)),
                None => String::new(),
            };
            let (thread, ways) = (more("pipe_thread", "thread"), more("least_ways", "ways or more"));
            format!("{} {}{thread}{ways}", first_upper(&text("fitting")), text("nominal_size"))
        }
        "fastener" => format!("{}, around {}", first_upper(&text("fastener")), text("around")),
        "loom" => format!("Split loom, at least {} inside", text("inside_diameter_min")),
        "messenger_line" => "Messenger line".to_owned(),
        "consumable" => first_upper(&text("consumable")),
        "battery_hardware" => match need.get("group") {
            Some(_) => format!("Battery {}, group {}", text("battery_part"), text("group")),
            None => format!("Battery {}", text("battery_part")),
        },
        _ => key.to_owned(),
    })
}

fn first_upper(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
