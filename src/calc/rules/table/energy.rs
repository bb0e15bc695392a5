//! Rules of batteries, charging and a day's use.

use crate::basis::{Rule, Standing};

/// Capacity of batteries in series and parallel.
pub static BANK_CAPACITY: Rule = Rule {
    id: "bank.capacity",
    says: "Batteries in series have the ampere-hours of one; strings in parallel add. Of unlike batteries the least counts.",
    formula: "capacity_ah = least_battery_ah * parallel",
    source: "from memory; that parallel adds: ABYC E-11 extract as quoted in the trade",
    standing: Standing::FromMemory,
};

/// Cold-cranking amperes of batteries in series and parallel.
pub static BANK_CRANKING: Rule = Rule {
    id: "bank.cranking",
    says: "Batteries in series have the cold-cranking amperes of one; strings in parallel add. Of unlike batteries the largest counts, since it sets what a fuse must interrupt.",
    formula: "cold_cranking_a = largest_battery_a * parallel",
    source: "ABYC E-11 Table V-A, note on connected batteries, as quoted in the trade",
    standing: Standing::Published,
};

/// Jumpers of a series bank.
pub static BANK_JUMPERS: Rule = Rule {
    id: "bank.jumpers",
    says: "A string of n batteries has n - 1 jumpers, of the gauge of the feed; strings in parallel are linked at both ends.",
    formula: "jumpers = (series - 1) * parallel + 2 * (parallel - 1)",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// What a charger output should give.
pub static CHARGE_TARGET: Rule = Rule {
    id: "charge.target",
    says: "A charger output gives a fifth of the battery's ampere-hours, or what the battery's maker states, which goes first.",
    formula: "target_a = maker_a if stated, else 0.20 * capacity_ah",
    source: "the C/5 rule, as a page on charger size gives it; that the maker goes first is common practice",
    standing: Standing::Published,
};

/// What a charger output must give.
pub static CHARGE_FLOOR: Rule = Rule {
    id: "charge.floor",
    says: "Below a tenth of its ampere-hours a lead battery is hardly charged.",
    formula: "floor_a = 0.10 * capacity_ah",
    source: "a battery maker's note: 10 to 13 % of the 20 h ampere-hours for flooded deep-cycle batteries",
    standing: Standing::Published,
};

/// The conductor that grounds a charger's case.
pub static CASE_GROUND: Rule = Rule {
    id: "charge.case_ground",
    says: "The conductor that grounds a case is at most one size under the largest that carries current there, and 16 AWG at least.",
    formula: "ground_cmil = area of the next smaller trade size below lead_awg, not below 16 AWG",
    source: "a panel manual on DC grounding conductors; the 16 AWG from memory (ABYC E-11)",
    standing: Standing::FromMemory,
};

/// What an alternator gives at idle.
pub static ALTERNATOR_IDLE: Rule = Rule {
    id: "charge.idle",
    says: "At idle an alternator gives some 40 % of its rating.",
    formula: "idle_a = 0.40 * alternator_a",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// A day's use of one load.
pub static DAILY_USE: Rule = Rule {
    id: "energy.load",
    says: "A load takes its current times the hours that it runs in a day.",
    formula: "load_ah = current_a * hours",
    source: "https://distantshores.ca/boatblog_files/electrical-budget-2007.php; the hours by function are common practice",
    standing: Standing::Published,
};

/// Capacity that a day's use asks of a bank.
pub static BANK_SIZE: Rule = Rule {
    id: "energy.bank",
    says: "A bank holds what the days between charges take, over the share of its capacity that may be taken out: half of lead, 80 % of lithium iron phosphate, a fifth of a battery that starts an engine.",
    formula: "needed_ah = daily_ah * days / depth_of_discharge",
    source: "http://fhayden.com/rockhallfleet/calc__electrical.htm for lead; the other shares are common practice",
    standing: Standing::Published,
};

/// Hours to put a day's use back.
pub static CHARGE_HOURS: Rule = Rule {
    id: "energy.hours",
    says: "What a day took is put back in its ampere-hours over the charging current; losses are not counted.",
    formula: "hours = daily_ah / charge_a",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[
    &BANK_CAPACITY,
    &BANK_CRANKING,
    &BANK_JUMPERS,
    &CHARGE_TARGET,
    &CHARGE_FLOOR,
    &CASE_GROUND,
    &ALTERNATOR_IDLE,
    &DAILY_USE,
    &BANK_SIZE,
    &CHARGE_HOURS,
];
