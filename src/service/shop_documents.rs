//! The shop's own documents: settings, packages, labour operations.

use super::{Error, Page, Service, Stored};
use crate::calc::shop::labour::LabourOperation;
use crate::calc::shop::package::Package;
use crate::calc::shop::settings::Settings;

impl Service {
    /// The shop's settings.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn settings(&self) -> Result<Stored<Settings>, Error> {
        todo!()
    }

    /// Replaces the shop's settings.
    ///
    /// # Errors
    /// [`Error::Stale`] when they are not at version `expected`; [`Error::Faults`] with all faults; [`Error::Store`].
    pub async fn replace_settings(&self, settings: Settings, expected: i64) -> Result<Stored<Settings>, Error> {
        let _ = (settings, expected);
        todo!()
    }

    /// Adds a package.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`], [`Error::Faults`] with all faults, [`Error::Store`].
    pub async fn create_package(&self, package: Package) -> Result<Stored<Package>, Error> {
        let _ = package;
        todo!()
    }

    /// A package by its code.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn package(&self, code: &str) -> Result<Stored<Package>, Error> {
        let _ = code;
        todo!()
    }

    /// Replaces a package.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`] when it is not at version `expected`, [`Error::Faults`] with all faults,
    /// [`Error::Store`].
    pub async fn replace_package(&self, code: &str, package: Package, expected: i64) -> Result<Stored<Package>, Error> {
        let _ = (code, package, expected);
        todo!()
    }

    /// Deletes a package.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::NotAllowed`] while another document needs it, [`Error::Store`].
    pub async fn delete_package(&self, code: &str, expected: i64) -> Result<(), Error> {
        let _ = (code, expected);
        todo!()
    }

    /// Packages in order of code, those behind `after`, at most `limit` of them.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn list_packages(&self, after: Option<&str>, limit: u32) -> Result<Page<Stored<Package>>, Error> {
        let _ = (after, limit);
        todo!()
    }

    /// Adds a labour operation.
    ///
    /// # Errors
    /// [`Error::AlreadyThere`], [`Error::Faults`] with all faults, [`Error::Store`].
    pub async fn create_labour_operation(
        &self,
        labour_operation: LabourOperation,
    ) -> Result<Stored<LabourOperation>, Error> {
        let _ = labour_operation;
        todo!()
    }

    /// A labour operation by its code.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Store`].
    pub async fn labour_operation(&self, code: &str) -> Result<Stored<LabourOperation>, Error> {
        let _ = code;
        todo!()
    }

    /// Replaces a labour operation.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`] when it is not at version `expected`, [`Error::Faults`] with all faults,
    /// [`Error::Store`].
    pub async fn replace_labour_operation(
        &self,
        code: &str,
        labour_operation: LabourOperation,
        expected: i64,
    ) -> Result<Stored<LabourOperation>, Error> {
        let _ = (code, labour_operation, expected);
        todo!()
    }

    /// Deletes a labour operation.
    ///
    /// # Errors
    /// [`Error::NotFound`], [`Error::Stale`], [`Error::NotAllowed`] while another document needs it, [`Error::Store`].
    pub async fn delete_labour_operation(&self, code: &str, expected: i64) -> Result<(), Error> {
        let _ = (code, expected);
        todo!()
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
        let _ = (after, limit);
        todo!()
    }
}
