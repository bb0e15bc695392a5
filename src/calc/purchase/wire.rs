//! Wire and cable: a requirement's pieces planned over every spool length of the items that meet it.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::calc::findings::Gap;
use crate::calc::purchase::cut_plan::{CutPlan, OpenedStock, StockChoice, plan_cuts};
use crate::calc::purchase::matching::Candidate;
use crate::calc::purchase::{Bought, beyond_reckoning, gap};
use crate::calc::quote::{PlannedCut, StockUse};
use crate::calc::requirements::{Piece, Requirement, length_quantity};
use crate::calc::shop::Shop;
use crate::calc::shop::item::{BuyingUnit, Item, SellingUnit};
use crate::calc::units::{Length, LengthUnit, Name};

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
fn planned<'a>(pieces: &[Piece], candidates: &'a [Candidate]) -> Option<Planned<'a>> {
    let mut by_category: BTreeMap<&Name, Vec<(&Candidate, StockChoice)>> = BTreeMap::new();
    for candidate in candidates {
        if let Some(choice) = stock_choice(candidate) {
            by_category.entry(&candidate.item.category).or_default().push((candidate, choice));
        }
    }
    let plans = by_category.into_values().map(|choices| {
        let (candidates, stock): (Vec<&Candidate>, Vec<StockChoice>) = choices.into_iter().unzip();
        Planned { plan: plan_cuts(pieces, &stock), candidates, stock }
    });
    let whole = plans.filter(|p| !p.plan.opened.is_empty() || p.plan.too_long.len() == pieces.len());
    whole.min_by(|a, b| a.plan.too_long.len().cmp(&b.plan.too_long.len()).then(a.plan.cost.cmp(&b.plan.cost)))
}

/// The item that most of a requirement's wire would come from.
pub(super) fn main_item(requirement: &Requirement, candidates: &[Candidate]) -> Option<Name> {
    let pieces = pieces(requirement);
    let planned = planned(&pieces, candidates)?;
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

/// Buys the wire of one requirement by the cheapest cut plan that was found.
pub(super) fn buy(
    requirement: &Requirement,
    candidates: &[Candidate],
    shop: &Shop,
    bought: &mut Bought,
    gaps: &mut Vec<Gap>,
) {
    let pieces = pieces(requirement);
    let Some(planned) = planned(&pieces, candidates) else {
        gaps.push(beyond_reckoning(requirement));
        return;
    };
    if !planned.plan.too_long.is_empty() {
        gaps.push(too_long(requirement, &planned, &pieces, shop));
    }
    enter(requirement, &planned, &pieces, shop, bought);
}

/// Enters a plan into what is bought.
fn enter(requirement: &Requirement, planned: &Planned, pieces: &[Piece], shop: &Shop, bought: &mut Bought) {
    let Planned { plan, candidates, .. } = planned;
    let taken = taken(plan, pieces);
    let main = main_choice(&taken);
    let all: Length = taken.values().copied().sum();
    for (&choice, &length) in &taken {
        let candidate = candidates[choice];
        let share = bought.share(candidate);
        share.meets.push(requirement.key.clone());
        share.used += length_quantity(length, sold_by(&candidate.item)).0;
        if main == Some(choice) {
            share.charged_when_used += length_quantity(all, sold_by(&candidate.item)).0;
        }
        share.count += plan.orders[&choice].count;
        let opened = plan.opened.iter().filter(|opened| opened.choice == choice);
        share.stock.extend(opened.map(|opened| stock_use(opened, pieces, shop)));
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

fn too_long(requirement: &Requirement, planned: &Planned, pieces: &[Piece], shop: &Shop) -> Gap {
    let Planned { plan, stock, .. } = planned;
    let unit = shop.settings.length_unit;
    let named: Vec<String> = plan
        .too_long
        .iter()
        .map(|&piece| format!("{} ({})", pieces[piece].label, pieces[piece].cut.written(unit)))
        .collect();
    let longest = stock.iter().map(|choice| choice.length).max().unwrap_or_default().written(unit);
    gap(
        requirement,
        format!("{} must be one unbroken length, and the longest spool kept is {longest}", named.join(", ")),
        "Add a longer spool, or the wire by the foot or metre, to the catalogue.".to_owned(),
    )
}
