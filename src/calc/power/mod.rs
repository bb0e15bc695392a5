//! The sources: everything electrical from the battery posts to where the feeders start.
//!
//! It comes after the sizes, since a bank's main stands before its feeders' fuses; what feeders must know of it before
//! they are sized was decided in `circuits::bank_side`.

mod alternator;
mod batteries;
mod cables;
mod charging;
mod distribution;
mod energy;
mod fuses;
mod mains;
mod posts;
mod studs;
mod switch;

use crate::basis::Ledger;
use crate::circuits::legs::{Laid, Leg};
use crate::circuits::loads::Load;
use crate::circuits::main_protection::BankClass;
use crate::circuits::schedule::{Schedule, Written};
use crate::circuits::select::Sizes;
use crate::findings::{Caution, Gap, Question, Warning};
use crate::gathering::Part;
use crate::routes::Routes;
use crate::shop::labour::Driver;
use crate::shop::settings::Settings;
use crate::spec::boat::Boat;
use crate::spec::input::Known;
use crate::take_off::{Alternator, AlwaysOnSide, BankPower, Feeder, PanelRoom, Protection};
use crate::units::Name;

/// What is known when the sources are worked out.
#[derive(Clone, Copy)]
pub struct Facts<'a> {
    /// The boat.
    pub boat: &'a Boat,
    /// Its loads.
    pub loads: &'a [Load],
    /// The class of each bank.
    pub classes: &'a [BankClass],
    /// What was laid.
    pub laid: &'a Laid,
    /// The sizes that were found.
    pub sizes: &'a Sizes<'a>,
    /// The shop's settings.
    pub settings: &'a Settings,
    /// Feeders as written.
    pub feeders: &'a [Feeder],
    /// Always-on sides as written.
    pub always_on: &'a [AlwaysOnSide],
}

/// What the sources come to.
#[derive(Default)]
pub struct PowerSide {
    /// Their cables, each as it lies and as it is written.
    pub cables: Vec<(Leg, Box<Written>)>,
    /// What they are made of beside cable and its ends: what, how many, and who needs it.
    pub parts: Vec<(Part, u32, Name)>,
    /// Main protection that is no feeder's and no always-on side's, with who needs it.
    pub mains: Vec<(Protection, Name)>,
    /// What labour counts of them.
    pub counts: Vec<(Driver, u32)>,
    /// Each bank.
    pub banks: Vec<BankPower>,
    /// What cannot be met.
    pub gaps: Vec<Gap>,
    /// What is unwise.
    pub warnings: Vec<Warning>,
    /// What to ask.
    pub questions: Vec<Question>,
    /// What can hurt someone.
    pub cautions: Vec<Caution>,
    /// The alternator.
    pub alternator: Option<Alternator>,
    /// Positions of each panel.
    pub rooms: Vec<PanelRoom>,
}

/// Works the sources out: what is known, where figures are noted, and what was found so far.
struct Sources<'a, 'l> {
    facts: Facts<'a>,
    ledger: &'l mut Ledger,
    out: PowerSide,
    /// What cables between banks put on the posts: of which bank, on its positive or not, and what.
    landed: Vec<(usize, bool, studs::Terminal)>,
}

/// Works out what stands between the battery posts and the feeders of every bank.
pub fn power_side(facts: Facts, ledger: &mut Ledger) -> PowerSide {
    let mut sources = Sources { facts, ledger, out: PowerSide::default(), landed: Vec::new() };
    let mut routes = Routes::new(facts.boat.stations.len(), &facts.boat.runs);
    // Between the banks first: what ends there crowds their posts.
    sources.out.alternator = sources.alternator(&mut routes);
    sources.joined_negatives(&mut routes);
    for bank in 0..facts.boat.banks.len() {
        sources.bank(bank, &mut routes);
    }
    sources.distribution();
    sources.out
}

impl<'a> Sources<'a, '_> {
    /// A schedule that notes in the same ledger.
    fn schedule(&mut self) -> Schedule<'_> {
        let Facts { boat, loads, laid, settings, classes, .. } = self.facts;
        Schedule { boat, loads, laid, settings, classes, ledger: self.ledger }
    }

    /// Whether petrol vapour must be reckoned with at a station.
    fn vapour(&self, station: usize) -> bool {
        self.facts.boat.stations[station].petrol_vapour != Known::No
    }

    fn part(&mut self, part: Part, count: u32, owner: &Name) {
        self.out.parts.push((part, count, owner.clone()));
    }

    fn warn(&mut self, about: &Name, message: String) {
        self.out.warnings.push(Warning { about: about.clone(), message });
    }

    /// The key of what a bank needs.
    fn owner(&self, bank: usize) -> Name {
        Name::from(format!("bank/{}", self.facts.boat.banks[bank].id))
    }
}
