//! Keys of those who use the service. Of a secret only the hash is here.

use std::fmt;

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockType, OnConflict};
use sea_orm::{ColumnTrait, Condition, DbBackend, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use subtle::{Choice, ConstantTimeEq};
use uuid::Uuid;

use super::entities::api_keys;
use super::{Access, Error, Store, Write, unkept};

/// SHA-256 of a secret. It is compared in constant time, and no text shows it.
#[derive(Clone, Copy)]
pub struct SecretHash([u8; 32]);

impl SecretHash {
    /// From the 32 bytes of a SHA-256.
    pub fn new(bytes: [u8; 32]) -> Self {
        SecretHash(bytes)
    }

    /// Whether two hashes are the same, in a time that does not depend on where they differ.
    pub fn same(&self, other: &SecretHash) -> Choice {
        self.0.ct_eq(&other.0)
    }

    /// Its bytes, to be kept.
    pub(super) fn bytes(&self) -> [u8; 32] {
        self.0
    }
}

impl fmt::Debug for SecretHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SecretHash(…)")
    }
}

/// A key as it is kept.
#[derive(Clone, Debug)]
pub struct KeyRow {
    /// Identifier.
    pub id: Uuid,
    /// Who or what uses it; no two keys ever share a name.
    pub name: String,
    /// Its role, in the role's own word.
    pub role: String,
    /// Hash of its secret.
    pub hash: SecretHash,
    /// Hash of the secret before the last rotation, and when that one ends.
    pub earlier: Option<(SecretHash, DateTime<Utc>)>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Name of the key that made it.
    pub created_by: String,
    /// When it was last made, rotated or revoked.
    pub updated_at: DateTime<Utc>,
    /// Name of the key that did so.
    pub changed_by: String,
    /// When it ends by itself; never, when absent.
    pub expires_at: Option<DateTime<Utc>>,
    /// When it was last used, to the minute.
    pub last_used_at: Option<DateTime<Utc>>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
    /// Counts up with every rotation and revocation; 1 when made.
    pub version: i64,
}

fn broken(id: Uuid, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table: "api_keys", row: id.to_string(), column, reason: reason.to_string() }
}

fn hash_of(bytes: &[u8], id: Uuid, column: &'static str) -> Result<SecretHash, Error> {
    let bytes = bytes.try_into().map_err(|_| broken(id, column, format!("{} bytes and not 32", bytes.len())))?;
    Ok(SecretHash(bytes))
}

fn row_of(model: api_keys::Model) -> Result<KeyRow, Error> {
    let id = model.id;
    let earlier = match (&model.earlier_hash, model.earlier_until) {
        (Some(hash), Some(until)) => Some((hash_of(hash, id, "earlier_hash")?, until)),
        _ => None,
    };
    Ok(KeyRow {
        id,
        hash: hash_of(&model.hash, id, "hash")?,
        earlier,
        name: model.name,
        role: model.role,
        created_at: model.created_at,
        created_by: model.created_by,
        updated_at: model.updated_at,
        changed_by: model.changed_by,
        expires_at: model.expires_at,
        last_used_at: model.last_used_at,
        revoked_at: model.revoked_at,
        version: model.version,
    })
}

fn active(row: &KeyRow) -> api_keys::ActiveModel {
    let KeyRow {
        id,
        name,
        role,
        hash,
        earlier,
        created_at,
        created_by,
        updated_at,
        changed_by,
        expires_at,
        last_used_at,
        revoked_at,
        version,
    } = row.clone();
    api_keys::ActiveModel {
        id: Set(id),
        name: Set(name),
        role: Set(role),
        hash: Set(hash.0.to_vec()),
        earlier_hash: Set(earlier.map(|(hash, _)| hash.0.to_vec())),
        earlier_until: Set(earlier.map(|(_, until)| until)),
        created_at: Set(created_at),
        created_by: Set(created_by),
        updated_at: Set(updated_at),
        changed_by: Set(changed_by),
        expires_at: Set(expires_at),
        last_used_at: Set(last_used_at),
        revoked_at: Set(revoked_at),
        version: Set(version),
    }
}

/// A key.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<KeyRow>, Error> {
    api_keys::Entity::find_by_id(id).one(at.connection()).await?.map(row_of).transpose()
}

/// A key by its name.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn by_name(at: &impl Access, name: &str) -> Result<Option<KeyRow>, Error> {
    if unkept(name) {
        return Ok(None);
    }
    let query = api_keys::Entity::find().filter(api_keys::Column::Name.eq(name));
    query.one(at.connection()).await?.map(row_of).transpose()
}

/// Keys, newest first, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(at: &impl Access, after: Option<Uuid>, limit: u64) -> Result<Vec<KeyRow>, Error> {
    let mut query = api_keys::Entity::find().order_by_desc(api_keys::Column::Id).limit(limit);
    if let Some(after) = after {
        query = query.filter(api_keys::Column::Id.lt(after));
    }
    query.all(at.connection()).await?.into_iter().map(row_of).collect()
}

/// A key, held against every other change until this write ends.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn hold(write: &Write, id: Uuid) -> Result<Option<KeyRow>, Error> {
    let mut query = api_keys::Entity::find_by_id(id);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    query.one(&write.0).await?.map(row_of).transpose()
}

/// Keys of a role that are not revoked, held against every other change until this write ends.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn hold_role(write: &Write, role: &str) -> Result<Vec<KeyRow>, Error> {
    let mut query = api_keys::Entity::find()
        .filter(api_keys::Column::Role.eq(role))
        .filter(api_keys::Column::RevokedAt.is_null())
        .order_by_asc(api_keys::Column::Id);
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    query.all(&write.0).await?.into_iter().map(row_of).collect()
}

/// Keeps a new key. `false` when its name is taken.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, row: &KeyRow) -> Result<bool, Error> {
    let added = api_keys::Entity::insert(active(row))
        .on_conflict(OnConflict::column(api_keys::Column::Name).do_nothing().to_owned())
        .exec_without_returning(&write.0)
        .await?;
    Ok(added > 0)
}

/// Replaces a key if it is at the version before `row.version`; when it was last used stays as it is. `false`
/// otherwise.
///
/// # Errors
/// When the database fails.
pub async fn replace(write: &Write, row: &KeyRow) -> Result<bool, Error> {
    let changed = api_keys::ActiveModel { last_used_at: sea_orm::ActiveValue::NotSet, ..active(row) };
    let changed = api_keys::Entity::update_many()
        .set(changed)
        .filter(api_keys::Column::Id.eq(row.id))
        .filter(api_keys::Column::Version.eq(row.version - 1))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Notes that a key was used, unless a later use is noted already. It is no change of the key: its version stays.
///
/// # Errors
/// When the database fails.
pub async fn used(store: &Store, id: Uuid, at: DateTime<Utc>) -> Result<(), Error> {
    let before = Condition::any().add(api_keys::Column::LastUsedAt.is_null()).add(api_keys::Column::LastUsedAt.lt(at));
    api_keys::Entity::update_many()
        .col_expr(api_keys::Column::LastUsedAt, Expr::value(at))
        .filter(api_keys::Column::Id.eq(id))
        .filter(before)
        .exec(&store.writer)
        .await?;
    Ok(())
}
