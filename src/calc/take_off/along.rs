//! What is met along the way of cable, in the take-off.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::fit_out::Consumables;
use crate::spec::input::LengthSource;
use crate::units::{LengthValue, Name};

/// What is met along the way of cable.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Along {
    /// Whether it is counted and charged by the piece, or lies in the shop supplies: never both.
    pub consumables: Consumables,
    /// Each run that is used.
    pub runs: Vec<AlongRun>,
    /// Loom and messenger line: what is cut.
    pub pieces: Vec<AlongPiece>,
    /// Drip loops: one at each piece of equipment, made of its service loop.
    pub drip_loops: DrivenCount,
    /// Labels: two for each conductor; they stand among the requirements in any case.
    pub labels: DrivenCount,
    /// Cans of terminal protectant, by ends on studs.
    pub terminal_protectant: DrivenCount,
    /// Cans of solvent, by splices.
    pub solvent: DrivenCount,
}

/// So many of something, and what drives it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct DrivenCount {
    /// How many.
    pub count: u32,
    /// Why.
    pub basis: BasisRef,
}

/// One run: how thick its bundle is and what holds it, or how full its tube is.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AlongRun {
    /// Station at one end.
    #[schema(value_type = String)]
    pub from: Name,
    /// Station at the other end.
    #[schema(value_type = String)]
    pub to: Name,
    /// Cables of this job in it; conductors under one jacket are one.
    pub cables: u32,
    /// Size of what goes round the bundle.
    pub bundle: LengthValue,
    /// Why.
    pub bundle_basis: BasisRef,
    /// Its tube, where it has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tube: Option<TubeFill>,
    /// Supports; absent in a tube and where no hand reaches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supports: Option<DrivenCount>,
    /// Cable ties; absent in a tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ties: Option<DrivenCount>,
    /// Grommets, one for each bulkhead; absent where it passes none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grommets: Option<DrivenCount>,
}

/// How full a tube is.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct TubeFill {
    /// Inside diameter; absent where nobody has said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inside_diameter: Option<LengthValue>,
    /// Whether that is the usual of the hull's form and nobody has measured it.
    pub estimated: bool,
    /// Cables that were in it before.
    pub already: u32,
    /// Share of its area that is filled, percent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill_percent: Option<f64>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill_basis: Option<BasisRef>,
    /// Share that may be filled, percent.
    pub most_percent: f64,
    /// Why.
    pub most_basis: BasisRef,
    /// Inside diameter of the narrowest tube that may hold all of it.
    pub narrowest: LengthValue,
    /// Why.
    pub narrowest_basis: BasisRef,
    /// How many cables of the shop's smallest size may go in beside them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub room: Option<u32>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub room_basis: Option<BasisRef>,
}

/// A piece of loom or messenger line.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AlongPiece {
    /// Which run it is for.
    #[schema(value_type = String, example = "loom/aft_bilge-helm")]
    pub label: Name,
    /// Key of the requirement that it is cut for; none is listed where the shop supplies cover it.
    #[schema(value_type = String)]
    pub requirement: Name,
    /// Length in place.
    pub installed_length: LengthValue,
    /// Why.
    pub installed_basis: BasisRef,
    /// Length to cut: that and waste.
    pub cut_length: LengthValue,
    /// Why.
    pub cut_basis: BasisRef,
    /// Whether its run was measured.
    pub length_source: LengthSource,
}
