//! What the page reads of a quote document: the fields it prints, as any client would read them from the JSON.
//! Words that may grow (roles, kinds, families) are read as text, as the description asks of clients.

mod fit_out;
mod network;
mod power;

pub use fit_out::{Along, Count, HoseEnd, Plumbing, Tube};
pub use network::{Network, SuppliedCable};
pub use power::{Alternator, Bank};

use serde::Deserialize;
use serde_json::{Map, Value};

/// A length: a number and its unit.
#[derive(Clone, Debug, Deserialize)]
pub struct Length {
    /// How many of the unit.
    pub value: f64,
    /// The unit's symbol.
    pub unit: String,
}

/// The document.
#[derive(Debug, Deserialize)]
pub struct Document {
    pub shop_name: String,
    pub customer: Option<String>,
    pub priced_on: String,
    pub valid_until: String,
    pub take_off: TakeOff,
    pub lines: Vec<Line>,
    pub totals: Totals,
    pub gaps: Vec<Gap>,
    pub lead_time_days: u16,
    pub deposit: Option<Deposit>,
    pub tax_exemption: Option<TaxExemption>,
    pub price_level: Option<PriceLevel>,
    pub freight: Option<Freight>,
    #[serde(default)]
    pub exclusions: Vec<Exclusion>,
    #[serde(default)]
    pub options: Vec<QuotedOption>,
    #[serde(default)]
    pub choices: Vec<Choice>,
    #[serde(default)]
    pub chosen: Vec<Chosen>,
}

/// What is paid ahead.
#[derive(Debug, Deserialize)]
pub struct Deposit {
    pub special_orders: String,
    pub share_percent: String,
    pub share: String,
    pub total: String,
}

/// Why no tax is paid.
#[derive(Debug, Deserialize)]
pub struct TaxExemption {
    pub certificate: String,
    pub reason: String,
}

/// The customer's price level.
#[derive(Debug, Deserialize)]
pub struct PriceLevel {
    pub name: String,
}

/// Freight.
#[derive(Debug, Deserialize)]
pub struct Freight {
    pub amount: String,
    pub reason: String,
}

/// What is left out.
#[derive(Debug, Deserialize)]
pub struct Exclusion {
    pub need: String,
    pub reason: String,
}

/// What may be added.
#[derive(Debug, Deserialize)]
pub struct QuotedOption {
    pub id: String,
    pub title: String,
    pub description: Option<String>,
    #[serde(default)]
    pub excludes: Vec<String>,
    pub net_difference: Option<String>,
    pub total_difference: Option<String>,
}

/// A set of options.
#[derive(Debug, Deserialize)]
pub struct Choice {
    pub options: Vec<String>,
    pub net: String,
    pub tax: String,
    pub total: Option<String>,
    pub deposit: Option<String>,
    #[serde(default)]
    pub gaps: Vec<Gap>,
}

/// An option that is in the document.
#[derive(Debug, Deserialize)]
pub struct Chosen {
    pub title: String,
}

/// The quantities.
#[derive(Debug, Deserialize)]
pub struct TakeOff {
    pub boat: Boat,
    pub circuits: Vec<Circuit>,
    pub feeders: Vec<Feeder>,
    pub always_on: Vec<AlwaysOn>,
    #[serde(default)]
    pub banks: Vec<Bank>,
    pub alternator: Option<Alternator>,
    pub network: Option<Network>,
    #[serde(default)]
    pub supplied_cables: Vec<SuppliedCable>,
    pub cut_list: Vec<Conductor>,
    #[serde(default)]
    pub cables: Vec<Cable>,
    pub wire: Vec<WireTotal>,
    pub plumbing: Option<Plumbing>,
    pub along: Option<Along>,
    pub requirements: Vec<Requirement>,
    pub labour: Labour,
    pub work_plan: WorkPlan,
    pub overrules: Vec<Overrule>,
    pub warnings: Vec<Warning>,
    pub questions: Vec<Question>,
    pub assumptions: Vec<String>,
    pub cautions: Vec<Caution>,
}

/// The boat.
#[derive(Debug, Deserialize)]
pub struct Boat {
    pub name: String,
    pub job_type: String,
    pub propulsion: String,
    pub negative_colour: String,
    pub hull: Option<Hull>,
    pub measured_percent: f64,
}

/// The hull behind estimated runs.
#[derive(Debug, Deserialize)]
pub struct Hull {
    pub hull_form: String,
    pub hull_length: Length,
    pub beam: Length,
}

/// One load's circuit.
#[derive(Debug, Deserialize)]
pub struct Circuit {
    pub number: String,
    pub description: String,
    pub station: String,
    pub design_current_a: f64,
    pub drop_percent: f64,
    pub loaded_voltage_v: f64,
    pub conductors: Vec<String>,
    pub protection: Vec<Protection>,
    #[serde(default)]
    pub unconnected_leads: Vec<String>,
}

/// A panel's feeder.
#[derive(Debug, Deserialize)]
pub struct Feeder {
    pub number: String,
    pub panel: String,
    pub bank: String,
    pub fed_from: Option<String>,
    pub nominal_voltage_v: f64,
    pub design_current_a: f64,
    pub drop_percent: f64,
    pub drop_from_bank_percent: Option<f64>,
    pub conductors: Vec<String>,
    pub protection: Option<Protection>,
}

/// What stays live with a bank's switch off.
#[derive(Debug, Deserialize)]
pub struct AlwaysOn {
    pub bank: String,
    pub circuits: Vec<String>,
    pub current_a: f64,
    pub protection: Option<Protection>,
}

/// A fuse or breaker.
#[derive(Debug, Deserialize)]
pub struct Protection {
    pub station: String,
    pub protects: String,
    pub family: Option<String>,
    pub rating_a: f64,
    pub always_on: bool,
}

/// A line of the cut list.
#[derive(Debug, Deserialize)]
pub struct Conductor {
    pub label: String,
    pub role: String,
    pub colour: String,
    pub label_colour: Option<String>,
    pub gauge: String,
    pub from: End,
    pub to: End,
    pub cut_length: Length,
    pub length_source: String,
    pub limited_by: String,
}

fn one() -> u8 {
    1
}

/// A jacketed cable.
#[derive(Debug, Deserialize)]
pub struct Cable {
    pub label: String,
    pub conductors: Vec<String>,
    pub colours: Vec<String>,
    pub gauge: String,
    pub outside_diameter: Length,
    pub break_out: Length,
    pub cut_length: Length,
}

/// An end of a conductor.
#[derive(Debug, Deserialize)]
pub struct End {
    pub station: String,
    pub lands_on: String,
    pub stud: Option<String>,
}

/// Wire of one size and colour, or cable of one make-up.
#[derive(Debug, Deserialize)]
pub struct WireTotal {
    #[serde(default = "one")]
    pub conductors: u8,
    pub gauge: String,
    pub colour: String,
    pub pieces: u32,
    pub installed_length: Length,
    pub cut_length: Length,
    pub added_percent: f64,
}

/// One thing the job needs.
#[derive(Debug, Deserialize)]
pub struct Requirement {
    pub key: String,
    pub need: Map<String, Value>,
    pub quantity: String,
    pub unit: String,
}

/// Labour in all.
#[derive(Debug, Deserialize)]
pub struct Labour {
    pub operations: Vec<Operation>,
    pub by_system: Vec<SystemHours>,
    pub low_h: f64,
    pub likely_h: f64,
    pub high_h: f64,
    pub four_in_five_h: f64,
}

/// Hours of one system.
#[derive(Debug, Deserialize)]
pub struct SystemHours {
    pub system: String,
    pub low_h: f64,
    pub likely_h: f64,
    pub high_h: f64,
}

/// The work in days.
#[derive(Debug, Deserialize)]
pub struct WorkPlan {
    pub hours_a_day: f64,
    pub kept_apart: String,
    pub days: Vec<PlannedDay>,
}

/// One day of it.
#[derive(Debug, Deserialize)]
pub struct PlannedDay {
    pub day: u32,
    pub hours: f64,
    pub work: Vec<PlannedWork>,
}

/// Work of one operation on one day.
#[derive(Debug, Deserialize)]
pub struct PlannedWork {
    pub phase: String,
    pub operation: String,
    pub hours: f64,
}

/// One labour operation.
#[derive(Debug, Deserialize)]
pub struct Operation {
    pub description: String,
    pub count: String,
    pub low_h: f64,
    pub likely_h: f64,
    pub high_h: f64,
}

/// A person's choice.
#[derive(Debug, Deserialize)]
pub struct Overrule {
    pub about: String,
    pub computed: String,
    pub chosen: String,
    pub reason: String,
}

/// What is unwise.
#[derive(Debug, Deserialize)]
pub struct Warning {
    pub about: String,
    pub message: String,
}

/// What to ask.
#[derive(Debug, Deserialize)]
pub struct Question {
    pub about: Option<String>,
    pub text: String,
}

/// What to take care of.
#[derive(Debug, Deserialize)]
pub struct Caution {
    pub text: String,
    pub source: String,
}

/// What cannot be met.
#[derive(Debug, Deserialize)]
pub struct Gap {
    pub need: String,
    pub reason: String,
    pub mend: String,
}

/// A priced line.
#[derive(Debug, Deserialize)]
pub struct Line {
    pub number: u32,
    pub description: String,
    pub quantity: String,
    pub unit: String,
    pub unit_price: String,
    pub net: String,
}

/// The totals.
#[derive(Debug, Deserialize)]
pub struct Totals {
    pub currency: String,
    pub lines_net: String,
    pub discount: String,
    pub net: String,
    pub tax_by_class: Vec<Tax>,
    pub tax: String,
    pub total: Option<String>,
    pub priced_subtotal: Option<String>,
}

/// Tax of one class.
#[derive(Debug, Deserialize)]
pub struct Tax {
    pub name: String,
    pub treatment: String,
    pub rate_percent: String,
    pub taxable: String,
    pub tax: String,
}
