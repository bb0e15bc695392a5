//! Rules that give currents, areas, drops, ratings and colours.

use crate::basis::{Rule, Standing};

/// Copper area of an American wire gauge.
pub static AREA_AWG: Rule = Rule {
    id: "area.awg",
    says: "Copper area of an American wire gauge.",
    formula: "area_cmil = NEC Chapter 9 Table 8 at awg (0 is 1/0, -3 is 4/0)",
    source: "NEC Chapter 9 Table 8",
    standing: Standing::Published,
};

/// Least copper area of automotive cable of that gauge number.
pub static AREA_SAE: Rule = Rule {
    id: "area.sae",
    says: "Least copper area of automotive cable of that gauge number.",
    formula: "area_cmil = SAE minimum area at awg (0 is 1/0, -3 is 4/0)",
    source: "SAE J378, J1127, J1128 as ABYC E-11 tabulates them, from memory; 12 AWG read in print",
    standing: Standing::FromMemory,
};

/// Nominal copper area of a metric size in circular mils.
pub static AREA_METRIC: Rule = Rule {
    id: "area.metric",
    says: "Nominal copper area of a metric size in circular mils.",
    formula: "area_cmil = mm2 * 1973.525241",
    source: "ISO 6722 and IEC 60228 nominal areas; 1 in = 25.4 mm exactly",
    standing: Standing::Published,
};

/// Allowable current of one insulated copper conductor at 30 C by gauge and temperature rating of its insulation.
pub static AMPACITY_TABLE5: Rule = Rule {
    id: "ampacity.table5",
    says: "Allowable current of one insulated copper conductor at 30 C by gauge and temperature rating of its insulation.",
    formula: "table_current_a = Table 5 at awg (0 is 1/0, -3 is 4/0) and insulation_c",
    source: "33 CFR 183.425(b), Table 5",
    standing: Standing::Published,
};

/// Allowable current of one conductor at 30 C by area and temperature rating of its insulation.
pub static AMPACITY_METRIC: Rule = Rule {
    id: "ampacity.metric",
    says: "Allowable current of one conductor at 30 C by area and temperature rating of its insulation.",
    formula: "table_current_a = Annex A at mm2 and insulation_c",
    source: "ISO 10133:2000 Annex A (now ISO 13297), from memory",
    standing: Standing::FromMemory,
};

/// In an engine space, at 50 C, a conductor carries less.
pub static ENGINE_SPACE: Rule = Rule {
    id: "ampacity.engine_space",
    says: "In an engine space, at 50 C, a conductor carries less.",
    formula: "engine_space_factor = Table 5 note 1 at insulation_c",
    source: "33 CFR 183.425(c), Table 5 note 1; the factor for 105 C read in reprints of the Coast Guard guideline, others from memory",
    standing: Standing::FromMemory,
};

/// In an engine space, at 60 C, a conductor carries less.
pub static ENGINE_SPACE_METRIC: Rule = Rule {
    id: "ampacity.engine_space_metric",
    says: "In an engine space, at 60 C, a conductor carries less.",
    formula: "engine_space_factor = Annex A at insulation_c",
    source: "ISO 10133:2000 Annex A (now ISO 13297), from memory",
    standing: Standing::FromMemory,
};

/// Loaded conductors that lie together heat each other: 3 keep 0.7 of their current, 4 to 6 keep 0.6, 7 to 24 keep 0.5, more 0.4.
pub static BUNDLE: Rule = Rule {
    id: "ampacity.bundle",
    says: "Loaded conductors that lie together heat each other: 3 keep 0.7 of their current, 4 to 6 keep 0.6, 7 to 24 keep 0.5, more 0.4.",
    formula: "bundle_factor = Table 5 note 2 at loaded_conductors",
    source: "33 CFR 183.435(b), Table 5 note 2, as reprinted; boat-cable tables print the same factors below 50 V too",
    standing: Standing::Published,
};

/// The allowable current is that of the table, lowered by an engine space and by the bundle.
pub static AMPACITY_CORRECTED: Rule = Rule {
    id: "ampacity.corrected",
    says: "The allowable current is that of the table, lowered by an engine space and by the bundle.",
    formula: "allowable_current_a = table_current_a * engine_space_factor * bundle_factor",
    source: "33 CFR 183.425(c) and 183.435(b)",
    standing: Standing::Published,
};

/// Volts lost along a copper conductor.
pub static DROP: Rule = Rule {
    id: "drop.copper",
    says: "Volts lost along a copper conductor.",
    formula: "drop_v = copper_ohm_cmil_per_ft * current_a * length_ft / area_cmil",
    source: "ABYC E-11, CM = K * I * L / E solved for E",
    standing: Standing::Published,
};

/// A drop in percent is of the nominal voltage.
pub static DROP_PERCENT: Rule = Rule {
    id: "drop.percent",
    says: "A drop in percent is of the nominal voltage.",
    formula: "drop_percent = 100 * drop_v / nominal_voltage_v",
    source: "ABYC E-11, allowed drop as a percentage of nominal system voltage",
    standing: Standing::Published,
};

/// A panel's current: every load that may have to run at any time, plus a tenth of the occasional ones or the largest of them if that is more.
pub static LOAD_ANALYSIS: Rule = Rule {
    id: "load.panel",
    says: "A panel's current: every load that may have to run at any time, plus a tenth of the occasional ones or the largest of them if that is more.",
    formula: "design_current_a = always_a + max(occasional_a / 10, largest_occasional_a)",
    source: "ABYC E-11 panel load calculation, from memory",
    standing: Standing::FromMemory,
};

/// A load that runs for hours takes at most 80 % of a device's rating.
pub static PROTECTION_NEED: Rule = Rule {
    id: "protection.need",
    says: "A load that runs for hours takes at most 80 % of a device's rating. A return stands the largest device of its circuit, and a main fuse is no smaller than the devices behind it.",
    formula: "load_needs_a = max(current_a * continuous_factor, least_rating_a)",
    source: "practice taken from the NEC: continuous load at most 80 % of the rating",
    standing: Standing::CommonPractice,
};

/// What a panel's main fuse must be rated for.
pub static PROTECTION_MAIN: Rule = Rule {
    id: "protection.main",
    says: "A main fuse carries what may run for hours at 125 %, the occasional loads beside it, and is no smaller than the largest branch device behind it.",
    formula: "least_rating_a = max(always_a * continuous_factor + max(occasional_a / 10, largest_occasional_a), largest_branch_a)",
    source: "common practice; the 125 % is taken from NEC practice, the load analysis from ABYC E-11",
    standing: Standing::CommonPractice,
};

/// A conductor's device is rated at most its allowable current, or the next standard rating above it where that is at most 150 % of it.
pub static PROTECTION_CONDUCTOR: Rule = Rule {
    id: "protection.conductor",
    says: "A conductor's device is rated at most its allowable current, or the next standard rating above it where that is at most 150 % of it.",
    formula: "conductor_allows_a = next rating above allowable_current_a if at most 1.5 * allowable_current_a, otherwise the largest rating not above it",
    source: "ABYC E-11 overcurrent protection as quoted in the trade; 33 CFR 183.455(c)(1) for the 150 %",
    standing: Standing::Published,
};

/// A fuse that the maker of the load states counts among the standard ratings of the conductor's rule.
pub static PROTECTION_CONDUCTOR_MAKER: Rule = Rule {
    id: "protection.conductor_maker",
    says: "A fuse that the maker of the load states counts among the standard ratings of the conductor's rule.",
    formula: "conductor_allows_a = as protection.conductor, with maker_fuse_a among the ratings",
    source: "33 CFR 183.455(c)(1) for the 150 %; that the maker's rating goes first is common practice",
    standing: Standing::CommonPractice,
};

/// The device is the smallest standard rating that carries the load, and no larger than the conductor allows.
pub static PROTECTION: Rule = Rule {
    id: "protection.rating",
    says: "The device is the smallest standard rating that carries the load, and no larger than the conductor allows.",
    formula: "rating_a = smallest of the ratings >= load_needs_a, with rating_a <= conductor_allows_a; ratings is standard, the shop's for a branch, or a fuse family's",
    source: "33 CFR 183.455; ABYC E-11 overcurrent protection",
    standing: Standing::Published,
};

/// The maker of the device states its fuse; it is no larger than the conductor allows.
pub static PROTECTION_MAKER: Rule = Rule {
    id: "protection.maker",
    says: "The maker of the device states its fuse; it is no larger than the conductor allows.",
    formula: "rating_a = maker_fuse_a, with rating_a <= conductor_allows_a",
    source: "33 CFR 183.455(c)(1); that the maker's rating goes first is common practice",
    standing: Standing::CommonPractice,
};

/// The first device at a bank must interrupt what the bank can give, by its cold-cranking amperes. Up to 24 V by the table; 32, 36 and 48 V by its rows for 32 V, which ask no less; beyond 2200 A 20000 A, and the battery maker is asked.
pub static INTERRUPT: Rule = Rule {
    id: "protection.interrupt",
    says: "The first device at a bank must interrupt what the bank can give, by its cold-cranking amperes. Up to 24 V by the table; 32, 36 and 48 V by its rows for 32 V, which ask no less; beyond 2200 A 20000 A, and the battery maker is asked.",
    formula: "interrupt_a_min = Table V-A at nominal_voltage_v and cold_cranking_a",
    source: "ABYC E-11 Table V-A; the rows for 32 V from memory, for 36 and 48 V common practice",
    standing: Standing::Published,
};

/// What a later device than the first at a bank must interrupt.
pub static INTERRUPT_BRANCH: Rule = Rule {
    id: "protection.interrupt_branch",
    says: "Every device after the first at a bank, a sub-main among them, must interrupt half of what the first must.",
    formula: "interrupt_a_min = Table V-A, its column for branches, at nominal_voltage_v and cold_cranking_a; beyond 2200 A half of 20000 A",
    source: "ABYC E-11 Table V-A; the rows for 32 V from memory, for 36 and 48 V and beyond 2200 A common practice",
    standing: Standing::Published,
};

/// A positive takes the insulation colour of its function.
pub static COLOUR_FUNCTION: Rule = Rule {
    id: "colour.function",
    says: "A positive takes the insulation colour of its function.",
    formula: "colour = Tables XIV and XV at the circuit's function; a constant positive that feeds no bilge pump is red, as positive mains are",
    source: "ABYC E-11 Tables XIV and XV as listed at https://newboatbuilders.com/pages/elect5_print.html",
    standing: Standing::Published,
};

/// The shop's own colour of a function.
pub static COLOUR_SHOP: Rule = Rule {
    id: "colour.shop",
    says: "The shop has chosen a colour of its own for this function.",
    formula: "colour = the shop's choice for the function",
    source: "settings of the shop",
    standing: Standing::ShopSetting,
};

/// A return is black or yellow, one of them throughout a boat.
pub static COLOUR_NEGATIVE: Rule = Rule {
    id: "colour.negative",
    says: "A return is black or yellow, one of them throughout a boat.",
    formula: "colour = the boat's negative colour",
    source: "ABYC E-11 Table XIV; one colour throughout is common practice",
    standing: Standing::Published,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[
    &AREA_AWG,
    &AREA_SAE,
    &AREA_METRIC,
    &AMPACITY_TABLE5,
    &AMPACITY_METRIC,
    &ENGINE_SPACE,
    &ENGINE_SPACE_METRIC,
    &BUNDLE,
    &AMPACITY_CORRECTED,
    &DROP,
    &DROP_PERCENT,
    &LOAD_ANALYSIS,
    &PROTECTION_NEED,
    &PROTECTION_MAIN,
    &PROTECTION_CONDUCTOR,
    &PROTECTION_CONDUCTOR_MAKER,
    &PROTECTION,
    &PROTECTION_MAKER,
    &INTERRUPT,
    &INTERRUPT_BRANCH,
    &COLOUR_FUNCTION,
    &COLOUR_SHOP,
    &COLOUR_NEGATIVE,
];
