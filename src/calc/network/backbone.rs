//! Which stations the backbone goes through, and in which order: the least cable, backbone and drops together.
//!
//! A backbone is a line. Each place with devices either lies on it, or hangs on drops from the place on it that is nearest.
//! Few places are searched exactly: the shortest line through every set of them (Held and Karp 1962), and with it what the
//! drops to all others take. More of them are all put on the line, and its order is improved until no turn of a stretch
//! makes it shorter; that is no proof.

use crate::units::Length;

/// Most places that are searched exactly: two to this power times its square are steps.
pub const EXACT_MOST: usize = 12;
/// Rounds of improvement; each makes the line shorter, so that they end by themselves.
const ROUNDS: usize = 200;
/// Stretches that are looked at in all, from whichever place the line begins.
const TURNS: u32 = 2_000_000;

/// A place at which tees can stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// Devices here that have a drop.
    pub devices: u32,
    /// Whether the backbone must come here.
    pub needed: bool,
}

/// What is asked: places and the cable between them.
#[derive(Clone, Debug, Default)]
pub struct Question {
    /// Places.
    pub places: Vec<Place>,
    /// Cable of the backbone from one place to another, without slack.
    pub spans: Vec<Vec<Length>>,
    /// Cable of a drop from a tee at one place to a device at another, the same place included; `None` where it would be
    /// longer than a drop may be.
    pub drops: Vec<Vec<Option<Length>>>,
    /// Most that all drops together may take.
    pub drops_max: Length,
}

/// The line that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Places on it, in order.
    pub order: Vec<usize>,
    /// For each place the one on the line that its devices hang on; itself where it lies on the line.
    pub hubs: Vec<usize>,
    /// Whether no other takes less.
    pub proved: bool,
}

/// The line of least cable. Of those that take as much, that through most places with devices, so that drops are short, and
/// through fewest without; drops that are too long together are chosen only where nothing else is left.
pub fn least(question: &Question) -> Line {
    let places = question.places.len();
    if places <= EXACT_MOST { exact(question) } else { improved(question) }
}

/// What a set of places on the line comes to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Cost {
    too_long_together: bool,
    cable: Length,
    off_line: u32,
    on_line: u32,
    set: usize,
}

fn exact(question: &Question) -> Line {
    let places = question.places.len();
    let needed = |place: &usize| question.places[*place].needed;
    let needed: usize = (0..places).filter(needed).map(|place| 1 << place).sum();
    let lines = shortest_lines(question);
    let mut best: Option<(Cost, usize)> = None;
    for set in 1..1usize << places {
        if set & needed != needed {
            continue;
        }
        let Some(drops) = drops_of(question, |place| set & 1 << place != 0) else { continue };
        let ends = (0..places).filter_map(|end| Some((lines[set * places + end]?.length, end)));
        let Some((line, end)) = ends.min() else { continue };
        let too_long_together = drops > question.drops_max;
        let off = |place: &usize| set & 1 << place == 0 && question.places[*place].devices > 0;
        let off_line = (0..places).filter(off).count() as u32;
        let cost = Cost { too_long_together, cable: line + drops, off_line, on_line: set.count_ones(), set };
        if best.is_none_or(|(known, _)| cost < known) {
            best = Some((cost, end));
        }
    }
    // All places on the line are a way, unless a drop at its own place is too long: the caller tells that.
    let (set, end) = best.map_or_else(
        || {
            let all = (1usize << places) - 1;
            let end = (0..places).filter_map(|end| Some((lines[all * places + end]?.length, end))).min();
            (all, end.map_or(0, |(_, end)| end))
        },
        |(cost, end)| (cost.set, end),
    );
    let mut order = vec![end];
    let (mut left, mut at) = (set, end);
    while let Some(before) = lines[left * places + at].and_then(|way| way.before) {
        left &= !(1 << at);
        at = before;
        order.push(at);
    }
    line(question, order, true)
}

/// How the shortest line through a set of places that ends at one of them comes there.
#[derive(Clone, Copy)]
struct Way {
    length: Length,
    before: Option<usize>,
}

/// For each set of places, by bits, and each of its places: the shortest line through the set that ends there.
fn shortest_lines(question: &Question) -> Vec<Option<Way>> {
    let places = question.places.len();
    let mut lines: Vec<Option<Way>> = vec![None; (1 << places) * places];
    for place in 0..places {
        lines[(1 << place) * places + place] = Some(Way { length: Length::ZERO, before: None });
    }
    for set in 1..1usize << places {
        for end in (0..places).filter(|end| set & 1 << end != 0) {
            let Some(Way { length, .. }) = lines[set * places + end] else { continue };
            for next in (0..places).filter(|next| set & 1 << next == 0) {
                let length = length + question.spans[end][next];
                let known = &mut lines[(set | 1 << next) * places + next];
                if known.is_none_or(|known| length < known.length) {
                    *known = Some(Way { length, before: Some(end) });
                }
            }
        }
    }
    lines
}

/// The place on the line from which the drops to a place are shortest.
fn hub(question: &Question, place: usize, on_line: impl Fn(usize) -> bool) -> Option<(Length, usize)> {
    if on_line(place) {
        return Some((question.drops[place][place].unwrap_or_default(), place));
    }
    let hubs = (0..question.places.len()).filter(|hub| on_line(*hub));
    hubs.filter_map(|hub| Some((question.drops[hub][place]?, hub))).min()
}

/// What all drops take; `None` where a place cannot be reached.
fn drops_of(question: &Question, on_line: impl Fn(usize) -> bool + Copy) -> Option<Length> {
    let mut sum = Length::ZERO;
    for (place, wanted) in question.places.iter().enumerate().filter(|(_, wanted)| wanted.devices > 0) {
        sum += hub(question, place, on_line)?.0 * i64::from(wanted.devices);
    }
    Some(sum)
}

/// The line in a direction that does not depend on how it was found.
fn line(question: &Question, mut order: Vec<usize>, proved: bool) -> Line {
    if order.last() < order.first() {
        order.reverse();
    }
    let on_line = |place: usize| order.contains(&place);
    let hubs = (0..question.places.len())
        .map(|place| hub(question, place, on_line).map_or(order[0], |(_, hub)| hub))
        .collect();
    Line { order, hubs, proved }
}

/// All places with devices on the line, from the nearest to the nearest, then stretches turned round while that shortens it.
fn improved(question: &Question) -> Line {
    let wanted = |place: &usize| question.places[*place].devices > 0 || question.places[*place].needed;
    let wanted: Vec<usize> = (0..question.places.len()).filter(wanted).collect();
    let length = |order: &[usize]| order.windows(2).map(|pair| question.spans[pair[0]][pair[1]]).sum::<Length>();
    let mut turns = TURNS;
    let orders = wanted.iter().map(|&start| {
        let mut order = nearest_first(question, &wanted, start);
        for _ in 0..ROUNDS {
            if !turn_once(&mut order, question, &mut turns) {
                break;
            }
        }
        (length(&order), order)
    });
    line(question, orders.min().map(|(_, order)| order).unwrap_or_default(), false)
}

fn nearest_first(question: &Question, wanted: &[usize], start: usize) -> Vec<usize> {
    let mut order = vec![start];
    let mut left: Vec<usize> = wanted.iter().copied().filter(|place| *place != start).collect();
    while !left.is_empty() {
        let from = order[order.len() - 1];
        let next = (0..left.len()).min_by_key(|at| (question.spans[from][left[*at]], left[*at])).unwrap_or_default();
        order.push(left.remove(next));
    }
    order
}

/// Turns the first stretch round that makes the line shorter: only the spans at its two ends change. `turns` is what may still
/// be looked at.
fn turn_once(order: &mut [usize], question: &Question, turns: &mut u32) -> bool {
    let span = |a: Option<&usize>, b: Option<&usize>| a.zip(b).map_or(Length::ZERO, |(a, b)| question.spans[*a][*b]);
    for from in 0..order.len() {
        for to in from + 1..order.len() {
            let Some(left) = turns.checked_sub(1) else { return false };
            *turns = left;
            let before = from.checked_sub(1).and_then(|at| order.get(at));
            let (first, last, behind) = (order.get(from), order.get(to), order.get(to + 1));
            if span(before, last) + span(first, behind) < span(before, first) + span(last, behind) {
                order[from..=to].reverse();
                return true;
            }
        }
    }
    false
}
