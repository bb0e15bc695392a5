//! One circuit in the search: the least copper that keeps its limits once its feeder has taken its share.

use smallvec::{SmallVec, smallvec};

use super::candidate::{Candidate, Device, Ratings, share_limit};
use super::{CircuitSizes, NoSize, Overruled, Search, Sizes};
use crate::calc::circuits::legs::Owner;
use crate::calc::circuits::main_protection::always_on_family;
use crate::calc::rules::protection::family;
use crate::calc::shop::item::{BranchProtection, DropClass, Duty, Function, FuseFamily};
use crate::calc::take_off::ConductorRole;
use crate::calc::units::within;

/// A circuit as the search sees it.
pub(super) struct Branch<'a> {
    load: usize,
    positives: Vec<Candidate<'a>>,
    negative: Candidate<'a>,
    main: usize,
    limit_v: f64,
    forced: Option<usize>,
}

/// Places of a branch's sizes, and its copper in circular mil feet.
pub(super) struct BranchSizes {
    positives: SmallVec<[usize; 4]>,
    negative: usize,
    pub(super) copper: f64,
}

impl<'a> Search<'a, '_> {
    pub(super) fn branch(&self, place: usize) -> Branch<'a> {
        let load = &self.loads[place];
        let legs = &self.laid.circuits[place];
        let panel = &self.boat.panels[load.panel];
        let class = &self.classes[panel.bank];
        let continuous = load.duty == Duty::Continuous;
        let device = Device { continuous, maker_fuse_a: load.maker_fuse_a, least_rating_a: 0.0 };
        let positives: Vec<Candidate> = legs
            .positives
            .iter()
            .map(|&leg| {
                let (ratings, family) = match self.laid.legs[leg].role {
                    ConductorRole::ConstantPositive => self.always_on(always_on_family(
                        class,
                        load.fuse_needs_a(self.laid.legs[leg].current_a),
                        self.settings,
                    )),
                    _ if panel.protection == BranchProtection::Breaker => (self.branch_ratings(f64::INFINITY), None),
                    _ => (self.blade_ratings(), Some(FuseFamily::Blade)),
                };
                self.candidate(leg, ratings, family, device)
            })
            .collect();
        let main = (0..positives.len())
            .max_by(|&a, &b| positives[a].leg.current_a.total_cmp(&positives[b].leg.current_a).then(b.cmp(&a)))
            .unwrap_or(0);
        // The return lies behind the devices of all positives, so it must stand the largest of them.
        let largest_a = positives.iter().map(|positive| self.rating_or_0(positive)).fold(0.0, f64::max);
        let behind = Device { continuous, maker_fuse_a: None, least_rating_a: largest_a };
        let limit_percent = match load.drop_class {
            DropClass::Critical => self.settings.critical_drop_percent,
            DropClass::General => self.settings.general_drop_percent,
        };
        Branch {
            load: place,
            negative: self.candidate(legs.negative, Ratings::of(None), None, behind),
            positives,
            main,
            limit_v: load.voltage_v * limit_percent / 100.0,
            forced: (self.wanted)(Owner::Circuit(place)).and_then(|size| self.universe.place(size)),
        }
    }

    fn rating_or_0(&self, candidate: &Candidate) -> f64 {
        self.rating_a(candidate).unwrap_or_default()
    }

    /// The largest device of a branch that the panel's feeder stands before, amperes.
    pub(super) fn largest_switched_a(&self, branch: &Branch) -> f64 {
        let switched = branch.positives.iter().filter(|c| c.leg.role != ConductorRole::ConstantPositive);
        switched.map(|candidate| self.rating_or_0(candidate)).fold(0.0, f64::max)
    }

    fn always_on(&self, chosen: Option<FuseFamily>) -> (Ratings<'a>, Option<FuseFamily>) {
        match chosen {
            Some(FuseFamily::Blade) => (self.blade_ratings(), chosen),
            other => (Ratings::of(other), chosen),
        }
    }

    /// The shop's branch ratings that a blade fuse comes in.
    fn blade_ratings(&self) -> Ratings<'a> {
        self.branch_ratings(family(FuseFamily::Blade).ratings_a.last().copied().unwrap_or_default())
    }

    /// The shop's branch ratings up to one.
    fn branch_ratings(&self, most_a: f64) -> Ratings<'a> {
        let ratings = &self.settings.branch_ratings_a;
        Ratings { list_a: &ratings[..ratings.partition_point(|rating| *rating <= most_a)], word: "branch" }
    }

    /// The least copper for a branch when its feeder's positive and return take these volts.
    ///
    /// # Errors
    /// The drop with the largest sizes, volts; infinite when no size carries it.
    pub(super) fn branch_sizes(&self, branch: &Branch, feeder_v: (f64, f64)) -> Result<BranchSizes, f64> {
        if let Some(place) = branch.forced {
            let all = branch.positives.iter().chain([&branch.negative]);
            let copper = all.map(|candidate| self.copper(candidate, place)).sum();
            return Ok(BranchSizes { positives: smallvec![place; branch.positives.len()], negative: place, copper });
        }
        let Ok(least) = branch.negative.least else { return Err(f64::INFINITY) };
        let mut best: Option<BranchSizes> = None;
        let mut nearest_v = f64::INFINITY;
        for &negative in self.universe.kept_from(least) {
            // Copper rises with the return and with the main positive, which has its size: from here on it only grows.
            let floor = self.copper(&branch.negative, negative) + self.copper(&branch.positives[branch.main], negative);
            if best.as_ref().is_some_and(|known| known.copper <= floor) {
                break;
            }
            match self.with_return(branch, negative, feeder_v) {
                Ok(sizes) if best.as_ref().is_none_or(|known| sizes.copper < known.copper) => best = Some(sizes),
                Ok(_) => {}
                Err(drop_v) => nearest_v = nearest_v.min(drop_v),
            }
        }
        best.ok_or(nearest_v)
    }

    /// The least positives beside a return of one size, or the worst drop of those that find none.
    fn with_return(&self, branch: &Branch, negative: usize, feeder_v: (f64, f64)) -> Result<BranchSizes, f64> {
        let return_v = self.drop_at(&branch.negative, negative);
        let mut copper = self.copper(&branch.negative, negative);
        let mut positives = SmallVec::new();
        let mut worst_v: Option<f64> = None;
        for (i, candidate) in branch.positives.iter().enumerate() {
            let Ok(least) = candidate.least else { return Err(f64::INFINITY) };
            let taken_v = return_v + feeder_share(candidate, feeder_v);
            let fits = |place: &usize| within(self.drop_at(candidate, *place) + taken_v, branch.limit_v);
            let found = if i == branch.main {
                Some(negative).filter(|place| *place >= least && fits(place))
            } else {
                self.universe.kept_from(least).iter().copied().find(fits)
            };
            match found {
                Some(place) => {
                    copper += self.copper(candidate, place);
                    positives.push(place);
                }
                None => {
                    let largest = self.universe.kept_from(least).last().copied().unwrap_or(least);
                    worst_v = Some(worst_v.unwrap_or(0.0).max(self.drop_at(candidate, largest) + taken_v));
                }
            }
        }
        match worst_v {
            Some(drop_v) => Err(drop_v),
            None => Ok(BranchSizes { positives, negative, copper }),
        }
    }

    /// What a person's size is told about its drop: refused past the limit of all circuits (ABYC E-11 knows no class
    /// above 10 %), and past its own limit where the boat's safety hangs on the load; unwise past its own otherwise.
    fn too_much_drop(&self, branch: &Branch, drop_v: f64) -> Option<Overruled> {
        let load = &self.loads[branch.load];
        let general_v = load.voltage_v * self.settings.general_drop_percent / 100.0;
        let text = |limit_v: f64| format!("drops {drop_v:.2} V from bank to device, over the limit of {limit_v:.2} V");
        if !within(drop_v, general_v.max(branch.limit_v)) {
            return Some(Overruled::Refused(format!("it {}", text(general_v))));
        }
        if within(drop_v, branch.limit_v) {
            return None;
        }
        let safety = matches!(
            load.function,
            Function::BilgePump | Function::BilgeBlower | Function::NavigationLight | Function::Alarm
        );
        let text = text(branch.limit_v);
        Some(if safety { Overruled::Refused(format!("it {text}")) } else { Overruled::Unwise(text) })
    }

    /// Keeps what the search found for a branch.
    pub(super) fn keep(
        &self,
        branch: &Branch<'a>,
        found: Result<BranchSizes, f64>,
        feeder_v: (f64, f64),
        sizes: &mut Sizes<'a>,
    ) {
        let found = match found {
            Ok(found) => found,
            Err(least_v) => {
                let refused = branch.positives.iter().chain([&branch.negative]).find_map(|candidate| {
                    let because = candidate.least.err()?;
                    Some(NoSize::Carry { current_a: candidate.leg.current_a, because })
                });
                let why = refused.unwrap_or(NoSize::Drop { limit_v: branch.limit_v, least_v });
                sizes.without.push((branch.load, why));
                return;
            }
        };
        let forced = branch.forced.is_some();
        let negative_v = self.drop_at(&branch.negative, found.negative);
        let drops: Vec<f64> = branch
            .positives
            .iter()
            .zip(&found.positives)
            .map(|(candidate, place)| self.drop_at(candidate, *place) + negative_v + feeder_share(candidate, feeder_v))
            .collect();
        let worst = (0..drops.len()).max_by(|&a, &b| drops[a].total_cmp(&drops[b]).then(b.cmp(&a))).unwrap_or(0);
        if let Some(place) = branch.forced {
            let legs: Vec<&Candidate> = branch.positives.iter().chain([&branch.negative]).collect();
            let outcome = self.judge(&legs, place, self.too_much_drop(branch, drops[worst]));
            sizes.overruled.extend(outcome.map(|outcome| (Owner::Circuit(branch.load), outcome)));
        }
        let positives: Option<Vec<_>> =
            branch.positives.iter().zip(&found.positives).map(|(c, place)| self.chosen(c, *place, forced)).collect();
        // A size that a person chose and that cannot carry is refused above; nothing is kept for it.
        if let (Some(mut positives), Some(mut negative)) =
            (positives, self.chosen(&branch.negative, found.negative, forced))
        {
            share_limit(&mut positives[branch.main], &mut negative);
            sizes.circuits[branch.load] =
                Some(CircuitSizes { positives, negative, drop_v: drops[worst], worst, feeder_v });
        }
    }
}

/// What the feeder takes of a positive's drop: a constant positive shares only its return.
fn feeder_share(candidate: &Candidate, (positive_v, return_v): (f64, f64)) -> f64 {
    match candidate.leg.role {
        ConductorRole::ConstantPositive => return_v,
        _ => positive_v + return_v,
    }
}
