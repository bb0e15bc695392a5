//! Links of customers: one for a quote. Of its secret only the hash is here.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter};
use uuid::Uuid;

use super::entities::quote_links;
use super::keys::SecretHash;
use super::{Access, Error, Write};

/// A link as it is kept.
#[derive(Clone, Debug)]
pub struct LinkRow {
    /// The quote that it opens.
    pub quote: Uuid,
    /// Identifier: it stands in the address and is no secret.
    pub id: Uuid,
    /// Hash of its secret.
    pub hash: SecretHash,
    /// Hash of the document that it shows.
    pub document_hash: String,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`.
    pub made_by: String,
    /// When it ends by itself.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
}

fn row_of(model: quote_links::Model) -> Result<LinkRow, Error> {
    let broken = |bytes: Vec<u8>| Error::BrokenRow {
        table: "quote_links",
        row: model.quote.to_string(),
        column: "secret_hash",
        reason: format!("{} bytes and not 32", bytes.len()),
    };
    Ok(LinkRow {
        hash: SecretHash::new(model.secret_hash.try_into().map_err(broken)?),
        quote: model.quote,
        id: model.link,
        document_hash: model.document_hash,
        made_at: model.made_at,
        made_by: model.made_by,
        expires_at: model.expires_at,
        revoked_at: model.revoked_at,
    })
}

/// The link of a quote.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn of_quote(at: &impl Access, quote: Uuid) -> Result<Option<LinkRow>, Error> {
    quote_links::Entity::find_by_id(quote).one(at.connection()).await?.map(row_of).transpose()
}

/// A link by its identifier.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<LinkRow>, Error> {
    let query = quote_links::Entity::find().filter(quote_links::Column::Link.eq(id));
    query.one(at.connection()).await?.map(row_of).transpose()
}

/// Keeps the link of a quote, in place of the one that it had. Its document must be kept already.
///
/// # Errors
/// When the database fails.
pub async fn put(write: &Write, row: &LinkRow) -> Result<(), Error> {
    use quote_links::Column::{DocumentHash, ExpiresAt, Link, MadeAt, MadeBy, Quote, RevokedAt, SecretHash};
    let LinkRow { quote, id, hash, document_hash, made_at, made_by, expires_at, revoked_at } = row.clone();
    let row = quote_links::ActiveModel {
        quote: Set(quote),
        link: Set(id),
        secret_hash: Set(hash.bytes().to_vec()),
        document_hash: Set(document_hash),
        made_at: Set(made_at),
        made_by: Set(made_by),
        expires_at: Set(expires_at),
        revoked_at: Set(revoked_at),
    };
    let others = [Link, SecretHash, DocumentHash, MadeAt, MadeBy, ExpiresAt, RevokedAt];
    quote_links::Entity::insert(row)
        .on_conflict(OnConflict::column(Quote).update_columns(others).to_owned())
        .exec_without_returning(&write.0)
        .await?;
    Ok(())
}

/// Ends the link of a quote.
///
/// # Errors
/// When the database fails.
pub async fn revoke(write: &Write, quote: Uuid, at: DateTime<Utc>) -> Result<(), Error> {
    quote_links::Entity::update_many()
        .col_expr(quote_links::Column::RevokedAt, Expr::value(at))
        .filter(quote_links::Column::Quote.eq(quote))
        .exec(&write.0)
        .await?;
    Ok(())
}
