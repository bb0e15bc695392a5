//! One consistent snapshot of the shop, kept in memory until the shop's tables change; then only the items that changed are
//! read again.

use std::sync::{Arc, PoisonError, RwLock};

use rustc_hash::FxHashMap;
use tokio::sync::Mutex;

use super::{Error, Service, Stored};
use crate::calc::shop::Shop;
use crate::calc::shop::catalogue::Catalogue;
use crate::calc::shop::item::Item;
use crate::calc::units::Name;
use crate::store;

/// The last snapshot that was read, with its version.
#[derive(Debug, Default)]
pub struct Cache {
    kept: RwLock<Option<(i64, Shop)>>,
    /// Held by whoever reads; the versions of the items of the kept snapshot.
    loading: Mutex<Versions>,
}

/// The version of each item that was read last, and their sum.
#[derive(Debug, Default)]
struct Versions {
    by_sku: FxHashMap<Name, i64>,
    sum: i64,
}

impl Versions {
    fn note(&mut self, row: &Stored<Item>) {
        self.sum += row.version - self.by_sku.insert(row.value.sku.clone(), row.version).unwrap_or(0);
    }

    fn tally(&self) -> (i64, i64) {
        (self.by_sku.len() as i64, self.sum)
    }
}

/// Most changed items that are read apart; of more the whole catalogue is read anew.
const CHANGED: u64 = 5_000;

impl Cache {
    /// Version of the last snapshot that was read.
    pub(super) fn version(&self) -> Option<i64> {
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().map(|(version, _)| *version)
    }

    fn at_least(&self, version: i64) -> Option<(i64, Shop)> {
        let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
        kept.as_ref().filter(|(kept, _)| *kept >= version).cloned()
    }
}

impl Service {
    /// The shop's tables as one consistent snapshot, with the version they had: it counts up with every change of
    /// any of them. Asks the database for that version, and reads the tables only when it has moved.
    ///
    /// # Errors
    /// [`Error::Store`] when the database fails.
    pub async fn shop(&self) -> Result<(i64, Shop), Error> {
        let version = self.shop_version.version(&self.store).await?;
        if let Some(kept) = self.snapshot.at_least(version) {
            return Ok(kept);
        }
        // Of many requests that find an old snapshot one reads the new one; the others wait for it.
        let mut versions = self.snapshot.loading.lock().await;
        if let Some(kept) = self.snapshot.at_least(version) {
            return Ok(kept);
        }
        let read = self.read_shop(&mut versions).await?;
        *self.snapshot.kept.write().unwrap_or_else(PoisonError::into_inner) = Some(read.clone());
        Ok(read)
    }

    async fn read_shop(&self, versions: &mut Versions) -> Result<(i64, Shop), Error> {
        let kept = self.snapshot.at_least(i64::MIN);
        let at = self.store.snapshot().await?;
        let version = store::shop::version(&at).await?;
        let settings = store::shop::settings(&at).await?.value;
        let packages = store::shop::all(&at).await?;
        let labour_operations = store::shop::all(&at).await?;
        let changed = match &kept {
            Some((before, shop)) => changed(&at, *before, &shop.catalogue, versions).await?,
            None => None,
        };
        let catalogue = match changed {
            Some(catalogue) => catalogue,
            None => {
                let rows = store::items::all(&at).await?;
                *versions = Versions::default();
                rows.iter().for_each(|row| versions.note(row));
                Arc::new(Catalogue::new(rows.into_iter().map(|row| row.value)))
            }
        };
        let shop = Shop {
            catalogue,
            packages: Arc::new(packages),
            labour_operations: Arc::new(labour_operations),
            settings: Arc::new(settings),
        };
        Ok((version, shop))
    }
}

/// The catalogue with what has changed since the version of the shop's tables that it is of. `None` where that is too much,
/// or where something was changed by a program that does not say at which version: then all is read.
async fn changed(
    at: &store::Snapshot,
    before: i64,
    catalogue: &Arc<Catalogue>,
    versions: &mut Versions,
) -> Result<Option<Arc<Catalogue>>, Error> {
    let rows = store::items::changed_since(at, before, CHANGED + 1).await?;
    if rows.len() as u64 > CHANGED {
        return Ok(None);
    }
    rows.iter().for_each(|row| versions.note(row));
    if store::items::tally(at).await? != versions.tally() {
        return Ok(None);
    }
    if rows.is_empty() {
        return Ok(Some(Arc::clone(catalogue)));
    }
    Ok(Some(Arc::new(catalogue.with(rows.into_iter().map(|row| row.value)))))
}
