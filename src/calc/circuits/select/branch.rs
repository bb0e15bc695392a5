//! One circuit in the search: its ways, each with what it leaves to the feeders.

use smallvec::{SmallVec, smallvec};

use super::candidate::{Candidate, Device, Ratings, share_limit, share_limit_in_jacket};
use super::{Chosen, CircuitSizes, NoSize, Overruled, Search, Sizes};
use crate::circuits::least_copper::{self, Way};
use crate::circuits::legs::Owner;
use crate::circuits::main_protection::always_on_family;
use crate::rules::protection::family;
use crate::shop::item::{BranchProtection, DropClass, Duty, Function, FuseFamily};
use crate::take_off::ConductorRole;
use crate::units::within;

/// A circuit as the search sees it.
pub(super) struct Branch<'a> {
    load: usize,
    positives: Vec<Candidate<'a>>,
    negative: Candidate<'a>,
    /// The return of the light in its switch: no part of the drop, and as thin as it may be.
    light: Option<Candidate<'a>>,
    main: usize,
    limit_v: f64,
    forced: Option<usize>,
    /// The branch as the problem has it, until it is put there.
    pub(super) put: Option<least_copper::Branch>,
}

/// Places of a branch's sizes.
#[derive(Clone, Debug)]
pub(super) struct BranchSizes {
    positives: SmallVec<[usize; 4]>,
    negative: usize,
}

impl<'a> Search<'a, '_> {
    pub(super) fn branch(&self, place: usize) -> Branch<'a> {
        let load = &self.loads[place];
        let legs = &self.laid.circuits[place];
        let panel = &self.boat.panels[load.panel];
        let class = &self.classes[panel.bank];
        let continuous = load.duty == Duty::Continuous;
        let device = Device { continuous, maker_fuse_a: load.maker_fuse_a, least_rating_a: 0.0 };
        let positives: Vec<Candidate> = legs
            .positives
            .iter()
            .map(|&leg| {
                let (ratings, family) = match self.laid.legs[leg].role {
                    ConductorRole::ConstantPositive => self.always_on(always_on_family(
                        class,
                        load.fuse_needs_a(self.laid.legs[leg].current_a),
                        self.settings,
                    )),
                    // A bow motor has a breaker, which switches it too (common practice).
                    _ if panel.protection == BranchProtection::Breaker || load.function == Function::BowMotor => {
                        (self.branch_ratings(f64::INFINITY), None)
                    }
                    _ => (self.blade_ratings(), Some(FuseFamily::Blade)),
                };
                let candidate = self.candidate(leg, ratings, family, device);
                match self.laid.legs[leg].continues {
                    Some(feed) => candidate.behind(self.candidate(feed, ratings, family, device)),
                    None => candidate,
                }
            })
            .collect();
        let main = (0..positives.len())
            .max_by(|&a, &b| positives[a].leg.current_a.total_cmp(&positives[b].leg.current_a).then(b.cmp(&a)))
            .unwrap_or(0);
        // The return lies behind the devices of all positives, so it must stand the largest of them.
        let largest_a = positives.iter().map(|positive| self.rating_or_0(positive)).fold(0.0, f64::max);
        let behind = Device { continuous, maker_fuse_a: None, least_rating_a: largest_a };
        let light = legs.light.map(|light| {
            let switched = positives.iter().find(|positive| positive.leg.role != ConductorRole::ConstantPositive);
            let least_rating_a = switched.map_or(0.0, |positive| self.rating_or_0(positive));
            self.candidate(light, Ratings::of(None), None, Device { least_rating_a, ..Device::default() })
        });
        let limit_percent = match load.drop_class {
            DropClass::Critical => self.settings.critical_drop_percent,
            DropClass::General => self.settings.general_drop_percent,
        };
        Branch {
            load: place,
            negative: self.candidate(legs.negative, Ratings::of(None), None, behind),
            positives,
            light,
            main,
            limit_v: load.voltage_v * limit_percent / 100.0,
            forced: (self.wanted)(Owner::Circuit(place)).and_then(|size| self.universe.place(size)),
            put: None,
        }
    }

    fn rating_or_0(&self, candidate: &Candidate) -> f64 {
        self.rating_a(candidate).unwrap_or_default()
    }

    /// The largest device of a branch that the panel's feeder stands before, amperes.
    pub(super) fn largest_switched_a(&self, branch: &Branch) -> f64 {
        let switched = branch.positives.iter().filter(|c| c.leg.role != ConductorRole::ConstantPositive);
        switched.map(|candidate| self.rating_or_0(candidate)).fold(0.0, f64::max)
    }

    fn always_on(&self, chosen: Option<FuseFamily>) -> (Ratings<'a>, Option<FuseFamily>) {
        match chosen {
            Some(FuseFamily::Blade) => (self.blade_ratings(), chosen),
            other => (Ratings::of(other), chosen),
        }
    }

    /// The shop's branch ratings that a blade fuse comes in.
    fn blade_ratings(&self) -> Ratings<'a> {
        self.branch_ratings(family(FuseFamily::Blade).ratings_a.last().copied().unwrap_or_default())
    }

    /// The shop's branch ratings up to one.
    pub(super) fn branch_ratings(&self, most_a: f64) -> Ratings<'a> {
        let ratings = &self.settings.branch_ratings_a;
        Ratings { list_a: &ratings[..ratings.partition_point(|rating| *rating <= most_a)], word: "branch" }
    }

    /// All ways of a branch that are worth a look, and the sizes of each.
    ///
    /// 1. A return and the main positive have one size; under one jacket all have.
    /// 2. A switched positive, with the return, leaves to the feeders what is left of the limit; a constant positive
    ///    comes straight from the bank and leaves that to their returns alone.
    /// 3. A person's size is the only way, whatever it leaves.
    pub(super) fn ways(&self, branch: &Branch) -> (least_copper::Branch, Vec<BranchSizes>) {
        if let Some(place) = branch.forced {
            let all = branch.positives.iter().chain([&branch.negative]);
            let copper: u64 = all.map(|candidate| self.copper(candidate, place)).sum();
            let copper = copper + self.light_copper(branch);
            let way = Way { copper, through_v: f64::INFINITY, return_v: f64::INFINITY };
            let sizes = BranchSizes { positives: smallvec![place; branch.positives.len()], negative: place };
            return (least_copper::Branch { ways: vec![way], limit_v: branch.limit_v }, vec![sizes]);
        }
        if let ([positive], None) = (&branch.positives[..], &branch.light) {
            return self.ways_of_pair(branch, positive);
        }
        let (mut ways, mut sizes) = (Vec::new(), Vec::new());
        let lit = branch.light.as_ref().is_none_or(|light| light.least.is_ok());
        if let Ok(least) = branch.negative.least
            && lit
        {
            for &negative in self.universe.kept(branch.negative.jacketed).from(least) {
                self.ways_beside(branch, negative, &mut ways, &mut sizes);
            }
        }
        let (put, kept) = least_copper::Branch::of(&ways, branch.limit_v);
        (put, kept.into_iter().map(|way| sizes[way].clone()).collect())
    }

    /// The ways of a branch with one positive, which has the size of its return: one for each size.
    fn ways_of_pair(&self, branch: &Branch, positive: &Candidate) -> (least_copper::Branch, Vec<BranchSizes>) {
        let (mut ways, mut sizes) = (Vec::new(), Vec::new());
        if let (Ok(least), Ok(least_back)) = (positive.least, branch.negative.least) {
            let places = self.universe.kept(branch.negative.jacketed).from(least.max(least_back));
            (ways, sizes) = (Vec::with_capacity(places.len()), Vec::with_capacity(places.len()));
            for &place in places {
                let leaves_v =
                    most(branch.limit_v) - self.drop_at(&branch.negative, place) - self.drop_at(positive, place);
                if leaves_v < 0.0 {
                    continue;
                }
                let copper = self.copper(&branch.negative, place) + self.copper(positive, place);
                let (through_v, return_v) = match positive.leg.role {
                    ConductorRole::ConstantPositive => (f64::INFINITY, leaves_v),
                    _ => (leaves_v, f64::INFINITY),
                };
                ways.push(Way { copper, through_v, return_v });
                sizes.push(BranchSizes { positives: smallvec![place], negative: place });
            }
        }
        let (put, kept) = least_copper::Branch::of(&ways, branch.limit_v);
        (put, kept.into_iter().map(|way| sizes[way].clone()).collect())
    }

    /// The ways beside a return of one size.
    fn ways_beside(&self, branch: &Branch, negative: usize, ways: &mut Vec<Way>, sizes: &mut Vec<BranchSizes>) {
        let back_v = self.drop_at(&branch.negative, negative);
        let copper = self.copper(&branch.negative, negative) + self.light_copper(branch);
        let nothing = Way { copper, through_v: f64::INFINITY, return_v: f64::INFINITY };
        let mut found = vec![(nothing, BranchSizes { positives: SmallVec::new(), negative })];
        for (i, candidate) in branch.positives.iter().enumerate() {
            let Ok(least) = candidate.least else { return };
            let one = [negative];
            let tied = i == branch.main || candidate.jacketed;
            let places = if tied { &one[..] } else { self.universe.kept_from(least) };
            let mut longer = Vec::with_capacity(found.len() * places.len());
            for &place in places.iter().filter(|place| **place >= least) {
                let leaves_v = most(branch.limit_v) - back_v - self.drop_at(candidate, place);
                if leaves_v < 0.0 {
                    continue;
                }
                for (way, sizes) in &found {
                    let mut way = Way { copper: way.copper + self.copper(candidate, place), ..*way };
                    match candidate.leg.role {
                        ConductorRole::ConstantPositive => way.return_v = way.return_v.min(leaves_v),
                        _ => way.through_v = way.through_v.min(leaves_v),
                    }
                    let mut sizes = sizes.clone();
                    sizes.positives.push(place);
                    longer.push((way, sizes));
                }
            }
            found = longer;
            // Devices of many positives: what is worse in everything need not be carried on.
            if found.len() > 16 {
                let all: Vec<Way> = found.iter().map(|(way, _)| *way).collect();
                let (_, kept) = least_copper::Branch::of(&all, branch.limit_v);
                found = kept.into_iter().map(|way| found[way].clone()).collect();
            }
        }
        for (way, size) in found {
            ways.push(way);
            sizes.push(size);
        }
    }

    /// Copper of the return of a switch's light.
    fn light_copper(&self, branch: &Branch) -> u64 {
        let light = branch.light.as_ref().and_then(|light| Some((light, light.least.ok()?)));
        light.map_or(0, |(light, least)| self.copper(light, least))
    }

    /// The drop of a branch with the largest sizes, volts; infinite when no size carries it.
    fn least_drop_v(&self, branch: &Branch, feeder_v: (f64, f64)) -> f64 {
        let at_largest = |candidate: &Candidate| {
            let kept = candidate.least.ok().map(|least| self.universe.kept(candidate.jacketed).from(least));
            kept.and_then(|kept| kept.last()).map_or(f64::INFINITY, |place| self.drop_at(candidate, *place))
        };
        let back_v = at_largest(&branch.negative);
        let positives = branch.positives.iter().map(|positive| at_largest(positive) + feeder_share(positive, feeder_v));
        back_v + positives.fold(0.0, f64::max)
    }

    /// What a person's size is told about its drop: refused past the limit of all circuits (ABYC E-11 knows no class
    /// above 10 %), and past its own limit where the boat's safety hangs on the load; unwise past its own otherwise.
    fn too_much_drop(&self, branch: &Branch, drop_v: f64) -> Option<Overruled> {
        let load = &self.loads[branch.load];
        let general_v = load.voltage_v * self.settings.general_drop_percent / 100.0;
        let text = |limit_v: f64| format!("drops {drop_v:.2} V from bank to device, over the limit of {limit_v:.2} V");
        if !within(drop_v, general_v.max(branch.limit_v)) {
            return Some(Overruled::Refused(format!("it {}", text(general_v))));
        }
        if within(drop_v, branch.limit_v) {
            return None;
        }
        let safety = matches!(
            load.function,
            Function::BilgePump | Function::BilgeBlower | Function::NavigationLight | Function::Alarm
        );
        let text = text(branch.limit_v);
        Some(if safety { Overruled::Refused(format!("it {text}")) } else { Overruled::Unwise(text) })
    }

    /// Keeps what the search found for a branch.
    pub(super) fn keep(
        &self,
        branch: &Branch<'a>,
        found: Option<BranchSizes>,
        feeder_v: (f64, f64),
        sizes: &mut Sizes<'a>,
    ) {
        let Some(found) = found else {
            let all = branch.positives.iter().chain([&branch.negative]).chain(&branch.light);
            let refused = all.into_iter().find_map(|candidate| {
                let because = candidate.least.err()?;
                Some(NoSize::Carry { current_a: candidate.leg.current_a, because })
            });
            let drop = || NoSize::Drop { limit_v: branch.limit_v, least_v: self.least_drop_v(branch, feeder_v) };
            sizes.without.push((branch.load, refused.unwrap_or_else(drop)));
            return;
        };
        let forced = branch.forced.is_some();
        let negative_v = self.drop_at(&branch.negative, found.negative);
        let drops: Vec<f64> = branch
            .positives
            .iter()
            .zip(&found.positives)
            .map(|(candidate, place)| self.drop_at(candidate, *place) + negative_v + feeder_share(candidate, feeder_v))
            .collect();
        let worst = (0..drops.len()).max_by(|&a, &b| drops[a].total_cmp(&drops[b]).then(b.cmp(&a))).unwrap_or(0);
        if let Some(place) = branch.forced {
            let legs: Vec<&Candidate> = branch.positives.iter().chain([&branch.negative]).collect();
            let outcome = self.judge(&legs, place, self.too_much_drop(branch, drops[worst]));
            sizes.overruled.extend(outcome.map(|outcome| (Owner::Circuit(branch.load), outcome)));
        }
        let positives: Option<Vec<_>> =
            branch.positives.iter().zip(&found.positives).map(|(c, place)| self.chosen(c, *place, forced)).collect();
        let light = branch.light.as_ref().map(|light| self.chosen(light, light.least.ok()?, false));
        // A size that a person chose and that cannot carry is refused above; nothing is kept for it.
        if let (Some(mut positives), Some(mut negative), None | Some(Some(_))) =
            (positives, self.chosen(&branch.negative, found.negative, forced), light)
        {
            match branch.negative.jacketed {
                true => share_limit_in_jacket(&mut positives, &mut negative),
                false => share_limit(&mut positives[branch.main], &mut negative),
            }
            let switch_feed =
                branch.positives.iter().zip(&found.positives).zip(&positives).find_map(|((c, place), behind)| {
                    let feed = self.chosen(c.continued()?, *place, forced)?;
                    Some(Chosen { limited_by: behind.limited_by, ..feed })
                });
            sizes.circuits[branch.load] = Some(CircuitSizes {
                positives,
                negative,
                switch_feed,
                light: light.flatten(),
                drop_v: drops[worst],
                worst,
                feeder_v,
            });
        }
    }
}

/// The most that a limit lets pass, volts: what [`within`] allows.
fn most(limit_v: f64) -> f64 {
    limit_v * (1.0 + 1e-9) + 1e-12
}

/// What the feeder takes of a positive's drop: a constant positive shares only its return.
fn feeder_share(candidate: &Candidate, (positive_v, return_v): (f64, f64)) -> f64 {
    match candidate.leg.role {
        ConductorRole::ConstantPositive => return_v,
        _ => positive_v + return_v,
    }
}
