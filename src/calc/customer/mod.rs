//! What a customer reads of an issued quote: a document of its own, made from the fields that he may see.
//!
//! It is made from the frozen document as that was written, whichever edition of the program wrote it. `read` names all
//! that is looked at: nothing of cost, margin or suppliers, no hours but those on the bill, no cut list, no figure of the
//! calculation. What stands nowhere in `read` cannot get here.

mod notes;
mod read;
mod scope;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quote::{IssueFacts, TaxExemption};

/// Version of the document's schema: counts up when a field changes its meaning or goes.
pub const SCHEMA_VERSION: u32 = 1;

/// How a change of the work is agreed, as every customer reads it.
const CHANGE_ORDER_RULE: &str = "The price is fixed for what is described here; whatever is added, or turns out to be \
    different on the boat, is priced and agreed with you in writing before it is done.";

/// An issued quote as its customer reads it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CustomerDocument {
    /// Version of this document's schema.
    pub schema_version: u32,
    /// Shop's name.
    pub shop_name: String,
    /// Lines below it: address and how to reach it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub letterhead: Vec<String>,
    /// The shop's conditions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<String>,
    /// Customer, as the quote names them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// Number of the quote.
    pub number: String,
    /// Which revision it is, counted from 1.
    pub revision: u32,
    /// Day on which it was issued.
    pub issued_on: NaiveDate,
    /// Last day on which it can be accepted.
    pub valid_until: NaiveDate,
    /// Name of the boat or job.
    pub boat: String,
    /// The boat and the kind of job in plain words.
    pub about: String,
    /// What is done, by system.
    pub scope: Vec<System>,
    /// What the price holds beside that.
    pub included: Vec<String>,
    /// What it does not hold.
    pub excluded: Vec<Exclusion>,
    /// What was taken as given.
    pub assumptions: Vec<String>,
    /// What the customer is asked.
    pub questions: Vec<String>,
    /// What a customer should know before he uses the boat.
    pub cautions: Vec<String>,
    /// The price.
    pub price: Price,
    /// What is paid ahead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deposit: Option<Deposit>,
    /// Longest time until parts are there, days; 0 where all are kept.
    pub lead_time_days: u16,
    /// How a change of the work is agreed.
    pub change_order_rule: String,
    /// What the customer may add; only where none of it is in the document.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<Offer>,
    /// What he has added, by title.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub chosen: Vec<String>,
}

/// Something that the customer may add.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Offer {
    /// Identifier.
    pub id: String,
    /// What it is.
    pub title: String,
    /// What it holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub description: Option<String>,
    /// Titles of those that it cannot go along with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_with: Vec<String>,
    /// What it adds to the total with tax when it is chosen alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adds: Option<Decimal>,
}

/// A part of the boat and what is done there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct System {
    /// Its name in plain words.
    pub name: String,
    /// What it gets.
    pub entries: Vec<Entry>,
}

/// One thing that the boat gets.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// How many.
    pub quantity: Decimal,
    /// Unit of the quantity; absent for single things.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// What it is.
    pub what: String,
    /// Where it goes, in the order in which the boat has the places.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub places: Vec<String>,
    /// How many of it the customer brings himself.
    #[serde(default, skip_serializing_if = "Decimal::is_zero")]
    pub yours: Decimal,
}

/// Something that the price does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Exclusion {
    /// What.
    pub what: String,
    /// Why, where there is more to say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// A name and an amount, in the currency of the quote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Amount {
    /// What it is for.
    pub what: String,
    /// How much, with the places of the currency.
    pub amount: Decimal,
}

/// The price, by the arithmetic of EN 16931.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Price {
    /// Currency, ISO 4217.
    pub currency: String,
    /// What it is made of: items by category, labour, and what a person wrote.
    pub rows: Vec<Amount>,
    /// Their sum.
    pub lines_net: Decimal,
    /// What is taken off.
    pub discount: Decimal,
    /// What is charged on the whole: freight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<Amount>,
    /// Total without tax.
    pub net: Decimal,
    /// Tax by class.
    pub taxes: Vec<Tax>,
    /// Total tax.
    pub tax: Decimal,
    /// Total with tax.
    pub total: Decimal,
    /// Why no tax is paid, where none is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_exemption: Option<TaxExemption>,
}

/// Tax of one rate.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tax {
    /// What is taxed and how, as printed.
    pub what: String,
    /// What is taxed.
    pub taxable: Decimal,
    /// Tax.
    pub tax: Decimal,
}

/// What is paid ahead.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Deposit {
    /// Special orders with their tax, in full.
    pub special_orders: Decimal,
    /// Share of the rest, percent.
    pub share_percent: Decimal,
    /// That share.
    pub share: Decimal,
    /// Both together.
    pub total: Decimal,
}

/// Why a document of a quote has no form for a customer.
#[derive(Debug, thiserror::Error)]
pub enum NoCustomerDocument {
    /// It cannot be read.
    #[error("the document cannot be read")]
    Unreadable(#[from] serde_json::Error),
    /// It was not issued.
    #[error("the document was not issued")]
    NotIssued,
    /// A gap stands in it.
    #[error("the document has no total")]
    NoTotal,
}

/// A customer's document but for its number.
#[derive(Clone, Debug)]
pub struct CustomerDraft(CustomerDocument);

impl CustomerDraft {
    /// The document under its number.
    pub fn under(&self, facts: &IssueFacts) -> CustomerDocument {
        let IssueFacts { number, revision, issued_on } = facts;
        CustomerDocument { number: number.clone(), revision: *revision, issued_on: *issued_on, ..self.0.clone() }
    }
}

/// The customer's document of an issued quote, from the bytes of the quote's own: the same bytes always give the same.
///
/// # Errors
/// [`NoCustomerDocument`].
pub fn customer_document(document: &[u8]) -> Result<CustomerDocument, NoCustomerDocument> {
    let mut quote: read::Quote = serde_json::from_slice(document)?;
    let issue = quote.issue.take().ok_or(NoCustomerDocument::NotIssued)?;
    Ok(draft_of(quote)?.under(&issue))
}

/// The same of a quote that is about to be issued.
///
/// # Errors
/// [`NoCustomerDocument`].
pub fn customer_draft(document: &[u8]) -> Result<CustomerDraft, NoCustomerDocument> {
    draft_of(serde_json::from_slice(document)?)
}

fn draft_of(quote: read::Quote) -> Result<CustomerDraft, NoCustomerDocument> {
    let total = quote.totals.total.ok_or(NoCustomerDocument::NoTotal)?;
    let (scope, options) = (scope::scope(&quote), options(&quote));
    Ok(CustomerDraft(CustomerDocument {
        schema_version: SCHEMA_VERSION,
        options,
        number: String::new(),
        revision: 0,
        issued_on: quote.valid_until,
        valid_until: quote.valid_until,
        boat: quote.take_off.boat.name.clone(),
        about: notes::about(&quote.take_off.boat),
        included: notes::included(&quote, &scope),
        scope,
        excluded: notes::excluded(&quote),
        assumptions: notes::assumptions(&quote),
        questions: notes::questions(&quote),
        cautions: notes::cautions(&quote),
        price: price(&quote, total),
        deposit: quote.deposit.map(|deposit| {
            let read::Deposit { special_orders, share_percent, share, total } = deposit;
            Deposit { special_orders, share_percent, share, total }
        }),
        lead_time_days: quote.lead_time_days,
        change_order_rule: CHANGE_ORDER_RULE.to_owned(),
        chosen: quote.chosen.into_iter().map(|option| option.title).collect(),
        customer: quote.customer,
        shop_name: quote.shop_name,
        letterhead: quote.letterhead,
        conditions: quote.conditions,
    }))
}

fn options(quote: &read::Quote) -> Vec<Offer> {
    let title = |id: &String| quote.options.iter().find(|option| option.id == *id).map(|option| option.title.clone());
    let offer = |option: &read::Offer| Offer {
        id: option.id.clone(),
        title: option.title.clone(),
        description: option.description.clone(),
        // Either of two can say that it does not go along with the other.
        not_with: quote
            .options
            .iter()
            .filter(|other| option.excludes.contains(&other.id) || other.excludes.contains(&option.id))
            .filter_map(|other| title(&other.id))
            .collect(),
        adds: option.total_difference,
    };
    quote.options.iter().map(offer).collect()
}

fn price(quote: &read::Quote, total: Decimal) -> Price {
    let totals = &quote.totals;
    let tax_row = |tax: &read::Tax| Tax {
        what: match tax.treatment.as_str() {
            "standard" => format!("{} {} %", tax.name, tax.rate_percent.normalize()),
            "zero_rated" => format!("{}, taxed at zero", tax.name),
            "outside_scope" => format!("{}, outside the scope of the tax", tax.name),
            other => format!("{}, {}", tax.name, words(other)),
        },
        taxable: tax.taxable,
        tax: tax.tax,
    };
    Price {
        currency: totals.currency.clone(),
        rows: rows(&quote.lines),
        lines_net: totals.lines_net,
        discount: totals.discount,
        charge: quote.freight.as_ref().map(|freight| Amount { what: freight.reason.clone(), amount: freight.amount }),
        net: totals.net,
        taxes: totals.tax_by_class.iter().map(tax_row).collect(),
        tax: totals.tax,
        total,
        tax_exemption: quote.tax_exemption.clone(),
    }
}

/// Items by category, each other line by itself, in the order of the lines.
fn rows(lines: &[read::Line]) -> Vec<Amount> {
    let mut rows: Vec<Amount> = Vec::new();
    let mut places: Vec<Option<&str>> = Vec::new();
    for line in lines {
        let category = line.category.as_deref();
        let there = category.and_then(|code| places.iter().position(|met| *met == Some(code)));
        match there {
            Some(place) => rows[place].amount += line.net,
            None => {
                let what = category.map_or_else(|| line.description.clone(), |code| capital(&words(code)));
                rows.push(Amount { what, amount: line.net });
                places.push(category);
            }
        }
    }
    rows
}

/// An identifier as words: `aft_bilge` is read "aft bilge".
fn words(identifier: &str) -> String {
    identifier.replace(['_', '-'], " ")
}

/// With a capital in front.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// With a stop behind it.
fn sentence(text: &str) -> String {
    let stop = if text.ends_with(['.', '?', '!']) { "" } else { "." };
    format!("{}{stop}", capital(text))
}
