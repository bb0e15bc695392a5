//! What room is left across is shared out: each part moves to the middle of where it could stand without coming nearer to
//! anything than the least clearance. Heights and symmetries stay.

use super::face::Point;
use super::task::Task;

/// Rounds after which parts hardly move any more.
const ROUNDS: usize = 12;

/// A layout with its parts spread out across.
pub(super) fn spread(task: &Task, mut places: Vec<Point>) -> Vec<Point> {
    let Some(merit) = task.merit(&places) else { return places };
    let twin: Vec<Option<usize>> = (0..places.len()).map(|i| twin_of(task, &places, i)).collect();
    let ((left, _), (right, _)) = task.face.bounds();
    let columns = (right - left) / task.step;
    for _ in 0..ROUNDS {
        let mut moved = false;
        for i in 0..places.len() {
            let pinned = task.parts[i].pinned.is_some();
            let second = twin[i].is_some_and(|twin| places[i].0 < places[twin].0);
            if pinned || twin[i] == Some(i) || second {
                continue;
            }
            let start = places[i].0;
            let mut stands = |x: i64| {
                let before = places.clone();
                places[i].0 = x;
                if let Some(twin) = twin[i] {
                    places[twin].0 = -x;
                }
                let good = keeps(task, &places, i, merit.clearance) && task.broken(&places) == merit.broken;
                places = before;
                good
            };
            let mut reach = |way: i64| (1..=columns).take_while(|off| stands(start + way * off)).last().unwrap_or(0);
            let (back, ahead) = (reach(-1), reach(1));
            // What is between a part and its twin grows twice as fast as what is on the other side.
            let half = task.parts[i].half.0;
            let apart = merit.clearance.max(task.between);
            let by_twin = twin[i].is_some() && 2 * (start - back - 1) * task.step - 2 * half < apart;
            let x = if by_twin {
                (start + ahead + 2 * (start - back)).div_euclid(3)
            } else {
                start + (ahead - back).div_euclid(2)
            };
            moved |= x != start;
            places[i].0 = x;
            if let Some(twin) = twin[i] {
                places[twin].0 = -x;
            }
        }
        if !moved {
            break;
        }
    }
    places
}

/// The part that mirrors this one: itself on the centre line.
fn twin_of(task: &Task, places: &[Point], i: usize) -> Option<usize> {
    let part = &task.parts[i];
    let image = (-places[i].0, places[i].1);
    let mirrors = |j: &usize| {
        let other = &task.parts[*j];
        places[*j] == image && other.alike == part.alike && other.pinned.is_none()
    };
    if part.pinned.is_some() { None } else { (0..places.len()).find(mirrors) }
}

/// Whether a part and its twin keep a clearance of everything.
fn keeps(task: &Task, places: &[Point], moved: usize, clearance: i64) -> bool {
    let (edge, apart) = (clearance.max(task.edge), clearance.max(task.between));
    let clear = |i: usize| {
        let (at, half) = (task.point(places[i]), task.parts[i].half);
        task.face.clearance(at, half) >= edge
            && (0..places.len())
                .filter(|j| *j != i)
                .all(|j| super::between(at, half, task.point(places[j]), task.parts[j].half) >= apart)
    };
    let image = (-places[moved].0, places[moved].1);
    clear(moved) && places.iter().position(|place| *place == image).is_none_or(|twin| twin == moved || clear(twin))
}
