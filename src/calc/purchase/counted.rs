//! What is bought by number: terminals, fuses, labels, shrink, equipment. Requirements that one item can meet share its
//! packs, so the choice for one may change what is cheapest for another.

mod dominated;
mod settle;

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::findings::Gap;
use crate::purchase::cut_plan::fewest;
use crate::purchase::matching::{Candidate, pieces_per_unit};
use crate::purchase::{Bought, beyond_reckoning, outstanding};
use crate::requirements::{Need, Requirement};
use crate::shop::item::Attributes;
use crate::units::Length;

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
    /// Whether fewer could certainly not do.
    certain: bool,
}

/// What requirements ask of one item; `None` beyond what a decimal holds.
fn demand(candidate: &Candidate, requirements: &[&Requirement]) -> Option<Demand> {
    let mut demand = Demand { used: Decimal::ZERO, whole: Decimal::ZERO, certain: true };
    // Pieces by length, where they are cut from sticks.
    let mut cuts: BTreeMap<Length, u32> = BTreeMap::new();
    for requirement in requirements {
        let quantity = outstanding(requirement);
        let (used, whole) = match (&requirement.need, &candidate.item.attributes) {
            (Need::HeatShrink { piece_length, .. }, Attributes::HeatShrink { piece_length: unit, .. }) => {
                let each = pieces_per_unit(*unit, *piece_length);
                let pieces = quantity.ceil().to_i64()?;
                // Of very many alike most are cut from whole sticks of their own, without asking how.
                let whole = (pieces.checked_div(each)? - PLANNED_STICKS).max(0);
                *cuts.entry(piece_length.length()?).or_default() += u32::try_from(pieces - whole * each).ok()?;
                (used_of_sticks(pieces, each)?, Decimal::from(whole))
            }
            _ => (quantity, quantity),
        };
        demand.used = demand.used.checked_add(used)?;
        demand.whole = demand.whole.checked_add(whole)?;
    }
    if let Attributes::HeatShrink { piece_length, .. } = &candidate.item.attributes {
        let (sticks, certain) = sticks_for(&cuts, piece_length.length()?)?;
        // Whole sticks that were taken for pieces of one length might have held those of another.
        demand.certain = certain && (demand.whole.is_zero() || cuts.len() == 1);
        demand.whole = demand.whole.checked_add(Decimal::from(sticks))?;
    }
    Some(demand)
}

/// Sticks that cut pieces use up: a share of a stick to four places, rounded up.
fn used_of_sticks(pieces: i64, each: i64) -> Option<Decimal> {
    let share = Decimal::from(pieces).checked_div(Decimal::from(each))?;
    Some(share.round_dp_with_strategy(4, rust_decimal::RoundingStrategy::AwayFromZero).normalize())
}

/// Sticks of one length of piece whose cuts are planned together with those of others.
const PLANNED_STICKS: i64 = 40;

/// The fewest sticks that were found to cut pieces from, and whether fewer certainly do not do.
fn sticks_for(cuts: &BTreeMap<Length, u32>, stick: Length) -> Option<(u64, bool)> {
    let apart = |(&length, &count): (&Length, &u32)| {
        let each = u32::try_from(stick.nanometres().checked_div(length.nanometres())?).ok()?;
        Some(u64::from(count.div_ceil(each.max(1))))
    };
    if cuts.len() <= 1 {
        return Some((cuts.iter().map(apart).sum::<Option<u64>>()?, true));
    }
    if let Some((sticks, bound)) = fewest(cuts, stick) {
        return Some((sticks, sticks == bound));
    }
    // More than are planned at once are cut from sticks of their own.
    Some((cuts.iter().map(apart).sum::<Option<u64>>()?, false))
}

/// Buying units that hold so many whole selling units.
fn buying_units(candidate: &Candidate, demand: &Demand) -> Option<u64> {
    // Almost always both are whole, and small.
    if let (Some(whole), Some(each)) = (as_count(demand.whole), as_count(candidate.item.buying_quantity))
        && each > 0
    {
        return Some(whole.div_ceil(each));
    }
    demand.whole.checked_div(candidate.item.buying_quantity)?.ceil().to_u64()
}

/// A decimal that is written as a whole number and is not negative.
fn as_count(decimal: Decimal) -> Option<u64> {
    if decimal.scale() == 0 { u64::try_from(decimal.mantissa()).ok() } else { None }
}

/// Cost of buying one item for these requirements, and whether that is certainly the least.
fn priced(candidate: &Candidate, requirements: &[&Requirement]) -> Option<(Decimal, bool)> {
    if requirements.is_empty() {
        return Some((Decimal::ZERO, true));
    }
    let demand = demand(candidate, requirements)?;
    let count = buying_units(candidate, &demand)?;
    Some((candidate.costs.cheapest(count)?.cost, demand.certain))
}

/// Cost of buying one item for one requirement alone.
pub(super) fn cost_alone(requirement: &Requirement, candidate: &Candidate) -> Option<Decimal> {
    cost(candidate, &[requirement])
}

/// Cost of buying one item for these requirements.
fn cost(candidate: &Candidate, requirements: &[&Requirement]) -> Option<Decimal> {
    priced(candidate, requirements).map(|(cost, _)| cost)
}

/// The cheapest candidate of one requirement by itself; of two at one cost the one that stands first.
pub(super) fn cheapest_alone(requirement: &Requirement, candidates: &[Candidate]) -> Option<usize> {
    let priced =
        candidates.iter().enumerate().filter_map(|(place, candidate)| Some((cost(candidate, &[requirement])?, place)));
    priced.min().map(|(_, place)| place)
}

/// All requirements, and for each item the requirements that it can meet: who might share its packs.
struct Market<'a> {
    counted: &'a [Counted<'a>],
    /// Number of the item of each candidate, by row and place.
    items: Vec<Vec<usize>>,
    /// Rows that each item can meet, with its place among the row's candidates; in order of row.
    users: Vec<Vec<(usize, usize)>>,
}

impl<'a> Market<'a> {
    fn new(counted: &'a [Counted<'a>]) -> Self {
        let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
        let mut users: Vec<Vec<(usize, usize)>> = Vec::new();
        let mut items = Vec::with_capacity(counted.len());
        for (row, counted) in counted.iter().enumerate() {
            let of_row = counted.candidates.iter().enumerate().map(|(place, candidate)| {
                let number = *numbers.entry(candidate.item.sku.as_str()).or_insert(users.len());
                if number == users.len() {
                    users.push(Vec::new());
                }
                users[number].push((row, place));
                number
            });
            items.push(of_row.collect());
        }
        Market { counted, items, users }
    }

    /// The candidate that an item is, as one of its rows has it.
    fn candidate(&self, item: usize) -> &'a Candidate {
        let (row, place) = self.users[item][0];
        &self.counted[row].candidates[place]
    }

    /// The requirements that an item is chosen for, without that of one row.
    fn others(&self, places: &[Option<usize>], item: usize, row: usize) -> Vec<&'a Requirement> {
        let users = self.users[item].iter().filter(|&&(other, place)| other != row && places[other] == Some(place));
        users.map(|&(other, _)| self.counted[other].requirement).collect()
    }

    /// What each item costs as the requirements stand.
    fn costs(&self, places: &[Option<usize>]) -> Vec<Option<Decimal>> {
        (0..self.users.len()).map(|item| self.cost_of(places, item)).collect()
    }

    fn cost_of(&self, places: &[Option<usize>], item: usize) -> Option<Decimal> {
        cost(self.candidate(item), &self.others(places, item, usize::MAX))
    }

    /// Gives one requirement to another item where that makes the whole cheaper. `costs` are those of [`Self::costs`],
    /// and are kept so.
    fn improve(&self, places: &mut [Option<usize>], costs: &mut [Option<Decimal>], row: usize) -> bool {
        let Some(now) = places[row] else { return false };
        let Counted { requirement, candidates } = &self.counted[row];
        // An item that only this row can use costs what it costs alone, and the cheapest alone was taken first.
        if candidates.len() < 2 || self.items[row].iter().all(|&item| self.users[item].len() == 1) {
            return false;
        }
        let added = |place: usize| {
            let item = self.items[row][place];
            let mut with = self.others(places, item, row);
            if place == now {
                return costs[item]?.checked_sub(cost(&candidates[place], &with)?);
            }
            with.push(requirement);
            cost(&candidates[place], &with)?.checked_sub(costs[item]?)
        };
        let Some(paid) = added(now) else { return false };
        let cheapest = (0..candidates.len()).filter_map(|place| Some((added(place)?, place))).min();
        match cheapest {
            Some((cost, place)) if cost < paid => {
                places[row] = Some(place);
                for item in [self.items[row][now], self.items[row][place]] {
                    costs[item] = self.cost_of(places, item);
                }
                true
            }
            _ => false,
        }
    }

    /// Brings everything that one item can meet together on that item, where a pack shared by all makes the whole
    /// cheaper although it pays for none of them alone.
    fn gather(&self, places: &mut Vec<Option<usize>>, costs: &mut [Option<Decimal>], item: usize) -> bool {
        let moved: Vec<(usize, usize)> = self.users[item]
            .iter()
            .copied()
            .filter(|&(row, place)| places[row].is_some_and(|now| now != place))
            .collect();
        if moved.is_empty() || self.users[item].len() < 2 {
            return false;
        }
        let mut tried = places.clone();
        for &(row, place) in &moved {
            tried[row] = Some(place);
        }
        // What a move touches: the items that the moved requirements have now, and the one they move to.
        let had = moved.iter().filter_map(|&(row, _)| Some(self.items[row][places[row]?]));
        let mut touched: Vec<usize> = had.chain([item]).collect();
        touched.sort_unstable();
        touched.dedup();
        let after: Vec<Option<Decimal>> = touched.iter().map(|&item| self.cost_of(&tried, item)).collect();
        let before = sum(touched.iter().map(|&item| costs[item]));
        match (before, sum(after.iter().copied())) {
            (Some(before), Some(then)) if then < before => {
                *places = tried;
                for (item, cost) in touched.into_iter().zip(after) {
                    costs[item] = cost;
                }
                true
            }
            _ => false,
        }
    }
}

/// The sum of costs, if all of them are known.
fn sum(mut costs: impl Iterator<Item = Option<Decimal>>) -> Option<Decimal> {
    costs.try_fold(Decimal::ZERO, |sum, cost| sum.checked_add(cost?))
}

/// For each requirement the place of its candidate: the cheapest by itself first, then improved while sharing packs
/// makes the whole cheaper. `None` where every candidate is beyond reckoning.
fn assign(counted: &[Counted]) -> Vec<Option<usize>> {
    let mut places: Vec<Option<usize>> = counted.iter().map(|c| cheapest_alone(c.requirement, &c.candidates)).collect();
    let market = Market::new(counted);
    let mut costs = market.costs(&places);
    for _ in 0..ROUNDS {
        let mut changed = false;
        for row in 0..counted.len() {
            changed |= market.improve(&mut places, &mut costs, row);
        }
        for item in 0..market.users.len() {
            changed |= market.gather(&mut places, &mut costs, item);
        }
        if !changed {
            break;
        }
    }
    places
}

/// Buys all that is bought by number.
pub(super) fn buy(counted: &mut [Counted], bought: &mut Bought, gaps: &mut Vec<Gap>) {
    dominated::without_useless(counted);
    let counted = &*counted;
    let mut places = assign(counted);
    settle::settle(&Market::new(counted), &mut places, bought);
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
