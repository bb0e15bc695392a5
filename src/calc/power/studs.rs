//! Studs: what lands on each, largest at the bottom, and where a bus takes its place.

use super::Sources;
use crate::calc::basis::Value;
use crate::calc::rules::power::TERMINALS_ON_STUD_MAX;
use crate::calc::rules::table::power::STUD;
use crate::calc::shop::item::Stud;
use crate::calc::take_off::StudStack;
use crate::calc::units::WireSize;

/// One terminal: what it is, and the wire that it is on.
pub(super) type Terminal = (String, WireSize);

/// The engine's own cable on a negative post, whose size nobody has said.
pub(super) const ENGINE_NEGATIVE: &str = "the engine's negative";

fn written((label, size): Terminal) -> String {
    if label == ENGINE_NEGATIVE { label } else { format!("{label} ({size})") }
}

impl Sources<'_, '_> {
    /// What lands on one stud, in the order it goes on.
    pub(super) fn stack(
        &mut self,
        place: String,
        station: usize,
        stud: Stud,
        mut terminals: Vec<Terminal>,
    ) -> StudStack {
        terminals.sort_by(|a, b| b.1.nominal_cmil().total_cmp(&a.1.nominal_cmil()).then(a.0.cmp(&b.0)));
        let bus = terminals.len() > TERMINALS_ON_STUD_MAX;
        let basis = self.ledger.note(
            &STUD,
            &[
                ("terminals", Value::Number(terminals.len() as f64)),
                ("terminals_max", Value::Number(TERMINALS_ON_STUD_MAX as f64)),
            ],
            Value::Text(if bus { "bus" } else { "stud" }),
        );
        StudStack {
            place,
            station: self.facts.boat.stations[station].id.clone(),
            stud,
            terminals: terminals.into_iter().map(written).collect(),
            bus,
            basis,
        }
    }
}
