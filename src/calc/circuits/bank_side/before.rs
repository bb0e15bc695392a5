//! The cables of a bank that stand before its feeders, returns and always-on circuits, sized before anything is laid: each
//! conductor behind them counts their drop.

use super::{BankSide, always_on_blades};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::{BankClass, main_family};
use crate::circuits::select::construction_minimum;
use crate::circuits::sizing::{Demand, carry};
use crate::routes::Route;
use crate::rules::drop::drop_v;
use crate::rules::power::{BATTERY_TO_BATTERY_FT, LINK_IN, SHARE_BEFORE_FEEDERS, TERMINALS_ON_STUD_MAX};
use crate::rules::protection::{family, standard_ratings};
use crate::rules::sizes::area_cmil;
use crate::shop::item::FuseFamily;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::take_off::LandsOn;
use crate::units::{Length, WireSize, within};

/// Cables of a bank that stand before a conductor, as one cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Before {
    /// Size that they have at least.
    pub size: WireSize,
    /// Length of them all.
    pub length: Length,
    /// What they carry, amperes.
    pub current_a: f64,
}

impl Before {
    /// The length that a conductor of `current_a` counts: as long as gives, at that current, the drop that is there.
    pub fn counted(&self, current_a: f64) -> Option<Length> {
        (current_a > 0.0).then(|| self.length.scaled(self.current_a / current_a))
    }

    /// Drop along them, volts.
    pub fn drop_v(&self, settings: &Settings) -> f64 {
        let area = area_cmil(self.size, settings.area_standard);
        area.map_or(0.0, |area| drop_v(settings.copper_ohm_cmil_per_ft, self.current_a, self.length, area))
    }
}

impl BankSide {
    /// What something of the bank's own fuse at the post has before it: the link to the fuse, where it does not sit on the
    /// post, so much cable behind it, and the links to the bus and to the main before it where that stands in place of the post.
    pub fn post_before(
        &self,
        boat: &Boat,
        bank: usize,
        (current_a, needs_a): (f64, f64),
        behind: Length,
        class: &BankClass,
        settings: &Settings,
    ) -> Option<Before> {
        let link = Length::inches(LINK_IN);
        let cube = main_family(class, needs_a, settings) == Some(FuseFamily::TerminalCube);
        let own = if cube { behind } else { behind + link };
        let to_bus = if self.positive_bus && current_a > 0.0 {
            (link * 2).scaled(self.load.current_a / current_a)
        } else {
            Length::ZERO
        };
        let length = own + to_bus;
        let some = current_a > 0.0 && length > Length::ZERO;
        some.then(|| before(boat, bank, (current_a, needs_a), (false, length), class, settings)).flatten()
    }
}

/// Puts what lands on a negative post on a bus there, where it is more than a stud takes; counts the jumpers too.
pub(super) fn settle_negative(side: &mut BankSide, boat: &Boat, bank: usize, class: &BankClass, settings: &Settings) {
    let jumpers = jumpers_counted(boat, bank);
    let mut length = jumpers;
    if side.negative_terminals > TERMINALS_ON_STUD_MAX {
        side.negative.lands_on = LandsOn::BankNegativeBus;
        length += settings.battery_termination_allowance.length().unwrap_or_default() * 2;
    }
    if length > Length::ZERO && side.load.current_a > 0.0 {
        // Jumpers have the gauge of the feed (common practice), however much of the drop they take, and carry what starts the
        // engine and what charges. A bus does without the starter's current: the engine's own cable stays on the post.
        let flows_a = if jumpers > Length::ZERO {
            side.through.between_batteries_a(side.load.current_a)
        } else {
            side.load.current_a.max(side.through.charging_a())
        };
        let needs = (flows_a, side.load.needs_a().max(side.through.fuse_a));
        let carries = sized(needs, (false, length), f64::INFINITY, class, settings);
        side.negative_before = carries.map(|carries| {
            let feed = side.before.map(|before| before.size).filter(|feed| feed.at_least(carries.size));
            Before { size: feed.unwrap_or(carries.size), length, current_a: side.load.current_a }
        });
    }
}

/// Length at all of the bank's current that gives the drop of the jumpers and links that the job supplies: jumpers of a
/// string carry the string's share; links between strings are taken as if both cables came off the same battery, which is
/// the worst place for them.
pub fn jumpers_counted(boat: &Boat, bank: usize) -> Length {
    let bank = &boat.banks[bank];
    if bank.of_one.is_none() {
        return Length::ZERO;
    }
    let (series, parallel) = (f64::from(bank.series), f64::from(bank.parallel));
    Length::feet(BATTERY_TO_BATTERY_FT).scaled((series - 1.0) / parallel + (parallel - 1.0))
}

/// What the blades of the always-on side have before them: the link to its main fuse, and the cable on to its block.
pub(super) fn always_on_before(
    boat: &Boat,
    bank: usize,
    loads: &[Load],
    side: &BankSide,
    class: &BankClass,
    settings: &Settings,
) -> Option<Before> {
    let current_a: f64 = always_on_blades(boat, bank, loads, class, settings).map(|lead| lead.current_a).sum();
    let ends = settings.battery_termination_allowance.length().unwrap_or_default() * 2;
    let to_block = if side.fuse_block { ends } else { Length::ZERO };
    side.post_before(boat, bank, (current_a, current_a), to_block, class, settings)
}

/// Length of the cable from a main fuse to the switch, rises and ends included.
pub fn switch_cable(boat: &Boat, bank: usize, route: &Route, settings: &Settings) -> Length {
    let bank = &boat.banks[bank];
    let rises = if bank.station == bank.switch.station {
        Length::ZERO
    } else {
        boat.stations[bank.station].rise + boat.stations[bank.switch.station].rise
    };
    route.length() + rises + settings.battery_termination_allowance.length().unwrap_or_default() * 2
}

/// Cables of so long before something: of the least size that carries the current, lets a fuse carry what runs for hours,
/// and takes no more of the drop than its share.
pub(super) fn before(
    boat: &Boat,
    place: usize,
    needs: (f64, f64),
    way: (bool, Length),
    class: &BankClass,
    settings: &Settings,
) -> Option<Before> {
    let share_v = boat.banks[place].nominal_voltage_v * settings.feeder_drop_percent / 100.0 * SHARE_BEFORE_FEEDERS;
    sized(needs, way, share_v, class, settings)
}

/// The same with a drop of so many volts at most.
fn sized(
    (current_a, needs_a): (f64, f64),
    (engine_space, length): (bool, Length),
    share_v: f64,
    class: &BankClass,
    settings: &Settings,
) -> Option<Before> {
    let fuse = main_family(class, needs_a, settings);
    let demand = Demand {
        current_a,
        continuous: false,
        insulation_c: settings.insulation_c,
        engine_space,
        bundled_conductors: 1,
        standard: settings.area_standard,
        ratings_a: fuse.map_or(standard_ratings(), |fuse| family(fuse).ratings_a),
        ratings: fuse.map_or("standard", FuseFamily::word),
        maker_fuse_a: None,
        least_rating_a: needs_a,
    };
    let mut sizes: Vec<(f64, WireSize)> = settings
        .stocked_sizes
        .iter()
        .filter(|size| size.at_least(construction_minimum(settings.area_standard)))
        .filter_map(|size| Some((area_cmil(*size, settings.area_standard)?, *size)))
        .collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let carrying: Vec<&(f64, WireSize)> = sizes.iter().filter(|(_, size)| carry(&demand, *size).is_ok()).collect();
    let drop_of = |area: f64| drop_v(settings.copper_ohm_cmil_per_ft, current_a, length, area);
    let (_, size) = carrying.iter().find(|(area, _)| within(drop_of(*area), share_v)).or(carrying.last())?;
    Some(Before { size: *size, length, current_a })
}
