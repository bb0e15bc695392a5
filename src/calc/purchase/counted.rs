//! What is bought by number: terminals, fuses, labels, shrink, equipment. Requirements that one item can meet share its
//! packs, so the choice for one may change what is cheapest for another.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::calc::findings::Gap;
use crate::calc::purchase::matching::{Candidate, pieces_per_unit};
use crate::calc::purchase::{Bought, beyond_reckoning, outstanding};
use crate::calc::requirements::{Need, Requirement};
use crate::calc::shop::item::Attributes;
use crate::calc::units::Length;

/// Rounds of improvement over all requirements. Each change lowers the whole cost, so the rounds end by themselves;
/// the bound keeps a hostile catalogue from making them long.
const ROUNDS: usize = 8;

/// A requirement with the items that meet it; there is one at least.
pub(super) struct Counted<'a> {
    pub(super) requirement: &'a Requirement,
    pub(super) candidates: Vec<Candidate>,
}

/// Selling units of one item that go into the boat, and the whole ones that must be there to take them from.
struct Demand {
    used: Decimal,
    whole: Decimal,
}

/// What requirements ask of one item; `None` beyond what a decimal holds.
fn demand(candidate: &Candidate, requirements: &[&Requirement]) -> Option<Demand> {
    let mut demand = Demand { used: Decimal::ZERO, whole: Decimal::ZERO };
    let mut ends: Vec<Length> = Vec::new();
    for requirement in requirements {
        let quantity = outstanding(requirement);
        let (used, whole) = match (&requirement.need, &candidate.item.attributes) {
            (Need::HeatShrink { piece_length, .. }, Attributes::HeatShrink { piece_length: unit, .. }) => {
                let each = pieces_per_unit(*unit, *piece_length);
                let pieces = quantity.ceil().to_i64()?;
                let from_one_end = pieces.checked_rem(each)?;
                if from_one_end > 0 {
                    ends.push(piece_length.length()? * from_one_end);
                }
                (used_of_sticks(pieces, each)?, Decimal::from(pieces / each))
            }
            _ => (quantity, quantity),
        };
        demand.used = demand.used.checked_add(used)?;
        demand.whole = demand.whole.checked_add(whole)?;
    }
    if let Attributes::HeatShrink { piece_length, .. } = &candidate.item.attributes {
        demand.whole = demand.whole.checked_add(Decimal::from(sticks_for(ends, piece_length.length()?)))?;
    }
    Some(demand)
}

/// Sticks that cut pieces use up: a share of a stick to four places, rounded up.
fn used_of_sticks(pieces: i64, each: i64) -> Option<Decimal> {
    let share = Decimal::from(pieces).checked_div(Decimal::from(each))?;
    Some(share.round_dp_with_strategy(4, rust_decimal::RoundingStrategy::AwayFromZero).normalize())
}

/// Sticks opened for what is less than a whole one: first fit of the longest first.
fn sticks_for(mut ends: Vec<Length>, stick: Length) -> usize {
    ends.sort_by(|a, b| b.cmp(a));
    let mut left: Vec<Length> = Vec::new();
    for end in ends {
        match left.iter_mut().find(|left| end <= **left) {
            Some(left) => *left = *left - end,
            None => left.push(stick - end),
        }
    }
    left.len()
}

/// Buying units that hold so many whole selling units.
fn buying_units(candidate: &Candidate, demand: &Demand) -> Option<u64> {
    demand.whole.checked_div(candidate.item.buying_quantity)?.ceil().to_u64()
}

/// Cost of buying one item for these requirements.
fn cost(candidate: &Candidate, requirements: &[&Requirement]) -> Option<Decimal> {
    if requirements.is_empty() {
        return Some(Decimal::ZERO);
    }
    let count = buying_units(candidate, &demand(candidate, requirements)?)?;
    Some(candidate.costs.cheapest(count)?.cost)
}

/// For each requirement the place of its candidate: the cheapest by itself first, then improved while sharing packs
/// makes the whole cheaper. `None` where every candidate is beyond reckoning.
fn assign(counted: &[Counted]) -> Vec<Option<usize>> {
    let mut places: Vec<Option<usize>> = counted.iter().map(|c| cheapest_alone(c.requirement, &c.candidates)).collect();
    for _ in 0..ROUNDS {
        let mut changed = false;
        for row in 0..counted.len() {
            changed |= improve(counted, &mut places, row);
        }
        for row in 0..counted.len() {
            changed |= gather(counted, &mut places, row);
        }
        if !changed {
            break;
        }
    }
    places
}

/// The cheapest candidate of one requirement by itself; of two at one cost the one that comes sooner, then by sku.
pub(super) fn cheapest_alone(requirement: &Requirement, candidates: &[Candidate]) -> Option<usize> {
    let priced = candidates.iter().enumerate().filter_map(|(place, candidate)| {
        Some((cost(candidate, &[requirement])?, candidate.item.lead_time_days, place))
    });
    priced.min().map(|(_, _, place)| place)
}

/// The requirements that an item is chosen for, without that of one row.
fn others<'a>(
    counted: &[Counted<'a>],
    places: &[Option<usize>],
    candidate: &Candidate,
    row: usize,
) -> Vec<&'a Requirement> {
    let chosen = counted.iter().zip(places).enumerate().filter_map(|(other, (counted, place))| {
        let theirs = &counted.candidates[(*place)?];
        (other != row && theirs.item.sku == candidate.item.sku).then_some(counted.requirement)
    });
    chosen.collect()
}

/// Gives one requirement to another item where that makes the whole cheaper.
fn improve(counted: &[Counted], places: &mut [Option<usize>], row: usize) -> bool {
    let Some(now) = places[row] else { return false };
    let Counted { requirement, candidates } = &counted[row];
    if candidates.len() < 2 {
        return false;
    }
    let added = |place: usize| {
        let without = others(counted, places, &candidates[place], row);
        let with: Vec<&Requirement> = without.iter().copied().chain([*requirement]).collect();
        cost(&candidates[place], &with)?.checked_sub(cost(&candidates[place], &without)?)
    };
    let Some(paid) = added(now) else { return false };
    let cheapest = (0..candidates.len()).filter_map(|place| Some((added(place)?, place))).min();
    match cheapest {
        Some((cost, place)) if cost < paid => {
            places[row] = Some(place);
            true
        }
        _ => false,
    }
}

/// Brings everything that one of a requirement's items can meet together on that item, where a pack shared by all makes
/// the whole cheaper although it pays for none of them alone.
fn gather(counted: &[Counted], places: &mut Vec<Option<usize>>, row: usize) -> bool {
    let mut changed = false;
    for candidate in &counted[row].candidates {
        let mut tried = places.clone();
        for (place, counted) in tried.iter_mut().zip(counted) {
            let same = counted.candidates.iter().position(|other| other.item.sku == candidate.item.sku);
            if place.is_some() && same.is_some() {
                *place = same;
            }
        }
        if tried == *places {
            continue;
        }
        let moved: Vec<usize> = (0..counted.len()).filter(|&row| tried[row] != places[row]).collect();
        if let (Some(before), Some(after)) =
            (touched(counted, places, &moved, candidate), touched(counted, &tried, &moved, candidate))
            && after < before
        {
            *places = tried;
            changed = true;
        }
    }
    changed
}

/// Cost of the items that a move touches: those that the moved requirements have or had, and the one they move to.
fn touched(counted: &[Counted], places: &[Option<usize>], moved: &[usize], to: &Candidate) -> Option<Decimal> {
    let candidates = moved.iter().flat_map(|&row| &counted[row].candidates).chain([to]);
    let by_sku: BTreeMap<&str, &Candidate> =
        candidates.map(|candidate| (candidate.item.sku.as_str(), candidate)).collect();
    by_sku.values().try_fold(Decimal::ZERO, |sum, candidate| {
        let theirs = others(counted, places, candidate, usize::MAX);
        sum.checked_add(cost(candidate, &theirs)?)
    })
}

/// Buys all that is bought by number.
pub(super) fn buy(counted: &[Counted], bought: &mut Bought, gaps: &mut Vec<Gap>) {
    let places = assign(counted);
    let mut by_item: BTreeMap<&str, (&Candidate, Vec<&Requirement>)> = Default::default();
    for (counted, place) in counted.iter().zip(&places) {
        match place {
            Some(place) => {
                let candidate = &counted.candidates[*place];
                let entry = by_item.entry(candidate.item.sku.as_str()).or_insert((candidate, Vec::new()));
                entry.1.push(counted.requirement);
            }
            None => gaps.push(beyond_reckoning(counted.requirement)),
        }
    }
    for (candidate, requirements) in by_item.into_values() {
        let ordered = demand(candidate, &requirements).and_then(|d| Some((buying_units(candidate, &d)?, d.used)));
        let Some((count, used)) = ordered else {
            gaps.extend(requirements.into_iter().map(beyond_reckoning));
            continue;
        };
        let share = bought.share(candidate);
        share.meets.extend(requirements.iter().map(|requirement| requirement.key.clone()));
        share.used += used;
        share.charged_when_used += used;
        share.count = share.count.saturating_add(count);
    }
}
