//! Heights that are nearest to eye height while every part keeps above those it stands above.
//!
//! The sum of the distances is convex, and what must hold are differences, so that the least is found by steps down from
//! the highest heights: each lowers a set of parts together, the one that gains most, and where none gains nothing can.

/// A part that stands above another by at least so many steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Above {
    pub(super) upper: usize,
    pub(super) lower: usize,
    pub(super) least: i64,
}

/// More parts than this are not tried in all sets: they stay as high as they can.
const SETS_MOST: usize = 12;

/// The heights, in steps of the grid. The ranges must be narrowed by what stands above what.
pub(super) fn highest_merit(ranges: &[(i64, i64)], weights: &[i128], above: &[Above], step: i64, eye: i64) -> Vec<i64> {
    let count = ranges.len();
    let mut heights: Vec<i64> = ranges.iter().map(|range| range.1).collect();
    if count > SETS_MOST {
        return heights;
    }
    let far = |height: i64| i128::from((height * step - eye).abs());
    loop {
        // What lowering a part by one step costs, and which others go down with it.
        let cost: Vec<i128> = (0..count).map(|i| weights[i] * (far(heights[i] - 1) - far(heights[i]))).collect();
        let mut with = vec![0u32; count];
        for Above { upper, lower, least } in above {
            if heights[*upper] - heights[*lower] == *least {
                with[*upper] |= 1 << lower;
            }
        }
        if cost.iter().all(|cost| *cost >= 0) {
            return heights;
        }
        let can = |set: u32| {
            (0..count).filter(|i| set & (1 << i) != 0).all(|i| heights[i] > ranges[i].0 && with[i] & !set == 0)
        };
        let gain = |set: u32| (0..count).filter(|i| set & (1 << i) != 0).map(|i| cost[i]).sum::<i128>();
        let best = (1..1u32 << count)
            .map(|set| (gain(set), set))
            .filter(|(gain, _)| *gain < 0)
            .filter(|(_, set)| can(*set))
            .min();
        let Some((_, set)) = best else { return heights };
        // As far as nothing of that changes.
        let inside = |i: usize| set & (1 << i) != 0;
        let down = (0..count).filter(|i| inside(*i)).map(|i| {
            let (until_eye, over) = ((heights[i] * step - eye).div_euclid(step), heights[i] * step > eye);
            let same = if over { until_eye.max(1) } else { i64::MAX };
            same.min(heights[i] - ranges[i].0)
        });
        let apart = above.iter().filter(|a| inside(a.upper) && !inside(a.lower));
        let apart = apart.map(|a| heights[a.upper] - heights[a.lower] - a.least);
        let by = down.chain(apart).min().unwrap_or(1).max(1);
        for (i, height) in heights.iter_mut().enumerate() {
            if inside(i) {
                *height -= by;
            }
        }
    }
}
