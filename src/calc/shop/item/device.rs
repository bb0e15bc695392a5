//! What a device asks of the wiring: its leads, what it does, how long it runs.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::{LengthValue, WireSize};

/// The job of a lead of a device; connections go by it, never by the maker's colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LeadRole {
    /// Positive that the panel switches.
    SwitchedPositive,
    /// Positive that stays live with the battery switch off, with its own fuse at the battery.
    ConstantPositive,
    /// Negative return.
    Return,
    /// Signal lead: carries no load and is not wired by the take-off.
    Signal,
    /// Dimmer lead: follows the lighting circuit, and is not wired by the take-off.
    Dim,
}

impl LeadRole {
    /// Whether it is a positive, switched or constant.
    pub const fn is_positive(self) -> bool {
        matches!(self, LeadRole::SwitchedPositive | LeadRole::ConstantPositive)
    }
}

/// Standard stud and screw sizes that terminals land on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
pub enum Stud {
    /// Number 6 screw.
    #[serde(rename = "#6")]
    No6,
    /// Number 8 screw.
    #[serde(rename = "#8")]
    No8,
    /// Number 10 screw.
    #[serde(rename = "#10")]
    No10,
    /// 1/4 in stud.
    #[serde(rename = "1/4 in")]
    Quarter,
    /// 5/16 in stud.
    #[serde(rename = "5/16 in")]
    FiveSixteenths,
    /// 3/8 in stud.
    #[serde(rename = "3/8 in")]
    ThreeEighths,
    /// 1/2 in stud.
    #[serde(rename = "1/2 in")]
    Half,
}

impl Stud {
    /// As written in JSON and in print.
    pub const fn symbol(self) -> &'static str {
        match self {
            Stud::No6 => "#6",
            Stud::No8 => "#8",
            Stud::No10 => "#10",
            Stud::Quarter => "1/4 in",
            Stud::FiveSixteenths => "5/16 in",
            Stud::ThreeEighths => "3/8 in",
            Stud::Half => "1/2 in",
        }
    }
}

/// One lead of a device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Lead {
    /// What the lead is for.
    pub role: LeadRole,
    /// Current in it at the rated voltage, amperes. A return without one carries all that the positives can draw; the
    /// only positive without one carries what the device draws.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 1000)]
    pub current_a: Option<f64>,
    /// Size of the maker's own lead; its copper counts in the voltage drop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<WireSize>,
    /// Length of the maker's own lead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<LengthValue>,
    /// The stud that a run conductor lands on; absent, the lead is a pigtail and is spliced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stud: Option<Stud>,
    /// Insulation colour of the maker's lead, for the splice list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 40)]
    pub maker_colour: Option<String>,
}

/// What a device does; colour, drop class, load column and duty follow from it unless the item says otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Function {
    /// Bilge pump.
    BilgePump,
    /// Live-well or bait-well pump.
    LiveWellPump,
    /// Raw-water wash-down pump.
    WashDownPump,
    /// Fresh-water pump.
    FreshWaterPump,
    /// Macerator or other waste pump.
    WastePump,
    /// Bilge blower.
    BilgeBlower,
    /// Navigation or anchor light.
    NavigationLight,
    /// Cabin, courtesy or deck light.
    InteriorLight,
    /// Spot or flood light.
    Floodlight,
    /// Multifunction display, chart plotter, sounder or radar.
    NavigationElectronics,
    /// Engine or tank instrument.
    Instrument,
    /// VHF or other radio.
    Radio,
    /// Stereo or amplifier.
    Audio,
    /// Horn.
    Horn,
    /// High-water, gas or smoke alarm.
    Alarm,
    /// Trim tabs.
    TrimTabs,
    /// Windlass or winch.
    Windlass,
    /// Bow motor.
    BowMotor,
    /// Refrigerator or cool box.
    Refrigerator,
    /// Outlet for portable equipment.
    Outlet,
    /// Anything else.
    Accessory,
}

impl Function {
    /// The function as it is written in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Function::BilgePump => "bilge_pump",
            Function::LiveWellPump => "live_well_pump",
            Function::WashDownPump => "wash_down_pump",
            Function::FreshWaterPump => "fresh_water_pump",
            Function::WastePump => "waste_pump",
            Function::BilgeBlower => "bilge_blower",
            Function::NavigationLight => "navigation_light",
            Function::InteriorLight => "interior_light",
            Function::Floodlight => "floodlight",
            Function::NavigationElectronics => "navigation_electronics",
            Function::Instrument => "instrument",
            Function::Radio => "radio",
            Function::Audio => "audio",
            Function::Horn => "horn",
            Function::Alarm => "alarm",
            Function::TrimTabs => "trim_tabs",
            Function::Windlass => "windlass",
            Function::BowMotor => "bow_motor",
            Function::Refrigerator => "refrigerator",
            Function::Outlet => "outlet",
            Function::Accessory => "accessory",
        }
    }
}

/// How long a load runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Duty {
    /// For hours: protection is sized at 125 %.
    Continuous,
    /// For minutes.
    Intermittent,
}

/// The column of the panel load analysis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LoadColumn {
    /// May have to run at any time with all others of this column: counts in full.
    Always,
    /// Runs now and then: a tenth of the sum counts, or the largest if that is more.
    Occasional,
}

/// The voltage-drop class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DropClass {
    /// Safety and electronics: 3 %.
    Critical,
    /// Everything else: 10 %.
    General,
}
