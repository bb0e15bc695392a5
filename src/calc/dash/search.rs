//! The four aims one after the other, each held while the next is sought.

use std::collections::BTreeMap;

use super::Work;
use super::domain::{Domain, Maps};
use super::face::Point;
use super::spread::spread;
use super::task::{Merit, Mode, Task, Unit, structures};
use super::tree::{End, Goal, Node, Tree};

/// What is proven of a layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Proven {
    /// No layout breaks fewer symmetries.
    pub symmetry: bool,
    /// None of these has a larger least clearance.
    pub clearance: bool,
    /// None of these is nearer to eye height.
    pub eye: bool,
}

/// A layout.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Where the middle of each part is, in steps of the grid.
    pub places: Vec<Point>,
    /// How good that is.
    pub merit: Merit,
    /// What of it is proven to be the best.
    pub proven: Proven,
}

/// Why there is no layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLayout {
    /// Not all parts fit, however they are placed on the grid.
    Proven,
    /// None was found within the budget.
    NotFound,
}

/// Steps that raising the clearance of one arrangement may take at each height that is tried.
const RAISE_STEPS: u64 = 400;

struct Search<'a> {
    task: &'a Task,
    maps: Maps<'a>,
}

impl Search<'_> {
    /// The domains of all units of some structures, for a clearance.
    fn domains(&self, units: &[Unit], clearance: i64, kept: &mut BTreeMap<(Point, Mode, Option<Point>), Domain>) {
        for unit in units {
            let part = &self.task.parts[unit.parts[0]];
            let key = (part.half, unit.mode, part.pinned);
            kept.entry(key).or_insert_with(|| self.maps.domain(part.half, unit.mode, part.pinned, clearance));
        }
    }

    /// Looks for layouts of a structure with at least a clearance.
    fn look(
        &self,
        units: &[Unit],
        clearance: i64,
        (from, goal): (Option<&[Point]>, &mut Goal),
        kept: &mut BTreeMap<(Point, Mode, Option<Point>), Domain>,
        work: &mut Work,
    ) -> End {
        self.domains(units, clearance, kept);
        let domain = |unit: &Unit| {
            let part = &self.task.parts[unit.parts[0]];
            &kept[&(part.half, unit.mode, part.pinned)]
        };
        let domains: Vec<&Domain> = units.iter().map(domain).collect();
        let tree = Tree::new(self.task, units, &domains, clearance);
        let root: Node = from.map_or_else(|| tree.root(), |places| tree.as_in(places));
        tree.walk(root, goal, work)
    }

    /// The same arrangement with the largest least clearance that it allows.
    fn raised(&self, units: &[Unit], places: Vec<Point>, work: &mut Work) -> (i64, Vec<Point>) {
        let clearance = |places: &[Point]| self.task.merit(places).map_or(-1, |merit| merit.clearance);
        let mut best = (clearance(&places), places);
        let ((left, bottom), (right, top)) = self.task.face.bounds();
        let mut most = (right - left).min(top - bottom) / 2;
        while best.0 < most {
            let middle = best.0 + (most - best.0 + 1) / 2;
            let mut goal = Goal::Any(None);
            let from = best.1.clone();
            work.with_part(RAISE_STEPS, |work| {
                self.look(units, middle, (Some(&from), &mut goal), &mut BTreeMap::new(), work)
            });
            match goal {
                Goal::Any(Some(places)) => best = (clearance(&places).max(middle), places),
                _ => most = middle - 1,
            }
        }
        best
    }
}

/// Whether all parts fit at all, symmetrical or not: a layout, or why there is none.
pub fn fits(task: &Task, work: &mut Work) -> Result<Vec<Point>, NoLayout> {
    if task.parts.is_empty() {
        return Ok(Vec::new());
    }
    any(&Search { task, maps: Maps::new(task) }, work)
}

fn any(search: &Search, work: &mut Work) -> Result<Vec<Point>, NoLayout> {
    let most = search.task.groups().iter().map(|group| group.len().div_ceil(2)).sum();
    let (all_free, _) = structures(search.task, most);
    let mut goal = Goal::Any(None);
    // With every symmetry broken there is one structure that holds all others: the one with every part free.
    let Some(units) =
        all_free.iter().find(|units| units.iter().all(|unit| matches!(unit.mode, Mode::Free | Mode::Pinned)))
    else {
        return Err(NoLayout::NotFound);
    };
    let end = search.look(units, 0, (None, &mut goal), &mut BTreeMap::new(), work);
    match (goal, end) {
        (Goal::Any(Some(places)), _) => Ok(places),
        (_, End::Searched) => Err(NoLayout::Proven),
        _ => Err(NoLayout::NotFound),
    }
}

/// The best layout.
///
/// # Errors
/// That there is none, or that none was found within the budget.
pub fn solve(task: &Task, work: &mut Work) -> Result<Layout, NoLayout> {
    let all_proven = Proven { symmetry: true, clearance: true, eye: true };
    if task.parts.is_empty() {
        let merit = Merit { broken: 0, clearance: 0, from_eye: 0 };
        return Ok(Layout { places: Vec::new(), merit, proven: all_proven });
    }
    let search = Search { task, maps: Maps::new(task) };
    let fallback = work.with_part(work.left / 4, |work| any(&search, work));
    if fallback == Err(NoLayout::Proven) {
        return Err(NoLayout::Proven);
    }
    let mut proven = all_proven;
    let Some((broken, list, complete, first, places)) = fewest_broken(&search, &mut proven, work) else {
        let places = fallback?;
        let merit = task.merit(&places).ok_or(NoLayout::NotFound)?;
        return Ok(Layout { places, merit, proven: Proven { symmetry: false, clearance: false, eye: false } });
    };
    debug_assert_eq!(task.broken(&places), broken);
    proven.clearance = complete;
    proven.eye = complete;

    // The clearance climbs: what one structure reached, the next has to surpass.
    let (mut clearance, mut best) = search.raised(&list[first], places, work);
    let climb = work.left / 3 * 2;
    work.with_part(climb, |work| {
        let order = std::iter::once(first).chain((0..list.len()).filter(|place| *place != first));
        let mut kept = (0, BTreeMap::new());
        for structure in order {
            loop {
                if kept.0 != clearance + 1 {
                    kept = (clearance + 1, BTreeMap::new());
                }
                let mut goal = Goal::Any(None);
                match search.look(&list[structure], clearance + 1, (None, &mut goal), &mut kept.1, work) {
                    End::Searched => break,
                    End::Spent => {
                        proven.clearance = false;
                        return;
                    }
                    End::Found => {}
                }
                let Goal::Any(Some(places)) = goal else { break };
                (clearance, best) = search.raised(&list[structure], places, work);
            }
        }
    });

    let mut goal = Goal::Eye(task.from_eye(&best), None);
    let mut kept = BTreeMap::new();
    for units in &list {
        if search.look(units, clearance, (None, &mut goal), &mut kept, work) == End::Spent {
            proven.eye = false;
            break;
        }
    }
    if let Goal::Eye(_, Some(places)) = goal {
        best = places;
    }
    proven.clearance &= proven.symmetry;
    proven.eye &= proven.clearance;
    let places = spread(task, best);
    let merit = task.merit(&places).ok_or(NoLayout::NotFound)?;
    Ok(Layout { places, merit, proven })
}

/// The structures that break the fewest symmetries, whether these are all, the first that holds a layout, and that.
type Fewest = (usize, Vec<Vec<Unit>>, bool, usize, Vec<Point>);

fn fewest_broken(search: &Search, proven: &mut Proven, work: &mut Work) -> Option<Fewest> {
    let most: usize = search.task.groups().iter().map(|group| group.len().div_ceil(2)).sum();
    let mut kept = BTreeMap::new();
    for broken in 0..=most {
        let (list, complete) = structures(search.task, broken);
        let mut all_searched = complete;
        // A number that cannot be settled leaves half of the budget to the next.
        let found = work.with_part(work.left / 2, |work| {
            for (place, units) in list.iter().enumerate() {
                let mut goal = Goal::Any(None);
                let share = (work.left / 4).max(1000);
                let end = work.with_part(share, |work| search.look(units, 0, (None, &mut goal), &mut kept, work));
                all_searched &= end != End::Spent;
                if let Goal::Any(Some(places)) = goal {
                    return Some((place, places));
                }
            }
            None
        });
        if let Some((place, places)) = found {
            return Some((broken, list, complete, place, places));
        }
        proven.symmetry &= all_searched;
    }
    None
}
