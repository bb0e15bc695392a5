//! The sizes that a search may use.

use crate::rules::{jackets, sizes};
use crate::shop::settings::Settings;
use crate::units::{AreaStandard, WireSize};

/// The sizes of one search by rising area: those the shop keeps as single conductors, those it keeps in jacketed cable,
/// and those that only an overrule may use.
#[derive(Debug)]
pub(super) struct Universe {
    /// Standard of the areas.
    pub(super) standard: AreaStandard,
    /// Sizes by rising area.
    pub(super) sizes: Vec<WireSize>,
    /// Their areas, circular mils.
    pub(super) areas: Vec<f64>,
    single: Kept,
    jacketed: Kept,
}

/// The sizes that the shop keeps of one construction.
#[derive(Debug)]
pub(super) struct Kept {
    places: Vec<usize>,
    /// The smallest size that the construction allows.
    pub(super) least: WireSize,
}

impl Kept {
    /// Places of the sizes from `least` on.
    pub(super) fn from(&self, least: usize) -> &[usize] {
        &self.places[self.places.partition_point(|place| *place < least)..]
    }

    /// Place of the size below another.
    pub(super) fn below(&self, place: usize) -> Option<usize> {
        let smaller = self.places.partition_point(|kept| *kept < place);
        smaller.checked_sub(1).map(|i| self.places[i])
    }
}

impl Universe {
    pub(super) fn new(settings: &Settings, overruled: impl Iterator<Item = WireSize>) -> Self {
        let standard = settings.area_standard;
        let least = construction_minimum(standard);
        let least_in_jacket = jackets::minimum(standard, settings.break_out.length().unwrap_or_default());
        let single: Vec<WireSize> =
            settings.stocked_sizes.iter().copied().filter(|size| size.at_least(least)).collect();
        // Cable is kept in gauges and in areas, of which one kind goes with the boat.
        let of_standard = |size: &WireSize| matches!(size, WireSize::Metric(_)) == (standard == AreaStandard::Metric);
        let in_jacket: Vec<WireSize> = settings.cable_sizes.iter().copied().filter(of_standard).collect();
        let in_jacket: Vec<WireSize> = in_jacket.into_iter().filter(|size| size.at_least(least_in_jacket)).collect();
        let mut all = single.clone();
        for size in in_jacket.iter().copied().chain(overruled) {
            if !all.contains(&size) {
                all.push(size);
            }
        }
        let mut all: Vec<(f64, WireSize)> =
            all.into_iter().filter_map(|size| Some((sizes::area_cmil(size, standard)?, size))).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let kept = |of: &[WireSize], least: WireSize| Kept {
            places: (0..all.len()).filter(|place| of.contains(&all[*place].1)).collect(),
            least,
        };
        Universe {
            standard,
            single: kept(&single, least),
            jacketed: kept(&in_jacket, least_in_jacket),
            areas: all.iter().map(|(area, _)| *area).collect(),
            sizes: all.into_iter().map(|(_, size)| size).collect(),
        }
    }

    /// The sizes that the shop keeps, in jacketed cable or as single conductors.
    pub(super) fn kept(&self, jacketed: bool) -> &Kept {
        if jacketed { &self.jacketed } else { &self.single }
    }

    /// Places of the sizes that the shop keeps as single conductors, from `least` on.
    pub(super) fn kept_from(&self, least: usize) -> &[usize] {
        self.single.from(least)
    }

    /// The place of a size.
    pub(super) fn place(&self, size: WireSize) -> Option<usize> {
        self.sizes.iter().position(|known| *known == size)
    }
}

/// The smallest single conductor that may be run by itself: 16 AWG (33 CFR 183.425(e)) or 1 mm² (ISO 10133, 7.7).
pub const fn construction_minimum(standard: AreaStandard) -> WireSize {
    match standard {
        AreaStandard::Awg | AreaStandard::Sae => WireSize::Awg(16),
        AreaStandard::Metric => WireSize::Metric(100),
    }
}
