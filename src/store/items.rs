//! Items with their prices over time, and the history of every item.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, ExprTrait, LikeExpr, OnConflict};
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::entities::{item_history, items, prices};
use super::scaled::{from_millionths, to_millionths};
use super::{Access, Error, Stored, Write, unkept};
use crate::calc::shop::item::{Attributes, Item, Price};
use crate::calc::units::Name;

/// Rows in one statement: the widest table has 21 columns, and SQLite takes 32 766 values.
pub(super) const CHUNK: usize = 1000;

/// Which items a list shows; what is absent does not restrict it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ItemFilter {
    /// Kind of item as it is written in JSON (`wire`, `fuse`, …).
    pub kind: Option<String>,
    /// Price category.
    pub category: Option<String>,
    /// Only retired ones, or only those that are not.
    pub retired: Option<bool>,
    /// Text that the sku or the description holds, in any case.
    pub text: Option<String>,
}

fn broken(table: &'static str, row: &str, column: &'static str, reason: impl ToString) -> Error {
    Error::BrokenRow { table, row: row.to_owned(), column, reason: reason.to_string() }
}

/// The text of a value that JSON writes as a string (an enum of plain words).
pub(super) fn word(value: &impl Serialize, sku: &str, column: &'static str) -> Result<String, Error> {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(text)) => Ok(text),
        other => Err(broken("items", sku, column, format!("{other:?} is no plain word"))),
    }
}

pub(super) fn from_word<T: DeserializeOwned>(
    text: &str,
    table: &'static str,
    sku: &str,
    column: &'static str,
) -> Result<T, Error> {
    serde_json::from_value(serde_json::Value::String(text.to_owned()))
        .map_err(|cause| broken(table, sku, column, cause))
}

fn from_json<T: DeserializeOwned>(text: &str, sku: &str, column: &'static str) -> Result<T, Error> {
    serde_json::from_str(text).map_err(|cause| broken("items", sku, column, cause))
}

fn as_json(value: &impl Serialize, sku: &str, column: &'static str) -> Result<String, Error> {
    serde_json::to_string(value).map_err(|cause| broken("items", sku, column, cause))
}

/// Text in the one case that searches compare in. The databases' own lower-casing differs beyond ASCII.
pub(super) fn folded(text: &str) -> String {
    text.to_lowercase()
}

/// A pattern for texts that hold `text`, with its own wildcards taken literally.
pub(super) fn holding(text: &str) -> LikeExpr {
    let literal = folded(text).replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
    LikeExpr::new(format!("%{literal}%")).escape('\\')
}

fn row_of(
    item: &Item,
    (version, shop_version): (i64, i64),
    now: DateTime<Utc>,
    by: Option<&str>,
) -> Result<items::ActiveModel, Error> {
    let sku = item.sku.as_str();
    let scaled = to_millionths(item.buying_quantity)
        .ok_or_else(|| broken("items", sku, "buying_quantity", "more than six decimal places, or too large"))?;
    Ok(items::ActiveModel {
        sku: Set(sku.to_owned()),
        kind: Set(item.attributes.kind().to_owned()),
        category: Set(item.category.as_str().to_owned()),
        description: Set(item.description.clone()),
        search_text: Set(folded(&format!("{sku} {}", item.description))),
        attributes: Set(as_json(&item.attributes, sku, "attributes")?),
        selling_unit: Set(word(&item.selling_unit, sku, "selling_unit")?),
        buying_unit: Set(word(&item.buying_unit, sku, "buying_unit")?),
        buying_quantity: Set(scaled),
        tax_class: Set(item.tax_class.as_ref().map(|class| class.as_str().to_owned())),
        lead_time_days: Set(i64::from(item.lead_time_days)),
        special_order: Set(item.special_order),
        labour: Set(as_json(&item.labour, sku, "labour")?),
        supplier: Set(item.supplier.clone()),
        retired: Set(item.retired),
        version: Set(version),
        updated_at: Set(now),
        changed_by: Set(by.map(str::to_owned)),
        minimum_order: Set(i64::from(item.minimum_order)),
        order_multiple: Set(i64::from(item.order_multiple)),
        shop_version: Set(shop_version),
    })
}

fn price_rows(item: &Item) -> Result<Vec<prices::ActiveModel>, Error> {
    let sku = item.sku.as_str();
    let scaled = |value, column| {
        to_millionths(value).ok_or_else(|| broken("prices", sku, column, "more than six decimal places, or too large"))
    };
    item.prices
        .iter()
        .map(|price| {
            Ok(prices::ActiveModel {
                sku: Set(sku.to_owned()),
                kind: Set(word(&price.kind, sku, "kind")?),
                valid_from: Set(price.valid_from),
                minimum_quantity: Set(scaled(price.minimum_quantity, "minimum_quantity")?),
                amount: Set(scaled(price.amount, "amount")?),
            })
        })
        .collect()
}

fn price_of(row: prices::Model) -> Result<Price, Error> {
    Ok(Price {
        kind: from_word(&row.kind, "prices", &row.sku, "kind")?,
        valid_from: row.valid_from,
        minimum_quantity: from_millionths(row.minimum_quantity),
        amount: from_millionths(row.amount),
    })
}

fn item_of(row: items::Model, prices: Vec<Price>) -> Result<Stored<Item>, Error> {
    let sku = row.sku.as_str();
    let attributes: Attributes = from_json(&row.attributes, sku, "attributes")?;
    let lead_time_days =
        u16::try_from(row.lead_time_days).map_err(|cause| broken("items", sku, "lead_time_days", cause))?;
    let ordered = |number: i64, column| u32::try_from(number).map_err(|cause| broken("items", sku, column, cause));
    let value = Item {
        sku: sku.into(),
        minimum_order: ordered(row.minimum_order, "minimum_order")?,
        order_multiple: ordered(row.order_multiple, "order_multiple")?,
        category: row.category.as_str().into(),
        attributes,
        selling_unit: from_word(&row.selling_unit, "items", sku, "selling_unit")?,
        buying_unit: from_word(&row.buying_unit, "items", sku, "buying_unit")?,
        buying_quantity: from_millionths(row.buying_quantity),
        tax_class: row.tax_class.as_deref().map(Name::from),
        lead_time_days,
        special_order: row.special_order,
        labour: from_json(&row.labour, sku, "labour")?,
        prices,
        supplier: row.supplier.clone(),
        retired: row.retired,
        description: row.description.clone(),
    };
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by: row.changed_by })
}

/// Puts items and their price rows together; both in order of sku.
fn joined(rows: Vec<items::Model>, price_rows: Vec<prices::Model>) -> Result<Vec<Stored<Item>>, Error> {
    let mut by_sku: BTreeMap<String, Vec<Price>> = BTreeMap::new();
    for row in price_rows {
        by_sku.entry(row.sku.clone()).or_default().push(price_of(row)?);
    }
    let mut found = Vec::with_capacity(rows.len());
    for row in rows {
        let mut prices = by_sku.remove(&row.sku).unwrap_or_default();
        prices.sort_by_key(|price| (price.kind, price.valid_from, price.minimum_quantity));
        found.push(item_of(row, prices)?);
    }
    Ok(found)
}

/// An item by its sku.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn read(at: &impl Access, sku: &str) -> Result<Option<Stored<Item>>, Error> {
    Ok(read_many(at, &[sku]).await?.pop())
}

/// Those of some items that there are, in order of sku; at most a thousand at a time.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn read_many(at: &impl Access, skus: &[&str]) -> Result<Vec<Stored<Item>>, Error> {
    let skus: Vec<&str> = skus.iter().copied().filter(|sku| !unkept(sku)).collect();
    let found = items::Entity::find()
        .filter(items::Column::Sku.is_in(skus.iter().copied()))
        .order_by_asc(items::Column::Sku)
        .all(at.connection())
        .await?;
    if found.is_empty() {
        return Ok(Vec::new());
    }
    let priced =
        prices::Entity::find().filter(prices::Column::Sku.is_in(skus.iter().copied())).all(at.connection()).await?;
    joined(found, priced)
}

/// Items in order of sku, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(
    at: &impl Access,
    filter: &ItemFilter,
    after: Option<&str>,
    limit: u64,
) -> Result<Vec<Stored<Item>>, Error> {
    let texts = [after, filter.kind.as_deref(), filter.category.as_deref(), filter.text.as_deref()];
    if texts.into_iter().flatten().any(unkept) {
        return Ok(Vec::new());
    }
    let mut query = items::Entity::find().order_by_asc(items::Column::Sku).limit(limit);
    if let Some(after) = after {
        query = query.filter(items::Column::Sku.gt(after));
    }
    if let Some(kind) = &filter.kind {
        query = query.filter(items::Column::Kind.eq(kind));
    }
    if let Some(category) = &filter.category {
        query = query.filter(items::Column::Category.eq(category));
    }
    if let Some(retired) = filter.retired {
        query = query.filter(items::Column::Retired.eq(retired));
    }
    if let Some(text) = &filter.text {
        query = query.filter(items::Column::SearchText.like(holding(text)));
    }
    let rows = query.all(at.connection()).await?;
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let priced = prices::Entity::find()
        .filter(prices::Column::Sku.is_in(rows.iter().map(|row| row.sku.as_str())))
        .all(at.connection())
        .await?;
    joined(rows, priced)
}

/// The whole catalogue, in order of sku.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn all(at: &impl Access) -> Result<Vec<Stored<Item>>, Error> {
    let rows = items::Entity::find().order_by_asc(items::Column::Sku).all(at.connection()).await?;
    let priced = prices::Entity::find().all(at.connection()).await?;
    joined(rows, priced)
}

/// The items that were written after a version of the shop's tables, in order of sku; at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn changed_since(at: &impl Access, shop_version: i64, limit: u64) -> Result<Vec<Stored<Item>>, Error> {
    let rows = items::Entity::find()
        .filter(items::Column::ShopVersion.gt(shop_version))
        .order_by_asc(items::Column::Sku)
        .limit(limit)
        .all(at.connection())
        .await?;
    let mut priced = Vec::new();
    for some in rows.chunks(CHUNK) {
        let skus = some.iter().map(|row| row.sku.as_str());
        priced.append(&mut prices::Entity::find().filter(prices::Column::Sku.is_in(skus)).all(at.connection()).await?);
    }
    joined(rows, priced)
}

/// How many items there are, and the sum of their versions: every change of an item adds to it.
///
/// # Errors
/// When the database fails.
pub async fn tally(at: &impl Access) -> Result<(i64, i64), Error> {
    let sum = Expr::col(items::Column::Version).sum().cast_as("BIGINT");
    let found: Option<(i64, Option<i64>)> = items::Entity::find()
        .select_only()
        .column_as(Expr::col(items::Column::Version).count(), "items")
        .column_as(sum, "versions")
        .into_tuple()
        .one(at.connection())
        .await?;
    Ok(found.map_or((0, 0), |(items, versions)| (items, versions.unwrap_or(0))))
}

/// The pairs of price category and tax class that items have, each once.
///
/// # Errors
/// When the database fails.
pub async fn classes(at: &impl Access) -> Result<Vec<(String, Option<String>)>, Error> {
    let pairs = items::Entity::find()
        .select_only()
        .columns([items::Column::Category, items::Column::TaxClass])
        .distinct()
        .into_tuple()
        .all(at.connection())
        .await?;
    Ok(pairs)
}

/// Writes items at the versions given in the name of a key, over whatever stood there before, with a line of history
/// for each.
///
/// # Errors
/// When the database fails, or a figure has more places than are kept.
pub async fn put(write: &Write, items: &[(Item, i64)], now: DateTime<Utc>, by: Option<&str>) -> Result<(), Error> {
    // That which the shop's tables have when the write that holds them has counted up.
    let shop_version = super::shop::version(write).await? + 1;
    for chunk in items.chunks(CHUNK) {
        put_chunk(write, chunk, shop_version, now, by).await?;
    }
    Ok(())
}

async fn put_chunk(
    write: &Write,
    chunk: &[(Item, i64)],
    shop_version: i64,
    now: DateTime<Utc>,
    by: Option<&str>,
) -> Result<(), Error> {
    let row = |(item, version): &(Item, i64)| row_of(item, (*version, shop_version), now, by);
    let rows = chunk.iter().map(row).collect::<Result<Vec<_>, _>>()?;
    let everything_else = [
        items::Column::Kind,
        items::Column::Category,
        items::Column::Description,
        items::Column::SearchText,
        items::Column::Attributes,
        items::Column::SellingUnit,
        items::Column::BuyingUnit,
        items::Column::BuyingQuantity,
        items::Column::TaxClass,
        items::Column::LeadTimeDays,
        items::Column::SpecialOrder,
        items::Column::Labour,
        items::Column::Supplier,
        items::Column::Retired,
        items::Column::Version,
        items::Column::UpdatedAt,
        items::Column::ChangedBy,
        items::Column::MinimumOrder,
        items::Column::OrderMultiple,
        items::Column::ShopVersion,
    ];
    items::Entity::insert_many(rows)
        .on_conflict(OnConflict::column(items::Column::Sku).update_columns(everything_else).to_owned())
        .exec_without_returning(&write.0)
        .await?;
    let skus = chunk.iter().map(|(item, _)| item.sku.as_str());
    prices::Entity::delete_many().filter(prices::Column::Sku.is_in(skus)).exec(&write.0).await?;
    let mut priced = Vec::new();
    for (item, _) in chunk {
        priced.append(&mut price_rows(item)?);
    }
    for some in priced.chunks(CHUNK) {
        prices::Entity::insert_many(some.to_vec()).exec_without_returning(&write.0).await?;
    }
    let mut history = Vec::with_capacity(chunk.len());
    for (item, version) in chunk {
        let sku = item.sku.as_str();
        history.push(item_history::ActiveModel {
            sku: Set(sku.to_owned()),
            version: Set(*version),
            body: Set(as_json(item, sku, "body")?),
            at: Set(now),
            changed_by: Set(by.map(str::to_owned)),
        });
    }
    item_history::Entity::insert_many(history).exec_without_returning(&write.0).await?;
    Ok(())
}

/// An item as it stood at one of its versions.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn version(at: &impl Access, sku: &str, version: i64) -> Result<Option<Item>, Error> {
    let row = item_history::Entity::find_by_id((sku.to_owned(), version)).one(at.connection()).await?;
    row.map(|row| serde_json::from_str(&row.body).map_err(|cause| broken("item_history", sku, "body", cause)))
        .transpose()
}
