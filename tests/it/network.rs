//! The order of a backbone against trying every one, and what must hold of it whatever the boat.

use proptest::prelude::*;
use rigbill::calc::network::backbone::{EXACT_MOST, Line, Place, Question, least};
use rigbill::calc::units::{Length, LengthUnit};

fn mm(millimetres: u32) -> Length {
    Length::from_nanometres(LengthUnit::Mm.nanometres() * i64::from(millimetres))
}

/// A drop may be 6 m long, and all together 78 m (NMEA 2000, a network cable maker's installation guide).
const DROP_MOST_MM: u32 = 6_000;
const DROPS_MOST_MM: u32 = 78_000;

/// A question over a graph: shortest ways between all places (Floyd 1962), drops as long as the way and 300 mm more.
fn question(places: Vec<Place>, edges: &[(usize, usize, u32)], slack: u32) -> Question {
    let n = places.len();
    let mut apart = vec![vec![u32::MAX / 4; n]; n];
    for (place, row) in apart.iter_mut().enumerate() {
        row[place] = 0;
    }
    for &(a, b, length) in edges {
        let (a, b) = (a % n, b % n);
        if a != b {
            apart[a][b] = apart[a][b].min(length);
            apart[b][a] = apart[a][b];
        }
    }
    // All joined to the next, so that every place is reached.
    for place in 1..n {
        apart[place - 1][place] = apart[place - 1][place].min(20_000);
        apart[place][place - 1] = apart[place - 1][place];
    }
    for by in 0..n {
        for a in 0..n {
            for b in 0..n {
                apart[a][b] = apart[a][b].min(apart[a][by] + apart[by][b]);
            }
        }
    }
    let drop = |long: u32| (long + 300 <= DROP_MOST_MM).then(|| mm(long + 300));
    Question {
        places,
        spans: apart.iter().map(|row| row.iter().map(|long| mm(long + slack)).collect()).collect(),
        drops: apart.iter().map(|row| row.iter().map(|long| drop(*long)).collect()).collect(),
        drops_max: mm(DROPS_MOST_MM),
    }
}

/// Whether all drops together are too long, and what backbone and drops take; `None` where a device hangs on nothing.
fn cost(question: &Question, order: &[usize]) -> Option<(bool, Length)> {
    let backbone: Length = order.windows(2).map(|pair| question.spans[pair[0]][pair[1]]).sum();
    let mut drops = Length::ZERO;
    for (place, wanted) in question.places.iter().enumerate().filter(|(_, wanted)| wanted.devices > 0) {
        let nearest = order.iter().filter_map(|hub| question.drops[*hub][place]).min()?;
        let at_place = question.drops[place][place].filter(|_| order.contains(&place));
        drops += at_place.unwrap_or(nearest) * i64::from(wanted.devices);
    }
    Some((drops > question.drops_max, backbone + drops))
}

/// The least cost of all orders of all sets of places.
fn tried(question: &Question) -> (bool, Length) {
    let n = question.places.len();
    let mut best = None;
    let mut orders: Vec<Vec<usize>> = vec![Vec::new()];
    while let Some(order) = orders.pop() {
        let has_needed = (0..n).all(|place| !question.places[place].needed || order.contains(&place));
        if !order.is_empty() && has_needed {
            best = [best, cost(question, &order)].into_iter().flatten().min();
        }
        for next in (0..n).filter(|next| !order.contains(next)) {
            orders.push(order.iter().copied().chain([next]).collect());
        }
    }
    best.expect("all places on the backbone are a way")
}

fn of(question: &Question, line: &Line) -> (bool, Length) {
    for (place, hub) in line.hubs.iter().enumerate() {
        assert!(line.order.contains(hub), "place {place} hangs on {hub}, which is not on {line:?}");
    }
    cost(question, &line.order).expect("every device hangs on something")
}

fn places(most: usize) -> impl Strategy<Value = Vec<Place>> {
    let place = (0u32..4, prop::bool::weighted(0.2)).prop_map(|(devices, needed)| Place { devices, needed });
    prop::collection::vec(place, 1..=most)
}

fn edges() -> impl Strategy<Value = Vec<(usize, usize, u32)>> {
    prop::collection::vec((0usize..12, 0usize..12, 500u32..9_000), 0..14)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    /// Against every set of places in every order.
    #[test]
    fn no_backbone_takes_less_cable(places in places(6), edges in edges(), slack in 0u32..600) {
        let question = question(places, &edges, slack);
        let line = least(&question);
        prop_assert!(line.proved);
        prop_assert_eq!(of(&question, &line), tried(&question));
    }

    /// One device more, anywhere, never takes less cable in all.
    #[test]
    fn one_device_more_never_takes_less_cable(places in places(8), edges in edges(), at in 0usize..8) {
        let fewer = question(places.clone(), &edges, 200);
        let mut places = places;
        let at = at % places.len();
        places[at].devices += 1;
        let more = question(places, &edges, 200);
        prop_assert!(of(&more, &least(&more)) >= of(&fewer, &least(&fewer)));
    }

    /// The same boat with its stations in another order takes the same.
    #[test]
    fn the_order_of_the_input_takes_nothing_more(places in places(7), edges in edges()) {
        let question = question(places, &edges, 200);
        let n = question.places.len();
        let turned = Question {
            places: question.places.iter().rev().copied().collect(),
            spans: (0..n).rev().map(|a| (0..n).rev().map(|b| question.spans[a][b]).collect()).collect(),
            drops: (0..n).rev().map(|a| (0..n).rev().map(|b| question.drops[a][b]).collect()).collect(),
            drops_max: question.drops_max,
        };
        prop_assert_eq!(of(&question, &least(&question)), of(&turned, &least(&turned)));
    }
}

/// Beyond what is searched exactly, all places lie on the line, in the order that a straight boat has them.
#[test]
fn many_places_in_a_row_are_gone_through_in_that_order_and_not_said_to_be_proven() {
    let n = EXACT_MOST + 3;
    // Every second station first, so that the order of the input is no help.
    let at = |place: usize| if place < n / 2 { 2 * place + 1 } else { 2 * (place - n / 2) };
    let apart = |a: usize, b: usize| mm(10_000 * at(a).abs_diff(at(b)) as u32);
    let question = Question {
        places: vec![Place { devices: 1, needed: false }; n],
        spans: (0..n).map(|a| (0..n).map(|b| apart(a, b)).collect()).collect(),
        drops: (0..n).map(|a| (0..n).map(|b| (a == b).then(|| mm(300))).collect()).collect(),
        drops_max: mm(DROPS_MOST_MM),
    };
    let line = least(&question);
    assert!(!line.proved);
    let mut along: Vec<usize> = line.order.iter().map(|place| at(*place)).collect();
    if along[0] != 0 {
        along.reverse();
    }
    assert_eq!(along, (0..n).collect::<Vec<_>>());
}
