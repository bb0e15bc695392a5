//! What a take-off says of the runs that the layout of the hull form gave.

use super::warn;
use crate::basis::{BasisRef, Ledger, Value};
use crate::findings::Warning;
use crate::rules::table::quantities;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Estimate, Hull, Run};
use crate::spec::layouts::{self, SLACK_FACTOR, TURN_FT};
use crate::take_off::HullSummary;
use crate::units::{Length, Name};

/// The hull, when wire goes through runs of its layout.
pub(super) fn hull_in_use<'a>(boat: &'a Boat, used_runs: &[usize]) -> Option<&'a Hull> {
    boat.hull.as_ref().filter(|_| used_runs.iter().any(|place| boat.runs[*place].estimate.is_some()))
}

/// The hull as the answer carries it.
pub(super) fn summary(hull: &Hull, settings: &Settings) -> HullSummary {
    let unit = settings.length_unit;
    HullSummary {
        hull_form: hull.form,
        hull_length: hull.length.written(unit),
        beam: hull.beam.written(unit),
        depth: hull.depth.written(unit),
        depth_stated: hull.depth_stated,
    }
}

/// Warnings about a hull whose sizes are unusual for its form.
pub(super) fn warnings(hull: Option<&Hull>, settings: &Settings) -> Vec<Warning> {
    let about = Name::from("hull");
    let unusual = hull.map(|hull| layouts::unusual(hull, settings.length_unit)).unwrap_or_default();
    unusual.into_iter().map(|told| warn(&about, told)).collect()
}

/// What was taken as given of the hull.
pub(super) fn assumption(hull: &Hull, settings: &Settings) -> String {
    let unit = settings.length_unit;
    let from = if hull.depth_stated { "as stated" } else { "a usual share of the beam" };
    format!(
        "Runs that nobody stated are estimated from the layout of a {} of {} by {}, depth {} ({from}), and so are stations and the \
         places where petrol vapour may be. Such lengths are estimated: measure before cutting.",
        layouts::form(hull.form).name.to_lowercase(),
        hull.length.written(unit),
        hull.beam.written(unit),
        hull.depth.written(unit)
    )
}

/// What was taken as given of bank and panel.
pub(super) fn power_assumption(boat: &Boat) -> String {
    let bank = boat.banks.first().map(|bank| boat.stations[bank.station].name.to_lowercase()).unwrap_or_default();
    let panel = boat.panels.first().map(|panel| boat.stations[panel.station].name.to_lowercase()).unwrap_or_default();
    format!(
        "Neither bank nor panel is stated: one bank of 12 V at '{bank}' and one panel at '{panel}' are taken to be aboard."
    )
}

/// Notes why a run of the layout is as long as it is.
pub(super) fn run_basis(run: &Run, boat: &Boat, ledger: &mut Ledger) -> Option<BasisRef> {
    let (estimate, hull) = (run.estimate?, boat.hull.as_ref()?);
    let number = Value::Number;
    Some(match estimate {
        Estimate::Sizes { of_length, of_beam, of_depth, more } => ledger.note(
            &quantities::RUN_LAYOUT,
            &[
                ("of_length", number(of_length)),
                ("hull_length_m", number(hull.length.m())),
                ("of_beam", number(of_beam)),
                ("beam_m", number(hull.beam.m())),
                ("of_depth", number(of_depth)),
                ("depth_m", number(hull.depth.m())),
                ("more_m", number(more.m())),
            ],
            run.length.m(),
        ),
        Estimate::Way { dx, dy, dz, turns } => ledger.note(
            &quantities::RUN_WAY,
            &[
                ("dx_m", number(dx.m())),
                ("dy_m", number(dy.m())),
                ("dz_m", number(dz.m())),
                ("slack_factor", number(SLACK_FACTOR)),
                ("turns", number(f64::from(turns))),
                ("turn_m", number(Length::feet(TURN_FT).m())),
            ],
            run.length.m(),
        ),
    })
}
