//! What stands between battery post and panel, and what charges: which of a need an item misses.

use super::{Miss, Misses, takes};
use crate::requirements::Need;
use crate::shop::item::Attributes;
use crate::units::within;

/// The same for what stands between battery post and panel: notes the misses and says whether the need is one of these.
pub(super) fn misses(need: &Need, item: &Attributes, misses: &mut Misses) -> bool {
    let mut rated = |needed_a: f64, rated_a: f64, needed_v: f64, rated_v: f64| {
        misses.note(!within(needed_a, rated_a), Miss::Rating);
        misses.note(!within(needed_v, rated_v), Miss::Voltage);
    };
    match (need, item) {
        (
            Need::BatterySwitch { rating_a_min, voltage_v_min, stud, ignition_protected },
            Attributes::BatterySwitch { rating_a, voltage_rating_v, stud: s, ignition_protected: protected },
        ) => {
            rated(*rating_a_min, *rating_a, *voltage_v_min, *voltage_rating_v);
            misses.note(stud != s, Miss::Stud);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (Need::TerminalBoot { size, colour }, Attributes::TerminalBoot { size_from, size_to, colour: c }) => {
            misses.note(!takes(*size_from, *size_to, *size), Miss::Size);
            misses.note(!c.eq_ignore_ascii_case(colour), Miss::Colour);
        }
        (Need::Bus { least_positions, rating_a_min, stud }, Attributes::Bus { positions, stud: s, rating_a }) => {
            rated(*rating_a_min, *rating_a, 0.0, 0.0);
            misses.note(positions < least_positions, Miss::Positions);
            misses.note(stud != s, Miss::Stud);
        }
        (
            Need::FuseBlock { least_positions, family, rating_a_min, voltage_v_min, ignition_protected },
            Attributes::FuseBlock {
                positions,
                family: f,
                rating_a,
                voltage_rating_v,
                ignition_protected: protected,
                ..
            },
        ) => {
            rated(*rating_a_min, *rating_a, *voltage_v_min, *voltage_rating_v);
            misses.note(positions < least_positions, Miss::Positions);
            misses.note(family != f, Miss::Family);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (
            Need::Charger { least_outputs, output_a_min, nominal_voltage_v, chemistry, ignition_protected },
            Attributes::Charger {
                outputs,
                output_a,
                nominal_voltage_v: volts,
                chemistries,
                ignition_protected: protected,
                ..
            },
        ) => {
            rated(*output_a_min, *output_a, 0.0, 0.0);
            misses.note(outputs < least_outputs, Miss::Positions);
            misses.note(nominal_voltage_v != volts, Miss::Voltage);
            misses.note(chemistry.is_some_and(|needed| !chemistries.contains(&needed)), Miss::Does);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (
            Need::Combiner { rating_a_min, voltage_v_min, stud, limits_charging, ignition_protected },
            Attributes::Combiner {
                rating_a,
                voltage_rating_v,
                isolates_while_cranking,
                limits_charging: limits,
                stud: s,
                ignition_protected: protected,
            },
        ) => {
            rated(*rating_a_min, *rating_a, *voltage_v_min, *voltage_rating_v);
            misses.note(!isolates_while_cranking || *limits_charging && !limits, Miss::Does);
            misses.note(stud != s, Miss::Stud);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (
            Need::BowReceptacle { rating_a_min, voltage_v_min, ignition_protected },
            Attributes::BowReceptacle { rating_a, voltage_rating_v, ignition_protected: protected },
        ) => {
            rated(*rating_a_min, *rating_a, *voltage_v_min, *voltage_rating_v);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        (
            Need::BilgeSwitch { rating_a_min, voltage_v_min, ignition_protected },
            Attributes::BilgeSwitch { rating_a, voltage_rating_v, running_light, ignition_protected: protected },
        ) => {
            rated(*rating_a_min, *rating_a, *voltage_v_min, *voltage_rating_v);
            misses.note(!running_light, Miss::Does);
            misses.note(*ignition_protected && !protected, Miss::Ignition);
        }
        _ => return false,
    }
    true
}
