//! What a person decides about gaps: a line of his own in place of what the catalogue cannot give, or that it is left
//! out and the customer knows.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::findings::{Fault, Gap};
use crate::quote::Exclusion;
use crate::spec::answers::Answer;
use crate::take_off::GivenAnswer;
use crate::units::Name;

/// Most gaps that a fault names.
const TOLD_MAX: usize = 10;

/// What is decided about one gap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum SettlementInput {
    /// A line that a person prices in its place.
    Line {
        /// The gap, as the document names what cannot be met.
        #[schema(value_type = String, min_length = 1, max_length = 200, example = "wire/16 AWG/brown")]
        gap: Name,
        /// What is supplied or done instead.
        #[schema(min_length = 1, max_length = 200, example = "Brown 16 AWG, bought at the counter")]
        description: String,
        /// How many; more than 0.
        #[schema(value_type = String, pattern = r"^[0-9]{1,7}(\.[0-9]{1,4})?$", example = "1")]
        quantity: Decimal,
        /// Unit of the quantity, as printed.
        #[schema(min_length = 1, max_length = 20, example = "each")]
        unit: String,
        /// Price of one unit, never negative.
        #[schema(value_type = String, pattern = r"^[0-9]{1,9}(\.[0-9]{1,6})?$", example = "18.50")]
        unit_price: Decimal,
        /// Tax class: one of the shop's settings.
        #[schema(value_type = String, min_length = 1, max_length = 60, example = "goods")]
        tax_class: Name,
    },
    /// It is left out of the quote, and the quote says so.
    Exclusion {
        /// The gap, as the document names what cannot be met.
        #[schema(value_type = String, min_length = 1, max_length = 200, example = "wire/16 AWG/brown")]
        gap: Name,
        /// Why it is left out, as the customer reads it.
        #[schema(min_length = 1, max_length = 500, example = "Supplied by the customer")]
        reason: String,
    },
}

impl SettlementInput {
    /// The gap that it settles.
    pub fn gap(&self) -> &Name {
        let (SettlementInput::Line { gap, .. } | SettlementInput::Exclusion { gap, .. }) = self;
        gap
    }
}

/// Gaps with what was decided about them.
pub(super) struct Settled {
    /// Gaps that nothing was decided about.
    pub(super) open: Vec<Gap>,
    /// What is left out.
    pub(super) exclusions: Vec<Exclusion>,
}

/// Sets what was decided against the gaps. A decision about a gap that is not among them says nothing here.
pub(super) fn settle(gaps: &[Gap], settlements: &[SettlementInput]) -> Settled {
    let mut exclusions = Vec::new();
    for settlement in settlements {
        if let SettlementInput::Exclusion { gap, reason } = settlement {
            let excluded = gaps.iter().filter(|met| met.what == *gap).map(|met| Exclusion {
                gap: met.what.clone(),
                need: met.need.clone(),
                reason: reason.clone(),
            });
            exclusions.extend(excluded);
        }
    }
    let decided = |gap: &Gap| settlements.iter().any(|one| *one.gap() == gap.what);
    Settled { open: gaps.iter().filter(|gap| !decided(gap)).cloned().collect(), exclusions }
}

/// What a customer declined when he was asked about it.
pub(super) fn declined(answers: &[GivenAnswer]) -> impl Iterator<Item = Exclusion> {
    answers.iter().filter(|given| given.answer == Answer::Declined).map(|given| Exclusion {
        gap: Name::from(["answer/", given.question].concat()),
        need: given.thing.to_owned(),
        reason: given.note.clone().unwrap_or_else(|| "declined when it was asked about".to_owned()),
    })
}

/// A decision about a gap that is not there, or a second one about the same, is a fault: a gap that has closed since
/// would otherwise be charged twice. Pointers start at the request.
pub(crate) fn faults(settlements: &[SettlementInput], gaps: &[Gap]) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (place, settlement) in settlements.iter().enumerate() {
        let name = settlement.gap();
        let fault = |message: String| Fault::new(format!("/settlements/{place}/gap"), message);
        if settlements[..place].iter().any(|earlier| earlier.gap() == name) {
            faults.push(fault(format!("'{name}' is settled further up already: keep one of the two")));
        } else if gaps.iter().all(|gap| gap.what != *name) {
            let known: Vec<&str> = gaps.iter().take(TOLD_MAX).map(|gap| gap.what.as_str()).collect();
            let known = match gaps.len().saturating_sub(TOLD_MAX) {
                _ if known.is_empty() => "there is none".to_owned(),
                0 => known.join(", "),
                more => format!("{} and {more} more", known.join(", ")),
            };
            faults.push(fault(format!("there is no gap '{name}' (any more): take this out; gaps now: {known}")));
        }
    }
    faults
}
