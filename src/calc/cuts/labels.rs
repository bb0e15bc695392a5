//! Which piece is cut from which stock length: a plan knows lengths only, and pieces have labels.

use std::collections::VecDeque;

use super::{Cut, Plan};

/// Stock pieces that are cut alike, label by label.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabelledCut {
    /// Place of their kind; `None` for what is bought to measure.
    pub kind: Option<usize>,
    /// Place of the row of pieces, and how many of it are cut from one; rows in the order that they were given in.
    pub take: Vec<(usize, u32)>,
    /// How many stock pieces are cut so.
    pub times: u32,
}

/// Hands the pieces of each row out to a plan. `rows` are the rows of each demand of the task: place and number of
/// pieces, in the order in which they are to be handed out.
pub fn hand_out(plan: &Plan, rows: &[Vec<(usize, u32)>]) -> Vec<LabelledCut> {
    let mut left: Vec<VecDeque<(usize, u32)>> = rows.iter().map(|rows| rows.iter().copied().collect()).collect();
    let mut labelled = Vec::new();
    for Cut { kind, take, times } in &plan.cuts {
        let mut times = *times;
        while times > 0 {
            // As long as the first row of each length has enough for whole stock pieces, they are cut alike.
            let alike =
                take.iter().map(|&(demand, count)| left[demand].front().map_or(1, |row| (row.1 / count).max(1)));
            let alike = alike.min().unwrap_or(1).min(times);
            let mut cuts = Vec::new();
            for &(demand, count) in take {
                if alike > 1 {
                    cuts.extend(taken(&mut left[demand], count * alike).into_iter().map(|(row, n)| (row, n / alike)));
                } else {
                    cuts.extend(taken(&mut left[demand], count));
                }
            }
            labelled.push(LabelledCut { kind: Some(*kind), take: cuts, times: alike });
            times -= alike;
        }
    }
    let measured: Vec<(usize, u32)> =
        plan.measured.iter().enumerate().flat_map(|(demand, &count)| taken(&mut left[demand], count)).collect();
    if !measured.is_empty() {
        labelled.push(LabelledCut { kind: None, take: measured, times: 1 });
    }
    labelled
}

/// So many pieces from the first rows.
fn taken(rows: &mut VecDeque<(usize, u32)>, mut count: u32) -> Vec<(usize, u32)> {
    let mut taken = Vec::new();
    while count > 0
        && let Some(row) = rows.front_mut()
    {
        let part = row.1.min(count);
        taken.push((row.0, part));
        row.1 -= part;
        count -= part;
        if row.1 == 0 {
            rows.pop_front();
        }
    }
    taken
}
