//! One line of the cut list: a conductor with its lengths, its ends and why it is so large.

use super::Schedule;
use crate::basis::{BasisRef, Value};
use crate::circuits::ends::{EndParts, end_parts};
use crate::circuits::legs::{Leg, LegEnd};
use crate::circuits::select::Chosen;
use crate::circuits::sizing::note;
use crate::rules::sizes::area_cmil;
use crate::rules::table::quantities;
use crate::spec::input::LengthSource;
use crate::take_off::{Conductor, ConductorBasis, ConductorEnd, MEASURE_FIRST};
use crate::units::{AreaStandard, Length, Name, WireSize, rounded};

/// A conductor as written, and how its two ends are made.
pub struct Written {
    /// The line of the cut list.
    pub conductor: Conductor,
    /// How its end at the source's side is made.
    pub from: EndParts,
    /// How its end at the load's side is made.
    pub to: EndParts,
    /// Exact length to cut.
    pub cut: Length,
    /// Why the rating of the device that protects it is so.
    pub rating_basis: BasisRef,
}

impl Schedule<'_> {
    /// One line of the cut list.
    pub fn conductor(&mut self, leg: &Leg, chosen: &Chosen, circuit: &Name) -> Written {
        let carried = &chosen.carried;
        let lead = leg.maker_lead.map(|(size, _)| size);
        let from = end_parts(&leg.from, carried.size, None);
        let to = end_parts(&leg.to, carried.size, lead);
        let (basis, rating_basis) = self.conductor_basis(leg, chosen);
        let unit = self.settings.length_unit;
        let stations = &self.boat.stations;
        let end = |end: &LegEnd, parts: &EndParts, other: &LegEnd, lead: Option<WireSize>| ConductorEnd {
            station: stations[end.station].id.clone(),
            lands_on: end.lands_on,
            termination: parts.termination,
            stud: parts.stud,
            label: [leg.label.as_str(), " ", stations[other.station].id.as_str()].concat(),
            lead,
        };
        let conductor = Conductor {
            label: leg.label.clone(),
            circuit: circuit.clone(),
            role: leg.role,
            colour: leg.colour,
            cable: None,
            label_colour: None,
            gauge: carried.size,
            insulation_c: self.settings.insulation_c,
            design_current_a: rounded(leg.current_a, 3),
            route: leg.route.stations.iter().map(|place| stations[*place].id.clone()).collect(),
            from: end(&leg.from, &from, &leg.to, None),
            to: end(&leg.to, &to, &leg.from, lead),
            route_length: leg.route.length().written(unit),
            installed_length: leg.lengths.installed.written(unit),
            carrying_length: leg.lengths.carrying.written(unit),
            cut_length: leg.lengths.cut.written(unit),
            length_source: leg.length_source(),
            estimated_length: (leg.route.estimated > Length::ZERO).then(|| leg.route.estimated.written(unit)),
            cut_note: (leg.length_source() == LengthSource::Estimated).then_some(MEASURE_FIRST),
            bundled_conductors: leg.bundled,
            engine_space: leg.route.engine_space,
            table_current_a: carried.table_current_a,
            allowable_current_a: rounded(carried.allowable_current_a, 2),
            drop_v: rounded(chosen.drop_v, 4),
            limited_by: chosen.limited_by,
            basis,
        };
        Written { conductor, from, to, cut: leg.lengths.cut, rating_basis }
    }

    fn conductor_basis(&mut self, leg: &Leg, chosen: &Chosen) -> (ConductorBasis, BasisRef) {
        let carried = &chosen.carried;
        let settings = self.settings;
        let number = Value::Number;
        let ledger = &mut *self.ledger;
        let carried_basis = note(ledger, &chosen.demand, carried);
        let (lead_ft, lead_cmil) =
            leg.maker_lead.map_or((0.0, 1.0), |(size, length)| (length.ft(), lead_area_cmil(size)));
        let mut inputs = vec![
            ("copper_ohm_cmil_per_ft", number(settings.copper_ohm_cmil_per_ft)),
            ("current_a", number(leg.current_a)),
            ("length_ft", number(leg.lengths.carrying.ft())),
            ("area_cmil", number(carried.area_cmil)),
            ("lead_length_ft", number(lead_ft)),
            ("lead_area_cmil", number(lead_cmil)),
        ];
        if let Some(before) = leg.before
            && let Some(counted) = before.counted(leg.current_a)
            && let Some(area) = area_cmil(before.size, settings.area_standard)
        {
            inputs.extend([("before_length_ft", number(counted.ft())), ("before_area_cmil", number(area))]);
        }
        if let Some(before) = leg.continues {
            let before_ft = self.laid.legs[before].lengths.carrying.ft();
            inputs.extend([("before_length_ft", number(before_ft)), ("before_area_cmil", number(carried.area_cmil))]);
        }
        let drop = ledger.note(&quantities::DROP_CONDUCTOR, &inputs, chosen.drop_v);
        let lengths = &leg.lengths;
        let installed = ledger.note(
            &quantities::LENGTH_INSTALLED,
            &[
                ("route_m", number(leg.route.length().m())),
                ("rises_m", number(lengths.rises.m())),
                ("ends_m", number(lengths.ends.m())),
            ],
            lengths.installed.m(),
        );
        let cut = ledger.note(
            &quantities::LENGTH_CUT,
            &[
                ("measured_m", number((lengths.carrying - leg.route.estimated).m())),
                ("estimated_m", number(leg.route.estimated.m())),
                ("waste_measured_percent", number(settings.waste_measured_percent)),
                ("waste_estimated_percent", number(settings.waste_estimated_percent)),
            ],
            lengths.cut.m(),
        );
        let basis = ConductorBasis {
            area: carried_basis.area,
            table_current_a: carried_basis.table_current_a,
            allowable_current_a: carried_basis.allowable_current_a,
            drop_v: drop,
            installed_length: installed,
            cut_length: cut,
        };
        (basis, carried_basis.rating_a)
    }
}

/// Area of a maker's lead: gauge by AWG, metric as stated.
fn lead_area_cmil(size: WireSize) -> f64 {
    let standard = if size.awg().is_some() { AreaStandard::Awg } else { AreaStandard::Metric };
    area_cmil(size, standard).unwrap_or_else(|| size.nominal_cmil())
}
