//! A task in its plainest numbers: lengths and costs without common factors, pieces by falling length, and only kinds
//! that can be of use.

use super::{Measure, NoPlan, Task};

/// A ratio of cost to length.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rate {
    pub(super) cost: i128,
    pub(super) length: i128,
}

impl Rate {
    /// The least whole cost that so much length may have at this rate.
    pub(super) fn least(self, length: i64) -> i128 {
        ceil_div(self.cost * i128::from(length), self.length)
    }

    pub(super) fn lower(self, other: Rate) -> Rate {
        if other.cost * self.length < self.cost * other.length { other } else { self }
    }
}

/// A checked task. Types of piece are by falling length; kinds by falling length, then rising cost.
pub(super) struct Case {
    /// What a piece of each type takes.
    pub(super) lengths: Vec<i64>,
    /// How many of each type.
    pub(super) counts: Vec<u32>,
    /// Length of each kind.
    pub(super) rooms: Vec<i64>,
    /// Cost of so many of each kind.
    pub(super) costs: Vec<Vec<i128>>,
    /// What is sold to measure.
    pub(super) measure: Option<Measure>,
    /// The least that a unit of length to measure costs.
    pub(super) measure_rate: Option<Rate>,
    /// Number of all pieces.
    pub(super) pieces: u32,
    /// Length of all pieces.
    pub(super) whole: i64,
    /// Whether so many of a kind always cost so many times what one costs.
    pub(super) even: Vec<bool>,
    /// The common factor of all costs, which they were divided by.
    pub(super) coin: i128,
    /// Place in the task of each type.
    pub(super) types: Vec<usize>,
    /// Place in the task of each kind.
    pub(super) kinds: Vec<usize>,
}

impl Case {
    pub(super) fn new(task: &Task) -> Result<Case, NoPlan> {
        let mut types: Vec<usize> = (0..task.demands.len()).filter(|&t| task.demands[t].count > 0).collect();
        types.sort_by_key(|&t| (std::cmp::Reverse(task.demands[t].length), t));
        let counts: Vec<u32> = types.iter().map(|&t| task.demands[t].count).collect();
        let mut lengths: Vec<i64> = types.iter().map(|&t| task.demands[t].length).collect();
        let pieces: u32 = counts.iter().sum();
        let shortest = lengths.last().copied().unwrap_or(1);
        let mut kinds: Vec<usize> = (0..task.kinds.len())
            .filter(|&k| task.kinds[k].length >= shortest && task.kinds[k].costs.len() > 1)
            .collect();
        kinds.sort_by_key(|&k| (std::cmp::Reverse(task.kinds[k].length), task.kinds[k].costs[1], k));
        let mut rooms: Vec<i64> = kinds.iter().map(|&k| task.kinds[k].length).collect();
        let most = pieces as usize + 1;
        let mut costs: Vec<Vec<i128>> =
            kinds.iter().map(|&k| task.kinds[k].costs.iter().copied().take(most).collect()).collect();
        // Lengths in units of their greatest common factor: of a stock length only whole units can be used.
        let mut measure = task.measure.clone();
        let unit = lengths.iter().fold(0, |unit, &length| gcd(unit.into(), length.into()) as i64);
        let unit = match &measure {
            Some(Measure::Units { unit: sold, .. }) => gcd(unit.into(), (*sold).into()) as i64,
            _ => unit,
        }
        .max(1);
        lengths.iter_mut().chain(rooms.iter_mut()).for_each(|length| *length /= unit);
        match &mut measure {
            Some(Measure::Each(cost)) => *cost *= i128::from(unit),
            Some(Measure::Units { unit: sold, .. }) => *sold /= unit,
            None => {}
        }
        // Costs in units of theirs.
        let mut coin = 0;
        for costs in &costs {
            coin = costs.iter().fold(coin, |coin, &cost| gcd(coin, cost));
        }
        match &measure {
            Some(Measure::Each(cost)) => coin = lengths.iter().fold(coin, |coin, &l| gcd(coin, cost * i128::from(l))),
            Some(Measure::Units { costs, .. }) => coin = costs.iter().fold(coin, |coin, &cost| gcd(coin, cost)),
            None => {}
        }
        let coin = coin.max(1);
        costs.iter_mut().flatten().for_each(|cost| *cost /= coin);
        let measure = measure.map(|measure| match measure {
            // What each length costs is a multiple of the coin, what a unit costs need not be.
            Measure::Each(cost) => Measure::Each(cost),
            Measure::Units { unit, costs } => {
                Measure::Units { unit, costs: costs.into_iter().map(|cost| cost / coin).collect() }
            }
        });
        let even = costs.iter().map(|costs| costs.iter().zip(0..).all(|(&cost, n)| cost == n * costs[1])).collect();
        let whole = lengths.iter().zip(&counts).map(|(&length, &count)| length * i64::from(count)).sum();
        let measure_rate = measure.as_ref().and_then(|measure| match measure {
            Measure::Each(cost) => Some(Rate { cost: *cost, length: coin }),
            Measure::Units { unit, costs } => (1..costs.len())
                .map(|n| Rate { cost: costs[n], length: i128::from(*unit) * n as i128 })
                .reduce(Rate::lower),
        });
        let case =
            Case { lengths, counts, rooms, costs, measure, measure_rate, pieces, whole, even, coin, types, kinds };
        let longest = case.lengths.first().copied().unwrap_or(0);
        let held = case.measure.is_some() || case.rooms.first().is_some_and(|&room| room >= longest);
        if case.pieces > 0 && !held { Err(NoPlan::NotEnough) } else { Ok(case) }
    }

    /// Most pieces of a kind that there are, or that could be wanted.
    pub(super) fn most(&self, kind: usize) -> u32 {
        (self.costs[kind].len() - 1) as u32
    }

    /// Whether each kind has room for the pieces from some length on, by their number and by their length. Where it has
    /// not, no plan can be.
    pub(super) fn may_be_enough(&self) -> bool {
        if self.measure.is_some() {
            return true;
        }
        let (mut pieces, mut whole) = (0i128, 0i128);
        self.lengths.iter().zip(&self.counts).all(|(&length, &count)| {
            pieces += i128::from(count);
            whole += i128::from(length) * i128::from(count);
            let holding = (0..self.rooms.len()).filter(|&kind| self.rooms[kind] >= length);
            let (places, room) = holding.fold((0i128, 0i128), |(places, room), kind| {
                let there = i128::from(self.most(kind));
                (places + there * i128::from(self.rooms[kind] / length), room + there * i128::from(self.rooms[kind]))
            });
            places >= pieces && room >= whole
        })
    }

    /// What so much to measure costs; `None` where nothing is sold so.
    pub(super) fn measured_cost(&self, length: i64) -> Option<i128> {
        match &self.measure {
            _ if length == 0 => Some(0),
            Some(Measure::Each(cost)) => Some(cost * i128::from(length) / self.coin),
            Some(Measure::Units { unit, costs }) => {
                costs.get(usize::try_from((length + unit - 1) / unit).ok()?).copied()
            }
            None => None,
        }
    }

    /// The longest that may be bought to measure for less than a cost.
    pub(super) fn measured_below(&self, cost: i128) -> i64 {
        let (mut within, mut beyond) = (0, self.whole + 1);
        if self.measure.is_none() || cost <= 0 {
            return 0;
        }
        while beyond - within > 1 {
            let middle = within + (beyond - within) / 2;
            match self.measured_cost(middle) {
                Some(at) if at < cost => within = middle,
                _ => beyond = middle,
            }
        }
        within
    }

    /// The least that so many of each kind cost.
    pub(super) fn kinds_cost(&self, counts: &[u32]) -> i128 {
        counts.iter().zip(&self.costs).map(|(&n, costs)| costs[n as usize]).sum()
    }
}

/// Rounded up; the divisor is more than nothing.
pub(super) fn ceil_div(number: i128, by: i128) -> i128 {
    number.div_euclid(by) + i128::from(number.rem_euclid(by) != 0)
}

fn gcd(mut a: i128, mut b: i128) -> i128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.abs()
}
