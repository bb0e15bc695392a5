//! Whether a conductor size can carry a load and be protected: one answer for the chain and for the calculator.

use crate::basis::{BasisRef, Ledger};
use crate::rules::table::electrical as table;
use crate::rules::{ampacity, protection, sizes};
use crate::take_off::LimitedBy;
use crate::units::{AreaStandard, WireSize, within};

/// What a conductor has to carry, and where.
#[derive(Clone, Copy, Debug)]
pub struct Demand<'a> {
    /// Current, amperes.
    pub current_a: f64,
    /// Whether it flows for hours: protection is then sized at 125 %.
    pub continuous: bool,
    /// Temperature rating of the insulation, °C.
    pub insulation_c: u16,
    /// Whether any of the route lies in an engine space.
    pub engine_space: bool,
    /// Loaded conductors in the fullest bundle of the route; 1 where bundles do not count.
    pub bundled_conductors: u32,
    /// Standard that the area is taken from.
    pub standard: AreaStandard,
    /// Ratings of protective devices to choose from, amperes, rising.
    pub ratings_a: &'a [f64],
    /// What that list is: `standard` for all that the trade can buy, `branch` for the shop's, or a fuse family's word.
    pub ratings: &'static str,
    /// Rating that the maker of the load states for its fuse, amperes.
    pub maker_fuse_a: Option<f64>,
    /// Least rating that something else asks of the device, amperes: the largest device of a circuit whose return this
    /// is, or what stands behind a main fuse; 0 for nothing.
    pub least_rating_a: f64,
}

/// What a size that fits has to show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// The size.
    pub size: WireSize,
    /// Its copper area, circular mils.
    pub area_cmil: f64,
    /// Allowable amperes before corrections.
    pub table_current_a: f64,
    /// Correction for an engine space; 1 outside.
    pub engine_space_factor: f64,
    /// Correction for the bundle.
    pub bundle_factor: f64,
    /// Allowable amperes after corrections.
    pub allowable_current_a: f64,
    /// Least rating that carries the load, amperes; the current itself where the maker's fuse was taken.
    pub load_needs_a: f64,
    /// Highest rating that the conductor allows, amperes.
    pub conductor_allows_a: f64,
    /// Rating of the protective device, amperes.
    pub rating_a: f64,
    /// That rating where the maker of the load states it, amperes.
    pub maker_fuse_a: Option<f64>,
}

/// Why a size does not fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CannotCarry {
    /// No published table has this size with this insulation in this place.
    NoTable,
    /// It may carry less than the load draws.
    Ampacity {
        /// Allowable amperes after corrections.
        allowable_current_a: f64,
    },
    /// No device both carries the load and protects the conductor.
    Protection {
        /// Least rating that carries the load, amperes.
        load_needs_a: f64,
        /// Highest rating that the conductor allows, amperes.
        conductor_allows_a: f64,
    },
}

/// Whether `size` carries the demand and can be protected while it does.
///
/// 1. Its allowable current is that of the table, times the factors for engine space and bundle; it is not below the
///    load's.
/// 2. The device is the maker's, if he states one that is not below the current; otherwise the smallest rating that
///    carries the load: 125 % of a current that flows for hours.
/// 3. The device is no larger than the conductor allows.
pub fn carry(demand: &Demand, size: WireSize) -> Result<Carried, CannotCarry> {
    let area_cmil = sizes::area_cmil(size, demand.standard).ok_or(CannotCarry::NoTable)?;
    let table_current_a = ampacity::table_current_a(size, demand.insulation_c).ok_or(CannotCarry::NoTable)?;
    let engine_space_factor = match demand.engine_space {
        true => ampacity::engine_space_factor(size, demand.insulation_c).ok_or(CannotCarry::NoTable)?,
        false => 1.0,
    };
    let bundle_factor = ampacity::bundle_factor(demand.bundled_conductors);
    let allowable_current_a = table_current_a * engine_space_factor * bundle_factor;
    if !within(demand.current_a, allowable_current_a) {
        return Err(CannotCarry::Ampacity { allowable_current_a });
    }
    let (load_needs_a, rating, conductor_allows_a) = device(demand, allowable_current_a);
    match rating {
        Some(rating_a) if within(rating_a, conductor_allows_a) => Ok(Carried {
            size,
            area_cmil,
            table_current_a,
            engine_space_factor,
            bundle_factor,
            allowable_current_a,
            load_needs_a,
            conductor_allows_a,
            rating_a,
            maker_fuse_a: maker_fuse_a(demand),
        }),
        _ => Err(CannotCarry::Protection { load_needs_a, conductor_allows_a }),
    }
}

/// The maker's fuse, unless the load would blow it.
fn maker_fuse_a(demand: &Demand) -> Option<f64> {
    demand.maker_fuse_a.filter(|&fuse_a| within(demand.current_a, fuse_a))
}

/// Least rating that carries the load, the rating to take if there is one, and the highest that the conductor allows.
fn device(demand: &Demand, allowable_current_a: f64) -> (f64, Option<f64>, f64) {
    // "The next standard rating" is that of the trade's full list, not of what one shop happens to keep.
    let standard = protection::standard_ratings();
    let allows_a = protection::conductor_allows_a(allowable_current_a, standard);
    match maker_fuse_a(demand) {
        Some(fuse_a) => {
            // The maker's rating may be one that the shop does not keep; it is then a standard rating like the others.
            let above = standard.iter().copied().find(|&r| !within(r, allowable_current_a));
            let next_a = above.map_or(fuse_a, |r| r.min(fuse_a));
            let allows_a = if within(fuse_a, allowable_current_a) {
                allows_a.max(fuse_a)
            } else if within(next_a, allowable_current_a * protection::RATING_PER_ALLOWABLE_MAX) {
                next_a
            } else {
                allows_a
            };
            (demand.current_a, Some(fuse_a), allows_a)
        }
        None => {
            let factor = if demand.continuous { protection::CONTINUOUS_FACTOR } else { 1.0 };
            let needs_a = (demand.current_a * factor).max(demand.least_rating_a);
            (needs_a, protection::smallest_rating_a(needs_a, demand.ratings_a), allows_a)
        }
    }
}

/// What a refusal of `size` is called where the next larger size is taken for it: the first of table, engine space and
/// bundle that brings the allowable current below the load's, or the protection.
pub fn limited_by(demand: &Demand, size: WireSize, refusal: CannotCarry) -> LimitedBy {
    match refusal {
        CannotCarry::NoTable => LimitedBy::Ampacity,
        CannotCarry::Protection { .. } => LimitedBy::Protection,
        CannotCarry::Ampacity { .. } => {
            let table_a = ampacity::table_current_a(size, demand.insulation_c).unwrap_or(0.0);
            let engine_space = match demand.engine_space {
                true => ampacity::engine_space_factor(size, demand.insulation_c).unwrap_or(0.0),
                false => 1.0,
            };
            if !within(demand.current_a, table_a) {
                LimitedBy::Ampacity
            } else if !within(demand.current_a, table_a * engine_space) {
                LimitedBy::EngineSpace
            } else {
                LimitedBy::Bundling
            }
        }
    }
}

/// Where the figures of a [`Carried`] stand in a document's basis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CarriedBasis {
    /// Of `area_cmil`.
    pub area: BasisRef,
    /// Of `table_current_a`.
    pub table_current_a: BasisRef,
    /// Of `allowable_current_a`.
    pub allowable_current_a: BasisRef,
    /// Of `load_needs_a`; absent where the maker's fuse was taken.
    pub load_needs_a: Option<BasisRef>,
    /// Of `conductor_allows_a`.
    pub conductor_allows_a: BasisRef,
    /// Of `rating_a`.
    pub rating_a: BasisRef,
}

/// Notes why each figure of `carried` is so.
pub fn note(ledger: &mut Ledger, demand: &Demand, carried: &Carried) -> CarriedBasis {
    let insulation = ("insulation_c", f64::from(demand.insulation_c).into());
    let (size, area_rule, ampacity_rule, engine_rule) = match (carried.size, demand.standard) {
        (WireSize::Awg(n), AreaStandard::Sae) => {
            (("awg", f64::from(n).into()), &table::AREA_SAE, &table::AMPACITY_TABLE5, &table::ENGINE_SPACE)
        }
        (WireSize::Awg(n), _) => {
            (("awg", f64::from(n).into()), &table::AREA_AWG, &table::AMPACITY_TABLE5, &table::ENGINE_SPACE)
        }
        (WireSize::Metric(hundredths), _) => (
            ("mm2", (f64::from(hundredths) / 100.0).into()),
            &table::AREA_METRIC,
            &table::AMPACITY_METRIC,
            &table::ENGINE_SPACE_METRIC,
        ),
    };
    let area = ledger.note(area_rule, &[size], carried.area_cmil);
    let table_current_a = ledger.note(ampacity_rule, &[size, insulation], carried.table_current_a);
    if demand.engine_space {
        ledger.note(engine_rule, &[insulation], carried.engine_space_factor);
    }
    let loaded = ("loaded_conductors", f64::from(demand.bundled_conductors).into());
    ledger.note(&table::BUNDLE, &[loaded], carried.bundle_factor);
    let allowable_current_a = ledger.note(
        &table::AMPACITY_CORRECTED,
        &[
            ("table_current_a", carried.table_current_a.into()),
            ("engine_space_factor", carried.engine_space_factor.into()),
            ("bundle_factor", carried.bundle_factor.into()),
        ],
        carried.allowable_current_a,
    );
    let allowable = ("allowable_current_a", carried.allowable_current_a.into());
    let allows = ("conductor_allows_a", carried.conductor_allows_a.into());
    let (conductor_allows_a, load_needs_a, rating_a) = match carried.maker_fuse_a {
        Some(fuse_a) => {
            let maker = ("maker_fuse_a", fuse_a.into());
            let of_conductor =
                ledger.note(&table::PROTECTION_CONDUCTOR_MAKER, &[allowable, maker], carried.conductor_allows_a);
            (of_conductor, None, ledger.note(&table::PROTECTION_MAKER, &[maker, allows], carried.rating_a))
        }
        None => {
            let factor = if demand.continuous { protection::CONTINUOUS_FACTOR } else { 1.0 };
            let load = [
                ("current_a", demand.current_a.into()),
                ("continuous_factor", factor.into()),
                ("least_rating_a", demand.least_rating_a.into()),
            ];
            let of_load = ledger.note(&table::PROTECTION_NEED, &load, carried.load_needs_a);
            let rating = [("load_needs_a", carried.load_needs_a.into()), allows, ("ratings", demand.ratings.into())];
            (
                ledger.note(&table::PROTECTION_CONDUCTOR, &[allowable], carried.conductor_allows_a),
                Some(of_load),
                ledger.note(&table::PROTECTION, &rating, carried.rating_a),
            )
        }
    };
    CarriedBasis { area, table_current_a, allowable_current_a, load_needs_a, conductor_allows_a, rating_a }
}
