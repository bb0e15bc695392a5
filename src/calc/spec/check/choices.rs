//! What a person adds to the computed: stated labour, overrules and lines of their own.

use std::collections::{BTreeMap, BTreeSet};

use rust_decimal::Decimal;

use super::names::nearest;
use super::panels::find_item;
use crate::findings::Fault;
use crate::shop::Shop;
use crate::shop::item::LabourUse;
use crate::spec::answers::Unusual;
use crate::spec::input::{BoatSpecInput, OverruleInput};
use crate::units::Name;

/// Most of one labour operation that a spec may state.
const LABOUR_MOST: Decimal = Decimal::from_parts(999_999, 0, 0, false, 0);

pub(super) fn state_labour(input: &BoatSpecInput, shop: &Shop, labour: &mut Vec<LabourUse>, faults: &mut Vec<Fault>) {
    let known = |code: &Name| shop.labour_operations.iter().any(|o| o.code == *code);
    for (i, stated) in input.labour.iter().enumerate() {
        if !known(&stated.operation) {
            let near = nearest(stated.operation.as_str(), shop.labour_operations.iter().map(|o| o.code.as_str()));
            let mend =
                near.map_or("GET /v1/labour-operations lists them".to_owned(), |n| format!("did you mean '{n}'?"));
            faults.push(Fault::new(
                format!("/labour/{i}/operation"),
                format!("there is no labour operation '{}': {mend}", stated.operation),
            ));
        }
        if stated.quantity < Decimal::ZERO {
            faults.push(Fault::new(format!("/labour/{i}/quantity"), "a quantity of labour is never negative"));
        }
        if stated.quantity > LABOUR_MOST {
            let message =
                format!("a quantity of labour of {} makes no sense: it is {LABOUR_MOST} at most", stated.quantity);
            faults.push(Fault::new(format!("/labour/{i}/quantity"), message));
        }
    }
    labour.extend(input.labour.iter().filter(|stated| stated.quantity <= LABOUR_MOST).cloned());
    let mut sums: BTreeMap<Name, Decimal> = BTreeMap::new();
    for stated in labour.drain(..) {
        *sums.entry(stated.operation).or_default() += stated.quantity;
    }
    labour.extend(sums.into_iter().map(|(operation, quantity)| LabourUse { operation, quantity }));
}

/// What can be said of overrules before anything is computed; whether their targets exist is known only after.
pub(super) fn check_overrules(input: &BoatSpecInput, shop: &Shop, faults: &mut Vec<Fault>) {
    let mut seen = BTreeSet::new();
    for (i, overrule) in input.overrules.iter().enumerate() {
        let (what, about) = match overrule {
            OverruleInput::Conductor { circuit, .. } => ("conductor", circuit),
            OverruleInput::Item { requirement, sku, .. } => {
                find_item(sku, shop, || format!("/overrules/{i}/sku"), faults);
                ("item", requirement)
            }
            OverruleInput::Hours { operation, .. } => {
                if !shop.labour_operations.iter().any(|o| o.code == *operation) {
                    faults.push(Fault::new(
                        format!("/overrules/{i}/operation"),
                        format!("there is no labour operation '{operation}': GET /v1/labour-operations lists them"),
                    ));
                }
                ("hours", operation)
            }
        };
        if !seen.insert((what, about.clone())) {
            faults.push(Fault::new(
                format!("/overrules/{i}"),
                format!("the {what} of '{about}' is overruled twice: leave one of the two out"),
            ));
        }
    }
}

/// Questions that are answered where the spec describes the boat, and by what there.
const ANSWERED_ELSEWHERE: [(&str, &str); 6] = [
    ("petrol_vapour_unknown", "the station's petrol_vapour"),
    ("cold_cranking_unstated", "the bank's cold_cranking_a"),
    ("power_unstated", "power"),
    ("layout_runs_estimated", "the boat's runs"),
    ("run_estimated", "the run's length_source"),
    ("tube_diameter_unstated", "the run's inside_diameter"),
];

/// Each answer is to a question that there is, once.
pub(super) fn check_answers(input: &BoatSpecInput, faults: &mut Vec<Fault>) {
    let mut seen = BTreeSet::new();
    for (i, answer) in input.answers.iter().enumerate() {
        let at = || format!("/answers/{i}/question");
        let question = answer.question.as_str();
        if Unusual::of(question).is_none() {
            let known = || Unusual::ALL.into_iter().map(Unusual::id);
            let mend = match ANSWERED_ELSEWHERE.iter().find(|(id, _)| *id == question) {
                Some((_, place)) => format!("'{question}' is answered by stating {place}"),
                None => {
                    let mend = match nearest(question, known()) {
                        Some(near) => format!("did you mean '{near}'?"),
                        None => format!("those that can be answered are {}", known().collect::<Vec<_>>().join(", ")),
                    };
                    format!("there is no question '{question}' to answer: {mend}")
                }
            };
            faults.push(Fault::new(at(), mend));
        }
        if !seen.insert(question) {
            faults.push(Fault::new(at(), format!("'{question}' is answered twice: leave one of the two out")));
        }
    }
}

pub(super) fn check_extra_lines(input: &BoatSpecInput, shop: &Shop, faults: &mut Vec<Fault>) {
    for (i, line) in input.extra_lines.iter().enumerate() {
        if !shop.settings.tax_classes.iter().any(|class| class.code == line.tax_class) {
            let known: Vec<_> = shop.settings.tax_classes.iter().map(|class| class.code.as_str()).collect();
            faults.push(Fault::new(
                format!("/extra_lines/{i}/tax_class"),
                format!("there is no tax class '{}': the shop has {}", line.tax_class, known.join(", ")),
            ));
        }
        if line.unit_price < Decimal::ZERO {
            faults.push(Fault::new(
                format!("/extra_lines/{i}/unit_price"),
                "a unit price is never negative: to take something off, make the quantity negative",
            ));
        }
    }
}
