//! The plan of a boat as SVG: its outline from above with the bow to the right, its stations with their names, its runs
//! by access, and routes laid over them.
//!
//! It draws what it is given: a layout, a layout that a spec has changed, or a boat of stated stations and runs.

mod key;
mod labels;
mod outline;
mod style;

use super::svg::{Anchor, Svg};
use calc::routes::Route;
use calc::spec::boat::{Hull, Run, Station};
use calc::spec::input::{Access, Known, LengthSource};
use calc::spec::layouts::form;
use calc::units::{Length, LengthUnit};
use labels::{place, wrapped};
use outline::Shape;
use style::STYLE;

/// What a plan shows.
#[derive(Clone, Copy, Debug)]
pub struct Plan<'a> {
    /// Heading; the form of the hull unless given.
    pub title: Option<&'a str>,
    /// The hull.
    pub hull: &'a Hull,
    /// Its stations; one without a position is listed below the drawing.
    pub stations: &'a [Station],
    /// Its runs, by the places of their stations.
    pub runs: &'a [Run],
    /// Routes to be laid over the runs.
    pub routes: &'a [Route],
    /// Unit that lengths are written in.
    pub unit: LengthUnit,
}

/// Width of the drawing, pixels; its height follows from the beam.
const WIDTH: f64 = 1200.0;
/// Where the transom stands, and how long the hull is drawn, pixels.
const TRANSOM: f64 = 110.0;
const LENGTH: f64 = 980.0;
/// Height of a line of a label, and its width a character, pixels.
const LINE: f64 = 15.0;
const CHARACTER: f64 = 7.1;
/// Longest line of a label, characters.
const LABEL_LINE: usize = 13;
/// Longest label, lines; the rest of a very long name is left to the lists.
const LABEL_LINES: usize = 3;
/// Room for the heading, and for the key below, pixels.
const HEADING: f64 = 64.0;
const KEY: f64 = 92.0;
/// Room between the hull and the nearest row of labels, and from row to row, pixels.
const AIR: f64 = 26.0;
const ROW: f64 = LINE * LABEL_LINES as f64 + 8.0;

/// Draws a plan. The same plan gives the same text.
pub fn svg(plan: &Plan) -> String {
    let top = label_rows(plan, true);
    let bottom = label_rows(plan, false);
    let rows = |labels: &[Label]| labels.iter().map(|label| label.row + 1).max().unwrap_or(0) as f64;
    let scale = LENGTH / plan.hull.length.m();
    let half = plan.hull.beam.m() * scale / 2.0;
    let above = HEADING + rows(&top) * ROW + AIR;
    let height = above + 2.0 * half + AIR + rows(&bottom) * ROW + KEY;
    let sheet = Sheet { plan, scale, half, centre: above + half };
    let name = form(plan.hull.form).name;
    let mut svg = Svg::new((WIDTH, height), plan.title.unwrap_or(name), STYLE);
    svg.rectangle("page", (0.0, 0.0), (WIDTH, height), 0.0);
    sheet.heading(&mut svg, name);
    sheet.boat(&mut svg);
    for route in plan.routes {
        for &run in &route.runs {
            if let Some(points) = plan.runs.get(run).and_then(|run| sheet.run(run)) {
                svg.line("route", &points, false);
            }
        }
    }
    for run in plan.runs {
        if let Some(points) = sheet.run(run) {
            svg.line(access_class(run.access), &points, false);
        }
    }
    for (labels, up) in [(&top, true), (&bottom, false)] {
        sheet.leaders(&mut svg, labels, up);
    }
    for station in plan.stations {
        if let Some(at) = sheet.station(station) {
            let class = match station.petrol_vapour {
                Known::Yes => "station vapour-yes",
                Known::No => "station vapour-no",
                Known::Unknown => "station vapour-unknown",
            };
            svg.circle(class, at, 5.5);
        }
    }
    for (labels, up) in [(&top, true), (&bottom, false)] {
        sheet.labels(&mut svg, labels, up);
    }
    sheet.key(&mut svg, height - KEY);
    svg.finish()
}

/// A label of a station: its lines, and where it stands.
struct Label {
    station: usize,
    lines: Vec<String>,
    x: f64,
    row: usize,
}

/// Labels of the stations that go above the hull, or below it. Those on the centre line take turns.
fn label_rows(plan: &Plan, up: bool) -> Vec<Label> {
    let scale = LENGTH / plan.hull.length.m();
    let mut placed: Vec<(f64, f64, usize)> = plan
        .stations
        .iter()
        .enumerate()
        .filter_map(|(i, station)| station.position.map(|p| (p.x.m() * scale + TRANSOM, p.y.m() * scale, i)))
        .collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.total_cmp(&a.1)).then(a.2.cmp(&b.2)));
    let mut turn = true;
    placed.retain(|(_, y, _)| {
        let above = if y.abs() < 1.0 {
            turn = !turn;
            turn
        } else {
            *y < 0.0
        };
        above == up
    });
    let lines: Vec<Vec<String>> = placed
        .iter()
        .map(|(_, _, i)| {
            let mut lines = wrapped(&plan.stations[*i].name, LABEL_LINE);
            lines.truncate(LABEL_LINES);
            lines
        })
        .collect();
    let width = |lines: &Vec<String>| lines.iter().map(|l| l.chars().count()).max().unwrap_or(0) as f64 * CHARACTER;
    let wanted: Vec<(f64, f64)> = placed.iter().zip(&lines).map(|((x, ..), lines)| (*x, width(lines))).collect();
    let places = place(&wanted, (8.0, WIDTH - 8.0));
    placed
        .into_iter()
        .zip(lines)
        .zip(places)
        .map(|(((_, _, station), lines), place)| Label { station, lines, x: place.x, row: place.row })
        .collect()
}

fn access_class(access: Access) -> &'static str {
    match access {
        Access::Open => "run open",
        Access::Tube => "run tube-run",
        Access::Gunwale => "run gunwale",
        Access::Blind => "run blind",
    }
}

/// The sheet: a plan, and where it stands on the paper.
struct Sheet<'a> {
    plan: &'a Plan<'a>,
    /// Pixels a metre.
    scale: f64,
    /// Half the beam, pixels.
    half: f64,
    /// The centre line, pixels from the top.
    centre: f64,
}

impl Sheet<'_> {
    /// A point by shares of hull length and beam.
    fn at(&self, (u, v): (f64, f64)) -> (f64, f64) {
        (TRANSOM + u * LENGTH, self.centre + v * 2.0 * self.half)
    }

    /// The middle of a station's mark.
    fn station(&self, station: &Station) -> Option<(f64, f64)> {
        let position = station.position?;
        Some((TRANSOM + position.x.m() * self.scale, self.centre + position.y.m() * self.scale))
    }

    fn heading(&self, svg: &mut Svg, name: &str) {
        let Plan { hull, unit, .. } = *self.plan;
        let size = |length: Length| length.written(unit).to_string();
        let sizes = format!("{} by {}, depth {}", size(hull.length), size(hull.beam), size(hull.depth));
        let title = self.plan.title.map_or_else(|| format!("{name}, {sizes}"), str::to_owned);
        svg.text("title", (24.0, 30.0), Anchor::Start, &title);
        if self.plan.title.is_some() {
            svg.text("small", (WIDTH - 24.0, 30.0), Anchor::End, &format!("{name}, {sizes}"));
        }
        if self.plan.runs.iter().any(|run| run.source == LengthSource::Estimated) {
            svg.text(
                "note",
                (24.0, 52.0),
                Anchor::Start,
                "Estimated lengths: measure before cutting. Not to be built from.",
            );
        }
    }

    fn boat(&self, svg: &mut Svg) {
        let hull_form = self.plan.hull.form;
        let points = |shape: &[(f64, f64)]| -> Vec<(f64, f64)> { shape.iter().map(|p| self.at(*p)).collect() };
        for (class, line) in outline::outlines(hull_form) {
            svg.line(class, &points(&line), true);
        }
        for shape in outline::deck(hull_form) {
            match shape {
                Shape::Plate(class, a, b, round) => {
                    svg.rectangle(class, self.at(*a), self.at(*b), round * 2.0 * self.half);
                }
                Shape::Line(class, line) => svg.line(class, &points(line), false),
                Shape::Ring(class, line) => svg.line(class, &points(line), true),
                Shape::Round(class, middle, radius) => svg.circle(class, self.at(*middle), radius * 2.0 * self.half),
                Shape::Inset(class, from, to, share) => {
                    let side = outline::side(hull_form, *from, *to, *share);
                    let other: Vec<_> = side.iter().map(|(u, v)| (*u, -v)).collect();
                    svg.line(class, &points(&side), false);
                    svg.line(class, &points(&other), false);
                }
                Shape::Trunk(class, from, to, share) => {
                    let side = outline::side(hull_form, *from, *to, *share);
                    let other = side.iter().rev().map(|(u, v)| (*u, -v));
                    let ring: Vec<_> = side.iter().copied().chain(other).collect();
                    svg.line(class, &points(&ring), true);
                }
            }
        }
    }

    /// The line of a run: straight, or along the side of the hull where it lies under the gunwale.
    fn run(&self, run: &Run) -> Option<Vec<(f64, f64)>> {
        let [a, b] = [run.a, run.b].map(|place| self.plan.stations.get(place));
        let (a, b) = (self.station(a?)?, self.station(b?)?);
        let hull_form = self.plan.hull.form;
        let u = |x: f64| (x - TRANSOM) / LENGTH;
        let slender = outline::outlines(hull_form).len() > 1;
        if run.access != Access::Gunwale || (a.0 - b.0).abs() < 0.12 * LENGTH || slender {
            return Some(vec![a, b]);
        }
        let off = |y: f64| y - self.centre;
        let outer = if off(a.1).abs() > off(b.1).abs() { a.1 } else { b.1 };
        let sign = if off(outer) < 0.0 { -1.0 } else { 1.0 };
        let along = outline::side(hull_form, u(a.0), u(b.0), 0.93);
        let mut line = vec![a];
        line.extend(along.into_iter().map(|(u, v)| self.at((u, sign * v))));
        line.push(b);
        Some(line)
    }

    /// The height at which leaders turn upright, and the base line of a row's first line of text.
    fn edge(&self, up: bool) -> f64 {
        if up { self.centre - self.half - AIR / 2.0 } else { self.centre + self.half + AIR / 2.0 }
    }

    fn leaders(&self, svg: &mut Svg, labels: &[Label], up: bool) {
        for label in labels {
            let Some(mark) = self.station(&self.plan.stations[label.station]) else { continue };
            let edge = self.edge(up);
            let row = label.row as f64 * ROW;
            let end = if up { edge - AIR / 2.0 - row + 3.0 } else { edge + AIR / 2.0 + row - 3.0 };
            svg.line("leader", &[mark, (label.x, edge), (label.x, end)], false);
        }
    }

    fn labels(&self, svg: &mut Svg, labels: &[Label], up: bool) {
        for label in labels {
            let row = label.row as f64 * ROW;
            for (i, line) in label.lines.iter().enumerate() {
                let y = if up {
                    self.edge(true) - AIR / 2.0 - row - LINE * (label.lines.len() - 1 - i) as f64
                } else {
                    self.edge(false) + AIR / 2.0 + row + LINE * i as f64 + 10.0
                };
                svg.text("label", (label.x, y), Anchor::Middle, line);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use calc::spec::input::{HullForm, Propulsion};
    use calc::spec::layouts;

    /// The corners of a label's block of text, left, top, right, bottom.
    fn block(sheet: &Sheet, label: &Label, up: bool) -> (f64, f64, f64, f64) {
        let widest = label.lines.iter().map(|line| line.chars().count()).max().unwrap_or(0) as f64 * CHARACTER / 2.0;
        let row = label.row as f64 * ROW;
        let high = label.lines.len() as f64 * LINE;
        let (top, bottom) = if up {
            let bottom = sheet.edge(true) - AIR / 2.0 - row;
            (bottom - high, bottom)
        } else {
            let top = sheet.edge(false) + AIR / 2.0 + row;
            (top, top + high)
        };
        (label.x - widest, top, label.x + widest, bottom)
    }

    #[test]
    fn every_station_has_a_mark_and_a_label_that_no_other_covers_on_small_and_large_boats() {
        for hull_form in HullForm::ALL {
            let table = form(hull_form);
            for (length, share) in [(table.length_ft.0, table.beam_share.1), (table.length_ft.1, table.beam_share.0)] {
                let (length, beam) = (Length::feet(length), Length::feet(length * share));
                let hull = layouts::hull(hull_form, length, beam, None, LengthUnit::Ft).expect("a usual hull");
                let stations = layouts::stations(&hull, Propulsion::Outboard);
                let runs = layouts::runs(&hull, Propulsion::Outboard, &stations, &BTreeSet::new());
                let plan = Plan {
                    title: None,
                    hull: &hull,
                    stations: &stations,
                    runs: &runs,
                    routes: &[],
                    unit: LengthUnit::Ft,
                };
                let drawn = svg(&plan);
                assert_eq!(drawn.matches("class=\"station vapour").count(), stations.len() + 3, "{hull_form:?}");
                let sheet = Sheet { plan: &plan, scale: LENGTH / length.m(), half: 300.0, centre: 500.0 };
                for up in [true, false] {
                    let labels = label_rows(&plan, up);
                    let blocks: Vec<_> = labels.iter().map(|label| block(&sheet, label, up)).collect();
                    for (i, a) in blocks.iter().enumerate() {
                        assert!(a.0 >= 0.0 && a.2 <= WIDTH, "{hull_form:?}: {:?} is off the paper", labels[i].lines);
                        for b in &blocks[i + 1..] {
                            let covers = a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3;
                            assert!(!covers, "{hull_form:?}: {:?} is covered", labels[i].lines);
                        }
                    }
                }
                let told = label_rows(&plan, true).len() + label_rows(&plan, false).len();
                assert_eq!(told, stations.len());
            }
        }
    }

    /// Two marks on one another could not be told apart.
    #[test]
    fn no_mark_covers_another() {
        for hull_form in HullForm::ALL {
            let table = form(hull_form);
            let (length, beam) =
                (Length::feet(table.length_ft.0), Length::feet(table.length_ft.0 * table.beam_share.0));
            let hull = layouts::hull(hull_form, length, beam, None, LengthUnit::Ft).expect("a usual hull");
            let stations = layouts::stations(&hull, Propulsion::Outboard);
            let marks: Vec<(f64, f64)> = stations
                .iter()
                .filter_map(|station| station.position)
                .map(|p| (p.x.m() * LENGTH / length.m(), p.y.m() * LENGTH / length.m()))
                .collect();
            for (i, a) in marks.iter().enumerate() {
                for (j, b) in marks.iter().enumerate().skip(i + 1) {
                    let apart = (a.0 - b.0).hypot(a.1 - b.1);
                    assert!(apart > 13.0, "{hull_form:?}: {} and {}", stations[i].id, stations[j].id);
                }
            }
        }
    }
}
