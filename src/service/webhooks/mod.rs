//! Who is told of events: make, list, change, rotate and delete targets, have events told once more, and look at what was
//! tried. `deliver` tells them, `schedule` says when.

mod deliver;
mod schedule;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chrono::{DateTime, Duration, Utc};
use secrecy::{ExposeSecret, SecretString};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::checks::{Checks, none};
use super::events::EventType;
use super::keys::{OVERLAP_MIN_MAX, random_bytes};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page, stale};
use crate::store::deliveries::AttemptRow;
use crate::store::webhooks::{SigningSecret, WebhookRow};
use crate::store::{self, Write};

pub use super::keys::RotationRequest;
pub use crate::outbound::webhooks::{Outcome, Tried};
pub use schedule::{FAILURES_OF_TARGET, TRIED_FOR};

const WORDS: &str = "webhook";
/// Most targets.
pub const TARGETS_MOST: u64 = 50;
/// Most events that are told once more by one request.
pub const REPLAY_MOST: u64 = 10_000;
/// Longest address, characters.
const URL_LENGTH_MAX: usize = 500;
/// How long tries are kept, and how many of each target.
const ATTEMPTS_KEPT_FOR: Duration = Duration::days(30);
const ATTEMPTS_KEPT_MOST: u64 = 10_000;

fn yes() -> bool {
    true
}

/// A target as the owner says it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WebhookEntry {
    /// Address that events are sent to: `https://…`, without a name, password or fragment. `http://` and addresses that are
    /// not on the internet are taken only where the service's settings list them (`webhook_networks`).
    #[schema(min_length = 1, max_length = 500, format = "uri", example = "https://stock.example/rigbill")]
    pub url: String,
    /// What it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200, example = "Inventory system")]
    pub description: Option<String>,
    /// Types of events that it is told of; none for all, also those of later versions.
    #[serde(default)]
    #[schema(max_items = 12, example = json!(["quote.accepted", "stock.reserved"]))]
    pub event_types: Vec<EventType>,
    /// Whether it is told. What happens while it is not waits for it. Enabling it has all that waits tried at once.
    #[serde(default = "yes")]
    pub enabled: bool,
}

/// Why a target is told no more. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DisabledReason {
    /// An owner said so.
    Owner,
    /// Nothing could be delivered for three days.
    Failing,
    /// It answered that it is gone (410).
    Gone,
}

impl DisabledReason {
    const ALL: [DisabledReason; 3] = [DisabledReason::Owner, DisabledReason::Failing, DisabledReason::Gone];

    /// As JSON and the table have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            DisabledReason::Owner => "owner",
            DisabledReason::Failing => "failing",
            DisabledReason::Gone => "gone",
        }
    }
}

/// A target: everything but its secret.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Webhook {
    /// Identifier.
    pub id: Uuid,
    /// Address that events are sent to.
    #[schema(format = "uri", example = "https://stock.example/rigbill")]
    pub url: String,
    /// What it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub description: Option<String>,
    /// Types of events that it is told of; none for all. Expect new values.
    pub event_types: Vec<EventType>,
    /// Whether it is told.
    pub enabled: bool,
    /// When it was disabled; absent while it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disabled_at: Option<DateTime<Utc>>,
    /// Why it was disabled; absent while it is not. Expect new values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disabled_reason: Option<DisabledReason>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`.
    pub created_by: String,
    /// When it was last changed, rotated or disabled.
    pub updated_at: DateTime<Utc>,
    /// Name of the key that did so, `command line`, or `webhook delivery`.
    pub changed_by: String,
    /// Until when the secret before the last rotation signs too; absent when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earlier_secret_until: Option<DateTime<Utc>>,
    /// Position of the last event that it was told of, that waits for it, or that it is not told of.
    pub position: i64,
    /// Since when nothing could be delivered; absent while the last try succeeded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failing_since: Option<DateTime<Utc>>,
    /// Until when it is left alone after failures; absent while it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held_until: Option<DateTime<Utc>>,
    /// Events up to that position that wait to be tried again.
    pub waiting: u64,
    /// Events that were tried for three days and given up while others arrived; they can be asked for anew.
    pub given_up: u64,
}

/// What signs: `whsec_` and 32 random bytes (base64), as Standard Webhooks has it. `Debug` does not show it.
#[derive(Clone)]
pub struct WebhookSecret(SecretString);

impl std::fmt::Debug for WebhookSecret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("WebhookSecret(…)")
    }
}

impl WebhookSecret {
    fn new() -> Result<(Self, SigningSecret), Error> {
        let random = random_bytes()?;
        let text = format!("whsec_{}", STANDARD.encode(random));
        Ok((WebhookSecret(text.into()), SigningSecret::new(random)))
    }

    /// The secret itself: to be shown once, and never logged.
    pub fn expose(&self) -> &str {
        self.0.expose_secret()
    }
}

/// Which events are told once more: one by its identifier, or those from one position to another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReplayRequest {
    /// One event; with it nothing else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub event: Option<Uuid>,
    /// Position of the first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 4_294_967_295i64, example = 40)]
    pub from: Option<u32>,
    /// Position of the last; absent, the last that the target was told of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 4_294_967_295i64, example = 44)]
    pub to: Option<u32>,
}

/// What is told once more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Replay {
    /// How many events.
    pub events: u64,
}

/// One try to tell a target of an event.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Attempt {
    /// Identifier of the try.
    pub id: Uuid,
    /// The event, which is also what is sent as `webhook-id`.
    pub event: Uuid,
    /// Its type. Expect new values.
    #[schema(example = "quote.accepted")]
    pub event_type: String,
    /// Its position.
    pub position: i64,
    /// Which try it was, from 1; a replay counts anew.
    pub attempt: i64,
    /// When it began.
    pub at: DateTime<Utc>,
    /// How long it took, milliseconds.
    pub duration_ms: i64,
    /// What came of it: `delivered`, `wrong_status`, `redirected`, `timed_out`, `unreachable`, `broke_off`,
    /// `address_refused`. Expect new values.
    #[schema(example = "delivered")]
    pub outcome: String,
    /// Status of the answer; absent when there was none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub status: Option<u16>,
    /// What went wrong; absent when nothing did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// When it is tried again; absent when it is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_at: Option<DateTime<Utc>>,
}

impl From<AttemptRow> for Attempt {
    fn from(row: AttemptRow) -> Self {
        let AttemptRow {
            id,
            webhook: _,
            position,
            event,
            kind,
            attempt,
            at,
            duration_ms,
            outcome,
            status,
            error,
            next_at,
        } = row;
        Attempt { id, event, event_type: kind, position, attempt, at, duration_ms, outcome, status, error, next_at }
    }
}

fn not_found(id: Uuid) -> Error {
    Error::NotFound { kind: WORDS, id: id.to_string() }
}

fn kinds(types: &[EventType]) -> Vec<String> {
    types.iter().map(|kind| kind.as_str().to_owned()).collect()
}

impl Service {
    async fn webhook_of(&self, row: WebhookRow) -> Result<Stored<Webhook>, Error> {
        let (waiting, given_up) = store::deliveries::left(&self.store, row.id).await?;
        Ok(told(row, waiting, given_up))
    }

    fn check_webhook(&self, entry: &WebhookEntry) -> Result<(), Error> {
        let WebhookEntry { url, description, event_types, enabled: _ } = entry;
        let mut checks = Checks::default();
        checks.text("/url", url, URL_LENGTH_MAX);
        if let Err(bad) = self.sender.check(url) {
            checks.must(false, "/url", || bad.to_string());
        }
        if let Some(description) = description {
            checks.text("/description", description, 200);
        }
        checks.once("/event_types", "", event_types.iter().map(|kind| kind.as_str()));
        none(checks.faults())
    }

    /// Makes a target, once, which is told of everything that happens from now on. Its secret is in the answer, and in no
    /// other.
    ///
    /// # Errors
    /// [`Error::Faults`] with all faults; [`Error::NotAllowed`] when there are as many as there may be;
    /// [`Error::KeyReused`]; [`Error::ShownOnce`]; [`Error::Randomness`]; [`Error::Store`].
    pub async fn create_webhook(
        &self,
        entry: WebhookEntry,
        once: Once<'_, (Stored<Webhook>, WebhookSecret)>,
    ) -> Result<Made<(Stored<Webhook>, WebhookSecret)>, Error> {
        self.check_webhook(&entry)?;
        let now = self.clock.now();
        let (shown, secret) = WebhookSecret::new()?;
        let WebhookEntry { url, description, event_types, enabled } = entry;
        let by = self.principal().name.clone();
        let row = WebhookRow {
            id: self.clock.new_id(),
            url,
            description,
            event_types: kinds(&event_types),
            enabled,
            disabled_at: (!enabled).then_some(now),
            disabled_reason: (!enabled).then(|| DisabledReason::Owner.as_str().to_owned()),
            secret,
            earlier: None,
            created_at: now,
            created_by: by.clone(),
            updated_at: now,
            changed_by: by,
            version: 1,
            position: store::events::last_position(&self.store).await?,
            failures: 0,
            failing_since: None,
            held_until: None,
        };
        let made = (told(row.clone(), 0, 0), shown);
        let write = self.store.write().await?;
        if let Some(answer) = once.claim(&write, &made, now).await? {
            return Ok(Made::Before(answer));
        }
        if store::webhooks::count(&write).await? >= TARGETS_MOST {
            return Err(Error::NotAllowed(format!(
                "there are {TARGETS_MOST} webhooks already: delete one that is not needed"
            )));
        }
        store::webhooks::insert(&write, &row).await?;
        write.commit().await?;
        Ok(Made::Now(made))
    }

    /// A target.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn webhook(&self, id: Uuid) -> Result<Stored<Webhook>, Error> {
        let row = store::webhooks::read(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        self.webhook_of(row).await
    }

    /// Targets, newest first, those behind `after` (an identifier), at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_webhooks(&self, after: Option<Uuid>, limit: u32) -> Result<Page<Stored<Webhook>>, Error> {
        let mut rows = Vec::new();
        for row in store::webhooks::list(&self.store, after, u64::from(limit) + 1).await? {
            rows.push(self.webhook_of(row).await?);
        }
        Ok(page(rows, limit, |row: &Stored<Webhook>| row.value.id.to_string()))
    }

    /// Changes a target. One that is enabled again, or has another address, is told at once of all that waits.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::Faults`];
    /// [`Error::Store`].
    pub async fn replace_webhook(
        &self,
        id: Uuid,
        entry: WebhookEntry,
        seen: impl Into<Seen>,
    ) -> Result<Stored<Webhook>, Error> {
        let now = self.clock.now();
        let write = self.store.write().await?;
        let before = held(&write, id, &seen.into()).await?;
        self.check_webhook(&entry)?;
        let WebhookEntry { url, description, event_types, enabled } = entry;
        let anew = (enabled && !before.enabled) || url != before.url;
        let (disabled_at, disabled_reason) = match (enabled, before.enabled) {
            (true, _) => (None, None),
            (false, true) => (Some(now), Some(DisabledReason::Owner.as_str().to_owned())),
            (false, false) => (before.disabled_at, before.disabled_reason.clone()),
        };
        let row = WebhookRow {
            url,
            description,
            event_types: kinds(&event_types),
            enabled,
            disabled_at,
            disabled_reason,
            updated_at: now,
            changed_by: self.principal().name.clone(),
            version: before.version + 1,
            ..before
        };
        store::webhooks::replace(&write, &row, anew).await?;
        if anew {
            store::deliveries::begin_anew(&write, id, now).await?;
        }
        write.commit().await?;
        self.webhook(id).await
    }

    /// Takes a target away, with all that was to be told and what was tried.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`]; [`Error::Store`].
    pub async fn delete_webhook(&self, id: Uuid, seen: impl Into<Seen>) -> Result<(), Error> {
        let write = self.store.write().await?;
        held(&write, id, &seen.into()).await?;
        store::webhooks::delete(&write, id).await?;
        Ok(write.commit().await?)
    }

    /// Gives a target a new secret. The one in force signs too for the stated overlap; one from a rotation before that ends
    /// at once.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`]; [`Error::Faults`]; [`Error::Randomness`]; [`Error::Store`].
    pub async fn rotate_webhook(
        &self,
        id: Uuid,
        request: RotationRequest,
        seen: impl Into<Seen>,
    ) -> Result<(Stored<Webhook>, WebhookSecret), Error> {
        let mut checks = Checks::default();
        checks.whole("/overlap_min", u64::from(request.overlap_min), 0, u64::from(OVERLAP_MIN_MAX));
        none(checks.faults())?;
        let now = self.clock.now();
        let overlap = Duration::minutes(i64::from(request.overlap_min));
        let (shown, secret) = WebhookSecret::new()?;
        let write = self.store.write().await?;
        let before = held(&write, id, &seen.into()).await?;
        let row = WebhookRow {
            earlier: (!overlap.is_zero()).then(|| (before.secret.clone(), now + overlap)),
            secret,
            updated_at: now,
            changed_by: self.principal().name.clone(),
            version: before.version + 1,
            ..before
        };
        store::webhooks::replace(&write, &row, false).await?;
        write.commit().await?;
        Ok((self.webhook_of(row).await?, shown))
    }

    /// Has a target told once more of events that it was told of, with the same identifiers. Those of types that it is not
    /// told of are left out.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Faults`] when the event is not there, or was not yet or is not told to it, and for
    /// more events than one request may ask for; [`Error::Store`].
    pub async fn replay(&self, id: Uuid, request: &ReplayRequest) -> Result<Replay, Error> {
        let ReplayRequest { event, from, to } = request;
        let mut checks = Checks::default();
        checks.must(event.is_some() || from.is_some(), "", || {
            "state the event, or the position that it begins from".to_owned()
        });
        checks.must(event.is_none() || (from.is_none() && to.is_none()), "/event", || {
            "with one event nothing else is stated: take the positions out, or the event".to_owned()
        });
        if let (Some(from), Some(to)) = (from, to) {
            checks.must(from <= to, "/to", || format!("the last, {to}, is before the first, {from}: turn them round"));
        }
        none(checks.faults())?;
        let target = store::webhooks::read(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        let positions = match event {
            Some(event) => vec![self.told_before(&target, *event).await?],
            None => {
                let last = to.map_or(target.position, |to| i64::from(to).min(target.position));
                let range = (from.map_or(1, i64::from), last);
                let found =
                    store::deliveries::positions(&self.store, &target.event_types, range, REPLAY_MOST + 1).await?;
                let mut checks = Checks::default();
                checks.must(found.len() as u64 <= REPLAY_MOST, "/from", || {
                    format!("these are more than {REPLAY_MOST} events: ask for them in parts")
                });
                none(checks.faults())?;
                found
            }
        };
        let write = self.store.write().await?;
        // It may have been deleted meanwhile.
        store::webhooks::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        store::deliveries::replay(&write, id, &positions, self.clock.now()).await?;
        write.commit().await?;
        Ok(Replay { events: positions.len() as u64 })
    }

    /// Position of an event that a target was told of, or that waits for it.
    async fn told_before(&self, target: &WebhookRow, event: Uuid) -> Result<i64, Error> {
        let found = store::events::by_id(&self.store, event).await?;
        let mut checks = Checks::default();
        checks.must(found.is_some(), "/event", || format!("there is no event '{event}'"));
        if let Some(found) = &found {
            let kind = &found.kind;
            checks.must(target.event_types.is_empty() || target.event_types.contains(kind), "/event", || {
                format!("this webhook is not told of '{kind}': add it to its types first")
            });
            checks.must(found.position <= target.position, "/event", || {
                "this event was not told yet and will be: nothing needs to be done".to_owned()
            });
        }
        none(checks.faults())?;
        Ok(found.map_or(0, |found| found.position))
    }

    /// What was tried for a target, newest first, those behind `after` (an identifier), at most `limit` of them; of one
    /// event, if stated.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn list_attempts(
        &self,
        id: Uuid,
        event: Option<Uuid>,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Page<Attempt>, Error> {
        store::webhooks::read(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        let rows = store::deliveries::attempts(&self.store, id, event, after, u64::from(limit) + 1).await?;
        let rows = rows.into_iter().map(Attempt::from).collect();
        Ok(page(rows, limit, |row: &Attempt| row.id.to_string()))
    }

    /// Forgets tries that are kept no longer. How many those were.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn forget_attempts(&self) -> Result<u64, Error> {
        let write = self.store.write().await?;
        let before = self.clock.now() - ATTEMPTS_KEPT_FOR;
        let gone = store::deliveries::forget(&write, before, ATTEMPTS_KEPT_MOST).await?;
        write.commit().await?;
        Ok(gone)
    }
}

async fn held(write: &Write, id: Uuid, seen: &Seen) -> Result<WebhookRow, Error> {
    let row = store::webhooks::hold(write, id).await?.ok_or_else(|| not_found(id))?;
    stale(WORDS, &id.to_string(), row.version, seen)?;
    Ok(row)
}

/// What is told of a target. Types and reasons of a later version, which this one does not know, are left out.
fn told(row: WebhookRow, waiting: u64, given_up: u64) -> Stored<Webhook> {
    let known = |text: &String| EventType::ALL.into_iter().find(|kind| kind.as_str() == text);
    let reason = |text: String| DisabledReason::ALL.into_iter().find(|reason| reason.as_str() == text);
    let value = Webhook {
        id: row.id,
        url: row.url,
        description: row.description,
        event_types: row.event_types.iter().filter_map(known).collect(),
        enabled: row.enabled,
        disabled_at: row.disabled_at,
        disabled_reason: row.disabled_reason.and_then(reason),
        created_at: row.created_at,
        created_by: row.created_by,
        updated_at: row.updated_at,
        changed_by: row.changed_by,
        earlier_secret_until: row.earlier.map(|(_, until)| until),
        position: row.position,
        failing_since: row.failing_since,
        held_until: row.held_until,
        waiting,
        given_up,
    };
    let changed_by = Some(value.changed_by.clone());
    Stored { version: row.version, updated_at: value.updated_at, changed_by, value }
}
