//! The service itself: its description, the pages that show it, and whether it lives.

use std::sync::Arc;

use actix_web::http::header::{CACHE_CONTROL, ContentEncoding, LOCATION};
use actix_web::web::{self, Data, Path};
use actix_web::{HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::openapi;
use super::problem::{Kind, Problem};
use super::problem_pages;
use super::query::{NoParameters, Query};
use crate::service::Service;

/// What is described.
pub fn routes(config: &mut ServiceConfig) {
    config.service(livez).service(readyz).service(openapi_json);
}

/// Pages for people, which the description leaves out.
pub fn pages(config: &mut web::ServiceConfig) {
    config
        .service(web::resource("/").get(home))
        .service(web::resource("/docs").get(to_docs))
        .service(web::resource("/docs/{file:.*}").get(docs))
        .configure(problem_pages::routes);
}

/// How the service is.
#[derive(Serialize, ToSchema)]
struct Health {
    /// `ok`. Expect new values.
    status: &'static str,
}

/// Whether the service lives
///
/// Answers as long as the process does; it looks at nothing else.
#[utoipa::path(tag = "service", operation_id = "livez",
    responses((status = 200, description = "It lives.", body = Health)))]
#[get("/livez")]
async fn livez(_: Query<NoParameters>) -> HttpResponse {
    HttpResponse::Ok().insert_header((CACHE_CONTROL, "no-store")).json(Health { status: "ok" })
}

/// Whether the service can work
///
/// Asks the database whether it answers and whether its schema is up to date; a load balancer sends no requests while
/// this is no 200.
#[utoipa::path(tag = "service", operation_id = "readyz",
    responses((status = 200, description = "It can work.", body = Health)))]
#[get("/readyz")]
async fn readyz(_: Query<NoParameters>, service: Data<Service>) -> Result<HttpResponse, Problem> {
    service.ready().await?;
    Ok(HttpResponse::Ok().insert_header((CACHE_CONTROL, "no-store")).json(Health { status: "ok" }))
}

/// A description in OpenAPI 3.1.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only describes the answer, which is written once for all")]
struct ServiceDescription {
    /// Version of OpenAPI that it follows; the other fields are those of that version.
    #[schema(example = "3.1.0")]
    openapi: String,
}

/// This description
///
/// OpenAPI 3.1; clients can be generated from it. People read it at /docs.
#[utoipa::path(tag = "service", operation_id = "openapi",
    responses((status = 200, description = "The description.", body = ServiceDescription)))]
#[get("/openapi.json")]
async fn openapi_json(_: Query<NoParameters>) -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(openapi::text())
}

async fn home() -> HttpResponse {
    let links = "<p>Rigbill: take-offs and priced quotes for rigging small boats.</p>\
        <ul><li><a href=\"/docs/\">the service, operation by operation</a></li>\
        <li><a href=\"/openapi.json\">its description for programs</a></li>\
        <li><a href=\"/problems\">what can go wrong, and what to do then</a></li></ul>";
    page("Rigbill", links)
}

async fn to_docs() -> HttpResponse {
    HttpResponse::PermanentRedirect().insert_header((LOCATION, "/docs/")).finish()
}

async fn docs(file: Path<String>) -> Result<HttpResponse, Problem> {
    // Without "none" the page would send the description's address to a validator on the internet.
    let settings = utoipa_swagger_ui::Config::from("/openapi.json").validator_url("none").use_base_layout();
    let found = utoipa_swagger_ui::serve(&file, Arc::new(settings));
    let Some(found) = found.map_err(|error| Problem::internal(error.to_string()))? else {
        return Err(Problem::new(Kind::UnknownPath, format!("The pages under /docs have no file '{file}'.")));
    };
    let mut response = HttpResponse::Ok();
    if found.gzpipped {
        response.insert_header(ContentEncoding::Gzip);
    }
    Ok(response.content_type(found.content_type).body(found.bytes.to_vec()))
}

/// A page of our own fixed texts: nothing that a client sent stands in it.
pub(super) fn page(title: &str, body: &str) -> HttpResponse {
    let html = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{title}</title>\
         <style>body{{font:1rem/1.5 sans-serif;max-width:40rem;margin:3rem auto;padding:0 1rem}}\
         pre{{overflow:auto}}td,th{{text-align:left;padding-right:1rem}}</style></head>\
         <body>{body}</body></html>"
    );
    HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html)
}
