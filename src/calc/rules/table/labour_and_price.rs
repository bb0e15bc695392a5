//! Rules of hours and of prices.

use crate::basis::{Rule, Standing};

/// Hours of one labour operation.
pub static LABOUR_OPERATION: Rule = Rule {
    id: "labour.operation",
    says: "An operation takes its unit time once for each thing it counts, times the factor of the kind of job; its \
           low and high hours follow from low_min and high_min in the same way.",
    formula: "count * likely_min / 60 * job_factor",
    source: "The shop's labour table and job factors",
    standing: Standing::ShopSetting,
};

/// Hours that a person wrote in place of the computed ones.
pub static LABOUR_OVERRULE: Rule = Rule {
    id: "labour.overrule",
    says: "A person's hours stand in place of count times unit time, low, likely and high alike.",
    formula: "hours",
    source: "An overrule of the boat spec",
    standing: Standing::Overrule,
};

/// Hours of one system of the boat.
pub static LABOUR_SYSTEM: Rule = Rule {
    id: "labour.system",
    says: "A system's hours are the unit times of what is counted for it, times the factor of the kind of job; hours that a \
           person wrote are divided among systems by what was counted.",
    formula: "likely_min / 60 * job_factor + written_h",
    source: "The shop's labour table and job factors",
    standing: Standing::ShopSetting,
};

/// Days of work.
pub static LABOUR_WORK_DAYS: Rule = Rule {
    id: "labour.work_days",
    says: "What is done once a day is counted for the days that the likely hours of all else fill.",
    formula: "ceil(other_h / hours_a_day)",
    source: "The shop's hours a day",
    standing: Standing::ShopSetting,
};

/// Hours of one day of the work plan.
pub static PLAN_DAY: Rule = Rule {
    id: "plan.day",
    says: "A day takes the plan on from the hours that were done before it, in order of the phases, as far as it has room and \
           nothing meets that is kept apart; the daily work is spread evenly.",
    formula: "until_h - before_h + daily_h",
    source: "common practice: dust away from open wiring, crimping and solvent; solvent away from heat",
    standing: Standing::CommonPractice,
};

/// The hours that four boats in five stay within.
pub static LABOUR_FOUR_IN_FIVE: Rule = Rule {
    id: "labour.four_in_five",
    says: "Each operation's time is triangular between low and high with its mode at likely; the times on one boat move \
           together by the shop's correlation, so variance = correlation * (sum of the deviations)^2 + \
           (1 - correlation) * (sum of the squared deviations). The sum is taken as normal; four in five of a normal \
           variable lie below its mean plus 0.8416 deviations.",
    formula: "mean_h + 0.8416 * sqrt(correlation * sum_of_deviations_h^2 + (1 - correlation) * sum_of_variances_h2)",
    source: "Triangular mean (a+b+c)/3 and variance (a^2+b^2+c^2-ab-ac-bc)/18 and the 0.8 quantile of the standard \
             normal distribution: Evans, Hastings and Peacock, Statistical Distributions (Wiley), from memory",
    standing: Standing::FromMemory,
};

/// A unit price from cost and mark-up.
pub static PRICE_MARK_UP: Rule = Rule {
    id: "price.mark_up",
    says: "A selling unit costs its share of the buying unit; the price is that cost plus the category's mark-up, \
           rounded half away from zero to six places.",
    formula: "buying_unit_cost * (100 + mark_up_percent) / (100 * buying_quantity)",
    source: "The shop's cost prices and mark-ups",
    standing: Standing::ShopSetting,
};

/// A unit price from the list.
pub static PRICE_LIST: Rule = Rule {
    id: "price.list",
    says: "The price of a selling unit is the item's list price on the day, at the quantity charged.",
    formula: "list_price",
    source: "The shop's list prices",
    standing: Standing::ShopSetting,
};

/// A unit price from cost and the mark-up of the customer's level.
pub static PRICE_LEVEL_MARK_UP: Rule = Rule {
    id: "price.level_mark_up",
    says: "For a customer of this price level a selling unit costs its share of the buying unit plus the mark-up that the \
           level has for the category, rounded half away from zero to six places.",
    formula: "buying_unit_cost * (100 + level_mark_up_percent) / (100 * buying_quantity)",
    source: "The shop's cost prices and price levels",
    standing: Standing::ShopSetting,
};

/// A unit price from the usual one and what the customer's level takes off it.
pub static PRICE_LEVEL_OFF: Rule = Rule {
    id: "price.level_off",
    says: "For a customer of this price level the usual price of a selling unit is lowered by the percentage that the level \
           has for the category, rounded half away from zero to six places.",
    formula: "usual_price * (100 - level_percent_off) / 100",
    source: "The shop's price levels",
    standing: Standing::ShopSetting,
};

/// Freight that is the same for every quote.
pub static FREIGHT_AMOUNT: Rule = Rule {
    id: "freight.amount",
    says: "A quote with goods on it is charged one amount of freight, as long as the goods do not come to what makes it \
           free; rounded half away from zero to the minor unit of the currency.",
    formula: "round(amount, minor_places)",
    source: "The shop's freight rule",
    standing: Standing::ShopSetting,
};

/// Freight as a share of the goods.
pub static FREIGHT_PERCENT: Rule = Rule {
    id: "freight.percent_of_goods",
    says: "Freight is a share of the goods at their prices before the discount, as long as they do not come to what makes \
           it free; rounded half away from zero to the minor unit of the currency.",
    formula: "round(goods_net * freight_percent / 100, minor_places)",
    source: "The shop's freight rule",
    standing: Standing::ShopSetting,
};

/// Freight that a person wrote.
pub static FREIGHT_WRITTEN: Rule = Rule {
    id: "freight.written",
    says: "The freight that the quote request states stands in place of what the shop's rule gives.",
    formula: "freight",
    source: "The quote request",
    standing: Standing::Overrule,
};

/// The rules of this section.
pub static ALL: &[&Rule] = &[
    &LABOUR_OPERATION,
    &LABOUR_OVERRULE,
    &LABOUR_FOUR_IN_FIVE,
    &LABOUR_SYSTEM,
    &LABOUR_WORK_DAYS,
    &PLAN_DAY,
    &PRICE_MARK_UP,
    &PRICE_LIST,
    &PRICE_LEVEL_MARK_UP,
    &PRICE_LEVEL_OFF,
    &FREIGHT_AMOUNT,
    &FREIGHT_PERCENT,
    &FREIGHT_WRITTEN,
];
