//! One consistent snapshot of the shop, kept in memory until the shop's tables change.

use std::sync::{Arc, PoisonError, RwLock};

use tokio::sync::Mutex;

use super::{Error, Service};
use crate::calc::shop::Shop;
use crate::calc::shop::catalogue::Catalogue;
use crate::store;

/// The last snapshot that was read, with its version.
#[derive(Debug, Default)]
pub struct Cache {
    kept: RwLock<Option<(i64, Shop)>>,
    loading: Mutex<()>,
}

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
        let _loading = self.snapshot.loading.lock().await;
        if let Some(kept) = self.snapshot.at_least(version) {
            return Ok(kept);
        }
        let read = self.read_shop().await?;
        *self.snapshot.kept.write().unwrap_or_else(PoisonError::into_inner) = Some(read.clone());
        Ok(read)
    }

    async fn read_shop(&self) -> Result<(i64, Shop), Error> {
        let at = self.store.snapshot().await?;
        let version = store::shop::version(&at).await?;
        let settings = store::shop::settings(&at).await?.value;
        let packages = store::shop::all(&at).await?;
        let labour_operations = store::shop::all(&at).await?;
        let items = store::items::all(&at).await?;
        let shop = Shop {
            catalogue: Arc::new(Catalogue::new(items)),
            packages: Arc::new(packages),
            labour_operations: Arc::new(labour_operations),
            settings: Arc::new(settings),
        };
        Ok((version, shop))
    }
}
