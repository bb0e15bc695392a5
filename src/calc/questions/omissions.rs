//! What is unusual to leave out and is on no list: asked about, or as it was answered.

use crate::circuits::loads::Load;
use crate::findings::{Gap, Question, Warning};
use crate::shop::item::{Attributes, Function};
use crate::spec::answers::{Answer, Unusual};
use crate::spec::boat::Boat;
use crate::spec::input::{JobType, Propulsion};
use crate::take_off::{GivenAnswer, Labour};
use crate::units::Name;

/// What a boat leaves out.
#[derive(Default)]
pub struct Omissions {
    /// What nobody answered yet.
    pub questions: Vec<Question>,
    /// What was answered about things that are on no list.
    pub answers: Vec<GivenAnswer>,
    /// What is to be added and is on no list.
    pub gaps: Vec<Gap>,
    /// Answers that the list contradicts.
    pub warnings: Vec<Warning>,
}

/// What the boat leaves out that is unusual to leave out, with what was answered about it.
pub fn omissions(boat: &Boat, loads: &[Load], labour: &Labour) -> Omissions {
    let list = List { boat, loads, labour };
    let mut out = Omissions::default();
    for unusual in Unusual::ALL {
        let given = boat.answers.iter().find(|given| given.question.as_str() == unusual.id());
        match (given, list.lacks(unusual)) {
            (None, true) if list.is_asked(unusual) => {
                out.questions.push(Question { id: unusual.id(), about: None, text: list.question(unusual) });
            }
            (None, _) => {}
            (Some(given), true) => {
                if given.answer == Answer::Add {
                    out.gaps.push(to_be_added(unusual));
                }
                let (question, thing) = (unusual.id(), unusual.thing());
                let (answer, note) = (given.answer, given.note.clone());
                out.answers.push(GivenAnswer { question, thing, answer, note });
            }
            (Some(given), false) => {
                let said = match given.answer {
                    Answer::Add => continue,
                    Answer::Present => "is said to be aboard already",
                    Answer::Declined => "was declined",
                };
                let message = format!(
                    "{} {said}, and the list has it or the boat has no use for it: look the answer over",
                    unusual.thing()
                );
                out.warnings.push(Warning { about: Name::from(unusual.id()), message });
            }
        }
    }
    out
}

fn to_be_added(unusual: Unusual) -> Gap {
    Gap {
        what: Name::from(["answer/", unusual.id()].concat()),
        need: format!("{}, to be added", unusual.thing()),
        reason: "it was answered that it is to be added, and it is on no list".to_owned(),
        mend: "add it to the equipment, or answer 'present' or 'declined'".to_owned(),
    }
}

/// What is on the list.
struct List<'a> {
    boat: &'a Boat,
    loads: &'a [Load],
    labour: &'a Labour,
}

impl List<'_> {
    fn has(&self, function: Function) -> bool {
        self.loads.iter().any(|load| load.function == function)
    }

    /// Whether some item, operation or line names a thing; its words are all that tells it.
    fn mentions(&self, words: &[&str]) -> bool {
        let items = self.boat.equipment.iter().map(|piece| piece.item.description.as_str());
        let lines = self.boat.extra_lines.iter().map(|line| line.description.as_str());
        let work = self.labour.operations.iter().map(|operation| operation.description.as_str());
        let mut texts = items.chain(lines).chain(work).map(str::to_ascii_lowercase);
        texts.any(|text| words.iter().any(|word| text.contains(word)))
    }

    /// Whether the boat could use it and no list has it.
    fn lacks(&self, unusual: Unusual) -> bool {
        let petrol = matches!(self.boat.propulsion, Propulsion::Outboard | Propulsion::PetrolInboard);
        match unusual {
            Unusual::NavigationLights => !self.has(Function::NavigationLight),
            Unusual::Horn => !self.has(Function::Horn),
            Unusual::Radio => !self.has(Function::Radio),
            Unusual::BilgePump => !self.has(Function::BilgePump),
            Unusual::HighWaterAlarm => self.has(Function::BilgePump) && !self.has(Function::Alarm),
            Unusual::EngineStop => {
                petrol && !self.mentions(&["engine stop", "kill switch", "cut-off switch", "lanyard"])
            }
            Unusual::Blower => self.boat.propulsion == Propulsion::PetrolInboard && !self.has(Function::BilgeBlower),
            Unusual::Seacocks => {
                let raw_water = self.has(Function::LiveWellPump) || self.has(Function::WashDownPump);
                raw_water && !self.mentions(&["seacock", "through-hull"])
            }
            Unusual::Charger => {
                !self.boat.equipment.iter().any(|piece| matches!(piece.item.attributes, Attributes::Charger { .. }))
            }
            Unusual::Bonding => !self.boat.underwater_metal.is_empty(),
        }
    }

    /// Whether it is asked about unless it was answered: a boat that was rigged before has most of it aboard.
    fn is_asked(&self, unusual: Unusual) -> bool {
        match unusual {
            Unusual::HighWaterAlarm | Unusual::Charger | Unusual::Bonding | Unusual::Seacocks => true,
            _ => self.boat.job_type != JobType::ReRig,
        }
    }

    fn question(&self, unusual: Unusual) -> String {
        match unusual {
            Unusual::NavigationLights => {
                "No navigation lights are on the list: are they aboard already, or to be added?".to_owned()
            }
            Unusual::HighWaterAlarm => {
                "A bilge pump is on the list and no high-water alarm: is one aboard already, or to be added?".to_owned()
            }
            Unusual::Seacocks => {
                "A raw-water pump is on the list and no through-hull or seacock: are they aboard already, or to be added?"
                    .to_owned()
            }
            Unusual::EngineStop => {
                "No engine stop switch is on the list: does one come with the engine, or is one to be added?".to_owned()
            }
            Unusual::Charger => "No charger is on the list: is one aboard already, or to be added?".to_owned(),
            Unusual::Bonding => format!(
                "Is the metal under water ({}) bonded, and to what, or is each part left alone?",
                self.boat.underwater_metal.join(", ")
            ),
            one => {
                let thing = one.thing().trim_start_matches("a ");
                format!("No {thing} is on the list: is one aboard already, or to be added?")
            }
        }
    }
}
