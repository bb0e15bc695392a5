//! Layouts: where things stand on each form of hull, and the ways that cable takes between them, over the hull's sizes.
//!
//! A front desk rarely has measurements. What a layout gives is an estimate: it is marked so, carries the larger waste,
//! and gives way to every run that a spec states.

mod tables;

use std::collections::BTreeSet;

pub use tables::{Form, FormRun, FormStation, form};

use crate::spec::boat::{Estimate, Hull, InTube, Position, Run, Station};
use crate::spec::input::{HullForm, Known, LengthSource, Propulsion};
use crate::units::{Length, LengthUnit, Name};

/// The form tables name places that every layout has: where the first bank and the first panel are taken to be.
pub const BATTERY_STATION: &str = "battery_bay";
/// Station of the first panel.
pub const PANEL_STATION: &str = "helm";

/// Cable never lies straight: what bends and slack add to a way along the three axes (common practice).
pub const SLACK_FACTOR: f64 = 1.10;
/// What each bulkhead and each deck turn adds to a way (common practice).
pub const TURN_FT: f64 = 1.0;

/// Beyond these factors of the usual sizes a length or beam is a slip of the keyboard and no boat of that form.
const ABSURD: (f64, f64) = (0.5, 2.0);
/// Bounds of a depth as a share of the beam.
const DEPTH_SHARE: (f64, f64) = (0.08, 1.2);

/// Which size of a hull a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Size {
    /// Hull length.
    HullLength,
    /// Beam.
    Beam,
    /// Depth.
    Depth,
}

impl Size {
    /// The name of its field.
    pub const fn field(self) -> &'static str {
        match self {
            Size::HullLength => "hull_length",
            Size::Beam => "beam",
            Size::Depth => "depth",
        }
    }
}

/// A hull of a form, its depth taken from the beam where nobody stated it.
///
/// # Errors
/// Each size that no boat of the form has.
pub fn hull(
    form_of_hull: HullForm,
    length: Length,
    beam: Length,
    depth: Option<Length>,
    unit: LengthUnit,
) -> Result<Hull, Vec<(Size, String)>> {
    let table = form(form_of_hull);
    let shown = |ft: f64| Length::feet(ft).written(unit);
    let mut faults = Vec::new();
    let name = table.name.to_lowercase();
    let (least, most) = (ABSURD.0 * table.length_ft.0, ABSURD.1 * table.length_ft.1);
    if !(least..=most).contains(&length.ft()) {
        let message = format!(
            "a hull length of {} makes no sense for a {name}: it must be from {} to {}. Check the number, its unit and the hull form",
            length.written(unit),
            shown(least),
            shown(most)
        );
        faults.push((Size::HullLength, message));
    } else {
        let (least, most) =
            (ABSURD.0 * table.beam_share.0 * length.ft(), (ABSURD.1 * table.beam_share.1).min(1.0) * length.ft());
        if !(least..=most).contains(&beam.ft()) {
            let message = format!(
                "a beam of {} makes no sense for a {name} of {}: it must be from {} to {}. Check the number and its unit",
                beam.written(unit),
                length.written(unit),
                shown(least),
                shown(most)
            );
            faults.push((Size::Beam, message));
        }
    }
    if let Some(depth) = depth {
        let (least, most) = (DEPTH_SHARE.0 * beam.ft(), DEPTH_SHARE.1 * beam.ft());
        if !(least..=most).contains(&depth.ft()) {
            let message = format!(
                "a depth of {} makes no sense for a beam of {}: it must be from {} to {}, from the inside of the bottom to the sheer",
                depth.written(unit),
                beam.written(unit),
                shown(least),
                shown(most)
            );
            faults.push((Size::Depth, message));
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(Hull {
        form: form_of_hull,
        length,
        beam,
        depth: depth.unwrap_or_else(|| beam.scaled(table.depth_share)),
        depth_stated: depth.is_some(),
    })
}

/// What is unusual about a hull's sizes, each as a sentence: its estimates were not made for such a boat.
pub fn unusual(hull: &Hull, unit: LengthUnit) -> Vec<String> {
    let table = form(hull.form);
    let name = table.name.to_lowercase();
    let (length_ft, beam_ft) = (hull.length.ft(), hull.beam.ft());
    let mut unusual = Vec::new();
    let mut tell = |what: &str, met: f64, (least, most): (f64, f64)| {
        if met < least - 1e-9 || met > most + 1e-9 {
            let [met, least, most] = [met, least, most].map(|ft| Length::feet(ft).written(unit));
            unusual.push(format!(
                "a {what} of {met} is unusual for a {name}, whose {what} is from {least} to {most}: estimated runs may be further out than usual"
            ));
        }
    };
    tell("hull length", length_ft, table.length_ft);
    let beams =
        ((table.beam_share.0 * length_ft).max(table.beam_ft.0), (table.beam_share.1 * length_ft).min(table.beam_ft.1));
    // On a hull of unusual length the two bounds may cross: then the share alone speaks.
    let beams =
        if beams.0 < beams.1 { beams } else { (table.beam_share.0 * length_ft, table.beam_share.1 * length_ft) };
    tell("beam", beam_ft, beams);
    unusual
}

/// The stations of a hull, by id.
pub fn stations(hull: &Hull, propulsion: Propulsion) -> Vec<Station> {
    form(hull.form)
        .stations
        .iter()
        .map(|station| Station {
            id: station.id.clone(),
            name: station.name.to_owned(),
            petrol_vapour: match propulsion {
                Propulsion::Outboard => station.vapour_outboard,
                Propulsion::PetrolInboard => station.vapour_inboard,
                Propulsion::DieselInboard | Propulsion::Electric | Propulsion::None => Known::No,
            },
            rise: Length::ZERO,
            position: Some(Position {
                x: hull.length.scaled(station.x),
                y: hull.beam.scaled(station.y),
                z: hull.length.scaled(station.z.0) + hull.depth.scaled(station.z.1) + Length::feet(station.z.2),
            }),
        })
        .collect()
}

/// The runs of a hull between stations that are given by id, in order; `moved` are those that a spec has put elsewhere.
pub fn runs(hull: &Hull, propulsion: Propulsion, stations: &[Station], moved: &BTreeSet<Name>) -> Vec<Run> {
    let inboard = matches!(propulsion, Propulsion::PetrolInboard | Propulsion::DieselInboard);
    let place = |id: &Name| stations.binary_search_by(|station| station.id.cmp(id)).ok();
    form(hull.form)
        .runs
        .iter()
        .filter_map(|run| {
            let (a, b) = (place(&run.from)?, place(&run.to)?);
            let estimate = match (stations[a].position, stations[b].position) {
                (Some(from), Some(to)) if moved.contains(&run.from) || moved.contains(&run.to) => Estimate::Way {
                    dx: apart(from.x, to.x),
                    dy: apart(from.y, to.y),
                    dz: apart(from.z, to.z),
                    turns: run.turns,
                },
                _ => Estimate::Sizes {
                    of_length: run.of_length,
                    of_beam: run.of_beam,
                    of_depth: run.of_depth,
                    more: Length::feet(run.ft),
                },
            };
            Some(Run {
                a: a.min(b),
                b: a.max(b),
                length: length(&estimate, hull),
                source: LengthSource::Estimated,
                access: run.access,
                engine_space: run.engine_space && inboard,
                inside_diameter: run.tube_in.map(Length::inches),
                already: InTube::default(),
                bulkheads: run.turns,
                estimate: Some(estimate),
            })
        })
        .collect()
}

/// The length that an estimate gives on a hull.
pub fn length(estimate: &Estimate, hull: &Hull) -> Length {
    match *estimate {
        Estimate::Sizes { of_length, of_beam, of_depth, more } => {
            let m = of_length * hull.length.m() + of_beam * hull.beam.m() + of_depth * hull.depth.m();
            Length::new(m, LengthUnit::M).unwrap_or_default() + more
        }
        Estimate::Way { dx, dy, dz, turns } => {
            (dx + dy + dz).scaled(SLACK_FACTOR) + Length::feet(TURN_FT * f64::from(turns))
        }
    }
}

fn apart(a: Length, b: Length) -> Length {
    if a > b { a - b } else { b - a }
}
