//! The shop's documents (settings, packages, labour operations) and the version of all the shop's tables.

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Access, Error, Stored, Write};
use crate::calc::shop::labour::LabourOperation;
use crate::calc::shop::package::Package;
use crate::calc::shop::settings::Settings;

/// Something of the shop's that is read whole and changed whole.
pub trait ShopDocument: Serialize + DeserializeOwned + Send + Sync {
    /// Its kind in the table.
    const KIND: &'static str;
    /// Its kind as people say it.
    const WORDS: &'static str;

    /// Its code, unique among its kind.
    fn code(&self) -> &str;
}

impl ShopDocument for Settings {
    const KIND: &'static str = "settings";
    const WORDS: &'static str = "settings";

    fn code(&self) -> &str {
        "settings"
    }
}

impl ShopDocument for Package {
    const KIND: &'static str = "package";
    const WORDS: &'static str = "package";

    fn code(&self) -> &str {
        self.code.as_str()
    }
}

impl ShopDocument for LabourOperation {
    const KIND: &'static str = "labour_operation";
    const WORDS: &'static str = "labour operation";

    fn code(&self) -> &str {
        self.code.as_str()
    }
}

pub async fn version(at: &impl Access) -> Result<i64, Error> {
    let _ = at;
    todo!()
}
pub async fn settings(at: &impl Access) -> Result<Stored<Settings>, Error> {
    let _ = at;
    todo!()
}
pub async fn all<T: ShopDocument>(at: &impl Access) -> Result<Vec<T>, Error> {
    let _ = at;
    todo!()
}
pub async fn seed_settings(write: &Write, now: DateTime<Utc>) -> Result<(), Error> {
    let _ = (write, now);
    todo!()
}
