//! Whether an item makes sense, and fits the shop's settings.

mod fit_out;

use std::collections::BTreeSet;

use chrono::{Datelike, NaiveDate};

use crate::calc::circuits::loads::drawn_a;
use crate::calc::findings::Fault;
use crate::calc::shop::item::usual::filled;
use crate::calc::shop::item::{
    Attributes, DataNetwork, Function, Item, Lead, LeadRole, SellingUnit, SuppliedCable, SuppliedCableKind,
};
use crate::calc::shop::settings::Settings;
use crate::calc::spec::dash_check::check_mount;
use crate::calc::units::{LengthValue, WireSize, within};
use crate::service::checks::Checks;

/// Temperature ratings of insulation that the published tables have a column for, °C.
pub const INSULATION_C: [u16; 7] = [60, 75, 80, 90, 105, 125, 200];

/// Everything that is wrong with an item, by itself and against the shop's settings.
pub fn check_item(item: &Item, settings: &Settings) -> Vec<Fault> {
    let mut checks = Checks::default();
    checks.code("/sku", item.sku.as_str(), "._/-", true);
    checks.text("/description", &item.description, 200);
    classes(item, settings, &mut checks);
    checks.decimal("/buying_quantity", item.buying_quantity, false, 6);
    checks.whole("/minimum_order", u64::from(item.minimum_order), 1, 100_000);
    checks.whole("/order_multiple", u64::from(item.order_multiple), 1, 100_000);
    checks.whole("/lead_time_days", u64::from(item.lead_time_days), 0, 730);
    if let Some(labour) = &item.labour {
        checks.labour("/labour", labour, 20);
    }
    if let Some(supplier) = &item.supplier {
        checks.text("/supplier", supplier, 120);
    }
    selling_unit(item, &mut checks);
    prices(item, &mut checks);
    // What is usual of its function stands in for what it leaves out: both together must make sense.
    let typed_leads = matches!(&item.attributes, Attributes::Device { leads, .. } if !leads.is_empty());
    attributes(&filled(item.clone()).0.attributes, typed_leads, &mut checks);
    checks.faults()
}

fn classes(item: &Item, settings: &Settings, checks: &mut Checks) {
    let known = settings.categories.iter().any(|category| category.code == item.category);
    checks.must(known, "/category", || {
        let codes: Vec<&str> = settings.categories.iter().map(|category| category.code.as_str()).collect();
        format!("there is no price category '{}' in the settings: expected one of {}", item.category, codes.join(", "))
    });
    if let Some(class) = &item.tax_class {
        let known = settings.tax_classes.iter().any(|known| known.code == *class);
        checks.must(known, "/tax_class", || {
            let codes: Vec<&str> = settings.tax_classes.iter().map(|class| class.code.as_str()).collect();
            format!("there is no tax class '{class}' in the settings: expected one of {}", codes.join(", "))
        });
    }
}

/// Wire, cable and hose are sold by length and all other things that requirements are matched to by the piece; hardware either way.
fn selling_unit(item: &Item, checks: &mut Checks) {
    let by_length = item.selling_unit != SellingUnit::Each;
    match item.attributes {
        Attributes::Wire { .. }
        | Attributes::Cable { .. }
        | Attributes::Hose { .. }
        | Attributes::Loom { .. }
        | Attributes::MessengerLine {} => checks.must(by_length, "/selling_unit", || {
            let kind = item.attributes.kind().replace('_', " ");
            format!("{kind} is sold by length: expected foot or metre, with the length of one spool as buying_quantity")
        }),
        Attributes::Hardware {} => {}
        _ => checks.must(!by_length, "/selling_unit", || {
            format!("a {} is sold by the piece: expected each", item.attributes.kind().replace('_', " "))
        }),
    }
}

fn prices(item: &Item, checks: &mut Checks) {
    checks.count("/prices", item.prices.len(), 0, 200);
    let mut seen = BTreeSet::new();
    for (place, price) in item.prices.iter().enumerate() {
        let at = format!("/prices/{place}");
        checks.decimal(format!("{at}/minimum_quantity"), price.minimum_quantity, false, 6);
        checks.decimal(format!("{at}/amount"), price.amount, false, 6);
        checks.must(plausible(price.valid_from), format!("{at}/valid_from"), || {
            format!("{} is no day that a price can begin on: expected a year from 1900 to 2999", price.valid_from)
        });
        checks.must(seen.insert((price.kind, price.valid_from, price.minimum_quantity)), at, || {
            "this item has two prices of one kind, day and quantity: take one of the two out".to_owned()
        });
    }
}

fn plausible(day: NaiveDate) -> bool {
    (1900..=2999).contains(&day.year())
}

fn attributes(attributes: &Attributes, typed_leads: bool, checks: &mut Checks) {
    let at = |name: &str| format!("/attributes/{name}");
    if let Some(mount) = attributes.dash_mount() {
        let mut faults = Vec::new();
        check_mount(mount, "/attributes/dash_mount", &mut faults);
        for fault in faults {
            checks.must(false, fault.pointer, || fault.message);
        }
    }
    match attributes {
        Attributes::Device {
            function,
            rated_voltage_v,
            nominal_voltages_v,
            draw_a,
            leads: all,
            unwired,
            maker_fuse_a,
            data_network,
            supplied_cables,
            plumbing,
            ..
        } => {
            network(data_network.as_ref(), checks);
            cables(supplied_cables, checks);
            if *unwired {
                let other = data_network.is_some() || !supplied_cables.is_empty();
                checks.must(all.is_empty() && other, at("unwired"), || {
                    "what is unwired has no leads, and is on the data network or comes with a cable".to_owned()
                });
                return;
            }
            if let Some(plumbing) = plumbing {
                fit_out::plumbing(plumbing, *function, checks);
            }
            checks.must(rated_voltage_v.is_some(), at("rated_voltage_v"), || no_usual(*function, "voltage"));
            if let Some(volts) = rated_voltage_v {
                checks.number(at("rated_voltage_v"), *volts, 1.0, 100.0);
            }
            if let Some(draw_a) = draw_a {
                checks.number(at("draw_a"), *draw_a, 0.0, 1000.0);
                checks.must(*draw_a != 0.0, at("draw_a"), || {
                    "a device that draws nothing cannot be wired: expected amperes at the rated voltage".to_owned()
                });
            }
            checks.must(!nominal_voltages_v.is_empty(), at("nominal_voltages_v"), || no_usual(*function, "voltage"));
            checks.count(at("nominal_voltages_v"), nominal_voltages_v.len(), 0, 8);
            for (place, volts) in nominal_voltages_v.iter().enumerate() {
                checks.whole(format!("/attributes/nominal_voltages_v/{place}"), u64::from(*volts), 1, 100);
            }
            let mut seen = BTreeSet::new();
            checks.must(nominal_voltages_v.iter().all(|volts| seen.insert(volts)), at("nominal_voltages_v"), || {
                "a voltage stands here twice: take one of the two out".to_owned()
            });
            if let Some(fuse) = maker_fuse_a {
                checks.number(at("maker_fuse_a"), *fuse, 0.5, 600.0);
                let most = all.iter().filter_map(|lead| lead.current_a).fold(0.0, f64::max);
                checks.must(*fuse >= most, at("maker_fuse_a"), || {
                    format!("a fuse of {fuse} A does not hold the {most} A of the largest lead: check both figures")
                });
            }
            leads(*function, all, typed_leads, checks);
        }
        Attributes::Wire { colour, insulation_c, .. } => {
            checks.text(at("colour"), colour, 40);
            insulation(*insulation_c, checks);
        }
        Attributes::Cable { conductors, outside_diameter, colours, insulation_c, .. } => {
            checks.whole(at("conductors"), u64::from(*conductors), 2, 3);
            checks.length(at("outside_diameter"), *outside_diameter, false);
            checks.must(colours.len() == usize::from(*conductors), at("colours"), || {
                format!("{} colours for {conductors} conductors: expected one for each", colours.len())
            });
            for (place, colour) in colours.iter().enumerate() {
                checks.text(format!("/attributes/colours/{place}"), colour, 40);
            }
            insulation(*insulation_c, checks);
        }
        Attributes::RingTerminal { size_from, size_to, .. } | Attributes::ButtSplice { size_from, size_to } => {
            sizes(*size_from, *size_to, checks);
        }
        Attributes::Lug { .. } | Attributes::Hardware {} => {}
        Attributes::HeatShrink { supplied_diameter, recovered_diameter, piece_length } => {
            checks.length(at("supplied_diameter"), *supplied_diameter, false);
            checks.length(at("recovered_diameter"), *recovered_diameter, false);
            checks.length(at("piece_length"), *piece_length, false);
            shrinks(*supplied_diameter, *recovered_diameter, checks);
        }
        Attributes::Fuse { rating_a, voltage_rating_v, interrupt_a, .. } => {
            checks.number(at("rating_a"), *rating_a, 0.25, 1000.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
            checks.number(at("interrupt_a"), *interrupt_a, 1.0, 1e6);
        }
        Attributes::FuseHolder { rating_max_a, voltage_rating_v, .. } => {
            checks.number(at("rating_max_a"), *rating_max_a, 1.0, 1000.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::Breaker { rating_a, voltage_rating_v, interrupt_a, .. } => {
            checks.number(at("rating_a"), *rating_a, 0.5, 1000.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
            checks.number(at("interrupt_a"), *interrupt_a, 1.0, 1e6);
        }
        Attributes::WireLabel { diameter_max } => checks.length(at("diameter_max"), *diameter_max, false),
        Attributes::Panel { positions, voltage_rating_v, .. } => {
            checks.whole(at("positions"), u64::from(*positions), 1, 100);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::Bus { positions, rating_a, .. } => {
            checks.whole(at("positions"), u64::from(*positions), 1, 100);
            checks.number(at("rating_a"), *rating_a, 1.0, 2000.0);
        }
        Attributes::Battery { nominal_voltage_v, capacity_ah, cold_cranking_a, charge_a, group, .. } => {
            if let Some(group) = group {
                checks.text(at("group"), group, 20);
            }
            checks.whole(at("nominal_voltage_v"), u64::from(*nominal_voltage_v), 1, 100);
            checks.number(at("capacity_ah"), *capacity_ah, 1.0, 2000.0);
            if let Some(cold_cranking) = cold_cranking_a {
                checks.number(at("cold_cranking_a"), *cold_cranking, 1.0, 5000.0);
            }
            if let Some(charge_a) = charge_a {
                checks.number(at("charge_a"), *charge_a, 0.5, 1000.0);
            }
        }
        Attributes::BatterySwitch { rating_a, voltage_rating_v, .. }
        | Attributes::Combiner { rating_a, voltage_rating_v, .. } => {
            checks.number(at("rating_a"), *rating_a, 1.0, 2000.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::TerminalBoot { size_from, size_to, colour } => {
            sizes(*size_from, *size_to, checks);
            checks.text(at("colour"), colour, 40);
        }
        Attributes::FuseBlock { positions, rating_a, voltage_rating_v, .. } => {
            checks.whole(at("positions"), u64::from(*positions), 1, 100);
            checks.number(at("rating_a"), *rating_a, 1.0, 2000.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::Charger { outputs, output_a, nominal_voltage_v, chemistries, .. } => {
            checks.whole(at("outputs"), u64::from(*outputs), 1, 12);
            checks.number(at("output_a"), *output_a, 0.5, 500.0);
            checks.whole(at("nominal_voltage_v"), u64::from(*nominal_voltage_v), 6, 96);
            checks.count(at("chemistries"), chemistries.len(), 1, 4);
        }
        Attributes::BowReceptacle { rating_a, voltage_rating_v, .. } => {
            checks.number(at("rating_a"), *rating_a, 1.0, 500.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::NetworkTee { .. } | Attributes::NetworkTerminator { .. } => {}
        Attributes::NetworkCable { length, .. } => checks.length(at("length"), *length, false),
        Attributes::NetworkPowerTap { rating_a, .. } => checks.number(at("rating_a"), *rating_a, 0.5, 20.0),
        Attributes::EngineGateway { load_equivalency } => {
            checks.whole(at("load_equivalency"), u64::from(*load_equivalency), 0, 20);
        }
        Attributes::DisplayCable { plug, length } | Attributes::CableExtension { plug, length, .. } => {
            checks.text(at("plug"), plug, 40);
            checks.length(at("length"), *length, false);
        }
        Attributes::BilgeSwitch { rating_a, voltage_rating_v, .. } => {
            checks.number(at("rating_a"), *rating_a, 0.5, 100.0);
            checks.number(at("voltage_rating_v"), *voltage_rating_v, 1.0, 1000.0);
        }
        Attributes::Hose { .. }
        | Attributes::PlumbingFitting { .. }
        | Attributes::Fastener { .. }
        | Attributes::Loom { .. }
        | Attributes::MessengerLine {}
        | Attributes::Consumable { .. }
        | Attributes::BatteryHardware { .. } => fit_out::attributes(attributes, checks),
    }
}

/// What is told where a function has no usual figure.
fn no_usual(function: Function, what: &str) -> String {
    let word = function.word().replace('_', " ");
    format!("a {word} has no usual {what}, since they differ too much: expected it here")
}

fn network(network: Option<&DataNetwork>, checks: &mut Checks) {
    let Some(network) = network else { return };
    let at = |name: &str| format!("/attributes/data_network/{name}");
    checks.whole(at("load_equivalency"), u64::from(network.load_equivalency), 0, 20);
    if let Some(length) = network.drop_supplied {
        checks.length(at("drop_supplied"), length, false);
        checks.must(!network.on_tee, at("drop_supplied"), || {
            "what is screwed on its tee has no drop: leave one of the two out".to_owned()
        });
    }
    if let Some(plug) = &network.display_plug {
        checks.text(at("display_plug"), plug, 40);
    }
}

fn cables(cables: &[SuppliedCable], checks: &mut Checks) {
    checks.count("/attributes/supplied_cables", cables.len(), 0, 8);
    for (place, cable) in cables.iter().enumerate() {
        let at = |name: &str| format!("/attributes/supplied_cables/{place}/{name}");
        checks.length(at("length"), cable.length, false);
        if let Some(plug) = &cable.extension_plug {
            checks.text(at("extension_plug"), plug, 40);
        }
        checks.must(!(cable.may_be_cut && cable.cable == SuppliedCableKind::Transducer), at("may_be_cut"), || {
            "the cable of a transducer is never cut: leave this out".to_owned()
        });
    }
}

fn insulation(insulation_c: u16, checks: &mut Checks) {
    checks.must(INSULATION_C.contains(&insulation_c), "/attributes/insulation_c", || {
        format!("no published table has a column for {insulation_c} °C: expected 60, 75, 80, 90, 105, 125 or 200")
    });
}

fn sizes(from: WireSize, to: WireSize, checks: &mut Checks) {
    checks.must(to.at_least(from), "/attributes/size_from", || {
        format!("the smallest wire ({from}) is larger than the largest ({to}): the other way round?")
    });
}

fn shrinks(supplied: LengthValue, recovered: LengthValue, checks: &mut Checks) {
    if let (Some(before), Some(after)) = (supplied.length(), recovered.length()) {
        checks.must(after < before, "/attributes/recovered_diameter", || {
            format!("tubing that shrinks from {supplied} cannot end at {recovered}: the other way round?")
        });
    }
}

/// `typed` says that the item states its leads, and they are not those that are usual.
fn leads(function: Function, leads: &[Lead], typed: bool, checks: &mut Checks) {
    checks.count("/attributes/leads", leads.len(), 1, 16);
    let has = |wanted: &[LeadRole]| leads.iter().any(|lead| wanted.contains(&lead.role));
    let positive = [LeadRole::SwitchedPositive, LeadRole::ConstantPositive];
    checks.must(has(&positive), "/attributes/leads", || {
        "there is no positive lead: expected at least one switched_positive or constant_positive".to_owned()
    });
    checks.must(has(&[LeadRole::Return]), "/attributes/leads", || "there is no return lead: expected one".to_owned());
    checks.must(leads.iter().filter(|lead| lead.role == LeadRole::Return).count() < 2, "/attributes/leads", || {
        "there are two return leads: a device has one return; state a second one as a device of its own".to_owned()
    });
    let sum = |role: LeadRole| leads.iter().filter(|lead| lead.role == role).filter_map(|lead| lead.current_a).sum();
    let drawn_a = drawn_a(function, sum(LeadRole::SwitchedPositive), sum(LeadRole::ConstantPositive));
    for (place, lead) in leads.iter().enumerate() {
        let at = format!("/attributes/leads/{place}");
        let stated = lead.current_a.filter(|_| lead.role == LeadRole::Return);
        checks.must(stated.is_none_or(|current| within(drawn_a, current)), format!("{at}/current_a"), || {
            format!("the positives can draw {drawn_a} A together, and all of it returns here: state no less, or leave it out")
        });
        match lead.current_a {
            // A current of zero would size a wire for nothing.
            Some(current) => {
                checks.number(format!("{at}/current_a"), current, 0.0, 1000.0);
                checks.must(!positive.contains(&lead.role) || current != 0.0, format!("{at}/current_a"), || {
                    "a positive lead that carries nothing cannot be sized: expected its current".to_owned()
                });
            }
            None if !positive.contains(&lead.role) => {}
            None if typed => checks.must(false, format!("{at}/current_a"), || {
                "a positive lead needs its current: expected amperes at the rated voltage, here or as draw_a for the only one \
                 that states none"
                    .to_owned()
            }),
            None => checks.must(false, "/attributes/draw_a", || no_usual(function, "draw")),
        }
        if let Some(length) = lead.length {
            checks.length(format!("{at}/length"), length, true);
        }
        if let Some(colour) = &lead.maker_colour {
            checks.text(format!("{at}/maker_colour"), colour, 40);
        }
    }
}
