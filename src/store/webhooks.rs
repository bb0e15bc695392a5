//! Who is told of events: what the owner says of each target. How far each was told stands in the same row and is no
//! change of it; `deliveries` keeps that.

use std::fmt;

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::{NotSet, Set};
use sea_orm::sea_query::LockType;
use sea_orm::{ColumnTrait, DbBackend, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::entities::webhooks;
use super::{Access, Error, Write};

/// What signs deliveries: the bytes that the owner was shown once. Neither printed nor logged.
#[derive(Clone, PartialEq, Eq)]
pub struct SigningSecret(Vec<u8>);

impl SigningSecret {
    /// From its bytes.
    pub fn new(bytes: impl Into<Vec<u8>>) -> Self {
        SigningSecret(bytes.into())
    }

    /// Its bytes, to sign with.
    pub fn expose(&self) -> &[u8] {
        &self.0
    }
}

impl fmt::Debug for SigningSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SigningSecret(…)")
    }
}

/// A target and how telling it goes.
#[derive(Clone, PartialEq, Eq)]
pub struct WebhookRow {
    /// Identifier.
    pub id: Uuid,
    /// Address that is told.
    pub url: String,
    /// What it is, in the owner's words.
    pub description: Option<String>,
    /// Types of events that it is told of; none for all.
    pub event_types: Vec<String>,
    /// Whether it is told.
    pub enabled: bool,
    /// When it was disabled.
    pub disabled_at: Option<DateTime<Utc>>,
    /// Why.
    pub disabled_reason: Option<String>,
    /// What signs.
    pub secret: SigningSecret,
    /// What signed before the last rotation and signs too, until when.
    pub earlier: Option<(SigningSecret, DateTime<Utc>)>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// By whom.
    pub created_by: String,
    /// When it was last changed.
    pub updated_at: DateTime<Utc>,
    /// By whom.
    pub changed_by: String,
    /// Counts up with every change.
    pub version: i64,
    /// Position of the last event that it was told of, or need not be.
    pub position: i64,
    /// Attempts that failed one after the other.
    pub failures: i64,
    /// When the first of them was.
    pub failing_since: Option<DateTime<Utc>>,
    /// Until when nothing is sent to it.
    pub held_until: Option<DateTime<Utc>>,
}

// The address may hold a password.
impl fmt::Debug for WebhookRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("WebhookRow").field("id", &self.id).field("position", &self.position).finish_non_exhaustive()
    }
}

pub(super) fn row_of(model: webhooks::Model) -> WebhookRow {
    let earlier = match (model.earlier_secret, model.earlier_secret_until) {
        (Some(secret), Some(until)) => Some((SigningSecret(secret), until)),
        _ => None,
    };
    WebhookRow {
        id: model.id,
        url: model.url,
        description: model.description,
        event_types: model.event_types.split_whitespace().map(str::to_owned).collect(),
        enabled: model.enabled,
        disabled_at: model.disabled_at,
        disabled_reason: model.disabled_reason,
        secret: SigningSecret(model.secret),
        earlier,
        created_at: model.created_at,
        created_by: model.created_by,
        updated_at: model.updated_at,
        changed_by: model.changed_by,
        version: model.version,
        position: model.position,
        failures: model.failures,
        failing_since: model.failing_since,
        held_until: model.held_until,
    }
}

/// What the owner says of it; the rest is not set.
fn active(row: &WebhookRow) -> webhooks::ActiveModel {
    let (earlier_secret, earlier_secret_until) = match &row.earlier {
        Some((secret, until)) => (Some(secret.0.clone()), Some(*until)),
        None => (None, None),
    };
    webhooks::ActiveModel {
        id: Set(row.id),
        url: Set(row.url.clone()),
        description: Set(row.description.clone()),
        event_types: Set(row.event_types.join(" ")),
        enabled: Set(row.enabled),
        disabled_at: Set(row.disabled_at),
        disabled_reason: Set(row.disabled_reason.clone()),
        secret: Set(row.secret.0.clone()),
        earlier_secret: Set(earlier_secret),
        earlier_secret_until: Set(earlier_secret_until),
        created_at: Set(row.created_at),
        created_by: Set(row.created_by.clone()),
        updated_at: Set(row.updated_at),
        changed_by: Set(row.changed_by.clone()),
        version: Set(row.version),
        position: NotSet,
        failures: NotSet,
        failing_since: NotSet,
        held_until: NotSet,
        lease: NotSet,
        leased_until: NotSet,
    }
}

/// A target.
///
/// # Errors
/// When the database fails.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<WebhookRow>, Error> {
    Ok(webhooks::Entity::find_by_id(id).one(at.connection()).await?.map(row_of))
}

/// The same, held against every other change until this write ends.
///
/// # Errors
/// When the database fails, or another write holds it for longer than five seconds.
pub async fn hold(write: &Write, id: Uuid) -> Result<Option<WebhookRow>, Error> {
    let mut query = webhooks::Entity::find_by_id(id);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    Ok(query.one(&write.0).await?.map(row_of))
}

/// Targets, newest first, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails.
pub async fn list(at: &impl Access, after: Option<Uuid>, limit: u64) -> Result<Vec<WebhookRow>, Error> {
    let mut query = webhooks::Entity::find().order_by_desc(webhooks::Column::Id).limit(limit);
    if let Some(after) = after {
        query = query.filter(webhooks::Column::Id.lt(after));
    }
    Ok(query.all(at.connection()).await?.into_iter().map(row_of).collect())
}

/// How many targets there are.
///
/// # Errors
/// When the database fails.
pub async fn count(at: &impl Access) -> Result<u64, Error> {
    Ok(webhooks::Entity::find().count(at.connection()).await?)
}

/// Keeps a new target, which is told of what comes behind its position.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, row: &WebhookRow) -> Result<(), Error> {
    let new = webhooks::ActiveModel {
        position: Set(row.position),
        failures: Set(0),
        failing_since: Set(None),
        held_until: Set(None),
        lease: Set(None),
        leased_until: Set(None),
        ..active(row)
    };
    webhooks::Entity::insert(new).exec_without_returning(&write.0).await?;
    Ok(())
}

/// Writes what the owner says over what he said before, if the target is at the version before `row.version`. `false`
/// otherwise. With `anew` telling it begins as if nothing had failed.
///
/// # Errors
/// When the database fails.
pub async fn replace(write: &Write, row: &WebhookRow, anew: bool) -> Result<bool, Error> {
    let mut changed = active(row);
    if anew {
        changed.failures = Set(0);
        changed.failing_since = Set(None);
        changed.held_until = Set(None);
    }
    let changed = webhooks::Entity::update_many()
        .set(changed)
        .filter(webhooks::Column::Id.eq(row.id))
        .filter(webhooks::Column::Version.eq(row.version - 1))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Takes a target away, with all that was to be told and what was tried.
///
/// # Errors
/// When the database fails.
pub async fn delete(write: &Write, id: Uuid) -> Result<bool, Error> {
    Ok(webhooks::Entity::delete_by_id(id).exec(&write.0).await?.rows_affected > 0)
}
