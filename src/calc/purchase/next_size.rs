//! Wire one size larger in place of what is needed, where the shop takes it and everything together costs less to buy: a
//! spool of the larger size is opened anyway, or the smaller one is dear.
//!
//! 1. All conductors of one requirement are changed together, with the terminals, splices, lugs, tubing and labels of their
//!    ends. What was reckoned for the smaller size holds for the larger one too: it carries more, drops less, and its
//!    protective device is no larger than what it allows.
//! 2. It is refused where an end would be made in another way, which takes other hours; where a splice or its tubing would not
//!    hold the maker's thin lead; and where a person chose something for it.
//! 3. It is taken where the purchase then has fewer gaps, or as many and a lower cost. One requirement is looked at after the
//!    other, in order of key, each with what was taken before.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::choose;
use crate::circuits::ends::{EndParts, SizeClass, end_parts, size_class};
use crate::circuits::legs::LegEnd;
use crate::gathering::{Part, need_of};
use crate::quote::ConsideredSize;
use crate::requirements::{Need, PartChange, Requirement, Substitution};
use crate::rules::sizes::overall_diameter;
use crate::shop::Shop;
use crate::shop::labour::Driver;
use crate::shop::settings::Settings;
use crate::spec::input::{JobType, OverruleInput};
use crate::take_off::{Conductor, ConductorEnd, ConductorRole, LimitedBy, TakeOff, Termination};
use crate::units::{Name, WireSize};

/// What came of looking for larger wire.
#[derive(Clone, Debug, Default)]
pub struct NextSizes {
    /// The requirements of the job as they are bought.
    pub requirements: Vec<Requirement>,
    /// Where larger wire is taken.
    pub made: Vec<Substitution>,
    /// What was looked at, by requirement.
    pub considered: BTreeMap<Name, ConsideredSize>,
}

/// Looks for wire that is better bought one size larger. `None` where the shop does not take it.
pub fn next_sizes(take_off: &TakeOff, shop: &Shop, day: NaiveDate, overrules: &[OverruleInput]) -> Option<NextSizes> {
    if !shop.settings.substitutes.next_size_up {
        return None;
    }
    let mut found = NextSizes { requirements: take_off.requirements.clone(), ..NextSizes::default() };
    let chosen_by_hand: BTreeSet<&Name> = overrules
        .iter()
        .filter_map(|overrule| match overrule {
            OverruleInput::Item { requirement, .. } => Some(requirement),
            _ => None,
        })
        .collect();
    for requirement in &take_off.requirements {
        let Need::Wire { size, colour, insulation_c_min } = requirement.need else { continue };
        let Some(next) = next_size(&shop.settings, size) else { continue };
        let of_it = |conductor: &&Conductor| {
            conductor.cable.is_none()
                && (conductor.gauge, conductor.colour, conductor.insulation_c) == (size, colour, insulation_c_min)
        };
        let conductors: Vec<&Conductor> = take_off.cut_list.iter().filter(of_it).collect();
        if conductors.is_empty() {
            continue;
        }
        let need = Need::Wire { size: next, colour, insulation_c_min };
        let looked_at = Looked { conductors, next, settings: &shop.settings };
        let told = match looked_at.substitution(requirement, need, &found.requirements, &chosen_by_hand) {
            Err(why) => {
                let size = next.to_string();
                ConsideredSize { size, cost_difference: None, labour_difference: None, chosen: false, why }
            }
            Ok(substitution) => {
                let labour = looked_at.labour(shop, take_off.boat.job_type);
                let after = substitution.made(found.requirements.clone());
                let (told, taken) =
                    compared(&found.requirements, &after, (colour, next), labour, (shop, day, overrules));
                if taken {
                    found.requirements = after;
                    found.made.push(substitution);
                }
                told
            }
        };
        found.considered.insert(requirement.key.clone(), told);
    }
    Some(found)
}

/// The next larger size that the shop keeps, of the same kind.
fn next_size(settings: &Settings, size: WireSize) -> Option<WireSize> {
    let same_kind = |other: &&WireSize| other.awg().is_some() == size.awg().is_some();
    let kept = settings.stocked_sizes.iter().chain(&settings.other_sizes).filter(same_kind);
    let larger = kept.filter(|other| other.nominal_cmil() > size.nominal_cmil() + 0.5);
    larger.copied().min_by(|a, b| a.nominal_cmil().total_cmp(&b.nominal_cmil()))
}

/// What larger wire of these conductors comes to, told and whether it is taken.
fn compared(
    before: &[Requirement],
    after: &[Requirement],
    (colour, next): (&str, WireSize),
    labour: Option<Decimal>,
    (shop, day, overrules): (&Shop, NaiveDate, &[OverruleInput]),
) -> (ConsideredSize, bool) {
    // What shares no item with any of it costs what it costs.
    let any_colour = !shop.settings.substitutes.colours.is_empty();
    let touched = |requirement: &&Requirement| match &requirement.need {
        Need::Wire { colour: of, .. } => any_colour || *of == colour,
        Need::RingTerminal { .. }
        | Need::Lug { .. }
        | Need::ButtSplice { .. }
        | Need::HeatShrink { .. }
        | Need::WireLabel { .. } => true,
        _ => false,
    };
    let bought = |requirements: &[Requirement]| {
        let some: Vec<Requirement> = requirements.iter().filter(touched).cloned().collect();
        let chosen = choose(&some, shop, day, overrules);
        let cost = chosen.picks.iter().try_fold(Decimal::ZERO, |sum, pick| sum.checked_add(pick.order.cost));
        (chosen.gaps, cost)
    };
    let ((gaps_before, cost_before), (gaps_after, cost_after)) = (bought(before), bought(after));
    let difference = cost_after.zip(cost_before).and_then(|(after, before)| after.checked_sub(before));
    let known: BTreeSet<&Name> = gaps_before.iter().map(|gap| &gap.what).collect();
    let new_gap = gaps_after.iter().find(|gap| !known.contains(&gap.what));
    let cheaper = difference.is_some_and(|difference| difference < Decimal::ZERO);
    let closes = gaps_after.len() < gaps_before.len();
    let (taken, why) = match (labour, new_gap) {
        (Some(_), _) => (
            false,
            format!(
                "an end of {next} is made in another way than it was reckoned: a larger wire is then left to an overrule of the conductor, which reckons its hours"
            ),
        ),
        (None, Some(gap)) => (false, format!("no item meets {}: {}", gap.need, gap.reason)),
        (None, None) if closes => (true, "no item meets what was needed, and one meets this".to_owned()),
        (None, None) if gaps_after.len() == gaps_before.len() && cheaper => {
            (true, "everything together costs less to buy".to_owned())
        }
        (None, None) => (false, "it costs no less to buy".to_owned()),
    };
    let told = ConsideredSize {
        size: next.to_string(),
        cost_difference: difference.map(|difference| difference.normalize()),
        labour_difference: Some(labour.unwrap_or_default()),
        chosen: taken,
        why,
    };
    (told, taken)
}

fn of_circuit_or_feeder(role: ConductorRole) -> bool {
    matches!(
        role,
        ConductorRole::SwitchedPositive
            | ConductorRole::ConstantPositive
            | ConductorRole::Return
            | ConductorRole::BilgeSwitchFeed
            | ConductorRole::RunningLightReturn
            | ConductorRole::FeederPositive
            | ConductorRole::FeederReturn
    )
}

/// Conductors of one requirement that may be a size larger.
struct Looked<'a> {
    conductors: Vec<&'a Conductor>,
    next: WireSize,
    settings: &'a Settings,
}

fn made(end: &ConductorEnd, size: WireSize) -> EndParts {
    let landed = LegEnd { station: 0, lands_on: end.lands_on, stud: end.stud };
    end_parts(&landed, size, end.lead)
}

fn parts_of(end: &EndParts, size: WireSize) -> Vec<Part> {
    let terminal = match (end.termination, end.stud) {
        (Termination::RingTerminal, Some(stud)) => Part::Ring(end.size, stud),
        (Termination::Lug, Some(stud)) => Part::Lug(end.size, stud),
        _ => Part::Splice(end.size),
    };
    let tubing = end.shrink.iter().map(|piece| Part::Shrink(*piece));
    [terminal, Part::Label(overall_diameter(size))].into_iter().chain(tubing).collect()
}

impl Looked<'_> {
    fn ends(&self) -> impl Iterator<Item = (&Conductor, &ConductorEnd)> {
        self.conductors.iter().flat_map(|conductor| [(*conductor, &conductor.from), (*conductor, &conductor.to)])
    }

    /// What is changed, or why it cannot be.
    fn substitution(
        &self,
        requirement: &Requirement,
        need: Need,
        requirements: &[Requirement],
        chosen_by_hand: &BTreeSet<&Name>,
    ) -> Result<Substitution, String> {
        let next = self.next;
        if let Some(chosen) = self.conductors.iter().find(|conductor| conductor.limited_by == LimitedBy::Overrule) {
            return Err(format!("a person chose the size of {}", chosen.label));
        }
        if let Some(battery) = self.conductors.iter().find(|conductor| !of_circuit_or_feeder(conductor.role)) {
            return Err(format!("{} is a cable of the batteries, with boots and studs of its own", battery.label));
        }
        let mut changes: BTreeMap<Part, i64> = BTreeMap::new();
        for (conductor, end) in self.ends() {
            let (now, then) = (made(end, conductor.gauge), made(end, next));
            let label = &conductor.label;
            if then.no_tubing && !now.no_tubing {
                return Err(format!("no tubing goes over the {next} end of {label}"));
            }
            if then.much_thinner_lead && !now.much_thinner_lead || then.loose_on_thin_wire && !now.loose_on_thin_wire {
                return Err(format!("a {next} splice does not hold the maker's thin lead of {label}"));
            }
            parts_of(&now, conductor.gauge).into_iter().for_each(|part| *changes.entry(part).or_default() -= 1);
            parts_of(&then, next).into_iter().for_each(|part| *changes.entry(part).or_default() += 1);
        }
        changes.retain(|_, more| *more != 0);
        let parts: Vec<PartChange> =
            changes.into_iter().map(|(part, more)| PartChange { need: need_of(part), more }).collect();
        let keys = parts.iter().map(|part| Name::from(part.need.key()));
        let touched: Vec<Name> = keys.chain([requirement.key.clone(), Name::from(need.key())]).collect();
        if let Some(chosen) = touched.iter().find(|key| chosen_by_hand.contains(key)) {
            return Err(format!("a person chose the item of {chosen}"));
        }
        for PartChange { need, more } in parts.iter().filter(|part| part.more < 0) {
            let key = need.key();
            let there = requirements.iter().find(|requirement| requirement.key.as_str() == key);
            if there.is_none_or(|there| there.quantity < Decimal::from(-more)) {
                return Err(format!("it is not known which of {key} belong to these conductors"));
            }
        }
        let labels: Vec<Name> = self.conductors.iter().map(|conductor| conductor.label.clone()).collect();
        let Need::Wire { size, colour, .. } = &requirement.need else {
            return Err("it is no wire".to_owned());
        };
        let message = format!(
            "{size} {colour} is cut from {next} {colour}, with terminals, splices, tubing and labels for {next}: {}. All limits are kept; everything together is cheaper to buy",
            labels.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
        );
        Ok(Substitution { requirement: requirement.key.clone(), need, parts, conductors: labels, message })
    }

    /// What the work on the ends would be charged more, where they are made in another way; `None` where they are not.
    fn labour(&self, shop: &Shop, job_type: JobType) -> Option<Decimal> {
        let minutes = |driver: Driver| -> Decimal {
            let of_driver = shop.labour_operations.iter().filter(|operation| operation.driver == driver);
            of_driver.filter_map(|operation| Decimal::from_f64(operation.likely_min)).sum()
        };
        let class = |end: &EndParts| match (end.termination, size_class(end.size)) {
            (Termination::TwoLayerSplice, _) => Driver::Splice,
            (_, SizeClass::Small) => Driver::SmallEnd,
            (_, SizeClass::Medium) => Driver::MediumLug,
            (_, SizeClass::Large) => Driver::LargeLug,
        };
        let mut more = None;
        for (conductor, end) in self.ends() {
            let (now, then) = (class(&made(end, conductor.gauge)), class(&made(end, self.next)));
            if now != then {
                *more.get_or_insert(Decimal::ZERO) += minutes(then) - minutes(now);
            }
        }
        let factor = Decimal::from_f64(match job_type {
            JobType::BareHull => self.settings.job_factors.bare_hull,
            JobType::FirstRig => self.settings.job_factors.first_rig,
            JobType::ReRig => self.settings.job_factors.re_rig,
        })?;
        let charged = |minutes: Decimal| minutes * factor / Decimal::from(60) * self.settings.labour_rate;
        more.map(|minutes| charged(minutes).round_dp(4).normalize())
    }
}
