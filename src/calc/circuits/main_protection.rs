//! Main protection: which fuse family may stand at a bank's post, by voltage and by the bank's short-circuit class.

use crate::rules::protection::{InterruptClass, battery_interrupt, charging_voltage_v, family};
use crate::shop::item::{BranchProtection, FuseFamily};
use crate::shop::settings::Settings;
use crate::spec::boat::Bank;

/// Cold-cranking amperes assumed of a bank that states none: the highest class of the table, and a question.
pub const UNSTATED_COLD_CRANKING_A: f64 = 2200.0;
/// Capacity beyond which the table no longer speaks, ampere-hours (ABYC E-11, as quoted for large banks).
pub const TABLE_CAPACITY_MAX_AH: f64 = 500.0;
/// Cold-cranking amperes that stand for a bank beyond the table.
const BEYOND_TABLE_A: f64 = 2201.0;

/// What every device at a bank must withstand.
#[derive(Clone, Copy, Debug)]
pub struct BankClass {
    /// Voltage while charging: the least voltage rating.
    pub charging_v: f64,
    /// Interrupt ratings by the bank's cold-cranking figure.
    pub interrupt: InterruptClass,
    /// Cold-cranking amperes that the class was read with.
    pub cold_cranking_a: f64,
}

/// The class of a bank.
pub fn bank_class(bank: &Bank) -> BankClass {
    let stated_a = bank.cold_cranking_a.unwrap_or(UNSTATED_COLD_CRANKING_A);
    let large = bank.capacity_ah.is_some_and(|ah| ah > TABLE_CAPACITY_MAX_AH);
    let cold_cranking_a = if large { stated_a.max(BEYOND_TABLE_A) } else { stated_a };
    BankClass {
        charging_v: charging_voltage_v(bank.nominal_voltage_v),
        interrupt: battery_interrupt(bank.nominal_voltage_v, cold_cranking_a),
        cold_cranking_a,
    }
}

/// The shop's first fuse family that breaks the bank's voltage and short circuit and has a rating for the current.
pub fn main_family(class: &BankClass, current_a: f64, settings: &Settings) -> Option<FuseFamily> {
    settings.main_fuse_families.iter().copied().find(|&wanted| {
        let facts = family(wanted);
        facts.interrupt_at(class.charging_v).is_some_and(|breaks| breaks >= class.interrupt.main_a)
            && facts.ratings_a.last().is_some_and(|largest| *largest >= current_a)
    })
}

/// The family of an always-on fuse in a holder of its own at the battery: a blade where its voltage rating allows,
/// else the shop's main family.
pub fn always_on_family(class: &BankClass, current_a: f64, settings: &Settings) -> Option<FuseFamily> {
    let blade = family(FuseFamily::Blade);
    if class.charging_v <= blade.voltage_max_v() && blade.ratings_a.last().is_some_and(|most| *most >= current_a) {
        return Some(FuseFamily::Blade);
    }
    main_family(class, current_a, settings)
}

/// What protects a sub-panel's feeder at the panel that feeds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SubMain {
    /// A breaker of the panel.
    Breaker,
    /// A fuse: a blade where the panel has blades and they are enough, otherwise one that the shop has for mains.
    Fuse(FuseFamily),
    /// No family of the shop has rating, voltage and interrupt rating.
    Nothing,
}

/// The device that protects a sub-panel's feeder. For its interrupt rating it is a branch device: the table has one figure
/// for the first device at the bank and one for all later ones, sub-mains included (ABYC E-11 Table V-A).
pub fn sub_main(class: &BankClass, protection: BranchProtection, needs_a: f64, settings: &Settings) -> SubMain {
    if protection == BranchProtection::Breaker {
        return SubMain::Breaker;
    }
    let does = |wanted: FuseFamily| {
        let facts = family(wanted);
        facts.interrupt_at(class.charging_v).is_some_and(|breaks| breaks >= class.interrupt.branch_a)
            && facts.ratings_a.last().is_some_and(|largest| *largest >= needs_a)
    };
    let mains = settings.main_fuse_families.iter().copied();
    std::iter::once(FuseFamily::Blade).chain(mains).find(|wanted| does(*wanted)).map_or(SubMain::Nothing, SubMain::Fuse)
}
