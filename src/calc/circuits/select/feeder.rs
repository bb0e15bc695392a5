//! One panel in the search: every size of its feeder is tried with the best that its branches can then do.

use super::branch::BranchSizes;
use super::candidate::{Candidate, Device, Ratings, share_limit};
use super::{NoSize, Overruled, Search, Sizes};
use crate::calc::circuits::legs::{FeederLegs, Owner};
use crate::calc::circuits::main_protection::main_family;
use crate::calc::units::within;

/// Places of a feeder's sizes: positive, return.
type Pair = (usize, usize);

/// The best that was found so far for a panel.
struct Best {
    unmet: usize,
    copper: f64,
    pair: Pair,
    branches: Vec<Result<BranchSizes, f64>>,
}

impl<'a> Search<'a, '_> {
    /// Sizes one panel's feeder and branches. `shared` holds the sizes of returns that several panels use.
    pub(super) fn panel(&self, place: usize, feeder: &FeederLegs, shared: &mut [Option<usize>], sizes: &mut Sizes<'a>) {
        let bank = self.boat.panels[feeder.panel].bank;
        let limit_v = self.boat.banks[bank].nominal_voltage_v * self.settings.feeder_drop_percent / 100.0;
        let branches: Vec<_> = (0..self.loads.len())
            .filter(|load| self.loads[*load].panel == feeder.panel)
            .map(|load| self.branch(load))
            .collect();
        let largest_branch_a = branches.iter().map(|branch| self.largest_switched_a(branch)).fold(0.0, f64::max);
        let least_rating_a = feeder.main_needs_a(largest_branch_a);
        sizes.mains[place] = (largest_branch_a, least_rating_a);
        let fuse = main_family(&self.classes[bank], least_rating_a, self.settings);
        let ratings = Ratings::of(fuse);
        let device = Device { least_rating_a, ..Device::default() };
        let positive = self.candidate(feeder.positive, ratings, fuse, device);
        let negative = self.candidate(feeder.negative, ratings, None, device);
        let forced = (self.wanted)(Owner::Feeder(place)).and_then(|size| self.universe.place(size));
        if feeder.shared_bus && shared[feeder.negative].is_none() {
            shared[feeder.negative] = self.alone(&negative, limit_v / 2.0);
        }
        let shared_return = feeder.shared_bus.then(|| shared[feeder.negative]);
        let drops = |pair: Pair| (self.drop_at(&positive, pair.0), self.drop_at(&negative, pair.1));
        let total = |pair: Pair| drops(pair).0 + drops(pair).1;

        let pairs = match forced {
            Some(size) => vec![(size, shared_return.flatten().unwrap_or(size))],
            None => self.pairs(&positive, &negative, shared_return),
        };
        let least_v = pairs.iter().map(|pair| total(*pair)).fold(f64::INFINITY, f64::min);
        let mut best: Option<Best> = None;
        for pair in pairs.into_iter().filter(|pair| forced.is_some() || within(total(*pair), limit_v)) {
            let found: Vec<_> = branches.iter().map(|branch| self.branch_sizes(branch, drops(pair))).collect();
            let unmet = found.iter().filter(|sizes| sizes.is_err()).count();
            let own = self.copper(&positive, pair.0) + self.copper(&negative, pair.1);
            let copper = own + found.iter().flatten().map(|sizes| sizes.copper).sum::<f64>();
            if best.as_ref().is_none_or(|known| (unmet, copper) < (known.unmet, known.copper)) {
                best = Some(Best { unmet, copper, pair, branches: found });
            }
        }
        let Some(best) = best else {
            let refused = positive.least.and(negative.least).err();
            let why = match refused {
                Some(because) => NoSize::Carry { current_a: feeder.current_a, because },
                None => NoSize::Drop { limit_v, least_v },
            };
            sizes.feeders_without.push((place, why));
            // The branches are sized all the same, as if the feeder took what it may.
            let taken = (limit_v / 2.0, limit_v / 2.0);
            for branch in &branches {
                self.keep(branch, self.branch_sizes(branch, taken), taken, sizes);
            }
            return;
        };

        if forced.is_some() {
            let unwise = if !within(total(best.pair), limit_v) {
                Some(format!(
                    "drops {:.2} V there and back, over the feeder's limit of {limit_v:.2} V",
                    total(best.pair)
                ))
            } else if feeder.shared_bus {
                Some("leaves the return of the bus as computed, since other panels use it too".to_owned())
            } else {
                None
            };
            let legs: &[&Candidate] = if feeder.shared_bus { &[&positive] } else { &[&positive, &negative] };
            let outcome = self.judge(legs, best.pair.0, unwise.map(Overruled::Unwise));
            sizes.overruled.extend(outcome.map(|outcome| (Owner::Feeder(place), outcome)));
        }
        let there = self.chosen(&positive, best.pair.0, forced.is_some());
        let back = self.chosen(&negative, best.pair.1, forced.is_some() && !feeder.shared_bus);
        if let Some((mut there, mut back)) = there.zip(back) {
            if !feeder.shared_bus {
                share_limit(&mut there, &mut back);
            }
            sizes.feeders[place] = Some((there, back));
        }
        for (branch, found) in branches.iter().zip(best.branches) {
            self.keep(branch, found, drops(best.pair), sizes);
        }
    }

    /// The pairs of sizes that carry a feeder. A return that other panels use has its size already.
    fn pairs(&self, positive: &Candidate, negative: &Candidate, shared: Option<Option<usize>>) -> Vec<Pair> {
        let (Ok(there), Ok(back)) = (&positive.least, &negative.least) else { return Vec::new() };
        match shared {
            Some(Some(size)) => self.universe.kept_from(*there).iter().map(|place| (*place, size)).collect(),
            Some(None) => Vec::new(),
            None => self.universe.kept_from(*there.max(back)).iter().map(|place| (*place, *place)).collect(),
        }
    }

    /// The smallest size of a leg by itself within a drop.
    fn alone(&self, candidate: &Candidate, limit_v: f64) -> Option<usize> {
        let least = *candidate.least.as_ref().ok()?;
        self.universe.kept_from(least).iter().copied().find(|place| within(self.drop_at(candidate, *place), limit_v))
    }
}
