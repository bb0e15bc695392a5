//! What would make everything fit: a taller or wider dash, a smaller gap, a smaller part, one part elsewhere, more depth.
//!
//! Each was tried: what is said to make it fit does. That less would not is only said as far as the budget reached.

use super::layout::{AskedPart, outline_size, told};
use super::task::Task;
use super::{NoLayout, Work, fits};
use crate::spec::dash_input::DashFaceInput;
use crate::take_off::{DashMend, DashPart};
use crate::units::LengthUnit;

/// Steps of work for each thing that is tried.
const TRY_STEPS: u64 = 3_000;
/// Parts that are tried smaller or elsewhere.
const PARTS_TRIED: usize = 12;

fn would_fit(task: &Task) -> bool {
    fits(task, &mut Work::steps(TRY_STEPS)).is_ok()
}

/// The first number of steps, from one to the most, with which it fits; for something that only gets easier.
fn first(most: i64, fits: impl Fn(i64) -> bool) -> Option<i64> {
    let mut high = 1;
    while !fits(high) {
        if high == most {
            return None;
        }
        high = (high * 2).min(most);
    }
    let mut low = high / 2 + 1;
    while low < high {
        let middle = low + (high - low) / 2;
        if fits(middle) { high = middle } else { low = middle + 1 }
    }
    Some(high)
}

/// What would mend a dash that is too small or too shallow.
pub(super) fn mends(
    task: &Task,
    no_layout: Option<NoLayout>,
    parts: &[&AskedPart],
    input: &DashFaceInput,
    told_parts: &[DashPart],
    unit: LengthUnit,
) -> Vec<DashMend> {
    let mut mends = Vec::new();
    if no_layout.is_some() {
        larger(task, unit, &mut mends);
        closer(task, unit, &mut mends);
        fewer(task, parts, unit, &mut mends);
    }
    if input.depth.is_some() {
        deeper(told_parts, &mut mends);
    }
    mends
}

fn larger(task: &Task, unit: LengthUnit, mends: &mut Vec<DashMend>) {
    let ((left, bottom), (right, top)) = task.face.bounds();
    let stretched = |by: i64, of: i64, from: i64, at: i64| {
        let far = i128::from(at - from) * i128::from(of + by) / i128::from(of.max(1));
        from + far as i64
    };
    let taller = |steps: i64| {
        let mut larger = task.clone();
        for corner in &mut larger.face.corners {
            corner.1 = stretched(steps * task.step, top - bottom, bottom, corner.1);
        }
        would_fit(&larger)
    };
    let wider = |steps: i64| {
        let mut larger = task.clone();
        for corner in &mut larger.face.corners {
            corner.0 = stretched(2 * steps * task.step, right - left, 0, corner.0);
        }
        would_fit(&larger)
    };
    if let Some(steps) = first((top - bottom) / task.step, taller) {
        let by = told(steps * task.step, unit);
        let text = format!("a dash {by} taller holds everything");
        mends.push(DashMend { change: "height".to_owned(), part: None, by: Some(by), text });
    }
    if let Some(steps) = first((right - left) / task.step / 2, wider) {
        let by = told(2 * steps * task.step, unit);
        let text = format!("a dash {by} wider, half of it on each side, holds everything");
        mends.push(DashMend { change: "width".to_owned(), part: None, by: Some(by), text });
    }
}

/// With smaller gaps than were asked for.
fn closer(task: &Task, unit: LengthUnit, mends: &mut Vec<DashMend>) {
    let most = task.between.max(task.edge) / task.step;
    let smaller = |steps: i64| {
        let less = |gap: i64| (gap - steps * task.step).max(0);
        would_fit(&Task { between: less(task.between), edge: less(task.edge), ..task.clone() })
    };
    if let Some(steps) = Some(most).filter(|most| *most > 0).and_then(|most| first(most, smaller)) {
        let by = told(steps * task.step, unit);
        let (between, edge) =
            (told((task.between - steps * task.step).max(0), unit), told((task.edge - steps * task.step).max(0), unit));
        let text = format!(
            "gaps {by} smaller than asked for, {between} between parts and {edge} to edges, let everything fit"
        );
        mends.push(DashMend { change: "clearance".to_owned(), part: None, by: Some(by), text });
    }
}

/// With one part left out, or smaller.
fn fewer(task: &Task, parts: &[&AskedPart], unit: LengthUnit, mends: &mut Vec<DashMend>) {
    let mut kinds = Vec::new();
    for (i, part) in parts.iter().enumerate().take(PARTS_TRIED) {
        if kinds.contains(&task.parts[i].alike) {
            continue;
        }
        kinds.push(task.parts[i].alike);
        let mut without = task.clone();
        without.parts.remove(i);
        if !would_fit(&without) {
            continue;
        }
        let key = &part.key;
        mends.push(DashMend {
            change: "part_elsewhere".to_owned(),
            part: Some(key.clone()),
            by: None,
            text: format!("with '{key}' somewhere else the others fit"),
        });
        let (width, height) = outline_size(&part.mount.outline);
        let narrower = |steps: i64| {
            let mut smaller = task.clone();
            let wide = (width - steps * task.step).max(1);
            let high = (i128::from(height) * i128::from(wide) / i128::from(width)) as i64;
            smaller.parts[i].half = ((wide + 1) / 2, (high + 1) / 2);
            would_fit(&smaller)
        };
        let most = width / task.step - 1;
        if let Some(steps) = Some(most).filter(|most| *most > 0).and_then(|most| first(most, narrower)) {
            let by = steps * task.step;
            let high = i128::from(height) * i128::from(width - by) / i128::from(width);
            let (wide, high) = (told(width - by, unit), told(high as i64, unit));
            let by = told(by, unit);
            let text =
                format!("in place of '{key}' one of {wide} by {high} outline fits: {by} less in width, in proportion");
            mends.push(DashMend { change: "part_size".to_owned(), part: Some(key.clone()), by: Some(by), text });
        }
    }
}

fn deeper(parts: &[DashPart], mends: &mut Vec<DashMend>) {
    for part in parts {
        let Some(depth) = part.depth.as_ref().filter(|depth| depth.lacking.value > 0.0) else { continue };
        let by = depth.lacking;
        let text = format!(
            "'{}' needs {by} more depth than the {} there: set it out on a frame of that thickness, use angled plugs if its maker has them and state the depth with them, choose a shallower one, or mount it on a bracket",
            part.key, depth.available
        );
        mends.push(DashMend { change: "depth".to_owned(), part: Some(part.key.clone()), by: Some(by), text });
    }
}
