//! The plumbing of raw-water pumps in the take-off.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::item::PumpKind;
use crate::spec::input::LengthSource;
use crate::units::{LengthValue, Name};

/// The plumbing of all raw-water pumps.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Plumbing {
    /// The pumps, in order of key.
    pub pumps: Vec<PlumbedPump>,
    /// Where they draw from the sea.
    pub intakes: Vec<Intake>,
    /// Every hose: what is cut.
    pub hoses: Vec<HosePiece>,
    /// Holes that are drilled, and what they take.
    pub holes: Holes,
}

/// One pump.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlumbedPump {
    /// Key of its equipment.
    #[schema(value_type = String, example = "live-well")]
    pub pump: Name,
    /// What it does with the water.
    pub pump_kind: PumpKind,
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// Intake that it draws from; absent where it draws from the bilge.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub intake: Option<Name>,
    /// Hose at its inlet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inlet: Option<LengthValue>,
    /// Why.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inlet_basis: Option<BasisRef>,
    /// Hose at its outlet.
    pub outlet: LengthValue,
    /// Why.
    pub outlet_basis: BasisRef,
    /// Where its water goes: `overboard`, `well` or `deck`. Expect new values.
    #[schema(value_type = String)]
    pub discharge: &'static str,
    /// Station that it discharges at; absent where none is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub discharge_station: Option<Name>,
}

/// A place where water is drawn from the sea.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Intake {
    /// Its name: that which its pumps share, else its pump's key.
    #[schema(value_type = String)]
    pub intake: Name,
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// Nominal size of through-hull and seacock.
    pub pipe: LengthValue,
    /// Why.
    pub basis: BasisRef,
    /// Whether through-hull and seacock are aboard already.
    pub aboard: bool,
    /// Whether it has a strainer.
    pub strainer: bool,
    /// Outlets of the manifold behind it; absent where one pump draws from it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub manifold_ways: Option<u16>,
    /// Pumps that draw from it.
    #[schema(value_type = Vec<String>)]
    pub pumps: Vec<Name>,
}

/// One hose: what it is cut from, and where it leads.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct HosePiece {
    /// Label.
    #[schema(value_type = String, example = "H01")]
    pub label: Name,
    /// Pump or intake that it belongs to.
    #[schema(value_type = String)]
    pub used_by: Name,
    /// Key of the requirement that it is cut for.
    #[schema(value_type = String)]
    pub requirement: Name,
    /// Inside diameter.
    pub inside_diameter: LengthValue,
    /// Whether it must be reinforced.
    pub reinforced: bool,
    /// What it leads from, and where that is.
    pub from: HoseEnd,
    /// What it leads to, and where that is.
    pub to: HoseEnd,
    /// Length in place.
    pub installed_length: LengthValue,
    /// Why.
    pub installed_basis: BasisRef,
    /// Length to cut: that and waste.
    pub cut_length: LengthValue,
    /// Why.
    pub cut_basis: BasisRef,
    /// Whether all of it was measured.
    pub length_source: LengthSource,
    /// What stands beside it: that an estimated piece is measured before it is cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "estimated: measure before cutting")]
    pub cut_note: Option<&'static str>,
    /// Clamps at both ends.
    pub clamps: u32,
    /// Why.
    pub clamps_basis: BasisRef,
}

/// An end of a hose.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct HoseEnd {
    /// Station where it is; absent where none is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub station: Option<Name>,
    /// What it is pushed on: `seacock`, `strainer`, `manifold`, `pump`, `discharge`, `well_inlet` or `deck_outlet`. Expect
    /// new values.
    #[schema(value_type = String)]
    pub on: &'static str,
    /// Whether it is below the waterline.
    pub below_waterline: bool,
}

/// Holes that are drilled for fittings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct Holes {
    /// Below the waterline.
    pub below_waterline: u32,
    /// Above it, in hull or deck.
    pub above_waterline: u32,
    /// Holes whose core is sealed.
    pub core_sealed: u32,
    /// Why.
    pub core_basis: BasisRef,
    /// Kits of core sealer.
    pub core_kits: u32,
    /// Why.
    pub core_kits_basis: BasisRef,
    /// Cartridges of bedding sealant.
    pub cartridges: u32,
    /// Why.
    pub cartridges_basis: BasisRef,
}
