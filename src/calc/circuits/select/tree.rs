//! The whole tree in the search: feeders, the returns of buses and branches put to [`least_copper`], and its answer read.

use super::branch::{Branch, BranchSizes};
use super::candidate::{Candidate, Device, Ratings, share_limit};
use super::{Chosen, CopperFound, FeederSizes, Main, NoSize, Overruled, Search, Sizes};
use crate::circuits::least_copper::{
    self, Cost, FeederSize, OwnLimit, Place, Problem, Solution, Variable, even_split, price, solve,
};
use crate::circuits::legs::{FeederLegs, Owner};
use crate::circuits::main_protection::{SubMain, main_family, sub_main};
use crate::rules::protection::{BREAKERS, family};
use crate::shop::item::FuseFamily;
use crate::units::within;

/// A feeder as the search sees it.
struct Feeder<'a> {
    legs: &'a FeederLegs,
    positive: Candidate<'a>,
    ratings: Ratings<'a>,
    main: Main,
    limit_v: f64,
    forced: Option<usize>,
    without: Option<NoSize>,
}

/// A conductor of a feeder in the problem.
#[derive(Clone, Copy)]
enum Conductor {
    /// It has the size of a variable.
    Sized(usize),
    /// No size will do; it is taken to lose so much, volts.
    Fixed(f64),
}

/// The tree of a boat: what is asked of [`least_copper`], and what its answer means.
pub(super) struct Tree<'s, 'a> {
    search: &'s Search<'a, 's>,
    feeders: Vec<Feeder<'a>>,
    branches: Vec<Branch<'a>>,
    /// Of each leg that is the return of a bus.
    returns: Vec<Option<Candidate<'a>>>,
    /// Of each leg of a feeder.
    conductors: Vec<Conductor>,
    /// Sizes of each variable, by their places among all sizes.
    sizes: Vec<Vec<usize>>,
    /// What the ways of each load's branch are, in the order of the problem.
    ways: Vec<Vec<BranchSizes>>,
    /// Loads of each feeder's panel.
    loads_of: Vec<Vec<usize>>,
    problem: Problem,
}

impl<'a> Search<'a, '_> {
    /// Sizes all feeders and branches of the boat.
    pub(super) fn tree(&self, sizes: &mut Sizes<'a>) {
        let mut tree = Tree::new(self);
        tree.put();
        let solution = tree.solve();
        tree.read(&solution, sizes);
    }
}

impl<'s, 'a> Tree<'s, 'a> {
    fn new(search: &'s Search<'a, 's>) -> Self {
        let laid = search.laid;
        let branches: Vec<Branch> = (0..search.loads.len()).map(|load| search.branch(load)).collect();
        let feeder_of = |panel: usize| laid.feeders.iter().position(|feeder| feeder.panel == panel);
        let mut loads_of: Vec<Vec<usize>> = vec![Vec::new(); laid.feeders.len()];
        for (place, load) in search.loads.iter().enumerate() {
            if let Some(feeder) = feeder_of(load.panel) {
                loads_of[feeder].push(place);
            }
        }
        let mut tree = Tree {
            search,
            feeders: Vec::new(),
            branches,
            returns: laid.legs.iter().map(|_| None).collect(),
            conductors: vec![Conductor::Fixed(0.0); laid.legs.len()],
            sizes: Vec::new(),
            ways: Vec::new(),
            loads_of,
            problem: Problem::default(),
        };
        tree.protect();
        tree
    }

    /// Feeders with the devices that protect them, from the last ones towards the bank: a device is no smaller than those
    /// behind it, sub-mains among them.
    fn protect(&mut self) {
        let laid = self.search.laid;
        let in_a_row = |feeder: usize| std::iter::successors(Some(feeder), |f| laid.feeders[*f].fed_from).count();
        let mut order: Vec<usize> = (0..laid.feeders.len()).collect();
        order.sort_by_key(|feeder| std::cmp::Reverse(in_a_row(*feeder)));
        let mut found: Vec<Option<Feeder<'a>>> = laid.feeders.iter().map(|_| None).collect();
        for place in order {
            let branches =
                self.loads_of[place].iter().map(|load| self.search.largest_switched_a(&self.branches[*load]));
            let behind = found.iter().flatten().filter(|feeder| feeder.legs.fed_from == Some(place));
            let sub_mains = behind.filter_map(|feeder| self.search.rating_a(&feeder.positive));
            let largest_branch_a = branches.chain(sub_mains).fold(0.0, f64::max);
            found[place] = Some(self.feeder(place, largest_branch_a));
        }
        self.feeders = found.into_iter().flatten().collect();
        for leg in 0..laid.legs.len() {
            // A return stands the largest device of the feeders that it is a part of.
            let of = self.feeders.iter().filter(|feeder| feeder.legs.returns.contains(&leg));
            let largest = of.max_by(|a, b| a.main.least_rating_a.total_cmp(&b.main.least_rating_a));
            self.returns[leg] = largest.map(|feeder| {
                let device = Device { least_rating_a: feeder.main.least_rating_a, ..Device::default() };
                self.search.candidate(leg, feeder.ratings, None, device)
            });
        }
    }

    fn feeder(&self, place: usize, largest_branch_a: f64) -> Feeder<'a> {
        let search = self.search;
        let legs = &search.laid.feeders[place];
        let panel = &search.boat.panels[legs.panel];
        let class = &search.classes[panel.bank];
        let least_rating_a = legs.main_needs_a(largest_branch_a);
        let (ratings, fuse, breaker) = match panel.fed_from {
            None => {
                let fuse = main_family(class, least_rating_a, search.settings);
                (Ratings::of(fuse), fuse, false)
            }
            Some(feeding) => {
                let protection = search.boat.panels[feeding].protection;
                match sub_main(class, protection, least_rating_a, search.settings) {
                    SubMain::Breaker => {
                        (search.kept_or(f64::INFINITY, least_rating_a, BREAKERS, "breaker"), None, true)
                    }
                    SubMain::Fuse(FuseFamily::Blade) => {
                        let all_a = family(FuseFamily::Blade).ratings_a;
                        let most_a = all_a.last().copied().unwrap_or_default();
                        let ratings = search.kept_or(most_a, least_rating_a, all_a, FuseFamily::Blade.word());
                        (ratings, Some(FuseFamily::Blade), false)
                    }
                    SubMain::Fuse(fuse) => (Ratings::of(Some(fuse)), Some(fuse), false),
                    SubMain::Nothing => (Ratings::of(None), None, false),
                }
            }
        };
        let device = Device { least_rating_a, ..Device::default() };
        let nominal_v = search.boat.banks[panel.bank].nominal_voltage_v;
        Feeder {
            legs,
            positive: search.candidate(legs.positive, ratings, fuse, device),
            ratings,
            main: Main { largest_branch_a, least_rating_a, breaker },
            limit_v: nominal_v * search.settings.feeder_drop_percent / 100.0,
            forced: (search.wanted)(Owner::Feeder(place)).and_then(|size| search.universe.place(size)),
            without: None,
        }
    }

    /// The size that a person wants for a return, which is that of the feeder it is a pair with.
    fn forced_return(&self, leg: usize) -> Option<usize> {
        self.feeders.iter().find(|feeder| feeder.legs.paired == Some(leg)).and_then(|feeder| feeder.forced)
    }

    /// Puts the boat as a problem.
    fn put(&mut self) {
        self.find_without();
        for place in 0..self.feeders.len() {
            let feeder = &self.feeders[place];
            let legs = feeder.legs;
            if feeder.without.is_some() {
                for leg in legs.paired.into_iter().chain([legs.positive]) {
                    self.conductors[leg] = Conductor::Fixed(feeder.limit_v / 2.0);
                }
                continue;
            }
            let variable = match feeder.forced {
                Some(size) => self.variable(Some(legs.positive), legs.paired, vec![size]),
                None => {
                    let paired = legs.paired.and_then(|leg| self.returns[leg].as_ref()?.least.ok());
                    let least = feeder.positive.least.unwrap_or(0).max(paired.unwrap_or(0));
                    let kept = self.search.universe.kept_from(least).to_vec();
                    self.variable(Some(legs.positive), legs.paired, kept)
                }
            };
            for leg in legs.paired.into_iter().chain([legs.positive]) {
                self.conductors[leg] = Conductor::Sized(variable);
            }
        }
        for leg in 0..self.returns.len() {
            let Some(candidate) = &self.returns[leg] else { continue };
            if self.feeders.iter().any(|feeder| feeder.legs.paired == Some(leg)) {
                continue;
            }
            self.conductors[leg] = match candidate.least {
                Ok(least) => {
                    let kept = self.search.universe.kept_from(least).to_vec();
                    Conductor::Sized(self.variable(None, Some(leg), kept))
                }
                Err(_) => {
                    let limit_v =
                        self.feeders.iter().find(|f| f.legs.returns.contains(&leg)).map_or(0.0, |f| f.limit_v);
                    Conductor::Fixed(limit_v / 2.0)
                }
            };
        }
        for load in 0..self.branches.len() {
            let (branch, ways) = self.search.ways(&self.branches[load]);
            self.ways.push(ways);
            self.branches[load].put = Some(branch);
        }
        self.problem.places = (0..self.feeders.len()).map(|feeder| self.place(feeder)).collect();
    }

    /// Feeders that no size will do for: each is a gap, and what hangs on it is sized as if it took what it may.
    fn find_without(&mut self) {
        for place in 0..self.feeders.len() {
            let feeder = &self.feeders[place];
            if feeder.forced.is_some() {
                continue;
            }
            let returns = || feeder.legs.returns.iter().filter_map(|leg| self.returns[*leg].as_ref());
            let all = || std::iter::once(&feeder.positive).chain(returns());
            let refused = all().find_map(|candidate| candidate.least.err());
            let largest = |candidate: &Candidate<'a>| {
                let least = candidate.least.unwrap_or(0);
                self.search.universe.kept_from(least).last().copied().unwrap_or(least)
            };
            let least_v: f64 = all().map(|candidate| self.search.drop_at(candidate, largest(candidate))).sum();
            let why = match refused {
                Some(because) => Some(NoSize::Carry { current_a: feeder.legs.current_a, because }),
                None if !within(least_v, feeder.limit_v) => Some(NoSize::Drop { limit_v: feeder.limit_v, least_v }),
                None => None,
            };
            self.feeders[place].without = why;
        }
    }

    /// A variable of a positive, a return, or both.
    fn variable(&mut self, positive: Option<usize>, negative: Option<usize>, sizes: Vec<usize>) -> usize {
        let candidates = (
            positive.and_then(|leg| self.feeders.iter().find(|f| f.legs.positive == leg)).map(|f| &f.positive),
            negative.and_then(|leg| self.returns[leg].as_ref()),
        );
        let search = self.search;
        let of = |candidate: Option<&Candidate<'a>>, size: usize| {
            candidate.map_or((0, 0.0), |c| (search.copper(c, size), search.drop_at(c, size)))
        };
        let put = sizes.iter().map(|&size| {
            let ((there, positive_v), (back, return_v)) = (of(candidates.0, size), of(candidates.1, size));
            FeederSize { copper: there + back, positive_v, return_v }
        });
        self.problem.variables.push(Variable { sizes: put.collect() });
        self.sizes.push(sizes);
        self.sizes.len() - 1
    }

    /// What lies between the bank and a panel, and its branches.
    fn place(&mut self, at: usize) -> Place {
        let laid = self.search.laid;
        let feeder = &self.feeders[at];
        let mut place = Place::default();
        let feeding: Vec<usize> = std::iter::successors(Some(at), |f| laid.feeders[*f].fed_from).collect();
        for &through in feeding.iter().rev() {
            match self.conductors[laid.feeders[through].positive] {
                Conductor::Sized(variable) => place.positives.push(variable),
                Conductor::Fixed(volts) => place.fixed_v.0 += volts,
            }
        }
        for &leg in feeder.legs.all_returns.iter().rev() {
            match self.conductors[leg] {
                Conductor::Sized(variable) => place.returns.push(variable),
                Conductor::Fixed(volts) => place.fixed_v.1 += volts,
            }
        }
        if feeder.forced.is_none() && feeder.without.is_none() {
            let sized = |leg: &usize| match self.conductors[*leg] {
                Conductor::Sized(variable) => Some(variable),
                Conductor::Fixed(_) => None,
            };
            place.own = Some(OwnLimit {
                positives: sized(&feeder.legs.positive).into_iter().collect(),
                returns: feeder.legs.returns.iter().filter_map(sized).collect(),
                limit_v: feeder.limit_v,
            });
        }
        place.branches = self.loads_of[at].iter().filter_map(|load| self.branches[*load].put.take()).collect();
        place
    }

    fn solve(&mut self) -> Solution {
        if let Some(found) = solve(&self.problem) {
            return found;
        }
        // Every own limit was seen to hold with the largest sizes; it cannot come to this but by a hair of rounding.
        for place in &mut self.problem.places {
            place.own = None;
        }
        solve(&self.problem).unwrap_or_else(|| {
            let sizes = even_split(&self.problem);
            let priced = price(&self.problem, &sizes);
            let (cost, ways) = priced.map_or((Cost::default(), Vec::new()), |priced| (priced.cost, priced.ways));
            Solution { cost, sizes, ways, proved: false }
        })
    }

    /// Drop along a conductor of a feeder at the size found, volts.
    fn drop_v(&self, candidate: &Candidate<'a>, leg: usize, solution: &Solution) -> f64 {
        match self.conductors[leg] {
            Conductor::Sized(variable) => {
                self.search.drop_at(candidate, self.sizes[variable][solution.sizes[variable]])
            }
            Conductor::Fixed(volts) => volts,
        }
    }

    /// What positives and returns from the bank to a feeder's panel take, volts.
    fn taken_v(&self, at: usize, solution: &Solution) -> (f64, f64) {
        let through = std::iter::successors(Some(at), |feeder| self.search.laid.feeders[*feeder].fed_from);
        let positives =
            through.map(|f| self.drop_v(&self.feeders[f].positive, self.feeders[f].legs.positive, solution));
        let returns = self.feeders[at].legs.all_returns.iter();
        let returns = returns.filter_map(|leg| Some(self.drop_v(self.returns[*leg].as_ref()?, *leg, solution)));
        (positives.sum(), returns.sum())
    }

    /// Reads the answer.
    fn read(mut self, solution: &Solution, sizes: &mut Sizes<'a>) {
        let plain = price(&self.problem, &even_split(&self.problem)).map(|priced| priced.cost);
        sizes.copper = CopperFound {
            least: solution.cost.copper,
            even_split: plain.filter(|plain| plain.unmet == solution.cost.unmet).map(|plain| plain.copper),
            proved: solution.proved,
        };
        for at in 0..self.feeders.len() {
            sizes.mains[at] = self.feeders[at].main;
            let taken_v = self.taken_v(at, solution);
            self.read_feeder(at, taken_v, solution, sizes);
            for (i, load) in self.loads_of[at].clone().into_iter().enumerate() {
                let way = solution.ways.get(at).and_then(|ways| ways[i]);
                let found = way.map(|way| self.ways[load].swap_remove(way));
                self.search.keep(&self.branches[load], found, taken_v, sizes);
            }
        }
    }

    fn read_feeder(&self, at: usize, taken_v: (f64, f64), solution: &Solution, sizes: &mut Sizes<'a>) {
        let feeder = &self.feeders[at];
        if let Some(why) = &feeder.without {
            sizes.feeders_without.push((at, why.clone()));
            return;
        }
        let size_of = |leg: usize| match self.conductors[leg] {
            Conductor::Sized(variable) => Some(self.sizes[variable][solution.sizes[variable]]),
            Conductor::Fixed(_) => None,
        };
        let positive_at = size_of(feeder.legs.positive);
        if feeder.forced.is_some() {
            self.judge(at, solution, sizes);
        }
        let returns: Option<Vec<Chosen>> = (feeder.legs.returns.iter())
            .map(|leg| {
                let forced = self.forced_return(*leg).is_some();
                self.search.chosen(self.returns[*leg].as_ref()?, size_of(*leg)?, forced)
            })
            .collect();
        let positive = positive_at.and_then(|size| self.search.chosen(&feeder.positive, size, feeder.forced.is_some()));
        // A size that a person chose and that cannot carry is refused; nothing is kept for it.
        if let (Some(mut positive), Some(mut returns)) = (positive, returns) {
            let paired = feeder.legs.returns.iter().position(|leg| Some(*leg) == feeder.legs.paired);
            if let Some(paired) = paired {
                share_limit(&mut positive, &mut returns[paired]);
            }
            sizes.feeders[at] = Some(FeederSizes { positive, returns, from_bank_v: taken_v });
        }
    }

    /// How a person's size for a feeder turns out.
    fn judge(&self, at: usize, solution: &Solution, sizes: &mut Sizes<'a>) {
        let feeder = &self.feeders[at];
        let Some(size) = feeder.forced else { return };
        let returns = || feeder.legs.returns.iter().filter_map(|leg| Some((*leg, self.returns[*leg].as_ref()?)));
        let own_v: f64 = self.drop_v(&feeder.positive, feeder.legs.positive, solution)
            + returns().map(|(leg, candidate)| self.drop_v(candidate, leg, solution)).sum::<f64>();
        let unwise = if !within(own_v, feeder.limit_v) {
            let limit_v = feeder.limit_v;
            Some(format!("drops {own_v:.2} V there and back, over the feeder's limit of {limit_v:.2} V"))
        } else if feeder.legs.paired.is_none() && !feeder.legs.returns.is_empty() {
            Some("leaves the return of the bus as computed, since other panels use it too".to_owned())
        } else {
            None
        };
        let paired = returns().filter(|(leg, _)| Some(*leg) == feeder.legs.paired).map(|(_, candidate)| candidate);
        let legs: Vec<&Candidate> = std::iter::once(&feeder.positive).chain(paired).collect();
        let outcome = self.search.judge(&legs, size, unwise.map(Overruled::Unwise));
        sizes.overruled.extend(outcome.map(|outcome| (Owner::Feeder(at), outcome)));
    }
}

impl<'a> Search<'a, '_> {
    /// The shop's branch ratings up to one, or all that the trade has where the shop's are not enough.
    fn kept_or(&self, most_a: f64, needs_a: f64, all_a: &'static [f64], word: &'static str) -> Ratings<'a> {
        let kept = self.branch_ratings(most_a);
        match kept.list_a.last().is_some_and(|largest_a| within(needs_a, *largest_a)) {
            true => kept,
            false => Ratings { list_a: all_a, word },
        }
    }

    /// Copper of a leg at a size, as [`least_copper`] counts it, with that of the one that it continues.
    pub(super) fn copper(&self, candidate: &Candidate, place: usize) -> u64 {
        let own = least_copper::copper(self.universe.areas[place], candidate.leg.lengths.carrying.ft());
        candidate.continued().map_or(own, |before| own + self.copper(before, place))
    }
}
