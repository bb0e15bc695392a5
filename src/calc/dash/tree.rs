//! The search itself: for every two units, on which side of the other each stands, and then where.
//!
//! 1. A node holds a range of places for each unit, and for every two of them the ways in which they can stand to each
//!    other: one to port of the other, to starboard, below, above; and a single part also between the two of a pair.
//! 2. Ranges are narrowed by what is settled, ways are struck out that ranges leave no room for, until nothing changes.
//! 3. The two with the fewest ways left are branched on. When all are settled, what is left are differences of places:
//!    they hold everywhere where every range is free throughout, and else ranges are cut in halves.
//!
//! Nothing is struck out that could stand, so a tree that was walked to its end proves that there is no other layout.

use super::Work;
use super::domain::{Domain, Range, up};
use super::face::Point;
use super::rise::{Above, highest_merit};
use super::task::{Mode, Task, Unit};

/// `sign_a * a + sign_b * b >= least` of two units along an axis: 0 across, 1 along the height.
#[derive(Clone, Copy, Debug)]
struct Linear {
    axis: usize,
    a: (usize, i64),
    b: (usize, i64),
    least: i64,
}

/// One way for two units to stand to each other: all of these hold.
type Way = Vec<Linear>;

/// The units of one structure with what holds between them for a wanted clearance.
pub(super) struct Tree<'a> {
    task: &'a Task,
    units: &'a [Unit],
    domains: &'a [&'a Domain],
    /// By pair of units.
    ways: Vec<Vec<Way>>,
    pairs: Vec<(usize, usize)>,
    /// What holds between equal units without loss: the first of them is not further to starboard.
    orders: Vec<Linear>,
}

/// A node.
#[derive(Clone)]
pub(super) struct Node {
    ranges: Vec<Range>,
    /// Ways that are left for each pair, as bits; `SETTLED` where what is left holds everywhere.
    left: Vec<u8>,
}

/// How a search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// What was looked for was found.
    Found,
    /// All was searched.
    Searched,
    /// The budget was spent.
    Spent,
}

/// What is looked for.
pub(super) enum Goal {
    /// Any layout.
    Any(Option<Vec<Point>>),
    /// The one nearest to eye height: less than this, and where it was met.
    Eye(i128, Option<Vec<Point>>),
}

fn axis(point: Point, axis: usize) -> i64 {
    if axis == 0 { point.0 } else { point.1 }
}

fn axis_mut(point: &mut Point, axis: usize) -> &mut i64 {
    if axis == 0 { &mut point.0 } else { &mut point.1 }
}

impl Linear {
    /// The most that a unit's term can be.
    fn most(range: &Range, axis_of: usize, sign: i64) -> i64 {
        if sign > 0 { axis(range.high, axis_of) } else { -axis(range.low, axis_of) }
    }

    fn least(range: &Range, axis_of: usize, sign: i64) -> i64 {
        if sign > 0 { axis(range.low, axis_of) } else { -axis(range.high, axis_of) }
    }

    fn possible(&self, ranges: &[Range]) -> bool {
        let most = |(unit, sign): (usize, i64)| Self::most(&ranges[unit], self.axis, sign);
        most(self.a) + most(self.b) >= self.least
    }

    fn certain(&self, ranges: &[Range]) -> bool {
        let least = |(unit, sign): (usize, i64)| Self::least(&ranges[unit], self.axis, sign);
        least(self.a) + least(self.b) >= self.least
    }

    /// How much room is left when it holds.
    fn slack(&self, ranges: &[Range]) -> i64 {
        let most = |(unit, sign): (usize, i64)| Self::most(&ranges[unit], self.axis, sign);
        most(self.a) + most(self.b) - self.least
    }

    /// Narrows both ranges; whether something changed.
    fn apply(&self, ranges: &mut [Range]) -> bool {
        let mut changed = false;
        for ((unit, sign), (other, other_sign)) in [(self.a, self.b), (self.b, self.a)] {
            let needed = self.least - Self::most(&ranges[other], self.axis, other_sign);
            let range = &mut ranges[unit];
            if sign > 0 {
                let low = axis_mut(&mut range.low, self.axis);
                changed |= needed > *low;
                *low = needed.max(*low);
            } else {
                let high = axis_mut(&mut range.high, self.axis);
                changed |= -needed < *high;
                *high = (-needed).min(*high);
            }
        }
        changed
    }
}

impl<'a> Tree<'a> {
    pub(super) fn new(task: &'a Task, units: &'a [Unit], domains: &'a [&'a Domain], clearance: i64) -> Self {
        let apart = clearance.max(task.between);
        let half = |unit: usize| task.parts[units[unit].parts[0]].half;
        let mut tree = Tree { task, units, domains, ways: Vec::new(), pairs: Vec::new(), orders: Vec::new() };
        for b in 0..units.len() {
            for a in 0..b {
                let across = up(half(a).0 + half(b).0 + apart, task.step);
                let along = up(half(a).1 + half(b).1 + apart, task.step);
                let linear = |axis, sign_a, sign_b, least| Linear { axis, a: (a, sign_a), b: (b, sign_b), least };
                let single_and_pair = units[b].mode == Mode::Pair && units[a].mode != Mode::Pair;
                let mut ways = vec![
                    if single_and_pair { vec![linear(0, -1, -1, across)] } else { vec![linear(0, -1, 1, across)] },
                    vec![linear(0, 1, -1, across)],
                    vec![linear(1, -1, 1, along)],
                    vec![linear(1, 1, -1, along)],
                ];
                if single_and_pair {
                    ways.push(vec![linear(0, -1, 1, across), linear(0, 1, 1, across)]);
                }
                tree.pairs.push((a, b));
                tree.ways.push(ways);
                let equal = units[a].mode == units[b].mode && units[a].mode != Mode::Pinned;
                if equal && task.parts[units[a].parts[0]].alike == task.parts[units[b].parts[0]].alike {
                    let axis = usize::from(units[a].mode == Mode::Centred);
                    tree.orders.push(Linear { axis, ..linear(0, -1, 1, 0) });
                }
            }
        }
        tree
    }

    /// The node that all others are below.
    pub(super) fn root(&self) -> Node {
        Node {
            ranges: self.domains.iter().map(|domain| domain.range).collect(),
            left: self.ways.iter().map(|ways| (1u8 << ways.len()) - 1).collect(),
        }
    }

    /// The root with every two units as they stand in a layout.
    pub(super) fn as_in(&self, places: &[Point]) -> Node {
        let mut node = self.root();
        let at: Vec<Range> =
            self.units.iter().map(|unit| places[unit.parts[0]]).map(|p| Range { low: p, high: p }).collect();
        for (pair, ways) in self.ways.iter().enumerate() {
            let slack = |way: &Way| way.iter().map(|linear| linear.slack(&at)).min().unwrap_or(0);
            let best = (0..ways.len()).max_by_key(|&way| (slack(&ways[way]), ways.len() - way)).unwrap_or(0);
            node.left[pair] = 1 << best;
        }
        node
    }

    /// The places of parts from those of units.
    fn spread(&self, places: &[Point]) -> Vec<Point> {
        let mut of_parts = vec![(0, 0); self.task.parts.len()];
        for (unit, &(x, y)) in self.units.iter().zip(places) {
            of_parts[unit.parts[0]] = (x, y);
            if let Some(&twin) = unit.parts.get(1) {
                of_parts[twin] = (-x, y);
            }
        }
        of_parts
    }

    /// Narrows a node as far as it goes; whether something can still stand.
    fn narrow(&self, node: &mut Node) -> bool {
        loop {
            let mut changed = false;
            for linear in &self.orders {
                changed |= linear.apply(&mut node.ranges);
            }
            for (pair, ways) in self.ways.iter().enumerate() {
                let mut left = node.left[pair];
                let mut settled = left.count_ones() == 1;
                for (way, linears) in ways.iter().enumerate() {
                    if left & (1 << way) == 0 || settled {
                        continue;
                    }
                    if linears.iter().all(|linear| linear.certain(&node.ranges)) {
                        left = 1 << way;
                        settled = true;
                    } else if !linears.iter().all(|linear| linear.possible(&node.ranges)) {
                        left &= !(1 << way);
                    }
                }
                if left == 0 {
                    return false;
                }
                changed |= left != node.left[pair];
                node.left[pair] = left;
                if left.count_ones() == 1 {
                    for linear in &ways[left.trailing_zeros() as usize] {
                        changed |= linear.apply(&mut node.ranges);
                    }
                }
                let (a, b) = self.pairs[pair];
                if node.ranges[a].is_empty() || node.ranges[b].is_empty() {
                    return false;
                }
            }
            for (range, domain) in node.ranges.iter_mut().zip(self.domains) {
                let Some(tight) = domain.tightened(range) else { return false };
                changed |= tight != *range;
                *range = tight;
            }
            if !changed {
                return true;
            }
        }
    }

    fn weight(&self, unit: usize) -> i128 {
        self.units[unit].parts.iter().map(|&part| i128::from(self.task.parts[part].weight)).sum()
    }

    /// What no layout of a node can be nearer to eye height than.
    fn bound(&self, node: &Node) -> i128 {
        let nearest = |range: &Range| {
            let (low, high) = (range.low.1 * self.task.step, range.high.1 * self.task.step);
            if (low..=high).contains(&self.task.eye) {
                // No place of the grid may be at eye height itself.
                let over = self.task.eye.rem_euclid(self.task.step);
                return over.min(self.task.step - over);
            }
            (low - self.task.eye).abs().min((high - self.task.eye).abs())
        };
        node.ranges.iter().enumerate().map(|(unit, range)| self.weight(unit) * i128::from(nearest(range))).sum()
    }

    /// Walks the tree below a node.
    pub(super) fn walk(&self, mut node: Node, goal: &mut Goal, work: &mut Work) -> End {
        if !work.take() {
            return End::Spent;
        }
        if !self.narrow(&mut node) || matches!(goal, Goal::Eye(best, _) if self.bound(&node) >= *best) {
            return End::Searched;
        }
        if let Some(pair) = self.most_settled(&node) {
            let mut ways: Vec<usize> =
                (0..self.ways[pair].len()).filter(|way| node.left[pair] & (1 << way) != 0).collect();
            let slack = |way: &usize| self.ways[pair][*way].iter().map(|linear| linear.slack(&node.ranges)).min();
            ways.sort_by_key(|way| std::cmp::Reverse(slack(way)));
            for way in ways {
                let mut child = node.clone();
                child.left[pair] = 1 << way;
                match self.walk(child, goal, work) {
                    End::Searched => {}
                    ended => return ended,
                }
            }
            return End::Searched;
        }
        let full = node.ranges.iter().zip(self.domains).all(|(range, domain)| domain.is_full(range));
        match goal {
            Goal::Any(found) => {
                *found = self.dive(node.clone(), work).map(|places| self.spread(&places));
                if found.is_some() {
                    return End::Found;
                }
            }
            Goal::Eye(best, found) => {
                // With every range free throughout, heights and places across have nothing to do with each other.
                let places = match (full, self.dive(node.clone(), work)) {
                    (true, Some(across)) => Some(self.highest(&node, &across)),
                    (_, dived) => dived,
                };
                if let Some(places) = places.map(|places| self.spread(&places)) {
                    let far = self.task.from_eye(&places);
                    if far < *best {
                        *best = far;
                        *found = Some(places);
                    }
                    if full {
                        return End::Searched;
                    }
                }
            }
        }
        let Some((unit, along, middle)) = self.widest(&node, matches!(goal, Goal::Eye(..))) else {
            return End::Searched;
        };
        let (mut lower, mut upper) = (node.clone(), node);
        *axis_mut(&mut lower.ranges[unit].high, along) = middle;
        *axis_mut(&mut upper.ranges[unit].low, along) = middle + 1;
        let upper_first = along == 1 && self.task.eye > middle * self.task.step;
        let halves = if upper_first { [upper, lower] } else { [lower, upper] };
        for half in halves {
            match self.walk(half, goal, work) {
                End::Searched => {}
                ended => return ended,
            }
        }
        End::Searched
    }

    /// The unsettled pair with the fewest ways; of several the largest.
    fn most_settled(&self, node: &Node) -> Option<usize> {
        let size = |unit: usize| {
            let half = self.task.parts[self.units[unit].parts[0]].half;
            half.0 + half.1
        };
        (0..self.pairs.len()).filter(|&pair| node.left[pair].count_ones() > 1).min_by_key(|&pair| {
            (node.left[pair].count_ones(), -size(self.pairs[pair].0) - size(self.pairs[pair].1), pair)
        })
    }

    /// What is cut in halves next: a unit, an axis and the middle.
    fn widest(&self, node: &Node, eye: bool) -> Option<(usize, usize, i64)> {
        let candidates = node.ranges.iter().enumerate().flat_map(|(unit, range)| {
            let full = self.domains[unit].is_full(range);
            [0, 1].map(|along| (unit, along, axis(range.high, along) - axis(range.low, along), full))
        });
        let key = |&(unit, along, wide, full): &(usize, usize, i64, bool)| {
            // What is not free throughout comes first; towards eye height, heights of what weighs most.
            let weighs = if eye && along == 1 { self.weight(unit) * i128::from(wide) } else { 0 };
            (!full, weighs, wide, std::cmp::Reverse((unit, along)))
        };
        let (unit, along, wide, _) = candidates.filter(|(_, _, wide, _)| *wide > 0).max_by_key(key)?;
        Some((unit, along, axis(node.ranges[unit].low, along) + wide / 2))
    }

    /// Puts one unit after the other where it is nearest to eye height, as long as that goes.
    fn dive(&self, mut node: Node, work: &mut Work) -> Option<Vec<Point>> {
        let mut order: Vec<usize> = (0..self.units.len()).collect();
        order.sort_by_key(|&unit| (std::cmp::Reverse(self.weight(unit)), unit));
        for unit in order {
            work.take();
            let range = node.ranges[unit];
            let eye_row = self.task.eye.div_euclid(self.task.step).clamp(range.low.1, range.high.1);
            let column = range.low.0 + (range.high.0 - range.low.0) / 2;
            let most = (eye_row - range.low.1).max(range.high.1 - eye_row);
            let rows = (0..=most).flat_map(|off| [eye_row + off, eye_row - off]);
            let mut rows = rows.filter(|row| (range.low.1..=range.high.1).contains(row));
            let place = rows.find_map(|row| self.domains[unit].nearest_in_row(&range, row, column))?;
            node.ranges[unit] = Range { low: place, high: place };
            if !self.narrow(&mut node) {
                return None;
            }
        }
        Some(node.ranges.iter().map(|range| range.low).collect())
    }

    /// The places across that were found, with the heights that are nearest to eye height of all.
    fn highest(&self, node: &Node, across: &[Point]) -> Vec<Point> {
        let mut above: Vec<Above> = Vec::new();
        let settled = self.ways.iter().zip(&node.left).flat_map(|(ways, left)| &ways[left.trailing_zeros() as usize]);
        for linear in settled.chain(&self.orders).filter(|linear| linear.axis == 1) {
            let (upper, lower) = if linear.a.1 > 0 { (linear.a.0, linear.b.0) } else { (linear.b.0, linear.a.0) };
            above.push(Above { upper, lower, least: linear.least });
        }
        let ranges: Vec<(i64, i64)> = node.ranges.iter().map(|range| (range.low.1, range.high.1)).collect();
        let weights: Vec<i128> = (0..self.units.len()).map(|unit| self.weight(unit)).collect();
        let heights = highest_merit(&ranges, &weights, &above, self.task.step, self.task.eye);
        across.iter().zip(heights).map(|(place, height)| (place.0, height)).collect()
    }
}
