//! Needs, and in what an item falls short of one, in plain words.

use chrono::NaiveDate;

use crate::purchase::fit_out;
use crate::purchase::matching::{Miss, Misses};
use crate::requirements::Need;
use crate::shop::item::{Attributes, FuseFamily, Item};

/// In what an item falls short, in words.
pub fn shortfall(need: &Need, item: &Item, misses: Misses, day: NaiveDate) -> String {
    misses.iter().map(|miss| phrase(miss, need, item, day)).collect::<Vec<_>>().join("; ")
}

fn phrase(miss: Miss, need: &Need, item: &Item, day: NaiveDate) -> String {
    match miss {
        Miss::Retired => "it has left the catalogue".to_owned(),
        Miss::Price => format!("it has no cost price that holds on {day}"),
        Miss::Category => format!("its price category '{}' is not in the shop's settings", item.category),
        Miss::TaxClass => "its tax class is not in the shop's settings".to_owned(),
        Miss::Better => format!(
            "it is {}, and the shop takes nothing better in that than what is needed",
            better(need, &item.attributes).unwrap_or_else(|| "more than is asked".to_owned())
        ),
        Miss::Unit => {
            "its buying or selling unit does not suit: what is cut from stock is sold by the foot or metre".to_owned()
        }
        _ => format!("it is {}", is(miss, &item.attributes).unwrap_or_else(|| needed(need))),
    }
}

/// In what an item is not exactly what is needed, and may be used all the same.
pub fn better(need: &Need, attributes: &Attributes) -> Option<String> {
    let mut told = Vec::new();
    match (need, attributes) {
        (Need::Wire { colour, insulation_c_min, .. }, Attributes::Wire { colour: met, insulation_c, .. }) => {
            if !met.eq_ignore_ascii_case(colour) {
                told.push(format!("{met} in place of {colour}"));
            }
            if insulation_c > insulation_c_min {
                told.push(format!("rated {insulation_c} °C where {insulation_c_min} °C would do"));
            }
        }
        (Need::Cable { insulation_c_min, .. }, Attributes::Cable { insulation_c, .. })
            if insulation_c > insulation_c_min =>
        {
            told.push(format!("rated {insulation_c} °C where {insulation_c_min} °C would do"));
        }
        (Need::HeatShrink { supplied_diameter: least, .. }, Attributes::HeatShrink { supplied_diameter, .. })
            if supplied_diameter.length() > least.length() =>
        {
            told.push(format!("{supplied_diameter} wide where {least} would do"));
        }
        _ => {}
    }
    (!told.is_empty()).then(|| told.join(", "))
}

/// What an item is, in the respect in which it misses.
fn is(miss: Miss, attributes: &Attributes) -> Option<String> {
    Some(match (miss, attributes) {
        (Miss::Size, Attributes::Wire { size, .. } | Attributes::Lug { size, .. }) => format!("for {size}"),
        (Miss::Size, Attributes::Cable { size, .. }) => format!("of {size}"),
        (Miss::Conductors, Attributes::Cable { conductors, .. }) => format!("made with {conductors} conductors"),
        (Miss::Colour, Attributes::Cable { colours, .. }) => format!("{} inside", colours.join(" + ")),
        (Miss::Diameter, Attributes::Cable { outside_diameter, .. }) => format!("{outside_diameter} thick"),
        (
            Miss::Size,
            Attributes::RingTerminal { size_from, size_to, .. }
            | Attributes::ButtSplice { size_from, size_to }
            | Attributes::TerminalBoot { size_from, size_to, .. },
        ) => format!("for {size_from} to {size_to}"),
        (
            Miss::Stud,
            Attributes::RingTerminal { stud, .. }
            | Attributes::Lug { stud, .. }
            | Attributes::BatterySwitch { stud, .. }
            | Attributes::Bus { stud, .. }
            | Attributes::Combiner { stud, .. },
        ) => format!("for a {} stud", stud.symbol()),
        (Miss::Colour, Attributes::Wire { colour, .. } | Attributes::TerminalBoot { colour, .. }) => colour.clone(),
        (Miss::Positions, Attributes::Bus { positions, .. } | Attributes::FuseBlock { positions, .. }) => {
            format!("for {positions} only")
        }
        (Miss::Positions, Attributes::Charger { outputs, .. }) => format!("made with {outputs} outputs only"),
        (Miss::Does, Attributes::Charger { .. }) => "not made for that chemistry".to_owned(),
        (Miss::Does, Attributes::Combiner { .. }) => {
            "not made to part the banks while cranking, or to limit the current into lithium".to_owned()
        }
        (Miss::Does, Attributes::BilgeSwitch { .. }) => "without a running light".to_owned(),
        (Miss::Voltage, Attributes::Charger { nominal_voltage_v, .. }) => {
            format!("for batteries of {nominal_voltage_v} V")
        }
        (Miss::Insulation, Attributes::Wire { insulation_c, .. } | Attributes::Cable { insulation_c, .. }) => {
            format!("only rated {insulation_c} °C")
        }
        (Miss::Ignition, _) => "not ignition protected".to_owned(),
        (Miss::Interrupt, Attributes::Fuse { interrupt_a, .. } | Attributes::Breaker { interrupt_a, .. }) => {
            format!("only able to interrupt {interrupt_a} A")
        }
        (
            Miss::Voltage,
            Attributes::Fuse { voltage_rating_v, .. }
            | Attributes::FuseHolder { voltage_rating_v, .. }
            | Attributes::Breaker { voltage_rating_v, .. }
            | Attributes::BatterySwitch { voltage_rating_v, .. }
            | Attributes::FuseBlock { voltage_rating_v, .. }
            | Attributes::Combiner { voltage_rating_v, .. }
            | Attributes::BowReceptacle { voltage_rating_v, .. }
            | Attributes::BilgeSwitch { voltage_rating_v, .. },
        ) => format!("only rated {voltage_rating_v} V"),
        (
            Miss::Rating,
            Attributes::Fuse { rating_a, .. }
            | Attributes::Breaker { rating_a, .. }
            | Attributes::BatterySwitch { rating_a, .. }
            | Attributes::Bus { rating_a, .. }
            | Attributes::FuseBlock { rating_a, .. }
            | Attributes::Combiner { rating_a, .. }
            | Attributes::BowReceptacle { rating_a, .. }
            | Attributes::BilgeSwitch { rating_a, .. },
        ) => format!("rated {rating_a} A"),
        (Miss::Rating, Attributes::Charger { output_a, .. }) => format!("made for {output_a} A an output"),
        (Miss::Rating, Attributes::FuseHolder { rating_max_a, .. }) => format!("for {rating_max_a} A at most"),
        (
            Miss::PieceLength,
            Attributes::NetworkCable { length, .. }
            | Attributes::DisplayCable { length, .. }
            | Attributes::CableExtension { length, .. },
        ) => format!("{length} long"),
        (Miss::Size, Attributes::NetworkCable { class, .. }) => format!("of the class {}", class.word()),
        (
            Miss::Stud,
            Attributes::NetworkTee { connector }
            | Attributes::NetworkTerminator { connector }
            | Attributes::NetworkPowerTap { connector, .. },
        ) => format!("made with {} connectors", connector.word()),
        (Miss::Stud, Attributes::DisplayCable { plug, .. } | Attributes::CableExtension { plug, .. }) => {
            format!("made with the plug {plug}")
        }
        (Miss::Rating, Attributes::NetworkPowerTap { rating_a, .. }) => format!("for {rating_a} A at most"),
        (Miss::Rating, Attributes::EngineGateway { load_equivalency }) => format!("a load of {load_equivalency} LEN"),
        (Miss::Family, Attributes::CableExtension { extends, .. }) => {
            format!("an extension of a {} cable", extends.word().replace('_', " "))
        }
        (Miss::PieceLength, Attributes::HeatShrink { piece_length, .. }) => format!("only {piece_length} long"),
        (Miss::Recovered, Attributes::HeatShrink { recovered_diameter, .. }) => {
            format!("still {recovered_diameter} wide when shrunk")
        }
        (Miss::Diameter, Attributes::HeatShrink { supplied_diameter, .. }) => format!("{supplied_diameter} wide"),
        (Miss::Diameter, Attributes::WireLabel { diameter_max }) => format!("for {diameter_max} at most"),
        (
            Miss::Family,
            Attributes::Fuse { family, .. }
            | Attributes::FuseHolder { family, .. }
            | Attributes::FuseBlock { family, .. },
        ) => {
            format!("of the family {}", family_words(*family))
        }
        (_, attributes) => return fit_out::is(miss, attributes),
    })
}

fn family_words(family: FuseFamily) -> &'static str {
    match family {
        FuseFamily::Blade => "blade",
        FuseFamily::MaxiBlade => "maxi blade",
        FuseFamily::GlassTube => "glass tube",
        FuseFamily::TerminalCube => "terminal cube",
        FuseFamily::SmallBolt => "small bolt-down",
        FuseFamily::LargeBolt => "large bolt-down",
        FuseFamily::Anl => "ANL",
        FuseFamily::ClassT => "class T",
    }
}

/// A need in plain words.
pub fn needed(need: &Need) -> String {
    let interrupts =
        |amperes: f64| if amperes > 0.0 { format!(", able to interrupt {amperes} A") } else { String::new() };
    let protected = |yes: bool| if yes { ", ignition protected" } else { "" };
    match need {
        Need::Wire { size, colour, insulation_c_min } => {
            format!("{size} {colour} wire, insulation rated {insulation_c_min} °C or more")
        }
        Need::Cable { conductors, size, colours, insulation_c_min, outside_diameter_max } => {
            let thick = outside_diameter_max.map_or(String::new(), |most| format!(", jacket {most} thick at most"));
            format!(
                "cable of {conductors} x {size}, {}, insulation rated {insulation_c_min} °C or more{thick}",
                colours.join(" + ")
            )
        }
        Need::RingTerminal { size, stud } => format!("ring terminal for {size} and a {} stud", stud.symbol()),
        Need::ButtSplice { size } => format!("butt splice for {size}"),
        Need::Lug { size, stud } => format!("heavy lug for {size} and a {} stud", stud.symbol()),
        Need::HeatShrink { supplied_diameter, recovered_diameter_max, piece_length } => {
            format!(
                "adhesive heat shrink in pieces of {piece_length}, {supplied_diameter} wide and {recovered_diameter_max} at most when shrunk"
            )
        }
        Need::Fuse { family, rating_a, voltage_v_min, interrupt_a_min } => format!(
            "{} fuse of {rating_a} A, rated {voltage_v_min} V or more{}",
            family_words(*family),
            interrupts(*interrupt_a_min)
        ),
        Need::FuseHolder { family, rating_a, voltage_v_min, ignition_protected } => format!(
            "holder for a {} fuse of {rating_a} A, rated {voltage_v_min} V or more{}",
            family_words(*family),
            protected(*ignition_protected)
        ),
        Need::Breaker { rating_a, voltage_v_min, interrupt_a_min, ignition_protected } => format!(
            "breaker of {rating_a} A, rated {voltage_v_min} V or more{}{}",
            interrupts(*interrupt_a_min),
            protected(*ignition_protected)
        ),
        Need::WireLabel { around } => format!("wire label to go round {around}"),
        Need::BatterySwitch { rating_a_min, voltage_v_min, stud, ignition_protected } => format!(
            "battery switch of {rating_a_min} A or more, rated {voltage_v_min} V or more, {} studs{}",
            stud.symbol(),
            protected(*ignition_protected)
        ),
        Need::TerminalBoot { size, colour } => format!("{colour} terminal boot for {size} cable"),
        Need::Bus { least_positions, rating_a_min, stud } => {
            format!(
                "bus of {least_positions} places or more on {} studs, rated {rating_a_min} A or more",
                stud.symbol()
            )
        }
        Need::FuseBlock { least_positions, family, rating_a_min, voltage_v_min, ignition_protected } => format!(
            "{} fuse block of {least_positions} places or more, rated {rating_a_min} A and {voltage_v_min} V or more{}",
            family_words(*family),
            protected(*ignition_protected)
        ),
        Need::Charger { least_outputs, output_a_min, nominal_voltage_v, chemistry, ignition_protected } => format!(
            "charger of {least_outputs} outputs or more, {output_a_min} A or more each, for {nominal_voltage_v} V batteries{}{}",
            chemistry.map_or(String::new(), |chemistry| format!(", {}", chemistry.word().replace('_', " "))),
            protected(*ignition_protected)
        ),
        Need::Combiner { rating_a_min, voltage_v_min, stud, limits_charging, ignition_protected } => format!(
            "combiner that parts the banks while cranking, {rating_a_min} A and {voltage_v_min} V or more, {} studs{}{}",
            stud.symbol(),
            if *limits_charging { ", limiting the current into lithium" } else { "" },
            protected(*ignition_protected)
        ),
        Need::BowReceptacle { rating_a_min, voltage_v_min, ignition_protected } => format!(
            "bow-motor receptacle and plug of {rating_a_min} A or more, rated {voltage_v_min} V or more{}",
            protected(*ignition_protected)
        ),
        Need::BilgeSwitch { rating_a_min, voltage_v_min, ignition_protected } => format!(
            "automatic-off-manual bilge switch with running light, {rating_a_min} A and {voltage_v_min} V or more{}",
            protected(*ignition_protected)
        ),
        Need::Hose { .. }
        | Need::PlumbingFitting { .. }
        | Need::Fastener { .. }
        | Need::Loom { .. }
        | Need::MessengerLine {}
        | Need::Consumable { .. }
        | Need::BatteryHardware { .. } => fit_out::needed(need),
        Need::NetworkCable { class, length_m_min, length_m_max } => {
            format!("{} network cable, {length_m_min} m to {length_m_max} m long", class.word())
        }
        Need::NetworkTee { connector } => format!("network tee with {} connectors", connector.word()),
        Need::NetworkTerminator { connector } => format!("network terminator with a {} connector", connector.word()),
        Need::NetworkPowerTap { connector, rating_a_min } => {
            format!("network power tap with {} connectors, {rating_a_min} A or more", connector.word())
        }
        Need::DisplayCable { plug, length_m_min } => {
            format!("cable between displays, plug {plug}, {length_m_min} m or longer")
        }
        Need::EngineGateway { load_equivalency_max } => {
            format!("engine gateway that draws {load_equivalency_max} LEN or less from the network")
        }
        Need::CableExtension { extends, plug, length_m_min } => format!(
            "extension of the {} cable, plug {plug}, {length_m_min} m or longer",
            extends.word().replace('_', " ")
        ),
        Need::Item { sku } => format!("item {sku}"),
    }
}
