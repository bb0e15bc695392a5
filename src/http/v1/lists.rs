//! The purchase list and the pick list of a quote, as JSON, CSV or a page to print.

use actix_web::{HttpRequest, HttpResponse, get};
use chrono::NaiveDate;
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use super::Id;
use crate::documents::lists::{self, Of};
use crate::http::access::Acting;
use crate::http::etag::IfNoneMatchHeader;
use crate::http::forms::Form;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, Reader};
use crate::service::stock::{QuotePickList, QuotePurchaseList, QuoteRef};

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(read_purchase_list).service(read_pick_list);
}

/// A list as comma-separated values (RFC 4180) with a header, safe to open in a spreadsheet.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only describes what is written")]
struct CsvList(String);

/// A list as a page to print.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only describes what is written")]
struct ListPage(String);

/// How a list is wanted, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `ListQuery` reads")]
struct ListParameters {
    /// Day on which it is ordered: its cost prices hold, and lead times count from it; today in the shop's time zone unless
    /// stated.
    #[param(example = "2026-12-01")]
    ordered_on: Option<NaiveDate>,
    /// Form of the list; what the Accept header likes best unless stated.
    #[param(inline)]
    form: Option<Form>,
}

struct ListQuery {
    ordered_on: Option<NaiveDate>,
    form: Option<Form>,
}

impl FromQuery for ListQuery {
    fn read(reader: &mut Reader) -> Self {
        ListQuery { ordered_on: reader.day("ordered_on"), form: reader.one_of("form", &Form::WORDS) }
    }
}

/// A list of a quote in the form that is wanted.
fn in_form<T: Serialize>(
    request: &HttpRequest,
    form: Form,
    list: &T,
    quote: &QuoteRef,
    name: &str,
    csv: impl FnOnce() -> Vec<u8>,
    page: impl FnOnce(Of<'_>) -> Vec<u8>,
) -> HttpResponse {
    let QuoteRef { id, number, revision, state } = quote;
    let told = match number {
        Some(number) => format!("Quote {number}, revision {revision}"),
        None => "Not issued yet".to_owned(),
    };
    let bytes = match form {
        Form::Json => serde_json::to_vec(list).expect("an answer is plain values"),
        Form::Csv => csv(),
        Form::Html => page(Of { number: &told, state: state.as_str() }),
    };
    form.answer(request, bytes, &format!("{name}-{}", number.clone().unwrap_or_else(|| id.to_string())))
}

/// Read the purchase list of a quote
///
/// What is bought for it once the shelf has given what it has, by supplier, with costs and the day by which all is here.
/// Calculated when it is asked for: from the requirements that the quote froze, the catalogue's prices on the day of the
/// order, and the shelf. A quote that was accepted takes what it has reserved. Neither the quote nor its price depend on
/// it. What the shop's inventory system cannot say counts as nothing on hand, and `stock_source` says so.
#[utoipa::path(tag = "quotes", operation_id = "read_purchase_list",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), ListParameters, IfNoneMatchHeader),
    extensions(("x-problems" = json!(["not-acceptable"]))),
    responses((status = 200, description = "The list.", headers(("ETag" = String, description = "Of these bytes.")),
        content(
            (QuotePurchaseList = "application/json"),
            (CsvList = "text/csv", examples(("one_line" = (summary = "Its header and one line", value = json!(
                "action,supplier,sku,description,place,bin,quantity,unit,in_multiples_of,unit_cost,cost,currency,lead_time_days,here_on,offcut,cuts\r\nbuy,Estuary Wire,W16-BRN-100,\"Wire, 16 AWG, brown\",,,1,XRL,100,31.00,31.00,USD,0,2026-11-25,,C01+ 12.5 ft\r\n"))))),
            (ListPage = "text/html", examples(("frame" = (summary = "Its frame", value = json!(
                "<!doctype html><html lang=\"en\"><head><title>Purchase list</title></head></html>"))))))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/purchase-list")]
async fn read_purchase_list(
    request: HttpRequest,
    query: Query<ListQuery>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    let ListQuery { ordered_on, form } = query.0;
    let form = Form::of(&request, form)?;
    let made: QuotePurchaseList = service.purchase_list(id.0, ordered_on).await?;
    let (csv, page) = (|| lists::purchase_csv(&made.list), |of: Of<'_>| lists::purchase_page(of, &made.list));
    Ok(in_form(&request, form, &made, &made.quote, "purchase-list", csv, page))
}

/// Read the pick list of a quote
///
/// What is taken from the shelf for it, by place and bin, and for what; what is still to come. Nothing of cost.
#[utoipa::path(tag = "quotes", operation_id = "read_pick_list",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), ListParameters, IfNoneMatchHeader),
    extensions(("x-problems" = json!(["not-acceptable"]))),
    responses((status = 200, description = "The list.", headers(("ETag" = String, description = "Of these bytes.")),
        content(
            (QuotePickList = "application/json"),
            (CsvList = "text/csv", examples(("one_line" = (summary = "Its header and one line", value = json!(
                "action,place,bin,sku,description,quantity,unit,for,offcut,length,cuts,left,here_on\r\ntake,Main store,A-03,RING-16-8,\"Ring terminal, 16 AWG, #8\",12,EA,\"bilge_pump, nav_lights\",,,,,\r\n"))))),
            (ListPage = "text/html", examples(("frame" = (summary = "Its frame", value = json!(
                "<!doctype html><html lang=\"en\"><head><title>Pick list</title></head></html>"))))))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/pick-list")]
async fn read_pick_list(
    request: HttpRequest,
    query: Query<ListQuery>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    let ListQuery { ordered_on, form } = query.0;
    let form = Form::of(&request, form)?;
    let made: QuotePickList = service.pick_list(id.0, ordered_on).await?;
    let (csv, page) = (|| lists::pick_csv(&made.list), |of: Of<'_>| lists::pick_page(of, &made.list));
    Ok(in_form(&request, form, &made, &made.quote, "pick-list", csv, page))
}
