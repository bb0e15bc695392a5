//! Openings: the drill and cut list, what becomes of old openings, and what to mind at the work.

use super::face::{Area, Point};
use super::layout::{AskedPart, Frame, cut_size, middle_and_size, mm, nm, outline_size, place, size, told};
use crate::basis::{BasisRef, Ledger, Value};
use crate::rules::table::dash::{PLATE, SAWN};
use crate::shop::item::CutOut;
use crate::spec::dash_input::{DashFaceInput, DashMaterial};
use crate::take_off::{DashCut, DashOldOpening, DashPart, OldOpeningFate};
use crate::units::{LengthUnit, Name};

/// What is left on each side to be filed away, in inches and in millimetres.
const TO_FILE: (i64, i64) = (793_750, 1_000_000);
/// Drill for corners that are square in the end, in inches and in millimetres.
const SQUARE_CORNER: (i64, i64) = (6_350_000, 6_000_000);
/// How far a plate reaches beyond what it covers.
const BEYOND: (i64, i64) = (25_400_000, 25_000_000);

fn of(unit: LengthUnit, pair: (i64, i64)) -> i64 {
    if unit == LengthUnit::In { pair.0 } else { pair.1 }
}

/// The drill and cut list, in order of the marks.
pub(super) fn cut_list(
    parts: &[DashPart],
    order: &[usize],
    points: &[Point],
    (unit, ledger): (LengthUnit, &mut Ledger),
) -> Vec<DashCut> {
    let placed = order.iter().filter_map(|&i| Some((&parts[i], points.get(i)?)));
    placed.map(|(part, at)| cut(part, *at, unit, ledger)).collect()
}

fn cut(part: &DashPart, at: Point, unit: LengthUnit, ledger: &mut Ledger) -> DashCut {
    let cut_out = part.cut_out.clone();
    let (width, height) = cut_size(&cut_out);
    let (wide, high) = (told(width, unit), told(height, unit));
    let mut row = DashCut {
        mark: part.mark.clone(),
        part: part.key.clone(),
        centre: place(at, unit),
        sawn: None,
        corner_drill: None,
        corner_holes: None,
        steps: Vec::new(),
        basis: Vec::new(),
        cut_out: cut_out.clone(),
    };
    let CutOut::Rectangle { corner_radius, .. } = cut_out else {
        row.steps = vec![
            "drill a pilot hole at the middle".to_owned(),
            format!(
                "cut with a hole saw of {wide}, the first turns slowly, and stop where the laminate or coat changes"
            ),
            "break the edge by hand, try the part, and seal the bare edge".to_owned(),
        ];
        return row;
    };
    let file = of(unit, TO_FILE);
    let radius = corner_radius.map_or(0, nm);
    let square = radius == 0;
    let drill = if square { of(unit, SQUARE_CORNER) } else { 2 * radius };
    // A corner that is drilled touches both sides; where it is filed square afterwards it stays within what is sawn.
    let inset = if square { drill / 2 + file } else { radius };
    let holes = ((width / 2 - inset).max(0), (height / 2 - inset).max(0));
    let sawn = ((width - 2 * file).max(file), (height - 2 * file).max(file));
    let mut note = |cut_out: i64| -> BasisRef {
        let inputs = [("cut_out_mm", Value::Number(mm(cut_out))), ("to_file_mm", Value::Number(mm(file)))];
        ledger.note(&SAWN, &inputs, mm(cut_out) - 2.0 * mm(file))
    };
    row.basis = vec![note(width), note(height)];
    let (across, up) = (told(holes.0, unit), told(holes.1, unit));
    row.steps = vec![
        format!(
            "drill the four corners {}, their middles {across} across and {up} in height from the middle of the opening",
            told(drill, unit)
        ),
        format!("saw {} by {}, inside the line from hole to hole", told(sawn.0, unit), told(sawn.1, unit)),
        format!("file to {wide} by {high}{}, trying the part often", if square { " with square corners" } else { "" }),
        "seal the bare edge".to_owned(),
    ];
    row.sawn = Some(size(sawn, unit));
    row.corner_drill = Some(told(drill, unit));
    row.corner_holes = Some(size(holes, unit));
    row
}

/// A box by its corners.
type Bounds = (Point, Point);

fn around((x, y): Point, (width, height): Point) -> Bounds {
    ((x - width / 2, y - height / 2), (x + (width + 1) / 2, y + (height + 1) / 2))
}

fn overlap(a: Bounds, b: Bounds) -> bool {
    a.0.0 < b.1.0 && b.0.0 < a.1.0 && a.0.1 < b.1.1 && b.0.1 < a.1.1
}

fn union(a: Bounds, b: Bounds) -> Bounds {
    ((a.0.0.min(b.0.0), a.0.1.min(b.0.1)), (a.1.0.max(b.1.0), a.1.1.max(b.1.1)))
}

/// Whether an old opening lies within the new cut-out of a part.
fn swallows(cut_out: &CutOut, at: Point, old: Area) -> bool {
    let (low, high) = match old {
        Area::Rectangle(low, high) => (low, high),
        Area::Round(middle, radius) => around(middle, (2 * radius, 2 * radius)),
    };
    let (width, height) = cut_size(cut_out);
    match cut_out {
        CutOut::Rectangle { corner_radius, .. } => {
            let new = around(at, (width, height));
            let radius = corner_radius.map_or(0, nm);
            let inside = new.0.0 <= low.0 && new.0.1 <= low.1 && high.0 <= new.1.0 && high.1 <= new.1.1;
            // Corners of the old opening must not stick out of the rounded ones of the new.
            let in_corner = |(x, y): Point| {
                let across = (x - at.0).abs() - (width / 2 - radius);
                let up = (y - at.1).abs() - (height / 2 - radius);
                let far = i128::from(across).pow(2) + i128::from(up).pow(2);
                across <= 0 || up <= 0 || far <= i128::from(radius).pow(2)
            };
            let round = matches!(old, Area::Round(..));
            inside && (round || [low, high, (low.0, high.1), (high.0, low.1)].into_iter().all(in_corner))
        }
        CutOut::Round { .. } => {
            let reach = |(x, y): Point| ((x - at.0) as f64).hypot((y - at.1) as f64);
            let far = match old {
                Area::Round(middle, radius) => reach(middle) + radius as f64,
                Area::Rectangle(..) => {
                    [low, high, (low.0, high.1), (high.0, low.1)].into_iter().map(reach).fold(0.0, f64::max)
                }
            };
            far <= width as f64 / 2.0
        }
    }
}

/// What becomes of each old opening.
pub(super) fn old_openings(
    input: &DashFaceInput,
    frame: &Frame,
    parts: &[&AskedPart],
    points: &[Point],
    (unit, ledger): (LengthUnit, &mut Ledger),
) -> Vec<DashOldOpening> {
    let outlines: Vec<Bounds> =
        parts.iter().zip(points).map(|(part, at)| around(*at, outline_size(&part.mount.outline))).collect();
    input
        .old_openings
        .iter()
        .map(|opening| {
            let area = frame.area(&opening.area);
            let (middle, of_old) = middle_and_size(area);
            let old = around(middle, of_old);
            let over: Vec<usize> = (0..outlines.len()).filter(|&i| overlap(outlines[i], old)).collect();
            let mut told_opening = DashOldOpening {
                name: opening.name.clone(),
                centre: place(middle, unit),
                size: size(of_old, unit),
                round: matches!(area, Area::Round(..)),
                fate: OldOpeningFate::KeptClear,
                parts: Vec::new(),
                plate: None,
                plate_centre: None,
                basis: Vec::new(),
                advice: "stays as it is; nothing new lies over it".to_owned(),
            };
            if opening.keep_clear {
                return told_opening;
            }
            if let [only] = over[..]
                && swallows(&parts[only].mount.cut_out, points[only], area)
            {
                told_opening.fate = OldOpeningFate::Swallowed;
                told_opening.parts = vec![parts[only].key.clone()];
                told_opening.advice = format!("lies within the new cut-out of {} and goes with it", parts[only].key);
                return told_opening;
            }
            plate(&mut told_opening, (old, &over), &outlines, parts, (unit, ledger));
            told_opening
        })
        .collect()
}

/// A plate over an old opening and all parts that stand on it.
fn plate(
    opening: &mut DashOldOpening,
    (old, over): (Bounds, &[usize]),
    outlines: &[Bounds],
    parts: &[&AskedPart],
    (unit, ledger): (LengthUnit, &mut Ledger),
) {
    let beyond = of(unit, BEYOND);
    let wider = |of: Bounds| ((of.0.0 - beyond, of.0.1 - beyond), (of.1.0 + beyond, of.1.1 + beyond));
    let mut on: Vec<usize> = over.to_vec();
    let mut covered = on.iter().fold(old, |covered, &i| union(covered, outlines[i]));
    // Who is touched by the plate stands on it too.
    while let Some(next) = (0..outlines.len()).find(|i| !on.contains(i) && overlap(wider(covered), outlines[*i])) {
        on.push(next);
        covered = union(covered, outlines[next]);
    }
    on.sort_unstable();
    let (low, high) = covered;
    let mut note = |covered: i64| -> BasisRef {
        let inputs = [("covered_mm", Value::Number(mm(covered))), ("beyond_mm", Value::Number(mm(beyond)))];
        ledger.note(&PLATE, &inputs, mm(covered) + 2.0 * mm(beyond))
    };
    opening.basis = vec![note(high.0 - low.0), note(high.1 - low.1)];
    let of_plate = (high.0 - low.0 + 2 * beyond, high.1 - low.1 + 2 * beyond);
    opening.plate = Some(size(of_plate, unit));
    opening.plate_centre = Some(place(((low.0 + high.0) / 2, (low.1 + high.1) / 2), unit));
    let (wide, tall) = (told(of_plate.0, unit), told(of_plate.1, unit));
    opening.parts = on.iter().map(|&i| parts[i].key.clone()).collect();
    let keys: Vec<&str> = opening.parts.iter().map(Name::as_str).collect();
    if on.is_empty() {
        opening.fate = OldOpeningFate::CoverPlate;
        opening.advice = format!(
            "nothing new covers it: close it with a plate of at least {wide} by {tall}, bedded all round and trimmed where the dash ends"
        );
    } else {
        opening.fate = OldOpeningFate::OverlayPlate;
        opening.advice = format!(
            "does not lie within one new cut-out: lay an overlay plate of at least {wide} by {tall} over it, bedded all round and trimmed where the dash ends, and cut the openings of {} in the plate",
            keys.join(", ")
        );
    }
}

/// What to mind at the work.
pub(super) fn advice(material: DashMaterial, cuts: bool) -> Vec<String> {
    if !cuts {
        return Vec::new();
    }
    let mut advice = vec![
        "Lay every template on the dash and look at it from the helm before anything is cut: the maker's own template goes before these figures.",
        "Look behind the dash before each cut: wiring, hoses, steering and stiffeners. Batteries are disconnected while cutting.",
        "Mask the face, mark the centre line first and measure everything from it. Saw under size and file to fit: what is cut away does not come back.",
    ];
    advice.push(match material {
        DashMaterial::Fiberglass => "Cutting glass-fibre laminate makes dust that harms lungs and eyes: respirator, goggles, gloves, dust extraction, and open wiring and electronics covered. Cut with a fine blade from the gel-coat side, and seal bare core.",
        DashMaterial::Aluminum => "Aluminum: oil the saw, remove every chip behind the dash before power is on, and keep unlike metals apart with sealant or bushes. Goggles.",
        DashMaterial::PlasticSheet => "Plastic sheet melts behind a fast blade: coarse teeth, slow strokes, clamps on both sides. Goggles.",
        DashMaterial::Acrylic => "Acrylic cracks from sharp corners and heat: leave the film on, round every corner, drill slowly with a blunt-ground bit, and support it from behind. Goggles.",
    });
    advice.into_iter().map(str::to_owned).collect()
}
