//! One question, one answer: the conductor for a current over a length.

mod none;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};

pub use none::{AtVoltage, InParallel, NoConductor};

use super::sizing::{self, Carried, Demand};
use crate::basis::{Basis, BasisRef, Ledger};
use crate::findings::Fault;
use crate::rules::table::{self, electrical};
use crate::rules::{ampacity, drop, protection, sizes};
use crate::take_off::LimitedBy;
use crate::units::{AreaStandard, Length, LengthValue, WireSize, rounded, within};

/// The question as it is sent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({
    "system_voltage_v": 12, "current_a": 10, "round_trip_length": {"value": 21, "unit": "ft"}, "max_drop_percent": 3
}))]
pub struct ConductorRequest {
    /// Nominal voltage of the system, volts.
    #[schema(minimum = 1, maximum = 1000)]
    pub system_voltage_v: f64,
    /// Current, amperes.
    #[schema(exclusive_minimum = 0, maximum = 1000)]
    pub current_a: f64,
    /// Length of conductor there and back; more than nothing, at most a kilometre.
    pub round_trip_length: LengthValue,
    /// Most that may be lost, percent of the nominal voltage.
    #[schema(minimum = 0.1, maximum = 50)]
    pub max_drop_percent: f64,
    /// Temperature rating of the insulation, °C: 60, 75, 80, 90, 105, 125 or 200 by gauge; 60, 70, 85, 90, 105, 125 or
    /// 200 metric.
    #[serde(default = "insulation_105")]
    #[schema(schema_with = insulation_schema)]
    pub insulation_c: u16,
    /// Whether it passes through an engine space.
    #[serde(default)]
    #[schema(default = false)]
    pub in_engine_space: bool,
    /// Conductors in its bundle that carry current, itself included.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 1000, default = 1)]
    pub bundled_conductors: u32,
    /// Standard that the area is taken from.
    #[serde(default)]
    #[schema(schema_with = area_standard_schema)]
    pub area_standard: AreaStandard,
    /// Whether the current flows for hours: protection is then sized at 125 %.
    #[serde(default = "yes")]
    #[schema(default = true)]
    pub continuous: bool,
}

fn insulation_105() -> u16 {
    105
}

fn one() -> u32 {
    1
}

fn yes() -> bool {
    true
}

fn insulation_schema() -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::Integer)
        .enum_values(Some([60, 70, 75, 80, 85, 90, 105, 125, 200]))
        .default(Some(105.into()))
        .description(Some(
            "Temperature rating of the insulation, °C: 60, 75, 80, 90, 105, 125 or 200 by gauge; 60, 70, 85, 90, 105, \
             125 or 200 metric.",
        ))
        .into()
}

// Written out: a default beside an inlined enum makes utoipa ask for an object that is also a string.
fn area_standard_schema() -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(["awg", "sae", "metric"]))
        .default(Some("awg".into()))
        .description(Some("Standard that the area is taken from."))
        .into()
}

/// A question that has an answer, or provably none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    system_voltage_v: f64,
    current_a: f64,
    length: Length,
    max_drop_percent: f64,
    insulation_c: u16,
    engine_space: bool,
    bundled_conductors: u32,
    standard: AreaStandard,
    continuous: bool,
}

/// Checks a question; every fault is listed, with its place in the request.
pub fn check(request: &ConductorRequest) -> Result<Question, Vec<Fault>> {
    let ConductorRequest {
        system_voltage_v,
        current_a,
        round_trip_length,
        max_drop_percent,
        insulation_c,
        in_engine_space,
        bundled_conductors,
        area_standard,
        continuous,
    } = *request;
    let mut faults = Vec::new();
    let mut refuse = |holds: bool, field: &str, message: String| {
        if !holds {
            faults.push(Fault::new(format!("/{field}"), message));
        }
    };
    refuse(
        (1.0..=1000.0).contains(&system_voltage_v),
        "system_voltage_v",
        format!("{system_voltage_v} V is no system voltage: give the nominal voltage, from 1 to 1000 V"),
    );
    refuse(
        current_a > 0.0 && current_a <= 1000.0,
        "current_a",
        format!("{current_a} A cannot be sized for: give the current in amperes, above 0 and at most 1000"),
    );
    let length = round_trip_length.length().filter(|&length| length > Length::ZERO);
    refuse(
        length.is_some(),
        "round_trip_length",
        format!("{round_trip_length} is no length of conductor: give it there and back, above 0 and at most 1 km"),
    );
    refuse(
        (0.1..=50.0).contains(&max_drop_percent),
        "max_drop_percent",
        format!(
            "{max_drop_percent} % is no drop limit: 3 is usual for safety and electronics, 10 for the rest; give 0.1 to 50"
        ),
    );
    refuse(
        (1..=1000).contains(&bundled_conductors),
        "bundled_conductors",
        format!("{bundled_conductors} conductors make no bundle: count this conductor too, from 1 to 1000"),
    );
    check_insulation(insulation_c, in_engine_space, area_standard, &mut refuse);
    match length {
        Some(length) if faults.is_empty() => Ok(Question {
            system_voltage_v,
            current_a,
            length,
            max_drop_percent,
            insulation_c,
            engine_space: in_engine_space,
            bundled_conductors,
            standard: area_standard,
            continuous,
        }),
        _ => Err(faults),
    }
}

fn check_insulation(
    insulation_c: u16,
    engine_space: bool,
    standard: AreaStandard,
    refuse: &mut impl FnMut(bool, &str, String),
) {
    let any = sizes::all(standard)[0];
    let (columns, of) = match standard {
        AreaStandard::Metric => ("60, 70, 85, 90, 105, 125 or 200", "for metric sizes (ISO 10133 Annex A)"),
        AreaStandard::Awg | AreaStandard::Sae => {
            ("60, 75, 80, 90, 105, 125 or 200", "for gauge sizes (33 CFR 183.425 Table 5)")
        }
    };
    let tabled = ampacity::table_current_a(any, insulation_c).is_some();
    refuse(
        tabled,
        "insulation_c",
        format!(
            "there is no table for insulation of {insulation_c} °C {of}: give {columns}, the next lower one if in doubt"
        ),
    );
    refuse(
        !tabled || !engine_space || ampacity::engine_space_factor(any, insulation_c).is_some(),
        "insulation_c",
        format!(
            "insulation of {insulation_c} °C must not be used in an engine space {of}: take wire of a higher rating"
        ),
    );
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConductorAnswer {
    /// The smallest size that does.
    pub gauge: WireSize,
    /// Its copper area, circular mils; absent for a metric size.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 6530)]
    pub area_cmil: Option<u32>,
    /// Its copper area, square millimetres; absent for a gauge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub area_mm2: Option<f64>,
    /// What refused the next smaller size; `minimum_size` when there is none smaller.
    pub limited_by: LimitedBy,
    /// Allowable current before corrections, amperes.
    pub table_current_a: f64,
    /// Allowable current after corrections, amperes.
    pub allowable_current_a: f64,
    /// Drop there and back, volts, to two places.
    pub drop_v: f64,
    /// Drop in percent of the nominal voltage, to one place.
    pub drop_percent: f64,
    /// Least rating of a protective device that carries the load, amperes.
    pub load_needs_a: f64,
    /// Highest rating that the conductor allows, amperes.
    pub conductor_allows_a: f64,
    /// The smallest standard rating between them, amperes.
    pub rating_a: f64,
    /// Which derivation gave which figure.
    pub because: ConductorAnswerBasis,
    /// Why the figures are so, unrounded.
    pub basis: Basis,
}

/// Where the derivations of an answer's figures stand in `basis.derivations`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConductorAnswerBasis {
    /// Of the area, in circular mils.
    pub area: BasisRef,
    /// Of `table_current_a`.
    pub table_current_a: BasisRef,
    /// Of `allowable_current_a`.
    pub allowable_current_a: BasisRef,
    /// Of `drop_v`.
    pub drop_v: BasisRef,
    /// Of `drop_percent`.
    pub drop_percent: BasisRef,
    /// Of `load_needs_a`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub load_needs_a: Option<BasisRef>,
    /// Of `conductor_allows_a`.
    pub conductor_allows_a: BasisRef,
    /// Of `rating_a`.
    pub rating_a: BasisRef,
}

impl Question {
    fn demand(&self) -> Demand<'static> {
        Demand {
            current_a: self.current_a,
            continuous: self.continuous,
            insulation_c: self.insulation_c,
            engine_space: self.engine_space,
            bundled_conductors: self.bundled_conductors,
            standard: self.standard,
            ratings_a: protection::standard_ratings(),
            ratings: "standard",
            least_rating_a: 0.0,
            maker_fuse_a: None,
        }
    }

    /// Drop there and back in a size, volts.
    fn drop_v(&self, area_cmil: f64) -> f64 {
        drop::drop_v(drop::COPPER_OHM_CMIL_PER_FT, self.current_a, self.length, area_cmil)
    }

    /// Whether a size does, or what refuses it. Where both drop and current refuse it, the drop is named.
    fn try_size(&self, size: WireSize) -> Result<Carried, LimitedBy> {
        let limit_v = self.system_voltage_v * self.max_drop_percent / 100.0;
        match sizes::area_cmil(size, self.standard) {
            Some(area_cmil) if within(self.drop_v(area_cmil), limit_v) => {}
            _ => return Err(LimitedBy::VoltageDrop),
        }
        let demand = self.demand();
        sizing::carry(&demand, size).map_err(|refusal| sizing::limited_by(&demand, size, refusal))
    }

    /// The smallest size that does, with what refused the next smaller one; or what refuses the largest.
    fn smallest(&self) -> Result<(Carried, LimitedBy), LimitedBy> {
        let mut refused_by = LimitedBy::MinimumSize;
        for &size in sizes::all(self.standard) {
            match self.try_size(size) {
                Ok(carried) => return Ok((carried, refused_by)),
                Err(limit) => refused_by = limit,
            }
        }
        Err(refused_by)
    }
}

/// Answers a question: the smallest size that keeps the drop limit, may carry the current, and can be protected.
pub fn answer(question: &Question) -> Result<ConductorAnswer, NoConductor> {
    let (carried, limited_by) = question.smallest().map_err(|limit| NoConductor::of(question, limit))?;
    let mut ledger = Ledger::default();
    let of = sizing::note(&mut ledger, &question.demand(), &carried);
    let drop_v = question.drop_v(carried.area_cmil);
    let of_drop_v = ledger.note(
        &electrical::DROP,
        &[
            ("copper_ohm_cmil_per_ft", drop::COPPER_OHM_CMIL_PER_FT.into()),
            ("current_a", question.current_a.into()),
            ("length_ft", question.length.ft().into()),
            ("area_cmil", carried.area_cmil.into()),
        ],
        drop_v,
    );
    let drop_percent = 100.0 * drop_v / question.system_voltage_v;
    let of_drop_percent = ledger.note(
        &electrical::DROP_PERCENT,
        &[("drop_v", drop_v.into()), ("nominal_voltage_v", question.system_voltage_v.into())],
        drop_percent,
    );
    let metric = matches!(carried.size, WireSize::Metric(_));
    Ok(ConductorAnswer {
        gauge: carried.size,
        area_cmil: (!metric).then_some(carried.area_cmil.round() as u32),
        area_mm2: sizes::area_mm2(carried.size, question.standard).filter(|_| metric),
        limited_by,
        table_current_a: carried.table_current_a,
        allowable_current_a: rounded(carried.allowable_current_a, 3),
        drop_v: rounded(drop_v, 2),
        drop_percent: rounded(drop_percent, 1),
        load_needs_a: rounded(carried.load_needs_a, 3),
        conductor_allows_a: carried.conductor_allows_a,
        rating_a: carried.rating_a,
        because: ConductorAnswerBasis {
            area: of.area,
            table_current_a: of.table_current_a,
            allowable_current_a: of.allowable_current_a,
            drop_v: of_drop_v,
            drop_percent: of_drop_percent,
            load_needs_a: of.load_needs_a,
            conductor_allows_a: of.conductor_allows_a,
            rating_a: of.rating_a,
        },
        basis: ledger.into_basis(table::rule_of),
    })
}
