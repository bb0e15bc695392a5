//! Whether settings make sense, and fit the items that refer to them.

use std::collections::BTreeSet;

use chrono_tz::Tz;
use iso_currency::Currency;
use rust_decimal::Decimal;

use crate::calc::findings::Fault;
use crate::calc::rules::jackets::BREAK_OUT_MOST_MM;
use crate::calc::shop::settings::{
    AcceptedColour, AlongHabits, Category, Freight, FreightRule, LevelPrice, PlumbingHabits, PriceLevel, Settings,
    TaxClass, TaxTreatment, Terms,
};
use crate::calc::units::{AreaStandard, Length, LengthUnit, Name, WireSize};
use crate::service::checks::Checks;

/// Temperature ratings of the columns for AWG and SAE sizes, °C.
const AWG_COLUMNS_C: [u16; 7] = [60, 75, 80, 90, 105, 125, 200];
/// Temperature ratings of the columns for metric sizes, °C.
const METRIC_COLUMNS_C: [u16; 6] = [60, 70, 90, 105, 125, 200];

/// Everything that is wrong with settings by themselves.
pub fn check_settings(settings: &Settings) -> Vec<Fault> {
    let mut checks = Checks::default();
    checks.text("/shop_name", &settings.shop_name, 200);
    checks.count("/letterhead", settings.letterhead.len(), 0, 8);
    for (place, line) in settings.letterhead.iter().enumerate() {
        checks.text(format!("/letterhead/{place}"), line, 120);
    }
    checks.count("/conditions", settings.conditions.len(), 0, 20);
    for (place, text) in settings.conditions.iter().enumerate() {
        checks.text(format!("/conditions/{place}"), text, 1000);
    }
    place_and_money(settings, &mut checks);
    wire(settings, &mut checks);
    allowances(settings, &mut checks);
    ratings(settings, &mut checks);
    labour(settings, &mut checks);
    categories(settings, &mut checks);
    tax_classes(settings, &mut checks);
    price_levels(settings, &mut checks);
    freight(settings, &mut checks);
    terms(settings, &mut checks);
    substitutes(settings, &mut checks);
    fit_out(settings, &mut checks);
    checks.faults()
}

fn place_and_money(settings: &Settings, checks: &mut Checks) {
    checks.must(Currency::from_code(&settings.currency).is_some(), "/currency", || {
        format!("'{}' is no currency: expected a code of ISO 4217 such as USD, EUR or JPY", settings.currency)
    });
    checks.must(settings.time_zone.parse::<Tz>().is_ok(), "/time_zone", || {
        format!("'{}' is no time zone: expected an IANA name such as America/New_York", settings.time_zone)
    });
    checks.whole("/valid_days", u64::from(settings.valid_days), 1, 365);
}

fn wire(settings: &Settings, checks: &mut Checks) {
    let metric = settings.area_standard == AreaStandard::Metric;
    checks.count("/stocked_sizes", settings.stocked_sizes.len(), 1, 40);
    for (place, size) in settings.stocked_sizes.iter().enumerate() {
        checks.must(matches!(size, WireSize::Metric(_)) == metric, format!("/stocked_sizes/{place}"), || {
            let expected = if metric { "areas such as 4 mm2" } else { "gauges such as 12 AWG" };
            format!("{size} does not go with the area standard of these settings: expected {expected}")
        });
    }
    checks.count("/other_sizes", settings.other_sizes.len(), 0, 40);
    for (place, size) in settings.other_sizes.iter().enumerate() {
        checks.must(matches!(size, WireSize::Metric(_)) != metric, format!("/other_sizes/{place}"), || {
            format!("{size} is of the same kind as stocked_sizes: keep it there")
        });
    }
    checks.count("/cable_sizes", settings.cable_sizes.len(), 0, 40);
    let lists = [&settings.stocked_sizes, &settings.other_sizes, &settings.cable_sizes];
    for (field, sizes) in ["/stocked_sizes", "/other_sizes", "/cable_sizes"].into_iter().zip(lists) {
        let sizes: Vec<String> = sizes.iter().map(WireSize::to_string).collect();
        checks.once(field, "", sizes.iter().map(String::as_str));
    }
    let both: Vec<u16> = AWG_COLUMNS_C.into_iter().filter(|column| METRIC_COLUMNS_C.contains(column)).collect();
    let columns: &[u16] = match (settings.other_sizes.is_empty(), metric) {
        (false, _) => &both,
        (true, true) => &METRIC_COLUMNS_C,
        (true, false) => &AWG_COLUMNS_C,
    };
    checks.must(columns.contains(&settings.insulation_c), "/insulation_c", || {
        let known: Vec<String> = columns.iter().map(u16::to_string).collect();
        format!("the table has no column for {} °C: expected one of {}", settings.insulation_c, known.join(", "))
    });
    checks.number("/copper_ohm_cmil_per_ft", settings.copper_ohm_cmil_per_ft, 10.0, 14.0);
    checks.must(["black", "yellow"].contains(&settings.negative_colour.as_str()), "/negative_colour", || {
        format!("'{}' is no colour of DC negative: expected black or yellow", settings.negative_colour)
    });
    checks.count("/colours", settings.colours.len(), 0, 50);
    let mut functions = BTreeSet::new();
    for (place, choice) in settings.colours.iter().enumerate() {
        checks.text(format!("/colours/{place}/colour"), &choice.colour, 40);
        checks.must(functions.insert(choice.function), format!("/colours/{place}/function"), || {
            "this function has a colour already: take one of the two out".to_owned()
        });
        let kept = ["black", "yellow", "green"].iter().any(|kept| choice.colour.eq_ignore_ascii_case(kept));
        checks.must(!kept, format!("/colours/{place}/colour"), || {
            format!("{} is kept for negative or bonding on some boat: a positive needs another", choice.colour)
        });
    }
}

fn allowances(settings: &Settings, checks: &mut Checks) {
    checks.number("/waste_measured_percent", settings.waste_measured_percent, 0.0, 100.0);
    checks.number("/waste_estimated_percent", settings.waste_estimated_percent, 0.0, 100.0);
    checks.length("/service_loop_device", settings.service_loop_device, true);
    checks.length("/service_loop_panel", settings.service_loop_panel, true);
    checks.length("/termination_allowance", settings.termination_allowance, true);
    checks.length("/battery_termination_allowance", settings.battery_termination_allowance, false);
    checks.length("/break_out", settings.break_out, false);
    let most = Length::from_nanometres(LengthUnit::Mm.nanometres() * BREAK_OUT_MOST_MM as i64);
    checks.must(settings.break_out.length().is_none_or(|length| length <= most), "/break_out", || {
        format!(
            "{} of a conductor must not lie bare of its jacket: expected 800 mm at most (ISO 10133, 7.7)",
            settings.break_out
        )
    });
    let network = &settings.network;
    checks.count("/network/cable_lengths", network.cable_lengths.len(), 1, 40);
    for (place, length) in network.cable_lengths.iter().enumerate() {
        let at = format!("/network/cable_lengths/{place}");
        let short = length.length().is_some_and(|length| length.m() < 0.1);
        checks.must(!short, at.clone(), || format!("{length} is no length of network cable: expected 0.1 m at least"));
        checks.length(at, *length, false);
    }
    for (place, pair) in network.cable_lengths.windows(2).enumerate() {
        checks.must(pair[0].length() < pair[1].length(), format!("/network/cable_lengths/{}", place + 1), || {
            format!("{} stands behind {}: expected lengths that rise", pair[1], pair[0])
        });
    }
    checks.length("/network/surplus_told", network.surplus_told, true);
    checks.number("/feeder_drop_percent", settings.feeder_drop_percent, 0.5, 20.0);
    checks.number("/spare_positions_percent", settings.spare_positions_percent, 0.0, 200.0);
    checks.whole("/least_spare_positions", u64::from(settings.least_spare_positions), 0, 50);
    checks.number("/critical_drop_percent", settings.critical_drop_percent, 0.5, 20.0);
    checks.number("/general_drop_percent", settings.general_drop_percent, 0.5, 20.0);
}

fn ratings(settings: &Settings, checks: &mut Checks) {
    checks.count("/branch_ratings_a", settings.branch_ratings_a.len(), 1, 60);
    for (place, rating) in settings.branch_ratings_a.iter().enumerate() {
        checks.number(format!("/branch_ratings_a/{place}"), *rating, 0.25, 1000.0);
    }
    for (place, pair) in settings.branch_ratings_a.windows(2).enumerate() {
        checks.must(pair[0] < pair[1], format!("/branch_ratings_a/{}", place + 1), || {
            format!("{} A stands behind {} A: expected ratings that rise", pair[1], pair[0])
        });
    }
    checks.count("/main_fuse_families", settings.main_fuse_families.len(), 1, 8);
    let mut seen = BTreeSet::new();
    for (place, family) in settings.main_fuse_families.iter().enumerate() {
        checks.must(seen.insert(family), format!("/main_fuse_families/{place}"), || {
            "this family stands in the list already: take one of the two out".to_owned()
        });
    }
}

fn labour(settings: &Settings, checks: &mut Checks) {
    let hundred = Decimal::ONE_HUNDRED;
    checks.decimal("/labour_rate", settings.labour_rate, true, 6);
    tax_class("/labour_tax_class", &settings.labour_tax_class, settings, checks);
    checks.number("/labour_correlation", settings.labour_correlation, 0.0, 1.0);
    checks.number("/hours_a_day", settings.hours_a_day, 1.0, 240.0);
    let factors = settings.job_factors;
    checks.number("/job_factors/bare_hull", factors.bare_hull, 0.1, 10.0);
    checks.number("/job_factors/first_rig", factors.first_rig, 0.1, 10.0);
    checks.number("/job_factors/re_rig", factors.re_rig, 0.1, 10.0);
    checks.percent("/unknown_allowance_percent", settings.unknown_allowance_percent, hundred);
    checks.percent("/unknown_allowance_re_rig_percent", settings.unknown_allowance_re_rig_percent, hundred);
    checks.percent("/shop_supplies_percent", settings.shop_supplies_percent, hundred);
    checks.decimal("/shop_supplies_limit", settings.shop_supplies_limit, true, 6);
    tax_class("/shop_supplies_tax_class", &settings.shop_supplies_tax_class, settings, checks);
}

fn tax_class(pointer: &str, class: &Name, settings: &Settings, checks: &mut Checks) {
    checks.must(settings.tax_classes.iter().any(|known| known.code == *class), pointer, || {
        let codes: Vec<&str> = settings.tax_classes.iter().map(|class| class.code.as_str()).collect();
        format!("there is no tax class '{class}' among tax_classes: expected one of {}", codes.join(", "))
    });
}

fn categories(settings: &Settings, checks: &mut Checks) {
    checks.count("/categories", settings.categories.len(), 1, 60);
    checks.once("/categories", "code", settings.categories.iter().map(|category| category.code.as_str()));
    for (place, category) in settings.categories.iter().enumerate() {
        let Category { code, name, mark_up_percent, charge: _, price_from: _, tax_class: class, valid_days } = category;
        let at = format!("/categories/{place}");
        checks.code(&format!("{at}/code"), code.as_str(), "_", false);
        checks.text(format!("{at}/name"), name, 100);
        checks.percent(format!("{at}/mark_up_percent"), *mark_up_percent, Decimal::from(9999));
        tax_class(&format!("{at}/tax_class"), class, settings, checks);
        if let Some(days) = valid_days {
            checks.whole(format!("{at}/valid_days"), u64::from(*days), 1, 365);
        }
    }
}

fn tax_classes(settings: &Settings, checks: &mut Checks) {
    checks.count("/tax_classes", settings.tax_classes.len(), 1, 30);
    checks.once("/tax_classes", "code", settings.tax_classes.iter().map(|class| class.code.as_str()));
    for (place, class) in settings.tax_classes.iter().enumerate() {
        let TaxClass { code, name, treatment, rate_percent } = class;
        let at = format!("/tax_classes/{place}");
        checks.code(&format!("{at}/code"), code.as_str(), "_", false);
        checks.text(format!("{at}/name"), name, 100);
        checks.percent(format!("{at}/rate_percent"), *rate_percent, Decimal::ONE_HUNDRED);
        // EN 16931 BR-Z-05, BR-E-05, BR-O-05: no rate but zero where nothing is taxed.
        let untaxed = *treatment != TaxTreatment::Standard;
        checks.must(!untaxed || rate_percent.is_zero(), format!("{at}/rate_percent"), || {
            format!("{rate_percent} percent on a class that is not taxed: expected 0, or the treatment standard")
        });
    }
}

fn price_levels(settings: &Settings, checks: &mut Checks) {
    checks.count("/price_levels", settings.price_levels.len(), 0, 20);
    checks.once("/price_levels", "code", settings.price_levels.iter().map(|level| level.code.as_str()));
    for (place, level) in settings.price_levels.iter().enumerate() {
        let PriceLevel { code, name, owner_only: _, prices } = level;
        let at = format!("/price_levels/{place}");
        checks.code(&format!("{at}/code"), code.as_str(), "_", false);
        checks.text(format!("{at}/name"), name, 100);
        checks.count(format!("{at}/prices"), prices.len(), 0, 60);
        checks.once(&format!("{at}/prices"), "category", prices.iter().map(|price| price.category().as_str()));
        for (nth, price) in prices.iter().enumerate() {
            let at = format!("{at}/prices/{nth}");
            match price {
                LevelPrice::MarkUp { percent, .. } => {
                    checks.percent(format!("{at}/percent"), *percent, Decimal::from(9999));
                }
                LevelPrice::PercentOff { percent, .. } => {
                    checks.percent(format!("{at}/percent"), *percent, Decimal::ONE_HUNDRED);
                }
            }
            let category = price.category();
            let known = settings.categories.iter().any(|known| known.code == *category);
            checks.must(known, format!("{at}/category"), || {
                let codes: Vec<&str> = settings.categories.iter().map(|category| category.code.as_str()).collect();
                format!(
                    "there is no price category '{category}' among categories: expected one of {}",
                    codes.join(", ")
                )
            });
        }
    }
}

fn freight(settings: &Settings, checks: &mut Checks) {
    let Freight { rule, tax_class: class } = &settings.freight;
    tax_class("/freight/tax_class", class, settings, checks);
    let free_from = match rule {
        FreightRule::None => None,
        FreightRule::Amount { amount, free_from } => {
            checks.decimal("/freight/rule/amount", *amount, true, 4);
            *free_from
        }
        FreightRule::PercentOfGoods { percent, free_from } => {
            checks.percent("/freight/rule/percent", *percent, Decimal::ONE_HUNDRED);
            *free_from
        }
    };
    if let Some(free_from) = free_from {
        checks.decimal("/freight/rule/free_from", free_from, true, 4);
    }
}

fn terms(settings: &Settings, checks: &mut Checks) {
    let Terms { deposit_percent, discount_limit_percent, margin_floor_percent } = &settings.terms;
    checks.percent("/terms/deposit_percent", *deposit_percent, Decimal::ONE_HUNDRED);
    checks.percent("/terms/discount_limit_percent", *discount_limit_percent, Decimal::ONE_HUNDRED);
    if let Some(floor) = margin_floor_percent {
        checks.percent("/terms/margin_floor_percent", *floor, Decimal::from(99));
    }
}

fn substitutes(settings: &Settings, checks: &mut Checks) {
    let colours = &settings.substitutes.colours;
    checks.count("/substitutes/colours", colours.len(), 0, 50);
    checks.once("/substitutes/colours", "colour", colours.iter().map(|accepted| accepted.colour.as_str()));
    let mut positive = |at: String, colour: &str| {
        checks.text(at.clone(), colour, 40);
        let kept = ["black", "yellow", "green"].iter().any(|kept| colour.eq_ignore_ascii_case(kept));
        checks.must(!kept, at, || {
            format!(
                "{colour} is kept for negative or bonding on some boat: only colours of positives stand for each other"
            )
        });
    };
    for (place, AcceptedColour { colour, instead }) in colours.iter().enumerate() {
        positive(format!("/substitutes/colours/{place}/colour"), colour);
        for (nth, other) in instead.iter().enumerate() {
            positive(format!("/substitutes/colours/{place}/instead/{nth}"), other);
        }
    }
    for (place, accepted) in colours.iter().enumerate() {
        checks.count(format!("/substitutes/colours/{place}/instead"), accepted.instead.len(), 1, 10);
    }
}

/// Items that refer to a price category or tax class which the settings lack, from the pairs that items have.
pub(super) fn check_items(settings: &Settings, pairs: &[(String, Option<String>)]) -> Vec<Fault> {
    let mut checks = Checks::default();
    let categories: BTreeSet<&str> = pairs.iter().map(|(category, _)| category.as_str()).collect();
    for category in categories {
        let known = settings.categories.iter().any(|known| known.code.as_str() == category);
        checks.must(known, "/categories", || {
            format!("items have the price category '{category}': keep it, or give those items another one first")
        });
    }
    let classes: BTreeSet<&str> = pairs.iter().filter_map(|(_, class)| class.as_deref()).collect();
    for class in classes {
        let known = settings.tax_classes.iter().any(|known| known.code.as_str() == class);
        checks.must(known, "/tax_classes", || {
            format!("items have the tax class '{class}': keep it, or give those items another one first")
        });
    }
    checks.faults()
}

/// Habits of plumbing and along the way of cable.
fn fit_out(settings: &Settings, checks: &mut Checks) {
    let PlumbingHabits {
        between_fittings,
        unknown_discharge,
        discharge_loop,
        fittings_per_cartridge,
        holes_per_core_kit,
    } = &settings.plumbing;
    checks.length("/plumbing/between_fittings", *between_fittings, false);
    checks.length("/plumbing/unknown_discharge", *unknown_discharge, false);
    checks.length("/plumbing/discharge_loop", *discharge_loop, true);
    checks.whole("/plumbing/fittings_per_cartridge", u64::from(*fittings_per_cartridge), 1, 100);
    checks.whole("/plumbing/holes_per_core_kit", u64::from(*holes_per_core_kit), 1, 100);
    let AlongHabits {
        consumables: _,
        support_spacing,
        tie_spacing,
        loom: _,
        messenger_tail,
        ends_per_can,
        splices_per_can,
    } = &settings.along;
    for (name, spacing) in [("support_spacing", support_spacing), ("tie_spacing", tie_spacing)] {
        let pointer = format!("/along/{name}");
        checks.length(pointer.clone(), *spacing, false);
        // Closer than that a boat would take more of them than it has inches.
        checks.must(spacing.length() >= Some(Length::inches(1.0)), pointer, || {
            format!("{spacing} is closer than anyone sets them: expected 1 in or more")
        });
    }
    checks.length("/along/messenger_tail", *messenger_tail, true);
    checks.whole("/along/ends_per_can", u64::from(*ends_per_can), 1, 10_000);
    checks.whole("/along/splices_per_can", u64::from(*splices_per_can), 1, 10_000);
}
