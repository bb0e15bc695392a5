//! Numbers that are given out one after the other, without a gap: they are taken in the write that uses them, and go
//! back with it when it fails. Whoever takes of the same counter meanwhile waits for the end of that write.

use sea_orm::ActiveValue::Set;
use sea_orm::EntityTrait;
use sea_orm::sea_query::{Expr, ExprTrait, OnConflict};

use super::entities::counters;
use super::{Error, Write};

/// The next number of a counter, from 1.
///
/// # Errors
/// When the database fails, or another write takes longer than five seconds.
pub async fn take(write: &Write, name: &str) -> Result<i64, Error> {
    let first = counters::ActiveModel { name: Set(name.to_owned()), value: Set(1) };
    let next = Expr::col((counters::Entity, counters::Column::Value)).add(1);
    counters::Entity::insert(first)
        .on_conflict(OnConflict::column(counters::Column::Name).value(counters::Column::Value, next).to_owned())
        .exec_without_returning(&write.0)
        .await?;
    let taken = counters::Entity::find_by_id(name).one(&write.0).await?;
    taken.map(|row| row.value).ok_or_else(|| Error::BrokenRow {
        table: "counters",
        row: name.to_owned(),
        column: "name",
        reason: "the row that was just written is missing".to_owned(),
    })
}
