//! Where the middle of a part may stand for a wanted clearance: a range on the grid, or a part of one.

use std::collections::BTreeMap;

use super::face::Point;
use super::task::{Mode, Task};

/// Places between two columns and two rows of the grid, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub(super) low: Point,
    pub(super) high: Point,
}

impl Range {
    pub(super) fn is_empty(&self) -> bool {
        self.low.0 > self.high.0 || self.low.1 > self.high.1
    }

    fn cells(&self) -> i64 {
        (self.high.0 - self.low.0 + 1) * (self.high.1 - self.low.1 + 1)
    }
}

/// The room around a part at every place of the grid where its middle could be.
struct Map {
    range: Range,
    room: Vec<i64>,
}

/// Where something may stand.
pub(super) struct Domain {
    pub(super) range: Range,
    /// How many places there are below and left of each, where not all of the range is free.
    sums: Option<Vec<u32>>,
}

impl Domain {
    /// Places of a part of the range that are free.
    pub(super) fn count(&self, range: &Range) -> i64 {
        let Range { low, high } = self.within(range);
        if low.0 > high.0 || low.1 > high.1 {
            return 0;
        }
        let Some(sums) = &self.sums else { return Range { low, high }.cells() };
        let wide = self.range.high.0 - self.range.low.0 + 2;
        let sum = |x: i64, y: i64| i64::from(sums[((y - self.range.low.1) * wide + x - self.range.low.0) as usize]);
        sum(high.0 + 1, high.1 + 1) - sum(low.0, high.1 + 1) - sum(high.0 + 1, low.1) + sum(low.0, low.1)
    }

    /// Whether every place of a range is free.
    pub(super) fn is_full(&self, range: &Range) -> bool {
        self.sums.is_none() || self.count(range) == range.cells()
    }

    fn within(&self, range: &Range) -> Range {
        Range {
            low: (range.low.0.max(self.range.low.0), range.low.1.max(self.range.low.1)),
            high: (range.high.0.min(self.range.high.0), range.high.1.min(self.range.high.1)),
        }
    }

    /// The smallest range that has the same free places; `None` where there is none.
    pub(super) fn tightened(&self, range: &Range) -> Option<Range> {
        let range = self.within(range);
        if range.is_empty() || self.count(&range) == 0 {
            return None;
        }
        if self.sums.is_none() || self.is_full(&range) {
            return Some(range);
        }
        // The nearest column and row with a free place, from each side.
        let all = range;
        let left = first(all.low.0, all.high.0, |x| self.count(&Range { high: (x, all.high.1), ..all }) > 0);
        let right = -first(-all.high.0, -left, |x| self.count(&Range { low: (-x, all.low.1), ..all }) > 0);
        let low = first(all.low.1, all.high.1, |y| self.count(&Range { high: (all.high.0, y), ..all }) > 0);
        let high = -first(-all.high.1, -low, |y| self.count(&Range { low: (all.low.0, -y), ..all }) > 0);
        Some(Range { low: (left, low), high: (right, high) })
    }

    /// The free place in a row that is nearest to a column.
    pub(super) fn nearest_in_row(&self, range: &Range, row: i64, column: i64) -> Option<Point> {
        let free = |x: i64| {
            let inside = (range.low.0..=range.high.0).contains(&x);
            inside && self.count(&Range { low: (x, row), high: (x, row) }) > 0
        };
        let row_range = Range { low: (range.low.0, row), high: (range.high.0, row) };
        if self.count(&row_range) == 0 {
            return None;
        }
        let most = (column - range.low.0).abs().max((range.high.0 - column).abs());
        (0..=most).find_map(|off| [column - off, column + off].into_iter().find(|x| free(*x))).map(|x| (x, row))
    }
}

/// The first of whole numbers for which something holds, that holds for the last, and for all after the first.
fn first(mut low: i64, mut high: i64, holds: impl Fn(i64) -> bool) -> i64 {
    while low < high {
        let middle = low + (high - low).div_euclid(2);
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

/// All maps of a task, and the domains that follow from them.
pub(super) struct Maps<'a> {
    task: &'a Task,
    /// By half size; empty on a plain face, where ranges say it all.
    maps: BTreeMap<Point, Map>,
}

impl<'a> Maps<'a> {
    pub(super) fn new(task: &'a Task) -> Self {
        let mut maps = BTreeMap::new();
        if !task.face.is_plain() {
            for part in &task.parts {
                maps.entry(part.half).or_insert_with(|| map(task, part.half));
            }
        }
        Maps { task, maps }
    }

    /// Where a unit may stand so that it keeps a clearance of its edge, and a pair of its twin.
    pub(super) fn domain(&self, half: Point, mode: Mode, pinned: Option<Point>, clearance: i64) -> Domain {
        let task = self.task;
        let (edge, apart) = (clearance.max(task.edge), clearance.max(task.between));
        let mut range = bounds(task, half, if self.maps.is_empty() { edge } else { 0 });
        match mode {
            Mode::Free => {}
            Mode::Centred => (range.low.0, range.high.0) = (range.low.0.max(0), range.high.0.min(0)),
            Mode::Pair => {
                range.high.0 = range.high.0.min(-range.low.0);
                range.low.0 = range.low.0.max(up(2 * half.0 + apart, 2 * task.step)).max(1);
            }
            Mode::Pinned => {
                let (x, y) = pinned.unwrap_or_default();
                range = Range {
                    low: (range.low.0.max(x), range.low.1.max(y)),
                    high: (range.high.0.min(x), range.high.1.min(y)),
                };
            }
        }
        let Some(map) = self.maps.get(&half).filter(|_| !range.is_empty()) else { return Domain { range, sums: None } };
        let wide = (map.range.high.0 - map.range.low.0 + 1) as usize;
        let free = |x: i64, y: i64| {
            let place = (y - map.range.low.1) as usize * wide + (x - map.range.low.0) as usize;
            map.room[place] >= edge
        };
        let columns = (range.high.0 - range.low.0 + 2) as usize;
        let rows = (range.high.1 - range.low.1 + 2) as usize;
        let mut sums = vec![0u32; columns * rows];
        for row in 1..rows {
            let y = range.low.1 + row as i64 - 1;
            let mut in_row = 0;
            for column in 1..columns {
                let x = range.low.0 + column as i64 - 1;
                in_row += u32::from(free(x, y) && (mode != Mode::Pair || free(-x, y)));
                sums[row * columns + column] = sums[(row - 1) * columns + column] + in_row;
            }
        }
        Domain { range, sums: Some(sums) }
    }
}

/// A quotient rounded up.
pub(super) fn up(length: i64, step: i64) -> i64 {
    -(-length).div_euclid(step)
}

/// Where the middle of a part of this size can be so that its box keeps a gap to the rectangle round the face.
fn bounds(task: &Task, half: Point, gap: i64) -> Range {
    let ((left, bottom), (right, top)) = task.face.bounds();
    let step = task.step;
    Range {
        low: (up(left + half.0 + gap, step), up(bottom + half.1 + gap, step)),
        high: ((right - half.0 - gap).div_euclid(step), (top - half.1 - gap).div_euclid(step)),
    }
}

fn map(task: &Task, half: Point) -> Map {
    let range = bounds(task, half, 0);
    let mut room = Vec::new();
    for y in range.low.1..=range.high.1 {
        for x in range.low.0..=range.high.0 {
            room.push(task.face.clearance(task.point((x, y)), half));
        }
    }
    Map { range, room }
}

/// Places that maps of a task on a grid of this step would hold.
pub(super) fn cells(task: &Task) -> i64 {
    let mut halves: Vec<Point> = task.parts.iter().map(|part| part.half).collect();
    halves.sort_unstable();
    halves.dedup();
    halves
        .into_iter()
        .map(|half| bounds(task, half, 0))
        .filter(|range| !range.is_empty())
        .map(|range| range.cells())
        .sum()
}
