//! The data network, and cables that come with devices.

use super::super::document::{Network, SuppliedCable, TakeOff};
use super::super::text_table::{Column, Side, paragraph, table};
use super::{length, plain, words};

/// What stands beside a length that nobody measured.
fn mark(source: &str) -> &'static str {
    if source == "estimated" { " *" } else { "" }
}

/// Backbone, drops and supply, where there is a network.
pub(super) fn network(take_off: &TakeOff) -> Option<String> {
    let network = take_off.network.as_ref()?;
    let mut out = paragraph("", &limits(network));
    let mut rows = Vec::new();
    for span in &network.spans {
        let route: Vec<String> = span.route.iter().map(|station| words(station)).collect();
        let pieces: Vec<String> = span.pieces.iter().map(plain).collect();
        let label = format!("{}{}", span.label, mark(&span.length_source));
        rows.push([label, route.join(" - "), length(&span.needed_length), pieces.join(" + "), String::new()]);
    }
    for device in &network.devices {
        let what = format!("{} from the tee at {}", words(&device.equipment), words(&device.tee_station));
        let load = format!("{} LEN", device.load_equivalency);
        rows.push(match &device.drop {
            Some(drop) => {
                let own = if drop.supplied { ", its own" } else { "" };
                let planned = format!("{}{own}", plain(&drop.planned_length));
                [
                    format!("{}{}", drop.label, mark(&drop.length_source)),
                    what,
                    length(&drop.needed_length),
                    planned,
                    load,
                ]
            }
            None => [String::new(), what, String::new(), "on its tee".to_owned(), load],
        });
    }
    for link in &network.display_links {
        let what = format!("{} to {}, plug {}", words(&link.from), words(&link.to), link.plug);
        rows.push([link.label.clone(), what, length(&link.needed_length), String::new(), String::new()]);
    }
    let columns = [
        Column("Cable", 6, Side::Left),
        Column("What", 60, Side::Left),
        Column("Needed", 10, Side::Right),
        Column("Planned", 20, Side::Left),
        Column("Load", 6, Side::Right),
    ];
    out.push_str(&table(&columns, &rows));
    if network.spans.iter().any(|span| span.length_source == "estimated") {
        out.push_str("* estimated: measure before buying\n");
    }
    Some(out)
}

fn limits(network: &Network) -> String {
    let stations: Vec<String> = network.tee_stations.iter().map(|station| words(station)).collect();
    let mut parts = vec![
        format!("Backbone of {} cable by {}", words(&network.cable), stations.join(", ")),
        format!("{} of {} at most", plain(&network.backbone_length), plain(&network.backbone_limit)),
        format!("drops {} of {}", plain(&network.drops_length), plain(&network.drops_limit)),
        format!("{} LEN, {} A of {} A", network.load_equivalency, network.current_a, network.current_limit_a),
        format!("{} tees, {} terminators", network.tees, network.terminators),
    ];
    if let Some(power) = &network.power {
        parts.push(format!("fed from {} at its {}, {}", words(&power.panel), power.feed, words(&power.station)));
        for leg in &power.legs {
            parts.push(format!(
                "to {} {} and {:.2} V lost of {} V, {:.2} V there",
                words(&leg.to),
                plain(&leg.length),
                leg.drop_v,
                power.drop_limit_v,
                leg.end_voltage_v
            ));
        }
    }
    parts.join("; ")
}

/// Whether supplied cables reach, where there are any.
pub(super) fn supplied(take_off: &TakeOff) -> Option<String> {
    let cables = &take_off.supplied_cables;
    (!cables.is_empty()).then(|| cables.iter().map(|cable| paragraph("- ", &led(cable))).collect())
}

fn led(cable: &SuppliedCable) -> String {
    let route: Vec<String> = cable.route.iter().map(|station| words(station)).collect();
    let extension =
        cable.extension.as_ref().map(|missing| format!(", {} or more", length(missing))).unwrap_or_default();
    format!(
        "{}, {} cable of {}, {} long, by {}: needs {}; {}{extension}",
        cable.label,
        words(&cable.cable),
        words(&cable.equipment),
        plain(&cable.length),
        route.join(" - "),
        length(&cable.needed_length),
        cable.advice
    )
}
