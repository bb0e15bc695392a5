//! What the rest of the shop hears of: moves of quotes, imports, changes of the settings. Nothing of money, nothing of a
//! customer: whoever may read a quote finds both there.

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
use super::{Error, Service, Stored};
use crate::calc::shop::item::BuyingUnit;
use crate::calc::shop::settings::Settings;
use crate::calc::units::Name;
use crate::store;
use crate::store::events::NewEvent;
use crate::store::quotes::Document;

pub use crate::store::events::Event;

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

    /// Events behind a position, in order, at most `limit` of them, each with what there is to say. Whoever goes on from
    /// the last position that he met never misses one.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn events_behind(&self, position: i64, limit: u32) -> Result<Vec<(Event, Value)>, Error> {
        let events = store::events::behind(&self.store, position, u64::from(limit)).await?;
        let read = |event: Event| {
            let said = serde_json::from_slice(&event.payload).map_err(|cause| store::Error::BrokenRow {
                table: "events",
                row: event.position.to_string(),
                column: "payload",
                reason: cause.to_string(),
            })?;
            Ok((event, said))
        };
        events.into_iter().map(read).collect()
    }
}
