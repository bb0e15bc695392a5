//! The service itself: its description, the pages that show it, the pages of the problems, and whether it lives.

use std::sync::Arc;

use actix_web::http::header::{CACHE_CONTROL, ContentEncoding, LOCATION};
use actix_web::web::{self, Data, Path};
use actix_web::{HttpResponse, get};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::openapi;
use super::problem::{self, Kind, Problem};
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
        .service(web::resource("/problems/{slug}").get(problem_page));
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
/// Asks the database; a load balancer sends no requests while this is no 200.
#[utoipa::path(tag = "service", operation_id = "readyz",
    responses((status = 200, description = "It can work.", body = Health)))]
#[get("/readyz")]
async fn readyz(_: Query<NoParameters>, service: Data<Service>) -> Result<HttpResponse, Problem> {
    if let Err(error) = service.store().ping().await {
        tracing::error!(error = &error as &dyn std::error::Error, "the database does not answer");
        return Err(Problem::new(Kind::Unavailable, "The database does not answer."));
    }
    Ok(HttpResponse::Ok().insert_header((CACHE_CONTROL, "no-store")).json(Health { status: "ok" }))
}

/// This description
///
/// OpenAPI 3.1; clients can be generated from it. People read it at /docs.
#[utoipa::path(tag = "service", operation_id = "openapi",
    responses((status = 200, description = "The description.", body = Object)))]
#[get("/openapi.json")]
async fn openapi_json(_: Query<NoParameters>) -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(openapi::text())
}

async fn home() -> HttpResponse {
    let links = "<p>Rigbill: take-offs and priced quotes for rigging small boats.</p>\
        <ul><li><a href=\"/docs/\">the service, operation by operation</a></li>\
        <li><a href=\"/openapi.json\">its description for programs</a></li></ul>";
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

/// The page that a problem's `type` points to.
async fn problem_page(slug: Path<String>) -> Result<HttpResponse, Problem> {
    let found = problem::ALL.into_iter().map(Kind::row).find(|row| row.slug == *slug);
    let row = found.ok_or_else(|| Problem::new(Kind::NotFound, "There is no kind of problem by that name."))?;
    let body = format!(
        "<h1>{}</h1><p>Status {}.</p><h2>Cause</h2><p>{}</p><h2>Mend</h2><p>{}</p>",
        row.title, row.status, row.cause, row.mend
    );
    Ok(page(row.title, &body))
}

/// A page of our own fixed texts: nothing that a client sent stands in it.
fn page(title: &str, body: &str) -> HttpResponse {
    let html = format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>{title}</title>\
         <style>body{{font:1rem/1.5 sans-serif;max-width:40rem;margin:3rem auto;padding:0 1rem}}</style></head>\
         <body>{body}</body></html>"
    );
    HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html)
}
