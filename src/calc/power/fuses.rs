//! What protects at a bank and what may flow there, before its cables are laid: cables between batteries, between banks
//! and to buses must stand all of it.

use super::Sources;
use crate::basis::{BasisRef, Value};
use crate::circuits::main_protection::main_family;
use crate::findings::Gap;
use crate::rules::protection::{CONTINUOUS_FACTOR, family, smallest_rating_a};
use crate::rules::table::electrical::PROTECTION_MAIN;
use crate::shop::item::{Attributes, FuseFamily};
use crate::units::Name;

/// The main before a bus at a positive post.
pub(super) struct BusMain {
    /// Least rating, amperes.
    pub(super) needs_a: f64,
    /// Family of the fuse; absent where none will do.
    pub(super) fuse: Option<FuseFamily>,
    /// Why it must be rated so.
    pub(super) basis: BasisRef,
}

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

    /// The main before a bus at a positive post: it carries the loads of the bank beside what charges other batteries through
    /// the bus, or this one, for hours, and is no smaller than the largest fuse behind it. A gap where no fuse will do.
    pub(super) fn bus_main(&mut self, place: usize, owner: &Name) -> BusMain {
        let facts = self.facts;
        let (bank, side) = (&facts.boat.banks[place], &facts.laid.sides[place]);
        let (load, largest_a) = (side.load, self.largest_fuse_a(place));
        let always_a = load.always_a + side.through.on_bus_a(0.0);
        let occasional_a = (load.occasional_a / 10.0).max(load.largest_occasional_a);
        let needs_a = (always_a * CONTINUOUS_FACTOR + occasional_a).max(largest_a);
        let basis = self.ledger.note(
            &PROTECTION_MAIN,
            &[
                ("always_a", Value::Number(always_a)),
                ("continuous_factor", Value::Number(CONTINUOUS_FACTOR)),
                ("occasional_a", Value::Number(load.occasional_a)),
                ("largest_occasional_a", Value::Number(load.largest_occasional_a)),
                ("largest_branch_a", Value::Number(largest_a)),
            ],
            needs_a,
        );
        let fuse = main_family(&facts.classes[place], needs_a, facts.settings);
        let fuse = fuse.filter(|fuse| smallest_rating_a(needs_a, family(*fuse).ratings_a).is_some());
        if fuse.is_none() {
            self.out.gaps.push(Gap {
                what: owner.clone(),
                need: format!(
                    "a main fuse for {needs_a:.1} A between the positive post of '{}' and the bus there",
                    bank.id
                ),
                reason: "no fuse family of the shop's settings has the rating, the voltage and the interrupt rating"
                    .to_owned(),
                mend:
                    "add a family to main_fuse_families, or move something to another bank so that the post holds all"
                        .to_owned(),
            });
        }
        BusMain { needs_a, fuse, basis }
    }

    /// What a bus at a bank's post and the link to it must stand, amperes.
    pub(super) fn bus_a(&self, place: usize) -> f64 {
        let side = &self.facts.laid.sides[place];
        side.through.on_bus_a(side.load.current_a).max(self.largest_fuse_a(place))
    }
}
