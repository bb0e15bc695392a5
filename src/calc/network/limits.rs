//! Limits that a laid network breaks: each is a gap that says what would mend it.

use super::plan::{Hung, Plan};
use super::power_key;
use crate::findings::Gap;
use crate::rules::network::{cable, limits};
use crate::shop::item::NetworkClass;
use crate::spec::boat::Boat;
use crate::units::{Length, Name, rounded, within};

/// Length of the backbone between its two farthest points: spans, and the longest drop at each end, since the terminator
/// stands on the last tee there.
pub struct Backbone {
    /// Its spans.
    pub spans: Length,
    /// Longest drop at the first tee station.
    pub first_drop: Length,
    /// Longest drop at the last one; none where that is the first.
    pub last_drop: Length,
}

impl Backbone {
    /// That of a plan.
    pub fn of(plan: &Plan) -> Self {
        let last = plan.tees.len() - 1;
        let drop = |tee: usize| plan.longest_drop_at(tee);
        Backbone {
            spans: plan.between(0, last),
            first_drop: drop(0),
            last_drop: if last == 0 { Length::ZERO } else { drop(last) },
        }
    }

    /// All of it.
    pub fn length(&self) -> Length {
        self.spans + self.first_drop + self.last_drop
    }
}

/// Planned length of the longest drop and of all others.
pub fn drops(plan: &Plan) -> (Length, Length) {
    let longest = plan.hung.iter().map(|hung| hung.planned).max().unwrap_or_default();
    let all: Length = plan.hung.iter().map(|hung| hung.planned).sum();
    (longest, all - longest)
}

/// Terminators that devices at the ends have in them: one at each end counts, and where all tees stand together two at most.
pub fn built_in(plan: &Plan) -> u32 {
    let at = |tee: usize| plan.hung.iter().filter(|hung| hung.tee == tee && hung.device.terminator).count() as u32;
    let last = plan.tees.len() - 1;
    if last == 0 { at(0).min(2) } else { at(0).min(1) + at(last).min(1) }
}

/// The gaps of a plan.
pub fn gaps(plan: &Plan, boat: &Boat) -> Vec<Gap> {
    let mut gaps = Vec::new();
    let mut gap = |what: Name, need: String, reason: String, mend: String| gaps.push(Gap { what, need, reason, mend });
    let m = |length: Length| rounded(length.m(), 2);
    let (class, limit) = (cable(plan.class), limits());
    let heavier = |rest: &str| match plan.class {
        NetworkClass::Heavy => rest.to_owned(),
        NetworkClass::Mid => format!("ask for heavy cable in network.cable, or {rest}"),
        NetworkClass::Light => format!("ask for mid or heavy cable in network.cable, or {rest}"),
    };
    for hung in plan.hung.iter().filter(|hung| lacks_drop(hung)) {
        let Hung { device, planned, .. } = hung;
        let need = format!("a drop of {} m to '{}'", m(*planned), device.key);
        let (reason, mend) = if *planned > limit.drop_max {
            (
                format!("a drop is {} m long at most", limit.drop_max.m()),
                format!("mount it nearer to '{}', where its tee is", boat.stations[plan.tees[hung.tee]].id),
            )
        } else {
            (
                "no length of network.cable_lengths that a drop may have reaches".to_owned(),
                "add a length up to 6 m to the shop's settings, or mount it nearer to its tee".to_owned(),
            )
        };
        gap(Name::from(format!("network/drop/{}", device.key)), need, reason, mend);
    }
    let (longest, others) = drops(plan);
    if longest + others > limit.drops_max {
        gap(
            "network/drops".into(),
            format!("drops of {} m together", m(longest + others)),
            format!("all drops together are {} m long at most", limit.drops_max.m()),
            "keep shorter cable for drops in network.cable_lengths, or lay a second network".to_owned(),
        );
    }
    if plan.hung.len() as u32 > limit.devices_max {
        gap(
            "network/devices".into(),
            format!("a network of {} devices", plan.hung.len()),
            format!("a network has {} devices at most", limit.devices_max),
            "lay a second network and join them by a bridge".to_owned(),
        );
    }
    if let Some(feed) = plan.feed.as_ref().filter(|feed| feed.fuse_a.is_none())
        && within(feed.current_a, class.current_a_max)
    {
        gap(
            "network/fuse".into(),
            format!("a fuse that holds {} A and protects network cable of {} A", feed.current_a, class.current_a_max),
            "no rating of branch_ratings_a lies between the two".to_owned(),
            heavier(&format!("add a rating of {} A to branch_ratings_a in the shop's settings", class.current_a_max)),
        );
    }
    // Two terminators, one at each end: any more load the line until nothing gets through.
    let (with_terminator, at_ends) = (plan.hung.iter().filter(|hung| hung.device.terminator), built_in(plan));
    let surplus = with_terminator.count() as u32 - at_ends;
    if surplus > 0 {
        gap(
            "network/terminators".into(),
            format!("a network with {} devices that have a terminator in them", surplus + at_ends),
            format!("it has one terminator at each end and no other, so that {at_ends} of them can stay"),
            "take the others' terminators out, or mount these devices at the ends".to_owned(),
        );
    }
    let backbone = Backbone::of(plan).length();
    if !within(backbone.m(), class.backbone_m_max) {
        gap(
            "network/backbone".into(),
            format!("a backbone of {} m", m(backbone)),
            format!("{} cable is {} m long at most", plan.class.word(), class.backbone_m_max),
            if plan.class == NetworkClass::Light {
                heavier("lay a second network and join them by a bridge")
            } else {
                "lay a second network and join them by a bridge".to_owned()
            },
        );
    }
    let current_a = f64::from(plan.load_equivalency()) * limit.current_of_len_a;
    if !within(current_a, class.current_a_max) {
        gap(
            "network/load".into(),
            format!("{current_a:.2} A for {} load equivalency numbers", plan.load_equivalency()),
            format!("{} cable carries {} A", plan.class.word(), class.current_a_max),
            heavier("split the network in two, each with its own supply"),
        );
    }
    match &plan.feed {
        None => gap(
            power_key(),
            "12 V for the data network".to_owned(),
            "no panel of 12 V can be reached".to_owned(),
            "add a panel on a 12 V bank, or runs to it".to_owned(),
        ),
        Some(feed) if !within(feed.worst_v(), limit.voltage_drop_v_max) => {
            let here = if boat.network.power_station.is_some() {
                "leave network.power_station out so that the tap goes where least is lost, "
            } else {
                ""
            };
            gap(
                "network/voltage".into(),
                format!("a data network that loses {:.2} V on its way", feed.worst_v()),
                format!(
                    "{} V may be lost between power tap and last device, and a tap {} loses more",
                    limit.voltage_drop_v_max,
                    if boat.network.power_station.is_some() { "where it was asked for" } else { "in the middle too" }
                ),
                format!("{here}{}", heavier("split the network in two, each with its own supply")),
            );
        }
        Some(_) => {}
    }
    gaps
}

/// Whether a device has no drop that it may have.
fn lacks_drop(hung: &Hung) -> bool {
    let Some(way) = &hung.drop else { return false };
    let own = hung.device.supplied.is_some_and(|own| own >= way.needed && own <= limits().drop_max);
    !own && hung.bought.is_none()
}
