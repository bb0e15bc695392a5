//! Wire and cable: a requirement's pieces planned over every spool length of the items that meet it.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::cuts::Work;
use crate::findings::Gap;
use crate::purchase::cut_plan::{CutPlan, OnShelf, OpenedStock, StockChoice, plan_cuts_within};
use crate::purchase::matching::Candidate;
use crate::purchase::price_break::CostSteps;
use crate::purchase::{Bought, Decided, WORK, beyond_reckoning, gap, joined};
use crate::quote::{PlannedCut, StockUse};
use crate::requirements::{Piece, Requirement, length_quantity};
use crate::shelf::Spot;
use crate::shop::Shop;
use crate::shop::item::{BuyingUnit, Item, SellingUnit};
use crate::units::{Length, LengthUnit, Name};

/// The unit of length that an item is sold by.
fn sold_by(item: &Item) -> LengthUnit {
    match item.selling_unit {
        SellingUnit::Metre => LengthUnit::M,
        SellingUnit::Foot | SellingUnit::Each => LengthUnit::Ft,
    }
}

/// A length of an item that lies on the shelf, and how many of it lie there.
#[derive(Clone, Debug, PartialEq)]
pub struct ShelfLength {
    /// The item.
    pub item: Arc<Item>,
    /// Where it lies.
    pub at: Spot,
    /// Which length that was left over; none for whole spools.
    pub offcut: Option<Name>,
    /// How long it is.
    pub length: Length,
    /// How many.
    pub there: u32,
}

/// A length that is taken from the shelf, and what is cut from it.
#[derive(Clone, Debug, PartialEq)]
pub struct ShelfCut {
    /// The item.
    pub item: Arc<Item>,
    /// Where it lies.
    pub at: Spot,
    /// Which length that was left over; none for a whole spool.
    pub offcut: Option<Name>,
    /// How long it is.
    pub length: Length,
    /// Cuts in order.
    pub cuts: Vec<PlannedCut>,
    /// What is left of it.
    pub left: Length,
    /// Keys of the requirements that it meets, in part or wholly.
    pub meets: Vec<Name>,
}

fn stock_choice(candidate: &Candidate) -> Option<StockChoice> {
    let item = &candidate.item;
    let unit = Decimal::from(sold_by(item).nanometres());
    let length = item.buying_quantity.checked_mul(unit)?.round().to_i64().filter(|&nm| nm > 0)?;
    Some(StockChoice {
        sku: item.sku.clone(),
        length: Length::from_nanometres(length),
        cut_to_order: matches!(item.buying_unit, BuyingUnit::Foot | BuyingUnit::Metre),
        costs: candidate.costs.clone(),
        lead_time_days: item.lead_time_days,
        on_shelf: None,
    })
}

fn shelf_choice(length: &ShelfLength) -> StockChoice {
    StockChoice {
        sku: length.item.sku.clone(),
        length: length.length,
        cut_to_order: false,
        costs: CostSteps::default(),
        lead_time_days: 0,
        on_shelf: Some(OnShelf { there: length.there, offcut: length.offcut.is_some() }),
    }
}

/// The pieces that the shop supplies, in order of label: of what the customer brings, the longest are cut first.
fn pieces(requirement: &Requirement) -> Vec<Piece> {
    let unit = match requirement.unit {
        SellingUnit::Metre => LengthUnit::M,
        SellingUnit::Foot | SellingUnit::Each => LengthUnit::Ft,
    };
    let exact = |quantity: Decimal| {
        let length = quantity.checked_mul(Decimal::from(unit.nanometres()));
        Length::from_nanometres(length.and_then(|nm| nm.round().to_i64()).unwrap_or(i64::MAX / 4))
    };
    let mut pieces = requirement.pieces.clone();
    if pieces.is_empty() {
        pieces.push(Piece { label: requirement.key.clone(), cut: exact(requirement.quantity) });
    }
    let mut brought = exact(requirement.customer_supplied);
    pieces.sort_by(|a, b| Reverse(a.cut).cmp(&Reverse(b.cut)).then_with(|| a.label.cmp(&b.label)));
    pieces.retain(|piece| {
        let supplied = piece.cut <= brought;
        if supplied {
            brought = brought - piece.cut;
        }
        !supplied
    });
    pieces.sort_by(|a, b| a.label.cmp(&b.label).then(a.cut.cmp(&b.cut)));
    pieces
}

/// A cut plan with the candidates and stock that its places refer to: first what can be bought, then what is there.
struct Planned<'a> {
    plan: CutPlan,
    candidates: Vec<&'a Candidate>,
    lengths: Vec<ShelfLength>,
    stock: Vec<StockChoice>,
}

/// The cheapest plan that was found, or none where the amounts are beyond reckoning.
///
/// Spools of one price category may be mixed in a plan, so that all of a wire is charged in one way; what is on the shelf may
/// be mixed with any.
fn planned<'a>(
    pieces: &[Piece],
    candidates: &[&'a Candidate],
    lengths: &[ShelfLength],
    work: &mut Work,
) -> Option<Planned<'a>> {
    let mut by_category: BTreeMap<Option<&Name>, Vec<(&Candidate, StockChoice)>> = BTreeMap::new();
    for candidate in candidates {
        if let Some(choice) = stock_choice(candidate) {
            by_category.entry(Some(&candidate.item.category)).or_default().push((candidate, choice));
        }
    }
    if by_category.is_empty() {
        by_category.insert(None, Vec::new());
    }
    let plans = by_category.into_values().map(|choices| {
        let (candidates, mut stock): (Vec<&Candidate>, Vec<StockChoice>) = choices.into_iter().unzip();
        stock.extend(lengths.iter().map(shelf_choice));
        Planned { plan: plan_cuts_within(pieces, &stock, work), candidates, lengths: lengths.to_vec(), stock }
    });
    let whole = plans.filter(|p| !p.plan.opened.is_empty() || p.plan.too_long.len() == pieces.len());
    let mut whole: Vec<Planned> = whole.collect();
    let fewest = whole.iter().map(|planned| planned.plan.too_long.len()).min()?;
    whole.retain(|planned| planned.plan.too_long.len() == fewest);
    let lower_bound = whole.iter().map(|planned| planned.plan.lower_bound).min()?;
    let mut best = whole.into_iter().min_by(|a, b| a.plan.cost.cmp(&b.plan.cost))?;
    best.plan.lower_bound = lower_bound;
    Some(best)
}

/// What a requirement costs from one item alone; `None` where that does not hold every piece, or is beyond reckoning.
pub(super) fn cost_alone(requirement: &Requirement, candidate: &Candidate) -> Option<Decimal> {
    /// Steps of work on what is only told and not bought.
    const TOLD: u64 = 200_000;
    let planned = planned(&pieces(requirement), &[candidate], &[], &mut Work::steps(TOLD))?;
    planned.plan.too_long.is_empty().then_some(planned.plan.cost)
}

/// The item that most of a requirement's wire would come from.
pub(super) fn main_item(requirement: &Requirement, candidates: &[Candidate]) -> Option<Name> {
    let pieces = pieces(requirement);
    let planned = planned(&pieces, &candidates.iter().collect::<Vec<_>>(), &[], &mut Work::steps(WORK))?;
    let choice = main_choice(&taken(&planned.plan, &pieces))?;
    Some(planned.stock[choice].sku.clone())
}

/// What is cut from each choice of a plan.
fn taken(plan: &CutPlan, pieces: &[Piece]) -> BTreeMap<usize, Length> {
    let mut taken: BTreeMap<usize, Length> = BTreeMap::new();
    for opened in &plan.opened {
        *taken.entry(opened.choice).or_default() += opened.taken(pieces);
    }
    taken
}

/// The choice that most is cut from; of two that give as much the first by sku, since choices stand in that order.
fn main_choice(taken: &BTreeMap<usize, Length>) -> Option<usize> {
    taken.iter().max_by_key(|&(&choice, &length)| (length, Reverse(choice))).map(|(&choice, _)| choice)
}

/// A requirement with the items that meet it, and the lengths of such that are on the shelf.
pub(super) struct Wire<'a> {
    pub(super) requirement: &'a Requirement,
    pub(super) candidates: Vec<Candidate>,
    pub(super) lengths: Vec<ShelfLength>,
    /// What stands where it can only come from the shelf.
    pub(super) gap: Option<Gap>,
}

/// Steps of work that every plan gets before what is left is shared by those that are not proven.
const FIRST: u64 = 3_000_000;

/// Buys all wire and cable by the cheapest cut plans that were found.
///
/// Requirements that no item can meet both of are planned apart. Where they share items, one spool may serve several of
/// them: those that every item of theirs can meet are planned in one as well, and the cheaper way stands. All get a little
/// work first; those that are not proven by it share the rest alike, whatever they are called.
pub(super) fn buy<'a>(wires: &'a [Wire<'a>], shop: &Shop, bought: &mut Bought, gaps: &mut Vec<Gap>) {
    let skus = wires.iter().map(|wire| {
        let there = wire.lengths.iter().map(|length| &length.item.sku);
        wire.candidates.iter().map(|candidate| &candidate.item.sku).chain(there).collect()
    });
    let groups: Vec<Vec<&'a Wire<'a>>> =
        joined(skus).into_iter().map(|group| group.into_iter().map(|place| &wires[place]).collect()).collect();
    let mut together: Vec<Together> = Vec::with_capacity(groups.len());
    for group in &groups {
        let mut part = bought.work.part(FIRST * (group.len() as u64 + 2));
        together.push(buy_together(group, &mut part));
        bought.work.give_back(part);
    }
    let open: Vec<usize> = (0..groups.len()).filter(|&place| !together[place].is_proven()).collect();
    for (nth, &place) in open.iter().enumerate() {
        let mut part = bought.work.part(bought.work.left() / (open.len() - nth) as u64);
        let again = buy_together(&groups[place], &mut part);
        bought.work.give_back(part);
        together[place].better_of(again);
    }
    for Together { ways, decided, beyond } in together {
        gaps.extend(beyond);
        for way in &ways {
            gaps.extend(too_long(way, shop));
            enter(way, shop, bought);
        }
        bought.decided.extend(decided);
    }
}

/// Pieces with the place of the requirement that each belongs to.
struct Owned {
    pieces: Vec<Piece>,
    owners: Vec<usize>,
}

/// The pieces of requirements, in order of label.
fn owned(wires: &[&Wire<'_>]) -> Owned {
    let of = |(place, wire): (usize, &&Wire)| {
        pieces(wire.requirement).into_iter().map(move |piece| (piece, place)).collect::<Vec<_>>()
    };
    let mut all: Vec<(Piece, usize)> = wires.iter().enumerate().flat_map(of).collect();
    all.sort_by(|a, b| a.0.label.cmp(&b.0.label).then(a.0.cut.cmp(&b.0.cut)).then(a.1.cmp(&b.1)));
    let (pieces, owners) = all.into_iter().unzip();
    Owned { pieces, owners }
}

/// A way to buy some requirements together.
struct Way<'a> {
    wires: Vec<&'a Wire<'a>>,
    owned: Owned,
    planned: Planned<'a>,
}

/// How requirements that share items are bought.
struct Together<'a> {
    ways: Vec<Way<'a>>,
    decided: Option<Decided>,
    /// Gaps of what is beyond reckoning.
    beyond: Vec<Gap>,
}

impl<'a> Together<'a> {
    fn cost(&self) -> Option<Decimal> {
        cost_of(&self.ways)
    }

    /// Whether there is nothing left to prove.
    fn is_proven(&self) -> bool {
        self.decided.as_ref().is_none_or(|decided| Some(decided.lower_bound) >= self.cost())
    }

    /// The cheaper of two, with the higher of their bounds.
    fn better_of(&mut self, other: Together<'a>) {
        let bounds = [&self.decided, &other.decided].map(|decided| decided.as_ref().map(|d| d.lower_bound));
        let (rank, of_other) = ((left_out(&self.ways), self.cost()), (left_out(&other.ways), other.cost()));
        if other.beyond.len() <= self.beyond.len() && of_other < rank {
            *self = other;
        }
        if let (Some(decided), Some(bound)) = (&mut self.decided, bounds.into_iter().max().flatten()) {
            decided.lower_bound = bound;
        }
    }
}

fn buy_together<'a>(wires: &[&'a Wire<'a>], work: &mut Work) -> Together<'a> {
    let mut apart: Vec<Way> = Vec::new();
    let mut beyond = Vec::new();
    let mut decided = Decided { requirements: Vec::new(), items: BTreeSet::new(), lower_bound: Decimal::ZERO };
    // What one has taken from the shelf is not there for the next.
    let mut gone: Vec<ShelfLength> = Vec::new();
    for wire in wires {
        let owned = owned(std::slice::from_ref(wire));
        let lengths = without(&wire.lengths, &gone);
        let candidates: Vec<&Candidate> = wire.candidates.iter().collect();
        let Some(planned) = planned(&owned.pieces, &candidates, &lengths, work) else {
            beyond.push(beyond_reckoning(wire.requirement));
            continue;
        };
        gone.extend(planned.shelf_lengths().cloned());
        decided.requirements.push(wire.requirement.key.clone());
        decided.items.extend(wire.candidates.iter().map(|candidate| candidate.item.sku.clone()));
        apart.push(Way { wires: vec![wire], owned, planned });
    }
    let ways = match (apart.as_slice(), wires) {
        ([], _) => return Together { ways: Vec::new(), decided: None, beyond },
        ([only], [_]) => {
            decided.lower_bound = only.planned.plan.lower_bound;
            apart
        }
        // Where one is beyond reckoning, nothing is certain of the others together.
        _ if apart.len() < wires.len() => apart,
        _ => {
            let together = in_one(wires, work);
            decided.lower_bound = bound_together(wires, together.as_ref(), &apart, work);
            match together {
                Some(way) if cheaper(&way, &apart) => vec![way],
                _ => apart,
            }
        }
    };
    Together { ways, decided: Some(decided), beyond }
}

/// Lengths less those that are gone, each of which is one.
fn without(lengths: &[ShelfLength], gone: &[ShelfLength]) -> Vec<ShelfLength> {
    let left = lengths.iter().filter_map(|length| {
        let same = |other: &&ShelfLength| {
            (&other.item.sku, &other.at, &other.offcut) == (&length.item.sku, &length.at, &length.offcut)
        };
        let there = length.there.saturating_sub(gone.iter().filter(same).count() as u32);
        (there > 0).then(|| ShelfLength { there, ..length.clone() })
    });
    left.collect()
}

impl Planned<'_> {
    /// The length on the shelf that a choice is.
    fn length(&self, choice: usize) -> Option<&ShelfLength> {
        self.lengths.get(choice.checked_sub(self.candidates.len())?)
    }

    /// Every length that is taken from the shelf.
    fn shelf_lengths(&self) -> impl Iterator<Item = &ShelfLength> {
        self.plan.opened.iter().filter_map(|opened| self.length(opened.choice))
    }
}

/// All pieces of several requirements from the items that meet every one of them.
fn in_one<'a>(wires: &[&'a Wire<'a>], work: &mut Work) -> Option<Way<'a>> {
    let (first, others) = wires.split_first()?;
    let has = |wire: &Wire, sku: &Name| wire.candidates.iter().any(|candidate| candidate.item.sku == *sku);
    let shared = first.candidates.iter().filter(|candidate| others.iter().all(|wire| has(wire, &candidate.item.sku)));
    let there = first.lengths.iter().filter(|length| others.iter().all(|wire| wire.lengths.contains(length)));
    let there: Vec<ShelfLength> = there.cloned().collect();
    let owned = owned(wires);
    let planned = planned(&owned.pieces, &shared.collect::<Vec<_>>(), &there, work)?;
    Some(Way { wires: wires.to_vec(), owned, planned })
}

/// What no way of buying several requirements can cost less than: what they would cost if every item could meet all of
/// them, or at least what the dearest of them cannot cost less than by itself.
fn bound_together(wires: &[&Wire], together: Option<&Way>, apart: &[Way], work: &mut Work) -> Decimal {
    // With lengths on the shelf each was planned with what the others had left: nothing is certain of it then.
    if wires.iter().any(|wire| !wire.lengths.is_empty()) {
        return Decimal::ZERO;
    }
    let by_itself = apart.iter().map(|way| way.planned.plan.lower_bound).max().unwrap_or_default();
    let mut any: BTreeMap<&Name, &Candidate> = BTreeMap::new();
    for candidate in wires.iter().flat_map(|wire| &wire.candidates) {
        any.insert(&candidate.item.sku, candidate);
    }
    let stock: Option<Vec<StockChoice>> = any.values().map(|candidate| stock_choice(candidate)).collect();
    // Apart, each may be cut to order from another item, which no plan of all of them together does.
    let certain = stock.filter(|stock| stock.iter().filter(|choice| choice.cut_to_order).count() <= 1);
    let Some(stock) = certain.filter(|_| apart.iter().all(|way| way.planned.plan.too_long.is_empty())) else {
        return by_itself;
    };
    let bound = match together {
        Some(way) if way.planned.stock.len() == stock.len() => way.planned.plan.lower_bound,
        _ => plan_cuts_within(&owned(wires).pieces, &stock, work).lower_bound,
    };
    bound.max(by_itself)
}

/// What ways cost that are bought in one; `None` beyond reckoning.
fn cost_of(ways: &[Way]) -> Option<Decimal> {
    let mut counts: BTreeMap<&Name, (&Candidate, u64)> = BTreeMap::new();
    for way in ways {
        // What is needed, and not what each would order alone: a least order is then met once by all of them.
        for (&choice, &count) in &way.planned.plan.needed {
            let candidate = way.planned.candidates[choice];
            counts.entry(&candidate.item.sku).or_insert((candidate, 0)).1 += count;
        }
    }
    let orders = counts.into_values().map(|(candidate, count)| Some(candidate.costs.cheapest(count)?.cost));
    orders.sum()
}

fn left_out(ways: &[Way]) -> usize {
    ways.iter().map(|way| way.planned.plan.too_long.len()).sum()
}

/// Whether one way leaves no more out than several together, and is cheaper.
fn cheaper(way: &Way, others: &[Way]) -> bool {
    let cost = cost_of(others);
    way.planned.plan.too_long.len() <= left_out(others) && cost.is_none_or(|cost| way.planned.plan.cost < cost)
}

/// Enters a plan into what is bought, and into what is taken from the shelf.
fn enter(way: &Way, shop: &Shop, bought: &mut Bought) {
    let Way { wires, owned: Owned { pieces, owners }, planned } = way;
    let Planned { plan, candidates, .. } = planned;
    let keys = |cuts: &mut dyn Iterator<Item = usize>| -> BTreeSet<Name> {
        cuts.map(|piece| wires[owners[piece]].requirement.key.clone()).collect()
    };
    for opened in &plan.opened {
        let Some(there) = planned.length(opened.choice) else { continue };
        let ShelfLength { item, at, offcut, length, .. } = there.clone();
        let StockUse { cuts, .. } = stock_use(opened, pieces, shop);
        let meets = keys(&mut opened.cuts.iter().copied()).into_iter().collect();
        let left = length - opened.taken(pieces);
        bought.from_shelf.push(ShelfCut { item, at, offcut, length, cuts, left, meets });
    }
    let mut taken = taken(plan, pieces);
    taken.retain(|&choice, _| choice < candidates.len());
    let main = main_choice(&taken);
    let all: Length = taken.values().copied().sum();
    for (&choice, &length) in &taken {
        let candidate = candidates[choice];
        let opened: Vec<&OpenedStock> = plan.opened.iter().filter(|opened| opened.choice == choice).collect();
        let share = bought.share(candidate);
        share.meets.extend(keys(&mut opened.iter().flat_map(|opened| &opened.cuts).copied()));
        share.used += length_quantity(length, sold_by(&candidate.item)).0;
        if main == Some(choice) {
            share.charged_when_used += length_quantity(all, sold_by(&candidate.item)).0;
        }
        share.count += plan.needed[&choice];
        share.stock.extend(opened.into_iter().map(|opened| stock_use(opened, pieces, shop)));
    }
}

fn stock_use(opened: &OpenedStock, pieces: &[Piece], shop: &Shop) -> StockUse {
    let unit = shop.settings.length_unit;
    let cuts = opened.cuts.iter().map(|&piece| {
        let Piece { label, cut } = &pieces[piece];
        PlannedCut { label: label.clone(), length: cut.written(unit) }
    });
    StockUse {
        length: opened.length.written(unit),
        cuts: cuts.collect(),
        left: (opened.length - opened.taken(pieces)).written(unit),
    }
}

/// The gaps of pieces that nothing is long enough for, by requirement.
fn too_long(way: &Way, shop: &Shop) -> Vec<Gap> {
    let Way { wires, owned: Owned { pieces, owners }, planned: Planned { plan, stock, .. } } = way;
    let unit = shop.settings.length_unit;
    let kept = stock.iter().filter(|choice| choice.on_shelf.is_none());
    let longest = kept.map(|choice| choice.length).max().unwrap_or_default().written(unit);
    let gap_of = |(place, wire): (usize, &&Wire)| {
        let of_it = plan.too_long.iter().filter(|&&piece| owners[piece] == place);
        let named: Vec<String> =
            of_it.map(|&piece| format!("{} ({})", pieces[piece].label, pieces[piece].cut.written(unit))).collect();
        if let Some(gap) = wire.gap.as_ref().filter(|_| !named.is_empty()) {
            return Some(gap.clone());
        }
        (!named.is_empty()).then(|| {
            gap(
                wire.requirement,
                format!("{} must be one unbroken length, and the longest spool kept is {longest}", named.join(", ")),
                "Add a longer spool, or the wire by the foot or metre, to the catalogue.".to_owned(),
            )
        })
    };
    wires.iter().enumerate().filter_map(gap_of).collect()
}
