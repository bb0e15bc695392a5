//! Studs: what lands on each, largest at the bottom, and where a bus takes its place.

use super::Sources;
use crate::basis::Value;
use crate::rules::power::TERMINALS_ON_STUD_MAX;
use crate::rules::table::power::STUD;
use crate::shop::item::Stud;
use crate::take_off::StudStack;
use crate::units::WireSize;

/// What lands on a stud.
#[derive(Clone)]
pub(super) enum Terminal {
    /// The terminal of a cable, by its label.
    Cable(String, WireSize),
    /// A fuse that sits on the post itself: in words, and the cable behind it.
    Fuse(String, WireSize),
    /// A cable of the engine's own, in words; its size nobody has said: it is taken as this one.
    Engine(&'static str, WireSize),
}

impl Terminal {
    /// The cable that it takes.
    pub(super) fn size(&self) -> WireSize {
        let (Terminal::Cable(_, size) | Terminal::Fuse(_, size) | Terminal::Engine(_, size)) = self;
        *size
    }

    /// Whether it is the terminal of that cable.
    pub(super) fn is_of(&self, of: &str) -> bool {
        matches!(self, Terminal::Cable(label, _) if label == of)
    }

    fn written(&self) -> String {
        match self {
            Terminal::Cable(label, size) => format!("{label} ({size})"),
            Terminal::Fuse(words, _) => words.clone(),
            Terminal::Engine(words, _) => (*words).to_owned(),
        }
    }
}

impl Sources<'_, '_> {
    /// What lands on one stud, in the order it goes on.
    pub(super) fn stack(&mut self, place: String, station: usize, stud: Stud, terminals: Vec<Terminal>) -> StudStack {
        let mut written: Vec<(f64, String)> =
            terminals.iter().map(|terminal| (terminal.size().nominal_cmil(), terminal.written())).collect();
        written.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
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
            terminals: written.into_iter().map(|(_, words)| words).collect(),
            bus,
            basis,
        }
    }
}
