//! Lengths that were left over: each is one unbroken length by itself, and is used once.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::where_it_lies;
use crate::calc::findings::Fault;
use crate::calc::shelf::sold_by;
use crate::calc::units::{Length, LengthValue, Name};
use crate::service::checks::{Checks, none};
use crate::service::once::{Made, Once};
use crate::service::{Error, Page, Seen, Service, Stored, page, stale};
use crate::store;
use crate::store::offcuts::OffcutRow;

pub use crate::store::offcuts::{OffcutFilter, OffcutState};

const WORDS: &str = "offcut";

fn on_shelf() -> OffcutState {
    OffcutState::OnShelf
}

/// A length that was left over, as it is recorded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OffcutEntry {
    /// The item that it is of.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "W16-BRN-100")]
    pub sku: Name,
    /// How long it is; more than 0.
    pub length: LengthValue,
    /// Room, van or rack.
    #[schema(min_length = 1, max_length = 60, example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(min_length = 1, max_length = 60, example = "Rack 2")]
    pub bin: String,
    /// What became of it; a new one lies on the shelf.
    #[serde(default = "on_shelf")]
    pub state: OffcutState,
    /// What else there is to say of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 500, example = "Left from 2026-0042")]
    pub remark: Option<String>,
}

/// A length that was left over.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Offcut {
    /// Identifier.
    pub id: Uuid,
    /// The item that it is of.
    #[schema(value_type = String, example = "W16-BRN-100")]
    pub sku: Name,
    /// How long it is, in the unit that it was measured in.
    pub length: LengthValue,
    /// How long it is, exactly, in nanometres.
    pub length_nm: i64,
    /// Room, van or rack.
    #[schema(example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(example = "Rack 2")]
    pub bin: String,
    /// What became of it.
    pub state: OffcutState,
    /// What else there is to say of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// The quote that holds it, or that it was used for; absent while it is free.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reserved_for: Option<Uuid>,
    /// When it was recorded.
    pub created_at: DateTime<Utc>,
    /// Name of the key that recorded it, or `command line`.
    pub created_by: String,
}

impl From<OffcutRow> for Offcut {
    fn from(row: OffcutRow) -> Self {
        let OffcutRow { id, sku, length, unit, place, bin, state, remark, reserved_for, created_at, created_by } = row;
        let length_nm = length.nanometres();
        let length = LengthValue { value: length.to(unit), unit };
        Offcut { id, sku, length, length_nm, place, bin, state, remark, reserved_for, created_at, created_by }
    }
}

fn not_found(id: Uuid) -> Error {
    Error::NotFound { kind: WORDS, id: id.to_string() }
}

/// Refuses to change what a quote holds, or what went into a boat.
fn free(before: &OffcutRow) -> Result<(), Error> {
    match (before.reserved_for, before.state) {
        (Some(quote), OffcutState::OnShelf) => Err(Error::NotAllowed(format!(
            "the offcut '{}' is reserved for the quote '{quote}': have that quote let go of it first",
            before.id
        ))),
        (Some(quote), _) => Err(Error::NotAllowed(format!(
            "the offcut '{}' was used for the quote '{quote}' and stays as it is: record what is left of it as a new one",
            before.id
        ))),
        (None, _) => Ok(()),
    }
}

impl Service {
    fn offcut_row(&self, id: Uuid, entry: OffcutEntry, created_at: DateTime<Utc>, created_by: String) -> OffcutRow {
        let OffcutEntry { sku, length, place, bin, state, remark } = entry;
        let unit = length.unit;
        let length = length.length().unwrap_or(Length::ZERO);
        OffcutRow { id, sku, length, unit, place, bin, state, remark, reserved_for: None, created_at, created_by }
    }

    /// Refuses a length of what is not sold by length.
    async fn sold_by_length(&self, write: &store::Write, sku: &Name) -> Result<(), Error> {
        let item = self.kept_item(write, sku).await?;
        let message = || format!("{sku} is sold by the piece, and no length of it is left over: count it as stock");
        let mut checks = Checks::default();
        checks.must(sold_by(&item).is_some(), "/sku", message);
        none(checks.faults())
    }

    /// Records a length that was left over, once.
    ///
    /// # Errors
    /// [`Error::Faults`] with all faults; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn create_offcut(
        &self,
        entry: OffcutEntry,
        once: Once<'_, Stored<Offcut>>,
    ) -> Result<Made<Stored<Offcut>>, Error> {
        let mut faults = check(&entry);
        if entry.state != OffcutState::OnShelf {
            faults.push(Fault::new("/state", "a new one lies on the shelf: leave the state out"));
        }
        none(faults)?;
        let now = self.clock.now();
        let row = self.offcut_row(self.clock.new_id(), entry, now, self.principal().name.clone());
        let made = self.written_now(row, 1);
        let answered = made.clone().map(Offcut::from);
        let write = self.store.write().await?;
        if let Some(answer) = once.claim(&write, &answered, now).await? {
            return Ok(Made::Before(answer));
        }
        self.sold_by_length(&write, &made.value.sku).await?;
        store::offcuts::insert(&write, &made).await?;
        write.commit().await?;
        Ok(Made::Now(answered))
    }

    /// A length that was left over.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn offcut(&self, id: Uuid) -> Result<Stored<Offcut>, Error> {
        let found = store::offcuts::read(&self.store, id).await?.ok_or_else(|| not_found(id))?;
        Ok(found.map(Offcut::from))
    }

    /// Measures a length that was left over anew, says where it lies now, or what became of it.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::NotAllowed`] while a quote
    /// holds it, or when one used it; [`Error::Faults`]; [`Error::Store`].
    pub async fn replace_offcut(
        &self,
        id: Uuid,
        entry: OffcutEntry,
        seen: impl Into<Seen>,
    ) -> Result<Stored<Offcut>, Error> {
        let write = self.store.write().await?;
        let before = store::offcuts::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        none(check(&entry))?;
        self.sold_by_length(&write, &entry.sku).await?;
        free(&before.value)?;
        let row = self.offcut_row(id, entry, before.value.created_at, before.value.created_by);
        let made = self.written_now(row, before.version + 1);
        store::offcuts::replace(&write, &made).await?;
        write.commit().await?;
        Ok(made.map(Offcut::from))
    }

    /// Takes a length off the shelf: it was thrown away, or is not there. One that is gone stays as it is.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`]; [`Error::NotAllowed`] while a quote holds it; [`Error::Store`].
    pub async fn remove_offcut(&self, id: Uuid, seen: impl Into<Seen>) -> Result<Stored<Offcut>, Error> {
        let write = self.store.write().await?;
        let before = store::offcuts::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        if before.value.state != OffcutState::OnShelf {
            return Ok(before.map(Offcut::from));
        }
        free(&before.value)?;
        let row = OffcutRow { state: OffcutState::Removed, ..before.value };
        let made = self.written_now(row, before.version + 1);
        store::offcuts::replace(&write, &made).await?;
        write.commit().await?;
        Ok(made.map(Offcut::from))
    }

    /// Lengths that were left over, newest first, those behind `after` (an identifier), at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_offcuts(
        &self,
        filter: &OffcutFilter,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Page<Stored<Offcut>>, Error> {
        let rows = store::offcuts::list(&self.store, filter, after, u64::from(limit) + 1).await?;
        let rows = rows.into_iter().map(|row| row.map(Offcut::from)).collect();
        Ok(page(rows, limit, |row: &Stored<Offcut>| row.value.id.to_string()))
    }
}

fn check(entry: &OffcutEntry) -> Vec<Fault> {
    let mut checks = Checks::default();
    checks.length("/length", entry.length, false);
    where_it_lies(&mut checks, &entry.place, &entry.bin);
    if let Some(remark) = &entry.remark {
        checks.text("/remark", remark, 500);
    }
    checks.faults()
}
