//! One conductor of the cut list: what it does, where it ends, and why it is as large as it is.

use serde::Serialize;
use utoipa::ToSchema;

use crate::basis::BasisRef;
use crate::shop::item::Stud;
use crate::spec::input::LengthSource;
use crate::units::{LengthValue, Name, WireSize};

/// What set a conductor's size. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitedBy {
    /// Allowable current by insulation temperature alone.
    Ampacity,
    /// Allowable current lowered by an engine space.
    EngineSpace,
    /// Allowable current lowered by the bundle it lies in.
    Bundling,
    /// The voltage-drop limit.
    VoltageDrop,
    /// The smallest size allowed for its construction.
    MinimumSize,
    /// The smallest size that the shop keeps.
    StockedSize,
    /// The cable that it continues: it has the same fuse before it.
    SameCable,
    /// A protective device that fits load and conductor.
    Protection,
    /// A person's choice.
    Overrule,
}

/// What a conductor does. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ConductorRole {
    /// Positive from panel, or from the switch of a bilge pump, to device.
    SwitchedPositive,
    /// Positive from the always-on side at the battery to device.
    ConstantPositive,
    /// Return from device to bus.
    Return,
    /// Positive from panel to the switch of a bilge pump that is elsewhere; the pump's switched positive goes on from there.
    BilgeSwitchFeed,
    /// Return from the light of such a switch to bus.
    RunningLightReturn,
    /// Positive from bank to panel, or from a panel to its sub-panel.
    FeederPositive,
    /// Return from a bus to the bank, or to the bus that it leads to.
    FeederReturn,
    /// Positive from a battery post, or its bus, to what protects it.
    PostLink,
    /// Positive from the main protection to the battery switch, and on to the feed bus.
    SwitchFeed,
    /// From a battery's positive post to the switch of the engine, whose own cable goes on from there.
    CrankingCable,
    /// From a battery's negative post to the bus there.
    NegativeLink,
    /// From the main fuse of the always-on side to its fuse block.
    BlockFeed,
    /// Between two batteries of a string.
    SeriesJumper,
    /// Between the ends of two strings.
    ParallelLink,
    /// From a battery's fuse to a charger's output.
    ChargerPositive,
    /// From a charger's output back to its battery.
    ChargerReturn,
    /// From a charger's case to the negative at the bank.
    CaseGround,
    /// From a bank's fuse to a combiner.
    CombinerCable,
    /// Between the negatives of two banks.
    NegativeJoin,
}

/// What a conductor end lands on. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LandsOn {
    /// A pigtail of the device, spliced.
    Pigtail,
    /// A stud of the device.
    DeviceStud,
    /// A position of a panel.
    Panel,
    /// The device on a panel that protects the feeder of a sub-panel.
    SubMain,
    /// The main stud of a panel.
    PanelMain,
    /// A negative bus.
    Bus,
    /// The switch of a bilge pump.
    BilgeSwitch,
    /// The main stud of a bus.
    BusMain,
    /// A fuse holder on the always-on side, at the battery.
    AlwaysOnFuse,
    /// The main fuse at the battery.
    MainFuse,
    /// The battery's negative post.
    BatteryNegative,
    /// A fuse block on the always-on side, at the battery.
    FuseBlock,
    /// The battery's positive post.
    BatteryPositive,
    /// The battery switch.
    BatterySwitch,
    /// A feeder's fuse on the feed bus behind the switch.
    FeedFuse,
    /// The feed bus behind the switch.
    FeedBus,
    /// A bus at the battery, where its positive cables meet.
    BankPositiveBus,
    /// A bus at the battery, where its negative cables meet.
    BankNegativeBus,
    /// An output of a charger.
    ChargerOutput,
    /// The case of a charger.
    ChargerCase,
    /// A combiner.
    Combiner,
}

/// How a conductor end is made. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Termination {
    /// Ring terminal under adhesive heat shrink.
    RingTerminal,
    /// Butt splice under two layers of adhesive heat shrink.
    TwoLayerSplice,
    /// Heavy lug under adhesive heat shrink.
    Lug,
}

/// One end of a conductor.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConductorEnd {
    /// Station where it ends.
    #[schema(value_type = String)]
    pub station: Name,
    /// What it lands on.
    pub lands_on: LandsOn,
    /// How it is made.
    pub termination: Termination,
    /// Stud it lands on, where it lands on one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stud: Option<Stud>,
    /// Text of its label.
    pub label: String,
    /// The maker's lead that a splice joins it to; told with the circuit.
    #[serde(skip)]
    pub lead: Option<WireSize>,
}

/// Where the parts of a conductor's basis stand in `basis.derivations`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct ConductorBasis {
    /// Of its copper area.
    pub area: BasisRef,
    /// Of `table_current_a`.
    pub table_current_a: BasisRef,
    /// Of `allowable_current_a`.
    pub allowable_current_a: BasisRef,
    /// Of `drop_v`.
    pub drop_v: BasisRef,
    /// Of `installed_length`.
    pub installed_length: BasisRef,
    /// Of `cut_length`.
    pub cut_length: BasisRef,
}

/// One conductor: a line of the cut list.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Conductor {
    /// Label, as it stands on both its ends.
    #[schema(value_type = String, example = "C07+")]
    pub label: Name,
    /// Circuit or feeder it belongs to.
    #[schema(value_type = String)]
    pub circuit: Name,
    /// What it does.
    pub role: ConductorRole,
    /// Insulation colour.
    #[schema(value_type = String)]
    pub colour: &'static str,
    /// Cable that it lies in, by label; absent for a single conductor.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "C07")]
    pub cable: Option<Name>,
    /// Colour of its function, which the labels at both its ends show, where it lies in a cable and has that one's colour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub label_colour: Option<&'static str>,
    /// Size.
    pub gauge: WireSize,
    /// Temperature rating of its insulation, °C.
    pub insulation_c: u16,
    /// Current it is sized for, amperes.
    pub design_current_a: f64,
    /// Stations along its route, end to end.
    #[schema(value_type = Vec<String>)]
    pub route: Vec<Name>,
    /// Where it starts: at the source's side.
    pub from: ConductorEnd,
    /// Where it ends: at the load's side.
    pub to: ConductorEnd,
    /// Length of the runs on its route.
    pub route_length: LengthValue,
    /// Route, rises and what the ends use up.
    pub installed_length: LengthValue,
    /// All copper that carries the current: installed length and service loops; the drop is along it.
    pub carrying_length: LengthValue,
    /// Length to cut: that and waste.
    pub cut_length: LengthValue,
    /// Whether all of its route was measured.
    pub length_source: LengthSource,
    /// Length of the part of its route that is estimated; absent where all of it was measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub estimated_length: Option<LengthValue>,
    /// What stands beside it on the cut list: that an estimated piece is measured before it is cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, example = "estimated: measure before cutting")]
    pub cut_note: Option<&'static str>,
    /// Loaded conductors in the fullest bundle on its route.
    pub bundled_conductors: u32,
    /// Whether any of its route lies in an engine space.
    pub engine_space: bool,
    /// Allowable amperes before corrections.
    pub table_current_a: f64,
    /// Allowable amperes after corrections.
    pub allowable_current_a: f64,
    /// Drop along it at its design current, volts: the maker's lead on its end and what it continues included.
    pub drop_v: f64,
    /// What set its size.
    pub limited_by: LimitedBy,
    /// Why its figures are so.
    pub basis: ConductorBasis,
}
