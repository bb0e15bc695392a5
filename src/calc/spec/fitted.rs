//! The shop as one boat asks for it: wired by another standard than the shop's own, and written in another unit.

use std::borrow::Cow;
use std::sync::Arc;

use crate::findings::Fault;
use crate::shop::Shop;
use crate::spec::input::BoatInput;
use crate::units::{AreaStandard, WireSize};

fn metric(standard: AreaStandard) -> bool {
    standard == AreaStandard::Metric
}

/// The shop with the boat's own wire standard and unit of length. Sizes go with the standard: gauges for the American
/// ones, areas for the metric one.
pub fn fitted<'a>(shop: &'a Shop, boat: &BoatInput) -> Cow<'a, Shop> {
    if boat.wire_standard.is_none() && boat.length_unit.is_none() {
        return Cow::Borrowed(shop);
    }
    let mut settings = (*shop.settings).clone();
    settings.length_unit = boat.length_unit.unwrap_or(settings.length_unit);
    if let Some(standard) = boat.wire_standard {
        if metric(standard) != metric(settings.area_standard) {
            std::mem::swap(&mut settings.stocked_sizes, &mut settings.other_sizes);
        }
        settings.area_standard = standard;
    }
    Cow::Owned(Shop { settings: Arc::new(settings), ..shop.clone() })
}

/// A fault where a boat asks for wire of which the shop keeps no size. `shop` is the fitted one.
pub(super) fn check_wire_standard(boat: &BoatInput, shop: &Shop, faults: &mut Vec<Fault>) {
    let Some(standard) = boat.wire_standard else { return };
    let kept = shop.settings.stocked_sizes.iter();
    if kept.filter(|size| matches!(size, WireSize::Metric(_)) == metric(standard)).count() == 0 {
        let kind = if metric(standard) { "metric sizes" } else { "gauges" };
        let message = format!("the shop keeps no {kind}: leave this out, or add some to its other_sizes");
        faults.push(Fault::new("/boat/wire_standard", message));
    }
}
