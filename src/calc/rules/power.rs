//! Figures between battery post and panel: distances, studs, switches.

/// Cable from a post to its main fuse, inches: as long as an unsheathed one may be (ABYC E-11, 7 in).
pub const LINK_IN: f64 = 7.0;
/// Share of the feeder's drop limit that the cables before it may take: they are short, and thick ones there spare more
/// copper behind them than they cost (common practice).
pub const SHARE_BEFORE_FEEDERS: f64 = 0.1;
/// Cable from one battery to the next in the same bay, feet (common practice).
pub const BATTERY_TO_BATTERY_FT: f64 = 2.5;
/// What the starter of an outboard is reckoned to draw where nobody has said, amperes: its cable and switch carry that
/// for hours, and more while it cranks (common practice).
pub const CRANKING_A: f64 = 200.0;
/// Most terminals on one stud (ABYC E-11, as two trade articles give it).
pub const TERMINALS_ON_STUD_MAX: usize = 4;
/// Cold-cranking amperes above which a switch is asked for in the positive of a bank (ABYC E-11, from memory).
pub const SWITCH_ABOVE_CRANKING_A: f64 = 800.0;

/// Where a protective device may stand along a conductor, inches from its source: ABYC E-11 as quoted in the trade, and
/// 33 CFR 183.455(b) for 7 and 40 in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// The conductor is on a battery terminal.
    BatteryTerminal,
    /// It is on anything else that feeds it.
    Other,
}

/// Most inches from the source to the device that protects a conductor.
pub const fn distance_max_in(source: Source, sheathed: bool) -> f64 {
    match (source, sheathed) {
        (_, false) => 7.0,
        (Source::BatteryTerminal, true) => 72.0,
        (Source::Other, true) => 40.0,
    }
}
