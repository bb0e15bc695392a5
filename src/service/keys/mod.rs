//! Keys of those who use the service: make, list, rotate, revoke, and tell whose key a request came with.

mod cache;
mod secret;

use std::time::Instant;

use chrono::{DateTime, Duration, Utc};
use serde::{Deserialize, Serialize};
use subtle::Choice;
use utoipa::ToSchema;
use uuid::Uuid;

use super::access::{COMMAND_LINE, CUSTOMER_LINK, DELIVERY, Principal, Role};
use super::checks::{Checks, none};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page, stale};
use crate::store::keys::{KeyRow, SecretHash};
use crate::store::{self, Write};

pub use cache::Cache;
pub use secret::{NoRandomness, Secret};
pub(super) use secret::{hash_of_random, random_bytes};

const WORDS: &str = "key";
/// How often the use of a key is written down.
const USE_NOTED_EVERY: Duration = Duration::minutes(1);
/// Longest time for which the secret before a rotation stays valid, minutes: a week.
pub const OVERLAP_MIN_MAX: u32 = 7 * 24 * 60;
/// The same unless the request says otherwise: a day.
pub const OVERLAP_MIN_USUAL: u32 = 24 * 60;

/// A key that is to be made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct KeyRequest {
    /// Who or what will use it. What is written with the key is told by this name, so it is never given twice, not
    /// even after the key was revoked.
    #[schema(min_length = 1, max_length = 100, example = "Front desk, left till")]
    pub name: String,
    /// What it may be used for.
    pub role: Role,
    /// When it ends by itself; absent, it does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-01-31T23:59:59Z")]
    pub expires_at: Option<DateTime<Utc>>,
}

/// How a key is rotated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RotationRequest {
    /// Minutes for which the secret that was in force stays valid beside the new one; a day unless stated, 0 ends it
    /// at once.
    #[serde(default = "usual_overlap")]
    #[schema(minimum = 0, maximum = 10_080, default = 1_440)]
    pub overlap_min: u32,
}

fn usual_overlap() -> u32 {
    OVERLAP_MIN_USUAL
}

/// A key: everything but its secret.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Key {
    /// Identifier.
    pub id: Uuid,
    /// Who or what uses it.
    pub name: String,
    /// What it may be used for. Expect new values.
    pub role: Role,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`.
    pub created_by: String,
    /// When it was last made, rotated or revoked.
    pub updated_at: DateTime<Utc>,
    /// Name of the key that did so, or `command line`.
    pub changed_by: String,
    /// When it ends by itself; absent, it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<DateTime<Utc>>,
    /// Until when the secret before the last rotation is valid too; absent when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earlier_secret_until: Option<DateTime<Utc>>,
    /// When it was last used, to the minute; absent before its first use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_used_at: Option<DateTime<Utc>>,
    /// When it was revoked; absent while it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<DateTime<Utc>>,
}

impl Key {
    /// Whether it is taken at a time: neither revoked nor ended.
    pub fn is_valid(&self, now: DateTime<Utc>) -> bool {
        self.revoked_at.is_none() && self.expires_at.is_none_or(|end| now < end)
    }
}

fn key_of(row: KeyRow) -> Result<Stored<Key>, Error> {
    let role = row.role.parse().map_err(|cause: super::access::NotARole| store::Error::BrokenRow {
        table: "api_keys",
        row: row.id.to_string(),
        column: "role",
        reason: cause.to_string(),
    })?;
    let value = Key {
        id: row.id,
        name: row.name,
        role,
        created_at: row.created_at,
        created_by: row.created_by,
        updated_at: row.updated_at,
        changed_by: row.changed_by,
        expires_at: row.expires_at,
        earlier_secret_until: row.earlier.map(|(_, until)| until),
        last_used_at: row.last_used_at,
        revoked_at: row.revoked_at,
    };
    let changed_by = Some(value.changed_by.clone());
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by })
}

fn not_found(id: &str) -> Error {
    Error::NotFound { kind: WORDS, id: id.to_owned() }
}

fn valid(row: &KeyRow, now: DateTime<Utc>) -> bool {
    row.revoked_at.is_none() && row.expires_at.is_none_or(|end| now < end)
}

/// Whether a secret with this hash opens the key, in a time that does not depend on how much of it is right.
fn opens(row: &KeyRow, hash: &SecretHash, now: DateTime<Utc>) -> Choice {
    let (earlier, in_time) = match &row.earlier {
        Some((earlier, until)) => (*earlier, now < *until),
        None => (row.hash, false),
    };
    row.hash.same(hash) | (earlier.same(hash) & Choice::from(u8::from(in_time)))
}

impl Service {
    /// Whose secret this is. `None` for one that is unknown, wrong, revoked or has ended: which of these is not told.
    ///
    /// A key is taken from memory for a second at most, so that one that another instance revoked ends within that
    /// time; what this instance changes holds at once. That a key was used is written down once a minute, behind the
    /// request's back.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn authenticate(&self, secret: &str) -> Result<Option<Principal>, Error> {
        let Some((id, hash)) = secret::read(secret) else { return Ok(None) };
        let now = self.clock.now();
        let found = match self.keys.fresh(id) {
            Ok(row) => Some(row),
            Err(before) => {
                let read_at = Instant::now();
                let row = store::keys::read(&self.store, id).await?;
                if let Some(row) = &row {
                    self.keys.keep(before, read_at, row.clone());
                }
                row
            }
        };
        // An identifier that nobody has is compared too. It is no secret, but nothing is gained by telling.
        let nobody = SecretHash::new([0; 32]);
        let opened = match &found {
            Some(row) => opens(row, &hash, now),
            None => (nobody.same(&hash) | nobody.same(&hash)) & Choice::from(0),
        };
        let Some(row) = found.filter(|row| bool::from(opened) && valid(row, now)) else { return Ok(None) };
        if self.keys.note_use(&row, now, USE_NOTED_EVERY) {
            let (store, id) = (self.store.clone(), row.id);
            tokio::spawn(async move {
                if let Err(error) = store::keys::used(&store, id, now).await {
                    tracing::warn!(error = &error as &dyn std::error::Error, "the use of a key could not be noted");
                }
            });
        }
        let Stored { value, .. } = key_of(row)?;
        Ok(Some(Principal { key: value.id, name: value.name, role: value.role }))
    }

    /// Makes a key. Its secret is in the answer, and nowhere else.
    ///
    /// # Errors
    /// [`Error::Faults`] with all faults; [`Error::AlreadyThere`] for a name that any key has or had;
    /// [`Error::Randomness`]; [`Error::Store`].
    pub async fn create_key(&self, request: KeyRequest) -> Result<(Stored<Key>, Secret), Error> {
        Ok(self.create_key_once(request, Once::unclaimed()).await?.unclaimed())
    }

    /// The same, done once. A repeat is told that the secret was shown, and not the secret.
    ///
    /// # Errors
    /// As [`Service::create_key`]; [`Error::KeyReused`]; [`Error::ShownOnce`].
    pub async fn create_key_once(
        &self,
        request: KeyRequest,
        once: Once<'_, (Stored<Key>, Secret)>,
    ) -> Result<Made<(Stored<Key>, Secret)>, Error> {
        let KeyRequest { name, role, expires_at } = request;
        let now = self.clock.now();
        let mut checks = Checks::default();
        checks.text("/name", &name, 100);
        checks.must(name.trim() == name, "/name", || "the name begins or ends with a space: take it away".to_owned());
        checks.must(name != COMMAND_LINE, "/name", || {
            format!("'{COMMAND_LINE}' is what stands at changes made by command: choose another name")
        });
        checks.must(name != CUSTOMER_LINK, "/name", || {
            format!("'{CUSTOMER_LINK}' is what stands at what customers answer: choose another name")
        });
        checks.must(name != DELIVERY, "/name", || {
            format!("'{DELIVERY}' is what stands at webhooks that were disabled: choose another name")
        });
        checks.must(expires_at.is_none_or(|end| end > now), "/expires_at", || {
            "this time has passed: a key ends in the future, or leave the end out".to_owned()
        });
        none(checks.faults())?;
        let id = self.clock.new_id();
        let (secret, hash) = Secret::new(id)?;
        let by = self.principal().name.clone();
        let row = KeyRow {
            id,
            name,
            role: role.as_str().to_owned(),
            hash,
            earlier: None,
            created_at: now,
            created_by: by.clone(),
            updated_at: now,
            changed_by: by,
            expires_at: expires_at.map(|end| chrono::SubsecRound::trunc_subsecs(end, 6)),
            last_used_at: None,
            revoked_at: None,
            version: 1,
        };
        let made = (key_of(row.clone())?, secret);
        let write = self.store.write().await?;
        if let Some(answer) = once.claim(&write, &made, now).await? {
            return Ok(Made::Before(answer));
        }
        if !store::keys::insert(&write, &row).await? {
            return Err(Error::AlreadyThere { kind: WORDS, id: row.name });
        }
        write.commit().await?;
        self.keys.forget(id);
        Ok(Made::Now(made))
    }

    /// A key.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn key(&self, id: Uuid) -> Result<Stored<Key>, Error> {
        key_of(store::keys::read(&self.store, id).await?.ok_or_else(|| not_found(&id.to_string()))?)
    }

    /// A key by its name.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn key_by_name(&self, name: &str) -> Result<Stored<Key>, Error> {
        key_of(store::keys::by_name(&self.store, name).await?.ok_or_else(|| not_found(name))?)
    }

    /// Keys, newest first, those behind `after` (an identifier), at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Faults`] when `after` is no identifier; [`Error::Store`].
    pub async fn list_keys(&self, after: Option<&str>, limit: u32) -> Result<Page<Stored<Key>>, Error> {
        let mut checks = Checks::default();
        let id = after.and_then(|text| text.parse().ok());
        checks.must(after.is_none() || id.is_some(), "/after", || {
            "the list cannot go on from here: expected the identifier of a key".to_owned()
        });
        none(checks.faults())?;
        let rows = store::keys::list(&self.store, id, u64::from(limit) + 1).await?;
        let rows = rows.into_iter().map(key_of).collect::<Result<Vec<_>, _>>()?;
        Ok(page(rows, limit, |row| row.value.id.to_string()))
    }

    /// Gives a key a new secret. The one in force stays valid for the stated overlap; one from a rotation before that
    /// ends at once.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::NotAllowed`] when it is
    /// revoked or has ended; [`Error::Faults`]; [`Error::Randomness`]; [`Error::Store`].
    pub async fn rotate_key(
        &self,
        id: Uuid,
        request: RotationRequest,
        seen: impl Into<Seen>,
    ) -> Result<(Stored<Key>, Secret), Error> {
        let mut checks = Checks::default();
        checks.whole("/overlap_min", u64::from(request.overlap_min), 0, u64::from(OVERLAP_MIN_MAX));
        none(checks.faults())?;
        let now = self.clock.now();
        let overlap = Duration::minutes(i64::from(request.overlap_min));
        let write = self.store.write().await?;
        let before = store::keys::hold(&write, id).await?.ok_or_else(|| not_found(&id.to_string()))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        if !valid(&before, now) {
            let ended = if before.revoked_at.is_some() { "is revoked" } else { "has ended" };
            return Err(Error::NotAllowed(format!("the key '{}' {ended}: make a new one", before.name)));
        }
        let (secret, hash) = Secret::new(id)?;
        let row = KeyRow {
            hash,
            earlier: (!overlap.is_zero()).then(|| (before.hash, now + overlap)),
            updated_at: now,
            changed_by: self.principal().name.clone(),
            version: before.version + 1,
            ..before
        };
        Ok((self.keep_changed(write, row).await?, secret))
    }

    /// Ends a key: none of its secrets is taken any more. One that is revoked stays as it is.
    ///
    /// `last_owner_too` lets the last owner key that is valid go as well: only the command line may, since it alone
    /// can make the next one.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::NotAllowed`] for the last
    /// valid owner key; [`Error::Store`].
    pub async fn revoke_key(
        &self,
        id: Uuid,
        seen: impl Into<Seen>,
        last_owner_too: bool,
    ) -> Result<Stored<Key>, Error> {
        let now = self.clock.now();
        let write = self.store.write().await?;
        let owners = store::keys::hold_role(&write, Role::Owner.as_str()).await?;
        let before = store::keys::hold(&write, id).await?.ok_or_else(|| not_found(&id.to_string()))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        if before.revoked_at.is_some() {
            return key_of(before);
        }
        let other_owner = owners.iter().any(|owner| owner.id != id && valid(owner, now));
        if before.role == Role::Owner.as_str() && valid(&before, now) && !other_owner && !last_owner_too {
            return Err(Error::NotAllowed(format!(
                "'{}' is the last owner key, and without one nobody could make another: make the next one first, or \
                 revoke this one with `rigbill key revoke` on the machine itself",
                before.name
            )));
        }
        let row = KeyRow {
            earlier: None,
            revoked_at: Some(now),
            updated_at: now,
            changed_by: self.principal().name.clone(),
            version: before.version + 1,
            ..before
        };
        self.keep_changed(write, row).await
    }

    /// Keeps a key as it was changed, and forgets what it was before.
    async fn keep_changed(&self, write: Write, row: KeyRow) -> Result<Stored<Key>, Error> {
        if !store::keys::replace(&write, &row).await? {
            return Err(not_found(&row.id.to_string()));
        }
        write.commit().await?;
        self.keys.forget(row.id);
        key_of(row)
    }

    /// Whether any key is valid now.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn has_key(&self) -> Result<bool, Error> {
        let now = self.clock.now();
        let mut after = None;
        loop {
            let rows = store::keys::list(&self.store, after, 200).await?;
            if rows.iter().any(|row| valid(row, now)) {
                return Ok(true);
            }
            match rows.last() {
                Some(last) => after = Some(last.id),
                None => return Ok(false),
            }
        }
    }
}
