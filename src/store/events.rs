//! What happened, for those who are to hear of it: written with the change itself, so that neither is ever there without
//! the other.
//!
//! An event's position is taken from a counter by the last statements of the write. Whoever writes an event after it
//! waits there until that write has ended, so positions have no gaps, and no reader can see a later one before an
//! earlier one.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::entities::events;
use super::{Access, Error, Write, counters};

const COUNTER: &str = "events";

/// Something that is to be told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewEvent {
    /// Identifier: whoever meets it twice has met one event.
    pub id: Uuid,
    /// What happened: `quote.issued`.
    pub kind: &'static str,
    /// To what.
    pub subject: String,
    /// When.
    pub at: DateTime<Utc>,
    /// What there is to say, as JSON.
    pub payload: Vec<u8>,
}

/// Something that was told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// Its place among all events, from 1 and without a gap.
    pub position: i64,
    /// Identifier.
    pub id: Uuid,
    /// What happened.
    pub kind: String,
    /// To what.
    pub subject: String,
    /// When.
    pub at: DateTime<Utc>,
    /// What there is to say, as JSON.
    pub payload: Vec<u8>,
}

/// Tells of what a write did, in this order: the last that is done before the write is committed.
///
/// # Errors
/// When the database fails, or another write takes longer than five seconds.
pub async fn append(write: &Write, told: impl IntoIterator<Item = NewEvent>) -> Result<(), Error> {
    for NewEvent { id, kind, subject, at, payload } in told {
        let row = events::ActiveModel {
            position: Set(counters::take(write, COUNTER).await?),
            id: Set(id),
            kind: Set(kind.to_owned()),
            subject: Set(subject),
            at: Set(at),
            payload: Set(payload),
        };
        events::Entity::insert(row).exec_without_returning(&write.0).await?;
    }
    Ok(())
}

/// Events behind a position, in order, at most `limit` of them.
///
/// # Errors
/// When the database fails.
pub async fn behind(at: &impl Access, position: i64, limit: u64) -> Result<Vec<Event>, Error> {
    of_kinds_behind(at, &[], position, limit).await
}

/// The same of some types only; none stands for all.
///
/// # Errors
/// When the database fails.
pub async fn of_kinds_behind(
    at: &impl Access,
    kinds: &[String],
    position: i64,
    limit: u64,
) -> Result<Vec<Event>, Error> {
    let mut query = events::Entity::find()
        .filter(events::Column::Position.gt(position))
        .order_by_asc(events::Column::Position)
        .limit(limit);
    if !kinds.is_empty() {
        query = query.filter(events::Column::Kind.is_in(kinds.iter().map(String::as_str)));
    }
    Ok(query.all(at.connection()).await?.into_iter().map(event).collect())
}

/// Those at some positions, in order.
///
/// # Errors
/// When the database fails.
pub async fn at_positions(at: &impl Access, positions: &[i64]) -> Result<Vec<Event>, Error> {
    let query = events::Entity::find()
        .filter(events::Column::Position.is_in(positions.iter().copied()))
        .order_by_asc(events::Column::Position);
    Ok(query.all(at.connection()).await?.into_iter().map(event).collect())
}

/// One by its identifier. Looks through all of them: for what a person asks, not for a loop.
///
/// # Errors
/// When the database fails.
pub async fn by_id(at: &impl Access, id: Uuid) -> Result<Option<Event>, Error> {
    Ok(events::Entity::find().filter(events::Column::Id.eq(id)).one(at.connection()).await?.map(event))
}

/// Position of the last; 0 before the first.
///
/// # Errors
/// When the database fails.
pub async fn last_position(at: &impl Access) -> Result<i64, Error> {
    let last: Option<i64> = events::Entity::find()
        .select_only()
        .column(events::Column::Position)
        .order_by_desc(events::Column::Position)
        .limit(1)
        .into_tuple()
        .one(at.connection())
        .await?;
    Ok(last.unwrap_or(0))
}

fn event(row: events::Model) -> Event {
    let events::Model { position, id, kind, subject, at, payload } = row;
    Event { position, id, kind, subject, at, payload }
}
