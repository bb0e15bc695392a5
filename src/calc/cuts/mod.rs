//! Which stock length each piece is cut from, at the least cost that can be found, and how far that is proven.
//!
//! Plain whole numbers in, plain whole numbers out: a length is a count of whatever the caller counts in, a cost a
//! count of whatever he pays in. The search is bounded by work and never by time, so that the same task always has the
//! same answer. A bound is never above the least cost: floats only guide the search, and everything that is claimed is
//! reckoned in whole numbers.
//!
//! 1. `covers`: which numbers of stock lengths are long enough taken together, by their lengths alone. Where the
//!    pieces fit into the cheapest of them, the plan is the cheapest there is, and nothing else is done.
//! 2. `packing`: plans by rules of thumb; `exact`: a search of all ways to cut from so many of each length.
//! 3. `relaxation`: the same task with fractions of cut patterns allowed, by column generation; `knapsack` finds the
//!    patterns. Its duals, rounded to whole numbers, give the bound.
//! 4. `search`: branching on how many of each stock length are taken, which is what the cost depends on.

mod case;
mod covers;
mod exact;
mod knapsack;
pub mod labels;
mod packing;
pub mod question;
mod relaxation;
mod search;
mod simplex;

pub use search::solve;

/// Pieces of one length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Demand {
    /// What one of them takes of a stock length: its own length and the allowance for its cut. More than nothing.
    pub length: i64,
    /// How many.
    pub count: u32,
}

/// Stock of one length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kind {
    /// The length.
    pub length: i64,
    /// What so many cost, by number from none on, never falling; as many as there are, or as could be wanted.
    pub costs: Vec<i128>,
}

/// Stock that is sold to measure: of any length, at a cost that never falls with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Measure {
    /// So much for each unit of length.
    Each(i128),
    /// In whole units of so much length; what so many of them cost, by number from none on. All of it is one order.
    Units {
        /// Length of a unit.
        unit: i64,
        /// What so many cost; long enough for all pieces together.
        costs: Vec<i128>,
    },
}

/// What is to be cut, and what there is to cut it from.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Task {
    /// The pieces.
    pub demands: Vec<Demand>,
    /// The stock lengths.
    pub kinds: Vec<Kind>,
    /// What is sold to measure.
    pub measure: Option<Measure>,
}

/// Stock pieces that are cut alike.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cut {
    /// Place of their kind in the task.
    pub kind: usize,
    /// Places of demands in the task, and how many pieces of each are cut from one; in order of place.
    pub take: Vec<(usize, u32)>,
    /// How many stock pieces are cut so.
    pub times: u32,
}

/// How a task is met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// What it costs.
    pub cost: i128,
    /// What no plan can cost less than.
    pub bound: i128,
    /// The stock pieces and their cuts.
    pub cuts: Vec<Cut>,
    /// Pieces of each demand that are bought to measure.
    pub measured: Vec<u32>,
}

impl Plan {
    /// Whether it is proven that nothing is cheaper.
    pub fn optimal(&self) -> bool {
        self.bound == self.cost
    }
}

/// Why there is no plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoPlan {
    /// There is none: the stock is not enough, however it is cut.
    NotEnough,
    /// None was found within the budget.
    NotFound,
}

/// How much may be worked.
#[derive(Clone, Copy, Debug)]
pub struct Work(u64);

impl Work {
    /// So many steps; a step is about what a processor does in a nanosecond.
    pub fn steps(steps: u64) -> Self {
        Work(steps)
    }

    /// Takes steps from the budget, whether or not there are so many.
    fn spend(&mut self, steps: usize) {
        self.0 = self.0.saturating_sub(steps as u64);
    }

    /// Steps that are left.
    pub fn left(self) -> u64 {
        self.0
    }

    fn is_over(self) -> bool {
        self.0 == 0
    }

    /// Takes a part of the budget for a part of the work.
    pub fn part(&mut self, most: u64) -> Work {
        let part = self.0.min(most);
        self.0 -= part;
        Work(part)
    }

    /// Gives back what a part of the work has left.
    pub fn give_back(&mut self, part: Work) {
        self.0 += part.0;
    }
}
