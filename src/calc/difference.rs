//! What two documents of quotes promise differently, line by line and in money. Documents are read as they were
//! written, whichever edition of the program wrote them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

/// Parts of a document in which a promise does not lie: when and with what it was calculated, under which number it went
/// out, and what stands over the door.
const NO_PROMISE: [&str; 8] = [
    "catalogue_version",
    "engine_edition",
    "sources_edition",
    "priced_on",
    "valid_until",
    "shop_name",
    "letterhead",
    "issue",
];

/// How a line differs. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LineChange {
    /// Only the later document has it.
    Added,
    /// Only the earlier document has it.
    Removed,
    /// Both have it, and not alike.
    Changed,
}

/// A line in one of the two documents.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LineSide {
    /// Quantity charged.
    #[schema(value_type = String)]
    pub quantity: Decimal,
    /// Unit of the quantity, as printed.
    pub unit: String,
    /// Price of one unit.
    #[schema(value_type = String)]
    pub unit_price: Decimal,
    /// Quantity times unit price, in the currency of its document.
    #[schema(value_type = String)]
    pub net: Decimal,
    /// Tax class.
    pub tax_class: String,
}

/// A line that differs.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct LineDifference {
    /// How it differs.
    pub change: LineChange,
    /// Item, for an item line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sku: Option<String>,
    /// What it is; as the later document says it, where both have it.
    pub description: String,
    /// As the earlier document has it; absent when it was added.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<LineSide>,
    /// As the later document has it; absent when it was removed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<LineSide>,
    /// By how much the net of the line rose; negative when it fell. Absent when the currency is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub net_difference: Option<Decimal>,
}

/// An amount in both documents.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct AmountDifference {
    /// In the earlier document.
    #[schema(value_type = String)]
    pub before: Decimal,
    /// In the later document.
    #[schema(value_type = String)]
    pub after: Decimal,
    /// By how much it rose; negative when it fell. Absent when the currency is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub difference: Option<Decimal>,
}

/// What a set of options comes to in both documents.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct ChoiceDifference {
    /// Its options by identifier.
    pub options: Vec<String>,
    /// Total with tax in the earlier document; absent where it has no such set, and while a gap stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub before: Option<Decimal>,
    /// Total with tax in the later document; absent as above.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub after: Option<Decimal>,
    /// By how much it rose; negative when it fell. Absent when it is not in both, or the currency is another.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub difference: Option<Decimal>,
}

/// What two documents promise differently.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Difference {
    /// Currency of the earlier document, ISO 4217.
    pub currency_before: String,
    /// Currency of the later document, ISO 4217.
    pub currency: String,
    /// Lines that differ: first those of the later document in its order, then those that only the earlier one has.
    pub lines: Vec<LineDifference>,
    /// Freight; absent where neither has any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub freight: Option<AmountDifference>,
    /// Total without tax.
    pub net: AmountDifference,
    /// Total tax.
    pub tax: AmountDifference,
    /// Total with tax; of what is priced so far, while a gap stands.
    pub total: AmountDifference,
    /// Sets of options whose total differs: first those of the later document in its order, then those that only the
    /// earlier one has.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub choices: Vec<ChoiceDifference>,
    /// Whether quantities, conductors or anything else of the take-off differs.
    pub take_off_changed: bool,
    /// Parts of the document that differ, by their names, in order: `lines`, `totals`, `exclusions`, … Expect new values.
    pub parts_changed: Vec<String>,
}

#[derive(Deserialize)]
struct Document {
    lines: Vec<Line>,
    totals: Totals,
    #[serde(default)]
    take_off: Value,
    #[serde(default)]
    choices: Vec<Choice>,
}

#[derive(Deserialize)]
struct Choice {
    options: Vec<String>,
    #[serde(default)]
    total: Option<Decimal>,
}

#[derive(Deserialize)]
struct Line {
    kind: String,
    #[serde(default)]
    sku: Option<String>,
    description: String,
    #[serde(flatten)]
    side: LineSide,
}

#[derive(Deserialize)]
struct Totals {
    currency: String,
    #[serde(default)]
    freight: Decimal,
    net: Decimal,
    tax: Decimal,
}

/// What makes two lines the same one: an item, or the words of any other line; of several alike the first, the second…
type Key = (String, String, usize);

fn keys(lines: &[Line]) -> Vec<Key> {
    let mut met: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    let key = |line: &Line| -> Key {
        let what = line.sku.clone().unwrap_or_else(|| line.description.clone());
        (line.kind.clone(), what, 0)
    };
    let mut keys: Vec<Key> = lines.iter().map(key).collect();
    for (key, line) in keys.iter_mut().zip(lines) {
        let times = met.entry((&line.kind, line.sku.as_deref().unwrap_or(&line.description))).or_default();
        key.2 = *times;
        *times += 1;
    }
    keys
}

/// For how many days a document's prices hold: a promise, though the days themselves move on.
fn valid_days(document: &Value) -> Option<i64> {
    let day = |name: &str| document.get(name)?.as_str()?.parse::<NaiveDate>().ok();
    Some(day("valid_until")?.signed_duration_since(day("priced_on")?).num_days())
}

/// Names of the parts of two documents that promise something different.
fn changed_parts(before: &Value, after: &Value) -> Vec<String> {
    let names = |document: &Value| -> BTreeSet<String> {
        let parts = document.as_object().into_iter().flatten();
        parts.map(|(name, _)| name.clone()).filter(|name| !NO_PROMISE.contains(&name.as_str())).collect()
    };
    let all = names(before).into_iter().chain(names(after)).collect::<BTreeSet<String>>();
    let differ = all.into_iter().filter(|name| before.get(name) != after.get(name));
    differ.chain((valid_days(before) != valid_days(after)).then(|| "valid_until".to_owned())).collect()
}

/// Whether two documents promise the same: all of them but when, with what and under which number they were made.
pub fn same_promise(before: &Value, after: &Value) -> bool {
    changed_parts(before, after).is_empty()
}

/// Sets of options, but for the empty one, whose total differs.
fn choice_differences(before: &[Choice], after: &[Choice], alike: bool) -> Vec<ChoiceDifference> {
    let other = |all: &[Choice], options: &[String]| -> Option<Option<Decimal>> {
        all.iter().find(|choice| choice.options == options).map(|choice| choice.total)
    };
    let later = after.iter().map(|choice| (&choice.options, other(before, &choice.options), Some(choice.total)));
    let earlier = before.iter().filter(|choice| other(after, &choice.options).is_none());
    let all = later.chain(earlier.map(|choice| (&choice.options, Some(choice.total), None)));
    let differ = all.filter(|(options, before, after)| !options.is_empty() && (before != after || !alike));
    let difference = |(options, before, after): (&Vec<String>, Option<Option<Decimal>>, Option<Option<Decimal>>)| {
        let (before, after) = (before.flatten(), after.flatten());
        let rise = before.zip(after).filter(|_| alike).map(|(before, after)| after.saturating_sub(before));
        ChoiceDifference { options: options.clone(), before, after, difference: rise }
    };
    differ.map(difference).collect()
}

/// What two documents promise differently.
///
/// # Errors
/// When one of them is no document of a quote.
pub fn difference(before: &Value, after: &Value) -> Result<Difference, serde_json::Error> {
    let parts_changed = changed_parts(before, after);
    let (before, after) = (Document::deserialize(before)?, Document::deserialize(after)?);
    let alike = before.totals.currency == after.totals.currency;
    let rise = |before: Decimal, after: Decimal| alike.then(|| after.saturating_sub(before));
    let amount = |before: Decimal, after: Decimal| AmountDifference { before, after, difference: rise(before, after) };
    let (old_keys, new_keys) = (keys(&before.lines), keys(&after.lines));
    let mut old: BTreeMap<&Key, &Line> = old_keys.iter().zip(&before.lines).collect();
    let mut lines = Vec::new();
    for (key, line) in new_keys.iter().zip(&after.lines) {
        let earlier = old.remove(key);
        let same = earlier
            .is_some_and(|earlier| alike && earlier.side == line.side && earlier.description == line.description);
        if !same {
            lines.push(LineDifference {
                change: if earlier.is_some() { LineChange::Changed } else { LineChange::Added },
                sku: line.sku.clone(),
                description: line.description.clone(),
                before: earlier.map(|earlier| earlier.side.clone()),
                after: Some(line.side.clone()),
                net_difference: rise(earlier.map_or(Decimal::ZERO, |earlier| earlier.side.net), line.side.net),
            });
        }
    }
    for (_, line) in old_keys.iter().zip(&before.lines).filter(|(key, _)| old.contains_key(key)) {
        lines.push(LineDifference {
            change: LineChange::Removed,
            sku: line.sku.clone(),
            description: line.description.clone(),
            before: Some(line.side.clone()),
            after: None,
            net_difference: rise(line.side.net, Decimal::ZERO),
        });
    }
    let with_tax = |totals: &Totals| totals.net.saturating_add(totals.tax);
    let freight = (before.totals.freight, after.totals.freight);
    let some_freight = freight != (Decimal::ZERO, Decimal::ZERO);
    Ok(Difference {
        lines,
        freight: some_freight.then(|| amount(freight.0, freight.1)),
        choices: choice_differences(&before.choices, &after.choices, alike),
        net: amount(before.totals.net, after.totals.net),
        tax: amount(before.totals.tax, after.totals.tax),
        total: amount(with_tax(&before.totals), with_tax(&after.totals)),
        take_off_changed: before.take_off != after.take_off,
        parts_changed,
        currency_before: before.totals.currency,
        currency: after.totals.currency,
    })
}
