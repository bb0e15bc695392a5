//! The demo shop: an invented catalogue, packages, labour table and settings, brought in through the service's own
//! functions as a shop would bring in its own. No maker, supplier or price in it is real.

use std::convert::Infallible;

use bytes::Bytes;
use futures_util::stream;
use serde::de::DeserializeOwned;

use crate::calc::shop::labour::LabourOperation;
use crate::calc::shop::package::Package;
use crate::calc::shop::settings::Settings;
use crate::service::access::Role;
use crate::service::imports::{Import, ImportState, RowFault};
use crate::service::keys::{KeyRequest, Secret};
use crate::service::once::Once;
use crate::service::stock::StockEntry;
use crate::service::stock::offcuts::OffcutEntry;
use crate::service::{self, Service};

const SETTINGS: &str = include_str!("shop/settings.json");
const LABOUR_OPERATIONS: &str = include_str!("shop/labour_operations.json");
const PACKAGES: &str = include_str!("shop/packages.json");
const STOCK: &str = include_str!("shop/stock.json");
/// The price lists in the order in which they are read: prices of a later one take over from their day on.
const PRICE_LISTS: [(&str, &str); 8] = [
    ("items.csv", include_str!("shop/items.csv")),
    ("helm.csv", include_str!("shop/helm.csv")),
    ("power.csv", include_str!("shop/power.csv")),
    ("cables.csv", include_str!("shop/cables.csv")),
    ("fit_out.csv", include_str!("shop/fit_out.csv")),
    ("electronics.csv", include_str!("shop/electronics.csv")),
    ("network.csv", include_str!("shop/network.csv")),
    ("prices-2027.csv", include_str!("shop/prices-2027.csv")),
];

/// What was brought in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Loaded {
    /// Rows of the price lists.
    pub item_rows: u64,
    /// Packages.
    pub packages: usize,
    /// Labour operations.
    pub labour_operations: usize,
    /// Counts and offcuts on the shelf.
    pub on_shelf: usize,
}

/// What lies on the demo shop's shelf.
#[derive(serde::Deserialize)]
struct OnShelf {
    counts: Vec<StockEntry>,
    offcuts: Vec<OffcutEntry>,
}

/// The demo shop could not be brought in.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A table of the demo shop is not what the program reads: a fault of this build.
    #[error("the demo shop's {table} cannot be read")]
    Table {
        /// Which table.
        table: &'static str,
        /// What is wrong.
        source: serde_json::Error,
    },
    /// A price list was refused: a fault of this build.
    #[error("the demo shop's {list} was refused: {rows_bad} bad row(s), the first: {first}")]
    Refused {
        /// Which list.
        list: &'static str,
        /// How many rows.
        rows_bad: u64,
        /// The first fault.
        first: String,
    },
    /// The service could not do it.
    #[error("the demo shop could not be stored{}", listed(.0))]
    Service(#[from] service::Error),
}

/// All faults behind an error that carries them: its own text only counts them.
fn listed(error: &service::Error) -> String {
    match error {
        service::Error::Faults(faults) => {
            faults.iter().map(|fault| format!("; {}: {}", fault.pointer, fault.message)).collect()
        }
        _ => String::new(),
    }
}

fn table<T: DeserializeOwned>(table: &'static str, json: &str) -> Result<T, Error> {
    serde_json::from_str(json).map_err(|source| Error::Table { table, source })
}

/// Brings the demo shop into a store whose schema is up to date and that holds no shop yet.
///
/// # Errors
/// [`Error`]; what was stored before it stays.
pub async fn load(service: &Service) -> Result<Loaded, Error> {
    let settings: Settings = table("settings.json", SETTINGS)?;
    let version = service.settings().await?.version;
    service.replace_settings(settings, version).await?;

    let operations: Vec<LabourOperation> = table("labour_operations.json", LABOUR_OPERATIONS)?;
    let labour_operations = operations.len();
    for operation in operations {
        service.create_labour_operation(operation).await?;
    }

    let mut item_rows = 0;
    for (list, csv) in PRICE_LISTS {
        item_rows += import(service, list, csv).await?.rows_read;
    }

    // After the items that they name; a package that holds another stands behind it in the file.
    let bundles: Vec<Package> = table("packages.json", PACKAGES)?;
    let packages = bundles.len();
    for package in bundles {
        service.create_package(package).await?;
    }

    let OnShelf { counts, offcuts } = table("stock.json", STOCK)?;
    let on_shelf = counts.len() + offcuts.len();
    for count in counts {
        service.create_stock(count, Once::unclaimed()).await?;
    }
    for offcut in offcuts {
        service.create_offcut(offcut, Once::unclaimed()).await?;
    }
    Ok(Loaded { item_rows, packages, labour_operations, on_shelf })
}

/// Makes the key that the demo works with.
///
/// # Errors
/// [`Error::Service`].
pub async fn owner_key(service: &Service) -> Result<Secret, Error> {
    let request = KeyRequest { name: "Demo".to_owned(), role: Role::Owner, expires_at: None };
    Ok(service.create_key(request).await?.1)
}

async fn import(service: &Service, list: &'static str, csv: &'static str) -> Result<Import, Error> {
    let begun = service.start_import(false).await?;
    let bytes = stream::iter([Ok::<_, Infallible>(Bytes::from_static(csv.as_bytes()))]);
    let import = service.import_csv(begun.id, bytes).await?;
    if import.state == ImportState::Applied {
        return Ok(import);
    }
    let first = import.report.first().map(described).unwrap_or_default();
    Err(Error::Refused { list, rows_bad: import.rows_bad, first })
}

fn described(fault: &RowFault) -> String {
    match &fault.column {
        Some(column) => format!("line {}, column {column}: {}", fault.line, fault.message),
        None => format!("line {}: {}", fault.line, fault.message),
    }
}
