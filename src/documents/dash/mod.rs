//! The layout of a dash as SVG: its face at true proportion as seen from the helm, each part with its outline, cut-out and
//! mark, places from the centre line and the lower edge, and a table to cut by. Lines and hatches tell things apart, so that
//! it reads in black and white.

mod rulers;
mod style;
mod table;

use super::svg::{Anchor, Svg};
use calc::shop::item::{CutOut, Outline};
use calc::spec::input::Side;
use calc::take_off::{DashLayout, DashPart, DashPlace, DashSize, OldOpeningFate};
use calc::units::{LengthUnit, LengthValue};
use style::STYLE;

/// Width of the sheet, pixels; its height follows from the dash.
const WIDTH: f64 = 1200.0;
/// Room on both sides of the face, for the ruler of heights, pixels.
const SIDE: f64 = 110.0;
/// Room above the face, pixels.
const HEADING: f64 = 92.0;
/// Highest face, pixels: a narrow one is drawn smaller.
const HIGHEST: f64 = 720.0;
/// Width of a character of the usual text, pixels.
const CHARACTER: f64 = 7.0;

/// Draws a dash. The same layout gives the same text.
pub fn svg(dash: &DashLayout) -> String {
    let sheet = Sheet::new(dash);
    let rulers = sheet.rulers();
    let rows = table::rows(dash);
    let height = rulers.below + rows.height() + 24.0;
    let title = format!("Dash {}", dash.id);
    let mut svg = Svg::new((WIDTH, height), &title, STYLE);
    svg.rectangle("page", (0.0, 0.0), (WIDTH, height), 0.0);
    sheet.heading(&mut svg);
    let corners: Vec<(f64, f64)> = dash.corners.iter().map(|corner| sheet.at(corner)).collect();
    svg.line("face", &corners, true);
    sheet.kept_clear(&mut svg);
    sheet.old_openings(&mut svg);
    rulers.extensions(&mut svg);
    let (top, bottom) = (sheet.top - 16.0, sheet.bottom + 16.0);
    svg.line("centre", &[(sheet.centre, top), (sheet.centre, bottom)], false);
    svg.text("small", (sheet.centre, top - 4.0), Anchor::Middle, "centre line");
    for part in &dash.parts {
        sheet.part(&mut svg, part);
    }
    rulers.draw(&mut svg);
    rows.draw(&mut svg, rulers.below);
    svg.finish()
}

/// Millimetres of a length.
fn mm(length: LengthValue) -> f64 {
    length.value * length.unit.nanometres() as f64 / 1e6
}

/// A length as a rule shows it: inches with fractions down to 1/32, millimetres as they are.
fn on_a_rule(length: LengthValue) -> String {
    if length.unit != LengthUnit::In {
        return length.to_string();
    }
    let parts = length.value * 32.0;
    let whole = parts.round();
    if (parts - whole).abs() > 0.002 {
        return format!("{:.3} in", length.value);
    }
    let (inches, mut over, mut of) = (whole as i64 / 32, whole as i64 % 32, 32);
    while over != 0 && over % 2 == 0 {
        (over, of) = (over / 2, of / 2);
    }
    match (inches, over) {
        (inches, 0) => format!("{inches} in"),
        (0, over) => format!("{over}/{of} in"),
        (inches, over) => format!("{inches} {over}/{of} in"),
    }
}

/// A size as it is written.
fn by(size: (LengthValue, LengthValue)) -> String {
    format!("{} x {}", on_a_rule(size.0), on_a_rule(size.1))
}

/// Width and height of what is seen of a part.
fn outline(part: &DashPart) -> (f64, f64) {
    match part.outline {
        Outline::Rectangle { width, height } => (mm(width), mm(height)),
        Outline::Round { diameter } => (mm(diameter), mm(diameter)),
    }
}

/// The sheet: a dash, and where it stands on the paper.
struct Sheet<'a> {
    dash: &'a DashLayout,
    /// Pixels a millimetre.
    scale: f64,
    /// The centre line, pixels from the left.
    centre: f64,
    /// Upper and lower end of the face, pixels from the top.
    top: f64,
    bottom: f64,
    /// Left end of the face, pixels from the left.
    left: f64,
    /// The lower edge that heights are told from, pixels from the top.
    zero: f64,
}

impl<'a> Sheet<'a> {
    fn new(dash: &'a DashLayout) -> Self {
        let across = |place: &DashPlace| {
            let far = mm(place.from_centre);
            if place.side == Some(Side::Port) { -far } else { far }
        };
        let ends = |of: &dyn Fn(&DashPlace) -> f64| {
            let all = dash.corners.iter().map(of);
            (all.clone().fold(f64::INFINITY, f64::min), all.fold(f64::NEG_INFINITY, f64::max))
        };
        let (port, starboard) = ends(&across);
        let (low, high) = ends(&|place| mm(place.from_lower_edge));
        let scale = ((WIDTH - 2.0 * SIDE) / (starboard - port).max(1.0)).min(HIGHEST / (high - low).max(1.0));
        let left = (WIDTH - (starboard - port) * scale) / 2.0;
        let zero = HEADING + high * scale;
        Sheet { dash, scale, centre: left - port * scale, top: HEADING, bottom: zero - low * scale, left, zero }
    }

    /// A place as a point of the paper.
    fn at(&self, place: &DashPlace) -> (f64, f64) {
        let far = mm(place.from_centre) * self.scale;
        let x = if place.side == Some(Side::Port) { self.centre - far } else { self.centre + far };
        (x, self.zero - mm(place.from_lower_edge) * self.scale)
    }

    /// Opposite corners of a box round a place.
    fn around(&self, place: &DashPlace, (width, height): (f64, f64)) -> ((f64, f64), (f64, f64)) {
        let (x, y) = self.at(place);
        let (w, h) = (width * self.scale / 2.0, height * self.scale / 2.0);
        ((x - w, y - h), (x + w, y + h))
    }

    fn heading(&self, svg: &mut Svg) {
        let dash = self.dash;
        let depth =
            dash.depth.map_or("depth not stated".to_owned(), |depth| format!("{} deep behind", on_a_rule(depth)));
        let title = format!("Dash {}: {} face, {depth}", dash.id, by((dash.size.width, dash.size.height)));
        svg.text("title", (24.0, 30.0), Anchor::Start, &title);
        let said = if !dash.placed {
            "DOES NOT FIT: the parts are listed, none is placed".to_owned()
        } else {
            let symmetry = match dash.broken_symmetries {
                Some(0) | None => "symmetrical".to_owned(),
                Some(1) => "one symmetry broken".to_owned(),
                Some(n) => format!("{n} symmetries broken"),
            };
            let gap = dash.least_clearance.map_or(String::new(), |gap| format!(", least gap {}", on_a_rule(gap)));
            let proven = if dash.proven { ", proven the best" } else { ", not proven the best" };
            let deep = if dash.fits { "" } else { "; DEPTH BEHIND IS NOT ENOUGH" };
            format!(
                "Places to the middle of each part, from the centre line and the lower edge; {symmetry}{gap}{proven}{deep}"
            )
        };
        svg.text("note", (24.0, 52.0), Anchor::Start, &said);
    }

    fn kept_clear(&self, svg: &mut Svg) {
        for kept in &self.dash.kept_clear {
            let class = if kept.reserved { "reserved" } else { "keep-out" };
            self.shape(svg, class, (&kept.centre, kept.size, kept.round), !kept.reserved);
            let (x, y) = self.at(&kept.centre);
            self.wrapped(svg, (x, y), &kept.name, mm(kept.size.width) * self.scale);
        }
    }

    fn old_openings(&self, svg: &mut Svg) {
        for opening in &self.dash.old_openings {
            let hatched = opening.fate == OldOpeningFate::KeptClear;
            self.shape(svg, "old", (&opening.centre, opening.size, opening.round), hatched);
            if let (Some(plate), Some(centre)) = (opening.plate, &opening.plate_centre) {
                self.shape(svg, "plate", (centre, plate, false), false);
            }
            let (_, high) = self.around(&opening.centre, (mm(opening.size.width), mm(opening.size.height)));
            svg.text("small halo", (self.at(&opening.centre).0, high.1 + 12.0), Anchor::Middle, &opening.name);
        }
    }

    /// An area, hatched where nothing may be.
    fn shape(&self, svg: &mut Svg, class: &str, (centre, size, round): (&DashPlace, DashSize, bool), hatched: bool) {
        let (low, high) = self.around(centre, (mm(size.width), mm(size.height)));
        if round {
            svg.circle(class, self.at(centre), (high.0 - low.0) / 2.0);
        } else {
            svg.rectangle(class, low, high, 0.0);
        }
        if hatched {
            let spans = hatches(low, high, round);
            for (from, to) in spans {
                svg.line("hatch", &[from, to], false);
            }
        }
    }

    fn part(&self, svg: &mut Svg, part: &DashPart) {
        let Some(centre) = &part.centre else { return };
        let (x, y) = self.at(centre);
        let (low, high) = self.around(centre, outline(part));
        match part.outline {
            Outline::Round { .. } => svg.circle("part", (x, y), (high.0 - low.0) / 2.0),
            Outline::Rectangle { .. } => svg.rectangle("part", low, high, 3.0),
        }
        match &part.cut_out {
            CutOut::Round { diameter } => svg.circle("cut", (x, y), mm(*diameter) * self.scale / 2.0),
            CutOut::Rectangle { width, height, corner_radius } => {
                let (low, high) = self.around(centre, (mm(*width), mm(*height)));
                svg.rectangle("cut", low, high, corner_radius.map_or(0.0, |radius| mm(radius) * self.scale));
            }
        }
        let arm = 5.0;
        svg.line("cross", &[(x - arm, y), (x + arm, y)], false);
        svg.line("cross", &[(x, y - arm), (x, y + arm)], false);
        let (wide, tall) = (high.0 - low.0, high.1 - low.1);
        // The mark stands over the middle where there is room, else beside it.
        if tall > 46.0 {
            svg.text("mark", (x, y - 10.0), Anchor::Middle, &part.mark);
            let most = ((wide - 10.0) / CHARACTER) as usize;
            if tall > 70.0 && part.key.as_str().chars().count() <= most {
                svg.text("small halo", (x, y + 22.0), Anchor::Middle, part.key.as_str());
            }
        } else {
            svg.text("mark", (x + 8.0, y - 5.0), Anchor::Start, &part.mark);
        }
    }

    /// A name in the middle of an area, in lines that fit it.
    fn wrapped(&self, svg: &mut Svg, (x, y): (f64, f64), name: &str, width: f64) {
        let longest = ((width / CHARACTER) as usize).max(8);
        let mut lines: Vec<String> = Vec::new();
        for word in name.split_whitespace() {
            match lines.last_mut() {
                Some(line) if line.chars().count() + 1 + word.chars().count() <= longest => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(word.to_owned()),
            }
        }
        let first = y + 4.0 - 7.0 * (lines.len().saturating_sub(1)) as f64;
        for (i, line) in lines.iter().enumerate() {
            svg.text("small halo", (x, first + 14.0 * i as f64), Anchor::Middle, line);
        }
    }
}

/// The most lines of one hatch.
const HATCHES_MOST: f64 = 300.0;

/// Lines at 45° across a box or the circle in it.
fn hatches(low: (f64, f64), high: (f64, f64), round: bool) -> Vec<((f64, f64), (f64, f64))> {
    let (wide, tall) = (high.0 - low.0, high.1 - low.1);
    // However far what is kept clear goes beyond the face, there are no more lines than a sheet shows.
    let apart = ((wide + tall) / HATCHES_MOST).max(9.0);
    let (x, y, radius) = ((low.0 + high.0) / 2.0, (low.1 + high.1) / 2.0, wide / 2.0);
    let count = ((wide + tall) / apart).floor() as usize;
    (1..=count)
        .filter_map(|i| {
            // Points of the line have x + y = sum.
            let sum = low.0 + low.1 + apart * i as f64;
            if round {
                let off = (sum - x - y) / std::f64::consts::SQRT_2;
                let half = (radius * radius - off * off).max(0.0).sqrt() / std::f64::consts::SQRT_2;
                let middle = (x + (sum - x - y) / 2.0, y + (sum - x - y) / 2.0);
                return (half > 1.0)
                    .then_some(((middle.0 - half, middle.1 + half), (middle.0 + half, middle.1 - half)));
            }
            let from = (low.0.max(sum - high.1), (sum - low.0).min(high.1));
            let to = (high.0.min(sum - low.1), (sum - high.0).max(low.1));
            (to.0 - from.0 > 1.0).then_some((from, to))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inches_are_written_as_a_rule_shows_them() {
        let inches = |value| on_a_rule(LengthValue { value, unit: LengthUnit::In });
        assert_eq!(inches(6.4375), "6 7/16 in");
        assert_eq!(inches(0.5), "1/2 in");
        assert_eq!(inches(12.0), "12 in");
        assert_eq!(inches(3.03125), "3 1/32 in");
        assert_eq!(inches(2.4), "2.400 in");
        assert_eq!(on_a_rule(LengthValue { value: 163.5, unit: LengthUnit::Mm }), "163.5 mm");
    }

    #[test]
    fn hatches_stay_within_what_they_hatch() {
        for round in [false, true] {
            for (from, to) in hatches((10.0, 20.0), (90.0, 100.0), round) {
                for (x, y) in [from, to] {
                    let inside = (9.9..=90.1).contains(&x) && (19.9..=100.1).contains(&y);
                    assert!(inside && (!round || (x - 50.0).hypot(y - 60.0) < 40.1), "{x} {y}");
                }
            }
        }
    }
}
