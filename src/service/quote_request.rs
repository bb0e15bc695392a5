//! What a quote is made from, and the calculation behind it.

use chrono::{Datelike, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::checks::Checks;
use super::{Error, Service};
use crate::calc::choices::{self, Choice, OPTIONS_MOST, OptionInput};
use crate::calc::findings::Fault;
use crate::calc::pricing::{DiscountInput, PriceRequest, SettlementInput};
use crate::calc::quote::TaxExemption;
use crate::calc::shop::Shop;
use crate::calc::spec::input::BoatSpecInput;
use crate::calc::units::Name;

/// What a quote is made from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteRequest {
    /// The boat, its sources and panels, and what is to be put on it.
    pub spec: BoatSpecInput,
    /// What the customer may add. The quote says what it comes to with every set of them; who accepts it names the ones
    /// that are chosen.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 4)]
    pub options: Vec<OptionInput>,
    /// Customer, as the quote names them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 200, example = "R. Calder")]
    pub customer: Option<String>,
    /// Code of the customer's price level, one of those of `GET /v1/price-levels`; without it he pays the usual prices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 60, example = "trade")]
    pub price_level: Option<Name>,
    /// Freight in the shop's currency, in place of what the shop's rule gives; 0 for none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, pattern = r"^[0-9]{1,9}(\.[0-9]{1,4})?$", example = "45.00")]
    pub freight: Option<Decimal>,
    /// Discount on the whole quote, with every set of options.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub discount: Option<DiscountInput>,
    /// Why the customer pays no tax, if so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_exemption: Option<TaxExemption>,
    /// What a person decided about gaps: each can be a line of its own price, or be left out. A quote cannot be issued
    /// while a gap stands that nothing was decided about, be it with some options only.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schema(max_items = 200)]
    pub settlements: Vec<SettlementInput>,
    /// Day whose prices hold; today in the shop's time zone unless stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "2026-11-25")]
    pub priced_on: Option<NaiveDate>,
}

/// The calculation behind a quote: plain values in, plain values out; every set of its options, the one without any
/// first.
///
/// # Errors
/// All faults of the request that show at the same stage, each with a JSON pointer into the request.
pub fn calculate(
    request: &QuoteRequest,
    day: NaiveDate,
    catalogue_version: i64,
    shop: &Shop,
) -> Result<Vec<Choice>, Vec<Fault>> {
    let QuoteRequest {
        spec,
        options,
        customer,
        price_level,
        freight,
        discount,
        tax_exemption,
        settlements,
        priced_on: _,
    } = request;
    let mut faults = texts(request);
    let price = PriceRequest {
        customer: customer.clone(),
        day,
        discount: discount.clone().map(Into::into),
        tax_exemption: tax_exemption.clone(),
        settlements: settlements.clone(),
        price_level: price_level.clone(),
        freight: *freight,
        catalogue_version,
    };
    match choices::choices(spec, options, &price, shop) {
        Ok(choices) if faults.is_empty() => Ok(choices),
        Ok(_) => Err(faults),
        Err(more) => {
            faults.extend(more);
            Err(faults)
        }
    }
}

/// What is wrong with the texts and the day of a request.
fn texts(request: &QuoteRequest) -> Vec<Fault> {
    let QuoteRequest { spec, options, customer, tax_exemption, settlements, priced_on, .. } = request;
    let mut checks = Checks::default();
    if let Some(customer) = customer {
        checks.text("/customer", customer, 200);
    }
    checks.must(!spec.boat.name.contains('\0'), "/spec/boat/name", || {
        "the name holds a zero character: take it out".to_owned()
    });
    if let Some(day) = priced_on {
        checks.must((1900..=2999).contains(&day.year()), "/priced_on", || {
            format!("{day} is no day that prices hold on: expected a year from 1900 to 2999")
        });
    }
    if let Some(TaxExemption { certificate, reason }) = tax_exemption {
        checks.text("/tax_exemption/certificate", certificate, 100);
        checks.text("/tax_exemption/reason", reason, 200);
    }
    for (place, option) in options.iter().take(OPTIONS_MOST).enumerate() {
        checks.code(&format!("/options/{place}/id"), option.id.as_str(), "_-", false);
        checks.text(format!("/options/{place}/title"), &option.title, 100);
        if let Some(description) = &option.description {
            checks.text(format!("/options/{place}/description"), description, 500);
        }
    }
    for (place, settlement) in settlements.iter().enumerate() {
        let (field, text, longest) = match settlement {
            SettlementInput::Line { description, unit, .. } => {
                checks.text(format!("/settlements/{place}/unit"), unit, 20);
                ("description", description, 200)
            }
            SettlementInput::Exclusion { reason, .. } => ("reason", reason, 500),
        };
        checks.text(format!("/settlements/{place}/{field}"), text, longest);
    }
    checks.faults()
}

impl Service {
    /// Every fault of the boat spec of a request and of what the customer may add to it.
    ///
    /// # Errors
    /// [`Error::Store`].
    pub async fn spec_faults(&self, request: &QuoteRequest) -> Result<Vec<Fault>, Error> {
        let (_, shop) = self.shop().await?;
        Ok(choices::spec_faults(&request.spec, &request.options, &shop))
    }
}
