//! Plans by rules of thumb.

use super::Work;
use super::case::Case;
use super::relaxation::Pattern;

/// Stock lengths with what is cut from each, and what is bought to measure.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Packing {
    pub(super) opened: Vec<Pattern>,
    /// Pieces of each type that are in none of them.
    pub(super) rest: Vec<u32>,
}

impl Packing {
    /// How many of each kind.
    pub(super) fn kinds(&self, case: &Case) -> Vec<u32> {
        let mut kinds = vec![0; case.rooms.len()];
        self.opened.iter().for_each(|pattern| kinds[pattern.kind] += 1);
        kinds
    }

    pub(super) fn rest_length(&self, case: &Case) -> i64 {
        self.rest.iter().zip(&case.lengths).map(|(&count, &length)| i64::from(count) * length).sum()
    }

    /// What it costs; `None` when something is left that cannot be bought to measure, or there is not so much stock.
    pub(super) fn cost(&self, case: &Case) -> Option<i128> {
        let kinds = self.kinds(case);
        let there = kinds.iter().enumerate().all(|(kind, &count)| count <= case.most(kind));
        there.then(|| Some(case.kinds_cost(&kinds) + case.measured_cost(self.rest_length(case))?))?
    }

    /// All of the stock lengths that are used, and what is bought to measure.
    pub(super) fn length(&self, case: &Case) -> i64 {
        self.opened.iter().map(|pattern| case.rooms[pattern.kind]).sum::<i64>() + self.rest_length(case)
    }
}

/// What a pattern takes of a stock length.
pub(super) fn taken(case: &Case, take: &[(usize, u32)]) -> i64 {
    take.iter().map(|&(place, count)| case.lengths[place] * i64::from(count)).sum()
}

/// Longest pieces first, each where it leaves the least.
pub(super) fn best_fit(case: &Case, kinds: &[usize], demand: &[u32]) -> Packing {
    let mut left: Vec<i64> = kinds.iter().map(|&kind| case.rooms[kind]).collect();
    let mut takes: Vec<Vec<(usize, u32)>> = vec![Vec::new(); kinds.len()];
    let mut rest = demand.to_vec();
    for (place, rest) in rest.iter_mut().enumerate() {
        let length = case.lengths[place];
        while *rest > 0 {
            let tightest = (0..left.len()).filter(|&at| left[at] >= length).min_by_key(|&at| (left[at], at));
            let Some(at) = tightest else { break };
            left[at] -= length;
            *rest -= 1;
            put(&mut takes[at], place, 1);
        }
    }
    packing(kinds, takes, rest)
}

fn put(take: &mut Vec<(usize, u32)>, place: usize, count: u32) {
    match take.last_mut() {
        Some((last, had)) if *last == place => *had += count,
        _ => take.push((place, count)),
    }
}

fn packing(kinds: &[usize], takes: Vec<Vec<(usize, u32)>>, rest: Vec<u32>) -> Packing {
    let opened = kinds.iter().zip(takes).filter(|(_, take)| !take.is_empty());
    Packing { opened: opened.map(|(&kind, take)| Pattern { kind, take }).collect(), rest }
}

/// One stock length after another, each filled as well as can be around the longest piece that is left.
pub(super) fn fill_each(case: &Case, kinds: &[usize], demand: &[u32], work: &mut Work) -> Packing {
    let mut rest = demand.to_vec();
    let mut takes = Vec::with_capacity(kinds.len());
    for &kind in kinds {
        let take = fullest(case, case.rooms[kind], &rest, work);
        take.iter().for_each(|&(place, count)| rest[place] -= count);
        takes.push(take);
    }
    packing(kinds, takes, rest)
}

/// Steps of one search for the fullest cut; and where the budget is used up.
const FILL_STEPS: usize = 4_000;
const LAST_STEPS: usize = 100;

/// The longest piece that fits, and what fills the rest of the room best.
pub(super) fn fullest(case: &Case, room: i64, demand: &[u32], work: &mut Work) -> Vec<(usize, u32)> {
    let there = (0..demand.len()).filter(|&place| demand[place] > 0 && case.lengths[place] <= room);
    let places: Vec<usize> = there.collect();
    let Some(&first) = places.first() else { return Vec::new() };
    let mut after = vec![0i64; places.len() + 1];
    for at in (0..places.len()).rev() {
        after[at] = after[at + 1] + case.lengths[places[at]] * i64::from(demand[places[at]]);
    }
    let mut search = Fullest {
        case,
        demand,
        places: &places,
        after: &after,
        take: vec![0; places.len()],
        best: None,
        steps: 0,
        most: if work.is_over() { LAST_STEPS } else { FILL_STEPS },
    };
    search.take[0] = 1;
    search.at(0, 1, room - case.lengths[first]);
    work.spend(search.steps * 8);
    let take = search.best.map(|(_, take)| take).unwrap_or_default();
    places.into_iter().zip(take).filter(|(_, count)| *count > 0).collect()
}

struct Fullest<'a> {
    case: &'a Case,
    demand: &'a [u32],
    places: &'a [usize],
    after: &'a [i64],
    take: Vec<u32>,
    best: Option<(i64, Vec<u32>)>,
    steps: usize,
    most: usize,
}

impl Fullest<'_> {
    /// `had` pieces of the type at this place are taken already.
    fn at(&mut self, at: usize, had: u32, room: i64) {
        self.steps += 1;
        let least = self.best.as_ref().map_or(i64::MAX, |(left, _)| *left);
        if room < least {
            self.best = Some((room, self.take.clone()));
        }
        let least = least.min(room);
        if at == self.places.len() || room == 0 || least == 0 || self.steps > self.most {
            return;
        }
        let place = self.places[at];
        let length = self.case.lengths[place];
        // Nothing that is left fills it better.
        if room - (self.after[at] - length * i64::from(had)) >= least && self.after[at] - length * i64::from(had) < room
        {
            return;
        }
        let most = i64::from(self.demand[place] - had).min(room / length) as u32;
        for more in (0..=most).rev() {
            self.take[at] = had + more;
            self.at(at + 1, 0, room - length * i64::from(more));
            if self.best.as_ref().is_some_and(|(left, _)| *left == 0) || self.steps > self.most {
                break;
            }
        }
        self.take[at] = had;
    }
}

/// Goes on until everything is cut from something: what is left is cut from whatever costs least for what it takes in.
pub(super) fn finish(case: &Case, mut packing: Packing, allowed: &[usize], work: &mut Work) -> Option<Packing> {
    let mut kinds = packing.kinds(case);
    let measured = case.measure_rate.map(|rate| rate.cost as f64 / rate.length as f64);
    while let Some(first) = packing.rest.iter().position(|&count| count > 0) {
        let mut best: Option<(f64, Pattern)> = None;
        let there = |&&kind: &&usize| kinds[kind] < case.most(kind) && case.rooms[kind] >= case.lengths[first];
        // Where the budget is used up, whatever holds the longest piece will do.
        let looked_at = if work.is_over() { 1 } else { allowed.len() };
        for &kind in allowed.iter().filter(there).take(looked_at) {
            let take = fullest(case, case.rooms[kind], &packing.rest, work);
            let count = kinds[kind] as usize;
            let cost = case.costs[kind][count + 1] - case.costs[kind][count];
            let each = cost as f64 / taken(case, &take) as f64;
            if best.as_ref().is_none_or(|(least, _)| each < *least) {
                best = Some((each, Pattern { kind, take }));
            }
        }
        let Some((each, pattern)) = best else {
            return measured.map(|_| packing);
        };
        if measured.is_some_and(|measured| measured <= each) {
            break;
        }
        // As often as there are pieces for it, it would be chosen again.
        let times = pattern.take.iter().map(|&(place, count)| packing.rest[place] / count).min().unwrap_or(1);
        for _ in 0..times.clamp(1, case.most(pattern.kind) - kinds[pattern.kind]) {
            pattern.take.iter().for_each(|&(place, count)| packing.rest[place] -= count);
            kinds[pattern.kind] += 1;
            packing.opened.push(pattern.clone());
        }
    }
    Some(packing)
}

/// Exchanges one stock length after another for whatever holds its cuts, as long as the whole gets cheaper, or shorter
/// at the same cost.
pub(super) fn exchange(case: &Case, mut packing: Packing) -> Packing {
    if packing.cost(case).is_none() {
        return packing;
    }
    let mut kinds = packing.kinds(case);
    let mut measured = packing.rest_length(case);
    let cost = |kind: usize, count: u32| case.costs[kind][count as usize];
    for at in (0..packing.opened.len()).rev() {
        let length = taken(case, &packing.opened[at].take);
        for other in 0..case.rooms.len() {
            let now = packing.opened[at].kind;
            if other == now || case.rooms[other] < length || kinds[other] >= case.most(other) {
                continue;
            }
            let saved = cost(now, kinds[now]) - cost(now, kinds[now] - 1);
            let added = cost(other, kinds[other] + 1) - cost(other, kinds[other]);
            if added < saved || (added == saved && case.rooms[other] < case.rooms[now]) {
                kinds[now] -= 1;
                kinds[other] += 1;
                packing.opened[at].kind = other;
            }
        }
        let now = packing.opened[at].kind;
        let saved = cost(now, kinds[now]) - cost(now, kinds[now] - 1);
        let costs = case.measured_cost(measured + length).zip(case.measured_cost(measured));
        if case.measure.is_some() && costs.is_some_and(|(then, before)| then - before <= saved) {
            kinds[now] -= 1;
            measured += length;
            let Pattern { take, .. } = packing.opened.remove(at);
            take.iter().for_each(|&(place, count)| packing.rest[place] += count);
        }
    }
    packing
}
