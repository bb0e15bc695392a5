//! One hose: its length along the route, what is cut for it, and the clamps at its ends.

use super::{Plumber, exact, inches};
use crate::basis::Value;
use crate::gathering::{FitOut, Part};
use crate::requirements::Piece;
use crate::rules::plumbing::{CLAMPS_ABOVE_WATERLINE, CLAMPS_BELOW_WATERLINE, HOSE_WALL_IN};
use crate::rules::table::plumbing as table;
use crate::rules::table::quantities::LENGTH_CUT;
use crate::shop::item::Fastener;
use crate::spec::input::LengthSource;
use crate::take_off::{HoseEnd, HosePiece, MEASURE_FIRST};
use crate::units::{Length, Name};

/// An end of a hose that is wanted.
#[derive(Clone, Copy)]
pub(super) struct End {
    pub(super) station: Option<usize>,
    pub(super) on: &'static str,
    pub(super) below_waterline: bool,
}

/// A hose that is wanted.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'n> {
    pub(super) owner: &'n Name,
    pub(super) bore: Length,
    pub(super) reinforced: bool,
    pub(super) from: End,
    pub(super) to: End,
    /// Its length where no route is known.
    pub(super) fixed: Option<Length>,
    /// Whether it takes a loop above the waterline.
    pub(super) lift: bool,
}

impl Plumber<'_, '_> {
    /// Leads a hose, with its clamps.
    pub(super) fn hose(&mut self, wanted: Wanted) {
        let (boat, settings, habits) = (self.boat, self.settings, self.settings.plumbing);
        let ends = wanted.from.station.zip(wanted.to.station);
        // Between things at one station nothing rises and nothing was measured.
        let way = ends.filter(|(from, to)| from != to).and_then(|(from, to)| {
            let rises = boat.stations[from].rise + boat.stations[to].rise;
            Some((self.routes.route(from, to)?, rises))
        });
        let (route, rises) = way.clone().unwrap_or_default();
        let along = route.length() + rises;
        let least = wanted.fixed.unwrap_or_else(|| exact(habits.between_fittings));
        let lift = if wanted.lift { exact(habits.discharge_loop) } else { Length::ZERO };
        let installed = along.max(least) + lift;
        let inputs = [
            ("route_m", Value::Number(route.length().m())),
            ("rises_m", Value::Number(rises.m())),
            ("least_m", Value::Number(least.m())),
            ("loop_m", Value::Number(lift.m())),
        ];
        let installed_basis = self.ledger.note(&table::HOSE, &inputs, installed.m());
        // What no route gives is the shop's habit, and as good as an estimate.
        let estimated = if way.is_some() { route.estimated.min(installed) } else { installed };
        let measured = installed - estimated;
        let (by_measure, by_estimate) = (settings.waste_measured_percent, settings.waste_estimated_percent);
        let waste = measured.scaled(by_measure / 100.0) + estimated.scaled(by_estimate / 100.0);
        let cut = installed + waste;
        let inputs = [
            ("measured_m", Value::Number(measured.m())),
            ("waste_measured_percent", Value::Number(by_measure)),
            ("estimated_m", Value::Number(estimated.m())),
            ("waste_estimated_percent", Value::Number(by_estimate)),
        ];
        let cut_basis = self.ledger.note(&LENGTH_CUT, &inputs, cut.m());
        let below = [wanted.from, wanted.to].iter().filter(|end| end.below_waterline).count() as u32;
        let above = 2 - below;
        let clamps = CLAMPS_BELOW_WATERLINE * below + CLAMPS_ABOVE_WATERLINE * above;
        let inputs = [("ends_below", Value::Number(f64::from(below))), ("ends_above", Value::Number(f64::from(above)))];
        let clamps_basis = self.ledger.note(&table::CLAMPS, &inputs, f64::from(clamps));

        let label = Name::from(format!("H{:02}", self.hoses.len() + 1));
        let part = Part::FitOut(FitOut::Hose { inside: wanted.bore, reinforced: wanted.reinforced });
        let piece = Piece { label: label.clone(), cut };
        let around = wanted.bore + Length::inches(2.0 * HOSE_WALL_IN);
        let clamp = Part::FitOut(FitOut::Fastener(Fastener::HoseClamp, around));
        self.out.parts.push((clamp, clamps, wanted.owner.clone()));
        self.feet += installed;
        let told = |end: End| HoseEnd {
            station: end.station.map(|station| boat.stations[station].id.clone()),
            on: end.on,
            below_waterline: end.below_waterline,
        };
        let is_estimated = estimated > Length::ZERO;
        self.hoses.push(HosePiece {
            label,
            used_by: wanted.owner.clone(),
            requirement: part.key(),
            inside_diameter: inches(wanted.bore),
            reinforced: wanted.reinforced,
            from: told(wanted.from),
            to: told(wanted.to),
            installed_length: installed.written(settings.length_unit),
            installed_basis,
            cut_length: cut.written(settings.length_unit),
            cut_basis,
            length_source: if is_estimated { LengthSource::Estimated } else { LengthSource::Measured },
            cut_note: is_estimated.then_some(MEASURE_FIRST),
            clamps,
            clamps_basis,
        });
        self.out.pieces.push((part, piece, wanted.owner.clone()));
    }
}
