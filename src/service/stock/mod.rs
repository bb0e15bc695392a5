//! What is on the shelf: counts of items by place and bin, and lengths that were left over. What quotes hold of it, and
//! what is bought beside it, follow from there.
//!
//! An item is counted in its selling unit, which is what goes into a boat. Of wire and cable whole spools are counted, as
//! so many feet or metres: an opened one is an unbroken length by itself and recorded as such.

mod keeping;
mod lists;
pub mod offcuts;
mod reserving;
mod shelf;

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::checks::{Checks, none};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page, stale};
use crate::calc::findings::Fault;
use crate::calc::shelf::{Spot, unbroken};
use crate::calc::shop::item::{Item, SellingUnit};
use crate::calc::units::Name;
use crate::store;
use crate::store::stock::StockKey;

pub use crate::store::reservations::{Reservation, ReservationFilter};
pub use crate::store::stock::{StockCount, StockFilter};
pub use keeping::{PickRequest, ReserveRequest};
pub use lists::{ListDay, QuotePickList, QuotePurchaseList, QuoteRef};
pub use reserving::{StockEvent, StockEventLine};

const WORDS: &str = "count";

/// What parts the texts of a key that a page begins after: no text that is kept holds it.
const BETWEEN: char = '\n';

/// What lies of an item in a bin, as it is counted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StockEntry {
    /// The item.
    #[schema(value_type = String, min_length = 1, max_length = 60, example = "W16-BRN-100")]
    pub sku: Name,
    /// Room, van or rack.
    #[schema(min_length = 1, max_length = 60, example = "Main store")]
    pub place: String,
    /// Bin, drawer or peg there.
    #[schema(min_length = 1, max_length = 60, example = "A-03")]
    pub bin: String,
    /// How many selling units lie there, what quotes have reserved among them; of wire and cable whole spools, in feet or
    /// metres.
    #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "40")]
    pub quantity: Decimal,
}

/// What came to a bin or left it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// Selling units that came (`+3`) or left (`-2`); not 0.
    #[schema(value_type = String, pattern = r"^[+-]?[0-9]{1,9}(\.[0-9]{1,6})?$", example = "-2")]
    pub delta: Decimal,
}

fn not_found(id: Uuid) -> Error {
    Error::NotFound { kind: WORDS, id: id.to_string() }
}

fn there_already(sku: &Name, place: &str, bin: &str) -> Error {
    Error::AlreadyThere { kind: WORDS, id: format!("{sku} at {place}, {bin}") }
}

fn where_it_lies(checks: &mut Checks, place: &str, bin: &str) {
    for (pointer, text) in [("/place", place), ("/bin", bin)] {
        checks.text(pointer, text, 60);
        checks.must(text.trim() == text, pointer, || format!("'{text}' begins or ends with a space: take it away"));
    }
}

/// Faults of a quantity that an item cannot lie there in.
fn countable(item: &Item, quantity: Decimal) -> Vec<Fault> {
    let mut checks = Checks::default();
    if item.selling_unit != SellingUnit::Each {
        let sku = &item.sku;
        let spools = unbroken(item).and_then(|_| quantity.checked_rem(item.buying_quantity));
        checks.must(spools.is_some_and(|rest| rest.is_zero()), "/quantity", || match spools {
            Some(_) => format!(
                "{quantity} is no whole number of spools: {sku} comes in unbroken lengths of {} {}; record an opened one \
                 as an offcut",
                item.buying_quantity.normalize(),
                item.selling_unit.symbol()
            ),
            None => format!("{sku} is bought to measure: record each length of it that lies there as an offcut"),
        });
    }
    checks.faults()
}

impl Service {
    /// The item of a sku that something of it lies on the shelf, or a fault.
    async fn kept_item(&self, write: &store::Write, sku: &Name) -> Result<Item, Error> {
        let found = store::items::read(write, sku.as_str()).await?;
        found.map(|stored| stored.value).ok_or_else(|| {
            Error::Faults(vec![Fault::new("/sku", format!("there is no item '{sku}' in the catalogue: add it first"))])
        })
    }

    /// Counts an item in a bin where it was not counted yet, once.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`]; [`Error::Faults`] with all faults; [`Error::KeyReused`]; [`Error::Store`].
    pub async fn create_stock(
        &self,
        entry: StockEntry,
        once: Once<'_, Stored<StockCount>>,
    ) -> Result<Made<Stored<StockCount>>, Error> {
        none(check(&entry))?;
        let id = self.clock.new_id();
        let write = self.store.write().await?;
        let found = store::items::read(&write, entry.sku.as_str()).await?.map(|stored| stored.value);
        let unit = found.as_ref().map_or(SellingUnit::Each, |item| item.selling_unit);
        let now = self.clock.now();
        let made = self.written_now(count(id, &entry, unit, now, self.principal().name.clone()), 1);
        if let Some(answer) = once.claim(&write, &made, now).await? {
            return Ok(Made::Before(answer));
        }
        none(countable(&self.kept_item(&write, &entry.sku).await?, entry.quantity))?;
        match store::stock::insert(&write, &made).await {
            Err(cause) if cause.is_taken() => return Err(there_already(&entry.sku, &entry.place, &entry.bin)),
            done => done?,
        }
        write.commit().await?;
        Ok(Made::Now(made))
    }

    /// A count.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn stock(&self, id: Uuid) -> Result<Stored<StockCount>, Error> {
        store::stock::read(&self.store, id).await?.ok_or_else(|| not_found(id))
    }

    /// Counts anew what lies in a bin, or says in which bin it lies now.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::AlreadyThere`];
    /// [`Error::NotAllowed`] when it would move what quotes hold; [`Error::Faults`]; [`Error::Store`].
    pub async fn replace_stock(
        &self,
        id: Uuid,
        entry: StockEntry,
        seen: impl Into<Seen>,
    ) -> Result<Stored<StockCount>, Error> {
        let write = self.store.write().await?;
        let before = store::stock::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        let mut checks = Checks::default();
        checks.must(entry.sku == before.value.sku, "/sku", || {
            format!(
                "this is a count of {}: expected that, met '{}'; count another item by itself",
                before.value.sku, entry.sku
            )
        });
        let mut faults = checks.faults();
        faults.extend(check(&entry));
        none(faults)?;
        let item = self.kept_item(&write, &entry.sku).await?;
        none(countable(&item, entry.quantity))?;
        if (&entry.place, &entry.bin) != (&before.value.place, &before.value.bin) {
            self.must_be_free(&write, &before.value).await?;
        }
        let StockCount { created_at, created_by, .. } = before.value;
        let value = count(id, &entry, item.selling_unit, created_at, created_by);
        let made = self.written_now(value, before.version + 1);
        match store::stock::replace(&write, &made).await {
            Err(cause) if cause.is_taken() => return Err(there_already(&entry.sku, &entry.place, &entry.bin)),
            done => done?,
        };
        write.commit().await?;
        Ok(made)
    }

    /// Notes what came to a bin or left it, once.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::NotAllowed`] when it would leave fewer than none; [`Error::Faults`];
    /// [`Error::KeyReused`]; [`Error::Store`].
    pub async fn adjust_stock(
        &self,
        id: Uuid,
        Adjustment { delta }: Adjustment,
        once: Once<'_, Stored<StockCount>>,
    ) -> Result<Made<Stored<StockCount>>, Error> {
        let mut checks = Checks::default();
        checks.decimal("/delta", delta.abs(), false, 6);
        none(checks.faults())?;
        let write = self.store.write().await?;
        let before = store::stock::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        let stands = before.value.quantity;
        let value = StockCount { quantity: (stands + delta).normalize(), ..before.value };
        let made = self.written_now(value, before.version + 1);
        if let Some(answer) = once.claim(&write, &made, made.updated_at).await? {
            return Ok(Made::Before(answer));
        }
        let StockCount { sku, quantity, unit, place, bin, .. } = &made.value;
        if quantity.is_sign_negative() {
            return Err(Error::NotAllowed(format!(
                "{stands} {} of {sku} lie at {place}, {bin}: {} cannot leave; count the bin again",
                unit.symbol(),
                delta.abs()
            )));
        }
        let mut faults = countable(&self.kept_item(&write, sku).await?, *quantity);
        let mut too_many = Checks::default();
        too_many.decimal("/delta", *quantity, true, 6);
        faults.extend(too_many.faults());
        none(faults.into_iter().map(|fault| Fault::new("/delta", fault.message)).collect())?;
        store::stock::replace(&write, &made).await?;
        write.commit().await?;
        Ok(Made::Now(made))
    }

    /// Refuses while quotes hold things of a bin: they would look for them there.
    async fn must_be_free(
        &self,
        write: &store::Write,
        StockCount { sku, place, bin, unit, .. }: &StockCount,
    ) -> Result<(), Error> {
        let at = Spot { place: place.clone(), bin: bin.clone() };
        let held = store::reservations::held(write, &[sku.as_str()]).await?.remove(&(sku.to_string(), at));
        match held {
            Some(held) if held > Decimal::ZERO => Err(Error::NotAllowed(format!(
                "quotes hold {held} {} of {sku} at {place}, {bin}: pick them or let go of them first (`/v1/reservations?sku={sku}` tells which quotes), or count what moves in its new bin and adjust this one",
                unit.symbol()
            ))),
            _ => Ok(()),
        }
    }

    /// Forgets a count: the item no longer lies in that bin.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::NotAllowed`] while quotes hold things there, [`Error::Store`].
    pub async fn delete_stock(&self, id: Uuid, seen: impl Into<Seen>) -> Result<(), Error> {
        let write = self.store.write().await?;
        let before = store::stock::hold(&write, id).await?.ok_or_else(|| not_found(id))?;
        stale(WORDS, &id.to_string(), before.version, &seen.into())?;
        self.must_be_free(&write, &before.value).await?;
        store::stock::delete(&write, id, before.version).await?;
        Ok(write.commit().await?)
    }

    /// Counts in order of item, place and bin, those behind `after` (a key that a page ended with), at most `limit` of
    /// them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_stock(
        &self,
        filter: &StockFilter,
        after: Option<&str>,
        limit: u32,
    ) -> Result<Page<Stored<StockCount>>, Error> {
        let after = after.map(|text| {
            let mut parts = text.splitn(3, BETWEEN).map(str::to_owned);
            let mut next = || parts.next().unwrap_or_default();
            StockKey { sku: next(), at: Spot { place: next(), bin: next() } }
        });
        let rows = store::stock::list(&self.store, filter, after.as_ref(), u64::from(limit) + 1).await?;
        Ok(page(rows, limit, |row| {
            let StockCount { sku, place, bin, .. } = &row.value;
            format!("{sku}{BETWEEN}{place}{BETWEEN}{bin}")
        }))
    }
}

fn check(entry: &StockEntry) -> Vec<Fault> {
    let mut checks = Checks::default();
    where_it_lies(&mut checks, &entry.place, &entry.bin);
    checks.decimal("/quantity", entry.quantity, true, 6);
    checks.faults()
}

fn count(id: Uuid, entry: &StockEntry, unit: SellingUnit, created_at: DateTime<Utc>, created_by: String) -> StockCount {
    let StockEntry { sku, place, bin, quantity } = entry.clone();
    let unit_code = unit.unece_code();
    StockCount { id, sku, place, bin, quantity: quantity.normalize(), unit, unit_code, created_at, created_by }
}
