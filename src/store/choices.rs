//! The choices of issued quotes: each set of options with its totals and documents. The set of none is the quote itself.

use iso_currency::Currency;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, ExprTrait, Query, SelectStatement};
use sea_orm::{ColumnTrait, Condition, EntityTrait, QueryFilter};
use uuid::Uuid;

use super::entities::{choices, documents};
use super::quotes::{Document, DocumentKind};
use super::{Access, Error, Write};
use crate::calc::money::Money;
use crate::calc::units::Name;

/// A set of options and what the quote comes to with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Its options, in the order of the quote's.
    pub options: Vec<Name>,
    /// Hash of its document.
    pub document_hash: String,
    /// Hash of its costing.
    pub costing_hash: String,
    /// Hash of what the customer reads of it; absent for one that was issued before there were links.
    pub customer_hash: Option<String>,
    /// Total without tax.
    pub net: Money,
    /// Total tax.
    pub tax: Money,
    /// Total with tax.
    pub total: Money,
}

/// Options as one text, and so as the key of a choice. No identifier of an option holds a comma.
pub(super) fn key(options: &[Name]) -> String {
    options.iter().map(Name::as_str).collect::<Vec<_>>().join(",")
}

/// Options from their text.
pub(super) fn options(key: &str) -> Vec<Name> {
    key.split(',').filter(|id| !id.is_empty()).map(Name::from).collect()
}

const fn column(kind: DocumentKind) -> choices::Column {
    match kind {
        DocumentKind::Quote => choices::Column::DocumentHash,
        DocumentKind::Costing => choices::Column::CostingHash,
        DocumentKind::Customer => choices::Column::CustomerHash,
    }
}

/// Keeps the choices of a quote that is issued; their documents are kept already.
///
/// # Errors
/// When the database fails; [`Error::is_dangling`] when another write has just removed one of the documents.
pub async fn insert(write: &Write, quote: Uuid, kept: &[Choice]) -> Result<(), Error> {
    if kept.is_empty() {
        return Ok(());
    }
    let rows = kept.iter().cloned().map(|choice| {
        let Choice { options, document_hash, costing_hash, customer_hash, net, tax, total } = choice;
        choices::ActiveModel {
            quote: Set(quote),
            options: Set(key(&options)),
            document_hash: Set(document_hash),
            costing_hash: Set(costing_hash),
            customer_hash: Set(customer_hash),
            net_minor: Set(net.minor()),
            tax_minor: Set(tax.minor()),
            total_minor: Set(total.minor()),
        }
    });
    choices::Entity::insert_many(rows).exec_without_returning(&write.0).await?;
    Ok(())
}

/// A choice of a quote by its options, in their order.
///
/// # Errors
/// When the database fails.
pub async fn read(
    at: &impl Access,
    quote: Uuid,
    options: &[Name],
    currency: Currency,
) -> Result<Option<Choice>, Error> {
    let row = choices::Entity::find_by_id((quote, key(options))).one(at.connection()).await?;
    let money = |minor: i64| Money::from_minor(minor, currency);
    Ok(row.map(|row| Choice {
        options: options.to_vec(),
        document_hash: row.document_hash,
        costing_hash: row.costing_hash,
        customer_hash: row.customer_hash,
        net: money(row.net_minor),
        tax: money(row.tax_minor),
        total: money(row.total_minor),
    }))
}

/// A document of a choice.
///
/// # Errors
/// When the database fails.
pub async fn document(
    at: &impl Access,
    quote: Uuid,
    options: &[Name],
    kind: DocumentKind,
) -> Result<Option<Document>, Error> {
    let hash = Query::select()
        .column(column(kind))
        .from(choices::Entity)
        .and_where(choices::Column::Quote.eq(quote))
        .and_where(choices::Column::Options.eq(key(options)))
        .take();
    let row = documents::Entity::find().filter(documents::Column::Hash.in_subquery(hash)).one(at.connection()).await?;
    Ok(row.map(|row| Document { hash: row.hash, bytes: row.bytes }))
}

/// Finds whether a choice points to the row of `documents` that the query around it looks at.
pub(super) fn pointing() -> SelectStatement {
    let points = |column: choices::Column| {
        Expr::col((choices::Entity, column)).equals((documents::Entity, documents::Column::Hash))
    };
    let any = Condition::any().add(points(choices::Column::DocumentHash)).add(points(choices::Column::CostingHash));
    Query::select().expr(Expr::value(1)).from(choices::Entity).cond_where(any).take()
}
