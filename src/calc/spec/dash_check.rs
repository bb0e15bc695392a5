//! What makes no sense of a face, of a part or of an area: each a fault, all of them told.

use crate::findings::Fault;
use crate::shop::item::{CutOut, DashMount, Outline};
use crate::spec::dash_input::{DashAreaInput, DashFaceInput};
use crate::units::{Length, LengthUnit, LengthValue};

/// A point in whole nanometres.
type Point = (i64, i64);

/// Larger than any dash, and far below what could overflow.
const LARGEST: Length = Length::from_nanometres(10_000_000_000);
/// Smaller than anything that is mounted.
const SMALLEST: Length = Length::from_nanometres(1_000_000);

fn sized(value: LengthValue, at: String, faults: &mut Vec<Fault>) -> Length {
    match value.length() {
        Some(length) if (SMALLEST..=LARGEST).contains(&length) => length,
        _ => {
            let (least, most) = (SMALLEST.written(LengthUnit::Mm), LARGEST.written(LengthUnit::M));
            let message =
                format!("{value} is no size here: it must be from {least} to {most}. Check the number and its unit");
            faults.push(Fault::new(at, message));
            SMALLEST
        }
    }
}

fn placed(value: LengthValue, at: String, faults: &mut Vec<Fault>) -> Length {
    match value.length() {
        Some(length) if length <= LARGEST => length,
        _ => {
            let most = LARGEST.written(LengthUnit::M);
            faults.push(Fault::new(
                at,
                format!("{value} is beyond every dash: it must be from 0 to {most}. Check the number and its unit"),
            ));
            Length::ZERO
        }
    }
}

/// What is wrong with how a thing goes into a dash.
pub fn check_mount(mount: &DashMount, at: &str, faults: &mut Vec<Fault>) {
    let before = faults.len();
    let cut = match &mount.cut_out {
        CutOut::Rectangle { width, height, corner_radius } => {
            let size = (
                sized(*width, format!("{at}/cut_out/width"), faults),
                sized(*height, format!("{at}/cut_out/height"), faults),
            );
            if let Some(radius) = corner_radius {
                let radius_nm = placed(*radius, format!("{at}/cut_out/corner_radius"), faults);
                if radius_nm * 2 > size.0.min(size.1) {
                    let message = format!(
                        "a corner radius of {radius} is more than half of the cut-out: check it, or state a round hole"
                    );
                    faults.push(Fault::new(format!("{at}/cut_out/corner_radius"), message));
                }
            }
            size
        }
        CutOut::Round { diameter } => {
            let diameter = sized(*diameter, format!("{at}/cut_out/diameter"), faults);
            (diameter, diameter)
        }
    };
    let seen = match &mount.outline {
        Outline::Rectangle { width, height } => (
            sized(*width, format!("{at}/outline/width"), faults),
            sized(*height, format!("{at}/outline/height"), faults),
        ),
        Outline::Round { diameter } => {
            let diameter = sized(*diameter, format!("{at}/outline/diameter"), faults);
            (diameter, diameter)
        }
    };
    if faults.len() == before && (seen.0 < cut.0 || seen.1 < cut.1) {
        let message = "the outline is smaller than the cut-out, which it has to cover: check both, or swap them";
        faults.push(Fault::new(format!("{at}/outline"), message));
    }
    if let Some(depth) = mount.depth_behind {
        placed(depth, format!("{at}/depth_behind"), faults);
    }
}

fn check_area(area: &DashAreaInput, at: &str, faults: &mut Vec<Fault>) {
    let (left, bottom) = match area {
        DashAreaInput::Rectangle { from_left, from_bottom, width, height } => {
            sized(*width, format!("{at}/width"), faults);
            sized(*height, format!("{at}/height"), faults);
            (from_left, from_bottom)
        }
        DashAreaInput::Round { from_left, from_bottom, diameter } => {
            sized(*diameter, format!("{at}/diameter"), faults);
            (from_left, from_bottom)
        }
    };
    placed(*left, format!("{at}/from_left"), faults);
    placed(*bottom, format!("{at}/from_bottom"), faults);
}

/// What is wrong with a face.
pub fn check_face(face: &DashFaceInput, at: &str, faults: &mut Vec<Fault>) {
    let rectangle = face.width.is_some() || face.height.is_some();
    match (face.width, face.height) {
        (Some(width), Some(height)) if face.corners.is_empty() => {
            sized(width, format!("{at}/width"), faults);
            sized(height, format!("{at}/height"), faults);
        }
        _ if rectangle || face.corners.is_empty() => {
            let message = "state either the width and the height of the dash, or its corners";
            faults.push(Fault::new(at, message));
        }
        _ => check_corners(face, at, faults),
    }
    for (field, value) in [
        ("depth", face.depth),
        ("centre_line", face.centre_line),
        ("clearance", face.clearance),
        ("edge_clearance", face.edge_clearance),
        ("eye_height", face.eye_height),
    ] {
        if let Some(value) = value {
            placed(value, format!("{at}/{field}"), faults);
        }
    }
    let kept = [("keep_outs", &face.keep_outs), ("reserved", &face.reserved)];
    for (field, list) in kept {
        for (i, kept) in list.iter().enumerate() {
            check_area(&kept.area, &format!("{at}/{field}/{i}/area"), faults);
        }
    }
    for (i, opening) in face.old_openings.iter().enumerate() {
        check_area(&opening.area, &format!("{at}/old_openings/{i}/area"), faults);
    }
    let clear = face.centre_line.and_then(LengthValue::length);
    if let (Some(line), Some(wide)) = (clear, face.width.and_then(LengthValue::length))
        && line > wide
    {
        let message = "the centre line is beyond the right end of the dash: it is measured from the left end";
        faults.push(Fault::new(format!("{at}/centre_line"), message));
    }
}

fn check_corners(face: &DashFaceInput, at: &str, faults: &mut Vec<Fault>) {
    let before = faults.len();
    let corners: Vec<Point> = face
        .corners
        .iter()
        .enumerate()
        .map(|(i, corner)| {
            let x = placed(corner.from_left, format!("{at}/corners/{i}/from_left"), faults);
            let y = placed(corner.from_bottom, format!("{at}/corners/{i}/from_bottom"), faults);
            (x.nanometres(), y.nanometres())
        })
        .collect();
    if faults.len() > before {
        return;
    }
    if corners.len() < 3 {
        let message = "a dash has three corners or more: list them in turn, or state width and height";
        faults.push(Fault::new(format!("{at}/corners"), message));
        return;
    }
    let count = corners.len();
    let edge = |i: usize| (corners[i], corners[(i + 1) % count]);
    for i in 0..count {
        if edge(i).0 == edge(i).1 {
            faults.push(Fault::new(
                format!("{at}/corners/{i}"),
                "the next corner is at the same place: take one of them out",
            ));
        }
        for j in i + 1..count {
            let neighbours = j == i + 1 || (i == 0 && j == count - 1);
            if !neighbours && meet(edge(i), edge(j)) {
                let message = "the edge from here crosses or touches another: list the corners in turn, as one walks round the dash";
                faults.push(Fault::new(format!("{at}/corners/{i}"), message));
            }
        }
    }
    let twice: i128 = (0..count).map(|i| turn((0, 0), edge(i).0, edge(i).1)).sum();
    if twice == 0 {
        faults.push(Fault::new(format!("{at}/corners"), "these corners lie on one line: a dash has a height"));
    }
}

fn turn(a: Point, b: Point, c: Point) -> i128 {
    i128::from(b.0 - a.0) * i128::from(c.1 - a.1) - i128::from(c.0 - a.0) * i128::from(b.1 - a.1)
}

/// Whether two segments have a point in common.
fn meet((a, b): (Point, Point), (c, d): (Point, Point)) -> bool {
    let within = |a: Point, b: Point, p: Point| {
        (a.0.min(b.0)..=a.0.max(b.0)).contains(&p.0) && (a.1.min(b.1)..=a.1.max(b.1)).contains(&p.1)
    };
    let turns = [turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)];
    let crosses = turns[0].signum() * turns[1].signum() < 0 && turns[2].signum() * turns[3].signum() < 0;
    let on = [(a, b, c), (a, b, d), (c, d, a), (c, d, b)];
    crosses || turns.iter().zip(on).any(|(turn, (from, to, point))| *turn == 0 && within(from, to, point))
}
