//! What the branches of one place cost, by what the feeders above them take.

use super::steps::{Steps, Summing};
use super::{Cost, Place, Way};

/// The least and the most that the feeders of a place can take, volts: positives and returns together, returns alone.
pub(super) type Range = ((f64, f64), (f64, f64));

/// What the branches of a place cost beside feeders that take so much.
pub(super) struct PlaceCosts<'a> {
    /// Branches that ask about positives and returns together.
    pub(super) through: Steps,
    /// Branches that ask about the returns alone.
    pub(super) returns: Steps,
    /// Branches that ask about both.
    pub(super) both: Vec<&'a [Way]>,
    /// No less than this, by what positives and returns take together.
    pub(super) bound: Steps,
}

impl PlaceCosts<'_> {
    pub(super) fn at(&self, (through_v, return_v): (f64, f64)) -> Cost {
        let apart = self.through.at(through_v) + self.returns.at(return_v);
        let both = self.both.iter().map(|ways| {
            let fits = |way: &&Way| through_v <= way.through_v && return_v <= way.return_v;
            ways.iter().find(fits).map_or(Cost { unmet: 1, copper: 0 }, |way| Cost::of(way.copper))
        });
        apart + both.sum()
    }

    pub(super) fn of<'a>(place: &'a Place, (least, most): Range) -> PlaceCosts<'a> {
        let mut through = Summing::between(least.0, most.0);
        let mut returns = Summing::between(least.1, most.1);
        let mut both = Vec::new();
        for branch in &place.branches {
            let ways = &branch.ways;
            if ways.iter().all(|way| way.return_v == f64::INFINITY) {
                through.ways(ways, |way| way.through_v);
            } else if ways.iter().all(|way| way.through_v == f64::INFINITY) {
                returns.ways(ways, |way| way.return_v);
            } else {
                both.push(&**ways);
            }
        }
        let (through, returns) = (through.summed(), returns.summed());
        let bound = if both.is_empty() && returns.is_nothing() {
            through.clone()
        } else {
            let mut bound = Summing::between(least.0, most.0);
            bound.steps(&through, 0.0);
            bound.cost(returns.at(least.1));
            for ways in &both {
                bound.ways(ways, |way| way.through_v);
            }
            bound.summed()
        };
        PlaceCosts { through, returns, both, bound }
    }
}
