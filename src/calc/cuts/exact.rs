//! The exact search for a way to cut all pieces from so many of each kind.

use std::collections::BTreeMap;

use super::Work;
use super::case::Case;
use super::covers;
use super::packing::Packing;
use super::relaxation::Pattern;

/// Most pieces for which it is tried: each is a step down, and more than so many never come to an end.
const PIECES: u32 = 400;

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
    if case.pieces > PIECES {
        return Found::Unknown;
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
        // What is left cannot fill what is left to fill.
        if !self.kinds.iter().all(|&count| count == 0)
            && let Some(fillable) = covers::fillable_with(self.case, &self.demand)
        {
            self.work.spend(self.case.rooms[0] as usize / 64 * self.demand.len());
            let rooms = self.case.rooms.iter().zip(fillable).zip(&self.kinds);
            let wasted: i64 = rooms.map(|((&room, fill), &count)| (room - fill) * i64::from(count)).sum();
            if wasted > slack {
                return Found::No;
            }
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
