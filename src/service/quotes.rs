//! The life of a quote: drafts, made from a boat spec and the shop as it stands.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Error, Page, Service, Stored};

use crate::calc::findings::Fault;
use crate::calc::quote::{CostingDocument, QuoteDocument};
use crate::calc::shop::Shop;
use crate::calc::spec::input::BoatSpecInput;

pub use crate::store::quotes::{Document, NotAQuoteState, QuoteFilter, QuoteState, QuoteSummary};

/// A discount on the whole quote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum DiscountInput {
    /// A share of the sum of the lines.
    Percent {
        /// Percent.
        #[schema(value_type = String, pattern = r"^[0-9]{1,2}(\.[0-9]{1,4})?$", example = "5")]
        percent: Decimal,
    },
    /// An amount off the sum of the lines.
    Amount {
        /// The amount, without tax, in the shop's currency.
        #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,3})?$", example = "100.00")]
        amount: Decimal,
    },
}

/// What a quote is made from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteRequest {
    /// The boat, its sources and panels, and what is to be put on it.
    pub spec: BoatSpecInput,
    /// Customer, as the quote names them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200, example = "R. Calder")]
    pub customer: Option<String>,
    /// Discount on the whole quote.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discount: Option<DiscountInput>,
    /// Day whose prices hold; today in the shop's time zone unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-11-25")]
    pub priced_on: Option<NaiveDate>,
}

/// The calculation behind a quote: plain values in, plain values out.
///
/// # Errors
/// All faults of the request.
pub fn calculate(
    request: &QuoteRequest,
    day: NaiveDate,
    catalogue_version: i64,
    shop: &Shop,
) -> Result<(QuoteDocument, CostingDocument), Vec<Fault>> {
    let _ = (request, day, catalogue_version, shop);
    todo!()
}

/// Faults of a spec as faults of the request that holds it under `spec`.
pub(super) fn within_spec(faults: Vec<Fault>) -> Vec<Fault> {
    faults.into_iter().map(|fault| Fault::new(format!("/spec{}", fault.pointer), fault.message)).collect()
}

impl Service {
    /// Calculates a quote and keeps it as a draft with its documents.
    ///
    /// # Errors
    /// [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn create_quote(&self, request: QuoteRequest) -> Result<Stored<QuoteSummary>, Error> {
        let _ = request;
        todo!()
    }

    /// The envelope of a quote.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote(&self, id: Uuid) -> Result<Stored<QuoteSummary>, Error> {
        let _ = id;
        todo!()
    }

    /// Calculates a draft anew from another request.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is not at version `expected`; [`Error::NotAllowed`] when it is no
    /// draft; [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn replace_quote(
        &self,
        id: Uuid,
        request: QuoteRequest,
        expected: i64,
    ) -> Result<Stored<QuoteSummary>, Error> {
        let _ = (id, request, expected);
        todo!()
    }

    /// Deletes a draft with its documents.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::NotAllowed`] when it is no draft, [`Error::Store`].
    pub async fn delete_quote(&self, id: Uuid, expected: i64) -> Result<(), Error> {
        let _ = (id, expected);
        todo!()
    }

    /// The request that a quote was made from.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_request(&self, id: Uuid) -> Result<Stored<QuoteRequest>, Error> {
        let _ = id;
        todo!()
    }

    /// The document of a quote: the bytes of a [`QuoteDocument`] as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_document(&self, id: Uuid) -> Result<Document, Error> {
        let _ = id;
        todo!()
    }

    /// The costing of a quote, for the owner only: the bytes of a [`CostingDocument`] as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_costing(&self, id: Uuid) -> Result<Document, Error> {
        let _ = id;
        todo!()
    }

    /// Quotes, newest first, those behind `after` (an identifier), at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Faults`] when `after` is no identifier; [`Error::Store`].
    pub async fn list_quotes(
        &self,
        filter: &QuoteFilter,
        after: Option<&str>,
        limit: u32,
    ) -> Result<Page<Stored<QuoteSummary>>, Error> {
        let _ = (filter, after, limit);
        todo!()
    }
}
