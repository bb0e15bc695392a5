//! One question, one answer: the cheapest way to cut pieces from stock.

mod forms;

use std::collections::BTreeMap;

use rust_decimal::Decimal;

pub use forms::{CutPlanAnswer, CutPlanCut, CutPlanPiece, CutPlanRequest, CutPlanStock, CutPlanUse};

use super::labels::{LabelledCut, hand_out};
use super::{Demand, Kind, Measure, NoPlan, Plan, Task, Work, solve};
use crate::findings::Fault;

/// Most pieces in all.
pub const PIECES_MAX: u32 = 5_000;
/// Steps of work that a millisecond of the time limit stands for.
const STEPS_PER_MS: u64 = 1_000_000;
/// Longest time limit that more is searched for.
const LONGEST_MS: u32 = 10_000;

/// A question that makes sense, in whole numbers.
pub struct Question<'a> {
    request: &'a CutPlanRequest,
    task: Task,
    /// Decimal places of the lengths.
    places: u32,
    /// Least decimal places of a cost, as the prices have them; and those that it is reckoned with.
    cost_places: (u32, u32),
    /// The rows of each demand: place in `pieces` and number.
    rows: Vec<Vec<(usize, u32)>>,
    /// The stock of each kind: place in `stock`.
    kinds: Vec<usize>,
    /// The stock that is bought to measure.
    measured: Option<usize>,
}

/// Checks a question; every fault is listed, with its place in the request.
pub fn check(request: &CutPlanRequest) -> Result<Question<'_>, Vec<Fault>> {
    let mut faults = Vec::new();
    check_pieces(request, &mut faults);
    check_stock(request, &mut faults);
    if !faults.is_empty() {
        return Err(faults);
    }
    let question = Question::new(request);
    question.too_long(&mut faults);
    if faults.is_empty() { Ok(question) } else { Err(faults) }
}

fn check_pieces(request: &CutPlanRequest, faults: &mut Vec<Fault>) {
    for (place, piece) in request.pieces.iter().enumerate() {
        if piece.length <= Decimal::ZERO {
            let message = format!("A piece of length {} cannot be cut: give a length above 0.", piece.length);
            faults.push(Fault::new(format!("/pieces/{place}/length"), message));
        }
        if piece.count == 0 {
            let message = "No piece is wanted here: give a count of 1 or more, or leave the row out.";
            faults.push(Fault::new(format!("/pieces/{place}/count"), message));
        }
    }
    let pieces: u64 = request.pieces.iter().map(|piece| u64::from(piece.count)).sum();
    if pieces > u64::from(PIECES_MAX) {
        let message = format!("These are {pieces} pieces, and at most {PIECES_MAX} are planned at once: ask in parts.");
        faults.push(Fault::new("/pieces", message));
    }
}

fn check_stock(request: &CutPlanRequest, faults: &mut Vec<Fault>) {
    for (place, stock) in request.stock.iter().enumerate() {
        let mut refuse = |field: &str, message: String| {
            faults.push(Fault::new(format!("/stock/{place}{field}"), message));
        };
        let CutPlanStock { sku, length, price, price_per_unit, available } = stock;
        if length.is_some_and(|length| length <= Decimal::ZERO) {
            refuse("/length", "A stock length of 0 holds nothing: give a length above 0.".to_owned());
        }
        match (length, price, price_per_unit) {
            (Some(_), Some(_), None) => {}
            (None, None, Some(_)) if available.is_none() => {}
            (None, None, Some(_)) => refuse(
                "/available",
                format!(
                    "'{sku}' is sold to measure, without end: leave 'available' out, or list a stock length instead."
                ),
            ),
            _ => refuse(
                "",
                format!(
                    "'{sku}' has to have either 'length' and 'price', for stock of one length, or 'price_per_unit' alone, for \
                     what is sold to measure."
                ),
            ),
        }
    }
}

/// A decimal as a whole count of its last place.
fn whole(decimal: Decimal, places: u32) -> i128 {
    let by = i128::from(10u32).pow(places.saturating_sub(decimal.scale()));
    decimal.mantissa() * by
}

impl<'a> Question<'a> {
    fn new(request: &'a CutPlanRequest) -> Self {
        let lengths =
            request.pieces.iter().map(|piece| piece.length).chain(request.stock.iter().filter_map(|s| s.length));
        let places = lengths.chain([request.allowance_per_cut]).map(|length| length.scale()).max().unwrap_or(0);
        let prices = request.stock.iter().filter_map(|stock| stock.price.or(stock.price_per_unit));
        let price_places = prices.map(|price| price.scale()).max().unwrap_or(0);
        let per_unit = |stock: &'a CutPlanStock| stock.price_per_unit.map(|price| (price, stock.sku.as_str()));
        let to_measure = (0..request.stock.len()).filter(|&s| request.stock[s].price_per_unit.is_some());
        let measured = to_measure.min_by_key(|&s| per_unit(&request.stock[s]));
        let cost_places = if measured.is_some() { price_places + places } else { price_places };
        // The order of the lists makes no difference: pieces by length and label, stock by sku.
        let mut rows: BTreeMap<i64, Vec<(usize, u32)>> = BTreeMap::new();
        for (place, piece) in request.pieces.iter().enumerate() {
            let length = whole(piece.length, places) + whole(request.allowance_per_cut, places);
            rows.entry(length as i64).or_default().push((place, piece.count));
        }
        rows.values_mut().for_each(|rows| {
            rows.sort_by_key(|&(place, _)| {
                let piece = &request.pieces[place];
                (&piece.label, piece.length.scale(), place)
            })
        });
        let demand =
            |(&length, rows): (&i64, &Vec<(usize, u32)>)| Demand { length, count: rows.iter().map(|row| row.1).sum() };
        let demands: Vec<Demand> = rows.iter().map(demand).collect();
        let pieces: u32 = demands.iter().map(|demand| demand.count).sum();
        let mut kinds: Vec<usize> = (0..request.stock.len()).filter(|&s| request.stock[s].length.is_some()).collect();
        // Lengths that were left over of one item stand in rows of their own.
        kinds.sort_by_key(|&s| {
            let CutPlanStock { sku, length, price, available, .. } = &request.stock[s];
            (sku, length, price, available, s)
        });
        let kind = |&s: &usize| {
            let stock = &request.stock[s];
            let price = whole(stock.price.unwrap_or_default(), cost_places);
            let most = stock.available.unwrap_or(pieces).min(pieces);
            Kind {
                length: whole(stock.length.unwrap_or_default(), places) as i64,
                costs: (0..=i128::from(most)).map(|count| count * price).collect(),
            }
        };
        let measure = measured.and_then(|s| request.stock[s].price_per_unit);
        let task = Task {
            demands,
            kinds: kinds.iter().map(kind).collect(),
            measure: measure.map(|price| Measure::Each(whole(price, price_places))),
        };
        let rows = rows.into_values().collect();
        Question { request, task, places, cost_places: (price_places, cost_places), rows, kinds, measured }
    }

    /// Names the pieces that no stock holds.
    fn too_long(&self, faults: &mut Vec<Fault>) {
        if self.task.measure.is_some() {
            return;
        }
        let there = self.task.kinds.iter().zip(&self.kinds).filter(|(kind, _)| kind.costs.len() > 1);
        let longest = there.max_by_key(|(kind, _)| kind.length);
        let unit = self.request.unit;
        let room = longest.map_or(0, |(kind, _)| kind.length);
        let held = match longest {
            Some((_, &s)) => {
                let stock = &self.request.stock[s];
                format!("the longest stock there is, '{}', is {} {unit}", stock.sku, stock.length.unwrap_or_default())
            }
            None => "there is no stock at all".to_owned(),
        };
        let with = if self.request.allowance_per_cut.is_zero() { "" } else { " and takes the allowance for its cut" };
        for (demand, rows) in self.task.demands.iter().zip(&self.rows).filter(|(demand, _)| demand.length > room) {
            debug_assert!(demand.count > 0);
            for &(place, _) in rows {
                let piece = &self.request.pieces[place];
                let message = format!(
                    "'{}' is {} {unit} long{with}, and {held}: add a longer stock length, or one that is sold to measure.",
                    piece.label, piece.length
                );
                faults.push(Fault::new(format!("/pieces/{place}/length"), message));
            }
        }
    }

    /// Says what the stock does not hold, by the longest pieces first.
    fn not_enough(&self) -> Vec<Fault> {
        let unit = self.request.unit;
        let (mut count, mut length) = (0i128, 0i128);
        for (place, demand) in self.task.demands.iter().enumerate().rev() {
            count += i128::from(demand.count);
            length += i128::from(demand.length) * i128::from(demand.count);
            let (mut places, mut room) = (0i128, 0i128);
            for kind in self.task.kinds.iter().filter(|kind| kind.length >= demand.length) {
                let there = (kind.costs.len() - 1) as i128;
                places += there * i128::from(kind.length / demand.length);
                room += there * i128::from(kind.length);
            }
            if places >= count && room >= length {
                continue;
            }
            let rows = self.rows[place..].iter().flatten();
            let mut labels: Vec<&str> = rows.map(|&(row, _)| self.request.pieces[row].label.as_str()).collect();
            labels.sort_unstable();
            labels.dedup();
            let more = if labels.len() > 5 { format!(" and {} more", labels.len() - 5) } else { String::new() };
            let labels = labels.iter().take(5).map(|label| format!("'{label}'")).collect::<Vec<_>>().join(", ");
            let shortest = self.length(i128::from(demand.length));
            let (wanted, there) = if places < count {
                (format!("{count} pieces"), format!("{places}"))
            } else {
                (format!("{} {unit}", self.length(length)), format!("{} {unit}", self.length(room)))
            };
            let message = format!(
                "There is not enough stock for {labels}{more}: of {shortest} {unit} and longer, cuts included, {wanted} are \
                 wanted, and the stock that is long enough holds {there}. Raise 'available', or add stock."
            );
            return vec![Fault::new("/stock", message)];
        }
        let message = "There is not enough stock: however it is cut, some piece is left over although the lengths would do \
                       taken together. Raise 'available', or add stock.";
        vec![Fault::new("/stock", message)]
    }

    fn length(&self, length: i128) -> Decimal {
        Decimal::from_i128_with_scale(length, self.places)
    }

    /// A cost with as many places as the prices have, and more where it needs them.
    fn cost(&self, cost: i128) -> Decimal {
        let (least, places) = self.cost_places;
        let mut cost = Decimal::from_i128_with_scale(cost, places).normalize();
        if cost.scale() < least {
            cost.rescale(least);
        }
        cost
    }
}

/// Answers a question, or says why the stock is not enough.
pub fn answer(question: &Question) -> Result<CutPlanAnswer, Vec<Fault>> {
    let mut budget = Work::steps(u64::from(question.request.time_limit_ms.min(LONGEST_MS)) * STEPS_PER_MS);
    match solve(&question.task, &mut budget) {
        Ok(plan) => Ok(question.told(&plan)),
        Err(NoPlan::NotEnough) => Err(question.not_enough()),
        Err(NoPlan::NotFound) => {
            let message = "No plan was found within this budget, and it is not certain that there is none: raise \
                           'time_limit_ms', or 'available' of the stock.";
            Err(vec![Fault::new("/time_limit_ms", message)])
        }
    }
}

impl Question<'_> {
    fn told(&self, plan: &Plan) -> CutPlanAnswer {
        let mut waste = 0i128;
        let allowance = whole(self.request.allowance_per_cut, self.places);
        let mut used: Vec<(Option<usize>, CutPlanUse)> = Vec::new();
        for LabelledCut { kind, take, times } in hand_out(plan, &self.rows) {
            let mut cuts: Vec<CutPlanCut> = Vec::new();
            let (mut pieces, mut lost) = (0, 0);
            for &(row, count) in &take {
                let piece = &self.request.pieces[row];
                pieces += whole(piece.length, self.places) * i128::from(count);
                lost += allowance * i128::from(count);
                match cuts.iter_mut().find(|cut| cut.label == piece.label && cut.length == piece.length) {
                    Some(cut) => cut.count += count,
                    None => cuts.push(CutPlanCut { label: piece.label.clone(), length: piece.length, count }),
                }
            }
            cuts.sort_by(|a, b| b.length.cmp(&a.length).then_with(|| a.label.cmp(&b.label)));
            let room = kind.map_or(pieces + lost, |kind| i128::from(self.task.kinds[kind].length));
            waste += (room - pieces) * i128::from(times);
            let end = self.length(room - pieces - lost);
            let offcut = if end < self.request.minimum_offcut { self.length(0) } else { end };
            let stock = kind.map(|kind| self.kinds[kind]).or(self.measured);
            let sku = stock.map_or_else(String::new, |s| self.request.stock[s].sku.clone());
            used.push((kind, CutPlanUse { sku, count: times, cuts, offcut }));
        }
        used.sort_by(|a, b| {
            let cuts = |u: &CutPlanUse| u.cuts.iter().map(|c| (c.length, c.label.clone(), c.count)).collect::<Vec<_>>();
            let ((of_a, a), (of_b, b)) = (a, b);
            a.sku.cmp(&b.sku).then_with(|| cuts(b).cmp(&cuts(a))).then(of_a.cmp(of_b))
        });
        // What stands for the same cuts of the same stock is one entry.
        used.dedup_by(|next, kept| {
            let alike = next.0 == kept.0 && next.1.cuts == kept.1.cuts;
            kept.1.count += if alike { next.1.count } else { 0 };
            alike
        });
        CutPlanAnswer {
            cost: self.cost(plan.cost),
            lower_bound: self.cost(plan.bound),
            optimal: plan.optimal(),
            waste: self.length(waste),
            used: used.into_iter().map(|(_, used)| used).collect(),
        }
    }
}
