//! What is to be placed, how a layout is judged, and which parts can be symmetrical with which.

use super::face::{Face, Point, between};

/// One part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// Half the width and half the height of the box round its outline.
    pub half: Point,
    /// Parts with the same number are equal: one can take the place of the other.
    pub alike: usize,
    /// How much its distance from eye height counts.
    pub weight: i64,
    /// Where a person has put it, in steps of the grid; it then counts in no symmetry.
    pub pinned: Option<Point>,
}

/// Parts to be placed on a face.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Task {
    /// The face.
    pub face: Face,
    /// Middles of parts stand on multiples of this from the centre line and from the lower edge.
    pub step: i64,
    /// Least gap between two parts.
    pub between: i64,
    /// Least gap between a part and an edge or a keep-out.
    pub edge: i64,
    /// Eye height above the lower edge.
    pub eye: i64,
    /// The parts.
    pub parts: Vec<Part>,
}

/// How good a layout is; less is better in `broken` and `from_eye`, more in `clearance`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Merit {
    /// Symmetries that are broken: pairs that do not mirror each other, and single parts off the centre line.
    pub broken: usize,
    /// Least gap between two parts, or a part and an edge or keep-out.
    pub clearance: i64,
    /// Sum of the parts' distances from eye height, each times its weight.
    pub from_eye: i128,
}

impl Task {
    /// A place on the grid as a point.
    pub fn point(&self, place: Point) -> Point {
        (place.0 * self.step, place.1 * self.step)
    }

    /// Judges a layout, given in steps of the grid; `None` where it keeps a clearance too small.
    pub fn merit(&self, places: &[Point]) -> Option<Merit> {
        let mut clearance = i64::MAX;
        for (i, part) in self.parts.iter().enumerate() {
            let at = self.point(places[i]);
            let room = self.face.clearance(at, part.half);
            if room < self.edge {
                return None;
            }
            clearance = clearance.min(room);
            for (j, other) in self.parts.iter().enumerate().skip(i + 1) {
                let gap = between(at, part.half, self.point(places[j]), other.half);
                if gap < self.between {
                    return None;
                }
                clearance = clearance.min(gap);
            }
        }
        Some(Merit { broken: self.broken(places), clearance, from_eye: self.from_eye(places) })
    }

    /// Broken symmetries of a layout: of each kind of equal parts, half of those whose mirror image is no part of that
    /// kind, rounded up.
    pub fn broken(&self, places: &[Point]) -> usize {
        self.groups()
            .iter()
            .map(|group| {
                let stands = |place: Point| group.iter().any(|&i| places[i] == place);
                group.iter().filter(|&&i| !stands((-places[i].0, places[i].1))).count().div_ceil(2)
            })
            .sum()
    }

    /// Sum of distances from eye height.
    pub fn from_eye(&self, places: &[Point]) -> i128 {
        let far = |(part, place): (&Part, &Point)| {
            i128::from(part.weight) * i128::from((place.1 * self.step - self.eye).abs())
        };
        self.parts.iter().zip(places).map(far).sum()
    }

    /// The parts of each kind that count in symmetries, by place.
    pub fn groups(&self) -> Vec<Vec<usize>> {
        let mut groups: std::collections::BTreeMap<usize, Vec<usize>> = std::collections::BTreeMap::new();
        for (i, part) in self.parts.iter().enumerate().filter(|(_, part)| part.pinned.is_none()) {
            groups.entry(part.alike).or_default().push(i);
        }
        groups.into_values().collect()
    }
}

/// How something moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Mode {
    /// Anywhere.
    Free,
    /// Up and down the centre line.
    Centred,
    /// Two equal parts as mirror images; the one to starboard is told.
    Pair,
    /// Where a person put it.
    Pinned,
}

/// What moves as one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Unit {
    pub(super) mode: Mode,
    /// Its part; of a pair the one to starboard and then the one to port.
    pub(super) parts: Vec<usize>,
}

/// How many of a kind are in pairs, on the centre line and anywhere.
#[derive(Clone, Copy)]
struct Split {
    pairs: usize,
    centred: usize,
    free: usize,
}

/// Ways of a kind of so many parts to have so many symmetries broken. What another way holds too is left out.
fn splits(count: usize, broken: usize) -> Vec<Split> {
    let mut splits = Vec::new();
    let free_of = if broken == 0 { vec![0] } else { vec![2 * broken, 2 * broken - 1] };
    for free in free_of.into_iter().filter(|free| *free <= count) {
        let rest = count - free;
        for centred in (0..=rest).filter(|centred| (rest - centred).is_multiple_of(2)) {
            // An odd number anywhere beside one on the centre line: that one could be anywhere too.
            if free % 2 == 1 && centred > 0 {
                continue;
            }
            splits.push(Split { pairs: (rest - centred) / 2, centred, free });
        }
    }
    splits
}

/// More ways than this to break so many symmetries are not listed.
const STRUCTURES_MOST: usize = 20_000;

/// All ways to break so many symmetries in all, each as the units that then move; and whether these are all of them.
pub(super) fn structures(task: &Task, broken: usize) -> (Vec<Vec<Unit>>, bool) {
    let groups = task.groups();
    let mut found = Vec::new();
    let complete = choose(&groups, broken, &mut Vec::new(), &mut found);
    let pinned = (0..task.parts.len()).filter(|&i| task.parts[i].pinned.is_some());
    let pinned: Vec<Unit> = pinned.map(|i| Unit { mode: Mode::Pinned, parts: vec![i] }).collect();
    let units = |splits: &Vec<Split>| {
        let mut units = pinned.clone();
        for (group, split) in groups.iter().zip(splits) {
            let mut parts = group.iter().copied();
            let mut next = |count: usize| parts.by_ref().take(count).collect::<Vec<_>>();
            units.extend(next(split.free).into_iter().map(|i| Unit { mode: Mode::Free, parts: vec![i] }));
            units.extend(next(split.centred).into_iter().map(|i| Unit { mode: Mode::Centred, parts: vec![i] }));
            units.extend((0..split.pairs).map(|_| Unit { mode: Mode::Pair, parts: next(2) }));
        }
        // A pair stands behind what has one place, so that what holds between the two is said from one side only.
        units.sort_by_key(|unit| (unit.mode == Mode::Pair, unit.parts[0]));
        units
    };
    (found.iter().map(units).collect(), complete)
}

fn choose(groups: &[Vec<usize>], broken: usize, so_far: &mut Vec<Split>, found: &mut Vec<Vec<Split>>) -> bool {
    let Some(group) = groups.get(so_far.len()) else {
        if broken == 0 {
            if found.len() == STRUCTURES_MOST {
                return false;
            }
            found.push(so_far.clone());
        }
        return true;
    };
    let after: usize = groups[so_far.len() + 1..].iter().map(|group| group.len().div_ceil(2)).sum();
    for here in broken.saturating_sub(after)..=broken.min(group.len().div_ceil(2)) {
        for split in splits(group.len(), here) {
            so_far.push(split);
            let complete = choose(groups, broken - here, so_far, found);
            so_far.pop();
            if !complete {
                return false;
            }
        }
    }
    true
}
