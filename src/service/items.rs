//! The catalogue's items: create, read, replace, retire, list.

use super::{Error, Page, Service, Stored};
use crate::calc::shop::item::Item;

pub use crate::store::items::ItemFilter;

impl Service {
    /// Adds an item to the catalogue.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`] for a sku that is taken, also by a retired item; [`Error::Faults`] with all faults;
    /// [`Error::Store`] when the database fails.
    pub async fn create_item(&self, item: Item) -> Result<Stored<Item>, Error> {
        let _ = item;
        todo!()
    }

    /// An item by its sku, retired or not.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn item(&self, sku: &str) -> Result<Stored<Item>, Error> {
        let _ = sku;
        todo!()
    }

    /// Replaces an item with all its prices.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Stale`] when it is not at version `expected`; [`Error::Faults`];
    /// [`Error::Store`].
    pub async fn replace_item(&self, sku: &str, item: Item, expected: i64) -> Result<Stored<Item>, Error> {
        let _ = (sku, item, expected);
        todo!()
    }

    /// Takes an item out of the catalogue: it can be read but no longer quoted. One that is retired stays as it is.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::Store`].
    pub async fn retire_item(&self, sku: &str, expected: i64) -> Result<Stored<Item>, Error> {
        let _ = (sku, expected);
        todo!()
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
        let _ = (filter, after, limit);
        todo!()
    }
}
