//! Rules of banks: post, main protection, switch, studs.

use crate::basis::{Rule, Standing};

/// How far from its source a protective device may stand.
pub static DISTANCE: Rule = Rule {
    id: "power.distance",
    says: "A device stands within 7 in of the source along the conductor; 72 in where the conductor is on a battery terminal and sheathed throughout, 40 in where it is on another source and sheathed.",
    formula: "distance_in = 7 if sheathed is no, else 72 if source is battery terminal, else 40",
    source: "ABYC E-11.12 as quoted in the trade; 33 CFR 183.455(b) for 7 and 40 in",
    standing: Standing::Published,
};

/// A switch carries what the main protection before it lets through.
pub static SWITCH_RATING: Rule = Rule {
    id: "power.switch_rating",
    says: "A battery switch is rated for what the main protection before it lets through for hours.",
    formula: "rating_a_min = main_rating_a",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// A switch in a cranking cable.
pub static ENGINE_SWITCH: Rule = Rule {
    id: "power.engine_switch",
    says: "The switch of a bank that only starts the engine, and the cable to it, carry for hours what a starter draws; what the switch stands while cranking is for the engine's maker to say.",
    formula: "rating_a_min = cranking_a",
    source: "common practice, no source; that cranking conductors have no overcurrent device: ABYC E-11 as quoted in the trade",
    standing: Standing::CommonPractice,
};

/// Terminals on a stud.
pub static STUD: Rule = Rule {
    id: "power.stud",
    says: "A stud takes four terminals at most, the largest at the bottom; more of them take a bus.",
    formula: "bus if terminals > terminals_max, else stud",
    source: "ABYC E-11, as two trade articles give it",
    standing: Standing::Published,
};

/// What a conductor counts of the bank's cables before it.
pub static BEFORE_FEEDER: Rule = Rule {
    id: "power.before_feeder",
    says: "The drop from bank to device counts the bank's own cables too, at all of their current: jumpers, links, cables to switch and buses.",
    formula: "before_length_ft = length_ft * before_current_a / current_a",
    source: "ABYC E-11, allowed drop from source to device and back; sharing it out by current is plain arithmetic",
    standing: Standing::CommonPractice,
};

/// Positions of a panel.
pub static SPARE_POSITIONS: Rule = Rule {
    id: "power.spare_positions",
    says: "A panel has positions to spare: a share of those in use, and some at least.",
    formula: "wanted = used + max(ceil(used * spare_positions_percent / 100), least_spare_positions)",
    source: "settings of the shop",
    standing: Standing::ShopSetting,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&DISTANCE, &SWITCH_RATING, &ENGINE_SWITCH, &STUD, &BEFORE_FEEDER, &SPARE_POSITIONS];
