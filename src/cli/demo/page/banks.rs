//! Banks and charging, a paragraph for each bank.

use super::super::document::{Bank, TakeOff};
use super::super::text_table::paragraph;
use super::{fuse, words};

/// What each bank is, what protects and switches it, what charges it and what a day takes of it.
pub(super) fn banks(take_off: &TakeOff) -> String {
    let mut out: String = take_off.banks.iter().map(|bank| paragraph("- ", &sentence(bank))).collect();
    for stud in take_off.banks.iter().flat_map(|bank| &bank.studs).filter(|stud| !stud.terminals.is_empty()) {
        let place = if stud.bus { format!("{}, on a bus", words(&stud.place)) } else { words(&stud.place) };
        out.push_str(&paragraph("  ", &format!("{place}, largest first: {}", stud.terminals.join(", "))));
    }
    if let Some(alternator) = &take_off.alternator {
        let banks: Vec<String> = alternator.banks.iter().map(|bank| words(bank)).collect();
        let text = format!(
            "Alternator {} A, {:.0} A at idle, for {}",
            alternator.rating_a,
            alternator.idle_a,
            banks.join(" and ")
        );
        out.push_str(&paragraph("- ", &text));
    }
    out
}

/// Charger and amperes of outputs that are alike, what they aim at in words, and how many there are.
type Alike<'a> = (Option<(&'a str, f64)>, String, u32);

fn sentence(bank: &Bank) -> String {
    let (name, volts) = (words(&bank.bank), bank.nominal_voltage_v);
    let mut what = format!("{name}: {volts} V, {:.1} V while charging", bank.charging_voltage_v);
    // A bank that only starts the engine has no loads to analyse.
    if bank.design_current_a > 0.0 {
        what.push_str(&format!(", {:.1} A by load analysis", bank.design_current_a));
    }
    let mut parts = vec![what];
    if let Some(batteries) = &bank.batteries {
        parts.push(format!(
            "{} in series by {} in parallel, {:.0} Ah, {} jumpers",
            batteries.series, batteries.parallel, batteries.capacity_ah, batteries.jumpers
        ));
    }
    if let Some(main) = &bank.main {
        parts.push(format!("main {} at {}", fuse(main), words(&main.station)));
    }
    if let Some(main) = &bank.bus_main {
        parts.push(format!("before the bus at its post a {}", fuse(main)));
    }
    if let Some(switch) = &bank.switch {
        let aboard = if switch.aboard { ", aboard" } else { "" };
        parts.push(format!("switch of {} A or more at {}{aboard}", switch.rating_a_min, words(&switch.station)));
    }
    // Of a charger's outputs those that are alike are told once.
    let mut charging: Vec<Alike> = Vec::new();
    for output in &bank.charging {
        let aim = output.target_a.map_or(String::new(), |aim| format!(", {aim:.0} A to aim at"));
        let of = output.charger.as_deref().zip(output.output_a);
        match charging.iter_mut().find(|(known, aims, _)| *known == of && *aims == aim) {
            Some((.., count)) => *count += 1,
            None => charging.push((of, aim, 1)),
        }
    }
    for (of, aim, count) in charging {
        let outputs = if count == 1 { "output" } else { "outputs" };
        parts.push(match of {
            Some((charger, a)) => format!("charged by {charger} with {count} {outputs} of {a} A{aim}"),
            None => format!("{count} charger {outputs} wanting{aim}"),
        });
    }
    if let Some(energy) = &bank.energy {
        let days = if energy.days == 1.0 { "1 day".to_owned() } else { format!("{} days", energy.days) };
        let mut use_of = format!(
            "a day takes {:.1} Ah, and the bank must hold {:.0} Ah for {days}",
            energy.daily_ah,
            energy.needed_ah.ceil()
        );
        for (hours, by) in [(energy.charger_h, "the charger"), (energy.idle_h, "the alternator at idle")] {
            if let Some(hours) = hours {
                use_of.push_str(&format!(", {hours:.1} h of {by} to put back"));
            }
        }
        parts.push(use_of);
    }
    parts.join("; ")
}
