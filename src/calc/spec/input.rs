//! The boat spec as a client sends it: the central contract of the service.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::shop::item::{LabourUse, Wiring};
use crate::spec::answers::AnswerInput;
use crate::spec::dash_input::DashInput;
use crate::spec::network_input::NetworkInput;
use crate::spec::power_input::PowerInput;
use crate::units::{AreaStandard, LengthUnit, LengthValue, Name, WireSize};

/// Pattern of the identifiers that a spec gives to its stations, banks, panels, buses and equipment.
pub const ID_PATTERN: &str = r"^[a-z0-9][a-z0-9_-]{0,59}$";

/// A form of hull.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HullForm {
    /// Console amidships, walk-round deck.
    CenterConsole,
    /// Low-sided console boat for shallow water.
    BayBoat,
    /// Small open boat.
    Skiff,
    /// Two consoles with a walk-through between.
    DualConsole,
    /// Cuddy cabin with side decks round it.
    Walkaround,
    /// Cabin forward, helm aft of it.
    Express,
    /// Deck on tubes.
    Pontoon,
    /// Open aluminum boat.
    AluminumUtility,
    /// Sailing boat with one hull.
    SailingMonohull,
    /// Two hulls and a bridge deck.
    Catamaran,
}

impl HullForm {
    /// Every form.
    pub const ALL: [HullForm; 10] = [
        HullForm::CenterConsole,
        HullForm::BayBoat,
        HullForm::Skiff,
        HullForm::DualConsole,
        HullForm::Walkaround,
        HullForm::Express,
        HullForm::Pontoon,
        HullForm::AluminumUtility,
        HullForm::SailingMonohull,
        HullForm::Catamaran,
    ];

    /// As written in JSON and in the layout tables.
    pub const fn word(self) -> &'static str {
        match self {
            HullForm::CenterConsole => "center_console",
            HullForm::BayBoat => "bay_boat",
            HullForm::Skiff => "skiff",
            HullForm::DualConsole => "dual_console",
            HullForm::Walkaround => "walkaround",
            HullForm::Express => "express",
            HullForm::Pontoon => "pontoon",
            HullForm::AluminumUtility => "aluminum_utility",
            HullForm::SailingMonohull => "sailing_monohull",
            HullForm::Catamaran => "catamaran",
        }
    }
}

/// The kind of job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JobType {
    /// Hull still open: no deck or liner in the way.
    BareHull,
    /// New boat, rigged for the first time.
    FirstRig,
    /// Boat that was rigged before.
    ReRig,
}

/// What drives the boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Propulsion {
    /// Outboard motor.
    Outboard,
    /// Petrol engine inboard or sterndrive.
    PetrolInboard,
    /// Diesel engine inboard or sterndrive.
    DieselInboard,
    /// Electric motor.
    Electric,
    /// No engine.
    None,
}

/// An answer that may not be known yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Known {
    /// It is so.
    Yes,
    /// It is not so.
    No,
    /// Nobody has looked: treated as yes, and asked about.
    Unknown,
}

/// Colour of the DC negative conductors of a boat: one or the other, never both.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NegativeColour {
    /// Black.
    Black,
    /// Yellow: where AC is aboard, since black is an AC hot colour.
    Yellow,
}

/// How cable gets through a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Access {
    /// Open space: the hand reaches it.
    Open,
    /// Tube with a messenger line.
    Tube,
    /// Under the gunwale or behind a liner.
    Gunwale,
    /// Blind, or a tube that is full.
    Blind,
}

/// Where a run's length comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LengthSource {
    /// Measured on the boat.
    #[default]
    Measured,
    /// Estimated: carries the larger waste and is measured before anything is cut.
    Estimated,
}

/// A side of the boat, looking forward.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Left.
    #[default]
    Port,
    /// Right.
    Starboard,
}

/// Where on the hull a station is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PositionInput {
    /// From the transom, towards the bow.
    pub from_transom: LengthValue,
    /// From the centre line; on it unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub off_centre: Option<LengthValue>,
    /// To which side of the centre line; port unless stated.
    #[serde(default)]
    pub side: Side,
    /// Above the inside of the bottom; where the layout has the station, or else at the bottom, unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<LengthValue>,
}

/// A place on the boat where something is mounted: one of the hull form's layout, changed, or another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StationInput {
    /// Identifier that runs and equipment refer to; that of a station of the layout changes that one.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "aft_bilge")]
    pub id: Name,
    /// As printed; the identifier unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 100)]
    pub name: Option<String>,
    /// Whether petrol vapour can be here. Unless stated it is as the layout has it, or unknown on a boat that carries petrol.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub petrol_vapour: Option<Known>,
    /// Length of cable from where the runs end to where things are mounted; none unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rise: Option<LengthValue>,
    /// Where it is. A station of the layout that is given another place keeps its neighbours, and the runs to them are
    /// estimated anew; any other station is only drawn there, and needs runs of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<PositionInput>,
}

/// Cables of one thickness that are in a tube already.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TubeContentInput {
    /// How thick each is.
    pub outside_diameter: LengthValue,
    /// How many.
    #[schema(minimum = 1, maximum = 200)]
    pub count: u16,
}

/// A path between two stations along which cable can be pulled. It takes the place of the layout's run between the same
/// two, and whatever it leaves out (access, tube, engine space) stays as the layout has it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RunInput {
    /// Station at one end.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub from: Name,
    /// Station at the other end.
    #[schema(value_type = String, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "aft_bilge")]
    pub to: Name,
    /// Length along the path that cable takes.
    pub length: LengthValue,
    /// Whether that length was measured.
    #[serde(default)]
    pub length_source: LengthSource,
    /// How cable gets through; open unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub access: Option<Access>,
    /// Whether the run passes through an engine space, where conductors carry less. A motor well is none.
    #[serde(default)]
    pub engine_space: bool,
    /// Inside diameter of the tube.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inside_diameter: Option<LengthValue>,
    /// Cables that are in the tube already, and stay.
    #[serde(default)]
    #[schema(max_items = 20)]
    pub in_tube: Vec<TubeContentInput>,
    /// Bulkheads that it passes; as the layout has it, or none, unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(maximum = 20)]
    pub bulkheads: Option<u8>,
}

/// The boat itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BoatInput {
    /// Name of the boat or of the job.
    #[schema(min_length = 1, max_length = 200, example = "Kittiwake")]
    pub name: String,
    /// Form of the hull. With `hull_length` and `beam` its layout gives the stations and runs that the spec does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hull_form: Option<HullForm>,
    /// Kind of job.
    pub job_type: JobType,
    /// Length of the hull, without bracket or motor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hull_length: Option<LengthValue>,
    /// Beam.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beam: Option<LengthValue>,
    /// Depth amidships, from the inside of the bottom to the sheer; a share of the beam that is usual for the form unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth: Option<LengthValue>,
    /// What drives it.
    pub propulsion: Propulsion,
    /// Colour of DC negative; the shop's unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub negative_colour: Option<NegativeColour>,
    /// Standard of its wire; the shop's unless stated. A shop that keeps both kinds can wire one boat in gauges and the
    /// next in square millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wire_standard: Option<AreaStandard>,
    /// Unit of lengths in the answer; the shop's unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length_unit: Option<LengthUnit>,
    /// Whether hull and deck have a core where they are drilled. Unless stated it is unknown: a core is reckoned with, and
    /// asked about, except on hulls of metal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cored: Option<Known>,
    /// Metal under water that may want bonding: through-hulls, a rudder, a shaft.
    #[serde(default)]
    #[schema(max_items = 30)]
    pub underwater_metal: Vec<String>,
    /// How many old circuits a re-rig strips out; as many as are wired anew unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 500)]
    pub old_circuits: Option<u16>,
    /// Hauls and launches together. Unless stated the boat is launched and hauled once for its sea trial, if it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 20)]
    pub hauls_and_launches: Option<u16>,
    /// Whether a sea trial is made; unless stated it is where navigation electronics are fitted, but not on a bare hull.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sea_trial: Option<bool>,
    /// Stations, beside those of the layout or in their place.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub stations: Vec<StationInput>,
    /// Runs between them.
    #[serde(default)]
    #[schema(max_items = 1000)]
    pub runs: Vec<RunInput>,
}

/// How a raw-water pump is plumbed on this boat, where that is not the usual for its kind.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PumpPlumbingInput {
    /// Station that it discharges at: at the hull's side, in a well, or on deck. Unless stated, the nearest that is usual
    /// for its kind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "starboard_quarter")]
    pub discharge: Option<Name>,
    /// Name of the intake that it draws from: pumps that name the same one share it, with a manifold behind it. Unless
    /// stated it has one of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "raw_water")]
    pub intake: Option<Name>,
    /// Whether through-hull and seacock of its intake are aboard and sound.
    #[serde(default)]
    pub existing_through_hull: bool,
    /// Whether all of its plumbing is aboard and stays: nothing of it is counted.
    #[serde(default)]
    pub aboard: bool,
}

/// Something to be supplied, mounted and wired.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EquipmentInput {
    /// Identifier for overrules to refer to; the sku and station, in lower case, unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "aft-pump")]
    pub id: Option<Name>,
    /// The item.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "PUMP-BILGE-1100")]
    pub sku: Name,
    /// How many; each is wired by itself.
    #[schema(minimum = 1, maximum = 100)]
    pub quantity: u16,
    /// Where it is mounted; needed for anything that is wired.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "aft_bilge")]
    pub station: Option<Name>,
    /// Panel that feeds it. Absent, the boat's only panel of a voltage that the item takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm_panel")]
    pub panel: Option<Name>,
    /// How it is wired; the item's way unless stated, and else the shop's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wiring: Option<Wiring>,
    /// How it is plumbed, for a raw-water pump.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plumbing: Option<PumpPlumbingInput>,
    /// Station that the cables which come with it lead to. Absent, the nearest device that such a cable goes to, else the helm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[a-z0-9][a-z0-9_-]{0,59}$", example = "helm")]
    pub cables_to: Option<Name>,
    /// Whether the customer brings it: wired, mounted and not charged.
    #[serde(default)]
    pub customer_supplied: bool,
}

/// A person's choice in place of the computed one. It stays with the spec through every recomputation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "what", rename_all = "snake_case", deny_unknown_fields)]
pub enum OverruleInput {
    /// Another conductor size for a circuit or a feeder. Refused where it could not carry the current or be protected.
    Conductor {
        /// Key of the circuit or feeder, as the take-off gives it.
        #[schema(value_type = String, min_length = 1, max_length = 130, example = "aft-pump")]
        circuit: Name,
        /// The size to use.
        gauge: WireSize,
        /// Why.
        #[schema(min_length = 1, max_length = 500, example = "Spare drum on the shelf")]
        reason: String,
    },
    /// Another item for a requirement. It must be of the kind that is required.
    Item {
        /// Key of the requirement, as the take-off gives it.
        #[schema(value_type = String, min_length = 1, max_length = 200, example = "ring_terminal/16 AWG/#8")]
        requirement: Name,
        /// The item to use.
        #[schema(value_type = String, min_length = 1, max_length = 60)]
        sku: Name,
        /// Why.
        #[schema(min_length = 1, max_length = 500)]
        reason: String,
    },
    /// Hours for a labour operation in place of its count times its unit time.
    Hours {
        /// Code of the labour operation.
        #[schema(value_type = String, min_length = 1, max_length = 60)]
        operation: Name,
        /// Hours for all of it, job factor included.
        #[schema(value_type = String, pattern = r"^[0-9]{1,5}(\.[0-9]{1,2})?$", example = "2.5")]
        hours: Decimal,
        /// Why.
        #[schema(min_length = 1, max_length = 500)]
        reason: String,
    },
}

/// A line that a person writes into the quote.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExtraLineInput {
    /// What it is.
    #[schema(min_length = 1, max_length = 200, example = "Haul out and block")]
    pub description: String,
    /// How many; negative to take something off.
    #[schema(value_type = String, pattern = r"^-?[0-9]{1,7}(\.[0-9]{1,4})?$", example = "1")]
    pub quantity: Decimal,
    /// Unit of the quantity, as printed.
    #[schema(min_length = 1, max_length = 20, example = "each")]
    pub unit: String,
    /// Price of one unit, never negative.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "350.00")]
    pub unit_price: Decimal,
    /// Tax class: one of the shop's settings.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "service")]
    pub tax_class: Name,
}

/// A boat spec: the boat, its sources and panels, and what is to be put on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BoatSpecInput {
    /// The boat.
    pub boat: BoatInput,
    /// Its sources and distribution. Absent, one 12 V bank and one panel are taken to be aboard where the layout has them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power: Option<PowerInput>,
    /// What it asks of its data network. One is laid where two devices or more are on it, or where this asks for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub network: Option<NetworkInput>,
    /// Codes of packages.
    #[serde(default)]
    #[schema(value_type = Vec<String>, max_items = 50, example = json!(["HELM-12-BASIC"]))]
    pub packages: Vec<Name>,
    /// Equipment beside that of the packages.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub equipment: Vec<EquipmentInput>,
    /// Dashes that equipment and panels go into.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 10)]
    pub dashes: Vec<DashInput>,
    /// Labour beside that of items and packages.
    #[serde(default)]
    #[schema(max_items = 100)]
    pub labour: Vec<LabourUse>,
    /// A person's choices.
    #[serde(default)]
    #[schema(max_items = 500)]
    pub overrules: Vec<OverruleInput>,
    /// Answers to questions about what is on no list.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 50)]
    pub answers: Vec<AnswerInput>,
    /// Lines that a person writes into the quote; a take-off lists none of them.
    #[serde(default)]
    #[schema(max_items = 200)]
    pub extra_lines: Vec<ExtraLineInput>,
}
