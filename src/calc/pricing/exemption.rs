//! A customer who is exempt from tax, by a certificate that he shows.

use rust_decimal::Decimal;

use crate::quote::TaxExemption;
use crate::shop::settings::{TaxClass, TaxTreatment};

/// The tax classes as they are for a customer: to one who is exempt, no class is taxed.
pub(super) fn classes_for(exemption: Option<&TaxExemption>, classes: &[TaxClass]) -> Vec<TaxClass> {
    let exempt = |class: &TaxClass| match class.treatment {
        TaxTreatment::Standard if exemption.is_some() => {
            TaxClass { treatment: TaxTreatment::Exempt, rate_percent: Decimal::ZERO, ..class.clone() }
        }
        _ => class.clone(),
    };
    classes.iter().map(exempt).collect()
}
