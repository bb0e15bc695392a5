//! Wire and cable: a requirement's pieces planned over every spool length of the items that meet it.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::cuts::Work;
use crate::findings::Gap;
use crate::purchase::cut_plan::{CutPlan, OpenedStock, StockChoice, plan_cuts_within};
use crate::purchase::matching::Candidate;
use crate::purchase::{Bought, Decided, WORK, beyond_reckoning, gap, joined};
use crate::quote::{PlannedCut, StockUse};
use crate::requirements::{Piece, Requirement, length_quantity};
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
    })
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

/// A cut plan with the candidates and stock that its places refer to.
struct Planned<'a> {
    plan: CutPlan,
    candidates: Vec<&'a Candidate>,
    stock: Vec<StockChoice>,
}

/// The cheapest plan that was found, or none where the amounts are beyond reckoning.
///
/// Spools of one price category may be mixed in a plan, so that all of a wire is charged in one way.
fn planned<'a>(pieces: &[Piece], candidates: &[&'a Candidate], work: &mut Work) -> Option<Planned<'a>> {
    let mut by_category: BTreeMap<&Name, Vec<(&Candidate, StockChoice)>> = BTreeMap::new();
    for candidate in candidates {
        if let Some(choice) = stock_choice(candidate) {
            by_category.entry(&candidate.item.category).or_default().push((candidate, choice));
        }
    }
    let plans = by_category.into_values().map(|choices| {
        let (candidates, stock): (Vec<&Candidate>, Vec<StockChoice>) = choices.into_iter().unzip();
        Planned { plan: plan_cuts_within(pieces, &stock, work), candidates, stock }
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

/// The item that most of a requirement's wire would come from.
pub(super) fn main_item(requirement: &Requirement, candidates: &[Candidate]) -> Option<Name> {
    let pieces = pieces(requirement);
    let planned = planned(&pieces, &candidates.iter().collect::<Vec<_>>(), &mut Work::steps(WORK))?;
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

/// A requirement with the items that meet it.
pub(super) type Wire<'a> = (&'a Requirement, Vec<Candidate>);

/// Buys all wire and cable by the cheapest cut plans that were found.
///
/// Requirements that no item can meet both of are planned apart. Where they share items, one spool may serve several of
/// them: those that every item of theirs can meet are planned in one as well, and the cheaper way stands.
pub(super) fn buy<'a>(wires: &'a [Wire<'a>], shop: &Shop, bought: &mut Bought, gaps: &mut Vec<Gap>) {
    let skus = wires.iter().map(|(_, candidates)| candidates.iter().map(|candidate| &candidate.item.sku).collect());
    for group in joined(skus) {
        let wires: Vec<&'a Wire<'a>> = group.iter().map(|&place| &wires[place]).collect();
        if let Some(decided) = buy_together(&wires, shop, bought, gaps) {
            bought.decided.push(decided);
        }
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
        pieces(wire.0).into_iter().map(move |piece| (piece, place)).collect::<Vec<_>>()
    };
    let mut all: Vec<(Piece, usize)> = wires.iter().enumerate().flat_map(of).collect();
    all.sort_by(|a, b| a.0.label.cmp(&b.0.label).then(a.0.cut.cmp(&b.0.cut)).then(a.1.cmp(&b.1)));
    let (pieces, owners) = all.into_iter().unzip();
    Owned { pieces, owners }
}

/// A way to buy some requirements together.
struct Way<'a> {
    requirements: Vec<&'a Requirement>,
    owned: Owned,
    planned: Planned<'a>,
}

fn buy_together<'a>(wires: &[&'a Wire<'a>], shop: &Shop, bought: &mut Bought, gaps: &mut Vec<Gap>) -> Option<Decided> {
    let mut apart: Vec<Way> = Vec::new();
    let mut decided = Decided { requirements: Vec::new(), items: BTreeSet::new(), lower_bound: Decimal::ZERO };
    for wire in wires {
        let owned = owned(std::slice::from_ref(wire));
        let Some(planned) = planned(&owned.pieces, &wire.1.iter().collect::<Vec<_>>(), &mut bought.work) else {
            gaps.push(beyond_reckoning(wire.0));
            continue;
        };
        decided.requirements.push(wire.0.key.clone());
        decided.items.extend(wire.1.iter().map(|candidate| candidate.item.sku.clone()));
        apart.push(Way { requirements: vec![wire.0], owned, planned });
    }
    let ways = match (apart.as_slice(), wires) {
        ([], _) => return None,
        ([only], [_]) => {
            decided.lower_bound = only.planned.plan.lower_bound;
            apart
        }
        // Where one is beyond reckoning, nothing is certain of the others together.
        _ if apart.len() < wires.len() => apart,
        _ => {
            let together = in_one(wires, &mut bought.work);
            decided.lower_bound = bound_together(wires, together.as_ref(), &apart, &mut bought.work);
            match together {
                Some(way) if cheaper(&way, &apart) => vec![way],
                _ => apart,
            }
        }
    };
    for way in &ways {
        gaps.extend(too_long(way, shop));
        enter(way, shop, bought);
    }
    Some(decided)
}

/// All pieces of several requirements from the items that meet every one of them.
fn in_one<'a>(wires: &[&'a Wire<'a>], work: &mut Work) -> Option<Way<'a>> {
    let (first, others) = wires.split_first()?;
    let has = |wire: &Wire, sku: &Name| wire.1.iter().any(|candidate| candidate.item.sku == *sku);
    let shared = first.1.iter().filter(|candidate| others.iter().all(|wire| has(wire, &candidate.item.sku)));
    let owned = owned(wires);
    let planned = planned(&owned.pieces, &shared.collect::<Vec<_>>(), work)?;
    Some(Way { requirements: wires.iter().map(|wire| wire.0).collect(), owned, planned })
}

/// What no way of buying several requirements can cost less than: what they would cost if every item could meet all of
/// them, or at least what the dearest of them cannot cost less than by itself.
fn bound_together(wires: &[&Wire], together: Option<&Way>, apart: &[Way], work: &mut Work) -> Decimal {
    let by_itself = apart.iter().map(|way| way.planned.plan.lower_bound).max().unwrap_or_default();
    let mut any: BTreeMap<&Name, &Candidate> = BTreeMap::new();
    for candidate in wires.iter().flat_map(|wire| &wire.1) {
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

/// Whether one way leaves no more out than several together, and is cheaper.
fn cheaper(way: &Way, others: &[Way]) -> bool {
    let mut counts: BTreeMap<&Name, (&Candidate, u64)> = BTreeMap::new();
    for other in others {
        for (&choice, order) in &other.planned.plan.orders {
            let candidate = other.planned.candidates[choice];
            counts.entry(&candidate.item.sku).or_insert((candidate, 0)).1 += order.count;
        }
    }
    let orders = counts.into_values().map(|(candidate, count)| Some(candidate.costs.cheapest(count)?.cost));
    let cost = orders.sum::<Option<Decimal>>();
    let too_long: usize = others.iter().map(|other| other.planned.plan.too_long.len()).sum();
    way.planned.plan.too_long.len() <= too_long && cost.is_none_or(|cost| way.planned.plan.cost < cost)
}

/// Enters a plan into what is bought.
fn enter(way: &Way, shop: &Shop, bought: &mut Bought) {
    let Way { requirements, owned: Owned { pieces, owners }, planned: Planned { plan, candidates, .. } } = way;
    let taken = taken(plan, pieces);
    let main = main_choice(&taken);
    let all: Length = taken.values().copied().sum();
    for (&choice, &length) in &taken {
        let candidate = candidates[choice];
        let opened: Vec<&OpenedStock> = plan.opened.iter().filter(|opened| opened.choice == choice).collect();
        let share = bought.share(candidate);
        let met: BTreeSet<usize> = opened.iter().flat_map(|opened| &opened.cuts).map(|&piece| owners[piece]).collect();
        share.meets.extend(met.into_iter().map(|owner| requirements[owner].key.clone()));
        share.used += length_quantity(length, sold_by(&candidate.item)).0;
        if main == Some(choice) {
            share.charged_when_used += length_quantity(all, sold_by(&candidate.item)).0;
        }
        share.count += plan.orders[&choice].count;
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
    let Way { requirements, owned: Owned { pieces, owners }, planned: Planned { plan, stock, .. } } = way;
    let unit = shop.settings.length_unit;
    let longest = stock.iter().map(|choice| choice.length).max().unwrap_or_default().written(unit);
    let gap_of = |(place, requirement): (usize, &&Requirement)| {
        let of_it = plan.too_long.iter().filter(|&&piece| owners[piece] == place);
        let named: Vec<String> =
            of_it.map(|&piece| format!("{} ({})", pieces[piece].label, pieces[piece].cut.written(unit))).collect();
        (!named.is_empty()).then(|| {
            gap(
                requirement,
                format!("{} must be one unbroken length, and the longest spool kept is {longest}", named.join(", ")),
                "Add a longer spool, or the wire by the foot or metre, to the catalogue.".to_owned(),
            )
        })
    };
    requirements.iter().enumerate().filter_map(gap_of).collect()
}
