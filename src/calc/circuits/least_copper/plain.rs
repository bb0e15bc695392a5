//! What a choice of feeder sizes comes to, and the plain choice that the least one is compared with.

use super::{Cost, Place, Problem};
use crate::units::within;

/// A choice of feeder sizes with the best way of each branch beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Priced {
    /// What all comes to.
    pub cost: Cost,
    /// Of each branch of each place, the place of its way.
    pub ways: Vec<Vec<Option<usize>>>,
}

/// What the feeders of a place take at these sizes, volts: positives, returns.
fn taken_v(problem: &Problem, place: &Place, sizes: &[usize]) -> (f64, f64) {
    let of = |variable: usize| &problem.variables[variable].sizes[sizes[variable]];
    let positive_v: f64 = place.positives.iter().map(|&variable| of(variable).positive_v).sum();
    let return_v: f64 = place.returns.iter().map(|&variable| of(variable).return_v).sum();
    (place.fixed_v.0 + positive_v, place.fixed_v.1 + return_v)
}

/// Prices a choice of one size for each variable; `None` when it breaks some feeder's own limit.
pub fn price(problem: &Problem, sizes: &[usize]) -> Option<Priced> {
    let mut cost: Cost = problem.variables.iter().zip(sizes).map(|(v, size)| Cost::of(v.sizes[*size].copper)).sum();
    let mut ways = Vec::with_capacity(problem.places.len());
    for place in &problem.places {
        if let Some(own) = &place.own {
            let of = |variable: usize| &problem.variables[variable].sizes[sizes[variable]];
            let positive_v: f64 = own.positives.iter().map(|&variable| of(variable).positive_v).sum();
            let return_v: f64 = own.returns.iter().map(|&variable| of(variable).return_v).sum();
            if !within(positive_v + return_v, own.limit_v) {
                return None;
            }
        }
        let (positive_v, return_v) = taken_v(problem, place, sizes);
        let found: Vec<Option<usize>> =
            place.branches.iter().map(|branch| branch.way(positive_v + return_v, return_v)).collect();
        for (branch, way) in place.branches.iter().zip(&found) {
            cost += match way {
                Some(way) => Cost::of(branch.ways[*way].copper),
                None => Cost { unmet: 1, copper: 0 },
            };
        }
        ways.push(found);
    }
    Some(Priced { cost, ways })
}

/// The plain choice: the limit of each device is split evenly over its feeders and its branch. Each feeder takes the
/// smallest size that keeps the least share of any device behind it, and its own limit, its conductors sharing that
/// alike where they are sized apart; where none does, the largest. Each branch then takes the least that is left to it.
pub fn even_split(problem: &Problem) -> Vec<usize> {
    // Of each variable, what it may take: as a pair, or by the part that is alone.
    let mut share_v = vec![f64::INFINITY; problem.variables.len()];
    for place in &problem.places {
        let stages = place.positives.len() + 1;
        let device_v = place.branches.iter().map(|branch| branch.limit_v / stages as f64).fold(f64::INFINITY, f64::min);
        for &variable in place.positives.iter().chain(&place.returns) {
            let together = place.positives.contains(&variable) && place.returns.contains(&variable);
            let part = if together { 1.0 } else { 2.0 };
            share_v[variable] = share_v[variable].min(device_v / part);
        }
        if let Some(own) = &place.own {
            let conductors = own.positives.len() + own.returns.len();
            for &variable in own.positives.iter().chain(&own.returns) {
                let together = own.positives.contains(&variable) && own.returns.contains(&variable);
                let part = if together { 2.0 } else { 1.0 };
                share_v[variable] = share_v[variable].min(own.limit_v * part / conductors as f64);
            }
        }
    }
    let smallest = |(variable, share_v): (&super::Variable, &f64)| {
        let fits = |size: &super::FeederSize| within(size.positive_v + size.return_v, *share_v);
        variable.sizes.iter().position(fits).unwrap_or(variable.sizes.len() - 1)
    };
    problem.variables.iter().zip(&share_v).map(smallest).collect()
}
