//! Protective devices: standard ratings, what a conductor allows, and what a device must be able to interrupt.

use std::sync::LazyLock;

use crate::shop::item::FuseFamily;
use crate::units::within;

/// A device carries at most 80 % of its rating for hours, so its rating is this many times a continuous load (practice
/// taken from the NEC; ABYC asks it of breakers only).
pub const CONTINUOUS_FACTOR: f64 = 1.25;

/// The most that a device's rating may be of the conductor's allowable current: 33 CFR 183.455(c)(1).
pub const RATING_PER_ALLOWABLE_MAX: f64 = 1.5;

/// Voltage of a bank while it is charged, volts: 14.4 for each nominal 12 (common practice).
pub fn charging_voltage_v(nominal_v: f64) -> f64 {
    nominal_v * 1.2
}

/// What is published of a fuse family: what the trade can buy, not what a shop keeps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FamilyFacts {
    /// Ratings, amperes, rising.
    pub ratings_a: &'static [f64],
    /// Interrupt rating, amperes, up to a voltage, volts DC; rising by voltage.
    pub interrupt: &'static [(f64, f64)],
    /// Where the figures come from.
    pub source: &'static str,
}

impl FamilyFacts {
    /// Highest voltage that the family breaks, volts DC.
    pub fn voltage_max_v(&self) -> f64 {
        self.interrupt.last().map_or(0.0, |&(up_to_v, _)| up_to_v)
    }

    /// Interrupt rating at a voltage, amperes; `None` above the family's voltage rating.
    pub fn interrupt_at(&self, voltage_v: f64) -> Option<f64> {
        self.interrupt.iter().find(|&&(up_to_v, _)| within(voltage_v, up_to_v)).map(|&(_, interrupt_a)| interrupt_a)
    }
}

const BLADE: FamilyFacts = FamilyFacts {
    ratings_a: &[1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0],
    interrupt: &[(32.0, 1000.0)],
    source: "ISO 8820-3 type C, from memory",
};
const MAXI_BLADE: FamilyFacts = FamilyFacts {
    ratings_a: &[20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0],
    interrupt: &[(32.0, 1000.0)],
    source: "ISO 8820-3 type E, from memory",
};
const GLASS_TUBE: FamilyFacts = FamilyFacts {
    ratings_a: &[0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0],
    interrupt: &[(32.0, 200.0)],
    source: "range from a maker's fuse chart; steps and the lowest interrupt rating met from memory",
};
const TERMINAL_CUBE: FamilyFacts = FamilyFacts {
    ratings_a: &[30.0, 40.0, 50.0, 60.0, 75.0, 80.0, 90.0, 100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0],
    interrupt: &[(14.0, 10_000.0), (32.0, 5_000.0), (58.0, 2_000.0)],
    source: "range from a maker's fuse chart; interrupt ratings from memory",
};
const SMALL_BOLT: FamilyFacts = FamilyFacts {
    ratings_a: &[30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 125.0, 150.0, 175.0, 200.0],
    interrupt: &[(32.0, 2_000.0)],
    source: "range from a maker's fuse chart; the lowest interrupt rating met from memory",
};
const LARGE_BOLT: FamilyFacts = FamilyFacts {
    ratings_a: &[100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0],
    interrupt: &[(32.0, 2_000.0)],
    source: "range from a maker's fuse chart; interrupt rating from memory",
};
// Older ANL fuses interrupt 2,700 A only: the requirement states what is needed, and the item's own figure decides.
const ANL: FamilyFacts = FamilyFacts {
    ratings_a: &[
        35.0, 40.0, 50.0, 60.0, 80.0, 100.0, 130.0, 150.0, 175.0, 200.0, 225.0, 250.0, 275.0, 300.0, 325.0, 350.0,
        400.0,
    ],
    interrupt: &[(32.0, 6_000.0), (80.0, 2_700.0)],
    source: "range from a maker's fuse chart; 6,000 A from memory, 2,700 A from an inverter manual of 2009",
};
const CLASS_T: FamilyFacts = FamilyFacts {
    ratings_a: &[110.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0],
    interrupt: &[(125.0, 20_000.0)],
    source: "225 to 400 A from a maker's fuse chart; the others and the DC interrupt rating from memory (UL 248-15)",
};

/// Ratings of panel and surface-mounted breakers, amperes, rising; from memory.
pub const BREAKERS: &[f64] = &[
    5.0, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 120.0, 135.0, 150.0, 175.0,
    200.0,
];

const FAMILIES: [&FamilyFacts; 8] =
    [&BLADE, &MAXI_BLADE, &GLASS_TUBE, &TERMINAL_CUBE, &SMALL_BOLT, &LARGE_BOLT, &ANL, &CLASS_T];

/// What is published of a fuse family.
pub fn family(family: FuseFamily) -> &'static FamilyFacts {
    match family {
        FuseFamily::Blade => &BLADE,
        FuseFamily::MaxiBlade => &MAXI_BLADE,
        FuseFamily::GlassTube => &GLASS_TUBE,
        FuseFamily::TerminalCube => &TERMINAL_CUBE,
        FuseFamily::SmallBolt => &SMALL_BOLT,
        FuseFamily::LargeBolt => &LARGE_BOLT,
        FuseFamily::Anl => &ANL,
        FuseFamily::ClassT => &CLASS_T,
    }
}

static STANDARD_RATINGS: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let mut ratings: Vec<f64> = FAMILIES.iter().flat_map(|f| f.ratings_a).chain(BREAKERS).copied().collect();
    ratings.sort_by(f64::total_cmp);
    ratings.dedup();
    ratings
});

/// Every rating that some fuse family or breaker has, amperes, rising.
pub fn standard_ratings() -> &'static [f64] {
    &STANDARD_RATINGS
}

/// The highest rating that may protect a conductor, amperes, of `ratings` (rising): the next above its allowable
/// current where that is at most 150 % of it, otherwise the largest that is not above it; 0 when there is none.
/// ABYC E-11 as a battery dealer's page gives it, with 33 CFR 183.455(c)(1) as the stop.
pub fn conductor_allows_a(allowable_current_a: f64, ratings: &[f64]) -> f64 {
    let above = ratings.partition_point(|&rating| within(rating, allowable_current_a));
    match ratings.get(above) {
        Some(&next) if within(next, allowable_current_a * RATING_PER_ALLOWABLE_MAX) => next,
        _ => above.checked_sub(1).map_or(0.0, |last| ratings[last]),
    }
}

/// The smallest of `ratings` (rising) that is not below `needs_a`, amperes.
pub fn smallest_rating_a(needs_a: f64, ratings: &[f64]) -> Option<f64> {
    ratings.iter().copied().find(|&rating| within(needs_a, rating))
}

/// What protective devices of a bank must be able to interrupt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InterruptClass {
    /// The first device in series with the battery, amperes.
    pub main_a: f64,
    /// Every later device, amperes.
    pub branch_a: f64,
    /// Whether the bank is stronger than the table goes: the battery maker's short-circuit current must be asked for.
    pub beyond_table: bool,
}

/// Most cold-cranking amperes of a row, then what the main and the branches must interrupt at 12 and 24 V: ABYC E-11
/// Table V-A as a wire maker prints it.
const INTERRUPT_24_V: [(f64, f64, f64); 3] =
    [(650.0, 1_500.0, 750.0), (1_100.0, 3_000.0, 1_500.0), (2_200.0, 5_000.0, 2_500.0)];

/// The same at 32 V; from memory.
const INTERRUPT_32_V: [(f64, f64, f64); 2] = [(1_250.0, 3_000.0, 1_500.0), (2_200.0, 5_000.0, 2_500.0)];

/// What devices must be able to interrupt behind a bank of that many cold-cranking amperes: parallel batteries add, a
/// series does not. Up to 24 V by ABYC E-11 Table V-A; above by its rows for 32 V, which ask no less (36 and 48 V are
/// not in it). A bank beyond 2,200 A takes 20,000 A at the main, and half of that at a branch, as every row halves it.
pub fn battery_interrupt(nominal_v: f64, cold_cranking_a: f64) -> InterruptClass {
    let rows: &[(f64, f64, f64)] = if within(nominal_v, 24.0) { &INTERRUPT_24_V } else { &INTERRUPT_32_V };
    match rows.iter().find(|&&(up_to_a, ..)| within(cold_cranking_a, up_to_a)) {
        Some(&(_, main_a, branch_a)) => InterruptClass { main_a, branch_a, beyond_table: false },
        None => InterruptClass { main_a: 20_000.0, branch_a: 10_000.0, beyond_table: true },
    }
}
