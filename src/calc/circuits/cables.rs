//! Jacketed cables written out: one line for all the conductors of a circuit.

use crate::basis::Value;
use crate::circuits::ends::{ShrinkPiece, SizeClass, size_class};
use crate::circuits::legs;
use crate::circuits::schedule::{Schedule, Written};
use crate::rules::jackets::{JACKET_WALL_IN, minimum, outside_in, sleeve};
use crate::rules::sizes::overall_diameter;
use crate::rules::table::jackets as table;
use crate::take_off::{Cable, CableBasis, JacketSleeve};
use crate::units::{AreaStandard, Length, LengthUnit, WireSize};

/// A cable as written, and what it takes beside itself.
pub struct WrittenCable {
    /// As the take-off shows it.
    pub cable: Cable,
    /// Colours that it comes in.
    pub colours: &'static [&'static str],
    /// Exact installed length.
    pub installed: Length,
    /// Exact length to cut.
    pub cut: Length,
    /// Sleeve over the jacket, at each end; absent where no tubing goes over it.
    pub sleeve: Option<ShrinkPiece>,
}

/// Length of the sleeve over a jacket's end: half of it on the jacket, half on what comes out (common practice).
fn sleeve_length(size: WireSize) -> Length {
    match size_class(size) {
        SizeClass::Small => Length::inches(1.5),
        SizeClass::Medium | SizeClass::Large => Length::inches(3.0),
    }
}

/// Diameters of cable and tubing are traded in inches, and in millimetres where wire is metric.
fn diameter(length: Length, standard: AreaStandard) -> crate::units::LengthValue {
    length.written(if standard == AreaStandard::Metric { LengthUnit::Mm } else { LengthUnit::In })
}

impl Schedule<'_> {
    /// The line of a cable, whose conductors are `lines`; each of these gets the cable's colour, and keeps that of its
    /// function for its labels.
    pub fn cable(&mut self, cable: &legs::Cable, lines: &mut [(usize, Box<Written>)]) -> WrittenCable {
        let standard = self.settings.area_standard;
        let colours: Vec<_> = lines
            .iter_mut()
            .zip(&cable.inside)
            .map(|((_, line), inside)| {
                line.conductor.cable = Some(cable.label.clone());
                line.conductor.label_colour = Some(std::mem::replace(&mut line.conductor.colour, inside));
                let negative = cable.colours[cable.colours.len() - 1];
                let role = match *inside {
                    "red" => "positive",
                    colour if colour == negative => "return",
                    _ => "second positive",
                };
                let inputs = [("role", Value::Text(role)), ("negative", Value::Text(negative))];
                self.ledger.note(&table::COLOUR, &inputs, Value::Text(inside))
            })
            .collect();
        let first = &lines[0].1;
        let leg = &self.laid.legs[cable.legs[0]];
        let (line, size, many) = (&first.conductor, first.conductor.gauge, lines.len());
        let outside = outside_in(many, size);
        let inputs = [
            ("conductors", Value::Number(many as f64)),
            ("conductor_in", Value::Number(overall_diameter(size).inch())),
            ("wall_in", Value::Number(JACKET_WALL_IN)),
        ];
        let outside_basis = self.ledger.note(&table::OUTSIDE, &inputs, outside);
        let break_out = self.settings.break_out.length().unwrap_or_default();
        let (word, least) = match (standard, minimum(standard, break_out)) {
            (AreaStandard::Metric, WireSize::Metric(75)) => ("metric", "0.75 mm2"),
            (AreaStandard::Metric, _) => ("metric", "1 mm2"),
            (_, WireSize::Awg(18)) => ("gauge", "18 AWG"),
            _ => ("gauge", "16 AWG"),
        };
        let inputs = [("sizes", Value::Text(word)), ("break_out_mm", Value::Number(break_out.to(LengthUnit::Mm)))];
        let minimum_size = self.ledger.note(&table::MINIMUM, &inputs, Value::Text(least));
        let piece = sleeve(many, size).map(|tubing| ShrinkPiece {
            supplied: tubing.supplied,
            recovered: tubing.recovered,
            piece: sleeve_length(size),
        });
        let written = Cable {
            label: cable.label.clone(),
            circuit: line.circuit.clone(),
            conductors: lines.iter().map(|(_, line)| line.conductor.label.clone()).collect(),
            colours: cable.inside.clone(),
            gauge: size,
            insulation_c: line.insulation_c,
            route: line.route.clone(),
            outside_diameter: diameter(Length::inches(outside), standard),
            sleeve: piece.map(|piece| JacketSleeve {
                supplied_diameter: piece.supplied.written(LengthUnit::In),
                piece_length: piece.piece.written(LengthUnit::In),
            }),
            break_out: self.settings.break_out,
            installed_length: line.installed_length,
            cut_length: line.cut_length,
            length_source: line.length_source,
            cut_note: line.cut_note,
            basis: CableBasis {
                outside_diameter: outside_basis,
                minimum_size,
                colours,
                installed_length: line.basis.installed_length,
                cut_length: line.basis.cut_length,
            },
        };
        let (installed, cut) = (leg.lengths.installed, leg.lengths.cut);
        WrittenCable { cable: written, colours: cable.colours, installed, cut, sleeve: piece }
    }
}
