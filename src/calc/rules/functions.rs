//! What follows from a device's function unless its item says otherwise, and the insulation colours there are.

use std::sync::LazyLock;

use super::rows;
use crate::basis::Standing;
use crate::shop::item::{DropClass, Duty, Function, LoadColumn};

/// Where one default was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cited {
    /// How far it can be trusted.
    pub standing: Standing,
    /// The source, or that it is common practice.
    pub source: &'static str,
}

/// What a function brings with it, each with where it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FunctionDefaults {
    /// How long it runs; always common practice.
    pub duty: Duty,
    /// Its column of the load analysis.
    pub load_column: LoadColumn,
    /// Its drop class.
    pub drop_class: DropClass,
    /// Insulation colour of its positive.
    pub positive_colour: &'static str,
    /// Where the defaults were read.
    pub source: DefaultSources,
}

/// Where the defaults of a function were read; its duty is common practice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DefaultSources {
    /// Of the load column.
    pub load_column: Cited,
    /// Of the drop class.
    pub drop_class: Cited,
    /// Of the colour.
    pub positive_colour: Cited,
}

/// Insulation colour of a feeder's positive: red, positive mains (ABYC E-11 Table XIV).
pub const FEEDER_COLOUR: &str = "red";

const PRACTICE: Cited = Cited { standing: Standing::CommonPractice, source: "common practice, no source" };
const E11_LOAD: Cited =
    Cited { standing: Standing::FromMemory, source: "ABYC E-11, columns of the panel load analysis, from memory" };
const E11_DROP: Cited = Cited { standing: Standing::Published, source: "ABYC E-11 clause 11.14.2.6" };
const ISO_DROP: Cited =
    Cited { standing: Standing::Published, source: "ISO 10133, note on circuits that typically need 3 %" };
const E11_COLOUR: Cited = Cited { standing: Standing::Published, source: "ABYC E-11 Tables XIV and XV" };

const fn row(
    duty: Duty,
    (load_column, load): (LoadColumn, Cited),
    (drop_class, drop): (DropClass, Cited),
    (positive_colour, colour): (&'static str, Cited),
) -> FunctionDefaults {
    let source = DefaultSources { load_column: load, drop_class: drop, positive_colour: colour };
    FunctionDefaults { duty, load_column, drop_class, positive_colour, source }
}

/// One row for each function, in the order of [`Function`].
///
/// The few that a shop may wonder about: a bilge pump may have to run for hours, so it counts as continuous; it is not
/// in E-11's list of 3 % circuits, but ISO 10133 and trade practice put safety pumps there. A live well runs all day
/// and loads its feeder in full. A horn is safety equipment (3 %), though it sounds for seconds. Chart plotters and
/// radios take the accessory colour, as purple is switched by the ignition on most boats. Motors at the bow are main
/// feeds: red.
const DEFAULTS: [FunctionDefaults; 21] = {
    use DropClass::{Critical, General};
    use Duty::{Continuous, Intermittent};
    use LoadColumn::{Always, Occasional};
    let pump = ("brown", E11_COLOUR);
    let accessory = ("orange", E11_COLOUR);
    let main = ("red", PRACTICE);
    let other = (General, E11_DROP);
    let electronic = (Critical, E11_DROP);
    [
        row(Continuous, (Always, E11_LOAD), (Critical, ISO_DROP), pump), // bilge pump
        row(Continuous, (Always, PRACTICE), other, pump),                // live-well pump
        row(Intermittent, (Occasional, PRACTICE), other, pump),          // wash-down pump
        row(Intermittent, (Occasional, E11_LOAD), other, pump),          // fresh-water pump
        row(Intermittent, (Occasional, E11_LOAD), other, pump),          // waste pump
        row(Continuous, (Always, E11_LOAD), (Critical, E11_DROP), ("brown/yellow", E11_COLOUR)), // bilge blower
        row(Continuous, (Always, E11_LOAD), (Critical, E11_DROP), ("dark grey", E11_COLOUR)), // navigation light
        row(Continuous, (Occasional, E11_LOAD), other, ("dark blue", E11_COLOUR)), // interior light
        row(Continuous, (Always, E11_LOAD), other, accessory),           // floodlight
        row(Continuous, (Always, E11_LOAD), electronic, ("orange", PRACTICE)), // navigation electronics
        row(Continuous, (Always, E11_LOAD), electronic, ("purple", E11_COLOUR)), // instrument
        row(Continuous, (Always, E11_LOAD), electronic, ("orange", PRACTICE)), // radio
        row(Continuous, (Occasional, E11_LOAD), electronic, accessory),  // audio
        row(Intermittent, (Occasional, E11_LOAD), (Critical, ISO_DROP), accessory), // horn
        row(Continuous, (Always, E11_LOAD), (Critical, ISO_DROP), accessory), // alarm
        row(Intermittent, (Occasional, E11_LOAD), other, accessory),     // trim tabs
        row(Intermittent, (Occasional, E11_LOAD), other, main),          // windlass
        row(Continuous, (Always, PRACTICE), other, main),                // bow motor
        row(Continuous, (Always, E11_LOAD), other, accessory),           // refrigerator
        row(Continuous, (Occasional, E11_LOAD), other, accessory),       // outlet
        row(Continuous, (Occasional, PRACTICE), other, accessory),       // accessory
    ]
};

/// What a function brings with it unless the item says otherwise.
pub fn defaults(function: Function) -> &'static FunctionDefaults {
    &DEFAULTS[function as usize]
}

/// The colours of `tables/dc_colours.csv`.
static COLOURS: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let rows = rows(include_str!("tables/dc_colours.csv"));
    rows[1..].iter().map(|row| &*Box::leak(row[0].to_owned().into_boxed_str())).collect()
});

/// Every insulation colour that is known, in the order of the table.
pub fn colours() -> &'static [&'static str] {
    &COLOURS
}

/// The known insulation colour of that name: those of ABYC E-11 Tables XIV and XV with both negatives, and the plain
/// ones that are sold beside them. A shop's own choice of colour goes through here too.
pub fn known_colour(name: &str) -> Option<&'static str> {
    COLOURS.iter().copied().find(|&colour| colour == name)
}
