//! Imports of the catalogue, and the rows of one that is being read.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Alias, Expr, ExprTrait, Query};
use sea_orm::{ColumnTrait, EntityTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect, Select};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::entities::{import_rows, imports};
use super::items::CHUNK;
use super::{Access, Error, Write};
use crate::calc::shop::item::Item;

/// Where an import is. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ImportState {
    /// Rows are being read.
    Reading,
    /// All rows were good and are in the catalogue.
    Applied,
    /// Some row was bad, or the file never came to its end: the catalogue is as it was.
    Refused,
    /// All rows were good, and the catalogue is as it was: it was only a trial.
    DryRun,
}

impl ImportState {
    const fn as_str(self) -> &'static str {
        match self {
            ImportState::Reading => "reading",
            ImportState::Applied => "applied",
            ImportState::Refused => "refused",
            ImportState::DryRun => "dry_run",
        }
    }
}

/// What is wrong with one row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct RowFault {
    /// Line of the file on which the row begins, counted from 1; the header is on line 1.
    pub line: u64,
    /// Column by its name in the header; absent when it is about the whole row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// What was met, what was expected, and what to do.
    pub message: String,
}

/// An import of items.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Import {
    /// Identifier.
    pub id: Uuid,
    /// Where it is.
    pub state: ImportState,
    /// Whether it is only a trial.
    pub dry_run: bool,
    /// Rows read so far, without the header.
    pub rows_read: u64,
    /// Rows with a fault.
    pub rows_bad: u64,
    /// What is wrong: the first thousand faults, in order of line.
    pub report: Vec<RowFault>,
    /// When it began.
    pub created_at: DateTime<Utc>,
    /// Name of the key that began it, or `command line`; absent for what was written before keys were.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub created_by: Option<String>,
    /// When it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finished_at: Option<DateTime<Utc>>,
}

/// One row of a file as it waits for the last one.
#[derive(Clone, Debug, PartialEq)]
pub struct StagedRow {
    /// Line of the file.
    pub line: u64,
    /// Its sku; rows with a fault have one too, where it could be read.
    pub sku: String,
    /// The item, when the row has no fault.
    pub item: Option<Item>,
}

fn broken(table: &'static str, row: impl ToString, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table, row: row.to_string(), column, reason: reason.to_string() }
}

fn count(value: u64, column: &'static str, id: Uuid) -> Result<i64, Error> {
    i64::try_from(value).map_err(|cause| broken("imports", id, column, cause))
}

fn row_of(import: &Import) -> Result<imports::ActiveModel, Error> {
    let id = import.id;
    let report = serde_json::to_string(&import.report).map_err(|cause| broken("imports", id, "report", cause))?;
    Ok(imports::ActiveModel {
        id: Set(id),
        state: Set(import.state.as_str().to_owned()),
        dry_run: Set(import.dry_run),
        rows_read: Set(count(import.rows_read, "rows_read", id)?),
        rows_bad: Set(count(import.rows_bad, "rows_bad", id)?),
        report: Set(report),
        created_at: Set(import.created_at),
        created_by: Set(import.created_by.clone()),
        finished_at: Set(import.finished_at),
    })
}

fn import_of(row: imports::Model) -> Result<Import, Error> {
    let id = row.id;
    let state = serde_json::from_value(serde_json::Value::String(row.state))
        .map_err(|cause| broken("imports", id, "state", cause))?;
    let whole = |value: i64, column| u64::try_from(value).map_err(|cause| broken("imports", id, column, cause));
    Ok(Import {
        id,
        state,
        dry_run: row.dry_run,
        rows_read: whole(row.rows_read, "rows_read")?,
        rows_bad: whole(row.rows_bad, "rows_bad")?,
        report: serde_json::from_str(&row.report).map_err(|cause| broken("imports", id, "report", cause))?,
        created_at: row.created_at,
        created_by: row.created_by,
        finished_at: row.finished_at,
    })
}

/// An import.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<Import>, Error> {
    imports::Entity::find_by_id(id).one(at.connection()).await?.map(import_of).transpose()
}

/// Keeps a new import.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, import: &Import) -> Result<(), Error> {
    imports::Entity::insert(row_of(import)?).exec_without_returning(&write.0).await?;
    Ok(())
}

/// Writes how far an import has come, or how it ended, if it is still being read. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn update(write: &Write, import: &Import) -> Result<bool, Error> {
    let changed = imports::Entity::update_many()
        .set(row_of(import)?)
        .filter(imports::Column::Id.eq(import.id))
        .filter(imports::Column::State.eq(ImportState::Reading.as_str()))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Imports that began before a time and are still being read.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn begun_before(at: &impl Access, time: DateTime<Utc>) -> Result<Vec<Import>, Error> {
    let rows = imports::Entity::find()
        .filter(imports::Column::State.eq(ImportState::Reading.as_str()))
        .filter(imports::Column::CreatedAt.lt(time))
        .all(at.connection())
        .await?;
    rows.into_iter().map(import_of).collect()
}

/// Lets rows wait for the last one of their file.
///
/// # Errors
/// When the database fails.
pub async fn stage(write: &Write, id: Uuid, rows: &[StagedRow]) -> Result<(), Error> {
    for chunk in rows.chunks(CHUNK) {
        let mut staged = Vec::with_capacity(chunk.len());
        for row in chunk {
            let body = row.item.as_ref().map(serde_json::to_string).transpose();
            staged.push(import_rows::ActiveModel {
                import_id: Set(id),
                line: Set(count(row.line, "line", id)?),
                sku: Set(row.sku.clone()),
                body: Set(body.map_err(|cause| broken("import_rows", row.line, "body", cause))?),
            });
        }
        import_rows::Entity::insert_many(staged).exec_without_returning(&write.0).await?;
    }
    Ok(())
}

/// Waiting rows with a good item, those behind a line, at most a thousand of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn staged(at: &impl Access, id: Uuid, after_line: u64) -> Result<Vec<StagedRow>, Error> {
    let rows = import_rows::Entity::find()
        .filter(import_rows::Column::ImportId.eq(id))
        .filter(import_rows::Column::Line.gt(count(after_line, "line", id)?))
        .filter(import_rows::Column::Body.is_not_null())
        .order_by_asc(import_rows::Column::Line)
        .limit(CHUNK as u64)
        .all(at.connection())
        .await?;
    rows.into_iter().map(staged_row).collect()
}

fn staged_row(row: import_rows::Model) -> Result<StagedRow, Error> {
    let line = u64::try_from(row.line).map_err(|cause| broken("import_rows", row.line, "line", cause))?;
    let item = row.body.as_deref().map(serde_json::from_str).transpose();
    Ok(StagedRow { line, sku: row.sku, item: item.map_err(|cause| broken("import_rows", line, "body", cause))? })
}

/// A waiting row whose sku stands further up in the file already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repeated {
    /// Line of the row.
    pub line: u64,
    /// Line on which the sku stands first.
    pub first: u64,
    /// The sku.
    pub sku: String,
}

/// The line on which the sku of a waiting row stands first.
fn first_line(id: Uuid) -> Expr {
    let (row, earlier) = (Alias::new("import_rows"), Alias::new("earlier"));
    let first = Query::select()
        .expr(Expr::col((earlier.clone(), import_rows::Column::Line)).min())
        .from_as(import_rows::Entity, earlier.clone())
        .and_where(Expr::col((earlier.clone(), import_rows::Column::ImportId)).eq(id))
        .and_where(Expr::col((earlier, import_rows::Column::Sku)).equals((row, import_rows::Column::Sku)))
        .take();
    Expr::from(first)
}

fn repeated_rows(id: Uuid) -> Select<import_rows::Entity> {
    import_rows::Entity::find()
        .filter(import_rows::Column::ImportId.eq(id))
        .filter(Expr::col((Alias::new("import_rows"), import_rows::Column::Line)).gt(first_line(id)))
}

/// Waiting rows whose sku stands further up in the file already, in order of line.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn repeated(at: &impl Access, id: Uuid, limit: u64) -> Result<Vec<Repeated>, Error> {
    let found: Vec<(i64, i64, String)> = repeated_rows(id)
        .select_only()
        .column(import_rows::Column::Line)
        .column_as(first_line(id), "first_line")
        .column(import_rows::Column::Sku)
        .order_by_asc(import_rows::Column::Line)
        .limit(limit)
        .into_tuple()
        .all(at.connection())
        .await?;
    let whole = |value: i64| u64::try_from(value).map_err(|cause| broken("import_rows", value, "line", cause));
    found.into_iter().map(|(line, first, sku)| Ok(Repeated { line: whole(line)?, first: whole(first)?, sku })).collect()
}

/// How many waiting rows there are whose only fault is that their sku stands further up already.
///
/// # Errors
/// When the database fails.
pub async fn repeated_otherwise_good(at: &impl Access, id: Uuid) -> Result<u64, Error> {
    Ok(repeated_rows(id).filter(import_rows::Column::Body.is_not_null()).count(at.connection()).await?)
}

/// Removes an import whose rows wait no longer.
///
/// # Errors
/// When the database fails.
pub async fn remove(write: &Write, id: Uuid) -> Result<(), Error> {
    imports::Entity::delete_by_id(id).exec(&write.0).await?;
    Ok(())
}

/// Removes the waiting rows of an import.
///
/// # Errors
/// When the database fails.
pub async fn clear(write: &Write, id: Uuid) -> Result<(), Error> {
    import_rows::Entity::delete_many().filter(import_rows::Column::ImportId.eq(id)).exec(&write.0).await?;
    Ok(())
}
