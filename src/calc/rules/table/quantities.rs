//! Rules that give lengths, drops along several conductors, and counts.

use crate::basis::{Rule, Standing};

/// What a conductor measures in the boat.
pub static LENGTH_INSTALLED: Rule = Rule {
    id: "length.installed",
    says: "A conductor in place is its route, the rises at its ends and what its terminations use up.",
    formula: "installed_m = route_m + rises_m + ends_m",
    source: "common practice; allowances of the shop's settings",
    standing: Standing::ShopSetting,
};

/// What a conductor is cut to.
pub static LENGTH_CUT: Rule = Rule {
    id: "length.cut",
    says: "A piece is cut to its installed length and service loops, made longer by the waste of the basis that each part was measured on.",
    formula: "cut_m = measured_m * (1 + waste_measured_percent / 100) + estimated_m * (1 + waste_estimated_percent / 100)",
    source: "common practice; waste of the shop's settings",
    standing: Standing::ShopSetting,
};

/// A run that nobody measured, over the sizes of the hull.
pub static RUN_LAYOUT: Rule = Rule {
    id: "run.layout",
    says: "A run that nobody measured follows the way that cable takes in a hull of that form, over hull length, beam and depth: measure before cutting.",
    formula: "run_m = of_length * hull_length_m + of_beam * beam_m + of_depth * depth_m + more_m",
    source: "common practice; layout of the hull form",
    standing: Standing::CommonPractice,
};

/// A run of the layout to a station that was moved.
pub static RUN_WAY: Rule = Rule {
    id: "run.way",
    says: "A run that nobody measured, to a station that the spec puts elsewhere, goes along the three axes and never in a straight line; bends and slack, bulkheads and deck turns add to it: measure before cutting.",
    formula: "run_m = (dx_m + dy_m + dz_m) * slack_factor + turns * turn_m",
    source: "common practice",
    standing: Standing::CommonPractice,
};

/// Volts lost along a conductor and the maker's lead on its end.
pub static DROP_CONDUCTOR: Rule = Rule {
    id: "drop.conductor",
    says: "All copper that carries the current counts: the conductor with its service loops, the maker's lead on its end, and where there are any the bank's cables before it, or its own part before a switch.",
    formula: "drop_v = copper_ohm_cmil_per_ft * current_a * (length_ft / area_cmil + lead_length_ft / lead_area_cmil + before_length_ft / before_area_cmil)",
    source: "ABYC E-11, CM = K * I * L / E solved for E, over the whole path",
    standing: Standing::Published,
};

/// Drop from bank to device.
pub static DROP_CIRCUIT: Rule = Rule {
    id: "drop.circuit",
    says: "The limit holds from bank to device: feeder, positive and return together, in percent of the nominal voltage.",
    formula: "drop_percent = 100 * (positive_v + return_v + feeder_positive_v + feeder_return_v) / nominal_voltage_v",
    source: "ABYC E-11, allowed drop as a percentage of nominal system voltage, source to device and back",
    standing: Standing::Published,
};

/// What sizing everything together saves.
pub static COPPER_SAVING: Rule = Rule {
    id: "copper.saving",
    says: "The saving is against a plain choice that keeps the same limits: each device's limit split evenly over its feeders and its branch, each feeder the smallest that keeps the least of these shares and its own limit, each branch the smallest that keeps what is then left.",
    formula: "saving_percent = 100 * (even_split_cmil_ft - least_cmil_ft) / even_split_cmil_ft",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// Every rule of this section.
pub static ALL: &[&Rule] =
    &[&LENGTH_INSTALLED, &LENGTH_CUT, &RUN_LAYOUT, &RUN_WAY, &DROP_CONDUCTOR, &DROP_CIRCUIT, &COPPER_SAVING];
