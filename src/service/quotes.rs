//! The life of a quote: drafts, made from a boat spec and the shop as it stands.

use chrono::NaiveDate;
use serde::Serialize;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::access::Role;
use super::calculated::{Identity, Written};
use super::checks::{Checks, none};
use super::life::{Step, as_of, permitted};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page};
use crate::calc::quote::ENGINE_EDITION;
use crate::store;
use crate::store::quotes::NewDocument;

pub use super::quote_request::{QuoteRequest, calculate};
pub use crate::calc::choices::OptionInput;
pub use crate::calc::pricing::{DiscountInput, SettlementInput};
pub use crate::calc::quote::TaxExemption;
pub use crate::store::quotes::{Document, DocumentKind, NotAQuoteState, QuoteFilter, QuoteState, QuoteSummary};

pub(super) const WORDS: &str = "quote";
/// How often a write is begun anew when another one got in between: far more often than that ever happens in a row.
pub(super) const ATTEMPTS: u32 = 5;

pub(super) fn written(value: &impl Serialize) -> Result<Vec<u8>, Error> {
    serde_json::to_vec(value).map_err(|cause| broken("documents", "bytes", &cause.to_string()))
}

pub(super) fn broken(table: &'static str, column: &'static str, reason: &str) -> Error {
    Error::Store(store::Error::BrokenRow { table, row: "(new)".to_owned(), column, reason: reason.to_owned() })
}

pub(super) fn kept(kind: DocumentKind, schema_version: u32, bytes: Vec<u8>) -> NewDocument {
    let hash = Sha256::digest(&bytes);
    kept_as(kind, schema_version, hash.as_slice(), bytes)
}

/// A document that is to be kept under its hash.
pub(super) fn kept_as(kind: DocumentKind, schema_version: u32, hash: &[u8], bytes: Vec<u8>) -> NewDocument {
    let hash = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    NewDocument { kind, schema_version, engine_edition: ENGINE_EDITION, document: Document { hash, bytes } }
}

/// A request as it was kept.
pub(super) fn request_of(id: Uuid, kept: &[u8]) -> Result<QuoteRequest, Error> {
    serde_json::from_slice(kept).map_err(|cause| {
        let reason = cause.to_string();
        Error::Store(store::Error::BrokenRow { table: "quotes", row: id.to_string(), column: "request", reason })
    })
}

pub(super) fn not_found(id: Uuid) -> Error {
    Error::NotFound { kind: WORDS, id: id.to_string() }
}

impl Service {
    pub(super) fn written_by_now(&self) -> Written {
        Written { at: self.clock.now(), by: Some(self.principal().name.clone()) }
    }

    /// The calendar day where the shop is.
    pub(super) fn today(&self, time_zone: &str) -> Result<NaiveDate, Error> {
        let day = self.clock.today(time_zone);
        day.ok_or_else(|| broken("shop_documents", "body", &format!("'{time_zone}' is no time zone")))
    }

    /// Calculates a quote and keeps it as a draft with its documents.
    ///
    /// When the shop's tables change between calculation and writing, it is calculated once more; the document says
    /// which version of them it stands on.
    ///
    /// # Errors
    /// [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn create_quote(&self, request: QuoteRequest) -> Result<Stored<QuoteSummary>, Error> {
        Ok(self.create_quote_once(request, Once::unclaimed()).await?.unclaimed())
    }

    /// The same, done once.
    ///
    /// # Errors
    /// As [`Service::create_quote`]; [`Error::KeyReused`].
    pub async fn create_quote_once(
        &self,
        request: QuoteRequest,
        once: Once<'_, Stored<QuoteSummary>>,
    ) -> Result<Made<Stored<QuoteSummary>>, Error> {
        let id = self.clock.new_id();
        let mut attempt = 0;
        loop {
            attempt += 1;
            let calculated = self.calculated(&request).await?;
            calculated.within_limit(self.principal().role, &request, None)?;
            let now = self.written_by_now();
            let quote = calculated.quote(Identity::new(id, now.clone()), 1, now.clone());
            let write = self.store.write().await?;
            if let Some(answer) = once.claim(&write, &quote, now.at).await? {
                return Ok(Made::Before(answer));
            }
            if attempt == 1 && store::shop::version(&write).await? != calculated.catalogue_version {
                continue;
            }
            match store::quotes::insert(&write, &quote, calculated.request, &calculated.kept).await {
                Err(cause) if cause.is_dangling() && attempt < ATTEMPTS => continue,
                done => done?,
            }
            write.commit().await?;
            return Ok(Made::Now(quote));
        }
    }

    /// The envelope of a quote, as it is now: one whose last day is over has lapsed.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote(&self, id: Uuid) -> Result<Stored<QuoteSummary>, Error> {
        let found = store::quotes::read(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        Ok(as_of(found, self.clock.now()))
    }

    /// Calculates a draft anew from another request.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::WrongMove`] when it is no
    /// draft; [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn replace_quote(
        &self,
        id: Uuid,
        request: QuoteRequest,
        seen: impl Into<Seen>,
    ) -> Result<Stored<QuoteSummary>, Error> {
        let seen = seen.into();
        let mut attempt = 0;
        loop {
            attempt += 1;
            let before = self.quote(id).await?;
            permitted(&before, &seen, Step::Replace)?;
            let calculated = self.calculated(&request).await?;
            calculated.within_limit(self.principal().role, &request, self.request_before(id).await?.as_ref())?;
            let version = before.version + 1;
            let quote = calculated.quote(Identity::of(before.value), version, self.written_by_now());
            let write = self.store.write().await?;
            if attempt == 1 && store::shop::version(&write).await? != calculated.catalogue_version {
                continue;
            }
            match store::quotes::replace(&write, &quote, calculated.request, &calculated.kept).await {
                Ok(true) => {
                    write.commit().await?;
                    return Ok(quote);
                }
                // Someone else was first: reading it again tells what they did.
                Ok(false) if attempt < ATTEMPTS => {}
                Ok(false) => return Err(not_found(id)),
                Err(cause) if cause.is_dangling() && attempt < ATTEMPTS => {}
                Err(cause) => return Err(cause.into()),
            }
        }
    }

    /// What a quote was made from, where it matters what an owner allowed in it.
    pub(super) async fn request_before(&self, id: Uuid) -> Result<Option<QuoteRequest>, Error> {
        if self.principal().role == Role::Owner {
            return Ok(None);
        }
        Ok(Some(self.quote_request(id).await?.value))
    }

    /// Deletes a draft with its documents.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::WrongMove`] when it is no draft, [`Error::Store`].
    pub async fn delete_quote(&self, id: Uuid, seen: impl Into<Seen>) -> Result<(), Error> {
        let seen = seen.into();
        let mut attempt = 0;
        loop {
            attempt += 1;
            let before = self.quote(id).await?;
            permitted(&before, &seen, Step::Delete)?;
            let write = self.store.write().await?;
            match store::quotes::delete(&write, id, before.version).await {
                Ok(true) => return Ok(write.commit().await?),
                Ok(false) if attempt < ATTEMPTS => {}
                Ok(false) => return Err(not_found(id)),
                Err(cause) if cause.is_dangling() && attempt < ATTEMPTS => {}
                Err(cause) => return Err(cause.into()),
            }
        }
    }

    /// The request that a quote was made from.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_request(&self, id: Uuid) -> Result<Stored<QuoteRequest>, Error> {
        let (quote, request) = store::quotes::with_request(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        let value = request_of(id, &request)?;
        Ok(as_of(quote, self.clock.now()).map(|_| value))
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
        let mut checks = Checks::default();
        let id = after.and_then(|text| text.parse().ok());
        checks.must(after.is_none() || id.is_some(), "/after", || {
            "the list cannot go on from here: expected the identifier of a quote".to_owned()
        });
        none(checks.faults())?;
        let now = self.clock.now();
        let rows = store::quotes::list(&self.store, filter, now, id, u64::from(limit) + 1).await?;
        let rows = rows.into_iter().map(|row| as_of(row, now)).collect();
        Ok(page(rows, limit, |row| row.value.id.to_string()))
    }
}
