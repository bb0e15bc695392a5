//! What the rest of the shop hears of: moves of quotes, what becomes of the shelf, imports, changes of the settings, targets
//! that are told no more. Nothing of money, nothing of a customer: whoever may read a quote finds both there.

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::CUSTOMER_LINK;
use super::imports::Import;
use super::life::unreadable;
use super::quotes::{QuoteState, QuoteSummary, written};
use super::stock::StockEvent;
use super::webhooks::DisabledReason;
use super::{Error, Service, Stored};
use crate::calc::shop::item::BuyingUnit;
use crate::calc::shop::settings::Settings;
use crate::calc::units::Name;
use crate::store;
use crate::store::events::NewEvent;
use crate::store::quotes::Document;

pub use crate::store::events::Event;

/// What can happen, as CloudEvents have their `type`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
pub enum EventType {
    /// A quote went out.
    #[serde(rename = "quote.issued")]
    QuoteIssued,
    /// A customer said yes.
    #[serde(rename = "quote.accepted")]
    QuoteAccepted,
    /// A customer said no.
    #[serde(rename = "quote.declined")]
    QuoteDeclined,
    /// A quote's last day is over.
    #[serde(rename = "quote.lapsed")]
    QuoteLapsed,
    /// The shop took a quote back.
    #[serde(rename = "quote.withdrawn")]
    QuoteWithdrawn,
    /// A revision stands in a quote's place.
    #[serde(rename = "quote.superseded")]
    QuoteSuperseded,
    /// A quote took hold of things on the shelf.
    #[serde(rename = "stock.reserved")]
    StockReserved,
    /// A quote let go of them.
    #[serde(rename = "stock.released")]
    StockReleased,
    /// A quote was given them.
    #[serde(rename = "stock.picked")]
    StockPicked,
    /// Items were brought in.
    #[serde(rename = "items.imported")]
    ItemsImported,
    /// The settings were changed.
    #[serde(rename = "settings.changed")]
    SettingsChanged,
    /// A target failed for so long that it is told no more.
    #[serde(rename = "webhook.disabled")]
    WebhookDisabled,
}

impl EventType {
    /// All of them.
    pub const ALL: [EventType; 12] = [
        EventType::QuoteIssued,
        EventType::QuoteAccepted,
        EventType::QuoteDeclined,
        EventType::QuoteLapsed,
        EventType::QuoteWithdrawn,
        EventType::QuoteSuperseded,
        EventType::StockReserved,
        EventType::StockReleased,
        EventType::StockPicked,
        EventType::ItemsImported,
        EventType::SettingsChanged,
        EventType::WebhookDisabled,
    ];

    /// As JSON and the table have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            EventType::QuoteIssued => "quote.issued",
            EventType::QuoteAccepted => "quote.accepted",
            EventType::QuoteDeclined => "quote.declined",
            EventType::QuoteLapsed => "quote.lapsed",
            EventType::QuoteWithdrawn => "quote.withdrawn",
            EventType::QuoteSuperseded => "quote.superseded",
            EventType::StockReserved => "stock.reserved",
            EventType::StockReleased => "stock.released",
            EventType::StockPicked => "stock.picked",
            EventType::ItemsImported => "items.imported",
            EventType::SettingsChanged => "settings.changed",
            EventType::WebhookDisabled => "webhook.disabled",
        }
    }
}

/// Items that an accepted quote will take, as the shop buys them.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct PartDemand {
    /// The item.
    pub sku: String,
    /// What it is.
    pub description: String,
    /// How many buying units.
    #[schema(value_type = String, example = "2")]
    pub quantity: Decimal,
    /// UN/ECE Recommendation 20 code of the buying unit, with those of Recommendation 21 behind an `X` for packages.
    #[schema(example = "XPK")]
    pub unit_code: String,
    /// Buying unit.
    pub buying_unit: BuyingUnit,
    /// Selling units in one.
    #[schema(value_type = String, example = "25")]
    pub buying_quantity: Decimal,
}

/// A quote that moved on.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuoteEvent {
    /// The quote.
    pub quote: Uuid,
    /// State that it came to.
    pub state: QuoteState,
    /// Version that it had from then on.
    pub version: i64,
    /// Its number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// The revision that stands in its place, when it was superseded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub superseded_by: Option<Uuid>,
    /// Identifiers of the options that the customer chose, when it was accepted.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(value_type = Vec<String>)]
    pub options: Vec<Name>,
    /// Whether the customer himself moved it, by his link; absent when not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub by_customer: bool,
    /// What it will take from the shelf or from suppliers, the chosen options counted in, when it was accepted and takes anything.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub demand: Vec<PartDemand>,
}

/// Items that were brought in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ImportEvent {
    /// The import.
    pub import: Uuid,
    /// Items that it made or replaced.
    pub items: u64,
}

/// Settings that were changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct SettingsEvent {
    /// Version that they had from then on.
    pub settings_version: i64,
}

/// A target that is told no more until its owner says so.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct WebhookEvent {
    /// The target.
    pub webhook: Uuid,
    /// Why.
    pub reason: DisabledReason,
    /// Since when nothing could be delivered to it.
    pub failing_since: DateTime<Utc>,
}

/// What there is to say of an event.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
pub enum EventData {
    /// Of a quote.
    Quote(QuoteEvent),
    /// Of an import.
    Import(ImportEvent),
    /// Of the settings.
    Settings(SettingsEvent),
    /// Of things on the shelf.
    Stock(StockEvent),
    /// Of a target that is told of events.
    Webhook(WebhookEvent),
}

/// Something that happened: a CloudEvent 1.0 in JSON.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct CloudEvent {
    /// Edition of CloudEvents: `1.0`.
    #[schema(example = "1.0")]
    pub specversion: &'static str,
    /// Identifier: whoever meets it twice has met one event.
    pub id: Uuid,
    /// Where it happened, relative to the service.
    #[schema(format = "uri-reference", example = "/v1/quotes")]
    pub source: &'static str,
    /// What happened: `quote.issued`, `quote.accepted`, `quote.declined`, `quote.lapsed`, `quote.withdrawn`,
    /// `quote.superseded`, `stock.reserved`, `stock.released`, `stock.picked`, `items.imported`, `settings.changed`,
    /// `webhook.disabled`. Expect new values.
    #[serde(rename = "type")]
    #[schema(example = "quote.accepted")]
    pub event_type: String,
    /// To what it happened: the identifier of a quote, an import or a webhook, or `settings`.
    pub subject: String,
    /// When.
    pub time: DateTime<Utc>,
    /// Media type of the data: `application/json`.
    #[schema(example = "application/json")]
    pub datacontenttype: &'static str,
    /// Its place among all events, as digits that sort like the numbers they are.
    #[schema(example = "0000000000000000042")]
    pub sequence: String,
    /// What there is to say of it.
    #[schema(value_type = EventData)]
    pub data: Value,
}

/// Where events of a kind happen.
fn source(kind: &str) -> &'static str {
    match kind.split('.').next() {
        Some("quote") => "/v1/quotes",
        Some("items") => "/v1/imports",
        Some("settings") => "/v1/settings",
        Some("stock") => "/v1/reservations",
        Some("webhook") => "/v1/webhooks",
        _ => "/v1/events",
    }
}

impl TryFrom<Event> for CloudEvent {
    type Error = Error;

    fn try_from(event: Event) -> Result<Self, Error> {
        let Event { position, id, kind, subject, at, payload } = event;
        let data = serde_json::from_slice(&payload).map_err(|cause| store::Error::BrokenRow {
            table: "events",
            row: position.to_string(),
            column: "payload",
            reason: cause.to_string(),
        })?;
        Ok(CloudEvent {
            specversion: "1.0",
            id,
            source: source(&kind),
            event_type: kind,
            subject,
            time: at,
            datacontenttype: "application/json",
            sequence: format!("{position:019}"),
            data,
        })
    }
}

const fn kind_of(state: QuoteState) -> &'static str {
    match state {
        QuoteState::Draft => "quote.drafted",
        QuoteState::Issued => "quote.issued",
        QuoteState::Accepted => "quote.accepted",
        QuoteState::Declined => "quote.declined",
        QuoteState::Lapsed => "quote.lapsed",
        QuoteState::Withdrawn => "quote.withdrawn",
        QuoteState::Superseded => "quote.superseded",
    }
}

#[derive(Deserialize)]
struct Purchases {
    purchases: Vec<PurchaseRead>,
}

#[derive(Deserialize)]
struct PurchaseRead {
    sku: String,
    description: String,
    buy: u64,
    buying_unit: BuyingUnit,
    buying_quantity: Decimal,
}

/// What a quote will take, by a costing that was frozen with it.
pub(super) fn demand(id: Uuid, costing: &Document) -> Result<Vec<PartDemand>, Error> {
    let Purchases { purchases } = serde_json::from_slice(&costing.bytes).map_err(|cause| unreadable(id, &cause))?;
    let part = |purchase: PurchaseRead| {
        let PurchaseRead { sku, description, buy, buying_unit, buying_quantity } = purchase;
        let unit_code = buying_unit.unece_code().to_owned();
        PartDemand { sku, description, quantity: Decimal::from(buy), unit_code, buying_unit, buying_quantity }
    };
    Ok(purchases.into_iter().filter(|purchase| purchase.buy > 0).map(part).collect())
}

impl Service {
    /// Of a quote that moved to where it is.
    pub(super) fn quote_event(
        &self,
        quote: &Stored<QuoteSummary>,
        superseded_by: Option<Uuid>,
        demand: Vec<PartDemand>,
    ) -> Result<NewEvent, Error> {
        let QuoteSummary { id, state, number, revision, accepted_options: options, .. } = quote.value.clone();
        let version = quote.version;
        let by_customer = quote.changed_by.as_deref() == Some(CUSTOMER_LINK);
        let said =
            QuoteEvent { quote: id, state, version, number, revision, superseded_by, options, by_customer, demand };
        let payload = written(&said)?;
        let (kind, subject) = (kind_of(state), id.to_string());
        Ok(NewEvent { id: self.clock.new_id(), kind, subject, at: quote.updated_at, payload })
    }

    /// Of an import that was applied.
    pub(super) fn import_event(&self, import: &Import) -> Result<NewEvent, Error> {
        let payload = written(&ImportEvent { import: import.id, items: import.rows_read })?;
        let at = import.finished_at.unwrap_or(import.created_at);
        Ok(NewEvent { id: self.clock.new_id(), kind: "items.imported", subject: import.id.to_string(), at, payload })
    }

    /// Of settings that were changed.
    pub(super) fn settings_event(&self, settings: &Stored<Settings>) -> Result<NewEvent, Error> {
        let payload = written(&SettingsEvent { settings_version: settings.version })?;
        let (kind, subject) = ("settings.changed", "settings".to_owned());
        Ok(NewEvent { id: self.clock.new_id(), kind, subject, at: settings.updated_at, payload })
    }

    /// Of a target that is told no more.
    pub(super) fn webhook_event(&self, said: &WebhookEvent, at: DateTime<Utc>) -> Result<NewEvent, Error> {
        let payload = written(said)?;
        let kind = EventType::WebhookDisabled.as_str();
        Ok(NewEvent { id: self.clock.new_id(), kind, subject: said.webhook.to_string(), at, payload })
    }

    /// Events behind a position, in order, at most `limit` of them, each with what there is to say. Whoever goes on from
    /// the last position that he met never misses one.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn events_behind(&self, position: i64, limit: u32) -> Result<Vec<(Event, Value)>, Error> {
        let events = store::events::behind(&self.store, position, u64::from(limit)).await?;
        let read = |event: Event| Ok((event.clone(), CloudEvent::try_from(event)?.data));
        events.into_iter().map(read).collect()
    }

    /// The same as others read them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn cloud_events_behind(&self, position: i64, limit: u32) -> Result<(Vec<CloudEvent>, i64), Error> {
        let events = store::events::behind(&self.store, position, u64::from(limit)).await?;
        let last = events.last().map_or(position, |event| event.position);
        Ok((events.into_iter().map(CloudEvent::try_from).collect::<Result<_, _>>()?, last))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whatever_is_told_can_be_asked_for() {
        for kind in EventType::ALL {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.as_str());
        }
        let states = [
            QuoteState::Issued,
            QuoteState::Accepted,
            QuoteState::Declined,
            QuoteState::Lapsed,
            QuoteState::Withdrawn,
            QuoteState::Superseded,
        ];
        for state in states {
            assert!(EventType::ALL.iter().any(|kind| kind.as_str() == kind_of(state)), "{state:?}");
        }
    }
}
