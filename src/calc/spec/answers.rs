//! What is unusual to leave out of a boat: each is asked about once, and a spec can answer.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::units::Name;

/// An answer to a question about something that is not on the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// It is aboard already, or is nobody's business here.
    Present,
    /// It is to be added: as long as it is on no list, it is a gap.
    Add,
    /// It is left out, and the quote says so.
    Declined,
}

/// An answer as a client sends it. It stays with the spec, so that nobody is asked again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswerInput {
    /// Identifier of the question, as the take-off gives it.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "horn_absent")]
    pub question: Name,
    /// The answer.
    pub answer: Answer,
    /// What was said beside it; the customer reads it where the thing is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 300, example = "Will be fitted by the dealer")]
    pub note: Option<String>,
}

/// Something that is unusual to leave out (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unusual {
    /// Navigation lights.
    NavigationLights,
    /// A horn.
    Horn,
    /// A VHF radio.
    Radio,
    /// A bilge pump.
    BilgePump,
    /// A high-water alarm.
    HighWaterAlarm,
    /// An engine stop switch.
    EngineStop,
    /// A bilge blower.
    Blower,
    /// Seacocks of raw-water pumps.
    Seacocks,
    /// A battery charger.
    Charger,
    /// Bonding of metal under water.
    Bonding,
}

impl Unusual {
    /// All of them, in the order in which they are asked about.
    pub const ALL: [Unusual; 10] = [
        Unusual::NavigationLights,
        Unusual::Horn,
        Unusual::Radio,
        Unusual::BilgePump,
        Unusual::HighWaterAlarm,
        Unusual::EngineStop,
        Unusual::Blower,
        Unusual::Seacocks,
        Unusual::Charger,
        Unusual::Bonding,
    ];

    /// Identifier of its question.
    pub const fn id(self) -> &'static str {
        match self {
            Unusual::NavigationLights => "navigation_lights_absent",
            Unusual::Horn => "horn_absent",
            Unusual::Radio => "radio_absent",
            Unusual::BilgePump => "bilge_pump_absent",
            Unusual::HighWaterAlarm => "high_water_alarm_absent",
            Unusual::EngineStop => "engine_stop_absent",
            Unusual::Blower => "blower_absent",
            Unusual::Seacocks => "seacocks_absent",
            Unusual::Charger => "charger_absent",
            Unusual::Bonding => "bonding",
        }
    }

    /// What it is called.
    pub const fn thing(self) -> &'static str {
        match self {
            Unusual::NavigationLights => "navigation lights",
            Unusual::Horn => "a horn",
            Unusual::Radio => "a VHF radio",
            Unusual::BilgePump => "a bilge pump",
            Unusual::HighWaterAlarm => "a high-water alarm",
            Unusual::EngineStop => "an engine stop switch",
            Unusual::Blower => "a bilge blower",
            Unusual::Seacocks => "seacocks for the raw-water intakes",
            Unusual::Charger => "a battery charger",
            Unusual::Bonding => "bonding of the metal under water",
        }
    }

    /// The one whose question has an identifier.
    pub fn of(question: &str) -> Option<Self> {
        Unusual::ALL.into_iter().find(|one| one.id() == question)
    }
}
