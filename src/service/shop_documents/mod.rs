//! The shop's own documents: settings, packages, labour operations.

mod check_packages;
mod check_settings;

use std::collections::BTreeSet;

use super::checks::{Checks, none};
use super::once::{Made, Once};
use super::{Error, Page, Seen, Service, Stored, page, stale};
use crate::calc::findings::Fault;
use crate::calc::shop::item::Attributes;
use crate::calc::shop::labour::LabourOperation;
use crate::calc::shop::package::Package;
use crate::calc::shop::settings::Settings;
use crate::store::events::NewEvent;
use crate::store::shop::ShopDocument;
use crate::store::{self, Write};

pub use check_packages::check_package;
pub use check_settings::check_settings;

/// A shop document that knows what can be wrong with it, among what else the shop has at that moment.
trait Checked: ShopDocument + Sized {
    async fn faults(&self, write: &Write) -> Result<Vec<Fault>, Error>;

    /// What is told of a change of it, if anything.
    fn told(_: &Service, _: &Stored<Self>) -> Result<Option<NewEvent>, Error> {
        Ok(None)
    }
}

impl Checked for Settings {
    async fn faults(&self, write: &Write) -> Result<Vec<Fault>, Error> {
        let mut faults = check_settings(self);
        faults.extend(check_settings::check_items(self, &store::items::classes(write).await?));
        Ok(faults)
    }

    fn told(service: &Service, changed: &Stored<Self>) -> Result<Option<NewEvent>, Error> {
        service.settings_event(changed).map(Some)
    }
}

impl Checked for Package {
    async fn faults(&self, write: &Write) -> Result<Vec<Fault>, Error> {
        let wanted: BTreeSet<&str> = self.equipment.iter().map(|entry| entry.sku.as_str()).collect();
        // More than a thousand entries are refused by their number alone.
        let wanted: Vec<&str> = wanted.into_iter().take(1000).collect();
        let found = store::items::read_many(write, &wanted).await?.into_iter().map(|row| row.value);
        let found = found.map(|item| (item.sku, matches!(item.attributes, Attributes::Device { .. }))).collect();
        Ok(check_package(self, &found, &store::shop::all(write).await?))
    }
}

impl Checked for LabourOperation {
    async fn faults(&self, _: &Write) -> Result<Vec<Fault>, Error> {
        Ok(check_labour_operation(self))
    }
}

/// Everything that is wrong with a labour operation.
pub fn check_labour_operation(operation: &LabourOperation) -> Vec<Fault> {
    let LabourOperation { code, description, driver: _, phase: _, low_min, likely_min, high_min } = operation;
    let mut checks = Checks::default();
    checks.code("/code", code.as_str(), "_", false);
    checks.text("/description", description, 200);
    for (name, minutes) in [("/low_min", low_min), ("/likely_min", likely_min), ("/high_min", high_min)] {
        checks.number(name, *minutes, 0.0, 10_000.0);
    }
    checks.must(low_min <= likely_min, "/low_min", || {
        format!("{low_min} minutes at best but {likely_min} most likely: expected no more than the likely ones")
    });
    checks.must(likely_min <= high_min, "/high_min", || {
        format!("{high_min} minutes at worst but {likely_min} most likely: expected no fewer than the likely ones")
    });
    checks.faults()
}

fn not_found<T: ShopDocument>(code: &str) -> Error {
    Error::NotFound { kind: T::WORDS, id: code.to_owned() }
}

impl Service {
    async fn create_document<T: Checked>(
        &self,
        document: T,
        once: Once<'_, Stored<T>>,
    ) -> Result<Made<Stored<T>>, Error> {
        let now = self.clock.now();
        let made = self.written_now(document, 1);
        let write = self.store.write().await?;
        if let Some(answer) = once.claim(&write, &made, now).await? {
            return Ok(Made::Before(answer));
        }
        store::shop::hold(&write).await?;
        let document = &made.value;
        let code = document.code();
        if store::shop::read::<T>(&write, code).await?.is_some() {
            return Err(Error::AlreadyThere { kind: T::WORDS, id: code.to_owned() });
        }
        none(document.faults(&write).await?)?;
        store::shop::insert(&write, document, now, made.changed_by.as_deref()).await?;
        store::shop::count_up(&write).await?;
        write.commit().await?;
        Ok(Made::Now(made))
    }

    async fn document<T: ShopDocument>(&self, code: &str) -> Result<Stored<T>, Error> {
        store::shop::read(&self.store, code).await?.ok_or_else(|| not_found::<T>(code))
    }

    async fn replace_document<T: Checked>(
        &self,
        code: &str,
        document: T,
        seen: impl Into<Seen>,
    ) -> Result<Stored<T>, Error> {
        let write = self.store.write().await?;
        store::shop::hold(&write).await?;
        let before = store::shop::read::<T>(&write, code).await?.ok_or_else(|| not_found::<T>(code))?;
        stale(T::WORDS, code, before.version, &seen.into())?;
        let mut checks = Checks::default();
        checks.must(document.code() == code, "/code", || {
            format!("a {} keeps its code: expected '{code}', met '{}'", T::WORDS, document.code())
        });
        none(checks.faults())?;
        none(document.faults(&write).await?)?;
        let made = self.written_now(document, before.version + 1);
        store::shop::replace(&write, &made.value, before.version, made.updated_at, made.changed_by.as_deref()).await?;
        store::shop::count_up(&write).await?;
        store::events::append(&write, T::told(self, &made)?).await?;
        write.commit().await?;
        Ok(made)
    }

    async fn list_documents<T: ShopDocument>(&self, after: Option<&str>, limit: u32) -> Result<Page<Stored<T>>, Error> {
        let rows = store::shop::list::<T>(&self.store, after, Some(u64::from(limit) + 1)).await?;
        Ok(page(rows, limit, |row| row.value.code().to_owned()))
    }

    async fn delete_document<T: ShopDocument>(
        &self,
        write: Write,
        code: &str,
        seen: impl Into<Seen>,
    ) -> Result<(), Error> {
        let before = store::shop::read::<T>(&write, code).await?.ok_or_else(|| not_found::<T>(code))?;
        stale(T::WORDS, code, before.version, &seen.into())?;
        store::shop::delete::<T>(&write, code, before.version).await?;
        store::shop::count_up(&write).await?;
        Ok(write.commit().await?)
    }

    /// The shop's settings.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn settings(&self) -> Result<Stored<Settings>, Error> {
        Ok(store::shop::settings(&self.store).await?)
    }

    /// Replaces the shop's settings.
    ///
    /// # Errors
    /// [`Error::Stale`] when they are at no version that was `seen`; [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn replace_settings(&self, settings: Settings, seen: impl Into<Seen>) -> Result<Stored<Settings>, Error> {
        self.replace_document("settings", settings, seen).await
    }

    /// Adds a package.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`], [`Error::Faults`] with all faults, [`Error::Store`].
    pub async fn create_package(&self, package: Package) -> Result<Stored<Package>, Error> {
        Ok(self.create_package_once(package, Once::unclaimed()).await?.unclaimed())
    }

    /// The same, done once.
    ///
    /// # Errors
    /// As [`Service::create_package`]; [`Error::KeyReused`].
    pub async fn create_package_once(
        &self,
        package: Package,
        once: Once<'_, Stored<Package>>,
    ) -> Result<Made<Stored<Package>>, Error> {
        self.create_document(package, once).await
    }

    /// A package by its code.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn package(&self, code: &str) -> Result<Stored<Package>, Error> {
        self.document(code).await
    }

    /// Replaces a package.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`] when it is at no version that was `seen`, [`Error::Faults`] with all faults,
    /// [`Error::Store`].
    pub async fn replace_package(
        &self,
        code: &str,
        package: Package,
        seen: impl Into<Seen>,
    ) -> Result<Stored<Package>, Error> {
        self.replace_document(code, package, seen).await
    }

    /// Deletes a package.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::NotAllowed`] while another package contains it,
    /// [`Error::Store`].
    pub async fn delete_package(&self, code: &str, seen: impl Into<Seen>) -> Result<(), Error> {
        let write = self.store.write().await?;
        store::shop::hold(&write).await?;
        let all: Vec<Package> = store::shop::all(&write).await?;
        let holders = all.iter().filter(|outer| outer.packages.iter().any(|inner| inner.as_str() == code));
        let holders: Vec<&str> = holders.map(|outer| outer.code.as_str()).collect();
        if !holders.is_empty() {
            let holders = holders.join(", ");
            return Err(Error::NotAllowed(format!(
                "the package '{code}' is contained in {holders}: take it out there first"
            )));
        }
        self.delete_document::<Package>(write, code, seen).await
    }

    /// Packages in order of code, those behind `after`, at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_packages(&self, after: Option<&str>, limit: u32) -> Result<Page<Stored<Package>>, Error> {
        self.list_documents(after, limit).await
    }

    /// Adds a labour operation.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`], [`Error::Faults`] with all faults, [`Error::Store`].
    pub async fn create_labour_operation(&self, operation: LabourOperation) -> Result<Stored<LabourOperation>, Error> {
        Ok(self.create_labour_operation_once(operation, Once::unclaimed()).await?.unclaimed())
    }

    /// The same, done once.
    ///
    /// # Errors
    /// As [`Service::create_labour_operation`]; [`Error::KeyReused`].
    pub async fn create_labour_operation_once(
        &self,
        operation: LabourOperation,
        once: Once<'_, Stored<LabourOperation>>,
    ) -> Result<Made<Stored<LabourOperation>>, Error> {
        self.create_document(operation, once).await
    }

    /// A labour operation by its code.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn labour_operation(&self, code: &str) -> Result<Stored<LabourOperation>, Error> {
        self.document(code).await
    }

    /// Replaces a labour operation.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`] when it is at no version that was `seen`, [`Error::Faults`] with all faults,
    /// [`Error::Store`].
    pub async fn replace_labour_operation(
        &self,
        code: &str,
        operation: LabourOperation,
        seen: impl Into<Seen>,
    ) -> Result<Stored<LabourOperation>, Error> {
        self.replace_document(code, operation, seen).await
    }

    /// Deletes a labour operation. A quote that needs one which is gone shows a gap.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::Store`].
    pub async fn delete_labour_operation(&self, code: &str, seen: impl Into<Seen>) -> Result<(), Error> {
        let write = self.store.write().await?;
        store::shop::hold(&write).await?;
        self.delete_document::<LabourOperation>(write, code, seen).await
    }

    /// Labour operations in order of code, those behind `after`, at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_labour_operations(
        &self,
        after: Option<&str>,
        limit: u32,
    ) -> Result<Page<Stored<LabourOperation>>, Error> {
        self.list_documents(after, limit).await
    }
}
