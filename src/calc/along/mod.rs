//! Along the way: what the bundles of a boat lie in, are held by and pass through.
//!
//! 1. In a tube the fill is reckoned against its inside diameter, with what is in it already, and what would fit is told.
//! 2. Outside tubes a bundle is supported at the published spacing where a hand reaches, and tied at the shop's.
//! 3. Each bulkhead outside a tube has a grommet, each tube keeps a messenger line, each piece of equipment a drip loop.
//! 4. Everything is driven by what was counted, and never by a percentage. It is either charged by the piece or lies in the
//!    shop supplies, as the shop's settings say: never both.

use rust_decimal::Decimal;

use crate::basis::{BasisRef, Ledger, Value};
use crate::findings::{Gap, Warning};
use crate::gathering::{FitOut, Part};
use crate::requirements::Piece;
use crate::rules::along::{BUNDLE_FACTOR, bundle_size_in, fill_share, narrowest_in, room, support_most};
use crate::rules::sizes::overall_diameter;
use crate::rules::table::along as table;
use crate::rules::table::plumbing::PACKS;
use crate::rules::table::quantities::LENGTH_CUT;
use crate::shop::fit_out::{Consumables, LoomOn};
use crate::shop::item::{Consumable, Fastener};
use crate::shop::labour::Driver;
use crate::shop::settings::Settings;
use crate::spec::boat::{Boat, Run};
use crate::spec::input::{Access, LengthSource};
use crate::take_off::{Along, AlongPiece, AlongRun, DrivenCount, TubeFill};
use crate::units::{Length, LengthUnit, LengthValue, Name, WireSize, rounded};

/// What lies in one run.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bundle {
    /// Place of the run.
    pub run: usize,
    /// Cables in it; conductors under one jacket are one.
    pub cables: u32,
    /// Sum of the squares of their diameters, square inches.
    pub squares_in2: f64,
}

/// What drives the rest.
#[derive(Clone, Copy, Debug, Default)]
pub struct Drivers {
    /// Pieces of equipment that are wired.
    pub equipment: u32,
    /// Conductors.
    pub conductors: u32,
    /// Ends on studs.
    pub stud_ends: u32,
    /// Splices.
    pub splices: u32,
}

/// What it comes to.
#[derive(Default)]
pub struct AlongSide {
    /// As the take-off shows it; absent where no conductor lies in a run.
    pub along: Option<Along>,
    /// What it is made of.
    pub parts: Vec<(Part, u32, Name)>,
    /// Loom and line to cut.
    pub pieces: Vec<(Part, Piece, Name)>,
    /// What labour counts of it.
    pub counts: Vec<(Driver, Decimal)>,
    /// What is unwise.
    pub warnings: Vec<Warning>,
    /// What cannot be met.
    pub gaps: Vec<Gap>,
}

struct Walker<'a, 'l> {
    boat: &'a Boat,
    settings: &'a Settings,
    ledger: &'l mut Ledger,
    out: AlongSide,
    pieces: Vec<AlongPiece>,
    clamps: u32,
    grommets: u32,
    loom: Length,
}

/// Walks along the bundles of a boat.
pub fn along(boat: &Boat, settings: &Settings, bundles: &[Bundle], drivers: Drivers, ledger: &mut Ledger) -> AlongSide {
    let out = AlongSide::default();
    let (pieces, loom) = (Vec::new(), Length::ZERO);
    let mut walker = Walker { boat, settings, ledger, out, pieces, clamps: 0, grommets: 0, loom };
    if drivers.conductors == 0 {
        return walker.out;
    }
    let runs = bundles.iter().map(|bundle| walker.run(bundle)).collect();
    let owner = Name::from("along");
    let drip_loops = walker.each(1, drivers.equipment);
    // One tie holds each drip loop.
    walker.fastener(Fastener::CableTie, bundle_size_in(0.0), drip_loops.count, &owner);
    let labels = walker.each(2, drivers.conductors);
    let habits = settings.along;
    let terminal_protectant =
        walker.packs(Consumable::TerminalProtectant, drivers.stud_ends, habits.ends_per_can, &owner);
    let solvent = walker.packs(Consumable::Solvent, drivers.splices, habits.splices_per_can, &owner);
    let feet = crate::requirements::length_quantity(walker.loom, LengthUnit::Ft).0;
    walker.out.counts.extend([
        (Driver::Clamp, Decimal::from(walker.clamps)),
        (Driver::Grommet, Decimal::from(walker.grommets)),
        (Driver::LoomFoot, feet),
    ]);
    if settings.along.consumables == Consumables::ShopSupplies {
        walker.out.parts.clear();
        walker.out.pieces.clear();
    }
    walker.out.along = Some(Along {
        consumables: habits.consumables,
        runs,
        pieces: walker.pieces,
        drip_loops,
        labels,
        terminal_protectant,
        solvent,
    });
    walker.out
}

fn inches(value: f64) -> LengthValue {
    LengthValue { value: rounded(value, 3), unit: LengthUnit::In }
}

fn exact(value: LengthValue) -> Length {
    value.length().unwrap_or_default()
}

/// How many spacings a run begins.
fn begun(run: Length, spacing: Length) -> u32 {
    let spacing = spacing.nanometres().max(1);
    u32::try_from((run.nanometres() + spacing - 1) / spacing).unwrap_or(u32::MAX)
}

impl Walker<'_, '_> {
    fn run(&mut self, bundle: &Bundle) -> AlongRun {
        let (boat, habits) = (self.boat, self.settings.along);
        let run = &boat.runs[bundle.run];
        let ends = [run.a, run.b].map(|station| boat.stations[station].id.clone());
        let owner = Name::from(format!("run/{}-{}", ends[0], ends[1]));
        let inputs =
            [("cables", Value::Number(f64::from(bundle.cables))), ("squares_in2", Value::Number(bundle.squares_in2))];
        let factor = if bundle.cables > 1 { BUNDLE_FACTOR } else { 1.0 };
        let size_in = bundle_size_in(factor * bundle.squares_in2.sqrt());
        let bundle_basis = self.ledger.note(&table::BUNDLE, &inputs, size_in);
        let in_tube = run.access == Access::Tube;
        let mut told = AlongRun {
            cables: bundle.cables,
            bundle: inches(size_in),
            bundle_basis,
            tube: None,
            supports: None,
            ties: None,
            grommets: None,
            from: ends[0].clone(),
            to: ends[1].clone(),
        };
        if in_tube {
            told.tube = Some(self.tube(run, bundle, &owner));
            let tail = exact(habits.messenger_tail);
            self.length(run, &owner, "messenger", tail, FitOut::MessengerLine);
            return told;
        }
        if run.access != Access::Blind {
            let spacing = exact(habits.support_spacing).min(support_most(self.settings.area_standard));
            let supports = self.spaced(run.length, spacing);
            self.clamps += supports.count;
            self.fastener(Fastener::CableClamp, size_in, supports.count, &owner);
            told.supports = Some(supports);
        }
        let ties = self.spaced(run.length, exact(habits.tie_spacing));
        self.fastener(Fastener::CableTie, size_in, ties.count, &owner);
        told.ties = Some(ties);
        if run.bulkheads > 0 {
            let grommets = self.each(1, u32::from(run.bulkheads));
            self.grommets += grommets.count;
            self.fastener(Fastener::Grommet, size_in, grommets.count, &owner);
            told.grommets = Some(grommets);
        }
        let covered = match habits.loom {
            LoomOn::Nowhere => false,
            LoomOn::EngineSpaces => run.engine_space,
            LoomOn::AllOutsideTubes => true,
        };
        if covered {
            self.loom += run.length;
            self.length(run, &owner, "loom", Length::ZERO, FitOut::Loom(Length::inches(size_in)));
        }
        told
    }

    fn tube(&mut self, run: &Run, bundle: &Bundle, owner: &Name) -> TubeFill {
        let cables = bundle.cables + run.already.cables;
        let squares_in2 = bundle.squares_in2 + run.already.squares_in2;
        let of_all = [("cables", Value::Number(f64::from(cables))), ("squares_in2", Value::Number(squares_in2))];
        let most_percent = rounded(100.0 * fill_share(cables), 6);
        let most_basis = self.ledger.note(&table::FILL_MOST, &of_all[..1], most_percent);
        let narrowest = narrowest_in(cables, squares_in2);
        let narrowest_basis = self.ledger.note(&table::NARROWEST, &of_all, narrowest);
        let mut fill = TubeFill {
            inside_diameter: run.inside_diameter.map(|inside| inches(inside.inch())),
            estimated: run.estimate.is_some(),
            already: run.already.cables,
            fill_percent: None,
            fill_basis: None,
            most_percent,
            most_basis,
            narrowest: inches((narrowest * 1000.0).ceil() / 1000.0),
            narrowest_basis,
            room: None,
            room_basis: None,
        };
        let Some(tube_in) = run.inside_diameter.map(Length::inch) else { return fill };
        let percent = 100.0 * squares_in2 / (tube_in * tube_in);
        let inputs = [of_all[1], ("tube_in", Value::Number(tube_in))];
        fill.fill_percent = Some(rounded(percent, 1));
        fill.fill_basis = Some(self.ledger.note(&table::FILL, &inputs, percent));
        let more_in = overall_diameter(self.smallest()).inch();
        let inputs = [of_all[0], of_all[1], inputs[1], ("more_in", Value::Number(more_in))];
        let more = room(tube_in, cables, squares_in2, more_in);
        fill.room = Some(more);
        fill.room_basis = Some(self.ledger.note(&table::ROOM, &inputs, f64::from(more)));
        if percent > 100.0 {
            self.out.gaps.push(Gap {
                what: owner.clone(),
                need: format!("{cables} cables through a tube of {} inside", inches(tube_in)),
                reason: format!("they have {percent:.0} % of its area"),
                mend: format!("fit a tube of {} inside or more, or lead some of them another way", fill.narrowest),
            });
        } else if percent > most_percent * (1.0 + 1e-9) {
            let usual = if fill.estimated { " that is usual there" } else { "" };
            self.out.warnings.push(Warning {
                about: owner.clone(),
                message: format!(
                    "the tube of {}{usual} would be {percent:.0} % full with {cables} cables, and {most_percent:.0} % is the most that \
                     is sure to pull through: {} inside would do, or lead some of them another way",
                    inches(tube_in), fill.narrowest
                ),
            });
        }
        fill
    }

    /// The smallest size that the shop keeps.
    fn smallest(&self) -> WireSize {
        let sizes = self.settings.stocked_sizes.iter().copied();
        sizes.min_by(|a, b| a.nominal_cmil().total_cmp(&b.nominal_cmil())).unwrap_or(WireSize::Awg(16))
    }

    fn spaced(&mut self, run: Length, spacing: Length) -> DrivenCount {
        let count = begun(run, spacing);
        let inputs = [("run_m", Value::Number(run.m())), ("spacing_m", Value::Number(spacing.m()))];
        DrivenCount { count, basis: self.ledger.note(&table::SPACED, &inputs, f64::from(count)) }
    }

    fn each(&mut self, per_driver: u32, drivers: u32) -> DrivenCount {
        let count = per_driver * drivers;
        let inputs =
            [("per_driver", Value::Number(f64::from(per_driver))), ("drivers", Value::Number(f64::from(drivers)))];
        DrivenCount { count, basis: self.ledger.note(&table::EACH, &inputs, f64::from(count)) }
    }

    fn packs(&mut self, what: Consumable, count: u32, each: u16, owner: &Name) -> DrivenCount {
        let each = u32::from(each.max(1));
        let packs = count.div_ceil(each);
        let inputs = [("count", Value::Number(f64::from(count))), ("per_pack", Value::Number(f64::from(each)))];
        self.out.parts.push((Part::FitOut(FitOut::Consumable(what)), packs, owner.clone()));
        DrivenCount { count: packs, basis: self.ledger.note(&PACKS, &inputs, f64::from(packs)) }
    }

    fn fastener(&mut self, fastener: Fastener, size_in: f64, count: u32, owner: &Name) {
        let part = FitOut::Fastener(fastener, Length::inches(size_in));
        self.out.parts.push((Part::FitOut(part), count, owner.clone()));
    }

    /// A length along a run, with a tail at both ends.
    fn length(&mut self, run: &Run, owner: &Name, what: &str, tail: Length, part: FitOut) {
        let settings = self.settings;
        let installed = run.length + tail * 2;
        let inputs = [("run_m", Value::Number(run.length.m())), ("tail_m", Value::Number(tail.m()))];
        let installed_basis: BasisRef = self.ledger.note(&table::BY_RUN, &inputs, installed.m());
        let is_estimated = run.source == LengthSource::Estimated;
        let (measured, estimated) = if is_estimated { (Length::ZERO, installed) } else { (installed, Length::ZERO) };
        let (by_measure, by_estimate) = (settings.waste_measured_percent, settings.waste_estimated_percent);
        let cut = installed + measured.scaled(by_measure / 100.0) + estimated.scaled(by_estimate / 100.0);
        let inputs = [
            ("measured_m", Value::Number(measured.m())),
            ("waste_measured_percent", Value::Number(by_measure)),
            ("estimated_m", Value::Number(estimated.m())),
            ("waste_estimated_percent", Value::Number(by_estimate)),
        ];
        let cut_basis = self.ledger.note(&LENGTH_CUT, &inputs, cut.m());
        let label = Name::from(owner.as_str().replacen("run", what, 1));
        let part = Part::FitOut(part);
        self.pieces.push(AlongPiece {
            label: label.clone(),
            requirement: part.key(),
            installed_length: installed.written(settings.length_unit),
            installed_basis,
            cut_length: cut.written(settings.length_unit),
            cut_basis,
            length_source: run.source,
        });
        self.out.pieces.push((part, Piece { label, cut }, owner.clone()));
    }
}
