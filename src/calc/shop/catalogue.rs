//! The catalogue as one value: items by sku, and by kind for matching.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::shop::item::Item;
use crate::shop::item::usual::{TakenAsUsual, filled};
use crate::units::Name;

/// All items of one catalogue version.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    items: Vec<Arc<Item>>,
    by_sku: BTreeMap<Name, usize>,
    by_kind: BTreeMap<&'static str, Vec<usize>>,
    taken_as_usual: BTreeMap<Name, Vec<TakenAsUsual>>,
}

impl Catalogue {
    /// From items in any order; of two with one sku the later one stands. What an item leaves out is filled with what is
    /// usual of its function, so that whoever calculates sees it whole.
    pub fn new(items: impl IntoIterator<Item = Item>) -> Self {
        let unique: BTreeMap<Name, Item> = items.into_iter().map(|item| (item.sku.clone(), item)).collect();
        let mut catalogue = Catalogue::default();
        for (place, (sku, item)) in unique.into_iter().enumerate() {
            let (item, taken) = filled(item);
            if !taken.is_empty() {
                catalogue.taken_as_usual.insert(sku.clone(), taken);
            }
            catalogue.by_kind.entry(item.attributes.kind()).or_default().push(place);
            catalogue.by_sku.insert(sku, place);
            catalogue.items.push(Arc::new(item));
        }
        catalogue
    }

    /// The item with a sku, retired or not.
    pub fn get(&self, sku: &str) -> Option<&Arc<Item>> {
        self.by_sku.get(sku).map(|&place| &self.items[place])
    }

    /// All items of a kind in order of sku, retired ones included.
    pub fn of_kind(&self, kind: &str) -> impl Iterator<Item = &Arc<Item>> {
        self.by_kind.get(kind).into_iter().flatten().map(|&place| &self.items[place])
    }

    /// What was taken as usual of an item, since it does not say it.
    pub fn taken_as_usual(&self, sku: &str) -> &[TakenAsUsual] {
        self.taken_as_usual.get(sku).map_or(&[], Vec::as_slice)
    }

    /// All items in order of sku.
    pub fn items(&self) -> &[Arc<Item>] {
        &self.items
    }
}
