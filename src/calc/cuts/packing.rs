//! Plans by rules of thumb, and an exact search for few stock lengths.

use std::collections::BTreeMap;

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

/// Steps of one search for the fullest cut.
const FILL_STEPS: usize = 4_000;

/// The longest piece that fits, and what fills the rest of the room best.
pub(super) fn fullest(case: &Case, room: i64, demand: &[u32], work: &mut Work) -> Vec<(usize, u32)> {
    let there = (0..demand.len()).filter(|&place| demand[place] > 0 && case.lengths[place] <= room);
    let places: Vec<usize> = there.collect();
    let Some(&first) = places.first() else { return Vec::new() };
    let mut after = vec![0i64; places.len() + 1];
    for at in (0..places.len()).rev() {
        after[at] = after[at + 1] + case.lengths[places[at]] * i64::from(demand[places[at]]);
    }
    let mut search =
        Fullest { case, demand, places: &places, after: &after, take: vec![0; places.len()], best: None, steps: 0 };
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
        if at == self.places.len() || room == 0 || least == 0 || self.steps > FILL_STEPS {
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
            if self.best.as_ref().is_some_and(|(left, _)| *left == 0) || self.steps > FILL_STEPS {
                break;
            }
        }
        self.take[at] = had;
    }
}

/// Goes on until everything is cut from something: what is left is cut from whatever costs least for what it takes in.
pub(super) fn finish(case: &Case, mut packing: Packing, allowed: &[usize], work: &mut Work) -> Option<Packing> {
    let mut kinds = packing.kinds(case);
    while packing.rest.iter().any(|&count| count > 0) {
        let mut best: Option<(f64, Pattern)> = None;
        for &kind in allowed {
            let count = kinds[kind] as usize;
            if kinds[kind] >= case.most(kind) {
                continue;
            }
            let take = fullest(case, case.rooms[kind], &packing.rest, work);
            if take.is_empty() {
                continue;
            }
            let cost = case.costs[kind][count + 1] - case.costs[kind][count];
            let each = cost as f64 / taken(case, &take) as f64;
            if best.as_ref().is_none_or(|(least, _)| each < *least) {
                best = Some((each, Pattern { kind, take }));
            }
        }
        let measured = case.measure_rate.map(|rate| rate.cost as f64 / rate.length as f64);
        match (best, measured) {
            (Some((each, _)), Some(measured)) if measured <= each => break,
            (Some((_, pattern)), _) => {
                pattern.take.iter().for_each(|&(place, count)| packing.rest[place] -= count);
                kinds[pattern.kind] += 1;
                packing.opened.push(pattern);
            }
            (None, Some(_)) => break,
            (None, None) => return None,
        }
    }
    Some(packing)
}

/// Exchanges one stock length after another for whatever holds its cuts, as long as the whole gets cheaper, or shorter
/// at the same cost.
pub(super) fn exchange(case: &Case, mut packing: Packing) -> Packing {
    let Some(mut cost) = packing.cost(case) else { return packing };
    let mut kinds = packing.kinds(case);
    let mut measured = packing.rest_length(case);
    for at in (0..packing.opened.len()).rev() {
        let Pattern { kind, take } = packing.opened[at].clone();
        let length = taken(case, &take);
        for other in 0..case.rooms.len() {
            let now = packing.opened[at].kind;
            if other == now || case.rooms[other] < length || kinds[other] >= case.most(other) {
                continue;
            }
            kinds[now] -= 1;
            kinds[other] += 1;
            let then = case.measured_cost(measured).map(|measured| case.kinds_cost(&kinds) + measured);
            if then.is_some_and(|then| then < cost || (then == cost && case.rooms[other] < case.rooms[now])) {
                cost = then.unwrap_or(cost);
                packing.opened[at].kind = other;
            } else {
                kinds[now] += 1;
                kinds[other] -= 1;
            }
        }
        let now = packing.opened[at].kind;
        let _ = kind;
        kinds[now] -= 1;
        let then = case.measured_cost(measured + length).map(|measured| case.kinds_cost(&kinds) + measured);
        if case.measure.is_some() && then.is_some_and(|then| then <= cost) {
            cost = then.unwrap_or(cost);
            measured += length;
            take.iter().for_each(|&(place, count)| packing.rest[place] += count);
            packing.opened.remove(at);
        } else {
            kinds[now] += 1;
        }
    }
    packing
}

/// How an exact search ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// A packing within the limit.
    Yes(Packing),
    /// There is none.
    No,
    /// It was left.
    Unknown,
}

/// Looks for a way to cut all pieces from so many of each kind, with at most `rest` of length left over.
///
/// The longest piece that is left goes into one kind after another, with everything that fills what is then left of it
/// so well that the waste which the numbers allow is not exceeded; or it is left over.
pub(super) fn complete(case: &Case, kinds: &[u32], rest: i64, work: &mut Work) -> Found {
    let room: i64 = kinds.iter().zip(&case.rooms).map(|(&count, &room)| i64::from(count) * room).sum();
    let slack = room - case.whole + rest;
    if slack < 0 {
        return Found::No;
    }
    let mut search = Exact {
        case,
        fill_steps: (work.0 / FILLS) as usize,
        kinds: kinds.to_vec(),
        demand: case.counts.clone(),
        opened: Vec::new(),
        rest: vec![0; case.counts.len()],
        failed: BTreeMap::new(),
        work: *work,
    };
    let found = search.at(slack, rest);
    *work = search.work;
    match found {
        Found::Yes(_) => Found::Yes(Packing { opened: search.opened, rest: search.rest }),
        other => other,
    }
}

/// Most states that are remembered as leading nowhere.
const REMEMBERED: usize = 50_000;

struct Exact<'a> {
    case: &'a Case,
    kinds: Vec<u32>,
    demand: Vec<u32>,
    opened: Vec<Pattern>,
    rest: Vec<u32>,
    /// Kinds and demand that lead nowhere, with the waste and the rest that they were allowed.
    failed: BTreeMap<Vec<u16>, (i64, i64)>,
    work: Work,
    /// Most steps of looking for fills of one stock length.
    fill_steps: usize,
}

impl Exact<'_> {
    fn at(&mut self, slack: i64, rest: i64) -> Found {
        self.work.spend(400 + self.demand.len() * 8);
        let Some(first) = self.demand.iter().position(|&count| count > 0) else {
            return Found::Yes(Packing::default());
        };
        if self.work.is_over() {
            return Found::Unknown;
        }
        let key: Vec<u16> = self.kinds.iter().chain(&self.demand).map(|&count| count as u16).collect();
        if self.failed.get(&key).is_some_and(|&(waste, left)| slack <= waste && rest <= left) {
            return Found::No;
        }
        let length = self.case.lengths[first];
        let mut last_room = None;
        for kind in (0..self.kinds.len()).rev() {
            let room = self.case.rooms[kind];
            // Of two kinds of one length one is as good as the other.
            if self.kinds[kind] == 0 || room < length || last_room == Some(room) {
                continue;
            }
            last_room = Some(room);
            let mut fills = Fills {
                case: self.case,
                demand: &self.demand,
                found: Vec::new(),
                take: Vec::new(),
                least: room - slack,
                steps: 0,
                most: self.fill_steps,
            };
            fills.with(first, room - length, length);
            let too_many = fills.steps > self.fill_steps;
            let steps = fills.steps * 12 + fills.found.len() * 150;
            let mut found = std::mem::take(&mut fills.found);
            self.work.spend(steps);
            found.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
            self.kinds[kind] -= 1;
            for (filled, take) in found {
                take.iter().for_each(|&(place, count)| self.demand[place] -= count);
                self.opened.push(Pattern { kind, take });
                let found = self.at(slack - (room - filled), rest);
                if found != Found::No {
                    return found;
                }
                let Some(Pattern { take, .. }) = self.opened.pop() else { return Found::Unknown };
                take.iter().for_each(|&(place, count)| self.demand[place] += count);
            }
            self.kinds[kind] += 1;
            if too_many {
                return Found::Unknown;
            }
        }
        if length <= rest {
            self.demand[first] -= 1;
            self.rest[first] += 1;
            let found = self.at(slack, rest - length);
            if found != Found::No {
                return found;
            }
            self.demand[first] += 1;
            self.rest[first] -= 1;
        }
        if self.failed.len() < REMEMBERED {
            self.failed.insert(key, (slack, rest));
        }
        Found::No
    }
}

/// Part of the work that may go into the fills of one stock length.
const FILLS: u64 = 200;

/// All fills of a stock length that leave no more than may be wasted, and take in another piece where one fits.
struct Fills<'a> {
    case: &'a Case,
    demand: &'a [u32],
    found: Vec<(i64, Vec<(usize, u32)>)>,
    take: Vec<(usize, u32)>,
    least: i64,
    steps: usize,
    most: usize,
}

impl Fills<'_> {
    fn with(&mut self, first: usize, room: i64, filled: i64) {
        let mut after = vec![0i64; self.demand.len() + 1];
        for at in (0..self.demand.len()).rev() {
            after[at] = after[at + 1] + self.case.lengths[at] * i64::from(self.demand[at]);
        }
        self.at(first, 1, room, filled, &after, i64::MAX);
    }

    /// From the type at a place on, of which `had` are taken; `skipped` is the shortest piece that was left out.
    fn at(&mut self, at: usize, had: u32, room: i64, filled: i64, after: &[i64], skipped: i64) {
        self.steps += 1;
        if self.steps > self.most {
            return;
        }
        if at == self.demand.len() {
            // Where a piece that was left out fits, the fill with it is as good.
            if filled >= self.least && skipped > room {
                self.found.push((filled, self.take.clone()));
            }
            return;
        }
        let length = self.case.lengths[at];
        if filled + (after[at] - length * i64::from(had)).min(room) < self.least {
            return;
        }
        let there = self.demand[at] - had;
        let most = i64::from(there).min(room / length) as u32;
        for more in (0..=most).rev() {
            let count = had + more;
            if count > 0 {
                self.take.push((at, count));
            }
            let skipped = if more < there { skipped.min(length) } else { skipped };
            let long = length * i64::from(more);
            self.at(at + 1, 0, room - long, filled + long, after, skipped);
            if count > 0 {
                self.take.pop();
            }
        }
    }
}
