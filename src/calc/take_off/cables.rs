//! Jacketed cables in the take-off.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::spec::input::LengthSource;
use crate::units::{LengthValue, Name, WireSize};

/// What a total of wire is of. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum WireKind {
    /// Single-conductor wire.
    Wire,
    /// Jacketed cable.
    Cable,
}

/// The sleeve over the end of a jacket: adhesive heat shrink, half on the jacket and half on what comes out of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct JacketSleeve {
    /// Inside diameter as supplied of the smallest tubing that does it.
    pub supplied_diameter: LengthValue,
    /// How long it is cut.
    pub piece_length: LengthValue,
}

/// Where the parts of a cable's basis stand in `basis.derivations`.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct CableBasis {
    /// Of `outside_diameter`.
    pub outside_diameter: BasisRef,
    /// Of the smallest conductor that it may have.
    pub minimum_size: BasisRef,
    /// Of each of `colours`.
    pub colours: Vec<BasisRef>,
    /// Of `installed_length`.
    pub installed_length: BasisRef,
    /// Of `cut_length`.
    pub cut_length: BasisRef,
}

/// One jacketed cable: what it is cut from, and what it becomes at its ends.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Cable {
    /// Label.
    #[schema(value_type = String, example = "C07")]
    pub label: Name,
    /// Circuit whose conductors it holds.
    #[schema(value_type = String)]
    pub circuit: Name,
    /// Labels of its conductors: positives first, the return last.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Insulation colour of each, in that order.
    #[schema(value_type = Vec<String>)]
    pub colours: Vec<&'static str>,
    /// Size of each.
    pub gauge: WireSize,
    /// Temperature rating of the insulation, °C.
    pub insulation_c: u16,
    /// Stations along its route, end to end.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// Outside diameter of its jacket as reckoned from its conductors.
    pub outside_diameter: LengthValue,
    /// Sleeve over the jacket at each end; absent where no tubing goes over it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sleeve: Option<JacketSleeve>,
    /// How far its conductors come out of the jacket at each end: a part of its length.
    pub break_out: LengthValue,
    /// Route, rises and what the ends use up.
    pub installed_length: LengthValue,
    /// Length to cut: that, service loops and waste; of its conductors the one that needs most.
    pub cut_length: LengthValue,
    /// Whether all of its route was measured.
    pub length_source: LengthSource,
    /// What stands beside it on the cut list: that an estimated piece is measured before it is cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "estimated: measure before cutting")]
    pub cut_note: Option<&'static str>,
    /// Why its figures are so.
    pub basis: CableBasis,
}
