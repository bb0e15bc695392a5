//! The priced lines: items, labour, allowances, and what a person wrote.

use chrono::NaiveDate;
use iso_currency::Currency;
use rust_decimal::prelude::FromPrimitive;
use rust_decimal::{Decimal, RoundingStrategy, dec};

use crate::basis::{BasisRef, Ledger, Rule, Value};
use crate::findings::{Fault, Gap};
use crate::money::{AmountTooLarge, Money};
use crate::pricing::settlement::SettlementInput;
use crate::purchase::Pick;
use crate::quote::{Line, LineCosting, LineKind};
use crate::rules::table::labour_and_price::{PRICE_LEVEL_MARK_UP, PRICE_LEVEL_OFF, PRICE_LIST, PRICE_MARK_UP};
use crate::shop::item::{Item, PriceKind};
use crate::shop::settings::{Category, Charge, LabourCharge, LevelPrice, PriceFrom, PriceLevel, Settings};
use crate::spec::input::{ExtraLineInput, JobType};
use crate::take_off::Labour;
use crate::units::Name;

/// Decimal places of a unit price that is calculated; one that is written down keeps its own.
pub const UNIT_PRICE_PLACES: u32 = 6;
/// The most that one line may come to, in either direction: beyond it something was mistyped.
const LINE_NET_MAX: Decimal = dec!(1_000_000_000_000);

/// The lines of a quote while they are made.
pub(super) struct Lines<'a> {
    settings: &'a Settings,
    /// The customer's price level.
    level: Option<&'a PriceLevel>,
    currency: Currency,
    pub(super) lines: Vec<Line>,
    pub(super) costings: Vec<LineCosting>,
    pub(super) faults: Vec<Fault>,
}

/// What a line says beside its amounts.
struct Wording {
    kind: LineKind,
    sku: Option<Name>,
    description: String,
    category: Option<Name>,
    unit: String,
    unit_code: &'static str,
    tax_class: Name,
    meets: Vec<Name>,
}

/// Quantity times unit price, rounded to the minor unit.
pub(super) fn line_net(quantity: Decimal, unit_price: Decimal, currency: Currency) -> Result<Money, AmountTooLarge> {
    let exact = quantity.checked_mul(unit_price).ok_or(AmountTooLarge)?;
    if exact.abs() > LINE_NET_MAX { Err(AmountTooLarge) } else { Money::rounded(exact, currency) }
}

fn to_unit_price(exact: Decimal) -> Decimal {
    exact.round_dp_with_strategy(UNIT_PRICE_PLACES, RoundingStrategy::MidpointAwayFromZero).normalize()
}

/// UN/ECE Recommendation 20 code of a unit that a person wrote; `C62`, "one", for a unit without a code of its own.
fn unit_code(unit: &str) -> &'static str {
    match unit.trim().to_lowercase().as_str() {
        "each" | "ea" | "pc" | "pcs" | "piece" | "pieces" => "EA",
        "ft" | "foot" | "feet" => "FOT",
        "m" | "metre" | "meter" | "metres" | "meters" => "MTR",
        "h" | "hr" | "hrs" | "hour" | "hours" => "HUR",
        "day" | "days" => "DAY",
        _ => "C62",
    }
}

/// Where a unit price comes from.
struct UnitPrice {
    amount: Decimal,
    price_from: PriceFrom,
    mark_up_percent: Option<Decimal>,
    /// What the customer's level takes off, and of which price.
    level_percent_off: Option<Decimal>,
    usual: Option<Decimal>,
    basis: BasisRef,
}

impl<'a> Lines<'a> {
    pub(super) fn new(settings: &'a Settings, level: Option<&'a PriceLevel>, currency: Currency) -> Self {
        Lines { settings, level, currency, lines: Vec::new(), costings: Vec::new(), faults: Vec::new() }
    }

    /// Adds a line; where its amount is absurd, a fault at the pointer instead.
    fn push(&mut self, wording: Wording, quantity: Decimal, unit_price: Decimal, pointer: &str) -> Option<Money> {
        let Wording { kind, sku, description, category, unit, unit_code, tax_class, meets } = wording;
        let Ok(net) = line_net(quantity, unit_price, self.currency) else {
            let message = format!(
                "'{description}' comes to more than a line may: {quantity} at {unit_price}; check quantity and price"
            );
            self.faults.push(Fault::new(pointer, message));
            return None;
        };
        self.lines.push(Line {
            number: u32::try_from(self.lines.len()).expect("fewer than 2^32 lines") + 1,
            kind,
            sku,
            description,
            category,
            quantity: quantity.normalize(),
            unit,
            unit_code: unit_code.to_owned(),
            unit_price,
            net,
            tax_class,
            meets,
        });
        Some(net)
    }

    /// Item lines in the order of the shop's categories, then of sku.
    pub(super) fn items(&mut self, picks: &[Pick], day: NaiveDate, ledger: &mut Ledger) {
        let settings = self.settings;
        for (place, category) in settings.categories.iter().enumerate() {
            // Of two categories with one code the first stands, so that nothing is charged twice.
            if settings.categories[..place].iter().any(|earlier| earlier.code == category.code) {
                continue;
            }
            for pick in picks.iter().filter(|pick| pick.item.category == category.code) {
                if self.item(pick, category, day, ledger).is_none() {
                    let message =
                        format!("{} cannot be priced: its amounts are too large to reckon with", pick.item.sku);
                    self.faults.push(Fault::new("", message));
                }
            }
        }
    }

    /// One item's line; `None` when an amount does not fit.
    fn item(&mut self, pick: &Pick, category: &Category, day: NaiveDate, ledger: &mut Ledger) -> Option<()> {
        let item = &pick.item;
        let quantity = match category.charge {
            Charge::Used => pick.charged_when_used,
            Charge::Purchased => Decimal::from(pick.order.count).checked_mul(item.buying_quantity)?,
        };
        if quantity.is_zero() {
            return Some(());
        }
        let level = self.level.and_then(|level| level.of(&category.code));
        let price = unit_price(item, pick.order.unit_cost, (category, level), (quantity, day), ledger)?;
        let wording = Wording {
            kind: LineKind::Item,
            sku: Some(item.sku.clone()),
            description: item.description.clone(),
            category: Some(category.code.clone()),
            unit: item.selling_unit.symbol().to_owned(),
            unit_code: item.selling_unit.unece_code(),
            tax_class: item.tax_class.clone().unwrap_or_else(|| category.tax_class.clone()),
            meets: pick.meets.clone(),
        };
        // An amount that is absurd has its fault already.
        let Some(net) = self.push(wording, quantity, price.amount, "") else { return Some(()) };
        let cost = pick.order.unit_cost.checked_mul(quantity)?.checked_div(item.buying_quantity)?;
        let cost = Money::rounded(cost, self.currency).ok()?;
        self.costings.push(LineCosting {
            number: self.lines.last()?.number,
            charge: category.charge,
            price_from: price.price_from,
            mark_up_percent: price.mark_up_percent,
            level_percent_off: price.level_percent_off,
            usual_unit_price: price.usual,
            unit_cost: to_unit_price(pick.order.unit_cost.checked_div(item.buying_quantity)?),
            cost,
            margin: net.minus(cost).ok()?,
            basis: price.basis,
        });
        Some(())
    }

    /// Labour, the allowance for the unknown on it, and shop supplies.
    pub(super) fn labour(&mut self, labour: &Labour, job_type: JobType) {
        let settings = self.settings;
        let charged_h = match settings.labour_charge {
            LabourCharge::Likely => labour.likely_h,
            LabourCharge::FourInFive => labour.four_in_five_h,
        };
        let hours = Decimal::from_f64(charged_h)
            .map(|hours| hours.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero));
        let Some(hours) = hours else {
            self.faults.push(Fault::new("/labour", "the hours are too many to reckon with; check the quantities"));
            return;
        };
        if hours.is_zero() {
            return;
        }
        let wording = Wording { unit: "h".to_owned(), unit_code: "HUR", ..self.of_labour(LineKind::Labour, "Labour") };
        let Some(net) = self.push(wording, hours, settings.labour_rate, "/labour") else { return };
        let percent = match job_type {
            JobType::ReRig => settings.unknown_allowance_re_rig_percent,
            JobType::BareHull | JobType::FirstRig => settings.unknown_allowance_percent,
        };
        let wording = self.of_labour(LineKind::Allowance, "Allowance for the unknown");
        self.share_of(net, percent, None, wording);
        let wording = Wording {
            tax_class: settings.shop_supplies_tax_class.clone(),
            ..self.of_labour(LineKind::ShopSupplies, "Shop supplies")
        };
        self.share_of(net, settings.shop_supplies_percent, Some(settings.shop_supplies_limit), wording);
    }

    fn of_labour(&self, kind: LineKind, description: &str) -> Wording {
        Wording {
            kind,
            sku: None,
            description: description.to_owned(),
            category: None,
            unit: "each".to_owned(),
            unit_code: "EA",
            tax_class: self.settings.labour_tax_class.clone(),
            meets: Vec::new(),
        }
    }

    /// A line of a share of the labour, no more than a limit; nothing is no line.
    fn share_of(&mut self, labour: Money, percent: Decimal, limit: Option<Decimal>, wording: Wording) {
        let share = labour.decimal().checked_mul(percent).map(|product| product / dec!(100));
        let Some(share) = share else {
            self.faults.push(Fault::new("/labour", "the labour comes to more than a share can be taken of"));
            return;
        };
        let amount = to_unit_price(limit.map_or(share, |limit| share.min(limit)));
        if !amount.is_zero() {
            self.push(wording, Decimal::ONE, amount, "/labour");
        }
    }

    /// The lines that a person wrote, in their order. Pointers start at the spec.
    pub(super) fn extra(&mut self, extra_lines: &[ExtraLineInput]) {
        for (place, line) in extra_lines.iter().enumerate() {
            let ExtraLineInput { description, quantity, unit, unit_price, tax_class } = line;
            let written = Written { description, unit, tax_class, meets: Vec::new() };
            self.written(LineKind::Extra, written, *quantity, *unit_price, &format!("/extra_lines/{place}"));
        }
    }

    /// The lines that a person priced in place of gaps that are there, in their order. Pointers start at the request.
    pub(super) fn settled(&mut self, settlements: &[SettlementInput], gaps: &[Gap]) {
        for (place, settlement) in settlements.iter().enumerate() {
            let SettlementInput::Line { gap, description, quantity, unit, unit_price, tax_class } = settlement else {
                continue;
            };
            let pointer = format!("/settlements/{place}");
            if *quantity <= Decimal::ZERO {
                let message = format!("a quantity of {quantity} closes no gap; give more than 0");
                self.faults.push(Fault::new(format!("{pointer}/quantity"), message));
                continue;
            }
            if gaps.iter().all(|met| met.what != *gap) {
                continue;
            }
            let written = Written { description, unit, tax_class, meets: vec![gap.clone()] };
            self.written(LineKind::Manual, written, *quantity, *unit_price, &pointer);
        }
    }

    /// Adds a line of a person's own words.
    fn written(&mut self, kind: LineKind, written: Written<'_>, quantity: Decimal, unit_price: Decimal, pointer: &str) {
        let Written { description, unit, tax_class, meets } = written;
        if unit_price < Decimal::ZERO {
            let message = format!(
                "the unit price {unit_price} is negative; to take something off, give a negative quantity on an extra line \
                 (EN 16931 BR-27)"
            );
            self.faults.push(Fault::new(format!("{pointer}/unit_price"), message));
            return;
        }
        if !self.settings.tax_classes.iter().any(|class| class.code == *tax_class) {
            let known: Vec<&str> = self.settings.tax_classes.iter().map(|class| class.code.as_str()).collect();
            let message = format!("there is no tax class '{tax_class}'; use one of: {}", known.join(", "));
            self.faults.push(Fault::new(format!("{pointer}/tax_class"), message));
            return;
        }
        let wording = Wording {
            kind,
            sku: None,
            description: description.to_owned(),
            category: None,
            unit: unit.to_owned(),
            unit_code: unit_code(unit),
            tax_class: tax_class.clone(),
            meets,
        };
        self.push(wording, quantity, unit_price, pointer);
    }
}

/// What a person wrote of a line, beside its amounts.
struct Written<'a> {
    description: &'a str,
    unit: &'a str,
    tax_class: &'a Name,
    meets: Vec<Name>,
}

/// The price of one selling unit: the list price where the category goes by it and the item has one, else cost plus
/// mark-up; for a customer of a price level the mark-up that it has for the category, or so much off the usual price.
/// `None` when it does not fit.
fn unit_price(
    item: &Item,
    buying_unit_cost: Decimal,
    (category, level): (&Category, Option<&LevelPrice>),
    (quantity, day): (Decimal, NaiveDate),
    ledger: &mut Ledger,
) -> Option<UnitPrice> {
    match level {
        None => usual_price(item, buying_unit_cost, category, (quantity, day), ledger),
        Some(LevelPrice::MarkUp { percent, .. }) => {
            let rule = (&PRICE_LEVEL_MARK_UP, "level_mark_up_percent");
            marked_up(item, buying_unit_cost, *percent, rule, ledger)
        }
        Some(LevelPrice::PercentOff { percent, .. }) => {
            let usual = usual_price(item, buying_unit_cost, category, (quantity, day), ledger)?;
            let amount = to_unit_price(usual.amount.checked_mul(dec!(100).checked_sub(*percent)?)? / dec!(100));
            let inputs = [("usual_price", Value::Exact(usual.amount)), ("level_percent_off", Value::Exact(*percent))];
            let basis = ledger.note(&PRICE_LEVEL_OFF, &inputs, amount);
            Some(UnitPrice { amount, level_percent_off: Some(*percent), usual: Some(usual.amount), basis, ..usual })
        }
    }
}

/// The price that a customer of no level pays.
fn usual_price(
    item: &Item,
    buying_unit_cost: Decimal,
    category: &Category,
    (quantity, day): (Decimal, NaiveDate),
    ledger: &mut Ledger,
) -> Option<UnitPrice> {
    if category.price_from == PriceFrom::List
        // Less than one unit is charged at the price of one.
        && let Some(list) = item.price_on(PriceKind::List, day, quantity.max(Decimal::ONE))
    {
        let basis = ledger.note(&PRICE_LIST, &[("list_price", Value::Exact(list.amount))], list.amount);
        return Some(UnitPrice {
            amount: list.amount,
            price_from: PriceFrom::List,
            mark_up_percent: None,
            level_percent_off: None,
            usual: None,
            basis,
        });
    }
    marked_up(item, buying_unit_cost, category.mark_up_percent, (&PRICE_MARK_UP, "mark_up_percent"), ledger)
}

/// Cost plus a mark-up, by the rule whose input has that name.
fn marked_up(
    item: &Item,
    buying_unit_cost: Decimal,
    mark_up_percent: Decimal,
    (rule, input): (&'static Rule, &'static str),
    ledger: &mut Ledger,
) -> Option<UnitPrice> {
    let marked_up = buying_unit_cost.checked_mul(dec!(100).checked_add(mark_up_percent)?)?;
    let amount = to_unit_price(marked_up.checked_div(item.buying_quantity.checked_mul(dec!(100))?)?);
    let inputs = [
        ("buying_unit_cost", Value::Exact(buying_unit_cost)),
        (input, Value::Exact(mark_up_percent)),
        ("buying_quantity", Value::Exact(item.buying_quantity)),
    ];
    let basis = ledger.note(rule, &inputs, amount);
    Some(UnitPrice {
        amount,
        price_from: PriceFrom::MarkUp,
        mark_up_percent: Some(mark_up_percent),
        level_percent_off: None,
        usual: None,
        basis,
    })
}
