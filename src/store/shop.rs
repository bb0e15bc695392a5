//! The shop's documents (settings, packages, labour operations) and the version of all the shop's tables.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockType, OnConflict};
use sea_orm::{ColumnTrait, DbBackend, EntityTrait, ExprTrait, QueryFilter, QueryOrder, QuerySelect};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::entities::{counters, shop_documents};
use super::{Access, Error, Stored, Write, unkept};
use crate::calc::shop::labour::LabourOperation;
use crate::calc::shop::package::Package;
use crate::calc::shop::settings::{Settings, StockTerms, Terms};

const SHOP_VERSION: &str = "shop_version";

/// Something of the shop's that is read whole and changed whole.
pub trait ShopDocument: Serialize + DeserializeOwned + Send + Sync {
    /// Its kind in the table.
    const KIND: &'static str;
    /// Its kind as people say it.
    const WORDS: &'static str;

    /// Its code, unique among its kind.
    fn code(&self) -> &str;

    /// Reads a row's body, also one that an older program wrote.
    ///
    /// # Errors
    /// When it is none of this kind.
    fn from_body(body: &str) -> serde_json::Result<Self> {
        serde_json::from_str(body)
    }
}

impl ShopDocument for Settings {
    const KIND: &'static str = "settings";
    const WORDS: &'static str = "document";

    fn code(&self) -> &str {
        "settings"
    }

    /// What an older program did not know is as for a new shop, and freight is taxed like shop supplies. Only here: settings
    /// that a client sends must say it, since one that does not know of a limit or a price level would take it away.
    fn from_body(body: &str) -> serde_json::Result<Self> {
        let mut settings: serde_json::Value = serde_json::from_str(body)?;
        if let Some(parts) = settings.as_object_mut() {
            let tax_class = parts.get("shop_supplies_tax_class").cloned().unwrap_or_default();
            let parts_since = [
                ("terms", serde_json::to_value(Terms::default())?),
                ("price_levels", serde_json::Value::Array(Vec::new())),
                ("freight", serde_json::json!({"rule": {"by": "none"}, "tax_class": tax_class})),
                ("stock", serde_json::to_value(StockTerms::default())?),
            ];
            for (name, starting) in parts_since {
                parts.entry(name).or_insert(starting);
            }
        }
        serde_json::from_value(settings)
    }
}

impl ShopDocument for Package {
    const KIND: &'static str = "package";
    const WORDS: &'static str = "package";

    fn code(&self) -> &str {
        self.code.as_str()
    }
}

impl ShopDocument for LabourOperation {
    const KIND: &'static str = "labour_operation";
    const WORDS: &'static str = "labour operation";

    fn code(&self) -> &str {
        self.code.as_str()
    }
}

fn broken(row: &str, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table: "shop_documents", row: row.to_owned(), column, reason: reason.to_string() }
}

fn stored<T: ShopDocument>(row: shop_documents::Model) -> Result<Stored<T>, Error> {
    let value = T::from_body(&row.body).map_err(|cause| broken(&row.code, "body", cause))?;
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by: row.changed_by })
}

fn as_json(document: &impl ShopDocument) -> Result<String, Error> {
    serde_json::to_string(document).map_err(|cause| broken(document.code(), "body", cause))
}

fn counter_missing() -> Error {
    let reason = "the row is missing: bring the schema up to date".to_owned();
    Error::BrokenRow { table: "counters", row: SHOP_VERSION.to_owned(), column: "name", reason }
}

/// The version of the shop's tables: it counts up with every change of any of them.
///
/// # Errors
/// When the database fails.
pub async fn version(at: &impl Access) -> Result<i64, Error> {
    let row = counters::Entity::find_by_id(SHOP_VERSION).one(at.connection()).await?;
    Ok(row.ok_or_else(counter_missing)?.value)
}

/// Holds off every other change of the shop's tables until this write ends, and gives their version.
///
/// # Errors
/// When the database fails, or another change takes longer than five seconds.
pub async fn hold(write: &Write) -> Result<i64, Error> {
    let mut query = counters::Entity::find_by_id(SHOP_VERSION);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    Ok(query.one(&write.0).await?.ok_or_else(counter_missing)?.value)
}

/// Counts the version of the shop's tables up: the last statement of a write that [`hold`]s them, so that whoever
/// sees the new version sees everything that belongs to it.
///
/// # Errors
/// When the database fails.
pub async fn count_up(write: &Write) -> Result<(), Error> {
    counters::Entity::update_many()
        .col_expr(counters::Column::Value, Expr::col(counters::Column::Value).add(1))
        .filter(counters::Column::Name.eq(SHOP_VERSION))
        .exec(&write.0)
        .await?;
    Ok(())
}

/// The settings.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn settings(at: &impl Access) -> Result<Stored<Settings>, Error> {
    read(at, "settings").await?.ok_or_else(|| broken("settings", "code", "the row is missing"))
}

/// A document by its code.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read<T: ShopDocument>(at: &impl Access, code: &str) -> Result<Option<Stored<T>>, Error> {
    if unkept(code) {
        return Ok(None);
    }
    let key = (T::KIND.to_owned(), code.to_owned());
    shop_documents::Entity::find_by_id(key).one(at.connection()).await?.map(stored).transpose()
}

/// Documents of a kind in order of code, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list<T: ShopDocument>(
    at: &impl Access,
    after: Option<&str>,
    limit: Option<u64>,
) -> Result<Vec<Stored<T>>, Error> {
    if after.is_some_and(unkept) {
        return Ok(Vec::new());
    }
    let mut query = shop_documents::Entity::find()
        .filter(shop_documents::Column::Kind.eq(T::KIND))
        .order_by_asc(shop_documents::Column::Code)
        .limit(limit);
    if let Some(after) = after {
        query = query.filter(shop_documents::Column::Code.gt(after));
    }
    query.all(at.connection()).await?.into_iter().map(stored).collect()
}

/// All documents of a kind in order of code.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn all<T: ShopDocument>(at: &impl Access) -> Result<Vec<T>, Error> {
    Ok(list(at, None, None).await?.into_iter().map(|row| row.value).collect())
}

/// Adds a document at version 1, in the name of a key if there is one. `false` when its code is taken.
///
/// # Errors
/// When the database fails.
pub async fn insert(
    write: &Write,
    document: &impl ShopDocument,
    now: DateTime<Utc>,
    by: Option<&str>,
) -> Result<bool, Error> {
    let row = active(document, now, by)?;
    let key = [shop_documents::Column::Kind, shop_documents::Column::Code];
    let added = shop_documents::Entity::insert(row)
        .on_conflict(OnConflict::columns(key).do_nothing().to_owned())
        .exec_without_returning(&write.0)
        .await?;
    Ok(added > 0)
}

fn active<T: ShopDocument>(
    document: &T,
    now: DateTime<Utc>,
    by: Option<&str>,
) -> Result<shop_documents::ActiveModel, Error> {
    Ok(shop_documents::ActiveModel {
        kind: Set(T::KIND.to_owned()),
        code: Set(document.code().to_owned()),
        body: Set(as_json(document)?),
        version: Set(1),
        updated_at: Set(now),
        changed_by: Set(by.map(str::to_owned)),
    })
}

/// Replaces the document of that code, in the name of a key, if it is at version `expected`, and counts its version up. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn replace<T: ShopDocument>(
    write: &Write,
    document: &T,
    expected: i64,
    now: DateTime<Utc>,
    by: Option<&str>,
) -> Result<bool, Error> {
    let changed = shop_documents::Entity::update_many()
        .col_expr(shop_documents::Column::Body, Expr::value(as_json(document)?))
        .col_expr(shop_documents::Column::Version, Expr::value(expected + 1))
        .col_expr(shop_documents::Column::UpdatedAt, Expr::value(now))
        .col_expr(shop_documents::Column::ChangedBy, Expr::value(by.map(str::to_owned)))
        .filter(shop_documents::Column::Kind.eq(T::KIND))
        .filter(shop_documents::Column::Code.eq(document.code()))
        .filter(shop_documents::Column::Version.eq(expected))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Deletes the document of that code if it is at version `expected`. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn delete<T: ShopDocument>(write: &Write, code: &str, expected: i64) -> Result<bool, Error> {
    let gone = shop_documents::Entity::delete_many()
        .filter(shop_documents::Column::Kind.eq(T::KIND))
        .filter(shop_documents::Column::Code.eq(code))
        .filter(shop_documents::Column::Version.eq(expected))
        .exec(&write.0)
        .await?;
    Ok(gone.rows_affected > 0)
}

/// Gives a shop without settings its starting ones.
///
/// # Errors
/// When the database fails.
pub async fn seed_settings(write: &Write, now: DateTime<Utc>) -> Result<(), Error> {
    insert(write, &Settings::starting(), now, None).await?;
    Ok(())
}
