//! The take-off: circuits, conductors, protection, terminations, labour and requirements of one boat, before any price.

mod along;
mod cables;
mod circuits;
mod conductors;
mod dash;
mod plumbing;
mod network;
mod power;
mod work;

pub use along::{Along, AlongPiece, AlongRun, DrivenCount, TubeFill};
pub use cables::{Cable, CableBasis, JacketSleeve, WireKind};
pub use circuits::{AlwaysOnSide, Circuit, Feeder, Protection};
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
pub use work::{Labour, OperationHours, PlannedDay, PlannedWork, SystemHours, WorkPlan};

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::{Basis, BasisRef};
use crate::findings::{Caution, Gap, Question, Warning};
use crate::requirements::Requirement;
use crate::spec::answers::Answer;
use crate::spec::input::{Access, HullForm, JobType, LengthSource, NegativeColour, Propulsion};
use crate::units::{Length, LengthValue, Name, WireSize};

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
