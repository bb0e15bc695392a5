//! Jackets: the colours inside a cable, how thin its conductors may be, how thick it is, and the sleeve over its ends.

use super::sizes::overall_diameter;
use super::terminations::{ShrinkSize, smallest_shrink};
use crate::units::{AreaStandard, Length, WireSize};

/// Wall of a jacket round its conductors (common practice).
pub const JACKET_WALL_IN: f64 = 0.03;

/// Conductors of the smallest and of the largest cable that the take-off uses.
pub const CONDUCTORS: std::ops::RangeInclusive<usize> = 2..=3;

/// How far a conductor of 18 AWG may come out of its jacket, inches (ABYC E-11 clause 11.14.1.2).
pub const BREAK_OUT_MOST_IN: f64 = 30.0;

/// How far a conductor of 0.75 mm² may come out of its jacket, millimetres (ISO 10133, 7.7).
pub const BREAK_OUT_MOST_MM: f64 = 800.0;

/// Colours inside a cable, by conductors and colour of the negative, and the same as one word.
///
/// Positive red and return black or yellow, as DC mains are (ABYC E-11 Table XIV); brown for a second positive, as it
/// stands for pumps there. That cable is made so is common practice.
static COLOURS: [(&[&str], &str); 4] = [
    (&["red", "black"], "red + black"),
    (&["red", "yellow"], "red + yellow"),
    (&["red", "brown", "black"], "red + brown + black"),
    (&["red", "brown", "yellow"], "red + brown + yellow"),
];

/// Colours inside a cable of so many conductors, positives first, the return last.
pub fn colours(conductors: usize, negative: &str) -> Option<&'static [&'static str]> {
    let fitting = |colours: &&[&str]| colours.len() == conductors && colours.last() == Some(&negative);
    COLOURS.iter().map(|(colours, _)| *colours).find(fitting)
}

/// The colours of a cable as they are printed.
pub fn colour_word(colours: &[&str]) -> &'static str {
    COLOURS.iter().find(|(known, _)| *known == colours).map_or("", |(_, word)| word)
}

/// The smallest conductor that may be run in a jacket: 18 AWG where no more than 30 in of it come out (ABYC E-11
/// clause 11.14.1.2), 0.75 mm² where no more than 800 mm do (ISO 10133, 7.7); beyond that as by itself.
pub fn minimum(standard: AreaStandard, break_out: Length) -> WireSize {
    match standard {
        AreaStandard::Awg | AreaStandard::Sae if break_out <= Length::inches(BREAK_OUT_MOST_IN) => WireSize::Awg(18),
        AreaStandard::Awg | AreaStandard::Sae => WireSize::Awg(16),
        AreaStandard::Metric if break_out.m() <= BREAK_OUT_MOST_MM / 1000.0 => WireSize::Metric(75),
        AreaStandard::Metric => WireSize::Metric(100),
    }
}

/// Diameter of the smallest circle round so many equal circles, in their own diameters (geometry): 2 for two, and one
/// and two thirds of the square root of three for three.
pub fn across(conductors: usize) -> f64 {
    match conductors {
        0 | 1 => 1.0,
        2 => 2.0,
        _ => 1.0 + 2.0 / 3.0_f64.sqrt(),
    }
}

/// Outside diameter of a round jacket, inches; a flat one of two conductors is as wide.
pub fn outside_in(conductors: usize, size: WireSize) -> f64 {
    across(conductors) * overall_diameter(size).inch() + 2.0 * JACKET_WALL_IN
}

/// The tubing that goes over a jacket's end and shrinks tight on the conductors that come out of it; `None` where no
/// size does.
pub fn sleeve(conductors: usize, size: WireSize) -> Option<&'static ShrinkSize> {
    let inside = overall_diameter(size).scaled(across(conductors));
    smallest_shrink(Length::inches(outside_in(conductors, size)), inside)
}

/// The thickest jacket that a sleeve slips over: eight tenths of its diameter as supplied (common practice).
pub fn thickest_under(sleeve: &ShrinkSize) -> Length {
    Length::from_nanometres(sleeve.supplied.nanometres() * 8 / 10)
}
