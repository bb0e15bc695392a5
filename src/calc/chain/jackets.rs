//! Circuits in a jacket: which of them no cable serves, and what is told about those that stay in single conductors.

use super::warn;
use crate::circuits::legs::Laid;
use crate::circuits::loads::Load;
use crate::circuits::select::Sizes;
use crate::findings::Warning;
use crate::shop::item::Wiring;

/// Loads that lie in a cable and got no size in it. They are to be tried in single conductors, whose sizes go further.
pub(super) fn unserved(laid: &Laid, sizes: &Sizes) -> Vec<usize> {
    let without = sizes.without.iter().map(|(load, _)| *load);
    without.filter(|load| laid.cable_of(*load).is_some()).collect()
}

/// Takes loads out of their jackets, with a warning for each.
pub(super) fn in_single(loads: &mut [Load], places: &[usize], warnings: &mut Vec<Warning>) {
    for &place in places {
        let load = &mut loads[place];
        load.wiring = Some(Wiring::SingleConductors);
        let message = "stays in single conductors: no cable that the shop keeps serves it within its limits";
        warnings.push(warn(&load.key, message.to_owned()));
    }
}

/// A warning for each load that was to be in a jacket and cannot be.
pub(super) fn kept_single(laid: &Laid, loads: &[Load]) -> impl Iterator<Item = Warning> {
    laid.kept_single.iter().map(|(place, why)| warn(&loads[*place].key, format!("stays in single conductors: {why}")))
}
