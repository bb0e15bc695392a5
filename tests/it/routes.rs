//! Routes through layouts and generated graphs, handed over to a graph library (`tests/reference/routes.py`).

use std::collections::BTreeSet;
use std::fmt::Write;

use rigbill::calc::routes::Routes;
use rigbill::calc::spec::boat::{Estimate, InTube, Run};
use rigbill::calc::spec::input::{Access, HullForm, LengthSource, Propulsion};
use rigbill::calc::spec::layouts::{self, form};
use rigbill::calc::units::{Length, LengthUnit};

use crate::least_copper::trees::Dice;

fn run(a: usize, b: usize, length: Length, stated: bool) -> Run {
    Run {
        a,
        b,
        length,
        source: if stated { LengthSource::Measured } else { LengthSource::Estimated },
        access: Access::Open,
        engine_space: false,
        inside_diameter: None,
        already: InTube::default(),
        bulkheads: 0,
        estimate: (!stated).then_some(Estimate::Sizes { of_length: 0.0, of_beam: 0.0, of_depth: 0.0, more: length }),
    }
}

/// A graph of some stations and runs: whole inches, so that many chains are of one length, or lengths that never are.
fn graph(dice: &mut Dice, stated_share: f64) -> (usize, Vec<Run>) {
    let stations = 2 + dice.below(40);
    let in_inches = dice.happens(0.5);
    let runs = (0..stations + dice.below(2 * stations))
        .filter_map(|_| {
            let (a, b) = (dice.below(stations), dice.below(stations));
            let length = if in_inches {
                Length::inches((1 + dice.below(12)) as f64)
            } else {
                Length::feet(dice.between(0.5, 30.0))
            };
            (a != b).then(|| run(a.min(b), a.max(b), length, dice.happens(stated_share)))
        })
        .collect();
    (stations, runs)
}

/// A graph and every route that was found in it, lengths in whole nanometres.
fn line(name: &str, stations: usize, runs: &[Run]) -> String {
    let mut routes = Routes::new(stations, runs);
    let mut found = Vec::new();
    for (from, to) in (0..stations).flat_map(|from| (0..stations).map(move |to| (from, to))) {
        if let Some(route) = routes.route(from, to) {
            found.push(format!("[{from},{to},{},{:?},{:?}]", route.length().nanometres(), route.runs, route.stations));
        }
    }
    let runs: Vec<String> = runs
        .iter()
        .map(|run| format!("[{},{},{},{}]", run.a, run.b, run.length.nanometres(), run.estimate.is_none()))
        .collect();
    format!(
        "{{\"name\":\"{name}\",\"stations\":{stations},\"runs\":[{}],\"routes\":[{}]}}",
        runs.join(","),
        found.join(",")
    )
}

/// Writes the layouts of every form, and generated graphs of runs of the layout, stated ones and both, with all their
/// routes, to `target/routes.jsonl`.
#[test]
fn routes_are_handed_over_to_the_graph_library() {
    let mut lines = String::new();
    for hull_form in HullForm::ALL {
        let form = form(hull_form);
        for (length_ft, share) in [(form.length_ft.0, 0.2), (form.length_ft.1, 0.8)] {
            let beam_ft = (length_ft * (form.beam_share.0 + share * (form.beam_share.1 - form.beam_share.0)))
                .clamp(form.beam_ft.0, form.beam_ft.1);
            let sizes = (Length::feet(length_ft), Length::feet(beam_ft));
            let hull = layouts::hull(hull_form, sizes.0, sizes.1, None, LengthUnit::Ft).expect("usual sizes");
            let stations = layouts::stations(&hull, Propulsion::Outboard);
            let runs = layouts::runs(&hull, Propulsion::Outboard, &stations, &BTreeSet::new());
            writeln!(lines, "{}", line(&format!("{} of {length_ft} ft", hull_form.word()), stations.len(), &runs))
                .unwrap();
        }
    }
    for seed in 0..300u64 {
        let stated_share = [0.0, 1.0, 0.3][seed as usize % 3];
        let (stations, runs) = graph(&mut Dice(seed), stated_share);
        writeln!(lines, "{}", line(&format!("graph {seed}"), stations, &runs)).unwrap();
    }
    std::fs::write(crate::fixture::target().join("routes.jsonl"), lines).unwrap();
}
