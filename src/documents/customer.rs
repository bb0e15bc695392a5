//! The page on which a customer reads an issued quote and answers it, and the plain pages beside it. HTML that needs no
//! script, for a telephone first; the same page is what is printed.

mod paper;

pub use paper::sheet;

use askama::Template;
use chrono::NaiveDate;
use rust_decimal::Decimal;

use calc::customer::{CustomerDocument, Deposit, Entry, Offer, Price, System};

/// The style of every page: it stands in the page itself, so that a page that was saved looks the same.
pub const STYLE: &str = include_str!("templates/page.css");

/// How a quote stands, as its customer is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Standing {
    /// It can be answered.
    Open,
    /// It was accepted: on what day, and by whom if he typed his name.
    Accepted(Option<(NaiveDate, Option<String>)>),
    /// It was declined, on what day.
    Declined(Option<NaiveDate>),
    /// Its last day is over.
    Lapsed,
    /// The shop took it back.
    Withdrawn,
    /// Another stands in its place.
    Superseded,
}

impl Standing {
    /// In sentences; none while it can be answered.
    pub fn told(&self, document: &CustomerDocument) -> Vec<String> {
        match self {
            Standing::Open => Vec::new(),
            Standing::Accepted(answered) => {
                let on = answered.as_ref().map(|(on, _)| format!(" on {}", date(*on))).unwrap_or_default();
                let by = answered.as_ref().and_then(|(_, by)| by.as_ref());
                let by = by.map(|name| format!(", by {name}")).unwrap_or_default();
                vec![format!("This quote was accepted{on}{by}. What stands here is agreed.")]
            }
            Standing::Declined(on) => {
                let on = on.map(|on| format!(" on {}", date(on))).unwrap_or_default();
                vec![
                    format!("This quote was declined{on}."),
                    "If you have thought again, ask us for another.".to_owned(),
                ]
            }
            Standing::Lapsed => vec![
                format!("This quote was valid until {}, and that day is over.", date(document.valid_until)),
                "If you still want the work done, ask us for another quote.".to_owned(),
            ],
            Standing::Withdrawn => {
                vec!["We have taken this quote back. If you have not heard from us why, please ask.".to_owned()]
            }
            Standing::Superseded => vec![
                "A newer revision of this quote stands in its place.".to_owned(),
                "If you have not got its address, ask us for it.".to_owned(),
            ],
        }
    }
}

/// What was typed into the forms, and what is wrong with it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Form {
    /// Name.
    pub name: String,
    /// What is wrong with the name; empty when nothing is.
    pub name_fault: String,
    /// Identifiers of the options that are ticked.
    pub options: Vec<String>,
    /// What is wrong with the options; empty when nothing is.
    pub options_fault: String,
    /// Whether the page shows other options than the one before, so that accepting is asked for once more.
    pub changed: bool,
    /// Reason for declining.
    pub reason: String,
    /// What is wrong with the reason; empty when nothing is.
    pub reason_fault: String,
}

impl Form {
    fn is_wrong(&self) -> bool {
        [&self.name_fault, &self.options_fault, &self.reason_fault].into_iter().any(|fault| !fault.is_empty())
    }
}

#[derive(Template)]
#[template(path = "customer.html", config = "askama.toml")]
struct QuotePage<'a> {
    quote: &'a CustomerDocument,
    address: &'a str,
    form: &'a Form,
    open: bool,
    accepted: bool,
    stands: Vec<String>,
    issued_on: String,
    valid_until: String,
    total: String,
    deposit: Option<DepositTold>,
    systems: Vec<SystemTold<'a>>,
    rows: Vec<Row>,
    offers: Vec<OfferTold<'a>>,
    shown: String,
}

struct DepositTold {
    total: String,
    told: String,
}

struct OfferTold<'a> {
    id: &'a str,
    title: &'a str,
    description: &'a str,
    /// What it adds, and what it does not go along with.
    note: String,
    ticked: bool,
}

struct SystemTold<'a> {
    name: &'a str,
    things: Vec<Thing<'a>>,
}

struct Thing<'a> {
    many: String,
    what: &'a str,
    note: String,
}

/// A row of the price. `sub` is drawn under a stronger line.
struct Row {
    what: String,
    amount: String,
    sub: bool,
}

#[derive(Template)]
#[template(path = "plain.html", config = "askama.toml")]
struct PlainPage<'a> {
    heading: &'a str,
    texts: &'a [String],
    back: Option<&'a str>,
}

/// The page of a quote at an address (`/q/…`), with what may be added to it, the identifiers of the options that it shows,
/// and what was typed.
pub fn quote_page(
    quote: &CustomerDocument,
    (offers, shown): (&[Offer], &str),
    standing: &Standing,
    address: &str,
    form: &Form,
) -> String {
    let page = QuotePage {
        quote,
        address,
        form,
        open: *standing == Standing::Open,
        accepted: matches!(standing, Standing::Accepted(_)),
        stands: standing.told(quote),
        issued_on: date(quote.issued_on),
        valid_until: date(quote.valid_until),
        total: amount(quote.price.total),
        deposit: quote.deposit.as_ref().map(deposit),
        systems: quote.scope.iter().map(system).collect(),
        rows: rows(&quote.price),
        offers: offers.iter().map(|of| offer(of, &quote.price.currency, form)).collect(),
        shown: shown.to_owned(),
    };
    page.render().expect("a page of texts is always written")
}

/// A page of a heading and some sentences, with the way back to a quote if there is one.
pub fn plain_page(heading: &str, texts: &[String], back: Option<&str>) -> String {
    PlainPage { heading, texts, back }.render().expect("a page of texts is always written")
}

fn system(system: &System) -> SystemTold<'_> {
    SystemTold { name: &system.name, things: system.entries.iter().map(thing).collect() }
}

fn thing(entry: &Entry) -> Thing<'_> {
    let quantity = entry.quantity.normalize();
    let many = match &entry.unit {
        Some(unit) => format!("{quantity} {unit}"),
        None => format!("{quantity} ×"),
    };
    let yours = match entry.yours {
        yours if yours.is_zero() => None,
        yours if yours == entry.quantity => Some("you bring it; we fit it".to_owned()),
        yours => Some(format!("{} of them you bring; we fit them all", yours.normalize())),
    };
    let places = Some(entry.places.join(", ")).filter(|places| !places.is_empty());
    Thing { many, what: &entry.what, note: [places, yours].into_iter().flatten().collect::<Vec<_>>().join("; ") }
}

fn offer<'a>(offer: &'a Offer, currency: &str, form: &Form) -> OfferTold<'a> {
    let Offer { id, title, description, not_with, adds } = offer;
    let adds = adds.map(|adds| match adds.is_sign_negative() && !adds.is_zero() {
        true => format!("takes {currency}\u{a0}{} off by itself", amount(-adds)),
        false => format!("adds {currency}\u{a0}{} by itself", amount(adds)),
    });
    let not_with = Some(format!("not together with: {}", not_with.join(", "))).filter(|_| !not_with.is_empty());
    OfferTold {
        id,
        title,
        description: description.as_deref().unwrap_or_default(),
        note: [adds, not_with].into_iter().flatten().collect::<Vec<_>>().join("; "),
        ticked: form.options.contains(id),
    }
}

fn deposit(deposit: &Deposit) -> DepositTold {
    let Deposit { special_orders, share_percent, share, total } = deposit;
    let percent = share_percent.normalize();
    let told = match (special_orders.is_zero(), share.is_zero()) {
        (true, _) => format!("{percent} % of the total"),
        (false, true) => "special orders in full".to_owned(),
        (false, false) => {
            format!(
                "special orders in full ({}), and {percent} % of the rest ({})",
                amount(*special_orders),
                amount(*share)
            )
        }
    };
    DepositTold { total: amount(*total), told }
}

fn rows(price: &Price) -> Vec<Row> {
    let row = |what: String, of: Decimal, sub| Row { what, amount: amount(of), sub };
    let mut rows: Vec<Row> = price.rows.iter().map(|of| row(of.what.clone(), of.amount, false)).collect();
    if !price.discount.is_zero() {
        rows.push(row("Together".to_owned(), price.lines_net, true));
        rows.push(row("Discount".to_owned(), -price.discount, false));
    }
    if let Some(charge) = &price.charge {
        rows.push(row(charge.what.clone(), charge.amount, false));
    }
    rows.push(row("Without tax".to_owned(), price.net, true));
    for tax in &price.taxes {
        rows.push(row(format!("Tax: {}, on {}", tax.what, amount(tax.taxable)), tax.tax, false));
    }
    rows
}

/// A day that no country reads as another.
fn date(day: NaiveDate) -> String {
    day.format("%-d %B %Y").to_string()
}

/// An amount as English text writes it: `12,345.60`.
fn amount(amount: Decimal) -> String {
    let text = amount.abs().to_string();
    let (whole, places) = text.split_once('.').map_or((text.as_str(), None), |(whole, places)| (whole, Some(places)));
    let mut grouped = String::new();
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place) % 3 == 0 {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    let sign = if amount.is_sign_negative() && !amount.is_zero() { "\u{2212}" } else { "" };
    match places {
        Some(places) => format!("{sign}{grouped}.{places}"),
        None => format!("{sign}{grouped}"),
    }
}

#[cfg(test)]
mod tests {
    use rust_decimal::dec;

    use super::*;

    #[test]
    fn amounts_are_grouped_and_keep_the_places_of_their_currency() {
        for (met, expected) in [
            (dec!(0.00), "0.00"),
            (dec!(12.50), "12.50"),
            (dec!(999), "999"),
            (dec!(1000), "1,000"),
            (dec!(1234567.891), "1,234,567.891"),
            (dec!(-6.58), "\u{2212}6.58"),
        ] {
            assert_eq!(amount(met), expected);
        }
    }

    #[test]
    fn what_was_written_by_others_is_text_on_a_page() {
        let told = ["<b>&\"'</b>".to_owned()];
        let page = plain_page("<i>", &told, None);
        assert!(!page.contains("<b>") && !page.contains("<i>"), "{page}");
    }
}
