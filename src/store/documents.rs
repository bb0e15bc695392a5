//! The documents of quotes: bytes that never change, kept once by their hash.

use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, OnConflict, Query};
use sea_orm::{ColumnTrait, Condition, EntityTrait, ExprTrait, QueryFilter};
use uuid::Uuid;

use super::entities::{documents, quote_links, quotes};
use super::{Access, Error, Write, choices};

/// What a document is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DocumentKind {
    /// The quote as the shop reads it: nothing of cost.
    Quote,
    /// Cost, margin and the buying list: the owner's.
    Costing,
    /// The quote as its customer reads it.
    Customer,
}

impl DocumentKind {
    const fn as_str(self) -> &'static str {
        match self {
            DocumentKind::Quote => "quote",
            DocumentKind::Costing => "costing",
            DocumentKind::Customer => "customer",
        }
    }
}

/// An immutable document: its bytes, and the hash of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    /// SHA-256 of the bytes, hex.
    pub hash: String,
    /// JSON as it was first written.
    pub bytes: Vec<u8>,
}

/// A document that is to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewDocument {
    /// What it is for.
    pub kind: DocumentKind,
    /// Version of its schema.
    pub schema_version: u32,
    /// Edition of the calculation that made it.
    pub engine_edition: &'static str,
    /// Its bytes and their hash.
    pub document: Document,
}

/// A document of a quote. That of its customer is there from the day on which it was issued, or got its first link.
///
/// # Errors
/// When the database fails.
pub async fn document(at: &impl Access, id: Uuid, kind: DocumentKind) -> Result<Option<Document>, Error> {
    let of_quote = |column: quotes::Column| {
        Query::select().column(column).from(quotes::Entity).and_where(quotes::Column::Id.eq(id)).take()
    };
    let hash = match kind {
        DocumentKind::Quote => of_quote(quotes::Column::DocumentHash),
        DocumentKind::Costing => of_quote(quotes::Column::CostingHash),
        DocumentKind::Customer => Query::select()
            .column(quote_links::Column::DocumentHash)
            .from(quote_links::Entity)
            .and_where(quote_links::Column::Quote.eq(id))
            .take(),
    };
    let row = documents::Entity::find().filter(documents::Column::Hash.in_subquery(hash)).one(at.connection()).await?;
    Ok(row.map(|row| Document { hash: row.hash, bytes: row.bytes }))
}

/// Keeps documents.
///
/// # Errors
/// When the database fails.
pub async fn keep(write: &Write, new: &[NewDocument]) -> Result<(), Error> {
    let rows = new.iter().map(|new| documents::ActiveModel {
        hash: Set(new.document.hash.clone()),
        kind: Set(new.kind.as_str().to_owned()),
        schema_version: Set(i64::from(new.schema_version)),
        engine_edition: Set(new.engine_edition.to_owned()),
        bytes: Set(new.document.bytes.clone()),
    });
    // The same bytes are kept once, whichever quotes point to them.
    documents::Entity::insert_many(rows)
        .on_conflict(OnConflict::column(documents::Column::Hash).do_nothing().to_owned())
        .exec_without_returning(&write.0)
        .await?;
    Ok(())
}

/// Removes those of some documents that no quote and no choice points to any more: what a customer's draft said is gone
/// with it.
pub(super) async fn drop_unused(write: &Write, hashes: [String; 2]) -> Result<(), Error> {
    let pointing = Query::select()
        .expr(Expr::value(1))
        .from(quotes::Entity)
        .cond_where(
            Condition::any()
                .add(
                    Expr::col((quotes::Entity, quotes::Column::DocumentHash))
                        .equals((documents::Entity, documents::Column::Hash)),
                )
                .add(
                    Expr::col((quotes::Entity, quotes::Column::CostingHash))
                        .equals((documents::Entity, documents::Column::Hash)),
                ),
        )
        .take();
    documents::Entity::delete_many()
        .filter(documents::Column::Hash.is_in(hashes))
        .filter(Expr::exists(pointing).not())
        .filter(Expr::exists(choices::pointing()).not())
        .exec(&write.0)
        .await?;
    Ok(())
}
