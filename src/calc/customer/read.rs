//! All that is looked at of a quote's document to make its customer's.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::Deserialize;
use serde::de::IgnoredAny;

use crate::quote::{IssueFacts, TaxExemption};
use crate::shop::item::Function;
use crate::spec::input::{HullForm, JobType, Propulsion};
use crate::units::LengthValue;

/// The document.
#[derive(Deserialize)]
pub(super) struct Quote {
    pub shop_name: String,
    #[serde(default)]
    pub letterhead: Vec<String>,
    #[serde(default)]
    pub conditions: Vec<String>,
    pub customer: Option<String>,
    pub valid_until: NaiveDate,
    pub take_off: TakeOff,
    pub lines: Vec<Line>,
    pub totals: Totals,
    pub deposit: Option<Deposit>,
    pub tax_exemption: Option<TaxExemption>,
    #[serde(default)]
    pub exclusions: Vec<Exclusion>,
    pub lead_time_days: u16,
    pub freight: Option<Freight>,
    #[serde(default)]
    pub options: Vec<Offer>,
    #[serde(default)]
    pub chosen: Vec<Chosen>,
    pub issue: Option<IssueFacts>,
}

/// What the customer may add.
#[derive(Deserialize)]
pub(super) struct Offer {
    pub id: String,
    pub title: String,
    pub description: Option<String>,
    #[serde(default)]
    pub excludes: Vec<String>,
    pub total_difference: Option<Decimal>,
}

/// What he has added.
#[derive(Deserialize)]
pub(super) struct Chosen {
    pub title: String,
}

/// Freight.
#[derive(Deserialize)]
pub(super) struct Freight {
    pub amount: Decimal,
    pub reason: String,
}

/// Of the quantities: what is wired to what, and what to ask.
#[derive(Deserialize)]
pub(super) struct TakeOff {
    pub boat: Boat,
    pub circuits: Vec<Circuit>,
    pub feeders: Vec<IgnoredAny>,
    #[serde(default)]
    pub banks: Vec<Bank>,
    #[serde(default)]
    pub panels: Vec<Panel>,
    pub requirements: Vec<Requirement>,
    pub questions: Vec<Question>,
    #[serde(default)]
    pub answers: Vec<Answered>,
    pub cautions: Vec<Caution>,
}

/// The boat.
#[derive(Deserialize)]
pub(super) struct Boat {
    pub name: String,
    pub job_type: JobType,
    pub propulsion: Propulsion,
    pub hull: Option<Hull>,
    pub measured_percent: f64,
}

/// The hull that unmeasured lengths come from.
#[derive(Deserialize)]
pub(super) struct Hull {
    pub hull_form: HullForm,
    pub hull_length: LengthValue,
    pub beam: LengthValue,
}

/// One load's circuit.
#[derive(Deserialize)]
pub(super) struct Circuit {
    pub key: String,
    pub description: String,
    pub sku: Option<String>,
    pub function: Function,
    pub station: String,
}

/// A bank.
#[derive(Deserialize)]
pub(super) struct Bank {
    pub switch: Option<Switch>,
}

/// A battery switch.
#[derive(Deserialize)]
pub(super) struct Switch {
    pub aboard: bool,
}

/// A panel.
#[derive(Deserialize)]
pub(super) struct Panel {
    pub positions: Option<u32>,
}

/// One thing that the job needs.
#[derive(Deserialize)]
pub(super) struct Requirement {
    pub key: String,
    pub need: Need,
    pub quantity: Decimal,
    pub used_by: Vec<String>,
    #[serde(default)]
    pub customer_supplied: Decimal,
}

/// What kind of thing it is.
#[derive(Deserialize)]
pub(super) struct Need {
    pub kind: String,
    pub sku: Option<String>,
}

/// What was answered about something that is on no list.
#[derive(Deserialize)]
pub(super) struct Answered {
    pub thing: String,
    pub answer: String,
}

/// Something to ask.
#[derive(Deserialize)]
pub(super) struct Question {
    pub id: String,
    pub text: String,
}

/// A caution.
#[derive(Deserialize)]
pub(super) struct Caution {
    pub id: String,
    pub text: String,
}

/// One priced line.
#[derive(Deserialize)]
pub(super) struct Line {
    pub kind: String,
    pub description: String,
    pub category: Option<String>,
    pub quantity: Decimal,
    pub unit: String,
    pub net: Decimal,
    #[serde(default)]
    pub meets: Vec<String>,
}

/// Totals.
#[derive(Deserialize)]
pub(super) struct Totals {
    pub currency: String,
    pub lines_net: Decimal,
    pub discount: Decimal,
    pub net: Decimal,
    pub tax_by_class: Vec<Tax>,
    pub tax: Decimal,
    pub total: Option<Decimal>,
}

/// Tax of one treatment and rate.
#[derive(Deserialize)]
pub(super) struct Tax {
    pub name: String,
    pub treatment: String,
    pub rate_percent: Decimal,
    pub taxable: Decimal,
    pub tax: Decimal,
}

/// What is paid ahead.
#[derive(Deserialize)]
pub(super) struct Deposit {
    pub special_orders: Decimal,
    pub share_percent: Decimal,
    pub share: Decimal,
    pub total: Decimal,
}

/// What is left out.
#[derive(Deserialize)]
pub(super) struct Exclusion {
    pub gap: String,
    pub need: String,
    pub reason: String,
}
