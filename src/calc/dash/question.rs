//! One question, one answer: a dash by itself.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::layout::{Asked, AskedPart, layout};
use crate::basis::{Basis, Ledger};
use crate::findings::{Fault, Warning};
use crate::rules::table::rule_of;
use crate::shop::item::DashMount;
use crate::spec::dash_check::{check_face, check_mount};
use crate::spec::dash_input::{DashFaceInput, DashPointInput, PARTS_MOST};
use crate::take_off::DashLayout;
use crate::units::{LengthUnit, Name};

/// Steps of work for a dash that is asked for by itself.
const STEPS: u64 = 400_000;

/// A part of a dash that is asked for by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashPartRequest {
    /// Its key; of several of them `/2`, `/3` … are added.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "plotter")]
    pub id: Name,
    /// What it is, as printed; its key unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200)]
    pub description: Option<String>,
    /// How many; one unless stated.
    #[serde(default = "one")]
    #[schema(minimum = 1, maximum = 24, default = 1)]
    pub quantity: u16,
    /// How it goes into the dash.
    pub mount: DashMount,
    /// Where its middle has to be; only for a single one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<DashPointInput>,
}

const fn one() -> u16 {
    1
}

/// A dash to be laid out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DashRequest {
    /// The face.
    pub face: DashFaceInput,
    /// What goes into it: at most 24 in all, and exactly up to 10.
    #[schema(max_items = 24)]
    pub parts: Vec<DashPartRequest>,
    /// Unit of the lengths in the answer: inches for `in` and `ft`, millimetres for the others; inches unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_unit: Option<LengthUnit>,
}

/// The layout of a dash, with why its figures are so.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct DashAnswer {
    /// The layout.
    pub dash: DashLayout,
    /// What is allowed but unwise.
    pub warnings: Vec<Warning>,
    /// Why the figures are so.
    pub basis: Basis,
}

/// Everything that is wrong with a question.
///
/// # Errors
/// The faults, each with its place in the request.
pub fn check(request: &DashRequest) -> Result<(), Vec<Fault>> {
    let mut faults = Vec::new();
    check_face(&request.face, "/face", &mut faults);
    let mut seen = std::collections::BTreeSet::new();
    for (i, part) in request.parts.iter().enumerate() {
        check_mount(&part.mount, &format!("/parts/{i}/mount"), &mut faults);
        if !seen.insert(part.id.as_str()) {
            let message = format!("there are two parts '{}': give one of them another id, or a quantity", part.id);
            faults.push(Fault::new(format!("/parts/{i}/id"), message));
        }
        if part.quantity == 0 {
            faults.push(Fault::new(format!("/parts/{i}/quantity"), "none of it is wanted: leave the row out"));
        }
        if part.centre.is_some() && part.quantity > 1 {
            let message = "several parts cannot stand at one place: list each with an id and a place of its own";
            faults.push(Fault::new(format!("/parts/{i}/centre"), message));
        }
        if part.centre.is_some_and(|at| at.from_left.length().is_none() || at.from_bottom.length().is_none()) {
            faults.push(Fault::new(
                format!("/parts/{i}/centre"),
                "this is no place on a dash: check the numbers and their units",
            ));
        }
    }
    let all: usize = request.parts.iter().map(|part| usize::from(part.quantity)).sum();
    if all > PARTS_MOST {
        let message = format!("these are {all} parts, and a dash holds {PARTS_MOST} at most: ask for a part of it");
        faults.push(Fault::new("/parts", message));
    }
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// Answers a question that makes sense.
///
/// # Errors
/// The faults of one that does not.
pub fn answer(request: &DashRequest) -> Result<DashAnswer, Vec<Fault>> {
    check(request)?;
    let spread = request.parts.iter().flat_map(|part| {
        (1..=part.quantity).map(|n| AskedPart {
            key: if n == 1 { part.id.clone() } else { Name::from(format!("{}/{n}", part.id)) },
            description: part.description.clone().unwrap_or_else(|| part.id.to_string()),
            mount: part.mount.clone(),
            centre: part.centre,
        })
    });
    let asked = Asked {
        id: Name::from("dash"),
        station: None,
        face: &request.face,
        parts: spread.collect(),
        unit: request.length_unit.unwrap_or(LengthUnit::In),
        work: STEPS,
    };
    let mut ledger = Ledger::with_room(64);
    let dash = layout(&asked, &mut ledger);
    let warnings = super::findings::warnings(&dash);
    Ok(DashAnswer { dash, warnings, basis: ledger.into_basis(rule_of) })
}
