//! Rules that give lengths, drops along several conductors, and counts.

use crate::calc::basis::{Rule, Standing};

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

/// Volts lost along a conductor and the maker's lead on its end.
pub static DROP_CONDUCTOR: Rule = Rule {
    id: "drop.conductor",
    says: "All copper that carries the current counts: the conductor with its service loops, and the maker's lead on its end.",
    formula: "drop_v = copper_ohm_cmil_per_ft * current_a * (length_ft / area_cmil + lead_length_ft / lead_area_cmil)",
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

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&LENGTH_INSTALLED, &LENGTH_CUT, &DROP_CONDUCTOR, &DROP_CIRCUIT];
