//! What a quote comes to: totals with freight and deposit, and what its options add.

use std::fmt::Write;

use super::super::document::{Choice, Document};
use super::super::text_table::{Column, Side, paragraph, table};
use super::words;

fn amounts(rows: Vec<(String, String)>) -> String {
    let mut out = String::new();
    for (what, amount) in rows {
        let _ = writeln!(out, "{what:<94}{amount:>14}");
    }
    out
}

fn is_something(amount: &str) -> bool {
    amount.bytes().any(|digit| (b'1'..=b'9').contains(&digit))
}

/// Lines, discount, freight, tax and total; then what is paid ahead.
pub(super) fn totals(document: &Document) -> String {
    let totals = &document.totals;
    let mut rows = vec![("Lines".to_owned(), totals.lines_net.clone())];
    if is_something(&totals.discount) {
        rows.push(("Discount".to_owned(), format!("-{}", totals.discount)));
    }
    rows.extend(document.freight.iter().map(|freight| (freight.reason.clone(), freight.amount.clone())));
    rows.push(("Net".to_owned(), totals.net.clone()));
    for tax in &totals.tax_by_class {
        let treatment =
            if tax.treatment == "standard" { String::new() } else { format!(", {}", words(&tax.treatment)) };
        rows.push((
            format!("Tax: {} {} %{treatment}, on {}", tax.name, tax.rate_percent, tax.taxable),
            tax.tax.clone(),
        ));
    }
    rows.push(("Tax in all".to_owned(), totals.tax.clone()));
    if let Some(total) = &totals.total {
        rows.push((format!("TOTAL, {}", totals.currency), total.clone()));
    }
    if let Some(priced) = &totals.priced_subtotal {
        rows.push((
            format!("INCOMPLETE: a gap stands. Priced so far, tax included, {}", totals.currency),
            priced.clone(),
        ));
    }
    if let Some(deposit) = &document.deposit {
        if is_something(&deposit.special_orders) {
            rows.push(("Of that ahead: special orders in full".to_owned(), deposit.special_orders.clone()));
        }
        rows.push((format!("Of that ahead: {} % of the rest", deposit.share_percent), deposit.share.clone()));
        rows.push((format!("DEPOSIT, {}", totals.currency), deposit.total.clone()));
    }
    let mut out = amounts(rows);
    if let Some(exemption) = &document.tax_exemption {
        let text = format!("Exempt from tax: {}, certificate {}", exemption.reason, exemption.certificate);
        out.push_str(&paragraph("", &text));
    }
    out
}

/// What the customer may add, and what the quote comes to with every set of it.
pub(super) fn options(document: &Document) -> String {
    let mut out = String::new();
    for option in &document.options {
        let mut text = format!("{}: {}", option.id, option.title);
        if let Some(description) = &option.description {
            let _ = write!(text, ". {}", description.trim_end_matches('.'));
        }
        match (&option.net_difference, &option.total_difference) {
            (Some(net), Some(total)) => {
                let _ = write!(text, ". Alone it adds {net} net, {total} with tax");
            }
            _ => text.push_str(". What it adds is not known while a gap stands"),
        }
        if !option.excludes.is_empty() {
            let _ = write!(text, "; not together with {}", option.excludes.join(", "));
        }
        out.push_str(&paragraph("- ", &text));
    }
    if document.choices.is_empty() {
        return out;
    }
    let row = |choice: &Choice| {
        let with = if choice.options.is_empty() { "none".to_owned() } else { choice.options.join(", ") };
        let total = choice.total.clone().unwrap_or_else(|| "incomplete".to_owned());
        [with, choice.net.clone(), choice.tax.clone(), total, choice.deposit.clone().unwrap_or_default()]
    };
    let rows: Vec<_> = document.choices.iter().map(row).collect();
    let columns = [
        Column("With", 50, Side::Left),
        Column("Net", 12, Side::Right),
        Column("Tax", 12, Side::Right),
        Column("Total", 12, Side::Right),
        Column("Deposit", 12, Side::Right),
    ];
    out.push_str(&table(&columns, &rows));
    out
}
