//! The least copper of a tree of feeders and the branches behind them, exactly.
//!
//! Plain figures: what each size of a feeder costs in copper and takes in volts, and what each branch then needs. A size
//! that may not carry its conductor is not offered here, so rules and overrules hold by what is left out.
//!
//! **What is asked.** One size for each [`Variable`] (a feeder's positive and return together, a lone positive, or a
//! return that several panels share) and one [`Way`] for each branch, such that the own limit of each feeder holds and
//! each branch's limit holds from bank to device, along its positive path and along its return path; of all such
//! choices the fewest branches without a way, and of those the least copper.
//!
//! **How it is found.** Positives and returns are two trees that need not be alike. Both are put into one order of
//! decision: among the places that still share an undecided variable, the one that most of them share is decided next;
//! then what no longer shares anything is apart and is solved by itself. On a boat whose buses follow its panels that
//! order is the panel tree; a return that two panels share is decided above both. Nothing is left out by it, as each
//! place meets all of its variables on its way down:
//!
//! 1. A subtree is a step function of what the feeders above it take: the Pareto frontier of copper against drop,
//!    merged from its children and branches and lowered over its own sizes. It is what the subtree costs where the
//!    feeders above take the same of all its places and its branches ask about nothing else. Elsewhere (a branch with a
//!    positive straight from the bank asks about the returns alone; a return above is shared by some places only) it is
//!    made of the least of both and is a bound from below.
//! 2. From the bank outwards every size is tried whose bound is below the best known, the most hopeful first, down to
//!    where step functions are exact. So nothing is left out that could cost less.
//! 3. All of it is bounded by [`search::WORK_MAX`] sizes tried and steps merged. Past that the best of three plain
//!    choices stands, and [`Solution::proved`] says so. No boat that anyone rigs comes near it; buses laid out against
//!    the panels at random, eight deep, do.
//!
//! Copper is counted in whole thousandths of a circular mil foot, so that sums do not depend on their order, and the
//! search has a fixed order, so that of equal choices always the same one stands.

mod order;
mod place_costs;
mod plain;
mod search;
mod steps;

pub use plain::{Priced, even_split, price};

use std::iter::Sum;
use std::ops::{Add, AddAssign};

use search::Found;

/// What a choice comes to: branches that got no way first, then copper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost {
    /// How many branches no size serves.
    pub unmet: u32,
    /// Copper of all others and of the feeders, thousandths of a circular mil foot.
    pub copper: u64,
}

impl Cost {
    const MOST: Cost = Cost { unmet: u32::MAX, copper: u64::MAX };

    const fn of(copper: u64) -> Self {
        Cost { unmet: 0, copper }
    }
}

impl Add for Cost {
    type Output = Cost;

    fn add(self, other: Cost) -> Cost {
        Cost { unmet: self.unmet + other.unmet, copper: self.copper + other.copper }
    }
}

impl AddAssign for Cost {
    fn add_assign(&mut self, other: Cost) {
        *self = *self + other;
    }
}

impl Sum for Cost {
    fn sum<I: Iterator<Item = Cost>>(costs: I) -> Cost {
        costs.fold(Cost::default(), Add::add)
    }
}

/// Copper of a conductor in the unit of [`Cost::copper`].
pub fn copper(area_cmil: f64, length_ft: f64) -> u64 {
    (area_cmil * length_ft * 1000.0).round() as u64
}

/// One size of a feeder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FeederSize {
    /// Copper of positive and return together, as far as the variable has both.
    pub copper: u64,
    /// What its positive takes, volts; 0 for a lone return.
    pub positive_v: f64,
    /// What its return takes, volts; 0 for a lone positive.
    pub return_v: f64,
}

/// Conductors of feeders that share one size.
#[derive(Clone, Debug, Default)]
pub struct Variable {
    /// Sizes by rising copper and falling drop; never empty.
    pub sizes: Vec<FeederSize>,
}

/// One choice of sizes for a branch: what it costs, and what it leaves to the feeders.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// Copper of all its conductors.
    pub copper: u64,
    /// Most that positives and returns of the feeders may take together, volts; infinite where no positive of the
    /// branch comes through them.
    pub through_v: f64,
    /// Most that the returns of the feeders may take by themselves, volts; infinite where no positive of the branch
    /// comes straight from the bank.
    pub return_v: f64,
}

/// A branch: one device.
#[derive(Clone, Debug, Default)]
pub struct Branch {
    /// Its ways by rising copper, none of them worse than another in everything.
    pub ways: Vec<Way>,
    /// Limit from bank to device, volts.
    pub limit_v: f64,
}

impl Branch {
    /// Keeps only ways that are better than all cheaper ones in something, by rising copper. Of equal ways the first
    /// stands; the places of those kept are returned beside them.
    pub fn of(ways: &[Way], limit_v: f64) -> (Branch, Vec<usize>) {
        // Most branches come so: each way dearer than the one before, and leaving more.
        let rising = |leaves: fn(&Way) -> f64| {
            ways.windows(2).all(|pair| pair[0].copper < pair[1].copper && leaves(&pair[0]) < leaves(&pair[1]))
        };
        if rising(|way| way.through_v) || rising(|way| way.return_v) {
            return (Branch { ways: ways.to_vec(), limit_v }, (0..ways.len()).collect());
        }
        let mut order: Vec<usize> = (0..ways.len()).collect();
        order.sort_by(|&a, &b| {
            let (a, b) = (&ways[a], &ways[b]);
            a.copper.cmp(&b.copper).then(b.through_v.total_cmp(&a.through_v)).then(b.return_v.total_cmp(&a.return_v))
        });
        let mut kept: Vec<usize> = Vec::new();
        for place in order {
            let way = &ways[place];
            let worse = |&known: &usize| ways[known].through_v >= way.through_v && ways[known].return_v >= way.return_v;
            if !kept.iter().any(worse) {
                kept.push(place);
            }
        }
        (Branch { ways: kept.iter().map(|place| ways[*place]).collect(), limit_v }, kept)
    }

    /// The cheapest way beside feeders that take this much.
    pub fn way(&self, through_v: f64, return_v: f64) -> Option<usize> {
        self.ways.iter().position(|way| through_v <= way.through_v && return_v <= way.return_v)
    }
}

/// A feeder's own limit.
#[derive(Clone, Debug, Default)]
pub struct OwnLimit {
    /// Variables whose positives are the feeder's own.
    pub positives: Vec<usize>,
    /// Variables whose returns are the feeder's own.
    pub returns: Vec<usize>,
    /// Most that these may take together, volts.
    pub limit_v: f64,
}

/// A panel: what lies between the bank and its branches, and those.
#[derive(Clone, Debug, Default)]
pub struct Place {
    /// Variables whose positives its switched circuits come through, from the bank outwards.
    pub positives: Vec<usize>,
    /// Variables whose returns its circuits go back through, from the bank outwards.
    pub returns: Vec<usize>,
    /// What those take that have no choice of size, volts: positives, returns.
    pub fixed_v: (f64, f64),
    /// Its feeder's own limit; absent where the feeder has no choice, or a person's.
    pub own: Option<OwnLimit>,
    /// Its branches.
    pub branches: Vec<Branch>,
}

/// A tree of feeders and branches, or several.
#[derive(Clone, Debug, Default)]
pub struct Problem {
    /// What has a size to be chosen.
    pub variables: Vec<Variable>,
    /// Panels.
    pub places: Vec<Place>,
}

/// The sizes that were found.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// What they come to.
    pub cost: Cost,
    /// Of each variable, the place of its size.
    pub sizes: Vec<usize>,
    /// Of each branch of each place, the place of its way; `None` where no size serves it.
    pub ways: Vec<Vec<Option<usize>>>,
    /// Whether nothing costs less; `false` only past the bound of work.
    pub proved: bool,
}

/// The choice that leaves the fewest branches without a way, and of those the one of least copper. `None` when the own
/// limit of some feeder cannot be held by any size.
pub fn solve(problem: &Problem) -> Option<Solution> {
    let priced = |sizes: Vec<usize>, proved| {
        let Priced { cost, ways } = price(problem, &sizes)?;
        Some(Solution { cost, sizes, ways, proved })
    };
    match search::search(problem) {
        Found::Least(sizes) => priced(sizes, true),
        Found::Nothing => None,
        Found::OutOfWork(sizes) => {
            let largest = problem.variables.iter().map(|variable| variable.sizes.len() - 1).collect();
            let plain = [sizes, even_split(problem), largest];
            plain.into_iter().filter_map(|sizes| priced(sizes, false)).min_by_key(|solution| solution.cost)
        }
    }
}
