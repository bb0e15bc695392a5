//! What quotes hold of the shelf. Of counted things a guard beside the rows says how much all quotes together hold of a
//! bin: it is raised only while the bin has that much, in one conditional statement, so that nothing is held twice,
//! however many accept at once. A length that was left over is held by one row only.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, OnConflict};
use sea_orm::{ColumnTrait, EntityTrait, ExprTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::entities::{held, reservations};
use super::items::{CHUNK, from_word, word};
use super::scaled::{from_millionths, to_millionths};
use super::stock::StockKey;
use super::{Access, Error, Write, unkept};
use crate::calc::shelf::Spot;
use crate::calc::shop::item::SellingUnit;
use crate::calc::units::{Length, Name};

/// What a quote holds, or was given, of one bin, or one length that was left over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reservation {
    /// Identifier.
    pub id: Uuid,
    /// The quote.
    pub quote: Uuid,
    /// The item.
    pub sku: Name,
    /// Where it lies.
    pub at: Spot,
    /// Selling units.
    pub quantity: Decimal,
    /// The unit.
    pub unit: SellingUnit,
    /// Which length that was left over, and how long it is; none for what is counted.
    pub offcut: Option<(Name, Length)>,
    /// When.
    pub reserved_at: DateTime<Utc>,
    /// Name of the key that reserved it, or `command line`.
    pub reserved_by: String,
    /// When it was taken from the shelf.
    pub picked_at: Option<DateTime<Utc>>,
}

/// Which reservations a list shows; what is absent does not restrict it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReservationFilter {
    /// The quote.
    pub quote: Option<Uuid>,
    /// The item.
    pub sku: Option<String>,
    /// Only what was taken from the shelf, or only what lies there still.
    pub picked: Option<bool>,
}

fn reservation(row: reservations::Model) -> Result<Reservation, Error> {
    let unit = from_word(&row.unit, "reservations", &row.id.to_string(), "unit")?;
    let length = Length::from_nanometres(row.length_nm.unwrap_or_default());
    Ok(Reservation {
        id: row.id,
        quote: row.quote,
        sku: row.sku.into(),
        at: Spot { place: row.place, bin: row.bin },
        quantity: from_millionths(row.quantity),
        unit,
        offcut: row.offcut.map(|id| (id.into(), length)),
        reserved_at: row.reserved_at,
        reserved_by: row.reserved_by,
        picked_at: row.picked_at,
    })
}

/// What a quote holds or was given, in the order in which it was reserved.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn of_quote(at: &impl Access, quote: Uuid) -> Result<Vec<Reservation>, Error> {
    let query = reservations::Entity::find()
        .filter(reservations::Column::Quote.eq(quote))
        .order_by_asc(reservations::Column::Id);
    query.all(at.connection()).await?.into_iter().map(reservation).collect()
}

/// Reservations, newest first, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(
    at: &impl Access,
    filter: &ReservationFilter,
    after: Option<Uuid>,
    limit: u64,
) -> Result<Vec<Reservation>, Error> {
    use reservations::Column::{Id, PickedAt, Quote, Sku};
    let ReservationFilter { quote, sku, picked } = filter;
    if sku.as_deref().is_some_and(unkept) {
        return Ok(Vec::new());
    }
    let mut query = reservations::Entity::find().order_by_desc(Id).limit(limit);
    if let Some(after) = after {
        query = query.filter(Id.lt(after));
    }
    if let Some(quote) = quote {
        query = query.filter(Quote.eq(*quote));
    }
    if let Some(sku) = sku {
        query = query.filter(Sku.eq(sku));
    }
    query = match picked {
        Some(true) => query.filter(PickedAt.is_not_null()),
        Some(false) => query.filter(PickedAt.is_null()),
        None => query,
    };
    query.all(at.connection()).await?.into_iter().map(reservation).collect()
}

/// How much of some items all quotes together hold, by bin.
///
/// # Errors
/// When the database fails.
pub async fn held(at: &impl Access, skus: &[&str]) -> Result<BTreeMap<(String, Spot), Decimal>, Error> {
    let mut sums = BTreeMap::new();
    for some in skus.chunks(CHUNK) {
        let rows = held::Entity::find().filter(held::Column::Sku.is_in(some.iter().copied()));
        for held::Model { sku, place, bin, quantity } in rows.all(at.connection()).await? {
            sums.insert((sku, Spot { place, bin }), from_millionths(quantity));
        }
    }
    Ok(sums)
}

/// Which of some lengths that were left over are held or were used up.
///
/// # Errors
/// When the database fails.
pub async fn taken_offcuts(at: &impl Access, ids: &[&str]) -> Result<Vec<String>, Error> {
    let mut taken = Vec::new();
    for some in ids.chunks(CHUNK) {
        let rows = reservations::Entity::find()
            .select_only()
            .column(reservations::Column::Offcut)
            .filter(reservations::Column::Offcut.is_in(some.iter().copied()))
            .into_tuple::<String>()
            .all(at.connection())
            .await?;
        taken.extend(rows);
    }
    Ok(taken)
}

/// Raises how much quotes hold of a bin, if it then is no more than lies there. `false` otherwise. Waits for another
/// write that does the same.
///
/// # Errors
/// When the database fails, or another write takes longer than five seconds.
pub async fn raise(write: &Write, key: &StockKey, by: Decimal, on_hand: Decimal) -> Result<bool, Error> {
    use held::Column::{Bin, Place, Quantity, Sku};
    let (Some(by), Some(on_hand)) = (to_millionths(by), to_millionths(on_hand)) else { return Ok(false) };
    if by > on_hand {
        return Ok(false);
    }
    let row = held::ActiveModel {
        sku: Set(key.sku.clone()),
        place: Set(key.at.place.clone()),
        bin: Set(key.at.bin.clone()),
        quantity: Set(by),
    };
    let there = Expr::col((held::Entity, Quantity));
    let while_there = OnConflict::columns([Sku, Place, Bin])
        .value(Quantity, there.clone().add(by))
        .action_and_where(there.lte(on_hand - by))
        .to_owned();
    Ok(held::Entity::insert(row).on_conflict(while_there).exec_without_returning(&write.0).await? > 0)
}

/// Whether no more is held of a bin than was counted there, as both stand now.
///
/// # Errors
/// When the database fails.
pub async fn lies_there(at: &impl Access, key: &StockKey) -> Result<bool, Error> {
    let sku = key.sku.as_str();
    let held = held(at, &[sku]).await?.get(&(key.sku.clone(), key.at.clone())).copied().unwrap_or_default();
    let counts = super::stock::of_items(at, &[sku]).await?;
    let there = counts.iter().find(|count| count.place == key.at.place && count.bin == key.at.bin);
    Ok(there.is_some_and(|count| held <= count.quantity))
}

/// Lowers how much quotes hold of a bin.
///
/// # Errors
/// When the database fails, or another write takes longer than five seconds.
pub async fn lower(write: &Write, key: &StockKey, by: Decimal) -> Result<(), Error> {
    use held::Column::{Bin, Place, Quantity, Sku};
    let by = to_millionths(by).unwrap_or_default();
    held::Entity::update_many()
        .col_expr(Quantity, Expr::col(Quantity).sub(by))
        .filter(Sku.eq(&key.sku))
        .filter(Place.eq(&key.at.place))
        .filter(Bin.eq(&key.at.bin))
        .exec(&write.0)
        .await?;
    Ok(())
}

/// Keeps a reservation. `false` when it is of a length that another one holds.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, reserved: &Reservation) -> Result<bool, Error> {
    let Reservation { id, quote, sku, at, quantity, unit, offcut, reserved_at, reserved_by, picked_at } =
        reserved.clone();
    let scaled = to_millionths(quantity).ok_or_else(|| Error::BrokenRow {
        table: "reservations",
        row: id.to_string(),
        column: "quantity",
        reason: "more than six decimal places, or too large".to_owned(),
    })?;
    let row = reservations::ActiveModel {
        unit: Set(word(&unit, sku.as_str(), "unit")?),
        id: Set(id),
        quote: Set(quote),
        sku: Set(sku.to_string()),
        place: Set(at.place),
        bin: Set(at.bin),
        quantity: Set(scaled),
        length_nm: Set(offcut.as_ref().map(|(_, length)| length.nanometres())),
        offcut: Set(offcut.map(|(id, _)| id.to_string())),
        reserved_at: Set(reserved_at),
        reserved_by: Set(reserved_by),
        picked_at: Set(picked_at),
    };
    let once = OnConflict::column(reservations::Column::Offcut).do_nothing().to_owned();
    Ok(reservations::Entity::insert(row).on_conflict(once).exec_without_returning(&write.0).await? > 0)
}

/// Takes away what a quote holds and has not been given. How many rows that were.
///
/// # Errors
/// When the database fails.
pub async fn delete(write: &Write, quote: Uuid) -> Result<u64, Error> {
    let gone = reservations::Entity::delete_many()
        .filter(reservations::Column::Quote.eq(quote))
        .filter(reservations::Column::PickedAt.is_null())
        .exec(&write.0)
        .await?;
    Ok(gone.rows_affected)
}

/// Notes of reservations that what they hold was taken from the shelf.
///
/// # Errors
/// When the database fails.
pub async fn picked(write: &Write, ids: &[Uuid], now: DateTime<Utc>) -> Result<(), Error> {
    for some in ids.chunks(CHUNK) {
        reservations::Entity::update_many()
            .col_expr(reservations::Column::PickedAt, Expr::value(now))
            .filter(reservations::Column::Id.is_in(some.iter().copied()))
            .exec(&write.0)
            .await?;
    }
    Ok(())
}
