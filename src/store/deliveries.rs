//! Telling targets of events: who of several instances does it, how far each target was told, what waits to be tried again,
//! and what was tried.
//!
//! An instance takes a lease on a target by an update that changes nothing while another's holds. Whatever it then
//! writes down holds only as long as the lease is its own: one that was taken for dead writes no position over that of its
//! successor.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockBehavior, LockType, OnConflict};
use sea_orm::{ColumnTrait, Condition, DbBackend, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::entities::{events, webhook_attempts, webhook_deliveries, webhooks};
use super::items::CHUNK;
use super::webhooks::{WebhookRow, row_of};
use super::{Access, Error, Store, Write};

/// Waits to be tried again.
const WAITING: &str = "waiting";
/// Was tried for as long as anything is.
const GIVEN_UP: &str = "given_up";

/// Which target, and by whose lease.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lease {
    /// The target.
    pub webhook: Uuid,
    /// Whose it is: new with every lease.
    pub holder: Uuid,
}

/// An event that a target could not be told of yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waiting {
    /// Its position.
    pub position: i64,
    /// Attempts that were made.
    pub attempts: i64,
    /// When the first was made, or when it was asked for anew.
    pub since: DateTime<Utc>,
    /// When it is tried next.
    pub next_at: DateTime<Utc>,
}

/// One try to tell a target of an event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AttemptRow {
    /// Identifier; later ones sort behind earlier ones.
    pub id: Uuid,
    /// The target.
    pub webhook: Uuid,
    /// Position of the event.
    pub position: i64,
    /// Its identifier.
    pub event: Uuid,
    /// Its type.
    pub kind: String,
    /// Which try it was, from 1.
    pub attempt: i64,
    /// When it began.
    pub at: DateTime<Utc>,
    /// How long it took.
    pub duration_ms: i64,
    /// What came of it.
    pub outcome: String,
    /// Status of the answer.
    pub status: Option<u16>,
    /// What went wrong, in words.
    pub error: Option<String>,
    /// When it is tried again.
    pub next_at: Option<DateTime<Utc>>,
}

/// What becomes of an event after a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Then {
    /// It was told.
    Done,
    /// It is tried again.
    Again(Waiting),
    /// It is tried no more.
    GivenUp(Waiting),
}

/// How telling a target goes, after a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// Position of the last event that it was told of or that waits.
    pub position: i64,
    /// Attempts that failed one after the other.
    pub failures: i64,
    /// When the first of them was.
    pub failing_since: Option<DateTime<Utc>>,
    /// Until when nothing is sent to it.
    pub held_until: Option<DateTime<Utc>>,
    /// Until when the lease holds.
    pub leased_until: DateTime<Utc>,
}

/// Targets that may be told now: enabled, not held back, and in nobody's hands.
///
/// # Errors
/// When the database fails.
pub async fn free(store: &Store, now: DateTime<Utc>) -> Result<Vec<WebhookRow>, Error> {
    let query = webhooks::Entity::find()
        .filter(webhooks::Column::Enabled.eq(true))
        .filter(nobodys(now))
        .filter(Condition::any().add(webhooks::Column::HeldUntil.is_null()).add(webhooks::Column::HeldUntil.lte(now)))
        .order_by_asc(webhooks::Column::Id);
    Ok(query.all(&store.reader).await?.into_iter().map(row_of).collect())
}

fn nobodys(now: DateTime<Utc>) -> Condition {
    Condition::any().add(webhooks::Column::LeasedUntil.is_null()).add(webhooks::Column::LeasedUntil.lte(now))
}

/// Takes a lease on a target, if nobody has one that still holds. Never waits for another instance that is at it.
///
/// # Errors
/// When the database fails.
pub async fn take(store: &Store, lease: Lease, now: DateTime<Utc>, until: DateTime<Utc>) -> Result<bool, Error> {
    let write = store.write().await?;
    if write.backend() == DbBackend::Postgres {
        let seen = webhooks::Entity::find_by_id(lease.webhook)
            .select_only()
            .column(webhooks::Column::Id)
            .lock_with_behavior(LockType::Update, LockBehavior::SkipLocked)
            .into_tuple::<Uuid>()
            .one(&write.0)
            .await?;
        if seen.is_none() {
            return Ok(false);
        }
    }
    let taken = webhooks::Entity::update_many()
        .col_expr(webhooks::Column::Lease, Expr::value(lease.holder))
        .col_expr(webhooks::Column::LeasedUntil, Expr::value(until))
        .filter(webhooks::Column::Id.eq(lease.webhook))
        .filter(webhooks::Column::Enabled.eq(true))
        .filter(nobodys(now))
        .exec(&write.0)
        .await?;
    write.commit().await?;
    Ok(taken.rows_affected > 0)
}

/// Gives a lease back, if it is still held.
///
/// # Errors
/// When the database fails.
pub async fn give_back(store: &Store, lease: Lease) -> Result<(), Error> {
    webhooks::Entity::update_many()
        .col_expr(webhooks::Column::Lease, Expr::value(None::<Uuid>))
        .col_expr(webhooks::Column::LeasedUntil, Expr::value(None::<DateTime<Utc>>))
        .filter(webhooks::Column::Id.eq(lease.webhook))
        .filter(webhooks::Column::Lease.eq(lease.holder))
        .exec(&store.writer)
        .await?;
    Ok(())
}

/// The target, held until this write ends, if the lease on it is still one's own. `None` otherwise.
///
/// # Errors
/// When the database fails, or another write holds it for longer than five seconds.
pub async fn hold(write: &Write, lease: Lease) -> Result<Option<WebhookRow>, Error> {
    let mut query = webhooks::Entity::find_by_id(lease.webhook).filter(webhooks::Column::Lease.eq(lease.holder));
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    Ok(query.one(&write.0).await?.map(row_of))
}

/// Passes over events that a target is not told of, if it is still where it was and in nobody's hands.
///
/// # Errors
/// When the database fails.
pub async fn pass_over(store: &Store, webhook: &WebhookRow, to: i64, now: DateTime<Utc>) -> Result<(), Error> {
    webhooks::Entity::update_many()
        .col_expr(webhooks::Column::Position, Expr::value(to))
        .filter(webhooks::Column::Id.eq(webhook.id))
        .filter(webhooks::Column::Position.eq(webhook.position))
        // Were the types changed meanwhile, some of these events would be lost to it.
        .filter(webhooks::Column::Version.eq(webhook.version))
        .filter(nobodys(now))
        .exec(&store.writer)
        .await?;
    Ok(())
}

/// Events that wait for a target and are due, in order, at most `limit` of them.
///
/// # Errors
/// When the database fails.
pub async fn due(at: &impl Access, webhook: Uuid, now: DateTime<Utc>, limit: u64) -> Result<Vec<Waiting>, Error> {
    use webhook_deliveries::Column::{NextAt, Position, State, Webhook};
    let query = webhook_deliveries::Entity::find()
        .filter(Webhook.eq(webhook))
        .filter(State.eq(WAITING))
        .filter(NextAt.lte(now))
        .order_by_asc(Position)
        .limit(limit);
    let waiting = |row: webhook_deliveries::Model| {
        let webhook_deliveries::Model { position, attempts, since, next_at, .. } = row;
        Waiting { position, attempts, since, next_at }
    };
    Ok(query.all(at.connection()).await?.into_iter().map(waiting).collect())
}

/// Targets for which something waits that is due.
///
/// # Errors
/// When the database fails.
pub async fn targets_due(at: &impl Access, now: DateTime<Utc>) -> Result<Vec<Uuid>, Error> {
    use webhook_deliveries::Column::{NextAt, State, Webhook};
    let query = webhook_deliveries::Entity::find()
        .select_only()
        .column(Webhook)
        .distinct()
        .filter(State.eq(WAITING))
        .filter(NextAt.lte(now));
    Ok(query.into_tuple().all(at.connection()).await?)
}

/// How many events wait for a target, and how many were given up.
///
/// # Errors
/// When the database fails.
pub async fn left(at: &impl Access, webhook: Uuid) -> Result<(u64, u64), Error> {
    use webhook_deliveries::Column::{State, Webhook};
    let rows: Vec<(String, i64)> = webhook_deliveries::Entity::find()
        .select_only()
        .column(State)
        .column_as(State.count(), "count")
        .filter(Webhook.eq(webhook))
        .group_by(State)
        .into_tuple()
        .all(at.connection())
        .await?;
    let of = |state: &str| {
        rows.iter().filter(|(met, _)| met == state).map(|(_, count)| u64::try_from(*count).unwrap_or(0)).sum()
    };
    Ok((of(WAITING), of(GIVEN_UP)))
}

/// Writes down a try: what became of the event, and how telling the target goes from now on. The target is held and the
/// lease one's own ([`hold`]).
///
/// # Errors
/// When the database fails.
pub async fn note(write: &Write, tried: &AttemptRow, then: Then, standing: Standing) -> Result<(), Error> {
    use webhook_deliveries::Column::{Attempts, NextAt, Position, Since, State, Webhook};
    let (state, waiting) = match then {
        Then::Done => {
            webhook_deliveries::Entity::delete_by_id((tried.webhook, tried.position)).exec(&write.0).await?;
            ("", None)
        }
        Then::Again(waiting) => (WAITING, Some(waiting)),
        Then::GivenUp(waiting) => (GIVEN_UP, Some(waiting)),
    };
    if let Some(Waiting { position, attempts, since, next_at }) = waiting {
        let row = webhook_deliveries::ActiveModel {
            webhook: Set(tried.webhook),
            position: Set(position),
            state: Set(state.to_owned()),
            attempts: Set(attempts),
            since: Set(since),
            next_at: Set(next_at),
        };
        let over = OnConflict::columns([Webhook, Position]).update_columns([State, Attempts, Since, NextAt]).to_owned();
        webhook_deliveries::Entity::insert(row).on_conflict(over).exec_without_returning(&write.0).await?;
    }
    webhook_attempts::Entity::insert(attempt_row(tried)).exec_without_returning(&write.0).await?;
    let Standing { position, failures, failing_since, held_until, leased_until } = standing;
    webhooks::Entity::update_many()
        .col_expr(webhooks::Column::Position, Expr::value(position))
        .col_expr(webhooks::Column::Failures, Expr::value(failures))
        .col_expr(webhooks::Column::FailingSince, Expr::value(failing_since))
        .col_expr(webhooks::Column::HeldUntil, Expr::value(held_until))
        .col_expr(webhooks::Column::LeasedUntil, Expr::value(leased_until))
        .filter(webhooks::Column::Id.eq(tried.webhook))
        .exec(&write.0)
        .await?;
    Ok(())
}

/// Has all that waits for a target tried at once, as if it had not been tried before.
///
/// # Errors
/// When the database fails.
pub async fn begin_anew(write: &Write, webhook: Uuid, now: DateTime<Utc>) -> Result<(), Error> {
    use webhook_deliveries::Column::{Attempts, NextAt, Since, State, Webhook};
    webhook_deliveries::Entity::update_many()
        .col_expr(Attempts, Expr::value(0i64))
        .col_expr(Since, Expr::value(now))
        .col_expr(NextAt, Expr::value(now))
        .filter(Webhook.eq(webhook))
        .filter(State.eq(WAITING))
        .exec(&write.0)
        .await?;
    Ok(())
}

/// Has all that waits for a target since a moment tried at once; how long it was tried already stays.
///
/// # Errors
/// When the database fails.
pub async fn hasten(
    write: &Write,
    webhook: Uuid,
    waiting_since: DateTime<Utc>,
    now: DateTime<Utc>,
) -> Result<(), Error> {
    use webhook_deliveries::Column::{NextAt, Since, State, Webhook};
    webhook_deliveries::Entity::update_many()
        .col_expr(NextAt, Expr::value(now))
        .filter(Webhook.eq(webhook))
        .filter(State.eq(WAITING))
        .filter(Since.gte(waiting_since))
        .filter(NextAt.gt(now))
        .exec(&write.0)
        .await?;
    Ok(())
}

/// Has events told once more.
///
/// # Errors
/// When the database fails.
pub async fn replay(write: &Write, webhook: Uuid, positions: &[i64], now: DateTime<Utc>) -> Result<(), Error> {
    use webhook_deliveries::Column::{Attempts, NextAt, Position, Since, State, Webhook};
    for some in positions.chunks(CHUNK) {
        let rows = some.iter().map(|position| webhook_deliveries::ActiveModel {
            webhook: Set(webhook),
            position: Set(*position),
            state: Set(WAITING.to_owned()),
            attempts: Set(0),
            since: Set(now),
            next_at: Set(now),
        });
        let over = OnConflict::columns([Webhook, Position]).update_columns([State, Attempts, Since, NextAt]).to_owned();
        webhook_deliveries::Entity::insert_many(rows).on_conflict(over).exec_without_returning(&write.0).await?;
    }
    Ok(())
}

/// Positions from one to another, both included, of events of some types (none for all), at most `limit` of them.
///
/// # Errors
/// When the database fails.
pub async fn positions(
    at: &impl Access,
    kinds: &[String],
    (from, to): (i64, i64),
    limit: u64,
) -> Result<Vec<i64>, Error> {
    let mut query = events::Entity::find()
        .select_only()
        .column(events::Column::Position)
        .filter(events::Column::Position.between(from, to))
        .order_by_asc(events::Column::Position)
        .limit(limit);
    if !kinds.is_empty() {
        query = query.filter(events::Column::Kind.is_in(kinds.iter().map(String::as_str)));
    }
    Ok(query.into_tuple().all(at.connection()).await?)
}

fn attempt_row(tried: &AttemptRow) -> webhook_attempts::ActiveModel {
    let AttemptRow { id, webhook, position, event, kind, attempt, at, duration_ms, outcome, status, error, next_at } =
        tried.clone();
    webhook_attempts::ActiveModel {
        id: Set(id),
        webhook: Set(webhook),
        position: Set(position),
        event: Set(event),
        kind: Set(kind),
        attempt: Set(attempt),
        at: Set(at),
        duration_ms: Set(duration_ms),
        outcome: Set(outcome),
        status: Set(status.map(i64::from)),
        error: Set(error),
        next_at: Set(next_at),
    }
}

/// What was tried for a target, newest first, those behind `after`, at most `limit` of them; of one event, if stated.
///
/// # Errors
/// When the database fails.
pub async fn attempts(
    at: &impl Access,
    webhook: Uuid,
    event: Option<Uuid>,
    after: Option<Uuid>,
    limit: u64,
) -> Result<Vec<AttemptRow>, Error> {
    use webhook_attempts::Column::{Event, Id, Webhook};
    let mut query = webhook_attempts::Entity::find().filter(Webhook.eq(webhook)).order_by_desc(Id).limit(limit);
    if let Some(event) = event {
        query = query.filter(Event.eq(event));
    }
    if let Some(after) = after {
        query = query.filter(Id.lt(after));
    }
    let tried = |row: webhook_attempts::Model| AttemptRow {
        id: row.id,
        webhook: row.webhook,
        position: row.position,
        event: row.event,
        kind: row.kind,
        attempt: row.attempt,
        at: row.at,
        duration_ms: row.duration_ms,
        outcome: row.outcome,
        status: row.status.and_then(|status| u16::try_from(status).ok()),
        error: row.error,
        next_at: row.next_at,
    };
    Ok(query.all(at.connection()).await?.into_iter().map(tried).collect())
}

/// Forgets what was tried before a time, and of each target all but the last `most` tries. How many those were.
///
/// # Errors
/// When the database fails.
pub async fn forget(write: &Write, before: DateTime<Utc>, most: u64) -> Result<u64, Error> {
    use webhook_attempts::Column::{At, Id, Webhook};
    let old = webhook_attempts::Entity::delete_many().filter(At.lt(before)).exec(&write.0).await?;
    let mut gone = old.rows_affected;
    let targets: Vec<Uuid> =
        webhooks::Entity::find().select_only().column(webhooks::Column::Id).into_tuple().all(&write.0).await?;
    for webhook in targets {
        let last: Option<Uuid> = webhook_attempts::Entity::find()
            .select_only()
            .column(Id)
            .filter(Webhook.eq(webhook))
            .order_by_desc(Id)
            .offset(most)
            .limit(1)
            .into_tuple()
            .one(&write.0)
            .await?;
        if let Some(last) = last {
            let more = webhook_attempts::Entity::delete_many().filter(Webhook.eq(webhook)).filter(Id.lte(last));
            gone += more.exec(&write.0).await?.rows_affected;
        }
    }
    Ok(gone)
}
