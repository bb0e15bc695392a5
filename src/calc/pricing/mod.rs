//! From the take-off and the shop's tables to a priced quote: the customer's side and the owner's side, apart.

mod deposit;
pub mod discount;
mod exemption;
mod freight;
mod level;
mod lines;
mod margin;
pub mod settlement;
pub mod totals;

use std::collections::BTreeSet;

use chrono::{Days, NaiveDate};
use iso_currency::Currency;
use rust_decimal::Decimal;

pub use discount::{Discount, DiscountInput};
pub use lines::UNIT_PRICE_PLACES;
pub use margin::taken_off;
pub use settlement::SettlementInput;

use crate::basis::Ledger;
use crate::findings::{Fault, Gap, Warning};
use crate::money::{AmountTooLarge, Money};
use crate::pricing::lines::Lines;
use crate::pricing::settlement::{Settled, settle};
use crate::purchase::alternatives::considered;
use crate::purchase::next_size::{NextSizes, next_sizes};
use crate::purchase::{Chosen, Pick, choose};
use crate::quote::{
    CostingDocument, ENGINE_EDITION, Line, Purchase, QuoteDocument, QuotedLevel, SCHEMA_VERSION, SOURCES_EDITION,
    TaxExemption,
};
use crate::rules::table::rule_of;
use crate::shop::Shop;
use crate::shop::settings::Settings;
use crate::spec::input::{ExtraLineInput, OverruleInput};
use crate::take_off::TakeOff;
use crate::units::Name;

/// What is asked for beside the boat.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceRequest {
    /// Customer, as the quote names them.
    pub customer: Option<String>,
    /// Day whose prices hold, in the shop's time zone.
    pub day: NaiveDate,
    /// Discount on the whole quote, before tax.
    pub discount: Option<Discount>,
    /// Why the customer pays no tax, if so.
    pub tax_exemption: Option<TaxExemption>,
    /// What a person decided about gaps.
    pub settlements: Vec<SettlementInput>,
    /// Code of the customer's price level.
    pub price_level: Option<Name>,
    /// Freight that a person wrote, in place of what the shop's rule gives.
    pub freight: Option<Decimal>,
    /// Version of the catalogue and shop tables that were read.
    pub catalogue_version: i64,
}

/// A priced quote: what the front desk may read, and what the owner may read beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Quotation {
    /// Quantities, lines and totals; nothing of cost, mark-up or supplier.
    pub document: QuoteDocument,
    /// Cost, margin and the buying list.
    pub costing: CostingDocument,
}

/// A take-off that was priced, or what stands in the way.
pub(super) struct Priced {
    /// Everything that could not be met, settled or not.
    pub(super) gaps: Vec<Gap>,
    /// The quotation, or all faults but those of the settlements among each other and against the gaps.
    pub(super) outcome: Result<Quotation, Vec<Fault>>,
}

/// Prices a take-off from the shop's tables at the prices of the request's day.
///
/// Overrules of items are applied here; those of conductors and hours are in the take-off already. What no item meets is
/// a gap, and the quote is then incomplete, unless a person settled it. Faults (an overrule that cannot stand, a decision
/// about a gap that is not there, an extra line without a known tax class, a discount larger than the lines, an absurd
/// amount) are all listed; pointers to overrules and extra lines start at the spec, those to discount and settlements at
/// the request.
pub fn quotation(
    take_off: TakeOff,
    extra_lines: &[ExtraLineInput],
    overrules: &[OverruleInput],
    request: &PriceRequest,
    shop: &Shop,
) -> Result<Quotation, Vec<Fault>> {
    let currency = currency(&shop.settings).map_err(|fault| vec![fault])?;
    let Priced { gaps, outcome } = priced(take_off, extra_lines, overrules, request, shop, currency);
    let mut faults = settlement::faults(&request.settlements, &gaps);
    match outcome {
        Ok(quotation) if faults.is_empty() => Ok(quotation),
        Ok(_) => Err(faults),
        Err(more) => {
            faults.extend(more);
            Err(faults)
        }
    }
}

/// Prices a take-off. Settlements are held against the gaps by whoever knows all take-offs that they are about.
pub(super) fn priced(
    mut take_off: TakeOff,
    extra_lines: &[ExtraLineInput],
    overrules: &[OverruleInput],
    request: &PriceRequest,
    shop: &Shop,
    currency: Currency,
) -> Priced {
    let sizes = next_sizes(&take_off, shop, request.day, overrules).unwrap_or_default();
    let substituted = !sizes.made.is_empty();
    let requirements = if substituted { &sizes.requirements } else { &take_off.requirements };
    let chosen = choose(requirements, shop, request.day, overrules);
    let mut gaps = take_off.gaps.clone();
    gaps.extend(chosen.gaps.iter().cloned());
    take_off.overrules.extend(chosen.applied.iter().cloned());
    take_off.warnings.extend(chosen.warnings.iter().cloned());
    take_off.warnings.extend(
        sizes.made.iter().map(|made| Warning { about: made.requirement.clone(), message: made.message.clone() }),
    );
    let outcome = quoted(take_off, (&chosen, &gaps, sizes), extra_lines, request, shop, currency);
    Priced { gaps, outcome }
}

/// The quotation of a take-off for which it was chosen what to buy.
fn quoted(
    take_off: TakeOff,
    (chosen, met, sizes): (&Chosen, &[Gap], NextSizes),
    extra_lines: &[ExtraLineInput],
    request: &PriceRequest,
    shop: &Shop,
    currency: Currency,
) -> Result<Quotation, Vec<Fault>> {
    let settings = &*shop.settings;
    let picks = &chosen.picks;
    let mut faults = chosen.faults.clone();
    let Settled { open: gaps, mut exclusions } = settle(met, &request.settlements);
    exclusions.extend(settlement::declined(&take_off.answers));

    let mut ledger = Ledger::default();
    let level = match level::level(settings, request.price_level.as_ref()) {
        Ok(level) => level,
        Err(fault) => {
            faults.push(fault);
            None
        }
    };
    let mut lines = Lines::new(settings, level, currency);
    lines.items(picks, request.day, &mut ledger);
    lines.labour(&take_off.labour, take_off.boat.job_type);
    lines.settled(&request.settlements, met);
    lines.extra(extra_lines);
    let Lines { lines, costings, faults: of_lines, .. } = lines;
    faults.extend(of_lines);

    let freight = match freight::freight(&settings.freight, request.freight, &lines, currency, &mut ledger) {
        Ok(freight) => freight,
        Err(fault) => {
            faults.push(fault);
            None
        }
    };
    let (freight, freight_basis) = freight.map(|(charge, basis)| (Some(charge), Some(basis))).unwrap_or_default();
    let charge = freight.as_ref().map(|charge| (&charge.tax_class, charge.amount));
    let nets = lines.iter().map(|line| (&line.tax_class, line.net));
    let tax_classes = exemption::classes_for(request.tax_exemption.as_ref(), &settings.tax_classes);
    let totals = match totals::totals(nets, request.discount, charge, &tax_classes, currency, !gaps.is_empty()) {
        Ok(totals) if faults.is_empty() => totals,
        Ok(_) => return Err(faults),
        Err(fault) => {
            faults.push(fault);
            return Err(faults);
        }
    };
    let purchases = purchases(picks, currency);
    let sums = purchases.and_then(|purchases| {
        let zero = Money::zero(currency);
        let purchase_cost = purchases.iter().try_fold(zero, |sum, purchase| sum.plus(purchase.cost))?;
        let margin = costings.iter().try_fold(zero, |sum, line| sum.plus(line.margin))?;
        let special: BTreeSet<&Name> =
            picks.iter().filter(|pick| pick.item.special_order).map(|pick| &pick.item.sku).collect();
        let deposit = deposit::deposit(&lines, &special, &totals, settings.terms.deposit_percent)?;
        Ok((purchases, purchase_cost, margin, deposit))
    });
    let (purchases, purchase_cost, margin, deposit) = sums.map_err(|AmountTooLarge| {
        vec![Fault::new("", "the cost of what is to be bought is too large to reckon with; check quantities and costs")]
    })?;
    let bought = if sizes.made.is_empty() { &take_off.requirements } else { &sizes.requirements };
    let considered = considered(bought, chosen, sizes.considered, shop, request.day);
    let costing = CostingDocument {
        schema_version: SCHEMA_VERSION,
        currency: currency.code().to_owned(),
        purchases,
        purchase_cost,
        components: chosen.components.clone(),
        considered,
        margin_percent: margin::margin_percent(&lines, &costings, &totals),
        lines: costings,
        margin,
        freight_basis,
        basis: ledger.into_basis(rule_of),
    };
    let document = QuoteDocument {
        schema_version: SCHEMA_VERSION,
        engine_edition: ENGINE_EDITION,
        sources_edition: SOURCES_EDITION,
        catalogue_version: request.catalogue_version,
        shop_name: settings.shop_name.clone(),
        letterhead: settings.letterhead.clone(),
        conditions: settings.conditions.clone(),
        customer: request.customer.clone(),
        priced_on: request.day,
        valid_until: valid_until(request.day, &lines, settings),
        lead_time_days: picks.iter().map(|pick| pick.item.lead_time_days).max().unwrap_or(0),
        take_off,
        lines,
        totals,
        deposit,
        tax_exemption: request.tax_exemption.clone(),
        price_level: level.map(|level| QuotedLevel { code: level.code.clone(), name: level.name.clone() }),
        freight,
        gaps,
        exclusions,
        substitutions: sizes.made,
        options: Vec::new(),
        choices: Vec::new(),
        chosen: Vec::new(),
        issue: None,
    };
    Ok(Quotation { document, costing })
}

/// The currency that the shop's settings name.
pub(super) fn currency(settings: &Settings) -> Result<Currency, Fault> {
    Currency::from_code(&settings.currency).ok_or_else(|| {
        let message = format!(
            "the shop's settings name the currency '{}', which ISO 4217 does not have; set one such as USD",
            settings.currency
        );
        Fault::new("", message)
    })
}

/// The last day on which all prices hold: that of the category on the quote whose prices are promised for the fewest
/// days, and no later than the shop's usual.
fn valid_until(day: NaiveDate, lines: &[Line], settings: &Settings) -> NaiveDate {
    let on_the_quote = |code: &Name| lines.iter().any(|line| line.category.as_ref() == Some(code));
    let categories = settings.categories.iter().filter(|category| on_the_quote(&category.code));
    let days = categories.filter_map(|category| category.valid_days).fold(settings.valid_days, u16::min);
    day.checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX)
}

/// The buying list.
fn purchases(picks: &[Pick], currency: Currency) -> Result<Vec<Purchase>, AmountTooLarge> {
    let purchase = |pick: &Pick| {
        Ok(Purchase {
            sku: pick.item.sku.clone(),
            description: pick.item.description.clone(),
            meets: pick.meets.clone(),
            used: pick.used.normalize(),
            buy: pick.order.count,
            buying_unit: pick.item.buying_unit,
            buying_quantity: pick.item.buying_quantity,
            unit_cost: pick.order.unit_cost,
            cost: Money::rounded(pick.order.cost, currency)?,
            supplier: pick.item.supplier.clone(),
            lead_time_days: pick.item.lead_time_days,
            stock: pick.stock.clone(),
        })
    };
    picks.iter().map(purchase).collect()
}
