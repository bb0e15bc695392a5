//! `/v1/labour-operations`: unit times, and what each operation counts.

use actix_web::http::StatusCode;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use utoipa_actix_web::service_config::ServiceConfig;

use super::same_name;
use crate::calc::shop::labour::LabourOperation;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Paging, PagingParameters, escaped, page_of};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::Stored;

const PATH: &str = "/v1/labour-operations";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_labour_operation)
        .service(list_labour_operations)
        .service(read_labour_operation)
        .service(replace_labour_operation)
        .service(delete_labour_operation);
}

impl RequestBody for LabourOperation {}

page_of!(LabourOperationPage, LabourOperationRow, labour_operation: LabourOperation);

/// Add a labour operation
///
/// Its driver says what it counts in a take-off.
#[utoipa::path(tag = "labour-operations", operation_id = "create_labour_operation", params(IdempotencyKeyHeader),
    request_body(content = LabourOperation, description = "The labour operation."),
    extensions(("x-problems" = json!(["already-there"]))),
    responses((status = 201, description = "The labour operation as it stands.", body = LabourOperation,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/labour-operations")]
async fn create_labour_operation(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<LabourOperation>,
) -> Result<HttpResponse, Problem> {
    let answer = |stored: &Stored<LabourOperation>| {
        once::created(stored, &format!("{PATH}/{}", escaped(stored.value.code.as_str())))
    };
    creation.once(&service, async |body, once| service.create_labour_operation_once(body, once).await, answer).await
}

/// List labour operations
///
/// In order of code, in pages.
#[utoipa::path(tag = "labour-operations", operation_id = "list_labour_operations", params(PagingParameters),
    responses((status = 200, description = "A page of labour operations.", body = LabourOperationPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/labour-operations")]
async fn list_labour_operations(
    request: HttpRequest,
    service: Acting,
    query: Query<Paging>,
) -> Result<HttpResponse, Problem> {
    let paging = query.0;
    let after = paging.after(PATH, &[])?;
    let page = service.list_labour_operations(after.as_deref(), paging.limit).await?;
    let row = |stored: Stored<LabourOperation>| {
        let code = stored.value.code.clone();
        LabourOperationRow::new(PATH, code.as_str(), stored)
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, &[], page.next_after, |next| LabourOperationPage { rows, next }))
}

/// Read a labour operation
///
/// As it can be sent back, changed.
#[utoipa::path(tag = "labour-operations", operation_id = "read_labour_operation",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfNoneMatchHeader),
    responses((status = 200, description = "The labour operation.", body = LabourOperation, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/labour-operations/{code}")]
async fn read_labour_operation(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.labour_operation(&code).await?))
}

/// Replace a labour operation
///
/// Send the whole labour operation, as it was read and then changed. Quotes that were made with it stay as they are.
#[utoipa::path(tag = "labour-operations", operation_id = "replace_labour_operation",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfMatchHeader),
    request_body(content = LabourOperation, description = "The whole labour operation; its code is that of the address."),
    responses((status = 200, description = "The labour operation as it stands now.", body = LabourOperation, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/labour-operations/{code}")]
async fn replace_labour_operation(
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
    seen: IfMatch,
    body: Body<LabourOperation>,
) -> Result<HttpResponse, Problem> {
    same_name("code", body.0.code.as_str(), &code)?;
    Ok(etag::written(StatusCode::OK, &service.replace_labour_operation(&code, body.0, seen.0).await?))
}

/// Delete a labour operation
///
/// Quotes that were made with it stay as they are; one that needs it afterwards shows a gap.
#[utoipa::path(tag = "labour-operations", operation_id = "delete_labour_operation",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfMatchHeader),
    responses((status = 204, description = "It is gone.")))]
#[delete("/v1/labour-operations/{code}")]
async fn delete_labour_operation(
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    service.delete_labour_operation(&code, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
