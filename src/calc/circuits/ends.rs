//! Ends: how a conductor is made fast to what it lands on, and what that takes.
//!
//! 1. 10 AWG (6 mm²) and smaller: a ring terminal on a stud or screw, under one layer of adhesive heat shrink; a
//!    pigtail is joined by a butt splice under two layers.
//! 2. Larger: a lug on a stud, under one layer. Splices stay butt splices of that size.
//! 3. Tubing is sized over the barrel, the outer layer over the inner: it must slip on (eight tenths of its supplied
//!    diameter) and recover to less. The inner layer, whose adhesive fills [`ADHESIVE_FILLS_IN`], must also close on
//!    the thinnest wire that it ends on.
//! 4. Pieces of one nominal size and length are one need, whatever they go over: that is how tubing is kept.

use smallvec::SmallVec;

use crate::circuits::legs::LegEnd;
use crate::rules::sizes::overall_diameter;
use crate::rules::terminations::{barrel_diameter, smallest_shrink};
use crate::shop::item::Stud;
use crate::take_off::{LandsOn, Termination};
use crate::units::{Length, WireSize};

/// The classes that terminations and their times come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SizeClass {
    /// 10 AWG (6 mm²) and smaller: crimp terminals.
    Small,
    /// 8 to 1 AWG (10 to 35 mm²): lugs.
    Medium,
    /// 1/0 AWG (50 mm²) and larger: lugs.
    Large,
}

/// The class of a size (terminal makers' ranges: coloured crimps end at 10 AWG or 6 mm²).
pub fn size_class(size: WireSize) -> SizeClass {
    match size {
        WireSize::Awg(n) if n >= 10 => SizeClass::Small,
        WireSize::Awg(n) if n >= 1 => SizeClass::Medium,
        WireSize::Metric(hundredths) if hundredths <= 600 => SizeClass::Small,
        WireSize::Metric(hundredths) if hundredths < 5000 => SizeClass::Medium,
        _ => SizeClass::Large,
    }
}

/// What the molten adhesive of the inner layer fills of the bore, inches of diameter (common practice).
const ADHESIVE_FILLS_IN: f64 = 0.06;

/// One cut piece of heat shrink, by the nominal size that the rule gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShrinkPiece {
    /// Inside diameter as supplied of the smallest tubing that does it.
    pub supplied: Length,
    /// Its inside diameter after full recovery.
    pub recovered: Length,
    /// How long it is cut.
    pub piece: Length,
}

/// How one end is made.
#[derive(Clone, Debug)]
pub struct EndParts {
    /// The kind of termination.
    pub termination: Termination,
    /// Size of the terminal, splice or lug.
    pub size: WireSize,
    /// Stud it lands on.
    pub stud: Option<Stud>,
    /// Heat shrink, inner layer first.
    pub shrink: SmallVec<[ShrinkPiece; 2]>,
    /// Whether the inner layer cannot close on the thinner of two spliced wires.
    pub loose_on_thin_wire: bool,
    /// Whether the maker's lead is more than two sizes thinner than the conductor it is spliced to.
    pub much_thinner_lead: bool,
    /// Whether no tubing goes over the barrel at all.
    pub no_tubing: bool,
}

/// How the end of a conductor of `size` is made; `lead` is the maker's lead that a splice joins it to.
pub fn end_parts(end: &LegEnd, size: WireSize, lead: Option<WireSize>) -> EndParts {
    let spliced = matches!(end.lands_on, LandsOn::Pigtail | LandsOn::AlwaysOnFuse);
    let (termination, stud) = match (spliced, end.stud) {
        (false, Some(stud)) if size_class(size) == SizeClass::Small => (Termination::RingTerminal, Some(stud)),
        (false, Some(stud)) => (Termination::Lug, Some(stud)),
        _ => (Termination::TwoLayerSplice, None),
    };
    let layers: &[f64] = match (termination, size_class(size)) {
        // 3/4 in inside, 1 1/2 in outside on small wire; inner = barrel + 1/2 in, outer = inner + 1 in (common practice).
        (Termination::TwoLayerSplice, SizeClass::Small) => &[0.75, 1.5],
        (Termination::TwoLayerSplice, _) => &[2.0, 3.0],
        (_, SizeClass::Small) => &[0.75],
        (_, SizeClass::Medium) => &[1.5],
        (_, SizeClass::Large) => &[2.0],
    };
    let own = overall_diameter(size);
    let thinnest = match (termination, lead) {
        (Termination::TwoLayerSplice, Some(lead)) => own.min(overall_diameter(lead)),
        _ => own,
    };
    let fill = Length::inches(ADHESIVE_FILLS_IN);
    let mut over = barrel_diameter(size).max(own);
    let mut parts = EndParts {
        termination,
        size,
        stud,
        shrink: SmallVec::new(),
        loose_on_thin_wire: false,
        much_thinner_lead: termination == Termination::TwoLayerSplice
            && lead.is_some_and(|lead| thinner_by_far(lead, size)),
        no_tubing: false,
    };
    for (layer, inches) in layers.iter().enumerate() {
        let Some(tubing) = smallest_shrink(over, over) else {
            parts.no_tubing = true;
            break;
        };
        parts.loose_on_thin_wire |= layer == 0 && tubing.recovered > thinnest + fill;
        parts.shrink.push(ShrinkPiece {
            supplied: tubing.supplied,
            recovered: tubing.recovered,
            piece: Length::inches(*inches),
        });
        over += tubing.wall * 2;
    }
    parts
}

/// Whether a lead has less than a quarter of a conductor's copper: more than about two of the usual even sizes. A barrel
/// for the conductor does not hold it (common practice).
fn thinner_by_far(lead: WireSize, size: WireSize) -> bool {
    lead.nominal_cmil() * 4.0 < size.nominal_cmil()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pigtail() -> LegEnd {
        LegEnd { station: 0, lands_on: LandsOn::Pigtail, stud: None }
    }

    // Common practice: 3/4 in and 1 1/2 in are the usual cut lengths of a two-layer splice on small wire.
    #[test]
    fn a_small_splice_has_two_layers_of_the_usual_lengths() {
        for awg in [16, 14, 12, 10] {
            let parts = end_parts(&pigtail(), WireSize::Awg(awg), Some(WireSize::Awg(16)));
            assert_eq!(parts.termination, Termination::TwoLayerSplice);
            let lengths: Vec<f64> = parts.shrink.iter().map(|layer| layer.piece.inch()).collect();
            assert_eq!(lengths, [0.75, 1.5], "{awg} AWG");
            assert!(parts.shrink[1].supplied > parts.shrink[0].supplied);
            assert!(!parts.loose_on_thin_wire && !parts.no_tubing);
        }
    }

    #[test]
    fn a_large_conductor_on_a_stud_takes_a_lug() {
        let end = LegEnd { station: 0, lands_on: LandsOn::PanelMain, stud: Some(Stud::Quarter) };
        assert_eq!(end_parts(&end, WireSize::Awg(8), None).termination, Termination::Lug);
        assert_eq!(end_parts(&end, WireSize::Awg(10), None).termination, Termination::RingTerminal);
    }
}
