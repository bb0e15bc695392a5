//! The layouts against what riggers reckon with, against every path there is, and against what must hold of any estimate.

use std::collections::BTreeSet;

use proptest::prelude::*;
use rigbill::calc::routes::{Route, Routes};
use rigbill::calc::spec::boat::{Hull, Position, Run, Station};
use rigbill::calc::spec::input::{HullForm, LengthSource, Propulsion};
use rigbill::calc::spec::layouts::{self, form};
use rigbill::calc::units::{Length, LengthUnit};

use super::{Row, rows};

/// A hull with its stations and runs.
struct LaidOut {
    stations: Vec<Station>,
    runs: Vec<Run>,
}

impl LaidOut {
    fn place(&self, id: &str) -> usize {
        self.stations.iter().position(|s| s.id.as_str() == id).unwrap_or_else(|| panic!("no station '{id}'"))
    }

    fn route(&self, from: usize, to: usize) -> Route {
        Routes::new(self.stations.len(), &self.runs).route(from, to).expect("every station is reached")
    }

    /// Length of the run between two neighbours.
    fn between(&self, from: &str, to: &str) -> Length {
        let (a, b) = (self.place(from), self.place(to));
        let run = self.runs.iter().find(|r| (r.a, r.b) == (a.min(b), a.max(b)));
        run.unwrap_or_else(|| panic!("no run from {from} to {to}")).length
    }
}

fn hull(hull_form: HullForm, length_ft: f64, beam_ft: f64) -> Hull {
    layouts::hull(hull_form, Length::feet(length_ft), Length::feet(beam_ft), None, LengthUnit::Ft).expect("sensible")
}

fn laid_out(hull_form: HullForm, length_ft: f64, beam_ft: f64) -> LaidOut {
    let hull = hull(hull_form, length_ft, beam_ft);
    let stations = layouts::stations(&hull, Propulsion::Outboard);
    let runs = layouts::runs(&hull, Propulsion::Outboard, &stations, &BTreeSet::new());
    LaidOut { stations, runs }
}

/// Beams of a form at a length, in feet: narrowest, middle, widest.
fn beams_ft(hull_form: HullForm, length_ft: f64) -> [f64; 3] {
    let form = form(hull_form);
    let least = (form.beam_share.0 * length_ft).max(form.beam_ft.0);
    let most = (form.beam_share.1 * length_ft).min(form.beam_ft.1).max(least);
    [least, f64::midpoint(least, most), most]
}

/// Usual sizes of a form, length and beam in feet.
fn sizes_ft(hull_form: HullForm) -> Vec<(f64, f64)> {
    let (least, most) = form(hull_form).length_ft;
    let lengths = (0..=4).map(|i| least + (most - least) * f64::from(i) / 4.0);
    lengths.flat_map(|length| beams_ft(hull_form, length).map(|beam| (length, beam))).collect()
}

fn form_of(word: &str) -> HullForm {
    HullForm::ALL.into_iter().find(|form| form.word() == word).expect("a form")
}

/// Within 15 % of what riggers reckon with (common practice), over every usual length and beam of the form.
#[test]
fn ways_are_as_long_as_riggers_reckon_them() {
    let reckoned = rows(include_str!("data/route_lengths.csv"));
    let forms: BTreeSet<HullForm> = reckoned.iter().map(|row| form_of(row.text("form"))).collect();
    assert_eq!(forms.len(), HullForm::ALL.len(), "each form is held to something");
    for row in &reckoned {
        for (length, beam) in sizes_ft(form_of(row.text("form"))) {
            let found = way(row, length, beam).ft();
            let expected = row.number("of_length") * length + row.number("of_beam") * beam + row.number("ft");
            let off = found / expected - 1.0;
            assert!(
                off.abs() <= 0.15,
                "{} by {}: {found:.1} ft, not {expected:.1} ft, at {length} by {beam}",
                row.text("form"),
                row.text("by")
            );
        }
    }
}

fn way(row: &Row, length: f64, beam: f64) -> Length {
    let boat = laid_out(form_of(row.text("form")), length, beam);
    let (from, to) = (row.text("from"), row.text("to"));
    if row.text("by").is_empty() {
        return boat.route(boat.place(from), boat.place(to)).length();
    }
    let chain: Vec<&str> = [from].into_iter().chain(row.text("by").split('|')).chain([to]).collect();
    chain.windows(2).map(|pair| boat.between(pair[0], pair[1])).sum()
}

/// The mast adds its height and 6 ft (common practice).
#[test]
fn a_mast_adds_its_height_and_six_feet() {
    for (length, beam) in sizes_ft(HullForm::SailingMonohull) {
        let boat = laid_out(HullForm::SailingMonohull, length, beam);
        let (foot, head) = (boat.place("mast_step"), boat.place("mast_head"));
        let z = |place: usize| boat.stations[place].position.expect("a layout places its stations").z.ft();
        let expected = z(head) - z(foot) + 6.0;
        let found = boat.route(foot, head).length().ft();
        assert!((found / expected - 1.0).abs() <= 0.15, "{found} ft, not {expected} ft, at {length}");
    }
}

/// 22 ft by 8.5 ft: the figures that a rigger has in his head (common practice, to the foot).
#[test]
fn a_center_console_of_22_ft_is_as_everyone_knows_it() {
    let boat = laid_out(HullForm::CenterConsole, 22.0, 8.5);
    for (from, to, ft) in [
        ("console_base", "aft_bilge", 11.0),
        ("helm", "aft_bilge", 15.0),
        ("helm", "live_well", 19.0),
        ("helm", "transducer", 18.0),
        ("helm", "bow", 16.0),
        ("helm", "t_top", 9.0),
        ("battery_bay", "outboard", 15.0),
    ] {
        let found = boat.route(boat.place(from), boat.place(to)).length().ft();
        assert!((found - ft).abs() <= 1.0, "{from} to {to}: {found} ft, not {ft} ft");
    }
}

/// Every path without a repeated station, the shortest of them kept.
fn shortest_of_all(
    runs: &[Run],
    at: usize,
    to: usize,
    length: Length,
    seen: &mut Vec<bool>,
    best: &mut Option<Length>,
) {
    if at == to {
        *best = Some(best.map_or(length, |known| known.min(length)));
        return;
    }
    seen[at] = true;
    for run in runs.iter().filter(|run| run.a == at || run.b == at) {
        let next = run.a + run.b - at;
        if !seen[next] {
            shortest_of_all(runs, next, to, length + run.length, seen, best);
        }
    }
    seen[at] = false;
}

#[test]
fn a_route_is_the_shortest_of_all_paths() {
    for hull_form in HullForm::ALL {
        let (length, beam) = sizes_ft(hull_form)[7];
        let boat = laid_out(hull_form, length, beam);
        for from in 0..boat.stations.len() {
            for to in 0..boat.stations.len() {
                let mut best = None;
                shortest_of_all(&boat.runs, from, to, Length::ZERO, &mut vec![false; boat.stations.len()], &mut best);
                assert_eq!(Some(boat.route(from, to).length()), best, "{hull_form:?} {from} {to}");
            }
        }
    }
}

/// Cable never lies straighter than straight.
#[test]
fn no_run_is_shorter_than_the_line_between_its_ends() {
    for hull_form in HullForm::ALL {
        for (length, beam) in sizes_ft(hull_form) {
            let boat = laid_out(hull_form, length, beam);
            for run in &boat.runs {
                let [a, b] = [run.a, run.b].map(|place| &boat.stations[place]);
                let line = straight_ft(a.position.unwrap(), b.position.unwrap());
                assert!(
                    run.length.ft() >= line,
                    "{hull_form:?} {} to {}: {} ft over {line} ft",
                    a.id,
                    b.id,
                    run.length.ft()
                );
            }
        }
    }
}

/// A place is told from the transom and from the bottom, and nothing is behind the one or below the other.
#[test]
fn every_station_is_within_the_hull_as_places_are_told() {
    for hull_form in HullForm::ALL {
        for (length, beam) in sizes_ft(hull_form) {
            for station in laid_out(hull_form, length, beam).stations {
                let place = station.position.expect("a layout places its stations");
                assert!(place.x >= Length::ZERO && place.x.ft() <= length, "{hull_form:?} {}", station.id);
                assert!(place.y.ft().abs() <= beam / 2.0 && place.z >= Length::ZERO, "{hull_form:?} {}", station.id);
            }
        }
    }
}

fn straight_ft(a: Position, b: Position) -> f64 {
    let square = |a: Length, b: Length| (a.ft() - b.ft()).powi(2);
    (square(a.x, b.x) + square(a.y, b.y) + square(a.z, b.z)).sqrt()
}

fn any_form() -> impl Strategy<Value = HullForm> {
    proptest::sample::select(HullForm::ALL.to_vec())
}

/// A hull of usual sizes, as shares of the way from the least to the most.
fn sized(hull_form: HullForm, of_length: f64, of_beam: f64) -> (f64, f64) {
    let (least, most) = form(hull_form).length_ft;
    let length = least + (most - least) * of_length;
    let [narrow, _, wide] = beams_ft(hull_form, length);
    (length, narrow + (wide - narrow) * of_beam)
}

proptest! {
    #[test]
    fn a_longer_or_wider_hull_never_has_a_shorter_route(
        hull_form in any_form(), of_length in 0.0..1.0f64, of_beam in 0.0..1.0f64, longer in 0.0..0.3f64, wider in 0.0..0.3f64,
    ) {
        let (length, beam) = sized(hull_form, of_length, of_beam);
        let small = laid_out(hull_form, length, beam);
        let large = laid_out(hull_form, length * (1.0 + longer), beam * (1.0 + wider));
        for from in 0..small.stations.len() {
            let (mut small_routes, mut large_routes) =
                (Routes::new(small.stations.len(), &small.runs), Routes::new(large.stations.len(), &large.runs));
            for to in 0..small.stations.len() {
                let (small_route, large_route) = (small_routes.route(from, to).unwrap(), large_routes.route(from, to).unwrap());
                prop_assert!(small_route.length() <= large_route.length());
            }
        }
    }

    /// However long a measured run is, cable between its ends goes along it, and no other route passes it by.
    #[test]
    fn measured_runs_always_win(
        hull_form in any_form(), pairs in proptest::collection::vec((0usize..30, 0usize..30, 0.5..80.0f64), 1..4),
    ) {
        let (length, beam) = sized(hull_form, 0.5, 0.5);
        let mut boat = laid_out(hull_form, length, beam);
        let count = boat.stations.len();
        let mut stated = Vec::new();
        for (a, b, ft) in pairs {
            let (a, b) = (a % count, b % count);
            if a == b || stated.iter().any(|&(c, d, _)| (c, d) == (a.min(b), a.max(b))) {
                continue;
            }
            stated.push((a.min(b), a.max(b), Length::feet(ft)));
        }
        boat.runs.retain(|run| !stated.iter().any(|&(a, b, _)| (run.a, run.b) == (a, b)));
        let pattern = Run { estimate: None, source: LengthSource::Measured, ..boat.runs[0].clone() };
        boat.runs.extend(stated.iter().map(|&(a, b, length)| Run { a, b, length, ..pattern.clone() }));
        let only_stated: Vec<Run> = boat.runs.iter().filter(|run| run.estimate.is_none()).cloned().collect();
        let mut routes = Routes::new(count, &boat.runs);
        let mut measured = Routes::new(count, &only_stated);
        for from in 0..count {
            for to in 0..count {
                let route = routes.route(from, to).expect("a station of a layout is reached");
                prop_assert_eq!((route.stations[0], *route.stations.last().unwrap()), (from, to));
                if let Some(by_tape) = measured.route(from, to) {
                    prop_assert_eq!(route.length(), by_tape.length());
                }
                // Between any two stations on the way that measured runs join, the way is theirs.
                for (i, &a) in route.stations.iter().enumerate() {
                    for (j, &b) in route.stations.iter().enumerate().skip(i + 1) {
                        if let Some(by_tape) = measured.route(a, b) {
                            let stretch: Length = route.runs[i..j].iter().map(|&run| boat.runs[run].length).sum();
                            prop_assert_eq!(stretch, by_tape.length());
                        }
                    }
                }
            }
        }
    }
}
