//! `/v1/stock`: counts of items by place and bin.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;

use super::Id;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters, page_of};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::Stored;
use crate::service::stock::{Adjustment, StockCount, StockEntry, StockFilter};

const PATH: &str = "/v1/stock";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_stock)
        .service(list_stock)
        .service(read_stock)
        .service(replace_stock)
        .service(delete_stock)
        .service(adjust_stock);
}

impl RequestBody for StockEntry {}
impl RequestBody for Adjustment {}

page_of!(StockPage, StockRow, count: StockCount);

/// Which counts a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `StockQuery` reads")]
struct StockParameters {
    /// The item.
    #[param(min_length = 1, max_length = 60)]
    sku: Option<String>,
    /// The place.
    #[param(min_length = 1, max_length = 60)]
    place: Option<String>,
    /// The bin.
    #[param(min_length = 1, max_length = 60)]
    bin: Option<String>,
}

struct StockQuery {
    filter: StockFilter,
    paging: Paging,
}

impl FromQuery for StockQuery {
    fn read(reader: &mut Reader) -> Self {
        let filter =
            StockFilter { sku: reader.text("sku", 60), place: reader.text("place", 60), bin: reader.text("bin", 60) };
        StockQuery { filter, paging: Paging::read(reader) }
    }
}

/// Count an item in a bin
///
/// Where it was not counted yet. The quantity is in the item's selling unit: pieces, feet or metres. Of wire and cable whole
/// spools are counted; an opened one is recorded as an offcut.
#[utoipa::path(tag = "stock", operation_id = "create_stock", params(IdempotencyKeyHeader),
    request_body(content = StockEntry, description = "What lies where."),
    extensions(("x-problems" = json!(["already-there"]))),
    responses((status = 201, description = "The count.", body = StockCount,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/stock")]
async fn create_stock(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<StockEntry>,
) -> Result<HttpResponse, Problem> {
    let answer = |stored: &Stored<StockCount>| once::created(stored, &format!("{PATH}/{}", stored.value.id));
    creation.once(&service, async |entry, once| service.create_stock(entry, once).await, answer).await
}

/// List counts
///
/// In order of item, place and bin, in pages. What quotes have reserved is among them; `/v1/reservations` lists that.
#[utoipa::path(tag = "stock", operation_id = "list_stock", params(StockParameters, PagingParameters),
    responses((status = 200, description = "A page of counts.", body = StockPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/stock")]
async fn list_stock(request: HttpRequest, service: Acting, query: Query<StockQuery>) -> Result<HttpResponse, Problem> {
    let StockQuery { filter, paging } = query.0;
    let StockFilter { sku, place, bin } = filter.clone();
    let filters: &Filters = &[("sku", sku), ("place", place), ("bin", bin)];
    let after = paging.after(PATH, filters)?;
    let page = service.list_stock(&filter, after.as_deref(), paging.limit).await?;
    let row = |stored: Stored<StockCount>| {
        let id = stored.value.id.to_string();
        StockRow::new(PATH, &id, stored)
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| StockPage { rows, next }))
}

/// Read a count
///
/// What lies of one item in one bin.
#[utoipa::path(tag = "stock", operation_id = "read_stock",
    params(("id" = Uuid, Path, description = "Identifier of the count."), IfNoneMatchHeader),
    responses((status = 200, description = "The count.", body = StockCount, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/stock/{id}")]
async fn read_stock(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.stock(id.0).await?))
}

/// Replace a count
///
/// Counts the bin anew, or says in which bin the item lies now. What came and what left is better told as an adjustment,
/// which needs no version.
#[utoipa::path(tag = "stock", operation_id = "replace_stock",
    params(("id" = Uuid, Path, description = "Identifier of the count."), IfMatchHeader),
    request_body(content = StockEntry, description = "What lies where; the item stays."),
    extensions(("x-problems" = json!(["already-there", "not-allowed"]))),
    responses((status = 200, description = "The count as it stands now.", body = StockCount, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/stock/{id}")]
async fn replace_stock(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    entry: Body<StockEntry>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.replace_stock(id.0, entry.0, seen.0).await?))
}

/// Delete a count
///
/// The item no longer lies in that bin. While quotes hold things there it stays.
#[utoipa::path(tag = "stock", operation_id = "delete_stock",
    params(("id" = Uuid, Path, description = "Identifier of the count."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 204, description = "It is gone.")))]
#[delete("/v1/stock/{id}")]
async fn delete_stock(_: Query<NoParameters>, service: Acting, id: Id, seen: IfMatch) -> Result<HttpResponse, Problem> {
    service.delete_stock(id.0, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Adjust a count
///
/// By what came (`+3`) or left (`-2`), whoever counts beside. With an Idempotency-Key it can be sent again without being
/// counted twice. A bin never holds fewer than none: the answer then says what stands.
#[utoipa::path(tag = "stock", operation_id = "adjust_stock",
    params(("id" = Uuid, Path, description = "Identifier of the count."), IdempotencyKeyHeader),
    request_body(content = Adjustment, description = "What came or left."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The count as it stands now.", body = StockCount, headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/stock/{id}/adjustments")]
async fn adjust_stock(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    adjustment: Creation<Adjustment>,
) -> Result<HttpResponse, Problem> {
    let answer = |stored: &Stored<StockCount>| once::moved(stored);
    adjustment.once(&service, async |delta, once| service.adjust_stock(id.0, delta, once).await, answer).await
}
