//! Claims of requests that are to be done once, each with the answer that it was given.
//!
//! A claim is written whole, answer and all, as the first statement of the write that does the work. So a row that can
//! be read stands for work that was done, a second request with the same key waits at that statement until the first
//! one has ended, and whatever ends the first one early takes its claim along.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter};
use uuid::Uuid;

use super::entities::idempotency;
use super::{Access, Error, Write};

/// Length of a fingerprint, bytes (SHA-256).
pub const FINGERPRINT_BYTES: usize = 32;

/// What a request claims: that what it asks for is done once.
#[derive(Clone, PartialEq, Eq)]
pub struct Claim {
    /// The key (of the service's own keys) in whose name it is done: others may choose the same text.
    pub principal: Uuid,
    /// The text that the client chose: 1 to 255 visible ASCII characters.
    pub key: String,
    /// SHA-256 of what was asked for: method, path, query and body.
    pub fingerprint: [u8; FINGERPRINT_BYTES],
}

/// An answer as it is kept and given again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Its status: 200 to 299.
    pub status: u16,
    /// Address of what was made.
    pub location: Option<String>,
    /// Version of what was made, as a tag.
    pub etag: Option<String>,
    /// Media type of the body.
    pub content_type: String,
    /// The body as it was sent.
    pub body: Vec<u8>,
    /// Whether the body shows a secret: then it is not kept, and cannot be given again.
    pub shows_secret: bool,
}

/// An answer that was kept, and what it was given for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Fingerprint of the request.
    pub fingerprint: Vec<u8>,
    /// The answer; its body is empty where it showed a secret.
    pub answer: Answer,
}

fn broken(principal: Uuid, column: &'static str, reason: impl ToString) -> Error {
    // The key's text stays out of the log: it may be anything.
    let row = format!("of principal {principal}");
    Error::BrokenRow { table: "idempotency", row, column, reason: reason.to_string() }
}

fn kept(row: idempotency::Model) -> Result<Kept, Error> {
    let status = u16::try_from(row.status).map_err(|cause| broken(row.principal, "status", cause))?;
    let shows_secret = row.body.is_none();
    let answer = Answer {
        status,
        location: row.location,
        etag: row.etag,
        content_type: row.content_type,
        body: row.body.unwrap_or_default(),
        shows_secret,
    };
    Ok(Kept { fingerprint: row.fingerprint, answer })
}

/// What was answered to a principal's key, if that is still kept at `now`.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, principal: Uuid, key: &str, now: DateTime<Utc>) -> Result<Option<Kept>, Error> {
    let row = idempotency::Entity::find_by_id((principal, key.to_owned()))
        .filter(idempotency::Column::ExpiresAt.gt(now))
        .one(at.connection())
        .await?;
    row.map(kept).transpose()
}

/// Claims: keeps the answer until `expires_at`, in place of one that is kept no longer. `false` when an answer to that
/// key is kept already. Waits for another write that claims the same key.
///
/// # Errors
/// When the database fails, or another write takes longer than five seconds.
pub async fn claim(
    write: &Write,
    claim: &Claim,
    answer: &Answer,
    now: DateTime<Utc>,
    expires_at: DateTime<Utc>,
) -> Result<bool, Error> {
    use idempotency::Column;
    let row = idempotency::ActiveModel {
        principal: Set(claim.principal),
        key: Set(claim.key.clone()),
        fingerprint: Set(claim.fingerprint.to_vec()),
        status: Set(i64::from(answer.status)),
        location: Set(answer.location.clone()),
        etag: Set(answer.etag.clone()),
        content_type: Set(answer.content_type.clone()),
        body: Set((!answer.shows_secret).then(|| answer.body.clone())),
        created_at: Set(now),
        expires_at: Set(expires_at),
    };
    let everything_else = [
        Column::Fingerprint,
        Column::Status,
        Column::Location,
        Column::Etag,
        Column::ContentType,
        Column::Body,
        Column::CreatedAt,
        Column::ExpiresAt,
    ];
    let in_place_of_expired = OnConflict::columns([Column::Principal, Column::Key])
        .update_columns(everything_else)
        .action_and_where(Expr::col((idempotency::Entity, Column::ExpiresAt)).lte(now))
        .to_owned();
    let written =
        idempotency::Entity::insert(row).on_conflict(in_place_of_expired).exec_without_returning(&write.0).await?;
    Ok(written > 0)
}

/// Forgets the answers that are kept no longer at `now`. How many those were.
///
/// # Errors
/// When the database fails.
pub async fn forget(write: &Write, now: DateTime<Utc>) -> Result<u64, Error> {
    let gone =
        idempotency::Entity::delete_many().filter(idempotency::Column::ExpiresAt.lte(now)).exec(&write.0).await?;
    Ok(gone.rows_affected)
}
