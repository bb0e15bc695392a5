//! A quote document as a page of plain text, for a terminal: no line is longer than [`PAGE_WIDTH`].

mod banks;
mod fit_out;
mod money;
mod work;
mod network;
mod wire;

use std::collections::HashMap;
use std::fmt::Write;

use super::document::{AlwaysOn, Circuit, Conductor, Document, Feeder, Gap, Length, Protection, TakeOff};
use super::need;
use super::text_table::{Column, PAGE_WIDTH, Side, paragraph, table};

/// The page, or why the JSON is no quote document.
pub fn page(json: &[u8]) -> Result<String, serde_json::Error> {
    let document: Document = serde_json::from_slice(json)?;
    let take_off = &document.take_off;
    let mut out = heading(&document);
    for (title, body) in [
        ("CIRCUITS AND FEEDERS", circuits(take_off)),
        ("BANKS AND CHARGING", banks::banks(take_off)),
        ("WIRE BY COLOUR AND GAUGE", wire::wire(take_off)),
        ("CUT LIST", wire::cut_list(take_off)),
        ("PLUMBING", fit_out::plumbing(take_off)),
        ("ALONG THE WAY", fit_out::along(take_off)),
        ("PARTS", terminals_and_fuses(take_off)),
        ("LABOUR", work::labour(take_off)),
        ("WORK PLAN", work::plan(take_off)),
        ("PRICED LINES", lines(&document)),
        ("TOTALS", money::totals(&document)),
        ("OPTIONS", money::options(&document)),
        ("GAPS", gaps(&document)),
        (
            "LEFT OUT",
            notes(document.exclusions.iter().map(|left| format!("{}: {}", left.need, sentence(&left.reason)))),
        ),
        (
            "OVERRULES",
            notes(
                take_off
                    .overrules
                    .iter()
                    .map(|o| format!("{}: {} in place of {}. Reason: {}", o.about, o.chosen, o.computed, o.reason)),
            ),
        ),
        ("WARNINGS", notes(take_off.warnings.iter().map(|w| format!("{}: {}", w.about, w.message)))),
        (
            "QUESTIONS",
            notes(take_off.questions.iter().map(|q| match &q.about {
                Some(about) => format!("{about}: {}", q.text),
                None => q.text.clone(),
            })),
        ),
        ("CAUTIONS", notes(take_off.cautions.iter().map(|c| format!("{} [{}]", c.text, c.source)))),
        ("ASSUMPTIONS", notes(take_off.assumptions.iter().cloned())),
    ] {
        let body = if body.is_empty() { "none\n".to_owned() } else { body };
        let _ = write!(out, "\n{title}\n{body}");
        if title == "BANKS AND CHARGING" {
            // Not every boat has these.
            for (title, body) in [
                ("DATA NETWORK", network::network(take_off)),
                ("CABLES THAT COME WITH DEVICES", network::supplied(take_off)),
            ] {
                let _ = body.map(|body| write!(out, "\n{title}\n{body}"));
            }
        }
    }
    Ok(out)
}

fn heading(document: &Document) -> String {
    let boat = &document.take_off.boat;
    let mut out = format!("{}\n{}\n", document.shop_name, "=".repeat(PAGE_WIDTH));
    let mut put = |text: String| out.push_str(&paragraph("", &text));
    put(match &document.customer {
        Some(customer) => format!("Quote for {}, customer: {customer}", boat.name),
        None => format!("Quote for {}", boat.name),
    });
    put(format!(
        "{}, {}, negative {}; {:.0} % of the wire lies on measured runs",
        job(&boat.job_type),
        words(&boat.propulsion),
        words(&boat.negative_colour),
        boat.measured_percent
    ));
    if let Some(hull) = &boat.hull {
        put(format!(
            "Runs that nobody measured are those of a {}, {} by {}: estimated, measure before cutting",
            words(&hull.hull_form),
            plain(&hull.hull_length),
            plain(&hull.beam)
        ));
    }
    put(format!(
        "Prices of {}, valid until {}; longest lead time {} days",
        document.priced_on, document.valid_until, document.lead_time_days
    ));
    if let Some(level) = &document.price_level {
        put(format!("Price level: {}", level.name));
    }
    if !document.chosen.is_empty() {
        let titles: Vec<&str> = document.chosen.iter().map(|option| option.title.as_str()).collect();
        put(format!("With the options: {}", titles.join("; ")));
    }
    out
}

/// One row for each positive of a circuit, since each has its own fuse; then the feeders.
fn circuits(take_off: &TakeOff) -> String {
    let columns = [
        Column("No", 4, Side::Left),
        Column("What", 29, Side::Left),
        Column("Station", 13, Side::Left),
        Column("Amps", 5, Side::Right),
        Column("Wire", 23, Side::Left),
        Column("Drop %", 6, Side::Right),
        Column("Volts", 5, Side::Right),
        Column("Fuse", 18, Side::Left),
    ];
    let by_label: HashMap<&str, &Conductor> = take_off.cut_list.iter().map(|c| (c.label.as_str(), c)).collect();
    let mut rows = Vec::new();
    for circuit in &take_off.circuits {
        circuit_rows(&mut rows, circuit, &by_label);
    }
    for feeder in &take_off.feeders {
        rows.push(feeder_row(feeder, &by_label));
    }
    rows.extend(take_off.always_on.iter().map(always_on_row));
    let mut out = table(&columns, &rows);
    for circuit in take_off.circuits.iter().filter(|c| !c.unconnected_leads.is_empty()) {
        let text = format!("{}: cap and insulate {}", circuit.number, circuit.unconnected_leads.join(", "));
        out.push_str(&paragraph("  ", &text));
    }
    out
}

fn circuit_rows(rows: &mut Vec<[String; 8]>, circuit: &Circuit, by_label: &HashMap<&str, &Conductor>) {
    let conductors: Vec<&Conductor> =
        circuit.conductors.iter().filter_map(|label| by_label.get(label.as_str()).copied()).collect();
    let (returns, positives): (Vec<&Conductor>, Vec<&Conductor>) =
        conductors.into_iter().partition(|conductor| conductor.role == "return");
    for (at, positive) in positives.iter().enumerate() {
        let first = at == 0;
        let only_first = |text: String| if first { text } else { String::new() };
        let with_return = if first { returns.first() } else { None };
        let fuse = circuit.protection.iter().find(|p| p.protects == positive.label).map(fuse).unwrap_or_default();
        rows.push([
            only_first(circuit.number.clone()),
            only_first(circuit.description.clone()),
            only_first(words(&circuit.station)),
            only_first(format!("{:.1}", circuit.design_current_a)),
            wire_pair(positive, with_return.copied()),
            only_first(format!("{:.2}", circuit.drop_percent)),
            only_first(format!("{:.2}", circuit.loaded_voltage_v)),
            fuse,
        ]);
    }
    if positives.is_empty() {
        // A circuit that no conductor carries: its gap says why.
        let mut row: [String; 8] = Default::default();
        row[0] = circuit.number.clone();
        row[1] = circuit.description.clone();
        row[2] = words(&circuit.station);
        row[3] = format!("{:.1}", circuit.design_current_a);
        row[4] = "see GAPS".to_owned();
        rows.push(row);
    }
}

fn feeder_row(feeder: &Feeder, by_label: &HashMap<&str, &Conductor>) -> [String; 8] {
    let conductors: Vec<&&Conductor> = feeder.conductors.iter().filter_map(|l| by_label.get(l.as_str())).collect();
    let positive = conductors.iter().find(|c| c.role != "feeder_return");
    let back = conductors.iter().find(|c| c.role == "feeder_return");
    let from_bank = feeder.drop_from_bank_percent.unwrap_or(feeder.drop_percent);
    let volts = feeder.nominal_voltage_v * (1.0 - from_bank / 100.0);
    let source = feeder.fed_from.as_ref().unwrap_or(&feeder.bank);
    [
        feeder.number.clone(),
        format!("Feeder from {} to {}", words(source), words(&feeder.panel)),
        String::new(),
        format!("{:.1}", feeder.design_current_a),
        positive.map_or_else(|| "see GAPS".to_owned(), |p| wire_pair(p, back.map(|b| **b))),
        format!("{:.2}", feeder.drop_percent),
        format!("{volts:.2}"),
        feeder.protection.as_ref().map(fuse).unwrap_or_default(),
    ]
}

fn always_on_row(side: &AlwaysOn) -> [String; 8] {
    let mut row: [String; 8] = Default::default();
    row[1] = format!("Always-on side of {}: {}", words(&side.bank), side.circuits.join(", "));
    row[3] = format!("{:.1}", side.current_a);
    row[7] = side.protection.as_ref().map(fuse).unwrap_or_default();
    row
}

/// `14 AWG brown, black`: the return's gauge is written only where it differs.
fn wire_pair(positive: &Conductor, back: Option<&Conductor>) -> String {
    match back {
        None => format!("{} {}", positive.gauge, positive.colour),
        Some(back) if back.gauge == positive.gauge => {
            format!("{} {}, {}", positive.gauge, positive.colour, back.colour)
        }
        Some(back) => format!("{} {}, {} {}", positive.gauge, positive.colour, back.gauge, back.colour),
    }
}

fn fuse(protection: &Protection) -> String {
    let form = protection.family.as_deref().map_or_else(|| "breaker".to_owned(), words);
    let place =
        if protection.always_on { format!(", always on, {}", words(&protection.station)) } else { String::new() };
    format!("{} A {form}{place}", protection.rating_a)
}

fn terminals_and_fuses(take_off: &TakeOff) -> String {
    let rows: Vec<_> = take_off
        .requirements
        .iter()
        .filter_map(|r| need::words(&r.need, &r.key).map(|what| [what, r.quantity.clone(), unit_word(&r.unit)]))
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let columns = [Column("What", 90, Side::Left), Column("Quantity", 9, Side::Right), Column("Unit", 8, Side::Left)];
    table(&columns, &rows)
}

fn unit_word(unit: &str) -> String {
    match unit {
        "foot" => "ft".to_owned(),
        "metre" => "m".to_owned(),
        other => words(other),
    }
}

fn lines(document: &Document) -> String {
    let quantities = points_aligned(document.lines.iter().map(|l| l.quantity.as_str()));
    let prices = points_aligned(document.lines.iter().map(|l| l.unit_price.as_str()));
    let rows: Vec<_> = document
        .lines
        .iter()
        .zip(quantities.into_iter().zip(prices))
        .map(|(l, (quantity, price))| {
            [l.number.to_string(), l.description.clone(), quantity, l.unit.clone(), price, l.net.clone()]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let columns = [
        Column("No", 3, Side::Right),
        Column("What", 60, Side::Left),
        Column("Quantity", 10, Side::Right),
        Column("Unit", 5, Side::Left),
        Column("Unit price", 13, Side::Right),
        Column("Net", 12, Side::Right),
    ];
    table(&columns, &rows)
}

/// Gaps of the quote, then those that stand only with some options, each with the first set that has it.
fn gaps(document: &Document) -> String {
    let told = |gap: &Gap| format!("{}: {} {}", gap.need, sentence(&gap.reason), sentence(&gap.mend));
    let mut texts: Vec<String> = document.gaps.iter().map(told).collect();
    let mut met: Vec<&str> = Vec::new();
    for choice in &document.choices {
        for gap in &choice.gaps {
            if met.contains(&gap.need.as_str()) {
                continue;
            }
            met.push(&gap.need);
            texts.push(format!("With {}: {}", choice.options.join(", "), told(gap)));
        }
    }
    notes(texts.into_iter())
}

fn notes(texts: impl Iterator<Item = String>) -> String {
    texts.map(|text| paragraph("- ", &text)).collect()
}

fn sentence(text: &str) -> String {
    if text.ends_with(['.', '?', '!']) { text.to_owned() } else { format!("{text}.") }
}

fn length(length: &Length) -> String {
    format!("{:.2} {}", upwards(length.value), length.unit)
}

/// A length as it was stated.
fn plain(length: &Length) -> String {
    format!("{} {}", length.value, length.unit)
}

/// To the next hundredth: what is to be cut is never printed shorter than it is.
fn upwards(value: f64) -> f64 {
    (value * 100.0 - 1e-6).ceil() / 100.0
}

/// The kind of job, to begin a sentence with.
fn job(job_type: &str) -> String {
    match job_type {
        "bare_hull" => "Bare hull".to_owned(),
        "first_rig" => "First rig".to_owned(),
        "re_rig" => "Re-rig".to_owned(),
        other => words(other),
    }
}

/// An identifier as words: `aft_bilge` is read "aft bilge".
fn words(identifier: &str) -> String {
    identifier.replace('_', " ")
}

/// Decimal strings filled with spaces so that, on the right side of a column, their points stand below each other.
fn points_aligned<'a>(numbers: impl Iterator<Item = &'a str> + Clone) -> Vec<String> {
    let after_point = |number: &str| number.split_once('.').map_or(0, |(_, places)| places.len() + 1);
    let widest = numbers.clone().map(after_point).max().unwrap_or(0);
    numbers.map(|number| format!("{number}{}", " ".repeat(widest - after_point(number)))).collect()
}
