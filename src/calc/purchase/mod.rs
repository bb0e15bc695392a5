//! From what the job needs to what is bought: items matched by what they are, packs rounded up, wire cut from stock.
//! What no item meets is a gap.

pub mod alternatives;
mod components;
mod counted;
pub mod cut_plan;
mod fit_out;
pub mod matching;
pub mod next_size;
mod overrule;
pub mod price_break;
mod wire;
mod wording;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::cuts::Work;
use crate::findings::{Fault, Gap, Warning};
use crate::purchase::matching::{Candidate, Miss, Misses, Nearest};
use crate::purchase::price_break::{CostSteps, Order};
use crate::quote::{PurchaseComponent, StockUse};
use crate::requirements::{Need, Requirement};
use crate::shop::Shop;
use crate::shop::item::Item;
use crate::spec::input::OverruleInput;
use crate::take_off::AppliedOverrule;
use crate::units::Name;

use wire::Wire;
pub use wire::{ShelfCut, ShelfLength};

/// What is bought of one item, and for what.
#[derive(Clone, Debug)]
pub struct Pick {
    /// The item.
    pub item: Arc<Item>,
    /// Keys of the requirements it meets, wholly or in part, in order.
    pub meets: Vec<Name>,
    /// Selling units of it that go into the boat.
    pub used: Decimal,
    /// Selling units charged where the customer pays for what is used. Wire that is cut from spools of several items is
    /// all charged as the item that most of it comes from, so that one wire has one price.
    pub charged_when_used: Decimal,
    /// Buying units ordered and what they cost.
    pub order: Order,
    /// Stock lengths and their cuts, for wire.
    pub stock: Vec<StockUse>,
}

/// What is bought, and what could not be.
#[derive(Clone, Debug, Default)]
pub struct Chosen {
    /// What is bought, in order of sku.
    pub picks: Vec<Pick>,
    /// Requirements that no item meets.
    pub gaps: Vec<Gap>,
    /// Overrules of items that cannot stand; pointers start at the spec.
    pub faults: Vec<Fault>,
    /// Overrules of items that were applied.
    pub applied: Vec<AppliedOverrule>,
    /// Chosen items that only good practice speaks against.
    pub warnings: Vec<Warning>,
    /// What was decided together, and how far it is proven to be the cheapest; in order of the first requirement.
    pub components: Vec<PurchaseComponent>,
    /// Lengths that are taken from the shelf, where there is one beside.
    pub from_shelf: Vec<ShelfCut>,
}

/// Chooses what to buy for all requirements at the cost prices of a day.
///
/// Of the items that meet a requirement the cheapest to buy for the whole quantity stands, packs rounded up and price
/// breaks and multiples reached for; of two at one cost the one that comes sooner, then the first by sku. Requirements that share an
/// item share its packs. What the customer supplies is not bought. The order of the requirements makes no difference.
pub fn choose(requirements: &[Requirement], shop: &Shop, day: NaiveDate, overrules: &[OverruleInput]) -> Chosen {
    choose_beside(requirements, shop, day, overrules, &Beside::default())
}

/// What lies on the shelf while it is chosen what to buy beside it.
#[derive(Clone, Debug, Default)]
pub struct Beside {
    /// By requirement, the lengths that its pieces may be cut from, for nothing.
    pub lengths: BTreeMap<Name, Vec<ShelfLength>>,
    /// Items of which something lies there: of two at one cost they go first.
    pub there: BTreeSet<Name>,
}

/// The same beside what lies on the shelf: wire and cable are cut from its lengths where that is cheaper. For lists of what
/// to buy, never for a price.
pub fn choose_beside(
    requirements: &[Requirement],
    shop: &Shop,
    day: NaiveDate,
    overrules: &[OverruleInput],
    beside: &Beside,
) -> Chosen {
    let mut sorted: Vec<&Requirement> = requirements.iter().collect();
    sorted.sort_by(|a, b| a.key.cmp(&b.key));
    let mut chosen = Chosen::default();
    let by_choice = overrule::check(&sorted, shop, overrules, &mut chosen);

    let mut wires = Vec::new();
    let mut counted = Vec::new();
    for requirement in sorted {
        if outstanding(requirement) <= Decimal::ZERO {
            continue;
        }
        let overruled = by_choice.get(&requirement.key);
        let candidates = match overruled {
            Some(overrule) => overrule::candidates(requirement, overrule, shop, day, &mut chosen),
            None => candidates(requirement, shop, day),
        };
        let candidates = candidates.map(|mut candidates| {
            // What the shop has of goes before what comes sooner.
            candidates.sort_by_key(|candidate| !beside.there.contains(&candidate.item.sku));
            candidates
        });
        if requirement.need.by_length() {
            let lengths = beside.lengths.get(&requirement.key).cloned().unwrap_or_default();
            match candidates {
                Err(gap) if lengths.is_empty() => chosen.gaps.push(gap),
                Err(gap) => wires.push(Wire { requirement, candidates: Vec::new(), lengths, gap: Some(gap) }),
                Ok(candidates) => wires.push(Wire { requirement, candidates, lengths, gap: None }),
            }
            continue;
        }
        match candidates {
            Err(gap) => chosen.gaps.push(gap),
            Ok(candidates) => counted.push(counted::Counted { requirement, candidates }),
        }
    }
    let mut bought = Bought::default();
    wire::buy(&wires, shop, &mut bought, &mut chosen.gaps);
    counted::buy(&mut counted, &mut bought, &mut chosen.gaps);
    chosen.gaps.sort_by(|a, b| a.what.cmp(&b.what));
    let decided = std::mem::take(&mut bought.decided);
    chosen.from_shelf = std::mem::take(&mut bought.from_shelf);
    chosen.picks = bought.into_picks(day, &mut chosen.gaps);
    chosen.components = components::components(decided, &chosen.picks);
    chosen
}

/// How much of a requirement the shop has to supply.
fn outstanding(requirement: &Requirement) -> Decimal {
    requirement.quantity - requirement.customer_supplied
}

/// The items that meet a requirement, what comes sooner first, then by sku; or the gap that stands instead.
fn candidates(requirement: &Requirement, shop: &Shop, day: NaiveDate) -> Result<Vec<Candidate>, Gap> {
    let need = &requirement.need;
    let mut fitting = Vec::new();
    matching::each_marked(need, shop, &mut |item| {
        fitting.extend(matching::candidate(need, item, &shop.settings, day).ok());
    });
    if !fitting.is_empty() {
        fitting.sort_by(|a, b| (a.item.lead_time_days, &a.item.sku).cmp(&(b.item.lead_time_days, &b.item.sku)));
        return Ok(fitting);
    }
    // Which item comes nearest is only asked where none fits.
    let mut nearest = None;
    let mut look_at = |item: &Arc<Item>| {
        if let Err(misses) = matching::candidate(need, item, &shop.settings, day) {
            nearest = Nearest::nearer(nearest.take(), item, misses);
        }
    };
    match need {
        Need::Item { sku } => shop.catalogue.get(sku.as_str()).into_iter().for_each(&mut look_at),
        need => {
            let kind = matching::kind_of(need).expect("only a particular item has no kind");
            shop.catalogue.of_kind(kind).for_each(&mut look_at);
        }
    }
    Err(unmet(requirement, nearest.as_ref(), day))
}

/// The gap of a requirement that no item meets, with the item that comes nearest and what it lacks.
fn unmet(requirement: &Requirement, nearest: Option<&Nearest>, day: NaiveDate) -> Gap {
    let need = &requirement.need;
    let (reason, mend) = match (nearest, need) {
        (None, Need::Item { sku }) => (
            format!("the catalogue has no item {sku}"),
            format!("Add {sku} to the catalogue, or name another item in the spec."),
        ),
        (None, _) => (
            "the catalogue has no item of this kind".to_owned(),
            "Add an item that meets the need to the catalogue.".to_owned(),
        ),
        (Some(Nearest { item, misses }), _) => {
            let lacks = wording::shortfall(need, item, *misses, day);
            let reason = match need {
                Need::Item { sku } => format!("{sku} cannot be quoted: {lacks}"),
                _ => format!("no item meets it; {} comes nearest, but {lacks}", item.sku),
            };
            (reason, mend(item, *misses, day))
        }
    };
    gap(requirement, reason, mend)
}

fn mend(item: &Item, misses: Misses, day: NaiveDate) -> String {
    let sku = &item.sku;
    match misses.iter().next() {
        Some(miss) if misses.iter().all(Miss::of_the_shops_tables) => match miss {
            Miss::Price => format!("Give {sku} a cost price that holds on {day}."),
            _ => format!("Give {sku} a category and a tax class that the shop's settings define."),
        },
        Some(Miss::Retired) => format!("Bring {sku} back into the catalogue, or take another item."),
        _ => "Add an item that meets the need to the catalogue, or choose one by an overrule.".to_owned(),
    }
}

fn gap(requirement: &Requirement, reason: String, mend: String) -> Gap {
    let quantity = outstanding(requirement).normalize();
    let need = format!("{quantity} {} of {}", requirement.unit.symbol(), wording::needed(&requirement.need));
    Gap { what: requirement.key.clone(), need, reason, mend }
}

/// The gap of a requirement whose cost is beyond what an amount holds.
fn beyond_reckoning(requirement: &Requirement) -> Gap {
    gap(
        requirement,
        "its quantity or cost is too large to reckon with".to_owned(),
        "Check the quantity in the spec and the cost price in the catalogue.".to_owned(),
    )
}

/// What is bought of one item so far.
struct Share {
    item: Arc<Item>,
    costs: CostSteps,
    meets: Vec<Name>,
    used: Decimal,
    charged_when_used: Decimal,
    count: u64,
    stock: Vec<StockUse>,
}

/// Requirements that were decided together, and what they cannot cost less than.
struct Decided {
    requirements: Vec<Name>,
    /// Items that they could be met by.
    items: BTreeSet<Name>,
    lower_bound: Decimal,
}

/// Collects what is bought by item, so that requirements met by one item make one order.
struct Bought {
    shares: BTreeMap<Name, Share>,
    decided: Vec<Decided>,
    from_shelf: Vec<ShelfCut>,
    /// What may still be worked on cut plans.
    work: Work,
}

impl Default for Bought {
    fn default() -> Self {
        Bought { shares: BTreeMap::new(), decided: Vec::new(), from_shelf: Vec::new(), work: Work::steps(WORK) }
    }
}

/// Steps of work on all cut plans of a purchase together: a quote is waited for.
const WORK: u64 = 150_000_000;

/// Groups places that are joined by the names they share, in order of the first of each.
fn joined<'a>(names: impl Iterator<Item = Vec<&'a Name>>) -> Vec<Vec<usize>> {
    let mut group_of: Vec<usize> = Vec::new();
    let mut by_name: BTreeMap<&Name, usize> = BTreeMap::new();
    for (place, names) in names.enumerate() {
        group_of.push(place);
        for name in names {
            let other = group_of[*by_name.entry(name).or_insert(place)];
            let own = group_of[place];
            let (first, second) = (own.min(other), own.max(other));
            group_of.iter_mut().filter(|group| **group == second).for_each(|group| *group = first);
        }
    }
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, group) in group_of.into_iter().enumerate() {
        groups.entry(group).or_default().push(place);
    }
    groups.into_values().collect()
}

impl Bought {
    fn share(&mut self, candidate: &Candidate) -> &mut Share {
        self.shares.entry(candidate.item.sku.clone()).or_insert_with(|| Share {
            item: Arc::clone(&candidate.item),
            costs: candidate.costs.clone(),
            meets: Vec::new(),
            used: Decimal::ZERO,
            charged_when_used: Decimal::ZERO,
            count: 0,
            stock: Vec::new(),
        })
    }

    fn into_picks(self, day: NaiveDate, gaps: &mut Vec<Gap>) -> Vec<Pick> {
        let mut picks = Vec::new();
        for share in self.shares.into_values() {
            let Share { item, costs, mut meets, used, charged_when_used, count, stock } = share;
            meets.sort();
            meets.dedup();
            match costs.cheapest(count) {
                Some(order) => picks.push(Pick { item, meets, used, charged_when_used, order, stock }),
                None => gaps.extend(meets.into_iter().map(|what| Gap {
                    what,
                    need: format!("{count} of {}", item.sku),
                    reason: format!("no cost price of {day} reaches to {count} of it"),
                    mend: format!("Check the quantity in the spec and the cost prices of {}.", item.sku),
                })),
            }
        }
        picks
    }
}
