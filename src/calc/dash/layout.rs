//! The layout of a dash as it is told: from what was asked, over the search, to places, gaps, depths and lists.

use super::face::{Area, Face, Neighbour, Point, between};
use super::mends::mends;
use super::openings::{advice, cut_list, old_openings};
use super::task::{Part, Task};
use super::{NoLayout, Work, domain, solve};
use crate::basis::{BasisRef, Ledger, Value};
use crate::rules::table::dash::{DEPTH, EYE, GAP, GAP_ROUND, GAP_SLANT};
use crate::shop::item::{CutOut, DashMount, Outline};
use crate::spec::dash_input::{DashAreaInput, DashFaceInput, DashPointInput};
use crate::spec::input::Side;
use crate::take_off::{
    DashDepth, DashGap, DashKeptClear, DashLayout, DashPart, DashPlace, DashProof, DashSize, DashSymmetry,
};
use crate::units::{Length, LengthUnit, LengthValue, Name};

/// Depth that a part is taken to need where nobody has said.
const USUAL_DEPTH: Length = Length::from_nanometres(101_600_000);
/// Gap that is asked for where nobody has said.
const USUAL_GAP: Length = Length::from_nanometres(12_700_000);
/// More places than this are not looked at one by one: the grid is made wider.
const CELLS_MOST: i64 = 60_000;

/// A part that is to go into a dash.
#[derive(Clone, Debug)]
pub struct AskedPart {
    /// Its key.
    pub key: Name,
    /// What it is.
    pub description: String,
    /// How it is mounted.
    pub mount: DashMount,
    /// Where its middle has to be.
    pub centre: Option<DashPointInput>,
}

/// A dash to be laid out. Face and mounts are checked.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// Its identifier.
    pub id: Name,
    /// Its station.
    pub station: Option<Name>,
    /// Its face.
    pub face: &'a DashFaceInput,
    /// What goes into it.
    pub parts: Vec<AskedPart>,
    /// Unit of the shop or boat; a dash is written in inches or millimetres.
    pub unit: LengthUnit,
    /// Steps of work that the search may take.
    pub work: u64,
}

/// The unit that a dash is written in.
pub fn unit_of(unit: LengthUnit) -> LengthUnit {
    if matches!(unit, LengthUnit::In | LengthUnit::Ft) { LengthUnit::In } else { LengthUnit::Mm }
}

/// A length as a dash has it: 1/32 in is told in full.
pub(super) fn told(nm: i64, unit: LengthUnit) -> LengthValue {
    let value = Length::from_nanometres(nm).to(unit);
    LengthValue { value: (value * 1e5).round() / 1e5, unit }
}

/// Millimetres, for inputs of rules.
pub(super) fn mm(nm: i64) -> f64 {
    nm as f64 / 1e6
}

pub(super) fn nm(value: LengthValue) -> i64 {
    value.length().unwrap_or(Length::ZERO).nanometres()
}

/// Width and height of a cut-out.
pub(super) fn cut_size(cut_out: &CutOut) -> Point {
    match cut_out {
        CutOut::Rectangle { width, height, .. } => (nm(*width), nm(*height)),
        CutOut::Round { diameter } => (nm(*diameter), nm(*diameter)),
    }
}

/// Width and height of an outline.
pub(super) fn outline_size(outline: &Outline) -> Point {
    match outline {
        Outline::Rectangle { width, height } => (nm(*width), nm(*height)),
        Outline::Round { diameter } => (nm(*diameter), nm(*diameter)),
    }
}

/// A face in whole numbers, with where its left end is.
pub(super) struct Frame {
    pub(super) face: Face,
    /// The left end, from the centre line.
    pub(super) left: i64,
    /// What the keep-outs of the face are called, in their order.
    pub(super) names: Vec<String>,
}

impl Frame {
    fn new(input: &DashFaceInput) -> Self {
        let (width, height) = (input.width.map_or(0, nm), input.height.map_or(0, nm));
        let corners: Vec<Point> = if input.corners.is_empty() {
            vec![(0, 0), (width, 0), (width, height), (0, height)]
        } else {
            input.corners.iter().map(|corner| (nm(corner.from_left), nm(corner.from_bottom))).collect()
        };
        let ends = Face { corners, keep_outs: Vec::new() };
        let ((from, _), (to, _)) = ends.bounds();
        let line = input.centre_line.map_or((from + to) / 2, nm);
        let mut frame = Frame { face: ends, left: -line, names: Vec::new() };
        frame.face.corners.iter_mut().for_each(|corner| corner.0 -= line);
        let kept = input.keep_outs.iter().chain(&input.reserved).map(|kept| (&kept.name, &kept.area));
        let openings = input.old_openings.iter().filter(|opening| opening.keep_clear);
        for (name, area) in kept.chain(openings.map(|opening| (&opening.name, &opening.area))) {
            frame.face.keep_outs.push(frame.area(area));
            frame.names.push(name.clone());
        }
        frame
    }

    pub(super) fn area(&self, area: &DashAreaInput) -> Area {
        match area {
            DashAreaInput::Rectangle { from_left, from_bottom, width, height } => {
                let low = (self.left + nm(*from_left), nm(*from_bottom));
                Area::Rectangle(low, (low.0 + nm(*width), low.1 + nm(*height)))
            }
            DashAreaInput::Round { from_left, from_bottom, diameter } => {
                Area::Round((self.left + nm(*from_left), nm(*from_bottom)), nm(*diameter) / 2)
            }
        }
    }
}

/// A place, told from the centre line and the lower edge.
pub(super) fn place(at: Point, unit: LengthUnit) -> DashPlace {
    let side = match at.0.signum() {
        -1 => Some(Side::Port),
        1 => Some(Side::Starboard),
        _ => None,
    };
    DashPlace { from_centre: told(at.0.abs(), unit), side, from_lower_edge: told(at.1, unit) }
}

pub(super) fn size((width, height): Point, unit: LengthUnit) -> DashSize {
    DashSize { width: told(width, unit), height: told(height, unit) }
}

/// Lays a dash out.
pub fn layout(asked: &Asked, ledger: &mut Ledger) -> DashLayout {
    let unit = unit_of(asked.unit);
    let frame = Frame::new(asked.face);
    let mut parts: Vec<&AskedPart> = asked.parts.iter().collect();
    let area = |part: &AskedPart| {
        let (width, height) = outline_size(&part.mount.outline);
        i128::from(width) * i128::from(height)
    };
    // The largest first: so the order in which parts are sent makes no difference.
    parts.sort_by(|a, b| area(b).cmp(&area(a)).then_with(|| a.key.cmp(&b.key)));
    let (task, step_because) = task(asked.face, &frame, &parts, unit);
    let mut work = Work::steps(asked.work);
    let solved = solve(&task, &mut work);
    let ((left, bottom), (right, top)) = frame.face.bounds();
    let mut told_parts: Vec<DashPart> = parts
        .iter()
        .map(|part| DashPart {
            key: part.key.clone(),
            mark: String::new(),
            description: part.description.clone(),
            part: part.mount.part,
            cut_out: part.mount.cut_out.clone(),
            outline: part.mount.outline.clone(),
            centre: None,
            symmetry: None,
            nearest: None,
            depth: asked.face.depth.map(|depth| depth_of(part, nm(depth), unit, ledger)),
        })
        .collect();
    let mut least = None;
    let mut order: Vec<usize> = (0..parts.len()).collect();
    let points: Vec<Point> = solved
        .as_ref()
        .map_or_else(|_| Vec::new(), |layout| layout.places.iter().map(|place| task.point(*place)).collect());
    if let Ok(layout) = &solved {
        for (i, part) in told_parts.iter_mut().enumerate() {
            let (gap, found) = nearest(i, &task, &points, &frame, &parts, (unit, ledger));
            if least.is_none_or(|(least, _)| gap < least) {
                least = Some((gap, found.basis));
            }
            part.centre = Some(place(points[i], unit));
            part.symmetry = Some(symmetry(i, &task, &layout.places, &parts));
            part.nearest = Some(found);
        }
        // Marks go as one reads: row by row from above, from left to right.
        order.sort_by_key(|&i| (-points[i].1, points[i].0));
    }
    for (n, &i) in order.iter().enumerate() {
        told_parts[i].mark = mark(n);
    }
    let lacks = |part: &DashPart| part.depth.as_ref().is_some_and(|depth| depth.lacking.value > 0.0);
    let deep = !told_parts.iter().any(lacks);
    let placed = solved.is_ok();
    let no_layout = solved.as_ref().err().copied();
    let openings = old_openings(asked.face, &frame, &parts, &points, (unit, ledger));
    let weight: i128 = task.parts.iter().map(|part| i128::from(part.weight)).sum();
    let from_eye = solved.as_ref().ok().filter(|_| weight > 0).map(|layout| {
        let weighed = layout.merit.from_eye as f64 / 1e6;
        let inputs = [("weighed_mm3", Value::Number(weighed)), ("area_mm2", Value::Number(weight as f64))];
        ((layout.merit.from_eye / weight) as i64, ledger.note(&EYE, &inputs, weighed / weight as f64))
    });
    let proof = solved.as_ref().map_or(
        DashProof { fit: no_layout == Some(NoLayout::Proven), symmetry: false, clearance: false, eye_height: false },
        |layout| DashProof {
            fit: true,
            symmetry: layout.proven.symmetry,
            clearance: layout.proven.clearance,
            eye_height: layout.proven.eye,
        },
    );
    let spent = work.spent();
    let mends = mends(&task, no_layout, &parts, asked.face, &told_parts, unit);
    let cuts = cut_list(&told_parts, &order, &points, (unit, ledger));
    let mut told_parts: Vec<Option<DashPart>> = told_parts.into_iter().map(Some).collect();
    DashLayout {
        id: asked.id.clone(),
        station: asked.station.clone(),
        size: size((right - left, top - bottom), unit),
        corners: frame.face.corners.iter().map(|corner| place(*corner, unit)).collect(),
        depth: asked.face.depth.map(|depth| told(nm(depth), unit)),
        material: asked.face.material,
        fits: placed && deep,
        placed,
        proven: if placed { proof.symmetry && proof.clearance && proof.eye_height } else { proof.fit },
        proof,
        work: spent,
        step: told(task.step, unit),
        step_because,
        broken_symmetries: solved.as_ref().ok().map(|layout| layout.merit.broken as u32),
        least_clearance: least.map(|(gap, _)| told(gap, unit)),
        least_clearance_basis: least.map(|(_, basis)| basis),
        from_eye_height: from_eye.map(|(far, _)| told(far, unit)),
        from_eye_height_basis: from_eye.map(|(_, basis)| basis),
        eye_height: told(task.eye, unit),
        clearance: told(task.between, unit),
        edge_clearance: told(task.edge, unit),
        parts: order.iter().filter_map(|&i| told_parts[i].take()).collect(),
        cut_list: cuts,
        old_openings: openings,
        kept_clear: kept_clear(asked.face, &frame, unit),
        mends,
        advice: advice(asked.face.material, !asked.parts.is_empty()),
        without_dash_data: Vec::new(),
    }
}

/// The task in whole numbers, and why its grid is as wide as it is.
fn task(input: &DashFaceInput, frame: &Frame, parts: &[&AskedPart], unit: LengthUnit) -> (Task, String) {
    let ((_, _), (_, top)) = frame.face.bounds();
    let inches = unit == LengthUnit::In;
    // Sixteenths of an inch, or millimetres: what a rule shows.
    let steps: [i64; 5] = if inches {
        [1_587_500, 3_175_000, 6_350_000, 12_700_000, 25_400_000]
    } else {
        [1_000_000, 2_000_000, 5_000_000, 10_000_000, 20_000_000]
    };
    let mut kinds: Vec<&DashMount> = Vec::new();
    let alike = |mount: &'_ DashMount, kinds: &[&DashMount]| {
        let same = |other: &&DashMount| {
            other.part == mount.part
                && outline_size(&other.outline) == outline_size(&mount.outline)
                && std::mem::discriminant(&other.outline) == std::mem::discriminant(&mount.outline)
                && std::mem::discriminant(&other.cut_out) == std::mem::discriminant(&mount.cut_out)
                && cut_size(&other.cut_out) == cut_size(&mount.cut_out)
        };
        kinds.iter().position(same)
    };
    let mut of_kinds = Vec::new();
    for part in parts {
        let kind = alike(&part.mount, &kinds).unwrap_or_else(|| {
            kinds.push(&part.mount);
            kinds.len() - 1
        });
        of_kinds.push(kind);
    }
    let build = |step: i64| Task {
        face: frame.face.clone(),
        step,
        between: input.clearance.map_or(USUAL_GAP.nanometres(), nm),
        edge: input.edge_clearance.map_or(USUAL_GAP.nanometres(), nm),
        eye: input.eye_height.map_or(top, nm),
        parts: parts
            .iter()
            .zip(&of_kinds)
            .map(|(part, kind)| {
                let (width, height) = outline_size(&part.mount.outline);
                let nearest = |nm: i64| (nm + step / 2).div_euclid(step);
                Part {
                    half: ((width + 1) / 2, (height + 1) / 2),
                    alike: *kind,
                    weight: ((width / 1_000_000) * (height / 1_000_000)).max(1),
                    pinned: part.centre.map(|at| (nearest(frame.left + nm(at.from_left)), nearest(nm(at.from_bottom)))),
                }
            })
            .collect(),
    };
    let finest = build(steps[0]);
    let rule = if inches { "a sixteenth of an inch" } else { "a millimetre" };
    if finest.face.is_plain() {
        return (finest, format!("{rule} is what a rule shows, and what a rigger marks"));
    }
    let chosen = steps.into_iter().map(build).find(|task| domain::cells(task) <= CELLS_MOST);
    let task = chosen.unwrap_or_else(|| build(steps[4]));
    let because = if task.step == steps[0] {
        format!("{rule} is what a rule shows, and what a rigger marks")
    } else {
        format!(
            "on this shape every place of every part is looked at, and on a finer grid there would be more than {CELLS_MOST} of them"
        )
    };
    (task, because)
}

fn depth_of(part: &AskedPart, available: i64, unit: LengthUnit, ledger: &mut Ledger) -> DashDepth {
    let needed = part.mount.depth_behind.map_or(USUAL_DEPTH.nanometres(), nm);
    let lacking = (mm(needed) - mm(available)).max(0.0);
    let inputs = [("needed_mm", Value::Number(mm(needed))), ("available_mm", Value::Number(mm(available)))];
    DashDepth {
        needed: told(needed, unit),
        usual: part.mount.depth_behind.is_none(),
        available: told(available, unit),
        lacking: told((needed - available).max(0), unit),
        basis: ledger.note(&DEPTH, &inputs, lacking),
    }
}

/// What is nearest to a part, and how near.
fn nearest(
    i: usize,
    task: &Task,
    points: &[Point],
    frame: &Frame,
    parts: &[&AskedPart],
    (unit, ledger): (LengthUnit, &mut Ledger),
) -> (i64, DashGap) {
    let (at, half) = (points[i], task.parts[i].half);
    let others = (0..points.len()).filter(|j| *j != i);
    let other = others.map(|j| (between(at, half, points[j], task.parts[j].half), j)).min();
    let (room, neighbour) = frame.face.nearest(at, half);
    if let Some((gap, j)) = other.filter(|(gap, _)| *gap <= room) {
        let basis = box_gap(at, half, points[j], task.parts[j].half, ledger);
        return (gap, DashGap { gap: told(gap, unit), to: parts[j].key.to_string(), basis });
    }
    let (to, basis) = match neighbour {
        Neighbour::KeepOut(k) => {
            let basis = match frame.face.keep_outs[k] {
                Area::Rectangle(low, high) => {
                    let (middle, size) = (((low.0 + high.0), (low.1 + high.1)), (high.0 - low.0, high.1 - low.1));
                    box_gap(at, half, (middle.0 / 2, middle.1 / 2), (size.0 / 2, size.1 / 2), ledger)
                }
                Area::Round(middle, radius) => round_gap(at, half, middle, radius, ledger),
            };
            (frame.names[k].clone(), basis)
        }
        Neighbour::Edge(e) => edge_gap(at, half, room, (&frame.face.corners, e), ledger),
    };
    (room, DashGap { gap: told(room, unit), to, basis })
}

fn box_gap(at: Point, half: Point, other: Point, other_half: Point, ledger: &mut Ledger) -> BasisRef {
    let (across, along) = (mm((at.0 - other.0).abs()), mm((at.1 - other.1).abs()));
    let (wide, high) = (mm(half.0 + other_half.0), mm(half.1 + other_half.1));
    let inputs = [
        ("across_mm", Value::Number(across)),
        ("half_widths_mm", Value::Number(wide)),
        ("along_mm", Value::Number(along)),
        ("half_heights_mm", Value::Number(high)),
    ];
    ledger.note(&GAP, &inputs, (across - wide).max(along - high))
}

fn round_gap(at: Point, half: Point, middle: Point, radius: i64, ledger: &mut Ledger) -> BasisRef {
    let (across, along) = ((at.0 - middle.0).abs() - half.0, (at.1 - middle.1).abs() - half.1);
    let (near, far, r) = (mm(across.min(along)), mm(across.max(along)), mm(radius));
    let gap = if far - near >= r { far - r } else { (far + near - (2.0 * r * r - (far - near).powi(2)).sqrt()) / 2.0 };
    let inputs = [("near_mm", Value::Number(near)), ("far_mm", Value::Number(far)), ("radius_mm", Value::Number(r))];
    ledger.note(&GAP_ROUND, &inputs, gap)
}

/// What an edge is called, and why the gap to it is so.
fn edge_gap(
    at: Point,
    half: Point,
    room: i64,
    (corners, e): (&[Point], usize),
    ledger: &mut Ledger,
) -> (String, BasisRef) {
    let (a, b) = (corners[e], corners[(e + 1) % corners.len()]);
    let middle = ((a.0 + b.0) / 2, (a.1 + b.1) / 2);
    let name = if a.1 == b.1 {
        if middle.1 > at.1 { "upper edge" } else { "lower edge" }
    } else if a.0 == b.0 {
        if middle.0 > at.0 { "starboard edge" } else { "port edge" }
    } else {
        "slanted edge"
    };
    // A straight edge is a box without width or height; a corner is one without either.
    let nearest = (at.0.clamp(a.0.min(b.0), a.0.max(b.0)), at.1.clamp(a.1.min(b.1), a.1.max(b.1)));
    let straight = a.0 == b.0 || a.1 == b.1;
    let point = if straight {
        Some(nearest)
    } else {
        [a, b].into_iter().find(|corner| (between(at, half, *corner, (0, 0)) - room).abs() <= 1)
    };
    if let Some(point) = point {
        return (name.to_owned(), box_gap(at, half, point, (0, 0), ledger));
    }
    let (run, rise) = (mm(b.0 - a.0), mm(b.1 - a.1));
    let (across, up) = (mm(at.0 - a.0), mm(at.1 - a.1));
    let (wide, high) = (mm(half.0), mm(half.1));
    let gap = ((run * up - rise * across).abs() - rise.abs() * wide - run.abs() * high) / (run.abs() + rise.abs());
    let inputs = [
        ("run_mm", Value::Number(run)),
        ("rise_mm", Value::Number(rise)),
        ("across_mm", Value::Number(across)),
        ("up_mm", Value::Number(up)),
        ("half_width_mm", Value::Number(wide)),
        ("half_height_mm", Value::Number(high)),
    ];
    (name.to_owned(), ledger.note(&GAP_SLANT, &inputs, gap))
}

fn symmetry(i: usize, task: &Task, places: &[Point], parts: &[&AskedPart]) -> DashSymmetry {
    if task.parts[i].pinned.is_some() {
        return DashSymmetry::Pinned {};
    }
    let image = (-places[i].0, places[i].1);
    let twin = |j: &usize| {
        places[*j] == image && task.parts[*j].alike == task.parts[i].alike && task.parts[*j].pinned.is_none()
    };
    match (0..places.len()).find(twin) {
        Some(j) if j == i => DashSymmetry::Centred {},
        Some(j) => DashSymmetry::Mirrors { part: parts[j].key.clone() },
        None => DashSymmetry::Broken {},
    }
}

/// A, B … Z, AA, AB …
fn mark(n: usize) -> String {
    let letter = |n: usize| char::from(b'A' + (n % 26) as u8);
    if n < 26 { letter(n).to_string() } else { format!("{}{}", letter(n / 26 - 1), letter(n)) }
}

fn kept_clear(input: &DashFaceInput, frame: &Frame, unit: LengthUnit) -> Vec<DashKeptClear> {
    let outs = input.keep_outs.iter().map(|kept| (kept, false));
    let reserved = input.reserved.iter().map(|kept| (kept, true));
    outs.chain(reserved)
        .map(|(kept, reserved)| {
            let area = frame.area(&kept.area);
            let (middle, of) = middle_and_size(area);
            let round = matches!(area, Area::Round(..));
            DashKeptClear {
                name: kept.name.clone(),
                centre: place(middle, unit),
                size: size(of, unit),
                round,
                reserved,
            }
        })
        .collect()
}

/// Middle and size of the box round an area.
pub(super) fn middle_and_size(area: Area) -> (Point, Point) {
    match area {
        Area::Rectangle(low, high) => (((low.0 + high.0) / 2, (low.1 + high.1) / 2), (high.0 - low.0, high.1 - low.1)),
        Area::Round(middle, radius) => (middle, (2 * radius, 2 * radius)),
    }
}
