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
    let rows = events::Entity::find()
        .filter(events::Column::Position.gt(position))
        .order_by_asc(events::Column::Position)
        .limit(limit)
        .all(at.connection())
        .await?;
    let event = |row: events::Model| {
        let events::Model { position, id, kind, subject, at, payload } = row;
        Event { position, id, kind, subject, at, payload }
    };
    Ok(rows.into_iter().map(event).collect())
}
