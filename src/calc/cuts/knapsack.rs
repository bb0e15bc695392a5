//! The pieces of most value that one stock length holds, for all kinds at once.

use super::Work;
use super::case::Case;

/// Cells of one table: how fine lengths are told apart.
const CELLS: usize = 1 << 22;
/// Longest row of one.
const LONGEST: usize = 1 << 16;

/// Lengths on a grid that is coarse enough to look at every point of it.
pub(super) struct Knapsack {
    /// Room of each kind, rounded down.
    rooms: Vec<usize>,
    /// Lengths rounded up: what fits so, fits.
    up: Vec<usize>,
    /// Lengths rounded down: what fits, fits so.
    down: Vec<usize>,
    /// Whether both are the same, and exact.
    exact: bool,
}

/// What one stock length is cut into, and its value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fill {
    pub(super) value: i64,
    pub(super) take: Vec<(usize, u32)>,
}

/// Of each kind a bound on the value, and a pattern that is near it.
pub(super) struct Priced {
    pub(super) bounds: Vec<i64>,
    pub(super) fills: Vec<Fill>,
}

impl Knapsack {
    /// With little work to do, lengths are told apart less finely.
    pub(super) fn new(case: &Case, work: Work) -> Self {
        let longest = case.rooms.first().copied().unwrap_or(1);
        let parts: usize = case.counts.iter().map(|&count| (32 - count.leading_zeros()) as usize).sum();
        let cells = CELLS.min(work.0 as usize / 64) / parts.max(1);
        let cells = cells.clamp(256, LONGEST) as i64;
        let step = (longest / cells + 1).max(1);
        let step = if longest <= cells { 1 } else { step };
        Knapsack {
            rooms: case.rooms.iter().map(|&room| (room / step) as usize).collect(),
            up: case.lengths.iter().map(|&length| ((length + step - 1) / step) as usize).collect(),
            down: case.lengths.iter().map(|&length| (length / step) as usize).collect(),
            exact: step == 1,
        }
    }

    /// The most valuable fill of each kind, with at most so many pieces of each type.
    pub(super) fn price(&self, values: &[i64], counts: &[u32], work: &mut Work) -> Priced {
        let fills = best(&self.rooms, &self.up, values, counts, work);
        if self.exact {
            return Priced { bounds: fills.iter().map(|fill| fill.value).collect(), fills };
        }
        let loose = best(&self.rooms, &self.down, values, counts, work);
        Priced { bounds: loose.iter().map(|fill| fill.value).collect(), fills }
    }
}

fn best(rooms: &[usize], lengths: &[usize], values: &[i64], counts: &[u32], work: &mut Work) -> Vec<Fill> {
    let size = rooms.iter().copied().max().unwrap_or(0) + 1;
    // So many pieces of one type at once: one, two, four, and what is left.
    let mut parts: Vec<(usize, u32, usize, i64)> = Vec::new();
    let mut free: Vec<(usize, u32)> = Vec::new();
    for (place, (&length, &value)) in lengths.iter().zip(values).enumerate() {
        if value <= 0 {
            continue;
        }
        if length == 0 {
            free.push((place, counts[place]));
            continue;
        }
        let mut left = counts[place].min(((size - 1) / length) as u32);
        let mut times = 1;
        while left > 0 {
            let part = times.min(left);
            parts.push((place, part, length * part as usize, value * i64::from(part)));
            left -= part;
            times *= 2;
        }
    }
    work.spend(size * (parts.len() + 1));
    let mut now = vec![0i64; size];
    let mut next = vec![0i64; size];
    let mut taken = vec![0u8; size * parts.len()];
    for (&(_, _, length, value), taken) in parts.iter().zip(taken.chunks_exact_mut(size)) {
        next[..length].copy_from_slice(&now[..length]);
        let with = &now[..size - length];
        let cells = next[length..].iter_mut().zip(&now[length..]).zip(with).zip(&mut taken[length..]);
        for (((next, &without), &with), taken) in cells {
            let with = with + value;
            *taken = u8::from(with > without);
            *next = if with > without { with } else { without };
        }
        std::mem::swap(&mut now, &mut next);
    }
    let fill = |&room: &usize| {
        let mut left = room;
        let mut take: Vec<(usize, u32)> = free.clone();
        for (&(place, part, length, _), taken) in parts.iter().zip(taken.chunks_exact(size)).rev() {
            if taken[left] == 1 {
                left -= length;
                match take.iter_mut().find(|(at, _)| *at == place) {
                    Some((_, count)) => *count += part,
                    None => take.push((place, part)),
                }
            }
        }
        take.sort_unstable();
        let value = take.iter().map(|&(place, count)| values[place] * i64::from(count)).sum();
        Fill { value, take }
    };
    rooms.iter().map(fill).collect()
}
