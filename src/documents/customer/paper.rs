//! An issued quote on paper: what the customer's page says, in the order in which it is read at a table.

use calc::customer::{CustomerDocument, Offer, System};

use super::{amount, date, deposit, rows, thing};
use crate::sheet::{Block, Column, Row, RowKind, Sheet, Table, Text};

/// The quote as a sheet. It holds nothing but what the customer's document does.
pub fn sheet(quote: &CustomerDocument) -> Sheet {
    let number = match quote.revision {
        0 | 1 => format!("Quote {}", quote.number),
        revision => format!("Quote {}, revision {revision}", quote.number),
    };
    let mut blocks = vec![
        Block::Letterhead { name: quote.shop_name.clone(), lines: quote.letterhead.clone() },
        Block::Title(format!("Quote for {}", quote.boat), Some(format!("{}.", quote.about))),
        facts(quote, &number),
        sums(quote),
    ];
    if !quote.chosen.is_empty() {
        let many = if quote.chosen.len() > 1 { "options" } else { "option" };
        blocks.push(Block::Paragraph(format!("With the {many}: {}.", quote.chosen.join(", ")).into()));
    }
    blocks.push(Block::Heading("What we do".to_owned()));
    blocks.push(Block::Table(scope(&quote.scope)));
    if quote.lead_time_days > 0 {
        let days = if quote.lead_time_days == 1 { "day" } else { "days" };
        let text =
            format!("Parts that are ordered for this job may take up to {} {days} to arrive.", quote.lead_time_days);
        blocks.push(Block::Paragraph(Text::default().quiet(text)));
    }
    let plain = |texts: &[String]| texts.iter().map(Text::from).collect::<Vec<_>>();
    points(&mut blocks, "Included in the price", plain(&quote.included));
    let left_out = |of: &calc::customer::Exclusion| Text::from(&of.what).quiet(of.reason.clone().unwrap_or_default());
    points(&mut blocks, "Not included", quote.excluded.iter().map(left_out).collect());
    points(&mut blocks, "What we assume", plain(&quote.assumptions));
    points(&mut blocks, "What we would like to know", plain(&quote.questions));
    blocks.push(Block::Heading("The price".to_owned()));
    blocks.push(Block::Table(price(quote)));
    if let Some(exemption) = &quote.price.tax_exemption {
        let text = format!("No tax is charged. {}; certificate {}.", exemption.reason, exemption.certificate);
        blocks.push(Block::Paragraph(Text::default().quiet(text)));
    }
    blocks.push(Block::Paragraph(quote.change_order_rule.clone().into()));
    points(&mut blocks, "You can add", quote.options.iter().map(|of| option(of, &quote.price.currency)).collect());
    if !quote.cautions.is_empty() {
        blocks.push(Block::Heading("Please note".to_owned()));
        blocks.push(Block::Notice(plain(&quote.cautions)));
    }
    points(&mut blocks, "Our conditions", plain(&quote.conditions));
    blocks.push(Block::Heading("Agreed".to_owned()));
    blocks.push(Block::Signatures(vec!["Customer, name and date".to_owned(), quote.shop_name.clone()]));
    Sheet {
        title: format!("{number}, {}", quote.boat),
        head: (quote.shop_name.clone(), format!("{number}, {}", quote.boat)),
        foot: format!("{number}, {}, issued {}", quote.shop_name, date(quote.issued_on)),
        blocks,
    }
}

/// A heading with points below it, where there are any.
fn points(blocks: &mut Vec<Block>, heading: &str, points: Vec<Text>) {
    if !points.is_empty() {
        blocks.push(Block::Heading(heading.to_owned()));
        blocks.push(Block::List(points));
    }
}

fn facts(quote: &CustomerDocument, number: &str) -> Block {
    let number = number.strip_prefix("Quote ").unwrap_or(number);
    let mut facts = vec![("Quote".to_owned(), number.to_owned())];
    facts.extend(quote.customer.iter().map(|customer| ("For".to_owned(), customer.clone())));
    facts.push(("Issued".to_owned(), date(quote.issued_on)));
    facts.push(("Valid until".to_owned(), date(quote.valid_until)));
    Block::Facts(facts.into_iter().map(|(name, text)| (name, text.into())).collect())
}

fn sums(quote: &CustomerDocument) -> Block {
    let money = |of| format!("{}\u{a0}{}", quote.price.currency, amount(of));
    let total = if quote.price.tax_exemption.is_some() { "Total" } else { "Total, tax included" };
    let mut sums = vec![(total.to_owned(), money(quote.price.total).into())];
    sums.extend(
        quote
            .deposit
            .as_ref()
            .map(|of| ("Deposit to begin".to_owned(), Text::from(money(of.total)).quiet(deposit(of).told))),
    );
    Block::Sums(sums)
}

fn scope(systems: &[System]) -> Table {
    let mut rows = Vec::new();
    for system in systems {
        rows.push(Row::group(&system.name));
        for entry in &system.entries {
            let of = thing(entry);
            rows.push(Row::plain([Text::from(of.many), Text::from(of.what).quiet(of.note)]));
        }
    }
    Table { caption: String::new(), columns: vec![Column::figures(""), Column::wide("", 1.0)], rows }
}

fn price(quote: &CustomerDocument) -> Table {
    let mut all: Vec<Row> = Vec::new();
    for row in rows(&quote.price) {
        let kind = if row.sub { RowKind::Sum } else { RowKind::Plain };
        all.push(Row { cells: vec![row.what.into(), row.amount.into()], kind });
    }
    let total = vec![Text::strong("Total"), Text::strong(amount(quote.price.total))];
    all.push(Row { cells: total, kind: RowKind::Total });
    let caption = format!("All amounts in {}", quote.price.currency);
    Table { caption, columns: vec![Column::wide("", 1.0), Column::figures("")], rows: all }
}

fn option(offer: &Offer, currency: &str) -> Text {
    let told = super::offer(offer, currency, &super::Form::default());
    let description = if told.description.is_empty() { String::new() } else { format!("{};", told.description) };
    Text::strong(told.title).quiet(description).quiet(told.note)
}
