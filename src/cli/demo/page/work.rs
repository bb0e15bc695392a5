//! Labour by operation and by system, and the work plan by day: for the shop.

use std::fmt::Write;

use super::super::document::{PlannedDay, TakeOff};
use super::super::text_table::{Column, Side, paragraph, table};
use super::words;

/// Hours by operation and by system, and what four boats in five stay within.
pub(super) fn labour(take_off: &TakeOff) -> String {
    let labour = &take_off.labour;
    let hours = |h: f64| format!("{h:.2}");
    let mut rows: Vec<_> = labour
        .operations
        .iter()
        .map(|o| [o.description.clone(), o.count.clone(), hours(o.low_h), hours(o.likely_h), hours(o.high_h)])
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    rows.push(["All".to_owned(), String::new(), hours(labour.low_h), hours(labour.likely_h), hours(labour.high_h)]);
    let columns = [
        Column("Operation", 68, Side::Left),
        Column("Count", 9, Side::Right),
        Column("Low h", 8, Side::Right),
        Column("Likely h", 8, Side::Right),
        Column("High h", 8, Side::Right),
    ];
    let mut out = table(&columns, &rows);
    let _ = writeln!(out, "four boats in five stay within {:.1} h", labour.four_in_five_h);
    let systems: Vec<_> = labour
        .by_system
        .iter()
        .map(|s| [sentence_case(&s.system), String::new(), hours(s.low_h), hours(s.likely_h), hours(s.high_h)])
        .collect();
    if !systems.is_empty() {
        let columns = columns.map(|Column(title, width, side)| match title {
            "Operation" => Column("The same hours by system", width, side),
            "Count" => Column("", width, side),
            _ => Column(title, width, side),
        });
        out.push('\n');
        out.push_str(&table(&columns, &systems));
    }
    out
}

/// The days, a paragraph each, their work by phase.
pub(super) fn plan(take_off: &TakeOff) -> String {
    let plan = &take_off.work_plan;
    if plan.days.is_empty() {
        return String::new();
    }
    let mut out: String = plan.days.iter().map(|day| paragraph("- ", &day_in_words(day))).collect();
    out.push_str(&paragraph("", &format!("{} h a day, likely hours. {}", plan.hours_a_day, plan.kept_apart)));
    out
}

fn day_in_words(day: &PlannedDay) -> String {
    let mut text = format!("Day {}, {:.1} h:", day.day, day.hours);
    let mut phase = "";
    for work in &day.work {
        if work.phase == phase {
            text.push(',');
        } else {
            let after = if phase.is_empty() { "" } else { ";" };
            let _ = write!(text, "{after} {}:", words(&work.phase));
            phase = &work.phase;
        }
        let _ = write!(text, " {} {:.2}", words(&work.operation), work.hours);
    }
    text
}

/// An identifier as words with a capital in front.
fn sentence_case(identifier: &str) -> String {
    let text = words(identifier);
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
