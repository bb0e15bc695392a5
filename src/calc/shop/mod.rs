//! The shop's own tables, as values: what it sells, how long its work takes, and how it prices.

pub mod catalogue;
pub mod fit_out;
pub mod item;
pub mod labour;
pub mod levels_and_freight;
pub mod package;
pub mod settings;
pub mod substitutes;

use std::sync::Arc;

use catalogue::Catalogue;
use labour::LabourOperation;
use package::Package;
use settings::Settings;

/// One consistent snapshot of everything that a quote reads from the shop.
#[derive(Clone, Debug)]
pub struct Shop {
    /// The catalogue, with its prices over time.
    pub catalogue: Arc<Catalogue>,
    /// Reusable sets of equipment.
    pub packages: Arc<Vec<Package>>,
    /// Unit times.
    pub labour_operations: Arc<Vec<LabourOperation>>,
    /// Allowances, colours, rates, mark-ups and tax.
    pub settings: Arc<Settings>,
}
