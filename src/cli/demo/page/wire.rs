//! Wire in all, and the cut list.

use super::super::document::{Cable, Conductor, TakeOff};
use super::super::text_table::{Column, Side, paragraph, table};
use super::{length, plain, upwards, words};

/// Wire by gauge and colour, cable by make-up.
pub(super) fn wire(take_off: &TakeOff) -> String {
    let unit = take_off.wire.first().map_or("", |w| w.cut_length.unit.as_str());
    let rows: Vec<_> = take_off
        .wire
        .iter()
        .map(|w| {
            [
                if w.conductors == 1 { w.gauge.clone() } else { format!("{} x {}", w.conductors, w.gauge) },
                w.colour.clone(),
                w.pieces.to_string(),
                format!("{:.2}", w.installed_length.value),
                format!("{:.2}", upwards(w.cut_length.value)),
                format!("{:.1}", w.added_percent),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let columns = [
        Column("Gauge", 12, Side::Left),
        Column("Colour", 20, Side::Left),
        Column("Pieces", 6, Side::Right),
        Column("Installed", 10, Side::Right),
        Column("To cut", 10, Side::Right),
        Column("Added %", 8, Side::Right),
    ];
    format!("{}lengths in {unit}; what is added is waste and service loops\n", table(&columns, &rows))
}

/// Every conductor to cut, and what lies under one jacket.
pub(super) fn cut_list(take_off: &TakeOff) -> String {
    let columns = [
        Column("Label", 7, Side::Left),
        Column("Wire", 20, Side::Left),
        Column("Cut", 9, Side::Right),
        Column("From", 28, Side::Left),
        Column("To", 28, Side::Left),
        Column("Size by", 13, Side::Left),
    ];
    let rows: Vec<_> = take_off
        .cut_list
        .iter()
        .map(|c| {
            let estimated = if c.length_source == "estimated" { " *" } else { "" };
            [
                format!("{}{estimated}", c.label),
                format!("{} {}{}", c.gauge, c.colour, under_label(c)),
                length(&c.cut_length),
                end(&c.from.station, &c.from.lands_on, c.from.stud.as_deref()),
                end(&c.to.station, &c.to.lands_on, c.to.stud.as_deref()),
                words(&c.limited_by),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let mut out = table(&columns, &rows);
    for cable in &take_off.cables {
        out.push_str(&paragraph("", &in_jacket(cable)));
    }
    if !take_off.cables.is_empty() {
        out.push_str("in brackets: the colour that the labels of a conductor in a cable show\n");
    }
    if take_off.cut_list.iter().any(|c| c.length_source == "estimated") {
        out.push_str("* estimated: measure before cutting\n");
    }
    out
}

/// The colour of its function beside that of a conductor in a cable, which the labels at its ends show.
fn under_label(conductor: &Conductor) -> String {
    conductor.label_colour.as_ref().map(|colour| format!(" ({colour})")).unwrap_or_default()
}

/// What is cut once for several conductors of the list.
fn in_jacket(cable: &Cable) -> String {
    format!(
        "{} is one cable, {} x {}, {}: {} under one jacket about {} thick, cut {}, broken out {} at both ends",
        cable.label,
        cable.conductors.len(),
        cable.gauge,
        cable.colours.join(" + "),
        cable.conductors.join(", "),
        plain(&cable.outside_diameter),
        length(&cable.cut_length),
        plain(&cable.break_out)
    )
}

fn end(station: &str, lands_on: &str, stud: Option<&str>) -> String {
    let stud = stud.map(|stud| format!(" {stud}")).unwrap_or_default();
    format!("{}: {}{stud}", words(station), words(lands_on))
}
