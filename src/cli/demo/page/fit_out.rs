//! The plumbing, and what is met along the way of cable, on the page.

use super::super::document::{Count, HoseEnd, Plumbing, TakeOff, Tube};
use super::super::text_table::{Column, Side, paragraph, table};
use super::{length, plain, words};

/// Pumps with their intakes, the hoses to cut, and the holes to drill.
pub(super) fn plumbing(take_off: &TakeOff) -> String {
    let Some(plumbing) = &take_off.plumbing else { return String::new() };
    let mut out = String::new();
    for pump in &plumbing.pumps {
        let from = pump.intake.as_ref().map_or("from the bilge".to_owned(), |intake| format!("from intake {intake}"));
        let at = pump.discharge_station.as_ref().map(|at| format!(", {}", words(at))).unwrap_or_default();
        out.push_str(&paragraph("", &format!("{}: {from}, {}{at}", pump.pump, words(&pump.discharge))));
    }
    for intake in &plumbing.intakes {
        let made = if intake.aboard { "aboard" } else { "new" };
        let strainer = if intake.strainer { ", strainer" } else { "" };
        let manifold = intake.manifold_ways.map(|ways| format!(", manifold of {ways} ways")).unwrap_or_default();
        let text = format!(
            "Intake {} at {}: through-hull and seacock {}, {made}{strainer}{manifold}; for {}",
            intake.intake,
            words(&intake.station),
            plain(&intake.pipe),
            intake.pumps.join(", ")
        );
        out.push_str(&paragraph("", &text));
    }
    out.push_str(&hoses(plumbing));
    let holes = &plumbing.holes;
    let text = format!(
        "Holes: {} below the waterline and {} above it, {} with the core sealed ({} core sealer); {} of bedding sealant",
        holes.below_waterline,
        holes.above_waterline,
        holes.core_sealed,
        counted(holes.core_kits, "kit", "kits"),
        counted(holes.cartridges, "cartridge", "cartridges")
    );
    out.push_str(&paragraph("", &text));
    out
}

fn hoses(plumbing: &Plumbing) -> String {
    let columns = [
        Column("Label", 6, Side::Left),
        Column("Hose", 22, Side::Left),
        Column("Cut", 9, Side::Right),
        Column("From", 27, Side::Left),
        Column("To", 27, Side::Left),
        Column("Clamps", 6, Side::Right),
    ];
    let rows: Vec<_> = plumbing
        .hoses
        .iter()
        .map(|hose| {
            let estimated = if hose.length_source == "estimated" { " *" } else { "" };
            let made = if hose.reinforced { ", reinforced" } else { "" };
            [
                format!("{}{estimated}", hose.label),
                format!("{}{made}", plain(&hose.inside_diameter)),
                length(&hose.cut_length),
                end(&hose.from),
                end(&hose.to),
                hose.clamps.to_string(),
            ]
        })
        .collect();
    let mut out = table(&columns, &rows);
    if plumbing.hoses.iter().any(|hose| hose.length_source == "estimated") {
        out.push_str("* estimated: measure before cutting\n");
    }
    out
}

fn end(end: &HoseEnd) -> String {
    let station = end.station.as_deref().map_or("not known".to_owned(), words);
    format!("{station}: {}", words(&end.on))
}

fn counted(count: u32, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Each run: how thick its bundle is, what holds it, and how full its tube is.
pub(super) fn along(take_off: &TakeOff) -> String {
    let Some(along) = &take_off.along else { return String::new() };
    let columns = [
        Column("Run", 34, Side::Left),
        Column("Cables", 6, Side::Right),
        Column("Bundle", 8, Side::Right),
        Column("Clamps", 6, Side::Right),
        Column("Ties", 5, Side::Right),
        Column("Grommets", 8, Side::Right),
        Column("Tube", 34, Side::Left),
    ];
    let shown = |count: &Option<Count>| count.as_ref().map(|count| count.count.to_string()).unwrap_or_default();
    let rows: Vec<_> = along
        .runs
        .iter()
        .map(|run| {
            [
                format!("{} to {}", words(&run.from), words(&run.to)),
                run.cables.to_string(),
                plain(&run.bundle),
                shown(&run.supports),
                shown(&run.ties),
                shown(&run.grommets),
                run.tube.as_ref().map(tube).unwrap_or_default(),
            ]
        })
        .collect();
    let mut out = table(&columns, &rows);
    let charged = if along.consumables == "counted" { "charged by the piece" } else { "within the shop supplies" };
    let text = format!(
        "{}, {}, {} of terminal protectant, {} of solvent, and a messenger line left in each tube: {charged}",
        counted(along.drip_loops.count, "drip loop", "drip loops"),
        counted(along.labels.count, "label", "labels"),
        counted(along.terminal_protectant.count, "can", "cans"),
        counted(along.solvent.count, "can", "cans"),
    );
    out.push_str(&paragraph("", &text));
    out
}

fn tube(tube: &Tube) -> String {
    let already = if tube.already > 0 { format!(", {} in it before", tube.already) } else { String::new() };
    match (&tube.inside_diameter, tube.fill_percent, tube.room) {
        (Some(inside), Some(fill), Some(room)) => {
            format!("{}: {fill:.0} of {:.0} % full, room for {room} more{already}", plain(inside), tube.most_percent)
        }
        _ => format!("not known: {} or more would do{already}", plain(&tube.narrowest)),
    }
}
