//! The layout tables as values: read once, looked up by form of hull.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::rules::{number, rows};
use crate::spec::input::{Access, HullForm, Known};
use crate::units::Name;

/// One form of hull: its usual sizes, its stations and the runs between them.
#[derive(Clone, Debug)]
pub struct Form {
    /// As printed.
    pub name: &'static str,
    /// Usual hull lengths, feet, shortest and longest.
    pub length_ft: (f64, f64),
    /// Usual beams as a share of hull length, narrowest and widest.
    pub beam_share: (f64, f64),
    /// Usual beams, feet, narrowest and widest.
    pub beam_ft: (f64, f64),
    /// Depth as a share of the beam, where nobody states it.
    pub depth_share: f64,
    /// Its stations, by id.
    pub stations: Vec<FormStation>,
    /// Its runs, in the order of the table.
    pub runs: Vec<FormRun>,
}

/// A station of a form, placed by shares of the hull's sizes.
#[derive(Clone, Debug)]
pub struct FormStation {
    /// Identifier.
    pub id: Name,
    /// As printed.
    pub name: &'static str,
    /// From the transom towards the bow, share of hull length.
    pub x: f64,
    /// From the centre line, starboard positive, share of the beam.
    pub y: f64,
    /// Height above the inside of the bottom: shares of hull length and depth, and feet.
    pub z: (f64, f64, f64),
    /// Whether petrol vapour is taken to be there behind an outboard motor.
    pub vapour_outboard: Known,
    /// Whether it is with a petrol engine inside the hull.
    pub vapour_inboard: Known,
}

/// A run of a form. Its length is `of_length` of the hull length, `of_beam` of the beam, `of_depth` of the depth, and feet.
#[derive(Clone, Debug)]
pub struct FormRun {
    /// Station at one end.
    pub from: Name,
    /// Station at the other end.
    pub to: Name,
    /// How cable gets through.
    pub access: Access,
    /// Usual inside diameter of its tube, inches.
    pub tube_in: Option<f64>,
    /// Bulkheads and deck turns on it.
    pub turns: u8,
    /// Whether it passes through the engine space of a boat with an inboard engine.
    pub engine_space: bool,
    /// Share of hull length.
    pub of_length: f64,
    /// Share of the beam.
    pub of_beam: f64,
    /// Share of the depth.
    pub of_depth: f64,
    /// Feet that do not depend on the hull's size.
    pub ft: f64,
}

static FORMS: LazyLock<BTreeMap<HullForm, Form>> = LazyLock::new(|| {
    let mut forms = BTreeMap::new();
    for cells in rows(include_str!("forms.csv")).iter().skip(1) {
        let form = Form {
            name: text(&cells[1]),
            length_ft: (number(cells, 2), number(cells, 3)),
            beam_share: (number(cells, 4), number(cells, 5)),
            beam_ft: (number(cells, 6), number(cells, 7)),
            depth_share: number(cells, 8),
            stations: Vec::new(),
            runs: Vec::new(),
        };
        forms.insert(form_of(&cells[0]), form);
    }
    for cells in rows(include_str!("stations.csv")).iter().skip(1) {
        let station = FormStation {
            id: Name::from(&cells[1]),
            name: text(&cells[2]),
            x: number(cells, 3),
            y: number(cells, 4),
            z: (number(cells, 5), number(cells, 6), number(cells, 7)),
            vapour_outboard: known(&cells[8]),
            vapour_inboard: known(&cells[9]),
        };
        forms.get_mut(&form_of(&cells[0])).expect("a form of the table").stations.push(station);
    }
    for cells in rows(include_str!("runs.csv")).iter().skip(1) {
        let run = FormRun {
            from: Name::from(&cells[1]),
            to: Name::from(&cells[2]),
            access: access(&cells[3]),
            tube_in: (!cells[4].is_empty()).then(|| number(cells, 4)),
            turns: number(cells, 5) as u8,
            engine_space: &cells[6] == "inboard",
            of_length: number(cells, 7),
            of_beam: number(cells, 8),
            of_depth: number(cells, 9),
            ft: number(cells, 10),
        };
        forms.get_mut(&form_of(&cells[0])).expect("a form of the table").runs.push(run);
    }
    for form in forms.values_mut() {
        form.stations.sort_by(|a, b| a.id.cmp(&b.id));
    }
    forms
});

/// The table of one form of hull.
pub fn form(hull_form: HullForm) -> &'static Form {
    &FORMS[&hull_form]
}

fn form_of(word: &str) -> HullForm {
    let found = HullForm::ALL.into_iter().find(|form| form.word() == word);
    found.unwrap_or_else(|| panic!("'{word}' in a layout table is no form of hull"))
}

fn known(word: &str) -> Known {
    match word {
        "yes" => Known::Yes,
        "no" => Known::No,
        "unknown" => Known::Unknown,
        other => panic!("'{other}' in a layout table is neither yes, no nor unknown"),
    }
}

fn access(word: &str) -> Access {
    match word {
        "open" => Access::Open,
        "tube" => Access::Tube,
        "gunwale" => Access::Gunwale,
        "blind" => Access::Blind,
        other => panic!("'{other}' in a layout table is no access"),
    }
}

/// A cell for as long as the program runs: the tables are read once.
fn text(cell: &str) -> &'static str {
    Box::leak(cell.to_owned().into_boxed_str())
}
