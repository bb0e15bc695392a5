//! Rules of the plumbing of raw-water pumps.

use crate::basis::{Rule, Standing};

/// Hose that a pump's port takes.
pub static BORE: Rule = Rule {
    id: "plumbing.bore",
    says: "A port takes the hose that the pump's maker states, else the usual one of its kind of pump: 1 1/8 in for the discharge of a bilge pump, 3/4 in for live-well and bait pumps and the inlet of a wash-down pump, 1/2 in for its outlet.",
    formula: "bore_in = stated_in if stated, else usual of pump_kind and port",
    source: "the item; common practice, no source",
    standing: Standing::CommonPractice,
};

/// Pipe of an intake.
pub static INTAKE: Rule = Rule {
    id: "plumbing.intake",
    says: "Through-hull and seacock of an intake are the smallest pipe whose bore has the area of all hoses that draw through it.",
    formula: "pipe_in = the least of 0.5, 0.75, 1, 1.25, 1.5, 2 and 3 whose square is at least squares_in2",
    source: "common practice, no source; nominal sizes of ASME B1.20.1",
    standing: Standing::CommonPractice,
};

/// Length of a hose.
pub static HOSE: Rule = Rule {
    id: "plumbing.hose",
    says: "A hose follows the route that cable takes between its ends, with the rises there; no hose is shorter than the shop's stretch between neighbouring fittings, and a discharge through the hull's side takes a loop above the waterline.",
    formula: "installed_m = max(route_m + rises_m, least_m) + loop_m",
    source: "common practice; lengths of the shop's settings",
    standing: Standing::ShopSetting,
};

/// Clamps of a hose.
pub static CLAMPS: Rule = Rule {
    id: "plumbing.clamps",
    says: "An end of hose below the waterline has two clamps, any other has one.",
    formula: "clamps = 2 * ends_below + ends_above",
    source: "common practice; ABYC H-27 asks two at a seacock, from memory",
    standing: Standing::CommonPractice,
};

/// Packs of what is used up.
pub static PACKS: Rule = Rule {
    id: "plumbing.packs",
    says: "What comes by the pack is counted in whole packs: an opened cartridge or kit does not keep.",
    formula: "packs = ceil(count / per_pack)",
    source: "settings of the shop",
    standing: Standing::ShopSetting,
};

/// Holes that are sealed.
pub static CORE: Rule = Rule {
    id: "plumbing.core",
    says: "Every hole through a hull or deck that has a core, or may have one, has its core cut back and sealed before anything is bedded in it.",
    formula: "sealed = holes if cored is yes or unknown, else 0",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&BORE, &INTAKE, &HOSE, &CLAMPS, &PACKS, &CORE];
