//! The life of a quote: drafts, made from a boat spec and the shop as it stands.

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::Role;
use super::checks::{Checks, none};
use super::life::{Step, as_of, permitted};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page};
use crate::calc::chain;
use crate::calc::findings::Fault;
use crate::calc::money::{AmountTooLarge, Money};
use crate::calc::pricing::{Discount, PriceRequest, Quotation, quotation, taken_off};
use crate::calc::quote::{ENGINE_EDITION, QuoteDocument};
use crate::calc::shop::Shop;
use crate::calc::shop::settings::Terms;
use crate::calc::spec::fitted::fitted;
use crate::calc::spec::input::BoatSpecInput;
use crate::store;
use crate::store::quotes::{DocumentKind, NewDocument};

pub use crate::calc::pricing::{DiscountInput, SettlementInput};
pub use crate::calc::quote::TaxExemption;
pub use crate::store::quotes::{Document, NotAQuoteState, QuoteFilter, QuoteState, QuoteSummary};

pub(super) const WORDS: &str = "quote";
/// How often a write is begun anew when another one got in between: far more often than that ever happens in a row.
pub(super) const ATTEMPTS: u32 = 5;

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
    /// Why the customer pays no tax, if so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_exemption: Option<TaxExemption>,
    /// What a person decided about gaps: each can be a line of its own price, or be left out. A quote cannot be issued
    /// while a gap stands that nothing was decided about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub settlements: Vec<SettlementInput>,
    /// Day whose prices hold; today in the shop's time zone unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-11-25")]
    pub priced_on: Option<NaiveDate>,
}

/// The calculation behind a quote: plain values in, plain values out.
///
/// # Errors
/// All faults of the request that show at the same stage, each with a JSON pointer into the request.
pub fn calculate(
    request: &QuoteRequest,
    day: NaiveDate,
    catalogue_version: i64,
    shop: &Shop,
) -> Result<Quotation, Vec<Fault>> {
    let QuoteRequest { spec, customer, discount, tax_exemption, settlements, priced_on } = request;
    let shop = &*fitted(shop, &spec.boat);
    let mut checks = Checks::default();
    if let Some(customer) = customer {
        checks.text("/customer", customer, 200);
    }
    checks.must(!spec.boat.name.contains('\0'), "/spec/boat/name", || {
        "the name holds a zero character: take it out".to_owned()
    });
    checks.must(priced_on.is_none_or(|day| (1900..=2999).contains(&day.year())), "/priced_on", || {
        format!("{day} is no day that prices hold on: expected a year from 1900 to 2999")
    });
    if let Some(TaxExemption { certificate, reason }) = tax_exemption {
        checks.text("/tax_exemption/certificate", certificate, 100);
        checks.text("/tax_exemption/reason", reason, 200);
    }
    for (place, settlement) in settlements.iter().enumerate() {
        let (field, text, longest) = match settlement {
            SettlementInput::Line { description, unit, .. } => {
                checks.text(format!("/settlements/{place}/unit"), unit, 20);
                ("description", description, 200)
            }
            SettlementInput::Exclusion { reason, .. } => ("reason", reason, 500),
        };
        checks.text(format!("/settlements/{place}/{field}"), text, longest);
    }
    let mut faults = checks.faults();
    let take_off = match chain::take_off(spec, shop) {
        Ok(take_off) if faults.is_empty() => take_off,
        Ok(_) => return Err(faults),
        Err(more) => {
            faults.extend(within_spec(more));
            return Err(faults);
        }
    };
    let price = PriceRequest {
        customer: customer.clone(),
        day,
        discount: discount.clone().map(Into::into),
        tax_exemption: tax_exemption.clone(),
        settlements: settlements.clone(),
        catalogue_version,
    };
    quotation(take_off, &spec.extra_lines, &spec.overrules, &price, shop).map_err(within_spec)
}

/// Faults of a spec as faults of the request that holds it under `spec`; those of discount and settlements stand beside
/// it.
fn within_spec(faults: Vec<Fault>) -> Vec<Fault> {
    let placed = faults.into_iter().map(|fault| {
        let beside = ["/discount", "/settlements"].iter().any(|place| fault.pointer.starts_with(place));
        if beside { fault } else { Fault::new(format!("/spec{}", fault.pointer), fault.message) }
    });
    placed.collect()
}

/// Everything of a draft that is written, but for its identity.
pub(super) struct Calculated {
    pub(super) catalogue_version: i64,
    pub(super) time_zone: String,
    pub(super) terms: Terms,
    /// Margin on the items after the discount, percent.
    margin_percent: Option<Decimal>,
    pub(super) document: QuoteDocument,
    pub(super) request: Vec<u8>,
    pub(super) kept: [NewDocument; 2],
}

/// When something was written, and in whose name.
#[derive(Clone)]
pub(super) struct Written {
    pub(super) at: DateTime<Utc>,
    pub(super) by: Option<String>,
}

/// What of a quote outlasts every calculation.
pub(super) struct Identity {
    pub(super) id: Uuid,
    pub(super) number: Option<String>,
    pub(super) revision: u32,
    pub(super) revises: Option<Uuid>,
    pub(super) made: Written,
}

impl Identity {
    /// Of a quote that is made now.
    fn new(id: Uuid, made: Written) -> Self {
        Identity { id, number: None, revision: 1, revises: None, made }
    }

    /// Of a quote that is there.
    pub(super) fn of(quote: QuoteSummary) -> Self {
        let QuoteSummary { id, number, revision, revises, created_at, created_by, .. } = quote;
        Identity { id, number, revision, revises, made: Written { at: created_at, by: created_by } }
    }
}

impl Calculated {
    /// Whether its items earn less than the shop's floor.
    pub(super) fn below_the_floor(&self) -> bool {
        let floor = self.terms.margin_floor_percent;
        floor.zip(self.margin_percent).is_some_and(|(floor, margin)| margin < floor)
    }

    /// Refuses a discount beyond what the shop lets anyone but an owner give; an extra line that takes something off is
    /// one too. A discount that an owner gave, in percent, may be kept by whoever changes the rest.
    pub(super) fn within_limit(
        &self,
        role: Role,
        asked: &QuoteRequest,
        before: Option<&QuoteRequest>,
    ) -> Result<(), Error> {
        if role == Role::Owner {
            return Ok(());
        }
        let kept = before.is_some_and(|before| {
            asked.discount == before.discount && matches!(asked.discount, Some(DiscountInput::Percent { .. }))
        });
        let QuoteDocument { totals, lines, .. } = &self.document;
        let discount = if kept { 0 } else { totals.discount.minor() };
        let currency = totals.lines_net.currency();
        let off_lines =
            taken_off(lines).map_err(|AmountTooLarge| broken("quotes", "net", "the lines are too large"))?;
        let limit = self.terms.discount_limit_percent;
        // What the limit itself comes to, rounded like any other discount, of the lines that add something.
        let adding = Money::from_minor(totals.lines_net.minor().saturating_add(off_lines), currency);
        let most = Discount::Percent(limit).of(adding).map_or(0, Money::minor);
        let given = discount.saturating_add(off_lines);
        let place = if off_lines > 0 { "/spec/extra_lines" } else { "/discount" };
        let mut checks = Checks::default();
        checks.must(given <= most, place, || {
            format!(
                "{} off is more than the {limit} percent of the lines that a key of the role {role} may give, lines that take \
                 something off counted in: lower it, or have an owner give it",
                Money::from_minor(given, currency)
            )
        });
        none(checks.faults())
    }

    /// The envelope of a draft at a version that is written `now`.
    pub(super) fn quote(&self, identity: Identity, version: i64, now: Written) -> Stored<QuoteSummary> {
        let QuoteDocument { take_off, totals, customer, priced_on, valid_until, .. } = &self.document;
        let [document, costing] = &self.kept;
        let Identity { id, number, revision, revises, made } = identity;
        let value = QuoteSummary {
            id,
            state: QuoteState::Draft,
            number,
            revision,
            revises,
            name: take_off.boat.name.clone(),
            customer: customer.clone(),
            currency: totals.currency.clone(),
            net: totals.net,
            tax: totals.tax,
            total: totals.total,
            incomplete: totals.incomplete,
            document_hash: document.document.hash.clone(),
            costing_hash: costing.document.hash.clone(),
            catalogue_version: self.catalogue_version,
            priced_on: *priced_on,
            valid_until: *valid_until,
            lapses_at: None,
            created_at: made.at,
            created_by: made.by,
        };
        Stored { value, version, updated_at: now.at, changed_by: now.by }
    }
}

pub(super) fn written(value: &impl Serialize) -> Result<Vec<u8>, Error> {
    serde_json::to_vec(value).map_err(|cause| broken("documents", "bytes", &cause.to_string()))
}

pub(super) fn broken(table: &'static str, column: &'static str, reason: &str) -> Error {
    Error::Store(store::Error::BrokenRow { table, row: "(new)".to_owned(), column, reason: reason.to_owned() })
}

pub(super) fn kept(kind: DocumentKind, schema_version: u32, bytes: Vec<u8>) -> NewDocument {
    let hash = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
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

    pub(super) async fn calculated(&self, request: &QuoteRequest) -> Result<Calculated, Error> {
        let (catalogue_version, shop) = self.shop().await?;
        let day = match request.priced_on {
            Some(day) => day,
            None => self.today(&shop.settings.time_zone)?,
        };
        let Quotation { document, costing } =
            calculate(request, day, catalogue_version, &shop).map_err(Error::Faults)?;
        let kept = [
            kept(DocumentKind::Quote, document.schema_version, written(&document)?),
            kept(DocumentKind::Costing, costing.schema_version, written(&costing)?),
        ];
        let (time_zone, terms) = (shop.settings.time_zone.clone(), shop.settings.terms.clone());
        let (request, margin_percent) = (written(request)?, costing.margin_percent);
        Ok(Calculated { catalogue_version, time_zone, terms, margin_percent, document, request, kept })
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

    /// The document of a quote: the bytes of a [`QuoteDocument`] as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_document(&self, id: Uuid) -> Result<Document, Error> {
        let found = store::quotes::document(&self.store, id, DocumentKind::Quote).await?;
        found.ok_or_else(|| not_found(id))
    }

    /// The costing of a quote, for the owner only: the bytes of a
    /// [`CostingDocument`](crate::calc::quote::CostingDocument) as JSON.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn quote_costing(&self, id: Uuid) -> Result<Document, Error> {
        let found = store::quotes::document(&self.store, id, DocumentKind::Costing).await?;
        found.ok_or_else(|| not_found(id))
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
