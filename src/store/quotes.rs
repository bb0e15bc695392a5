//! Quotes.

use chrono::{DateTime, NaiveDate, Utc};
use iso_currency::Currency;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockType};
use sea_orm::{ColumnTrait, Condition, DbBackend, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::documents::drop_unused;
use super::entities::quotes;
use super::items::{folded, holding};
use super::{Access, Error, Stored, Write, choices, unkept};
use crate::calc::money::Money;
use crate::calc::units::Name;

pub use super::documents::{Document, DocumentKind, NewDocument, document, keep};
pub use super::quote_state::{NotAQuoteState, QuoteState};

/// The envelope of a quote.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct QuoteSummary {
    /// Identifier.
    pub id: Uuid,
    /// Where it is in its life.
    pub state: QuoteState,
    /// Its number, once it was issued; a revision has that of the quote it revises from the start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub number: Option<String>,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// The quote that it revises.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revises: Option<Uuid>,
    /// Name of the boat or job.
    pub name: String,
    /// Customer, as the quote names them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// Currency, ISO 4217.
    pub currency: String,
    /// Total without tax; of what is priced so far, while a gap stands.
    pub net: Money,
    /// Total tax; of what is priced so far, while a gap stands.
    pub tax: Money,
    /// Total with tax; absent while a gap stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub total: Option<Money>,
    /// Whether a gap stands.
    pub incomplete: bool,
    /// Hash of the document (SHA-256, hex).
    pub document_hash: String,
    /// Hash of the costing (SHA-256, hex).
    pub costing_hash: String,
    /// Version of the shop's tables that it was made from.
    pub catalogue_version: i64,
    /// Day whose prices hold.
    pub priced_on: NaiveDate,
    /// Last day on which the price holds.
    pub valid_until: NaiveDate,
    /// The end of that day where the shop is, once it was issued: what is then unanswered has lapsed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lapses_at: Option<DateTime<Utc>>,
    /// The options that the customer chose when he accepted it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub accepted_options: Vec<Name>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`; absent for what was written before keys were.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub created_by: Option<String>,
}

/// Which quotes a list shows; what is absent does not restrict it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct QuoteFilter {
    /// State.
    pub state: Option<QuoteState>,
    /// Text that the name, the customer or the number holds, in any case.
    pub text: Option<String>,
}

/// Quotes in a state at a time: what was issued and whose last day is over counts as lapsed, written or not.
fn in_state(state: QuoteState, now: DateTime<Utc>) -> Condition {
    let written = |state: QuoteState| quotes::Column::State.eq(state.as_str());
    let over = quotes::Column::LapsesAt.lte(now);
    match state {
        QuoteState::Issued => Condition::all()
            .add(written(QuoteState::Issued))
            .add(Condition::any().add(quotes::Column::LapsesAt.is_null()).add(quotes::Column::LapsesAt.gt(now))),
        QuoteState::Lapsed => Condition::any()
            .add(written(QuoteState::Lapsed))
            .add(Condition::all().add(written(QuoteState::Issued)).add(over)),
        other => Condition::all().add(written(other)),
    }
}

fn broken(id: Uuid, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table: "quotes", row: id.to_string(), column, reason: reason.to_string() }
}

fn summary(row: quotes::Model) -> Result<Stored<QuoteSummary>, Error> {
    let state = row.state.parse().map_err(|cause| broken(row.id, "state", cause))?;
    let currency = Currency::from_code(&row.currency)
        .ok_or_else(|| broken(row.id, "currency", format!("'{}' is not in ISO 4217", row.currency)))?;
    let revision = u32::try_from(row.revision).map_err(|cause| broken(row.id, "revision", cause))?;
    let value = QuoteSummary {
        id: row.id,
        state,
        number: row.number,
        revision,
        revises: row.revises,
        name: row.name,
        customer: row.customer,
        currency: row.currency,
        net: Money::from_minor(row.net_minor, currency),
        tax: Money::from_minor(row.tax_minor, currency),
        total: row.total_minor.map(|minor| Money::from_minor(minor, currency)),
        incomplete: row.incomplete,
        document_hash: row.document_hash,
        costing_hash: row.costing_hash,
        catalogue_version: row.catalogue_version,
        priced_on: row.priced_on,
        valid_until: row.valid_until,
        lapses_at: row.lapses_at,
        accepted_options: row.accepted_options.as_deref().map(choices::options).unwrap_or_default(),
        created_at: row.created_at,
        created_by: row.created_by,
    };
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by: row.changed_by })
}

fn row_of(quote: &Stored<QuoteSummary>, request: Vec<u8>) -> quotes::ActiveModel {
    let QuoteSummary {
        id,
        state,
        number,
        revision,
        revises,
        name,
        customer,
        currency,
        net,
        tax,
        total,
        incomplete,
        document_hash,
        costing_hash,
        catalogue_version,
        priced_on,
        valid_until,
        lapses_at,
        accepted_options,
        created_at,
        created_by,
    } = quote.value.clone();
    let [customers, numbers] = [&customer, &number].map(|text| text.as_deref().unwrap_or_default());
    let search_text = folded(&format!("{name} {customers} {numbers}"));
    quotes::ActiveModel {
        id: Set(id),
        state: Set(state.as_str().to_owned()),
        number: Set(number),
        revision: Set(i64::from(revision)),
        revises: Set(revises),
        version: Set(quote.version),
        name: Set(name),
        customer: Set(customer),
        search_text: Set(search_text),
        currency: Set(currency),
        net_minor: Set(net.minor()),
        tax_minor: Set(tax.minor()),
        total_minor: Set(total.map(Money::minor)),
        incomplete: Set(incomplete),
        document_hash: Set(document_hash),
        costing_hash: Set(costing_hash),
        catalogue_version: Set(catalogue_version),
        priced_on: Set(priced_on),
        valid_until: Set(valid_until),
        lapses_at: Set(lapses_at),
        accepted_options: Set(kept_options(&accepted_options)),
        request: Set(request),
        created_at: Set(created_at),
        updated_at: Set(quote.updated_at),
        created_by: Set(created_by),
        changed_by: Set(quote.changed_by.clone()),
    }
}

/// Options as a column has them; of none it has nothing.
pub(super) fn kept_options(options: &[Name]) -> Option<String> {
    (!options.is_empty()).then(|| choices::key(options))
}

/// The envelope of a quote.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<Stored<QuoteSummary>>, Error> {
    quotes::Entity::find_by_id(id).one(at.connection()).await?.map(summary).transpose()
}

/// The envelope of a quote, which no other write changes until this one ends.
///
/// # Errors
/// As [`read`], and when another write holds it for longer than five seconds.
pub async fn hold(write: &Write, id: Uuid) -> Result<Option<Stored<QuoteSummary>>, Error> {
    let mut query = quotes::Entity::find_by_id(id);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Share);
    }
    query.one(&write.0).await?.map(summary).transpose()
}

/// The envelope of a quote, which no other write holds or changes until this one ends.
///
/// # Errors
/// As [`hold`].
pub async fn hold_alone(write: &Write, id: Uuid) -> Result<Option<Stored<QuoteSummary>>, Error> {
    let mut query = quotes::Entity::find_by_id(id);
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    query.one(&write.0).await?.map(summary).transpose()
}

/// Identifier of the quote that sorts behind all others.
///
/// # Errors
/// When the database fails.
pub async fn last_id(at: &impl Access) -> Result<Option<Uuid>, Error> {
    let query = quotes::Entity::find().select_only().column(quotes::Column::Id).order_by_desc(quotes::Column::Id);
    Ok(query.into_tuple().one(at.connection()).await?)
}

/// The quote that revises another one.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn revision_of(at: &impl Access, id: Uuid) -> Result<Option<Stored<QuoteSummary>>, Error> {
    quotes::Entity::find().filter(quotes::Column::Revises.eq(id)).one(at.connection()).await?.map(summary).transpose()
}

/// Issued quotes whose last day is over at `now`, those that were over first before the others, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn due(at: &impl Access, now: DateTime<Utc>, limit: u64) -> Result<Vec<Stored<QuoteSummary>>, Error> {
    let query = quotes::Entity::find()
        .filter(quotes::Column::State.eq(QuoteState::Issued.as_str()))
        .filter(quotes::Column::LapsesAt.lte(now))
        .order_by_asc(quotes::Column::LapsesAt)
        .order_by_asc(quotes::Column::Id)
        .limit(limit);
    query.all(at.connection()).await?.into_iter().map(summary).collect()
}

/// A quote with the request that it was made from, as that was kept.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn with_request(at: &impl Access, id: Uuid) -> Result<Option<(Stored<QuoteSummary>, Vec<u8>)>, Error> {
    let row = quotes::Entity::find_by_id(id).one(at.connection()).await?;
    row.map(|mut row| {
        let request = std::mem::take(&mut row.request);
        Ok((summary(row)?, request))
    })
    .transpose()
}

/// Quotes, newest first, those behind `after`, at most `limit` of them; in what state they are at `now` decides.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(
    at: &impl Access,
    filter: &QuoteFilter,
    now: DateTime<Utc>,
    after: Option<Uuid>,
    limit: u64,
) -> Result<Vec<Stored<QuoteSummary>>, Error> {
    if filter.text.as_deref().is_some_and(unkept) {
        return Ok(Vec::new());
    }
    // Identifiers are version 7: their order is the order in which the quotes were made.
    let mut query = quotes::Entity::find().order_by_desc(quotes::Column::Id).limit(limit);
    if let Some(after) = after {
        query = query.filter(quotes::Column::Id.lt(after));
    }
    if let Some(state) = filter.state {
        query = query.filter(in_state(state, now));
    }
    if let Some(text) = &filter.text {
        query = query.filter(quotes::Column::SearchText.like(holding(text)));
    }
    query.all(at.connection()).await?.into_iter().map(summary).collect()
}

/// Keeps a new quote with its documents.
///
/// # Errors
/// When the database fails; [`Error::is_dangling`] when another write has just removed one of the documents;
/// [`Error::is_taken`] when the quote that it revises has a revision already.
pub async fn insert(
    write: &Write,
    quote: &Stored<QuoteSummary>,
    request: Vec<u8>,
    new: &[NewDocument],
) -> Result<(), Error> {
    keep(write, new).await?;
    quotes::Entity::insert(row_of(quote, request)).exec_without_returning(&write.0).await?;
    Ok(())
}

/// Replaces a quote with its documents if it is still a draft at the version before `quote.version`: by another draft, or
/// by what is issued of it. `false` otherwise.
///
/// # Errors
/// As [`insert`].
pub async fn replace(
    write: &Write,
    quote: &Stored<QuoteSummary>,
    request: Vec<u8>,
    new: &[NewDocument],
) -> Result<bool, Error> {
    let id = quote.value.id;
    let Some(before) = draft(write, id, quote.version - 1).await? else { return Ok(false) };
    keep(write, new).await?;
    let changed = quotes::Entity::update_many()
        .set(row_of(quote, request))
        .filter(quotes::Column::Id.eq(id))
        .filter(quotes::Column::State.eq(QuoteState::Draft.as_str()))
        .filter(quotes::Column::Version.eq(quote.version - 1))
        .exec(&write.0)
        .await?;
    if changed.rows_affected == 0 {
        return Ok(false);
    }
    drop_unused(write, [before.document_hash, before.costing_hash]).await?;
    Ok(true)
}

/// Moves a quote on: writes its state, what was chosen and what it comes to with that, and who moved it when, if it is still in the state `from` at the version before
/// `quote.version`. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn advance(write: &Write, quote: &Stored<QuoteSummary>, from: QuoteState) -> Result<bool, Error> {
    // Once its last day is over an issued quote can only lapse.
    let in_time = if from == QuoteState::Issued && quote.value.state != QuoteState::Lapsed {
        Condition::any().add(quotes::Column::LapsesAt.is_null()).add(quotes::Column::LapsesAt.gt(quote.updated_at))
    } else {
        Condition::all()
    };
    let changed = quotes::Entity::update_many()
        .col_expr(quotes::Column::State, Expr::value(quote.value.state.as_str()))
        .col_expr(quotes::Column::AcceptedOptions, Expr::value(kept_options(&quote.value.accepted_options)))
        .col_expr(quotes::Column::NetMinor, Expr::value(quote.value.net.minor()))
        .col_expr(quotes::Column::TaxMinor, Expr::value(quote.value.tax.minor()))
        .col_expr(quotes::Column::TotalMinor, Expr::value(quote.value.total.map(Money::minor)))
        .col_expr(quotes::Column::Version, Expr::value(quote.version))
        .col_expr(quotes::Column::UpdatedAt, Expr::value(quote.updated_at))
        .col_expr(quotes::Column::ChangedBy, Expr::value(quote.changed_by.clone()))
        .filter(quotes::Column::Id.eq(quote.value.id))
        .filter(quotes::Column::State.eq(from.as_str()))
        .filter(quotes::Column::Version.eq(quote.version - 1))
        .filter(in_time)
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Deletes a quote with its documents if it is still a draft at version `expected`. `false` otherwise.
///
/// # Errors
/// As [`insert`].
pub async fn delete(write: &Write, id: Uuid, expected: i64) -> Result<bool, Error> {
    let Some(before) = draft(write, id, expected).await? else { return Ok(false) };
    let gone = quotes::Entity::delete_many()
        .filter(quotes::Column::Id.eq(id))
        .filter(quotes::Column::State.eq(QuoteState::Draft.as_str()))
        .filter(quotes::Column::Version.eq(expected))
        .exec(&write.0)
        .await?;
    if gone.rows_affected == 0 {
        return Ok(false);
    }
    drop_unused(write, [before.document_hash, before.costing_hash]).await?;
    Ok(true)
}

async fn draft(write: &Write, id: Uuid, version: i64) -> Result<Option<QuoteSummary>, Error> {
    let found = read(write, id).await?;
    let draft = found.filter(|row| row.value.state == QuoteState::Draft && row.version == version);
    Ok(draft.map(|row| row.value))
}
