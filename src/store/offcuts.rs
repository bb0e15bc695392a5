//! Lengths that were left over. Nothing of them is ever deleted: what was used or thrown away says so.

use chrono::{DateTime, Utc};
use sea_orm::ActiveValue::Set;
use sea_orm::sea_query::{Expr, LockType};
use sea_orm::{ColumnTrait, DbBackend, EntityTrait, ExprTrait, QueryFilter, QueryOrder, QuerySelect};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::entities::offcuts;
use super::items::{CHUNK, from_word, word};
use super::{Access, Error, Stored, Write, unkept};
use crate::calc::units::{Length, LengthUnit, Name};

/// What became of a length that was left over. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OffcutState {
    /// It lies where it says.
    OnShelf,
    /// It went into a boat.
    Used,
    /// It was thrown away, or is not there.
    Removed,
}

impl OffcutState {
    /// All of them.
    pub const ALL: [OffcutState; 3] = [OffcutState::OnShelf, OffcutState::Used, OffcutState::Removed];

    /// As JSON and the table have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            OffcutState::OnShelf => "on_shelf",
            OffcutState::Used => "used",
            OffcutState::Removed => "removed",
        }
    }
}

/// A length that was left over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OffcutRow {
    /// Identifier.
    pub id: Uuid,
    /// The item that it is of.
    pub sku: Name,
    /// How long it is.
    pub length: Length,
    /// The unit that it was measured in.
    pub unit: LengthUnit,
    /// Room, van or rack.
    pub place: String,
    /// Bin, drawer or peg there.
    pub bin: String,
    /// What became of it.
    pub state: OffcutState,
    /// What else there is to say of it.
    pub remark: Option<String>,
    /// The quote that holds it.
    pub reserved_for: Option<Uuid>,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
    /// Name of the key that recorded it, or `command line`.
    pub created_by: String,
}

/// Which lengths a list shows; what is absent does not restrict it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OffcutFilter {
    /// The item.
    pub sku: Option<String>,
    /// The place.
    pub place: Option<String>,
    /// What became of it.
    pub state: Option<OffcutState>,
}

fn offcut_of(row: offcuts::Model) -> Result<Stored<OffcutRow>, Error> {
    let id = row.id.to_string();
    let value = OffcutRow {
        id: row.id,
        unit: from_word(&row.unit, "offcuts", &id, "unit")?,
        state: from_word(&row.state, "offcuts", &id, "state")?,
        sku: row.sku.into(),
        length: Length::from_nanometres(row.length_nm),
        place: row.place,
        bin: row.bin,
        remark: row.remark,
        reserved_for: row.reserved_for,
        created_at: row.created_at,
        created_by: row.created_by,
    };
    Ok(Stored { value, version: row.version, updated_at: row.updated_at, changed_by: Some(row.changed_by) })
}

fn row_of(offcut: &Stored<OffcutRow>) -> Result<offcuts::ActiveModel, Error> {
    let OffcutRow { id, sku, length, unit, place, bin, state, remark, reserved_for, created_at, created_by } =
        offcut.value.clone();
    Ok(offcuts::ActiveModel {
        unit: Set(word(&unit, sku.as_str(), "unit")?),
        id: Set(id),
        sku: Set(sku.to_string()),
        place: Set(place),
        bin: Set(bin),
        length_nm: Set(length.nanometres()),
        state: Set(state.as_str().to_owned()),
        remark: Set(remark),
        reserved_for: Set(reserved_for),
        version: Set(offcut.version),
        created_at: Set(created_at),
        created_by: Set(created_by),
        updated_at: Set(offcut.updated_at),
        changed_by: Set(offcut.changed_by.clone().unwrap_or_default()),
    })
}

/// A length that was left over.
///
/// # Errors
/// When the database fails or the row is broken.
pub async fn read(at: &impl Access, id: Uuid) -> Result<Option<Stored<OffcutRow>>, Error> {
    offcuts::Entity::find_by_id(id).one(at.connection()).await?.map(offcut_of).transpose()
}

/// The same, which no other write changes until this one ends.
///
/// # Errors
/// As [`read`], and when another write holds it for longer than five seconds.
pub async fn hold(write: &Write, id: Uuid) -> Result<Option<Stored<OffcutRow>>, Error> {
    let mut query = offcuts::Entity::find_by_id(id);
    // On SQLite the write holds the whole file already.
    if write.backend() == DbBackend::Postgres {
        query = query.lock(LockType::Update);
    }
    query.one(&write.0).await?.map(offcut_of).transpose()
}

/// Lengths that were left over, newest first, those behind `after`, at most `limit` of them.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn list(
    at: &impl Access,
    filter: &OffcutFilter,
    after: Option<Uuid>,
    limit: u64,
) -> Result<Vec<Stored<OffcutRow>>, Error> {
    let OffcutFilter { sku, place, state } = filter;
    if [sku, place].into_iter().flatten().any(|text| unkept(text)) {
        return Ok(Vec::new());
    }
    let mut query = offcuts::Entity::find().order_by_desc(offcuts::Column::Id).limit(limit);
    if let Some(after) = after {
        query = query.filter(offcuts::Column::Id.lt(after));
    }
    for (column, wanted) in [(offcuts::Column::Sku, sku), (offcuts::Column::Place, place)] {
        if let Some(wanted) = wanted {
            query = query.filter(column.eq(wanted));
        }
    }
    if let Some(state) = state {
        query = query.filter(offcuts::Column::State.eq(state.as_str()));
    }
    query.all(at.connection()).await?.into_iter().map(offcut_of).collect()
}

/// Those of some items that lie on the shelf and that no quote holds, in order of identifier.
///
/// # Errors
/// When the database fails or a row is broken.
pub async fn free_of_items(at: &impl Access, skus: &[&str]) -> Result<Vec<OffcutRow>, Error> {
    let mut found = Vec::new();
    for some in skus.chunks(CHUNK) {
        let query = offcuts::Entity::find()
            .filter(offcuts::Column::Sku.is_in(some.iter().copied()))
            .filter(offcuts::Column::State.eq(OffcutState::OnShelf.as_str()))
            .filter(offcuts::Column::ReservedFor.is_null())
            .order_by_asc(offcuts::Column::Id);
        for row in query.all(at.connection()).await? {
            found.push(offcut_of(row)?.value);
        }
    }
    Ok(found)
}

/// Keeps a length that was left over.
///
/// # Errors
/// When the database fails.
pub async fn insert(write: &Write, offcut: &Stored<OffcutRow>) -> Result<(), Error> {
    offcuts::Entity::insert(row_of(offcut)?).exec_without_returning(&write.0).await?;
    Ok(())
}

/// Writes it over the one at the version before. `false` when it is at another one.
///
/// # Errors
/// When the database fails.
pub async fn replace(write: &Write, offcut: &Stored<OffcutRow>) -> Result<bool, Error> {
    let changed = offcuts::Entity::update_many()
        .set(row_of(offcut)?)
        .filter(offcuts::Column::Id.eq(offcut.value.id))
        .filter(offcuts::Column::Version.eq(offcut.version - 1))
        .exec(&write.0)
        .await?;
    Ok(changed.rows_affected > 0)
}

/// Who holds a length and what becomes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Claim {
    /// A quote takes hold of one that is free and of this length.
    Reserve(Length),
    /// A quote lets go of one that it holds.
    Release,
    /// A quote uses up one that it holds.
    Use,
}

/// Does that if the length is as it must be for it. `false` otherwise.
///
/// # Errors
/// When the database fails.
pub async fn claim(
    write: &Write,
    id: Uuid,
    quote: Uuid,
    claim: Claim,
    now: DateTime<Utc>,
    by: &str,
) -> Result<bool, Error> {
    use offcuts::Column::{ChangedBy, Id, ReservedFor, State, UpdatedAt, Version};
    let mut change = offcuts::Entity::update_many()
        .col_expr(Version, Expr::col(Version).add(1))
        .col_expr(UpdatedAt, Expr::value(now))
        .col_expr(ChangedBy, Expr::value(by))
        .filter(Id.eq(id))
        .filter(State.eq(OffcutState::OnShelf.as_str()));
    change = match claim {
        Claim::Reserve(length) => change
            .col_expr(ReservedFor, Expr::value(quote))
            .filter(ReservedFor.is_null())
            .filter(offcuts::Column::LengthNm.eq(length.nanometres())),
        Claim::Release => change.col_expr(ReservedFor, Expr::value(None::<Uuid>)).filter(ReservedFor.eq(quote)),
        Claim::Use => change.col_expr(State, Expr::value(OffcutState::Used.as_str())).filter(ReservedFor.eq(quote)),
    };
    Ok(change.exec(&write.0).await?.rows_affected > 0)
}
