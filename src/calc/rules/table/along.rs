//! Rules of what is met along the way of cable.

use crate::basis::{Rule, Standing};

/// How full a tube is.
pub static FILL: Rule = Rule {
    id: "along.fill",
    says: "A tube is filled by the areas of the cables in it, and areas are as the squares of the diameters.",
    formula: "fill_percent = 100 * squares_in2 / tube_in^2",
    source: "geometry; outside diameters of cable from memory",
    standing: Standing::FromMemory,
};

/// How full it may be.
pub static FILL_MOST: Rule = Rule {
    id: "along.fill_most",
    says: "One cable may fill 53 % of a tube's inside area, two 31 %, more than two 40 %.",
    formula: "most_percent = 53 if cables is 1, else 31 if cables is 2, else 40",
    source: "NEC Chapter 9 Table 1; it is made for conduit in buildings, and no standard for boats that was found has one",
    standing: Standing::Published,
};

/// What would do.
pub static NARROWEST: Rule = Rule {
    id: "along.narrowest",
    says: "The narrowest tube that may hold cables is filled by them as far as it may be.",
    formula: "tube_in = sqrt(squares_in2 / share) with share 0.53 if cables is 1, 0.31 if 2, else 0.40",
    source: "NEC Chapter 9 Table 1",
    standing: Standing::Published,
};

/// What more goes in.
pub static ROOM: Rule = Rule {
    id: "along.room",
    says: "So many more cables go into a tube as leave it no fuller than it may be with all of them.",
    formula: "the most whole number for which squares_in2 + number * more_in^2 <= share of all * tube_in^2",
    source: "NEC Chapter 9 Table 1, rounded down",
    standing: Standing::Published,
};

/// How thick a bundle is.
pub static BUNDLE: Rule = Rule {
    id: "along.bundle",
    says: "A bundle of cables is 1.2 times as thick as one cable of all their area, and a single cable as thick as it is; clamp, grommet and loom have the next size that goes round it.",
    formula: "size_in = next size up of (1.2 if cables > 1, else 1) * sqrt(squares_in2)",
    source: "common practice, no source",
    standing: Standing::CommonPractice,
};

/// What is set at a spacing.
pub static SPACED: Rule = Rule {
    id: "along.spaced",
    says: "Outside tubes cable is supported at least every 18 in, 450 mm where wire is metric, or as often as the shop does it; ties stand at the shop's spacing. One is set for every begun spacing of the run.",
    formula: "number = ceil(run_m / spacing_m)",
    source: "ABYC E-11, 18 in, from memory; ISO 10133 clause 7.3, 450 mm; settings of the shop",
    standing: Standing::FromMemory,
};

/// One each.
pub static EACH: Rule = Rule {
    id: "along.each",
    says: "So many of what drives it, so many of each: a grommet for each bulkhead outside tubes, a drip loop for each piece of equipment that is wired, two labels for each conductor.",
    formula: "number = per_driver * drivers",
    source: "common practice, no source; abrasion protection at bulkheads: 33 CFR 183.445(a)",
    standing: Standing::CommonPractice,
};

/// What is cut by the length of a run.
pub static BY_RUN: Rule = Rule {
    id: "along.by_run",
    says: "Loom is as long as the run it covers; the messenger line that is left in a tube hangs out at both ends.",
    formula: "length_m = run_m + 2 * tail_m",
    source: "common practice; tails of the shop's settings",
    standing: Standing::ShopSetting,
};

/// Every rule of this section.
pub static ALL: &[&Rule] = &[&FILL, &FILL_MOST, &NARROWEST, &ROOM, &BUNDLE, &SPACED, &EACH, &BY_RUN];
