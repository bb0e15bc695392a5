//! The columns of a file of items, and what the rows of each kind fill.

use serde_json::Value;

use super::{cells, dash_cell, network_cells};

/// Columns that any item may fill, and whether it must.
pub const COMMON: [(&str, bool); 17] = [
    ("sku", true),
    ("description", true),
    ("category", true),
    ("kind", true),
    ("selling_unit", true),
    ("buying_unit", true),
    ("buying_quantity", true),
    ("minimum_order", false),
    ("order_multiple", false),
    ("tax_class", false),
    ("lead_time_days", false),
    ("special_order", false),
    ("supplier", false),
    ("labour", false),
    ("cost", false),
    ("list_price", false),
    ("valid_from", false),
];

/// Reads a cell into the JSON that the attribute has.
pub type Cell = fn(&str) -> Result<Value, String>;

/// Attribute columns: name, and how its cells are read. A name means the same on every kind that has it.
pub const ATTRIBUTES: [(&str, Cell); 69] = [
    ("battery_part", cells::battery_part),
    ("capacity_ah", cells::number),
    ("case_ground", cells::flag),
    ("charge_a", cells::number),
    ("chemistries", cells::chemistries),
    ("chemistry", cells::chemistry),
    ("class", cells::network_class),
    ("cold_cranking_a", cells::number),
    ("colour", cells::text),
    ("colours", cells::texts),
    ("conductors", cells::whole),
    ("connector", cells::network_connector),
    ("consumable", cells::consumable),
    ("dash_mount", dash_cell::dash_mount),
    ("data_network", network_cells::data_network),
    ("diameter_from", cells::length),
    ("diameter_max", cells::length),
    ("diameter_to", cells::length),
    ("draw_a", cells::number),
    ("drop_class", cells::drop_class),
    ("duty", cells::duty),
    ("extends", cells::supplied_cable_kind),
    ("family", cells::family),
    ("fastener", cells::fastener),
    ("fitting", cells::fitting),
    ("fused_outputs", cells::flag),
    ("function", cells::function),
    ("group", cells::text),
    ("hose_type", cells::hose_type),
    ("ignition_protected", cells::flag),
    ("inside_diameter", cells::length),
    ("insulation_c", cells::whole),
    ("interrupt_a", cells::number),
    ("isolates_while_cranking", cells::flag),
    ("leads", cells::leads),
    ("length", cells::length),
    ("limits_charging", cells::flag),
    ("load_column", cells::load_column),
    ("load_equivalency", cells::whole),
    ("maker_fuse_a", cells::number),
    ("nominal_size", cells::length),
    ("nominal_voltage_v", cells::whole),
    ("nominal_voltages_v", cells::wholes),
    ("output_a", cells::number),
    ("outputs", cells::whole),
    ("outside_diameter", cells::length),
    ("piece_length", cells::length),
    ("pipe_thread", cells::length),
    ("plug", cells::text),
    ("plumbing", cells::plumbing),
    ("positions", cells::whole),
    ("protection", cells::protection),
    ("rated_voltage_v", cells::number),
    ("rating_a", cells::number),
    ("rating_max_a", cells::number),
    ("recovered_diameter", cells::length),
    ("running_light", cells::flag),
    ("shape", cells::shape),
    ("size", cells::size),
    ("size_from", cells::size),
    ("size_to", cells::size),
    ("stud", cells::stud),
    ("supplied_cables", network_cells::supplied_cables),
    ("supplied_diameter", cells::length),
    ("tinned", cells::flag),
    ("unwired", cells::flag),
    ("voltage_rating_v", cells::number),
    ("ways", cells::whole),
    ("wiring", cells::wiring),
];

/// What the rows of a kind fill beside the common columns: what they must, and what they may.
pub struct Kind {
    /// The kind as it is written in JSON.
    pub name: &'static str,
    /// Attributes that it needs.
    pub needs: &'static [&'static str],
    /// Attributes that it may have.
    pub may: &'static [&'static str],
}

/// All kinds.
pub const KINDS: [Kind; 36] = [
    Kind {
        name: "device",
        needs: &["function"],
        may: &[
            "rated_voltage_v",
            "nominal_voltages_v",
            "draw_a",
            "leads",
            "unwired",
            "duty",
            "load_column",
            "drop_class",
            "maker_fuse_a",
            "wiring",
            "dash_mount",
            "plumbing",
            "data_network",
            "supplied_cables",
            "ignition_protected",
        ],
    },
    Kind { name: "wire", needs: &["size", "colour", "insulation_c"], may: &["tinned"] },
    Kind {
        name: "cable",
        needs: &["conductors", "size", "shape", "outside_diameter", "colours", "insulation_c"],
        may: &["tinned"],
    },
    Kind { name: "ring_terminal", needs: &["size_from", "size_to", "stud"], may: &[] },
    Kind { name: "butt_splice", needs: &["size_from", "size_to"], may: &[] },
    Kind { name: "lug", needs: &["size", "stud"], may: &[] },
    Kind { name: "heat_shrink", needs: &["supplied_diameter", "recovered_diameter", "piece_length"], may: &[] },
    Kind { name: "fuse", needs: &["family", "rating_a", "voltage_rating_v", "interrupt_a"], may: &[] },
    Kind { name: "fuse_holder", needs: &["family", "rating_max_a", "voltage_rating_v"], may: &["ignition_protected"] },
    Kind { name: "breaker", needs: &["rating_a", "voltage_rating_v", "interrupt_a"], may: &["ignition_protected"] },
    Kind { name: "wire_label", needs: &["diameter_max"], may: &[] },
    Kind {
        name: "panel",
        needs: &["positions", "protection", "voltage_rating_v", "stud"],
        may: &["dash_mount", "ignition_protected"],
    },
    Kind { name: "bus", needs: &["positions", "stud", "rating_a"], may: &[] },
    Kind {
        name: "battery",
        needs: &["nominal_voltage_v", "capacity_ah"],
        may: &["cold_cranking_a", "chemistry", "charge_a", "group"],
    },
    Kind { name: "battery_switch", needs: &["rating_a", "voltage_rating_v", "stud"], may: &["ignition_protected"] },
    Kind { name: "terminal_boot", needs: &["size_from", "size_to", "colour"], may: &[] },
    Kind {
        name: "fuse_block",
        needs: &["positions", "family", "rating_a", "voltage_rating_v", "stud"],
        may: &["ignition_protected"],
    },
    Kind {
        name: "charger",
        needs: &["outputs", "output_a", "nominal_voltage_v", "chemistries", "stud"],
        may: &["fused_outputs", "case_ground", "ignition_protected"],
    },
    Kind {
        name: "combiner",
        needs: &["rating_a", "voltage_rating_v", "stud"],
        may: &["isolates_while_cranking", "limits_charging", "ignition_protected"],
    },
    Kind { name: "bow_receptacle", needs: &["rating_a", "voltage_rating_v"], may: &["ignition_protected"] },
    Kind {
        name: "bilge_switch",
        needs: &["rating_a", "voltage_rating_v"],
        may: &["running_light", "ignition_protected"],
    },
    Kind { name: "hose", needs: &["inside_diameter", "hose_type"], may: &[] },
    Kind { name: "plumbing_fitting", needs: &["fitting", "nominal_size"], may: &["pipe_thread", "ways"] },
    Kind { name: "fastener", needs: &["fastener", "diameter_from", "diameter_to"], may: &[] },
    Kind { name: "loom", needs: &["inside_diameter"], may: &[] },
    Kind { name: "messenger_line", needs: &[], may: &[] },
    Kind { name: "consumable", needs: &["consumable"], may: &[] },
    Kind { name: "battery_hardware", needs: &["battery_part"], may: &["group"] },
    Kind { name: "network_cable", needs: &["class", "length"], may: &[] },
    Kind { name: "network_tee", needs: &["connector"], may: &[] },
    Kind { name: "network_terminator", needs: &["connector"], may: &[] },
    Kind { name: "network_power_tap", needs: &["connector", "rating_a"], may: &[] },
    Kind { name: "display_cable", needs: &["plug", "length"], may: &[] },
    Kind { name: "engine_gateway", needs: &["load_equivalency"], may: &[] },
    Kind { name: "cable_extension", needs: &["extends", "plug", "length"], may: &[] },
    Kind { name: "hardware", needs: &[], may: &[] },
];

/// A kind by its name.
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|kind| kind.name == name)
}

/// How the cells of an attribute column are read.
pub fn attribute(name: &str) -> Option<Cell> {
    ATTRIBUTES.iter().find(|(known, _)| *known == name).map(|(_, cell)| *cell)
}
