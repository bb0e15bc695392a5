//! The catalogue as one value: items by sku, and by the marks that needs are looked up by.
//!
//! Everything is shared: another version of the catalogue, with some items changed, shares what did not change with the one
//! before it, so that a change is quick however large the catalogue is.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::shop::item::usual::{TakenAsUsual, filled};
use crate::shop::item::{Attributes, FuseFamily, Item, Stud};
use crate::units::{Length, Name, WireSize};

/// What tells the items of one kind apart that a need asks for. Items with one mark lie together.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Wire by size and colour, in small letters.
    Wire(WireSize, String),
    /// Cable by size and number of conductors.
    Cable(WireSize, u8),
    /// What goes on wire from one size to another, and on a stud.
    Sized(WireSize, WireSize, Option<Stud>),
    /// What is rated: thousandths of an ampere.
    Rated(Option<FuseFamily>, u64),
    /// Of a family only.
    Family(FuseFamily),
    /// Of a stud only.
    Stud(Stud),
    /// So wide as supplied, or going round so much: nanometres.
    Wide(i64),
    /// For a nominal voltage only.
    Volts(u16),
    /// All others of a kind.
    Other,
}

impl Mark {
    /// The mark of an item.
    pub fn of(attributes: &Attributes) -> Mark {
        match attributes {
            Attributes::Wire { size, colour, .. } => Mark::wire(*size, colour),
            Attributes::Cable { size, conductors, .. } => Mark::Cable(*size, *conductors),
            Attributes::RingTerminal { size_from, size_to, stud } => Mark::Sized(*size_from, *size_to, Some(*stud)),
            Attributes::Lug { size, stud } => Mark::Sized(*size, *size, Some(*stud)),
            Attributes::ButtSplice { size_from, size_to } | Attributes::TerminalBoot { size_from, size_to, .. } => {
                Mark::Sized(*size_from, *size_to, None)
            }
            Attributes::Fuse { family, rating_a, .. } => Mark::rated(Some(*family), *rating_a),
            Attributes::Breaker { rating_a, .. } => Mark::rated(None, *rating_a),
            Attributes::FuseHolder { family, .. } | Attributes::FuseBlock { family, .. } => Mark::Family(*family),
            Attributes::BatterySwitch { stud, .. }
            | Attributes::Bus { stud, .. }
            | Attributes::Combiner { stud, .. } => Mark::Stud(*stud),
            Attributes::HeatShrink { supplied_diameter: wide, .. } | Attributes::WireLabel { diameter_max: wide } => {
                Mark::Wide(wide.length().map_or(0, Length::nanometres))
            }
            Attributes::Charger { nominal_voltage_v, .. } => Mark::Volts(*nominal_voltage_v),
            _ => Mark::Other,
        }
    }

    /// The mark of wire.
    pub fn wire(size: WireSize, colour: &str) -> Mark {
        Mark::Wire(size, colour.to_ascii_lowercase())
    }

    /// The mark of what is rated for so many amperes.
    pub fn rated(family: Option<FuseFamily>, rating_a: f64) -> Mark {
        Mark::Rated(family, (rating_a * 1000.0).round() as u64)
    }
}

type Items = Arc<Vec<Arc<Item>>>;

/// All items of one catalogue version.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// In order of sku.
    items: Items,
    /// Items of each kind by their mark, each list in order of sku.
    marked: BTreeMap<&'static str, BTreeMap<Mark, Items>>,
    taken_as_usual: Arc<BTreeMap<Name, Vec<TakenAsUsual>>>,
}

fn place(items: &[Arc<Item>], sku: &str) -> Result<usize, usize> {
    items.binary_search_by(|item| item.sku.as_str().cmp(sku))
}

impl Catalogue {
    /// From items in any order; of two with one sku the later one stands. What an item leaves out is filled with what is
    /// usual of its function, so that whoever calculates sees it whole.
    pub fn new(items: impl IntoIterator<Item = Item>) -> Self {
        let mut all: Vec<Item> = items.into_iter().collect();
        // Nearly always they come in order, and no sku twice.
        if !all.is_sorted_by(|a, b| a.sku < b.sku) {
            let unique: BTreeMap<Name, Item> = all.into_iter().map(|item| (item.sku.clone(), item)).collect();
            all = unique.into_values().collect();
        }
        let mut taken_as_usual = BTreeMap::new();
        let mut whole = |item: Item| {
            let (item, taken) = filled(item);
            if !taken.is_empty() {
                taken_as_usual.insert(item.sku.clone(), taken);
            }
            Arc::new(item)
        };
        let items: Vec<Arc<Item>> = all.into_iter().map(&mut whole).collect();
        let mut marked: BTreeMap<&'static str, BTreeMap<Mark, Vec<Arc<Item>>>> = BTreeMap::new();
        for item in &items {
            let of_kind = marked.entry(item.attributes.kind()).or_default();
            of_kind.entry(Mark::of(&item.attributes)).or_default().push(Arc::clone(item));
        }
        let shared = |lists: BTreeMap<Mark, Vec<Arc<Item>>>| {
            lists.into_iter().map(|(mark, list)| (mark, Arc::new(list))).collect()
        };
        let marked = marked.into_iter().map(|(kind, lists)| (kind, shared(lists))).collect();
        Catalogue { items: Arc::new(items), marked, taken_as_usual: Arc::new(taken_as_usual) }
    }

    /// The catalogue with these items in place of those with their skus, or beside all others.
    pub fn with(&self, changed: impl IntoIterator<Item = Item>) -> Self {
        let mut next = self.clone();
        for item in changed {
            next.put(item);
        }
        next
    }

    fn put(&mut self, item: Item) {
        let (item, taken) = filled(item);
        let item = Arc::new(item);
        if !taken.is_empty() || self.taken_as_usual.contains_key(&item.sku) {
            let usual = Arc::make_mut(&mut self.taken_as_usual);
            usual.remove(&item.sku);
            if !taken.is_empty() {
                usual.insert(item.sku.clone(), taken);
            }
        }
        let items = Arc::make_mut(&mut self.items);
        let before = match place(items, item.sku.as_str()) {
            Ok(at) => Some(std::mem::replace(&mut items[at], Arc::clone(&item))),
            Err(at) => {
                items.insert(at, Arc::clone(&item));
                None
            }
        };
        if let Some(before) = before
            && let Some(lists) = self.marked.get_mut(before.attributes.kind())
            && let Some(list) = lists.get_mut(&Mark::of(&before.attributes))
            && let Ok(at) = place(list, before.sku.as_str())
        {
            Arc::make_mut(list).remove(at);
        }
        let lists = self.marked.entry(item.attributes.kind()).or_default();
        let list = Arc::make_mut(lists.entry(Mark::of(&item.attributes)).or_default());
        if let Err(at) = place(list, item.sku.as_str()) {
            list.insert(at, item);
        }
    }

    /// The item with a sku, retired or not.
    pub fn get(&self, sku: &str) -> Option<&Arc<Item>> {
        place(&self.items, sku).ok().map(|at| &self.items[at])
    }

    /// All items of a kind, retired ones included; in order of their marks.
    pub fn of_kind(&self, kind: &str) -> impl Iterator<Item = &Arc<Item>> {
        self.marked.get(kind).into_iter().flat_map(BTreeMap::values).flat_map(|list| list.iter())
    }

    /// The items of a kind with one mark, in order of sku.
    pub fn marked(&self, kind: &str, mark: &Mark) -> &[Arc<Item>] {
        self.marked.get(kind).and_then(|lists| lists.get(mark)).map_or(&[], |list| list.as_slice())
    }

    /// The items of a kind whose marks suit, in order of those. There are few marks of a kind, however many items.
    pub fn where_marked<'a>(
        &'a self,
        kind: &str,
        suits: impl Fn(&Mark) -> bool + 'a,
    ) -> impl Iterator<Item = &'a Arc<Item>> {
        let lists = self.marked.get(kind).into_iter().flatten();
        lists.filter(move |(mark, _)| suits(mark)).flat_map(|(_, list)| list.iter())
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

#[cfg(test)]
mod tests {
    use super::*;

    fn wire(sku: &str, size: &str, colour: &str) -> Item {
        let item = serde_json::json!({
            "sku": sku, "description": sku, "category": "wire", "selling_unit": "foot", "buying_unit": "spool",
            "buying_quantity": "100",
            "attributes": {"kind": "wire", "size": size, "colour": colour, "insulation_c": 105}
        });
        serde_json::from_value(item).unwrap()
    }

    fn skus<'a>(items: impl IntoIterator<Item = &'a Arc<Item>>) -> Vec<&'a str> {
        items.into_iter().map(|item| item.sku.as_str()).collect()
    }

    #[test]
    fn a_changed_catalogue_is_as_one_that_was_made_anew() {
        let first = [wire("B", "16 AWG", "Brown"), wire("D", "16 AWG", "red"), wire("A", "14 AWG", "brown")];
        let changes = [wire("B", "14 AWG", "brown"), wire("C", "16 AWG", "brown"), wire("D", "16 AWG", "RED")];
        let before = Catalogue::new(first.clone());
        let after = before.with(changes.clone());
        let anew = Catalogue::new(first.into_iter().chain(changes));
        assert_eq!(after.items(), anew.items());
        let brown = Mark::wire("14 AWG".parse().unwrap(), "BROWN");
        assert_eq!(skus(after.marked("wire", &brown)), ["A", "B"]);
        for catalogue in [&after, &anew] {
            assert_eq!(skus(catalogue.of_kind("wire")), ["A", "B", "C", "D"]);
        }
        assert_eq!(skus(before.marked("wire", &brown)), ["A"], "what was read before stays as it was");
        assert!(after.get("C").is_some() && before.get("C").is_none());
    }
}
