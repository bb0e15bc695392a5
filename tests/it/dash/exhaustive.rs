//! An exhaustive search that was written for the test alone: every place of every part on a small grid, judged by growing
//! boxes one unit at a time of a bisection, and not by the formulas of the program.

use rigbill::calc::dash::{Area, Face, NoLayout, Part, Point, Task, Work, solve};

/// Numbers that look random and are the same every time (Knuth's MMIX constants).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, most: u64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % (most + 1)) as i64
    }
}

/// Twice the area of a triangle, with its sign.
fn turn(a: Point, b: Point, c: Point) -> i128 {
    i128::from(b.0 - a.0) * i128::from(c.1 - a.1) - i128::from(c.0 - a.0) * i128::from(b.1 - a.1)
}

fn inside_or_on(corners: &[Point], p: Point) -> bool {
    let mut winding = 0;
    for (i, &a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % corners.len()];
        let side = turn(a, b, p);
        let within = (a.0.min(b.0)..=a.0.max(b.0)).contains(&p.0) && (a.1.min(b.1)..=a.1.max(b.1)).contains(&p.1);
        if side == 0 && within {
            return true;
        }
        if a.1 <= p.1 && b.1 > p.1 && side > 0 {
            winding += 1;
        } else if a.1 > p.1 && b.1 <= p.1 && side < 0 {
            winding -= 1;
        }
    }
    winding != 0
}

/// Whether an edge runs through the inside of a box: some point of it is strictly inside.
fn runs_through(a: Point, b: Point, low: Point, high: Point) -> bool {
    // The part of the way, as fractions n / d, that is strictly between both pairs of sides.
    let (mut from, mut to) = ((0i128, 1i128), (1i128, 1i128));
    for (start, end, low, high) in [(a.0, b.0, low.0, high.0), (a.1, b.1, low.1, high.1)] {
        let way = i128::from(end - start);
        if way == 0 {
            if start <= low || start >= high {
                return false;
            }
            continue;
        }
        let mut ends =
            [i128::from(low - start), i128::from(high - start)].map(|n| if way < 0 { (-n, -way) } else { (n, way) });
        ends.sort_by(|x, y| (x.0 * y.1).cmp(&(y.0 * x.1)));
        if ends[0].0 * from.1 > from.0 * ends[0].1 {
            from = ends[0];
        }
        if ends[1].0 * to.1 < to.0 * ends[1].1 {
            to = ends[1];
        }
    }
    from.0 * to.1 < to.0 * from.1
}

fn stands(task: &Task, at: Point, half: Point, grown: i64) -> bool {
    let (low, high) = ((at.0 - half.0 - grown, at.1 - half.1 - grown), (at.0 + half.0 + grown, at.1 + half.1 + grown));
    let corners = &task.face.corners;
    let edges = (0..corners.len()).map(|i| (corners[i], corners[(i + 1) % corners.len()]));
    let in_face = [low, high, (low.0, high.1), (high.0, low.1)].into_iter().all(|p| inside_or_on(corners, p))
        && !edges.clone().any(|(a, b)| runs_through(a, b, low, high));
    in_face
        && task.face.keep_outs.iter().all(|area| match *area {
            Area::Rectangle(from, to) => low.0 >= to.0 || high.0 <= from.0 || low.1 >= to.1 || high.1 <= from.1,
            Area::Round(middle, radius) => {
                let near = (middle.0.clamp(low.0, high.0), middle.1.clamp(low.1, high.1));
                (near.0 - middle.0).pow(2) + (near.1 - middle.1).pow(2) >= radius.pow(2)
            }
        })
}

/// The most that a box can grow; below zero where it does not stand at all.
fn room(task: &Task, at: Point, half: Point) -> i64 {
    if !stands(task, at, half, 0) {
        return -1;
    }
    let (mut low, mut high) = (0, 1_000_000);
    while low < high {
        let middle = (low + high + 1) / 2;
        if stands(task, at, half, middle) { low = middle } else { high = middle - 1 }
    }
    low
}

/// Fewest broken, then most clearance, then least from eye height.
type Rank = (usize, i64, i128);

struct Search<'a> {
    task: &'a Task,
    /// Of each part: places that it can have, with the room around.
    places: Vec<Vec<(Point, i64)>>,
    best: Option<Rank>,
}

impl Search<'_> {
    fn go(&mut self, so_far: &mut Vec<Point>, clearance: i64, from_eye: i128) {
        let i = so_far.len();
        let task = self.task;
        if i == task.parts.len() {
            let rank = (broken(task, so_far), clearance, from_eye);
            let better = |best: Rank| (rank.0, -rank.1, rank.2) < (best.0, -best.1, best.2);
            if self.best.is_none_or(better) {
                self.best = Some(rank);
            }
            return;
        }
        for n in 0..self.places[i].len() {
            let (place, room) = self.places[i][n];
            let at = (place.0 * task.step, place.1 * task.step);
            let half = task.parts[i].half;
            let mut least = clearance.min(room);
            for (j, other) in so_far.iter().enumerate() {
                let other_half = task.parts[j].half;
                let dx = (at.0 - other.0 * task.step).abs() - half.0 - other_half.0;
                let dy = (at.1 - other.1 * task.step).abs() - half.1 - other_half.1;
                least = least.min(if dx > dy { dx } else { dy });
                if dx.max(dy) < task.between {
                    least = -1;
                }
            }
            if least < 0 {
                continue;
            }
            so_far.push(place);
            let far = i128::from(task.parts[i].weight) * i128::from((at.1 - task.eye).abs());
            self.go(so_far, least, from_eye + far);
            so_far.pop();
        }
    }
}

/// Symmetries that are broken, counted by striking out part by part.
fn broken(task: &Task, places: &[Point]) -> usize {
    let mut kinds: Vec<usize> = task.parts.iter().filter(|p| p.pinned.is_none()).map(|p| p.alike).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut count = 0;
    for kind in kinds {
        let mut of_kind: Vec<Point> = (0..places.len())
            .filter(|&i| task.parts[i].alike == kind && task.parts[i].pinned.is_none())
            .map(|i| places[i])
            .collect();
        let mut odd = 0_usize;
        while let Some((x, y)) = of_kind.pop() {
            if x == 0 {
                continue;
            }
            match of_kind.iter().position(|other| *other == (-x, y)) {
                Some(twin) => {
                    of_kind.swap_remove(twin);
                }
                None => odd += 1,
            }
        }
        count += odd.div_ceil(2);
    }
    count
}

fn exhaustive(task: &Task) -> Option<Rank> {
    let xs = task.face.corners.iter().map(|c| c.0.abs()).max().unwrap() / task.step + 1;
    let ys = task.face.corners.iter().map(|c| c.1).max().unwrap() / task.step + 1;
    let places = task.parts.iter().map(|part| {
        let all = (-xs..=xs).flat_map(|x| (0..=ys).map(move |y| (x, y)));
        let all = all.filter(|place| part.pinned.is_none_or(|pinned| pinned == *place));
        let with_room = all.map(|place| (place, room(task, (place.0 * task.step, place.1 * task.step), part.half)));
        with_room.filter(|(_, room)| *room >= task.edge).collect()
    });
    let mut search = Search { task, places: places.collect(), best: None };
    search.go(&mut Vec::new(), i64::MAX, 0);
    search.best
}

fn random_task(dice: &mut Dice) -> Task {
    let step = 100;
    let (half_width, height) = (300 + 50 * dice.roll(6), 300 + 50 * dice.roll(6));
    let left = -half_width - 30 * dice.roll(1);
    let right = half_width;
    let cut = |dice: &mut Dice| 40 * dice.roll(5);
    let corners = match dice.roll(3) {
        0 | 1 => vec![(left, 0), (right, 0), (right, height), (left, height)],
        2 => {
            let (a, b) = (cut(dice) + 20, cut(dice) + 30);
            vec![
                (left, 0),
                (right, 0),
                (right, height - b),
                (right - a, height),
                (left + a, height),
                (left, height - b),
            ]
        }
        // A notch from below, and a slanted side.
        _ => {
            let (a, deep) = (60 + cut(dice) / 2, 40 + cut(dice) / 2);
            vec![
                (left, 0),
                (-a, 0),
                (-a, deep),
                (a, deep),
                (a, 0),
                (right, 0),
                (right - cut(dice), height),
                (left, height),
            ]
        }
    };
    let mut keep_outs = Vec::new();
    for _ in 0..dice.roll(1) {
        let at = (left + 20 * dice.roll(20), 20 * dice.roll(15));
        keep_outs.push(if dice.roll(1) == 0 {
            Area::Rectangle(at, (at.0 + 60 + 10 * dice.roll(8), at.1 + 40 + 10 * dice.roll(8)))
        } else {
            Area::Round(at, 30 + 7 * dice.roll(9))
        });
    }
    let count = 1 + dice.roll(2) as usize;
    let kinds: Vec<Point> = (0..3).map(|_| (35 + 17 * dice.roll(7), 30 + 13 * dice.roll(6))).collect();
    let parts = (0..count)
        .map(|_| {
            let alike = dice.roll(2) as usize;
            let pinned = (dice.roll(11) == 0).then(|| (dice.roll(4) - 2, 2));
            Part { half: kinds[alike], alike, weight: kinds[alike].0 * kinds[alike].1, pinned }
        })
        .collect();
    let (between, edge) = (10 * dice.roll(3), 10 * dice.roll(3));
    Task { face: Face { corners, keep_outs }, step, between, edge, eye: 40 * dice.roll(24), parts }
}

#[test]
fn the_search_is_as_good_as_looking_at_every_layout() {
    let mut dice = Dice(7);
    let (mut placed, mut none, mut symmetrical) = (0, 0, 0);
    for case in 0..160 {
        let task = random_task(&mut dice);
        let best = exhaustive(&task);
        match (solve(&task, &mut Work::steps(400_000)), best) {
            (Err(NoLayout::Proven), None) => none += 1,
            (Ok(found), Some((broken, clearance, from_eye))) => {
                let told = (found.merit.broken, found.merit.clearance, found.merit.from_eye);
                assert_eq!(told, (broken, clearance, from_eye), "case {case}: {task:?}\n{found:?}");
                assert!(found.proven.symmetry && found.proven.clearance && found.proven.eye, "case {case}: {found:?}");
                placed += 1;
                symmetrical += usize::from(broken == 0);
            }
            (found, best) => panic!("case {case}: {found:?} against {best:?}: {task:?}"),
        }
    }
    // The cases must be of all kinds, or they show little.
    assert!(placed > 80 && none > 10 && symmetrical > 30 && symmetrical < placed, "{placed} {none} {symmetrical}");
}

#[test]
fn the_order_of_parts_makes_no_difference_to_how_good_it_is() {
    let mut dice = Dice(11);
    for _ in 0..20 {
        let task = random_task(&mut dice);
        let mut turned = task.clone();
        turned.parts.reverse();
        let merit = |task: &Task| solve(task, &mut Work::steps(400_000)).map(|layout| layout.merit);
        assert_eq!(merit(&task), merit(&turned));
    }
}
