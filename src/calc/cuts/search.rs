//! The search: a plan by rules of thumb, then branching on how many of each kind are taken.

use std::collections::{BTreeMap, BTreeSet};

use super::case::Case;
use super::covers::{self, Range};
use super::exact::{Found, complete};
use super::packing::{self, Packing};
use super::relaxation::{Pattern, Relaxation, Relaxed};
use super::{Cut, Measure, NoPlan, Plan, Task, Work};

/// Steps of one exact search among plans by rules of thumb, and of the first that is to close a branch.
const TRIED: u64 = 400_000;
const CLOSED: u64 = 4_000_000;
/// Rounds of looking for patterns at each step of a dive.
const DIVES: usize = 2;

/// The cheapest plan that is found within a budget of work; what is not used of it is left.
///
/// The same task gives the same plan. Of plans at one cost the one that uses the least length, then the fewest stock
/// pieces, is kept of those that were met.
pub fn solve(task: &Task, work: &mut Work) -> Result<Plan, NoPlan> {
    let case = Case::new(task)?;
    let mut search = Search { case: &case, best: None, tried: BTreeSet::new(), work: *work };
    let bound = search.run();
    *work = search.work;
    let bound = bound?;
    let Some((cost, packing)) = search.best else { return Err(NoPlan::NotFound) };
    Ok(told(task, &case, packing.0, cost, bound))
}

/// The plan in the places and costs of the task.
fn told(task: &Task, case: &Case, packing: Packing, cost: i128, bound: i128) -> Plan {
    let mut alike: BTreeMap<(usize, Vec<(usize, u32)>), u32> = BTreeMap::new();
    for Pattern { kind, take } in packing.opened {
        let mut take: Vec<(usize, u32)> = take.into_iter().map(|(place, count)| (case.types[place], count)).collect();
        take.sort_unstable();
        *alike.entry((case.kinds[kind], take)).or_default() += 1;
    }
    let cuts = alike.into_iter().map(|((kind, take), times)| Cut { kind, take, times }).collect();
    let mut measured = vec![0; task.demands.len()];
    for (place, count) in packing.rest.into_iter().enumerate() {
        measured[case.types[place]] = count;
    }
    Plan { cost: cost * case.coin, bound: bound.min(cost) * case.coin, cuts, measured }
}

/// A packing in the order of what is kept: less length, then fewer stock pieces.
struct Kept(Packing);

struct Search<'a> {
    case: &'a Case,
    best: Option<(i128, Kept)>,
    /// Numbers of each kind that were tried.
    tried: BTreeSet<Vec<u32>>,
    work: Work,
}

impl<'a> Search<'a> {
    fn limit(&self) -> i128 {
        self.best.as_ref().map_or(i128::MAX / 4, |(cost, _)| *cost)
    }

    /// Keeps a packing if it is better than the best.
    fn consider(&mut self, packing: Packing) {
        let packing = packing::exchange(self.case, packing);
        let Some(cost) = packing.cost(self.case) else { return };
        let rank = |packing: &Packing| (packing.length(self.case), packing.opened.len());
        let better = match &self.best {
            None => true,
            Some((least, kept)) => cost < *least || (cost == *least && rank(&packing) < rank(&kept.0)),
        };
        if better {
            self.best = Some((cost, Kept(packing)));
        }
    }

    /// Tries whether the pieces can be cut from so many of each kind, the rest to measure.
    fn try_counts(&mut self, counts: &[u32], thorough: bool) {
        if !self.tried.insert(counts.to_vec()) {
            return;
        }
        let base = self.case.kinds_cost(counts);
        if base >= self.limit() {
            return;
        }
        let falling: Vec<usize> =
            (0..counts.len()).flat_map(|kind| std::iter::repeat_n(kind, counts[kind] as usize)).collect();
        let rising: Vec<usize> = falling.iter().rev().copied().collect();
        let before = self.limit();
        self.work.spend(self.case.pieces as usize * falling.len() / 4);
        let fit = packing::best_fit(self.case, &rising, &self.case.counts);
        let whole = fit.rest_length(self.case) == 0;
        self.consider(fit);
        if whole || self.limit() == base {
            return;
        }
        for order in [&rising, &falling] {
            let filled = packing::fill_each(self.case, order, &self.case.counts, &mut self.work);
            let whole = filled.rest_length(self.case) == 0;
            self.consider(filled);
            if whole {
                return;
            }
        }
        if thorough && (self.limit() < before || self.limit() > base) {
            let mut part = self.work.part(TRIED);
            self.exact(counts, base, &mut part);
            self.work.give_back(part);
        }
    }

    /// Looks for the cheapest way to cut from so many of each kind. Answers whether all ways were looked at.
    fn exact(&mut self, counts: &[u32], base: i128, work: &mut Work) -> bool {
        loop {
            let allowed = self.limit() - base;
            if allowed <= 0 {
                return true;
            }
            match complete(self.case, counts, self.case.measured_below(allowed), work) {
                Found::No => return true,
                Found::Unknown => return false,
                Found::Yes(packing) => {
                    let before = self.limit();
                    self.consider(packing);
                    if self.limit() >= before {
                        return false;
                    }
                }
            }
        }
    }

    /// Plans by rules of thumb: from each kind where it can be, and from all.
    fn thumb(&mut self) {
        let all: Vec<usize> = (0..self.case.rooms.len()).collect();
        let empty = Packing { opened: Vec::new(), rest: self.case.counts.clone() };
        let mut choices: Vec<Vec<usize>> = all.iter().map(|&kind| vec![kind]).collect();
        choices.push(all.clone());
        for choice in choices {
            if self.work.is_over() && self.best.is_some() {
                break;
            }
            if let Some(packing) = packing::finish(self.case, empty.clone(), &choice, &mut self.work) {
                self.consider(packing);
            }
        }
        if self.case.measure.is_some() {
            self.consider(empty);
        }
    }

    fn run(&mut self) -> Result<i128, NoPlan> {
        let case = self.case;
        if case.pieces == 0 {
            self.best = Some((0, Kept(Packing { opened: Vec::new(), rest: case.counts.clone() })));
            return Ok(0);
        }
        if !case.may_be_enough() {
            return Err(NoPlan::NotEnough);
        }
        let range = Range::whole(case);
        let fillable = covers::fillable(case);
        let cover = covers::cheapest(case, &range, &fillable, None, &mut self.work);
        let Some(bound) = cover.bound else { return Err(NoPlan::NotEnough) };
        if let Some(counts) = &cover.counts {
            self.try_counts(counts, false);
            if self.limit() == bound {
                return Ok(bound);
            }
        }
        self.thumb();
        if let Some(counts) = &cover.counts {
            self.tried.clear();
            self.try_counts(counts, true);
        }
        if self.limit() == bound {
            return Ok(bound);
        }
        let bound = self.branch(range, &fillable, bound);
        if self.best.is_none() && bound >= i128::MAX / 4 {
            return Err(NoPlan::NotEnough);
        }
        Ok(bound)
    }

    /// Best first over ranges of how many of each kind. Answers a bound on the cost of every plan.
    fn branch(&mut self, range: Range, fillable: &[i64], bound: i128) -> i128 {
        let case = self.case;
        let scale = if self.best.is_some() { self.limit() } else { 2 * bound };
        let mut relaxation = Relaxation::new(case, scale, self.work);
        if let Some((_, Kept(packing))) = &self.best {
            for pattern in &packing.opened {
                relaxation.learn(pattern.clone());
            }
        }
        let mut open: BTreeMap<(i128, u64), Range> = BTreeMap::from([((bound, 0), range)]);
        let mut met = 0;
        // Branches of one number of each kind that were left undecided, and the work that was done on them.
        let mut undecided: BTreeMap<(i128, u64), (Vec<u32>, u64)> = BTreeMap::new();
        loop {
            let first = open.first_key_value().map(|(&key, _)| key);
            let left = undecided.first_key_value().map(|(&key, _)| key);
            let bound = first.into_iter().chain(left).map(|(bound, _)| bound).min().unwrap_or(i128::MAX / 4);
            if bound >= self.limit() || self.work.is_over() {
                return bound.min(self.limit());
            }
            // What is still whole goes first; of what was left undecided, each with more work every time.
            if first.is_none_or(|(at, _)| at >= self.limit())
                && let Some(((bound, number), (counts, done))) = undecided.pop_first()
            {
                let more = done * 4;
                let mut part = self.work.part(more);
                // However it ends, it has cost something: the turns have an end.
                part.spend(more as usize / 16);
                let base = case.kinds_cost(&counts);
                if bound < self.limit() && !self.exact(&counts, base, &mut part) {
                    undecided.insert((bound, number), (counts, more));
                }
                self.work.give_back(part);
                continue;
            }
            let Some(((inherited, number), range)) = open.pop_first() else { continue };
            let cover = covers::cheapest(case, &range, fillable, Some(self.limit()), &mut self.work);
            let Some(bound) = cover.bound.map(|bound| bound.max(inherited)) else { continue };
            if let Some(counts) = &cover.counts {
                self.try_counts(counts, false);
            }
            if bound >= self.limit() {
                continue;
            }
            let relaxed = relaxation.solve(&range, &case.counts, self.limit(), usize::MAX, &mut self.work);
            let bound = bound.max(relaxed.bound);
            if bound >= self.limit() {
                continue;
            }
            self.round(&range, &relaxed);
            if bound >= self.limit() {
                continue;
            }
            if number == 0 || range.single().is_some() {
                self.dive(&range, &mut relaxation);
                if bound >= self.limit() {
                    continue;
                }
            }
            if let Some(counts) = range.single() {
                let base = case.kinds_cost(counts);
                let bound = self.sharper(base, bound);
                if bound >= self.limit() {
                    continue;
                }
                let mut part = self.work.part(CLOSED);
                if !self.exact(counts, base, &mut part) {
                    undecided.insert((bound, number), (counts.to_vec(), CLOSED));
                }
                self.work.give_back(part);
                continue;
            }
            for range in parts(&range, &relaxed, case) {
                met += 1;
                open.insert((bound, met), range);
            }
        }
    }

    /// Where the numbers of each kind are settled, the rest costs what some length to measure costs.
    fn sharper(&self, base: i128, bound: i128) -> i128 {
        if let Some(Measure::Units { costs, .. }) = &self.case.measure {
            // The least that an order can cost and is not below the bound; with price breaks no length follows from a cost.
            let dearer = costs.partition_point(|cost| *cost < bound - base);
            return costs.get(dearer).map_or(bound, |cost| bound.max(base + cost));
        }
        let Some(rate) = self.case.measure_rate.filter(|rate| rate.cost > 0) else { return bound };
        let length = super::case::ceil_div((bound - base).max(0) * rate.length, rate.cost);
        let measured = i64::try_from(length).ok().and_then(|length| self.case.measured_cost(length));
        measured.map_or(bound, |cost| bound.max(base + cost))
    }

    /// Rounds what the relaxation takes of each kind.
    fn round(&mut self, range: &Range, relaxed: &Relaxed) {
        let rounded = |by: f64| -> Vec<u32> {
            let counts = relaxed.kinds.iter().enumerate();
            counts
                .map(|(kind, &count)| ((count + by).floor() as u32).clamp(range.least[kind], range.most[kind]))
                .collect()
        };
        for by in [0.5, 1.0 - 1e-6, 1e-6] {
            self.try_counts(&rounded(by), true);
        }
    }

    /// Takes what the relaxation takes most of, and solves it again for the rest.
    fn dive(&mut self, range: &Range, relaxation: &mut Relaxation) {
        let case = self.case;
        let mut range = range.clone();
        let mut packing = Packing { opened: Vec::new(), rest: case.counts.clone() };
        while packing.rest.iter().any(|&count| count > 0) && !self.work.is_over() {
            let Relaxed { used, .. } = relaxation.solve(&range, &packing.rest, i128::MAX / 4, DIVES, &mut self.work);
            let mut taken = false;
            for (pattern, share) in used {
                let most = if taken { share.floor() } else { (share + 1e-6).floor().max(1.0) } as u32;
                for _ in 0..most {
                    let fits = pattern.take.iter().all(|&(place, count)| count <= packing.rest[place]);
                    if !fits || range.most[pattern.kind] == 0 {
                        break;
                    }
                    pattern.take.iter().for_each(|&(place, count)| packing.rest[place] -= count);
                    range.most[pattern.kind] -= 1;
                    range.least[pattern.kind] = range.least[pattern.kind].saturating_sub(1);
                    packing.opened.push(pattern.clone());
                    taken = true;
                }
            }
            if !taken {
                break;
            }
        }
        let all: Vec<usize> = (0..case.rooms.len()).collect();
        if case.measure.is_some() {
            self.consider(packing.clone());
        }
        if let Some(packing) = packing::finish(case, packing, &all, &mut self.work) {
            self.consider(packing);
        }
    }
}

/// Parts of a range: below and above what the relaxation takes of the kind that is least settled; where all are whole
/// numbers, also exactly so many.
fn parts(range: &Range, relaxed: &Relaxed, case: &Case) -> Vec<Range> {
    let open = (0..case.rooms.len()).filter(|&kind| range.least[kind] < range.most[kind]);
    let unsettled = |kind: usize| {
        let count = relaxed.kinds[kind];
        let away = (count - count.round()).abs();
        if away > 1e-6 { away * (case.rooms[kind] as f64) } else { 0.0 }
    };
    let Some(kind) = open.max_by(|&a, &b| unsettled(a).total_cmp(&unsettled(b)).then(b.cmp(&a))) else {
        return Vec::new();
    };
    let (least, most) = (range.least[kind], range.most[kind]);
    let count = relaxed.kinds[kind];
    let with = |least: u32, most: u32| {
        let mut part = range.clone();
        (part.least[kind], part.most[kind]) = (least, most);
        part
    };
    if unsettled(kind) > 0.0 {
        let below = (count.floor() as u32).clamp(least, most - 1);
        return vec![with(least, below), with(below + 1, most)];
    }
    let exactly = (count.round() as u32).clamp(least, most);
    let mut parts = vec![with(exactly, exactly)];
    if exactly > least {
        parts.push(with(least, exactly - 1));
    }
    if exactly < most {
        parts.push(with(exactly + 1, most));
    }
    parts
}
