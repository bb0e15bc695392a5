//! Counts of items by place and bin.

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockType};
use sea_orm::{ColumnTrait, Condition, DbBackend, EntityTrait, ExprTrait, QueryFilter, QueryOrder, QuerySelect};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::entities::stock;
use super::items::{CHUNK, from_word, word};
use super::scaled::{from_millionths, to_millionths};
use super::{Access, Error, Stored, Write, unkept};
use crate::calc::shelf::Spot;
use crate::calc::shop::item::SellingUnit;
use crate::calc::units::Name;

/// What lies of an item in a bin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StockCount {
    /// Identifier.
    pub id: Uuid,
    /// The item.
    #[schema(value_type = String, example = "W16-BRN-100")]
    pub sku: Name,
    /// Room, van or rack.
    #[schema(example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(example = "A-03")]
    pub bin: String,
    /// How many selling units lie there, what quotes have reserved among them.
    #[schema(value_type = String, example = "40")]
    pub quantity: Decimal,
    /// The unit that it was counted in: the item's selling unit. Expect new values.
    pub unit: SellingUnit,
    /// UN/ECE Recommendation 20 code of the unit.
    #[schema(example = "EA")]
    pub unit_code: &'static str,
    /// When it was first counted.
    pub created_at: DateTime<Utc>,
    /// Name of the key that first counted it, or `command line`.
    pub created_by: String,
}

/// Which counts a list shows; what is absent does not restrict it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StockFilter {
    /// The item.
    pub sku: Option<String>,
    /// The place.
    pub place: Option<String>,
    /// The bin.
    pub bin: Option<String>,
}

/// What a count sorts by.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct StockKey {
    /// The item.
    pub sku: String,
    /// Where it lies.
    pub at: Spot,
}

fn broken(id: Uuid, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table: "stock", row: id.to_string(), column, reason: reason.to_string() }
}

fn count_of(row: stock::Model) -> Result<Stored<StockCount>, Error> {
    let unit: SellingUnit = from_word(&row.unit, "stock", &row.id.to_string(), "unit")?;
    let value = StockCount {
        id: row.id,
        sku: row.sku.into(),
        place: row.place,
        bin: row.bin,
        quantity: from_millionths(row.quantity),
        unit,
        unit_code: unit.unece_code(),
        created_at: row.created_at,
        created_by: row.created_by,
    };
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by: Some(row.changed_by) })
}

fn row_of(count: &Stored<StockCount>) -> Result<stock::ActiveModel, Error> {
    let StockCount { id, sku, place, bin, quantity, unit, unit_code: _, created_at, created_by } = count.value.clone();
    let scaled =
        to_millionths(quantity).ok_or_else(|| broken(id, "quantity", "more than six decimal places, or too large"))?;
    Ok(stock::ActiveModel {
        unit: Set(word(&unit, sku.as_str(), "unit")?),
        id: Set(id),
        sku: Set(sku.to_string()),
        place: Set(place),
        bin: Set(bin),
        quantity: Set(scaled),
        version: Set(count.version),
        created_at: Set(created_at),
        created_by: Set(created_by),
        updated_at: Set(count.updated_at),
        changed_by: Set(count.changed_by.clone().unwrap_or_default()),
    })
}

/// A count.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<Stored<StockCount>>, Error> {
    stock::Entity::find_by_id(id).one(at.connection()).await?.map(count_of).transpose()
}

/// A count that no other write changes until this one ends.
///
/// # Errors
/// As [`read`], and when another write holds it for longer than five seconds.
pub async fn hold(write: &Write, id: Uuid) -> Result<Option<Stored<StockCount>>, Error> {
    let mut query = stock::Entity::find_by_id(id);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    query.one(&write.0).await?.map(count_of).transpose()
}

/// Counts in order of item, place and bin, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(
    at: &impl Access,
    filter: &StockFilter,
    after: Option<&StockKey>,
    limit: u64,
) -> Result<Vec<Stored<StockCount>>, Error> {
    use stock::Column::{Bin, Place, Sku};
    let StockFilter { sku, place, bin } = filter;
    if [sku, place, bin].into_iter().flatten().any(|text| unkept(text)) {
        return Ok(Vec::new());
    }
    let mut query = stock::Entity::find().order_by_asc(Sku).order_by_asc(Place).order_by_asc(Bin).limit(limit);
    for (column, wanted) in [(Sku, sku), (Place, place), (Bin, bin)] {
        if let Some(wanted) = wanted {
            query = query.filter(column.eq(wanted));
        }
    }
    if let Some(StockKey { sku, at: Spot { place, bin } }) = after {
        let in_bin = Condition::all().add(Place.eq(place)).add(Bin.gt(bin));
        let in_place = Condition::any().add(Place.gt(place)).add(in_bin);
        query = query.filter(Condition::any().add(Sku.gt(sku)).add(Condition::all().add(Sku.eq(sku)).add(in_place)));
    }
    query.all(at.connection()).await?.into_iter().map(count_of).collect()
}

/// All counts of some items, in order of item, place and bin.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn of_items(at: &impl Access, skus: &[&str]) -> Result<Vec<StockCount>, Error> {
    let mut found = Vec::new();
    for some in skus.chunks(CHUNK) {
        let query = stock::Entity::find()
            .filter(stock::Column::Sku.is_in(some.iter().copied()))
            .order_by_asc(stock::Column::Sku)
            .order_by_asc(stock::Column::Place)
            .order_by_asc(stock::Column::Bin);
        for row in query.all(at.connection()).await? {
            found.push(count_of(row)?.value);
        }
    }
    Ok(found)
}

/// Keeps a new count.
///
/// # Errors
/// When the database fails; [`Error::is_taken`] when the item is counted in that bin already.
pub async fn insert(write: &Write, count: &Stored<StockCount>) -> Result<(), Error> {
    stock::Entity::insert(row_of(count)?).exec_without_returning(&write.0).await?;
    Ok(())
}

/// Writes a count over the one at the version before. `false` when it is at another one.
///
/// # Errors
/// As [`insert`].
pub async fn replace(write: &Write, count: &Stored<StockCount>) -> Result<bool, Error> {
    let changed = stock::Entity::update_many()
        .set(row_of(count)?)
        .filter(stock::Column::Id.eq(count.value.id))
        .filter(stock::Column::Version.eq(count.version - 1))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Takes so many selling units out of a bin, if it has them. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn take(
    write: &Write,
    StockKey { sku, at }: &StockKey,
    quantity: Decimal,
    now: DateTime<Utc>,
    by: &str,
) -> Result<bool, Error> {
    use stock::Column::{Bin, ChangedBy, Place, Quantity, Sku, UpdatedAt, Version};
    let Some(taken) = to_millionths(quantity) else { return Ok(false) };
    let changed = stock::Entity::update_many()
        .col_expr(Quantity, Expr::col(Quantity).sub(taken))
        .col_expr(Version, Expr::col(Version).add(1))
        .col_expr(UpdatedAt, Expr::value(now))
        .col_expr(ChangedBy, Expr::value(by))
        .filter(Sku.eq(sku))
        .filter(Place.eq(&at.place))
        .filter(Bin.eq(&at.bin))
        .filter(Quantity.gte(taken))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Removes a count at a version. `false` when it is at another one.
///
/// # Errors
/// When the database fails.
pub async fn delete(write: &Write, id: Uuid, version: i64) -> Result<bool, Error> {
    let gone = stock::Entity::delete_many()
        .filter(stock::Column::Id.eq(id))
        .filter(stock::Column::Version.eq(version))
        .exec(&write.0)
        .await?;
    Ok(gone.rows_affected > 0)
}
