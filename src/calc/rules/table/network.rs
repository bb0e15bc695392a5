//! Rules of the data network (NMEA 2000) and of cables that come with devices.

use crate::basis::{Rule, Standing};

/// How long a cable must be that is not cut.
pub static REACH: Rule = Rule {
    id: "cable.reach",
    says: "A cable that is bought or supplied in one length must be as long as its way and the rises at its ends, made longer by the waste of the basis that each part was measured on, and the slack at its ends.",
    formula: "needed_m = measured_m * (1 + waste_measured_percent / 100) + estimated_m * (1 + waste_estimated_percent / 100) + slack_m",
    source: "common practice; waste and service loops of the shop's settings",
    standing: Standing::ShopSetting,
};

/// What is left of a supplied cable.
pub static SURPLUS: Rule = Rule {
    id: "cable.surplus",
    says: "What a supplied cable is longer than needed is coiled; where it is shorter, as much is missing.",
    formula: "surplus_m = length_m - needed_m",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// Length of the backbone.
pub static BACKBONE: Rule = Rule {
    id: "network.backbone",
    says: "The backbone counts between its two farthest points; where a drop at an end is longer than the way from its tee to the terminator, the drop counts instead.",
    formula: "backbone_m = spans_m + first_drop_m + last_drop_m",
    source: "a network cable maker's installation guide (NMEA 2000)",
    standing: Standing::Published,
};

/// How long the backbone may be.
pub static BACKBONE_LIMIT: Rule = Rule {
    id: "network.backbone_limit",
    says: "A backbone of light cable is 100 m long at most, one of mid or heavy cable 200 m.",
    formula: "backbone_m_max = the row of `class` in the table of network cable",
    source: "https://continuouswave.com/forum/viewtopic.php?f=10&t=2867 (names the 2012 NMEA installation slides)",
    standing: Standing::Published,
};

/// Sum of the drops.
pub static DROPS: Rule = Rule {
    id: "network.drops",
    says: "No drop is longer than 6 m, and all together no longer than 78 m.",
    formula: "drops_m = longest_m + others_m",
    source: "a network cable maker's installation guide (NMEA 2000)",
    standing: Standing::Published,
};

/// Current of all devices.
pub static LOAD: Rule = Rule {
    id: "network.load",
    says: "A load equivalency number is 50 mA from the network.",
    formula: "current_a = 0.05 * load_equivalency",
    source: "a network cable maker's installation guide (NMEA 2000)",
    standing: Standing::Published,
};

/// Most current of the cable.
pub static CURRENT_LIMIT: Rule = Rule {
    id: "network.current_limit",
    says: "Light cable carries 3 A, mid cable with micro connectors 4 A, heavy cable with mini connectors 8 A.",
    formula: "current_a_max = the row of `class` in the table of network cable",
    source: "https://continuouswave.com/forum/viewtopic.php?f=10&t=2867 (names the 2012 NMEA installation slides); 4 A for micro connectors: a network cable maker's guide",
    standing: Standing::Published,
};

/// Volts lost along a leg.
pub static DROP: Rule = Rule {
    id: "network.voltage_drop",
    says: "Each leg is checked alone, from the power tap to its farthest device with its drop, as if all of its load were there; fed from a battery it loses 1.5 V at most.",
    formula: "drop_v = 0.1 * load_equivalency * length_m * ohm_per_m",
    source: "a radar maker's installation guide of 2021 and a network cable maker's guide (NMEA 2000)",
    standing: Standing::Published,
};

/// Voltage at the end of a leg.
pub static END_VOLTAGE: Rule = Rule {
    id: "network.end_voltage",
    says: "At the end of a leg the network has what its own circuit leaves at the tap, less what the leg loses.",
    formula: "voltage_v = tap_voltage_v - drop_v",
    source: "plain arithmetic",
    standing: Standing::CommonPractice,
};

/// Tees.
pub static TEES: Rule = Rule {
    id: "network.tees",
    says: "Each device has a tee, and the power tap one of its own.",
    formula: "tees = devices + 1",
    source: "a network cable maker's installation guide (NMEA 2000)",
    standing: Standing::Published,
};

/// Terminators.
pub static TERMINATORS: Rule = Rule {
    id: "network.terminators",
    says: "A backbone has two terminators, one at each end; one may be built into a device there.",
    formula: "terminators = 2 - built_in",
    source: "a network cable maker's installation guide (NMEA 2000)",
    standing: Standing::Published,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[
    &REACH,
    &SURPLUS,
    &BACKBONE,
    &BACKBONE_LIMIT,
    &DROPS,
    &LOAD,
    &CURRENT_LIMIT,
    &DROP,
    &END_VOLTAGE,
    &TEES,
    &TERMINATORS,
];
