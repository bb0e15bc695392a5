//! The purchase list and the pick list of a quote: calculated when they are asked for, from what its document froze, the
//! catalogue as it stands, and the shelf as it is.

use chrono::NaiveDate;
use iso_currency::Currency;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::shelf::{FrozenJob, ReadShelf};
use crate::calc::money::AmountTooLarge;
use crate::calc::purchase_list::{Heading, PickList, Procurement, PurchaseList, procure};
use crate::calc::shelf::Shelf;
use crate::service::quotes::{QuoteState, QuoteSummary, broken};
use crate::service::{Error, Service};
use crate::store;

/// Day on which a list is calculated: that of the order.
pub type ListDay = Option<NaiveDate>;

/// The quote that a list is of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct QuoteRef {
    /// Identifier.
    pub id: Uuid,
    /// Its number, once it was issued.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// Where it is in its life.
    pub state: QuoteState,
}

/// What is bought for a quote.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuotePurchaseList {
    /// The quote.
    pub quote: QuoteRef,
    /// The list.
    pub list: PurchaseList,
}

/// What is taken from the shelf for a quote.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuotePickList {
    /// The quote.
    pub quote: QuoteRef,
    /// The list.
    pub list: PickList,
}

struct Calculated {
    quote: QuoteRef,
    frozen: FrozenJob,
    shelf: Shelf,
    procurement: Procurement,
    heading: Heading,
}

impl Service {
    async fn procurement(&self, id: Uuid, day: ListDay) -> Result<Calculated, Error> {
        let quote = self.quote(id).await?.value;
        let frozen = self.frozen_job(id, &quote.accepted_options).await?;
        let reserved = store::reservations::of_quote(&self.store, id).await?;
        // What was agreed takes what it holds: what came later is anyone's until it takes hold of that too.
        let ReadShelf { shelf, source, mut warnings } = if quote.state == QuoteState::Accepted || !reserved.is_empty() {
            ReadShelf::of_reservations(&reserved, frozen.shop.settings.length_unit)
        } else {
            self.shelf(&frozen, &[]).await?
        };
        warnings.extend(self.short(&reserved).await?);
        let day = match day {
            Some(day) => day,
            None => self.today(&frozen.shop.settings.time_zone)?,
        };
        let procurement = procure(&frozen.job, &frozen.shop, &shelf, day);
        let heading = Heading { name: frozen.name.clone(), day, source, warnings };
        let QuoteSummary { number, revision, state, .. } = quote;
        Ok(Calculated { quote: QuoteRef { id, number, revision, state }, frozen, shelf, procurement, heading })
    }

    /// What is bought for a quote, ordered on a day (today where the shop is, unless stated).
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn purchase_list(&self, id: Uuid, day: ListDay) -> Result<QuotePurchaseList, Error> {
        let Calculated { quote, frozen, shelf, procurement, heading } = self.procurement(id, day).await?;
        let settings = &frozen.shop.settings;
        let currency = Currency::from_code(&settings.currency)
            .ok_or_else(|| broken("shop_documents", "body", &format!("'{}' is not in ISO 4217", settings.currency)))?;
        let list = procurement.purchase_list(&frozen.job, &shelf, heading, currency, settings.length_unit);
        let list =
            list.map_err(|AmountTooLarge| broken("items", "prices", "the cost of what is bought is too large"))?;
        Ok(QuotePurchaseList { quote, list })
    }

    /// What is taken from the shelf for a quote.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn pick_list(&self, id: Uuid, day: ListDay) -> Result<QuotePickList, Error> {
        let Calculated { quote, frozen, procurement, heading, .. } = self.procurement(id, day).await?;
        let list = procurement.pick_list(&frozen.job.by_hand, heading, frozen.shop.settings.length_unit);
        Ok(QuotePickList { quote, list })
    }
}
