//! Cables of the sources: laid between two ends, sized, and written as lines of the cut list.

use super::Sources;
use super::studs::Terminal;
use crate::circuits::legs::{Leg, LegEnd, LegLengths, Owner, lengths};
use crate::circuits::select::{Chosen, construction_minimum};
use crate::circuits::sizing::{CannotCarry, Demand, carry, limited_by};
use crate::findings::Gap;
use crate::routes::Route;
use crate::rules::drop::drop_v;
use crate::rules::sizes::area_cmil;
use crate::take_off::{ConductorRole, LimitedBy};
use crate::units::{Name, WireSize, within};

/// A cable that is wanted.
pub(super) struct Cable<'a> {
    pub(super) bank: usize,
    pub(super) role: ConductorRole,
    pub(super) label: String,
    pub(super) colour: &'static str,
    pub(super) current_a: f64,
    pub(super) route: Route,
    pub(super) from: LegEnd,
    pub(super) to: LegEnd,
    /// Ratings of the device that protects it, and what their list is called.
    pub(super) ratings: (&'a [f64], &'static str),
    /// Least rating of that device, amperes.
    pub(super) least_rating_a: f64,
    /// Whether it carries its current for hours.
    pub(super) continuous: bool,
    /// Size of a cable that it continues.
    pub(super) at_least: Option<WireSize>,
    /// Most that it may drop, volts.
    pub(super) limit_v: f64,
}

/// A cable as it came out.
#[derive(Clone)]
pub(super) struct Made {
    pub(super) label: Name,
    pub(super) size: WireSize,
    /// Rating of the device that protects it, and the highest that it allows, amperes.
    pub(super) rating_a: f64,
    pub(super) allows_a: f64,
    pub(super) rating_basis: crate::basis::BasisRef,
}

impl Made {
    /// As it lands on a stud.
    pub(super) fn terminal(&self) -> Terminal {
        Terminal::Cable(self.label.as_str().to_owned(), self.size)
    }
}

/// The route of a cable that stays at its station.
pub(super) fn here(station: usize) -> Route {
    Route { stations: vec![station], ..Route::default() }
}

impl<'a> Sources<'a, '_> {
    /// Lays a cable, gives it the least size that does, and writes it; a gap where none does.
    pub(super) fn cable(&mut self, wanted: Cable<'a>, owner: &Name) -> Option<Made> {
        let leg = self.leg(&wanted);
        let Some(chosen) = self.chosen(&wanted, &leg) else {
            self.out.gaps.push(Gap {
                what: owner.clone(),
                need: format!("cable {} for {:.1} A", leg.label, leg.current_a),
                reason: "no size that the shop keeps may carry it and be protected".to_owned(),
                mend: "stock a larger size, or split the bank's loads".to_owned(),
            });
            return None;
        };
        if !within(chosen.drop_v, wanted.limit_v) {
            let message = format!(
                "cable {} drops {:.2} V at {:.1} A even in the largest size that the shop keeps, {}, and {:.2} V is the most it may: stock a larger size, or shorten the way",
                leg.label, chosen.drop_v, leg.current_a, chosen.carried.size, wanted.limit_v
            );
            self.warn(owner, message);
        }
        let written = Box::new(self.schedule().conductor(&leg, &chosen, owner));
        let made = Made {
            label: leg.label.clone(),
            size: chosen.carried.size,
            rating_a: chosen.carried.rating_a,
            allows_a: chosen.carried.conductor_allows_a,
            rating_basis: written.rating_basis,
        };
        self.out.cables.push((leg, written));
        Some(made)
    }

    /// The size that a cable would get.
    pub(super) fn size_of(&self, wanted: &Cable<'a>) -> Option<WireSize> {
        Some(self.chosen(wanted, &self.leg(wanted))?.carried.size)
    }

    fn leg(&self, wanted: &Cable<'a>) -> Leg {
        let (boat, settings) = (self.facts.boat, self.facts.settings);
        let loaded = wanted.route.runs.iter().map(|&run| self.facts.laid.loaded[run]).max().unwrap_or(1);
        let mut leg = Leg {
            owner: Owner::Bank(wanted.bank),
            role: wanted.role,
            label: Name::from(wanted.label.as_str()),
            colour: wanted.colour,
            current_a: wanted.current_a,
            route: wanted.route.clone(),
            from: wanted.from,
            to: wanted.to,
            before: None,
            continues: None,
            maker_lead: None,
            lengths: LegLengths::default(),
            bundled: loaded.max(1),
        };
        leg.lengths = lengths(&leg, boat, settings);
        leg
    }

    fn chosen(&self, wanted: &Cable<'a>, leg: &Leg) -> Option<Chosen<'a>> {
        let settings = self.facts.settings;
        let standard = settings.area_standard;
        let demand = Demand {
            current_a: leg.current_a,
            continuous: wanted.continuous,
            insulation_c: settings.insulation_c,
            engine_space: leg.route.engine_space,
            bundled_conductors: if settings.derate_bundles { leg.bundled } else { 1 },
            standard,
            ratings_a: wanted.ratings.0,
            ratings: wanted.ratings.1,
            maker_fuse_a: None,
            least_rating_a: wanted.least_rating_a,
        };
        let least = construction_minimum(standard);
        let mut sizes: Vec<(f64, WireSize)> = settings
            .stocked_sizes
            .iter()
            .filter(|size| size.at_least(least))
            .filter_map(|size| Some((area_cmil(*size, standard)?, *size)))
            .collect();
        sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
        sizes.dedup();
        let mut refused = None;
        let mut last = None;
        for (area, size) in sizes {
            if wanted.at_least.is_some_and(|least| !size.at_least(least)) {
                refused = Some(LimitedBy::SameCable);
                continue;
            }
            let carried = match carry(&demand, size) {
                Ok(carried) => carried,
                Err(CannotCarry::NoTable) => continue,
                Err(refusal) => {
                    refused = Some(limited_by(&demand, size, refusal));
                    continue;
                }
            };
            let drop_v = drop_v(settings.copper_ohm_cmil_per_ft, leg.current_a, leg.lengths.carrying, area);
            let set_by = refused.unwrap_or(if size == least { LimitedBy::MinimumSize } else { LimitedBy::StockedSize });
            let chosen = Chosen { demand, carried, limited_by: set_by, drop_v, family: None };
            if within(drop_v, wanted.limit_v) {
                return Some(chosen);
            }
            refused = Some(LimitedBy::VoltageDrop);
            last = Some(chosen);
        }
        last
    }
}
