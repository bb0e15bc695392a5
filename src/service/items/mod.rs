//! The catalogue's items: create, read, replace, retire, list.

mod check;

use super::checks::{Checks, none};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page, stale};
use crate::calc::shop::item::Item;
use crate::store::{self, Write};

pub use crate::store::items::ItemFilter;
pub use check::{INSULATION_C, check_item};

const WORDS: &str = "item";

/// An item as it is kept: figures without trailing zeros, prices in order of kind, day and quantity. The same item is
/// answered whether it was just sent or read again.
pub(super) fn as_kept(mut item: Item) -> Item {
    item.buying_quantity = item.buying_quantity.normalize();
    for used in item.labour.iter_mut().flatten() {
        used.quantity = used.quantity.normalize();
    }
    for price in &mut item.prices {
        price.amount = price.amount.normalize();
        price.minimum_quantity = price.minimum_quantity.normalize();
    }
    item.prices.sort_by_key(|price| (price.kind, price.valid_from, price.minimum_quantity));
    item
}

fn not_found(sku: &str) -> Error {
    Error::NotFound { kind: WORDS, id: sku.to_owned() }
}

impl Service {
    /// Adds an item to the catalogue.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`] for a sku that is taken, also by a retired item; [`Error::Faults`] with all faults;
    /// [`Error::Store`] when the database fails.
    pub async fn create_item(&self, item: Item) -> Result<Stored<Item>, Error> {
        Ok(self.create_item_once(item, Once::unclaimed()).await?.unclaimed())
    }

    /// The same, done once.
    ///
    /// # Errors
    /// As [`Service::create_item`]; [`Error::KeyReused`].
    pub async fn create_item_once(
        &self,
        item: Item,
        once: Once<'_, Stored<Item>>,
    ) -> Result<Made<Stored<Item>>, Error> {
        let now = self.clock.now();
        let made = self.written_now(as_kept(item.clone()), 1);
        let write = self.store.write().await?;
        if let Some(answer) = once.claim(&write, &made, now).await? {
            return Ok(Made::Before(answer));
        }
        store::shop::hold(&write).await?;
        if store::items::read(&write, item.sku.as_str()).await?.is_some() {
            return Err(Error::AlreadyThere { kind: WORDS, id: item.sku.to_string() });
        }
        none(check_item(&item, &store::shop::settings(&write).await?.value))?;
        Ok(Made::Now(self.put_item(write, made).await?))
    }

    /// An item by its sku, retired or not.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn item(&self, sku: &str) -> Result<Stored<Item>, Error> {
        store::items::read(&self.store, sku).await?.ok_or_else(|| not_found(sku))
    }

    /// Replaces an item with all its prices.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is at no version that was `seen`; [`Error::Faults`];
    /// [`Error::Store`].
    pub async fn replace_item(&self, sku: &str, item: Item, seen: impl Into<Seen>) -> Result<Stored<Item>, Error> {
        let write = self.store.write().await?;
        store::shop::hold(&write).await?;
        let before = store::items::read(&write, sku).await?.ok_or_else(|| not_found(sku))?;
        stale(WORDS, sku, before.version, &seen.into())?;
        let mut checks = Checks::default();
        checks.must(item.sku == before.value.sku, "/sku", || {
            format!("an item keeps its sku: expected '{sku}', met '{}'; a new sku is a new item", item.sku)
        });
        let mut faults = checks.faults();
        faults.extend(check_item(&item, &store::shop::settings(&write).await?.value));
        none(faults)?;
        let made = self.written_now(as_kept(item), before.version + 1);
        self.put_item(write, made).await
    }

    /// Takes an item out of the catalogue: it can be read but no longer quoted. One that is retired stays as it is.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::Store`].
    pub async fn retire_item(&self, sku: &str, seen: impl Into<Seen>) -> Result<Stored<Item>, Error> {
        let write = self.store.write().await?;
        store::shop::hold(&write).await?;
        let before = store::items::read(&write, sku).await?.ok_or_else(|| not_found(sku))?;
        stale(WORDS, sku, before.version, &seen.into())?;
        if before.value.retired {
            return Ok(before);
        }
        let retired = Item { retired: true, ..before.value };
        let made = self.written_now(retired, before.version + 1);
        self.put_item(write, made).await
    }

    async fn put_item(&self, write: Write, made: Stored<Item>) -> Result<Stored<Item>, Error> {
        let Stored { value, version, updated_at, changed_by } = made;
        let put = [(value, version)];
        store::items::put(&write, &put, updated_at, changed_by.as_deref()).await?;
        store::shop::count_up(&write).await?;
        write.commit().await?;
        let [(value, version)] = put;
        Ok(Stored { value, version, updated_at, changed_by })
    }

    /// Items in order of sku, those behind `after`, at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_items(
        &self,
        filter: &ItemFilter,
        after: Option<&str>,
        limit: u32,
    ) -> Result<Page<Stored<Item>>, Error> {
        let rows = store::items::list(&self.store, filter, after, u64::from(limit) + 1).await?;
        Ok(page(rows, limit, |row| row.value.sku.to_string()))
    }
}
