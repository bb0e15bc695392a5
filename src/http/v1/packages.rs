//! `/v1/packages`: named, reusable sets of equipment.

use actix_web::http::StatusCode;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use utoipa_actix_web::service_config::ServiceConfig;

use super::same_name;
use crate::calc::shop::package::Package;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Paging, PagingParameters, escaped, page_of};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::Stored;

const PATH: &str = "/v1/packages";

pub(super) fn routes(config: &mut ServiceConfig) {
    config
        .service(create_package)
        .service(list_packages)
        .service(read_package)
        .service(replace_package)
        .service(delete_package);
}

impl RequestBody for Package {}

page_of!(PackagePage, PackageRow, package: Package);

/// Add a package
///
/// Every sku and package in it must be there, and it may not contain itself.
#[utoipa::path(tag = "packages", operation_id = "create_package", params(IdempotencyKeyHeader),
    request_body(content = Package, description = "The package."),
    extensions(("x-problems" = json!(["already-there"]))),
    responses((status = 201, description = "The package as it stands.", body = Package,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/packages")]
async fn create_package(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<Package>,
) -> Result<HttpResponse, Problem> {
    let answer =
        |stored: &Stored<Package>| once::created(stored, &format!("{PATH}/{}", escaped(stored.value.code.as_str())));
    creation.once(&service, async |body, once| service.create_package_once(body, once).await, answer).await
}

/// List packages
///
/// In order of code, in pages.
#[utoipa::path(tag = "packages", operation_id = "list_packages", params(PagingParameters),
    responses((status = 200, description = "A page of packages.", body = PackagePage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/packages")]
async fn list_packages(request: HttpRequest, service: Acting, query: Query<Paging>) -> Result<HttpResponse, Problem> {
    let paging = query.0;
    let after = paging.after(PATH, &[])?;
    let page = service.list_packages(after.as_deref(), paging.limit).await?;
    let row = |stored: Stored<Package>| {
        let code = stored.value.code.clone();
        PackageRow::new(PATH, code.as_str(), stored)
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, &[], page.next_after, |next| PackagePage { rows, next }))
}

/// Read a package
///
/// As it can be sent back, changed.
#[utoipa::path(tag = "packages", operation_id = "read_package",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfNoneMatchHeader),
    responses((status = 200, description = "The package.", body = Package, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/packages/{code}")]
async fn read_package(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.package(&code).await?))
}

/// Replace a package
///
/// Send the whole package, as it was read and then changed. Quotes that were made with it stay as they are.
#[utoipa::path(tag = "packages", operation_id = "replace_package",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfMatchHeader),
    request_body(content = Package, description = "The whole package; its code is that of the address."),
    responses((status = 200, description = "The package as it stands now.", body = Package, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/packages/{code}")]
async fn replace_package(
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
    seen: IfMatch,
    body: Body<Package>,
) -> Result<HttpResponse, Problem> {
    same_name("code", body.0.code.as_str(), &code)?;
    Ok(etag::written(StatusCode::OK, &service.replace_package(&code, body.0, seen.0).await?))
}

/// Delete a package
///
/// Quotes that were made with it stay as they are. A package that another one contains cannot go.
#[utoipa::path(tag = "packages", operation_id = "delete_package",
    params(("code" = String, Path, min_length = 1, max_length = 60, description = "The shop's code for it."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 204, description = "It is gone.")))]
#[delete("/v1/packages/{code}")]
async fn delete_package(
    _: Query<NoParameters>,
    service: Acting,
    code: Path<String>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    service.delete_package(&code, seen.0).await?;
    Ok(HttpResponse::NoContent().finish())
}
