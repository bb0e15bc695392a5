//! The order of decision: a forest in which each place meets all of its variables on the way from a root.

use super::Problem;

/// How a place's drop grows with a variable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Grows {
    /// The place.
    pub(super) place: usize,
    /// Whether the variable's positive lies on its way.
    pub(super) positive: bool,
    /// Whether the variable's return does.
    pub(super) negative: bool,
}

/// One decision.
#[derive(Clone, Debug, Default)]
pub(super) struct Node {
    /// The variable that is decided.
    pub(super) variable: usize,
    /// Decisions above it.
    pub(super) depth: usize,
    /// What it changes.
    pub(super) grows: Vec<Grows>,
    /// Places at or below it.
    pub(super) places: Vec<usize>,
    /// Places that it leaves with nothing undecided.
    pub(super) ready: Vec<usize>,
    /// Decisions that follow, apart from each other. A child stands after its parent in the list of nodes.
    pub(super) children: Vec<usize>,
}

/// The order of decision of a problem.
#[derive(Debug, Default)]
pub(super) struct Order {
    /// All decisions.
    pub(super) nodes: Vec<Node>,
    /// The first ones.
    pub(super) roots: Vec<usize>,
    /// Places that have nothing to decide.
    pub(super) ready: Vec<usize>,
}

impl Order {
    pub(super) fn of(problem: &Problem) -> Self {
        let variables_of: Vec<Vec<usize>> = problem
            .places
            .iter()
            .map(|place| {
                let mut all: Vec<usize> = place.positives.iter().chain(&place.returns).copied().collect();
                if let Some(own) = &place.own {
                    all.extend(own.positives.iter().chain(&own.returns));
                }
                all.sort_unstable();
                all.dedup();
                all
            })
            .collect();
        let mut users: Vec<Vec<usize>> = vec![Vec::new(); problem.variables.len()];
        for (place, variables) in variables_of.iter().enumerate() {
            for &variable in variables {
                users[variable].push(place);
            }
        }
        let mut growing = Growing {
            problem,
            undecided: variables_of.iter().map(Vec::len).collect(),
            variables_of,
            users,
            decided: vec![false; problem.variables.len()],
            order: Order::default(),
        };
        let (ready, places): (Vec<usize>, Vec<usize>) =
            (0..problem.places.len()).partition(|place| growing.undecided[*place] == 0);
        growing.order.ready = ready;
        growing.order.roots = growing.grow(&places, 0);
        growing.order
    }
}

struct Growing<'a> {
    problem: &'a Problem,
    variables_of: Vec<Vec<usize>>,
    users: Vec<Vec<usize>>,
    decided: Vec<bool>,
    undecided: Vec<usize>,
    order: Order,
}

impl Growing<'_> {
    /// Decisions for places that all have something undecided: one tree for each group that shares none of it.
    fn grow(&mut self, places: &[usize], depth: usize) -> Vec<usize> {
        self.groups(places).into_iter().map(|group| self.decide(group, depth)).collect()
    }

    fn groups(&self, places: &[usize]) -> Vec<Vec<usize>> {
        let mut waiting: Vec<bool> = vec![false; self.variables_of.len()];
        for &place in places {
            waiting[place] = true;
        }
        let mut groups = Vec::new();
        for &first in places {
            if !std::mem::take(&mut waiting[first]) {
                continue;
            }
            let mut group = vec![first];
            let mut next = 0;
            while let Some(&place) = group.get(next) {
                next += 1;
                for &variable in self.variables_of[place].iter().filter(|variable| !self.decided[**variable]) {
                    for &user in &self.users[variable] {
                        if std::mem::take(&mut waiting[user]) {
                            group.push(user);
                        }
                    }
                }
            }
            group.sort_unstable();
            groups.push(group);
        }
        groups
    }

    /// Decides the variable that most places of a group share, the first of equals.
    fn decide(&mut self, group: Vec<usize>, depth: usize) -> usize {
        let of_group = group.iter().flat_map(|place| &self.variables_of[*place]).copied();
        // Users of an undecided variable are all in this group.
        let shared = |variable: &usize| (self.users[*variable].len(), std::cmp::Reverse(*variable));
        let variable = of_group.filter(|variable| !self.decided[*variable]).max_by_key(shared).expect("undecided");
        self.decided[variable] = true;
        for &place in &self.users[variable] {
            self.undecided[place] -= 1;
        }
        let grows = self.users[variable].iter().map(|&place| Grows {
            place,
            positive: self.problem.places[place].positives.contains(&variable),
            negative: self.problem.places[place].returns.contains(&variable),
        });
        let (ready, rest): (Vec<usize>, Vec<usize>) =
            group.iter().copied().partition(|place| self.undecided[*place] == 0);
        let at = self.order.nodes.len();
        self.order.nodes.push(Node {
            variable,
            depth,
            grows: grows.collect(),
            places: group,
            ready,
            children: Vec::new(),
        });
        self.order.nodes[at].children = self.grow(&rest, depth + 1);
        at
    }
}
