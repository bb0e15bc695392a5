//! Rising step functions of what the feeders upstream take: the frontier of copper against drop.

use super::{Cost, Way};

/// A step function: what stands at `x` is the first cost whose bound is not below `x`.
#[derive(Clone, Debug, Default)]
pub(super) struct Steps {
    /// Bounds, volts, rising.
    upto_v: Vec<f64>,
    /// Costs, rising: one for each bound, and one beyond the last.
    costs: Vec<Cost>,
}

/// How a sum of steps changes past a bound.
#[derive(Clone, Copy, Debug)]
struct Jump {
    at_v: f64,
    unmet: i32,
    copper: i64,
}

/// Steps that are being summed, looked at between two bounds only.
#[derive(Debug)]
pub(super) struct Summing {
    from_v: f64,
    to_v: f64,
    base: Cost,
    jumps: Vec<Jump>,
}

impl Summing {
    /// Nothing yet; what lies outside of the bounds is never asked for.
    pub(super) fn between(from_v: f64, to_v: f64) -> Self {
        Summing { from_v, to_v, base: Cost::default(), jumps: Vec::new() }
    }

    /// Adds one function: its costs, rising, and the bound of each; a bound that is not above all before it is none.
    fn add(&mut self, steps: impl Iterator<Item = (f64, Cost)>) {
        let mut last: Option<(f64, Cost)> = None;
        for (upto_v, cost) in steps {
            match last {
                None => self.base += cost,
                Some((at_v, _)) if upto_v <= at_v => continue,
                // Bounds below the range are behind it already.
                Some((at_v, before)) if at_v < self.from_v => {
                    self.base.unmet = self.base.unmet - before.unmet + cost.unmet;
                    self.base.copper = self.base.copper - before.copper + cost.copper;
                }
                Some((at_v, before)) => self.jumps.push(Jump {
                    at_v,
                    unmet: cost.unmet.cast_signed() - before.unmet.cast_signed(),
                    copper: cost.copper.cast_signed() - before.copper.cast_signed(),
                }),
            }
            last = Some((upto_v, cost));
            if upto_v >= self.to_v {
                break;
            }
        }
    }

    /// Adds a cost that is the same everywhere.
    pub(super) fn cost(&mut self, cost: Cost) {
        self.base += cost;
    }

    /// Adds a branch that asks about `bound` of its ways.
    pub(super) fn ways(&mut self, ways: &[Way], bound: impl Fn(&Way) -> f64) {
        let ways = ways.iter().map(|way| (bound(way), Cost::of(way.copper)));
        self.add(ways.chain([(f64::INFINITY, Cost { unmet: 1, copper: 0 })]));
    }

    /// Adds another step function, asked after `takes_v` more.
    pub(super) fn steps(&mut self, steps: &Steps, takes_v: f64) {
        let bounds = steps.upto_v.iter().map(|upto_v| upto_v - takes_v);
        self.add(bounds.chain([f64::INFINITY]).zip(steps.costs.iter().copied()));
    }

    /// The sum.
    pub(super) fn summed(mut self) -> Steps {
        self.jumps.sort_by(|a, b| a.at_v.total_cmp(&b.at_v));
        let mut summed =
            Steps { upto_v: Vec::with_capacity(self.jumps.len()), costs: Vec::with_capacity(self.jumps.len() + 1) };
        let mut cost = self.base;
        for jump in &self.jumps {
            if summed.upto_v.last() != Some(&jump.at_v) {
                summed.upto_v.push(jump.at_v);
                summed.costs.push(cost);
            }
            cost.unmet = cost.unmet.wrapping_add_signed(jump.unmet);
            cost.copper = cost.copper.wrapping_add_signed(jump.copper);
        }
        summed.costs.push(cost);
        summed
    }
}

impl Steps {
    /// What stands at `x_v`.
    pub(super) fn at(&self, x_v: f64) -> Cost {
        self.costs[self.upto_v.partition_point(|upto_v| *upto_v < x_v)]
    }

    /// Whether it is the same everywhere and nothing.
    pub(super) fn is_nothing(&self) -> bool {
        self.upto_v.is_empty() && self.costs[0] == Cost::default()
    }

    /// How many steps it has.
    pub(super) fn len(&self) -> usize {
        self.costs.len()
    }

    /// The least of several functions, each of which costs copper and takes volts before it is asked.
    pub(super) fn least<'a>(each: impl Iterator<Item = (&'a Steps, u64, f64)>, from_v: f64, to_v: f64) -> Steps {
        let mut least = Steps::default();
        for (steps, copper, takes_v) in each {
            let moved = steps.moved(copper, takes_v, from_v, to_v);
            least = if least.costs.is_empty() { moved } else { least.lesser(&moved) };
        }
        least
    }

    /// The function after `copper` and `takes_v` more, between two bounds.
    fn moved(&self, copper: u64, takes_v: f64, from_v: f64, to_v: f64) -> Steps {
        let first = self.upto_v.partition_point(|upto_v| upto_v - takes_v < from_v);
        let last = self.upto_v.partition_point(|upto_v| upto_v - takes_v < to_v).max(first);
        Steps {
            upto_v: self.upto_v[first..last].iter().map(|upto_v| upto_v - takes_v).collect(),
            costs: self.costs[first..=last].iter().map(|cost| *cost + Cost::of(copper)).collect(),
        }
    }

    /// The lesser of two functions at every point.
    fn lesser(&self, other: &Steps) -> Steps {
        let room = self.costs.len() + other.costs.len();
        let mut least = Steps { upto_v: Vec::with_capacity(room), costs: Vec::with_capacity(room) };
        let (mut i, mut j) = (0, 0);
        loop {
            let cost = self.costs[i].min(other.costs[j]);
            let (a_v, b_v) = (self.upto_v.get(i), other.upto_v.get(j));
            let (a_v, b_v) = (a_v.copied().unwrap_or(f64::INFINITY), b_v.copied().unwrap_or(f64::INFINITY));
            let upto_v = a_v.min(b_v);
            if least.costs.last() == Some(&cost) {
                // The step before goes on.
                least.upto_v.pop();
            } else {
                least.costs.push(cost);
            }
            if upto_v == f64::INFINITY {
                return least;
            }
            least.upto_v.push(upto_v);
            i += usize::from(a_v == upto_v);
            j += usize::from(b_v == upto_v);
        }
    }

    /// A function of `most` steps at most that is nowhere above this one.
    pub(super) fn below(&self, most: usize) -> Steps {
        let group = self.costs.len().div_ceil(most);
        Steps {
            costs: self.costs.iter().step_by(group).copied().collect(),
            // Of a group the first cost, as far as the last reaches.
            upto_v: self
                .upto_v
                .iter()
                .skip(group - 1)
                .step_by(group)
                .copied()
                .take((self.costs.len() - 1) / group)
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuits::least_copper::Branch;

    fn branch(ways: &[(u64, f64)]) -> Branch {
        let way = |&(copper, through_v)| Way { copper, through_v, return_v: f64::INFINITY };
        Branch { ways: ways.iter().map(way).collect(), limit_v: 1.0 }
    }

    #[test]
    fn a_sum_of_steps_is_the_sum_at_every_point() {
        let branches = [branch(&[(10, 0.1), (20, 0.3), (40, 0.5)]), branch(&[(7, 0.3), (9, 0.4)])];
        let mut summing = Summing::between(0.0, 1.0);
        for branch in &branches {
            summing.ways(&branch.ways, |way| way.through_v);
        }
        let summed = summing.summed();
        for x in 0..=10 {
            let x_v = f64::from(x) / 10.0;
            let each = branches.iter().map(|branch| match branch.way(x_v, 0.0) {
                Some(way) => Cost::of(branch.ways[way].copper),
                None => Cost { unmet: 1, copper: 0 },
            });
            assert_eq!(summed.at(x_v), each.sum(), "{x_v} V");
        }
        // Lowered over two sizes it is the lesser of both, moved.
        let sizes = [(3, 0.2), (12, 0.05)];
        let each = sizes.iter().map(|(copper, takes_v)| (&summed, *copper, *takes_v));
        let lowered = Steps::least(each, 0.0, 1.0);
        for x in 0..=10 {
            let x_v = f64::from(x) / 10.0 + 0.01;
            let least = sizes.map(|(copper, takes_v)| Cost::of(copper) + summed.at(x_v + takes_v));
            assert_eq!(lowered.at(x_v), least[0].min(least[1]), "{x_v} V");
        }
    }
}
