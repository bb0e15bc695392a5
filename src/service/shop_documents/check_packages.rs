//! Whether a package makes sense, by itself and among the shop's items and other packages.

use std::collections::{BTreeMap, BTreeSet};

use crate::calc::findings::Fault;
use crate::calc::shop::package::Package;
use crate::calc::spec::input::ID_PATTERN;
use crate::calc::units::Name;
use crate::service::checks::Checks;

/// Everything that is wrong with a package; `items` are those of its skus that there are items for, with whether a
/// circuit leads to them, `others` the shop's packages, with or without the one that this replaces.
pub fn check_package(package: &Package, items: &BTreeMap<Name, bool>, others: &[Package]) -> Vec<Fault> {
    let mut checks = Checks::default();
    checks.code("/code", package.code.as_str(), "._-", true);
    checks.text("/description", &package.description, 200);
    checks.count("/equipment", package.equipment.len(), 0, 200);
    checks.count("/packages", package.packages.len(), 0, 50);
    checks.labour("/labour", &package.labour, 50);
    equipment(package, items, &mut checks);
    contents(package, others, &mut checks);
    checks.faults()
}

fn equipment(package: &Package, items: &BTreeMap<Name, bool>, checks: &mut Checks) {
    let mut seen = BTreeSet::new();
    for (place, entry) in package.equipment.iter().enumerate() {
        let at = format!("/equipment/{place}");
        let wired = items.get(&entry.sku);
        checks.must(wired.is_some(), format!("{at}/sku"), || {
            format!("there is no item '{}' in the catalogue: add it first, or mend the sku", entry.sku)
        });
        checks.whole(format!("{at}/quantity"), u64::from(entry.quantity), 1, 100);
        for (name, id) in [("station", &entry.station), ("panel", &entry.panel)] {
            let fits = id.as_ref().is_none_or(|id| is_id(id.as_str()));
            checks.must(fits, format!("{at}/{name}"), || {
                format!("no {name} of a boat can have this identifier: expected the pattern {ID_PATTERN}")
            });
        }
        checks.must(entry.wiring.is_none() || wired != Some(&false), format!("{at}/wiring"), || {
            format!("'{}' has no circuit of its own to be wired one way or the other: leave this out", entry.sku)
        });
        checks.must(seen.insert((&entry.sku, &entry.station, &entry.panel, entry.wiring)), at, || {
            format!("'{}' stands here twice for one station and panel: put the quantities together", entry.sku)
        });
    }
}

/// Whether a text fits [`ID_PATTERN`].
fn is_id(text: &str) -> bool {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit();
    text.len() <= 60 && text.starts_with(plain) && text.chars().all(|c| plain(c) || "_-".contains(c))
}

fn contents(package: &Package, others: &[Package], checks: &mut Checks) {
    let mut by_code: BTreeMap<&Name, &[Name]> =
        others.iter().map(|other| (&other.code, other.packages.as_slice())).collect();
    by_code.insert(&package.code, &package.packages);
    checks.once("/packages", "", package.packages.iter().map(Name::as_str));
    for (place, inner) in package.packages.iter().enumerate() {
        let at = format!("/packages/{place}");
        checks.must(by_code.contains_key(inner), at.clone(), || {
            format!("there is no package '{inner}': add it first, or mend the code")
        });
        let way = way_back(inner, &package.code, &by_code);
        checks.must(way.is_none(), at, || {
            let way: Vec<&str> = way.iter().flatten().map(|code| code.as_str()).collect();
            format!("the package would contain itself: {} → {}; take one of these out", package.code, way.join(" → "))
        });
    }
}

/// The shortest chain of packages from one to another, both included, each containing the next.
fn way_back<'a>(from: &'a Name, to: &Name, contents: &BTreeMap<&'a Name, &'a [Name]>) -> Option<Vec<&'a Name>> {
    let mut came_from: BTreeMap<&Name, Option<&'a Name>> = BTreeMap::from([(from, None)]);
    let mut wave = vec![from];
    while !wave.is_empty() {
        if let Some(reached) = wave.iter().copied().find(|code| *code == to) {
            let mut way = vec![reached];
            while let Some(Some(before)) = came_from.get(way[way.len() - 1]) {
                way.push(before);
            }
            way.reverse();
            return Some(way);
        }
        let mut next = Vec::new();
        for outer in wave {
            for inner in contents.get(outer).copied().unwrap_or_default() {
                if !came_from.contains_key(inner) {
                    came_from.insert(inner, Some(outer));
                    next.push(inner);
                }
            }
        }
        wave = next;
    }
    None
}
