//! Along the way of cable: how full a tube may be, how far apart supports stand, and the sizes that clamps come in.

use crate::units::{AreaStandard, Length};

/// Most inches between supports outside tubes (ABYC E-11, from memory).
pub const SUPPORT_MOST_IN: f64 = 18.0;
/// Most millimetres between supports outside tubes where wire is metric (ISO 10133, 7.3).
pub const SUPPORT_MOST_MM: f64 = 450.0;
/// A bundle is thicker than its cables laid flat against each other: its diameter over the square root of the sum of their
/// squares (common practice).
pub const BUNDLE_FACTOR: f64 = 1.2;
/// Diameters that clamps, grommets and loom come in, inches, rising (common practice).
pub const BUNDLE_SIZES_IN: [f64; 11] = [0.25, 0.375, 0.5, 0.625, 0.75, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0];

/// The share of a tube's inside area that cables may fill: 53 % for one, 31 % for two, 40 % for more (NEC Chapter 9 Table
/// 1). It is made for conduit in buildings; no standard for boats that was found has one.
pub const fn fill_share(cables: u32) -> f64 {
    match cables {
        0 | 1 => 0.53,
        2 => 0.31,
        _ => 0.40,
    }
}

/// How many more cables of one diameter go into a tube beside what is in it. `squares_in2` is the sum of the squares of the
/// diameters of these `cables`: areas of circles are as the squares of their diameters.
pub fn room(tube_in: f64, cables: u32, squares_in2: f64, more_in: f64) -> u32 {
    let fits = |more: &u32| {
        let filled = squares_in2 + f64::from(*more) * more_in * more_in;
        filled <= fill_share(cables + more) * tube_in * tube_in * (1.0 + 1e-9)
    };
    // No share is above 0.53, so that no more than these can fit.
    let most = (0.53 * tube_in * tube_in / (more_in * more_in)).floor().clamp(0.0, 10_000.0) as u32;
    (1..=most).rev().find(fits).unwrap_or(0)
}

/// Inside diameter of the narrowest tube that cables may fill, inches.
pub fn narrowest_in(cables: u32, squares_in2: f64) -> f64 {
    (squares_in2 / fill_share(cables)).sqrt()
}

/// Most that supports may stand apart.
pub fn support_most(standard: AreaStandard) -> Length {
    match standard {
        AreaStandard::Metric => Length::from_nanometres((SUPPORT_MOST_MM * 1e6) as i64),
        AreaStandard::Awg | AreaStandard::Sae => Length::inches(SUPPORT_MOST_IN),
    }
}

/// The size that a bundle's clamp, grommet or loom has, inches: the least that goes round it, the largest where none does.
pub fn bundle_size_in(bundle_in: f64) -> f64 {
    let fits = |size: &&f64| **size >= bundle_in * (1.0 - 1e-9);
    BUNDLE_SIZES_IN.iter().find(fits).copied().unwrap_or(BUNDLE_SIZES_IN[BUNDLE_SIZES_IN.len() - 1])
}
