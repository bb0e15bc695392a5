//! `/v1/offcuts`: lengths that were left over.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters, page_of};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::Stored;
use crate::service::stock::offcuts::{Offcut, OffcutEntry, OffcutFilter, OffcutState};

const PATH: &str = "/v1/offcuts";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_offcut)
        .service(list_offcuts)
        .service(read_offcut)
        .service(replace_offcut)
        .service(remove_offcut);
}

impl RequestBody for OffcutEntry {}

page_of!(OffcutPage, OffcutRow, offcut: Offcut);

/// Which lengths a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `OffcutQuery` reads")]
struct OffcutParameters {
    /// The item.
    #[param(min_length = 1, max_length = 60)]
    sku: Option<String>,
    /// The place.
    #[param(min_length = 1, max_length = 60)]
    place: Option<String>,
    /// What became of it.
    #[param(inline)]
    state: Option<OffcutState>,
}

struct OffcutQuery {
    filter: OffcutFilter,
    paging: Paging,
}

impl FromQuery for OffcutQuery {
    fn read(reader: &mut Reader) -> Self {
        let filter = OffcutFilter {
            sku: reader.text("sku", 60),
            place: reader.text("place", 60),
            state: reader.one_of("state", &OffcutState::ALL.map(OffcutState::as_str)),
        };
        OffcutQuery { filter, paging: Paging::read(reader) }
    }
}

/// Record an offcut
///
/// One unbroken length of wire or cable that was left over. Purchase lists cut from it before anything is bought, and it
/// is given to one quote only.
#[utoipa::path(tag = "offcuts", operation_id = "create_offcut", params(IdempotencyKeyHeader),
    request_body(content = OffcutEntry, description = "Of what, how long, and where it lies."),
    responses((status = 201, description = "The offcut.", body = Offcut,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/offcuts")]
async fn create_offcut(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<OffcutEntry>,
) -> Result<HttpResponse, Problem> {
    let answer = |stored: &Stored<Offcut>| once::created(stored, &format!("{PATH}/{}", stored.value.id));
    creation.once(&service, async |entry, once| service.create_offcut(entry, once).await, answer).await
}

/// List offcuts
///
/// Newest first, in pages; also those that were used or thrown away.
#[utoipa::path(tag = "offcuts", operation_id = "list_offcuts", params(OffcutParameters, PagingParameters),
    responses((status = 200, description = "A page of offcuts.", body = OffcutPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/offcuts")]
async fn list_offcuts(
    request: HttpRequest,
    service: Acting,
    query: Query<OffcutQuery>,
) -> Result<HttpResponse, Problem> {
    let OffcutQuery { filter, paging } = query.0;
    let OffcutFilter { sku, place, state } = filter.clone();
    let filters: &Filters = &[("sku", sku), ("place", place), ("state", state.map(|state| state.as_str().to_owned()))];
    let after = paging.after(PATH, filters)?;
    let after = after.map(|id| Uuid::try_parse(&id).map_err(|_| paging::unknown_cursor())).transpose()?;
    let page = service.list_offcuts(&filter, after, paging.limit).await?;
    let row = |stored: Stored<Offcut>| {
        let id = stored.value.id.to_string();
        OffcutRow::new(PATH, &id, stored)
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| OffcutPage { rows, next }))
}

/// Read an offcut
///
/// Also one that was used or thrown away.
#[utoipa::path(tag = "offcuts", operation_id = "read_offcut",
    params(("id" = Uuid, Path, description = "Identifier of the offcut."), IfNoneMatchHeader),
    responses((status = 200, description = "The offcut.", body = Offcut, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/offcuts/{id}")]
async fn read_offcut(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.offcut(id.0).await?))
}

/// Replace an offcut
///
/// Measures it anew, says where it lies now, or what became of it. One that a quote holds, or was used for one, stays as
/// it is.
#[utoipa::path(tag = "offcuts", operation_id = "replace_offcut",
    params(("id" = Uuid, Path, description = "Identifier of the offcut."), IfMatchHeader),
    request_body(content = OffcutEntry, description = "Of what, how long, and where it lies."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The offcut as it stands now.", body = Offcut, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/offcuts/{id}")]
async fn replace_offcut(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    entry: Body<OffcutEntry>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.replace_offcut(id.0, entry.0, seen.0).await?))
}

/// Take an offcut off the shelf
///
/// It was thrown away, or is not there. It can still be read.
#[utoipa::path(tag = "offcuts", operation_id = "remove_offcut",
    params(("id" = Uuid, Path, description = "Identifier of the offcut."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The offcut, removed.", body = Offcut, headers(("ETag" = String, description = "Its version.")))))]
#[delete("/v1/offcuts/{id}")]
async fn remove_offcut(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.remove_offcut(id.0, seen.0).await?))
}
