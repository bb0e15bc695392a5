//! What protects at a bank and what may flow there, before its cables are laid: cables between batteries, between banks
//! and to buses must stand all of it.

use super::Sources;
use crate::calc::circuits::main_protection::main_family;
use crate::calc::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a};
use crate::calc::shop::item::Attributes;

impl Sources<'_, '_> {
    /// What the main of a bank of several panels must be rated for at least, and the largest of the fuses behind it, amperes.
    pub(super) fn main_needs_a(&self, place: usize) -> (f64, f64) {
        let facts = self.facts;
        let bank = &facts.boat.banks[place];
        let here = facts.feeders.iter().filter(|feeder| feeder.bank == bank.id && feeder.fed_from.is_none());
        let fuses = here.filter_map(|feeder| feeder.protection.as_ref());
        let largest_a = fuses.map(|fuse| fuse.rating_a).fold(0.0, f64::max);
        (facts.laid.sides[place].load.needs_a().max(largest_a), largest_a)
    }

    /// Rating of the largest fuse at a bank's positive, amperes: of the main, a feeder, the always-on side, a combiner or
    /// a charger lead.
    pub(super) fn largest_fuse_a(&self, place: usize) -> f64 {
        let facts = self.facts;
        let (boat, class, side) = (facts.boat, &facts.classes[place], &facts.laid.sides[place]);
        let rated_a = |needs_a: f64| {
            let fuse = main_family(class, needs_a, facts.settings);
            fuse.and_then(|fuse| smallest_rating_a(needs_a, family(fuse).ratings_a)).unwrap_or(needs_a)
        };
        let (main_a, feeders_a) = self.main_needs_a(place);
        let mut largest_a = if side.feed_bus { rated_a(main_a) } else { feeders_a };
        let always_on = facts.always_on.iter().filter(|always| always.bank == boat.banks[place].id);
        largest_a = always_on
            .filter_map(|always| always.protection.as_ref())
            .map(|protection| protection.rating_a)
            .fold(largest_a, f64::max);
        if side.through.alternator_a > 0.0 && facts.laid.alternator_banks.len() > 1 {
            largest_a = largest_a.max(rated_a(side.through.alternator_a * CONTINUOUS_FACTOR));
        }
        for output in facts.laid.allotted.outputs.iter().filter(|output| output.task.bank == place) {
            let attributes = &boat.equipment[output.charger].item.attributes;
            let Attributes::Charger { output_a, fused_outputs: false, .. } = attributes else { continue };
            let needs_a = output_a * CONTINUOUS_FACTOR;
            let fuse = self.lead_fuse(&self.lead_class(output), needs_a);
            let rating_a = fuse.and_then(|fuse| smallest_rating_a(needs_a, family(fuse).ratings_a));
            largest_a = largest_a.max(rating_a.unwrap_or(needs_a));
        }
        largest_a
    }

    /// What a bus at a bank's post and the link to it must stand, amperes.
    pub(super) fn bus_a(&self, place: usize) -> f64 {
        let side = &self.facts.laid.sides[place];
        side.through.on_bus_a(side.load.current_a).max(self.largest_fuse_a(place))
    }
}
