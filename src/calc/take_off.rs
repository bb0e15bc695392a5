//! The take-off: circuits, conductors, protection, terminations, labour and requirements of one boat, before any price.

mod along;
mod cables;
mod conductors;
mod dash;
mod plumbing;
mod network;
mod power;

pub use along::{Along, AlongPiece, AlongRun, DrivenCount, TubeFill};
pub use cables::{Cable, CableBasis, JacketSleeve, WireKind};
pub use conductors::{Conductor, ConductorBasis, ConductorEnd, ConductorRole, LandsOn, LimitedBy, Termination};
pub use dash::{
    DashCut, DashDepth, DashGap, DashKeptClear, DashLayout, DashMend, DashOldOpening, DashPart, DashPlace, DashProof,
    DashSize, DashSymmetry, OldOpeningFate,
};
pub use network::{
    DisplayLink, Network, NetworkDevice, NetworkDrop, NetworkFeed, NetworkLeg, NetworkPower, NetworkSpan,
    SuppliedCableUse,
};
pub use plumbing::{Holes, HoseEnd, HosePiece, Intake, PlumbedPump, Plumbing};
pub use power::{
    Alternator, BankBatteries, BankEnergy, BankPower, BatterySwitch, CableBefore, ChargerOutput, LoadUse, MainDistance,
    PanelRoom, StudStack,
};

use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::{Basis, BasisRef};
use crate::findings::{Caution, Gap, Question, Warning};
use crate::requirements::Requirement;
use crate::shop::item::{DropClass, Duty, Function, FuseFamily, LoadColumn};
use crate::shop::labour::{BoatSystem, Driver, WorkPhase};
use crate::spec::answers::Answer;
use crate::spec::input::{Access, HullForm, JobType, LengthSource, NegativeColour, Propulsion};
use crate::units::{Length, LengthValue, Name, WireSize};

/// How a conductor is protected.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Protection {
    /// Station where it is.
    #[schema(value_type = String)]
    pub station: Name,
    /// Label of the conductor it protects.
    #[schema(value_type = String)]
    pub protects: Name,
    /// Fuse family; absent for a breaker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<FuseFamily>,
    /// Whether it is a breaker.
    pub breaker: bool,
    /// Rating, amperes.
    pub rating_a: f64,
    /// Least rating that carries the load, amperes.
    pub load_needs_a: f64,
    /// Highest rating that conductor and device allow, amperes.
    pub conductor_allows_a: f64,
    /// Least voltage rating, volts: the bank's charging voltage.
    pub voltage_v_min: f64,
    /// Least interrupt rating, amperes; 0 for a branch that its main fuse covers.
    pub interrupt_a_min: f64,
    /// Whether it stays live with the battery switch off.
    pub always_on: bool,
    /// Longest permitted distance from its source along the conductor.
    pub distance_max: LengthValue,
    /// Why the rating is so.
    pub basis: BasisRef,
}

/// One load's circuit.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Circuit {
    /// Key; overrules refer to it.
    #[schema(value_type = String, example = "aft-pump")]
    pub key: Name,
    /// Number on the drawings and labels, given in canonical order.
    #[schema(value_type = String, example = "C07")]
    pub number: Name,
    /// What it feeds.
    pub description: String,
    /// Item it feeds; absent for the power tap of a data network, which is matched.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub sku: Option<Name>,
    /// What the load does.
    pub function: Function,
    /// Station of the load.
    #[schema(value_type = String)]
    pub station: Name,
    /// Panel that feeds it.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Bank behind the panel.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Current it is sized for, amperes.
    pub design_current_a: f64,
    /// How long it runs.
    pub duty: Duty,
    /// Column of the load analysis.
    pub load_column: LoadColumn,
    /// Drop class.
    pub drop_class: DropClass,
    /// Drop limit from bank to device, percent.
    pub drop_limit_percent: f64,
    /// Drop from bank to device with the feeder at its own current, percent; the worst of its positives.
    pub drop_percent: f64,
    /// Voltage to expect at the device under load, volts, with the bank at its nominal voltage.
    pub loaded_voltage_v: f64,
    /// Labels of its conductors; the cut list has them.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Cable that its conductors lie in, by label; absent where each runs by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "C07")]
    pub cable: Option<Name>,
    /// Its protective devices: one for each positive.
    pub protection: Vec<Protection>,
    /// Leads of the device that stay unconnected: cap and insulate each.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unconnected_leads: Vec<String>,
    /// Why the drop is so.
    pub basis: BasisRef,
    /// Why the colour of its first positive is so.
    pub colour_basis: BasisRef,
}

/// The feeder of one panel: from bank or panel to it, and from its bus back.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Feeder {
    /// Key; overrules refer to it.
    #[schema(value_type = String, example = "feeder/helm_panel")]
    pub key: Name,
    /// Number on drawings and labels.
    #[schema(value_type = String, example = "F1")]
    pub number: Name,
    /// Panel it feeds.
    #[schema(value_type = String)]
    pub panel: Name,
    /// Bank at its root.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Panel that it comes from, where it feeds a sub-panel.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub fed_from: Option<Name>,
    /// Nominal voltage.
    pub nominal_voltage_v: f64,
    /// Current by load analysis of all circuits of its panel and of the panels behind it, amperes.
    pub design_current_a: f64,
    /// Sum of those of the column `always`, amperes.
    pub always_a: f64,
    /// Sum of those of the column `occasional`, amperes.
    pub occasional_a: f64,
    /// Largest of the column `occasional`, amperes.
    pub largest_occasional_a: f64,
    /// Its own drop limit, percent.
    pub drop_limit_percent: f64,
    /// Its own drop, there and back, each conductor at its own current, percent.
    pub drop_percent: f64,
    /// Drop from the bank to its panel, with all feeders and returns on the way, percent.
    pub drop_from_bank_percent: f64,
    /// Labels of its own conductors; the cut list has them. A return that several panels share is with each of them.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Its protection: at the battery before the switch, or on the panel that it comes from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
    /// Why the current is so.
    pub current_basis: BasisRef,
    /// Why its own drop is so.
    pub drop_basis: BasisRef,
    /// Why the drop from the bank is so.
    pub drop_from_bank_basis: BasisRef,
    /// Why the interrupt rating of its protection is so.
    pub interrupt_basis: BasisRef,
    /// Why its protection is rated for no less.
    pub main_basis: BasisRef,
}

impl Feeder {
    /// Whether its device takes a position of the panel that feeds it: a breaker or a blade there.
    pub fn in_feeding_panel(&self) -> bool {
        let device = self.protection.as_ref().filter(|_| self.fed_from.is_some());
        device.is_some_and(|device| device.breaker || device.family == Some(FuseFamily::Blade))
    }
}

/// Copper of all conductors that got a size, and what sizing them together saves.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct CopperSummary {
    /// The least that keeps every limit, circular mil feet.
    pub least_cmil_ft: f64,
    /// Whether the search was finished; if not, less may do.
    pub proved: bool,
    /// What it takes when each device's limit is split evenly over its feeders and its branch, circular mil feet; absent
    /// where that leaves a device without a size that has one here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub even_split_cmil_ft: Option<f64>,
    /// What the least saves of that, percent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saving_percent: Option<f64>,
    /// Why the saving is so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis: Option<BasisRef>,
}

/// What stays live with the battery switch off: one main fuse at the bank, and behind it each circuit's own.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AlwaysOnSide {
    /// Bank.
    #[schema(value_type = String)]
    pub bank: Name,
    /// Numbers of the circuits that it feeds.
    #[schema(value_type = Vec<String>)]
    pub circuits: Vec<Name>,
    /// Sum of their currents, amperes.
    pub current_a: f64,
    /// Its main fuse; absent where each circuit's own fuse is a main already, and where none will do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protection: Option<Protection>,
}

/// Wire of one size and colour in all, or cable of one make-up.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct WireTotal {
    /// Whether it is wire or cable.
    pub kind: WireKind,
    /// Conductors in it.
    pub conductors: u8,
    /// Size of each.
    pub gauge: WireSize,
    /// Insulation colour; of a cable those of its conductors.
    #[schema(value_type = String)]
    pub colour: &'static str,
    /// How many pieces.
    pub pieces: u32,
    /// Sum of the installed lengths.
    pub installed_length: LengthValue,
    /// Sum of the cut lengths, waste included.
    pub cut_length: LengthValue,
    /// Share of the installed length that waste and service loops add, percent.
    pub added_percent: f64,
}

/// A run and what goes through it: the bundles of the work.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct RunUse {
    /// Station at one end.
    #[schema(value_type = String)]
    pub from: Name,
    /// Station at the other end.
    #[schema(value_type = String)]
    pub to: Name,
    /// Length.
    pub length: LengthValue,
    /// Whether it was measured.
    pub length_source: LengthSource,
    /// How cable gets through.
    pub access: Access,
    /// Whether it passes through an engine space.
    pub engine_space: bool,
    /// Loaded conductors in it.
    pub loaded_conductors: u32,
    /// Labels of the conductors in it: one bundle.
    #[schema(value_type = Vec<String>)]
    pub conductors: Vec<Name>,
    /// Labels of the network cables and supplied cables in it, which lie in the same bundle.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub other_cables: Vec<Name>,
    /// Why its length is so, where the layout of the hull form gave it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub basis: Option<BasisRef>,
    /// Exact length, for what is counted by the foot.
    #[serde(skip)]
    pub exact_length: Length,
}

/// One labour operation on this boat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct OperationHours {
    /// Code of the operation.
    #[schema(value_type = String)]
    pub operation: Name,
    /// What is done.
    pub description: String,
    /// What it counts.
    pub counts: Driver,
    /// When it is done.
    pub phase: WorkPhase,
    /// How many.
    #[schema(value_type = String)]
    pub count: Decimal,
    /// Hours when all goes well.
    pub low_h: f64,
    /// Hours most likely.
    pub likely_h: f64,
    /// Hours when much goes wrong.
    pub high_h: f64,
    /// Why a person's hours stand here, if they do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overrule: Option<String>,
    /// Why the likely hours are so.
    pub basis: BasisRef,
}

/// Hours of one system of the boat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct SystemHours {
    /// The system.
    pub system: BoatSystem,
    /// Hours when all goes well.
    pub low_h: f64,
    /// Hours most likely.
    pub likely_h: f64,
    /// Hours when much goes wrong.
    pub high_h: f64,
    /// Why the likely hours are so.
    pub basis: BasisRef,
}

/// Labour in all.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Labour {
    /// Operations in order of code.
    pub operations: Vec<OperationHours>,
    /// The same hours by system of the boat: ends, labels and tests with their circuit, pulls with the distribution.
    pub by_system: Vec<SystemHours>,
    /// Days that the likely hours of all but the daily work fill.
    pub work_days: u32,
    /// Why there are so many.
    pub work_days_basis: BasisRef,
    /// Sum when all goes well, hours.
    pub low_h: f64,
    /// Sum most likely, hours.
    pub likely_h: f64,
    /// Sum when much goes wrong, hours.
    pub high_h: f64,
    /// Mean of the sum, hours.
    pub mean_h: f64,
    /// Hours that four boats in five stay within.
    pub four_in_five_h: f64,
    /// Why the four-in-five figure is so.
    pub basis: BasisRef,
}

/// Work of one operation on one day.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlannedWork {
    /// Phase of the job.
    pub phase: WorkPhase,
    /// Code of the operation.
    #[schema(value_type = String)]
    pub operation: Name,
    /// Likely hours of it on this day.
    pub hours: f64,
}

/// One day of the work plan.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PlannedDay {
    /// Which day, counted from 1.
    pub day: u32,
    /// Likely hours on it.
    pub hours: f64,
    /// What is done, in order; what is done on every day first.
    pub work: Vec<PlannedWork>,
    /// Why it is so many hours.
    pub basis: BasisRef,
}

/// The work in days, by its likely hours.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct WorkPlan {
    /// Hours that the shop puts into a boat on a day.
    pub hours_a_day: f64,
    /// What is kept apart.
    pub kept_apart: &'static str,
    /// The days.
    pub days: Vec<PlannedDay>,
}

/// The hull behind estimated runs.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct HullSummary {
    /// Its form.
    pub hull_form: HullForm,
    /// Its length.
    pub hull_length: LengthValue,
    /// Its beam.
    pub beam: LengthValue,
    /// Its depth amidships.
    pub depth: LengthValue,
    /// Whether that depth was stated, and not taken from the beam.
    pub depth_stated: bool,
}

/// The boat as the take-off understood it.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct BoatSummary {
    /// Name of the boat or job.
    pub name: String,
    /// Kind of job.
    pub job_type: JobType,
    /// What drives it.
    pub propulsion: Propulsion,
    /// Colour of DC negative.
    pub negative_colour: NegativeColour,
    /// The hull that estimated runs were laid out over, where there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hull: Option<HullSummary>,
    /// Share of the length of all routes that lies on measured runs, percent.
    pub measured_percent: f64,
}

/// A person's choice as it was applied.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AppliedOverrule {
    /// What it changed: the key of a circuit, feeder, requirement or labour operation.
    #[schema(value_type = String)]
    pub about: Name,
    /// What was computed.
    pub computed: String,
    /// What stands instead.
    pub chosen: String,
    /// Why.
    pub reason: String,
}

/// An answer about something that is on no list.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct GivenAnswer {
    /// Identifier of the question.
    #[schema(value_type = String, example = "horn_absent")]
    pub question: &'static str,
    /// What it is about.
    #[schema(value_type = String, example = "a horn")]
    pub thing: &'static str,
    /// The answer.
    pub answer: Answer,
    /// What was said beside it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// What is printed beside a piece whose route is not measured throughout.
pub const MEASURE_FIRST: &str = "estimated: measure before cutting";

/// The quantities that a job needs, before any price.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct TakeOff {
    /// The boat.
    pub boat: BoatSummary,
    /// Circuits in order of number.
    pub circuits: Vec<Circuit>,
    /// Feeders in order of number.
    pub feeders: Vec<Feeder>,
    /// Always-on side of each bank that has one.
    pub always_on: Vec<AlwaysOnSide>,
    /// Each bank: what stands between its posts and its feeders.
    pub banks: Vec<BankPower>,
    /// The alternator, where its rating is stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alternator: Option<Alternator>,
    /// Positions of each panel, and how many are spare.
    pub panels: Vec<PanelRoom>,
    /// The data network, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub network: Option<Network>,
    /// Cables that come with equipment.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub supplied_cables: Vec<SuppliedCableUse>,
    /// Every conductor: the cut list. What lies in a cable is cut with it.
    pub cut_list: Vec<Conductor>,
    /// Jacketed cables, each cut once for all its conductors.
    pub cables: Vec<Cable>,
    /// Copper of them all.
    pub copper: CopperSummary,
    /// Wire by size and colour, cable by make-up.
    pub wire: Vec<WireTotal>,
    /// Runs that new wire goes through.
    pub runs: Vec<RunUse>,
    /// Dashes in order of id, where the spec has any.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub dashes: Vec<DashLayout>,
    /// Plumbing of raw-water pumps; absent where there is none to be done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plumbing: Option<Plumbing>,
    /// What is met along the way of cable; absent where nothing is pulled.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub along: Option<Along>,
    /// Requirements in order of key.
    pub requirements: Vec<Requirement>,
    /// Labour.
    pub labour: Labour,
    /// The work day by day; for the shop, and on no customer's document.
    pub work_plan: WorkPlan,
    /// A person's choices that were applied.
    pub overrules: Vec<AppliedOverrule>,
    /// What cannot be met.
    pub gaps: Vec<Gap>,
    /// What is allowed but unwise.
    pub warnings: Vec<Warning>,
    /// What to ask before the figures are relied on.
    pub questions: Vec<Question>,
    /// What was answered about things that are on no list; what was declined is an exclusion of the quote.
    pub answers: Vec<GivenAnswer>,
    /// What was taken as given.
    pub assumptions: Vec<String>,
    /// Cautions that apply.
    pub cautions: Vec<Caution>,
    /// Why the figures are so.
    pub basis: Basis,
}
