//! How many of each kind are long enough taken together, by length alone: a bound that needs no patterns.

use super::Work;
use super::case::{Case, Rate};

/// How many of each kind may be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub(super) least: Vec<u32>,
    pub(super) most: Vec<u32>,
}

impl Range {
    pub(super) fn whole(case: &Case) -> Range {
        Range { least: vec![0; case.rooms.len()], most: (0..case.rooms.len()).map(|k| case.most(k)).collect() }
    }

    /// The one number of each kind, where there is only one.
    pub(super) fn single(&self) -> Option<&[u32]> {
        (self.least == self.most).then_some(&self.least)
    }
}

/// Longest stock length for which all sums of pieces are looked at.
const LONGEST: i64 = 1 << 17;

/// The most that can be cut from one piece of each kind: the largest sum of pieces that it holds.
pub(super) fn fillable(case: &Case) -> Vec<i64> {
    fillable_with(case, &case.counts).unwrap_or_else(|| case.rooms.iter().map(|&room| room.min(case.whole)).collect())
}

/// The same where only so many pieces of each type are left; `None` where lengths are told apart too finely.
pub(super) fn fillable_with(case: &Case, counts: &[u32]) -> Option<Vec<i64>> {
    let longest = case.rooms.first().copied().filter(|&longest| longest <= LONGEST)?;
    let words = longest as usize / 64 + 1;
    let mut sums = vec![0u64; words];
    sums[0] = 1;
    for (&length, &count) in case.lengths.iter().zip(counts) {
        let mut left = u64::from(count).min((longest / length) as u64);
        let mut part = 1;
        while left > 0 {
            let times = part.min(left);
            shift_in(&mut sums, length as usize * times as usize);
            left -= times;
            part *= 2;
        }
    }
    let largest = |room: i64| {
        let (word, bit) = (room as usize / 64, room % 64);
        let below = sums[word] & (u64::MAX >> (63 - bit));
        if below > 0 {
            return word as i64 * 64 + 63 - i64::from(below.leading_zeros());
        }
        let word = sums[..word].iter().rposition(|&word| word > 0).unwrap_or(0);
        word as i64 * 64 + 63 - i64::from(sums[word].leading_zeros())
    };
    Some(case.rooms.iter().map(|&room| largest(room)).collect())
}

/// Adds to the sums those that are larger by a length.
fn shift_in(sums: &mut [u64], by: usize) {
    let (words, bits) = (by / 64, by % 64);
    for at in (words..sums.len()).rev() {
        let mut word = sums[at - words] << bits;
        if bits > 0 && at > words {
            word |= sums[at - words - 1] >> (64 - bits);
        }
        sums[at] |= word;
    }
}

/// The cheapest numbers of each kind within a range that are long enough, what they cost with the rest to measure, and
/// whether all others were looked at.
pub(super) struct Cover {
    /// What nothing within the range can cost less than; `None` when nothing is enough.
    pub(super) bound: Option<i128>,
    /// The numbers that cost so much.
    pub(super) counts: Option<Vec<u32>>,
}

struct Walk<'a> {
    case: &'a Case,
    range: &'a Range,
    fillable: &'a [i64],
    /// The least cost of a length from this kind on.
    rates: Vec<Option<Rate>>,
    counts: Vec<u32>,
    best: Option<(i128, Vec<u32>)>,
    stop_at: Option<i128>,
    steps: usize,
}

/// Most steps of one walk.
const STEPS: usize = 20_000;

/// The cheapest cover within a range. What costs as much as `stop_at` or more is not looked for.
pub(super) fn cheapest(case: &Case, range: &Range, fillable: &[i64], stop_at: Option<i128>, work: &mut Work) -> Cover {
    let kinds = case.rooms.len();
    let mut rates = vec![case.measure_rate; kinds + 1];
    for kind in (0..kinds).rev() {
        // All are the same where one costs as much as the next.
        let most = if case.even[kind] { range.most[kind].min(1) } else { range.most[kind] };
        let own = (1..=most as usize)
            .map(|n| Rate { cost: case.costs[kind][n], length: i128::from(fillable[kind].max(1)) * n as i128 })
            .reduce(Rate::lower);
        rates[kind] = match (rates[kind + 1], own) {
            (Some(rate), Some(own)) => Some(rate.lower(own)),
            (rate, own) => rate.or(own),
        };
    }
    let mut walk = Walk { case, range, fillable, rates, counts: vec![0; kinds], best: None, stop_at, steps: 0 };
    walk.at(0, case.whole, 0);
    work.spend(walk.steps * 20);
    if walk.steps > STEPS {
        // Not all was looked at: only the least rate is certain.
        let bound = walk.rates[0].map(|rate| rate.least(case.whole));
        return Cover { bound: Some(bound.unwrap_or(0)), counts: walk.best.map(|(_, counts)| counts) };
    }
    match walk.best {
        Some((bound, counts)) => Cover { bound: Some(bound), counts: Some(counts) },
        None => Cover { bound: stop_at, counts: None },
    }
}

impl Walk<'_> {
    fn limit(&self) -> Option<i128> {
        self.best.as_ref().map(|(cost, _)| *cost).or(self.stop_at)
    }

    fn at(&mut self, kind: usize, rest: i64, cost: i128) {
        self.steps += 1;
        if self.steps > STEPS {
            return;
        }
        let least = if rest <= 0 { Some(0) } else { self.rates[kind].map(|rate| rate.least(rest)) };
        let Some(least) = least else { return };
        if self.limit().is_some_and(|limit| cost + least >= limit) {
            return;
        }
        if kind == self.counts.len() {
            let Some(measured) = self.case.measured_cost(rest.max(0)) else { return };
            if self.limit().is_none_or(|limit| cost + measured < limit) {
                self.best = Some((cost + measured, self.counts.clone()));
            }
            return;
        }
        let fill = self.fillable[kind].max(1);
        let wanted = if rest > 0 { ((rest + fill - 1) / fill).min(i64::from(u32::MAX)) as u32 } else { 0 };
        let (least, most) = (self.range.least[kind], self.range.most[kind]);
        for count in (least..=wanted.clamp(least, most)).rev() {
            self.counts[kind] = count;
            self.at(kind + 1, rest - fill * i64::from(count), cost + self.case.costs[kind][count as usize]);
        }
        self.counts[kind] = 0;
    }
}
