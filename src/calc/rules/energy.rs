//! Capacity, charging and a day's use: figures and formulas.

use crate::shop::item::{Chemistry, Function};

/// Least charging current for each ampere-hour of a battery: the low end of what is published (a battery maker's note
/// gives 10 to 13 % for flooded ones).
pub const CHARGE_FLOOR: f64 = 0.10;
/// Charging current for each ampere-hour to aim at: the C/5 rule.
pub const CHARGE_TARGET: f64 = 0.20;
/// Share of its rating that an alternator gives at idle (common practice).
pub const IDLE_SHARE: f64 = 0.40;
/// Share of its capacity that may be taken out of a battery that starts an engine (common practice).
pub const DEPTH_START: f64 = 0.2;
/// The same of a lead battery, flooded, AGM or gel (a sailing page's calculation sheet).
pub const DEPTH_LEAD: f64 = 0.5;
/// The same of a lithium iron phosphate battery (common practice).
pub const DEPTH_LITHIUM: f64 = 0.8;

/// Share of a battery's capacity that a day may take: what is in it unknown, it is taken as lead.
pub const fn depth_of_discharge(chemistry: Option<Chemistry>, starts_engine: bool) -> f64 {
    match (starts_engine, chemistry) {
        (true, _) => DEPTH_START,
        (false, Some(Chemistry::LithiumIronPhosphate)) => DEPTH_LITHIUM,
        (false, _) => DEPTH_LEAD,
    }
}

/// Capacity that a bank must have, ampere-hours: what so many days take, over the share that may be taken out.
pub fn bank_ah(daily_ah: f64, days: f64, depth: f64) -> f64 {
    daily_ah * days / depth
}

/// Hours that a load runs in a day of use, at its rated current, unless the spec says otherwise (common practice, no
/// source): a motor that runs at part power counts as fewer hours of full power.
pub const fn hours_per_day(function: Function) -> f64 {
    match function {
        Function::BilgePump => 0.2,
        Function::LiveWellPump => 6.0,
        Function::WashDownPump | Function::FreshWaterPump | Function::BilgeBlower => 0.3,
        Function::WastePump | Function::TrimTabs | Function::Windlass => 0.1,
        Function::NavigationLight | Function::InteriorLight => 3.0,
        Function::Floodlight | Function::Accessory => 1.0,
        Function::NavigationElectronics | Function::Instrument | Function::Radio => 8.0,
        Function::Audio => 4.0,
        Function::Horn => 0.01,
        Function::Alarm => 24.0,
        Function::BowMotor => 1.5,
        Function::Refrigerator => 12.0,
        Function::Outlet => 2.0,
    }
}
