//! Does an item meet a need? By what it is, never by its number; and where it does not, in what.

mod network;
mod power;

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::purchase::fit_out;
use crate::purchase::price_break::CostSteps;
use crate::requirements::Need;
use crate::shop::Shop;
use crate::shop::catalogue::Mark;
use crate::shop::item::{Attributes, Item, SellingUnit};
use crate::shop::settings::{Settings, Substitutes};
use crate::units::{Length, LengthValue, WireSize, within};

/// Something in which an item falls short of a need. Those that are easiest to mend come first: the nearest item is the
/// one with the least weight of misses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Miss {
    /// It has left the catalogue.
    Retired,
    /// It has no cost price on the day.
    Price,
    /// Its price category is not in the shop's settings.
    Category,
    /// Its tax class is not in the shop's settings.
    TaxClass,
    /// It is better than what is needed, in a way that the shop does not take.
    Better,
    /// Its buying or selling unit does not suit.
    Unit,
    /// Its insulation is rated too low.
    Insulation,
    /// It is not ignition protected.
    Ignition,
    /// Its interrupt rating is too low.
    Interrupt,
    /// Its voltage rating is too low.
    Voltage,
    /// It is too short, or longer than it may be.
    PieceLength,
    /// It shrinks to no less than what it must close on.
    Recovered,
    /// It does not go over what it must pass, or go round.
    Diameter,
    /// It is of another rating.
    Rating,
    /// It is of another colour.
    Colour,
    /// It fits another stud, or has another plug.
    Stud,
    /// It is for another wire size, or of another class of cable.
    Size,
    /// It is of another fuse family, or extends another kind of cable.
    Family,
    /// It has too few places or outputs.
    Positions,
    /// It does not do what is asked of it: charge that chemistry, part banks while cranking, show a light.
    Does,
    /// It has another number of conductors.
    Conductors,
}

const ALL_MISSES: [Miss; 21] = [
    Miss::Retired,
    Miss::Price,
    Miss::Category,
    Miss::TaxClass,
    Miss::Better,
    Miss::Unit,
    Miss::Insulation,
    Miss::Ignition,
    Miss::Interrupt,
    Miss::Voltage,
    Miss::PieceLength,
    Miss::Recovered,
    Miss::Diameter,
    Miss::Rating,
    Miss::Colour,
    Miss::Stud,
    Miss::Size,
    Miss::Family,
    Miss::Positions,
    Miss::Does,
    Miss::Conductors,
];

/// The misses of one item, as a set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Misses(u32);

impl Misses {
    pub(super) fn note(&mut self, missed: bool, miss: Miss) {
        self.0 |= u32::from(missed) << miss as u8;
    }

    fn clear(&mut self, miss: Miss) {
        self.0 &= !(1 << miss as u8);
    }

    /// Whether the item meets the need in everything.
    pub fn none(self) -> bool {
        self.0 == 0
    }

    /// The misses, easiest to mend first.
    pub fn iter(self) -> impl Iterator<Item = Miss> {
        ALL_MISSES.into_iter().filter(move |&miss| self.0 & (1 << miss as u8) != 0)
    }

    /// How far from the need: a number that grows with each miss and with how hard it is to mend.
    pub fn weight(self) -> u32 {
        self.iter().map(|miss| 100 + miss as u32).sum()
    }
}

impl Miss {
    /// Whether a person may choose the item all the same: only good practice speaks against it.
    pub fn only_unwise(self) -> bool {
        matches!(self, Miss::Colour | Miss::Recovered | Miss::Diameter)
    }

    /// Whether the item fits, and only the shop's tables must be mended before it can be priced.
    pub fn of_the_shops_tables(self) -> bool {
        matches!(self, Miss::Price | Miss::Category | Miss::TaxClass)
    }
}

/// An item that meets a need, with its cost prices on the day.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// The item.
    pub item: Arc<Item>,
    /// What it costs to buy.
    pub costs: CostSteps,
}

/// The kind of item that a need asks for; `None` for a particular item.
pub fn kind_of(need: &Need) -> Option<&'static str> {
    Some(match need {
        Need::Wire { .. } => "wire",
        Need::Cable { .. } => "cable",
        Need::RingTerminal { .. } => "ring_terminal",
        Need::ButtSplice { .. } => "butt_splice",
        Need::Lug { .. } => "lug",
        Need::HeatShrink { .. } => "heat_shrink",
        Need::Fuse { .. } => "fuse",
        Need::FuseHolder { .. } => "fuse_holder",
        Need::Breaker { .. } => "breaker",
        Need::WireLabel { .. } => "wire_label",
        Need::BatterySwitch { .. } => "battery_switch",
        Need::TerminalBoot { .. } => "terminal_boot",
        Need::Bus { .. } => "bus",
        Need::FuseBlock { .. } => "fuse_block",
        Need::Charger { .. } => "charger",
        Need::Combiner { .. } => "combiner",
        Need::BowReceptacle { .. } => "bow_receptacle",
        Need::BilgeSwitch { .. } => "bilge_switch",
        Need::Hose { .. }
        | Need::PlumbingFitting { .. }
        | Need::Fastener { .. }
        | Need::Loom { .. }
        | Need::MessengerLine {}
        | Need::Consumable { .. }
        | Need::BatteryHardware { .. } => fit_out::kind_of(need),
        Need::NetworkCable { .. } => "network_cable",
        Need::NetworkTee { .. } => "network_tee",
        Need::NetworkTerminator { .. } => "network_terminator",
        Need::NetworkPowerTap { .. } => "network_power_tap",
        Need::DisplayCable { .. } => "display_cable",
        Need::EngineGateway { .. } => "engine_gateway",
        Need::CableExtension { .. } => "cable_extension",
        Need::Item { .. } => return None,
    })
}

fn takes(size_from: WireSize, size_to: WireSize, size: WireSize) -> bool {
    size.at_least(size_from) && size_to.at_least(size)
}

fn same_rating(a: f64, b: f64) -> bool {
    within(a, b) && within(b, a)
}

pub(super) fn by_length(item: &Item) -> bool {
    matches!(item.selling_unit, SellingUnit::Foot | SellingUnit::Metre)
}

/// Whether a cable has these colours inside, in whatever order and case its row names them.
fn same_colours(needed: &[&str], has: &[String]) -> bool {
    let mut needed: Vec<String> = needed.iter().map(|colour| colour.to_ascii_lowercase()).collect();
    let mut has: Vec<String> = has.iter().map(|colour| colour.to_ascii_lowercase()).collect();
    needed.sort();
    has.sort();
    needed == has
}

/// How many cut pieces one stick or ready-cut piece gives.
pub fn pieces_per_unit(piece_length: LengthValue, needed: LengthValue) -> i64 {
    match (piece_length.length(), needed.length()) {
        (Some(unit), Some(piece)) if piece.nanometres() > 0 => unit.nanometres() / piece.nanometres(),
        _ => 0,
    }
}

/// Shows the items that can meet a need by their marks: [`misses`] has to be asked of each. Any other has a miss.
pub fn each_marked(need: &Need, shop: &Shop, look_at: &mut dyn FnMut(&Arc<Item>)) {
    let catalogue = &shop.catalogue;
    let Some(kind) = kind_of(need) else {
        if let Need::Item { sku } = need {
            catalogue.get(sku.as_str()).into_iter().for_each(look_at);
        }
        return;
    };
    let mut where_marked = |suits: &dyn Fn(&Mark) -> bool| catalogue.where_marked(kind, suits).for_each(&mut *look_at);
    let near = |needed_a: f64, rated: u64| (needed_a * 1000.0 - rated as f64).abs() <= 1.0;
    match need {
        Need::Wire { size, colour, .. } => {
            let substitutes = &shop.settings.substitutes;
            let others = substitutes.instead_of(colour).filter(|other| !other.eq_ignore_ascii_case(colour));
            let marks: BTreeSet<Mark> = std::iter::once(*colour).chain(others).map(|c| Mark::wire(*size, c)).collect();
            marks.iter().for_each(|mark| catalogue.marked(kind, mark).iter().for_each(&mut *look_at));
        }
        Need::Cable { size, conductors, .. } => {
            catalogue.marked(kind, &Mark::Cable(*size, *conductors)).iter().for_each(look_at);
        }
        Need::Lug { size, stud } => {
            catalogue.marked(kind, &Mark::Sized(*size, *size, Some(*stud))).iter().for_each(look_at);
        }
        Need::RingTerminal { size, stud } => where_marked(
            &|mark| matches!(mark, Mark::Sized(from, to, Some(on)) if takes(*from, *to, *size) && on == stud),
        ),
        Need::ButtSplice { size } | Need::TerminalBoot { size, .. } => {
            where_marked(&|mark| matches!(mark, Mark::Sized(from, to, None) if takes(*from, *to, *size)))
        }
        Need::Fuse { family, rating_a, .. } => {
            where_marked(&|mark| matches!(mark, Mark::Rated(Some(of), ma) if of == family && near(*rating_a, *ma)))
        }
        Need::Breaker { rating_a, .. } => {
            where_marked(&|mark| matches!(mark, Mark::Rated(None, ma) if near(*rating_a, *ma)))
        }
        Need::FuseHolder { family, .. } | Need::FuseBlock { family, .. } => {
            catalogue.marked(kind, &Mark::Family(*family)).iter().for_each(look_at);
        }
        Need::HeatShrink { supplied_diameter: least, .. } | Need::WireLabel { around: least } => {
            let least = least.length().map_or(0, Length::nanometres);
            where_marked(&|mark| matches!(mark, Mark::Wide(wide) if *wide >= least));
        }
        Need::Charger { nominal_voltage_v, .. } => {
            catalogue.marked(kind, &Mark::Volts(*nominal_voltage_v)).iter().for_each(look_at);
        }
        Need::BatterySwitch { stud, .. } | Need::Bus { stud, .. } | Need::Combiner { stud, .. } => {
            catalogue.marked(kind, &Mark::Stud(*stud)).iter().for_each(look_at);
        }
        _ => catalogue.of_kind(kind).for_each(look_at),
    }
}

/// In what an item of the right kind falls short of a need by its attributes, or is better in a way that the shop does not
/// take; a colour that the shop takes in place of the needed one is no miss.
pub fn misses(need: &Need, item: &Item, substitutes: &Substitutes) -> Misses {
    let mut misses = attribute_misses(need, item);
    match (need, &item.attributes) {
        (Need::Wire { colour, insulation_c_min, .. }, Attributes::Wire { colour: met, insulation_c, .. }) => {
            misses.note(!substitutes.higher_temperature && insulation_c > insulation_c_min, Miss::Better);
            if substitutes.take_colour(colour, met) {
                misses.clear(Miss::Colour);
            }
        }
        (Need::Cable { insulation_c_min, .. }, Attributes::Cable { insulation_c, .. }) => {
            misses.note(!substitutes.higher_temperature && insulation_c > insulation_c_min, Miss::Better);
        }
        (Need::HeatShrink { supplied_diameter: least, .. }, Attributes::HeatShrink { supplied_diameter, .. }) => {
            let wider = supplied_diameter.length() > least.length();
            misses.note(!substitutes.wider_shrink && wider, Miss::Better);
        }
        _ => {}
    }
    misses
}

/// In what an item of the right kind falls short of a need by its attributes. A need for a particular item is met by
/// that item alone, and any other of its kind meets it by choice.
pub fn attribute_misses(need: &Need, item: &Item) -> Misses {
    let mut misses = Misses::default();
    match (need, &item.attributes) {
        (Need::Wire { size, colour, insulation_c_min }, Attributes::Wire { size: s, colour: c, insulation_c, .. }) => {
            misses.note(size != s, Miss::Size);
            misses.note(!c.eq_ignore_ascii_case(colour), Miss::Colour);
            misses.note(insulation_c < insulation_c_min, Miss::Insulation);
            misses.note(!by_length(item), Miss::Unit);
        }
        (
            Need::Cable { conductors, size, colours, insulation_c_min, outside_diameter_max },
            Attributes::Cable { conductors: many, size: s, colours: c, insulation_c, outside_diameter, .. },
        ) => {
            misses.note(conductors != many, Miss::Conductors);
            misses.note(size != s, Miss::Size);
            misses.note(!same_colours(colours, c), Miss::Colour);
            misses.note(insulation_c < insulation_c_min, Miss::Insulation);
            let most = outside_diameter_max.and_then(LengthValue::length);
            misses.note(most.is_some_and(|most| outside_diameter.length() > Some(most)), Miss::Diameter);
            misses.note(!by_length(item), Miss::Unit);
        }
        (Need::RingTerminal { size, stud }, Attributes::RingTerminal { size_from, size_to, stud: s }) => {
            misses.note(!takes(*size_from, *size_to, *size), Miss::Size);
            misses.note(stud != s, Miss::Stud);
        }
        (Need::ButtSplice { size }, Attributes::ButtSplice { size_from, size_to }) => {
            misses.note(!takes(*size_from, *size_to, *size), Miss::Size);
        }
        (Need::Lug { size, stud }, Attributes::Lug { size: s, stud: t }) => {
            misses.note(size != s, Miss::Size);
            misses.note(stud != t, Miss::Stud);
        }
        (
            Need::HeatShrink { supplied_diameter: least, recovered_diameter_max: most, piece_length },
            Attributes::HeatShrink { supplied_diameter, recovered_diameter, piece_length: unit },
        ) => {
            misses.note(supplied_diameter.length() < least.length(), Miss::Diameter);
            misses.note(recovered_diameter.length() > most.length(), Miss::Recovered);
            misses.note(pieces_per_unit(*unit, *piece_length) < 1, Miss::PieceLength);
        }
        (
            Need::Fuse { family, rating_a, voltage_v_min, interrupt_a_min },
            Attributes::Fuse { family: f, rating_a: rating, voltage_rating_v, interrupt_a },
        ) => {
            misses.note(family != f, Miss::Family);
            misses.note(!same_rating(*rating_a, *rating), Miss::Rating);
            misses.note(!within(*voltage_v_min, *voltage_rating_v), Miss::Voltage);
            misses.note(!within(*interrupt_a_min, *interrupt_a), Miss::Interrupt);
        }
        (
            Need::FuseHolder { family, rating_a, voltage_v_min, ignition_protected },
            Attributes::FuseHolder { family: f, rating_max_a, voltage_rating_v, ignition_protected: protected },
        ) => {
            misses.note(family != f, Miss::Family);
            misses.note(!within(*rating_a, *rating_max_a), Miss::Rating);
            misses.note(!within(*voltage_v_min, *voltage_rating_v), Miss::Voltage);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (
            Need::Breaker { rating_a, voltage_v_min, interrupt_a_min, ignition_protected },
            Attributes::Breaker { rating_a: rating, voltage_rating_v, interrupt_a, ignition_protected: protected },
        ) => {
            misses.note(!same_rating(*rating_a, *rating), Miss::Rating);
            misses.note(!within(*voltage_v_min, *voltage_rating_v), Miss::Voltage);
            misses.note(!within(*interrupt_a_min, *interrupt_a), Miss::Interrupt);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (Need::WireLabel { around }, Attributes::WireLabel { diameter_max }) => {
            misses.note(diameter_max.length() < around.length(), Miss::Diameter);
        }
        (Need::Item { .. }, _) => {}
        (need, _) if fit_out::misses(need, item, &mut misses) => {}
        (need, _) if power::misses(need, &item.attributes, &mut misses) => {}
        (need, _) if network::misses(need, &item.attributes, &mut misses) => {}
        (need, _) => debug_assert!(kind_of(need) != Some(item.attributes.kind()), "every kind has its arm"),
    }
    misses.note(item.buying_quantity <= Decimal::ZERO, Miss::Unit);
    misses.note(item.retired, Miss::Retired);
    misses
}

/// The candidate an item makes for a need on a day, or in what it falls short.
pub fn candidate(need: &Need, item: &Arc<Item>, settings: &Settings, day: NaiveDate) -> Result<Candidate, Misses> {
    let misses = misses(need, item, &settings.substitutes);
    // The shop's tables are looked at only for what fits: most of the catalogue does not.
    if misses.none() { priced(item, settings, day) } else { Err(misses) }
}

/// The candidate an item makes that fits, or what the shop's tables lack to price it.
pub fn priced(item: &Arc<Item>, settings: &Settings, day: NaiveDate) -> Result<Candidate, Misses> {
    let mut misses = table_misses(item, settings);
    let costs = CostSteps::of(item, day);
    misses.note(costs.is_empty(), Miss::Price);
    if misses.none() { Ok(Candidate { item: Arc::clone(item), costs }) } else { Err(misses) }
}

fn table_misses(item: &Item, settings: &Settings) -> Misses {
    let mut misses = Misses::default();
    let category = settings.categories.iter().find(|category| category.code == item.category);
    misses.note(category.is_none(), Miss::Category);
    let tax_class = item.tax_class.as_ref().or(category.map(|category| &category.tax_class));
    let known = tax_class.is_some_and(|code| settings.tax_classes.iter().any(|class| class.code == *code));
    misses.note(category.is_some() && !known, Miss::TaxClass);
    misses
}

/// The item that comes nearest to a need that none meets.
#[derive(Clone, Debug)]
pub struct Nearest {
    /// The item.
    pub item: Arc<Item>,
    /// In what it falls short.
    pub misses: Misses,
}

impl Nearest {
    /// The nearer of two; of two as near the first by sku.
    pub fn nearer(found: Option<Nearest>, item: &Arc<Item>, misses: Misses) -> Option<Nearest> {
        match found {
            Some(nearest) if (nearest.misses.weight(), &nearest.item.sku) <= (misses.weight(), &item.sku) => {
                Some(nearest)
            }
            _ => Some(Nearest { item: Arc::clone(item), misses }),
        }
    }
}
