//! A leg in the search: the least size that carries it, its drop at any size, and what set the size it got.

use super::{Chosen, Overruled, Search};
use crate::circuits::legs::Leg;
use crate::circuits::sizing::{CannotCarry, Demand, carry, limited_by};
use crate::rules::drop::drop_v;
use crate::rules::protection::{family, standard_ratings};
use crate::rules::sizes;
use crate::shop::item::FuseFamily;
use crate::take_off::LimitedBy;
use crate::units::AreaStandard;

/// What is asked of a leg's protective device beside its current.
#[derive(Clone, Copy, Default)]
pub(super) struct Device {
    pub(super) continuous: bool,
    pub(super) maker_fuse_a: Option<f64>,
    pub(super) least_rating_a: f64,
}

/// Ratings to choose a device from, and what the list is called in a basis.
#[derive(Clone, Copy)]
pub(super) struct Ratings<'a> {
    pub(super) list_a: &'a [f64],
    pub(super) word: &'static str,
}

impl Ratings<'_> {
    /// Those of a fuse family, or all that the trade can buy where none will do.
    pub(super) fn of(fuse: Option<FuseFamily>) -> Self {
        match fuse {
            Some(fuse) => Ratings { list_a: family(fuse).ratings_a, word: fuse.word() },
            None => Ratings { list_a: standard_ratings(), word: "standard" },
        }
    }
}

/// A leg as the search sees it.
pub(super) struct Candidate<'a> {
    pub(super) leg: &'a Leg,
    pub(super) family: Option<FuseFamily>,
    /// Whether it lies in a cable.
    pub(super) jacketed: bool,
    demand: Demand<'a>,
    /// Place of the least kept size that carries the leg and can be protected.
    pub(super) least: Result<usize, CannotCarry>,
    fixed_drop_v: f64,
    /// The one that it continues behind a switch: both have one size, so that its copper and its drop count here.
    continues: Option<Box<Candidate<'a>>>,
}

impl<'a> Candidate<'a> {
    /// The candidate as one that continues another.
    pub(super) fn behind(mut self, other: Candidate<'a>) -> Self {
        self.least = self.least.and_then(|least| other.least.map(|other| least.max(other)));
        self.continues = Some(Box::new(other));
        self
    }

    /// The one that it continues.
    pub(super) fn continued(&self) -> Option<&Candidate<'a>> {
        self.continues.as_deref()
    }

    /// It and the one that it continues.
    fn both(&self) -> impl Iterator<Item = &Candidate<'a>> {
        std::iter::once(self).chain(self.continued())
    }
}

impl<'a> Search<'a, '_> {
    /// The candidate of a leg, protected by one of `ratings`.
    pub(super) fn candidate(
        &self,
        leg: usize,
        ratings: Ratings<'a>,
        family: Option<FuseFamily>,
        device: Device,
    ) -> Candidate<'a> {
        let jacketed = self.laid.in_cable.get(leg).is_some_and(Option::is_some);
        let leg = &self.laid.legs[leg];
        let demand = Demand {
            current_a: leg.current_a,
            continuous: device.continuous,
            insulation_c: self.settings.insulation_c,
            engine_space: leg.route.engine_space,
            bundled_conductors: if self.settings.derate_bundles { leg.bundled } else { 1 },
            standard: self.universe.standard,
            ratings_a: ratings.list_a,
            ratings: ratings.word,
            maker_fuse_a: device.maker_fuse_a,
            least_rating_a: device.least_rating_a,
        };
        let mut least = Err(CannotCarry::NoTable);
        // What a size carries rises with its area, so the first that does is the least.
        for &place in self.universe.kept(jacketed).from(0) {
            least = carry(&demand, self.universe.sizes[place]).map(|_| place);
            if least.is_ok() {
                break;
            }
        }
        let fixed_drop_v = leg.maker_lead.map_or(0.0, |(size, length)| {
            let standard = if size.awg().is_some() { AreaStandard::Awg } else { AreaStandard::Metric };
            sizes::area_cmil(size, standard).map_or(0.0, |area| self.copper_drop_v(leg.current_a, length, area))
        });
        let before_v = leg.before.map_or(0.0, |before| before.drop_v(self.settings));
        let fixed_drop_v = fixed_drop_v + before_v;
        Candidate { leg, family, jacketed, demand, least, fixed_drop_v, continues: None }
    }

    fn copper_drop_v(&self, current_a: f64, length: crate::units::Length, area_cmil: f64) -> f64 {
        drop_v(self.settings.copper_ohm_cmil_per_ft, current_a, length, area_cmil)
    }

    /// Rating of the device of a leg: it does not depend on the size.
    pub(super) fn rating_a(&self, candidate: &Candidate) -> Option<f64> {
        let place = candidate.least.ok()?;
        carry(&candidate.demand, self.universe.sizes[place]).ok().map(|carried| carried.rating_a)
    }

    /// Drop along a leg at a size, volts; the maker's lead, the bank's cables before it and what it continues included.
    pub(super) fn drop_at(&self, candidate: &Candidate, place: usize) -> f64 {
        let leg = candidate.leg;
        let own_v = self.copper_drop_v(leg.current_a, leg.lengths.carrying, self.universe.areas[place])
            + candidate.fixed_drop_v;
        candidate.continued().map_or(own_v, |before| own_v + self.drop_at(before, place))
    }

    /// What a leg carries at a place; `None` when it cannot.
    pub(super) fn chosen(&self, candidate: &Candidate<'a>, place: usize, overruled: bool) -> Option<Chosen<'a>> {
        let carried = carry(&candidate.demand, self.universe.sizes[place]).ok()?;
        let limited_by = if overruled { LimitedBy::Overrule } else { self.limited_by(candidate, place) };
        Some(Chosen {
            demand: candidate.demand,
            carried,
            limited_by,
            drop_v: self.drop_at(candidate, place),
            family: candidate.family,
        })
    }

    /// What refused the next smaller size.
    fn limited_by(&self, candidate: &Candidate, place: usize) -> LimitedBy {
        let kept = self.universe.kept(candidate.jacketed);
        let Some(below) = kept.below(place).map(|below| self.universe.sizes[below]) else {
            return match self.universe.sizes[place] == kept.least {
                true => LimitedBy::MinimumSize,
                false => LimitedBy::StockedSize,
            };
        };
        let refused = candidate.both().find_map(|one| Some((one, carry(&one.demand, below).err()?)));
        refused.map_or(LimitedBy::VoltageDrop, |(one, refusal)| limited_by(&one.demand, below, refusal))
    }

    /// How a person's size turns out for legs: refused where it cannot carry them, else as `otherwise` has it.
    pub(super) fn judge(&self, legs: &[&Candidate], place: usize, otherwise: Option<Overruled>) -> Option<Overruled> {
        let size = self.universe.sizes[place];
        let jacketed = legs.iter().any(|candidate| candidate.jacketed);
        let least = self.universe.kept(jacketed).least;
        if !size.at_least(least) {
            let run = if jacketed { "in such a jacket" } else { "by itself" };
            return Some(Overruled::Refused(format!("{size} is below {least}, the smallest conductor to run {run}")));
        }
        for candidate in legs.iter().flat_map(|candidate| candidate.both()) {
            let a = candidate.leg.current_a;
            let refused = match carry(&candidate.demand, size) {
                Ok(_) => continue,
                Err(CannotCarry::NoTable) => format!("no published allowable current is known for {size}"),
                Err(CannotCarry::Ampacity { allowable_current_a }) => {
                    format!("{size} may carry {allowable_current_a:.1} A where it lies, and the load is {a:.1} A")
                }
                Err(CannotCarry::Protection { load_needs_a, conductor_allows_a }) => format!(
                    "the load needs a fuse of {load_needs_a:.1} A at least, and {size} allows {conductor_allows_a:.1} A at most"
                ),
            };
            return Some(Overruled::Refused(refused));
        }
        otherwise
    }
}

/// What set the size of two legs that share it: a limit that binds either before the drop that binds both.
pub(super) fn share_limit(a: &mut Chosen, b: &mut Chosen) {
    let limit = if a.limited_by == LimitedBy::VoltageDrop { b.limited_by } else { a.limited_by };
    a.limited_by = limit;
    b.limited_by = limit;
}

/// What set the size of all conductors in one jacket: a limit that binds one of them before the drop that binds all.
pub(super) fn share_limit_in_jacket<'a>(positives: &mut [Chosen<'a>], negative: &mut Chosen<'a>) {
    let all = positives.iter().chain([&*negative]).map(|chosen| chosen.limited_by);
    let limit = all.into_iter().find(|limit| *limit != LimitedBy::VoltageDrop).unwrap_or(LimitedBy::VoltageDrop);
    for chosen in positives.iter_mut().chain([negative]) {
        chosen.limited_by = limit;
    }
}
