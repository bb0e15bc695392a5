//! The sizes that a search may use.

use crate::calc::rules::sizes;
use crate::calc::shop::settings::Settings;
use crate::calc::units::{AreaStandard, WireSize};

/// The sizes of one search by rising area: those the shop keeps, and those that only an overrule may use.
#[derive(Debug)]
pub(super) struct Universe {
    /// Standard of the areas.
    pub(super) standard: AreaStandard,
    /// Sizes by rising area.
    pub(super) sizes: Vec<WireSize>,
    /// Their areas, circular mils.
    pub(super) areas: Vec<f64>,
    kept: Vec<usize>,
}

impl Universe {
    pub(super) fn new(settings: &Settings, overruled: impl Iterator<Item = WireSize>) -> Self {
        let standard = settings.area_standard;
        let least = construction_minimum(standard);
        let mut all: Vec<(WireSize, bool)> =
            settings.stocked_sizes.iter().filter(|size| size.at_least(least)).map(|size| (*size, true)).collect();
        for size in overruled {
            if !all.iter().any(|(known, _)| *known == size) {
                all.push((size, false));
            }
        }
        let mut all: Vec<(f64, WireSize, bool)> =
            all.into_iter().filter_map(|(size, kept)| Some((sizes::area_cmil(size, standard)?, size, kept))).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        Universe {
            standard,
            kept: (0..all.len()).filter(|place| all[*place].2).collect(),
            areas: all.iter().map(|(area, ..)| *area).collect(),
            sizes: all.into_iter().map(|(_, size, _)| size).collect(),
        }
    }

    /// Places of the sizes that the shop keeps, from `least` on.
    pub(super) fn kept_from(&self, least: usize) -> &[usize] {
        &self.kept[self.kept.partition_point(|place| *place < least)..]
    }

    /// The size below a place that the shop keeps.
    pub(super) fn kept_below(&self, place: usize) -> Option<WireSize> {
        let smaller = self.kept.partition_point(|kept| *kept < place);
        smaller.checked_sub(1).map(|i| self.sizes[self.kept[i]])
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
