//! Hours, purchases and prices.

mod cut_plan;
mod en16931;
mod fixture;
mod labour;
mod purchase;
mod quotation;
mod shelf;
mod substitutes;
mod terms;
mod totals;
mod work_plan;

use rust_decimal::Decimal;
use serde_json::{Map, Value, json};

/// What a rule of hours or prices gives from its inputs, written apart from the program; exact amounts stand as strings.
/// `None` for a rule that is not known here.
pub fn evaluate(rule: &str, inputs: &Map<String, Value>) -> Option<Value> {
    let number = |name: &str| match &inputs[name] {
        Value::String(exact) => exact.parse::<f64>().unwrap_or_else(|_| panic!("{rule}: input '{name}' in {inputs:?}")),
        other => other.as_f64().unwrap_or_else(|| panic!("{rule}: input '{name}' in {inputs:?}")),
    };
    Some(match rule {
        "labour.operation" => json!(number("job_factor") * number("likely_min") * number("count") / 60.0),
        "labour.overrule" => json!(number("hours")),
        "labour.system" => json!(number("written_h") + number("job_factor") * number("likely_min") / 60.0),
        "labour.work_days" => {
            let full = (number("other_h") / number("hours_a_day")).floor();
            json!(if full * number("hours_a_day") < number("other_h") { full + 1.0 } else { full })
        }
        "plan.day" => json!(number("daily_h") + (number("until_h") - number("before_h"))),
        "labour.four_in_five" => {
            let apart = (1.0 - number("correlation")) * number("sum_of_variances_h2");
            let together = number("correlation") * number("sum_of_deviations_h").powi(2);
            json!(number("mean_h") + 0.8416 * (apart + together).sqrt())
        }
        "price.list" => inputs["list_price"].clone(),
        "price.level_off" => {
            let usual_e6 = whole(&inputs["usual_price"], 6);
            millionths(half_away(usual_e6 * (1_000_000 - whole(&inputs["level_percent_off"], 4)), 1_000_000))
        }
        "freight.written" => inputs["freight"].clone(),
        "freight.amount" | "freight.percent_of_goods" => {
            let places = inputs["minor_places"].as_f64().expect("a count") as u32;
            // Ten-thousandths of the currency, or those times ten-thousandths of a percent.
            let (exact, scale) = match rule {
                "freight.amount" => (whole(&inputs["amount"], 4), 10_000),
                _ => (whole(&inputs["goods_net"], 4) * whole(&inputs["freight_percent"], 4), 10i128.pow(10)),
            };
            let minor = half_away(exact * 10i128.pow(places), scale);
            json!(Decimal::from_i128_with_scale(minor, places).to_string())
        }
        "price.mark_up" | "price.level_mark_up" => {
            // In whole millionths and ten-thousandths, so that the tie is seen.
            let mark_up = if rule == "price.mark_up" { "mark_up_percent" } else { "level_mark_up_percent" };
            let (cost, pack) = (whole(&inputs["buying_unit_cost"], 6), whole(&inputs["buying_quantity"], 6));
            let per_cent = 100 * 10i128.pow(4) + whole(&inputs[mark_up], 4);
            millionths(half_away(cost * per_cent * 10i128.pow(6), pack * 100 * 10i128.pow(4)))
        }
        _ => return None,
    })
}

/// So many millionths as the program writes a unit price.
fn millionths(e6: i128) -> Value {
    let written = format!("{}.{:06}", e6 / 1_000_000, e6 % 1_000_000);
    json!(written.trim_end_matches('0').trim_end_matches('.'))
}

/// A decimal string as a whole number of its last place.
fn whole(text: &Value, places: usize) -> i128 {
    let text = text.as_str().expect("an exact amount");
    let (units, fraction) = text.split_once('.').unwrap_or((text, ""));
    format!("{units}{fraction:0<places$}").parse().expect("digits")
}

/// Quotient rounded half away from zero, in whole numbers.
fn half_away(numerator: i128, denominator: i128) -> i128 {
    let magnitude = (2 * numerator.abs() + denominator) / (2 * denominator);
    magnitude * numerator.signum()
}
