//! Generated trees of panels, buses and branches, by seed: the same seed gives the same tree.
//!
//! Areas are those of NEC Chapter 9 Table 8, allowable currents those of 33 CFR 183.425 Table 5 at 105 °C, for the sizes
//! that a shop usually keeps (common practice).

use rigbill::calc::circuits::least_copper::{Branch, FeederSize, OwnLimit, Place, Problem, Variable, Way, copper};

const AREAS_CMIL: [f64; 11] =
    [2580.0, 4110.0, 6530.0, 10380.0, 16510.0, 26240.0, 41740.0, 66360.0, 105600.0, 133100.0, 211600.0];
const ALLOWABLE_A: [f64; 11] = [25.0, 35.0, 45.0, 60.0, 80.0, 120.0, 160.0, 210.0, 285.0, 330.0, 445.0];
/// K of CM = K I L / E (ABYC E-11).
const OHM_CMIL_PER_FT: f64 = 10.75;
const NOMINAL_V: f64 = 12.0;

/// What a generated tree looks like.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// Panels.
    pub panels: usize,
    /// Feeders in a row at most, and how many there are on the way to the last panels.
    pub levels: usize,
    /// Branches.
    pub circuits: usize,
    /// Sizes kept, from the smallest.
    pub sizes: usize,
    /// Share of the panels whose returns take another way than their positives: the bus of the panel that feeds them
    /// or of one beside them, or a bus that leads straight to the bank; and the chance of a bus that all others lead to.
    pub odd_buses: f64,
    /// Whether those take the bus of any panel instead, as no boat is wired.
    pub entangled: bool,
    /// Share of the branches with a positive straight from the bank.
    pub constant: f64,
}

/// Pseudo-random figures (splitmix64).
pub struct Dice(pub u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// One of so many.
    pub fn below(&mut self, many: usize) -> usize {
        (self.next() % many as u64) as usize
    }

    /// Between two figures.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Whether something of that chance happens.
    pub fn happens(&mut self, chance: f64) -> bool {
        self.between(0.0, 1.0) < chance
    }
}

struct Panel {
    parent: Option<usize>,
    level: usize,
    bus: usize,
    current_a: f64,
}

struct Bus {
    next: Option<usize>,
    of: usize,
}

/// The tree of a seed.
pub fn tree(seed: u64, shape: Shape) -> Problem {
    let dice = &mut Dice(seed);
    let mut panels: Vec<Panel> = Vec::new();
    let mut buses: Vec<Bus> = Vec::new();
    // One bus at the battery that the others lead to.
    let main = dice.happens(shape.odd_buses).then(|| {
        buses.push(Bus { next: None, of: usize::MAX });
        0
    });
    for place in 0..shape.panels {
        // The first ones make a chain, so that the depth is reached.
        let deep: Vec<usize> = (0..place).filter(|other| panels[*other].level < shape.levels).collect();
        let parent = match place < shape.levels {
            true => place.checked_sub(1),
            false => Some(dice.below(deep.len() + 1)).and_then(|chosen| deep.get(chosen).copied()),
        };
        let level = parent.map_or(1, |parent: usize| panels[parent].level + 1);
        let usual = parent.map(|parent| panels[parent].bus);
        let beside: Vec<usize> = (0..place).filter(|other| panels[*other].parent == parent).chain(parent).collect();
        let (shares, leads_elsewhere) = (dice.happens(shape.odd_buses / 2.0), dice.happens(shape.odd_buses / 2.0));
        let bus = if shares && shape.entangled && place > 0 {
            dice.below(buses.len())
        } else if shares && !beside.is_empty() {
            panels[beside[dice.below(beside.len())]].bus
        } else {
            let next = match leads_elsewhere && shape.entangled {
                true => Some(dice.below(buses.len() + 1)).filter(|bus| *bus < buses.len()),
                false if leads_elsewhere => None,
                false => usual.or(main),
            };
            buses.push(Bus { next, of: place });
            buses.len() - 1
        };
        panels.push(Panel { parent, level, bus, current_a: 0.0 });
    }
    // Of many branches few run at once: no tree draws more than some hundred amperes.
    let at_once = 0.6 * (25.0 / shape.circuits as f64).min(1.0);
    let mut bus_a = vec![0.0; buses.len()];
    let mut places: Vec<Place> = panels.iter().map(|_| Place::default()).collect();
    for n in 0..shape.circuits {
        let panel = if n < panels.len() { n } else { dice.below(panels.len()) };
        let current_a = [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0][dice.below(8)];
        for feeding in up(panel, |panel| panels[panel].parent).collect::<Vec<_>>() {
            panels[feeding].current_a += at_once * current_a;
        }
        for bus in up(panels[panel].bus, |bus| buses[bus].next) {
            bus_a[bus] += at_once * current_a;
        }
        places[panel].branches.push(branch(current_a, shape, dice));
    }
    let mut problem = Problem { variables: Vec::new(), places };
    feeders(&mut problem, &panels, &buses, &bus_a, shape, dice);
    problem
}

fn up(from: usize, next: impl Fn(usize) -> Option<usize>) -> impl Iterator<Item = usize> {
    std::iter::successors(Some(from), move |place| next(*place))
}

/// Places of the sizes that may carry a current.
fn carrying(current_a: f64, shape: Shape) -> std::ops::Range<usize> {
    let last = shape.sizes - 1;
    ALLOWABLE_A[..last].iter().position(|allowable_a| *allowable_a >= current_a).unwrap_or(last)..shape.sizes
}

fn drop_v(current_a: f64, length_ft: f64, size: usize) -> f64 {
    OHM_CMIL_PER_FT * current_a * length_ft / AREAS_CMIL[size]
}

fn branch(current_a: f64, shape: Shape, dice: &mut Dice) -> Branch {
    let limit_v = NOMINAL_V * if dice.happens(0.4) { 0.03 } else { 0.10 };
    let (there_ft, back_ft) = (dice.between(4.0, 22.0), dice.between(4.0, 22.0));
    let constant_ft = dice.happens(shape.constant).then(|| dice.between(4.0, 22.0));
    let mut ways = Vec::new();
    for size in carrying(current_a, shape) {
        let back_v = drop_v(current_a, back_ft, size);
        let pair = copper(AREAS_CMIL[size], there_ft) + copper(AREAS_CMIL[size], back_ft);
        let through_v = limit_v - back_v - drop_v(current_a, there_ft, size);
        match constant_ft {
            None => ways.push(Way { copper: pair, through_v, return_v: f64::INFINITY }),
            Some(constant_ft) => ways.extend(carrying(current_a, shape).map(|constant| Way {
                copper: pair + copper(AREAS_CMIL[constant], constant_ft),
                through_v,
                return_v: limit_v - back_v - drop_v(current_a, constant_ft, constant),
            })),
        }
    }
    Branch::of(&ways, limit_v).0
}

/// A return that is sized by itself.
fn lone(current_a: f64, length_ft: f64, shape: Shape) -> Variable {
    let sizes = carrying(current_a, shape).map(|size| FeederSize {
        copper: copper(AREAS_CMIL[size], length_ft),
        positive_v: 0.0,
        return_v: drop_v(current_a, length_ft, size),
    });
    Variable { sizes: sizes.collect() }
}

fn feeders(problem: &mut Problem, panels: &[Panel], buses: &[Bus], bus_a: &[f64], shape: Shape, dice: &mut Dice) {
    // A bus whose users are all fed by the panel it was made for is of one size with that panel's positive.
    let paired: Vec<bool> = (0..buses.len())
        .map(|bus| {
            let uses = |panel: &usize| up(panels[*panel].bus, |b| buses[b].next).any(|b| b == bus);
            let fed = |panel: usize| up(panel, |p| panels[p].parent).any(|p| p == buses[bus].of);
            buses[bus].of < panels.len() && (0..panels.len()).filter(uses).all(fed)
        })
        .collect();
    let mut positive_of = Vec::new();
    let mut return_of = vec![usize::MAX; buses.len()];
    for (place, panel) in panels.iter().enumerate() {
        let there_ft = dice.between(3.0, 15.0);
        let own = buses.iter().position(|bus| bus.of == place);
        let back = own.map(|bus| (bus, dice.between(3.0, 15.0)));
        let pair = back.filter(|(bus, _)| paired[*bus]);
        positive_of.push(problem.variables.len());
        let sizes = carrying(panel.current_a, shape).map(|size| FeederSize {
            copper: copper(AREAS_CMIL[size], there_ft) + pair.map_or(0, |(_, ft)| copper(AREAS_CMIL[size], ft)),
            positive_v: drop_v(panel.current_a, there_ft, size),
            return_v: pair.map_or(0.0, |(bus, ft)| drop_v(bus_a[bus], ft, size)),
        });
        problem.variables.push(Variable { sizes: sizes.collect() });
        match (pair, back) {
            (Some((bus, _)), _) => return_of[bus] = place_of(&problem.variables),
            (None, Some((bus, back_ft))) => {
                problem.variables.push(lone(bus_a[bus], back_ft, shape));
                return_of[bus] = place_of(&problem.variables);
            }
            (None, None) => {}
        }
    }
    for (bus, back) in return_of.iter_mut().enumerate().filter(|(_, back)| **back == usize::MAX) {
        let back_ft = dice.between(1.0, 5.0);
        problem.variables.push(lone(bus_a[bus], back_ft, shape));
        *back = place_of(&problem.variables);
    }
    for (place, panel) in panels.iter().enumerate() {
        let returns = |panel: &Panel| -> Vec<usize> {
            let mut way: Vec<usize> = up(panel.bus, |bus| buses[bus].next).map(|bus| return_of[bus]).collect();
            way.reverse();
            way
        };
        let way = returns(panel);
        let above = panel.parent.map_or(Vec::new(), |parent| returns(&panels[parent]));
        let shared = way.iter().zip(&above).take_while(|(a, b)| a == b).count();
        let mut positives: Vec<usize> = up(place, |p| panels[p].parent).map(|p| positive_of[p]).collect();
        positives.reverse();
        problem.places[place].own = Some(OwnLimit {
            positives: vec![positive_of[place]],
            returns: way[shared..].to_vec(),
            limit_v: NOMINAL_V * 0.03,
        });
        problem.places[place].positives = positives;
        problem.places[place].returns = way;
    }
}

fn place_of(variables: &[Variable]) -> usize {
    variables.len() - 1
}
